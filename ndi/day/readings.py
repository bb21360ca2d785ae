"""Rows of ``readings.csv``: the words a shop writes, turned into readings and checks."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import partial

from ndi.day.calls import Call, Turn
from ndi.day.files import Row
from ndi.domain import facts as f
from ndi.domain.moment import Moment
from ndi.domain.quantity import Number
from ndi.domain.vocabulary import CheckKind, Condition, Quantity
from ndi.services import recording
from ndi.services.workplace import Workplace

Make = Callable[[Workplace], object]

_UV = re.compile(r"UV-A (?P<inches>\d+(\.\d+)?) ?in\Z")
_RING = re.compile(r"ring holes at (?P<amps>\d+) A\Z")
_CONTAMINATION = re.compile(r"contamination (?P<value>\d*\.?\d+) subtracted\Z")
_WATER = re.compile(r"(?P<temperature>-?\d*\.?\d+) F / (?P<pressure>\d*\.?\d+) psi\Z")
_BATCH = re.compile(r"\S*\d\S*\Z")

_SIMPLE = {
    "removal UV": (Quantity.UV_A_AT_PART, None),
    "remover concentration": (Quantity.REMOVER_CONCENTRATION, "%"),
    "temperature": (Quantity.DRYER_TEMPERATURE, None),
    "water content": (Quantity.WATER_CONTENT, "%"),
    "brightness": (Quantity.BRIGHTNESS, "%"),
    "white light": (Quantity.WHITE_LIGHT, None),
}


def facts_of(row: Row) -> list[f.Fact]:
    """The facts that one row of readings stands for."""
    quantity = row.text("quantity")
    uv, ring = _UV.match(quantity), _RING.match(quantity)
    if uv:
        return [_uv_reading(row, uv["inches"])]
    if ring:
        return [_ring(row, ring["amps"])]
    if quantity in _SIMPLE:
        kind, unit = _SIMPLE[quantity]
        return [
            f.ReadingRecorded(
                row.text("object"), kind, row.number("value", unit or row.text("unit")), meter=row.opt("meter")
            )
        ]
    by_word: dict[str, Callable[[Row], list[f.Fact]]] = {
        "pump": _switch,
        "sample drawn": _sample,
        "ambient": _ambient,
        "tank look": _tank,
        "water": _water,
        "specks": _specks,
        "panel": _panel,
        "concentration": _concentration,
    }
    if quantity not in by_word:
        known = ["UV-A 15in", "ring holes at 2500 A", *_SIMPLE, *by_word, "meter select"]
        raise row.error("quantity", f"{quantity!r} is not known; use one of {', '.join(known)}")
    return by_word[quantity](row)


def calls_of(row: Row) -> list[Call]:
    """The calls that one row of the day's readings stands for."""
    when, by, object_ = row.moment("time"), row.text("by"), row.text("object")
    if row.text("quantity") == "meter select":
        return [_call(row, when, by, object_, lambda work: recording.select_meter(work, object_, by))]
    return [_call(row, when, by, object_, _make(fact, by)) for fact in facts_of(row)]


def _call(row: Row, when: Moment, by: str, object_: str, make: Make) -> Call:
    return Call(when, Turn.READ, f"{row.text('quantity')} of {object_}", by, object_, make, row.file, row.line)


def _make(fact: f.Fact, by: str) -> Make:
    if isinstance(fact, f.ReadingRecorded):
        return partial(recording.record_reading, reading=fact, by=by)
    if isinstance(fact, f.ProcessCheckRecorded):
        return partial(recording.record_check, check=fact, by=by)
    return partial(recording.record, facts=[fact], by=by)


def _uv_reading(row: Row, inches: str) -> f.ReadingRecorded:
    condition = row.opt("condition") or ""
    for word in (Condition.AS_FOUND, Condition.AS_LEFT, Condition.AFTER_CLEANING):
        if condition.startswith(word):
            return f.ReadingRecorded(
                row.text("object"),
                Quantity.UV_A,
                row.number("value", row.text("unit")),
                str(word),
                row.opt("meter"),
                Number(inches, "in"),
            )
    raise row.error("condition", f"{condition!r}: say as-found or as-left")


def _ambient(row: Row) -> list[f.Fact]:
    condition = row.opt("condition") or ""
    screen = {"screen on": True, "screen off": False}.get(condition)
    return [
        f.ReadingRecorded(
            row.text("object"),
            Quantity.AMBIENT,
            row.number("value", row.text("unit")),
            None,
            row.opt("meter"),
            screen_on=screen,
        )
    ]


def _switch(row: Row) -> list[f.Fact]:
    return [f.EquipmentSwitched(row.text("object"), row.text("value"))]


def _sample(row: Row) -> list[f.Fact]:
    return [f.BathSampled(row.text("object"), True if row.opt("condition") == "demagnetised" else None)]


def _tank(row: Row) -> list[f.Fact]:
    return [
        f.ProcessCheckRecorded(
            CheckKind.TANK, row.text("object"), row.text("value") == "no water layer", detail=row.text("value")
        )
    ]


def _water(row: Row) -> list[f.Fact]:
    found = _WATER.match(row.text("value"))
    if not found:
        raise row.error("value", "write temperature and pressure like 68 F / 28 psi")
    supply = row.text("object")
    return [
        f.ReadingRecorded(supply, Quantity.WATER_TEMPERATURE, Number(found["temperature"], "degF")),
        f.ReadingRecorded(supply, Quantity.WATER_PRESSURE, Number(found["pressure"], "psi")),
    ]


def _specks(row: Row) -> list[f.Fact]:
    return [f.ReadingRecorded(row.text("object"), Quantity.SPECKS, row.number("value", "pcs"))]


def _panel(row: Row) -> list[f.Fact]:
    """``Method A line PEN-A-118``: the line, then its batches."""
    condition = row.text("condition")
    words = condition.replace("+", " ").split()
    batches = tuple(word for word in words if _BATCH.match(word))
    line = " ".join(word for word in words if word not in batches)
    seen = row.text("value") == "all seen"
    return [
        f.ProcessCheckRecorded(
            CheckKind.PANEL,
            row.text("object"),
            seen,
            line,
            batches,
            compared_with_reference=True,
            detail=row.text("value"),
        )
    ]


def _concentration(row: Row) -> list[f.Fact]:
    condition = row.opt("condition")
    found = _CONTAMINATION.match(condition) if condition else None
    if condition and not found:
        raise row.error("condition", "write contamination 0.01 subtracted, or leave it empty")
    contamination = Number(found["value"], "mL") if found else None
    return [
        f.ReadingRecorded(
            row.text("object"),
            Quantity.PARTICLE_VOLUME,
            row.number("value", row.text("unit")),
            contamination=contamination,
        )
    ]


def _ring(row: Row, amps: str) -> f.ProcessCheckRecorded:
    """The ring check; whether it passed is for the procedure's limit, so only the count is written down here."""
    return f.ProcessCheckRecorded(
        CheckKind.RING, row.text("object"), True, holes=row.whole("value"), amps=Number(amps, "A")
    )
