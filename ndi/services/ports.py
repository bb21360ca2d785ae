"""What the services need from the outside world, as protocols.

Nothing here says how: ``store`` keeps the book, ``bootstrap`` joins the two.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import Any, NamedTuple, Protocol

from ndi.domain.entry import Draft, Recorded
from ndi.domain.facts import Fact


class Clock(Protocol):
    """The station's clocks, always passed in."""

    def now(self) -> datetime:
        """UTC now, aware."""

    def offset_min(self) -> int:
        """Local offset from UTC in minutes at ``now``."""

    def boot_ms(self) -> int:
        """Milliseconds of a clock that no one can set and that counts suspend."""

    def boot_id(self) -> str:
        """Changes with every start of the machine."""


@dataclass(frozen=True)
class Head:
    """The end of the chain: position and hash; printed as position and 16 characters."""

    position: int
    hash: str

    def __str__(self) -> str:
        return f"{self.position}:{self.hash[:16]}"


@dataclass(frozen=True)
class InspectionRow:
    """One line of the inspections table: where a record stands now."""

    inspection: str
    part: str
    work_order: str
    part_no: str
    quantity: int
    method: str
    technique: str
    procedure: str
    procedure_revision: str
    inspector: str
    reason: str
    previous: str | None
    opened_at: datetime
    disposition: str  # "NO DECISION" until signed; "SPLIT" for a lot whose children differ
    provisional: bool
    suspended: bool
    decision: int | None  # position of the decision in force
    decided_at: datetime | None
    verified: bool
    version: int  # position of the last entry that touched it
    opened: int = field(default=0, compare=False)  # position of the entry that opened it


@dataclass(frozen=True)
class PartRow:
    """One piece or lot of a work order."""

    part: str
    work_order: str
    part_no: str
    serial: str | None
    lot: str | None
    quantity: int
    reason_code: str | None
    description: str | None
    place: str | None


@dataclass(frozen=True)
class UseRow:
    """Some object (lamp, bath, line, bench, meter, person ...) was relied upon for an inspection.

    ``what`` is the view or second look, or ``shots``, ``steps``; ``ended`` is None
    while it is still going on.
    """

    object: str
    started: datetime
    ended: datetime | None
    inspection: str
    what: str
    kind: str  # first, re-view, second look, shots, steps
    attempt: int
    source: int = field(default=0, compare=False)  # position of the entry that it follows from


class UseTime(NamedTuple):
    """A use of an object as a sum over thousands of them needs it; times as UTC text, None while it goes on."""

    inspection: str
    kind: str
    started: str
    ended: str | None


class Reliance(NamedTuple):
    """A use of an object as a recall needs it: by which record, of which part with how many pieces.

    ``some_voided``: some attempt of the record was voided; which one, its facts say.
    """

    inspection: str
    what: str
    kind: str
    attempt: int
    part: str | None  # None when the book holds no such record
    quantity: int
    some_voided: bool


class Line(NamedTuple):
    """An entry as lists and counts need it: ``body`` as it was written, times as UTC text (they sort as they stand)."""

    position: int
    kind: str
    at: str
    offset_min: int
    by: str
    how: str
    recorded: str
    why: str | None
    body: dict[str, Any]


class Named(NamedTuple):
    """An entry by the first thing that it is about, its body not read; ``at`` as UTC text."""

    position: int
    kind: str
    at: str
    offset_min: int
    by: str
    how: str
    recorded: str
    subject: str


class Brief(NamedTuple):
    """A record as counts over all records need it."""

    inspection: str
    part: str
    part_no: str
    work_order: str
    quantity: int
    method: str
    technique: str
    disposition: str
    suspended: bool
    serial: str | None
    lot: str | None

    @property
    def item(self) -> str:
        """Serial number or lot of the part."""
        return self.serial or self.lot or self.part


class Fields(NamedTuple):
    """An entry with some fields of its body as text: texts, whole numbers; what is more than that as JSON text."""

    position: int
    at: str
    offset_min: int
    by: str
    values: tuple[str | None, ...]


class UseTotal(NamedTuple):
    """How much an object was used: records, their pieces, shots."""

    records: int
    pieces: int
    shots: int


class Signed(NamedTuple):
    """Who signed a decision, and the reading that its acceptance waits for."""

    by: str
    waits_for: str | None


class Kept(NamedTuple):
    """What the snapshots of signed decisions say of one rule: how many asked it, which decisions have one verdict of it."""

    rule: str
    asked: int
    positions: tuple[int, ...]


class Correction(NamedTuple):
    """An entry that corrects or withdraws another, beside the one that it stands for."""

    old: Line
    new: Line


class Seal(NamedTuple):
    """An entry as anybody can check it: ``hash`` is the SHA-256 of ``text``, which names the hash of the entry before."""

    position: int
    text: str  # in canonical form
    hash: str
    station: str
    signature: str  # of the hash, by the station's key


class ChainCheck(NamedTuple):
    """What a walk along the chain found; ``broken`` is the position of the first entry that does not hold."""

    checked: int
    broken: int | None
    says: str


