"""``ndi ask BOOK F12 [name=value ...]``: one of the forty questions; ``--list`` shows them, ``--all`` asks them all."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from ndi import bootstrap
from ndi.domain.errors import InputError
from ndi.services.asked import answering
from ndi.services.asked.question import AskedRow
from ndi.services.workplace import Workplace


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("ask", help="one of forty questions to the book: a list with count and evidence")
    parser.add_argument("book", type=bootstrap.where, nargs="?")
    parser.add_argument("question", nargs="?", metavar="F12")
    parser.add_argument("parameters", nargs="*", metavar="NAME=VALUE")
    parser.add_argument("--list", action="store_true", help="every question with its definition and parameters")
    parser.add_argument("--all", action="store_true", help="a page over all questions, each as the book proposes it")
    parser.add_argument("--filter", default="", metavar="TEXT", help="only rows in which some cell holds the text")
    parser.add_argument("--skip", type=_count, default=0, metavar="N", help="leave out the first N rows on the screen")
    parser.add_argument("--most", type=_count, metavar="N", help="show at most N rows on the screen")
    parser.add_argument("--evidence", type=_count, metavar="ROW", help="the entries that one row follows from, in full")
    parser.add_argument("--json", action="store_true", help="the answer as JSON on the standard output")
    parser.add_argument("--csv", type=Path, metavar="FILE", help="write the rows to a new CSV file")
    parser.add_argument("--freeze", action="store_true", help="keep the answer's hash and count in the book")
    parser.add_argument("--by", metavar="PERSON", help="who freezes it")
    parser.add_argument("--station", help="the station that stands here, where the key folder holds several")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Exit 0, also for an empty list."""
    if args.list:
        return _list()
    if args.all:
        return _all(args)
    if args.book is None or args.question is None:
        raise InputError("name the book and the question: ndi ask BOOK F12 (ndi ask --list shows them)")
    if args.freeze and not args.by:
        raise InputError("say who freezes it: --by PERSON")
    work = bootstrap.open_book(args.book, station=args.station)
    answered = answering.ask(work, args.question, dict(_pair(each) for each in args.parameters))
    rows = answered.only(args.filter) if args.filter else answered.rows
    if args.csv is not None:
        bootstrap.write_new(args.csv, answering.as_csv(answered, rows).encode("utf-8"))
    if args.evidence is not None:
        _evidence(work, rows, args.evidence)
    elif args.json:
        print(answering.as_json(answered, rows), end="")
    else:
        _show(answered, rows, args.skip, args.most)
        for kept in answering.frozen(work, answered):
            print(kept)
    if args.freeze:
        recorded = answering.freeze(work, answered, args.by)
        if not args.json:
            print(f"frozen as entry {recorded.position}, {recorded.when}: {answered.count} rows, {answered.hash}")
    return 0


def _pair(text: str) -> tuple[str, str]:
    name, sign, value = text.partition("=")
    if not sign:
        raise InputError(f"{text!r} is no parameter: type NAME=VALUE")
    return name.strip(), value


def _list() -> int:
    for each in answering.questions():
        print(f"{each.id:>4}  {each.text}")
        print(f"      {each.definition}")
        for one in each.parameters:
            default = (
                "needed" if one.default is None else f"default {one.default}" if one.default else "may be left out"
            )
            print(f"      {one.name}=  {one.meaning} ({default})")
    return 0


def _count(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) < 10):
        raise argparse.ArgumentTypeError(f"{text!r} is no number of rows")
    return int(text)


def _all(args: argparse.Namespace) -> int:
    if args.book is None:
        raise InputError("name the book: ndi ask BOOK --all")
    work = bootstrap.open_book(args.book, station=args.station)
    lines = []
    if not args.json:
        print(f"{work.book.book_id}, {work.now()}")
    for each in answering.over_all(work, args.by or ""):
        if not args.json:
            print(each, flush=True)
        lines.append(
            {
                "question": each.question.id,
                "text": each.question.text,
                "parameters": each.parameters,
                "count": each.count,
                "says": each.says,
            }
        )
    if args.json:
        print(json.dumps(lines, ensure_ascii=False, indent=1))
    return 0


def _evidence(work: Workplace, rows: tuple[AskedRow, ...], number: int) -> None:
    """The entries of one row, numbered from 1 as they are listed."""
    if not 1 <= number <= len(rows):
        raise InputError(f"row {number}: the answer has {len(rows)} rows, numbered from 1")
    row = rows[number - 1]
    print(" | ".join(row.cells))
    if not row.evidence:
        print("follows from no single entry: it says what is not in the book, or a sum")
    for line in answering.evidence(work, row):
        print(line)


def _show(answered: answering.Answered, rows: tuple[AskedRow, ...], skip: int, most: int | None) -> None:
    asked = answered.question
    print(f"{asked.id}  {asked.text}")
    print(asked.definition)
    if answered.parameters:
        print(" ".join(f"{name}={value}" for name, value in answered.parameters.items()))
    of = f"{len(rows)} of {answered.count}" if len(rows) != answered.count else str(answered.count)
    shown = rows[skip : None if most is None else skip + most]
    page = f", shown {skip + 1} to {skip + len(shown)}" if shown and len(shown) != len(rows) else ""
    print(f"{of} rows{page}, hash {answered.hash[:16]}, head {answered.head}")
    if shown:
        print(" | ".join((*asked.columns, "Evidence")))
    for row in shown:
        print(" | ".join((*row.cells, " ".join(map(str, row.evidence)))))
