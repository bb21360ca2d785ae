"""Signing a disposition, and what later facts do to it (laws 2, 9, 10, 13)."""

from __future__ import annotations

from collections.abc import Iterable

from ndi.domain import acceptance
from ndi.domain import facts as f
from ndi.domain.answer import Answer, Verdict
from ndi.domain.entry import Draft, Obtained, Recorded
from ndi.domain.errors import InputError, VersionConflict
from ndi.domain.vocabulary import SPLIT, Disposition
from ndi.services.judging import Judgement, judge, kept, reasons_given, snapshot_hash
from ndi.services.lookup import about
from ndi.services.ports import InspectionRow, Session
from ndi.services.workplace import Refused, Workplace

SIGNED_BY_INSPECTORS = (Disposition.ACCEPT, Disposition.REWORK, Disposition.REJECT, Disposition.HOLD_ENG)

# dispositions of the part that no later look at the same record takes back
_FINAL = (Disposition.REJECT, Disposition.REWORK)

_WAY_ON: dict[str, str] = {
    Disposition.REWORK: "complete the rework and open the re-inspection",
    Disposition.REJECT: "a Level III and quality may reopen it with evidence",
}


def check_version(session: Session, inspection: str, seen: int | None) -> None:
    """Nobody overwrites anybody (law 13): refuse when the record changed since the person looked at it.

    ``seen`` is the version that the person saw; None skips the check.
    """
    if seen is None:
        return
    version = session.inspection(inspection).version
    if version != seen:
        last = session.entry(version)
        raise VersionConflict(f"{inspection} was changed by {last.by} at {last.when.clock()} (entry {version}): look again, then repeat what you did")


def sign_decision(
    work: Workplace,
    inspection: str,
    person: str,
    disposition: str,
    *,
    children: tuple[f.Child, ...] = (),
    seen: int | None = None,
) -> Judgement:
    """Sign ACCEPT, REJECT, REWORK, HOLD-ENG or the split of a lot.

    NotPermitted carries the answers in the way; VersionConflict when the record
    changed since the person looked at it (``seen``).
    """
    words = [disposition, *(child.disposition for child in children)]
    unknown = [word for word in words if word not in SIGNED_BY_INSPECTORS and word != SPLIT]
    if unknown:
        raise InputError(f"{unknown[0]!r} is not signed by an inspector; use {', '.join(SIGNED_BY_INSPECTORS)} or {SPLIT} with its children")
    with work.act(f"sign {disposition}", person, inspection) as session:
        row = session.inspection(inspection)
        check_version(session, inspection, seen)
        _check_children(row, disposition, children)
        _check_transition(row, disposition)
        judgement = judge(work, session, inspection, decider=person, disposition=disposition, children=children)
        blocking = _in_the_way(judgement)
        if blocking:
            raise Refused(blocking)
        fact = _decision(judgement, row, person, disposition, children)
        drafts = [Draft(fact, work.now(), person)]
        drafts += _contained_items_done(work, judgement, person)
        session.append(drafts)
        return judgement


def _check_children(row: InspectionRow, disposition: str, children: tuple[f.Child, ...]) -> None:
    """A lot that is split needs all its children, and they must add up."""
    total = sum(child.quantity for child in children)
    if disposition == SPLIT and not children:
        raise InputError(f"{row.inspection}: a split names its children with their counts")
    if children and total != row.quantity:
        raise InputError(f"{row.inspection}: {row.quantity} in, {total} out: count the pieces again or report the missing one")
    if any(child.quantity < 1 for child in children):
        raise InputError(f"{row.inspection}: a child of a lot has one piece or more")
    if disposition == SPLIT and len({child.disposition for child in children}) < 2:
        raise InputError(f"{row.inspection}: all children have one disposition; sign that instead of a split")
    if disposition != SPLIT and any(child.disposition != disposition for child in children):
        raise InputError(f"{row.inspection}: children with other dispositions make it a split; sign {SPLIT}")


def _check_transition(row: InspectionRow, disposition: str) -> None:
    """From where a disposition may be signed; a standing one is not signed over."""
    if row.decision is None or row.suspended or row.disposition == Disposition.HOLD_ENG:
        if row.suspended and row.disposition in _FINAL and disposition != row.disposition:
            raise Refused((), f"{row.inspection} is {row.disposition}: only its claim of no other indications is suspended, the word stands")
        return
    raise Refused((), f"{row.inspection} is signed {row.disposition}: {_WAY_ON.get(row.disposition, 'correct the fact that is wrong, then sign again')}")


