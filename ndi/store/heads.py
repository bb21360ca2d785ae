"""Heads of a book kept outside of it: one line each time a shift is closed, and their proof against the chain.

A cut at the end of a book shows only against a head that lies elsewhere.  A
line is ``UTC position:16 characters line or booth``; the file is only ever
added to, and best copied to where nobody who can write the book can write.
"""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import bindparam, select

from ndi.domain.codec import utc_from_text, utc_text
from ndi.domain.errors import InputError, NotFound, StoreError
from ndi.services.ports import Head, KeptHead
from ndi.store.book import SqlBook
from ndi.store.host import flush_folder
from ndi.store.schema import entry

_LINE = re.compile(r"(\S+) ([1-9]\d{0,17}):([0-9a-f]{16})( (.*))?", re.ASCII)
_HASH_AT = select(entry.c.hash).where(entry.c.position == bindparam("at"))


@dataclass(frozen=True)
class HeadsCompared:
    """How many heads of a file are in the chain, and one line for each that is not."""

    held: int
    problems: tuple[str, ...]
    cut_line: bool = False  # the last line has no end: the program ended while it was written

    @property
    def ok(self) -> bool:
        return not self.problems

    @property
    def message(self) -> str:
        """What was proved, in one sentence or one for each head that is not in the chain."""
        cut = " The last line was cut off while it was written and is left out." if self.cut_line else ""
        if self.problems:
            return "\n".join(self.problems) + cut
        if not self.held:
            return "The heads file holds no head: nothing was proved by it." + cut
        return f"{self.held} kept head{'s are' if self.held > 1 else ' is'} in the chain.{cut}"


class FolderHeads:
    """A heads file on a disk of this machine."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def keep(self, kept: KeptHead) -> None:
        """Append a line and see it on disk; a line that was cut off before is ended first."""
        shift = "".join(character for character in kept.shift if character.isprintable())
        line = f"{utc_text(kept.at)} {kept.head} {shift}".rstrip() + "\n"
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            is_new = not self.path.exists()
            with self.path.open("ab+") as file:
                if file.tell() and not _ends_a_line(self.path):
                    line = "\n" + line
                file.write(line.encode())
                file.flush()
                os.fsync(file.fileno())
            if is_new:
                flush_folder(self.path.parent)
        except OSError as error:
            raise StoreError(
                f"the shift is closed and saved, but its head {kept.head} could not be added to {self.path} "
                f"({error.strerror}): write it down, and make room or rights there"
            ) from error


def _ends_a_line(path: Path) -> bool:
    with path.open("rb") as file:
        file.seek(-1, os.SEEK_END)
        return file.read(1) == b"\n"


def read_heads(path: Path) -> tuple[list[tuple[int, KeptHead]], bool]:
    """The heads of a file with their line numbers, and whether its last line was cut off; InputError names the line."""
    try:
        text = path.read_bytes().decode("utf-8", "replace")
    except FileNotFoundError:
        raise NotFound(f"there is no heads file {path}: name the file that was kept") from None
    except OSError as error:
        raise InputError(f"{path} cannot be read ({error.strerror})") from error
    *whole, rest = text.split("\n")
    return [(number, _kept(path, number, line)) for number, line in enumerate(whole, 1) if line.strip()], bool(rest)


def _kept(path: Path, number: int, line: str) -> KeptHead:
    match = _LINE.fullmatch(line.rstrip("\r"))
    try:
        if match is not None:
            return KeptHead(Head(int(match[2]), match[3]), utc_from_text(match[1]), match[5] or "")
    except ValueError:
        pass
    raise InputError(f"{path}, line {number}: is no kept head (UTC time, position:16 characters, line or booth)")


def compare_heads(book: SqlBook, path: Path) -> HeadsCompared:
    """Look up every head of a file in the chain; that the chain itself holds, ``verify`` says."""
    heads, is_cut = read_heads(path)
    problems = []
    with book.transaction(reading=True) as tx:
        for number, kept in heads:
            rows = tx.rows(_HASH_AT, {"at": kept.head.position})
            if rows and rows[0].hash.startswith(kept.head.hash):
                continue
            found = f"its hash begins with {rows[0].hash[:16]}" if rows else "the book ends before it"
            problems.append(
                f"Entry {kept.head.position}: {path.name}, line {number}, keeps the head {kept.head} of {utc_text(kept.at)}, "
                f"but {found}. Stop working on this book, keep a copy as it is, and compare it with the last backup."
            )
    return HeadsCompared(len(heads) - len(problems), tuple(problems), is_cut)
