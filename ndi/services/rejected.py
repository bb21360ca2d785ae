"""What becomes of a rejected piece that is not scrapped: back to its owner, or a rejection that was a mistake taken back."""

from __future__ import annotations

from ndi.domain import facts as f
from ndi.domain.dispositions import CLAIM_SUSPENDED, FINAL, NO_DECISION, REJECT, RETURN, Who, transition
from ndi.domain.entry import Draft, Recorded
from ndi.domain.errors import InputError
from ndi.services import covers
from ndi.services.deciding import undo_after_correction
from ndi.services.exceptions import has_role
from ndi.services.proof import Meaning, Proof
from ndi.services.recall_work import refuse_pair
from ndi.services.rejected_pieces import allowed, gone, last_signed, piece_state, record_state
from ndi.services.scrapping import QUALITY
from ndi.services.signing import require
from ndi.services.workplace import Refused, Workplace


def return_covers(part: str, piece: str | None) -> covers.Covers:
    return (f"{RETURN} {piece or part}", part)


def return_unserviceable(
    work: Workplace, part: str, person: str, *, marked: bool, piece: str | None = None, proof: Proof | None = None
) -> Recorded[f.Fact]:
    """A rejected piece goes back to the owner who asked for it: marked, tag wired on; signed by quality."""
    with work.act("return unserviceable", person, part) as session:
        row = session.part(part)
        signed = require(work, session, proof, person, Meaning.PERFORMED, return_covers(part, piece))
        if not has_role(session, person, QUALITY, "", work.now().local.date()):
            raise Refused((), f"{person} is not of quality: what goes back unserviceable is signed by quality")
        if row.quantity > 1 and piece is None:
            raise InputError(f"{part} holds {row.quantity} pieces: name the piece that goes back")
        if piece_state(session, part, piece) in FINAL:
            raise InputError(f"{piece or part} is returned or scrapped already")
        if allowed(session, part, piece, RETURN, Who.QUALITY) is None:
            raise Refused((), f"{piece or part} is not rejected: only a rejected piece goes back unserviceable")
        if not marked:
            raise Refused((), f"{piece or part} is not marked: mark it and wire the tag on first")
        fact = f.ReturnedUnserviceable(part, person, marked, piece, signed.proof, signed.meaning, signed.covers)
        (recorded,) = session.append([Draft(fact, work.now(), person)])
        return recorded


def reopen_covers(inspection: str, reason: str, evidence: str) -> covers.Covers:
    return (f"{inspection}: REJECT taken back", f"{reason}; evidence {evidence}")


def reopen(
    work: Workplace,
    inspection: str,
    level_three: str,
    quality: str,
    *,
    reason: str,
    evidence: str,
    proof: Proof | None = None,
    quality_proof: Proof | None = None,
) -> Recorded[f.Fact]:
    """Take a rejection back for mistaken identity or measurement: Level III and quality, neither of whom signed it."""
    with work.act("reopen rejection", level_three, inspection) as session:
        row = session.inspection(inspection)
        shown = reopen_covers(inspection, reason, evidence)
        first = require(work, session, proof, level_three, Meaning.APPROVED, shown)
        second = require(work, session, quality_proof, quality, Meaning.VERIFIED, shown)
        refuse_pair(work, session, level_three, quality)
        state = record_state(session, row)
        if transition(state, NO_DECISION, Who.LEVEL_THREE_AND_QUALITY) is None:
            under = ": close the recall first" if state == CLAIM_SUSPENDED else ""
            raise Refused((), f"{inspection} is {row.disposition}{under}; only a standing {REJECT} is taken back")
        signed = last_signed(session, inspection)
        if signed is not None and signed.fact.person in (level_three, quality):
            raise Refused((), f"{signed.fact.person} signed the rejection: others take it back")
        if gone(session, row.part):
            raise Refused((), f"{row.part} is scrapped or returned: that is final")
        if not (reason.strip() and evidence.strip()):
            raise InputError("give the reason (mistaken identity or measurement) and the evidence")
        fact = f.RejectReopened(
            inspection,
            row.part,
            level_three,
            quality,
            reason,
            evidence,
            first.proof,
            second.proof,
            first.meaning,
            shown,
        )
        (recorded,) = session.append([Draft(fact, work.now(), level_three)])
        undo_after_correction(work, session, inspection, recorded.position)
        return recorded
