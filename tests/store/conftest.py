"""A clock that stands still until told, books in a temporary folder, and the tools of a forger."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from ndi.domain.entry import Draft, Obtained
from ndi.domain.facts import Fact
from ndi.domain.moment import Moment
from ndi.store.book import SqliteBook, create_book, open_book
from ndi.store.dialect import SQLITE

START = datetime(2026, 3, 10, 12, 0, tzinfo=UTC)
STATION = "BOOTH 1"


class FakeClock:
    """Stands still; ``tick`` moves both clocks, ``at`` only the wall clock."""

    def __init__(self, at: datetime = START) -> None:
        self.at, self.ms = at, 1_000_000

    def now(self) -> datetime:
        return self.at

    def offset_min(self) -> int:
        return -300

    def boot_ms(self) -> int:
        return self.ms

    def boot_id(self) -> str:
        return "boot-a"

    def tick(self, seconds: int = 1) -> None:
        self.at += timedelta(seconds=seconds)
        self.ms += 1000 * seconds


def moment(minutes: float = 0) -> Moment:
    return Moment(START + timedelta(minutes=minutes), -300)


def draft(fact: Fact, minutes: float = 0, **more: Any) -> Draft:
    return Draft(fact, moment(minutes), by="P. Example", **{"how": Obtained.TYPED_LATE, **more})


def put(book: SqliteBook, *drafts: Draft) -> list[Any]:
    """Append and commit; the recorded entries."""
    with book.session() as session:
        recorded = session.append(drafts)
        session.commit()
    return list(recorded)


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock()


@pytest.fixture(scope="session")
def new_book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a book that was just begun, and its keys; to be copied, never opened."""
    folder = tmp_path_factory.mktemp("new book")
    create_book(
        folder / "shop.book", shop="GW", practice=True, station=STATION, key_folder=folder / "keys", clock=FakeClock()
    ).close()
    return folder


@pytest.fixture
def book(new_book: Path, tmp_path: Path, clock: FakeClock) -> Iterator[SqliteBook]:
    shutil.copytree(new_book, tmp_path, dirs_exist_ok=True)
    with open_book(tmp_path / "shop.book", station=STATION, key_folder=tmp_path / "keys", clock=clock) as opened:
        yield opened


@pytest.fixture
def reopen(tmp_path: Path, clock: FakeClock) -> Iterator[Callable[..., SqliteBook]]:
    opened: list[SqliteBook] = []

    def again(**more: Any) -> SqliteBook:
        settings = {"station": STATION, "key_folder": tmp_path / "keys", "clock": clock, **more}
        opened.append(open_book(tmp_path / "shop.book", **settings))
        return opened[-1]

    yield again
    for each in opened:
        each.close()


@contextmanager
def forger(path: Path) -> Iterator[sqlite3.Connection]:
    """Another program with the file in its hands: no guards, foreign rules."""
    connection = sqlite3.connect(path, isolation_level=None)
    connection.row_factory = sqlite3.Row
    try:
        for name in SQLITE.guards():
            connection.execute(f"DROP TRIGGER {name}")
        yield connection
    finally:
        connection.close()
