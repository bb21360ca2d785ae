"""Any key on any screen: a message at worst; and whatever was in hand comes back after a restart, on every screen."""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from ndi import bootstrap
from ndi.day.clock import SetClock
from ndi.gui.presenters.booth.booth import Booth
from ndi.gui.presenters.memory import NoMemory
from ndi.gui.presenters.scene import Scene
from ndi.services.workplace import Workplace
from tests.gui.window import OFFSET, copy_of, instant

KEYS = ("0", "1", "2", "3", "4", "5", "6", "7", "8", "9", ".", "+", "-", "*", "/", "enter", "enter", "enter")
SCANS = (
    "person:L2-A",
    "person:L2-B",
    "person:NL3-E",
    "lamp:LP-1",
    "lamp:LP-3",
    "meter:GM-1",
    "meter:RM-1",
    "part:W26-0148/T6-10301/LOT-148-RKR",
    "part:W26-0148/T6-11001/CC-L-0871",
    "part:no such part",
    "basket:B3",
    "basket:B9",
    "command:CANCEL",
    "command:START WASH",
    "command:CHECK IN",
    "command:AS FOUND",
    "place:MT booth",
    "place:PT booth",
    "nonsense",
    "person:nobody",
    "RA-07",
)
STEPS = 150


@pytest.fixture
def place(book_at: Callable[[str], Path], tmp_path: Path) -> Path:
    return copy_of(book_at("10:57"), tmp_path)


@pytest.fixture
def work(place: Path) -> Iterator[Workplace]:
    opened = bootstrap.open_book(place, clock=SetClock(instant("10:57"), OFFSET))
    yield opened
    bootstrap.close(opened.book)


def without_message(scene: Scene) -> str:
    """All of a scene but what was just said."""
    return repr((scene.name, scene.title, scene.parts, scene.keys, scene.strip))


@pytest.mark.parametrize("seed", range(4))
def test_any_key_on_any_screen_gives_a_message_at_worst(work: Workplace, seed: int) -> None:
    """A walk of keys and scans without aim; every few steps the program is begun again from what it kept."""
    chance = random.Random(seed)
    memory = NoMemory()
    booth = Booth(work, memory)
    booth.scan("person:L2-A")
    booth.scan("lamp:LP-1")
    clock = work.clock
    assert isinstance(clock, SetClock)
    seen: dict[str, int] = {}
    for step in range(STEPS):
        if chance.random() < 0.2:
            booth.scan(chance.choice(SCANS))
        else:
            booth.press(chance.choice(KEYS))
        scene = booth.scene()
        seen[scene.name] = seen.get(scene.name, 0) + 1
        assert scene.title and scene.parts is not None
        if scene.refused:
            assert scene.message
        clock.set(clock.now() + chance.choice((1, 5, 20)) * (instant("10:58") - instant("10:57")) / 60, OFFSET)
        if step % 7 == 0 and scene.name not in ("signing", "red line"):
            json.dumps(memory.kept)
            again = Booth(work, memory)
            booth.reload()
            assert without_message(again.scene()) == without_message(booth.scene()), (seed, step, scene.name)
            booth = again
    assert len(seen) >= 5, seen
