"""``ndi recall`` on the demonstration day: what is open, a set, an entry supposed bad, one channel of a meter."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from ndi import bootstrap
from ndi.cli.main import main
from ndi.domain import facts as f


@pytest.fixture
def book(day_book: Path, tmp_path: Path) -> Path:
    """A copy: nothing here may write into the kept one."""
    copied = tmp_path / day_book.name
    shutil.copy(day_book, copied)
    shutil.copytree(bootstrap.key_folder(day_book), bootstrap.key_folder(copied))
    return copied


def _asked(capsys: pytest.CaptureFixture[str], *words: str) -> Any:
    assert main(["recall", *words, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_list_begins_with_what_left_early(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["recall", str(book)]) == 0
    said = capsys.readouterr().out.splitlines()
    assert said[0].startswith("LEFT EARLY  W26-0148/T6-11031/OPC-0205 at assembly")
    assert said[1].startswith("CT-01: LP-3") and said[2].startswith("  17 records, 18 pieces")


def test_entry_says_itself_of_what_it_is(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The opening reading of LP-4, supposed bad: the same set whether its lamp is named or not; nothing is written."""
    work = bootstrap.open_book(book)
    with work.look() as session:
        at = next(r.position for r in session.of_kind(f.ReadingRecorded) if r.fact.object == "LP-4")
        head = session.head()
    bootstrap.close(work.book)
    named = _asked(capsys, str(book), "LP-4", "--suppose", str(at))
    unnamed = _asked(capsys, str(book), "--suppose", str(at))
    assert [each["object"] for each in named] == ["LP-4"] == [each["object"] for each in unnamed]
    assert [each["records"] for each in named] == [each["records"] for each in unnamed]
    assert main(["recall", str(book), "LP-1", "--suppose", str(at)]) == 2
    assert "is of LP-4, not of LP-1" in capsys.readouterr().err
    work = bootstrap.open_book(book)
    with work.look() as session:
        assert session.head() == head
    bootstrap.close(work.book)


def test_one_channel_of_a_meter(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """60 % high, LP-3 with 1490 uW/cm2 at 06:42 would have been 931 (I.5: read / 1.6); the light meter reads no UV-A."""
    found = _asked(capsys, str(book), "RM-1", "--meter", "--error", "+60 %", "--item", "UV-A channel")
    assert any("LP-3" in each["line"] and "worst case 931.2 uW/cm2 OUT" in each["line"] for each in found["endangered"])
    other = _asked(capsys, str(book), "RM-1", "--meter", "--error", "+60 %", "--item", "light-meter channel")
    assert not any("UV-A" in each["line"] for each in other["endangered"])
    assert main(["recall", str(book), "RM-1", "--meter", "--error", "+60 %", "--item", "colour"]) == 3
    assert "its items are UV-A channel, light-meter channel" in capsys.readouterr().err


def test_set_with_something_to_do_is_not_closed(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["recall", str(book), "CT-01", "--close", "--by", "NL3-E", "--second", "CI-G"]) == 1
    assert "PT-006" in capsys.readouterr().err


@pytest.mark.parametrize("does", [("--meter",), ("--close",), ("--assign", "PT-001"), ("--done", "PT-001")])
def test_other_acts_need_a_name(book: Path, capsys: pytest.CaptureFixture[str], does: tuple[str, ...]) -> None:
    assert main(["recall", str(book), *does]) == 2
    assert "name the object, the recall set or the meter" in capsys.readouterr().err
