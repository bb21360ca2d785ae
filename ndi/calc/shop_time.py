"""When work will be done, and when a lamp is used up: sums of hours turned into days.

Project's own arithmetic; what one start of a mercury lamp costs in hours stands in
``published``.  Exact; days are counted on the calendar, never read from a clock.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from math import ceil

from ndi.domain.errors import InputError
from ndi.domain.quantity import shown

_DAYS_MOST = 3660
_SATURDAY = 5


@dataclass(frozen=True)
class Completion:
    """Minutes of work, the time it takes with these people, the working days, and the last of them."""

    total_min: Fraction
    elapsed_min: Fraction
    working_days: int
    last_day: date


def completion(
    work_min: Sequence[Fraction], people: int, minutes_a_day: Fraction, first_day: date, days_off: Collection[date]
) -> Completion:
    """Open jobs shared by ``people``, at least as long as the longest job, over working days from ``first_day`` on.

    Saturdays, Sundays and ``days_off`` are no working days.
    """
    if not work_min or people < 1 or minutes_a_day <= 0:
        raise InputError("give at least one job, one person, and minutes a day above 0")
    total = sum(work_min, Fraction(0))
    elapsed = max(total / people, *work_min)
    days = ceil(elapsed / minutes_a_day)
    if days > _DAYS_MOST:
        raise InputError(f"{days} working days: look again at minutes and people")
    day, left = first_day, days
    while True:
        if day.weekday() < _SATURDAY and day not in days_off:
            left -= 1
            if left <= 0:
                return Completion(total, elapsed, days, day)
        day += timedelta(days=1)


@dataclass(frozen=True)
class LampUse:
    """Hours burnt and starts, and the hours that both count as, at the least and at the most an hour for each start."""

    hours: Fraction
    starts: int
    counted_min: Fraction
    counted_max: Fraction


def lamp_use(on_h: Sequence[Fraction], h_per_start_min: Fraction, h_per_start_max: Fraction) -> LampUse:
    """Each entry of ``on_h`` is one start and the hours that followed it."""
    if not 0 <= h_per_start_min <= h_per_start_max:
        raise InputError("h_per_start_min, h_per_start_max: they must rise in this order and not be below 0")
    hours, starts = sum(on_h, Fraction(0)), len(on_h)
    return LampUse(hours, starts, hours + starts * h_per_start_min, hours + starts * h_per_start_max)


def used_up_on(first: date, left_h: Fraction, counted_h_a_day: Fraction) -> date:
    """The day on which the rest of a lamp's life is gone; ``first`` itself if none is left."""
    if counted_h_a_day <= 0:
        raise InputError(f"h_per_day {shown(counted_h_a_day)}: it must be above 0")
    days = max(0, int(left_h / counted_h_a_day))
    try:
        return first + timedelta(days=days)
    except OverflowError:
        raise InputError(f"{days} days: beyond the calendar; look again at hours") from None
