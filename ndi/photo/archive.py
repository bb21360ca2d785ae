"""The archive of original photographs: one immutable file each, named by the SHA-256 of its bytes.

A file gets its name only when it is whole and on disk, and the name is on disk
before anything speaks of it: temporary name in the same folder, write, flush,
rename, flush of the folder.  So the book may lack an entry for a file, which
does no harm, and never a file for an entry.  Small pictures lie apart; they
can be thrown away at any time.
"""

from __future__ import annotations

import hashlib
import os
import re
import uuid
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from ndi.domain.errors import InputError, NotFound, StoreError
from ndi.photo import drawn, pictures
from ndi.services.ports import DrawnShape, Picture

_NAME = re.compile(r"[0-9a-f]{64}", re.ASCII)
_UNFINISHED = ".unfinished"
READ_ONLY = 0o444


@dataclass(frozen=True)
class ArchiveCheck:
    """Every file of an archive, read again and compared with its name and with the names that a book gives."""

    whole: tuple[str, ...]  # named in the book and whole
    missing: tuple[str, ...]
    changed: tuple[str, ...]  # named in the book, there, and not what it was
    without_entry: tuple[str, ...]  # whole files that the book does not name: a program that ended before its entry
    unfinished: tuple[Path, ...]  # never got their name

    @property
    def ok(self) -> bool:
        return not self.missing and not self.changed


