"""``ndi open``: the window on a book, or on a practice copy of the demonstration day."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from ndi import bootstrap
from ndi.cli.demo import before_folder
from ndi.day import files, replay
from ndi.day.calls import Call
from ndi.day.clock import SetClock
from ndi.domain.errors import InputError
from ndi.gui.memory_file import MemoryFile
from ndi.gui.opening import Inbox, Said, has_screen
from ndi.services.print_jobs import print_paper
from ndi.services.report_models import TagModel
from ndi.services.workplace import Workplace

PRACTICE_BOOK = "practice.ndibook"
PRACTICE_FROM = "10:57"  # before the rocker arms of the demonstration day are shot
LONGEST_PAUSE = timedelta(hours=4)  # a practice day that was left for longer goes on where its book ends


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser(
        "open", help="open the window: booth (dark, keypad) and desk, F12 changes between them"
    )
    parser.add_argument(
        "book", nargs="?", type=bootstrap.where, help="without it: the practice copy of the demonstration day"
    )
    parser.add_argument(
        "--practice",
        type=Path,
        metavar="FOLDER",
        help="where the practice copy lies or is made (default: ndi-practice in your home)",
    )
    parser.add_argument(
        "--at",
        metavar="HH:MM",
        default=PRACTICE_FROM,
        help=f"up to when the practice day has been worked when its copy is made (default {PRACTICE_FROM})",
    )
    parser.add_argument("--desk", action="store_true", help="begin at the desk")
    parser.add_argument("--place", help="where this screen stands, e.g. 'MT booth'")
    parser.add_argument("--station", help="the station that stands here, where the key folder holds several")
    parser.add_argument("--queue", help="print queue for tags; without it they are written as PDF beside the book")
    parser.add_argument(
        "--inbox", type=Path, help="folder where the camera leaves its files (default: photographs-in beside the book)"
    )
    parser.add_argument("--size", default="", help="size of the window, e.g. 1366x768 (default: the whole screen)")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Exit 0 when the window was closed; 2 where no window can be opened."""
    if not has_screen():
        raise InputError(
            "no screen here (DISPLAY is not set, or cannot be reached): every use case has a command, see ndi --help"
        )
    from ndi.gui.app import App

    place = args.book
    if isinstance(place, Path) and not place.exists():
        raise InputError(f"{place} is not there; ndi new makes a book, ndi open without a name opens a practice copy")

    def opening(said: Said) -> Any:
        return open_for_window(args, place, said)

    clock = bootstrap.SystemClock()
    App(opening, lambda: clock.now().astimezone(), desk=args.desk, size=args.size).run()
    return 0


def open_for_window(args: argparse.Namespace, place: bootstrap.Where | None, said: Said) -> Any:
    """Open a book (in the window's worker thread) with everything that surrounds it."""
    from ndi.gui.app import Opened
    from ndi.gui.desk_opening import desk_maker
    from ndi.gui.presenters.booth.booth import Booth
    from ndi.gui.presenters.booth.line_watch import LineWatch
    from ndi.gui.presenters.booth.outside import Outside
    from ndi.gui.sound import Announcer

    if place is None:
        place = practice_copy(args.practice or Path.home() / "ndi-practice", args.at, said)
    said("opening the book")
    clock = bootstrap.MovedClock()
    work = bootstrap.open_book(place, station=args.station, clock=clock)
    memory = MemoryFile(bootstrap.key_folder(place) / f"{work.station}.window.json")
    if work.practice:
        _go_on(work, clock, memory)
    else:
        bootstrap.close(work.book)
        work = bootstrap.open_book(place, station=args.station)
    beside = place.parent if isinstance(place, Path) else Path.home()
    inbox = Inbox(args.inbox or beside / "photographs-in")
    outside = Outside(print_tags=_printer(work, beside, args.queue), photo_files=inbox.files)
    kept = _Kept(memory)
    booth = Booth(work, kept, outside)
    if args.place:
        booth.hand.place = args.place

    desk = desk_maker(work, _paper_tools(beside), memory.load().get("desk person", ""), kept.keep_person)
    watch, sound = LineWatch(work), Announcer()
    booth.sound = sound

    def close() -> None:
        sound.stop()
        bootstrap.close(work.book)

    return Opened(
        booth,
        lambda: work.now().local,
        desk,
        close,
        look=watch.look,
        heard=lambda: sound.update(watch.states, work.now()),
    )


