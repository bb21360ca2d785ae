"""A live camera, played by generated video files: fresh frames, whole, with the station's time; silence is said.

No device is on a machine of tests: what only a device does (its buffer, its
cable) is played by a source of frames that the test holds.
"""

from __future__ import annotations

import io
import threading
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from PIL import Image

from ndi.domain.errors import InputError
from ndi.photo import camera, pictures
from ndi.photo.camera import LiveCamera

AT = datetime(2026, 3, 10, 8, 5, 30, 250_000, timezone(timedelta(hours=-5)))
SIZE = (64, 48)


def film(path: Path, frames: int = 40, rate: float = 20, codec: str = "MJPG") -> Path:
    """Each frame of one grey level: its number times five, from black again after fifty."""
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*codec), rate, SIZE)
    assert writer.isOpened()
    for n in range(frames):
        writer.write(np.full((SIZE[1], SIZE[0], 3), n % 50 * 5, np.uint8))
    writer.release()
    return path


@pytest.fixture
def opened() -> Iterator[Callable[[str], LiveCamera]]:
    made: list[LiveCamera] = []

    def make(source: str) -> LiveCamera:
        made.append(LiveCamera(source, "MT booth", lambda: AT))
        return made[-1]

    yield make
    for each in made:
        each.close()


def level(content: bytes) -> int:
    return int(np.asarray(Image.open(io.BytesIO(content))).mean())


@pytest.mark.parametrize(("name", "codec"), [("a.avi", "MJPG"), ("a.mp4", "mp4v"), ("a.mkv", "FFV1")])
def test_frames_of_a_film_are_seen_and_taken(
    opened: Callable[[str], LiveCamera], tmp_path: Path, name: str, codec: str
) -> None:
    live = opened(str(film(tmp_path / name, codec=codec)))
    assert Image.open(io.BytesIO(live.preview())).format == "JPEG"
    first, at = live.take()
    second, _ = live.take()
    assert at == AT and level(second) > level(first)
    found = pictures.examine(first, "frame.png")
    assert (found.width, found.height, found.media_type) == (*SIZE, "image/png")
    assert (found.camera, found.camera_time, found.camera_offset_min) == ("MT booth", "2026-03-10T08:05:30", -300)


def test_film_that_has_ended_gives_no_old_frame(opened: Callable[[str], LiveCamera], tmp_path: Path) -> None:
    live = opened(str(film(tmp_path / "a.avi", frames=2, rate=100)))
    live._thread.join(5)
    for ask in (live.preview, live.take):
        with pytest.raises(InputError, match=r"a\.avi has ended"):
            ask()


@pytest.mark.parametrize("source", ["97", "/nowhere/a.avi", "rtsp://127.0.0.1:9/none"])
def test_camera_that_is_not_there_is_said(
    opened: Callable[[str], LiveCamera], source: str, capfd: pytest.CaptureFixture[str]
) -> None:
    live = opened(source)
    with pytest.raises(InputError, match="cannot be opened: look after its cable"):
        live.take()


def test_file_that_is_no_film_is_said(opened: Callable[[str], LiveCamera], tmp_path: Path) -> None:
    (tmp_path / "a.avi").write_bytes(b"no film")
    with pytest.raises(InputError, match=r"cannot be opened|has ended"):
        opened(str(tmp_path / "a.avi")).take()


class Source:
    """A device that the test holds: gives a frame when told to, or falls silent."""

    def __init__(self) -> None:
        self.frames: list[Any] = []
        self.told = threading.Semaphore(0)
        self.is_released = False

    def give(self, levels: Any) -> None:
        self.frames.append(levels)
        self.told.release()

    def read(self) -> tuple[bool, Any]:
        if not self.told.acquire(timeout=0.5) or not self.frames:
            return False, None
        levels = self.frames.pop(0)
        if isinstance(levels, Exception):
            raise levels
        return levels is not None, levels

    def release(self) -> None:
        self.is_released = True


@pytest.fixture
def device(monkeypatch: pytest.MonkeyPatch) -> Source:
    source = Source()
    monkeypatch.setattr(camera, "_opened", lambda _: source)
    monkeypatch.setattr(camera, "FRESH_WITHIN_S", 0.3)
    monkeypatch.setattr(camera, "AGAIN_AFTER_S", 0.05)
    return source


def grey(value: int, shape: tuple[int, ...] = (4, 6, 3)) -> Any:
    return np.full(shape, value, np.uint8)


def test_frame_that_came_before_the_pedal_is_not_taken(opened: Callable[[str], LiveCamera], device: Source) -> None:
    live = opened("0")
    device.give(grey(10))
    live.preview()
    threading.Timer(0.1, lambda: device.give(grey(200))).start()
    assert level(live.take()[0]) == 200


def test_camera_that_stands_still_is_said_and_goes_on_when_it_comes_back(
    opened: Callable[[str], LiveCamera], device: Source
) -> None:
    live = opened("0")
    device.give(grey(10))
    live.preview()
    with pytest.raises(InputError, match="sends no picture since"):
        live.take()
    device.give(None)  # the cable is pulled: read fails
    device.give(grey(30))  # it was opened again
    taken = b""
    for _ in range(50):
        threading.Timer(0.02, lambda: device.give(grey(30))).start()
        try:
            taken, _ = live.take()
            break
        except InputError:
            threading.Event().wait(0.05)
    assert level(taken) == 30 and device.is_released


@pytest.mark.parametrize("error", [cv2.error("broken"), OSError("gone"), RuntimeError("driver")])
def test_driver_that_fails_is_said(opened: Callable[[str], LiveCamera], device: Source, error: Exception) -> None:
    live = opened("0")
    device.give(error)
    with pytest.raises(InputError, match=r"camera 0 failed|sends no picture"):
        live.take()


@pytest.mark.parametrize("shape", [(4, 6, 3), (4, 6)])
def test_frame_is_written_without_loss(
    opened: Callable[[str], LiveCamera], device: Source, shape: tuple[int, ...]
) -> None:
    levels = np.random.default_rng(3).integers(0, 256, shape, np.uint8)
    live = opened("0")
    threading.Timer(0.05, lambda: device.give(levels)).start()
    taken = np.asarray(Image.open(io.BytesIO(live.take()[0])))
    assert np.array_equal(taken, levels[:, :, ::-1] if levels.ndim == 3 else levels)


def test_time_without_a_zone_is_no_time_of_a_picture() -> None:
    naive = camera.Frame(1, AT.astimezone(UTC).replace(tzinfo=None), grey(1))
    with pytest.raises(InputError, match="no zone"):
        camera._png(naive, "MT booth")
