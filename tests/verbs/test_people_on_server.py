"""The matrix of rights a third way: every verb from the command line, the book on a server under the stations' own account,
and what somebody does with that account outside the program."""

from __future__ import annotations

import itertools
import json
import shutil
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
from sqlalchemy import insert

from ndi import bootstrap
from ndi.domain import facts as f
from ndi.domain.codec import body_of
from ndi.store import verify as verification
from ndi.store.journal import Stamp, entry_row
from ndi.store.keys import new_key
from ndi.store.postgres import database_url
from ndi.store.schema import entry
from tests.database_server import OWNER, STATIONS, server_or_skip
from tests.people import real_shop
from tests.people.real_shop import RealShop
from tests.people.test_rights import (
    CERTIFICATES,
    RECORDS,
    ROLES,
    STATES,
    VISION,
    bring_into,
    is_accepted,
    may_accept,
    qualify,
)
from tests.services.shop import STATION, SetClock
from tests.store.conftest import draft
from tests.verbs.conftest import Desk, scratch

USUAL = {"certificate": "level 2", "vision": "ends today", "role": "inspector", "state": "free"}

# what a person may try on a whole record, and what only another may do for them; no sequence of it accepts a part
VERBS = (
    "record BOOK rework-order inspection={record} indication=IND-01 zone=WEB operation=blend",
    "record BOOK deviation inspection={record} rule=L03 role=L3 justification='near enough' expires=2027-01-31",
    "record BOOK concession inspection={record} reference=ENG-1 revision=1 conditions=none",
    "record BOOK disagreement inspection={record} decision='no crack'",
    "second-look start BOOK SC-9 {record} --lamps LP-1",
    "second-look save BOOK SC-9 none_seen=yes",
    "sign BOOK {record} ACCEPT --second",
    "sign BOOK {record} ACCEPT",
    "tag print BOOK {record} --out {paper}",
)


@cache
def whole_records() -> tuple[str, Path, object]:
    """A database with one whole record of each method, by persons without certificate and vision examination."""
    server, keys = server_or_skip(), scratch()
    database = server.database()
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("NDI_KEYS", str(keys))
        real_shop.begin(
            keys / "documents",
            unqualified=("L2-A", "L2-B"),
            address=server.url(database),
            owner_url=server.url(database, OWNER),
        )
        clock = SetClock()
        shop = RealShop(bootstrap.open_book(server.url(database), station=STATION, clock=clock), clock)
        shop.at("07:50")
        shop.gear()
        shop.sump()
        shop.after(5)
        shop.close()
    return database, keys, clock.at


