"""A database server that goes away, its clock, and what each connection is set to."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from ndi.domain.errors import StoreError
from ndi.domain.facts import ConfirmationGiven
from ndi.store.book import SqlBook
from ndi.store.errors import ConnectionLost, SavingUnknown
from ndi.store.places import create_any, open_any
from ndi.store.postgres import clock_offset, database_url
from ndi.store.verify import verify
from tests.contract.conftest import Place
from tests.database_server import OWNER, server_or_skip, start_another
from tests.store.conftest import STATION, FakeClock, draft, put

TICK = ConfirmationGiven("I-1", "reading glasses on")


@pytest.fixture
def engine_name() -> str:
    return "postgresql"


@pytest.fixture
def cut(place: Place) -> Callable[[], None]:
    """Ends every connection of the stations' account to this book, as a server that goes down does."""
    database = database_url(str(place.where)).database

    def all_connections() -> None:
        server_or_skip().run(
            f"SELECT pg_terminate_backend(pid, 5000) FROM pg_stat_activity WHERE datname = '{database}' AND pid <> pg_backend_pid()"
        )

    return all_connections


def test_connection_that_was_cut_between_sessions_is_made_anew(book: SqlBook, cut: Callable[[], None]) -> None:
    put(book, draft(TICK))
    cut()
    put(book, draft(TICK))
    assert verify(book).checked == 4


def test_connection_cut_before_the_commit_loses_the_step_and_nothing_else(
    book: SqlBook, cut: Callable[[], None]
) -> None:
    put(book, draft(TICK))
    safe = r"nothing of this step was saved, all that was shown as saved is safe"
    with pytest.raises(ConnectionLost, match=safe), book.session() as session:
        session.append([draft(TICK)])
        cut()
        session.append([draft(TICK)])
    assert book.head().position == 3
    put(book, draft(TICK))
    assert verify(book).checked == 4


def test_step_that_goes_on_after_the_cut_is_told_again(book: SqlBook, cut: Callable[[], None]) -> None:
    with book.session() as session:
        session.append([draft(TICK)])
        cut()
        with pytest.raises(ConnectionLost):
            session.facts("I-1")
        with pytest.raises(StoreError, match="an earlier call of this step failed"):
            session.facts("I-1")
        with pytest.raises(StoreError, match="an earlier call of this step failed"):
            session.commit()
    assert book.head().position == 2


def test_connection_cut_at_the_commit_says_that_the_outcome_is_unknown(book: SqlBook, cut: Callable[[], None]) -> None:
    unknown = r"saved whole or not at all\. Look whether it is in the book"
    with pytest.raises(SavingUnknown, match=unknown), book.session() as session:
        session.append([draft(TICK)])
        cut()
        session.commit()
    assert book.head().position == 2  # here it was not; see tests/power for the other case
    put(book, draft(TICK))
    assert verify(book).checked == 3


def test_lock_of_a_station_that_vanished_is_free(book: SqlBook, place: Place, cut: Callable[[], None]) -> None:
    with pytest.raises(StoreError), book.session() as session:
        session.append([draft(TICK)])
        cut()
        with place.open() as other:
            put(other, draft(TICK))
        session.commit()
    assert verify(book).checked == 3


def test_server_that_crashed_has_everything_that_was_acknowledged(tmp_path: Path) -> None:
    """Its programs end at once and come back from their log; the machine itself did not lose power."""
    server_or_skip()
    server = start_another()
    assert not isinstance(server, str)
    database, acknowledged = server.database(), []
    with create_any(
        server.url(database), owner_url=server.url(database, OWNER),
        shop="X", practice=True, station=STATION, key_folder=tmp_path, clock=FakeClock(),
    ) as book:  # fmt: skip
        for _ in range(3):
            acknowledged += [recorded.position for recorded in put(book, draft(TICK), draft(TICK))]
            with pytest.raises(ConnectionLost, match="connects anew by itself"), book.session() as session:
                session.append([draft(ConfirmationGiven("lost", "x"))])
                server.crash()
                session.facts("I-1")
            with pytest.raises(ConnectionLost, match="not reached"):
                book.head()
            server.start()
        with book.session(readonly=True) as session:
            assert [r.position for r in session.facts("I-1")] == acknowledged
            assert session.facts("lost") == []
        assert verify(book).ok


def test_server_that_is_not_there(place: Place) -> None:
    nowhere = str(place.where).replace("?host=", "?port=1&host=")
    with pytest.raises(ConnectionLost, match="the database server is not reached"):
        open_any(nowhere, station=STATION, key_folder=place.keys, clock=FakeClock())


def test_every_connection_is_set_to_keep_what_it_says_it_saved(book: SqlBook, place: Place) -> None:
    """Also where the database and the account say otherwise."""
    database = database_url(str(place.where)).database
    server_or_skip().run(f'ALTER DATABASE "{database}" SET synchronous_commit = off')
    with place.open() as fresh:
        for reading in (True, False):
            with fresh.transaction(reading=reading) as tx:
                found = {n: tx.connection.exec_driver_sql(f"SHOW {n}").scalar_one() for n in (
                    "synchronous_commit", "fsync", "full_page_writes", "search_path", "transaction_isolation", "lock_timeout",
                )}  # fmt: skip
            isolation = "repeatable read" if reading else "read committed"
            assert found == {
                "synchronous_commit": "on",
                "fsync": "on",
                "full_page_writes": "on",
                "search_path": "public, pg_temp",
                "transaction_isolation": isolation,
                "lock_timeout": "15s",
            }


def test_writers_hold_the_lock_to_their_commit(book: SqlBook) -> None:
    held = "SELECT count(*) FROM pg_locks WHERE locktype = 'advisory' AND pid = pg_backend_pid()"
    with book.transaction(reading=True) as tx:
        assert tx.connection.exec_driver_sql(held).scalar_one() == 0
    with book.transaction(reading=False) as tx:
        assert tx.connection.exec_driver_sql(held).scalar_one() == 1
        tx.commit()
        assert tx.connection.exec_driver_sql(held).scalar_one() == 1  # the next transaction took it again


class Shifted(FakeClock):
    """This machine's clock, so many seconds ahead."""

    def __init__(self, seconds: float) -> None:
        super().__init__()
        self.ahead = timedelta(seconds=seconds)

    def now(self) -> datetime:
        return datetime.now(UTC) + self.ahead


@pytest.mark.parametrize("seconds", [0, 2.5, -61, 3600.25])
def test_offset_of_the_station_clock_against_the_server(place: Place, seconds: float) -> None:
    with place.open(clock=Shifted(seconds)) as book:
        found = clock_offset(book)
    assert found is not None
    assert abs(found.total_seconds() - seconds) < 0.5


def test_book_without_a_server_has_no_second_clock(tmp_path: Path) -> None:
    with create_any(
        tmp_path / "a.book", shop="X", practice=True, station="S", key_folder=tmp_path / "k", clock=FakeClock()
    ) as book:
        assert clock_offset(book) is None
