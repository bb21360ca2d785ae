"""Lamp by shop day: in limits, out of limits, not recorded though used, not used (the calendar of K01)."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from ndi.domain import facts as f
from ndi.domain.answer import Verdict
from ndi.domain.entry import Recorded
from ndi.domain.moment import Moment
from ndi.domain.vocabulary import Quantity
from ndi.rules import light
from ndi.services.lookup import about, every
from ndi.services.ports import Session
from ndi.services.shop_inquiry import shop_inquiry
from ndi.services.workplace import Workplace

NOT_USED = "not used"


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
    with work.book.session(readonly=True) as session:
        days = [first + timedelta(days=n) for n in range((last - first).days + 1)]
        return [lamp_day(work, session, lamp, day) for lamp in lamps(session) for day in days]


def lamp_day(work: Workplace, session: Session, lamp: str, day: date) -> LampDay:
    """What a lamp's readings and its use on one local day say."""
    q = shop_inquiry(work, session, [lamp])
    # what was read at another distance or with a meter out of calibration says nothing of the lamp
    readings = [r for r in q.as_found(lamp, Quantity.UV_A) if light.is_comparable(q, r)]
    today = [r for r in readings if r.when.local.date() == day]
    used_for = _used_for(session, lamp, day, work.now().offset_min)
    facts = tuple(r.position for r in today)
    if today:
        bad = [r for r in today if not light.is_in_limits(q, r)]
        if bad:
            says = f"out of limits: {', '.join(reading_text(r) for r in bad)}"
            return LampDay(lamp, day, Verdict.FAIL, says, used_for, (), facts)
        return LampDay(
            lamp, day, Verdict.PASS, f"in limits: {', '.join(reading_text(r) for r in today)}", used_for, (), facts
        )
    if not used_for:
        return LampDay(lamp, day, Verdict.NOT_APPLICABLE, f"{NOT_USED}: no view names it", (), (), ())
    before = [r for r in readings if r.when.local.date() < day][-1:]
    after = [r for r in readings if r.when.local.date() > day][:1]
    evidence = tuple(reading_text(r) for r in [*before, *after])
    says = f"no reading on {day:%A %Y-%m-%d}, used for {len(used_for)} inspection(s) {', '.join(used_for)}"
    if evidence:
        says += f"; bracket {' and '.join(evidence)} is evidence only, not an answer"
    return LampDay(
        lamp, day, Verdict.NOT_RECORDED, says, used_for, evidence, tuple(r.position for r in [*before, *after])
    )


def reading_text(reading: Recorded[f.ReadingRecorded]) -> str:
    return f"{reading.when.local:%a %Y-%m-%d} {reading.when.clock()} = {reading.fact.value}"


def _used_for(session: Session, lamp: str, day: date, offset_min: int) -> tuple[str, ...]:
    start = Moment(datetime(day.year, day.month, day.day, tzinfo=UTC) - timedelta(minutes=offset_min)).at
    used = [use.inspection for use in session.uses(lamp, start, start + timedelta(days=1))]
    paper = about(session, f.PaperAcceptance, lamp)
    used += [r.fact.inspection for r in paper if r.when.local.date() == day]
    return tuple(dict.fromkeys(used))
