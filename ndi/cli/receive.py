"""``ndi receive BOOK WORK_ORDER SERIAL_OR_LOT``: a piece or lot is on the floor, its number asked of the receiving list."""

from __future__ import annotations

import argparse

from ndi import bootstrap
from ndi.domain.errors import InputError
from ndi.services import receiving
from ndi.services.recording import check_known
from ndi.services.typed_recording import part_named


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("receive", help="identify and count a piece or lot on the floor")
    parser.add_argument("book", type=bootstrap.where)
    parser.add_argument("work_order")
    parser.add_argument("number", help="serial number as read from the part, or name of the lot")
    parser.add_argument("--again", metavar="NUMBER", help="the number read from the part and typed a second time")
    parser.add_argument("--scanned", action="store_true", help="the number was scanned from the part")
    parser.add_argument("--quantity", type=int, default=1, help="pieces counted (1 if left out)")
    parser.add_argument(
        "--told-apart", metavar="FEATURE", help="by what it was told from a look-alike of the same engine"
    )
    parser.add_argument("--by", required=True, metavar="PERSON")
    parser.add_argument("--station", help="the station that stands here, where the key folder holds several")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Exit 0 when it is received; 1 when the work order has no such number."""
    if args.again is not None and args.again != args.number:
        raise InputError(f"{args.number!r} and {args.again!r} are not the same: look at the part again")
    if args.again is None and not args.scanned:
        raise InputError("a number is scanned (--scanned) or typed twice (--again NUMBER)")
    if args.quantity < 1:
        raise InputError(f"{args.quantity} pieces are none")
    work = bootstrap.open_book(args.book, station=args.station)
    with work.book.session(readonly=True) as session:
        check_known(session, args.by)
        lots = {row.lot for row in session.parts(args.work_order)}
    if args.number not in lots:
        receiving.identify(work, args.work_order, args.number, args.by)
    with work.book.session(readonly=True) as session:
        part = part_named(session, args.number, args.work_order)
    twice = args.again is not None
    receiving.receive(
        work,
        part.part,
        args.by,
        quantity=args.quantity,
        typed_twice=twice,
        scanned=args.scanned,
        told_apart=args.told_apart,
    )
    listed = "" if args.quantity == part.quantity else f"; {part.quantity} are listed: count again or report it"
    print(f"{part.part} received, {args.quantity} pc{listed}; saved")
    return 0
