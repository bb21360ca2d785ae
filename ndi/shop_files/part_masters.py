"""A table of part numbers as part masters: the least that a part master must say, with no limits.

Without limits every relevant indication goes to engineering, which is what a
shop wants until somebody has entered the maker's limits, zone by zone.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

from ndi.domain.errors import DayFileError, InputError, ProcedureFileError
from ndi.shop_files.kinds import unknown_word
from ndi.shop_files.reading import TableErrors
from ndi.tables.rows import Row, read_table

NEEDED = (
    "part_no",
    "description",
    "item_class",
    "serialised",
    "models",
    "material",
    "ferromagnetic",
    "length_mm",
    "width_mm",
)
OPTIONAL = ("mt_technique", "pt_technique", "alloy", "note")
COLUMNS = (*NEEDED, *OPTIONAL)
ZONE = "ALL"

CheckPart = Callable[[str, str], object]  # text and file name of a part master; raises ProcedureFileError

_PART = """\
# Part master {number}, made from a table of part numbers. One zone, outline as a rectangle of the outside sizes.
# No limits yet: every relevant indication goes to engineering. Draw the zones and enter the maker's limits before use.

number = {number}
revision = "1"
description = {description}
item_class = {item_class}
serialised = {serialised}
models = {models}
{alloy}datum = ""
clock_reference = ""
outline = {corners}

{required}[[zones]]
code = "{zone}"
name = "All surfaces"
material = {material}
ferromagnetic = {ferromagnetic}
polygon = {corners}
limits = []
"""

_REQUIRED = """\
[[required]]
group = "whole part"
method = "{method}"
technique = {technique}
zones = ["{zone}"]

"""


@dataclass(frozen=True)
class PartFile:
    """One part master on its way to a folder."""

    number: str
    text: str

    @property
    def name(self) -> str:
        return f"{self.number}.toml"


def part_files(table: Path, check: CheckPart) -> list[PartFile]:
    """The part masters that a table stands for; TableErrors names every line and column that is wrong."""
    try:
        rows = list(read_table(table, date.min, timedelta(0)))
    except DayFileError as error:
        raise TableErrors([error]) from None
    if not rows:
        raise InputError(f"{table.name} holds no rows; it begins with {','.join(COLUMNS)}")
    errors = _header_errors(rows)
    files: dict[str, PartFile] = {}
    for row in rows if not errors else ():
        try:
            file = _part_file(row, check)
            if file.number in files:
                raise row.error("part_no", f"{file.number} stands here twice; give each part number one line")
            files[file.number] = file
        except DayFileError as error:
            errors.append(error)
    if errors:
        raise TableErrors(errors)
    return list(files.values())


def write_parts(files: Sequence[PartFile], folder: Path) -> list[Path]:
    """Write the files into ``folder/parts``, all or none; InputError if one is there already."""
    target = folder / "parts"
    paths = [target / file.name for file in files]
    for path in paths:
        if path.exists():
            raise InputError(f"{path} is there already and is not overwritten; take {path.stem} out of the table")
    try:
        target.mkdir(parents=True, exist_ok=True)
        for file, path in zip(files, paths, strict=True):
            path.write_text(file.text, encoding="utf-8")
    except OSError as error:
        for path in paths:
            path.unlink(missing_ok=True)
        raise InputError(f"{target} cannot be written ({error.strerror}); nothing was kept") from error
    return paths


def _header_errors(rows: Sequence[Row]) -> list[DayFileError]:
    present = dict.fromkeys(name for row in rows for name in row.cells)
    file = rows[0].file
    found = [
        DayFileError(file, 1, name or "(no name)", unknown_word(name, COLUMNS))
        for name in present
        if name not in COLUMNS
    ]
    return found + [
        DayFileError(file, 1, name, f"is missing; the table needs {', '.join(NEEDED)}")
        for name in NEEDED
        if name not in present
    ]


def _part_file(row: Row, check: CheckPart) -> PartFile:
    number = row.text("part_no")
    if any(char in '/\\:*?"<>|' or not char.isprintable() for char in number) or number.startswith("."):
        raise row.error("part_no", f"{number!r} cannot name a file; take out / \\ : * ? and the like")
    is_steel = _yes_no(row, "ferromagnetic")
    if not is_steel and row.opt("mt_technique"):
        raise row.error("mt_technique", f"{number} is not ferromagnetic: MT cannot be used on it")
    required = "".join(
        _REQUIRED.format(method=method, technique=_quoted(technique), zone=ZONE)
        for method, technique in (("MT", row.opt("mt_technique")), ("PT", row.opt("pt_technique")))
        if technique
    )
    alloy = row.opt("alloy")
    text = _PART.format(
        number=_quoted(number),
        description=_quoted(row.text("description")),
        item_class=row.whole("item_class"),
        serialised=_toml(_yes_no(row, "serialised")),
        models=_list(row.many("models")),
        alloy=f"alloy = {_quoted(alloy)}\n" if alloy else "",
        corners=_rectangle(row),
        required=required,
        zone=ZONE,
        material=_quoted(row.text("material")),
        ferromagnetic=_toml(is_steel),
    )
    try:
        check(text, f"{number}.toml")
    except ProcedureFileError as error:
        column = {"number": "part_no"}.get(error.key or "", error.key or "part_no")
        raise row.error(column, error.problem) from None
    return PartFile(number, text)


def _yes_no(row: Row, column: str) -> bool:
    found = row.yes_no(column)
    if found is None:
        raise row.error(column, "is empty; say yes or no")
    return found


def _rectangle(row: Row) -> str:
    sizes = []
    for column in ("length_mm", "width_mm"):
        size = row.number(column, "mm")
        if size.value <= 0:
            raise row.error(column, f"{size} is not above zero")
        sizes.append(size.typed)
    length, width = sizes
    return f'[["0", "0"], ["{length}", "0"], ["{length}", "{width}"], ["0", "{width}"]]'


def _quoted(text: str) -> str:
    """A TOML basic string: the escapes of JSON are lawful there."""
    return json.dumps(text, ensure_ascii=False)


def _list(words: Sequence[str]) -> str:
    return f"[{', '.join(_quoted(word) for word in words)}]"


def _toml(value: bool) -> str:
    return "true" if value else "false"
