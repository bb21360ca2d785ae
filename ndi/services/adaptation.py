"""When the eyes of a person are adapted to the dark of a booth (what G23 will ask of a view that begins)."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from ndi.domain import facts as f
from ndi.domain.answer import Verdict
from ndi.domain.fact_set import FactSet
from ndi.domain.moment import Moment
from ndi.rules.inquiry import Inquiry
from ndi.rules.viewing import dark_outcome
from ndi.services.ports import Session
from ndi.services.workplace import Workplace

_BACK = timedelta(days=1)


def adapted_at(work: Workplace, session: Session, q: Inquiry, person: str, station: str) -> Moment | None:
    """When adaptation is (or was) long enough; None while no closing of the booth counts for this person.

    Missing when the procedure gives no time.
    """
    now = work.now()
    found = {r.position: r for r in q.facts}
    for subject in (person, station):
        found.update({r.position: r for r in session.facts(subject, since=now.at - _BACK)})
    wider = replace(q, facts=FactSet(found.values()), asked=now)
    outcome = dark_outcome(wider, person, station, now, viewing=False)
    if outcome.verdict not in (Verdict.PASS, Verdict.NOT_YET):
        return None
    closed = [r for r in wider.facts.of(f.BoothClosed, station) if r.fact.person == person and r.at <= now.at]
    if not closed:
        return None
    need = q.minutes("dark_adapt_min")
    return Moment(closed[-1].at + need, closed[-1].when.offset_min)
