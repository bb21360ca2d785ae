"""What a booth needs from outside the book: a printer, the folder where a camera leaves its files."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

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


@dataclass(frozen=True)
class Outside:
    """``print_tags`` draws and sends tags and says what became of them; ``photo_files`` lists new photographs, newest first."""

    print_tags: Callable[[Sequence[TagModel]], str] = _no_printer
    photo_files: Callable[[], Sequence[PhotoFile]] = _no_files
