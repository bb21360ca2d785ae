"""``ndi how-good BOOK``: what blind second looks say of a process; with a qualification set, its probability of detection."""

from __future__ import annotations

import argparse
from pathlib import Path

from ndi import bootstrap
from ndi.cli.study import add_output, put_out
from ndi.cli.trend import day
from ndi.domain.errors import InputError
from ndi.domain.vocabulary import Method
from ndi.services.detection_study import detection_study
from ndi.services.how_good import how_good
from ndi.shop_files.qualification import read_targets


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser(
        "how-good", help="how much a process misses and how its sizes agree; never about a person"
    )
    parser.add_argument("book", type=bootstrap.where)
    parser.add_argument("--method", choices=[str(m) for m in Method], help="of one method; without it of both")
    parser.add_argument("--since", type=day, metavar="DAY", help="second looks from this day on")
    parser.add_argument(
        "--qualification", type=Path, metavar="FILE", help="a CSV of targets: size_in (or size_mm) and found, yes or no"
    )
    parser.add_argument("--tried", default="", metavar="TEXT", help="on what and how the set was tried")
    add_output(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Exit 0, also where there are too few looks: that is an answer."""
    work = bootstrap.open_book(args.book, station=args.station)
    if args.qualification is not None:
        if args.method is not None or args.since is not None:
            raise InputError("a qualification set is asked for alone, without --method and --since")
        return put_out(work, detection_study(read_targets(args.qualification), args.tried), args)
    methods = [Method(args.method)] if args.method else list(Method)
    if args.out is not None and len(methods) > 1:
        raise InputError(f"a paper is of one method: --method {' or --method '.join(methods)}")
    if args.json and len(methods) > 1:
        raise InputError(f"JSON is of one method: --method {' or --method '.join(methods)}")
    for number, method in enumerate(methods):
        if number:
            print()
        put_out(work, how_good(work, method, since=args.since), args)
    return 0
