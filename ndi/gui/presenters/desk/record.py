"""One record: every question with its answer, what happened, indications on the outline, entries, signatures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

from ndi.domain import facts as f
from ndi.domain.answer import Answer
from ndi.domain.entry import Recorded
from ndi.domain.facts import Fact
from ndi.gui.presenters.desk import entries, marks
from ndi.gui.presenters.desk.listing import Column, Labelled, Listing, Row
from ndi.gui.presenters.desk.outline import Drawing, drawing_of_record
from ndi.rules import registry
from ndi.services.judging import judge, reasons_given
from ndi.services.lookup import about
from ndi.services.ports import InspectionRow, Session
from ndi.services.record_report import record_model
from ndi.services.report_models import RecordModel
from ndi.services.state import decision_text
from ndi.services.workplace import Workplace

_RECORDS = (
    Column("Record", 9),
    Column("State", 30, stretch=True),
    Column("Part", 34, stretch=True),
    Column("Technique", 10),
    Column("Inspector", 9),
    Column("Opened", 17),
    Column("Verified", 9),
)
_ANSWERS = (
    Column("Rule", 5),
    Column("Answer", 16),
    Column("Sev.", 4),
    Column("Question", 46, stretch=True),
    Column("Found", 26, stretch=True),
    Column("Limit", 22, stretch=True),
)
_DAY = (Column("At", 18), Column("What", 26), Column("Details", 60, stretch=True), Column("By", 14))
_LOOKS = (
    Column("Look", 9),
    Column("About", 24),
    Column("Person", 28),
    Column("Found", 34, stretch=True),
    Column("Compared", 30, stretch=True),
)
_INDICATIONS = (
    Column("Indication", 11),
    Column("Zone, position", 24, stretch=True),
    Column("Form, size", 22),
    Column("Interpretation", 24, stretch=True),
    Column("Evaluation, limit", 30, stretch=True),
)
_SIGNED = (Column("At", 22), Column("Person", 22), Column("Meaning", 18), Column("Covers", 50, stretch=True))


@dataclass(frozen=True)
class AnswerView:
    """One answer in full: what the procedure asks, what was found, the ways out, the entries it was read from."""

    rule: str
    mark: marks.Mark
    question: str
    lines: tuple[Labelled, ...]
    entries: Listing


@dataclass(frozen=True)
class RecordView:
    """One record as the book has it now; ``version`` is what a change of it must have seen."""

    inspection: str
    part: str
    mark: marks.Mark
    headline: str
    standing: tuple[str, ...]
    identity: tuple[Labelled, ...]
    answers: Listing
    open_answers: Listing
    asked: str
    details: dict[str, AnswerView]
    day: Listing
    indications: Listing
    drawing: Drawing
    looks: Listing
    signed: Listing
    history: tuple[str, ...]
    entries: Listing
    version: int


class Records:
    """The records of the book."""

    def __init__(self, work: Workplace) -> None:
        self._work = work

    def listing(self) -> Listing:
        """Every record, the latest first."""
        with self._work.book.session(readonly=True) as session:
            rows = [self._row(session, row) for row in reversed(session.inspections())]
        return Listing(_RECORDS, tuple(rows), "No record is open yet.")

    def _row(self, session: Session, row: InspectionRow) -> Row:
        mark = _mark(session, row)
        opened = f"{self._local(row)}"
        cells = (
            row.inspection,
            str(mark),
            f"{row.part_no}  {row.part.split('/')[-1]}",
            row.technique,
            row.inspector,
            opened,
            "yes" if row.verified else "no",
        )
        return Row(cells, row.inspection, act=row.suspended or row.decision is None)

    def _local(self, row: InspectionRow) -> str:
        return f"{row.opened_at + timedelta(minutes=self._work.now().offset_min):%Y-%m-%d %H:%M}"

    def record(self, inspection: str) -> RecordView:
        """One record, judged now."""
        work = self._work
        with work.book.session(readonly=True) as session:
            row = session.inspection(inspection)
            model = record_model(work, session, inspection)
            judgement = judge(work, session, inspection)
            reasons = reasons_given(judgement.inquiry.facts, inspection)
            answers = {a.rule: self._answer(session, a, reasons.get(a.rule)) for a in judgement.answers}
            listing = Listing(_ANSWERS, tuple(_answer_row(a, answers[a.rule]) for a in judgement.answers))
            settled = sum(a.settled for a in judgement.answers)
            return RecordView(
                inspection,
                row.part,
                _mark(session, row),
                f"{model.part_no}, {model.item}, {model.work_order}",
                (*model.standing, *(f"Exception: {text}" for text in model.exceptions)),
                (
                    *model.identity,
                    *model.revisions,
                    Labelled("Record hash", model.record_hash),
                    Labelled("Head", model.head),
                ),
                listing,
                listing.only_act(),
                f"{len(judgement.answers)} rules of {judgement.inquiry.procedure.name} asked: {settled} settled, {len(judgement.answers) - settled} open",
                answers,
                _day(model),
                _indications(model),
                drawing_of_record(model),
                _looks(model),
                Listing(
                    _SIGNED,
                    tuple(
                        Row((s.at, f"{s.person}, {s.certificate}" if s.certificate else s.person, s.meaning, s.covers))
                        for s in model.signatures
                    ),
                    "Nobody has signed.",
                ),
                (
                    *model.attempts,
                    *(f"Recall set {text}" for text in model.containments),
                    *(f"Other now: {text}" for text in model.changed),
                ),
                entries.about_subjects(session, _subjects(session, row)),
                row.version,
            )

    def _answer(self, session: Session, answer: Answer, reason: f.Reason | None) -> AnswerView:
        question = registry.load_all()[answer.rule].question
        lines = [
            Labelled("Answer", f"{marks.of_verdict(answer.verdict)}, severity {_SEVERITY[answer.severity]}"),
            Labelled("It says", answer.says),
            Labelled("Found", answer.found),
            Labelled("Limit", answer.limit),
            Labelled("Paragraph", answer.paragraph),
            Labelled("Ways out", "; ".join(answer.ways_out) if not answer.settled else ""),
            Labelled("Reason given", f"{reason.text} ({reason.person})" if reason else ""),
        ]
        read_from = entries.brief(_present(session, answer.facts))
        shown = tuple(line for line in lines if line.value)
        return AnswerView(
            answer.rule, marks.of_verdict(answer.verdict), question[:1].upper() + question[1:], shown, read_from
        )


_SEVERITY = {"S": "S (stops the process)", "B": "B (blocks acceptance)", "W": "W (needs a reason)"}


def _mark(session: Session, row: InspectionRow) -> marks.Mark:
    return marks.of_disposition(decision_text(session, row), suspended=row.suspended, provisional=row.provisional)


def _present(session: Session, positions: Sequence[int]) -> list[Recorded[Fact]]:
    return [session.entry(position) for position in positions]


def _subjects(session: Session, row: InspectionRow) -> list[str]:
    """What belongs to the record itself: it, its part, its indications, its baskets."""
    seen = [r.fact.indication for r in about(session, f.IndicationSeen, row.inspection)]
    baskets = [r.fact.basket for r in about(session, f.BasketLoaded, row.inspection)]
    return list(dict.fromkeys([row.inspection, row.part, *seen, *baskets]))


def _answer_row(answer: Answer, view: AnswerView) -> Row:
    found = answer.found or answer.says
    cells = (answer.rule, str(view.mark), str(answer.severity), view.question, found, answer.limit)
    return Row(cells, answer.rule, act=not answer.settled)


def _day(model: RecordModel) -> Listing:
    """Steps, shots, views and readings by the clock; what lies before the day has its date and comes first."""
    rows = [
        *(
            _of_day(_span(s.started, s.ended), s.step, (f"on {s.on}", s.duration, s.observed), s.by)
            for s in model.steps
        ),
        *(
            _of_day(
                s.fired_at, f"shot {s.shot}, {s.kind}", (s.pulses, s.current, f"nominal {s.nominal}", s.bench), s.by
            )
            for s in model.shots
        ),
        *(
            _of_day(
                _span(v.started, v.ended),
                f"{v.kind} {v.view}",
                (f"zones {v.zones}", v.said, f"lamps {v.lamps}"),
                v.person,
            )
            for v in model.views
        ),
        *(
            _of_day(r.at, r.quantity, (f"{r.object} {r.value}", r.condition, r.meter and f"meter {r.meter}"), r.by)
            for r in model.readings
        ),
    ]
    rows.sort(key=lambda row: (row.cells[0][4:5] != "-", row.cells[0]))  # a date begins with its year
    return Listing(_DAY, tuple(rows), "Nothing was recorded of the process yet.")


def _span(started: str, ended: str) -> str:
    return f"{started} - {ended}" if ended else started


def _of_day(at: str, what: str, said: Sequence[str], by: str) -> Row:
    return Row((at, what, "; ".join(part.strip() for part in said if part.strip()), by))


def _indications(model: RecordModel) -> Listing:
    rows = [
        Row(
            (
                i.name,
                ", ".join(filter(None, (i.zone, i.position))),
                ", ".join(filter(None, (i.form, i.size))),
                ", ".join(filter(None, (i.interpretation, i.basis))),
                ", ".join(filter(None, (i.evaluation, i.limit))),
            ),
            i.name,
        )
        for i in model.indications
    ]
    return Listing(_INDICATIONS, tuple(rows), "No indication was recorded.")


def _looks(model: RecordModel) -> Listing:
    rows = [
        Row((s.look, s.about, f"{s.person}, {s.certificate}, blind: {s.blind or 'not saved'}", s.found, s.compared))
        for s in model.second_looks
    ]
    return Listing(_LOOKS, tuple(rows), "No second look was taken.")
