"""``ndi verify BOOK``: is the chain whole, are the signatures right, do the read tables follow from it, are the photographs whole."""

from __future__ import annotations

import argparse
from pathlib import Path

from ndi import bootstrap
from ndi.cli import photo


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("verify", help="check the chain of a record book")
    parser.add_argument("book", type=bootstrap.where)
    parser.add_argument(
        "--against", metavar="HEAD", help="a head from paper, POSITION:16 CHARACTERS, that must still be in the chain"
    )
    parser.add_argument(
        "--against-heads",
        type=Path,
        metavar="FILE",
        help="a file of kept heads, each of which must still be in the chain",
    )
    parser.add_argument("--since", type=int, metavar="POSITION", help="go on from a head that was verified before")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Exit 0 when everything holds, 3 when the book does not."""
    work, has_key = bootstrap.open_to_verify(args.book)
    if not has_key:
        print(
            "No station's key is here: the public keys are taken from the chain alone; --against a printed head proves more."
        )
    found = bootstrap.verify(work.book, against=args.against, since=args.since)
    print(found.message)
    ok = found.ok
    if args.against_heads is not None:
        compared = bootstrap.compare_heads(work.book, args.against_heads)
        print(compared.message)
        ok = ok and compared.ok
    ok = photo.say_whether_whole(work) and ok
    return 0 if ok else 3
