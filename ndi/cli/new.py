"""``ndi new BOOK``: an empty record book with its keys, and its first two persons, each with a secret of their own."""

from __future__ import annotations

import argparse
import shutil
from collections.abc import Callable
from pathlib import Path

from ndi import bootstrap
from ndi.cli.asking import ask, ask_new_secret, day, day_or_none, text
from ndi.domain import facts as f
from ndi.domain.errors import InputError
from ndi.domain.secrets import SecretKind, checked
from ndi.domain.vocabulary import LEVEL_THREE, Method
from ndi.services import people
from ndi.services.workplace import Workplace


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("new", help="begin an empty record book and set it up with two persons")
    parser.add_argument("book", type=bootstrap.where, help="file of the new book, on a disk of this machine")
    parser.add_argument("--shop", help="code of the shop (asked for if not given)")
    parser.add_argument("--station", help="name of this station (asked for if not given)")
    parser.add_argument(
        "--owner-url", metavar="URL", help="a book on a database server: the address with the account that is to own it"
    )
    parser.add_argument(
        "--practice", action="store_true", help="a practice book: nobody is asked for secrets, every paper says so"
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Ask everything first; nothing is made before every answer can be used."""
    book: bootstrap.Where = args.book
    keys = bootstrap.key_folder(book)
    made_here = [keys, *([book] if isinstance(book, Path) else [])]
    for place in made_here:
        if place.exists():
            raise InputError(f"{place} is there already: choose another name for the new book")
    shop = args.shop or ask("code of the shop", text)
    station = args.station or ask("name of this station", text)
    set_up = None if args.practice else _ask_people()
    try:
        work = bootstrap.new_book(
            book,
            shop=shop,
            station=station,
            practice=args.practice,
            clock=bootstrap.SystemClock(),
            owner_url=args.owner_url,
        )
        if set_up is not None:
            set_up(work)
    except BaseException:
        _take_back(book, keys)
        raise
    for line in _said(work, book, keys):
        print(line)
    return 0


def _ask_people() -> Callable[[Workplace], object]:
    """The two persons of set-up; what is returned enters them."""
    print(
        "A book begins with two persons: an administrator, who inspects nothing, and a Level III. Each types their own secret."
    )
    administrator = _newcomer("administrator")
    level_three = _newcomer("Level III")
    qualifications = _qualifications(level_three.person)

    def enter(work: Workplace) -> object:
        return people.set_up(work, administrator, level_three, qualifications=qualifications)

    return enter


def _newcomer(what: str) -> people.Newcomer:
    person = ask(f"{what}: code of the person", lambda answer: people.check_code(answer, "person"))
    secret = ask_new_secret(
        f"{person}: password, 12 characters or more", lambda typed: checked(SecretKind.PASSWORD, typed, person)
    )
    return people.Newcomer(person, secret)


def _qualifications(person: str) -> list[people.Qualification]:
    found: list[people.Qualification] = []
    for method in Method:
        issued = ask(
            f"{person}: level {LEVEL_THREE} {method} certificate issued on (YYYY-MM-DD, - for none)", day_or_none
        )
        if issued is not None:
            found.append(
                f.CertificateEntered(person, method, LEVEL_THREE, issued, ask(f"{person}: and expires on", day))
            )
    if not found:
        raise InputError(
            f"{person} holds no level {LEVEL_THREE} certificate: procedures are adopted by somebody who does"
        )
    examined = ask(f"{person}: vision examined on (YYYY-MM-DD, - for none)", day_or_none)
    if examined is not None:
        found.append(f.VisionExamEntered(person, examined, ask(f"{person}: and counts until", day)))
    return found


def _take_back(book: bootstrap.Where, keys: Path) -> None:
    """What this call made holds nothing yet; a database on a server is for its administrator to drop."""
    if isinstance(book, Path):
        for ending in ("", "-wal", "-shm"):
            book.with_name(book.name + ending).unlink(missing_ok=True)
    shutil.rmtree(keys, ignore_errors=True)


def _said(work: Workplace, book: bootstrap.Where, keys: Path) -> list[str]:
    kind = "practice book" if work.practice else "record book"
    with work.book.session(readonly=True) as session:
        head = session.head()
    return [
        f"{kind} {work.book.book_id} in {book}, station {work.station}, head {head}",
        f"keys in {keys}: keep a copy of that folder apart from every copy of the book",
    ]
