"""``ndi second-look start|save``: another person looks, alone, and saves a result before the first one is shown."""

from __future__ import annotations

import argparse

from ndi import bootstrap
from ndi.cli.record import do
from ndi.cli.said import say
from ndi.cli.typed_secret import add_signer
from ndi.domain.vocabulary import ViewKind
from ndi.services.typed_facts import pairs
from ndi.services.typed_recording import Item


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("second-look", help="a blind second look by another person")
    verbs = parser.add_subparsers(dest="verb", required=True, metavar="VERB")
    start = verbs.add_parser("start", help="the look begins")
    start.add_argument("book", type=bootstrap.where)
    start.add_argument("look", help="a name for it: SC-01 ...")
    start.add_argument("inspection")
    start.add_argument("--lamps", required=True, help="lamps in use, joined by +")
    start.add_argument("--booth", help="where")
    start.add_argument("--indication", help="the indication that is looked at (the whole part if left out)")
    start.add_argument("--by", required=True, metavar="PERSON")
    start.add_argument("--station", help="the station that stands here, where the key folder holds several")
    start.set_defaults(run=_start)
    save = verbs.add_parser("save", help="the look ends and its own result is signed")
    save.add_argument("book", type=bootstrap.where)
    save.add_argument("look")
    save.add_argument("keys", nargs="+", metavar="key=value", help="none_seen=yes, or interpretation, form, length")
    save.add_argument("--zones", default="", help="zones looked at, joined by +")
    add_signer(save)
    save.set_defaults(run=_save)


def _start(args: argparse.Namespace) -> int:
    work = bootstrap.open_book(args.book, station=args.station)
    given = {
        "view": args.look,
        "inspection": args.inspection,
        "lamps": args.lamps,
        "kind": str(ViewKind.SECOND_LOOK),
        "station": args.booth,
        "indication": args.indication,
    }
    say(do(work, _plain(args), [Item("view-start", given)]))
    return 0


def _save(args: argparse.Namespace) -> int:
    """Exit 0 when it is saved; the end of the look and its result are one transaction."""
    work = bootstrap.open_book(args.book, station=args.station)
    items = [
        Item("view-end", {"view": args.look, "zones": args.zones}),
        Item("second-look", {"second_look": args.look, **pairs(args.keys)}),
    ]
    say(do(work, _plain(args), items))
    return 0


def _plain(args: argparse.Namespace) -> argparse.Namespace:
    """No late time, no key of the caller's: a look is begun and saved where one looks."""
    args.key, args.sure = None, False
    return args