class Session(Protocol):
    """One transaction on the book.  Leaving the block without ``commit`` changes nothing."""

    def append(self, drafts: Sequence[Draft]) -> tuple[Recorded[Fact], ...]:
        """Put facts at the end of the chain, in order, and write the read tables."""

    def commit(self) -> None:
        """Make it durable; returns only after it is on disk."""

    def seen_client_key(self, key: str) -> tuple[int, ...] | None:
        """Positions that an earlier call with this key wrote, or None."""

    def keep_client_key(self, key: str, positions: Sequence[int]) -> None:
        """Remember that the call with this key has been done."""

    def facts(
        self,
        subject: str,
        kinds: Iterable[type[Fact]] | None = None,
        *,
        since: datetime | None = None,
        until: datetime | None = None,
        include_superseded: bool = False,
    ) -> list[Recorded[Fact]]:
        """Facts about ``subject`` by event time, then position; ``since``/``until`` inclusive."""

    def of_kind(self, kind: type[Fact]) -> list[Recorded[Fact]]:
        """Every fact of one kind that is not superseded, by event time, then position."""

    def lines(self, kind: type[Fact], since: datetime | None = None, until: datetime | None = None) -> list[Line]:
        """The same undecoded, of event times in ``[since, until)``."""

    def lines_obtained(self, how: str) -> list[Line]:
        """Entries in force that came into the book in one way (``typed-late``), by position."""

    def fields(
        self, kind: type[Fact], names: Sequence[str], since: datetime | None = None, until: datetime | None = None
    ) -> list[Fields]:
        """Entries in force of one kind with some fields of their bodies, of event times in ``[since, until)``, by event time."""

    def named(self, kind: type[Fact], since: datetime | None = None, until: datetime | None = None) -> list[Named]:
        """Entries in force of one kind by their first subject, of event times in ``[since, until)``, by event time."""

    def named_by(self, person: str, since: datetime, until: datetime) -> list[Named]:
        """Entries in force of every kind that one person entered, of event times in ``[since, until)``, by event time."""

    def lines_about(self, subject: str) -> list[Line]:
        """Entries in force about a subject, undecoded, by event time, then position."""

    def verdicts(self, position: int) -> list[tuple[str, str]]:
        """Rule and verdict of each answer that a decision was signed on."""

    def kept(self, verdict: str, since: datetime | None = None) -> list[Kept]:
        """By rule the decisions in force, of event times from ``since``, that were signed on one verdict of it."""

    def corrections(self) -> list[Correction]:
        """Every correction and withdrawal, by position."""

    def entry(self, position: int) -> Recorded[Fact]:
        """The entry at a position; NotFound."""

    def seals(self, positions: Iterable[int]) -> list[Seal]:
        """Entries in the form that their hashes are taken over, by position; NotFound."""

    def offsets(self, positions: Iterable[int]) -> dict[int, int]:
        """The local offset in minutes at which each of some entries was made."""

    def is_superseded(self, position: int) -> bool:
        """Whether a later entry corrects or withdraws the one at ``position``."""

    def inspection(self, inspection: str) -> InspectionRow:
        """NotFound if the book holds no such inspection."""

    def inspections(
        self,
        *,
        work_order: str | None = None,
        part: str | None = None,
        disposition: str | None = None,
        suspended: bool | None = None,
        provisional: bool | None = None,
        verified: bool | None = None,
        procedure: str | None = None,
        procedure_revision: str | None = None,
        follows_another: bool | None = None,
    ) -> list[InspectionRow]:
        """In the order they were opened; of a work order, of a part, with one disposition (NO DECISION: the open ones), suspended ones;
        ``follows_another``: those that follow another record, as a re-inspection does."""

    def inspections_in(self, names: Iterable[str]) -> dict[str, InspectionRow]:
        """Those of some records that the book holds, by number."""

    def parts_in(self, names: Iterable[str]) -> dict[str, PartRow]:
        """Those of some parts that the book holds, by key."""

    def briefs(self, names: Iterable[str] | None = None) -> dict[str, Brief]:
        """Records by number, with what counts need of them: some, or all."""

    def pieces_inspected(self) -> list[tuple[str, str, int]]:
        """Part number, work order, pieces inspected: each part once, however many records it has."""

    def decided(self) -> list[str]:
        """The numbers of all records with a decision in force."""

    def records_of_orders(self) -> dict[str, int]:
        """How many records each work order has."""

    def signed(self, names: Iterable[str]) -> dict[str, Signed]:
        """Who signed the decision in force of some records, and the reading that an acceptance waits for."""

    def inspections_named(self, start: str, most: int = 50) -> list[InspectionRow]:
        """Records whose number begins with ``start``, by number, at most ``most``."""

    def part(self, part: str) -> PartRow:
        """NotFound if the book holds no such part."""

    def parts(self, work_order: str | None = None) -> list[PartRow]:
        """In the order they were listed."""

    def parts_by_serial(self, start: str, most: int = 50) -> list[PartRow]:
        """Pieces whose serial number begins with ``start``, by serial number, at most ``most``."""

    def uses(self, object_: str, after: datetime | None, until: datetime | None) -> list[UseRow]:
        """Uses of an object that overlap ``(after, until]``: ended later than ``after``
        (or not ended), started not later than ``until``; by start."""

    def use_total(self, object_: str, since: datetime, until: datetime) -> UseTotal:
        """How much an object was used by what began in ``[since, until)``; each record once."""

    def use_times(self, object_: str, since: datetime, until: datetime) -> list[UseTime]:
        """Uses of an object that began in ``[since, until)``, for sums; in no order."""

    def reliances(self, object_: str, after: datetime | None, until: datetime | None) -> list[Reliance]:
        """The same uses with their records, as a recall needs them; by start."""

    def head(self) -> Head:
        """The end of the chain as this transaction sees it."""


