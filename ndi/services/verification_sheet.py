"""The verification sheet: what the supervisor looked at for a shift, and exactly what the signature covers."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from ndi.domain import facts as f
from ndi.domain.answer import Verdict
from ndi.domain.entry import Recorded
from ndi.services import paper_blocks as b
from ndi.services.lookup import every
from ndi.services.paper_record import record_text
from ndi.services.paper_text import doer, local_text, on_paper
from ndi.services.report_models import Labelled, SheetTable
from ndi.services.shift_review import LAMP_WORDS, ReviewLine, ShiftReview, shift_review
from ndi.services.workplace import Workplace

_CLOSEST = 25  # margins on paper; all of them are in the attached file
_NOT_GREEN = (Verdict.FAIL, Verdict.NOT_RECORDED)


def verification_sheet(work: Workplace, day: date) -> b.PaperModel:
    """The review of one local day as the book stands, with the verifications signed for it."""
    review = shift_review(work, day)
    with work.book.session(readonly=True) as session:
        signed = [
            r
            for r in every(session, f.VerificationSigned)
            if r.when.local.date() == day or set(r.fact.inspections) & set(review.scope)
        ]
        head = str(session.head())
        record = record_text(work, session, "verification sheet", _told(review, signed))
    return b.PaperModel(
        title="VERIFICATION SHEET",
        subject=f"shift of {day:%Y-%m-%d, %A}",
        book_id=work.book.book_id,
        practice=work.practice,
        printed_at=local_text(work.now()),
        head=head,
        blocks=tuple(_blocks(review, signed)),
        record=record,
        footer=b.WORK_PAPER,
    )


def _blocks(review: ShiftReview, signed: Sequence[Recorded[f.VerificationSigned]]) -> Iterator[b.Block]:
    yield b.Pairs(
        (
            Labelled("Records of the day", str(len(review.scope))),
            Labelled("A signature covers now", review.covers_text),
            Labelled("Verified before", str(len(review.verified))),
            Labelled("Not signed", ", ".join(review.unsigned) or "none"),
            Labelled("Suspended", ", ".join(review.suspended) or "none"),
            Labelled("Provisional", ", ".join(review.provisional) or "none"),
        )
    )
    if review.serious:
        texts = tuple(
            f"{found.name}: first seen {found.discovered}, not judged or not reported in time"
            for found in review.serious
        )
        yield b.NoticeBox("RED: SERIOUS FINDINGS", texts, inverted=True)
    yield _answers("Red: stands in the way of verification", review.red)
    yield _answers("Amber: a reason is enough", review.amber)
    yield _lamps(review)
    yield SheetTable(
        "How close the times came, the closest first",
        (
            ("Basket", 0.1),
            ("Attempt", 0.08),
            ("What", 0.2),
            ("Took", 0.18),
            ("Limit", 0.22),
            ("Margin %", 0.1),
            ("Mark", 0.12),
        ),
        tuple(tuple(on_paper(cell) for cell in cells) for cells in review.margins[:_CLOSEST]),
        "No timed step.",
    )
    if len(review.margins) > _CLOSEST:
        yield b.Text(f"{len(review.margins) - _CLOSEST} more, none of them closer.", small=True)
    yield _late(review)
    yield b.Heading("What one signature would cover")
    yield b.Text(", ".join(review.covers) or "Nothing: no record is complete.")
    yield SheetTable(
        "Signed",
        (("At", 0.2), ("Person", 0.12), ("Meaning", 0.12), ("Covers", 0.36), ("Left out", 0.2)),
        tuple(_signed(recorded) for recorded in signed),
        "No verification is signed for this shift.",
    )
    yield b.Text("Nobody verifies records that they viewed, looked at a second time, decided or reworked.", small=True)
    yield b.SignLines(("verified by, date, time (where the shop keeps a signed copy)",))


def _answers(title: str, lines: Sequence[ReviewLine]) -> SheetTable:
    rows = tuple(
        (
            line.inspection,
            line.state,
            f"{line.answer.rule} {line.answer.verdict}",
            on_paper(line.answer.says or line.answer.found),
            on_paper("; ".join(line.answer.ways_out)),
        )
        for line in lines
    )
    columns = (("Record", 0.1), ("State", 0.18), ("Answer", 0.18), ("What it says", 0.32), ("Ways out", 0.22))
    return SheetTable(f"{title}: {len(rows)}", columns, rows, "None.")


def _lamps(review: ShiftReview) -> SheetTable:
    rows = tuple(
        (
            lamp.lamp,
            LAMP_WORDS[lamp.verdict],
            on_paper(review.lamp_says(lamp)),
            f"{len(lamp.used_for)} records" if lamp.used_for else "not used",
        )
        for lamp in review.lamps
    )
    act = frozenset(number for number, lamp in enumerate(review.lamps) if lamp.verdict in _NOT_GREEN)
    columns = (("Lamp", 0.12), ("State", 0.16), ("What it says", 0.54), ("By the usage log", 0.18))
    return SheetTable("Lamps", columns, rows, "The shop has no lamps.", act)


def _late(review: ShiftReview) -> SheetTable:
    rows = tuple(
        (
            local_text(late.when),
            type(late.fact).__name__,
            ", ".join(late.fact.subjects()),
            doer(late),
            local_text(type(late.when)(late.recorded_at, late.when.offset_min)),
            late.why or "",
        )
        for late in review.late
    )
    columns = (("Happened", 0.17), ("Fact", 0.15), ("About", 0.2), ("By", 0.08), ("Typed", 0.17), ("Reason", 0.23))
    return SheetTable("Typed late", columns, rows, "Nothing was typed late.")


def _signed(recorded: Recorded[f.VerificationSigned]) -> tuple[str, ...]:
    fact = recorded.fact
    covers = f"{len(fact.inspections)} records: {', '.join(fact.inspections)}"
    return (local_text(recorded.when), fact.person, fact.meaning or "verified", covers, ", ".join(fact.left_out))


def _told(review: ShiftReview, signed: Sequence[Recorded[f.VerificationSigned]]) -> dict[str, object]:
    return {
        "day": review.day.isoformat(),
        "records": list(review.scope),
        "covers": list(review.covers),
        "suspended": list(review.suspended),
        "provisional": list(review.provisional),
        "not_signed": list(review.unsigned),
        "lines": [
            {
                "record": line.inspection,
                "colour": "red" if line.is_red else "amber",
                "rule": line.answer.rule,
                "answer": str(line.answer.verdict),
            }
            for line in review.lines
        ],
        "lamps": [{"lamp": lamp.lamp, "state": LAMP_WORDS[lamp.verdict]} for lamp in review.lamps],
        "margins": [list(cells) for cells in review.margins],
        "typed_late": [late.position for late in review.late],
        "signed": [
            {"position": r.position, "person": r.fact.person, "records": list(r.fact.inspections)} for r in signed
        ],
    }
