"""The supervisor's signature: what is complete is signed, what is not is left out and said."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from ndi.domain import facts as f
from ndi.domain.answer import Answer, Verdict
from ndi.domain.entry import Draft, Recorded
from ndi.domain.fact_set import FactSet
from ndi.domain.outcome import Outcome
from ndi.rules.disposition import WORKED_BY, d20_verifier_worked_on_none
from ndi.rules.inquiry import Inquiry
from ndi.services import covers
from ndi.services.exceptions import has_role
from ndi.services.lookup import about
from ndi.services.ports import Session
from ndi.services.proof import Meaning, Proof
from ndi.services.recording import outside_answer
from ndi.services.shop_inquiry import shop_inquiry
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


def own_work(work: Workplace, person: str, inspections: Iterable[str]) -> Outcome:
    """D20 as it would be answered if this person verified these records."""
    with work.look() as session:
        return independence(shop_inquiry(work, session, []), session, inspections, person)


def verify_records(
    work: Workplace, person: str, *, inspections: Sequence[str] | None = None, proof: Proof | None = None
) -> Verification:
    """Sign every complete record in scope in one act that shows what it covers.

    ``proof`` (in a practice book none): of the person, for what :func:`verifiable` shows.
    Refused when the verifier viewed, decided or second-looked any record in scope (D20).
    """
    with work.act("verify", person, "records") as session:
        scope = [s for s in standings(work, session) if inspections is None or s.row.inspection in inspections]
        covered = tuple(s for s in scope if s.is_verifiable)
        left_out = tuple(s for s in scope if not s.is_verifiable)
        found = f"{len(covered)} verifiable, {len(left_out)} not"
        inquiry = shop_inquiry(work, session, [])
        outcome = independence(inquiry, session, [s.row.inspection for s in scope], person)
        if outcome.verdict is Verdict.FAIL:
            raise Refused([outside_answer("D20", replace(outcome, found=found), inquiry.procedure)])
        if not any(has_role(session, person, role, "", work.now().local.date()) for role in VERIFYING_ROLES):
            raise Refused((), f"{person} is no supervisor: records are verified by one who worked on none of them")
        names = tuple(s.row.inspection for s in left_out)
        signed = require(
            work, session, proof, person, Meaning.VERIFIED, covers.records(s.row.inspection for s in covered)
        )
        said = replace(outcome, found=found + (f" ({', '.join(names)})" if names else ""))
        fact = f.VerificationSigned(
            person, tuple(s.row.inspection for s in covered), names, signed.proof, signed.meaning, signed.covers
        )
        session.append([Draft(fact, work.now(), person)])
        return Verification(outside_answer("D20", said, inquiry.procedure), covered, left_out)


def independence(q: Inquiry, session: Session, inspections: Iterable[str], person: str) -> Outcome:
    """D20 asked of all records in scope at once: nobody verifies what they viewed, second-looked, decided or reworked."""
    worked: list[Recorded[f.Fact]] = [
        recorded
        for inspection in inspections
        for kind in WORKED_BY
        for recorded in about(session, kind, inspection)
        if recorded.fact.inspection == inspection
    ]
    return d20_verifier_worked_on_none(replace(q, facts=FactSet(worked), verifier=person))