class _Kept:
    """The booth's share of the station's memory; the clock's share stays as it is."""

    def __init__(self, memory: MemoryFile) -> None:
        self._memory = memory

    def load(self) -> dict[str, Any]:
        found = self._memory.load().get("booth", {})
        return found if isinstance(found, dict) else {}

    def save(self, kept: dict[str, Any]) -> None:
        self._memory.save({**self._memory.load(), "booth": kept})

    def keep_person(self, person: str) -> None:
        """Who stands at the desk."""
        self._memory.save({**self._memory.load(), "desk person": person})


def _go_on(work: Workplace, clock: bootstrap.MovedClock, memory: MemoryFile) -> None:
    """A practice day runs at the pace of the real one from where its book ends, also across a restart."""
    with work.book.session(readonly=True) as session:
        position = session.head().position
        last = session.entry(position)
    kept = memory.load().get("clock")
    if isinstance(kept, dict):
        clock.offset = timedelta(seconds=float(kept["offset_s"]))
        now = clock.now()
        clock.go_on_from(now, int(kept["offset_min"]))
        if last.recorded_at <= now <= last.recorded_at + LONGEST_PAUSE:
            return
    clock.go_on_from(last.recorded_at + timedelta(seconds=1), last.when.offset_min)
    offset = {"offset_s": clock.offset.total_seconds(), "offset_min": last.when.offset_min}
    memory.save({**memory.load(), "clock": offset})


def _printer(work: Workplace, beside: Path, queue: str | None) -> Callable[[Sequence[TagModel]], str]:
    """Tags as a PDF beside the book, and to the queue where one is named."""

    def print_tags(models: Sequence[TagModel]) -> str:
        name = f"tag-{models[0].tag_no}.pdf" if len(models) == 1 else f"tags-{models[0].tag_no}-{models[-1].tag_no}.pdf"
        path = beside / "tags" / name
        bootstrap.write_paper(path, bootstrap.tags_pdf(list(models), work))
        if queue is None:
            return f"{len(models)} tag(s) in {path}"
        answer, _ = print_paper(work, bootstrap.system_printer(), path, queue, models[0].person)
        return f"tag {models[0].tag_no}: {answer.state}" + (f", {answer.detail}" if answer.detail else "")

    return print_tags


def _paper_tools(folder: Path) -> Any:
    from ndi.gui.presenters.desk.papers import PaperTools

    return PaperTools(
        bootstrap.record_pdf,
        bootstrap.shift_pdf,
        bootstrap.tags_pdf,
        bootstrap.traveller_pdf,
        bootstrap.write_paper,
        bootstrap.system_printer,
        folder,
    )


# --- practice -------------------------------------------------------------------------------------


def practice_copy(folder: Path, at: str, said: Said) -> Path:
    """The practice book in a folder; made from the demonstration day, up to a time of day, where there is none."""
    book = folder / PRACTICE_BOOK
    if book.exists():
        return book
    folder.mkdir(parents=True, exist_ok=True)
    said("making the practice copy of the demonstration day")
    source = bootstrap.data_folder("demo") / "2026-03-10"
    day = files.read_day(source)
    prepared = replay.plan(day, files.read_before(before_folder(source), day))
    make_practice_book(book, prepared, _instant(prepared, at), said)
    return book


def _instant(prepared: replay.Plan, at: str) -> datetime:
    """A time of day on the day's own clock."""
    begins = prepared.begins
    try:
        hour, minute = (int(part) for part in at.split(":"))
        local = begins.local.replace(hour=hour, minute=minute, second=0, microsecond=0)
    except ValueError:
        raise InputError(f"--at {at!r}: write a time of day like 10:57") from None
    return local.astimezone(UTC)


def make_practice_book(book: Path, prepared: replay.Plan, until: datetime, said: Said) -> None:
    """Replay the day up to an instant under another name, then give the book its name: it is there whole or not at all."""
    from ndi.cli.demo import take_away

    making = book.with_name(f"making-{book.name}")
    take_away(making, keys=True)
    begins = prepared.begins
    clock = SetClock(begins.at, begins.offset_min)
    settings = prepared.day.settings
    work = bootstrap.new_book(
        making, shop=settings.get("station_code", "SHOP"), station=settings["station"], practice=True, clock=clock
    )

    def told(call: Call) -> None:
        said(f"working the day up to {call.when.clock()}")

    replay.run(
        prepared,
        work,
        clock,
        bootstrap.library_documents(bootstrap.data_folder("procedures")),
        until=until,
        said=told,
    )
    clock.set(until, begins.offset_min)
    bootstrap.close(work.book)
    bootstrap.key_folder(making).rename(bootstrap.key_folder(book))
    making.rename(book)
