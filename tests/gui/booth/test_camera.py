"""A live camera in the booth, the newest picture by one key, the right pedal, and the camera's clock compared by keys."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from ndi.cli.inbox import Inbox, Live
from ndi.day.clock import SetClock
from ndi.domain import facts as f
from ndi.gui.presenters.booth.outside import Outside
from ndi.gui.presenters.scene import Picture
from ndi.services import annotating
from tests.gui.booth.test_light import MOST_LUMINANCE, MOST_OTHER
from tests.gui.booth.test_photograph import attached, down, put, rows_of, to_photograph, until, up
from tests.gui.booth.test_sizes import faults
from tests.gui.screens import mean_luminance, most_green_or_blue
from tests.gui.window import OFFSET, Window, instant
from tests.photo import picture_files
from tests.photo.test_live_camera import film

TAKEN = "2026:03:10 09:29:30"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "camera"


@pytest.fixture
def live(tmp_path: Path, folder: Path) -> Iterator[Live]:
    """A film of a minute, played as a camera would, at the time of the walk."""
    clock = SetClock(instant("09:30"), OFFSET)
    made = Live(str(film(tmp_path / "film.avi", frames=1200, rate=20)), "MT booth", folder, clock)  # type: ignore[arg-type]
    yield made
    made.close()


def test_frame_of_the_live_camera_is_looked_at_taken_and_attached(
    window: Callable[..., Window], folder: Path, live: Live
) -> None:
    w = to_photograph(window("09:24", outside=Outside(photo_files=Inbox(folder).files, live=live)))
    assert isinstance(w.scene.parts[0], Picture) and w.says("live camera"), w.scene
    down(w)
    held = w.shot("booth/live camera, held")
    assert most_green_or_blue(held) <= MOST_OTHER and mean_luminance(held) <= MOST_LUMINANCE
    up(w)
    assert list(folder.glob("*")) == []  # a look keeps nothing
    w.key("enter")
    (path,) = folder.iterdir()
    assert path.name == "frame-20260310-093000-000.png" and w.says("2026-03-10 09:30:00 by the camera"), w.scene
    assert not faults(w)
    w.shot("booth/frame taken")
    w.key("1", "3", "enter")
    (fact,) = attached(w)
    assert (fact.camera, fact.media_type, fact.taken_at.at) == ("MT booth", "image/png", instant("09:30"))
    assert w.work is not None and w.work.photographs is not None
    kept = w.work.photographs.original(fact.sha256)
    assert kept == path.read_bytes() and np.asarray(Image.open(io.BytesIO(kept))).shape == (48, 64, 3)


def test_camera_that_is_not_there_is_said_and_the_window_goes_on(
    window: Callable[..., Window], folder: Path, tmp_path: Path
) -> None:
    put(folder, "a.jpg", picture_files.picture("a", taken=TAKEN))
    gone = Live(str(tmp_path / "none.avi"), "MT booth", folder, SetClock(instant("09:30"), OFFSET))  # type: ignore[arg-type]
    w = to_photograph(window("09:24", outside=Outside(photo_files=Inbox(folder).files, live=gone)))
    w.key("enter")
    assert w.scene.refused and w.says("cannot be opened"), w.scene
    w.key("1")
    assert w.says("2026-03-10 09:29:30 by the camera"), w.scene
    gone.close()


@pytest.mark.parametrize("key", ["enter", "F14"])
def test_one_key_takes_the_newest(window: Callable[..., Window], folder: Path, key: str) -> None:
    w = to_photograph(window("09:24", outside=Outside(photo_files=Inbox(folder).files)))
    press(w, key)
    assert w.scene.refused and w.says("left no picture yet"), w.scene
    put(folder, "old.jpg", picture_files.picture("old", taken=TAKEN), "09:20")
    put(folder, "new.jpg", picture_files.picture("new", taken=TAKEN), "09:29:40")
    press(w, key)
    assert w.says("new.jpg, not looked at yet"), w.scene


def press(w: Window, key: str) -> None:
    if key == "enter":
        w.key(key)
        return
    w.app.keypad.key(key, "")  # a virtual screen's keyboard has no pedal
    w.wait()


def test_clock_of_the_camera_is_compared_by_keys_and_corrects_its_photographs(
    window: Callable[..., Window], folder: Path
) -> None:
    """Summer time: the camera is an hour ahead."""
    ahead = {"taken": "2026:03:10 10:30:03", "camera": ("Maker", "M3")}
    put(folder, "clock.jpg", picture_files.picture("clock", size=(320, 200), **ahead))  # type: ignore[arg-type]
    w = to_photograph(window("09:24", outside=Outside(photo_files=Inbox(folder).files)))
    w.key("1", "7")
    assert w.scene.name == "camera clock" and w.says("Clock of Maker M3", "2026-03-10 10:30:03"), w.scene
    assert not faults(w)
    down(w)  # looked at before the digits
    up(w)
    w.key("enter", "0", "9", "3", "0", "enter")
    assert w.scene.refused and w.says("six digits"), w.scene
    w.key("-", "-", "-", "-")
    w.at("09:30:10").key("0", "9", "3", "0", "0", "5")  # 5 is a digit now
    w.shot("booth/camera clock")
    w.key("enter")
    assert w.says("clock of Maker M3: 0:59:58 ahead"), w.scene
    assert w.work is not None
    with w.work.book.session(readonly=True) as session:
        (check,) = session.facts("Maker M3", (f.ProcessCheckRecorded,))
    assert isinstance(check.fact, f.ProcessCheckRecorded) and str(check.fact.ahead) == "3598 s"
    w.key("-")
    put(
        folder,
        "crack.jpg",
        picture_files.picture("crack", taken="2026:03:10 10:30:08", camera=("Maker", "M3")),
        "09:29:50",
    )
    w.key("enter")
    assert w.says("2026-03-10 09:30:10 by the camera, its clock 0:59:58 ahead"), w.scene
    w.key("1", "3", "enter")
    (fact,) = attached(w)
    assert (fact.camera_ahead_s, fact.taken_at.at) == (3598, instant("09:30:10"))


def test_reason_for_a_look_alike_is_chosen_by_a_key(window: Callable[..., Window], folder: Path) -> None:
    put(folder, "a.jpg", picture_files.picture("a", taken=TAKEN, size=(320, 200)))
    w = to_photograph(window("09:24", outside=Outside(photo_files=Inbox(folder).files)))
    w.key("1", "1", "3", "8", "8")
    w.key("enter")
    (fact,) = attached(w)
    assert fact.reuse_reason == "one frame shows both parts"


def test_attached_photograph_is_seen_with_what_is_drawn_beside_it(window: Callable[..., Window], folder: Path) -> None:
    """The light of the drawing counts with the rest of the picture; the file of the camera stays as it was."""
    content = put(folder, "a.jpg", picture_files.picture("a", taken=TAKEN, size=(320, 200)))
    w = to_photograph(window("09:24", outside=Outside(photo_files=Inbox(folder).files)))
    w.key("1", "1", "3", "enter", "+", "1")
    down(w)
    plain = w.shot("booth/attached photograph, held")
    up(w)
    (fact,) = attached(w)
    points = (annotating.point("10,10"), annotating.point("90,90"))
    drawn = f.PhotographAnnotated("MT-006", fact.sha256, "", "arrow", points, "crack tip")
    assert w.work is not None
    annotating.annotate(w.work, drawn, "L2-A")
    down(w)
    held = w.shot("booth/annotated photograph, held")
    up(w)
    assert not np.array_equal(np.asarray(plain), np.asarray(held))
    assert most_green_or_blue(held) <= MOST_OTHER and mean_luminance(held) <= MOST_LUMINANCE
    assert (folder / "a.jpg").read_bytes() == content


def test_picture_that_still_comes_is_counted_and_not_offered(window: Callable[..., Window], folder: Path) -> None:
    inbox = Inbox(folder)
    w = to_photograph(window("09:24", outside=Outside(photo_files=inbox.files, arriving=inbox.arriving)))
    folder.mkdir()
    content = picture_files.picture("whole", taken=TAKEN)
    (folder / "a.jpg").write_bytes(content[:100])
    w.key("enter")
    assert w.scene.refused and w.says("left no picture yet"), w.scene
    (folder / "a.jpg").write_bytes(content)  # the camera goes on writing
    w.key("enter")
    assert "1 still coming" in rows_of(w).heading and not rows_of(w).rows
    until(w, lambda: bool(rows_of(w).rows))  # by itself, without a key
    w.key("enter")
    assert w.says("a.jpg, not looked at yet"), w.scene
