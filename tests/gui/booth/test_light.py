"""What the dark screen adds: its colours on every screen, the share that is lit, and the number it shows for it.

The limits are of the dark booth: 2 fc of ambient light (ASTM E1444 and E1417, from memory), of which a screen may take
a tenth; a screen of 300 cd/m2 (common practice, no source) stays within 5 cd/m2 at a mean relative luminance of 5/300.
Relative luminance and contrast are those of WCAG 2.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest
from PIL import Image

from ndi.domain.scan_codes import ScanKind
from ndi.gui.views.booth import palette
from tests.gui.screens import keep, mean_luminance, most_green_or_blue, picture
from tests.gui.window import Window

MOST_OTHER = 20
MOST_LUMINANCE = 5 / 300
PART = "W26-0148/T6-10301/LOT-148-RKR"


def walk(w: Window) -> list[tuple[str, Image.Image]]:
    """Every screen that can be reached from the board, with a picture of each."""
    seen: list[tuple[str, Image.Image]] = []

    def look(name: str) -> None:
        seen.append((name, picture()))
        keep(seen[-1][1], f"booth/{w.app.root.winfo_width()}-{name}")

    look("board")
    w.scan(ScanKind.PERSON, "L2-A").scan(ScanKind.LAMP, "LP-1")
    w.key("/")
    look("call")
    w.key(".").scan(ScanKind.COMMAND, "CHECK IN")
    look("check in")
    w.key(".", "+")
    look("readings")
    w.key("1")
    look("reading, which lamp")
    w.scan(ScanKind.LAMP, "LP-2").number("1850").number("15")
    look("reading, circumstances")
    w.key("-", "-", "-", "-", ".").scan(ScanKind.PART, PART)
    look("open a record")
    w.key("*", "enter")
    look("record, ticks")
    w.key("1")
    look("record, a tick says no")
    w.key("1", "enter", "enter")
    look("record, shot")
    w.number("1015").number("0.7").number("990").number("0.7")
    look("record, shot typed")
    w.key("enter", "*")
    look("viewing, interrupted")
    w.later(minutes=2).key("enter", "0", "0")
    look("viewing")
    w.key("0", "0", "0")
    look("viewing, pieces")
    w.key(".").booth.go(w.booth.make_screen("decision", w.booth, inspection="MT-012"))
    w.key("0")
    look("decision")
    w.key("1")
    look("red line")
    w.scan(ScanKind.COMMAND, "CANCEL").key("7")
    look("line")
    w.key("1")
    look("line, basket")
    w.scan(ScanKind.COMMAND, "CANCEL").scan(ScanKind.BASKET, "B9")
    look("line, loading")
    w.scan(ScanKind.COMMAND, "CANCEL").key("9")
    look("lunch")
    w.scan(ScanKind.COMMAND, "CANCEL").key("8")
    look("second looks")
    w.scan(ScanKind.COMMAND, "CANCEL").scan(ScanKind.PART, PART).key("+")
    look("indication, marker")
    w.key("enter").type("RA-07")
    w.number("0.12")
    look("indication, size")
    w.number("0.01")
    look("indication, form")
    w.key("1", "3").number("0")
    look("indication, ready")
    w.key("enter")
    look("evidence")
    w.key("6")
    look("evidence, type")
    w.key("1")
    look("evidence, basis")
    w.key("1")
    look("evidence, evaluation")
    w.scan(ScanKind.COMMAND, "CANCEL").booth.go(w.booth.make_screen("tag", w.booth, inspection="MT-010"))
    w.key("0")
    look("tag")
    w.key("enter")
    look("tag, printed")
    return seen


def test_no_pixel_of_any_screen_is_green_or_blue_or_too_bright(window: Callable[..., Window]) -> None:
    w = window("10:57")
    for name, image in walk(w):
        assert most_green_or_blue(image) <= MOST_OTHER, name
        assert mean_luminance(image) <= MOST_LUMINANCE, name


def test_the_light_shown_is_never_less_than_what_is_measured(window: Callable[..., Window]) -> None:
    """The number on the status line errs upwards, and by no more than a factor of two."""
    w = window("10:57")
    w.scan(ScanKind.PERSON, "L2-A").scan(ScanKind.PART, PART).key("enter")
    for keys in (("enter",), ("enter",), (".",)):
        measured = mean_luminance(picture())
        shown = w.app.canvas.mean_luminance()
        assert measured <= shown <= 2 * measured + 0.001, (w.scene.name, measured, shown)
        w.key(*keys)


@pytest.mark.parametrize("colour", [palette.TEXT, palette.BRIGHT])
def test_text_is_readable(colour: str) -> None:
    """Contrast of text on black, and of black on the selected bar, at least 4.5:1 (WCAG 2.1, success criterion 1.4.3)."""
    lighter = palette.relative_luminance(palette.red_of(colour))
    assert (lighter + 0.05) / 0.05 >= 4.5


def test_opening_and_closing_never_flash(window: Callable[..., Window]) -> None:
    """Pictures taken from the first instant of a window to its last."""
    import threading

    pictures: list[Image.Image] = []
    done = threading.Event()

    def watch() -> None:
        while not done.is_set():
            pictures.append(picture())

    watcher = threading.Thread(target=watch)
    watcher.start()
    try:
        w = window("10:57")
        w.scan(ScanKind.PERSON, "L2-A").key("+", "1", ".", ".")
        w.app.root.geometry("1000x600")
        w.wait()
        w.close()
    finally:
        done.set()
        watcher.join()
    assert len(pictures) > 5
    assert max(most_green_or_blue(image) for image in pictures) <= MOST_OTHER
    assert max(mean_luminance(image) for image in pictures) <= MOST_LUMINANCE


def test_timers_are_25_mm_high(window: Callable[..., Window]) -> None:
    """The height of the strokes of a timer's digits at the scaling of the screen (reading distance 1.5 m, common practice, no source)."""
    w = window("10:57")
    canvas = w.app.canvas
    w.scan(ScanKind.PERSON, "L2-A").key("*").scan(ScanKind.PART, PART).key("enter", "enter", "enter")
    if w.scene.name != "viewing":
        w.booth.go(w.booth.make_screen("viewing", w.booth, inspection="MT-012"))
        w.key("*", ".")
        w.booth.go(w.booth.make_screen("viewing", w.booth, inspection="MT-012"))
        w.booth.tick()
    heights = []
    for item in canvas.find_withtag("live0"):
        points = canvas.coords(item)
        heights.append(max(points[1::2]) - min(points[1::2]))
    millimetre = canvas.winfo_fpixels("1m")
    assert canvas.brush.digit >= 25 * millimetre
    if heights:
        assert max(heights) >= 25 * millimetre * 0.99
