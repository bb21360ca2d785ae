"""What waits for a second look: by the procedure's list, never shown to somebody who viewed the part."""

from __future__ import annotations

from dataclasses import dataclass

from ndi.domain import facts as f
from ndi.domain.answer import Verdict
from ndi.domain.vocabulary import Disposition, Interpretation, ViewKind
from ndi.rules.inquiry import Indication, Inquiry, SecondLook
from ndi.rules.second_looks import needs_second_look, second_look_outcome
from ndi.services.assemble import inquiry_for
from ndi.services.judging import ask
from ndi.services.ports import Session
from ndi.services.work_board import part_name
from ndi.services.workplace import Workplace


@dataclass(frozen=True)
class Due:
    """One look that is asked for.  It tells where to look, and nothing of what the first person found there.

    ``look`` is the second look of this very person that has begun and was not saved.
    """

    inspection: str
    indication: str | None  # None: the whole part
    part: str
    where: str
    look: str | None = None


def due(work: Workplace, session: Session, person: str) -> tuple[Due, ...]:
    """Looks that this person may make, oldest record first."""
    found: list[Due] = []
    for row in session.inspections(disposition=Disposition.NO_DECISION):
        q = inquiry_for(work, session, row.inspection)
        if person in {view.person for view in q.all_views if view.started.fact.kind != ViewKind.SECOND_LOOK}:
            continue
        name = part_name(work, session, session.part(row.part))
        for mark in q.indications:
            if _is_asked(q, mark) and not _is_answered(q, mark.id, mark.second_looks):
                found.append(Due(row.inspection, mark.id, name, _where(q, mark), _begun(mark.second_looks, person)))
        whole = tuple(look for look in q.second_looks if look.view.started.fact.indication is None)
        if not q.indications and q.views and not _is_answered(q, "", whole):
            (answer,) = ask(work, session, row.inspection, ["D07"])
            if answer.verdict is Verdict.NOT_YET:
                found.append(Due(row.inspection, None, name, "the whole part", _begun(whole, person)))
    return tuple(found)


def _is_asked(q: Inquiry, mark: Indication) -> bool:
    """By class and interpretation; a relevant one also where every reject or rework order needs two."""
    if needs_second_look(q, mark):
        return True
    relevant = mark.interpreted is not None and mark.interpreted.fact.interpretation == Interpretation.RELEVANT
    return relevant and bool({"reject", "rework order"} & set(q.procedure.second_person_for))


def _is_answered(q: Inquiry, what: str, looks: tuple[SecondLook, ...]) -> bool:
    return bool(looks) and second_look_outcome(q, what, looks, q.master.item_class).verdict is Verdict.PASS


def _where(q: Inquiry, mark: Indication) -> str:
    """Zone, place and piece: where to look, not what is there."""
    seen = mark.seen.fact
    zone = q.master.zone(seen.zone) if seen.zone else None
    words = [zone.name if zone else seen.zone or "zone not said", seen.position or "", seen.piece or ""]
    return ", ".join(word for word in words if word)


def _begun(looks: tuple[SecondLook, ...], person: str) -> str | None:
    for look in looks:
        if look.view.person == person and look.saved is None:
            return look.id
    return None


def both_results(work: Workplace, session: Session, second_look: str) -> tuple[str, str, str]:
    """First result, second result, and what D08 says of them; only for a look that is saved."""
    started = session.facts(second_look, (f.ViewStarted,))[-1].fact
    assert isinstance(started, f.ViewStarted)
    q = inquiry_for(work, session, started.inspection)
    look = next(each for each in q.second_looks if each.id == second_look)
    assert look.saved is not None
    second = look.saved.fact
    mark = next((each for each in q.indications if each.id == started.indication), None)
    if mark is None:
        first = f"{len(q.indications)} indication(s)" if q.indications else "nothing seen"
    else:
        call = mark.interpreted.fact.interpretation if mark.interpreted else "not interpreted"
        seen = mark.seen.fact
        first = ", ".join(str(each) for each in (call, seen.form, seen.length) if each)
    mine = (
        "nothing seen"
        if second.none_seen
        else ", ".join(str(each) for each in (second.interpretation, second.form, second.length) if each)
    )
    (answer,) = ask(work, session, started.inspection, ["D08"])
    return first, mine, answer.says or str(answer.verdict)
