"""The bytes behind a picture that a screen offers: a file that a camera left, or one of the archive with what is drawn beside it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from ndi.domain.errors import InputError
from ndi.services import photographs
from ndi.services.annotating import layer_of
from ndi.services.workplace import Workplace

if TYPE_CHECKING:
    from ndi.gui.presenters.booth.booth import Booth

_ARCHIVED = "archive:"
LIVE = "live:"
_SHOWN_EDGE = 1600  # pixels; a screen shows no more


def content_for(booth: Booth, path: str) -> bytes:
    """As :func:`content_of`, and of the live camera what it sees now."""
    if path == LIVE:
        if booth.outside.live is None:
            raise InputError("no camera is named here: open the window with --camera")
        return booth.outside.live.look()
    return content_of(booth.work, path)


def archived(sha256: str) -> str:
    """The path of a picture of the archive, as a scene names it."""
    return _ARCHIVED + sha256


def content_of(work: Workplace, path: str) -> bytes:
    """InputError for a file that cannot be read; NotFound and StoreError as the archive raises them."""
    if path.startswith(_ARCHIVED):
        sha256 = path.removeprefix(_ARCHIVED)
        with work.look() as session:
            shapes = layer_of(session, sha256).shapes
        if shapes:
            return photographs.archive_of(work).annotated(sha256, shapes, _SHOWN_EDGE)
        return photographs.original(work, sha256)
    file = Path(path)
    try:
        return file.read_bytes()
    except OSError as error:
        raise InputError(f"{file.name} cannot be read ({error.strerror}): copy it from the camera again") from error
