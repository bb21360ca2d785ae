"""Signing a disposition, and what later facts do to it (laws 2, 9, 10, 13)."""

from __future__ import annotations

from collections.abc import Iterable
from typing import cast

from ndi.domain import acceptance, dispositions
from ndi.domain import facts as f
from ndi.domain.answer import Answer, Verdict
from ndi.domain.entry import Draft, Obtained, Recorded
from ndi.domain.errors import InputError, VersionConflict
from ndi.domain.vocabulary import SPLIT, Disposition
from ndi.services import covers, outage
from ndi.services.judging import Judgement, judge, kept, reasons_given, snapshot_hash
from ndi.services.lookup import about, existing
from ndi.services.ports import InspectionRow, Session
from ndi.services.proof import Meaning, Proof
from ndi.services.rejected_pieces import last_signed, record_state, refuse_gone, rejection_undone
from ndi.services.second_person import refuse_alone
from ndi.services.signing import Signed, require
from ndi.services.workplace import Refused, Workplace

SIGNED_BY_INSPECTORS = dispositions.words_signed()

REPROCESS = "reprocess"  # how an item of a containment was done when it was not looked at again

# dispositions of the part that no later look at the same record takes back
_FINAL = (dispositions.REJECT, dispositions.REWORK)

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
        raise VersionConflict(
            f"{inspection} was changed by {last.by} at {last.when.clock()} (entry {version}): look again, then repeat what you did"
        )


def sign_decision(
    work: Workplace,
    inspection: str,
    person: str,
    disposition: str,
    *,
    children: tuple[f.Child, ...] = (),
    seen: int | None = None,
    proof: Proof | None = None,
) -> Judgement:
    """Sign ACCEPT, REJECT, REWORK, HOLD-ENG or the split of a lot.

    ``proof`` (in a practice book none): of the person, for ``covers.decision``.
    NotPermitted carries the answers in the way; VersionConflict when the record
    changed since the person looked at it (``seen``).
    """
    words = [disposition, *(child.disposition for child in children)]
    unknown = [word for word in words if word not in SIGNED_BY_INSPECTORS and word != SPLIT]
    if unknown:
        raise InputError(
            f"{unknown[0]!r} is not signed by an inspector; use {', '.join(SIGNED_BY_INSPECTORS)} or {SPLIT} with its children"
        )
    with work.act(f"sign {disposition}", person, inspection) as session:
        row = session.inspection(inspection)
        check_version(session, inspection, seen)
        _check_children(row, disposition, children)
        refuse_gone(session, session.part(row.part))
        _check_transition(session, row, disposition)
        _check_shares_kept(session, row, disposition, children)
        signed = require(work, session, proof, person, Meaning.PERFORMED, covers.decision(row, disposition, children))
        judgement = judge(work, session, inspection, decider=person, disposition=disposition, children=children)
        blocking = in_the_way(judgement)
        if blocking:
            raise Refused(blocking)
        refuse_alone(work, session, judgement.inquiry, person, disposition, judgement.dispositions)
        outage.refuse_uncompared(session, judgement)
        fact = _decision(judgement, row, person, disposition, children, signed)
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
        raise InputError(
            f"{row.inspection}: {row.quantity} in, {total} out: count the pieces again or report the missing one"
        )
    if any(child.quantity < 1 for child in children):
        raise InputError(f"{row.inspection}: a child of a lot has one piece or more")
    named = [child.piece for child in children if child.piece is not None]
    if len(named) != len(set(named)) or any(child.piece is not None and child.quantity != 1 for child in children):
        raise InputError(
            f"{row.inspection}: a child that names its piece is that one piece, and no piece is named twice"
        )
    if disposition == SPLIT and len({child.disposition for child in children}) < 2:
        raise InputError(f"{row.inspection}: all children have one disposition; sign that instead of a split")
    if disposition != SPLIT and any(child.disposition != disposition for child in children):
        raise InputError(f"{row.inspection}: children with other dispositions make it a split; sign {SPLIT}")


def _check_transition(session: Session, row: InspectionRow, disposition: str) -> None:
    """From where a disposition may be signed; a standing one is not signed over."""
    state = record_state(session, row)
    if dispositions.signable(state, row.disposition, disposition):
        return
    if state == dispositions.REJECT_CORRECTED:
        raise Refused(
            (),
            f"{row.inspection} was rejected, and a fact was corrected since: sign {dispositions.REJECT} again; "
            "for another word a Level III and quality, neither of whom signed it, take the rejection back first",
        )
    if state == dispositions.CLAIM_SUSPENDED:
        raise Refused(
            (),
            f"{row.inspection} is {row.disposition}: only its claim of no other indications is suspended, the word stands",
        )
    raise Refused(
        (),
        f"{row.inspection} is signed {row.disposition}: {_WAY_ON.get(row.disposition, 'correct the fact that is wrong, then sign again')}",
    )


def _check_shares_kept(session: Session, row: InspectionRow, disposition: str, children: tuple[f.Child, ...]) -> None:
    """Signing a lot again takes no share back that stands.

    A suspended lot keeps its rejected and reworked shares; one of which a share
    is released from engineering's hold the accepted ones too; one that was
    corrected keeps its rejected shares until two persons take the rejection back.
    """
    before, words = _standing_shares(session, row)
    now = children or (f.Child(disposition, row.quantity),)
    for word in words:
        had = sum(child.quantity for child in before if child.disposition == word)
        has = sum(child.quantity for child in now if child.disposition == word)
        named = {child.piece for child in before if child.disposition == word and child.piece}
        lost = named - {child.piece for child in now if child.disposition == word}
        if has < had or lost:
            raise Refused(
                (),
                f"{row.inspection}: {had} pcs {word} {', '.join(sorted(lost))}".rstrip()
                + " stand: the lot is signed again with at least these shares",
            )


