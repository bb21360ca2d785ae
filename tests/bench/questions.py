"""The forty questions, each beside the bare SQL that it needs, on the same file in the same run.

Both are asked when the pages of the file are in memory, in turns, and both in
processor time: neither waits for anything, and others may use the machine.
"""

from __future__ import annotations

import sqlite3
import statistics
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

from ndi import bootstrap
from ndi.day.clock import SetClock
from ndi.domain import facts as f
from ndi.domain.codec import utc_from_text, utc_text
from ndi.services.asked import answering
from ndi.services.workplace import Workplace
from tests.bench.book import close
from tests.bench.measures import Bench, Line
from tests.bench.question_floors import FLOORS

GOAL = 3  # floors that a question may take
AT_ONCE = 0.003  # seconds; such a question reads a row here and there, and costs what any call costs
ONCE = ("F31",)  # walks the whole chain
WALKED_UP_TO = 100_000  # entries; a longer chain is walked by `ndi verify`, which the table has a line for
OFFSET = -300
LAMPS = 5


def questions(bench: Bench, only: tuple[str, ...] = ()) -> list[Line]:
    """Each question answered, in turns with its bare SQL."""
    at, values = _sample(bench)
    work = bootstrap.open_book(bench.path, clock=SetClock(at, OFFSET))
    bare = sqlite3.connect(bench.path, isolation_level=None)
    try:
        asked = [each.id for each in answering.questions() if not only or each.id in only]
        return [line for id_ in asked if (line := _measured(bench, work, bare, id_, values)) is not None]
    finally:
        bare.close()
        close(work)


def _measured(bench: Bench, work: Workplace, bare: sqlite3.Connection, id_: str, values: dict[str, str]) -> Line | None:
    given = {name: values[name] for name in _GIVEN.get(id_, ())}
    if id_ in ONCE and bench.book.head().position > WALKED_UP_TO:
        return None
    question = answering.find(id_)

    def ours() -> object:
        return answering.ask(work, id_, given)

    floor = _bare(bare, id_, values)
    begun = time.perf_counter()
    count = answering.ask(work, id_, given).count  # documents are read and the pages of the file are in memory
    took = time.perf_counter() - begun
    floor()
    repeat = 1 if id_ in ONCE else max(5, min(25, int(3 / max(took, 0.001))))
    time_ours, time_floor = _turns(repeat, ours, floor)
    note = f"{count:,} rows"
    if id_ == "F31":
        note += "; hashes and signatures are checked, which no SQL does"
    elif time_ours < AT_ONCE:
        note += "; what is measured is the call itself"
    return Line(f"{id_} {question.text}", "answer", time_ours, time_floor, GOAL, note)


def _turns(repeat: int, one: Callable[[], object], other: Callable[[], object]) -> tuple[float, float]:
    """The medians of the processor time of two things done in turns."""
    times: tuple[list[float], list[float]] = ([], [])
    for _ in range(repeat):
        for call, taken in ((one, times[0]), (other, times[1])):
            begun = time.process_time()
            call()
            taken.append(time.process_time() - begun)
    return statistics.median(times[0]), statistics.median(times[1])


def _bare(bare: sqlite3.Connection, id_: str, values: dict[str, str]) -> Callable[[], object]:
    """One transaction: the statements of the question and the head that every answer names."""
    statements = [(text, tuple(values[name] for name in names)) for text, names in FLOORS[id_]]

    def run() -> object:
        bare.execute("BEGIN")
        rows = [bare.execute(text, given).fetchall() for text, given in statements]
        bare.execute("SELECT position, hash FROM entry ORDER BY position DESC LIMIT 1").fetchone()
        bare.execute("COMMIT")
        return rows

    return run


_GIVEN = {
    "F1": ("lamp",),
    "F2": ("object",),
    "F3": ("part_no", "zone", "clock"),
    "F9": ("serial",),
    "F10": ("part",),
    "F11": ("work_order",),
    "F13": ("meter",),
    "F26": ("procedure", "revision"),
    "F27": ("person",),
    "F29": ("part",),
    "F30": ("seed",),
    "F35": ("work_order",),
}


def _sample(bench: Bench) -> tuple[datetime, dict[str, str]]:
    """An hour after the last view, and what is asked about: the lamp most used, a serial number of the last day ..."""
    with bench.book.session(readonly=True) as session:
        last = session.lines(f.ViewStarted)[-1]
        uses: dict[str, int] = {}
        for line in session.lines(f.ViewStarted, utc_from_text(last.at) - timedelta(days=3)):
            for lamp in line.body["lamps"]:
                uses[lamp] = uses.get(lamp, 0) + 1
        row = session.inspections()[-60]
        part = next(p for p in session.parts(row.work_order) if p.serial)
        lamps = sorted({r.body["equipment"] for r in session.lines(f.EquipmentEntered) if r.body["kind"] == "lamp"})
        batches = sorted({r.body["batch"] for r in session.lines(f.BatchEntered)})
        readings = session.facts(max(uses, key=lambda name: uses[name]), [f.ReadingRecorded])
    at = utc_from_text(last.at) + timedelta(hours=1)
    local = at + timedelta(minutes=OFFSET)
    midnight = datetime(local.year, local.month, local.day, tzinfo=UTC) - timedelta(minutes=OFFSET)
    values = {
        "lamp": max(uses, key=lambda name: uses[name]),
        "bench": "MT-01",
        "object": "MT-01",
        "meter": "RM-1",
        "person": "L2-C",
        "part_no": "T6-11001",
        "zone": "MAIN3-THROUGH-BOLT-BOSS",
        "clock": "176",
        "procedure": "PT-P-01",
        "revision": "D",
        "seed": "7",
        "serial": part.serial or "",
        "part": part.part,
        "work_order": row.work_order,
        "now": utc_text(midnight + timedelta(days=1)),
        "day": utc_text(midnight),
        "recent": utc_text(readings[-1].at),
        "month": utc_text(midnight - timedelta(days=30)),
        "quarter": utc_text(midnight - timedelta(days=90)),
        "years": utc_text(midnight - timedelta(days=730)),
        **{f"lamp_{n}": lamp for n, lamp in enumerate(lamps[:LAMPS], 1)},
        **{f"batch_{n}": batch for n, batch in enumerate((batches * 4)[:4], 1)},
    }
    return at, values