class FolderArchive:
    """Photographs in a folder; ``flush_folder`` makes its names durable as the system can."""

    def __init__(self, folder: Path, thumbnails: Path, flush_folder: Callable[[Path], None]) -> None:
        self.folder, self.thumbnails, self._flush_folder = folder, thumbnails, flush_folder
        self._seen_whole: dict[str, tuple[int, ...]] = {}
        self._held: tuple[str, pictures.PILImage] | None = None

    # --- what the services ask ----------------------------------------------------------------------

    def examine(self, content: bytes, name: str) -> Picture:
        return pictures.examine(content, name)

    def keep(self, content: bytes) -> str:
        """Put bytes into the archive durably and say their SHA-256; StoreError when they could not be kept."""
        sha256 = hashlib.sha256(content).hexdigest()
        place = self._place(sha256)
        try:
            if not self.holds(sha256):
                self._make_folder(place.parent)
                _write(content, place)
            # also for a file that was there: whoever put it may have ended before this
            self._flush_folder(place.parent)
        except OSError as error:
            raise StoreError(
                f"the photograph could not be kept in {self.folder} ({error.strerror or error}): make room there or look "
                "after its rights, and attach it again; nothing was attached"
            ) from error
        return sha256

    def holds(self, sha256: str) -> bool:
        """Whether the file is whole; its bytes are read again only when the system says that the file changed."""
        if not _NAME.fullmatch(sha256):
            return False
        place = self._place(sha256)
        try:
            found = place.stat()
            state = (found.st_size, found.st_mtime_ns, found.st_ctime_ns, found.st_ino)
            if self._seen_whole.get(sha256) == state:
                return True
            whole = _digest(place) == sha256
        except OSError:
            return False
        if whole:
            self._seen_whole[sha256] = state
        return whole

    def original(self, sha256: str) -> bytes:
        """The bytes as they came; NotFound, or StoreError when they are not what they were."""
        if not _NAME.fullmatch(sha256):
            raise InputError(f"{sha256!r} names no photograph: give the 64 characters of its hash")
        place = self._place(sha256)
        try:
            content = place.read_bytes()
        except FileNotFoundError:
            raise NotFound(
                f"the photograph {sha256[:16]} is not in {self.folder}: bring it back from a backup"
            ) from None
        except OSError as error:
            raise StoreError(
                f"{place} cannot be read ({error.strerror}): look after the disk and its rights"
            ) from error
        if hashlib.sha256(content).hexdigest() != sha256:
            raise StoreError(f"{place} is not what it was: bring it back from a backup; it is evidence no more")
        return content

    def annotated(self, sha256: str, shapes: Sequence[DrawnShape], edge: int | None) -> bytes:
        """An upright copy with shapes drawn in; made anew each time, since what is drawn changes."""
        return drawn.drawn(self.original(sha256), shapes, edge)

    def thumbnail(self, sha256: str, edge: int) -> bytes:
        """A small upright JPEG; kept apart, made anew when it is not there."""
        cached = self.thumbnails / sha256[:2] / f"{sha256}-{edge}.jpg"
        if _NAME.fullmatch(sha256):
            with suppress(OSError):
                return cached.read_bytes()
        made = pictures.small(self.original(sha256), edge)
        with suppress(OSError):  # a full disk costs time, not the picture
            cached.parent.mkdir(parents=True, exist_ok=True)
            unfinished = cached.with_name(f".{cached.name}-{uuid.uuid4().hex}{_UNFINISHED}")
            unfinished.write_bytes(made)
            os.replace(unfinished, cached)
        return made

    def region(self, sha256: str, box: tuple[float, float, float, float], size: tuple[int, int]) -> bytes:
        """A part of the upright picture in so many pixels, as PPM; the picture looked at last is kept decoded."""
        image = self._decoded(sha256)
        left, top, right, bottom = box
        whole = image.width, image.height
        edges = (left * whole[0], top * whole[1], right * whole[0], bottom * whole[1])
        return pictures.part(image, edges, size)

    def upright_size(self, sha256: str) -> tuple[int, int]:
        """Width and height of the picture shown upright, in pixels."""
        image = self._decoded(sha256)
        return image.width, image.height

    def _decoded(self, sha256: str) -> pictures.PILImage:
        held = self._held
        if held is None or held[0] != sha256:
            self._held = None  # before the next is decoded: one of a hundred megapixels is enough
            held = self._held = sha256, pictures.upright(self.original(sha256), "RGB")[0]
        return held[1]

    # --- looking after it ---------------------------------------------------------------------------

    def check(self, named: Iterable[str]) -> ArchiveCheck:
        """Read every file again, whatever was seen of it before."""
        wanted, there = set(named), set(self._names())
        broken = {sha256 for sha256 in there if not self._is_whole(sha256)}
        return ArchiveCheck(
            tuple(sorted((wanted & there) - broken)),
            tuple(sorted(wanted - there)),
            tuple(sorted(wanted & broken)),
            tuple(sorted(there - wanted - broken)),
            tuple(sorted(self._unfinished())),
        )

    def sweep(self, before: float) -> int:
        """Throw away what never got its name and was last written before a time (seconds since 1970); how many."""
        swept = 0
        for path in list(self._unfinished()):
            with suppress(OSError):
                if path.stat().st_mtime < before:
                    path.unlink()
                    swept += 1
        return swept

    def _is_whole(self, sha256: str) -> bool:
        try:
            return _digest(self._place(sha256)) == sha256
        except OSError:
            return False

    def _names(self) -> Iterator[str]:
        yield from (p.name for p in self.folder.glob("??/*") if _NAME.fullmatch(p.name) and p.parent.name == p.name[:2])

    def _unfinished(self) -> Iterator[Path]:
        yield from self.folder.glob(f"??/.*{_UNFINISHED}")

    def _place(self, sha256: str) -> Path:
        return self.folder / sha256[:2] / sha256

    def _make_folder(self, folder: Path) -> None:
        """Make a folder and those above it, each with its name on disk."""
        if folder.is_dir():
            return
        self._make_folder(folder.parent)
        folder.mkdir(exist_ok=True)
        self._flush_folder(folder.parent)


def read_file(path: Path) -> bytes:
    """The bytes of a file that somebody chose; InputError when it is none or far too large for a picture."""
    name = pictures.printable(str(path))
    try:
        if not path.is_file():
            raise InputError(f"{name} is no file: name the picture file")
        if path.stat().st_size > pictures.MOST_BYTES:
            raise InputError(
                f"{name} has more than {pictures.MOST_BYTES:,} bytes: save the picture smaller and attach that"
            )
        return path.read_bytes()
    except OSError as error:
        raise InputError(f"{name} cannot be read ({error.strerror}): copy it from the camera again") from error


def _write(content: bytes, place: Path) -> None:
    unfinished = place.with_name(f".{place.name}-{uuid.uuid4().hex}{_UNFINISHED}")
    try:
        with unfinished.open("xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        with suppress(FileNotFoundError):
            place.chmod(0o644)  # a file that is not what it was is replaced; Windows replaces no read-only file
        os.replace(unfinished, place)
        place.chmod(READ_ONLY)
    finally:
        unfinished.unlink(missing_ok=True)


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
