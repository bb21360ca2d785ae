"""``ndi demo``: makes a practice book, replays a day into it, prints it line by line, writes its papers."""

from __future__ import annotations

import argparse
import json
import shlex
import shutil
import sys
import tempfile
from pathlib import Path

from ndi import bootstrap
from ndi.day import files, replay, result
from ndi.day.calls import Refusal
from ndi.day.clock import SetClock
from ndi.domain.errors import InputError
from ndi.services.workplace import Workplace

BOOK = "demo.ndibook"


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("demo", help="replay the demonstration day and print it line by line")
    parser.add_argument("--out", type=Path, help="folder for the book and the papers (made if it is not there)")
    parser.add_argument("--day", type=Path, help="replay the day in this folder instead of the demonstration day")
    parser.add_argument("--json", action="store_true", help="print JSON instead of lines")
    parser.add_argument(
        "--window", action="store_true", help="then open the window on the book just made, where there is a screen"
    )
    parser.set_defaults(run=run)


def before_folder(day: Path) -> Path:
    """What lies before a day: in it, beside it, or that of the demonstration."""
    for place in (day / "before", day.parent / "before"):
        if place.is_dir():
            return place
    return bootstrap.data_folder("demo") / "before"


def run(args: argparse.Namespace) -> int:
    """Exit 0 when every answer is as expected (or, with ``--day``, when the day could be replayed)."""
    if args.window and args.out is None:
        raise InputError("--window opens the book that stays: name its folder with --out")
    folder = args.day or bootstrap.data_folder("demo") / "2026-03-10"
    day = files.read_day(folder)
    prepared = replay.plan(day, files.read_before(before_folder(folder), day))
    with tempfile.TemporaryDirectory() as scratch:
        out = args.out or Path(scratch)
        out.mkdir(parents=True, exist_ok=True)
        work, refusals = replay_into(out / BOOK, prepared)
        found = result.summary(work, prepared.results)
        if args.out is not None:
            from ndi.cli import demo_papers

            written = demo_papers.write(work, out)
        if args.json:
            json.dump(found, sys.stdout, indent=1, ensure_ascii=False)
            print()
        else:
            for line in result.lines(prepared.results):
                print(line)
            if args.day is not None:
                print(f"{len(refusals)} calls refused")
            if args.out is not None:
                print(f"{len(written)} papers in {out}")
    if args.window:
        bootstrap.close(work.book)
        _open_window(out / BOOK)
    if args.day is not None:
        return 0
    return 0 if prepared.results and all(r.as_expected for r in prepared.results) else 1


def _open_window(book: Path) -> None:
    """The window on a book, its clock going on from the end of its day; where there is no screen: how to open it later."""
    from ndi.cli import open as opening
    from ndi.gui.opening import has_screen

    later = f"ndi open {shlex.quote(str(book))}"
    if not has_screen():
        print(f"no screen here; on a machine that has one, the window opens with: {later}")
        return
    print(f"the window is open; close it to go on, and open it again with: {later}", flush=True)
    opening.show_book(book)


def replay_into(book: Path, prepared: replay.Plan) -> tuple[Workplace, list[Refusal]]:
    """Make a new practice book and play the day into it."""
    if book.exists():
        raise InputError(f"{book} is there already: name an empty folder, or delete the old book first")
    begins = prepared.begins
    clock = SetClock(begins.at, begins.offset_min)
    settings = prepared.day.settings
    documents = bootstrap.library_documents(bootstrap.data_folder("procedures"))
    had_keys = bootstrap.key_folder(book).exists()
    work: Workplace | None = None
    try:
        work = bootstrap.new_book(
            book, shop=settings.get("station_code", "SHOP"), station=settings["station"], practice=True, clock=clock
        )
        return work, replay.run(prepared, work, clock, documents)
    except BaseException:
        if work is not None:
            bootstrap.close(work.book)
        take_away(book, keys=not had_keys)
        raise


def take_away(book: Path, *, keys: bool) -> None:
    """No half-made practice book is left lying about."""
    for part in (book, book.with_name(book.name + "-wal"), book.with_name(book.name + "-shm")):
        part.unlink(missing_ok=True)
    if keys:
        shutil.rmtree(bootstrap.key_folder(book), ignore_errors=True)
