"""Opens a book for the window, in its worker's thread: booth, desk, papers, sounds and the station's memory around it."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from datetime import timedelta
from pathlib import Path
from typing import Any

from ndi import bootstrap
from ndi.cli.inbox import Inbox, Live
from ndi.cli.open import PRACTICE_FOLDER
from ndi.cli.practice import practice_copy
from ndi.domain.errors import InputError
from ndi.gui.app import Opened
from ndi.gui.books_file import remember
from ndi.gui.desk_opening import desk_maker
from ndi.gui.memory_file import MemoryFile
from ndi.gui.opening import Said
from ndi.gui.presenters.booth.booth import Booth
from ndi.gui.presenters.booth.line_watch import LineWatch
from ndi.gui.presenters.booth.outside import Outside
from ndi.gui.sound import Announcer
from ndi.services.print_jobs import print_paper
from ndi.services.report_models import TagModel
from ndi.services.workplace import Workplace

LONGEST_PAUSE = timedelta(hours=4)  # a practice day that was left for longer goes on where its book ends


def open_for_window(args: argparse.Namespace, book: str | None, said: Said) -> Opened:
    """Open a book, or the practice copy where none is named, with everything that surrounds it."""
    place: bootstrap.Where
    if book is None:
        place = practice_copy(args.practice or Path.home() / PRACTICE_FOLDER, args.at, said)
    else:
        place = _place_of(book)
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
    folder = args.inbox or beside / "photographs-in"
    inbox = Inbox(folder)
    live = Live(args.camera, args.place or work.station, folder, clock) if args.camera else None
    outside = Outside(_printer(work, beside, args.queue), inbox.files, inbox.arriving, live)
    kept = _Kept(memory)
    booth = Booth(work, kept, outside)
    if args.place:
        booth.hand.place = args.place

    desk = desk_maker(work, _paper_tools(beside), memory.load().get("desk person", ""), kept.keep_person)
    if book is not None:
        remember(str(place))
    watch, sound = LineWatch(work), Announcer()
    booth.sound = sound

    def close() -> None:
        sound.stop()
        if live is not None:
            live.close()
        bootstrap.close(work.book)

    return Opened(
        booth,
        lambda: work.now().local,
        desk,
        close,
        look=watch.look,
        heard=lambda: sound.update(watch.states, work.now()),
    )


def _place_of(book: str) -> bootstrap.Where:
    """A book as somebody typed it; InputError when there is none."""
    place = bootstrap.where(book)
    if isinstance(place, Path):
        place = place.expanduser().absolute()
        if not place.is_file():
            raise InputError(f"{place} is not there: choose the file of a record book, it ends in .ndibook")
    return place


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
        bootstrap.paper_pdf,
        bootstrap.chart_png,
    )
