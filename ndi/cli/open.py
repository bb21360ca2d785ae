"""``ndi open``: the window on a book, on a practice copy of the demonstration day, or with the choice between them.

Only what draws the first screen is imported here: the record book and all that
belongs to it are loaded in the window's worker thread, behind a window that is
seen already.
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from ndi.domain.errors import InputError
from ndi.machine_clock import SystemClock

PRACTICE_FROM = "10:57"  # before the rocker arms of the demonstration day are shot
PRACTICE_FOLDER = "ndi-practice"


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser(
        "open", help="open the window: booth (dark, keypad) and desk, F12 changes between them"
    )
    add_arguments(parser)
    parser.set_defaults(run=run)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The options of the window."""
    parser.add_argument("book", nargs="?", help="file or address of a book; without it the window asks")
    parser.add_argument(
        "--practice",
        nargs="?",
        type=Path,
        const=_practice_folder(),
        metavar="FOLDER",
        help=f"the practice copy of the demonstration day, made where there is none (default: {PRACTICE_FOLDER} in your home)",
    )
    parser.add_argument(
        "--at",
        metavar="HH:MM",
        default=PRACTICE_FROM,
        help=f"up to when the practice day has been worked when its copy is made (default {PRACTICE_FROM})",
    )
    side = parser.add_mutually_exclusive_group()
    side.add_argument("--desk", action="store_true", help="begin at the desk")
    side.add_argument("--booth", action="store_true", help="begin in the booth: the choice of a book is dark, too")
    parser.add_argument("--place", help="where this screen stands, e.g. 'MT booth'")
    parser.add_argument("--station", help="the station that stands here, where the key folder holds several")
    parser.add_argument("--queue", help="print queue for tags; without it they are written as PDF beside the book")
    parser.add_argument(
        "--inbox", type=Path, help="folder where the camera leaves its files (default: photographs-in beside the book)"
    )
    parser.add_argument(
        "--camera", metavar="SOURCE", help="a live camera: its number (0), the address of a stream, or a video file"
    )
    parser.add_argument("--size", default="", help="size of the window, e.g. 1366x768 (default: the whole screen)")


def _practice_folder() -> Path:
    return Path.home() / PRACTICE_FOLDER


def run(args: argparse.Namespace) -> int:
    """Exit 0 when the window was closed; 2 where no window can be opened."""
    if args.book is not None and args.practice is not None:
        raise InputError("either a book or --practice: leave one of them out")
    if args.book is not None and "://" not in args.book and not Path(args.book).exists():
        raise InputError(f"{args.book} is not there; ndi new makes a book, ndi open without a name asks which one")
    show(args)
    return 0


def show(args: argparse.Namespace) -> None:
    """Open the window and stay in it until it is closed; InputError where there is no screen."""
    from ndi.gui.app import App, Opened, Start

    def opening(said: Any) -> Opened:
        from ndi.cli import open_book

        return open_book.open_for_window(args, args.book, said)

    clock = SystemClock()
    asks = args.book is None and args.practice is None
    App(
        opening,
        lambda: clock.now().astimezone(),
        desk=args.desk,
        size=args.size,
        start=Start(ways(args), dark=args.booth) if asks else None,
    ).run()


def show_book(book: Path) -> None:
    """Open the window on one book, with nothing else said about it."""
    parser = argparse.ArgumentParser()
    add_arguments(parser)
    show(parser.parse_args(["--", str(book)]))


def ways(args: argparse.Namespace) -> Any:
    """What can be chosen while no book is named; each is carried out in the worker's thread."""
    from ndi.gui.books_file import remembered
    from ndi.gui.presenters.set_up import Ways

    folder = _practice_folder()

    def practice(said: Any) -> Any:
        from ndi.cli import open_book

        return open_book.open_for_window(args, None, said)

    def named(book: str, said: Any) -> Any:
        from ndi.cli import open_book

        return open_book.open_for_window(args, book, said)

    def make(answers: Mapping[str, str], said: Any) -> str:
        from ndi.cli import new

        return new.make_from_form(answers, said)

    return Ways(practice, named, make, remembered, str(folder))
