"""Times, values and states in the words of lists."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any, Protocol

from ndi.domain.codec import utc_from_text
from ndi.domain.moment import Moment
from ndi.domain.quantity import Number
from ndi.services.ports import InspectionRow, Line, Named

NOT_RECORDED = "not recorded"


def clock_text(moment: datetime, offset_min: int) -> str:
    """Local day and time, as a :class:`Moment` says it, for lists that say thousands of them."""
    local_ = moment + timedelta(minutes=offset_min)
    text = local_.isoformat(" ")[:19]
    return text if local_.second or local_.microsecond else text[:16]


class Dated(Protocol):
    """Something with a time in the book."""

    @property
    def at(self) -> str: ...

    @property
    def offset_min(self) -> int: ...


def when(line: Dated) -> str:
    """Local day and time of an entry."""
    return clock_text(datetime.fromisoformat(line.at), line.offset_min)


def written(line: Line | Named) -> str:
    """Local day and time at which an entry was put into the book."""
    return clock_text(datetime.fromisoformat(line.recorded), line.offset_min)


def local(line: Line | Named) -> datetime:
    """Local wall time of an entry."""
    return Moment(utc_from_text(line.at), line.offset_min).local


def shown(value: Any) -> str:
    """A value of a body as a person reads it."""
    if value is None:
        return NOT_RECORDED
    if value is True or value is False:
        return "yes" if value else "no"
    if isinstance(value, dict) and set(value) == {"typed", "unit"}:
        return f"{value['typed']} {value['unit']}".strip()
    if isinstance(value, dict) and "at" in value:
        return str(Moment(utc_from_text(value["at"]), value.get("offset_min", 0)))
    if isinstance(value, dict):
        return "; ".join(f"{name} {shown(each)}" for name, each in value.items())
    if isinstance(value, list):
        return ", ".join(shown(each) for each in value)
    return str(value)


def number_of(value: Any) -> Number | None:
    """A number of a body."""
    return Number(value["typed"], value["unit"]) if isinstance(value, dict) and "typed" in value else None


def kind_text(kind: str) -> str:
    """``ViewStarted`` as ``view started``."""
    return "".join(f" {letter.lower()}" if letter.isupper() else letter for letter in kind).strip()


def state_of(row: InspectionRow | None) -> str:
    """Where a record stands."""
    if row is None:
        return "not in this book"
    overlay = " - SUSPENDED" if row.suspended else " - PROVISIONAL" if row.provisional else ""
    return row.disposition + overlay
