"""``ndi import BOOK FILE ...`` brings in a shop's tables, all or nothing; ``ndi columns`` shows how they begin."""

from __future__ import annotations

import argparse
from pathlib import Path

from ndi import bootstrap
from ndi.cli.typed_secret import add_signer, proof_of
from ndi.services.proof import Meaning
from ndi.shop_files import part_masters
from ndi.shop_files.bringing import bring, covers, read
from ndi.shop_files.kinds import KINDS, kind_of


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser(
        "import", help="bring in tables (CSV): people, equipment, batches, receiving lists ..."
    )
    parser.add_argument("book", type=bootstrap.where)
    parser.add_argument(
        "files",
        type=Path,
        nargs="+",
        metavar="FILE",
        help="named for what it holds: people.csv, equipment.csv ... (see ndi columns)",
    )
    parser.add_argument("--as", dest="named", metavar="TABLE", help="what a single file of another name holds")
    parser.add_argument("--why", help="where the tables come from, kept with every entry")
    parser.add_argument("--check", action="store_true", help="only say what is wrong; change nothing")
    add_signer(parser)
    parser.set_defaults(run=run)
    columns = commands.add_parser("columns", help="the tables that can be brought in, and their columns")
    columns.add_argument("table", nargs="?", help="print the first line of this table (redirect it into a file)")
    columns.add_argument("--example", action="store_true", help="with an invented row under it")
    columns.set_defaults(run=run_columns)


def run(args: argparse.Namespace) -> int:
    """Read and check everything, then enter it in one transaction."""
    work = bootstrap.open_book(args.book, station=args.station)
    tables = read(work, args.files, args.named)
    counts = ", ".join(f"{len(table.facts)} of {table.kind.name}" for table in tables)
    if args.check:
        print(f"{counts}: nothing wrong; not brought in")
        return 0
    proof = proof_of(work, args, Meaning.PERFORMED, covers(work, tables, args.by))
    waiting = bring(work, tables, by=args.by, why=args.why, proof=proof)
    print(f"brought in: {counts}")
    if waiting:
        print(f"{', '.join(waiting)} count once somebody else confirms them (ndi person confirm)")
    return 0


def run_columns(args: argparse.Namespace) -> int:
    """One table's header, or all tables."""
    if args.table == "parts":
        print(",".join(part_masters.COLUMNS))
        return 0
    if args.table:
        kind = kind_of(args.table)
        print(",".join(kind.columns))
        if args.example:
            print(kind.example)
        return 0
    for kind in KINDS.values():
        print(f"{kind.name}.csv: {kind.about}")
        print(f"    needed:  {', '.join(kind.needed)}")
        if kind.optional:
            print(f"    if known: {', '.join(kind.optional)}")
    print("every table may also have: date, time, utc_offset (when it was kept; else it counts from now), note")
    print("parts (for ndi procedure parts-from-csv):")
    print(f"    needed:  {', '.join(part_masters.NEEDED)}")
    print(f"    if known: {', '.join(part_masters.OPTIONAL)}")
    return 0
