"""The one place that joins services with the real store, clock, files and folders."""

from __future__ import annotations

import os
import time
import warnings
from collections.abc import Sequence
from datetime import datetime, timedelta, timezone
from pathlib import Path
from urllib.parse import unquote

import ndi
from ndi import procedure_files
from ndi.domain.errors import InputError
from ndi.domain.image_facts import ImageFacts
from ndi.domain.procedure import Procedure
from ndi.machine_clock import MovedClock as MovedClock
from ndi.machine_clock import SystemClock as SystemClock
from ndi.photo import diconde, xmp
from ndi.photo.archive import ArchiveCheck, FolderArchive, read_file
from ndi.photo.camera import LiveCamera
from ndi.photo.reader import Reader
from ndi.photo.watch import WatchedFolder, keep_in
from ndi.printing import chart, code_sheet, paper, queue, record, scale_card_sheet, shift, tag, traveller
from ndi.services import order_pack, outage_paper, photographs, station_clock
from ndi.services.chart_models import Picture
from ndi.services.other_owners import OTHERS
from ndi.services.paper_blocks import PaperModel, Progress, unheard
from ndi.services.ports import Book, ChainCheck, Clock, Printer
from ndi.services.receiving import Document
from ndi.services.report_models import (
    CodeSheetModel,
    RecordModel,
    ScaleCardSheetModel,
    ShiftModel,
    TagModel,
    TravellerSheetModel,
)
from ndi.services.workplace import Workplace
from ndi.store import backup, export, heads, import_book, order_export, places
from ndi.store import book as books
from ndi.store import verify as verification
from ndi.store.heads import FolderHeads, HeadsCompared
from ndi.store.host import flush_folder
from ndi.store.secrets import load_secrets, make_secret_file

Where = Path | str  # a file of this machine, or the address of a database

_HERE = Path(ndi.__file__).resolve().parent


def data_folder(name: str) -> Path:
    """``procedures`` or ``demo``: beside the package in a clone, inside it when installed."""
    for place in (_HERE.parent / name, _HERE / f"_{name}"):
        if place.is_dir():
            return place
    raise InputError(f"the folder {name} did not come with this installation; install the package again")


def where(text: str) -> Where:
    """A book as it is named on the command line: a file, or the address of a database."""
    return text if places.is_url(text) else Path(text)


def key_folder(book: Where) -> Path:
    """Where a station's signing key lies: beside a book's file, never inside it.

    A book on a server has no place beside it: the folder that NDI_KEYS names, or ``.ndi-keys`` at home.
    """
    if isinstance(book, str):
        return _server_key_folder()
    return book.with_name(book.stem + "-keys")


def _server_key_folder() -> Path:
    return Path(os.environ.get("NDI_KEYS") or Path.home() / ".ndi-keys")


def new_book(
    place: Where, *, shop: str, station: str, practice: bool, clock: Clock, owner_url: str | None = None
) -> Workplace:
    """Begin a record book and stand at its first station; on a server ``owner_url``'s account is to own it."""
    keys = key_folder(place)
    keys.mkdir(mode=0o700, exist_ok=True)
    book = places.create_any(
        place, shop=shop, practice=practice, station=station, key_folder=keys, clock=clock, owner_url=owner_url
    )
    make_secret_file(keys, book.book_id)
    return _workplace(book, clock, station, practice, keys)


def open_book(place: Where, *, station: str | None = None, clock: Clock | None = None) -> Workplace:
    """Open a book at a station of it; the only station key in its key folder is taken when none is named."""
    station = station or _only_station(place)
    keys = key_folder(place)
    shown = clock or SystemClock()
    book = places.open_any(place, station=station, key_folder=keys, clock=shown)
    work = _workplace(book, shown, station, book.practice, keys)
    if clock is None:
        _compare_clocks(work, book)
    return work


def open_to_verify(place: Where) -> tuple[Workplace, bool]:
    """Open a book at any station whose key is here; without one for reading only, and then False goes along."""
    stations = _stations_here(place)
    if stations:
        return open_book(place, station=stations[0]), True
    clock = SystemClock()
    book = places.open_to_read(place, clock=clock)
    return _workplace(book, clock, "", book.practice, key_folder(place)), False


def _stations_here(place: Where) -> list[str]:
    return [unquote(path.stem.partition("-")[2]) for path in sorted(key_folder(place).glob("*.key"))]


