"""The bytes behind a picture that a screen offers: a file that a camera left, or one of the archive."""

from __future__ import annotations

from pathlib import Path

from ndi.domain.errors import InputError
from ndi.services import photographs
from ndi.services.workplace import Workplace

_ARCHIVED = "archive:"


def archived(sha256: str) -> str:
    """The path of a picture of the archive, as a scene names it."""
    return _ARCHIVED + sha256


def content_of(work: Workplace, path: str) -> bytes:
    """InputError for a file that cannot be read; NotFound and StoreError as the archive raises them."""
    if path.startswith(_ARCHIVED):
        return photographs.original(work, path.removeprefix(_ARCHIVED))
    file = Path(path)
    try:
        return file.read_bytes()
    except OSError as error:
        raise InputError(f"{file.name} cannot be read ({error.strerror}): copy it from the camera again") from error