def _standing_shares(session: Session, row: InspectionRow) -> tuple[tuple[f.Child, ...], tuple[str, ...]]:
    """The shares of the signature before, and the words among them that stay."""
    last = last_signed(session, row.inspection)
    if last is None:
        return (), ()
    if row.decision is None:
        return last.fact.children, (dispositions.REJECT,) if rejection_undone(session, row) else ()
    if row.suspended:
        return last.fact.children, _FINAL
    return last.fact.children, (*_FINAL, dispositions.ACCEPT) if row.disposition == SPLIT else ()


def in_the_way(judgement: Judgement) -> tuple[Answer, ...]:
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
    signed: Signed,
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
        signed.proof,
        signed.meaning,
        signed.covers,
    )


def _contained_items_done(work: Workplace, judgement: Judgement, person: str) -> list[Draft]:
    """A new decision that passes G30, by a re-view or by processing again, does the item of each containment of the record."""
    q = judgement.inquiry
    if not q.views or not any(answer.rule == "G30" and answer.settled for answer in judgement.answers):
        return []
    last = q.views[-1].started.fact
    opened = open_containments(
        q.facts.of(f.ContainmentOpened, q.inspection), q.facts.of(f.ContainmentItemDone, q.inspection)
    )
    return [
        Draft(
            f.ContainmentItemDone(name, judgement.inspection, last.kind if last.containment == name else REPROCESS),
            work.now(),
            person,
            Obtained.COMPUTED,
        )
        for name in sorted(opened)
    ]


def open_containments(
    opened: Iterable[Recorded[f.ContainmentOpened]], done: Iterable[Recorded[f.ContainmentItemDone]]
) -> set[str]:
    """Containments that still hold a record."""
    return {r.fact.containment for r in opened} - {r.fact.containment for r in done}


def reconsider(work: Workplace, session: Session, inspections: Iterable[str], cause: int) -> None:
    """Recompute signed records after the fact at ``cause``; suspend or clear what the answers say (law 10).

    A suspended acceptance does not come back by itself: it is signed again.
    """
    for inspection in existing(session, inspections):
        row = session.inspection(inspection)
        if row.decision is None or row.suspended:
            continue
        judgement = judge(work, session, inspection)
        signed = cast("f.DecisionSigned", session.entry(row.decision).fact)
        draft = _consequence(work, judgement, row, signed, cause)
        if draft is not None:
            session.append([draft])


def _consequence(
    work: Workplace, judgement: Judgement, row: InspectionRow, signed: f.DecisionSigned, cause: int
) -> Draft | None:
    if Disposition.ACCEPT not in judgement.dispositions:
        contained = [a for a in judgement.answers if a.rule == "G30" and a.verdict is Verdict.FAIL]
        if contained:
            fact: f.Fact = f.AcceptanceSuspended(row.inspection, row.part, ("G30",), cause, claim_only=True)
            return Draft(fact, work.now(), work.computed_by, Obtained.COMPUTED)
        return None
    standing = judgement.standing()
    rules = tuple(dict.fromkeys(a.rule for a in (*standing.in_the_way, *_left(judgement, row, signed))))
    if rules:
        return Draft(
            f.AcceptanceSuspended(row.inspection, row.part, rules, cause),
            work.now(),
            work.computed_by,
            Obtained.COMPUTED,
        )
    if row.provisional and not standing.provisional:
        return Draft(
            f.ProvisionalCleared(row.inspection, row.part, cause), work.now(), work.computed_by, Obtained.COMPUTED
        )
    return None


def _left(judgement: Judgement, row: InspectionRow, signed: f.DecisionSigned) -> list[Answer]:
    """Answers that left PASS / NOT APPLICABLE since the signature, or L11 since it was cleared.

    A reason or deviation given for an earlier state of a rule does not carry an
    answer that a later fact has changed: the record is signed again.
    """
    settled = {kept.rule for kept in signed.answers if kept.verdict in (Verdict.PASS, Verdict.NOT_APPLICABLE)}
    if not row.provisional:
        settled |= {kept.rule for kept in signed.answers if kept.rule == "L11" and kept.verdict == Verdict.NOT_YET}
    return [a for a in judgement.answers if a.rule in settled and not a.settled]


def undo_after_correction(work: Workplace, session: Session, inspection: str, cause: int) -> None:
    """A fact of the inspection was corrected after signature: NO DECISION, tags void, sign again."""
    row = session.inspection(inspection)
    if row.decision is None:
        return
    drafts = [Draft(f.DecisionUndone(inspection, row.part, cause), work.now(), work.computed_by, Obtained.COMPUTED)]
    tags = {r.fact.tag for r in about(session, f.TagPrinted, inspection)}
    voided = {r.fact.tag for r in about(session, f.TagVoided, inspection)}
    for tag in sorted(tags - voided):
        drafts.append(
            Draft(
                f.TagVoided(tag, inspection, row.part, "record corrected after signature"),
                work.now(),
                work.computed_by,
                Obtained.COMPUTED,
            )
        )
    session.append(drafts)
