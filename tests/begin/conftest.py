"""Shops to begin with: an empty practice book, the small shop at 07:50, and the command line in this process."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from ndi import bootstrap
from ndi.cli.main import main
from ndi.domain import facts as f
from ndi.domain.entry import Draft
from ndi.services.workplace import Workplace
from ndi.store import secrets
from tests.people.real_shop import CHEAP
from tests.services.shop import Shop, begin, open_copy


@pytest.fixture(scope="session", autouse=True)
def cheap_secrets() -> Iterator[None]:
    """Argon2id at the speed of tests."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(secrets, "PARAMETERS", CHEAP)
        yield


@pytest.fixture(scope="session")
def morning(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a practice book with people, equipment and readings; to be copied, never opened."""
    folder = tmp_path_factory.mktemp("begin")
    begin(folder)
    return folder


@pytest.fixture
def shop(morning: Path, tmp_path: Path) -> Iterator[Shop]:
    opened = open_copy(morning, tmp_path / "book")
    yield opened
    opened.close()


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Workplace]:
    """A practice book with one person, on the machine's own clock."""
    work = bootstrap.new_book(
        tmp_path / "empty.ndibook", shop="TEST", station="DESK", practice=True, clock=bootstrap.SystemClock()
    )
    put(work, f.PersonEntered("CLERK", ("supervisor",)))
    yield work
    work.book.close()  # type: ignore[attr-defined]


def put(work: Workplace, *facts: f.Fact) -> None:
    """Put facts into a book past every use case."""
    with work.transaction() as session:
        session.append([Draft(fact, work.now(), "CLERK") for fact in facts])


def head(work: Workplace) -> str:
    with work.book.session(readonly=True) as session:
        return str(session.head())


@dataclass(frozen=True)
class Said:
    """What a command answered."""

    code: int
    out: str
    err: str


Run = Callable[..., Said]


@pytest.fixture
def ndi(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Run:
    """Runs one command line in this process; ``typed`` are the lines of the standard input."""

    def run(*words: object, typed: str = "") -> Said:
        monkeypatch.setattr("sys.stdin", io.StringIO(typed))
        capsys.readouterr()
        code = main([str(word) for word in words])
        captured = capsys.readouterr()
        return Said(code, captured.out, captured.err)

    return run