@pytest.fixture
def keys(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NDI_KEYS", str(whole_records()[1]))


@pytest.fixture
def where() -> str:
    return ""  # each case has a database of its own


class OnServer:
    """A copy of the book with the records, opened under the stations' account; ended when it is let go."""

    def __init__(self, desk: Desk) -> None:
        database, _, at = whole_records()
        self.server = server_or_skip()
        self.address = self.server.url(self.server.database(database))
        desk.where, desk.clock.at = self.address, at  # type: ignore[assignment]
        self.shop = RealShop(bootstrap.open_book(self.address, station=STATION, clock=desk.clock), desk.clock)
        self.database = str(database_url(self.address).database)

    def sql(self, statement: str, account: str = STATIONS) -> list[tuple[object, ...]]:
        return self.server.run(statement, self.database, account)

    def end(self) -> None:
        self.shop.close()
        self.server.run(f'DROP DATABASE "{self.database}" WITH (FORCE)')


@pytest.fixture
def place(keys: None, desk: Desk) -> Iterator[OnServer]:
    opened = OnServer(desk)
    yield opened
    opened.end()


def cases(method: str) -> list[dict[str, str]]:
    """For one method certificate by vision, for the other each of the four alone: a database for each takes seconds."""
    if method == "MT":
        return [{**USUAL, "certificate": c, "vision": v} for c, v in itertools.product(CERTIFICATES, VISION)]
    kinds = {"certificate": CERTIFICATES, "vision": VISION, "role": ROLES, "state": STATES}
    found = [{**USUAL, name: value} for name, values in kinds.items() for value in values]
    return list({json.dumps(case): case for case in found}.values())


@pytest.mark.parametrize("method", RECORDS)
def test_matrix_of_rights_along_every_verb_under_the_stations_account(
    keys: None, desk: Desk, method: str, tmp_path: Path
) -> None:
    record, person = RECORDS[method]
    for case in cases(method):
        place = OnServer(desk)
        qualify(place.shop, method, case["certificate"], case["vision"], case["role"])
        bring_into(place.shop, person, case["state"])
        paper = tmp_path / "tag.pdf"
        said = [
            desk.run(verb.format(record=record, paper=paper), by=person, code=None)
            for verb in (VERBS if not may_accept(**case) else VERBS[-2:])
        ]
        accepted = is_accepted(place.shop, record)
        assert accepted is may_accept(**case), (case, said)
        assert all(each.code in (0, 1, 2, 3) for each in said)
        assert paper.exists() is accepted
        signed = place.shop.facts(f.DecisionSigned)
        assert len(signed) == accepted and not (place.shop.facts(f.SecondSignature) and case["certificate"] == "none")
        paper.unlink(missing_ok=True)
        place.end()


# --- the account in other hands --------------------------------------------------------------------


def verified(place: OnServer) -> verification.Problem | None:
    return bootstrap.verify(place.shop.work.book).problem


def test_a_forged_acceptance_is_not_signed_by_the_station_and_is_found(place: OnServer, desk: Desk) -> None:
    """An inspector without rights writes the decision straight into the journal; nothing but the key is missing."""
    row = place.shop.row("MT-001")
    forged = f.DecisionSigned(
        "MT-001", row.part, "L2-A", "MT level 2", "ACCEPT", (f.Child("ACCEPT", 1),), False, (), (), "0" * 64
    )
    body = json.dumps(body_of(forged), ensure_ascii=False, separators=(",", ":"), sort_keys=True)
    book = place.shop.work.book
    with book.transaction(reading=False) as tx:  # type: ignore[attr-defined]
        stranger = new_key(book.book_id, STATION)
        tx.connection.execute(
            insert(entry), [entry_row(draft(forged), body, tx.next_place(STATION), Stamp.of(desk.clock), stranger)]
        )
        tx.connection.commit()
    problem = verified(place)
    assert problem is not None and problem.what is verification.Fault.BAD_SIGNATURE
    assert not is_accepted(place.shop, "MT-001")
    said = desk.run("verify BOOK", code=None)
    assert said.code != 0 and str(problem.position) in said.out + said.err


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE inspection SET disposition = 'ACCEPT' WHERE inspection = 'MT-001'",
        "UPDATE inspection SET disposition = 'ACCEPT', decision = 3 WHERE inspection = 'MT-001'",
        "DELETE FROM fact WHERE kind = 'PersonRemoved' OR kind = 'CertificateEntered'",
        "UPDATE fact SET superseded = true WHERE kind = 'VisionExamEntered'",
    ],
)
def test_changed_read_tables_accept_nothing_that_verify_does_not_name(
    place: OnServer, desk: Desk, statement: str, tmp_path: Path
) -> None:
    assert verified(place) is None
    place.sql(statement)
    problem = verified(place)
    assert problem is not None and problem.what is verification.Fault.READ_TABLES_DIFFER
    paper = tmp_path / "tag.pdf"
    for verb in ("sign BOOK MT-001 ACCEPT", f"tag print BOOK MT-001 --out {paper}"):
        desk.run(verb, by="L2-A", code=None)
    assert not paper.exists() and not place.shop.facts(f.DecisionSigned) and not place.shop.facts(f.TagPrinted)


def test_a_removed_person_who_hides_the_removal_from_the_program_is_found(place: OnServer, desk: Desk) -> None:
    """The account may change read tables, so the program can be misled; the journal keeps the removal and verify names it."""
    qualify(place.shop, "MT", **{name: USUAL[name] for name in ("certificate", "vision", "role")})
    bring_into(place.shop, "L2-A", "removed")
    assert "removed" in desk.run("sign BOOK MT-001 ACCEPT", by="L2-A", code=1).err
    place.sql("DELETE FROM fact WHERE kind = 'PersonRemoved'")
    desk.run("sign BOOK MT-001 ACCEPT", by="L2-A")
    problem = verified(place)
    assert problem is not None and problem.what is verification.Fault.READ_TABLES_DIFFER
    assert desk.run("verify BOOK", code=None).code != 0


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE entry SET by = 'L2-C' WHERE position = 5",
        "DELETE FROM entry WHERE kind = 'ActionRefused'",
        "DELETE FROM client_key",
        "TRUNCATE inspection",
        "DROP TABLE fact",
    ],
)
def test_the_account_cannot_take_back_what_was_refused(place: OnServer, statement: str) -> None:
    with pytest.raises(Exception, match=r"permission denied|must be owner"):
        place.sql(statement)
    assert verified(place) is None


def test_keys_of_a_station_are_needed_beside_the_account(
    place: OnServer, desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The account alone opens no station: without the key folder every verb is refused."""
    (tmp_path / "empty").mkdir()
    monkeypatch.setenv("NDI_KEYS", str(tmp_path / "empty"))
    for verb in (
        "sign BOOK MT-001 ACCEPT",
        "record BOOK switch equipment=LP-1 state=off",
        "inspection open BOOK --part CG-1 --technique MT-T-6050",
    ):
        assert desk.run(verb, by="L2-A", code=None).code in (2, 3)
    shutil.copytree(whole_records()[1], tmp_path / "half", ignore=shutil.ignore_patterns("*.pepper", "documents"))
    monkeypatch.setenv("NDI_KEYS", str(tmp_path / "half"))
    said = desk.run("sign BOOK MT-001 ACCEPT", by="L2-A", code=2)
    assert "secret file" in said.err
