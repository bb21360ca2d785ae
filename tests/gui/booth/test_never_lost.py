"""A killed window comes back as it was; two windows on one book see each other, and one of two deciders is refused."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from time import monotonic, sleep

import pytest

from ndi import bootstrap
from ndi.domain import facts as f
from ndi.domain.scan_codes import ScanKind
from tests.gui.window import Window, copy_of

PART = "W26-0148/T6-10301/LOT-148-RKR"
SEEN_WITHIN_S = 2.0


class Child:
    """A window in a program of its own: a line in (``key 1``, ``scan lamp:LP-1``), the scene as a line out."""

    def __init__(self, book: Path, clock: str) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tests.gui.child", str(book), clock],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            cwd=Path(__file__).parents[3],
        )
        self.scene = self._answer()

    def _answer(self) -> str:
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        if not line:
            raise AssertionError("the window ended by itself")
        return line

    def do(self, line: str) -> str:
        self.tell(line)
        self.scene = self._answer()
        return self.scene

    def tell(self, line: str) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write(line + "\n")
        self.process.stdin.flush()

    def kill(self) -> None:
        os.kill(self.process.pid, signal.SIGKILL)
        self.process.wait(10)
        for pipe in (self.process.stdin, self.process.stdout):
            assert pipe is not None
            with suppress(BrokenPipeError):
                pipe.close()


BEGIN = (
    "scan person:L2-A",
    "scan lamp:LP-1",
    "scan meter:GM-1",
    "key *",
    f"scan part:{PART}",
    "key enter",
    "key enter",
)


def test_a_killed_window_comes_back_with_everything(
    display: str, book_at: Callable[[str], Path], tmp_path: Path
) -> None:
    """Killed with a shot half typed: the numbers, the person, the lamp and the screen are there again, and go on."""
    book = copy_of(book_at("10:57"), tmp_path)
    first = Child(book, "10:57")
    for line in (*BEGIN, "key enter", "key 1", "key 0", "key 1", "key 5", "key enter", "key 0", "key .", "key 7"):
        first.do(line)
    assert "typed='0.7'" in first.scene and "typed='1015'" in first.scene
    before = first.scene
    first.kill()
    again = Child(book, "10:59")
    assert "typed='0.7'" in again.scene and "typed='1015'" in again.scene
    assert "L2-A" in again.scene and "lamps LP-1" in again.scene and "meter GM-1" in again.scene
    assert before.split("parts=")[0] == again.scene.split("parts=")[0]
    again.do("key enter")
    for line in ("key 9", "key 9", "key 0", "key enter", "key 0", "key .", "key 7", "key enter", "key enter"):
        again.do(line)
    assert "saved, entry" in again.scene
    again.kill()
    work = bootstrap.open_book(book)
    try:
        with work.book.session(readonly=True) as session:
            shots = session.facts("MT-012", (f.ShotFired,))
        (shot,) = shots
        assert isinstance(shot.fact, f.ShotFired)
        assert [str(pulse.amps) for pulse in shot.fact.pulses] == ["1015 A", "990 A"]
    finally:
        bootstrap.close(work.book)


def test_adaptation_goes_on_while_no_window_is_there(
    display: str, book_at: Callable[[str], Path], tmp_path: Path
) -> None:
    """The curtain was closed before the kill; when the window is back, the eyes are adapted from the same instant on."""
    book = copy_of(book_at("10:57"), tmp_path)
    first = Child(book, "10:57")
    for line in BEGIN[:-1]:
        first.do(line)
    first.do("key enter")
    first.kill()
    again = Child(book, "10:57:40")
    again.do("key .")
    again.do("key 1")
    again.kill()
    work = bootstrap.open_book(book)
    try:
        with work.book.session(readonly=True) as session:
            closed = session.facts("MT booth", (f.BoothClosed,))
        assert str(closed[-1].when).startswith("2026-03-10 10:57")
    finally:
        bootstrap.close(work.book)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_killed_at_any_moment_nothing_that_was_shown_as_saved_is_lost(
    display: str, book_at: Callable[[str], Path], tmp_path: Path, seed: int
) -> None:
    """Killed at a random moment after a random key; what the screen said was saved is in the book, whole."""
    book = copy_of(book_at("10:57"), tmp_path)
    chance = random.Random(seed)
    lines = [*BEGIN, "key enter", *[f"key {key}" for key in ("1", "0", "0", "0", "enter", "0", ".", "7", "enter")]]
    child = Child(book, "10:57")
    saved: list[int] = []
    for line in lines[: chance.randrange(4, len(lines))]:
        scene = child.do(line)
        if "saved, entry " in scene:
            saved.append(int(scene.split("saved, entry ")[1].split("'")[0]))
    child.tell(lines[chance.randrange(len(lines))])
    sleep(chance.random() * 0.05)
    child.kill()
    again = Child(book, "11:05")
    assert "L2-A" in again.scene
    again.kill()
    work = bootstrap.open_book(book)
    try:
        assert bootstrap.verify(work.book).ok
        with work.book.session(readonly=True) as session:
            assert all(session.entry(position).by == "L2-A" for position in saved)
    finally:
        bootstrap.close(work.book)


def test_two_windows_on_one_book_see_each_other(
    window: Callable[..., Window], book_at: Callable[[str], Path], tmp_path: Path
) -> None:
    book = copy_of(book_at("10:57"), tmp_path)
    one, other = window("10:57", book=book), window("10:57", book=book, place="PT booth")
    assert not other.says("MT-012")
    one.scan(ScanKind.PERSON, "L2-A").scan(ScanKind.PART, PART).key("enter")
    end = monotonic() + SEEN_WITHIN_S
    other.key("0")
    while monotonic() < end and not other.says("MT-012"):
        other.app.root.update()
        sleep(0.02)
    assert other.says("MT-012  Rocker arms")


def test_of_two_who_decide_at_once_the_second_is_refused(
    window: Callable[..., Window], book_at: Callable[[str], Path], tmp_path: Path
) -> None:
    """Both see the record as it stands, both are about to sign; the second is told who changed it."""
    book = copy_of(book_at("10:57"), tmp_path)
    one, other = window("10:57", book=book, place="PT booth"), window("10:57", book=book, place="PT booth")
    one.scan(ScanKind.PERSON, "L2-B")
    other.scan(ScanKind.PERSON, "NL3-E")
    for each, key in ((one, "enter"), (other, "8")):  # ACCEPT; HOLD-ENG
        each.booth.go(each.booth.make_screen("decision", each.booth, inspection="PT-012"))
        each.key(key)
        assert each.scene.name == "signing", each.scene
    one.key("enter")
    assert not one.scene.refused and one.scene.name == "tag", one.scene
    other.key("enter")
    assert other.scene.refused and other.says("changed by L2-B", "look again"), other.scene
