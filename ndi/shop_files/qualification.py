"""A qualification set as a table of commas: the size of each known discontinuity, and whether it was found."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path

from ndi.domain.errors import DayFileError
from ndi.domain.quantity import Number
from ndi.services.detection_study import Target
from ndi.shop_files.reading import TableErrors
from ndi.tables.rows import Row, read_table

SIZES = {"size_in": "in", "size_mm": "mm"}  # one of these columns
FOUND = "found"
_NO_DAY, _NO_OFFSET = date(2000, 1, 1), timedelta()  # the table holds no times


def read_targets(path: Path) -> tuple[Target, ...]:
    """Every row of a table ``size_in,found`` (or ``size_mm``; yes or no); TableErrors names all that is wrong."""
    errors: list[DayFileError] = []
    targets: list[Target] = []
    try:
        rows = list(read_table(path, _NO_DAY, _NO_OFFSET))
        _check_header(path, rows)
        for row in rows:
            try:
                targets.append(_target(row))
            except DayFileError as error:
                errors.append(error)
    except DayFileError as error:  # no table at all, or another one
        errors.append(error)
    if not errors and not targets:
        errors.append(DayFileError(path.name, None, None, "holds no target; it needs size_in (or size_mm) and found"))
    if errors:
        raise TableErrors(errors)
    return tuple(targets)


def _check_header(path: Path, rows: Sequence[Row]) -> None:
    """A column that the whole table lacks is said once, with those that it has."""
    present = dict.fromkeys(name for row in rows for name in row.cells)
    has_size = any(column in present for column in SIZES)
    if rows and not (has_size and FOUND in present):
        missing = FOUND if has_size else " or ".join(SIZES)
        told = f"no column {missing}; it needs size_in (or size_mm) and found (yes or no), and has {', '.join(present)}"
        raise DayFileError(path.name, 1, None, told)


def _target(row: Row) -> Target:
    given = [column for column in SIZES if row.opt(column) is not None]
    if len(given) != 1:
        raise row.error(None, f"needs a size in one column: {' or '.join(SIZES)}")
    size = row.number(given[0], SIZES[given[0]])
    if size.value <= 0:
        raise row.error(given[0], f"{size.typed} is no size: it is above 0")
    found = row.yes_no(FOUND)
    if found is None:
        raise row.error(FOUND, "is empty: say yes or no for every target")
    return Target(Number(size.typed.lstrip("+"), size.unit), found)
