"""One book, two engines: the fixtures under which the same test bodies run on SQLite and on PostgreSQL."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from tempfile import mkdtemp
from typing import Any

import pytest

from ndi.store.book import SqlBook
from ndi.store.dialect import SQLITE
from ndi.store.places import create_any, open_any
from ndi.store.postgres import POSTGRES, database_url
from tests.database_server import OWNER, Server, server_or_skip
from tests.store.conftest import STATION, FakeClock

Run = Callable[[str], list[Any]]


@dataclass
class Place:
    """Where the book of one test lies, whatever the engine."""

    where: str | Path
    keys: Path
    owner_where: str | Path  # the same with the owner's account
    forger: Callable[[], Any]  # another program with every right: runs SQL, the guards taken away

    def open(
        self, *, station: str = STATION, clock: Any = None, as_owner: bool = False, keys: Path | None = None
    ) -> SqlBook:
        where = self.owner_where if as_owner else self.where
        return open_any(
            where, station=station, key_folder=keys or self.keys, clock=clock or FakeClock(), as_owner=as_owner
        )


@pytest.fixture(params=["sqlite", "postgresql"])
def engine_name(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@cache
def _template(server: Server) -> tuple[str, Path]:
    """A database with a book that was just begun, and its keys; copied for each test."""
    database, keys = server.database(), Path(mkdtemp(dir=_scratch()))
    url, owner = server.url(database), server.url(database, OWNER)
    create_any(
        url, owner_url=owner, shop="GW", practice=True, station=STATION, key_folder=keys, clock=FakeClock()
    ).close()
    return database, keys


_FOLDERS: list[Path] = []


def _scratch() -> Path:
    return _FOLDERS[0]


@pytest.fixture(scope="session", autouse=True)
def _scratch_folder(tmp_path_factory: pytest.TempPathFactory) -> None:
    _FOLDERS.append(tmp_path_factory.mktemp("keys"))


def _on_postgresql(tmp_path: Path) -> Place:
    server = server_or_skip()
    template, keys = _template(server)
    database = server.database(template)
    shutil.copytree(keys, tmp_path / "keys")

    @contextmanager
    def forger() -> Iterator[Run]:
        for name in POSTGRES.guards():
            server.run(f"DROP TRIGGER IF EXISTS {name} ON entry", database)
        yield lambda statement: server.run(statement, database)

    return Place(server.url(database), tmp_path / "keys", server.url(database, OWNER), forger)


def _on_sqlite(tmp_path: Path) -> Place:
    path = tmp_path / "shop.book"
    create_any(path, shop="GW", practice=True, station=STATION, key_folder=tmp_path / "keys", clock=FakeClock()).close()

    @contextmanager
    def forger() -> Iterator[Run]:
        connection = sqlite3.connect(path, isolation_level=None)
        try:
            for name in SQLITE.guards():
                connection.execute(f"DROP TRIGGER IF EXISTS {name}")
            yield lambda statement: connection.execute(statement).fetchall()
        finally:
            connection.close()

    return Place(path, tmp_path / "keys", path, forger)


@pytest.fixture
def place(engine_name: str, tmp_path: Path) -> Iterator[Place]:
    if engine_name == "sqlite":
        yield _on_sqlite(tmp_path)
        return
    on_server = _on_postgresql(tmp_path)
    yield on_server
    # hundreds of databases would take minutes to delete at the end
    server_or_skip().run(f'DROP DATABASE "{database_url(str(on_server.where)).database}" WITH (FORCE)')


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock()


@pytest.fixture
def book(place: Place, clock: FakeClock) -> Iterator[SqlBook]:
    with place.open(clock=clock) as opened:
        yield opened


@pytest.fixture
def owned(place: Place) -> Iterator[SqlBook]:
    """The same book under the account that may rebuild."""
    with place.open(as_owner=True) as opened:
        yield opened


@pytest.fixture
def reopen(place: Place, clock: FakeClock) -> Iterator[Callable[..., SqlBook]]:
    opened: list[SqlBook] = []

    def again(**more: Any) -> SqlBook:
        opened.append(place.open(**{"clock": clock, **more}))
        return opened[-1]

    yield again
    for each in opened:
        each.close()
