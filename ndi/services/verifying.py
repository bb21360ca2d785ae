"""The supervisor's signature: what is complete is signed, what is not is left out and said."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ndi.domain import facts as f
from ndi.domain.answer import Answer
from ndi.domain.entry import Draft
from ndi.domain.outcome import failed, passed
from ndi.services import covers
from ndi.services.exceptions import has_role
from ndi.services.lookup import about
from ndi.services.ports import Session
from ndi.services.proof import Meaning, Proof
from ndi.services.recording import outside_answer
from ndi.services.shop_inquiry import any_procedure
from ndi.services.signing import require
from ndi.services.state import Standing, standings
from ndi.services.workplace import Refused, Workplace

VERIFYING_ROLES = ("supervisor", "quality")


@dataclass(frozen=True)
class Verification:
    """What a verification covers and leaves out."""

    answer: Answer
    covered: tuple[Standing, ...]
    left_out: tuple[Standing, ...]


def verifiable(work: Workplace, *, inspections: Sequence[str] | None = None) -> tuple[str, ...]:
    """The records that a verification would cover now: what is shown before the supervisor proves to be that person."""
    with work.book.session(readonly=True) as session:
        scope = [s for s in standings(work, session) if inspections is None or s.row.inspection in inspections]
    return covers.records(s.row.inspection for s in scope if s.is_verifiable)


def verify_records(
    work: Workplace, person: str, *, inspections: Sequence[str] | None = None, proof: Proof | None = None
) -> Verification:
    """Sign every complete record in scope in one act that shows what it covers.

    ``proof`` (in a practice book none): of the person, for what :func:`verifiable` shows.
    Refused when the verifier viewed, decided or second-looked any record in scope (D20).
    """
    with work.act("verify", person, "records") as session:
        scope = [s for s in standings(work, session) if inspections is None or s.row.inspection in inspections]
        own = [s.row.inspection for s in scope if person in people_of(session, s.row.inspection)]
        covered = tuple(s for s in scope if s.is_verifiable)
        left_out = tuple(s for s in scope if not s.is_verifiable)
        found = f"{len(covered)} verifiable, {len(left_out)} not"
        procedure = any_procedure(work, session)
        if own:
            outcome = failed(f"{person} worked on {', '.join(own)}", "another supervisor verifies these", found=found)
            raise Refused([outside_answer("D20", outcome, procedure)])
        if not any(has_role(session, person, role, "", work.now().local.date()) for role in VERIFYING_ROLES):
            raise Refused((), f"{person} is no supervisor: records are verified by one who worked on none of them")
        names = tuple(s.row.inspection for s in left_out)
        signed = require(
            work, session, proof, person, Meaning.VERIFIED, covers.records(s.row.inspection for s in covered)
        )
        outcome = passed(found + (f" ({', '.join(names)})" if names else ""), "verifier worked on none of them")
        fact = f.VerificationSigned(
            person, tuple(s.row.inspection for s in covered), names, signed.proof, signed.meaning, signed.covers
        )
        session.append([Draft(fact, work.now(), person)])
        return Verification(outside_answer("D20", outcome, procedure), covered, left_out)


def people_of(session: Session, inspection: str) -> set[str]:
    """Who viewed, second-looked, decided or reworked a record."""
    kinds = (f.ViewStarted, f.SecondLookSaved, f.DecisionSigned, f.ReworkDone)
    return {recorded.fact.person for kind in kinds for recorded in about(session, kind, inspection)}  # type: ignore[attr-defined]
