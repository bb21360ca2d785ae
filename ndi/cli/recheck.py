"""``ndi recheck BOOK``: signed records whose answers would differ now, with both answers; changes nothing."""

from __future__ import annotations

import argparse
import json
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

from ndi import bootstrap
from ndi.domain.answer import Answer
from ndi.domain.facts import KeptAnswer
from ndi.services.recheck import Because, Rechecked, recheck


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("recheck", help="ask signed records again, after the program or its rules changed")
    parser.add_argument("book", type=bootstrap.where)
    parser.add_argument("inspection", nargs="*", help="only these records")
    parser.add_argument("--rules", action="store_true", help="leave out what facts since the signature explain")
    parser.add_argument("--json", action="store_true")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Exit 0: what is listed is for a person to decide."""
    work = bootstrap.open_book(args.book)
    records = recheck(work, inspections=args.inspection or None)
    if args.rules:
        records = tuple(_without_facts(record) for record in records)
    if args.json:
        json.dump([_as_json(record) for record in records if record.differences], sys.stdout, indent=1)
        print()
    else:
        for line in lines(records):
            print(line)
    return 0


def _without_facts(record: Rechecked) -> Rechecked:
    kept = tuple(each for each in record.differences if each.because is not Because.FACTS)
    return replace(record, differences=kept)


def lines(records: Sequence[Rechecked]) -> Iterator[str]:
    """The differing records, and how many there are for which cause."""
    differing = [record for record in records if record.differences]
    for record in differing:
        state = " - SUSPENDED" if record.suspended else ""
        yield f"{record.inspection}  {record.decision}{state}, signed {record.signed_at} by {record.person}"
        for each in record.differences:
            yield f"  {each.rule:4} {_side(each.then)} -> {_side(each.now)}: {each.because}"
            if each.verdict_differs:
                yield f"       then {_said(each.then)}"
                yield f"       now  {_said(each.now)}"
    causes = Counter(str(each.because) for record in differing for each in record.differences)
    counted = ", ".join(f"{count} x {cause}" for cause, count in sorted(causes.items()))
    yield f"{len(records)} signed records asked again, {len(differing)} differ" + (f": {counted}" if counted else "")
    yield "nothing was changed: a person decides what becomes of them"


def _side(answer: KeptAnswer | Answer | None) -> str:
    return "-" if answer is None else f"{answer.verdict} (version {answer.version})"


def _said(answer: KeptAnswer | Answer | None) -> str:
    if answer is None:
        return "not asked"
    says = answer.says if isinstance(answer, Answer) else ""
    entries = ", ".join(map(str, answer.facts)) or "none"
    texts = [says, f"found {answer.found or '-'}", f"limit {answer.limit or '-'}", f"entries {entries}"]
    return "; ".join(text for text in texts if text)


def _as_json(record: Rechecked) -> dict[str, Any]:
    return {
        "inspection": record.inspection,
        "decision": record.decision,
        "suspended": record.suspended,
        "signed_by": record.person,
        "signed_at": str(record.signed_at),
        "differences": [
            {
                "rule": each.rule,
                "because": str(each.because),
                "then": _answer_json(each.then),
                "now": _answer_json(each.now),
            }
            for each in record.differences
        ],
    }


def _answer_json(answer: KeptAnswer | Answer | None) -> dict[str, Any] | None:
    if answer is None:
        return None
    return {
        "version": answer.version,
        "answer": str(answer.verdict),
        "found": answer.found,
        "limit": answer.limit,
        "facts": list(answer.facts),
    }
