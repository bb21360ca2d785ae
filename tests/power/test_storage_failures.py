"""Every call to the database made to fail once in turn: after it the book is as before or as after, and the message is true."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from typing import Any

import pytest
from sqlalchemy import Engine, event
from sqlalchemy.dialects.postgresql.psycopg import PGDialect_psycopg
from sqlalchemy.dialects.sqlite.pysqlite import SQLiteDialect_pysqlite

from ndi.domain import facts as f
from ndi.domain.errors import StoreError
from ndi.store.book import SqlBook, add_station
from ndi.store.errors import ConnectionLost, DiskFull, SavingUnknown, StoreBusy
from ndi.store.schema import client_key, entry
from ndi.store.verify import verify
from tests.contract.conftest import Place
from tests.database_server import server_or_skip
from tests.store.conftest import draft
from tests.store.shop_day import fill, viewed

Fail = Callable[[Any], None]
SQLITE_CODES = {"disk full": 13, "read error": 10, "lock held": 5}  # sqlite.org/rescode.html
SQLSTATES = {"disk full": "DiskFull", "read error": "IoError", "lock held": "LockNotAvailable"}
LOST = "connection lost"
KINDS = {"disk full": DiskFull, "lock held": StoreBusy, LOST: ConnectionLost}


def _failure(engine: str, fault: str) -> Fail:
    """What the driver raises, as the engine would; a lost connection is really cut."""
    if engine == "sqlite":

        def fail(_connection: Any) -> None:
            error = sqlite3.OperationalError(fault)
            error.sqlite_errorcode = SQLITE_CODES[fault]
            raise error

        return fail
    if fault == LOST:

        def cut(connection: Any) -> None:
            server_or_skip().run(f"SELECT pg_terminate_backend({connection.info.backend_pid}, 5000)")

        return cut

    def refuse(_connection: Any) -> None:
        import psycopg

        raise getattr(psycopg.errors, SQLSTATES[fault])(fault)

    return refuse


class Faults:
    """Counts the calls to the driver, and fails the one whose turn it is."""

    def __init__(self, fail: Fail, turn: int | None, *, after_commit: bool = False) -> None:
        self.fail, self.turn, self.after_commit = fail, turn, after_commit
        self.calls, self.commits = 0, 0

    def before(self, connection: Any) -> None:
        if self.after_commit:
            return
        self.calls += 1
        if self.calls == self.turn:
            self.fail(connection)

    def execute(self, cursor: Any, *_: Any) -> None:
        self.before(cursor.connection)

    def commit(self, real: Callable[..., None]) -> Callable[..., None]:
        def do_commit(dialect: Any, connection: Any) -> None:
            self.commits += 1
            self.before(connection.driver_connection)
            real(dialect, connection)
            if self.after_commit and self.commits == self.turn:
                self.fail(connection.driver_connection)
                connection.execute("SELECT 1")  # a cut connection shows here

        return do_commit

    def rollback(self, real: Callable[..., None]) -> Callable[..., None]:
        def do_rollback(dialect: Any, connection: Any) -> None:
            self.before(connection.driver_connection)
            real(dialect, connection)

        return do_rollback


@contextmanager
def failing(faults: Faults, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    names = ("do_execute", "do_executemany", "do_execute_no_params")
    for name in names:
        event.listen(Engine, name, faults.execute)
    with monkeypatch.context() as patch:
        for dialect in (SQLiteDialect_pysqlite, PGDialect_psycopg):
            patch.setattr(dialect, "do_commit", faults.commit(dialect.do_commit))
            patch.setattr(dialect, "do_rollback", faults.rollback(dialect.do_rollback))
        try:
            yield
        finally:
            for name in names:
                event.remove(Engine, name, faults.execute)


def content(book: SqlBook) -> list[Any]:
    """All that the book holds."""
    with book.transaction(reading=True) as tx:
        tables = (entry, client_key, *tx.tables.all)
        return [sorted((tuple(r) for r in tx.rows(table.select())), key=str) for table in tables]


def append(book: SqlBook) -> None:
    """What a use case does: look whether it was done, read, append with corrections, remember, commit."""
    with book.session() as session:
        if session.seen_client_key("call") is None:
            _append_but_the_commit(session)
            session.commit()


@pytest.fixture
def filled(book: SqlBook) -> SqlBook:
    fill(book)
    return book


def _faults(engine: str) -> list[str]:
    return [*SQLITE_CODES, *([LOST] if engine == "postgresql" else [])]


def _count(run: Callable[[], object], monkeypatch: pytest.MonkeyPatch) -> int:
    faults = Faults(lambda _: None, None)
    with failing(faults, monkeypatch):
        run()
    return faults.calls


def test_append_is_whole_or_not_at_all(
    filled: SqlBook, place: Place, engine_name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    before, tried = content(filled), 0
    for fault in _faults(engine_name):
        turn = 0
        while True:
            turn += 1
            faults = Faults(_failure(engine_name, fault), turn)
            with failing(faults, monkeypatch):
                try:
                    with filled.session() as session:
                        _append_but_the_commit(session)
                        if faults.calls < turn:  # the next call is the commit: let it fail too, but never succeed
                            faults.turn = faults.calls + 1
                            session.commit()
                except StoreError as error:
                    said = error
                else:
                    raise AssertionError("the failing call went unnoticed")
            tried += 1
            assert content(filled) == before, f"{fault} at call {turn}: {said}"
            _is_true(said, fault, committing=faults.turn != turn or faults.commits > 0)
            if faults.turn != turn:
                break
    assert tried > 4 * 15
    append(filled)
    append(filled)
    assert len(content(filled)[0]) == len(before[0]) + 3
    assert verify(filled).ok


def _append_but_the_commit(session: Any) -> None:
    assert session.seen_client_key("call") is None
    (old,) = session.facts("V1", [f.ViewStarted])
    recorded = session.append(
        [
            draft(f.ConfirmationGiven("I1", "reading glasses on")),
            draft(viewed("V1", "I1", ("LAMP-2",)), 6, supersedes=old.uid, why="the wrong lamp"),
            draft(f.PartMoved("P1", "rack C"), 95),
        ]
    )
    session.keep_client_key("call", [each.position for each in recorded])


def _is_true(said: StoreError, fault: str, *, committing: bool) -> None:
    """The book is as before: the message says so, or (only at a commit) that it is not known."""
    if isinstance(said, SavingUnknown):
        assert committing
        return
    assert isinstance(said, KINDS.get(fault, StoreError)), repr(said)
    assert "nothing of this step was saved" in str(said) or "nothing was saved" in str(said)


def test_answer_to_a_commit_that_never_comes_is_called_unknown(
    filled: SqlBook, engine_name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The commit is done and the answer is lost: the book is as after, the same call again does nothing."""
    fault = LOST if engine_name == "postgresql" else "read error"
    before = content(filled)
    unanswered = Faults(_failure(engine_name, fault), 1, after_commit=True)
    with failing(unanswered, monkeypatch), pytest.raises(SavingUnknown, match="saved whole or not at all"):
        append(filled)
    after = content(filled)
    assert len(after[0]) == len(before[0]) + 3
    append(filled)
    assert content(filled) == after
    assert verify(filled).ok


