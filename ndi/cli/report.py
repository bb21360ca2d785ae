"""``ndi report KIND BOOK ...``: the papers of the supervisor, the auditor and the owner as PDF/A."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

from ndi import bootstrap
from ndi.domain.errors import InputError
from ndi.services import evidence_pack
from ndi.services.due_calendar import USUAL_DAYS, calendar_sheet
from ndi.services.handover_sheet import handover_sheet
from ndi.services.owner_report import owner_report
from ndi.services.paper_blocks import PaperModel, Progress
from ndi.services.recall_papers import recall_letters, recall_list
from ndi.services.sampling import Choice, draw
from ndi.services.verification_sheet import verification_sheet
from ndi.services.workplace import Workplace

Make = Callable[[Workplace, argparse.Namespace, Progress], PaperModel]


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("report", help="write a report as PDF: engine, evidence, handover, recall ...")
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
    bootstrap.check_paper_name(args.out)
    work = bootstrap.open_book(args.book, station=args.station)
    line = ProgressLine()
    try:
        model: PaperModel = args.make(work, args, line.told)
        content = bootstrap.paper_pdf(model, work, line.told)
    finally:
        line.end()
    bootstrap.write_paper(args.out, content)
    print(f"{model.title}: {model.subject} in {args.out}, head {model.head}")
    return 0


class ProgressLine:
    """How far a long report is, on the error output: one line that changes on a screen, every tenth part in a file."""

    LONG = 50  # steps from which it is worth saying

    def __init__(self) -> None:
        self._shown, self._tenth = False, ("", -1)

    def told(self, what: str, done: int, of: int) -> None:
        """Say it, when it is long enough to be waited for."""
        if of < self.LONG:
            return
        tenth = what, done * 10 // of
        if sys.stderr.isatty():
            print(f"\r{what} {done} of {of}   ", end="", file=sys.stderr, flush=True)
            self._shown = True
        elif tenth != self._tenth:
            print(f"{what} {done} of {of}", file=sys.stderr)
        self._tenth = tenth

    def end(self) -> None:
        """Let the next line begin on its own."""
        if self._shown:
            print(file=sys.stderr)


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not a day; type it like 2026-03-10") from None


def _evidence(work: Workplace, args: argparse.Namespace, progress: Progress) -> PaperModel:
    given = [name for name in ("part", "record", "sample") if getattr(args, name)]
    if len(given) != 1:
        raise InputError("name one of --part, --record (as often as you like) and --sample")
    if args.part:
        return evidence_pack.pack_of_part(work, args.part, progress)
    if args.record:
        subject = f"records {', '.join(args.record[:6])}{' and others' if len(args.record) > 6 else ''}"
        return evidence_pack.evidence_pack(work, args.record, subject, progress=progress)
    sample = draw(work, args.sample, args.seed, Choice(args.since, args.until, args.method))
    return evidence_pack.pack_of_sample(work, sample, progress)


_DAY: dict[str, Any] = {"type": _day, "metavar": "YYYY-MM-DD"}
_SET: dict[str, dict[str, Any]] = {"containment": {"metavar": "RECALL_SET"}}

KINDS: dict[str, tuple[str, Make, dict[str, dict[str, Any]]]] = {
    "engine": (
        "the report to the owner of an engine",
        lambda work, args, _: owner_report(work, args.work_order),
        {"work_order": {"metavar": "WORK_ORDER"}},
    ),
    "evidence": (
        "records with all that they rest on: of one part, by number, or drawn at random",
        _evidence,
        {
            "--part": {"metavar": "PART", "help": "WORK ORDER/PART NUMBER/SERIAL OR LOT"},
            "--record": {"action": "append", "metavar": "RECORD"},
            "--sample": {"type": int, "metavar": "N", "help": "so many signed records, drawn at random"},
            "--seed": {"help": "what they are drawn by (default: the head of the book); the same draws the same"},
            "--since": {**_DAY, "help": "drawn from records decided on this local day or later"},
            "--until": {**_DAY, "help": "... or earlier"},
            "--method": {"choices": ("MT", "PT"), "help": "... by this method only"},
        },
    ),
    "handover": ("every open line, for whoever takes over", lambda work, args, _: handover_sheet(work), {}),
    "verification": (
        "what a verification of a shift looks at and covers",
        lambda work, args, _: verification_sheet(work, args.date or work.now().local.date()),
        {"--date": {**_DAY, "help": "local day (default: today)"}},
    ),
    "recall": ("the list of a recall set", lambda work, args, _: recall_list(work, args.containment), _SET),
    "letters": (
        "a letter to the owner of each engine in a recall set",
        lambda work, args, _: recall_letters(work, args.containment),
        _SET,
    ),
    "calendar": (
        "calibrations, certificates, exams and batches by the day on which they run out",
        lambda work, args, _: calendar_sheet(work, args.days),
        {"--days": {"type": int, "default": USUAL_DAYS, "help": f"so far ahead (default: {USUAL_DAYS})"}},
    ),
}
