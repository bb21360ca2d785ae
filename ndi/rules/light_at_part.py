"""Light where the part is: UV-A and white light on its surface, and at the removal station (L04, L14, L15, L17).

A reading at the part belongs to one view: it is taken in it or while the part is
set up for it, after the view before has ended.  Of several at one zone the last counts.
"""

from __future__ import annotations

from collections.abc import Callable

from ndi.domain.fact_set import happened_between
from ndi.domain.moment import Moment
from ndi.domain.outcome import Missing, Outcome, failed, not_applicable, not_recorded, not_yet, passed, worst
from ndi.domain.quantity import Number, shown
from ndi.domain.vocabulary import Quantity
from ndi.rules.guard_band import Limit, limit_for
from ndi.rules.inquiry import Inquiry, View, up_to
from ndi.rules.light import Reading, meter_outcome
from ndi.rules.registry import rule

SHOP_DAY = ("shop_day_start", "shop_day_end")


# --- UV-A on the surface --------------------------------------------------------------------------


def at_part(q: Inquiry, view: View) -> dict[str, Reading]:
    """For each zone (empty text: not named) the last UV-A reading on the part's surface that belongs to a view."""
    opens, _ = q.shop_day(view.start)
    before = [other.end.at for other in q.all_views if other.end is not None and other.end.at <= view.start.at]
    since, until = max([opens, *before]), view.end or q.asked
    readings = up_to(q.readings(q.inspection, Quantity.UV_A_AT_PART), until.at)
    return {r.fact.zone or "": r for r in readings if since <= r.at}


def each_zone(q: Inquiry, ask: Callable[[Reading], Outcome], *, others: bool) -> Outcome:
    """One outcome over the zones that the technique wants read, in each view; ``others`` asks of other readings too."""
    outcomes = []
    for view in q.need_views():
        found = at_part(q, view)
        outcomes += [
            ask(found[zone]) if zone in found else zone_not_read(view, zone) for zone in q.technique.uv_at_part
        ]
        if others:
            outcomes += [ask(reading) for zone, reading in found.items() if zone not in q.technique.uv_at_part]
    if not outcomes:
        return not_applicable(f"technique {q.technique.name} asks for no UV-A reading at the part")
    return worst(outcomes)


def zone_not_read(view: View, zone: str) -> Outcome:
    """A zone that the technique wants read, without a reading in a view; while the view runs it can still be read."""
    says, way = f"UV-A on the surface of {zone} not read in view {view.id}", f"lay the meter on {zone}, read it"
    if view.end is None:
        return not_yet(says, f"{way} before the view ends", used=view.used)
    return not_recorded(says, way, "view again", used=view.used)


@rule(
    "L04",
    "Is the UV-A on the part's surface at or above its minimum in every zone that the technique wants read?",
    "uv_at_part_min",
    "guard_band",
    *SHOP_DAY,
    version=2,
)
def l04_uv_a_at_part(q: Inquiry) -> Outcome:
    def ask(reading: Reading) -> Outcome:
        least = q.limit("uv_at_part_min")
        value, zone = q.value(reading, least.unit), reading.fact.zone
        found, limit = f"{zone} {shown(value, least.unit)}", limit_for(q, reading, least)
        if limit.is_broken_by(value):
            return failed(
                f"{zone}: {shown(value, least.unit)} on the surface",
                "bring the lamp nearer or take another, read again",
                "view again",
                found=found,
                limit=limit.text,
                used=[reading],
            )
        return by_its_meter(q, reading, found, limit)

    return each_zone(q, ask, others=False)


def by_its_meter(q: Inquiry, reading: Reading, found: str, limit: Limit) -> Outcome:
    """A reading that breaks no limit passes where its meter was in calibration and its guard band is known."""
    meter = meter_outcome(q, reading)
    if meter.verdict != "PASS":
        return meter
    return limit.unknown or passed(found, limit.text, [reading])


@rule(
    "L17",
    "Is the UV-A on the part's surface not above its maximum?",
    "uv_at_part_max",
    "guard_band",
    *SHOP_DAY,
    version=2,
)
def l17_uv_a_at_part_not_too_strong(q: Inquiry) -> Outcome:
    def ask(reading: Reading) -> Outcome:
        most = q.limit("uv_at_part_max")
        value, zone = q.value(reading, most.unit, high_is_bad=True), reading.fact.zone or "the part"
        found, limit = f"{zone} {shown(value, most.unit)}", limit_for(q, reading, most, high_is_bad=True)
        if limit.is_broken_by(value):
            return failed(
                f"{zone}: {shown(value, most.unit)} on the surface: penetrant fades, metal glares",
                "take the lamp farther away, read again",
                found=found,
                limit=limit.text,
                used=[reading],
            )
        return limit.unknown or passed(found, limit.text, [reading])

    return each_zone(q, ask, others=True)


