"""What a booth needs from outside the book: a printer, the folder where a camera leaves its files, a live camera."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from ndi.services.report_models import TagModel


@dataclass(frozen=True)
class PhotoFile:
    """A file that a camera left in the station's folder."""

    path: str
    name: str
    changed: datetime
    size: int


def _no_printer(_models: Sequence[TagModel]) -> str:
    return "no printer here: print the tag at the desk"


def _no_files() -> Sequence[PhotoFile]:
    return ()


class Live(Protocol):
    """A live camera, as the booth knows it."""

    @property
    def source(self) -> str: ...

    def look(self) -> bytes:
        """What it sees now, as a small picture; InputError when nothing comes."""

    def take(self) -> PhotoFile:
        """One frame, kept whole as a file of the station's folder; InputError when none comes."""


@dataclass(frozen=True)
class Outside:
    """``print_tags`` draws and sends tags and says what became of them; ``photo_files`` lists new photographs, newest first.

    ``arriving``: how many pictures were still being written then; ``live``: a camera, where one is named.
    """

    print_tags: Callable[[Sequence[TagModel]], str] = _no_printer
    photo_files: Callable[[], Sequence[PhotoFile]] = _no_files
    arriving: Callable[[], int] = int
    live: Live | None = None
