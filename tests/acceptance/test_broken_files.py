"""Folders that cannot be read: exit 2, the message names file, line and column, and nothing is left behind."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from ndi.cli.main import main
from tests.acceptance.day import Day

Edit = Callable[[Path], None]


def cell(table: str, where: dict[str, str], **cells: str) -> Callable[[Path], None]:
    """A cell with something that is no value of its kind."""

    def edit(folder: Path) -> None:
        day = Day()
        day.set(table, where, **cells)
        (folder / f"{table}.csv").write_text(day.tables[table].text(), encoding="utf-8")

    return edit


def octets(name: str, change: Callable[[bytes], bytes]) -> Edit:
    """A file changed byte by byte."""

    def edit(folder: Path) -> None:
        (folder / name).write_bytes(change((folder / name).read_bytes()))

    return edit


LAMP = {"time": "06:40"}
ROD = {"insp": "MT-003"}
MANY = "9" * 30

BROKEN: dict[str, tuple[Edit, str]] = {
    "hour 25": (cell("readings", LAMP, time="25:00"), "readings.csv, line 5, column time"),
    "time without zeros": (cell("readings", LAMP, time="9:5"), "readings.csv, line 5, column time"),
    "no time": (cell("readings", LAMP, time=""), "readings.csv, line 5, column time"),
    "not a number": (cell("readings", LAMP, value="NaN"), "readings.csv, line 5, column value"),
    "infinite": (cell("readings", LAMP, value="inf"), "readings.csv, line 5, column value"),
    "powers of ten": (cell("readings", LAMP, value="1e3"), "readings.csv, line 5, column value"),
    "unknown unit": (cell("readings", LAMP, unit="furlong"), "readings.csv, line 5, column value"),
    "unknown quantity": (cell("readings", LAMP, quantity="smell"), "readings.csv, line 5, column quantity"),
    "small letters": (
        cell("inspections_mt", ROD, inspector_decision="accept"),
        "inspections_mt.csv, line 4, column inspector_decision",
    ),
    "no word of ours": (
        cell("inspections_mt", ROD, inspector_decision="OK"),
        "inspections_mt.csv, line 4, column inspector_decision",
    ),
    "huge count": (cell("inspections_mt", ROD, qty=MANY), "inspections_mt.csv, line 4, column qty"),
    "huge attempt": (cell("baskets", {"basket": "B1"}, attempt=MANY), "baskets.csv, line 2, column attempt"),
    "negative count": (cell("inspections_mt", ROD, qty="-1"), "inspections_mt.csv, line 4, column qty"),
    "negative amps": (cell("shots", {**ROD, "shot": "1"}, amps="-1500+1510"), "shots.csv, line 13, column amps"),
    "neither yes nor no": (
        cell("inspections_mt", ROD, nothing_seen="maybe"),
        "inspections_mt.csv, line 4, column nothing_seen",
    ),
    "30 February": (
        cell("before/vision", {"person": "L2-B"}, expires="2026-02-30"),
        "vision.csv, line 3, column expires",
    ),
    "unknown question": (cell("events", {"#": "E01"}, verb="dance"), "events.csv, line 2, column verb"),
    "not UTF-8": (octets("readings.csv", lambda text: text.replace(b"LP-1", b"LP\xff1", 1)), "readings.csv, line 5"),
    "quote in the middle": (
        octets("readings.csv", lambda text: text.replace(b"LP-1", b'"LP-1"x', 1)),
        "readings.csv, line 5",
    ),
    "too many cells": (
        octets("readings.csv", lambda text: text.replace(b"LP-1,", b"LP-1" + b"," * 20, 1)),
        "readings.csv, line 5",
    ),
    "a column twice": (
        octets("readings.csv", lambda text: text.replace(b"time,object", b"time,time", 1)),
        "readings.csv, line 1",
    ),
    "a column missing": (
        octets("readings.csv", lambda text: text.replace(b"time,object", b"hour,object", 1)),
        "readings.csv, line 2, column time",
    ),
    "no day.toml": (lambda folder: (folder / "day.toml").unlink(), "day.toml"),
    "day.toml is none": (octets("day.toml", lambda text: b"x = ["), "day.toml"),
    "no date": (octets("day.toml", lambda text: text.replace(b"date =", b"data =")), "day.toml, column date"),
    "before all books": (
        octets("day.toml", lambda text: text.replace(b"2026-03-10", b"0001-01-01")),
        "day.toml, column date",
    ),
    "all certificates ended": (
        octets("day.toml", lambda text: text.replace(b"2026-03-10", b"9999-12-31")),
        "certificates.csv, column expires",
    ),
    "station without a code": (octets("day.toml", lambda text: text.replace(b'"GRE-1"', b'""')), "station code"),
    "offset by name": (
        octets("day.toml", lambda text: text.replace(b'"-05:00"', b'"EST"')),
        "day.toml, column utc_offset",
    ),
    "nobody may adopt": (
        lambda folder: (folder / "before" / "certificates.csv").unlink(),
        "certificates.csv, column level",
    ),
    "no part list": (lambda folder: (folder / "receiving.csv").unlink(), "locations.csv, line 2, column serial_or_lot"),
}


@pytest.mark.parametrize("name", BROKEN)
def test_broken_folder(name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    edit, place = BROKEN[name]
    folder = Day().write(tmp_path / "day")
    edit(folder)
    assert main(["demo", "--day", str(folder), "--out", str(tmp_path / "out")]) == 2
    assert place in capsys.readouterr().err
    assert not (tmp_path / "out").exists() or list((tmp_path / "out").iterdir()) == []


def test_other_ways_of_writing_the_same_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Byte order mark, Windows line ends, quoted cells, a column nobody knows, an empty table: all the same day."""
    folder = Day().write(tmp_path / "day")
    octets("readings.csv", lambda text: b"\xef\xbb\xbf" + text.replace(b"\n", b"\r\n"))(folder)
    octets("switches.csv", lambda text: text.replace(b"LP-1", b'"LP-1"').replace(b",inv\n", b",weather\n", 1))(folder)
    (folder / "authorisations.csv").write_text("", encoding="utf-8")
    assert main(["demo", "--day", str(folder), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["figures"]["verifiable"] == 50
