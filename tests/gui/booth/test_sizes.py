"""Every booth screen at three sizes of screen: nothing is cut off, nothing is written over something else."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import combinations
from pathlib import Path

import pytest

from tests.gui.booth.test_light import walk
from tests.gui.window import Window, copy_of

SIZES = [("1366x768", 96), ("1920x1080", 96), ("2732x1536", 192)]  # the last: the first at double scaling
Box = tuple[int, int, int, int]


@pytest.fixture(params=SIZES, ids=lambda each: f"{each[0]}@{each[1]}")
def wide(
    request: pytest.FixtureRequest,
    display_of: Callable[[str, int], None],
    book_at: Callable[[str], Path],
    tmp_path: Path,
) -> Iterator[Window]:
    display_of(*request.param)
    window = Window(copy_of(book_at("10:57"), tmp_path), "10:57", size=request.param[0])
    yield window
    window.close()


def texts(window: Window) -> list[tuple[str, Box]]:
    """Every text on the canvas with its box."""
    canvas = window.app.canvas
    found = []
    for item in canvas.find_all():
        if canvas.type(item) == "text" and canvas.itemcget(item, "text").strip():
            found.append((canvas.itemcget(item, "text"), canvas.bbox(item)))
    return found


def overlap(one: Box, other: Box) -> tuple[int, int]:
    """How many pixels two boxes share, across and down."""
    return min(one[2], other[2]) - max(one[0], other[0]), min(one[3], other[3]) - max(one[1], other[1])


def faults(window: Window) -> list[str]:
    """What is cut off or written over something else on the screen as it is."""
    canvas = window.app.canvas
    width, height, size = canvas.winfo_width(), canvas.winfo_height(), canvas.brush.size
    found = [
        f"cut off: {text!r} {box}"
        for text, box in texts(window)
        if box[0] < 0 or box[1] < -size // 4 or box[2] > width or box[3] > height + size // 4
    ]
    for (one, box), (other, its) in combinations(texts(window), 2):
        across, down = overlap(box, its)
        if across > 2 and down > size * 0.45:  # boxes of letters reach above and below the letters
            found.append(f"one over the other: {one!r} and {other!r}")
    return found


def test_nothing_is_cut_off_or_written_over(wide: Window) -> None:
    seen: dict[str, list[str]] = {}

    original = wide.app.canvas.show

    def show(scene: object) -> None:
        original(scene)  # type: ignore[arg-type]
        wide.app.root.update_idletasks()
        found = faults(wide)
        if found:
            seen[wide.scene.title] = found

    wide.app.canvas.show = show  # type: ignore[method-assign]
    walk(wide)
    assert seen == {}
