"""``ndi export`` writes a whole book, or what concerns one work order, in an open format; ``ndi import-book`` takes a book in."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from ndi import bootstrap
from ndi.cli.report import ProgressLine
from ndi.domain.errors import InputError
from ndi.services.copies import record_export
from ndi.services.paper_blocks import Progress
from ndi.services.workplace import Workplace


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("export", help="write a book in an open format that needs nothing of this program")
    parser.add_argument("book", type=bootstrap.where)
    parser.add_argument("target", type=Path, help="a new folder, or a new file that ends in .zip")
    parser.add_argument("--work-order", metavar="WO", help="only what concerns this work order, for its owner")
    parser.add_argument("--by", help="who gives it out (default: the station)")
    parser.add_argument("--station", help="the station that stands here, where the key folder holds several")
    parser.set_defaults(run=run)
    back = commands.add_parser("import-book", help="make a book from an export; all of it or nothing")
    back.add_argument("export", type=Path, help="the folder or .zip file that ndi export wrote")
    back.add_argument("book", type=bootstrap.where, help="file of the new book, or address of an empty database")
    back.add_argument("--owner-url", metavar="URL", help="on a server: the address with the account that is to own it")
    back.add_argument(
        "--keys", type=Path, metavar="FOLDER", help="copy the stations' keys and the secret file from this folder"
    )
    back.add_argument(
        "--against", metavar="HEAD", help="a head from paper, POSITION:16 CHARACTERS, that must be in the chain"
    )
    back.set_defaults(run=run_import)


def run(args: argparse.Namespace) -> int:
    """Exit 0 when everything went out, 1 when photographs were missing."""
    work = bootstrap.open_book(args.book, station=args.station)
    if args.work_order:
        return _order(work, args)
    with progress() as tell:
        made = bootstrap.export_book(work, args.target, tell)
    record_export(
        work,
        str(made.path.resolve()),
        made.head,
        args.by or work.station,
        manifest=made.manifest_sha256,
        entries=made.entries,
        photographs=made.photographs,
        missing=made.missing,
    )
    print(f"{made.path}")
    print(f"{made.entries} entries, each hash, link and signature checked on the way out; head {made.head}")
    print(f"photographs: {made.photographs} written, {len(made.missing)} missing")
    _say_missing(made.missing)
    print("it is a copy of the whole book: keep it as the book is kept; keys and the secret file are not in it")
    return 1 if made.missing else 0


def _order(work: Workplace, args: argparse.Namespace) -> int:
    with progress() as tell:
        made = bootstrap.export_order(work, args.target, args.work_order, tell)
    record_export(
        work,
        str(made.path.resolve()),
        made.head,
        args.by or work.station,
        manifest=made.manifest_sha256,
        entries=made.entries + made.extracts,
        work_order=args.work_order,
        photographs=made.photographs,
        missing=made.missing,
    )
    print(f"{made.path}")
    print(f"work order {args.work_order} as of {made.head}: {made.records} records as PDF")
    print(f"{made.entries} entries as they were signed; {made.extracts} of or with other owners' things, without these")
    print(f"photographs: {made.photographs} written, {len(made.missing)} missing")
    _say_missing(made.missing)
    print("it is a copy of records, no release to service")
    return 1 if made.missing else 0


def run_import(args: argparse.Namespace) -> int:
    """Exit 0 when the book stands, 1 when photographs are missing in it."""
    keys = bootstrap.key_folder(args.book)
    if args.keys is not None and not args.keys.is_dir():
        raise InputError(f"there is no key folder {args.keys}")
    with progress() as tell:
        made = bootstrap.import_whole_book(
            args.export, args.book, owner_url=args.owner_url, against=args.against, tell=tell
        )
    print(f"{args.book}")
    print(f"{made.entries} entries and signatures hold; the book ends with the head of the export, {made.head}")
    if args.against:
        print(f"compared: the head {args.against} is in the chain")
    else:
        print("a cut at the end shows only against a printed head: give one with --against")
    print(f"photographs: {made.photographs} whole, {len(made.missing)} missing")
    _say_missing(made.missing)
    if args.keys is not None:
        print(f"{bootstrap.copy_keys(args.keys, keys)} key files in {keys}")
    for name in bootstrap.missing_keys(args.book, made.book, made.stations):
        print(f"not here: {name}")
    print("from now on one of the two books is written to, not both: each would go on with a chain of its own")
    return 1 if made.missing else 0


@contextmanager
def progress() -> Iterator[Progress]:
    """How far a large book is, on the error output."""
    line = ProgressLine()
    try:
        yield line.told
    finally:
        line.end()


def _say_missing(missing: tuple[str, ...]) -> None:
    for name in missing:
        print(f"  missing or changed: {name}")
