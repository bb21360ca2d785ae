"""What the stations' account on a database server may do, tried outside ndi; what it may not, and what is found."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from sqlalchemy import insert

from ndi.domain.errors import InputError, ReadOnly, StoreError
from ndi.domain.facts import ConfirmationGiven
from ndi.store.book import SqlBook
from ndi.store.journal import Stamp, entry_row
from ndi.store.keys import new_key
from ndi.store.places import create_any, open_any
from ndi.store.postgres import database_url
from ndi.store.schema import entry
from ndi.store.verify import Fault, verify
from tests.contract.conftest import Place
from tests.database_server import OWNER, STATIONS, server_or_skip
from tests.store.conftest import STATION, FakeClock, draft, put
from tests.store.shop_day import fill


@pytest.fixture
def engine_name() -> str:
    return "postgresql"


def _database(place: Place) -> str:
    return str(database_url(str(place.where)).database)


REFUSED_TO_STATIONS = {
    "update": ("UPDATE entry SET kind = 'X' WHERE position = 3", "permission denied"),
    "update of nothing": ("UPDATE entry SET kind = 'X' WHERE false", "permission denied"),
    "delete": ("DELETE FROM entry", "permission denied"),
    "replace": (
        "INSERT INTO entry SELECT * FROM entry WHERE position = 3 ON CONFLICT (position) DO UPDATE SET kind = 'X'",
        "permission denied",
    ),
    "a second entry at a position": ("INSERT INTO entry SELECT * FROM entry WHERE position = 3", "end of the record book"),
    "truncate": ("TRUNCATE entry", "permission denied"),
    "truncate a read table": ("TRUNCATE part", "permission denied"),
    "drop": ("DROP TABLE entry", "must be owner"),
    "drop a read table": ("DROP TABLE part", "must be owner"),
    "drop a guard": ("DROP TRIGGER entry_no_change ON entry", "must be owner"),
    "switch a guard off": ("ALTER TABLE entry DISABLE TRIGGER ALL", "must be owner"),
    "another guard": ("CREATE OR REPLACE FUNCTION entry_no_change() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NEW; END'", "permission denied"),
    "play a replica": ("SET session_replication_role = replica", "permission denied"),
    "alter": ("ALTER TABLE entry ADD COLUMN x int", "must be owner"),
    "create": ("CREATE TABLE x (y int)", "permission denied"),
    "change a remembered call": ("UPDATE client_key SET positions = '1'", "permission denied"),
    "forget a call": ("DELETE FROM client_key", "permission denied"),
    "become the owner": (f"SET ROLE {OWNER}", "permission denied"),
    "give itself rights": (f"GRANT ALL ON entry TO {STATIONS}", "permission denied"),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED_TO_STATIONS)
def test_stations_account_is_refused(book: SqlBook, place: Place, name: str) -> None:
    statement, says = REFUSED_TO_STATIONS[name]
    fill(book)
    head = book.head()
    if name == "give itself rights":  # PostgreSQL grants nothing and only warns
        server_or_skip().run(statement, _database(place), STATIONS)
        statement, says = REFUSED_TO_STATIONS["update"]
    with pytest.raises(Exception, match=says):
        server_or_skip().run(statement, _database(place), STATIONS)
    assert book.head() == head
    assert verify(book).ok


@pytest.mark.parametrize("account", [OWNER, "postgres"])
@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE entry SET kind = 'X' WHERE position = 3",
        "UPDATE entry SET kind = 'X' WHERE false",
        "DELETE FROM entry WHERE position = 3",
        "DELETE FROM entry WHERE false",
        "TRUNCATE entry",
        "TRUNCATE entry CASCADE",
        "INSERT INTO entry SELECT * FROM entry WHERE position = 3 ON CONFLICT (position) DO UPDATE SET kind = 'X'",
        "MERGE INTO entry e USING (SELECT 3 p) s ON e.position = s.p WHEN MATCHED THEN DELETE",
    ],
)
def test_guards_refuse_the_owner_and_the_superuser_too(
    book: SqlBook, place: Place, account: str, statement: str
) -> None:
    fill(book)
    with pytest.raises(Exception, match=r"append-only|end of the record book"):
        server_or_skip().run(statement, _database(place), account)
    assert verify(book).ok


def test_guards_hold_where_a_replica_is_played(book: SqlBook, place: Place) -> None:
    with pytest.raises(Exception, match="append-only"):
        server_or_skip().run("SET session_replication_role = replica; DELETE FROM entry", _database(place))
    assert book.head().position == 2


def test_stations_account_owns_nothing(book: SqlBook, place: Place) -> None:
    owned = server_or_skip().run(
        f"SELECT relname FROM pg_class WHERE relowner = '{STATIONS}'::regrole", _database(place)
    )
    assert owned == []
    rights = server_or_skip().run(
        "SELECT table_name, string_agg(privilege_type, ' ' ORDER BY privilege_type) FROM "
        f"information_schema.role_table_grants WHERE grantee = '{STATIONS}' GROUP BY 1 ORDER BY 1",
        _database(place),
    )
    read = "DELETE INSERT SELECT UPDATE"
    assert dict(rights) == {
        **dict.fromkeys(("fact", "inspection", "part", "object_use"), read),
        **dict.fromkeys(("entry", "client_key"), "INSERT SELECT"),
        "rebuild_progress": "SELECT",
    }


def test_forged_entry_of_an_unknown_station_is_found(book: SqlBook, place: Place) -> None:
    """The stations' account may append; what no station of the book signed is named by verify."""
    fill(book)
    forged = draft(ConfirmationGiven("I1", "reading glasses on"))
    with book.transaction(reading=False) as tx:
        own = tx.next_place("GHOST")
        row = entry_row(forged, '{"about":"I1","item":"x"}', own, Stamp.of(FakeClock()), new_key(book.book_id, "GHOST"))
        tx.connection.execute(insert(entry), [row])
        tx.connection.commit()
    problem = verify(book).problem
    assert problem is not None
    assert (problem.position, problem.what) == (29, Fault.UNKNOWN_STATION)


