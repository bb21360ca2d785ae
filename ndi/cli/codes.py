"""``ndi codes BOOK KIND``: an A4 sheet of codes to hang up or to cut out."""

from __future__ import annotations

import argparse
from pathlib import Path

from ndi import bootstrap
from ndi.services.code_sheets import SHEETS, code_sheet


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("codes", help="print code sheets: people, lamps, meters, baskets, places, commands")
    parser.add_argument("book", type=bootstrap.where)
    parser.add_argument("kind", choices=tuple(SHEETS))
    parser.add_argument("--out", type=Path, required=True, metavar="FILE", help="PDF to write")
    parser.add_argument(
        "--name", action="append", default=[], help="a further basket or place (may be given several times)"
    )
    parser.add_argument("--station", help="the station that stands here, where the key folder holds several")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    work = bootstrap.open_book(args.book, station=args.station)
    model = code_sheet(work, args.kind, args.name)
    bootstrap.write_paper(args.out, bootstrap.code_sheet_pdf(model, work))
    print(f"{len(model.cells)} codes in {args.out}")
    return 0
