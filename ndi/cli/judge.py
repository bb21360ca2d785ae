"""``ndi judge BOOK INSPECTION``: every rule of the record's revision with answer, found, limit, paragraph, facts, ways out."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator
from typing import Any

from ndi import bootstrap
from ndi.domain.answer import Answer
from ndi.rules import registry
from ndi.services.judging import Judgement, judge
from ndi.services.ports import InspectionRow
from ndi.services.state import decision_text

_MARKS = {"PASS": "+", "FAIL": "x", "NOT RECORDED": "?", "NOT YET": "~", "NOT APPLICABLE": "."}


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("judge", help="ask every rule of one record")
    parser.add_argument("book", type=bootstrap.where)
    parser.add_argument("inspection")
    parser.add_argument("--open", action="store_true", help="only lines that are not PASS or NOT APPLICABLE")
    parser.add_argument("--json", action="store_true")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Exit 0 when nothing stands in the way of this record, 1 when something does."""
    work = bootstrap.open_book(args.book)
    with work.book.session(readonly=True) as session:
        row = session.inspection(args.inspection)
        judgement = judge(work, session, args.inspection)
        decision = decision_text(session, row)
    answers = [a for a in judgement.answers if not (args.open and a.settled)]
    if args.json:
        json.dump(_as_json(judgement, row, decision, answers), sys.stdout, indent=1, ensure_ascii=False)
        print()
    else:
        for line in lines(judgement, row, decision, answers):
            print(line)
    return 0 if all(a.settled or not a.severity.blocks for a in judgement.answers) else 1


def lines(judgement: Judgement, row: InspectionRow, decision: str, answers: list[Answer]) -> Iterator[str]:
    """The record line by line."""
    words = [decision]
    words += ["SUSPENDED"] if row.suspended else ["PROVISIONAL"] if row.provisional else []
    yield f"{row.inspection}  {row.part}  {' - '.join(words)}"
    yield f"asked: {len(judgement.answers)} rules of {judgement.inquiry.procedure.name}, technique {judgement.inquiry.technique.name}"
    questions = registry.load_all()
    for answer in answers:
        yield f"{_MARKS[answer.verdict]} {answer.rule:4} {answer.severity} {answer.verdict:14} {questions[answer.rule].question}"
        for label, text in (("found", answer.found), ("limit", answer.limit), ("says", answer.says)):
            if text:
                yield f"      {label:6} {text}"
        if answer.ways_out and not answer.settled:
            yield f"      do     {' / '.join(answer.ways_out)}"
        facts = f"entries {', '.join(map(str, answer.facts))}" if answer.facts else "no entries"
        yield f"      from   {facts}; {answer.paragraph}"


def _as_json(judgement: Judgement, row: InspectionRow, decision: str, answers: list[Answer]) -> dict[str, Any]:
    return {
        "inspection": row.inspection,
        "decision": decision,
        "suspended": row.suspended,
        "provisional": row.provisional,
        "procedure": judgement.inquiry.procedure.name,
        "answers": [
            {
                "id": a.rule,
                "version": a.version,
                "severity": str(a.severity),
                "answer": str(a.verdict),
                "found": a.found,
                "limit": a.limit,
                "says": a.says,
                "ways_out": list(a.ways_out),
                "facts": list(a.facts),
                "paragraph": a.paragraph,
            }
            for a in answers
        ],
    }
