"""A package that came from outside: its files by name, read in pieces, never more of one than was said.

Nothing is unpacked: names in it are compared, never followed.
"""

from __future__ import annotations

import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path, PurePosixPath
from struct import error as StructError
from typing import IO, Protocol

from ndi.domain.errors import ExportError, NotFound

_PIECE = 1 << 16
_BROKEN = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError, StructError)
_BROKEN_TEXT = "is damaged, or is no ZIP file that can be read here: bring it again from where it was made"


class Source(Protocol):
    """A folder or a ZIP file."""

    name: str

    def sizes(self) -> dict[str, int]:
        """Every file by its path, with the size that it says it has."""

    def open(self, path: str) -> IO[bytes]:
        """Open one of these files."""


class _Folder:
    def __init__(self, folder: Path) -> None:
        self._folder, self.name = folder, str(folder)
        self._open: list[IO[bytes]] = []

    def sizes(self) -> dict[str, int]:
        found = {}
        for path in sorted(self._folder.rglob("*")):
            inside = path.relative_to(self._folder)
            if path.is_symlink():
                raise ExportError(self.name, str(inside), None, "is a link: an export holds plain files")
            if path.is_file() and not inside.parts[0].startswith("."):  # a system puts files of its own into a folder
                found[inside.as_posix()] = path.stat().st_size
        return found

    def open(self, path: str) -> IO[bytes]:
        file = (self._folder / path).open("rb")
        self._open = [*(each for each in self._open if not each.closed), file]
        return file

    def close(self) -> None:
        """Close what somebody stopped reading in the middle."""
        for each in self._open:
            each.close()


class _Packed:
    def __init__(self, name: str, file: zipfile.ZipFile) -> None:
        self.name, self._file = name, file

    def sizes(self) -> dict[str, int]:
        found: dict[str, int] = {}
        for about in self._file.infolist():
            if about.is_dir():
                continue
            self._check_name(about.filename)
            if about.filename in found:
                raise ExportError(self.name, about.filename, None, "is there twice: which of them counts nobody knows")
            if about.flag_bits & 1:
                raise ExportError(self.name, about.filename, None, "is encrypted: an export is not")
            found[about.filename] = about.file_size
        return found

    def _check_name(self, name: str) -> None:
        parts = PurePosixPath(name)
        if not name.isprintable() or "\\" in name or ":" in name or parts.is_absolute() or ".." in parts.parts:
            raise ExportError(self.name, name, None, "points outside of the export: it was not made by this program")

    def open(self, path: str) -> IO[bytes]:
        return self._file.open(path)


@contextmanager
def opened(path: Path) -> Iterator[Source]:
    """Open an export for reading; NotFound, or ExportError for what is no folder and no ZIP file."""
    if not path.exists():
        raise NotFound(f"there is no export {path}: name the folder or ZIP file that `ndi export` wrote")
    if path.is_dir():
        folder = _Folder(path)
        try:
            yield folder
        finally:
            folder.close()
        return
    with _readable(str(path)):
        raw = path.open("rb")
    with raw:  # closed by itself: whoever stopped reading a file in it left that one open
        with _readable(str(path)):
            file = zipfile.ZipFile(raw)
        with file:
            yield _Packed(str(path), file)


@contextmanager
def _readable(name: str, path: str | None = None) -> Iterator[None]:
    """Whatever a damaged file makes the readers raise comes out as one ExportError."""
    try:
        yield
    except OSError as error:
        raise ExportError(name, path, None, f"cannot be read ({error.strerror or 'not readable'})") from error
    except _BROKEN as error:
        raise ExportError(name, path, None, _BROKEN_TEXT) from error


def pieces(source: Source, path: str, size: int) -> Iterator[bytes]:
    """The bytes of a file that is ``size`` long; ExportError as soon as it is longer, or when it ends before."""
    left = size
    with _readable(source.name, path):
        file = source.open(path)
    with file:
        while left >= 0:
            with _readable(source.name, path):
                piece = file.read(min(_PIECE, left + 1))
            if not piece:
                break
            left -= len(piece)
            if left >= 0:
                yield piece
    if left:
        raise ExportError(source.name, path, None, f"does not have the {size} bytes that were written")


def lines(source: Source, path: str, size: int, longest: int) -> Iterator[tuple[int, bytes]]:
    """The lines of a text file with their numbers, line ends left off; at most ``longest`` bytes in each."""
    number, rest = 0, bytearray()
    for piece in pieces(source, path, size):
        first, *others = piece.split(b"\n")
        rest += first  # grown in place: a line of many pieces is not copied with each of them
        for following in others:
            number += 1
            yield number, bytes(rest)
            rest = bytearray(following)
        if len(rest) > longest:
            raise ExportError(source.name, path, number + 1, f"is longer than {longest} bytes: no entry is")
    if rest:
        raise ExportError(source.name, path, number + 1, "was cut off: the last line has no end")
