"""What is measured, each beside its floor: the least that the same machine needs for the same thing, in the same run."""

from __future__ import annotations

import gc
import secrets
import shutil
import sqlite3
import statistics
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

from ndi import bootstrap
from ndi.domain import facts as f
from ndi.domain.codec import body_of, utc_text
from ndi.domain.entry import Draft
from ndi.domain.fact_set import FactSet
from ndi.domain.moment import Moment
from ndi.domain.vocabulary import Method
from ndi.rules import registry
from ndi.rules.inquiry import Inquiry
from ndi.services.assemble import decision_in_force, inquiry_for
from ndi.services.containment import recall_set
from ndi.services.judging import judge, kept
from ndi.services.lookup import every
from ndi.services.ports import InspectionRow
from ndi.services.workplace import Workplace
from ndi.store.book import SqliteBook
from ndi.store.canonical import canonical
from ndi.store.verify import verify
from tests.bench.bare import compare, numbers_of
from tests.bench.book import close

SAMPLE = 24  # records that are judged and opened
APPENDS = 200
HUNDRED_THOUSAND = 100_000
REBUILT_UP_TO = 200_000  # entries; a larger book is not rebuilt here, it takes as long for each entry
VERIFY, REBUILD = "verify the chain, 100,000 entries", "rebuild and compare, 100,000 entries"
SIZE = "size of the book, bytes per inspection"
SNAPSHOT_HELD = "answers kept with a decision, as in this book"
SNAPSHOT_NOW = "answers kept with a decision, as signed now"


@dataclass(frozen=True)
class Line:
    """One line of the table; times in seconds for one of ``unit``."""

    what: str
    unit: str
    ours: float
    floor: float | None = None
    goal: float | None = None  # at most so many floors
    note: str = ""

    @property
    def ratio(self) -> float | None:
        return None if self.floor is None else self.ours / self.floor


def turns(repeat: int, one: Callable[[], object], other: Callable[[], object]) -> tuple[float, float]:
    """The medians of two things done in turns, so that a busy machine disturbs both alike."""
    ones, others = [], []
    for _ in range(repeat):
        for call, times in ((one, ones), (other, others)):
            begun = time.perf_counter()
            call()
            times.append(time.perf_counter() - begun)
    return statistics.median(ones), statistics.median(others)


