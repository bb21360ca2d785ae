"""Real books on both engines, and people who type command lines at times that the test sets."""

from __future__ import annotations

import atexit
import io
import shlex
import shutil
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

import pytest

from ndi import bootstrap
from ndi.cli.main import main
from ndi.store import secrets
from ndi.store.postgres import database_url
from tests import build as b
from tests.database_server import OWNER, server_or_skip
from tests.people import real_shop
from tests.people.real_shop import CHEAP, password
from tests.services.shop import SetClock

ENGINES = ("sqlite", "postgresql")


@dataclass(frozen=True)
class Said:
    """What a command answered."""

    code: int
    out: str
    err: str

    def __contains__(self, text: str) -> bool:
        return text in self.out or text in self.err


@dataclass
class Desk:
    """A terminal of the shop: every line is a call to ``ndi`` with the book as its first word after the verb."""

    where: str
    clock: SetClock
    patch: pytest.MonkeyPatch
    capture: pytest.CaptureFixture[str]
    log: list[tuple[str, Said]] = field(default_factory=list)

    def at(self, text: str, day: str = b.DAY) -> Desk:
        self.clock.at = b.at(text, day).at
        return self

    def run(self, line: str, *, typed: str = "", by: str | None = None, code: int | None = 0) -> Said:
        """One command line; ``BOOK`` stands for the book, ``by`` signs it with their password."""
        words = [self.where if word == "BOOK" else word for word in shlex.split(line)]
        if by is not None:
            words += ["--by", by]
        self.patch.setattr("sys.stdin", io.StringIO(typed))
        self.patch.setattr("getpass.getpass", lambda prompt="": password(prompt.rpartition(" of ")[2].rstrip(": ")))
        self.capture.readouterr()
        result = main(words)
        captured = self.capture.readouterr()
        said = Said(result, captured.out, captured.err)
        self.log.append((line, said))
        assert code is None or result == code, f"{line}\n{said.out}\n{said.err}"
        return said

    def play(self, script: str) -> Said:
        """Lines of ``HH:MM[:SS] PERSON: verb ...``; the last answer."""
        last = Said(0, "", "")
        for line in script.strip().splitlines():
            if line.strip():
                time, rest = line.strip().split(" ", 1)
                person, _, command = rest.partition(": ")
                last = self.at(time).run(command, by=person)
        return last


@pytest.fixture(scope="session", autouse=True)
def cheap_secrets() -> Iterator[None]:
    """Argon2id at the speed of tests."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(secrets, "PARAMETERS", CHEAP)
        yield


def scratch() -> Path:
    """A folder for what is made once in a run; it goes when the run ends."""
    folder = Path(tempfile.mkdtemp(prefix="verbs-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return folder


@cache
def _sqlite_template() -> Path:
    folder = scratch()
    real_shop.begin(folder)
    return folder


@cache
def _server_template() -> tuple[str, Path]:
    """A database with the real book of the morning, and its keys."""
    server, keys = server_or_skip(), scratch()
    database = server.database()
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("NDI_KEYS", str(keys))
        real_shop.begin(keys / "documents", address=server.url(database), owner_url=server.url(database, OWNER))
    return database, keys


@pytest.fixture(params=ENGINES)
def engine(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture
def where(engine: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """The address of a copy of the morning's book."""
    if engine == "sqlite":
        shutil.copytree(_sqlite_template(), tmp_path / "book", ignore=shutil.ignore_patterns("procedures"))
        yield str(tmp_path / "book" / "shop.book")
        return
    server, (template, keys) = server_or_skip(), _server_template()
    address = server.url(server.database(template))
    monkeypatch.setenv("NDI_KEYS", str(keys))
    yield address
    server.run(f'DROP DATABASE "{database_url(address).database}" WITH (FORCE)')


@pytest.fixture
def desk(where: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Desk:
    clock = SetClock()
    monkeypatch.setattr(bootstrap, "SystemClock", lambda: clock)
    # the day of the test is not the server's; clocks that differ have tests of their own
    monkeypatch.setattr(bootstrap, "_compare_clocks", lambda work, book: None)
    return Desk(where, clock, monkeypatch, capsys).at("07:50")
