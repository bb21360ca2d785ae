"""Law 9: what needs two persons, and that there were two who proved who they are."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from ndi.domain import facts as f
from ndi.domain.dispositions import acts_of
from ndi.domain.entry import Draft, Recorded
from ndi.domain.vocabulary import DECIDING_LEVEL, Disposition
from ndi.rules.inquiry import Inquiry, SecondLook
from ndi.rules.second_looks import needs_second_look, one_look_outcome
from ndi.services import covers, signing
from ndi.services.assemble import inquiry_for
from ndi.services.lookup import about
from ndi.services.ports import Session
from ndi.services.proof import Meaning, Proof
from ndi.services.workplace import Refused, Workplace

REWORK_CLOSING = "rework closing"


def holds_level(session: Session, person: str, method: str, level: int, on: date) -> f.CertificateEntered | None:
    """The person's highest certificate of a method that covers a day and is of this level or above."""
    held = [r.fact for r in about(session, f.CertificateEntered, person)]
    fitting = [c for c in held if c.method == method and c.level >= level and c.issued <= on <= c.expires]
    return max(fitting, key=lambda c: c.level, default=None)


def countersign(
    work: Workplace, inspection: str, person: str, disposition: str, *, proof: Proof | None = None
) -> Recorded[f.Fact]:
    """Approve, as the second person, a disposition that somebody else is about to sign.

    ``covers.decision`` of the record and this disposition is what the proof is for.
    """
    with work.act(f"countersign {disposition}", person, inspection) as session:
        row = session.inspection(inspection)
        signed = signing.require(work, session, proof, person, Meaning.APPROVED, covers.decision(row, disposition))
        held = holds_level(session, person, row.method, DECIDING_LEVEL, work.now().local.date())
        if held is None:
            raise Refused(
                (),
                f"{person} holds no level {DECIDING_LEVEL} certificate in {row.method}: another qualified person approves",
            )
        fact = f.SecondSignature(
            inspection,
            person,
            disposition,
            f"{held.method} level {held.level}",
            signed.proof,
            signed.meaning,
            signed.covers,
        )
        (recorded,) = session.append([Draft(fact, work.now(), person)])
        return recorded


def refuse_alone(
    work: Workplace, session: Session, q: Inquiry, person: str, disposition: str, words: Iterable[str]
) -> None:
    """Refused when ``person`` would be the only one behind something that the procedure wants two for."""
    missing = [
        *_looks_missing(work, q, person),
        *_approvals_missing(work, session, q, person, disposition, frozenset(words)),
    ]
    if missing:
        raise Refused((), "; ".join(missing))


def _looks_missing(work: Workplace, q: Inquiry, person: str) -> list[str]:
    """Things whose second look is there, but by the very person who now signs, or by nobody who proved it.

    That a look is missing altogether is said by D07.  In a practice book nobody
    proves anything and D07 is all there is.
    """
    if work.practice:
        return []
    needed = [(i.id, i.second_looks) for i in q.indications if needs_second_look(q, i)]
    if q.opened.fact.reason == "rework" and REWORK_CLOSING in q.procedure.second_person_for:
        needed.append(
            (
                "closing of the rework",
                tuple(look for look in q.second_looks if look.view.started.fact.indication is None),
            )
        )
    return [
        f"{what}: its second look is {person}'s own, or nobody proved it: the one who viewed first signs, or another person looks"
        for what, looks in needed
        if not any(_is_of_another(q, what, look, person) for look in looks)
    ]


def _is_of_another(q: Inquiry, what: str, look: SecondLook, person: str) -> bool:
    saved = look.saved
    return (
        saved is not None
        and saved.fact.person != person
        and saved.fact.proof not in (None, signing.PRACTICE)
        and one_look_outcome(q, what, look).verdict == "PASS"
    )


def _approvals_missing(
    work: Workplace, session: Session, q: Inquiry, person: str, disposition: str, words: frozenset[str]
) -> list[str]:
    """Acts without an indication to look at: a second qualified person approves them beforehand."""
    listed = q.procedure.second_person_for
    acts = [
        act
        for act in acts_of(sorted(words), held=_is_held(session, q.inspection))
        if act in listed and not _carried_by_looks(work, q, act, person)
    ]
    if not acts or _approved_by_another(work, session, q, person, disposition):
        return []
    return [f"{act}: a second qualified person approves {disposition} first" for act in acts]


def _carried_by_looks(work: Workplace, q: Inquiry, act: str, person: str) -> bool:
    """Reject and rework rest on the second looks at their relevant indications, where there are any."""
    if act not in ("reject", "rework order"):
        return False
    if work.practice:
        return any(i.relevant for i in q.indications)
    return any(_is_of_another(q, i.id, look, person) for i in q.indications if i.relevant for look in i.second_looks)


def _is_held(session: Session, inspection: str) -> bool:
    """Whether engineering holds the record: also when its decision was undone by a correction since."""
    signed = about(session, f.DecisionSigned, inspection)
    if not signed:
        return False
    last = max(signed, key=lambda r: r.position).fact
    return Disposition.HOLD_ENG in (last.disposition, *(child.disposition for child in last.children))


def _approved_by_another(work: Workplace, session: Session, q: Inquiry, person: str, disposition: str) -> bool:
    decisions = [r.position for r in about(session, f.DecisionSigned, q.inspection)]
    today = work.now().local.date()
    return any(
        r.fact.person != person
        and r.fact.disposition == disposition
        and r.position > max(decisions, default=0)
        and (work.practice or r.fact.proof not in (None, signing.PRACTICE))
        and signing.removal(session, r.fact.person, work.now()) is None
        and holds_level(session, r.fact.person, q.method, DECIDING_LEVEL, today) is not None
        for r in about(session, f.SecondSignature, q.inspection)
    )


def refuse_order_alone(work: Workplace, session: Session, order: f.ReworkOrdered) -> None:
    """A rework order needs a qualified person and, where the procedure says so, a second look by another."""
    q = inquiry_for(work, session, order.inspection, disposition=Disposition.REWORK, decider=order.ordered_by)
    if holds_level(session, order.ordered_by, q.method, DECIDING_LEVEL, work.now().local.date()) is None:
        raise Refused(
            (),
            f"{order.ordered_by} holds no level {DECIDING_LEVEL} certificate in {q.method}: a qualified person orders the rework",
        )
    if "rework order" not in q.procedure.second_person_for or work.practice:
        return
    looks = [look for i in q.indications if i.id == order.indication for look in i.second_looks]
    alone = not any(_is_of_another(q, order.indication, look, order.ordered_by) for look in looks)
    if alone and not _approved_by_another(work, session, q, order.ordered_by, Disposition.REWORK):
        raise Refused((), f"rework order on {order.indication}: a second look by another qualified person comes first")