def _in_the_way(judgement: Judgement) -> tuple[Answer, ...]:
    """What keeps this disposition from being signed."""
    words = judgement.dispositions
    blocking: tuple[Answer, ...] = ()
    if Disposition.ACCEPT in words:
        blocking = judgement.standing().in_the_way
    others = [word for word in words if word != Disposition.ACCEPT]
    guarded = acceptance.guard(judgement.answers, others)
    return blocking + tuple(a for a in guarded if a not in blocking)


def _decision(
    judgement: Judgement,
    row: InspectionRow,
    person: str,
    disposition: str,
    children: tuple[f.Child, ...],
) -> f.DecisionSigned:
    q = judgement.inquiry
    answers = kept(judgement.answers)
    accepted = Disposition.ACCEPT in judgement.dispositions
    waiting = judgement.standing().provisional if accepted else ()
    held = q.certificate(person, q.asked.local.date())
    return f.DecisionSigned(
        judgement.inspection,
        row.part,
        person,
        f"{held.fact.method} level {held.fact.level}" if held else None,
        disposition,
        children or (f.Child(disposition, row.quantity),),
        bool(waiting),
        answers,
        tuple(reasons_given(q.facts, judgement.inspection).values()),
        snapshot_hash(answers),
        waiting[0].says if waiting else None,
        q.concession,
    )


def _contained_items_done(work: Workplace, judgement: Judgement, person: str) -> list[Draft]:
    """A new decision that passes G30 by a re-view or reprocess does that item of the containment."""
    q = judgement.inquiry
    return [
        Draft(f.ContainmentItemDone(containment, judgement.inspection, q.views[-1].started.fact.kind), work.now(), person, Obtained.COMPUTED)
        for containment in sorted(open_containments(q.facts.of(f.ContainmentOpened, q.inspection), q.facts.of(f.ContainmentItemDone, q.inspection)))
        if q.views and q.views[-1].started.fact.containment == containment
    ]


def open_containments(opened: Iterable[Recorded[f.ContainmentOpened]], done: Iterable[Recorded[f.ContainmentItemDone]]) -> set[str]:
    """Containments that still hold a record."""
    return {r.fact.containment for r in opened} - {r.fact.containment for r in done}


def reconsider(work: Workplace, session: Session, inspections: Iterable[str], cause: int) -> None:
    """Recompute signed records after the fact at ``cause``; suspend or clear what the answers say (law 10).

    A suspended acceptance does not come back by itself: it is signed again.
    """
    for inspection in dict.fromkeys(inspections):
        row = session.inspection(inspection)
        if row.decision is None or row.suspended:
            continue
        judgement = judge(work, session, inspection)
        draft = _consequence(work, judgement, row, cause)
        if draft is not None:
            session.append([draft])


def _consequence(work: Workplace, judgement: Judgement, row: InspectionRow, cause: int) -> Draft | None:
    if Disposition.ACCEPT not in judgement.dispositions:
        contained = [a for a in judgement.answers if a.rule == "G30" and a.verdict is Verdict.FAIL]
        if contained:
            fact: f.Fact = f.AcceptanceSuspended(row.inspection, row.part, ("G30",), cause, claim_only=True)
            return Draft(fact, work.now(), work.computed_by, Obtained.COMPUTED)
        return None
    standing = judgement.standing()
    if not standing.holds:
        rules = tuple(a.rule for a in standing.in_the_way)
        return Draft(f.AcceptanceSuspended(row.inspection, row.part, rules, cause), work.now(), work.computed_by, Obtained.COMPUTED)
    if row.provisional and not standing.provisional:
        return Draft(f.ProvisionalCleared(row.inspection, row.part, cause), work.now(), work.computed_by, Obtained.COMPUTED)
    return None


def undo_after_correction(work: Workplace, session: Session, inspection: str, cause: int) -> None:
    """A fact of the inspection was corrected after signature: NO DECISION, tags void, sign again."""
    row = session.inspection(inspection)
    if row.decision is None:
        return
    drafts = [Draft(f.DecisionUndone(inspection, row.part, cause), work.now(), work.computed_by, Obtained.COMPUTED)]
    tags = {r.fact.tag for r in about(session, f.TagPrinted, inspection)}
    voided = {r.fact.tag for r in about(session, f.TagVoided, inspection)}
    for tag in sorted(tags - voided):
        drafts.append(Draft(f.TagVoided(tag, inspection, row.part, "record corrected after signature"), work.now(), work.computed_by, Obtained.COMPUTED))
    session.append(drafts)
