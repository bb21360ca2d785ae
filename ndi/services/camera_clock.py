"""A camera's clock beside the station's: compared by a photograph of a clock, known from then on by the camera's name (K19)."""

from __future__ import annotations

import re
from datetime import UTC, datetime, time, timedelta, timezone

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.errors import InputError
from ndi.domain.moment import Moment
from ndi.domain.quantity import Number
from ndi.domain.vocabulary import CheckKind
from ndi.services.lookup import about
from ndi.services.ports import Picture, Session
from ndi.services.recording import record_check
from ndi.services.workplace import Workplace

MOST_S = 24 * 60 * 60  # no time zone is as far away (own choice)
_CLOCK = re.compile(r"(\d\d):?(\d\d):?(\d\d)", re.ASCII)


def camera_moment(work: Workplace, picture: Picture) -> Moment | None:
    """What the camera's wall clock said; without a zone of its own it counts as the station's.  None: it wrote no time."""
    if picture.camera_time is None:
        return None
    offset = work.clock.offset_min() if picture.camera_offset_min is None else picture.camera_offset_min
    local = datetime.fromisoformat(picture.camera_time).replace(tzinfo=timezone(timedelta(minutes=offset)))
    return Moment(local.astimezone(UTC), offset)


def seconds_ahead(session: Session, camera: str | None) -> int | None:
    """By how much a camera's clock was ahead when it was last compared; None when it never was."""
    if camera is None:
        return None
    compared = [
        r.fact.ahead
        for r in about(session, f.ProcessCheckRecorded, camera)
        if r.fact.check == CheckKind.CLOCK_OFFSET and r.fact.ahead is not None
    ]
    return round(compared[-1].in_unit("s")) if compared else None


def shown_moment(work: Workplace, typed: str) -> Moment:
    """The last time at which the station's clock showed ``HH:MM:SS``: clocks are compared right after the photograph."""
    match = _CLOCK.fullmatch(typed)
    try:
        shown = time(int(match[1]), int(match[2]), int(match[3])) if match else None
    except ValueError:
        shown = None
    if shown is None:
        raise InputError(f"{typed!r} is no time of day: type what the clock in the picture shows, HH:MM:SS")
    now = work.now()
    at = now.local.replace(hour=shown.hour, minute=shown.minute, second=shown.second, microsecond=0)
    passed = at if at <= now.local else at - timedelta(days=1)
    return Moment(passed.astimezone(UTC), now.offset_min)


def compare_clocks(work: Workplace, picture: Picture, typed: str, person: str) -> Recorded[f.Fact]:
    """Record by how much the camera that took ``picture`` is ahead of the clock that it shows at ``typed`` (HH:MM:SS).

    InputError for a picture without the camera's name or time, and for one
    more than a day away: an old picture must not be made to fit.
    """
    by_camera = camera_moment(work, picture)
    if picture.camera is None or by_camera is None:
        raise InputError(
            "the picture names no camera, or no time: set the camera to write both, photograph the clock again"
        )
    shown = shown_moment(work, typed)
    ahead = round((by_camera.at - shown.at).total_seconds())
    if abs(ahead) > MOST_S:
        raise InputError(
            f"the picture is dated {by_camera.local:%Y-%m-%d %H:%M:%S}, more than a day away from {shown.local:%Y-%m-%d %H:%M:%S}: "
            "either it is another picture, or the camera lost its date; set the camera's clock and photograph the station's again"
        )
    said = f"its clock {by_camera.local:%Y-%m-%d %H:%M:%S}, the station's {shown.local:%Y-%m-%d %H:%M:%S}"
    check = f.ProcessCheckRecorded(
        str(CheckKind.CLOCK_OFFSET), picture.camera, True, detail=said, ahead=Number(str(ahead), "s")
    )
    return record_check(work, check, person)


def in_words(ahead_s: int) -> str:
    """``3 s ahead``, ``1:00:00 behind``, ``right``."""
    if ahead_s == 0:
        return "right"
    size = abs(ahead_s)
    text = f"{size} s" if size < 60 else str(timedelta(seconds=size))
    return f"{text} {'ahead' if ahead_s > 0 else 'behind'}"
