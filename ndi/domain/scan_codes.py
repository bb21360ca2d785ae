"""What a scanner reads off a badge, a lamp, a basket or a command sheet: ``word:name``, and nothing else.

The codes of tags are another thing (``ndi:``, see ``check_code``).
"""

from __future__ import annotations

from enum import StrEnum
from typing import NamedTuple

from ndi.domain.errors import InputError
from ndi.domain.vocabulary import Step


class ScanKind(StrEnum):
    """The word in front of the colon."""

    PERSON = "person"
    BADGE = "badge"
    LAMP = "lamp"
    METER = "meter"
    EQUIPMENT = "equipment"
    BASKET = "basket"
    PLACE = "place"
    PART = "part"
    ORDER = "order"
    COMMAND = "command"


LONGEST_NAME = 120

COMMANDS: dict[str, str] = {
    **{f"START {step.upper()}": f"first part into {step}" for step in Step},
    **{f"END {step.upper()}": f"last part out of {step}" for step in Step},
    "START VIEW": "the view begins under the lamps that were scanned",
    "END VIEW": "the view ends",
    "NOTHING SEEN": "every zone looked at, no indication",
    "BOOTH CLOSED": "curtain closed, dark adaptation begins",
    "SAMPLE DRAWN": "bath sample set to settle",
    "CHECK IN": "my shift begins here",
    "CHECK OUT": "my shift ends",
    "AS FOUND": "the next lamp reading is as-found",
    "AS LEFT": "the next lamp reading is as-left",
    "LOAD BASKET": "the parts scanned next go into the basket scanned last",
    "DESK": "this screen shows the desk; it gets bright",
    "CANCEL": "forget what was scanned since the last saved entry",
}


class Scanned(NamedTuple):
    """A code as it was read."""

    kind: ScanKind
    name: str


def scan_text(kind: ScanKind, name: str) -> str:
    """The text of a code; InputError if the name would not come back as it was."""
    if not name or name != name.strip() or not name.isprintable() or len(name) > LONGEST_NAME:
        raise InputError(
            f"{name!r} cannot be put into a code: 1 to {LONGEST_NAME} printable characters, no blanks at the ends"
        )
    if kind is ScanKind.COMMAND and name not in COMMANDS:
        raise InputError(f"{name!r} is no command; commands are {', '.join(COMMANDS)}")
    return f"{kind}:{name}"


def parse_scan(text: str) -> Scanned:
    """Kind and name of a scanned code; InputError says what was scanned and what to do."""
    word, colon, name = text.strip().partition(":")
    if not colon or word not in tuple(ScanKind) or not name:
        raise InputError(
            f"{text[:60]!r} is not a code of this shop (word:name, as on the code sheets); scan again or type the name"
        )
    kind = ScanKind(word)
    scan_text(kind, name)
    return Scanned(kind, name)
