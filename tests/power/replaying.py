"""One replay of a day that is killed again and again, and goes on after the last call that was acknowledged.

The process that does the work is a fork; it is ended by SIGKILL, by itself at a
named point or by its parent at a random time.  What it was told is saved it
writes to a file of acknowledgments, which outlives it.  The hooks are put on
the session's commit here; nothing in ndi knows of them.
"""

from __future__ import annotations

import hashlib
import io
import os
import random
import re
import signal
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from typing import Any

from PIL import Image
from sqlalchemy import select

from ndi import bootstrap, procedure_files
from ndi.cli.demo import before_folder
from ndi.day import files, replay
from ndi.day.calls import Call, Turn
from ndi.day.clock import SetClock
from ndi.domain.errors import NdiError, NotPermitted, StoreError
from ndi.photo.archive import ArchiveCheck, FolderArchive
from ndi.services import photographs, receiving, recording
from ndi.services.workplace import Workplace
from ndi.store import session as sessions
from ndi.store.book import SqlBook
from ndi.store.host import flush_folder
from ndi.store.places import create_any, open_any
from ndi.store.schema import entry
from ndi.store.verify import verify

STATION = "BOOTH 1"
_BOOK = "BOOK"
_OF_THIS_BOOK = re.compile(r'HEAD \d+:[0-9a-f]{16}|"check_code":"\w+"')  # on tags: follows from the chain
PHOTO = "between photo rename and entry"
POINTS = ("between entry and read tables", "before the commit", "between commit and acknowledgment", PHOTO)
RANDOM = "at a random time"
_ATTACH = "attach photograph"


@cache
def the_plan() -> replay.Plan:
    """The demonstration day, with a photograph (a real file) attached at the end of every view."""
    folder = bootstrap.data_folder("demo") / "2026-03-10"
    day = files.read_day(folder)
    plan = replay.plan(day, files.read_before(before_folder(folder), day))
    calls = [(call, _photograph(call)) if call.what == "end view" else (call,) for call in plan.calls]
    plan.calls[:] = [call for each in calls for call in each]
    return plan


@cache
def _first_photograph() -> int:
    return next(number for number, call in enumerate(the_plan().calls) if call.what == _ATTACH)


@cache
def _last_photograph(calls: int) -> int:
    """The last call of so many that attaches a photograph, with some calls to spare."""
    return max(number for number, call in enumerate(the_plan().calls[:calls]) if call.what == _ATTACH) - 1


def _photograph(after: Call) -> Call:
    name = f"{after.subject} {after.when.clock()}.png"

    def make(work: Workplace) -> object:
        shown = photographs.Shown(True, "read", "UV", after.when)
        return photographs.attach_photograph(work, after.subject, picture(name), name, after.by, shown=shown)

    return replace(after, turn=Turn.NOTE, what=_ATTACH, make=make)


def picture(name: str) -> bytes:
    """A small picture of its own for each name."""
    image = Image.frombytes("L", (32, 32), hashlib.sha256(name.encode()).digest() * 32)
    content = io.BytesIO()
    image.save(content, "PNG")
    return content.getvalue()


@dataclass(frozen=True)
class Place:
    """Where the book, its keys and the acknowledgments lie."""

    where: str | Path
    keys: Path
    said: Path
    owner: str | None = None

    def open(self, clock: Any) -> SqlBook:
        return open_any(self.where, station=STATION, key_folder=self.keys, clock=clock)

    def archive(self) -> FolderArchive:
        return FolderArchive(self.said.with_name("photographs"), self.said.with_name("thumbnails"), flush_folder)


def begin(place: Place) -> None:
    """The book with people, procedures and history in it, before the first call of the day."""
    plan = the_plan()
    clock = SetClock(plan.begins.at, plan.begins.offset_min)
    create_any(
        place.where,
        owner_url=place.owner,
        shop="SHOP",
        practice=True,
        station=STATION,
        key_folder=place.keys,
        clock=clock,
    ).close()
    with place.open(clock) as book:
        work = _workplace(book, clock, place)
        why = "kept on paper before this book began"
        recording.transcribe(work, plan.people, person="transcriber", why=why)
        receiving.adopt(
            work, bootstrap.library_documents(bootstrap.data_folder("procedures")), replay._level_three(plan)
        )
        recording.transcribe(work, plan.equipment, person="transcriber", why=why)
        recording.transcribe(work, plan.history, person="transcriber", why=why)
    place.said.write_text("")


