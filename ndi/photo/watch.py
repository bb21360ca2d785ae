"""A folder where a tethered camera or a card reader leaves pictures: which of them are there whole.

A file is offered when its size and time have stood still for a while; one that
was left alone since before it was first seen is offered at once.  So no file is
offered half written, and none is opened, moved or locked by looking.
"""

from __future__ import annotations

import os
import uuid
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from ndi.domain.errors import InputError

SUFFIXES = frozenset({".jpg", ".jpeg", ".png", ".tif", ".tiff", ".bmp", ".webp"})
MOST_FILES = 200  # of the newest; a person looks through no more
SETTLED_S = 1.0  # a camera that writes pauses for less; measured on no camera, common practice of hot folders
LEFT_ALONE_S = 5.0
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True)
class Arrived:
    """A whole picture file."""

    path: Path
    name: str
    changed: datetime
    size: int


@dataclass
class _Seen:
    state: tuple[int, int]  # size, time in nanoseconds
    since: float  # by the clock that only goes forward
    whole: bool


class WatchedFolder:
    """``steady`` only goes forward (seconds), ``wall`` is the time of the files (seconds since 1970)."""

    def __init__(self, folder: Path, steady: Callable[[], float], wall: Callable[[], float]) -> None:
        self.folder, self._steady, self._wall = folder, steady, wall
        self._seen: dict[str, _Seen] = {}
        self.arriving = 0  # files that were still being written when last looked

    def files(self) -> list[Arrived]:
        """The whole pictures, newest first; empty when the folder is not there."""
        found: list[Arrived] = []
        names: set[str] = set()
        self.arriving = 0
        try:
            with os.scandir(self.folder) as entries:
                for entry in entries:
                    if not _is_picture(entry):
                        continue
                    names.add(entry.name)
                    about = entry.stat()
                    if self._is_whole(entry.name, (about.st_size, about.st_mtime_ns), about.st_mtime):
                        changed = _EPOCH + timedelta(seconds=about.st_mtime)
                        found.append(Arrived(Path(entry.path), entry.name, changed, about.st_size))
                    else:
                        self.arriving += 1
        except OSError:
            return found  # the card was pulled out, or the folder is not there (yet)
        self._seen = {name: seen for name, seen in self._seen.items() if name in names}
        found.sort(key=lambda file: (file.changed, file.name), reverse=True)
        return found[:MOST_FILES]

    def _is_whole(self, name: str, state: tuple[int, int], changed: float) -> bool:
        now, seen = self._steady(), self._seen.get(name)
        if seen is None or seen.state != state:
            left_alone = seen is None and self._wall() - changed >= LEFT_ALONE_S
            seen = self._seen[name] = _Seen(state, now, left_alone)
        if now - seen.since >= SETTLED_S:
            seen.whole = True
        return seen.whole and state[0] > 0


def keep_in(folder: Path, stem: str, content: bytes, flush_folder: Callable[[Path], None]) -> Path:
    """Put a picture that was just taken into a folder, whole and durable before it has its name; never over another file."""
    unfinished = folder / f".{stem}-{uuid.uuid4().hex}.unfinished"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with unfinished.open("xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        number, path = 1, folder / f"{stem}.png"
        while path.exists():
            number, path = number + 1, folder / f"{stem}-{number + 1}.png"
        os.replace(unfinished, path)
        flush_folder(folder)
    except OSError as error:
        raise InputError(
            f"the picture could not be kept in {folder} ({error.strerror or error}): make room there or look after its rights, "
            "and take it again"
        ) from error
    finally:
        with suppress(OSError):
            unfinished.unlink(missing_ok=True)
    return path


def _is_picture(entry: os.DirEntry[str]) -> bool:
    if entry.name.startswith((".", "~")) or Path(entry.name).suffix.lower() not in SUFFIXES:
        return False
    try:
        return entry.is_file()
    except OSError:
        return False
