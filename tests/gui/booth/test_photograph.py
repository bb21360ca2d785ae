"""Photographs in the booth: chosen, looked at in red while a key is held, attached; refused where they prove nothing.

Keys and scans alone.  The limits of light are those of ``test_light``.
"""

from __future__ import annotations

import hashlib
import io
import os
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from time import monotonic, sleep

import numpy as np
import pytest
from PIL import Image

from ndi import bootstrap
from ndi.cli.inbox import Inbox
from ndi.domain import facts as f
from ndi.domain.moment import Moment
from ndi.domain.scan_codes import ScanKind
from ndi.gui.presenters.booth.outside import Outside
from ndi.gui.presenters.scene import Rows, Shape
from ndi.services.photographs import Shown, attach_photograph
from tests.gui.booth.test_demo_walks import ROD, begin, shot
from tests.gui.booth.test_light import MOST_LUMINANCE, MOST_OTHER
from tests.gui.booth.test_never_lost import Child
from tests.gui.booth.test_sizes import faults
from tests.gui.screens import mean_luminance, most_green_or_blue, picture
from tests.gui.window import OFFSET, PATIENCE, Window, copy_of, instant
from tests.photo import picture_files

OTHER_ROD = "W26-0148/T6-10101/R-7745"
TAKEN = "2026:03:10 09:29:30"
IND = "MT-006/IND-1"


def put(folder: Path, name: str, content: bytes, clock: str = "09:29:40") -> bytes:
    """A file as a camera leaves it at this time of the day."""
    folder.mkdir(exist_ok=True)
    (folder / name).write_bytes(content)
    os.utime(folder / name, (instant(clock).timestamp(),) * 2)
    return content


def white(size: tuple[int, int] = (1600, 900)) -> bytes:
    """A bright white picture, the worst that can be held before the eyes."""
    out = io.BytesIO()
    exif = Image.Exif()
    exif.get_ifd(picture_files.EXIF_IFD)[picture_files.ORIGINAL_TIME] = TAKEN
    Image.new("RGB", size, "white").save(out, "JPEG", quality=95, exif=exif.tobytes())
    return out.getvalue()


def to_photograph(w: Window, part: str = ROD, minute: int = 26) -> Window:
    """L2-A views the rod, sees an indication on its beam and goes to its photographs; the first shot at this minute."""
    begin(w, "L2-A", part, "LP-1", "LP-2")
    w.key("enter")
    shot(w, f"09:{minute}", "1475", "0.7", "1525", "0.7")
    shot(w, f"09:{minute + 1}", "1485", "0.7", "1520", "0.7")
    shot(w, f"09:{minute + 2}", "1020", "0.7", "1040", "0.7", "5", "4.8")
    w.at(f"09:{minute + 3}").key("+")
    w.key("5", "6", "5", "6", "6", "enter").number("0.22").number("0.01").key("1", "1").number("0").key("enter")
    assert w.scene.name == "evidence", w.scene
    w.at(f"09:{minute + 4}").key("+")
    assert w.scene.name == "photograph", w.scene
    return w


@pytest.fixture
def camera(tmp_path: Path) -> Path:
    return tmp_path / "camera"


@pytest.fixture
def at_photographs(window: Callable[..., Window], camera: Path) -> Callable[[], Window]:
    """Opens the window and walks to the photographs of the indication."""
    return lambda: to_photograph(window("09:24", outside=Outside(photo_files=Inbox(camera).files)))


def attached(w: Window, inspection: str = "MT-006") -> list[f.PhotoAttached]:
    assert w.work is not None
    with w.work.book.session(readonly=True) as session:
        found = [r.fact for r in session.facts(inspection, (f.PhotoAttached,))]
    return [fact for fact in found if isinstance(fact, f.PhotoAttached) and fact.size is not None]


def rows_of(w: Window) -> Rows:
    rows = w.scene.parts[0]
    assert isinstance(rows, Rows), w.scene
    return rows


# --- the key that is held -----------------------------------------------------------------------------


def until(w: Window, done: Callable[[], bool]) -> None:
    end = monotonic() + PATIENCE
    while not done():
        w.app.root.update()
        if monotonic() > end:
            raise AssertionError("the window does not come to it")


