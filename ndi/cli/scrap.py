"""``ndi scrap BOOK PART``: into the scrap register before a witness; back to the owner; a rejection taken back."""

from __future__ import annotations

import argparse

from ndi import bootstrap
from ndi.cli.said import entry_line
from ndi.cli.typed_secret import Typed, add_signer, proof_of
from ndi.domain.errors import InputError
from ndi.services import covers, rejected, scrapping
from ndi.services.proof import Meaning


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("scrap", help="a rejected piece: scrapped before a witness, returned, or taken back")
    parser.add_argument("book", type=bootstrap.where)
    parser.add_argument("part", help="the part's key, or with --reopen the record")
    does = parser.add_mutually_exclusive_group()
    does.add_argument("--return", dest="back", action="store_true", help="goes back to its owner, unserviceable")
    does.add_argument(
        "--reopen", action="store_true", help="a rejection by mistake: Level III (--by), quality (--witness)"
    )
    parser.add_argument("--piece", help="of a lot")
    parser.add_argument("--witness", metavar="PERSON", help="who saw it made unusable")
    parser.add_argument("--photo", help="SHA-256 of the photograph that shows it")
    parser.add_argument("--defaced", action="store_true", help="number struck out, piece cut or crushed")
    parser.add_argument("--marked", action="store_true", help="with --return: marked, tag wired on")
    parser.add_argument("--how", help="cut, crushed ...; with --reopen the reason")
    parser.add_argument("--evidence", default="", help="with --reopen")
    add_signer(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Exit 0 when it is in the book."""
    work = bootstrap.open_book(args.book, station=args.station)
    typed = Typed(args.secret_file)
    if args.back:
        proof = proof_of(work, args, Meaning.PERFORMED, rejected.return_covers(args.part, args.piece), typed)
        done = rejected.return_unserviceable(
            work, args.part, args.by, marked=args.marked, piece=args.piece, proof=proof
        )
        print(entry_line(done))
        return 0
    if not args.witness:
        raise InputError("--witness names the second person")
    other = argparse.Namespace(**{**vars(args), "by": args.witness, "badge": None})
    if args.reopen:
        reason = args.how or ""
        shown = rejected.reopen_covers(args.part, reason, args.evidence)
        first = proof_of(work, args, Meaning.APPROVED, shown, typed)
        second = proof_of(work, other, Meaning.VERIFIED, shown, typed)
        done = rejected.reopen(
            work,
            args.part,
            args.by,
            args.witness,
            reason=reason,
            evidence=args.evidence,
            proof=first,
            quality_proof=second,
        )
    else:
        with work.look() as session:
            shown = covers.scrap(args.part, session.part(args.part).serial, args.piece)
        first = proof_of(work, args, Meaning.PERFORMED, shown, typed)
        second = proof_of(work, other, Meaning.VERIFIED, shown, typed)
        done = scrapping.scrap_part(
            work,
            args.part,
            args.by,
            args.witness,
            photo=args.photo,
            defaced=args.defaced,
            how=args.how,
            piece=args.piece,
            proof=first,
            witness_proof=second,
        )
    print(entry_line(done))
    return 0
