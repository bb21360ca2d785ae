"""A screen for the whole session, and the practice book at several times of its day, each made once."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from itertools import count
from pathlib import Path

import pytest

from ndi.cli.practice import practice_copy
from tests.gui.screens import screen
from tests.gui.window import Window, copy_of, has_xvfb

_numbers = count(1)


@pytest.fixture(scope="session")
def display_of() -> Iterator[Callable[[str, int], None]]:
    """Points DISPLAY at a screen of a size; every screen lives to the end, for Tk ends the program when one goes."""
    if not has_xvfb():
        pytest.skip("no Xvfb: apt-get install xvfb")
    with ExitStack() as servers:
        names: dict[tuple[str, int], str] = {}

        def point(size: str, dpi: int) -> None:
            if (size, dpi) not in names:
                names[size, dpi] = servers.enter_context(screen(size, dpi))
            os.environ["DISPLAY"] = names[size, dpi]

        yield point


@pytest.fixture
def display(display_of: Callable[[str, int], None]) -> str:
    display_of("1366x768", 96)
    return os.environ["DISPLAY"]


@pytest.fixture(scope="session")
def book_at(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Path]:
    """The practice book with the day worked up to a time."""
    made: dict[str, Path] = {}

    def book(clock: str) -> Path:
        if clock not in made:
            made[clock] = practice_copy(tmp_path_factory.mktemp(clock.replace(":", "-")), clock, lambda _said: None)
        return made[clock]

    return book


@pytest.fixture
def window(display: str, book_at: Callable[[str], Path], tmp_path: Path) -> Iterator[Callable[..., Window]]:
    """Opens windows on copies of the practice book: ``window("10:57", place="MT booth")``."""
    opened: list[Window] = []

    def open_one(clock: str, *, book: Path | None = None, **about: object) -> Window:
        where = book or copy_of(book_at(clock), tmp_path / f"book{next(_numbers)}")
        one = Window(where, clock, **about)  # type: ignore[arg-type]
        opened.append(one)
        return one

    yield open_one
    for one in opened:
        one.close()
