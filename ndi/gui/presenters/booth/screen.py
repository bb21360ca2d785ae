"""What every booth screen is: it reads, shows parts, and says what a key means."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

from ndi.domain.scan_codes import Scanned
from ndi.gui.presenters.scene import KeyHint, Part, Point, Side
from ndi.services.ports import Session

if TYPE_CHECKING:
    from ndi.gui.presenters.booth.booth import Booth

DIGITS = frozenset("0123456789")
ENTER, UNDO, INDICATION, INTERRUPT, CALL, BACK, NOTHING = "enter", "-", "+", "*", "/", ".", "0"


class Screen:
    """One screen.  Keys are ``0``-``9 . + - * /`` and ``enter``; what a key means stays the same everywhere.

    ``enter`` says yes to what is proposed, ``0`` nothing found, ``1``-``9``
    choose, ``+`` an indication, ``-`` takes the last thing back, ``*``
    interrupts, ``/`` calls somebody, ``.`` goes back.  While a number is typed
    (:attr:`typing` is not None) digits and the point belong to it, and ``-``
    takes its last character back.
    """

    name: ClassVar[str]
    is_secret: ClassVar[bool] = False  # what is typed here is shown as dots and kept nowhere

    def __init__(self, booth: Booth) -> None:
        self.booth = booth
        self.typing: str | None = None

    # --- what a screen shows ---

    def load(self, session: Session) -> None:
        """Read what is shown; called when the screen opens and when the book has grown."""

    @property
    def is_waiting(self) -> bool:
        """Whether something may come that the book does not tell of, so that the screen is read anew each second."""
        return False

    def title(self) -> str:
        raise NotImplementedError

    def parts(self) -> tuple[Part | Side, ...]:
        raise NotImplementedError

    def keys(self) -> tuple[KeyHint, ...]:
        return ()

    # --- what keys and scans do ---

    def press(self, key: str) -> bool:
        """Act on a key; False when it means nothing here, then the booth looks whether it means something everywhere."""
        return False

    def entered(self, typed: str) -> None:
        """A number was typed and confirmed."""

    def text(self, text: str) -> bool:
        """Words that somebody typed on a keyboard; False when the screen asked for none."""
        return False

    def scanned(self, scanned: Scanned) -> bool:
        """Act on a code; False when the screen has no use for it."""
        return False

    def stroked(self, points: list[Point]) -> None:
        """A pointer drew on the outline, in millimetres of the part."""

    def held(self, path: str, seconds: float) -> None:
        """A picture of this screen was looked at for so long."""

    # --- what is kept over a power cut ---

    def keep(self) -> dict[str, Any]:
        """What brings this screen back, apart from :attr:`typing`; only texts, numbers, lists."""
        return {}

    def restore(self, kept: dict[str, Any]) -> None:
        """The reverse of :meth:`keep`."""


def number_key(key: str) -> int | None:
    """The choice that a digit key stands for."""
    return int(key) if key in DIGITS else None
