"""Hand-made facts for tests: a small language for times, entries, procedures and inquiries."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta
from itertools import count
from typing import Any

from ndi.domain import facts as f
from ndi.domain.answer import Answer, Severity
from ndi.domain.entry import Obtained, Recorded
from ndi.domain.fact_set import FactSet
from ndi.domain.moment import Moment, Precision
from ndi.domain.parameter_keys import KEYS
from ndi.domain.procedure import (
    NominalShot,
    Parameter,
    PartMaster,
    Procedure,
    RequiredMethod,
    RuleSetting,
    Technique,
    Zone,
    ZoneLimit,
)
from ndi.domain.quantity import Number
from ndi.rules import registry
from ndi.rules.inquiry import Inquiry

OFFSET = -300
DAY = "2026-03-10"
_positions = count(1)

PARAMETERS: dict[str, str | bool | tuple[str, ...]] = {
    "uv_min": "1000 uW/cm2",
    "uv_at_part_min": "1000 uW/cm2",
    "uv_at_part_max": "10000 uW/cm2",
    "white_light_min": "100 fc",
    "uv_distance": "15 in",
    "uv_distance_tolerance": "0.5 in",
    "ambient_max": "2.0 fc",
    "ambient_removal_max": "100 lx",
    "uv_removal_min": "100 uW/cm2",
    "lamp_warm_up": "5 min",
    "lamp_integrity_interval": "7 d",
    "lamp_gap_max": "24 h",
    "accept_needs_bracket": False,
    "trend_tolerance": "5 %",
    "trend_readings": "8 pcs",
    "same_value_limit": "4 pcs",
    "dark_adapt_min": "60 s",
    "view_stretch_max": "120 min",
    "view_break_min": "10 min",
    "view_pace_min": "50 %",
    "typed_late_after": "15 min",
    "shop_day_start": "06:00",
    "shop_day_end": "21:00",
    "warn_expiry": "30 d",
    "photo_time_tolerance": "10 min",
    "second_look_on_clean_percent": "0 %",
    "bath_hard_min": "0.10 mL",
    "bath_hard_max": "0.40 mL",
    "bath_working_min": "0.15 mL",
    "bath_working_max": "0.30 mL",
    "settling_time": "60 min",
    "bath_valid": "8 h",
    "agitation_min": "30 min",
    "agitation_off": "4 h",
    "bath_contamination_interval": "7 d",
    "vehicle_interval": "31 d",
    "calibration_items_mt": ("ammeter", "shot timer", "quick break"),
    "ring_holes_min": "5 holes",
    "amps_tolerance": "10 %",
    "pulses_min": "2 pcs",
    "pulse_min": "0.5 s",
    "pulse_max": "1.5 s",
    "residual_max": "3 G",
    "last_direction": "longitudinal",
    "cross_field_min": "60 deg",
    "coil_ld_min": "3 pcs",
    "tangential_min": "30 G",
    "tangential_max": "60 G",
    "bath_age_max": "30 d",
    "wetting_temperature_min": "40 degF",
    "wetting_temperature_max": "125 degF",
    "dwell_base": "30 min",
    "dwell_max": "120 min",
    "dwell_service_induced": True,
    "dwell_band_edge": "middle",
    "immersed_share_max": "50 %",
    "prewash_max": "60 s",
    "remover_min": "10 s",
    "remover_max": "120 s",
    "rinse_max": "60 s",
    "remover_tolerance": "3 %",
    "remover_concentration_max": "35 %",
    "remover_interval": "7 d",
    "wash_per_part_max": "180 s",
    "water_temperature_min": "50 degF",
    "water_temperature_max": "100 degF",
    "water_pressure_max": "40 psi",
    "nozzle_distance_min": "12 in",
    "air_pressure_max": "25 psi",
    "wash_to_dryer_max": "10 min",
    "dryer_temperature_max": "160 degF",
    "dryer_time_max": "30 min",
    "dryer_to_developer_max": "30 min",
    "develop_min": "10 min",
    "develop_max": "240 min",
    "redevelop_min": "10 min",
    "wipes_max": "2 pcs",
    "rewets_max": "1 pcs",
    "wet_total_max": "240 min",
    "attempts_max": "3 pcs",
    "specks_max": "10 pcs",
    "water_content_interval": "31 d",
    "water_content_max": "5 %",
    "brightness_interval": "92 d",
    "brightness_min": "90 %",
    "removability_interval": "31 d",
    "linear_ratio": "3 pcs",
    "group_count": "4 pcs",
    "group_gap": "0.0625 in",
    "group_straightness": "0.010 in",
    "size_agreement": "0.03 in",
    "size_agreement_share": "20 %",
    "same_place_distance": "0.25 in",
    "same_place_angle": "15 deg",
    "alert_count": "3 pcs",
    "alert_window": "90 d",
    "lunch_margin": "15 min",
    "lamp_reading_interval": "0 d",
    "ambient_interval": "0 d",
    "system_check_interval": "0 d",
    "bench_calibration_interval": "184 d",
    "light_meter_interval": "366 d",
    "gaussmeter_interval": "366 d",
    "panel_interval": "0 d",
    "tank_interval": "0 d",
    "developer_interval": "0 d",
    "gauge_interval": "0 d",
    "gauge_calibration_interval": "184 d",
    "booth_interval": "0 d",
    "clock_interval": "0 d",
    "restore_interval": "7 d",
}


def num(text: str) -> Number:
    """``num("1490 uW/cm2")``."""
    typed, unit = text.split(" ", 1)
    return Number(typed, unit)


def at(text: str, day: str = DAY, *, offset: int = OFFSET, precision: Precision = Precision.SECOND) -> Moment:
    """A local time of the demo day (or of another day), ``HH:MM`` or ``HH:MM:SS``, as a Moment."""
    local = datetime.fromisoformat(f"{day}T{text if text.count(':') == 2 else text + ':00'}").replace(tzinfo=UTC)
    return Moment(local - timedelta(minutes=offset), offset, precision)


def rec(
    fact: f.Fact,
    when: str | Moment,
    by: str = "L2-A",
    *,
    how: Obtained = Obtained.TIMER,
    recorded: Moment | None = None,
    why: str | None = None,
    day: str = DAY,
) -> Recorded[f.Fact]:
    """A fact as the book would return it, recorded when it happened unless told otherwise."""
    moment = at(when, day) if isinstance(when, str) else when
    position = next(_positions)
    return Recorded(fact, moment, by, how, (recorded or moment).at, position, f"test-{position:06d}", why=why)


def parameters(**changed: str | bool | tuple[str, ...] | None) -> dict[str, Parameter]:
    """The demo parameters; a key set to None is left out."""
    table = {}
    for key, value in {**PARAMETERS, **changed}.items():
        if value is None:
            continue
        typed: Any = value
        if isinstance(value, str) and KEYS[key].unit not in ("word", "yes/no"):
            typed = num(value)
        table[key] = Parameter(key, typed, "5.1", "from memory")
    return table


def procedure(method: str = "PT", number: str | None = None, revision: str = "D", **changed: Any) -> Procedure:
    """A revision that asks every rule of the program; parameters may be changed or left out (None)."""
    rules = {rule_id: RuleSetting(rule_id, Severity.BLOCK, "5.1", ()) for rule_id in registry.load_all()}
    return Procedure(
        number or f"{method}-P-01",
        revision,
        f"{method} demo",
        method,
        date(2026, 1, 15),
        None,
        "NL3-E",
        ("test",),
        parameters(**changed),
        rules,
        (
            "class 1 relevant",
            "class 1 nonrelevant",
            "class 1 false",
            "reject",
            "rework order",
            "rework closing",
            "hold release",
            "scrap",
        ),
    )


def shot(number: int, direction: str, amps: str = "1000 A", kind: str | None = None, **more: Any) -> NominalShot:
    kind = kind or ("head" if direction == "circular" else "coil")
    turns = more.pop("turns", 5 if kind == "coil" else None)
    return NominalShot(number, kind, direction, num(amps), "FWDC", "continuous", 2, turns, **more)


def technique(
    method: str = "PT", number: str = "T-1", applies_to: tuple[str, ...] = ("PN-1",), **changed: Any
) -> Technique:
    """A technique with two zones; MT gets a circular and a longitudinal shot and two residual points."""
    base: dict[str, Any] = {
        "number": number,
        "revision": "2",
        "method": method,
        "procedure": f"{method}-P-01",
        "applies_to": applies_to,
        "effective_from": date(2026, 1, 15),
        "approved_by": "NL3-E",
        "zones": ("Z1", "Z2"),
        "post_process": ("clean", "dry"),
    }
    if method == "MT":
        base |= {
            "shots": (shot(1, "circular", group="all"), shot(2, "longitudinal", "600 A", group="all")),
            "residual_points": ("flange", "pin"),
            "post_process": ("demag", "clean", "dry", "preserve"),
        }
    else:
        base |= {"type": "1", "pt_method": "A", "sensitivity": "2", "developer_form": "a"}
    return Technique(**{**base, **changed})


def zone(code: str, *, ferromagnetic: bool = False, limits: tuple[ZoneLimit, ...] | None = None) -> Zone:
    square = tuple((Number(x, "mm"), Number(y, "mm")) for x, y in (("0", "0"), ("10", "0"), ("10", "10"), ("0", "10")))
    none_allowed = (ZoneLimit("any", None, "LS-1 rev 1"),)
    material = "steel" if ferromagnetic else "aluminium"
    return Zone(code, code.title(), material, ferromagnetic, square, none_allowed if limits is None else limits)


def master(method: str = "PT", number: str = "PN-1", item_class: int = 1, **changed: Any) -> PartMaster:
    steel = method == "MT"
    base: dict[str, Any] = {
        "number": number,
        "description": "Test part",
        "item_class": item_class,
        "serialised": True,
        "models": ("Tavelin 6H-515",),
        "required": (RequiredMethod("all", method, "T-1", ("Z1", "Z2")),),
        "zones": (zone("Z1", ferromagnetic=steel), zone("Z2", ferromagnetic=steel)),
        "alloy": None if steel else "aluminium",
        "coating": Number("0", "in"),
    }
    return PartMaster(**{**base, **changed})


def opened(method: str = "PT", when: str = "07:30", inspection: str = "X-001", **changed: Any) -> Recorded[f.Fact]:
    base: dict[str, Any] = {
        "inspection": inspection,
        "part": "W26-0148/PN-1/S-1",
        "work_order": "W26-0148",
        "quantity": 1,
        "method": method,
        "technique": "T-1",
        "technique_revision": "2",
        "procedure": f"{method}-P-01",
        "procedure_revision": "D",
        "inspector": "L2-A",
        "station": f"{method} booth",
    }
    return rec(f.InspectionOpened(**{**base, **changed}), when)


def inquiry(method: str, facts: Iterable[Recorded[f.Fact]], asked: str | Moment = "17:00", **changed: Any) -> Inquiry:
    """An inquiry about ``X-001``; ``parameters`` changes procedure values, other names the inquiry's fields."""
    values = changed.pop("parameters", {})
    every = list(facts)
    if not any(isinstance(r.fact, f.InspectionOpened) for r in every):
        every.insert(0, opened(method))
    base: dict[str, Any] = {
        "inspection": "X-001",
        "facts": FactSet(every),
        "procedure": procedure(method, **values),
        "technique": technique(method),
        "master": master(method),
        "asked": at(asked) if isinstance(asked, str) else asked,
    }
    return Inquiry(**{**base, **changed})


