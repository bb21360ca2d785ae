"""Puts out a study: to the terminal, as JSON, or as a PDF with its charts."""

from __future__ import annotations

import argparse
from pathlib import Path

from ndi import bootstrap
from ndi.services.study import Study
from ndi.services.study_report import study_report, terminal_lines
from ndi.services.workplace import Workplace


def add_output(parser: argparse.ArgumentParser) -> None:
    """``--out``, ``--json`` and ``--station``, alike for every study."""
    parser.add_argument("--out", type=Path, metavar="FILE", help="write it as PDF, with its charts")
    parser.add_argument("--json", action="store_true", help="as JSON on the standard output")
    parser.add_argument("--station", help="the station that stands here, where the key folder holds several")


def put_out(work: Workplace, study: Study, args: argparse.Namespace) -> int:
    """Write its paper where one is asked for, then print it: whoever stops reading the print has the paper."""
    written = ""
    if args.out is not None:
        model = study_report(work, study)
        bootstrap.write_paper(args.out, bootstrap.paper_pdf(model, work))
        written = f"written: {args.out}, head {model.head}"
    if args.json:
        print(study.as_json(), end="")
        return 0
    for line in terminal_lines(study):
        print(line)
    if written:
        print(written)
    return 0
