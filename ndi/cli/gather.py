"""``ndi gather BOOK PART_NUMBER``: where the cracks of a part number gather, and how often it cracks."""

from __future__ import annotations

import argparse

from ndi import bootstrap
from ndi.cli.study import add_output, put_out
from ndi.domain.errors import InputError
from ndi.services.gathering import gather, part_numbers


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser(
        "gather", help="where the cracks of a part number gather, by zone, clock angle and hours"
    )
    parser.add_argument("book", type=bootstrap.where)
    parser.add_argument(
        "part_number", nargs="?", metavar="PART_NUMBER", help="without it: every part number with its finds"
    )
    parser.add_argument(
        "--similar", action="store_true", help="together with those that the part master names as similar"
    )
    add_output(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Exit 0, also where nothing was found."""
    work = bootstrap.open_book(args.book, station=args.station)
    if args.part_number is None:
        if args.out is not None or args.json:
            raise InputError("say first which part number")
        for each in part_numbers(work):
            print(f"{each.number}  {each.description}, {each.finds} relevant{', ALERT' if each.alert else ''}")
        return 0
    return put_out(work, gather(work, args.part_number, similar=args.similar), args)
