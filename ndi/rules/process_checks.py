"""Process checks (K01 to K20): the calendar of the department, as asked of what one record relied upon.

Each line is a kind of check, the objects of the record that need it, and the
key of its interval; :mod:`ndi.rules.checking` asks the one question.
"""

from __future__ import annotations

from ndi.domain import facts as f
from ndi.domain.outcome import Missing, Outcome, not_applicable, worst
from ndi.domain.vocabulary import CheckKind, Material, Quantity, Step
from ndi.rules import basket as b
from ndi.rules import light, penetrant_line, wet_bath
from ndi.rules.checking import (
    Kind,
    Use,
    as_check,
    as_reading,
    batches,
    baths,
    benches,
    booth_is_dark,
    booths,
    certificates,
    checked,
    gauges,
    items_of,
    lamp_is_bright,
    lamps,
    line_in_use,
    meter_certificates,
    meter_of,
    of_kind,
    panel_shows_all,
    panels,
    penetrants,
    read,
    remover_is_right,
    was_passed,
    within,
)
from ndi.rules.inquiry import Inquiry, up_to
from ndi.rules.record import STANDING_KEYS
from ndi.rules.registry import rule

RECORD_COPIES = "record copies"  # the object under which a restore test is recorded
RESIDUAL_FIELD = "residual field"  # the channel of a gaussmeter


# --- light: K01 to K03, K09, K18 ------------------------------------------------------------------

LAMP_READ = Kind(
    "UV-A reading",
    "lamp_reading_interval",
    lambda q, lamp: q.as_found(lamp, Quantity.UV_A),
    lamp_is_bright,
    "read the lamp",
)
BOOTH_READ = Kind(
    "visible light", "ambient_interval", read(Quantity.AMBIENT), booth_is_dark, "read it with the screen on"
)
LAMP_WHOLE = Kind(
    "integrity check",
    "lamp_integrity_interval",
    of_kind(CheckKind.LAMP_INTEGRITY),
    was_passed,
    "look at filter, elements and visible leak",
)
BOOTH_CLEAN = Kind(
    "cleanliness", "booth_interval", of_kind(CheckKind.BOOTH_CLEAN), was_passed, "clean the booth, tick it"
)


@rule(
    "K01",
    "Was each lamp used read within its interval before, as found, and bright enough?",
    "lamp_reading_interval",
    *STANDING_KEYS,
    version=2,
)
def k01_lamps_read(q: Inquiry) -> Outcome:
    return checked(q, LAMP_READ, lamps(q))


@rule(
    "K02",
    "Was the visible light of each booth used read within its interval before, and low enough?",
    "ambient_interval",
    "ambient_max",
    "guard_band",
    version=2,
)
def k02_booths_dark(q: Inquiry) -> Outcome:
    return checked(q, BOOTH_READ, booths(q))


@rule(
    "K03",
    "Was each lamp used checked for integrity within its interval before, and whole?",
    "lamp_integrity_interval",
    *STANDING_KEYS,
    version=2,
)
def k03_lamps_whole(q: Inquiry) -> Outcome:
    return checked(q, LAMP_WHOLE, lamps(q))


@rule(
    "K09",
    "Were radiometer and light meter of the readings relied on calibrated within their interval, and in date?",
    "light_meter_interval",
    *STANDING_KEYS,
    version=2,
)
def k09_light_meters_calibrated(q: Inquiry) -> Outcome:
    readings = light.opening_readings(q)
    for booth in booths(q):
        readings += up_to(q.readings(booth.object, Quantity.AMBIENT), booth.at.at)[-1:]
    key = "light_meter_interval"
    return worst(meter_certificates(q, meter_of(r, r.fact.object), r.fact.quantity, key) for r in readings)


@rule("K18", "Was each booth used found clean within its interval before?", "booth_interval")
def k18_booths_clean(q: Inquiry) -> Outcome:
    return checked(q, BOOTH_CLEAN, booths(q))


# --- magnetic particle: K04 to K08, K10 -----------------------------------------------------------

BATH_READ = Kind(
    "concentration",
    "bath_valid",
    read(Quantity.PARTICLE_VOLUME),
    lambda q, done: wet_bath.volume_outcome(q, as_reading(done)),
    "draw a sample, let it settle, read it",
)
BATH_DIRT = Kind(
    "contamination check",
    "bath_contamination_interval",
    of_kind(CheckKind.BATH_CONTAMINATION),
    was_passed,
    "look at the layer on the particles",
)
RING = Kind(
    "system performance",
    "system_check_interval",
    of_kind(CheckKind.RING),
    lambda q, done: wet_bath.ring_check_outcome(as_check(done), q.limit("ring_holes_min")),
    "shoot the ring, count the holes",
)
VEHICLE = Kind(
    "vehicle check", "vehicle_interval", of_kind(CheckKind.VEHICLE), was_passed, "check its glow and its viscosity"
)


