"""``ndi trend BOOK lamp LP-3``: how a lamp, bath, meter, residual field or reading goes; ``--out`` writes the chart as PDF."""

from __future__ import annotations

import argparse
from datetime import date

from ndi import bootstrap
from ndi.cli.study import add_output, put_out
from ndi.domain.errors import InputError
from ndi.domain.quantity import Number
from ndi.services.trend_bath import DOSE_KEYS
from ndi.services.trends import WORDS, Kind, Subject, study_of, subjects
from ndi.services.workplace import Workplace

_DOSE_UNITS = {"volume_l": "pcs", "target_ml": "mL", "mix_g_per_l": "pcs", "mix_ml": "mL"}


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser(
        "trend", help="how a lamp, bath, meter, residual field or any reading goes, with its chart"
    )
    parser.add_argument("book", type=bootstrap.where)
    parser.add_argument(
        "kind",
        nargs="?",
        choices=[str(kind) for kind in Kind],
        metavar="KIND",
        help=f"{', '.join(Kind)}; without it: what there is",
    )
    parser.add_argument(
        "object", nargs="?", default="", metavar="NAME", help="lamp, bath, meter, part number or object"
    )
    parser.add_argument("quantity", nargs="?", default="", help="of readings: which; of a meter: which item")
    parser.add_argument("--since", type=day, metavar="DAY", help="leave out what lies before this day")
    for key, what in zip(
        DOSE_KEYS, ("litres of bath", "mL wanted", "grams a litre of the mix", "mL of it"), strict=True
    ):
        parser.add_argument(f"--{key.replace('_', '-')}", metavar="NUMBER", help=f"for the dose: {what}")
    add_output(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Exit 0, also where there are too few readings: that is an answer."""
    work = bootstrap.open_book(args.book, station=args.station)
    if args.kind is None:
        return _list(work, args)
    dose = {key: Number(value, _DOSE_UNITS[key]) for key in DOSE_KEYS if (value := getattr(args, key)) is not None}
    if dose and args.kind != Kind.BATH:
        raise InputError(f"a dose belongs to a bath: ndi trend BOOK {Kind.BATH} NAME --volume-l ...")
    study = study_of(work, Subject(Kind(args.kind), args.object, args.quantity), since=args.since, dose=dose)
    return put_out(work, study, args)


def _list(work: Workplace, args: argparse.Namespace) -> int:
    if args.out is not None or args.json:
        raise InputError(f"say first of what: {', '.join(Kind)}")
    for kind, words in WORDS.items():
        print(f"{kind}: {words}")
        for each in subjects(work):
            if each.kind is kind:
                print(f"  {each.title}, {each.count} recorded, last {each.last}")
    return 0


def day(text: str) -> date:
    """A day as it is typed."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no day; type it like 2026-03-10") from None