# --- white light ----------------------------------------------------------------------------------


@rule(
    "L14",
    "Was the white light strong enough where something was looked at under it?",
    "white_light_min",
    "guard_band",
    *SHOP_DAY,
    version=2,
)
def l14_white_light(q: Inquiry) -> Outcome:
    looks: list[tuple[str, str | None, Moment, bool]] = []  # what, where, when at the latest, still running
    if q.technique.white_light:
        looks += [(f"view {v.id}", v.started.fact.station, v.end or q.asked, v.end is None) for v in q.need_views()]
    for indication in q.indications:
        if indication.seen.fact.seen_under == Quantity.WHITE_LIGHT:
            looks.append((indication.id, station_at(q, indication.seen.when), indication.seen.when, False))
    if not looks:
        return not_applicable(
            f"technique {q.technique.name} asks for no white light, and no indication was looked at under it"
        )
    return worst(white_light_outcome(q, q.limit("white_light_min"), *look) for look in looks)


def station_at(q: Inquiry, moment: Moment) -> str | None:
    """Where the part was being viewed at a moment, else the station of the record."""
    views = [v for v in q.all_views if v.start.at <= moment.at and (v.end is None or moment.at <= v.end.at)]
    return views[-1].started.fact.station if views else q.opened.fact.station


def white_light_outcome(
    q: Inquiry, least: Number, what: str, station: str | None, moment: Moment, running: bool
) -> Outcome:
    """The last white-light reading of the day at or before a look, at the part or at its station."""
    opens, _ = q.shop_day(moment)
    readings = [r for key in (q.inspection, station) if key for r in q.readings(key, Quantity.WHITE_LIGHT)]
    today = sorted((r for r in readings if opens <= r.at <= moment.at), key=lambda r: (r.at, r.position))
    if not today:
        says = f"{what}: white light not read today before {moment.clock()}"
        if running:
            return not_yet(says, "read it at the part before the view ends")
        return not_recorded(says, "read it at the part, look again")
    reading = today[-1]
    value = q.value(reading, least.unit)
    found, limit = f"{reading.fact.object} {shown(value, least.unit)}", limit_for(q, reading, least)
    if limit.is_broken_by(value):
        return failed(
            f"{what}: white light of {shown(value, least.unit)} at {reading.when.clock()}",
            "bring more light, read again",
            "look again",
            found=found,
            limit=limit.text,
            used=[reading],
        )
    return by_its_meter(q, reading, found, limit)


# --- removal station ------------------------------------------------------------------------------


@rule(
    "L15",
    "Was the light of the removal station read this shift and in limits?",
    "uv_removal_min",
    "ambient_removal_max",
    "guard_band",
    *SHOP_DAY,
    version=2,
)
def l15_removal_station(q: Inquiry) -> Outcome:
    washed = q.step("wash").started
    if washed is None:
        raise Missing("wash not recorded", ["wash the basket and scan it"])
    opens, _ = q.shop_day(washed.when)
    line = q.equipment(q.basket.fact.line)
    if line is None or line.fact.wash_station is None:
        raise Missing(f"{q.basket.fact.line}: wash station not in its equipment record", ["enter it"])
    station = line.fact.wash_station

    def last_of(quantity: str) -> Reading:
        found = happened_between(q.readings(station, quantity), opens, washed.at)
        if not found:
            raise Missing(f"{station}: {quantity} not read today before {washed.when.clock()}", ["read it"])
        return found[-1]

    uv, ambient = last_of(Quantity.UV_A_AT_PART), last_of(Quantity.AMBIENT)
    least, most = q.limit("uv_removal_min"), q.limit("ambient_removal_max")
    uv_value, ambient_value = q.value(uv, least.unit), q.value(ambient, most.unit, high_is_bad=True)
    found = f"{shown(uv_value, least.unit)}, {shown(ambient_value, most.unit)}"
    low, high = limit_for(q, uv, least), limit_for(q, ambient, most, high_is_bad=True)
    limit = f"{low.text}, {high.text}"
    if low.is_broken_by(uv_value) or high.is_broken_by(ambient_value):
        return failed(f"{station}: {found}", "mend the light, wash again", found=found, limit=limit, used=[uv, ambient])
    return low.unknown or high.unknown or passed(found, limit, [uv, ambient])
