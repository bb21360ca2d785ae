"""The synthetic book: years of lamp readings, then one simulated day after another, through the same writer, cached outside the repository."""

from __future__ import annotations

import hashlib
import shutil
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import timedelta
from itertools import groupby
from pathlib import Path

from ndi import bootstrap
from ndi.day.clock import SetClock
from ndi.domain import facts as f
from ndi.domain.entry import Draft, Obtained
from ndi.domain.moment import Moment
from ndi.domain.vocabulary import Condition, Quantity
from ndi.services import receiving, recording
from ndi.services.workplace import Workplace
from tests.bench.template import RENEWED, Entry, Move, Template, demonstration, lamp_value

ROOT = Path(__file__).resolve().parent.parent.parent
CACHE = Path.home() / ".cache" / "ndi-bench"
YEARS_BEFORE = 3  # of lamp readings, before the first inspection
CHECKS_EVERY = 7  # days
RENEWED_EVERY = 60  # days

# what the content of a synthetic book follows from: the generator, the schema and what fills it, facts, day, documents
SOURCES = (
    *("tests/bench/book.py", "tests/bench/template.py", "ndi/domain/facts.py"),
    *("ndi/store/schema.py", "ndi/store/projection.py", "ndi/store/object_uses.py"),
    *("demo/**/*.csv", "procedures/**/*.toml"),
)

WHY = "kept on paper before this book began"
SCRIBE = "transcriber"


@dataclass(frozen=True)
class Built:
    """A synthetic book in the cache."""

    path: Path
    records: int
    seconds: float | None  # that building it took; None when it was there already


def book_of(records: int, say: Callable[[str], None]) -> Built:
    """The book with this many inspections, from the cache or built now."""
    folder = CACHE / f"{fingerprint()}-{records}"
    path = folder / "bench.ndibook"
    if path.exists():
        return Built(path, records, None)
    begun = time.perf_counter()
    CACHE.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=CACHE) as scratch:
        _build(Path(scratch), records, say)
        shutil.rmtree(folder, ignore_errors=True)
        Path(scratch, "book").rename(folder)
    return Built(path, records, time.perf_counter() - begun)


def fingerprint() -> str:
    """Changes with what the content of a synthetic book follows from."""
    digest = hashlib.sha256()
    for pattern in SOURCES:
        for path in sorted(ROOT.glob(pattern)):
            digest.update(path.read_bytes())
    return digest.hexdigest()[:12]


def _build(scratch: Path, records: int, say: Callable[[str], None]) -> None:
    template = demonstration(scratch)
    (scratch / "book").mkdir()
    first = min(entry.recorded_at for entry in template.day)
    began = first - timedelta(minutes=30)
    clock = SetClock(began, template.day[0].when.offset_min)
    work = bootstrap.new_book(
        scratch / "book" / "bench.ndibook", shop="BENCH", station="STATION-1", practice=True, clock=clock
    )
    _before(work, template)
    written = day = 0
    begun = time.perf_counter()
    positions = _standing_positions(work, template)
    while written < records:
        count = min(template.records, records - written)
        _write_day(work, clock, template, day, positions, count)
        written, day = written + count, day + 1
        if day % 50 == 0:
            say(f"  {written} of {records} inspections, {time.perf_counter() - begun:.0f} s")
    close(work)


def close(work: Workplace) -> None:
    """Let go of the file, so that the write-ahead log is folded into it."""
    work.book.close()  # type: ignore[attr-defined]


def _before(work: Workplace, template: Template) -> None:
    people = (f.PersonEntered, f.CertificateEntered, f.VisionExamEntered, f.AuthorisationEntered, f.RevisionRead)
    holders = [(e.fact, e.when) for e in template.standing if isinstance(e.fact, people)]
    recording.transcribe(work, holders, person=SCRIBE, why=WHY)
    receiving.adopt(work, template.documents, template.adopter)
    rest = [(e.fact, e.when) for e in template.standing if not isinstance(e.fact, people)]
    recording.transcribe(work, rest, person=SCRIBE, why=WHY)
    readings = _years_of_readings(work, template)
    for start in range(0, len(readings), 2000):
        recording.transcribe(work, readings[start : start + 2000], person=SCRIBE, why=WHY)


