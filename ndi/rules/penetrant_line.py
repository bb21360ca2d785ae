"""Process checks of the penetrant line before the first part was wetted (P28 to P34)."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from fractions import Fraction

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.fact_set import happened_between
from ndi.domain.moment import Moment
from ndi.domain.outcome import Missing, Outcome, failed, not_recorded, passed, worst
from ndi.domain.quantity import Number, shown
from ndi.domain.vocabulary import CheckKind, Material, Quantity, Step
from ndi.rules import basket as b
from ndi.rules.inquiry import Inquiry
from ndi.rules.registry import rule

Batch = Recorded[f.BatchEntered]
Check = Recorded[f.ProcessCheckRecorded]


def each_penetrant(q: Inquiry, ask: Callable[[Batch, Moment], Outcome]) -> Outcome:
    """One outcome over every penetrant batch in the line, at the first wetting."""
    wetted = b.first_wetting(q)
    return worst(ask(batch, wetted) for batch in b.batches(q, Material.PENETRANT))


def checks_until(q: Inquiry, object_: str, kind: CheckKind, until: Moment) -> list[Check]:
    """Checks of one kind on an object or line, not later than a moment."""
    return _checks(q, object_, kind, None, until)


def _checks(q: Inquiry, object_: str, kind: CheckKind, since: datetime | None, until: Moment) -> list[Check]:
    return [
        r
        for r in happened_between(q.facts.of(f.ProcessCheckRecorded, object_), since, until.at)
        if r.fact.check == kind
    ]


def panel_check(q: Inquiry) -> Check:
    """Today's panel check of the line before the first wetting, with the batches in its tanks; else Missing."""
    wetted, name = b.first_wetting(q), q.basket.fact.line
    opens, _ = q.shop_day(wetted)
    today = _checks(q, name, CheckKind.PANEL, opens, wetted)
    if not today:
        raise Missing(f"no panel result of {name} today before {wetted.clock()}: line not released", ["run the panel"])
    return with_batches_in_use(q, today)[-1]


def with_batches_in_use(q: Inquiry, checks: list[Check]) -> list[Check]:
    """Those of some panel checks of the line, by time, that were run with the batches in its tanks; Missing if none was."""
    held = b.batches(q)
    in_tanks = {batch.fact.batch for batch in held}
    proven = {batch.fact.batch for batch in held if batch.fact.material in (Material.PENETRANT, Material.REMOVER)}
    same = [r for r in checks if proven <= set(r.fact.batches) <= in_tanks]
    if not same and checks:
        last = checks[-1]
        raise Missing(
            f"panel of {q.basket.fact.line} at {last.when.clock()} was run on {', '.join(last.fact.batches) or 'no named batch'}, "
            f"not on {', '.join(sorted(proven))}",
            ["run the panel with the batches in use"],
            [last.position],
        )
    return same


@rule(
    "P28",
    "Did the known-defect panel pass today on this line and these batches before the first wetting?",
    "shop_day_start",
    "shop_day_end",
)
def p28_panel_passed(q: Inquiry) -> Outcome:
    return panel_outcome(panel_check(q))


def panel_outcome(check: Check) -> Outcome:
    """Whether a panel showed all that it must."""
    panel, clock = check.fact.object, check.when.clock()
    if not check.fact.passed:
        return failed(
            f"panel {panel} did not pass at {clock}",
            "stop the line, tell the Level III",
            found=check.fact.detail or "not all seen",
            used=[check],
        )
    return passed(f"panel {panel} {clock}", used=[check])


@rule("P29", "Was the panel compared with its reference, and all of it seen?", "shop_day_start", "shop_day_end")
def p29_panel_compared(q: Inquiry) -> Outcome:
    return comparison_outcome(panel_check(q))


def comparison_outcome(check: Check) -> Outcome:
    """Whether a panel was held against its reference and showed all of it."""
    compared = check.fact.compared_with_reference
    if compared is None:
        return not_recorded(
            f"{check.fact.object}: not stated whether it was compared with its reference",
            "compare it, tick",
            used=[check],
        )
    if not compared:
        return failed(
            f"{check.fact.object} was not compared with its reference", "compare it", found="no", used=[check]
        )
    if not check.fact.passed:
        says = f"{check.fact.object} does not show what its reference shows: {check.fact.detail or 'not all seen'}"
        return failed(
            says,
            "find the cause before anything else is wetted",
            found=check.fact.detail or "not all seen",
            used=[check],
        )
    return passed(f"{check.fact.object} compared {check.when.clock()}", used=[check])


