"""Rework: depth and dimensions against their limits, and the inspection that closes it (D10, D11)."""

from __future__ import annotations

from fractions import Fraction

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.outcome import Missing, Outcome, failed, not_applicable, not_recorded, not_yet, passed, worst
from ndi.domain.quantity import shown
from ndi.rules.inquiry import Inquiry
from ndi.rules.registry import rule


def rework_of(q: Inquiry) -> tuple[Recorded[f.ReworkOrdered], Recorded[f.ReworkDone] | None] | None:
    """The rework that this record ordered, or that it re-inspects; with its completion if recorded."""
    inspection = q.opened.fact.previous if q.opened.fact.reason == "rework" else q.inspection
    ordered = [r for r in q.facts.of(f.ReworkOrdered, q.part) if r.fact.inspection == inspection]
    if not ordered:
        return None
    done = [r for r in q.facts.of(f.ReworkDone, q.part) if r.fact.inspection == inspection]
    return ordered[-1], done[-1] if done else None


def no_rework(q: Inquiry) -> Outcome:
    """Nothing to ask of a record without rework; a re-inspection after a rework that nobody recorded closes nothing."""
    if q.opened.fact.reason == "rework":
        says = f"opened as re-inspection after rework of {q.opened.fact.previous or 'no record named'}: no rework ordered there"
        return not_recorded(says, "order the rework, measure, inspect again", used=[q.opened])
    return not_applicable("no rework ordered on this record")


@rule(
    "D10",
    "Rework: is the depth, alone and over the part's life, within its limit, and the remaining dimension within the column chosen?",
    version=2,
)
def d10_rework_within_limits(q: Inquiry) -> Outcome:
    rework = rework_of(q)
    if rework is None:
        return no_rework(q)
    ordered, done = rework
    if done is None:
        return not_yet("rework not completed", "complete it and measure", used=[ordered])
    if done.fact.depth is None or not done.fact.dimensions:
        return not_recorded("depth or remaining dimension not measured", "measure both", used=[ordered, done])
    zone = q.master.zone(done.fact.zone)
    depths = [z.blend_depth for z in zone.limits if z.blend_depth is not None] if zone else []
    if not depths:
        return not_recorded(f"zone {done.fact.zone}: no blend depth in the data", "hold for engineering", used=[done])
    limit = depths[0]
    life = reworks_of_life(q, done)
    total = sum((r.fact.depth.in_unit("in") for r in life if r.fact.depth), Fraction(0))
    outcomes = [dimension_outcome(q, done, dimension) for dimension in done.fact.dimensions]
    found = f"depth {shown(total, 'in')} over {len(life)} rework(s)"
    if total > limit.in_unit("in"):
        outcomes.append(
            failed(
                f"{found} is more than {limit}",
                "reject",
                "hold for engineering",
                found=found,
                limit=f"at most {limit}",
                used=life,
            )
        )
    elif any(r.fact.depth is None for r in life):
        outcomes.append(not_recorded(f"{found}, not all of them measured", "measure the earlier one", used=life))
    else:
        outcomes.append(passed(found, f"at most {limit}", life))
    return worst(outcomes)


def reworks_of_life(q: Inquiry, done: Recorded[f.ReworkDone]) -> list[Recorded[f.ReworkDone] | Recorded[f.PastRework]]:
    """Every rework of the zone of ``done``: of this stay, and of the serial number's stays before, those on paper too."""
    zone, number = done.fact.zone, q.master.number
    listed = q.facts.last(f.PartListed, q.part)
    serial = listed.fact.serial if listed else None
    stays = {r.fact.part for r in q.facts.of(f.PartListed) if r.fact.part_no == number and r.fact.serial == serial}
    earlier = (stays if serial else set()) - {q.part}
    found: list[Recorded[f.ReworkDone] | Recorded[f.PastRework]] = [
        r
        for r in q.facts.of(f.ReworkDone)
        if r.fact.zone == zone and (r.fact.part == q.part or (r.fact.part in earlier and r.at <= done.at))
    ]
    past = q.facts.of(f.PastRework, number) if serial else []
    return [*found, *(r for r in past if r.fact.serial == serial and r.fact.zone == zone)]


def dimension_outcome(q: Inquiry, done: Recorded[f.ReworkDone], dimension: f.Dimension) -> Outcome:
    """The remaining dimension against the limit column that the work order chose."""
    orders = q.facts.of(f.WorkOrderOpened, q.opened.fact.work_order)
    if not orders:
        raise Missing("limits basis of the work order not recorded", ["choose new or service limits"])
    column = orders[-1].fact.limits_basis
    limit = {"new limits": dimension.new_limit, "service limits": dimension.service_limit}.get(column)
    if limit is None:
        return not_recorded(f"{dimension.name}: no limit in the column {column}", "enter it", used=[done])
    found = f"{dimension.name} {dimension.value}"
    if dimension.value.in_unit("in") < limit.in_unit("in"):
        return failed(
            f"{found} is under {limit} ({column})",
            "reject",
            "hold for engineering",
            found=found,
            limit=f"at least {limit} ({column})",
            used=[done],
        )
    return passed(found, f"at least {limit} ({column})", [done])


@rule("D11", "Rework: is it closed by a re-inspection that started after it, by the same method, of the whole zone?")
def d11_reinspected_after_rework(q: Inquiry) -> Outcome:
    rework = rework_of(q)
    if rework is None:
        return no_rework(q)
    ordered, done = rework
    again = [
        r
        for r in q.facts.of(f.InspectionOpened, q.part)
        if r.fact.previous == ordered.fact.inspection and r.fact.method == q.method
    ]
    if done is None:
        if again:
            return not_recorded(
                f"{again[0].fact.inspection} opened, completion of the rework not recorded",
                "record depth and time",
                used=again,
            )
        return not_yet("rework not completed", "complete it, then inspect again", used=[ordered])
    if not again:
        return not_yet("not inspected again after the rework", "inspect the whole zone again", used=[done])
    start, end = again[-1].when, done.when
    found = f"{again[-1].fact.inspection} began {start.clock()}, rework ended {end.clock()}"
    if start.at <= end.at:
        return failed(
            f"{found}: the look came before the end of the rework", "inspect again", found=found, used=[done, again[-1]]
        )
    if ordered.fact.zone not in q.technique.zones:
        return failed(
            f"{q.technique.name} does not cover zone {ordered.fact.zone}",
            "inspect the zone with a technique that covers it",
            found=found,
            used=[done, again[-1]],
        )
    return passed(found, "after the rework", [done, again[-1]])