def _workplace(book: books.SqlBook, clock: Clock, station: str, practice: bool, keys: Path) -> Workplace:
    secrets = load_secrets(keys, book.book_id)
    _opened.append(book)
    return Workplace(
        book,
        clock,
        procedure_files.document_from_text,
        station,
        practice,
        secrets=secrets,
        photographs=_archive(book),
        pictures=Reader(),
        heads=FolderHeads(heads_file(book)),
        check_chain=lambda: _check_chain(book),
    )


def _check_chain(book: books.SqlBook) -> ChainCheck:
    found = verification.verify(book, read_tables=False)
    problem = found.problem
    return ChainCheck(found.checked, problem.position if problem else None, found.message)


def heads_file(book: Book) -> Path:
    """Where the heads of closed shifts are kept: beside a book's file, or among the keys of a book on a server."""
    if isinstance(book, books.SqliteBook):
        return book.path.with_name(book.path.name + ".heads")
    return _server_key_folder() / f"{book.book_id}.heads"


def _compare_clocks(work: Workplace, book: books.SqlBook) -> None:
    """A server's time is the second clock of every station (law 5): said when they differ, refused when far apart."""
    if isinstance(book, books.SqliteBook):
        return
    from ndi.store.postgres import PostgresBook, clock_offset

    assert isinstance(book, PostgresBook)
    work.clock_offset = lambda: clock_offset(book)
    warning = station_clock.clock_warning(clock_offset(book))
    if warning:
        warnings.warn(warning, stacklevel=3)


def _only_station(place: Where) -> str:
    found = _stations_here(place)
    if len(found) != 1:
        raise InputError(f"{key_folder(place)} holds {len(found)} station keys: name the station with --station")
    return found[0]


def close(book: Book) -> None:
    """Let go of a book's database; it can be opened again."""
    assert isinstance(book, books.SqlBook)
    book.close()


_opened: list[books.SqlBook] = []


def close_all() -> None:
    """Let go of every book that this program opened; the command line does so at its end."""
    while _opened:
        _opened.pop().close()


def library_documents(folder: Path) -> list[Document]:
    """The documents of a procedures folder, fully checked, on their way into a book."""
    library = procedure_files.load_library(folder)
    return [Document(d.kind, d.number, d.revision, d.method, d.content, d.sha256) for d in library.documents]


def load_procedures(folder: Path) -> tuple[Procedure, ...]:
    """The procedure revisions of a folder."""
    return tuple(procedure_files.load_library(folder).procedures)


def verify(book: Book, *, against: str | None = None, since: int | None = None) -> verification.Verified:
    """Check a book's chain; see :func:`ndi.store.verify.verify`."""
    assert isinstance(book, books.SqlBook)
    return verification.verify(book, against=against, since=since)


# --- new files, papers, copies ----------------------------------------------------------------------


def template(kind: str) -> str:
    """A commented procedure, technique or part file to begin from."""
    return procedure_files.template(kind)


def check_part(text: str, file: str) -> object:
    """Read a part master that was just made; ProcedureFileError says what is wrong with it."""
    return procedure_files.load_part(text, file)


def code_sheet_pdf(model: CodeSheetModel, work: Workplace) -> bytes:
    """A sheet of codes as a PDF, dated by the station's clock."""
    return code_sheet.code_sheet_pdf(model, created=work.now().local)


CARD_PAPERS = tuple(scale_card_sheet.PAPERS)


def scale_card_pdf(model: ScaleCardSheetModel, work: Workplace, paper_name: str = "A4") -> bytes:
    """Sheets of scale cards as a PDF of true size, dated by the station's clock."""
    return scale_card_sheet.scale_card_pdf(model, created=work.now().local, paper=paper_name)


def traveller_pdf(model: TravellerSheetModel, work: Workplace) -> bytes:
    """Traveller lines as a PDF, dated by the station's clock."""
    return traveller.traveller_pdf(model, created=work.now().local)


def tags_pdf(models: Sequence[TagModel], work: Workplace, *, two_up: str | None = None) -> bytes:
    """Tags as a PDF, a page each or two on every sheet (``A4``, ``Letter``), dated by the station's clock."""
    created = work.now().local
    return (
        tag.tags_pdf(models, created=created)
        if two_up is None
        else tag.tags_two_up_pdf(models, sheet=two_up, created=created)
    )


