"""One complete magnetic particle record of hand-made facts, by name, so that a test changes or leaves out one of them."""

from __future__ import annotations

from datetime import date
from typing import Any

from ndi.domain import facts as f
from ndi.domain.answer import Answer
from ndi.domain.entry import Recorded
from ndi.domain.parameter_keys import OPTIONAL
from ndi.rules import registry
from tests import build as b

Facts = list[Recorded[f.Fact]]


def fired(
    number: int, when: str, amps: str | None = None, *, pulses: int = 2, seconds: str | None = "0.7 s", **more: Any
) -> Recorded[f.Fact]:
    """A shot of the default technique: number 1 is the head shot of 1000 A, 2 the coil shot of 600 A."""
    amps = amps or ("600 A" if number == 2 else "1000 A")
    pulse = f.Pulse(None if amps == "blank" else b.num(amps), b.num(seconds) if seconds else None)
    base: dict[str, Any] = {"current_type": "FWDC", "bath_mode": "continuous", "coil_turns": 5 if number == 2 else None}
    return b.rec(f.ShotFired("X-001", "MT-01", number, (pulse,) * pulses, **{**base, **more}), when)


def void(number: int, when: str) -> Recorded[f.Fact]:
    return b.rec(f.ShotVoided("X-001", number, b.at(when), "wrong current"), when)


def switched(state: str, when: str, day: str = b.DAY) -> Recorded[f.Fact]:
    return b.rec(f.EquipmentSwitched("MT-01", state), when, day=day)


def sampled(when: str, demagnetised: bool | None = True) -> Recorded[f.Fact]:
    return b.rec(f.BathSampled("MTB-26-07", demagnetised), when)


def concentration(when: str, value: str = "0.20 mL", contamination: str | None = "0.01 mL") -> Recorded[f.Fact]:
    dirt = b.num(contamination) if contamination else None
    return b.rec(f.ReadingRecorded("MTB-26-07", "bath concentration", b.num(value), contamination=dirt), when)


def check(
    kind: str, when: str, object_: str = "MTB-26-07", passed: bool = True, day: str = b.DAY, **more: Any
) -> Recorded[f.Fact]:
    return b.rec(f.ProcessCheckRecorded(kind, object_, passed, **more), when, day=day)


def ring(
    when: str, holes: int | None = 6, amps: str | None = "2500 A", passed: bool = True, day: str = b.DAY
) -> Recorded[f.Fact]:
    return check("tool-steel ring", when, "MT-01", passed, day, holes=holes, amps=b.num(amps) if amps else None)


def calibration(item: str, due: date = date(2026, 6, 13), done: date = date(2025, 12, 15)) -> Recorded[f.Fact]:
    return b.rec(f.CalibrationRecorded("MT-01", item, done, due, "in tolerance"), "12:00", day=done.isoformat())


def tick(item: str, when: str, value: str = "yes") -> Recorded[f.Fact]:
    return b.rec(f.ConfirmationGiven("X-001", item, value), when)


def demag(when: str) -> Recorded[f.Fact]:
    return b.rec(f.Demagnetised("X-001", "reversing step-down"), when)


def meter_calibration(due: date = date(2026, 7, 1)) -> Recorded[f.Fact]:
    """The gaussmeter's."""
    return b.rec(
        f.CalibrationRecorded("GM-1", "field", date(2025, 7, 1), due, "in tolerance"), "12:00", day="2025-07-01"
    )


def residual(point: str, when: str, value: str = "1.0 G", away: bool | None = True) -> Recorded[f.Fact]:
    return b.rec(f.ResidualRead("X-001", point, b.num(value), "GM-1", away), when)


def seen(name: str = "IND-01") -> Recorded[f.Fact]:
    return b.rec(
        f.IndicationSeen(name, "X-001", "Z1", "165 deg", "linear", b.num("0.31 in"), b.num("0.01 in")), "08:24"
    )


def interpreted(word: str = "relevant", name: str = "IND-01") -> Recorded[f.Fact]:
    return b.rec(f.IndicationInterpreted(name, word, "returned"), "08:26")


def evaluated(word: str, name: str = "IND-01") -> Recorded[f.Fact]:
    return b.rec(f.IndicationEvaluated(name, word), "08:28")


def re_shot(outcome: str | None, when: str = "08:30", name: str = "IND-01") -> Recorded[f.Fact]:
    return b.rec(f.IndicationTested(name, "re-shot", outcome), when)


def record(**changed: Facts) -> Facts:
    """The facts of a record that answers every question; a named share may be replaced (``[]`` leaves it out)."""
    shares: dict[str, Facts] = {
        "opened": [b.opened("MT", station="MT booth")],
        "bench": [
            b.rec(
                f.EquipmentEntered("MT-01", "bench", place="MT booth", tank_bath="MTB-26-07"), "06:00", day="2026-01-02"
            )
        ],
        "bath": [b.rec(f.EquipmentEntered("MTB-26-07", "bath", vehicle="oil"), "06:00", day="2026-01-02")],
        "pump": [switched("off", "21:00", "2026-03-09"), switched("on", "06:02")],
        "sample": [sampled("06:36")],
        "result": [concentration("07:38")],
        "dirt": [check("bath contamination", "09:00", day="2026-03-05")],
        "vehicle": [check("vehicle and viscosity", "09:00", day="2026-02-20")],
        "ring": [ring("07:44")],
        "calibrations": [calibration(item) for item in ("ammeter", "shot timer", "quick break")],
        "meter": [meter_calibration()],
        "trapped": [tick("bearings and trapped parts removed", "07:45")],
        "shots": [fired(1, "08:00"), fired(2, "08:10")],
        "arc": [tick("no arc burn after head shot", "08:12")],
        "spaced": [tick("spaced on the bar, viewed all round", "08:12")],
        "demag": [demag("08:20")],
        "residual": [residual("flange", "08:22"), residual("pin", "08:23", "-0.5 G")],
        "residue": [tick("passages flushed, no bath residue under UV-A", "08:40")],
    }
    unknown = set(changed) - set(shares)
    assert not unknown, unknown
    return [recorded for share in (shares | changed).values() for recorded in share]


def ask(rule_id: str, facts: Facts | None = None, asked: str = "09:00", **changed: Any) -> Answer:
    """Ask one rule of a record (the complete one if none is given)."""
    return b.ask(rule_id, "MT", record() if facts is None else facts, asked, **changed)


def missing_keys(rules: tuple[str, ...]) -> list[tuple[str, str]]:
    """Rule and key, for every parameter that these rules declare."""
    every = registry.load_all()
    return [(rule_id, key) for rule_id in rules for key in every[rule_id].keys if key not in OPTIONAL]
