"""A penetrant basket on which every rule is met, for tests that change one thing at a time."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any

from ndi.domain import facts as f
from ndi.domain.answer import Answer
from ndi.domain.entry import Recorded
from ndi.domain.moment import Moment
from tests import build
from tests.build import at, num, rec

Fact = Recorded[f.Fact]
Times = tuple[str | Moment, str | Moment | None] | None
PART = "W26-0148/PN-1/S-1"
LINE = "Method A line"

# step -> start and end; two parts, Method A
STEPS_A: dict[str, Times] = {
    "wet": ("08:00", "08:05"),
    "wash": ("08:40", "08:45"),
    "dry": ("08:50", "09:10"),
    "develop": ("09:12", "09:14"),
}
STEPS_D: dict[str, Times] = {
    "wet": ("08:00", "08:05"),
    "prewash": ("08:40:00", "08:40:40"),
    "remover": ("08:41:00", "08:42:00"),
    "wash": ("08:42:10", "08:42:50"),
    "dry": ("08:50", "09:10"),
    "develop": ("09:12", "09:14"),
}
TICKS = {
    "dry before wetting": "yes",
    "wetted by": "flow",
    "penetrant did not dry on": "yes",
    "no contact, cavities drain": "yes",
    "rinse checked under UV-A": "yes",
    "dry at dryer out": "yes",
    "developer form": "a",
    "developer on all zones": "yes",
}
PART_TICKS = {"visible dye history": "never", "worked since last etch": "no"}


def batch(name: str, material: str, **changed: Any) -> Fact:
    base: dict[str, Any] = {"expires": date(2026, 12, 31), "system": "S-1", "alloys": ("aluminium",)}
    if material == "penetrant":
        base |= {"type": "1", "method": "A", "sensitivity": "2"}
    if material == "developer":
        base |= {"form": "a"}
    if material == "remover":
        base |= {"nominal_percent": num("20 %")}
    return rec(f.BatchEntered(name, material, **{**base, **changed}), "08:00", day="2026-01-05")


def pen(**changed: Any) -> Fact:
    return batch("PEN", "penetrant", **changed)


def dev(**changed: Any) -> Fact:
    return batch("DEV", "developer", **changed)


def rem(**changed: Any) -> Fact:
    return batch("REM", "remover", **changed)


def filled(*names: str, when: str = "08:00", day: str = "2026-01-06") -> Fact:
    return rec(f.TankFilled(LINE, names), when, day=day)


def line(**changed: Any) -> Fact:
    base: dict[str, Any] = {"kind": "line", "wash_station": "wash station", "water": "PT line", "dryer": "dryer"}
    return rec(f.EquipmentEntered(LINE, **{**base, **changed}), "08:00", day="2026-01-02")


def reading(thing: str, quantity: str, value: str, when: str = "07:00", day: str = build.DAY, **changed: Any) -> Fact:
    return rec(f.ReadingRecorded(thing, quantity, num(value), **changed), when, "L1-D", day=day)


def check(
    kind: str, thing: str, when: str = "07:31", day: str = build.DAY, passed: bool = True, **changed: Any
) -> Fact:
    return rec(f.ProcessCheckRecorded(kind, thing, passed, **changed), when, day=day)


def panel(
    when: str = "07:31", day: str = build.DAY, passed: bool = True, batches: tuple[str, ...] = ("PEN",), **changed: Any
) -> Fact:
    base: dict[str, Any] = {"line": LINE, "batches": batches, "compared_with_reference": True}
    return check("known-defect panel", "KP-2", when, day, passed, **{**base, **changed})


def tick(item: str, value: str = "yes", when: str = "08:00", about: str = "B1", **changed: Any) -> Fact:
    return rec(f.ConfirmationGiven(about, item, value, **changed), when, "L1-D")


def start(step: str, when: str | Moment, basket: str = "B1", pieces: int | None = 2) -> Fact:
    return rec(f.StepStarted(basket, step, pieces), when, "L1-D")


def end(step: str, when: str | Moment, basket: str = "B1", outcome: str | None = None) -> Fact:
    return rec(f.StepEnded(basket, step, outcome), when, "L1-D")


def observed(step: str, quantity: str, value: str, when: str = "08:00", basket: str = "B1") -> Fact:
    return rec(f.StepObserved(basket, step, quantity, num(value)), when, "L1-D")


def temperature(value: str = "72 degF") -> Fact:
    return observed("wet", "part temperature", value)


def load(
    basket: str = "B1",
    attempt: int = 1,
    when: str = "07:50",
    inspections: tuple[str, ...] = ("X-001",),
    method: str = "A",
) -> Fact:
    return rec(f.BasketLoaded(basket, method, LINE, inspections, attempt), when)


def steps(table: dict[str, Times], basket: str = "B1", background: str | None = "clean") -> list[Fact]:
    found = []
    for step, times in table.items():
        if times is None:
            continue
        found.append(start(step, times[0], basket))
        if times[1] is not None:
            found.append(end(step, times[1], basket, background if step == "wash" else None))
    return found


def tanks(**changed: Any) -> list[Fact]:
    """Line, batches and fill; a batch given as None is left out of the book."""
    table = {"pen": pen(), "dev": dev(), **changed}
    held = [r for r in table.values() if r is not None]
    return [line(), *held, filled(*(r.fact.batch for r in held))]


def checks() -> list[Fact]:
    """Today's readings and the periodic checks of the line."""
    return [
        reading("PT line", "water temperature", "68 degF"),
        reading("PT line", "water pressure", "28 psi"),
        reading("dryer", "dryer temperature", "150 degF"),
        reading("DEV", "specks", "2 pcs"),
        reading("PEN", "water content", "1.5 %", day="2026-03-02"),
        reading("PEN", "brightness", "98 %", day="2026-02-02"),
        reading("REM", "remover concentration", "20 %"),
        check("penetrant tank look", "PEN"),
        check("removability and sensitivity", "PEN", day="2026-03-02"),
    ]


