"""How values read on paper: units with their signs, times with their offset, short spans."""

from __future__ import annotations

import re

from ndi.domain.entry import Recorded
from ndi.domain.facts import Fact
from ndi.domain.moment import Moment
from ndi.domain.quantity import Number

# units as they are typed, and as the trade prints them
_PRINTED = (
    ("uW/cm2", "µW/cm²"),
    ("mW/cm2", "mW/cm²"),
    ("W/m2", "W/m²"),
    ("ddegF", "°F"),
    ("ddegC", "°C"),
    (" degF", " °F"),
    (" degC", " °C"),
)
_ANGLE = re.compile(r"(?<=\d) deg\b")


def on_paper(text: str) -> str:
    """A text of the book with its units as print shows them; nothing else is changed."""
    for typed, printed in _PRINTED:
        text = text.replace(typed, printed)
    return _ANGLE.sub("°", text)


def value_text(number: Number | None) -> str:
    """A number as typed with its unit; empty where none was recorded."""
    return "" if number is None else on_paper(str(number))


def size_text(length: Number | None, width: Number | None) -> str:
    """``0.31 in x 0.01 in``."""
    return " x ".join(value_text(number) for number in (length, width) if number is not None)


def doer(recorded: Recorded[Fact]) -> str:
    """Who did it: the person on whose behalf it was copied in, else who recorded it."""
    return recorded.on_behalf_of or recorded.by


def local_text(moment: Moment) -> str:
    """``2026-03-10 09:41 -05:00``."""
    sign = "-" if moment.offset_min < 0 else "+"
    hours, minutes = divmod(abs(moment.offset_min), 60)
    return f"{moment} {sign}{hours:02d}:{minutes:02d}"


def clock_range(start: Moment, end: Moment | None) -> str:
    """``11:18 to 13:36``, ``11:18, not ended``."""
    return f"{start.clock()} to {end.clock()}" if end else f"{start.clock()}, not ended"
