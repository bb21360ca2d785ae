"""Hostile input: whatever is read, the answer is a value or one clear refusal, never a crash and never a change."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ndi import bootstrap
from ndi.day import files, replay
from ndi.domain.check_code import parse_qr
from ndi.domain.errors import DayFileError, InputError
from ndi.domain.scan_codes import parse_scan

DAY = bootstrap.data_folder("demo") / "2026-03-10"
BEFORE = bootstrap.data_folder("demo") / "before"
TABLES = sorted(path.name for path in DAY.glob("*.csv"))

quiet = settings(
    derandomize=True, deadline=None, max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
nasty = st.one_of(
    st.text(max_size=40),
    st.sampled_from(
        [
            "",
            "NaN",
            "-1",
            "1e9",
            "9" * 400,
            "25:00",
            "24:00",
            "٣",
            "\x00",
            "=1+1",
            "LP-1+LP-2+",
            "SPLIT 11 ACCEPT /",
            "::::",
            "PT-001",
        ]
    ),
)


def cells_of(name: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO((DAY / name).read_text("utf-8"), newline="")))


def day_with(folder: Path, name: str, content: bytes) -> Path:
    """The demonstration day with one file replaced."""
    copy = folder / "day"
    copy.mkdir(exist_ok=True)
    for source in DAY.iterdir():
        (copy / source.name).write_bytes(source.read_bytes())
    (copy / name).write_bytes(content)
    return copy


def plan_or_refusal(folder: Path) -> replay.Plan | None:
    """The plan of a day; None when it was refused with file and problem named."""
    try:
        day = files.read_day(folder)
        return replay.plan(day, files.read_before(BEFORE, day))
    except DayFileError as refused:
        assert refused.file and refused.problem
        assert "\n" not in str(refused).strip()
        return None


@quiet
@given(st.data())
def test_a_cell_of_the_day_may_hold_anything(tmp_path: Path, data: st.DataObject) -> None:
    name = data.draw(st.sampled_from(TABLES))
    rows = cells_of(name)
    line = data.draw(st.integers(1, len(rows) - 1))
    column = data.draw(st.integers(0, len(rows[0]) - 1))
    rows[line][column] = data.draw(nasty)
    text = io.StringIO(newline="")
    csv.writer(text, lineterminator="\n").writerows(rows)
    plan_or_refusal(day_with(tmp_path, name, text.getvalue().encode("utf-8", "surrogatepass")))


@quiet
@given(name=st.sampled_from([*TABLES, "day.toml"]), content=st.binary(max_size=400))
def test_a_file_of_the_day_may_hold_any_bytes(tmp_path: Path, name: str, content: bytes) -> None:
    plan_or_refusal(day_with(tmp_path, name, content))


@settings(derandomize=True, deadline=None, max_examples=1000)
@given(st.one_of(st.text(max_size=80), st.from_regex(r"ndi:[A-Z0-9:]{0,20}:[0-9a-f]{0,20}", fullmatch=True)))
def test_a_scanner_may_read_anything(text: str) -> None:
    for read in (parse_qr, parse_scan):
        try:
            read(text)
        except InputError as refused:
            assert str(refused)


@pytest.mark.parametrize("size", [files.LARGEST_FILE + 1])
def test_a_file_too_large_is_refused_before_it_is_read(tmp_path: Path, size: int) -> None:
    folder = day_with(tmp_path, "readings.csv", b"")
    with (folder / "readings.csv").open("wb") as sparse:
        sparse.truncate(size)
    assert plan_or_refusal(folder) is None