def record_pdf(model: RecordModel, work: Workplace) -> bytes:
    """An inspection record as a PDF, dated by the station's clock."""
    return record.record_pdf(model, created=work.now().local)


def shift_pdf(model: ShiftModel, work: Workplace) -> bytes:
    """A shift sheet as a PDF, dated by the station's clock."""
    return shift.shift_pdf(model, created=work.now().local)


def paper_pdf(model: PaperModel, work: Workplace, progress: Progress = unheard) -> bytes:
    """A report as a PDF/A, dated by the station's clock."""
    return paper.paper_pdf(model, created=work.now().local, progress=progress)


def chart_png(picture: Picture, width: int, height: int, dpi: float) -> bytes:
    """A chart as a PNG of that many pixels; any thread may draw."""
    return chart.chart_png(picture, width, height, dpi)


def check_paper_name(path: Path) -> None:
    """InputError for a file that a paper is not written to: said before the work of drawing it."""
    if path.suffix.lower() != ".pdf":
        raise InputError(f"{path} does not end in .pdf: papers are written as PDF")


def write_paper(path: Path, content: bytes) -> None:
    """Write a PDF; only under a name that says that it is one, so that nothing else is written over."""
    check_paper_name(path)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    except OSError as error:
        raise InputError(f"{path} cannot be written ({error.strerror}): name another file") from error


def write_new(path: Path, content: bytes) -> None:
    """Write a list that was asked for; never over a file that is there."""
    write_photograph(path, content)


def system_printer() -> Printer:
    """The print queues of this machine."""
    return queue.SystemPrinter()


def photo_folder(book: Path) -> Path:
    """Where a book's photographs lie: beside it."""
    return book.with_name(backup.photo_folder_name(book))


def _archive(book: books.SqlBook) -> FolderArchive:
    """The photographs of a book: beside its file; of a book on a server in the folder that NDI_PHOTOGRAPHS names.

    Stations of a server's book name one folder that all of them reach, or miss each other's photographs.
    """
    if isinstance(book, books.SqliteBook):
        folder = photo_folder(book.path)
        return FolderArchive(folder, folder.with_name(f"{book.path.stem}-thumbnails"), flush_folder)
    folder = _server_photo_folder(book.book_id)
    return FolderArchive(folder, folder.with_name(f"{book.book_id}-thumbnails"), flush_folder)


def _server_photo_folder(book_id: str) -> Path:
    return Path(os.environ.get("NDI_PHOTOGRAPHS") or Path.home() / ".ndi-photographs") / book_id


def read_photograph(path: Path) -> bytes:
    """The bytes of a file that somebody chose as a photograph; InputError."""
    return read_file(path)


def watched_folder(folder: Path) -> WatchedFolder:
    """A folder where a camera leaves pictures, asked by the clocks of this machine."""
    return WatchedFolder(folder, time.monotonic, time.time)


def live_camera(source: str, name: str, clock: SystemClock) -> LiveCamera:
    """A camera, stream or video file; its pictures say that ``name`` took them, at the station's time."""
    return LiveCamera(source, name, lambda: clock.now().astimezone(timezone(timedelta(minutes=clock.offset_min()))))


def keep_frame(folder: Path, content: bytes, at: datetime) -> Path:
    """A frame of a live camera as a file of the folder where cameras leave their pictures; InputError."""
    return keep_in(folder, f"frame-{at:%Y%m%d-%H%M%S}-{at.microsecond // 1000:03d}", content, flush_folder)


def check_photographs(work: Workplace) -> ArchiveCheck:
    """Every photograph of a book read again and compared with its hash."""
    assert isinstance(work.photographs, FolderArchive)
    with work.book.session(readonly=True) as session:
        named = [recorded.fact.sha256 for recorded in photographs.archived(session)]
        named += outage_paper.pictures(session)
    return work.photographs.check(named)


def sweep_photographs(work: Workplace) -> int:
    """Throw away files that never got their name and were last written more than a day ago; how many."""
    assert isinstance(work.photographs, FolderArchive)
    return work.photographs.sweep(time.time() - 24 * 3600)


