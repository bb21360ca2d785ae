"""Lamps as equipment: warm-up, restarts, integrity, battery, service, as-found before cleaning (L06 to L09, L16, L18)."""

from __future__ import annotations

from bisect import bisect_left

from ndi.domain import facts as f
from ndi.domain.moment import duration_text
from ndi.domain.outcome import Outcome, failed, not_applicable, not_recorded, passed, worst
from ndi.domain.vocabulary import CheckKind, Condition, Quantity
from ndi.rules.basket import between
from ndi.rules.inquiry import Inquiry, View, up_to
from ndi.rules.light import after, before, days, each_lamp, reading_at, uv_outcome
from ndi.rules.record import STANDING_KEYS
from ndi.rules.registry import rule


@rule("L06", "Was each lamp warm before it was read and used?", "lamp_warm_up", *STANDING_KEYS, version=2)
def l06_warm_up(q: Inquiry) -> Outcome:
    need = q.minutes("lamp_warm_up")

    def ask(lamp: str, view: View) -> Outcome:
        reading = before(q, lamp, view.start.at)
        outcomes = []
        for moment in [view.start, *([reading.when] if reading else [])]:
            on = q.facts.last(f.EquipmentSwitched, lamp, until=moment.at)
            if on is None:
                return not_recorded(
                    f"{lamp}: switching on not recorded", "scan the lamp when it is switched on", used=view.used
                )
            if on.fact.state != "on":
                return failed(
                    f"{lamp} was switched off at {on.when.clock()}", "switch it on and wait", used=[on, *view.used]
                )
            warm = between(on.when, moment, q.limit("lamp_warm_up"))[0]
            limit = f"at least {q.limit('lamp_warm_up')}"
            if warm < need:
                outcomes.append(
                    failed(
                        f"{lamp} on for {duration_text(warm)}",
                        "wait",
                        found=duration_text(warm),
                        limit=limit,
                        used=[on],
                    )
                )
            else:
                outcomes.append(passed(f"{lamp} on since {on.when.clock()}", limit, [on, reading]))
        return worst(outcomes)

    return each_lamp(q, ask)


@rule("L07", "Mercury lamps: no restart within the warm-up before the view?", "lamp_warm_up", *STANDING_KEYS, version=2)
def l07_no_restart(q: Inquiry) -> Outcome:
    def ask(lamp: str, view: View) -> Outcome:
        entered = q.equipment(lamp)
        if entered is None or entered.fact.lamp_type is None:
            return not_recorded(f"type of {lamp} not in its equipment record", "enter the lamp", used=view.used)
        if entered.fact.lamp_type != "mercury":
            return not_applicable(f"equipment record: {lamp} is {entered.fact.lamp_type}", [entered])
        starts = [r for r in q.facts.of(f.EquipmentSwitched, lamp) if r.at <= view.start.at and r.fact.state == "on"]
        if not starts:
            return not_recorded(f"{lamp}: on and off not recorded", "scan the lamp when it is switched", used=view.used)
        since = between(starts[-1].when, view.start, q.limit("lamp_warm_up"))[0]
        if len(starts) > 1 and since < q.minutes("lamp_warm_up"):
            return failed(f"{lamp} restarted {duration_text(since)} before the view", "wait", used=[starts[-1]])
        return passed(f"{lamp} on since {starts[-1].when.clock()}", used=[starts[-1]])

    return each_lamp(q, ask)