def basket(
    method: str = "A",
    *,
    without: Iterable[str] = (),
    ticks: dict[str, str] | None = None,
    view: tuple[str, str | None] | None = ("09:30", "09:50"),
    background: str | None = "clean",
    **changed: Times,
) -> list[Fact]:
    """One whole basket; ``wash=(start, end)`` changes a step, ``wash=None`` leaves it out, so do names in ``without``.

    ``without`` names ticks, or ``temperature``, ``nozzle``, ``tanks``, ``checks``, ``panel``, ``received``, ``load``.
    """
    left_out = set(without)
    table = {**(STEPS_A if method == "A" else STEPS_D), **changed}
    found = steps(table, background=background)
    given = {**TICKS, **(ticks or {})}
    found += [tick(item, value) for item, value in given.items() if item not in left_out]
    found += [
        tick(item, value, about=PART)
        for item, value in PART_TICKS.items()
        if item not in left_out and item not in given
    ]
    batches: tuple[str, ...] = ("PEN",) if method == "A" else ("PEN", "REM")
    in_tanks = {} if method == "A" else {"pen": pen(method="D", sensitivity="3"), "rem": rem()}
    parts: dict[str, list[Fact]] = {
        "load": [load(method=method)],
        "temperature": [temperature()],
        "nozzle": [observed("wash", "nozzle distance", "14 in", "08:40")],
        "tanks": tanks(**in_tanks),
        "checks": checks(),
        "panel": [panel(batches=batches)],
        "received": [rec(f.PartReceived(PART, "W26-0148", 1, scanned=True), "07:20")],
    }
    for name, facts in parts.items():
        if name not in left_out:
            found += facts
    if view is not None:
        found += build.view(*view)
    return found


TECHNIQUE_D = build.technique(pt_method="D", sensitivity="3")


def ask(rule: str, facts: Iterable[Fact], asked: str = "17:00", **changed: Any) -> Answer:
    return build.ask(rule, "PT", facts, asked, **changed)


def ask_d(rule: str, facts: Iterable[Fact], asked: str = "17:00", **changed: Any) -> Answer:
    return build.ask(rule, "PT", facts, asked, **{"technique": TECHNIQUE_D, **changed})


def minute(text: str) -> Moment:
    """A time typed to the minute only."""
    from ndi.domain.moment import Precision

    return at(text, precision=Precision.MINUTE)


def wiped_spot(
    *pairs: tuple[str, str],
    indication: str = "IND-1",
    interpretation: str | None = "false",
    looked: str | None = "10:30",
) -> list[Fact]:
    """An indication with tests (step, time), an interpretation and a saved second look."""
    found = [rec(f.IndicationSeen(indication, "X-001", "Z1", "edge", "linear", num("0.1 in"), num("0.02 in")), "09:35")]
    found += [rec(f.IndicationTested(indication, step), when) for step, when in pairs]
    if interpretation:
        found.append(rec(f.IndicationInterpreted(indication, interpretation, "no return after wipe"), "10:20"))
    if looked:
        found += [
            rec(f.ViewStarted("SL1", "X-001", "NL3-E", ("LP-1",), "second look", indication=indication), "10:25"),
            rec(f.SecondLookSaved("SL1", "X-001", "NL3-E", indication, interpretation), looked, "NL3-E"),
        ]
    return found
