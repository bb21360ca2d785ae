"""Copies the demonstration day, changes cells and rows of the copy, replays it and says where every record stands.

A record stands as one line of words, so that a difference can be written down
beside the change that makes it: ``ACCEPT``, ``ACCEPT suspended; fail G30 L11``,
``NO DECISION; missing M29``, ``ACCEPT provisional; not yet L11``, with
``warn ...`` for warnings that differ from nothing.
"""

from __future__ import annotations

import csv
import os
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from ndi import bootstrap
from ndi.cli.demo import before_folder, replay_into
from ndi.day import files, replay, result
from ndi.day.calls import Refusal
from ndi.day.events import EventResult

DEMO = bootstrap.data_folder("demo") / "2026-03-10"
_FAST = Path("/dev/shm")


class Table:
    """One file: its columns, and its rows as cells by column."""

    def __init__(self, path: Path) -> None:
        with path.open(encoding="utf-8", newline="") as file:
            reader = csv.DictReader(file)
            self.columns = list(reader.fieldnames or ())
            self.rows = [dict(row) for row in reader]

    def text(self) -> str:
        lines = [self.columns, *([row.get(column) or "" for column in self.columns] for row in self.rows)]
        return "".join(",".join(_quoted(cell) for cell in line) + "\n" for line in lines)


def _quoted(cell: str) -> str:
    return '"' + cell.replace('"', '""') + '"' if any(mark in cell for mark in ',"\n') else cell


class Day:
    """The tables of the day and of what lies before it, open to any change."""

    def __init__(self) -> None:
        self.tables = {path.stem: Table(path) for path in sorted(DEMO.glob("*.csv"))}
        before = before_folder(DEMO)
        self.tables |= {f"before/{path.stem}": Table(path) for path in sorted(before.glob("*.csv"))}
        self.toml = (DEMO / "day.toml").read_text(encoding="utf-8")

    def find(self, table: str, **where: str) -> list[dict[str, str]]:
        """Every row whose cells are as given; at least one, or the change is about nothing."""
        found = [
            row for row in self.tables[table].rows if all(row.get(column) == text for column, text in where.items())
        ]
        assert found, f"{table}: no row with {where}"
        return found

    def set(self, table: str, where: dict[str, str], **cells: str) -> None:
        """Change cells in every row that is meant."""
        for row in self.find(table, **where):
            for column, text in cells.items():
                assert column in row, f"{table} has no column {column}"
                row[column] = text

    def drop(self, table: str, **where: str) -> None:
        """Delete every row that is meant."""
        gone = {id(row) for row in self.find(table, **where)}
        rows = self.tables[table].rows
        rows[:] = [row for row in rows if id(row) not in gone]

    def copy(self, table: str, where: dict[str, str], **cells: str) -> None:
        """Put a copy of the first row that is meant behind the last one of the table, with other cells."""
        self.tables[table].rows.append({**self.find(table, **where)[0], **cells})

    def add(self, table: str, **cells: str) -> None:
        """Put a row at the end of a table, which is made if it is not there."""
        if table not in self.tables:
            self.tables[table] = Table.__new__(Table)
            self.tables[table].columns, self.tables[table].rows = list(cells), []
        self.tables[table].rows.append({column: cells.get(column, "") for column in self.tables[table].columns})

    def write(self, folder: Path) -> Path:
        """The folder of the day, with what lies before it inside."""
        (folder / "before").mkdir(parents=True)
        (folder / "day.toml").write_text(self.toml, encoding="utf-8")
        for name, table in self.tables.items():
            (folder / f"{name}.csv").write_text(table.text(), encoding="utf-8")
        return folder


Change = Callable[[Day], None]


@dataclass(frozen=True)
class Replayed:
    """What a day came to."""

    records: dict[str, str]
    summary: dict[str, Any]
    events: dict[str, EventResult]
    refused: list[str] = field(default_factory=list)

    def containments(self) -> dict[str, str]:
        """``LP-3: 17 records, 18 pieces, second looks SC-03 SC-10 SC-11``, by name."""
        return {name: in_words(found) for name, found in self.summary["containments"].items()}

    def said(self, event: str) -> str:
        """The answers to an event: ``M11 FAIL, M11 PASS``."""
        return ", ".join(f"{answer.rule} {answer.verdict}" for answer in self.events[event].answers)


def in_words(containment: dict[str, Any]) -> str:
    looks = " ".join(containment["second_looks"])
    text = f"{containment['object']}: {len(containment['inspections'])} records, {containment['pieces']} pieces"
    return f"{text}, second looks {looks}" if looks else text


def line(record: dict[str, Any]) -> str:
    """Where a record stands, as one line."""
    words = [
        record["decision"] + (" suspended" if record["suspended"] else " provisional" if record["provisional"] else "")
    ]
    for name, key in (("fail", "failing"), ("missing", "not_recorded"), ("not yet", "not_yet"), ("warn", "warnings")):
        if record[key]:
            words.append(f"{name} {' '.join(sorted(record[key]))}")
    return "; ".join(words)


def scratch() -> tempfile.TemporaryDirectory[str]:
    place = _FAST if _FAST.is_dir() and os.access(_FAST, os.W_OK) else None
    return tempfile.TemporaryDirectory(dir=place)


def replayed(day: Day) -> Replayed:
    """Write a day to a folder, read it as ``ndi demo --day`` does, play it into a new book."""
    with scratch() as name:
        folder = day.write(Path(name) / "day")
        found = files.read_day(folder)
        prepared = replay.plan(found, files.read_before(before_folder(folder), found))
        work, refusals = replay_into(Path(name) / "day.ndibook", prepared)
        summary = result.summary(work, prepared.results)
        bootstrap.close(work.book)
    records = {name: line(record) for name, record in summary["records"].items()}
    return Replayed(records, summary, {r.id: r for r in prepared.results}, [_refusal(r) for r in refusals])


def _refusal(refusal: Refusal) -> str:
    return f"{refusal.call.file}:{refusal.call.what} {refusal.call.subject}: {refusal.message}"


@cache
def unchanged() -> Replayed:
    """The day as it is."""
    return replayed(Day())


def differences(changed: Replayed) -> dict[str, str]:
    """The records that stand elsewhere than on the unchanged day; ``gone`` for one that is not there any more."""
    base = unchanged().records
    names = [*base, *(name for name in changed.records if name not in base)]
    return {name: changed.records.get(name, "gone") for name in names if changed.records.get(name) != base.get(name)}


def unlike_before(changed: Replayed) -> dict[str, str]:
    """The events that are answered otherwise than expected on the unchanged day, as ``rule answer`` pairs."""
    return {name: changed.said(name) for name, found in changed.events.items() if not found.as_expected}


def broken_law(changed: Replayed) -> Iterator[str]:
    """Accepted records (not suspended) with an S or B line open; law 2 leaves L11 NOT YET only."""
    for name, record in changed.summary["records"].items():
        if "ACCEPT" not in record["decision"] or record["suspended"]:
            continue
        if record["failing"] or record["not_recorded"] or set(record["not_yet"]) - {"L11"}:
            yield f"{name}: {line(record)}"
