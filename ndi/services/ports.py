"""What the services need from the outside world, as protocols.

Nothing here says how: ``store`` keeps the book, ``bootstrap`` joins the two.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
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


class Correction(NamedTuple):
    """An entry that corrects or withdraws another, beside the one that it stands for."""

    old: Line
    new: Line


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

    def corrections(self) -> list[Correction]:
        """Every correction and withdrawal, by position."""

    def entry(self, position: int) -> Recorded[Fact]:
        """The entry at a position; NotFound."""

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
    ) -> list[InspectionRow]:
        """In the order they were opened; of a work order, of a part, with one disposition (NO DECISION: the open ones), suspended ones."""

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

    def thumbnail(self, sha256: str, edge: int) -> bytes:
        """A small upright JPEG, ``edge`` pixels at most, for screens; never evidence."""


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
