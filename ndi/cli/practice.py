"""The practice copy of the demonstration day: its book, made by working the day up to a time."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from ndi import bootstrap
from ndi.cli.demo import before_folder, take_away
from ndi.day import files, replay
from ndi.day.calls import Call
from ndi.day.clock import SetClock
from ndi.domain.errors import InputError

PRACTICE_BOOK = "practice.ndibook"
Said = Callable[[str], None]


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
