"""A real book for the window: set up by the use cases, two inspectors with badge and PIN, a lot of twelve rocker arms on the table."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from ndi import bootstrap
from ndi.domain.secrets import SecretKind
from ndi.services import people, receiving
from ndi.services.proof import Meaning
from ndi.store import secrets
from tests.people import real_shop
from tests.people.real_shop import ADMIN, CHEAP, LEVEL3, RealShop, pin
from tests.services import shop as practice
from tests.services.shop import STATION, SetClock

INSPECTORS = ("L2-A", "L2-B")
ROCKERS, ROCKERS_SHEET, LOT = "T6-10301", "MT-T-6030", "LOT-7"
PART = receiving.part_key(practice.ORDER, ROCKERS, LOT)


def badge(person: str) -> str:
    return f"B-{person}"


@contextmanager
def cheap_secrets() -> Iterator[None]:
    """Argon2id at the speed of tests."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(secrets, "PARAMETERS", CHEAP)
        yield


def begin(folder: Path, *, address: str | None = None, owner_url: str | None = None) -> Path:
    """The book in ``folder`` (or in a database) at 10:00 of the day; its file."""
    real_shop.begin(folder, address=address, owner_url=owner_url)
    clock = SetClock()
    shop = RealShop(bootstrap.open_book(address or folder / "shop.book", station=STATION, clock=clock), clock)
    shop.at("07:51")
    for person in INSPECTORS:
        _badge_and_pin(shop, person)
    documents = practice.documents(
        folder / "rockers",
        (*practice._FILES, f"parts/{ROCKERS}.toml", f"techniques/{ROCKERS_SHEET}.toml"),
    )
    more = [document for document in documents if document.number in (ROCKERS, ROCKERS_SHEET)]
    receiving.adopt(
        shop.work, more, LEVEL3, proof=shop.prove(LEVEL3, Meaning.APPROVED, receiving.adoption_covers(more))
    )
    shop.at("07:55").receive(ROCKERS, LOT, 12, lot=True)
    shop.close()
    return folder / "shop.book"


def _badge_and_pin(shop: RealShop, person: str) -> None:
    proof = shop.prove(ADMIN, Meaning.PERFORMED, people.badge_covers(person, badge(person)))
    people.assign_badge(shop.work, person, badge(person), ADMIN, proof=proof)
    proof = shop.prove(person, Meaning.PERFORMED, people.own_secret_covers(SecretKind.PIN))
    people.set_own_secret(shop.work, person, SecretKind.PIN, pin(person), proof=proof)


def copy(source: Path, target: Path) -> Path:
    """A copy of a book's folder; the book in it."""
    shutil.copytree(source.parent, target, ignore=shutil.ignore_patterns("procedures", "rockers"))
    return target / source.name


def files_with(folder: Path, secret: str) -> list[Path]:
    """Files under a folder in which a text stands, in UTF-8 or UTF-16."""
    wanted = [secret.encode(), secret.encode("utf-16-le")]
    found = []
    for name, _, files in os.walk(folder):
        for file in files:
            content = Path(name, file).read_bytes()
            if any(each in content for each in wanted):
                found.append(Path(name, file))
    return found
