"""A live camera, stream or video file: the latest frame is at hand, and one is taken whole.

OpenCV opens what can be opened; a thread of its own reads, so that nobody waits
for the camera and no old frame is taken out of its buffer.  What is kept is the
frame as it came decoded, written losslessly (PNG) with the station's time: that
file is the original, since a live camera leaves none of its own.
"""

from __future__ import annotations

import io
import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from ndi.domain.errors import InputError

OPENS_WITHIN_S = 10.0
FRESH_WITHIN_S = 2.0
AGAIN_AFTER_S = 2.0
_MODEL, _DESCRIPTION, _CHANGED_TIME = 0x0110, 0x010E, 0x0132
_EXIF_IFD, _ORIGINAL_TIME, _ORIGINAL_OFFSET, _SUBSECONDS = 0x8769, 0x9003, 0x9011, 0x9291
_PREVIEW_QUALITY = 85
_DESCRIBED = "one frame of a live camera, written without loss"


@dataclass(frozen=True)
class Frame:
    """Colours as OpenCV orders them (blue, green, red) and when they came."""

    number: int
    at: datetime
    levels: Any


class LiveCamera:
    """``source``: number of a device, address of a stream, or a video file; ``name``: what its pictures say took them.

    A device or stream that falls silent is opened again until somebody closes this.
    """

    def __init__(self, source: str, name: str, now: Callable[[], datetime]) -> None:
        self.source, self._name, self._now = source, name, now
        self._changed, self._stop = threading.Condition(), threading.Event()
        self._frame: Frame | None = None
        self._number, self._silent = 0, ""  # why no frames come, in words
        self._thread = threading.Thread(target=self._read, name=f"camera {source}", daemon=True)
        self._thread.start()

    # --- what others ask ----------------------------------------------------------------------------

    def preview(self, edge: int = 1600) -> bytes:
        """The latest frame as a small JPEG; InputError while none comes."""
        import cv2

        levels = self._next(0).levels
        scale = edge / max(levels.shape[:2])
        if scale < 1:
            levels = cv2.resize(levels, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
        _, coded = cv2.imencode(".jpg", levels, [cv2.IMWRITE_JPEG_QUALITY, _PREVIEW_QUALITY])
        return bytes(coded.tobytes())

    def take(self) -> tuple[bytes, datetime]:
        """One frame that came after this call, as a PNG without loss, and its time; InputError when none comes."""
        with self._changed:
            before = self._number
        frame = self._next(before)
        return _png(frame, self._name), frame.at

    def close(self) -> None:
        """Let go of the camera."""
        self._stop.set()
        self._thread.join(FRESH_WITHIN_S)  # a stream that hangs is left behind; its thread ends with the program

    def _next(self, before: int) -> Frame:
        with self._changed:
            patience = FRESH_WITHIN_S if self._number else OPENS_WITHIN_S
            self._changed.wait_for(lambda: self._silent or self._number > before, patience)
            if self._silent or self._frame is None or self._number <= before:
                why = self._silent or f"sends no picture since {patience:.0f} s: look after its cable"
                raise InputError(f"camera {self.source} {why}")
            return self._frame

    # --- its own thread -----------------------------------------------------------------------------

    def _read(self) -> None:
        while not self._stop.is_set():
            self._read_until_silent()
            if Path(self.source).is_file() or self._stop.wait(AGAIN_AFTER_S):
                return

    def _read_until_silent(self) -> None:
        import cv2

        capture = _opened(self.source)
        if capture is None:
            self._fall_silent("cannot be opened: look after its cable, its number or address, and what else uses it")
            return
        try:
            rate = capture.get(cv2.CAP_PROP_FPS) if Path(self.source).is_file() else 0.0
            while not self._stop.wait(1 / rate if rate > 0 else 0.0):
                came, levels = capture.read()
                if not came:
                    self._fall_silent("has ended")
                    return
                self._keep(levels)
        except (cv2.error, OSError, RuntimeError, ValueError) as error:
            self._fall_silent(f"failed ({type(error).__name__})")
        finally:
            capture.release()

    def _keep(self, levels: Any) -> None:
        with self._changed:
            self._number, self._silent = self._number + 1, ""
            self._frame = Frame(self._number, self._now(), levels)
            self._changed.notify_all()

    def _fall_silent(self, why: str) -> None:
        with self._changed:
            self._silent = why
            self._changed.notify_all()


def _opened(source: str) -> Any:
    import cv2

    if hasattr(cv2, "setLogLevel"):
        cv2.setLogLevel(0)  # its remarks about devices that are not there are said by us
    capture = cv2.VideoCapture(int(source) if source.isdecimal() else source)
    if capture.isOpened():
        return capture
    capture.release()
    return None


def _png(frame: Frame, name: str) -> bytes:
    from PIL import Image

    exif = Image.Exif()
    exif[_MODEL], exif[_DESCRIPTION] = name, _DESCRIBED
    exif[_CHANGED_TIME] = f"{frame.at:%Y:%m:%d %H:%M:%S}"
    detail = exif.get_ifd(_EXIF_IFD)
    detail[_ORIGINAL_TIME] = f"{frame.at:%Y:%m:%d %H:%M:%S}"
    detail[_SUBSECONDS] = f"{frame.at:%f}"
    offset = f"{frame.at:%z}"
    if not offset:
        raise InputError("the time of a frame has no zone")
    detail[_ORIGINAL_OFFSET] = f"{offset[:3]}:{offset[3:5]}"
    out = io.BytesIO()
    Image.fromarray(frame.levels[:, :, ::-1] if frame.levels.ndim > 2 else frame.levels).save(
        out, "PNG", exif=exif.tobytes(), compress_level=1
    )
    return out.getvalue()