def _workplace(book: SqlBook, clock: SetClock, place: Place) -> Workplace:
    return Workplace(book, clock, procedure_files.document_from_text, STATION, True, photographs=place.archive())


# --- in the process that is killed ----------------------------------------------------------------


@dataclass
class Hooks:
    """What happens around each commit of the replay: acknowledgments, and the end at a named point."""

    said: int  # file descriptor of the acknowledgments
    point: str = ""
    armed: bool = False
    call: int = 0
    commits: int = 0
    too_early: bool = False  # acknowledges before the commit, as a program must not: to see that this is found
    file_late: bool = False  # puts a photograph's file behind its entry, as a program must not
    kept_back: dict[str, bytes] = field(default_factory=dict)

    def at(self, point: str) -> None:
        if self.armed and point == self.point:
            os.kill(os.getpid(), signal.SIGKILL)

    def say(self, text: str) -> None:
        os.write(self.said, f"{text}\n".encode())

    def put_on(self) -> None:
        commit, apply = sessions.SqlSession.commit, sessions.apply

        def watched_apply(tx: Any, recorded: Any) -> None:
            self.at(POINTS[0])
            apply(tx, recorded)

        def watched_commit(session: sessions.SqlSession) -> None:
            session.keep_client_key(f"call {self.call}.{self.commits}", ())
            head = session.head()
            if self.too_early:
                self.say(f"saved {self.call}.{self.commits} {head.position} {head.hash}")
            self.at(POINTS[1])
            commit(session)
            if self.kept_back:
                self.at(PHOTO)
            self.at(POINTS[2])
            if not self.too_early:
                self.say(f"saved {self.call}.{self.commits} {head.position} {head.hash}")
            self.commits += 1

        keep, holds = FolderArchive.keep, FolderArchive.holds

        def watched_keep(archive: FolderArchive, content: bytes) -> str:
            if self.file_late:
                sha256 = hashlib.sha256(content).hexdigest()
                self.kept_back[sha256] = content
                return sha256
            sha256 = keep(archive, content)
            self.at(PHOTO)
            return sha256

        FolderArchive.keep = watched_keep  # type: ignore[method-assign]
        if self.file_late:
            FolderArchive.holds = lambda archive, sha256: sha256 in self.kept_back or holds(archive, sha256)  # type: ignore[method-assign]
        sessions.apply = watched_apply
        sessions.SqlSession.commit = watched_commit  # type: ignore[method-assign]


def go_on(place: Place, last: int, hooks: Hooks, arm_at: int, tell: Callable[[], None]) -> None:
    """Play the calls up to ``last`` that were not acknowledged; from call ``arm_at`` on the end may come."""
    plan = the_plan()
    clock = SetClock(plan.begins.at, plan.begins.offset_min)
    with place.open(clock) as book:
        saved, first = acknowledged(place.said)
        check_saved(book, saved)
        check_photographs(book, place)
        hooks.put_on()
        work = _workplace(book, clock, place)
        for number in range(first, last):
            hooks.call, hooks.commits = number, 0
            if number == arm_at:
                hooks.armed = True
                tell()
            if not _was_done(book, number):
                _make(work, clock, plan, number)
            hooks.say(f"done {number}")


def _was_done(book: SqlBook, number: int) -> bool:
    """Whether the call was saved, though its acknowledgment never came."""
    with book.session(readonly=True) as session:
        return session.seen_client_key(f"call {number}.0") is not None


def _make(work: Workplace, clock: SetClock, plan: replay.Plan, number: int) -> None:
    call = plan.calls[number]
    clock.set(call.when.at, call.when.offset_min)
    try:
        call.make(work)
    except (StoreError, NotPermitted) as error:
        if isinstance(error, StoreError) and type(error).__module__.startswith("ndi.store"):
            raise  # the book failed, not the call
    except NdiError as error:
        replay._keep(work, call, str(error))


def acknowledged(said: Path) -> tuple[list[tuple[int, str]], int]:
    """Heads that were acknowledged, and the first call that was not done to its end."""
    heads, first = [], 0
    for line in said.read_text().splitlines():
        word, number, *rest = line.split()
        if word == "saved":
            heads.append((int(rest[0]), rest[1]))
        else:
            first = int(number) + 1
    return heads, first


