"""``ndi shift BOOK``: the sheet of a day for whoever takes over, as PDF with the head of the book."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from datetime import date
from pathlib import Path

from ndi import bootstrap
from ndi.cli.said import entry_line
from ndi.domain.errors import InputError
from ndi.services.shift_report import shift_model
from ndi.services.shift_review import LAMP_WORDS, ShiftReview, shift_review


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("shift", help="print the shift sheet of a day with the head of the book")
    parser.add_argument(
        "what",
        nargs="?",
        choices=("sheet", "review"),
        default="sheet",
        help="review: what a verification has to look at",
    )
    parser.add_argument("book", type=bootstrap.where)
    parser.add_argument("--date", metavar="YYYY-MM-DD", help="local day (default: today)")
    parser.add_argument("--out", type=Path, metavar="FILE", help="PDF of the sheet to write")
    parser.add_argument("--station", help="the station that stands here, where the key folder holds several")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Exit 0; what is open stands on the sheet."""
    work = bootstrap.open_book(args.book, station=args.station)
    day = _day(args.date) if args.date else work.now().local.date()
    if args.what == "review":
        for line in review_lines(shift_review(work, day)):
            print(line)
        return 0
    if args.out is None:
        raise InputError("--out FILE names the PDF of the sheet; ndi shift review BOOK needs none")
    model = shift_model(work, day)
    bootstrap.write_paper(args.out, bootstrap.shift_pdf(model, work))
    print(f"shift sheet of {day} in {args.out}, head {model.head}")
    return 0


def review_lines(review: ShiftReview) -> Iterator[str]:
    """A review for reading: what must be dealt with first, then what the signature would cover."""
    yield f"{review.day}: {len(review.scope)} records"
    for finding in review.serious:
        yield f"RED {finding.name}: first seen {finding.discovered}, not judged or not reported in time"
    for line in review.lines:
        yield f"{'RED' if line.is_red else 'AMBER'} {line.inspection} {line.state}: {line.answer.line()}"
    for title, names in (
        ("not signed", review.unsigned),
        ("suspended", review.suspended),
        ("provisional", review.provisional),
    ):
        yield f"{title}: {len(names)} {', '.join(names)}".rstrip()
    for lamp in review.lamps:
        yield f"lamp {lamp.lamp}: {LAMP_WORDS[lamp.verdict]}; {review.lamp_says(lamp)}"
    for cells in review.margins:
        basket, attempt, what, took, limit, margin, mark = cells
        yield f"margin {margin} % {mark}".rstrip() + f": {basket} attempt {attempt}, {what} {took}, {limit}"
    for late in review.late:
        yield f"late: {entry_line(late)}"
    yield f"a signature now would cover {review.covers_text}: {', '.join(review.verifiable) or 'none'}"


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise InputError(f"{text!r} is not a day; type it like 2026-03-10") from None
