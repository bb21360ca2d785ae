"""Asks every rule of a record, and what those answers mean for its disposition."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from ndi.domain import acceptance
from ndi.domain import facts as f
from ndi.domain.answer import Answer, Severity
from ndi.domain.fact_set import FactSet
from ndi.domain.moment import Moment
from ndi.domain.procedure import Procedure
from ndi.domain.vocabulary import Disposition
from ndi.rules import registry
from ndi.rules.inquiry import Inquiry
from ndi.services.assemble import inquiry_for
from ndi.services.ports import Session
from ndi.services.workplace import Workplace


@dataclass(frozen=True)
class Judgement:
    """The answers to all rules of one record's pinned revision, and the inquiry they were read from."""

    inspection: str
    inquiry: Inquiry
    answers: tuple[Answer, ...]

    def answer(self, rule: str) -> Answer:
        """The answer to one rule; KeyError when the revision does not ask it."""
        for answer in self.answers:
            if answer.rule == rule:
                return answer
        raise KeyError(rule)

    @property
    def dispositions(self) -> tuple[str, ...]:
        """The words signed or about to be signed; children of a lot each with theirs."""
        words = [child.disposition for child in self.inquiry.children] or [
            self.inquiry.disposition or Disposition.NO_DECISION
        ]
        return tuple(dict.fromkeys(words))

    def standing(self) -> acceptance.Standing:
        """Law 2 over these answers with the reasons and deviations that are in the book."""
        return standing_of(self.inquiry, self.answers)


def judge(
    work: Workplace, session: Session, inspection: str, *, asked: Moment | None = None, **about: Any
) -> Judgement:
    """Ask all inspection rules; ``about``: decider, disposition, children as in :func:`inquiry_for`."""
    inquiry = _with_decider(session, inquiry_for(work, session, inspection, asked=asked, **about))
    return Judgement(inspection, inquiry, registry.judge(inquiry))


def _with_decider(session: Session, inquiry: Inquiry) -> Inquiry:
    """What is on file about a decider who did nothing else on the record, like a Level III who was called in."""
    decider = inquiry.decider
    if decider is None or inquiry.facts.of(f.CertificateEntered, decider):
        return inquiry
    on_file = session.facts(decider, (f.PersonEntered, f.CertificateEntered, f.VisionExamEntered))
    return replace(inquiry, facts=FactSet([*inquiry.facts, *on_file])) if on_file else inquiry


def ask(work: Workplace, session: Session, inspection: str, rules: Iterable[str], **about: Any) -> tuple[Answer, ...]:
    """Ask some rules of a record, whatever their scope."""
    registry.load_all()
    inquiry = inquiry_for(work, session, inspection, **about)
    return tuple(registry.answer(rule, inquiry) for rule in rules)


def needs_bracket(procedure: Procedure) -> bool:
    """Whether acceptance waits for the closing lamp reading; without a value it does."""
    found = procedure.parameters.get("accept_needs_bracket")
    return found is None or found.value is not False


def deviations_in_force(
    facts: FactSet, procedure: Procedure, inspection: str, on: Moment, decider: str | None
) -> set[str]:
    """B rules with an unexpired deviation by a role that the procedure names, signed by somebody else."""
    found = set()
    for recorded in facts.of(f.DeviationSigned, inspection):
        deviation = recorded.fact
        setting = procedure.rules.get(deviation.rule)
        if (
            setting is not None
            and setting.severity is Severity.BLOCK
            and deviation.role in setting.may_deviate
            and deviation.person != decider
            and on.local.date() <= deviation.expires
        ):
            found.add(deviation.rule)
    return found


def reasons_given(facts: FactSet, inspection: str) -> dict[str, f.Reason]:
    """The latest reason for each warning of a record."""
    return {r.fact.rule: f.Reason(r.fact.rule, r.fact.text, r.fact.person) for r in facts.of(f.ReasonGiven, inspection)}


def standing_of(inquiry: Inquiry, answers: Iterable[Answer]) -> acceptance.Standing:
    """Law 2 for one inquiry."""
    facts, procedure = inquiry.facts, inquiry.procedure
    return acceptance.standing(
        answers,
        reasons=reasons_given(facts, inquiry.inspection).keys(),
        # a deviation that expires after the signature stood when it was signed (law 5)
        deviations=deviations_in_force(
            facts, procedure, inquiry.inspection, inquiry.decided or inquiry.asked, inquiry.decider
        ),
        needs_bracket=needs_bracket(procedure),
        concession=bool(inquiry.concession and inquiry.concession.strip()),
    )


def kept(answers: Iterable[Answer]) -> tuple[f.KeptAnswer, ...]:
    """The answers as a snapshot keeps them."""
    return tuple(
        f.KeptAnswer(a.rule, a.version, str(a.verdict), str(a.severity), a.found, a.limit, a.facts) for a in answers
    )


def snapshot_hash(answers: Iterable[f.KeptAnswer]) -> str:
    """One SHA-256 over a snapshot."""
    rows = [[a.rule, a.version, a.verdict, a.severity, a.found, a.limit, list(a.facts)] for a in answers]
    return hashlib.sha256(json.dumps(rows, ensure_ascii=False, separators=(",", ":")).encode()).hexdigest()
