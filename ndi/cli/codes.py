"""``ndi codes BOOK KIND``: an A4 sheet of codes to hang up or to cut out; scale cards for photographs."""

from __future__ import annotations

import argparse
from pathlib import Path

from ndi import bootstrap
from ndi.services.code_sheets import SHEETS, code_sheet
from ndi.services.scale_cards import scale_cards

CARDS = "cards"


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser(
        "codes", help="print code sheets: people, lamps, meters, baskets, places, commands; scale cards"
    )
    parser.add_argument("book", type=bootstrap.where)
    parser.add_argument("kind", choices=(*SHEETS, CARDS))
    parser.add_argument("--out", type=Path, required=True, metavar="FILE", help="PDF to write")
    parser.add_argument(
        "--name",
        action="append",
        default=[],
        help="a further basket or place; for cards the part or work order they name (may be given several times)",
    )
    parser.add_argument("--paper", choices=bootstrap.CARD_PAPERS, default="A4", help="of scale cards")
    parser.add_argument("--station", help="the station that stands here, where the key folder holds several")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    work = bootstrap.open_book(args.book, station=args.station)
    if args.kind == CARDS:
        cards = scale_cards(work, args.name)
        bootstrap.write_paper(args.out, bootstrap.scale_card_pdf(cards, work, args.paper))
        print(f"{len(cards.cards)} sheets of scale cards in {args.out}: print at 100 %, measure both check lines")
        return 0
    model = code_sheet(work, args.kind, args.name)
    bootstrap.write_paper(args.out, bootstrap.code_sheet_pdf(model, work))
    print(f"{len(model.cells)} codes in {args.out}")
    return 0
