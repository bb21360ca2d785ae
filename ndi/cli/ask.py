"""``ndi ask BOOK F12 [name=value ...]``: one of the forty questions; ``ndi ask --list`` shows them."""

from __future__ import annotations

import argparse
from pathlib import Path

from ndi import bootstrap
from ndi.domain.errors import InputError
from ndi.services.asked import answering
from ndi.services.asked.question import AskedRow


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("ask", help="one of forty questions to the book: a list with count and evidence")
    parser.add_argument("book", type=bootstrap.where, nargs="?")
    parser.add_argument("question", nargs="?", metavar="F12")
    parser.add_argument("parameters", nargs="*", metavar="NAME=VALUE")
    parser.add_argument("--list", action="store_true", help="every question with its definition and parameters")
    parser.add_argument("--filter", default="", metavar="TEXT", help="only rows in which some cell holds the text")
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
    if args.book is None or args.question is None:
        raise InputError("name the book and the question: ndi ask BOOK F12 (ndi ask --list shows them)")
    if args.freeze and not args.by:
        raise InputError("say who freezes it: --by PERSON")
    work = bootstrap.open_book(args.book, station=args.station)
    answered = answering.ask(work, args.question, dict(_pair(each) for each in args.parameters))
    rows = answered.only(args.filter) if args.filter else answered.rows
    if args.csv is not None:
        bootstrap.write_new(args.csv, answering.as_csv(answered, rows).encode("utf-8"))
    if args.json:
        print(answering.as_json(answered, rows), end="")
    else:
        _show(answered, rows)
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


def _show(answered: answering.Answered, rows: tuple[AskedRow, ...]) -> None:
    asked = answered.question
    print(f"{asked.id}  {asked.text}")
    print(asked.definition)
    if answered.parameters:
        print(" ".join(f"{name}={value}" for name, value in answered.parameters.items()))
    of = f"{len(rows)} of {answered.count}" if len(rows) != answered.count else str(answered.count)
    print(f"{of} rows, hash {answered.hash[:16]}, head {answered.head}")
    if rows:
        print(" | ".join((*asked.columns, "Evidence")))
    for row in rows:
        print(" | ".join((*row.cells, " ".join(map(str, row.evidence)))))