@rule(
    "K04",
    "Was the concentration of each bath used read within its interval before, and in range?",
    "bath_valid",
    "bath_hard_min",
    "bath_hard_max",
)
def k04_baths_read(q: Inquiry) -> Outcome:
    return checked(q, BATH_READ, baths(q))


@rule(
    "K05",
    "Was the contamination of each bath used checked within its interval before, and met?",
    "bath_contamination_interval",
)
def k05_baths_free_of_dirt(q: Inquiry) -> Outcome:
    return checked(q, BATH_DIRT, baths(q))


@rule(
    "K06",
    "Did each bench used show enough within its interval before?",
    "system_check_interval",
    "ring_holes_min",
)
def k06_benches_perform(q: Inquiry) -> Outcome:
    return checked(q, RING, benches(q))


@rule(
    "K07",
    "Were glow and viscosity of the vehicle of each bath used checked within their interval before, and met?",
    "vehicle_interval",
)
def k07_vehicles_checked(q: Inquiry) -> Outcome:
    return checked(q, VEHICLE, baths(q))


@rule(
    "K08",
    "Were the calibration items of each bench used calibrated within their interval, and in date?",
    "bench_calibration_interval",
    "calibration_items_mt",
)
def k08_benches_calibrated(q: Inquiry) -> Outcome:
    value, key = q.parameter("calibration_items_mt").value, "bench_calibration_interval"
    items = value if isinstance(value, tuple) else (str(value),)
    days = {(use.object, use.at.local.date()): use for use in benches(q)}
    return worst(
        certificates(q, use, item, items_of(q.facts.of(f.CalibrationRecorded, use.object)).get(item, ()), key)
        for use in days.values()
        for item in items
    )


@rule(
    "K10",
    "Was the gaussmeter or field indicator of the residual readings calibrated within its interval, and in date?",
    "gaussmeter_interval",
)
def k10_gaussmeters_calibrated(q: Inquiry) -> Outcome:
    if not q.technique.residual_points:
        return not_applicable(f"technique {q.technique.name} lists no residual point")
    readings = q.facts.of(f.ResidualRead, q.inspection)
    if not readings:
        raise Missing("no residual reading recorded", ["read every listed point"])
    uses = {(r.fact.meter, r.when.local.date()): meter_of(r, r.fact.point) for r in readings}
    return worst(meter_certificates(q, use, RESIDUAL_FIELD, "gaussmeter_interval") for use in uses.values())


# --- penetrant line: K11 to K17 -------------------------------------------------------------------

PANEL = Kind("known-defect panel", "panel_interval", panels, panel_shows_all, "run the panel")
TANK = Kind("look at the tank", "tank_interval", of_kind(CheckKind.TANK), was_passed, "look at the tank, tick")
WATER_CONTENT = Kind(
    "water content",
    "water_content_interval",
    read(Quantity.WATER_CONTENT),
    lambda q, done: within(q, done, most="water_content_max"),
    "test it before the next basket",
)
REMOVABILITY = Kind(
    "removability and sensitivity comparison",
    "removability_interval",
    of_kind(CheckKind.REMOVABILITY),
    was_passed,
    "compare it before the next basket",
)
BRIGHTNESS = Kind(
    "brightness",
    "brightness_interval",
    read(Quantity.BRIGHTNESS),
    lambda q, done: within(q, done, least="brightness_min"),
    "test it before the next basket",
)
REMOVER = Kind(
    "remover concentration",
    "remover_interval",
    read(Quantity.REMOVER_CONCENTRATION),
    remover_is_right,
    "read it with the refractometer",
)
SPECKS = Kind(
    "look at the developer",
    "developer_interval",
    read(Quantity.SPECKS),
    lambda q, done: penetrant_line.specks_outcome(as_reading(done), q.limit("specks_max")),
    "look at a sample under UV-A, count the specks",
)
GAUGE_LIMITS: dict[str, dict[str, str]] = {
    Quantity.DRYER_TEMPERATURE: {"most": "dryer_temperature_max"},
    Quantity.WATER_TEMPERATURE: {"least": "water_temperature_min", "most": "water_temperature_max"},
    Quantity.WATER_PRESSURE: {"most": "water_pressure_max"},
}


