"""What signed records would be answered now, beside what was signed (law 11).

After a program update the answers of a rule may differ.  Only facts suspend, so
nothing is changed here: the differences are listed, and a person decides.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from enum import StrEnum

from ndi.domain import facts as f
from ndi.domain.answer import Answer
from ndi.domain.entry import Recorded
from ndi.domain.errors import NotFound
from ndi.domain.fact_set import FactSet
from ndi.domain.moment import Moment
from ndi.rules import registry
from ndi.rules.inquiry import Inquiry
from ndi.services.assemble import decision_in_force
from ndi.services.judging import judge
from ndi.services.ports import InspectionRow, Session
from ndi.services.state import decision_text
from ndi.services.workplace import Workplace


class Because(StrEnum):
    """Why an answer is not the signed one, as far as the book shows it."""

    VERSION = "the rule changed"
    NEW = "not asked when it was signed"
    GONE = "not asked any more"
    FACTS = "facts since the signature"
    PROGRAM = "not by facts since, and the rule's version is the same"  # a change of the program that nobody marked


@dataclass(frozen=True)
class Difference:
    """One rule of one record: the signed answer and the one of now (None: not asked)."""

    rule: str
    then: f.KeptAnswer | None
    now: Answer | None
    because: Because

    @property
    def verdict_differs(self) -> bool:
        """Whether more than the version differs."""
        return self.then is None or self.now is None or self.then.verdict != self.now.verdict


@dataclass(frozen=True)
class Rechecked:
    """A signed record with the rules that are answered otherwise now, or by another version."""

    inspection: str
    decision: str
    suspended: bool
    person: str
    signed_at: Moment
    differences: tuple[Difference, ...]


def recheck(work: Workplace, *, inspections: Collection[str] | None = None) -> tuple[Rechecked, ...]:
    """Every signed record (or those named), asked again; NotFound for a name without a signature in force."""
    with work.book.session(readonly=True) as session:
        rows = [row for row in session.inspections() if row.decision is not None]
        if inspections is not None:
            unsigned = sorted(set(inspections) - {row.inspection for row in rows})
            if unsigned:
                raise NotFound(f"{', '.join(unsigned)}: no signed record of that name; ndi shift lists them")
            rows = [row for row in rows if row.inspection in inspections]
        return tuple(_record(work, session, row) for row in rows)


def _record(work: Workplace, session: Session, row: InspectionRow) -> Rechecked:
    signed = decision_in_force(session, row.inspection)
    assert signed is not None  # the row names its position
    then = {kept.rule: kept for kept in signed.fact.answers}
    judgement = judge(work, session, row.inspection)
    as_signed = _as_signed(judgement.inquiry, signed)
    now = {answer.rule: answer for answer in judgement.answers}
    found = [_difference(rule, then.get(rule), now.get(rule), as_signed) for rule in {**then, **now}]
    differences = tuple(difference for difference in found if difference is not None)
    decision = decision_text(session, row)
    return Rechecked(row.inspection, decision, row.suspended, signed.fact.person, signed.when, differences)


def _as_signed(inquiry: Inquiry, signed: Recorded[f.DecisionSigned]) -> Inquiry:
    """The same question with what was in the book before the signature, corrections since apart."""
    known = FactSet(recorded for recorded in inquiry.facts if recorded.position < signed.position)
    return replace(inquiry, facts=known, asked=signed.when, decided=None)


def _difference(rule: str, then: f.KeptAnswer | None, now: Answer | None, as_signed: Inquiry) -> Difference | None:
    if then is None or now is None:
        return Difference(rule, then, now, Because.NEW if then is None else Because.GONE)
    if then.version != now.version:
        return Difference(rule, then, now, Because.VERSION)
    if then.verdict == now.verdict:
        return None
    again = registry.answer(rule, as_signed)
    return Difference(rule, then, now, Because.FACTS if again.verdict == then.verdict else Because.PROGRAM)