@rule("L08", "Is the integrity check of each lamp not overdue?", "lamp_integrity_interval", *STANDING_KEYS, version=2)
def l08_integrity(q: Inquiry) -> Outcome:
    interval = q.minutes("lamp_integrity_interval")

    def ask(lamp: str, view: View) -> Outcome:
        checks = [
            r
            for r in q.facts.of(f.ProcessCheckRecorded, lamp)
            if r.fact.check == CheckKind.LAMP_INTEGRITY and r.at <= view.start.at
        ]
        if not checks:
            return not_recorded(
                f"{lamp}: integrity never checked", "check filter, elements, visible leak", used=view.used
            )
        last = checks[-1]
        if not last.fact.passed:
            return failed(f"{lamp}: integrity check of {last.when} failed", "take another lamp", used=[last])
        if days(view.start) - days(last.when) > interval:
            return failed(
                f"{lamp}: integrity check was due",
                "check it now",
                found=str(last.when),
                limit=f"every {q.limit('lamp_integrity_interval')}",
                used=[last],
            )
        return passed(f"{lamp} checked {last.when.local.date()}", used=[last])

    return each_lamp(q, ask)


@rule("L09", "Battery lamps: read before and after each use, both in limits?", *STANDING_KEYS, version=2)
def l09_battery(q: Inquiry) -> Outcome:
    def ask(lamp: str, view: View) -> Outcome:
        entered = q.equipment(lamp)
        if entered is None or entered.fact.battery_powered is None:
            return not_recorded(
                f"{lamp}: battery or mains not in its equipment record", "enter the lamp", used=view.used
            )
        if not entered.fact.battery_powered:
            return not_applicable(f"equipment record: {lamp} is mains powered", [entered])
        if view.end is None:
            return not_recorded(f"end of view {view.id} not recorded", "end the view", used=view.used)
        first, closing = before(q, lamp, view.start.at), after(q, lamp, view.end.at)
        if first is None or closing is None:
            return not_recorded(f"{lamp}: reading before or after use missing", "read the lamp", used=[first, closing])
        return worst(uv_outcome(q, reading) for reading in (first, closing))

    return each_lamp(q, ask)


@rule(
    "L16", "Was at least one lamp named, and was each in service in this booth at that time?", *STANDING_KEYS, version=2
)
def l16_lamp_in_service(q: Inquiry) -> Outcome:
    def ask(lamp: str, view: View) -> Outcome:
        status = q.facts.last(f.EquipmentStatusSet, lamp, until=view.start.at)
        entered = q.equipment(lamp)
        if entered is None or entered.fact.kind != "lamp":
            return failed(f"{lamp} is not a lamp of this shop", "press the number of the lamp in use", used=view.used)
        if status is not None and status.fact.state != "in service":
            return failed(
                f"{lamp} {status.fact.state} since {status.when.clock()}: {status.fact.reason}",
                "view again under a lamp in service",
                used=[status, *view.used],
            )
        station, place = view.started.fact.station, entered.fact.place
        if station is not None and place is not None and place != station:
            return failed(
                f"{lamp} belongs to {place}, the view was at {station}",
                "press the number of the lamp in use",
                "enter the lamp at its new place",
                found=place,
                limit=station,
                used=[entered, *view.used],
            )
        return passed(f"{lamp} in service", used=[entered, status])

    return each_lamp(q, ask)


@rule(
    "L18",
    "Was the as-found value of each lamp recorded before cleaning?",
    "shop_day_start",
    "shop_day_end",
    *STANDING_KEYS,
    version=2,
)
def l18_as_found_first(q: Inquiry) -> Outcome:
    def ask(lamp: str, view: View) -> Outcome:
        opens, _ = q.shop_day(view.start)
        readings = up_to(q.readings(lamp, Quantity.UV_A), view.start.at)
        today = readings[bisect_left(readings, opens, key=reading_at) :]
        if not today:
            return not_recorded(
                f"{lamp}: no reading today before {view.start.clock()}", "read the lamp", used=view.used
            )
        if today[0].fact.condition != Condition.AS_FOUND:
            return not_recorded(
                f"{lamp}: only an as-left value today; the dirty value is lost", "tell the Level III", used=[today[0]]
            )
        return passed(f"{lamp} as-found {today[0].when.clock()}", used=[today[0]])

    return each_lamp(q, ask, q.need_views())
