"""The demonstration day as a practice book, made once, and copies of it opened in the evening."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from ndi import bootstrap
from ndi.cli.demo import before_folder, replay_into
from ndi.day import files, replay
from ndi.day.clock import SetClock
from ndi.services.workplace import Workplace
from tests.gui.window import instant

DAY = Path(__file__).resolve().parents[2] / "demo" / "2026-03-10"
OFFSET = -300


def played(folder: Path, before: Path, book: Path) -> Path:
    """A day played into a new practice book."""
    day = files.read_day(folder)
    made, _ = replay_into(book, replay.plan(day, files.read_before(before, day)))
    bootstrap.close(made.book)
    return book


def copy_at(book: Path, folder: Path, clock: str) -> Workplace:
    """A copy of a book, opened at a time of the day."""
    folder.mkdir(parents=True, exist_ok=True)
    shutil.copy(book, folder / book.name)
    shutil.copytree(bootstrap.key_folder(book), bootstrap.key_folder(folder / book.name))
    return bootstrap.open_book(folder / book.name, clock=SetClock(instant(clock), OFFSET))


@pytest.fixture(scope="session")
def day_book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """To be copied, never opened."""
    return played(DAY, before_folder(DAY), tmp_path_factory.mktemp("asked") / "demo.ndibook")


@pytest.fixture(scope="module")
def work(day_book: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Workplace]:
    opened = copy_at(day_book, tmp_path_factory.mktemp("evening"), "17:30")
    yield opened
    bootstrap.close(opened.book)
