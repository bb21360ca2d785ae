"""What became of rejected pieces: scrapped, returned to their owner, or still here; and what the owner answered."""

from __future__ import annotations

from collections.abc import Iterator
from typing import cast

from ndi.domain import dispositions as d
from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.vocabulary import SPLIT
from ndi.services.lookup import about
from ndi.services.ports import InspectionRow, PartRow, Session
from ndi.services.workplace import Refused


def gone(session: Session, part: str) -> dict[str | None, str]:
    """``SCRAP`` or ``RETURN UNSERVICEABLE`` for each piece that left for good; the key None is the whole part."""
    found: dict[str | None, str] = {
        r.fact.piece: d.SCRAP for r in about(session, f.PartScrapped, part) if r.fact.part == part
    }
    found.update({r.fact.piece: d.RETURN for r in about(session, f.ReturnedUnserviceable, part)})
    return found


def wholly_gone(session: Session, row: PartRow) -> str:
    """What became of a part or lot of which no piece is left; empty while one is."""
    left = gone(session, row.part)
    is_whole = bool(left) and (None in left or len(left) >= row.quantity)
    return " and ".join(sorted(set(left.values()))) if is_whole else ""


def refuse_gone(session: Session, row: PartRow) -> None:
    """Refused for a part or lot of which no piece is left: scrap and return are final."""
    words = wholly_gone(session, row)
    if words:
        raise Refused((), f"{row.part} is {words}: that is final, nothing more is signed on it")


def owner_answer(session: Session, part: str, piece: str | None = None) -> f.OwnerAnswered | None:
    """What the owner said last of a rejected piece."""
    found = [r.fact for r in about(session, f.OwnerAnswered, part) if r.fact.piece in (None, piece)]
    return found[-1] if found else None


def last_signed(session: Session, inspection: str) -> Recorded[f.DecisionSigned] | None:
    """The last signature on a record, whether it stands or was undone since."""
    signed = about(session, f.DecisionSigned, inspection)
    return max(signed, key=lambda r: r.position) if signed else None


def rejection_undone(session: Session, row: InspectionRow) -> Recorded[f.DecisionSigned] | None:
    """The signature with a rejected share that a correction undid and that nobody took back; else None."""
    if row.decision is not None:
        return None
    last = last_signed(session, row.inspection)
    if last is None or not any(child.disposition == d.REJECT for child in last.fact.children):
        return None
    reopened = [r for r in about(session, f.RejectReopened, row.inspection) if r.position > last.position]
    return None if reopened else last


def record_state(session: Session, row: InspectionRow) -> str:
    """The state of a record in the table of dispositions."""
    undone = rejection_undone(session, row)
    held = False
    if row.decision is not None and row.disposition == SPLIT:
        signed = cast("f.DecisionSigned", session.entry(row.decision).fact)
        held = any(child.disposition == d.HOLD for child in signed.children)
    return d.state_of(
        row.disposition,
        decided=row.decision is not None,
        suspended=row.suspended,
        held=held,
        rejected_before=undone is not None and undone.fact.disposition == d.REJECT,
    )


def piece_state(session: Session, part: str, piece: str | None) -> str:
    """The state of one piece for whoever scraps it or sends it back.

    A rejected share without a mark of its own counts for any piece of the lot, as
    long as fewer pieces have left than were rejected.
    """
    left = gone(session, part)
    if piece in left:
        return left[piece]
    state = d.NO_DECISION
    for row, signed in _in_force(session, part):
        shares = [child for child in signed.children if child.disposition == d.REJECT]
        named = [child for child in shares if child.piece is not None]
        unnamed = sum(child.quantity for child in shares if child.piece is None)
        taken = len([name for name in left if name not in {child.piece for child in named}])
        if any(child.piece == piece for child in named) or taken < unnamed:
            state = d.CLAIM_SUSPENDED if row.suspended or state == d.CLAIM_SUSPENDED else d.REJECT
    return state


def _in_force(session: Session, part: str) -> Iterator[tuple[InspectionRow, f.DecisionSigned]]:
    for row in session.inspections(part=part):
        if row.decision is not None:
            yield row, cast("f.DecisionSigned", session.entry(row.decision).fact)


def allowed(session: Session, part: str, piece: str | None, to: str, who: d.Who) -> d.Transition | None:
    """The row of the table by which a piece may go to ``to``, or None.

    Refused where the row asks for an answer of the owner and the last one is another, or there is none.
    """
    step = d.transition(piece_state(session, part, piece), to, who)
    if step is None or step.owner is None:
        return step
    answer = owner_answer(session, part, piece)
    if answer is None:
        raise Refused(
            (), f"the owner has not answered what becomes of {piece or part}: record the owner's answer first"
        )
    if answer.answer != step.owner:
        raise Refused(
            (), f"the owner answered {answer.answer!r} for {piece or part} ({answer.reference}), not {step.owner!r}"
        )
    return step