class Book(Protocol):
    """A record book: file or URL."""

    @property
    def book_id(self) -> str: ...

    def session(self, readonly: bool = False) -> AbstractContextManager[Session]:
        """A transaction; writers queue behind one another, readers wait for nobody."""


class QueueState(StrEnum):
    """What became of a paper that was sent to a queue, as far as the system says."""

    QUEUED = "queued"
    REFUSED = "refused"  # certainly not taken
    UNKNOWN = "unknown"  # it may come out or not: look at the printer before sending it again


@dataclass(frozen=True)
class QueueAnswer:
    """The system's answer; ``job`` is its own name for the job, ``detail`` its words or the way out, ``sha256`` of the paper."""

    state: QueueState
    job: str | None = None
    detail: str = ""
    sha256: str = ""


class Printer(Protocol):
    """The system's print queues."""

    def send(self, file: Path, queue: str) -> QueueAnswer: ...


class Secrets(Protocol):
    """Makes and compares what is kept of secrets; ``of`` says whose secret of which kind it is."""

    def verifier(self, secret: str, of: str) -> str:
        """What is kept of a secret: it fits this secret of this person and kind only."""

    def matches(self, secret: str, of: str, verifier: str | None) -> bool:
        """Whether a typed secret fits; None costs the same time and fits never."""

    def outdated(self, verifier: str) -> bool:
        """Whether a verifier was made with weaker parameters than today's."""

    def one_time_code(self) -> str:
        """A random code to be told to a person."""

    def pseudonym(self, name: str) -> str:
        """Stands for a name that the book does not know."""


SHRUNK_EDGE = 32  # pixels


@dataclass(frozen=True)
class Picture:
    """What a picture file says of itself; ``camera_time`` is the camera's own wall clock (no zone unless it wrote one)."""

    sha256: str
    size: int  # bytes
    media_type: str
    width: int  # pixels as stored
    height: int
    camera: str | None = None
    camera_time: str | None = None  # YYYY-MM-DDTHH:MM:SS
    camera_offset_min: int | None = None  # where the camera wrote its zone
    shrunk: bytes = b""  # the picture as stored in SHRUNK_EDGE x SHRUNK_EDGE grey levels, to know copies of it again


@dataclass(frozen=True)
class DrawnShape:
    """One thing drawn beside a photograph: arrow, circle, text or scale bar; points as shares of the picture shown upright."""

    shape: str
    points: tuple[tuple[float, float], ...]
    text: str = ""


class PhotoArchive(Protocol):
    """Original photographs, kept byte for byte under the SHA-256 of their content."""

    def examine(self, content: bytes, name: str) -> Picture:
        """What a file is; InputError (``name`` in it) for what is no whole picture that this program can read."""

    def keep(self, content: bytes) -> str:
        """Put bytes into the archive durably and say their SHA-256; StoreError, and then nothing is there."""

    def holds(self, sha256: str) -> bool:
        """Whether the file is there and is what its name says (looked at anew when the file changed)."""

    def original(self, sha256: str) -> bytes:
        """The bytes as they came, compared with their name; NotFound, StoreError when they are not what they were."""

    def annotated(self, sha256: str, shapes: Sequence[DrawnShape], edge: int | None) -> bytes:
        """An upright copy with shapes drawn in: JPEG of ``edge`` pixels at most, PNG at full size where it is None."""

    def thumbnail(self, sha256: str, edge: int) -> bytes:
        """A small upright JPEG, ``edge`` pixels at most, for screens; never evidence."""

    def region(self, sha256: str, box: tuple[float, float, float, float], size: tuple[int, int]) -> bytes:
        """A part of the upright picture (left, top, right, bottom as shares of 1) in so many pixels, as PPM, for screens."""

    def upright_size(self, sha256: str) -> tuple[int, int]:
        """Width and height of the picture shown upright, in pixels."""


@dataclass(frozen=True)
class KeptHead:
    """The end of the chain when a shift was closed."""

    head: Head
    at: datetime
    shift: str  # the line or booth


class HeadsFile(Protocol):
    """Heads of the book kept outside of it, one line each."""

    def keep(self, kept: KeptHead) -> None:
        """Append a line durably; StoreError when it could not be written."""