def _years_of_readings(work: Workplace, template: Template) -> list[tuple[f.Fact, Moment]]:
    """Morning and evening, each lamp, each day."""
    meter = next(
        e.fact.meter for e in template.day if isinstance(e.fact, f.ReadingRecorded) and e.fact.quantity == Quantity.UV_A
    )
    distance = next(
        e.fact.distance
        for e in template.day
        if isinstance(e.fact, f.ReadingRecorded) and e.fact.quantity == Quantity.UV_A
    )
    earliest = min(e.recorded_at for e in template.day) - timedelta(days=365 * YEARS_BEFORE)
    found: list[tuple[f.Fact, Moment]] = []
    for day in range(365 * YEARS_BEFORE - 30):  # the last month is in the demonstration's own history
        for hours in (0.5, 11):
            when = Moment(earliest + timedelta(days=day, hours=hours), template.day[0].when.offset_min)
            for lamp in template.lamps:
                value = lamp_value(lamp, day - 365 * YEARS_BEFORE, Condition.AS_FOUND)
                found.append(
                    (f.ReadingRecorded(lamp, Quantity.UV_A, value, str(Condition.AS_FOUND), meter, distance), when)
                )
    return found


def _standing_positions(work: Workplace, template: Template) -> dict[int, int]:
    """Where the template's standing entries stand in this book: what snapshots of every day point at."""
    with work.book.session(readonly=True) as session:
        mine = {
            (type(r.fact).__name__, repr(r.fact), r.at): r.position
            for kind in {type(e.fact) for e in template.standing}
            for r in session.of_kind(kind)
        }
    return {
        e.position: mine[key] for e in template.standing if (key := (type(e.fact).__name__, repr(e.fact), e.at)) in mine
    }


def _write_day(
    work: Workplace, clock: SetClock, template: Template, day: int, standing: dict[int, int], records: int
) -> None:
    """All entries of one day in one transaction; the last day may be a part of one."""
    move = Move(template.names, day, day, tags=day * template.tags, positions=dict(standing))
    with work.book.session() as session:
        offset = template.day[0].when.offset_min
        clock.set(move.at(min(e.recorded_at for e in template.day)), offset)
        session.append(list(_renewals(template, day)))
        position = session.head().position
        for at, group in groupby(_records(template, records), key=lambda entry: entry.recorded_at):
            clock.set(move.at(at), offset)
            entries = list(group)
            for entry in entries:
                position += 1
                move.positions[entry.position] = position
            session.append([_draft(move, entry) for entry in entries])
        session.commit()


def _records(template: Template, records: int) -> Sequence[Entry]:
    if records >= template.records:
        return template.day
    opened = [e.fact.inspection for e in template.day if isinstance(e.fact, f.InspectionOpened)]
    left_out = set(opened[records:])

    def kept(entry: Entry) -> bool:
        named = {
            getattr(entry.fact, "inspection", None),
            getattr(entry.fact, "about", None),
            getattr(entry.fact, "on", None),
        }
        return not named & left_out and not isinstance(entry.fact, f.VerificationSigned)

    return [entry for entry in template.day if kept(entry)]


def _draft(move: Move, entry: Entry) -> Draft:
    return Draft(
        move.fact(entry.fact), move.moment(entry.when), entry.by, entry.how, entry.on_behalf_of, None, entry.why
    )


def _renewals(template: Template, day: int) -> Iterator[Draft]:
    """Weekly checks, and what would run out: certificates, eye examinations, calibrations, batches."""
    kinds: tuple[type[f.Fact], ...] = ()
    if day and day % CHECKS_EVERY == 0:
        kinds += (f.ProcessCheckRecorded,)
    if day and day % RENEWED_EVERY == 0:
        kinds += RENEWED
    move = Move(frozenset(), day, day, dates=True)
    for entry in template.standing:
        if isinstance(entry.fact, kinds):
            yield Draft(move.fact(entry.fact), move.moment(entry.when), SCRIBE, Obtained.TRANSCRIBED, why=WHY)