def test_opening_and_verifying_fail_with_a_word_and_change_nothing(
    filled: SqlBook, place: Place, engine_name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = content(filled)

    def look() -> None:
        with place.open() as again:
            assert verify(again, read_tables=False).ok

    def compare() -> None:
        assert filled.rebuild(compare_only=True) == []

    for run, each in ((look, 1), (compare, 29)):  # comparing makes hundreds of calls, much alike
        calls = _count(run, monkeypatch)
        for number, fault in enumerate(_faults(engine_name)):
            for turn in range(1 + number, calls + 1, each):
                with failing(Faults(_failure(engine_name, fault), turn), monkeypatch), pytest.raises(StoreError):
                    run()
        run()
    assert content(filled) == before


def test_rebuild_that_fails_leaves_the_tables_and_goes_on(
    filled: SqlBook, place: Place, engine_name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = content(filled)
    with place.open(as_owner=True) as owned:
        calls = _count(owned.rebuild, monkeypatch)
        for number, fault in enumerate(_faults(engine_name)):
            for turn in range(1 + number, calls + 1, 17):
                # closing a transaction may fail after all was done: then nobody needs to know
                with failing(Faults(_failure(engine_name, fault), turn), monkeypatch), suppress(StoreError):
                    owned.rebuild()
                assert content(filled) == before, f"{fault} at call {turn}"
        assert owned.rebuild() == []
    assert content(filled) == before


def test_station_that_could_not_be_added_may_be_added_again(
    filled: SqlBook, place: Place, engine_name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    keys = sorted(place.keys.iterdir())
    turn, added = 0, False
    while not added:
        turn += 1
        with failing(Faults(_failure(engine_name, "disk full"), turn), monkeypatch):
            try:
                add_station(filled, "DESK", key_folder=place.keys, by="A. Example")
                added = True
            except DiskFull:
                assert sorted(place.keys.iterdir()) == keys
    assert turn > 5
    with place.open(station="DESK") as desk:
        assert verify(desk).ok


def test_key_of_a_station_is_kept_when_the_answer_was_lost(
    filled: SqlBook, place: Place, engine_name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    fault = LOST if engine_name == "postgresql" else "read error"
    unanswered = Faults(_failure(engine_name, fault), 1, after_commit=True)
    with failing(unanswered, monkeypatch), pytest.raises(SavingUnknown):
        add_station(filled, "DESK", key_folder=place.keys, by="A. Example")
    with place.open(station="DESK") as desk:
        assert verify(desk).ok
