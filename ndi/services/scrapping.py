"""Scrap: a rejected piece is made unusable before a witness, and its number is never opened again (D15)."""

from __future__ import annotations

from ndi.domain import facts as f
from ndi.domain.answer import Answer, Verdict
from ndi.domain.dispositions import FINAL, RETURN, SCRAP, Who
from ndi.domain.entry import Draft, Obtained, Recorded
from ndi.domain.errors import InputError
from ndi.domain.outcome import passed
from ndi.rules.disposition import scrap_outcome, scrapped_before
from ndi.services import covers
from ndi.services.exceptions import has_role
from ndi.services.lookup import about
from ndi.services.ports import PartRow, Session
from ndi.services.proof import Meaning, Proof
from ndi.services.recording import outside_answer
from ndi.services.rejected_pieces import allowed, piece_state
from ndi.services.shop_inquiry import any_procedure
from ndi.services.signing import require
from ndi.services.workplace import Refused, Workplace

QUALITY = "quality"


def scrap_part(
    work: Workplace,
    part: str,
    person: str,
    witness: str,
    *,
    photo: str,
    defaced: bool,
    how: str | None = None,
    piece: str | None = None,
    proof: Proof | None = None,
    witness_proof: Proof | None = None,
) -> Recorded[f.Fact]:
    """Put a piece into the scrap register: signed by quality and by a witness who saw it made unusable.

    Both proofs (in a practice book none) are for :func:`covers.scrap`, ``person``
    for *performed*, ``witness`` for *verified*.  Refused for a piece that was not
    rejected, whose owner has not answered ``scrap``, and where D15 is not met.
    """
    with work.act("scrap part", person, part) as session:
        row = session.part(part)
        shown = covers.scrap(part, row.serial, piece)
        signed = require(work, session, proof, person, Meaning.PERFORMED, shown)
        require(work, session, witness_proof, witness, Meaning.VERIFIED, shown)
        fact = f.PartScrapped(
            part,
            row.part_no,
            row.serial,
            person,
            witness,
            defaced,
            photo,
            how,
            piece,
            signed.proof,
            signed.meaning,
            signed.covers,
        )
        draft = Draft(fact, work.now(), person)
        _refuse_unfinished(work, session, row, draft, fact)
        (recorded,) = session.append([draft])
        return recorded


def _refuse_unfinished(work: Workplace, session: Session, row: PartRow, draft: Draft, fact: f.PartScrapped) -> None:
    if not has_role(session, fact.person, QUALITY, "", work.now().local.date()):
        raise Refused((), f"{fact.person} is not of quality: scrap is signed by quality and a witness")
    if row.quantity > 1 and fact.piece is None:
        raise InputError(f"{fact.part} holds {row.quantity} pieces: name the piece that is scrapped")
    state = piece_state(session, fact.part, fact.piece)
    if state in FINAL:
        where = "stands in the scrap register" if state == SCRAP else f"is {RETURN}"
        raise InputError(f"{fact.piece or fact.part} {where} already")
    if allowed(session, fact.part, fact.piece, SCRAP, Who.QUALITY_AND_WITNESS) is None:
        raise Refused((), f"{fact.piece or fact.part} is not rejected: only a rejected piece is scrapped")
    entry: Recorded[f.PartScrapped] = Recorded(fact, draft.when, draft.by, Obtained.TIMER, draft.when.at, 0, "")
    archive, kept = work.photographs, [r.fact for r in about(session, f.PhotoAttached, fact.photo or "")]
    lost = {p.sha256 for p in kept if p.size is not None and (archive is None or not archive.holds(p.sha256))}
    outcome = scrap_outcome(entry, lost)
    if outcome.verdict is not Verdict.PASS:
        raise Refused([outside_answer("D15", outcome, any_procedure(work, session))])


def register_answer(session: Session, part_no: str, serial: str | None, part: str) -> Answer:
    """D15 asked of a piece that somebody wants to receive or open: its number must not stand in the scrap register."""
    register = about(session, f.PartScrapped, part_no)
    outcome = scrapped_before(register, part, serial)
    return outside_answer("D15", outcome or passed(f"{serial or part} is not in the scrap register"))


def refuse_scrapped(session: Session, row: PartRow) -> None:
    """Refused (D15) for a part whose number stands in the scrap register."""
    answer = register_answer(session, row.part_no, row.serial, row.part)
    if not answer.settled:
        raise Refused([answer])