def check_saved(book: SqlBook, saved: list[tuple[int, str]]) -> None:
    """Everything that was acknowledged is in the book, and at most one transaction more."""
    if not saved:
        return
    with book.transaction(reading=True) as tx:
        rows = tx.rows(
            select(entry.c.position, entry.c.hash).where(entry.c.position >= saved[max(0, len(saved) - 40)][0])
        )
        found = {row.position: row.hash for row in rows}
        for position, value in saved[-40:]:
            assert found.get(position) == value, f"entry {position} was acknowledged and is not in the book"
    result = verify(book, since=saved[-1][0], read_tables=False)
    assert result.ok, result.message


def check_photographs(book: SqlBook, place: Place) -> ArchiveCheck:
    """No entry without its file."""
    with book.session(readonly=True) as session:
        found = place.archive().check(recorded.fact.sha256 for recorded in photographs.archived(session))
    assert found.ok, f"an entry names a photograph that is not there or not whole: {found}"
    return found


# --- in the process that kills --------------------------------------------------------------------


LATEST = 0.97  # of the calls: a kill armed at the very end may come when the replay is over


@dataclass
class Killer:
    """Kills along one replay, spread evenly over its calls: half at random times, half at named points."""

    place: Place
    last: int  # calls to play
    chance: random.Random
    longest: float = 0.03  # seconds after which a random kill comes
    too_early: bool = False
    file_late: bool = False
    counts: dict[str, int] = field(default_factory=dict)

    def run(self, kills: int, points: tuple[str, ...] = POINTS) -> None:
        for number in range(kills):
            arm_at = int((number + self.chance.random()) * self.last / kills)
            point = RANDOM if number % 2 else points[number // 2 % len(points)]
            if point == PHOTO and not _first_photograph() <= arm_at <= _last_photograph(self.last):
                point = points[
                    0
                ]  # else the morning's kills would all wait for the first photograph, the evening's for ever
            self._until(point, min(arm_at, int(self.last * LATEST)))
        self._until("", self.last)  # to the end, undisturbed

    def _until(self, point: str, arm_at: int) -> None:
        arm_at = max(arm_at, acknowledged(self.place.said)[1])
        read, write = os.pipe()
        child = os.fork()
        if child == 0:
            os.close(read)
            self._child(point, arm_at, write)
        os.close(write)
        try:
            if os.read(read, 1) and point == RANDOM:
                time.sleep(self.chance.random() * self.longest)
                os.kill(child, signal.SIGKILL)
        finally:
            os.close(read)
            _, status = os.waitpid(child, 0)
        if os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGKILL:
            self.counts[point] = self.counts.get(point, 0) + 1
        elif os.waitstatus_to_exitcode(status) != 0:
            raise AssertionError(f"the replay failed after a kill {point or 'at none'}, near call {arm_at}; see above")

    def _child(self, point: str, arm_at: int, write: int) -> None:
        code = 1
        try:
            said = os.open(self.place.said, os.O_WRONLY | os.O_APPEND)
            go_on(
                self.place,
                self.last,
                Hooks(said, point, too_early=self.too_early, file_late=self.file_late),
                arm_at,
                lambda: os.write(write, b"!") and None,
            )
            code = 0
        except BaseException:
            import traceback

            traceback.print_exc()
        finally:
            os._exit(code)


def content(book: SqlBook) -> dict[str, list[Any]]:
    """Journal and read tables, without what names this very book: ids, keys, hashes."""
    left_out = ("prev_hash", "hash", "signature")
    with book.transaction(reading=True) as tx:
        columns = [column for column in entry.columns if column.name not in left_out]
        journal = tx.rows(select(*columns).order_by(entry.c.position))
        found: dict[str, list[Any]] = {"entry": [_anonymous(book, row) for row in journal]}
        for table in tx.tables.all:
            rows = tx.rows(select(table).order_by(*table.primary_key.columns))
            found[table.name] = [tuple(_BOOK if value == book.book_id else value for value in row) for row in rows]
    return found


def _anonymous(book: SqlBook, row: Any) -> tuple[Any, ...]:
    if row.position <= 2:
        return (row.position, row.kind)
    return tuple(_OF_THIS_BOOK.sub("", str(value).replace(book.book_id, _BOOK)) for value in row)