def down(w: Window, *, comes: bool = True) -> None:
    """Key 5 goes down; waits until the picture is there."""
    w.app.root.focus_force()
    w.app.root.update()
    w.app.root.event_generate("<KeyPress-KP_5>")
    if comes:
        until(w, lambda: w.app.holding.is_shown)
    w.app.root.update()


def up(w: Window) -> None:
    """Key 5 comes up; waits until the picture is gone."""
    w.app.root.event_generate("<KeyRelease-KP_5>")
    until(w, lambda: not w.app.holding.is_shown)
    w.wait()


@contextmanager
def watched() -> Iterator[list[Image.Image]]:
    """Every picture of the screen that could be taken meanwhile, by a thread of its own."""
    pictures: list[Image.Image] = []
    done = threading.Event()

    def watch() -> None:
        while not done.is_set():
            pictures.append(picture())

    watcher = threading.Thread(target=watch)
    watcher.start()
    try:
        yield pictures
    finally:
        done.set()
        watcher.join()


def middle(image: Image.Image) -> np.ndarray:
    """Reds of the middle of the screen."""
    pixels = np.asarray(image)
    height, width = pixels.shape[:2]
    return pixels[height // 3 : height * 2 // 3, width // 3 : width * 2 // 3, 0]


def test_photograph_is_attached_to_its_indication(at_photographs: Callable[[], Window], camera: Path) -> None:
    """Chosen, looked at, what is in its frame said by number; its bytes are in the archive, its time is the camera's."""
    put(camera, "DSC_0001.JPG", picture_files.picture("old"), "09:10")
    content = put(camera, "DSC_0002.JPG", picture_files.picture("new", taken=TAKEN, size=(320, 200)))
    w = at_photographs()
    assert [row.text for row in rows_of(w).rows] == ["DSC_0002.JPG", "DSC_0001.JPG"]  # newest first
    w.shot("booth/photographs")
    w.key("1")
    assert w.says("2026-03-10 09:29:30 by the camera", "not looked at yet"), w.scene
    w.key("enter")
    assert w.scene.refused and w.says("the scale"), w.scene  # nothing is said by default
    w.key("1", "enter")
    assert w.scene.refused and w.says("the tag"), w.scene
    w.key("3")
    w.shot("booth/photograph")
    assert attached(w) == []
    w.key("enter")
    assert not w.scene.refused and w.says("DSC_0002.JPG attached to", IND), w.scene
    assert w.scene.name == "evidence" and w.says("1 photograph(s)")
    (fact,) = attached(w)
    assert (fact.indication, fact.scale_in_frame, fact.tag_in_frame) == (IND, True, "read")
    assert fact.taken_at.at == fact.camera_time.at == instant("09:29:30")  # type: ignore[union-attr]
    assert w.work is not None and w.work.photographs is not None
    assert w.work.photographs.original(hashlib.sha256(content).hexdigest()) == content
    w.key("+")
    assert rows_of(w).rows[0].shape is Shape.DONE  # which one is attached is seen in the list
    w.key("1", "1", "3", "enter")
    assert w.scene.refused and w.says("attached already"), w.scene


def test_time_of_the_file_counts_where_the_camera_wrote_none(
    at_photographs: Callable[[], Window], camera: Path
) -> None:
    put(camera, "a.png", picture_files.picture("a", "PNG"), "09:29:40")
    w = at_photographs()
    w.key("1")
    assert w.says("2026-03-10 09:29:40 by the file: the camera wrote no time"), w.scene
    w.key("2", "6", "enter")
    (fact,) = attached(w)
    assert (fact.taken_at.at, fact.camera_time) == (instant("09:29:40"), None)
    assert (fact.scale_in_frame, fact.tag_in_frame) == (False, "seen by person")


def test_photograph_of_another_part_or_time_is_refused(at_photographs: Callable[[], Window], camera: Path) -> None:
    """One that is on another record already, one of yesterday, one cut off: each says why, and nothing is attached."""
    used = put(camera, "used.jpg", picture_files.picture("used"), "09:29:50")
    put(camera, "yesterday.jpg", picture_files.picture("y", taken="2026:03:09 09:29:30"), "09:29:40")
    put(camera, "cut.jpg", picture_files.picture("cut", taken=TAKEN, size=(640, 400))[:-60], "09:29:30")
    w = at_photographs()
    work = w.work
    assert work is not None
    with work.book.session(readonly=True) as session:
        viewed = session.facts("MT-005", (f.ViewStarted,))[0]
    attach_photograph(work, "MT-005", used, "used.jpg", "L2-A", shown=Shown(taken_at=viewed.when))
    w.key("1", "1", "3", "enter")
    assert w.scene.refused and w.says("already on MT-005", "attach the photograph of this part"), w.scene
    w.shot("booth/photograph, refused")
    w.key("-", "2", "1", "3", "enter")
    assert w.scene.refused and w.says("taken 2026-03-09 09:29:30", "not during the inspection"), w.scene
    w.key("-", "3")
    assert w.scene.refused and w.says("cut.jpg", "copy it from the camera again"), w.scene
    assert rows_of(w)
    assert attached(w) == []


def test_another_picture_under_the_same_name_is_not_attached(
    at_photographs: Callable[[], Window], camera: Path
) -> None:
    put(camera, "a.jpg", picture_files.picture("a", taken=TAKEN))
    w = at_photographs()
    w.key("1", "1", "3")
    put(camera, "a.jpg", picture_files.picture("b", taken=TAKEN))
    w.key("enter")
    assert w.scene.refused and w.says("another picture now"), w.scene
    (camera / "a.jpg").unlink()
    w.key("enter")
    assert w.scene.refused and w.says("cannot be read"), w.scene
    assert attached(w) == []


def test_more_than_nine_photographs_are_paged(at_photographs: Callable[[], Window], camera: Path) -> None:
    for n in range(11):
        put(camera, f"p{n:02}.jpg", picture_files.picture(str(n), taken=TAKEN), f"09:{10 + n}")
    w = at_photographs()
    assert [row.text for row in rows_of(w).rows] == [f"p{n:02}.jpg" for n in range(10, 1, -1)]
    w.key("0")
    assert [row.text for row in rows_of(w).rows] == ["p01.jpg", "p00.jpg"]
    w.key("3")  # nothing stands there
    assert w.scene.name == "photograph" and rows_of(w).rows[0].text == "p01.jpg"
    w.key("0")
    assert rows_of(w).rows[0].text == "p10.jpg"


# --- light --------------------------------------------------------------------------------------------


def test_a_held_white_picture_stays_dark(at_photographs: Callable[[], Window], camera: Path) -> None:
    """Before, while and after: no green, no blue, never brighter than the limit; gone when the key comes up."""
    put(camera, "white.jpg", white())
    w = at_photographs()
    with watched() as pictures:
        before = picture()
        w.key("1")
        down(w)
        held = w.shot("booth/photograph, white held")
        sleep(0.1)
        shown = w.app.holding.is_shown
        up(w)
        after = picture()
    assert shown and len(pictures) > 5
    for image in (before, held, after, *pictures):
        assert most_green_or_blue(image) <= MOST_OTHER
        assert mean_luminance(image) <= MOST_LUMINANCE
    assert middle(held).min() > 40  # it is seen: red all over
    assert np.median(middle(after)) == 0
    assert mean_luminance(held) > MOST_LUMINANCE / 2  # and no darker than it has to be


def test_every_photograph_screen_is_dark_and_nothing_is_cut_off(
    at_photographs: Callable[[], Window], camera: Path
) -> None:
    """A full page of files with long names, the questions, a refusal, the list of others."""
    for n in range(12):
        name = f"{n:02}-{'a very long name of a photograph ' * 4}.jpg" if n % 2 else f"p{n:02}.jpg"
        put(camera, name, picture_files.picture(str(n), taken=TAKEN if n % 3 else None), f"09:{10 + n}")
    w = at_photographs()

    def look(name: str) -> None:
        image = w.shot(f"booth/photograph, {name}")
        assert most_green_or_blue(image) <= MOST_OTHER and mean_luminance(image) <= MOST_LUMINANCE, name
        assert faults(w) == [], name

    look("files")
    w.key("0")
    look("second page")
    w.key("0", "3")
    look("chosen, by the file's time")
    w.key("-", "1")
    look("chosen, long name")
    w.key("1", "3", "6")
    look("answered")
    w.key("2", "enter")
    assert not w.scene.refused, w.scene
    w.key("+", "1", "1", "3", "enter")
    assert w.scene.refused
    look("refused, long name")
    w.key("*")
    look("no others")


def test_a_dark_picture_is_not_dimmed(at_photographs: Callable[[], Window], camera: Path) -> None:
    """One bright line on black, as a fluorescent indication is: shown at full red, with nothing green."""
    image = Image.new("RGB", (1200, 800))
    for x in range(300, 900):
        for y in range(398, 402):
            image.putpixel((x, y), (210, 255, 0))
    image.save(camera_file := (camera.mkdir() or camera) / "uv.png")
    os.utime(camera_file, (instant("09:29:40").timestamp(),) * 2)
    w = at_photographs()
    w.key("1")
    down(w)
    held = w.shot("booth/photograph, line held")
    up(w)
    assert most_green_or_blue(held) <= MOST_OTHER and mean_luminance(held) <= MOST_LUMINANCE
    assert middle(held).max() > 200


def test_how_long_it_was_held_is_counted(at_photographs: Callable[[], Window], camera: Path) -> None:
    """Seconds of all looks together; what the system repeats while the key is down is one look."""
    put(camera, "a.jpg", picture_files.picture("a", taken=TAKEN, size=(640, 400)))
    w = at_photographs()
    w.key("1")
    down(w)
    begun = monotonic()
    for _ in range(12):  # a held key, as X sends it
        w.app.root.event_generate("<KeyRelease-KP_5>")
        w.app.root.event_generate("<KeyPress-KP_5>")
        w.app.root.update()
        assert w.app.holding.is_shown
        sleep(0.03)
    sleep(0.1)
    w.app.root.update()
    assert w.app.holding.is_shown
    up(w)
    took = monotonic() - begun
    screen = w.booth.screen
    (first,) = screen.looked_s.values()  # type: ignore[attr-defined]
    assert 0.4 < first <= took
    assert w.says(f"looked at for {first:.1f} s"), w.scene
    down(w)
    up(w)
    (both,) = screen.looked_s.values()  # type: ignore[attr-defined]
    assert both > first and len(attached(w)) == 0


def test_a_picture_goes_with_its_screen_and_with_the_keyboard(
    at_photographs: Callable[[], Window], camera: Path
) -> None:
    """Another key leads elsewhere, the keyboard is taken away, the window gets another size: nothing stays lit."""
    put(camera, "white.jpg", white())
    w = at_photographs()
    w.key("1")
    down(w)
    w.key("-")
    assert not w.app.holding.is_shown and np.median(middle(picture())) == 0
    up(w)
    w.key("1")
    down(w)
    w.app.root.event_generate("<FocusOut>")
    until(w, lambda: not w.app.holding.is_shown)
    up(w)
    down(w)
    w.app.root.geometry("1000x600")
    until(w, lambda: not w.app.holding.is_shown)
    up(w)
    assert mean_luminance(picture()) <= MOST_LUMINANCE
    w.app.toggle()
    w.app.toggle()
    w.wait()
    assert not w.app.holding.is_shown and w.scene.name == "photograph"


def test_a_key_let_go_before_the_picture_came_shows_nothing(at_photographs: Callable[[], Window], camera: Path) -> None:
    put(camera, "white.jpg", white((6000, 4000)))
    w = at_photographs()
    w.key("1")
    release = threading.Event()
    w.app.worker.ask(lambda: release.wait(PATIENCE))  # something takes long
    down(w, comes=False)
    w.app.root.event_generate("<KeyRelease-KP_5>")
    end = monotonic() + 0.2
    while monotonic() < end:  # the window lives on meanwhile
        w.app.root.update()
    release.set()
    w.wait()
    assert not w.app.holding.is_shown and w.says("not looked at yet"), w.scene


def test_what_cannot_be_shown_is_said(at_photographs: Callable[[], Window], camera: Path) -> None:
    put(camera, "a.jpg", picture_files.picture("a", taken=TAKEN))
    w = at_photographs()
    w.key("1")
    (camera / "a.jpg").write_bytes(b"no picture")
    down(w, comes=False)
    w.wait()
    assert w.scene.refused and w.says("cannot be shown"), w.scene
    up(w)


# --- what others saw ----------------------------------------------------------------------------------


def test_the_zone_of_another_part_is_looked_at_before_the_decision(
    at_photographs: Callable[[], Window], camera: Path
) -> None:
    """Rod 4's photograph is offered at rod 5: the same zone of the same part number; shown in red from the archive."""
    put(camera, "one.jpg", picture_files.picture("one", taken=TAKEN, size=(640, 400)))
    w = at_photographs()
    w.key("*")
    assert w.says("No other part of this number"), w.scene
    w.key("-", "1", "1", "3", "enter")
    assert not w.scene.refused, w.scene
    w.scan(ScanKind.LAMP, "LP-1").scan(ScanKind.LAMP, "LP-2").scan(ScanKind.COMMAND, "CANCEL")  # lamps put away
    to_photograph(w.at("09:40"), OTHER_ROD, 42)
    w.key("*")
    assert [row.text for row in rows_of(w).rows] == [f"{IND}: not interpreted"], w.scene
    assert rows_of(w).rows[0].detail == "no decision"
    with watched() as pictures:
        w.key("1")
        down(w)
        held = w.shot("booth/photograph of another part held")
        up(w)
    assert w.says("looked at for", IND, "MT-006, 2026-03-10 09:29"), w.scene
    assert middle(held).max() > 20
    for image in (held, *pictures):
        assert most_green_or_blue(image) <= MOST_OTHER and mean_luminance(image) <= MOST_LUMINANCE
    w.key("-", "-")
    assert rows_of(w).heading.startswith("From the camera"), w.scene
    w.key(".")
    assert w.scene.name == "evidence", w.scene
    w.key("*")  # one key from where the indication is called
    assert rows_of(w).heading.startswith("Same zone"), w.scene


# --- over a power cut ---------------------------------------------------------------------------------


class CameraChild(Child):
    """A killable window with a camera's folder."""

    def __init__(self, book: Path, clock: str, camera: Path) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tests.gui.booth.photo_child", str(book), clock, str(camera)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            cwd=Path(__file__).parents[3],
        )
        self.scene = self._answer()


