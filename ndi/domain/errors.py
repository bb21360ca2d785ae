"""The errors this project raises.

    NdiError
    ├── NotPermitted        a use case refused; carries the answers that refused it
    ├── InputError          a value, file or argument is wrong
    │   ├── UnitMismatch
    │   ├── WrongAnswers        a form: what is wrong, by field
    │   ├── DayFileError        file, line, column
    │   ├── ProcedureFileError  file, line, key
    │   └── ExportError         an exported book: export, file, line
    └── StoreError
        ├── NotFound
        ├── VersionConflict
        └── ReadOnly

Each message says what was found, what was allowed and a way out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ndi.domain.answer import Answer


class NdiError(Exception):
    """Base of every error a person may meet."""


class NotPermitted(NdiError, PermissionError):
    """A use case was refused.

    ``answers`` holds the answers that refuse it, so that screen, terminal and
    journal can show rule, found, limit, facts and ways out without parsing text.
    """

    def __init__(self, message: str, answers: Sequence[Answer] = ()) -> None:
        super().__init__(message)
        self.message = message
        self.answers = tuple(answers)

    def __str__(self) -> str:
        return self.message


class InputError(NdiError, ValueError):
    """Something that was typed or read from a file cannot be used; TypeError for one that says nothing."""

    def __init__(self, message: str) -> None:
        if not isinstance(message, str) or not message.strip():
            raise TypeError("an error for a person needs words: what was found, what is allowed, a way out")
        super().__init__(message)


def _one_line(text: str) -> str:
    """What was found in a file may hold line breaks and control characters; a message holds none."""
    return "".join(
        character if character.isprintable() else "\N{REPLACEMENT CHARACTER}" for character in " ".join(text.split())
    )


class UnitMismatch(InputError):
    """Two values of different dimensions met."""


class WrongAnswers(InputError):
    """A form cannot be used: ``problems`` says by the name of the field what is wrong there."""

    def __init__(self, problems: Mapping[str, str]) -> None:
        super().__init__("; ".join(problems.values()))
        self.problems = dict(problems)


class DayFileError(InputError):
    """A file of a day cannot be read: names file, line and column."""

    def __init__(self, file: str, line: int | None, column: str | None, problem: str) -> None:
        where = file
        if line is not None:
            where += f", line {line}"
        if column is not None:
            where += f", column {column}"
        problem = _one_line(problem)
        super().__init__(_one_line(f"{where}: {problem}"))
        self.file, self.line, self.column, self.problem = file, line, column, problem


class ProcedureFileError(InputError):
    """A procedure, technique or part file cannot be loaded: names file, line and key."""

    def __init__(self, file: str, line: int | None, key: str | None, problem: str) -> None:
        where = file
        if line is not None:
            where += f", line {line}"
        if key is not None:
            where += f", key {key}"
        problem = _one_line(problem)
        super().__init__(_one_line(f"{where}: {problem}"))
        self.file, self.line, self.key, self.problem = file, line, key, problem


class ExportError(InputError):
    """An exported book or a part of it does not hold: names the export, the file in it, and the line."""

    def __init__(self, export: str, file: str | None, line: int | None, problem: str) -> None:
        where = export
        if file is not None:
            where += f", {file}"
        if line is not None:
            where += f", line {line}"
        problem = _one_line(problem)
        super().__init__(_one_line(f"{where}: {problem}"))
        self.export, self.file, self.line, self.problem = export, file, line, problem


class StoreError(NdiError):
    """The record book could not be read or written."""


class NotFound(StoreError, LookupError):
    """The book holds nothing under that name."""


class VersionConflict(StoreError):
    """Somebody else changed the thing since it was looked at."""


class ReadOnly(StoreError):
    """The book or the place it lies in cannot be written."""
