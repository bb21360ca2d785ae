"""Times and spans.

A :class:`Moment` is a UTC instant with the local offset and the precision it
was given with.  A :class:`Span` has two starts and two stops, because a basket
of parts is wetted over minutes and washed over minutes: minimum rules use the
shortest possible duration, maximum rules the longest (law 4).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta, timezone
from enum import StrEnum
from functools import cache, cached_property

from ndi.domain.errors import InputError


class Precision(StrEnum):
    """How finely a time was given."""

    SECOND = "s"
    MINUTE = "min"


@dataclass(frozen=True)
class Boot:
    """A reading of the clock that no one can set: milliseconds since a start of a machine."""

    id: str
    ms: int


@cache
def _zone(offset_min: int) -> timezone:
    return timezone(timedelta(minutes=offset_min))


@dataclass(frozen=True)
class Moment:
    """When something happened: UTC instant, local offset in minutes, precision.

    ``boot`` is there where a timer or scanner took the time live: a second
    estimate of elapsed time that a change of the wall clock does not touch.
    """

    at: datetime
    offset_min: int = 0
    precision: Precision = Precision.SECOND
    boot: Boot | None = field(default=None, compare=False)

    def __post_init__(self) -> None:
        if self.at.tzinfo is None:
            raise InputError(f"time {self.at} has no zone; give the offset of the station")
        if self.at.tzinfo is not UTC:
            object.__setattr__(self, "at", self.at.astimezone(UTC))

    @property
    def earliest(self) -> datetime:
        """The earliest instant that this time can mean."""
        return self.at

    @property
    def latest(self) -> datetime:
        """The latest instant that this time can mean (a minute stamp covers its minute)."""
        if self.precision is Precision.MINUTE:
            return self.at + timedelta(seconds=59, microseconds=999_999)
        return self.at

    @cached_property
    def local(self) -> datetime:
        """The local wall time of the station."""
        return self.at.astimezone(_zone(self.offset_min))

    def clock(self) -> str:
        """``HH:MM`` or ``HH:MM:SS`` on the local clock."""
        local = self.local
        to_the_minute = f"{local.hour:02}:{local.minute:02}"
        return f"{to_the_minute}:{local.second:02}" if local.second or local.microsecond else to_the_minute

    def __str__(self) -> str:
        return f"{self.local:%Y-%m-%d} {self.clock()}"


def to_the_second(moment: Moment) -> Moment:
    """The same moment, a minute stamp taken as its full minute."""
    return moment if moment.precision is Precision.SECOND else replace(moment, precision=Precision.SECOND)


def elapsed(start: Moment, stop: Moment) -> tuple[timedelta, timedelta]:
    """The smaller and the larger estimate of the time from ``start`` to ``stop`` (law 5).

    UTC gives one estimate; the boot clock, where both were taken on one start
    of one machine, the other.  A minute stamp widens the estimate of UTC.
    """
    if start.precision is Precision.SECOND and stop.precision is Precision.SECOND:
        smaller = larger = stop.at - start.at
    else:
        smaller, larger = stop.earliest - start.latest, stop.latest - start.earliest
    if start.boot and stop.boot and start.boot.id == stop.boot.id:
        by_boot = timedelta(milliseconds=stop.boot.ms - start.boot.ms)
        return min(smaller, by_boot), max(larger, by_boot)
    return smaller, larger


@dataclass(frozen=True)
class Span:
    """An activity between two starts and two stops; a stop may still be missing."""

    first_start: Moment
    last_start: Moment
    first_stop: Moment | None = None
    last_stop: Moment | None = None

    def shortest(self, until: Moment | None = None) -> timedelta | None:
        """From the last start to the first stop; ``until`` stands in for a stop not yet made."""
        stop = self.first_stop or until
        return None if stop is None else elapsed(self.last_start, stop)[0]

    def longest(self, until: Moment | None = None) -> timedelta | None:
        """From the first start to the last stop; ``until`` stands in for a stop not yet made."""
        stop = self.last_stop or until
        return None if stop is None else elapsed(self.first_start, stop)[1]


def duration_text(duration: timedelta) -> str:
    """``133 min``, ``26 min 30 s``, ``90 s``: whole minutes as limits are given, exact to the second, never rounded up."""
    seconds = int(duration.total_seconds())
    sign, seconds = ("-", -seconds) if seconds < 0 else ("", seconds)
    if seconds < 120 and seconds % 60:
        return f"{sign}{seconds} s"
    minutes, rest = divmod(seconds, 60)
    text = f"{minutes} min" if minutes or not rest else ""
    if rest:
        text = f"{text} {rest} s".strip()
    return sign + text
