"""``ndi correct BOOK ENTRY key=value ... --reason TEXT --by PERSON``: a new entry in the place of a wrong one; nothing is overwritten."""

from __future__ import annotations

import argparse

from ndi import bootstrap
from ndi.cli.said import entry_line, say
from ndi.services import correction
from ndi.services.typed_facts import pairs


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("correct", help="correct an entry, with a reason; the old one stays in the book")
    parser.add_argument("book", type=bootstrap.where)
    parser.add_argument("entry", type=int, help="its number (ndi inspection show lists a record's entries)")
    parser.add_argument(
        "keys", nargs="*", metavar="key=value", help="what is otherwise; key= for not recorded after all"
    )
    parser.add_argument("--at", metavar="TIME", help="the right time: HH:MM[:SS] of today, or YYYY-MM-DD HH:MM[:SS]")
    parser.add_argument("--reason", required=True, help="why it was wrong; kept and printed")
    parser.add_argument("--by", required=True, metavar="PERSON")
    parser.add_argument("--check", action="store_true", help="only say what would change")
    parser.add_argument("--station", help="the station that stands here, where the key folder holds several")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Exit 0 when it is corrected; a signed record goes back to NO DECISION and its tags are void."""
    work = bootstrap.open_book(args.book, station=args.station)
    prepared = correction.prepare(work, args.entry, pairs(args.keys), at=args.at)
    print(entry_line(prepared.old))
    for change in prepared.changes:
        print(f"  {change}")
    if args.check:
        print("not corrected")
        return 0
    say(correction.correct_entry(work, prepared, args.by, args.reason))
    return 0