def photograph_copy(
    content: bytes, facts: ImageFacts, media_type: str, ending: str, *, drawn_in: bool = False
) -> bytes:
    """A copy of a photograph with its record facts, as the ending says: ``.dcm``, ``.jpg`` or ``.png``; InputError for others."""
    if ending == ".dcm":
        return diconde.diconde(content, facts, media_type)
    form = {".jpg": "JPEG", ".jpeg": "JPEG", ".png": "PNG"}.get(ending)
    if form is None:
        raise InputError(f"{ending or 'no ending'}: copies are written as .dcm (DICONDE), .jpg or .png (XMP)")
    return xmp.with_xmp(content, facts, "image/png" if drawn_in else media_type, form)


def write_photograph(path: Path, content: bytes) -> None:
    """Write a copy of a photograph; never over a file that is there."""
    try:
        with path.open("xb") as file:
            file.write(content)
    except FileExistsError:
        raise InputError(f"{path} is there already and is not overwritten: name another file") from None
    except OSError as error:
        raise InputError(f"{path} cannot be written ({error.strerror}): name another file") from error


def compare_heads(book: Book, path: Path) -> HeadsCompared:
    """Look up every head of a kept file in the chain; see :func:`ndi.store.heads.compare_heads`."""
    assert isinstance(book, books.SqlBook)
    return heads.compare_heads(book, path)


def back_up(
    work: Workplace, destination: Path, *, photographs: Path | None = None, whole_chain: bool = False
) -> backup.Copy:
    """Copy the book and its photographs; see :func:`ndi.store.backup.back_up`."""
    if not isinstance(work.book, books.SqliteBook):
        raise InputError(
            "this book is in a database server: it is copied with the server's own tool (pg_dump), see DEVELOPERS.md"
        )
    return backup.back_up(work.book, destination, photographs or photo_folder(work.book.path), whole_chain=whole_chain)


def restore(source: Path, book: Path, *, against: str | None = None) -> backup.Copy:
    """Make a book from a copy; see :func:`ndi.store.backup.restore`."""
    return backup.restore(source, book, clock=SystemClock(), against=against)


def copy_keys(source: Path, target: Path) -> int:
    """Copy every file of a key folder, readable by its owner only; how many."""
    return backup.copy_keys(source, target)


def export_book(work: Workplace, target: Path, tell: Progress = unheard) -> export.Exported:
    """Write the whole book out in the open format; see :func:`ndi.store.export.export_book`."""
    assert isinstance(work.book, books.SqlBook)
    return export.export_book(work.book, target, work.photographs, tell)


def export_order(
    work: Workplace, target: Path, work_order: str, tell: Progress = unheard
) -> order_export.OrderExported:
    """Write the pack of one work order; see :func:`ndi.store.order_export.export_order`."""
    assert isinstance(work.book, books.SqlBook)
    pack = order_pack.order_pack(work, work_order)
    contents = order_export.OrderContents(
        pack.work_order,
        pack.head,
        len(pack.records),
        pack.positions,
        pack.photographs,
        pack.table,
        pack.others.without,
        OTHERS,
    )
    papers = (
        (order_pack.paper_name(name), record_pdf(order_pack.record_of(work, pack, name), work)) for name in pack.records
    )
    return order_export.export_order(work.book, target, contents, papers, work.photographs, tell)


def import_whole_book(
    source: Path, place: Where, *, owner_url: str | None = None, against: str | None = None, tell: Progress = unheard
) -> import_book.Imported:
    """Make a book from an export; see :func:`ndi.store.import_book.import_book`."""
    photographs = import_book.Photographs(
        lambda book_id: _server_photo_folder(book_id) if isinstance(place, str) else photo_folder(place),
        lambda folder: FolderArchive(folder, folder.with_name(f"{folder.name}-thumbnails"), flush_folder),
    )
    return import_book.import_book(
        source, place, clock=SystemClock(), photographs=photographs, owner_url=owner_url, against=against, tell=tell
    )


def missing_keys(place: Where, book_id: str, stations: Sequence[str]) -> list[str]:
    """What a book needs beside it and has not: stations' keys and its secret file, each with what is not possible without."""
    keys = key_folder(place)
    here = set(_stations_here(place))
    found = [
        f"key of station {name}: that station cannot write until its key lies in {keys}"
        for name in stations
        if name not in here
    ]
    if load_secrets(keys, book_id) is None:
        found.append(f"secret file of the book: nobody can sign until it lies in {keys}")
    return found
