"""``ndi inspection open|list|show|judge``: records from the command line."""

from __future__ import annotations

import argparse

from ndi import bootstrap
from ndi.cli import judge
from ndi.cli.said import entry_line
from ndi.domain.errors import InputError
from ndi.services import inspecting, judging
from ndi.services.numbering import next_inspection
from ndi.services.ports import InspectionRow, Session
from ndi.services.record_facts import facts_of
from ndi.services.recording import check_known
from ndi.services.state import decision_text
from ndi.services.typed_facts import moment_of
from ndi.services.typed_recording import part_named


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("inspection", help="open a record, list records, show or judge one")
    verbs = parser.add_subparsers(dest="verb", required=True, metavar="VERB")
    opening = verbs.add_parser("open", help="open a record: one method on one part or lot")
    opening.add_argument("book", type=bootstrap.where)
    opening.add_argument("--part", required=True, metavar="PART", help="its key as listed, or its serial number or lot")
    opening.add_argument("--work-order", help="where the serial number or lot is in several")
    opening.add_argument("--technique", required=True)
    opening.add_argument("--booth", help="the booth or bench place where it is worked on and viewed")
    opening.add_argument("--by", required=True, metavar="PERSON", help="the inspector")
    opening.add_argument("--number", help="of the record (the next one of its method if left out)")
    opening.add_argument("--quantity", type=_pieces, help="pieces of the lot in this record (all if left out)")
    opening.add_argument("--closes", metavar="RECORD", help="the record whose rework this one closes")
    opening.add_argument(
        "--at", metavar="TIME", help="when it was opened: HH:MM[:SS] of today, or YYYY-MM-DD HH:MM[:SS]"
    )
    opening.add_argument("--why", help="why it is entered more than two minutes late")
    opening.add_argument("--key", help="a name of your own for this call: typed again under it, nothing is done twice")
    _end(opening, _open)
    listing = verbs.add_parser("list", help="records and where they stand")
    listing.add_argument("book", type=bootstrap.where)
    listing.add_argument("--work-order")
    listing.add_argument("--part")
    listing.add_argument("--open", action="store_true", help="only those without a decision that stands")
    _end(listing, _list)
    show = verbs.add_parser("show", help="what is recorded about one, entry by entry")
    show.add_argument("book", type=bootstrap.where)
    show.add_argument("inspection")
    _end(show, _show)
    asked = verbs.add_parser("judge", help="every question of one, with its answer (the same as ndi judge)")
    asked.add_argument("book", type=bootstrap.where)
    asked.add_argument("inspection")
    asked.add_argument("--open", action="store_true", help="only lines that are not PASS or NOT APPLICABLE")
    asked.add_argument("--json", action="store_true")
    _end(asked, judge.run)


def _end(parser: argparse.ArgumentParser, verb: object) -> None:
    parser.add_argument("--station", help="the station that stands here, where the key folder holds several")
    parser.set_defaults(run=verb)


def _pieces(text: str) -> int:
    if not (text.isascii() and text.isdigit() and 0 < int(text) < 10**6):
        raise argparse.ArgumentTypeError(f"{text!r} is no count of pieces")
    return int(text)


def _open(args: argparse.Namespace) -> int:
    """Exit 0 when the record is open."""
    work = bootstrap.open_book(args.book, station=args.station)
    with work.book.session(readonly=True) as session:
        check_known(session, args.by)
        part = part_named(session, args.part, args.work_order)
        sheet = work.technique(session, args.technique)
        number = args.number or next_inspection(session, sheet.method)
    if (args.quantity or 0) > part.quantity:
        raise InputError(f"{part.part} has {part.quantity} pieces, not {args.quantity}")
    now = work.now()

    def make() -> object:
        return inspecting.open_inspection(
            work,
            number,
            part.part,
            args.technique,
            args.by,
            quantity=args.quantity or part.quantity,
            station=args.booth,
            reason="rework" if args.closes else "first",
            previous=args.closes,
            when=moment_of(args.at, now) if args.at else None,
            why=args.why,
        )

    if args.key:
        positions = work.once(args.key, make)
        with work.book.session(readonly=True) as session:
            number = session.entry(positions[0]).fact.inspection  # type: ignore[attr-defined]
    else:
        make()
    with work.book.session(readonly=True) as session:
        row = session.inspection(number)
    print(
        f"{number}: {row.method} on {row.part}, {row.quantity} pc, technique {row.technique}, {row.procedure} rev {row.procedure_revision}; open, saved"
    )
    return 0


def _list(args: argparse.Namespace) -> int:
    work = bootstrap.open_book(args.book, station=args.station)
    with work.book.session(readonly=True) as session:
        part = part_named(session, args.part, args.work_order).part if args.part else None
        for row in session.inspections(work_order=args.work_order, part=part):
            if not (args.open and row.decision is not None and not row.suspended):
                print(_line(session, row))
    return 0


def _line(session: Session, row: InspectionRow) -> str:
    overlay = " SUSPENDED" if row.suspended else " PROVISIONAL" if row.provisional else ""
    verified = ", verified" if row.verified else ""
    return f"{row.inspection} | {row.part} | {row.quantity} pc | {row.technique} | {row.inspector} | {decision_text(session, row)}{overlay}{verified}"


def _show(args: argparse.Namespace) -> int:
    work = bootstrap.open_book(args.book, station=args.station)
    with work.book.session(readonly=True) as session:
        print(_line(session, session.inspection(args.inspection)))
        for recorded in facts_of(session, args.inspection):
            print(f"{entry_line(recorded)}, by {recorded.by}")
        answers = judging.judge(work, session, args.inspection).answers
    waiting = [answer for answer in answers if not answer.settled]
    print(
        f"{len(waiting)} of {len(answers)} questions open (ndi inspection judge {args.book} {args.inspection} --open)"
    )
    return 0
