"""The demonstration day as a book, made once; opened in the evening, by a clock that stands still."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from ndi import bootstrap
from ndi.cli.demo import before_folder, replay_into
from ndi.day import files, replay
from ndi.day.clock import SetClock
from ndi.services.workplace import Workplace
from tests import build as b


@pytest.fixture(scope="session")
def day_book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The whole day, played into a practice book; to be read only."""
    day = files.read_day(bootstrap.data_folder("demo") / "2026-03-10")
    prepared = replay.plan(day, files.read_before(before_folder(bootstrap.data_folder("demo") / "2026-03-10"), day))
    place = tmp_path_factory.mktemp("day") / "demo.ndibook"
    work, _ = replay_into(place, prepared)
    bootstrap.close(work.book)
    return place


@pytest.fixture(scope="session")
def evening(day_book: Path) -> Iterator[Workplace]:
    """The book at 17:30 of its day; nothing is written to it."""
    work = bootstrap.open_book(day_book, clock=SetClock(b.at("17:30").at, b.OFFSET))
    yield work
    bootstrap.close(work.book)
