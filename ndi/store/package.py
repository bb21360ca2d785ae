"""A package of files on its way out: a new folder, or a new ZIP file where the name ends in ``.zip``.

It gets its name only when every file in it is whole and on disk; what is there
under that name already is never touched.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import zipfile
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import IO, Protocol

from ndi.domain.errors import InputError, StoreError
from ndi.store.host import flush_folder, publish

ZIP = ".zip"
MANIFEST = "manifest.json"
README = "README.txt"
ENTRIES = "entries.jsonl"


Tell = Callable[[str, int, int], object]  # how far it is: what, how many are done, of how many


def unheard(_what: str, _done: int, _of: int) -> None:
    """Nobody is told."""


@dataclass(frozen=True)
class Written:
    """A file of a package: its path in it, its size and SHA-256, and what it holds in words."""

    path: str
    bytes: int
    sha256: str
    holds: str = ""


class Package(Protocol):
    """Takes files one after the other; no more than a piece of one is ever in memory."""

    def add(self, path: str, pieces: Iterable[bytes], holds: str = "", *, packed: bool = True) -> Written:
        """Write one file; ``packed`` False for what cannot be made smaller, like photographs."""


class _Folder:
    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._made = {folder}

    def add(self, path: str, pieces: Iterable[bytes], holds: str = "", *, packed: bool = True) -> Written:
        place = self.folder / path
        place.parent.mkdir(parents=True, exist_ok=True)
        self._made.add(place.parent)
        with place.open("xb") as file:
            written = _copy(pieces, file, path, holds)
            file.flush()
            os.fsync(file.fileno())
        return written

    def flush(self) -> None:
        """Every name in it on disk, the deepest folders first."""
        for folder in sorted(self._made, key=lambda each: len(each.parts), reverse=True):
            flush_folder(folder)


class _ZipFile:
    def __init__(self, file: zipfile.ZipFile, made: datetime) -> None:
        self._file = file
        self._time = max((1980, 1, 1, 0, 0, 0), made.timetuple()[:6])  # a ZIP file knows no earlier one

    def add(self, path: str, pieces: Iterable[bytes], holds: str = "", *, packed: bool = True) -> Written:
        about = zipfile.ZipInfo(path, self._time)
        about.compress_type = zipfile.ZIP_DEFLATED if packed else zipfile.ZIP_STORED
        about.external_attr = 0o644 << 16
        with self._file.open(about, "w", force_zip64=True) as file:
            return _copy(pieces, file, path, holds)


def _copy(pieces: Iterable[bytes], file: IO[bytes], path: str, holds: str) -> Written:
    digest, size = hashlib.sha256(), 0
    for piece in pieces:
        file.write(piece)
        digest.update(piece)
        size += len(piece)
    return Written(path, size, digest.hexdigest(), holds)


@contextmanager
def new_package(target: Path, made: datetime) -> Iterator[Package]:
    """A package that appears as ``target`` when the block ends without an error; else nothing is left.

    InputError if the name is taken or the folder for it is missing; StoreError
    if it cannot be written.
    """
    if target.exists() or target.is_symlink():
        raise InputError(f"{target} is there already and is not overwritten: name another folder or file")
    if not target.parent.is_dir():
        raise InputError(f"the folder {target.parent} does not exist: make it first, or name another")
    unfinished = target.with_name(f".{target.name}-{os.getpid()}.unfinished")
    make = _in_zip if target.suffix.lower() == ZIP else _in_folder
    try:
        with make(unfinished, target, made) as package:
            yield package
    except OSError as error:
        raise StoreError(
            f"{target} cannot be written ({error.strerror or error}): make room or name another place; nothing was kept"
        ) from error


@contextmanager
def _in_folder(unfinished: Path, target: Path, made: datetime) -> Iterator[Package]:
    unfinished.mkdir()
    try:
        package = _Folder(unfinished)
        yield package
        package.flush()
        unfinished.rename(target)
        flush_folder(target.parent)
    finally:
        shutil.rmtree(unfinished, ignore_errors=True)


@contextmanager
def _in_zip(unfinished: Path, target: Path, made: datetime) -> Iterator[Package]:
    try:
        with unfinished.open("xb") as file:
            with zipfile.ZipFile(file, "w", allowZip64=True) as packed:
                yield _ZipFile(packed, made)
            file.flush()
            os.fsync(file.fileno())
        publish(unfinished, target)
    finally:
        unfinished.unlink(missing_ok=True)
