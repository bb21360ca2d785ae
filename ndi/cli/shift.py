"""``ndi shift BOOK``: the sheet of a day for whoever takes over, as PDF with the head of the book."""

from __future__ import annotations

import argparse
from datetime import date
from pathlib import Path

from ndi import bootstrap
from ndi.domain.errors import InputError
from ndi.services.shift_report import shift_model


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("shift", help="print the shift sheet of a day with the head of the book")
    parser.add_argument("book", type=bootstrap.where)
    parser.add_argument("--date", metavar="YYYY-MM-DD", help="local day (default: today)")
    parser.add_argument("--out", type=Path, required=True, metavar="FILE", help="PDF to write")
    parser.add_argument("--station", help="the station that stands here, where the key folder holds several")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Exit 0; what is open stands on the sheet."""
    work = bootstrap.open_book(args.book, station=args.station)
    day = _day(args.date) if args.date else work.now().local.date()
    model = shift_model(work, day)
    bootstrap.write_paper(args.out, bootstrap.shift_pdf(model, work))
    print(f"shift sheet of {day} in {args.out}, head {model.head}")
    return 0


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise InputError(f"{text!r} is not a day; type it like 2026-03-10") from None
