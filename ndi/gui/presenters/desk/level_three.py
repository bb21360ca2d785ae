"""Decisions that are not the inspector's: deviation, concession, disagreement, second signature, verification."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date

from ndi.domain import facts as f
from ndi.domain.acceptance import NO_DEVIATION
from ndi.domain.answer import Severity
from ndi.domain.errors import InputError
from ndi.domain.vocabulary import Disposition
from ndi.gui.presenters.desk import marks
from ndi.gui.presenters.desk.acts import Act, Field, Form, needed
from ndi.gui.presenters.desk.listing import Column, Listing, Row
from ndi.gui.presenters.desk.recording_forms import NOBODY
from ndi.services import covers, exceptions, second_person, verifying
from ndi.services.inspecting import resolve_disagreement
from ndi.services.judging import judge
from ndi.services.lookup import about
from ndi.services.proof import Meaning, Proof
from ndi.services.state import decision_text, standings
from ndi.services.workplace import Workplace

_RECORDS = (
    Column("Record", 9),
    Column("State", 26, stretch=True),
    Column("Part", 24, stretch=True),
    Column("In the way", 44, stretch=True),
)
_IN_THE_WAY = (
    Column("Rule", 6),
    Column("Answer", 16),
    Column("It says", 50, stretch=True),
    Column("Who may deviate", 18),
    Column("Ways out", 34, stretch=True),
)


@dataclass(frozen=True)
class Case:
    """A record with what stands in its way; ``version`` is what was seen."""

    inspection: str
    title: str
    answers: Listing
    version: int


class LevelThree:
    """Records that wait for somebody else's word."""

    def __init__(self, work: Workplace, person: Callable[[], str]) -> None:
        self._work, self._person = work, person

    def listing(self) -> Listing:
        """Every record that is not complete."""
        with self._work.book.session(readonly=True) as session:
            rows = []
            for standing in standings(self._work, session):
                if standing.is_verifiable:
                    continue
                row = standing.row
                mark = marks.of_disposition(
                    decision_text(session, row), suspended=row.suspended, provisional=row.provisional
                )
                lines = ", ".join(f"{a.rule} {a.verdict}" for a in standing.open_lines) or "not signed"
                rows.append(
                    Row(
                        (row.inspection, str(mark), f"{row.part_no}  {row.part.split('/')[-1]}", lines),
                        row.inspection,
                        act=row.suspended,
                    )
                )
        return Listing(_RECORDS, tuple(rows), "Every record is complete.")

    def case(self, inspection: str) -> Case:
        """What stands in the way of one record."""
        with self._work.book.session(readonly=True) as session:
            row = session.inspection(inspection)
            judgement = judge(self._work, session, inspection)
            settings = judgement.inquiry.procedure.rules
            rows = []
            for answer in judgement.answers:
                if answer.settled:
                    continue
                setting = settings.get(answer.rule)
                may = (
                    "nobody"
                    if answer.rule in NO_DEVIATION or answer.severity is not Severity.BLOCK
                    else ", ".join(setting.may_deviate if setting else ()) or "nobody"
                )
                rows.append(
                    Row(
                        (
                            answer.rule,
                            str(marks.of_verdict(answer.verdict)),
                            answer.says,
                            may,
                            "; ".join(answer.ways_out),
                        ),
                        answer.rule,
                        act=answer.severity.blocks,
                    )
                )
        return Case(
            inspection,
            f"{inspection}: {row.part_no}, {row.part}",
            Listing(_IN_THE_WAY, tuple(rows), "Nothing stands in its way."),
            row.version,
        )

    def _by(self) -> str:
        if not self._person():
            raise InputError(NOBODY)
        return self._person()

    def _form(
        self,
        title: str,
        fields: tuple[Field, ...],
        act: Callable[[Mapping[str, str], str], Act],
        lines: tuple[str, ...] = (),
    ) -> Form:
        def made(values: Mapping[str, str]) -> Act:
            needed(values, fields)
            return act(values, self._by())

        return Form(title, fields, made, lines)

    def deviation_form(self, case: Case, rule: str) -> Form:
        """Set one rule that blocks aside, by a role that the procedure names."""
        fields = (
            Field("rule", "Rule", rule, needed=True),
            Field(
                "role",
                "In the role of",
                "L3",
                "L3: level 3 of the method; or a role that the procedure names",
                needed=True,
            ),
            Field("justification", "Justification", needed=True),
            Field("expires", "Ends on", day=True, needed=True),
        )

        def act(values: Mapping[str, str], by: str) -> Act:
            shown = covers.deviation(case.inspection, values["rule"], values["justification"])

            def make(proof: Proof | None) -> str:
                exceptions.sign_deviation(
                    self._work,
                    case.inspection,
                    values["rule"],
                    by,
                    role=values["role"],
                    justification=values["justification"],
                    expires=_day(values["expires"]),
                    seen=case.version,
                    proof=proof,
                )
                return f"{case.inspection}: deviation from {values['rule']} signed by {by}; the answer stays what it is"

            return Act(
                f"Deviation on {case.inspection}",
                by,
                make,
                Meaning.APPROVED,
                shown,
                (f"Role {values['role']}, until {values['expires']}.",),
            )

        return self._form(
            f"Deviation on {case.inspection}",
            fields,
            act,
            (
                "None exists for identity, certificate, vision, the second look, an open crack. Who decides does not deviate.",
            ),
        )

    def concession_form(self, case: Case) -> Form:
        """Engineering allows what the data in hand do not."""
        fields = (
            Field("reference", "Reference", needed=True),
            Field("revision", "Revision", needed=True),
            Field("conditions", "Conditions", needed=True, hint="printed on record and tag"),
        )

        def act(values: Mapping[str, str], by: str) -> Act:
            shown = covers.concession(case.inspection, values["reference"], values["revision"], values["conditions"])

            def make(proof: Proof | None) -> str:
                exceptions.give_concession(
                    self._work,
                    case.inspection,
                    by,
                    reference=values["reference"],
                    revision=values["revision"],
                    conditions=values["conditions"],
                    seen=case.version,
                    proof=proof,
                )
                return f"{case.inspection}: concession {values['reference']} rev {values['revision']} given by {by}"

            return Act(f"Concession on {case.inspection}", by, make, Meaning.APPROVED, shown)

        return self._form(f"Engineering concession on {case.inspection}", fields, act)

    def disagreement_form(self, case: Case) -> Form:
        """A Level III decides between first and second look."""
        with self._work.book.session(readonly=True) as session:
            seen = [r.fact.indication for r in about(session, f.IndicationSeen, case.inspection)]
        fields = (
            Field(
                "indication",
                "Indication",
                seen[0] if len(seen) == 1 else "",
                "empty: the whole part",
                tuple(dict.fromkeys(seen)),
            ),
            Field("decision", "Decision", needed=True),
        )

        def act(values: Mapping[str, str], by: str) -> Act:
            fact = f.DisagreementResolved(case.inspection, values["indication"] or None, by, values["decision"])

            def make(proof: Proof | None) -> str:
                resolve_disagreement(self._work, fact, seen=case.version, proof=proof)
                return f"{case.inspection}: decided by {by}"

            return Act(f"Disagreement on {case.inspection}", by, make, Meaning.APPROVED, covers.disagreement(fact))

        return self._form(f"Decide between first and second look of {case.inspection}", fields, act)

    def second_form(self, case: Case) -> Form:
        """Approve a disposition as the second person, before it is signed."""
        words = tuple(str(word) for word in Disposition if word is not Disposition.NO_DECISION)
        fields = (
            Field(
                "disposition",
                "Disposition",
                "",
                "the one that somebody else is about to sign",
                words,
                free=False,
                needed=True,
            ),
        )

        def act(values: Mapping[str, str], by: str) -> Act:
            word = values["disposition"]
            with self._work.book.session(readonly=True) as session:
                shown = covers.decision(session.inspection(case.inspection), word)

            def make(proof: Proof | None) -> str:
                second_person.countersign(self._work, case.inspection, by, word, proof=proof)
                return f"{case.inspection}: {word} approved by {by} as second person"

            return Act(f"Approve {word} of {case.inspection}", by, make, Meaning.APPROVED, shown)

        return self._form(f"Approve a disposition of {case.inspection} as the second person", fields, act)

    def verification(self) -> Act:
        """Verify every complete record, by a supervisor who worked on none of them."""
        by = self._by()
        shown = verifying.verifiable(self._work)

        def make(proof: Proof | None) -> str:
            found = verifying.verify_records(self._work, by, proof=proof)
            return f"{len(found.covered)} records verified by {by}, {len(found.left_out)} left out"

        return Act(
            "Verify what is complete",
            by,
            make,
            Meaning.VERIFIED,
            shown,
            (f"{len(shown)} records; what is not complete is left out and said.",),
        )


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise InputError(f"{text!r} is no day: type it like 2026-03-10") from None
