"""Keys of a sealed keypad, of pedals and of a scanner that types like a keyboard.

A scanner's codes begin with a letter, so a letter begins a scan and ``Return``
ends it; digits alone are keys.
"""

from __future__ import annotations

from collections.abc import Callable

# keysym -> key; the second names are what the keypad sends while Num Lock is off
KEYS: dict[str, str] = {
    **{str(n): str(n) for n in range(10)},
    **{f"KP_{n}": str(n) for n in range(10)},
    **dict(
        zip(
            (
                "KP_Insert",
                "KP_End",
                "KP_Down",
                "KP_Next",
                "KP_Left",
                "KP_Begin",
                "KP_Right",
                "KP_Home",
                "KP_Up",
                "KP_Prior",
            ),
            "0123456789",
            strict=True,
        )
    ),
    "KP_Decimal": ".",
    "KP_Delete": ".",
    "KP_Separator": ".",
    "period": ".",
    "comma": ".",
    "KP_Add": "+",
    "plus": "+",
    "KP_Subtract": "-",
    "minus": "-",
    "BackSpace": "-",
    "KP_Multiply": "*",
    "asterisk": "*",
    "KP_Divide": "/",
    "slash": "/",
    "KP_Enter": "enter",
    "Return": "enter",
    "F13": "enter",  # left pedal: mark the time, next
    "F14": "photo",  # right pedal: a picture is taken, where pictures are
    "Pause": "*",
    "Up": "8",
    "Down": "2",
    "Left": "4",
    "Right": "6",
}
LONGEST_SCAN = 200


class Keypad:
    """Sorts key presses into keys and scans.  ``typed`` tells what a scan or a typed text has so far."""

    def __init__(
        self, pressed: Callable[[str], None], scanned: Callable[[str], None], typed: Callable[[str], None]
    ) -> None:
        self._pressed, self._scanned, self._typed = pressed, scanned, typed
        self._text = ""

    def key(self, keysym: str, char: str) -> None:
        """One key event of the window."""
        if self._text:
            self._in_scan(keysym, char)
        elif char.isalpha() and char.isascii():
            self._take(char)
        elif keysym in KEYS:
            self._pressed(KEYS[keysym])

    def _in_scan(self, keysym: str, char: str) -> None:
        if keysym in ("Return", "KP_Enter"):
            text, self._text = self._text, ""
            self._typed("")
            self._scanned(text)
        elif keysym == "Escape":
            self._text = ""
            self._typed("")
        elif keysym == "BackSpace":
            self._text = self._text[:-1]
            self._typed(self._text)
        elif char and char.isprintable() and len(self._text) < LONGEST_SCAN:
            self._take(char)

    def _take(self, char: str) -> None:
        self._text += char
        self._typed(self._text)