@rule(
    "P30",
    "Was the developer looked at today, with few enough fluorescent specks?",
    "specks_max",
    "shop_day_start",
    "shop_day_end",
)
def p30_developer_specks(q: Inquiry) -> Outcome:
    start, most = b.need_runs(q, Step.DEVELOP)[0].first_start, q.limit("specks_max")

    def ask(batch: Batch) -> Outcome:
        name = batch.fact.batch
        reading = b.today(q, start, q.readings(name, Quantity.SPECKS))
        if reading is None:
            return not_recorded(
                f"{name} not looked at today before {start.clock()}",
                "look at a sample under UV-A, count the specks",
                used=[batch],
            )
        return specks_outcome(reading, most)

    return worst(ask(batch) for batch in b.batches(q, Material.DEVELOPER))


def specks_outcome(reading: Recorded[f.ReadingRecorded], most: Number) -> Outcome:
    """Fluorescent specks of a developer against their maximum."""
    value = reading.fact.value.in_unit(most.unit)
    return b.bounded(
        f"{reading.fact.object}: specks", value, most.unit, "change the developer", most=most, used=[reading]
    )


@rule("P31", "Was the penetrant tank looked at today before the first wetting?", "shop_day_start", "shop_day_end")
def p31_tank_look(q: Inquiry) -> Outcome:
    def ask(batch: Batch, wetted: Moment) -> Outcome:
        opens, _ = q.shop_day(wetted)
        today = _checks(q, batch.fact.batch, CheckKind.TANK, opens, wetted)
        if not today:
            return not_recorded(
                f"tank of {batch.fact.batch} not looked at today before {wetted.clock()}",
                "look at the tank, tick",
                used=[batch],
            )
        look = today[-1]
        if not look.fact.passed:
            return failed(
                f"tank of {batch.fact.batch}: {look.fact.detail or 'look not passed'}",
                "stop the line, tell the Level III",
                used=[look],
            )
        return passed(f"{batch.fact.batch} looked at {look.when.clock()}", used=[look])

    return each_penetrant(q, ask)


@rule(
    "P32",
    "Method A: is the water content of the penetrant within its maximum, and its check not overdue?",
    "water_content_max",
    "water_content_interval",
)
def p32_water_content(q: Inquiry) -> Outcome:
    other = b.only_for(q, b.WATER_WASHABLE)
    if other:
        return other
    most, interval = q.limit("water_content_max"), q.limit("water_content_interval")
    return each_penetrant(
        q, lambda batch, wetted: periodic_reading(q, batch, wetted, Quantity.WATER_CONTENT, interval, most=most)
    )


@rule(
    "P33",
    "Is the brightness of the penetrant at or above its minimum, and its check not overdue?",
    "brightness_min",
    "brightness_interval",
)
def p33_brightness(q: Inquiry) -> Outcome:
    least, interval = q.limit("brightness_min"), q.limit("brightness_interval")
    return each_penetrant(
        q, lambda batch, wetted: periodic_reading(q, batch, wetted, Quantity.BRIGHTNESS, interval, least=least)
    )


def periodic_reading(
    q: Inquiry,
    batch: Batch,
    wetted: Moment,
    quantity: Quantity,
    interval: Number,
    *,
    least: Number | None = None,
    most: Number | None = None,
) -> Outcome:
    """The last reading of a batch before wetting: recent enough, and within its limit."""
    name = batch.fact.batch
    readings = [r for r in q.readings(name, quantity) if r.at <= wetted.at]
    if not readings:
        return not_recorded(f"{quantity} of {name} never read", "test it before the next basket", used=[batch])
    last = readings[-1]
    if b.overdue(last.when, wetted, interval):
        return not_recorded(
            f"{name}: last {quantity} {last.when.local.date()}, due every {interval}",
            "test it before the next basket",
            used=[last],
        )
    unit = (least or most or last.fact.value).unit
    return b.bounded(
        f"{name}: {quantity}",
        last.fact.value.in_unit(unit),
        unit,
        "replace the penetrant; list the parts since the last in-limit test",
        least=least,
        most=most,
        used=[last],
    )


@rule(
    "P34",
    "Is the removability and sensitivity comparison of the penetrant passed and not overdue?",
    "removability_interval",
)
def p34_removability(q: Inquiry) -> Outcome:
    interval = q.limit("removability_interval")

    def ask(batch: Batch, wetted: Moment) -> Outcome:
        name, done = batch.fact.batch, checks_until(q, batch.fact.batch, CheckKind.REMOVABILITY, wetted)
        if not done:
            return not_recorded(
                f"removability of {name} never compared", "compare it before the next basket", used=[batch]
            )
        last = done[-1]
        if not last.fact.passed:
            return failed(
                f"{name}: comparison of {last.when.local.date()} did not pass", "replace the penetrant", used=[last]
            )
        if b.overdue(last.when, wetted, interval):
            days = wetted.local.toordinal() - last.when.local.toordinal()
            return not_recorded(
                f"{name}: last comparison {last.when.local.date()}, {shown(Fraction(days))} d ago, due every {interval}",
                "compare it before the next basket",
                used=[last],
            )
        return passed(f"{name} compared {last.when.local.date()}", f"every {interval}", [last])

    return each_penetrant(q, ask)
