"""Lamp by shop day: in limits, out of limits, not recorded though used, not used (the calendar of K01)."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import defaultdict
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from ndi.domain import facts as f
from ndi.domain.answer import Verdict
from ndi.domain.entry import Recorded
from ndi.domain.vocabulary import Quantity
from ndi.rules import light
from ndi.rules.inquiry import Inquiry
from ndi.services.lookup import about, every
from ndi.services.ports import Session
from ndi.services.shop_inquiry import shop_inquiry
from ndi.services.workplace import Workplace

NOT_USED = "not used"
AROUND = timedelta(days=7)  # how far around the days asked for readings are read at first


@dataclass(frozen=True)
class LampDay:
    """One lamp on one day.  ``used_for`` are the inspections whose views named it."""

    lamp: str
    day: date
    verdict: Verdict
    says: str
    used_for: tuple[str, ...]
    evidence: tuple[str, ...]  # readings around a gap: offered, never a PASS
    facts: tuple[int, ...]


def lamps(session: Session) -> list[str]:
    """Every lamp of the shop."""
    return sorted({r.fact.equipment for r in every(session, f.EquipmentEntered) if r.fact.kind == "lamp"})


def calendar(work: Workplace, first: date, last: date) -> list[LampDay]:
    """Every lamp on every day from ``first`` to ``last``."""
    with work.look() as session:
        return [day for lamp in lamps(session) for day in lamp_days(work, session, lamp, first, last)]


def lamp_day(work: Workplace, session: Session, lamp: str, day: date) -> LampDay:
    """What a lamp's readings and its use on one local day say."""
    return lamp_days(work, session, lamp, day, day)[0]


def lamp_days(work: Workplace, session: Session, lamp: str, first: date, last: date) -> list[LampDay]:
    """The same for every day from ``first`` to ``last``, from one reading of the book."""
    offset = work.now().offset_min
    begun, ended = _start_of(first, offset), _start_of(last + timedelta(days=1), offset)
    q = _readings_of(work, session, lamp, begun - AROUND, ended + AROUND)
    used = _used_for(session, lamp, begun, ended, offset)
    days = [first + timedelta(days=n) for n in range((last - first).days + 1)]
    found = [_lamp_day(q, lamp, day, used.get(day, ())) for day in days]
    if any(each.verdict is Verdict.NOT_RECORDED and len(each.evidence) < 2 for each in found):
        q = _readings_of(work, session, lamp, None, None)  # what brackets a gap may lie further away
        found = [_lamp_day(q, lamp, day, used.get(day, ())) for day in days]
    return found


def _readings_of(
    work: Workplace, session: Session, lamp: str, since: datetime | None, until: datetime | None
) -> Inquiry:
    return shop_inquiry(work, session, [lamp], kinds=(f.ReadingRecorded,), since=since, until=until)


def _lamp_day(q: Inquiry, lamp: str, day: date, used_for: tuple[str, ...]) -> LampDay:
    # what was read at another distance or with a meter out of calibration says nothing of the lamp
    readings = q.once(
        lambda: [r for r in q.as_found(lamp, Quantity.UV_A) if light.is_comparable(q, r)], "comparable readings", lamp
    )
    begun = bisect_left(readings, day, key=_day_of)
    ended = bisect_right(readings, day, key=_day_of)
    today = readings[begun:ended]
    facts = tuple(r.position for r in today)
    if today:
        judged = [(r, light.uv_outcome(q, r)) for r in today]
        bad = [r for r, outcome in judged if outcome.verdict is Verdict.FAIL]
        if bad:
            says = f"out of limits: {', '.join(reading_text(r) for r in bad)}"
            return LampDay(lamp, day, Verdict.FAIL, says, used_for, (), facts)
        unsaid = [outcome.says for _, outcome in judged if outcome.verdict is not Verdict.PASS]
        if unsaid:  # a guard band without the uncertainty of the meter
            return LampDay(lamp, day, Verdict.NOT_RECORDED, "; ".join(unsaid), used_for, (), facts)
        return LampDay(
            lamp, day, Verdict.PASS, f"in limits: {', '.join(reading_text(r) for r in today)}", used_for, (), facts
        )
    if not used_for:
        return LampDay(lamp, day, Verdict.NOT_APPLICABLE, f"{NOT_USED}: no view names it", (), (), ())
    around = [*readings[:begun][-1:], *readings[ended:][:1]]
    evidence = tuple(reading_text(r) for r in around)
    says = f"no reading on {day:%A %Y-%m-%d}, used for {len(used_for)} inspection(s) {', '.join(used_for)}"
    if evidence:
        says += f"; bracket {' and '.join(evidence)} is evidence only, not an answer"
    return LampDay(lamp, day, Verdict.NOT_RECORDED, says, used_for, evidence, tuple(r.position for r in around))


def _day_of(reading: Recorded[f.ReadingRecorded]) -> date:
    return reading.when.local.date()


def reading_text(reading: Recorded[f.ReadingRecorded]) -> str:
    return f"{reading.when.local:%a %Y-%m-%d} {reading.when.clock()} = {reading.fact.value}"


def _start_of(day: date, offset_min: int) -> datetime:
    """When a local day begins."""
    return datetime(day.year, day.month, day.day, tzinfo=UTC) - timedelta(minutes=offset_min)


def _used_for(
    session: Session, lamp: str, begun: datetime, ended: datetime, offset_min: int
) -> dict[date, tuple[str, ...]]:
    """By local day the inspections whose views named the lamp; a view past midnight counts on both days."""
    found: dict[date, dict[str, None]] = defaultdict(dict)
    local = timedelta(minutes=offset_min)
    for use in session.uses(lamp, begun, ended):
        if use.started >= ended:
            continue
        day, last = ((max(use.started, begun) + local).date(), (min(use.ended or ended, ended) + local).date())
        while day <= last:
            found[day][use.inspection] = None
            day += timedelta(days=1)
    for paper in about(session, f.PaperAcceptance, lamp):
        found[paper.when.local.date()][paper.fact.inspection] = None
    return {day: tuple(names) for day, names in found.items()}
