"""One record viewed under one lamp, with everything that the light rules ask for; a test changes shares of it by name."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date
from typing import Any

from ndi.domain import facts as f
from ndi.domain.answer import Answer
from ndi.domain.entry import Recorded
from ndi.domain.moment import Moment
from ndi.domain.procedure import Parameter
from ndi.rules import registry
from tests import build as b

Facts = list[Recorded[f.Fact]]


def reading(when: str, value: str = "1490", day: str = b.DAY, lamp: str = "LP-1", **changed: Any) -> Recorded[f.Fact]:
    return b.lamp_reading(lamp, when, value, day, **changed)


def switched(state: str, when: str | Moment, lamp: str = "LP-1", day: str = b.DAY) -> Recorded[f.Fact]:
    return b.rec(f.EquipmentSwitched(lamp, state), when, "L1-D", day=day)


def integrity(day: str = "2026-03-04", passed: bool = True, lamp: str = "LP-1") -> Recorded[f.Fact]:
    return b.rec(f.ProcessCheckRecorded("lamp integrity", lamp, passed), "07:23", "L1-D", day=day)


def ambient(
    value: str = "1.2 fc", when: str = "06:50", screen_on: bool | None = True, day: str = b.DAY, **changed: Any
) -> Recorded[f.Fact]:
    base: dict[str, Any] = {"meter": "RM-1", "screen_on": screen_on}
    return b.rec(
        f.ReadingRecorded("MT booth", "ambient visible", b.num(value), **{**base, **changed}), when, "L1-D", day=day
    )


def second_look(start: str = "11:00", end: str = "11:10", lamps: tuple[str, ...] = ("LP-2",), **view: Any) -> Facts:
    """A saved second look by the Level III, under its own lamp."""
    return [
        *b.view(start, end, lamps, "SL1", "NL3-E", kind="second look", **view),
        b.rec(f.SecondLookSaved("SL1", "X-001", "NL3-E", none_seen=True), end, "NL3-E"),
    ]


def record(**changed: Facts | Recorded[f.Fact] | None) -> Facts:
    """The complete record; a share may be replaced, or left out with None."""
    shares: dict[str, Any] = {
        "opened": b.opened("MT"),
        "lamp": b.lamp(),
        "meter": b.meter(),
        "on": switched("on", "06:30"),
        "integrity": integrity(),
        "opening": reading("06:42"),
        "closing": reading("16:22", "1485"),
        "ambient": ambient(),
        "view": b.view("10:00", "10:20"),
        "more": None,
    }
    unknown = set(changed) - set(shares)
    assert not unknown, unknown
    found: Facts = []
    for share in (shares | changed).values():
        found += [] if share is None else share if isinstance(share, list) else [share]
    return found


def ask(rule_id: str, facts: Facts | None = None, asked: str = "17:00", **changed: Any) -> Answer:
    return b.ask(rule_id, "MT", record() if facts is None else facts, asked, **changed)


def found_high(percent: str = "9 %", meter: str = "RM-1", done: date = date(2026, 3, 20)) -> Recorded[f.Fact]:
    """A later calibration that found the meter reading this much too high."""
    return b.meter(meter, done, date(2026, 9, 20), as_found_error_percent=b.num(percent))


class Watched(Mapping[str, Parameter]):
    """Parameters of a procedure that remember which keys were read."""

    def __init__(self, parameters: Mapping[str, Parameter]) -> None:
        self.parameters, self.read = parameters, set[str]()

    def __getitem__(self, key: str) -> Parameter:
        self.read.add(key)
        return self.parameters[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self.parameters)

    def __len__(self) -> int:
        return len(self.parameters)


def keys_read(rule_id: str, method: str, facts: Facts, **changed: Any) -> set[str]:
    """The parameter keys that a rule really reads of a record."""
    registry.load_all()
    inquiry = b.inquiry(method, facts, **changed)
    watched = Watched(inquiry.procedure.parameters)
    registry.answer(rule_id, replace(inquiry, procedure=replace(inquiry.procedure, parameters=watched)))
    return watched.read
