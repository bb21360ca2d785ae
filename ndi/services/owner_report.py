"""The report to the owner of an engine: plain words, every piece accounted for, what was found and what it means."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ndi.domain import facts as f
from ndi.services import owner_findings, owner_how, owner_lines
from ndi.services import owner_words as words
from ndi.services import paper_blocks as b
from ndi.services.assemble import decision_in_force
from ndi.services.lookup import about, only
from ndi.services.owner_lines import Line
from ndi.services.owner_record import record_text
from ndi.services.paper_text import local_text, on_paper
from ndi.services.ports import InspectionRow, Session
from ndi.services.report_models import Labelled
from ndi.services.state import decision_text, piece_counts
from ndi.services.workplace import Workplace


def owner_report(work: Workplace, work_order: str) -> b.PaperModel:
    """The report of one work order as the book stands; NotFound for one that the book does not hold."""
    with work.book.session(readonly=True) as session:
        order = only(session, f.WorkOrderOpened, work_order)
        counts = piece_counts(work, session, work_order)
        listed = session.parts(work_order)
        lines = [owner_lines.line_of(work, session, part) for part in listed if part.reason_code is None]
        left_out = [part for part in listed if part.reason_code is not None]
        findings = [found for line in lines for found in owner_findings.findings_of(work, session, line)]
        head = str(session.head())
        fact = order.fact
        bottom = words.bottom_line(counts, owner_lines.named(lines))
        blocks = (
            b.Heading("What this report is about"),
            b.Pairs(_identity(session, fact, order.when.local.date().isoformat())),
            b.NoticeBox("IN ONE SENTENCE", (bottom,)),
            *_open_notices(session, lines),
            *owner_lines.table(lines, left_out, counts),
            *owner_findings.relevant(work, session, findings),
            owner_findings.others(findings),
            *owner_findings.rework(session, lines),
            *owner_how.directives(session, work_order),
            *owner_how.how(work, session, lines),
            b.Heading("What this inspection cannot tell"),
            b.Bullets(words.LIMITS_OF_INSPECTION),
            *owner_how.numbers(session, lines),
        )
        return b.PaperModel(
            title="ENGINE INSPECTION REPORT",
            subject=f"{fact.engine_model} serial {fact.engine_serial}   work order {work_order}",
            book_id=work.book.book_id,
            practice=work.practice,
            printed_at=local_text(work.now()),
            head=head,
            blocks=blocks,
            record=record_text(work, fact, counts, lines, left_out, findings, bottom, head),
        )


def _identity(session: Session, order: f.WorkOrderOpened, opened: str) -> tuple[Labelled, ...]:
    released = about(session, f.ReleaseNoted, order.work_order)
    return (
        Labelled("Engine", f"{order.engine_model} serial {order.engine_serial}"),
        Labelled("Work order", f"{order.work_order}, opened {opened}"),
        Labelled("Time since new", _hours(order.time_since_new)),
        Labelled("Since overhaul", _hours(order.time_since_overhaul)),
        Labelled("Reason for the work", order.reason),
        Labelled("Limits used", order.limits_basis),
        *(Labelled("Release (elsewhere)", f"{r.fact.released}, {r.fact.reference}") for r in released[-1:]),
    )


def _hours(stated: str | None) -> str:
    """A time that the shop did not measure; one that is not a number ("no earlier overhaul") has no unit."""
    if not stated:
        return "not recorded"
    unit = " h" if stated.replace(".", "", 1).isdecimal() else ""
    return f"{stated}{unit}, as stated in the log book"


def _open_notices(session: Session, lines: Sequence[Line]) -> Iterator[b.Block]:
    """Acceptances that are not final: suspended ones, and ones that wait for a reading."""
    suspended: dict[str, list[str]] = {}
    waiting: dict[str, list[str]] = {}
    for line in lines:
        for row in line.rows:
            name = f"{line.full_name} ({row.inspection})"
            if row.suspended:
                told = owner_findings.suspension(session, row, decision_text(session, row))
                suspended.setdefault(told, []).append(name)
            elif row.provisional:
                waiting.setdefault(f"waits for {_waits_for(session, row)}", []).append(name)
    for word, grouped, inverted in (("SUSPENDED", suspended, True), ("PROVISIONAL", waiting, False)):
        count = sum(len(names) for names in grouped.values())
        if count:
            texts = tuple(f"{', '.join(names)}: {told}." for told, names in grouped.items())
            yield b.NoticeBox(f"{word}: {count} INSPECTION(S)", texts, inverted=inverted)


def _waits_for(session: Session, row: InspectionRow) -> str:
    signed = decision_in_force(session, row.inspection)
    return on_paper((signed.fact.waits_for if signed else None) or "a reading still to be taken")