@dataclass
class Bench:
    """A copy of a synthetic book that may be written to."""

    work: Workplace
    path: Path
    records: int

    @property
    def book(self) -> SqliteBook:
        assert isinstance(self.work.book, SqliteBook)
        return self.work.book

    def reopened(self) -> Bench:
        """The same book as a program that was just started sees it: nothing remembered."""
        close(self.work)
        return Bench(bootstrap.open_book(self.path), self.path, self.records)

    def rows(self) -> list[InspectionRow]:
        with self.book.session(readonly=True) as session:
            return session.inspections()

    def sample(self) -> list[InspectionRow]:
        """Records of the last whole day, of both methods, spread over it."""
        rows = self.rows()[-120:]
        found: list[InspectionRow] = []
        for method in (Method.MT, Method.PT):
            of_method = [row for row in rows if row.method == method]
            step = max(1, len(of_method) * 2 // SAMPLE)
            found += of_method[::step][: SAMPLE // 2]
        return found


@contextmanager
def copied(path: Path, scratch: Path, records: int) -> Iterator[Bench]:
    """A copy of a cached book with its keys, opened."""
    target = scratch / path.name
    shutil.copyfile(path, target)
    shutil.copytree(bootstrap.key_folder(path), bootstrap.key_folder(target), dirs_exist_ok=True)
    bench = Bench(bootstrap.open_book(target), target, records)
    try:
        yield bench
    finally:
        close(bench.work)
        for leftover in scratch.glob("*"):
            shutil.rmtree(leftover) if leftover.is_dir() else leftover.unlink()


# --- judging --------------------------------------------------------------------------------------


def judging(bench: Bench) -> list[Line]:
    """One inspection judged in memory, and one opened from the book."""
    with bench.book.session(readonly=True) as session:
        inquiries = [inquiry_for(bench.work, session, row.inspection) for row in bench.sample()]
    lines = []
    for method in (Method.MT, Method.PT):
        chosen = [q for q in inquiries if q.method == method]
        numbers = [numbers_of(q) for q in chosen]
        rules = sum(len(registry.judge(fresh(q))) for q in chosen) / len(chosen)
        asked = iter([fresh(q) for q in chosen * 5])
        bare = iter(numbers * 5)
        gc.collect()
        ours, floor = turns(len(chosen) * 5, lambda a=asked: registry.judge(next(a)), lambda n=bare: compare(next(n)))  # type: ignore[misc]
        count = sum(len(n) for n in numbers) / len(numbers)
        facts = sum(len(q.facts) for q in chosen) / len(chosen)
        note = (
            f"{rules:.0f} rules, {count:.0f} comparisons, {facts:.0f} facts; {1 / ours:,.0f} records a second (goal 10,000), "
            f"{rules / ours:,.0f} questions a second"
        )
        lines.append(Line(f"judge one {method} inspection in memory", "inspection", ours, floor, 5, note))
    return lines


def snapshots(bench: Bench) -> list[Line]:
    """What the answers of a decision take in the book: as this book holds them, and as they would be signed now.

    The synthetic decisions point at the demonstration day's few lamp readings;
    a decision signed now names every reading of the last 400 days that a trend was read from.
    """
    then, now = [], []
    with bench.book.session(readonly=True) as session:
        for row in bench.sample():
            signed = decision_in_force(session, row.inspection)
            if signed is not None:
                answers = kept(judge(bench.work, session, row.inspection).answers)
                then.append(_bytes_of(signed.fact.answers))
                now.append(_bytes_of(answers))
    return [
        Line(SNAPSHOT_HELD, "bytes", statistics.mean(then), note="decisions of the demonstration day, moved"),
        Line(SNAPSHOT_NOW, "bytes", statistics.mean(now), note="the same records with this book's lamp readings"),
    ]


def _bytes_of(answers: tuple[f.KeptAnswer, ...]) -> int:
    return len(canonical([body_of(answer) for answer in answers]).encode())


def fresh(q: Inquiry) -> Inquiry:
    """The same inquiry with nothing worked out yet."""
    return replace(q, facts=FactSet(q.facts))


def opening(bench: Bench) -> list[Line]:
    """One record opened: gathered and judged, by a program just started and by one that runs."""
    cold = bench.reopened()
    rows = cold.sample()
    times = {}
    for state in ("first after start", "again"):
        taken = []
        for row in rows:
            begun = time.perf_counter()
            with cold.book.session(readonly=True) as session:
                judge(cold.work, session, row.inspection)
            taken.append(time.perf_counter() - begun)
        times[state] = (taken[0], statistics.median(taken))
    bench.work = cold.work
    return [
        Line(
            "open the first record after start",
            "record",
            times["first after start"][0],
            note="gather and judge, documents read",
        ),
        Line("open a record not seen before", "record", times["first after start"][1], note="gather and judge"),
        Line("open a record seen before", "record", times["again"][1], note="gather and judge"),
    ]


# --- writing --------------------------------------------------------------------------------------


def appending(bench: Bench, scratch: Path) -> list[Line]:
    """One entry appended durably, against one bare commit of a row of the same size."""
    inspection = bench.rows()[-1].inspection
    when = Moment(bench.work.now().at, -300)

    def append() -> None:
        with bench.book.session() as session:
            session.append([Draft(f.ConfirmationGiven(inspection, "dry"), when, "L2-A")])
            session.commit()

    append()
    bare, floor = _bare_commit(scratch / "bare.db", _size_of_last(bench.path))
    try:
        ours, least = turns(APPENDS, append, floor)
    finally:
        bare.close()
    return [
        Line(
            "append one entry durably",
            "entry",
            ours,
            least,
            2,
            f"bare row of {_size_of_last(bench.path)} bytes, synchronous FULL",
        )
    ]


def _size_of_last(path: Path) -> int:
    with sqlite3.connect(path) as connection:
        row = connection.execute("SELECT * FROM entry ORDER BY position DESC LIMIT 1").fetchone()
    connection.close()
    return sum(len(str(value)) for value in row)


def _bare_commit(path: Path, size: int) -> tuple[sqlite3.Connection, Callable[[], None]]:
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("CREATE TABLE bare (position INTEGER PRIMARY KEY, content TEXT NOT NULL)")
    content = secrets.token_hex(size)[:size]

    def commit() -> None:
        connection.execute("BEGIN IMMEDIATE")
        connection.execute("INSERT INTO bare (content) VALUES (?)", (content,))
        connection.execute("COMMIT")

    return connection, commit


# --- finding --------------------------------------------------------------------------------------


def recalling(bench: Bench) -> list[Line]:
    """The recall set of a lamp: half a day, a day, ten days at the end; and a day in the middle of the book."""
    with bench.book.session(readonly=True) as session:
        opened = [r.at for r in every(session, f.ViewStarted)]
        uses: dict[str, int] = {}
        for r in every(session, f.ViewStarted)[-80:]:
            for lamp in r.fact.lamps:
                uses[lamp] = uses.get(lamp, 0) + 1
    lamp = max(uses, key=lambda name: uses[name])
    end, middle = max(opened), sorted(opened)[len(opened) // 2]
    spans = (("half a day", end, 0.5), ("a day", end, 1), ("ten days", end, 10), ("a day in the middle", middle, 1))
    lines = []
    for name, last, days in spans:
        line = _recall(bench, lamp, name, last - timedelta(days=days), last)
        if line is not None:
            lines.append(line)
    return lines


def _recall(bench: Bench, lamp: str, name: str, after: datetime, until: datetime) -> Line | None:
    bare = sqlite3.connect(bench.path)
    # by the end of the uses: by their start it would read all uses since the book began, and be no floor
    uses = "SELECT * FROM object_use WHERE object = ? AND started || '' <= ? AND ended "
    values = (lamp, utc_text(until), lamp, utc_text(until), utc_text(after))
    sql = (
        "SELECT u.inspection, u.what, u.kind, u.attempt, i.part, i.quantity "
        f"FROM ({uses} IS NULL UNION ALL {uses} > ?) u JOIN inspection i ON i.inspection = u.inspection "
        "WHERE NOT EXISTS (SELECT 1 FROM fact v WHERE v.subject = u.inspection AND v.kind = 'AttemptVoided') "
        "ORDER BY u.started"
    )
    hits = len(bare.execute(sql, values).fetchall())
    with bench.book.session(readonly=True) as session:
        session.inspections()

        def ours() -> None:
            session._read.clear()
            recall_set(session, lamp, Moment(after), Moment(until))

        ours()
        time_ours, floor = turns(20, ours, lambda: bare.execute(sql, values).fetchall())
    bare.close()
    if not hits:
        return None
    return Line(
        f"recall set of {lamp}, {name}",
        "set",
        time_ours,
        floor,
        1.5,
        f"{hits} uses, {time_ours / hits * 1e6:.0f} us a use",
    )


def prefixes(bench: Bench) -> list[Line]:
    """Parts by the beginning of a serial number."""
    with bench.book.session(readonly=True) as session:
        serials = [part.serial for part in session.parts() if part.serial]
    bare = sqlite3.connect(bench.path)
    serial = serials[len(serials) // 2]
    start = serial[:8]
    sql = "SELECT * FROM part WHERE serial >= ? AND serial < ? ORDER BY serial LIMIT 50"
    stop = start[:-1] + chr(ord(start[-1]) + 1)
    hits = len(bare.execute(sql, (start, stop)).fetchall())
    with bench.book.session(readonly=True) as session:

        def ours() -> None:
            session._read.clear()
            session.parts_by_serial(start)

        time_ours, floor = turns(100, ours, lambda: bare.execute(sql, (start, stop)).fetchall())
    bare.close()
    return [Line("parts by serial prefix", "list", time_ours, floor, note=f"{hits} of {len(serials):,} parts")]


# --- the whole book -------------------------------------------------------------------------------


def whole(bench: Bench) -> list[Line]:
    """Verify and rebuild per 100,000 entries; bytes per inspection."""
    entries = bench.book.head().position
    close(bench.work)
    size = bench.path.stat().st_size
    bench.work = bootstrap.open_book(bench.path)
    since = max(1, entries - HUNDRED_THOUSAND)
    begun = time.perf_counter()
    found = verify(bench.book, since=since, read_tables=False)
    chain = time.perf_counter() - begun
    assert found.ok, found.message
    lines = [
        Line(
            VERIFY,
            "100,000",
            chain * HUNDRED_THOUSAND / found.checked,
            note=f"the last {found.checked:,} of {entries:,} entries in {chain:.1f} s",
        )
    ]
    if entries <= REBUILT_UP_TO:
        begun = time.perf_counter()
        differences = bench.book.rebuild()
        rebuilt = time.perf_counter() - begun
        assert not differences, differences[:3]
        note = f"{entries:,} entries in {rebuilt:.1f} s"
        lines.append(Line(REBUILD, "100,000", rebuilt * HUNDRED_THOUSAND / entries, note=note))
    size_note = f"{size / 1e6:.0f} MB, {entries / bench.records:.0f} entries an inspection"
    return [*lines, Line(SIZE, "bytes", size / bench.records, note=size_note)]
