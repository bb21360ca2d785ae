"""Reads a shop's tables whole: every problem of every row is said at once, by file, line and column."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import cast

from ndi.domain import facts as f
from ndi.domain.errors import DayFileError, InputError
from ndi.domain.moment import Moment
from ndi.shop_files.kinds import KINDS, REMARKS, WHEN, Kind, kind_of, one_for_each_order, unknown_word
from ndi.shop_files.known import Known
from ndi.tables.rows import Row, parse_offset, read_table

MOST_SHOWN = 20


class TableErrors(InputError):
    """Everything that is wrong with the tables of one import; nothing was brought in."""

    def __init__(self, errors: Sequence[DayFileError]) -> None:
        shown = "".join(f"\n  {error}" for error in errors[:MOST_SHOWN])
        more = f"\n  and {len(errors) - MOST_SHOWN} more" if len(errors) > MOST_SHOWN else ""
        count = "1 problem" if len(errors) == 1 else f"{len(errors)} problems"
        super().__init__(f"{count}; nothing was brought in:{shown}{more}")
        self.errors = tuple(errors)


@dataclass(frozen=True)
class Table:
    """A table that was read and checked: its facts with the time of each."""

    kind: Kind
    path: Path
    facts: tuple[tuple[f.Fact, Moment], ...]


def tables_of(paths: Sequence[Path], named: str | None = None) -> dict[Path, Kind]:
    """Which table each file is: by its name (``people.csv``), or ``named`` for a single file of another name."""
    if named is not None and len(paths) != 1:
        raise InputError("a table's kind is named for one file at a time; name files like people.csv to bring several")
    found = {path: kind_of(named or path.stem) for path in paths}
    names = [kind.name for kind in found.values()]
    for path, kind in found.items():
        if names.count(kind.name) > 1:
            raise InputError(f"{path} is one of two tables of {kind.name}; bring one, then the other")
    order = list(KINDS)
    return dict(sorted(found.items(), key=lambda item: order.index(item[1].name)))


def read_tables(files: Mapping[Path, Kind], known: Known, now: Moment) -> list[Table]:
    """Every table in the order in which they build on one another; TableErrors names all that is wrong."""
    errors: list[DayFileError] = []
    tables = [_read(path, kind, known, now, errors) for path, kind in files.items()]
    if errors:
        raise TableErrors(errors)
    return tables


def _read(path: Path, kind: Kind, known: Known, now: Moment, errors: list[DayFileError]) -> Table:
    facts: list[tuple[f.Fact, Moment]] = []
    for row in _rows(path, kind, now, errors):
        try:
            fact, when = kind.read(row), _moment(row, now)
            errors.extend(kind.check(row, fact, known))
        except DayFileError as error:
            errors.append(error)
            continue
        known.learn(fact)  # also after a problem, so that one mistake is not said again of every row that refers to it
        facts.append((fact, when))
    if kind.name == "directives":
        merged = one_for_each_order([cast(f.DirectivesConfirmed, fact) for fact, _ in facts])
        facts = [(fact, now) for fact in merged]
    return Table(kind, path, tuple(facts))


def _rows(path: Path, kind: Kind, now: Moment, errors: list[DayFileError]) -> Iterator[Row]:
    try:
        rows = list(read_table(path, now.local.date(), timedelta(minutes=now.offset_min)))
        _check_header(path, kind, rows)
    except DayFileError as error:
        errors.append(error)
        return
    yield from rows


def _check_header(path: Path, kind: Kind, rows: Sequence[Row]) -> None:
    if not rows:
        raise DayFileError(
            path.name, None, None, f"holds no rows; a table of {kind.name} begins with {','.join(kind.columns)}"
        )
    present = dict.fromkeys(name for row in rows for name in row.cells)
    lawful = (*kind.columns, *WHEN, *REMARKS)
    for name in present:
        if name not in lawful:
            raise DayFileError(
                path.name, 1, name or "(no name)", f"no such column in {kind.name}: {unknown_word(name, lawful)}"
            )
    for name in kind.needed:
        if name not in present:
            raise DayFileError(path.name, 1, name, f"is missing; {kind.name} needs {', '.join(kind.needed)}")


def _moment(row: Row, now: Moment) -> Moment:
    """When it was kept on paper: its date, time and offset, or now when the row has no date."""
    if not row.opt("date"):
        if row.opt("time"):
            raise row.error("date", "is empty; a time needs its date")
        return now
    offset = row.opt("utc_offset")
    own = parse_offset(row.file, row.line, "utc_offset", offset) if offset else row.offset
    when = Row(row.file, row.line, row.cells, row.date_of("date"), own).moment("time")
    if when.at > now.at:
        raise row.error("date", f"{when} is later than now")
    return when
