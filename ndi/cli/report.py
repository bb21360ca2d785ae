"""``ndi report KIND BOOK ...``: the papers of the supervisor, the auditor and the owner as PDF/A."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import Any

from ndi import bootstrap
from ndi.services.owner_report import owner_report
from ndi.services.paper_blocks import PaperModel
from ndi.services.workplace import Workplace

Make = Callable[[Workplace, argparse.Namespace], PaperModel]


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("report", help="write a report as PDF: engine ...")
    kinds = parser.add_subparsers(dest="kind", required=True, metavar="KIND")
    for name, (told, make, arguments) in KINDS.items():
        one = kinds.add_parser(name, help=told)
        one.add_argument("book", type=bootstrap.where)
        for flag, options in arguments.items():
            one.add_argument(flag, **options)
        one.add_argument("--out", type=Path, required=True, metavar="FILE", help="PDF to write")
        one.add_argument("--station", help="the station that stands here, where the key folder holds several")
        one.set_defaults(run=run, make=make)


def run(args: argparse.Namespace) -> int:
    work = bootstrap.open_book(args.book, station=args.station)
    model: PaperModel = args.make(work, args)
    bootstrap.write_paper(args.out, bootstrap.paper_pdf(model, work))
    print(f"{model.title.lower()}: {model.subject} in {args.out}, head {model.head}")
    return 0


KINDS: dict[str, tuple[str, Make, dict[str, dict[str, Any]]]] = {
    "engine": (
        "the report to the owner of an engine",
        lambda work, args: owner_report(work, args.work_order),
        {"work_order": {"metavar": "WORK_ORDER"}},
    ),
}