def test_a_killed_window_comes_back_with_the_photograph_in_hand(
    window: Callable[..., Window], book_at: Callable[[str], Path], tmp_path: Path, camera: Path
) -> None:
    """Killed with one question answered: file, its time, the answer and the seconds looked at are there; the other is asked."""
    content = put(camera, "a.jpg", picture_files.picture("a", taken=TAKEN))
    book = copy_of(book_at("09:24"), tmp_path)
    w = to_photograph(window("09:24", book=book, outside=Outside(photo_files=Inbox(camera).files)))
    w.key("1")
    down(w)
    sleep(0.15)
    up(w)
    w.close()
    first = CameraChild(book, "09:31", camera)
    assert "photograph" in first.scene and "09:29:30 by the camera" in first.scene
    first.do("key 1")
    before = first.scene
    first.kill()
    again = CameraChild(book, "09:32", camera)
    assert again.scene.split("message=")[0] == before.split("message=")[0]
    assert (
        "looked at for" in again.scene
        and "Row(text='yes', detail='', shape=None, key='1', selected=True)" in again.scene
    )
    again.do("key enter")
    assert "refused=True" in again.scene and "the tag" in again.scene
    again.do("key 3")
    again.do("key enter")
    assert "attached to MT-006/IND-1" in again.scene
    again.kill()
    work = bootstrap.open_book(book)
    try:
        with work.book.session(readonly=True) as session:
            (photo,) = session.facts(hashlib.sha256(content).hexdigest(), (f.PhotoAttached,))
        assert isinstance(photo.fact, f.PhotoAttached) and photo.fact.taken_at == Moment(instant("09:29:30"), OFFSET)
    finally:
        bootstrap.close(work.book)


def test_photographs_without_badge_are_refused(at_photographs: Callable[[], Window], camera: Path) -> None:
    put(camera, "a.jpg", picture_files.picture("a", taken=TAKEN))
    w = at_photographs()
    w.booth.hand.person = None
    w.key("1", "1", "3", "enter")
    assert w.scene.refused and w.says("scan your badge"), w.scene
    w.scan(ScanKind.PERSON, "L2-A").key("enter")
    assert len(attached(w)) == 1
