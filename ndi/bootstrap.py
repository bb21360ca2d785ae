"""The one place that joins services with the real store, clock, files and folders."""

from __future__ import annotations

import time
from datetime import UTC, datetime
from pathlib import Path

import ndi
from ndi import procedure_files
from ndi.domain.errors import InputError
from ndi.domain.procedure import Procedure
from ndi.services.ports import Book, Clock
from ndi.services.receiving import Document
from ndi.services.workplace import Workplace
from ndi.store import book as books
from ndi.store import verify as verification

_HERE = Path(ndi.__file__).resolve().parent


def data_folder(name: str) -> Path:
    """``procedures`` or ``demo``: beside the package in a clone, inside it when installed."""
    for place in (_HERE.parent / name, _HERE / f"_{name}"):
        if place.is_dir():
            return place
    raise InputError(f"the folder {name} did not come with this installation; install the package again")


def key_folder(book: Path) -> Path:
    """Where a station's signing key lies: beside the book, never inside it."""
    return book.with_name(book.stem + "-keys")


class SystemClock:
    """The clocks of this machine."""

    def now(self) -> datetime:
        return datetime.fromtimestamp(time.time(), UTC)

    def offset_min(self) -> int:
        offset = self.now().astimezone().utcoffset()
        return 0 if offset is None else int(offset.total_seconds()) // 60

    def boot_ms(self) -> int:
        clock = getattr(time, "CLOCK_BOOTTIME", None)
        return int((time.clock_gettime(clock) if clock is not None else time.monotonic()) * 1000)

    def boot_id(self) -> str:
        place = Path("/proc/sys/kernel/random/boot_id")
        return place.read_text().strip() if place.exists() else f"boot-{int(time.time() - time.monotonic())}"


def new_book(path: Path, *, shop: str, station: str, practice: bool, clock: Clock) -> Workplace:
    """Begin a record book and stand at its first station."""
    keys = key_folder(path)
    keys.mkdir(mode=0o700, exist_ok=True)
    book = books.create_book(path, shop=shop, practice=practice, station=station, key_folder=keys, clock=clock)
    return Workplace(book, clock, procedure_files.document_from_text, station, practice)


def open_book(path: Path, *, station: str | None = None, clock: Clock | None = None) -> Workplace:
    """Open a book at a station of it; the only station key beside the book is taken when none is named."""
    clock = clock or SystemClock()
    station = station or _only_station(path)
    book = books.open_book(path, station=station, key_folder=key_folder(path), clock=clock)
    return Workplace(book, clock, procedure_files.document_from_text, station, book.practice)


def _only_station(path: Path) -> str:
    found = sorted(key_folder(path).glob("*.key"))
    if len(found) != 1:
        raise InputError(f"{key_folder(path)} holds {len(found)} station keys: name the station with --station")
    return found[0].stem.partition("-")[2]


def library_documents(folder: Path) -> list[Document]:
    """The documents of a procedures folder, fully checked, on their way into a book."""
    library = procedure_files.load_library(folder)
    return [Document(d.kind, d.number, d.revision, d.method, d.content, d.sha256) for d in library.documents]


def load_procedures(folder: Path) -> tuple[Procedure, ...]:
    """The procedure revisions of a folder."""
    return tuple(procedure_files.load_library(folder).procedures)


def verify(book: Book, *, against: str | None = None, since: int | None = None) -> verification.Verified:
    """Check a book's chain; see :func:`ndi.store.verify.verify`."""
    assert isinstance(book, books.SqliteBook)
    return verification.verify(book, against=against, since=since)