def ask(
    rule_id: str, method: str, facts: Iterable[Recorded[f.Fact]], asked: str | Moment = "17:00", **changed: Any
) -> Answer:
    """Ask one rule of hand-made facts."""
    registry.load_all()
    return registry.answer(rule_id, inquiry(method, facts, asked, **changed))


def view(
    start: str,
    end: str | None,
    lamps: tuple[str, ...] = ("LP-1",),
    name: str = "V1",
    person: str = "L2-A",
    **changed: Any,
) -> list[Recorded[f.Fact]]:
    """Start and (unless None) end of a view of ``X-001``."""
    zones = changed.pop("zones", ("Z1", "Z2"))
    nothing = changed.pop("nothing_seen", True)
    base: dict[str, Any] = {"kind": "first", "station": "MT booth"}
    found = [rec(f.ViewStarted(name, "X-001", person, lamps, **{**base, **changed}), start, person)]
    if end is not None:
        found.append(rec(f.ViewEnded(name, "X-001", zones, nothing), end, person))
    return found


def lamp_reading(lamp: str, when: str, value: str = "1490", day: str = DAY, **changed: Any) -> Recorded[f.Fact]:
    base: dict[str, Any] = {"condition": "as-found", "meter": "RM-1", "distance": num("15 in")}
    reading = f.ReadingRecorded(lamp, "UV-A at 15 in", num(f"{value} uW/cm2"), **{**base, **changed})
    return rec(reading, when, "L1-D", how=Obtained.TYPED_LIVE, day=day)


def meter(
    asset: str = "RM-1", done: date = date(2025, 9, 20), due: date = date(2026, 9, 20), **changed: Any
) -> Recorded[f.Fact]:
    fact = f.CalibrationRecorded(asset, "certificate", done, due, "in tolerance", **changed)
    return rec(fact, "12:00", "SUP-F", how=Obtained.TRANSCRIBED, day=done.isoformat())


def lamp(asset: str = "LP-1", **changed: Any) -> Recorded[f.Fact]:
    base: dict[str, Any] = {"kind": "lamp", "battery_powered": False, "lamp_type": "LED"}
    return rec(f.EquipmentEntered(asset, **{**base, **changed}), "06:00", "SUP-F", day="2026-01-02")