@rule(
    "K11",
    "Was the known-defect panel run on this line and these batches within its interval before, and all of it seen?",
    "panel_interval",
)
def k11_panel_run(q: Inquiry) -> Outcome:
    return checked(q, PANEL, line_in_use(q))


@rule("K12", "Was each penetrant tank used looked at within its interval before, and found right?", "tank_interval")
def k12_tanks_looked_at(q: Inquiry) -> Outcome:
    return checked(q, TANK, penetrants(q))


@rule(
    "K13",
    "Were water content (Method A), removability and sensitivity of the penetrant tested within their intervals, and met?",
    "water_content_interval",
    "water_content_max",
    "removability_interval",
)
def k13_penetrant_tested(q: Inquiry) -> Outcome:
    uses = penetrants(q)
    outcomes = [checked(q, REMOVABILITY, uses)]
    if b.removal_method(q) == b.WATER_WASHABLE:
        outcomes.append(checked(q, WATER_CONTENT, uses))
    return worst(outcomes)


@rule(
    "K14",
    "Was the brightness of the penetrant tested within its interval, and high enough?",
    "brightness_interval",
    "brightness_min",
)
def k14_penetrant_bright(q: Inquiry) -> Outcome:
    return checked(q, BRIGHTNESS, penetrants(q))


@rule(
    "K15",
    "Method D: was the remover concentration read within its interval before, and right?",
    "remover_interval",
    "remover_tolerance",
    "remover_concentration_max",
)
def k15_remover_read(q: Inquiry) -> Outcome:
    other = b.only_for(q, b.HYDROPHILIC)
    if other:
        return other
    return checked(q, REMOVER, batches(q, Material.REMOVER, Step.REMOVER))


@rule(
    "K16",
    "Was each developer used looked at within its interval before, with few enough specks?",
    "developer_interval",
    "specks_max",
)
def k16_developer_looked_at(q: Inquiry) -> Outcome:
    return checked(q, SPECKS, batches(q, Material.DEVELOPER, Step.DEVELOP))


@rule(
    "K17",
    "Were dryer and water read within their interval before use, in limits, with gauges in calibration?",
    "gauge_interval",
    "gauge_calibration_interval",
    "dryer_temperature_max",
    "water_temperature_min",
    "water_temperature_max",
    "water_pressure_max",
    "guard_band",
    version=2,
)
def k17_gauges_read(q: Inquiry) -> Outcome:
    return worst(gauge_outcome(q, quantity, use) for quantity, use in gauges(q))


def gauge_outcome(q: Inquiry, quantity: Quantity, use: Use) -> Outcome:
    """The last reading of a gauge before use, and the calibration of the meter that it names (or of the gauge itself)."""
    limits = GAUGE_LIMITS[quantity]
    kind = Kind(
        quantity,
        "gauge_interval",
        read(quantity),
        lambda q, done: within(q, done, guarded=True, **limits),
        "read it before use",
    )
    outcomes = [checked(q, kind, [use])]
    for last in up_to(q.readings(use.object, quantity), use.at.at)[-1:]:
        gauge = Use(last.fact.meter or use.object, last.when, (last,))
        outcomes.append(meter_certificates(q, gauge, quantity, "gauge_calibration_interval"))
    return worst(outcomes)


# --- clocks and copies: K19, K20 ------------------------------------------------------------------

CLOCKS = Kind(
    "clock offset",
    "clock_interval",
    of_kind(CheckKind.CLOCK_OFFSET),
    was_passed,
    "photograph the screen clock, compare",
)
RESTORE = Kind(
    "restore test",
    "restore_interval",
    of_kind(CheckKind.RESTORE),
    was_passed,
    "restore a copy elsewhere, check its chain",
)


@rule(
    "K19",
    "Were the clocks of station and camera compared within their interval before they timed this record?",
    "clock_interval",
)
def k19_clocks_compared(q: Inquiry) -> Outcome:
    uses = booths(q)
    for photo in q.facts.of(f.PhotoAttached, q.inspection):
        if photo.fact.camera is None:
            raise Missing(
                f"no camera named for the photograph of {photo.fact.taken_at}", ["name the camera"], [photo.position]
            )
        # the offset must be known by the time the photograph stands in the record with its corrected time
        uses.append(Use(photo.fact.camera, max(photo.fact.taken_at, photo.when, key=lambda m: m.at), (photo,)))
    return checked(q, CLOCKS, uses)


@rule(
    "K20",
    "Was a copy of the record book restored and its chain checked within the interval before this record?",
    "restore_interval",
)
def k20_copies_restored(q: Inquiry) -> Outcome:
    return checked(q, RESTORE, [Use(RECORD_COPIES, q.opened.when, (q.opened,))])
