"""``ndi sign BOOK INSPECTION DISPOSITION --by PERSON``: signs a disposition, or approves one as the second person."""

from __future__ import annotations

import argparse

from ndi import bootstrap
from ndi.cli.typed_secret import add_signer, proof_of
from ndi.domain import facts as f
from ndi.domain.errors import InputError
from ndi.services import covers, deciding, second_person
from ndi.services.proof import Meaning
from ndi.services.state import decision_text


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("sign", help="sign a disposition on a record")
    parser.add_argument("book", type=bootstrap.where)
    parser.add_argument("inspection")
    parser.add_argument("disposition", help="ACCEPT, REWORK, REJECT, HOLD-ENG, or SPLIT with --share for each share")
    parser.add_argument(
        "--share",
        action="append",
        default=[],
        metavar="'COUNT DISPOSITION [PIECE]'",
        help="one share of a lot that is split",
    )
    parser.add_argument(
        "--second", action="store_true", help="approve it as the second person; somebody else then signs it"
    )
    add_signer(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Exit 0 when it is signed."""
    work = bootstrap.open_book(args.book, station=args.station)
    children = tuple(_child(text) for text in args.share)
    with work.book.session(readonly=True) as session:
        row = session.inspection(args.inspection)
    meaning = Meaning.APPROVED if args.second else Meaning.PERFORMED
    proof = proof_of(work, args, meaning, covers.decision(row, args.disposition, () if args.second else children))
    if args.second:
        second_person.countersign(work, args.inspection, args.by, args.disposition, proof=proof)
        print(f"{args.inspection}: {args.disposition} approved by {args.by} as second person; saved")
        return 0
    deciding.sign_decision(
        work, args.inspection, args.by, args.disposition, children=children, seen=row.version, proof=proof
    )
    with work.book.session(readonly=True) as session:
        print(
            f"{args.inspection}: {decision_text(session, session.inspection(args.inspection))} signed by {args.by}; saved"
        )
    return 0


def _child(text: str) -> f.Child:
    count, _, rest = text.strip().partition(" ")
    disposition, _, piece = rest.strip().partition(" ")
    if not (count.isascii() and count.isdigit() and disposition):
        raise InputError(
            f"share {text!r}: write count, disposition and, where it is one piece, its name: '1 REJECT CG-7'"
        )
    return f.Child(disposition, int(count), piece.strip() or None)
