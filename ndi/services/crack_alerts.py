"""Part numbers of which cracks gather in one zone (D19), said on the day on which the last of them was called a crack."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, time, timedelta

from ndi.domain import facts as f
from ndi.domain.answer import Verdict
from ndi.domain.moment import Moment
from ndi.domain.outcome import Missing
from ndi.domain.vocabulary import is_crack_type
from ndi.rules.history import d19_alert
from ndi.services.assemble import inquiry_for
from ndi.services.ports import Session
from ndi.services.workplace import Workplace


def crack_alerts(work: Workplace, session: Session, day: date) -> Iterator[tuple[str, str]]:
    """Part number and sentence; nothing where the procedure of a record sets no alert."""
    now = work.now()
    begins = now.local.replace(year=day.year, month=day.month, day=day.day)
    midnight = datetime.combine(day, time(), begins.tzinfo)
    called = session.lines(f.IndicationInterpreted, midnight, midnight + timedelta(days=1))
    cracks = [line.body["indication"] for line in called if is_crack_type(line.body.get("type"))]
    seen = [r.fact for indication in cracks for r in session.facts(indication, (f.IndicationSeen,))]
    said: set[str] = set()
    for inspection in dict.fromkeys(fact.inspection for fact in seen if isinstance(fact, f.IndicationSeen)):
        text = _alert(work, session, inspection, now)
        if text and text not in said:
            said.add(text)
            yield session.inspection(inspection).part_no, text


def _alert(work: Workplace, session: Session, inspection: str, now: Moment) -> str:
    try:
        outcome = d19_alert(inquiry_for(work, session, inspection, asked=now))
    except Missing:
        return ""
    return f"{outcome.says}: {', '.join(outcome.ways_out)}" if outcome.verdict is Verdict.FAIL else ""
