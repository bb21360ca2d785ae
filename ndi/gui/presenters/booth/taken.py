"""When a photograph in hand was taken: by its camera, whose clock was compared, or by its file."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from ndi.domain.moment import Moment
from ndi.gui.presenters.booth.outside import PhotoFile
from ndi.gui.presenters.booth.picture_content import content_of
from ndi.services import photographs
from ndi.services.camera_clock import camera_moment, in_words, seconds_ahead
from ndi.services.workplace import Workplace

CAMERA, FILE = "camera", "file"  # where the time comes from


@dataclass(frozen=True)
class Taken:
    """When a photograph was taken, and whether its camera or only its file says so."""

    at: Moment
    source: str
    sha256: str  # of what was looked at; the camera may write another picture under the same name
    ahead_s: int | None = None  # how far the camera's clock was ahead when it was compared; it is taken off already

    def in_words(self) -> str:
        """``2026-03-10 09:30:20 by the camera, its clock 3 s ahead``."""
        told = "by the camera" if self.source == CAMERA else "by the file: the camera wrote no time"
        clock = f", its clock {in_words(self.ahead_s)}" if self.ahead_s is not None else ""
        return f"{self.at.local:%Y-%m-%d %H:%M:%S} {told}{clock}"

    def kept(self) -> list[str | int | None]:
        """For the station's memory."""
        return [self.at.at.isoformat(), self.at.offset_min, self.source, self.sha256, self.ahead_s]

    @classmethod
    def from_kept(cls, kept: list[str | int | None]) -> Taken:
        """The reverse of :meth:`kept`."""
        at, offset, source, sha256, *more = kept
        ahead = more[0] if more else None
        assert isinstance(offset, int) and not isinstance(ahead, str)
        return cls(Moment(datetime.fromisoformat(str(at)), offset), str(source), str(sha256), ahead)


def taken_of(work: Workplace, file: PhotoFile) -> Taken:
    """A picture in hand: InputError when it is none."""
    found = photographs.archive_of(work).examine(content_of(work, file.path), file.name)
    by_camera = camera_moment(work, found)
    if by_camera is None:
        return Taken(file_time(work, file), FILE, found.sha256)
    with work.look() as session:
        ahead = seconds_ahead(session, found.camera)
    at = replace(by_camera, at=by_camera.at - timedelta(seconds=ahead or 0))
    return Taken(at, CAMERA, found.sha256, ahead)


def file_time(work: Workplace, file: PhotoFile) -> Moment:
    """When the file was last written, at the station's zone."""
    return Moment(file.changed.replace(microsecond=0), work.clock.offset_min())
