"""One file as text and as TOML values; every refusal names file, line and key."""

from __future__ import annotations

import re
import stat
import tomllib
import unicodedata
from collections.abc import Iterable
from difflib import get_close_matches
from functools import cached_property
from pathlib import Path

from ndi.domain.errors import ProcedureFileError
from ndi.procedure_files.lines import KeyPath, key_lines, line_of

LARGEST_FILE = 1_000_000  # bytes; the longest hand-kept procedure has a fiftieth of it

_PLACE = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)\Z")


def read_text(path: Path, name: str) -> tuple[str, bytes]:
    """The text of a file and its bytes; never more of it than the largest lawful file is read."""
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode):
            raise ProcedureFileError(name, None, None, "is not a file; remove it or rename it")
        if status.st_size > LARGEST_FILE:
            raise _too_large(name, status.st_size)
        with path.open("rb") as stream:
            content = stream.read(LARGEST_FILE + 1)
    except OSError as error:
        raise ProcedureFileError(
            name, None, None, f"cannot be read ({error.strerror}); look at its permissions"
        ) from error
    if len(content) > LARGEST_FILE:  # it grew between the two looks
        raise _too_large(name, len(content))
    try:
        return content.decode("utf-8"), content
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        problem = f"byte {content[error.start]:#04x} is not UTF-8 text; save the file as UTF-8"
        raise ProcedureFileError(name, line, None, problem) from error


def nearest(word: str, known: Iterable[str]) -> str:
    """``; did you mean ...?`` or nothing."""
    close = get_close_matches(word, list(known), n=1, cutoff=0.6)
    return f"; did you mean {close[0]}?" if close else ""


def key_text(path: KeyPath) -> str:
    """A path for reading: ``shots[2].amps`` is the amps of the second shot."""
    text = ""
    for step in path:
        if isinstance(step, int):
            text += f"[{step + 1}]"
        else:
            text += f".{step}" if text else step
    return text


class Source:
    """One document: its name for messages, its text, its values."""

    def __init__(self, text: str, file: str) -> None:
        self.file = file
        self._text = text
        if len(text) > LARGEST_FILE or len(text.encode("utf-8", "surrogatepass")) > LARGEST_FILE:
            raise _too_large(file, len(text))
        self.values = self._parsed()

    def refusal(self, path: KeyPath, problem: str) -> ProcedureFileError:
        """The error to raise for what stands (or is missing) at ``path``."""
        return ProcedureFileError(self.file, line_of(self._lines, path), key_text(path) or None, problem)

    @cached_property
    def _lines(self) -> dict[KeyPath, int]:
        return key_lines(self._text)

    def _parsed(self) -> dict[str, object]:
        if self._text.startswith("\ufeff"):
            raise ProcedureFileError(
                self.file, 1, None, "starts with a byte order mark; save the file as UTF-8 without it"
            )
        self._check_letters()
        try:
            return tomllib.loads(self._text)
        except RecursionError as error:
            raise ProcedureFileError(self.file, None, None, "brackets are nested too deeply to be read") from error
        except ValueError as error:  # TOMLDecodeError, and integers of thousands of digits
            raise self._syntax(str(error)) from error

    def _check_letters(self) -> None:
        """The book keeps text in NFC; a file in another form would not keep its hash."""
        if unicodedata.is_normalized("NFC", self._text):
            return
        lines = self._text.split("\n")
        line = next((number for number, row in enumerate(lines, 1) if not unicodedata.is_normalized("NFC", row)), 1)
        raise ProcedureFileError(
            self.file, line, None, "holds letters written in two parts (not NFC); type the accented letter again"
        )

    def _syntax(self, message: str) -> ProcedureFileError:
        place = _PLACE.search(message)
        line = None
        if place:
            message = message[: place.start()]
            line = int(place[1]) if place[1] else len(self._text.splitlines()) or 1
        return ProcedureFileError(self.file, line, None, f"is not TOML here: {message}; look at quotes and brackets")


def _too_large(file: str, size: int) -> ProcedureFileError:
    return ProcedureFileError(
        file, None, None, f"is {size} bytes long, the most is {LARGEST_FILE}; this is no procedure, technique or part"
    )
