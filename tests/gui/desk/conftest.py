"""The demonstration day as a practice book, made once; copies of it at a desk, without and with a screen."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from itertools import count
from pathlib import Path

import pytest

from ndi import bootstrap
from ndi.cli.demo import before_folder, replay_into
from ndi.day import files, replay
from ndi.day.clock import SetClock
from ndi.gui.presenters.desk.desk import Desk
from ndi.gui.presenters.desk.papers import PaperTools
from ndi.services.workplace import Workplace
from ndi.store import secrets
from tests.gui.desk.seat import Seat
from tests.gui.screens import screen
from tests.gui.window import has_xvfb, instant
from tests.people import real_shop
from tests.people.real_shop import CHEAP, RealShop

OFFSET = -300
_numbers = count(1)


@pytest.fixture(scope="session", autouse=True)
def cheap_secrets() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(secrets, "PARAMETERS", CHEAP)
        yield


@pytest.fixture(scope="session")
def day_book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The whole demonstration day, played into a practice book; to be copied, never opened."""
    folder = bootstrap.data_folder("demo") / "2026-03-10"
    day = files.read_day(folder)
    prepared = replay.plan(day, files.read_before(before_folder(folder), day))
    place = tmp_path_factory.mktemp("day") / "demo.ndibook"
    work, _ = replay_into(place, prepared)
    bootstrap.close(work.book)
    return place


def open_at(book: Path, target: Path, clock: str) -> Workplace:
    """A copy of a book, opened at a time of the day."""
    target.mkdir(parents=True)
    shutil.copy(book, target / book.name)
    shutil.copytree(bootstrap.key_folder(book), bootstrap.key_folder(target / book.name))
    return bootstrap.open_book(target / book.name, clock=SetClock(instant(clock), OFFSET))


def paper_tools(folder: Path) -> PaperTools:
    return PaperTools(
        bootstrap.record_pdf,
        bootstrap.shift_pdf,
        bootstrap.tags_pdf,
        bootstrap.traveller_pdf,
        bootstrap.write_paper,
        bootstrap.system_printer,
        folder,
        bootstrap.paper_pdf,
        bootstrap.chart_png,
    )


@pytest.fixture(scope="module")
def reading(day_book: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    """A desk in the evening that tests only read from."""
    folder = tmp_path_factory.mktemp("reading")
    work = open_at(day_book, folder / "copy", "17:30")
    yield Desk(work, "SUP-F", papers=paper_tools(folder))
    bootstrap.close(work.book)


@pytest.fixture
def desk(day_book: Path, tmp_path: Path) -> Iterator[Desk]:
    """A desk in the evening on a book of its own."""
    work = open_at(day_book, tmp_path / "copy", "17:30")
    yield Desk(work, "SUP-F", papers=paper_tools(tmp_path))
    bootstrap.close(work.book)


@pytest.fixture(scope="session")
def real_morning(cheap_secrets: None, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("real")
    real_shop.begin(folder)
    return folder


@pytest.fixture
def real(real_morning: Path, tmp_path: Path) -> Iterator[RealShop]:
    """A real book, in which secrets are asked for."""
    opened = real_shop.open_copy(real_morning, tmp_path / "real")
    yield opened
    bootstrap.close(opened.work.book)


@pytest.fixture(scope="session")
def display_of() -> Iterator[Callable[[str, int], str]]:
    """Screens by size and dots to the inch; none is taken away before the end, because the toolkit stays connected to it."""
    if not has_xvfb():
        pytest.skip("no Xvfb: apt-get install xvfb")
    made: dict[tuple[str, int], str] = {}
    with ExitStack() as screens:

        def of(size: str, dpi: int) -> str:
            if (size, dpi) not in made:
                made[size, dpi] = screens.enter_context(screen(size, dpi))
            return made[size, dpi]

        yield of


@pytest.fixture
def display(display_of: Callable[[str, int], str], monkeypatch: pytest.MonkeyPatch) -> str:
    """DISPLAY names a screen of the usual size while the test runs."""
    name = display_of("1366x768", 96)
    monkeypatch.setenv("DISPLAY", name)
    return name


@pytest.fixture
def sit(display: str) -> Iterator[Callable[[Desk], Seat]]:
    """Opens the desk in a window: ``sit(desk)``."""
    opened: list[Seat] = []

    def at(desk: Desk) -> Seat:
        opened.append(Seat(desk))
        return opened[-1]

    yield at
    for seat in opened:
        seat.close()
