"""Lists: only what is seen is asked for, however long the list; the focus is drawn; columns keep within their place."""

from __future__ import annotations

import gc
import tkinter as tk
from collections.abc import Callable, Iterator, Sequence

import pytest
from PIL import ImageChops

from ndi.gui.presenters.desk.listing import Column, Listing, Row
from ndi.gui.views.desk.virtual_list import VirtualList, shared_out
from tests.gui.screens import picture

MILLION = 1_000_000
COLUMNS = (Column("Number", 10, right=True), Column("What", 30, stretch=True))


class Long:
    """A million rows that remembers which were asked for."""

    def __init__(self) -> None:
        self.asked: list[tuple[int, int]] = []

    def count(self) -> int:
        return MILLION

    def rows(self, first: int, most: int) -> Sequence[Row]:
        self.asked.append((first, most))
        return [Row((str(n), f"row {n}"), str(n)) for n in range(first, min(first + most, MILLION))]


@pytest.fixture
def window(display: str) -> Iterator[tk.Tk]:
    root = tk.Tk()
    root.geometry("800x600+0+0")
    yield root
    root.destroy()
    gc.collect()


def shown(root: tk.Tk, source: Long, **more: object) -> VirtualList:
    made = VirtualList(root, **more)  # type: ignore[arg-type]
    made.pack(fill="both", expand=True)
    root.update()
    made.show_source(COLUMNS, source)
    root.focus_force()
    made.take_focus()
    root.update()
    return made


def press(root: tk.Tk, widget: VirtualList, key: str) -> None:
    widget.tree.event_generate(f"<{key}>")
    root.update()


def test_a_million_rows_hold_only_those_that_are_seen(window: tk.Tk) -> None:
    source = Long()
    widget = shown(window, source)
    for key in ("End", "Prior", "Prior", "Home", "Next", "Down", "Up"):
        press(window, widget, key)
        assert len(widget.tree.get_children()) == widget.visible
    assert max(most for _, most in source.asked) == widget.visible < 40
    assert sum(most for _, most in source.asked) < 1000


@pytest.mark.parametrize(
    ("keys", "row"),
    [(("Down",), 1), (("End",), MILLION - 1), (("End", "Down"), MILLION - 1), (("End", "Home"), 0), (("Up",), 0)],
)
def test_keys_move_the_bar(window: tk.Tk, keys: tuple[str, ...], row: int) -> None:
    widget = shown(window, Long())
    for key in keys:
        press(window, widget, key)
    assert widget.index == row
    assert widget.current is not None and widget.current.key == str(row)
    (selected,) = widget.tree.selection()
    assert str(widget.tree.item(selected, "values")[0]) == str(row)


def test_page_keys_wheel_and_scrollbar_move_what_is_seen(window: tk.Tk) -> None:
    widget = shown(window, Long())
    press(window, widget, "Next")
    assert widget.index == widget.visible
    widget.tree.event_generate("<Button-5>")
    window.update()
    first = int(widget.tree.item(widget.tree.get_children()[0], "values")[0])
    assert first > 0
    widget.bar.tk.call(widget.bar.cget("command"), "moveto", "0.5")
    window.update()
    middle = int(widget.tree.item(widget.tree.get_children()[0], "values")[0])
    assert abs(middle - MILLION // 2) <= widget.visible


def test_rows_of_a_slow_source_come_later_and_only_the_last_asked_are_shown(window: tk.Tk) -> None:
    waiting: list[tuple[Callable[[], object], Callable[[object], None]]] = []
    widget = shown(window, Long(), fetch=lambda job, then: waiting.append((job, then)))
    while waiting:
        job, then = waiting.pop(0)
        then(job())
    widget.move_to(500)
    widget.move_to(900_000)
    answers = [(then, job()) for job, then in waiting]
    for then, answer in reversed(answers):  # the older answer comes last
        then(answer)
    assert widget.current is not None and widget.current.key == "900000"


def test_scrolling_a_million_rows_asks_and_draws_as_much_as_a_hundred(window: tk.Tk) -> None:
    """Counted, not timed (the times are in the benchmark): the number of rows behind a list does not matter."""

    class Short(Long):
        def count(self) -> int:
            return 100

    def work(source: Long) -> tuple[int, int, int]:
        widget = shown(window, source)
        for _ in range(30):
            press(window, widget, "Next")
            press(window, widget, "Prior")
        drawn = len(widget.tree.get_children())
        widget.destroy()
        return len(source.asked), sum(most for _, most in source.asked), drawn

    assert work(Long()) == work(Short())


def test_the_focus_is_drawn(window: tk.Tk) -> None:
    widget = shown(window, Long())
    other = tk.Button(window, text="other")
    other.pack()
    other.focus_set()
    window.update()
    without = picture()
    widget.take_focus()
    window.update()
    changed = ImageChops.difference(without, picture()).getbbox()
    assert changed is not None
    assert changed[2] - changed[0] > 700  # the ring goes round the whole list


def test_return_opens_the_row_and_choosing_is_told_once(window: tk.Tk) -> None:
    opened: list[str] = []
    chosen: list[str] = []
    widget = VirtualList(
        window, on_select=lambda row: chosen.append(row.key), on_open=lambda row: opened.append(row.key)
    )
    widget.pack(fill="both", expand=True)
    widget.show(Listing(COLUMNS, tuple(Row((str(n), "x"), f"k{n}") for n in range(5))))
    window.update()
    window.focus_force()
    widget.take_focus()
    window.update()
    press(window, widget, "Down")
    window.geometry("700x500")  # drawn again
    window.update()
    press(window, widget, "Return")
    assert opened == ["k1"]
    assert chosen == ["k0", "k1"]


def test_the_bar_stays_on_its_row_when_the_list_is_shown_again(window: tk.Tk) -> None:
    widget = VirtualList(window)
    widget.pack(fill="both", expand=True)
    rows = tuple(Row((str(n), "x"), f"k{n}") for n in range(200))
    widget.show(Listing(COLUMNS, rows))
    window.update()
    widget.move_to(150)
    widget.show(Listing(COLUMNS, rows[10:]))
    assert widget.current is not None and widget.current.key == "k150"
    widget.show(Listing(COLUMNS, ()))
    assert widget.current is None


@pytest.mark.parametrize(
    ("needs", "weights", "room", "widths"),
    [
        ((10, 20, 30), (1, 1, 1), 100, [10, 20, 30]),  # there is room: everybody gets what is needed
        ((10, 200, 30), (1, 1, 1), 100, [10, 60, 30]),  # one is cut, nobody else
        ((200, 200), (1, 1), 100, [50, 50]),
        ((200, 200), (1, 3), 100, [25, 75]),
        ((), (), 100, []),
    ],
)
def test_widths_are_shared_out(needs: tuple[int, ...], weights: tuple[int, ...], room: int, widths: list[int]) -> None:
    assert shared_out(needs, weights, room) == widths
