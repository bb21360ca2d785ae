"""What can be chosen while no book is named: the practice copy, a book, a new book; in the light and in the dark booth.

Reads no book and imports none of the services: the choice is on the screen
before they are loaded.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ndi.gui.presenters.scene import KeyHint, Row, Rows, Said, Scene

Progress = Callable[[str], None]
Opening = Callable[[Progress], Any]
MOST_IN_THE_DARK = 8  # books with a key of their own


@dataclass(frozen=True)
class Ways:
    """How each choice is carried out, in the worker's thread; each is given a function that takes words about its progress.

    ``make`` gets the answers of the form by field and says where the new book
    lies; WrongAnswers says by field what is wrong with them.
    """

    practice: Opening
    open: Callable[[str, Progress], Any]
    make: Callable[[Mapping[str, str], Progress], str]
    recent: Callable[[], Sequence[str]]
    practice_folder: str

    def opening(self, book: str) -> Opening:
        """What opens one book."""
        return lambda said: self.open(book, said)


PRACTICE_LINES = (
    "One day of an invented shop, worked up to the moment before the rocker arms are shot. It is marked PRACTICE on every "
    "screen and paper; nothing in it counts for a real part, and no real tag is printed.",
)


# --- the form of a new book -----------------------------------------------------------------------


@dataclass(frozen=True)
class Asked:
    """One field; ``again`` names the field that it repeats."""

    name: str
    label: str
    value: str = ""
    hint: str = ""
    secret: bool = False
    again: str = ""


@dataclass(frozen=True)
class Group:
    """Fields that belong together, under one heading."""

    heading: str
    fields: tuple[Asked, ...]


DAY = "YYYY-MM-DD"


def new_book_form(folder: str) -> tuple[Group, ...]:
    """The answers a book begins with; its file is proposed in ``folder``."""
    return (
        Group(
            "The book",
            (
                Asked("file", "File of the book", str(Path(folder) / "shop.ndibook"), "on a disk of this machine"),
                Asked("shop", "Code of the shop", hint="as it stands on tags and records"),
                Asked("station", "Name of this station", hint="for example DESK or MT BOOTH"),
            ),
        ),
        Group("Administrator: enters people, inspects nothing", _person("administrator")),
        Group("Level III: adopts procedures", _person("level3")),
        Group(
            "Level 3 certificates of the Level III: one at least",
            (
                Asked("mt issued", "MT issued on", hint=DAY),
                Asked("mt expires", "MT expires on", hint=DAY),
                Asked("pt issued", "PT issued on", hint=DAY),
                Asked("pt expires", "PT expires on", hint=DAY),
            ),
        ),
        Group(
            "Vision of the Level III, where examined",
            (
                Asked("vision examined", "Examined on", hint=DAY),
                Asked("vision expires", "Counts until", hint=DAY),
            ),
        ),
    )


def _person(name: str) -> tuple[Asked, ...]:
    password = f"{name} password"
    return (
        Asked(name, "Code of the person"),
        Asked(password, "Password", hint="12 characters or more", secret=True),
        Asked(f"{password} again", "The same once more", secret=True, again=password),
    )


def repeated_wrongly(groups: Sequence[Group], values: Mapping[str, str]) -> dict[str, str]:
    """What is wrong with the fields that repeat another one, by field."""
    fields = [field for group in groups for field in group.fields if field.again]
    return {
        field.name: "the two are not the same: type both again"
        for field in fields
        if values.get(field.name, "") != values.get(field.again, "")
    }


def to_hand_over(groups: Sequence[Group], values: Mapping[str, str]) -> dict[str, str]:
    """The answers without the repetitions; blanks around them go, but not around a secret."""
    fields = [field for group in groups for field in group.fields if not field.again]
    return {field.name: values[field.name] if field.secret else values[field.name].strip() for field in fields}


# --- the dark choice ------------------------------------------------------------------------------


def dark_choice(ways: Ways, message: str = "") -> Scene:
    """The choice in the booth: 1 is the practice copy, 2 and on the books opened last."""
    rows = [Row("practice copy of the demonstration day", "nothing in it counts for a real part", key="1")]
    for number, book in enumerate(ways.recent()[:MOST_IN_THE_DARK], 2):
        rows.append(Row(Path(book).name if "://" not in book else book, book, key=str(number)))
    return Scene(
        "choice",
        "ndi: which book?",
        (
            Rows(tuple(rows)),
            Said("Another book, or a new one: close this window and call ndi open without --booth, in the light."),
        ),
        (KeyHint(f"1-{len(rows)}" if len(rows) > 1 else "1", "open"),),
        message=message,
        refused=bool(message),
    )


def dark_chosen(ways: Ways, key: str) -> Opening | None:
    """What a key of the dark choice opens."""
    if key == "1":
        return ways.practice
    books = ways.recent()[:MOST_IN_THE_DARK]
    number = int(key) - 2 if key.isdigit() else -1
    return ways.opening(books[number]) if 0 <= number < len(books) else None
