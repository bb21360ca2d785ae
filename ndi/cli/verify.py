"""``ndi verify BOOK``: is the chain whole, are the signatures right, do the read tables follow from it."""

from __future__ import annotations

import argparse

from ndi import bootstrap


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("verify", help="check the chain of a record book")
    parser.add_argument("book", type=bootstrap.where)
    parser.add_argument(
        "--against", metavar="HEAD", help="a head from paper, POSITION:16 CHARACTERS, that must still be in the chain"
    )
    parser.add_argument("--since", type=int, metavar="POSITION", help="go on from a head that was verified before")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Exit 0 when everything holds, 3 when the book does not."""
    work = bootstrap.open_book(args.book)
    found = bootstrap.verify(work.book, against=args.against, since=args.since)
    print(found.message)
    return 0 if found.ok else 3
