"""Earlier visits: the same place on the same serial, the same zone of a part number (D17, D19)."""

from __future__ import annotations

from datetime import timedelta

from ndi.domain import facts as f
from ndi.domain.outcome import Outcome, failed, not_applicable, passed, worst
from ndi.domain.quantity import FULL_TURN_DEG, Number
from ndi.domain.vocabulary import is_crack_type
from ndi.rules.indications import each_indication
from ndi.rules.inquiry import Indication, Inquiry
from ndi.rules.registry import rule


@rule("D17", "Is no indication at the place of one on the same serial's last visit?", "same_place_angle", version=2)
def d17_same_place(q: Inquiry) -> Outcome:
    listed = q.facts.of(f.PartListed, q.part)
    serial = listed[-1].fact.serial if listed else None
    earlier = [
        r for r in q.facts.of(f.PastInspection, q.master.number) if serial and r.fact.serial == serial and r.fact.zone
    ]
    if not earlier:
        return not_applicable("no earlier visit of this serial in the book")

    def ask(indication: Indication) -> Outcome:
        seen = indication.seen.fact
        for past in earlier:
            if past.fact.zone == seen.zone and same_angle(q, seen.clock, past.fact.clock):
                return failed(
                    f"{seen.indication}: same place as on {past.fact.work_order} ({past.when.local.date()})",
                    "tell engineering",
                    used=[indication.seen, past],
                )
        return passed(f"{seen.indication}: nothing there before", used=[indication.seen])

    return each_indication(q, ask)


def same_angle(q: Inquiry, one: Number | None, other: Number | None) -> bool:
    """Within the stated angle on the clock ring; unknown angles count as the same place."""
    if one is None or other is None:
        return True
    apart = abs(one.in_unit("deg") - other.in_unit("deg")) % FULL_TURN_DEG
    return min(apart, FULL_TURN_DEG - apart) <= q.limit("same_place_angle").in_unit("deg")


@rule(
    "D19",
    "Are there fewer crack-type findings in one zone of this part number than raise an alert?",
    "alert_count",
    "alert_window",
    scope="history",
    version=2,
)
def d19_alert(q: Inquiry) -> Outcome:
    window = q.minutes("alert_window")
    zones = {
        i.seen.fact.zone
        for i in q.indications
        if i.relevant and i.interpreted and is_crack_type(i.interpreted.fact.type)
    }
    if not zones:
        return not_applicable("no crack-type indication on this record")
    outcomes = []
    for zone in sorted(z for z in zones if z):
        past = [
            r
            for r in q.facts.of(f.PastInspection, q.master.number)
            if r.fact.zone == zone and is_crack_type(r.fact.type)
        ]
        recent = [r for r in past if q.asked.at - r.at <= window]
        total = len(recent) + 1
        found = f"{total} crack-type finding(s) at {zone} in {days_text(window)}; {len(past) + 1} in all"
        limit = f"alert at {q.limit('alert_count').typed}"
        if total >= q.limit("alert_count").value:
            outcomes.append(failed(found, "tell engineering", found=found, limit=limit, used=past))
        else:
            outcomes.append(passed(found, limit, past))
    return worst(outcomes)


def days_text(window: timedelta) -> str:
    return f"{window.days} days"
