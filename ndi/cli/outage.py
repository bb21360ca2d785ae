"""``ndi outage ...``: numbered blank forms, the outage itself, sheets typed in afterwards, the second person who compares."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from pathlib import Path

from ndi import bootstrap
from ndi.cli.record import items_of_file
from ndi.cli.said import say
from ndi.cli.typed_secret import add_signer, proof_of
from ndi.domain.entry import Recorded
from ndi.domain.errors import InputError
from ndi.domain.facts import Fact
from ndi.services import outage, outage_paper
from ndi.services.blank_forms import KINDS, blank_forms
from ndi.services.proof import Meaning
from ndi.services.typed_facts import moment_of
from ndi.services.typed_recording import Item, prepare, record_all
from ndi.services.workplace import Workplace


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("outage", help="paper that stands in for the book, typed in afterwards and compared")
    acts = parser.add_subparsers(dest="act", required=True, metavar="ACT")

    one = acts.add_parser("forms", help="print numbered blank forms before anything fails")
    one.add_argument("book", type=bootstrap.where)
    one.add_argument("form", choices=tuple(KINDS))
    one.add_argument("--count", type=int, default=1, help="how many (default: 1)")
    one.add_argument("--out", type=Path, required=True, metavar="FILE", help="PDF to write")
    _who(one, forms_)

    one = acts.add_parser("declare", help="say from when to when was written on paper, and on which sheets")
    one.add_argument("book", type=bootstrap.where)
    one.add_argument("forms", nargs="*", metavar="FORM", help="numbers of the sheets that were written on")
    one.add_argument("--from", dest="began", required=True, metavar="TIME", help="HH:MM of today or YYYY-MM-DD HH:MM")
    one.add_argument("--until", dest="ended", required=True, metavar="TIME")
    one.add_argument("--why", required=True, help="what failed; with --amend: what was wrong")
    one.add_argument(
        "--amend", metavar="OUTAGE", help="put an outage right that was declared: its times and all its sheets"
    )
    _who(one, declare_)

    one = acts.add_parser("enter", help="type a sheet in: everything on it, or nothing")
    one.add_argument("book", type=bootstrap.where)
    one.add_argument("form", metavar="FORM")
    one.add_argument(
        "--json", metavar="FILE", help="what stands on it, as for ndi record --json, each with its time as 'at'"
    )
    one.add_argument(
        "--entries", metavar="N-M,N", help="instead of --json: entries that were typed late already, e.g. in the window"
    )
    one.add_argument("--written-by", required=True, metavar="PERSON")
    one.add_argument("--paper", required=True, metavar="PLACE", help="where the sheet itself is kept")
    one.add_argument("--picture", type=Path, metavar="FILE", help="a photograph or scan of the sheet")
    _who(one, enter_)

    one = acts.add_parser("compare", help="a second person has read a sheet against its entries; signed")
    one.add_argument("book", type=bootstrap.where)
    one.add_argument("form", metavar="FORM")
    one.add_argument("--differs", metavar="TEXT", help="what is not the same (left out: everything agrees)")
    add_signer(one)
    one.set_defaults(run=compare_)

    one = acts.add_parser("list", help="every sheet of every outage, and where it stands")
    one.add_argument("book", type=bootstrap.where)
    one.add_argument("--station", help="the station that stands here, where the key folder holds several")
    one.set_defaults(run=list_)


def _who(parser: argparse.ArgumentParser, run: object) -> None:
    parser.add_argument("--by", required=True, metavar="PERSON")
    parser.add_argument("--station", help="the station that stands here, where the key folder holds several")
    parser.set_defaults(run=run)


def forms_(args: argparse.Namespace) -> int:
    bootstrap.check_paper_name(args.out)
    work = bootstrap.open_book(args.book, station=args.station)
    model = blank_forms(work, args.form, args.count, args.by)
    bootstrap.write_paper(args.out, bootstrap.paper_pdf(model, work))
    print(f"{model.title}, {model.subject} in {args.out}; saved")
    return 0


def declare_(args: argparse.Namespace) -> int:
    work = bootstrap.open_book(args.book, station=args.station)
    began, ended = (moment_of(text, work.now(), name) for text, name in ((args.began, "from"), (args.ended, "until")))
    if args.amend:
        say([outage_paper.amend(work, args.amend, began, ended, args.forms, args.by, args.why)])
    else:
        say([outage_paper.declare(work, began, ended, args.why, args.forms, args.by)])
    return 0


def enter_(args: argparse.Namespace) -> int:
    """Exit 0 when the sheet is in the book; it waits for its second person."""
    if (args.json is None) == (args.entries is None):
        raise InputError("give what stands on the sheet with --json, or the entries typed from it with --entries")
    work = bootstrap.open_book(args.book, station=args.station)
    picture = bootstrap.read_photograph(args.picture) if args.picture else None
    name = args.picture.name if args.picture else ""

    def tie(positions: Sequence[int]) -> Recorded[Fact]:
        return outage_paper.tie(
            work, args.form, args.by, args.written_by, positions, args.paper, picture=picture, name=name
        )

    if args.entries is not None:
        written = [tie(outage.positions_of(args.entries))]
    else:
        written = _typed_in(work, args, tie)
    say(written)
    print(f"{args.form}: a second person now compares it with the paper (ndi outage compare)")
    return 0


def _typed_in(
    work: Workplace, args: argparse.Namespace, tie: Callable[[Sequence[int]], Recorded[Fact]]
) -> list[Recorded[Fact]]:
    """The items of a file and the sheet that they come from, in one transaction."""
    why = f"written on {args.form} by {args.written_by} in an outage"
    items = [_with_reason(item, why) for item in items_of_file(args.json)]
    ready = prepare(work, items, args.by)
    signed = [one.item.name for one in ready if one.signs]
    if signed:
        raise InputError(f"{', '.join(signed)}: what is signed is not typed in from paper; sign it in the book")
    return record_all(
        work, ready, args.by, then=lambda written: tie([r.position for r in written if r.how in outage.LATE])
    )


def _with_reason(item: Item, why: str) -> Item:
    if item.at is None:
        raise InputError(f"{item.name}: has no time: write at='HH:MM' as it stands on the sheet")
    return Item(item.kind, item.given, item.at, f"{why}: {item.why}" if item.why else why, item.name)


def compare_(args: argparse.Namespace) -> int:
    work = bootstrap.open_book(args.book, station=args.station)
    covers = outage_paper.form_covers(work, args.form)
    if work.practice:
        for line in covers:
            print(line)
    proof = proof_of(work, args, Meaning.VERIFIED, covers)
    say([outage_paper.compare(work, args.form, args.by, differences=args.differs, proof=proof)])
    return 0


def list_(args: argparse.Namespace) -> int:
    """Exit 0 when every sheet is compared, 1 when one is not."""
    work = bootstrap.open_book(args.book, station=args.station)
    with work.book.session(readonly=True) as session:
        found = outage.sheets(session)
    for sheet in found:
        words = [
            f"written by {sheet.written_by}" if sheet.written_by else "",
            f"typed in by {sheet.typed_by}" if sheet.typed_by else "",
            f"compared by {sheet.compared_by}" if sheet.compared_by else "",
            sheet.says,
        ]
        print(f"{sheet.form} {sheet.outage} {sheet.state}: {', '.join(filter(None, words))}".rstrip(": "))
    left = sum(sheet.state is not outage.State.COMPARED for sheet in found)
    print(f"{len(found)} sheets, {left} not compared")
    return 1 if left else 0
