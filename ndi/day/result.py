"""What a replayed day comes to, as plain dictionaries for JSON and as lines for the terminal; all of it from the book."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from ndi.day.events import EventResult
from ndi.domain import facts as f
from ndi.domain.answer import Answer, Severity, Verdict
from ndi.services.containment import all_containments, latest_actions
from ndi.services.lookup import every
from ndi.services.ports import Session
from ndi.services.state import Standing, decision_text, piece_counts, record_counts, standings
from ndi.services.workplace import Workplace


def summary(work: Workplace, results: Sequence[EventResult]) -> dict[str, Any]:
    """Events, records, containments and figures of a day."""
    with work.book.session(readonly=True) as session:
        every_record = standings(work, session)
        return {
            "events": [event(result) for result in sorted(results, key=lambda r: r.id)],
            "records": {s.row.inspection: record(session, s) for s in every_record},
            "containments": {r.fact.containment: _containment(session, r.fact) for r in all_containments(session)},
            "figures": _figures(work, session, every_record),
        }


def event(result: EventResult) -> dict[str, Any]:
    return {"id": result.id, "time": result.time, "rules": [rule(a) for a in result.answers], "text": result.text}


def rule(answer: Answer) -> dict[str, str]:
    return {
        "id": answer.rule,
        "answer": str(answer.verdict),
        "found": answer.found or answer.says,
        "limit": answer.limit,
    }


def record(session: Session, standing: Standing) -> dict[str, Any]:
    """Where one record stands: S and B lines that fail or are not recorded, W lines that warn."""
    answers = standing.judgement.answers
    blocking = [a for a in answers if a.severity.blocks]
    return {
        "decision": decision_text(session, standing.row),
        "suspended": standing.row.suspended,
        "provisional": standing.row.provisional and not standing.row.suspended,
        "failing": [a.rule for a in blocking if a.verdict is Verdict.FAIL],
        "not_recorded": [a.rule for a in blocking if a.verdict is Verdict.NOT_RECORDED],
        "not_yet": [a.rule for a in blocking if a.verdict is Verdict.NOT_YET],
        "warnings": [a.rule for a in answers if a.severity is Severity.WARN and not a.settled],
    }


def _containment(session: Session, opened: f.ContainmentOpened) -> dict[str, Any]:
    trigger = session.entry(opened.trigger)
    fact = trigger.fact
    value = f" {fact.value}" if isinstance(fact, f.ReadingRecorded) else ""
    return {
        "trigger": f"{opened.object} {opened.quantity}{value} at {opened.first_bad.clock()}",
        "object": opened.object,
        "inspections": list(opened.inspections),
        "second_looks": sorted(opened.second_looks),
        "pieces": opened.pieces,
        "actions": {
            name: action.action for name, action in sorted(latest_actions(session, opened.containment).items())
        },
    }


def _figures(work: Workplace, session: Session, every_record: Sequence[Standing]) -> dict[str, Any]:
    rows = [s.row for s in every_record]
    orders = [r.fact.work_order for r in every(session, f.WorkOrderOpened)]
    verifiable = [s.row.inspection for s in every_record if s.is_verifiable]
    return {
        "records": record_counts(session, rows),
        "records_by_work_order": {
            order: record_counts(session, [row for row in rows if row.work_order == order]) for order in orders
        },
        "pieces": {order: piece_counts(work, session, order) for order in orders},
        "verifiable": len(verifiable),
        "not_verifiable": [s.row.inspection for s in every_record if not s.is_verifiable],
    }


def lines(results: Sequence[EventResult]) -> Iterator[str]:
    """The day line by line: expected, answered, and whether the two agree."""
    for result in sorted(results, key=lambda r: r.id):
        yield f"{result.id}  {result.time}  {result.who}"
        yield f"     expected  {result.expected}"
        rules = ", ".join(f"{a.rule} {a.verdict}" for a in result.answers)
        yield f"     answered  {f'[{rules}] ' if rules else ''}{result.text}"
        yield "     as expected" if result.as_expected else f"     NOT as expected: {'; '.join(result.missing)}"
    agreed = len({r.id for r in results if r.as_expected} - {r.id for r in results if not r.as_expected})
    yield f"{agreed} of {len({r.id for r in results})} expected answers"