def test_forged_entry_in_the_name_of_a_station_is_found(book: SqlBook, place: Place) -> None:
    fill(book)
    thief = replace(new_key(book.book_id, STATION))
    with book.transaction(reading=False) as tx:
        body = json.dumps({"about": "I1", "item": "x"}, separators=(",", ":"), sort_keys=True)
        row = entry_row(draft(ConfirmationGiven("I1", "x")), body, tx.next_place(STATION), Stamp.of(FakeClock()), thief)
        tx.connection.execute(insert(entry), [row])
        tx.connection.commit()
    problem = verify(book).problem
    assert problem is not None
    assert (problem.position, problem.what) == (29, Fault.BAD_SIGNATURE)


def test_changed_read_table_is_found(book: SqlBook, place: Place) -> None:
    """The stations' account may change read tables, as its work needs it; the journal shows that it did."""
    fill(book)
    server_or_skip().run(
        "UPDATE inspection SET disposition = 'ACCEPT' WHERE inspection = 'I1'", _database(place), STATIONS
    )
    problem = verify(book).problem
    assert problem is not None
    assert (problem.position, problem.what, problem.detail) == (
        None,
        Fault.READ_TABLES_DIFFER,
        "first inspection I1, 1 in all",
    )


def test_rebuild_under_the_stations_account_is_refused(book: SqlBook) -> None:
    fill(book)
    with pytest.raises(ReadOnly, match="done under the account that owns the book; nothing was saved"):
        book.rebuild()
    assert verify(book).ok


@pytest.mark.parametrize("account", [OWNER, "postgres"])
def test_daily_work_under_a_mighty_account_is_refused(place: Place, account: str) -> None:
    where = server_or_skip().url(_database(place), account)
    with pytest.raises(StoreError, match="work under the stations' account"):
        open_any(where, station=STATION, key_folder=place.keys, clock=FakeClock())


def test_book_is_not_begun_twice_or_by_one_account_alone(place: Place, tmp_path: Path) -> None:
    settings = {"shop": "X", "practice": True, "station": "S", "key_folder": tmp_path / "k", "clock": FakeClock()}
    with pytest.raises(StoreError, match="a record book in this database already"):
        create_any(place.where, owner_url=str(place.owner_where), **settings)  # type: ignore[arg-type]
    with pytest.raises(InputError, match="must not own the book"):
        create_any(place.where, owner_url=str(place.where), **settings)  # type: ignore[arg-type]
    with pytest.raises(InputError, match="name also the address"):
        create_any(place.where, **settings)  # type: ignore[arg-type]
    assert not (tmp_path / "k").exists()


@pytest.mark.parametrize(
    ("where", "says"),
    [("mysql://a@b/c", "no database for a record book"), ("://", "no address")],
)
def test_address_that_is_none(tmp_path: Path, where: str, says: str) -> None:
    with pytest.raises((InputError, StoreError), match=says):
        open_any(where, station="S", key_folder=tmp_path, clock=FakeClock())


def test_database_without_a_book(tmp_path: Path) -> None:
    server = server_or_skip()
    with pytest.raises(StoreError, match="not a record book"):
        open_any(server.url(server.database()), station="S", key_folder=tmp_path, clock=FakeClock())


def test_further_station_may_append_under_the_same_account(book: SqlBook) -> None:
    put(book, draft(ConfirmationGiven("I1", "x")))
    assert verify(book).ok
