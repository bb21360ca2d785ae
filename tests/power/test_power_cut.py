"""A program that is killed at any moment loses nothing that it said was saved, and nothing comes twice.

200 kills along four replays (the whole day on SQLite, half of it on PostgreSQL); ``python -m tests.power --kills 5000`` is the slow proof.
"""

from __future__ import annotations

import random
import subprocess
import sys
from pathlib import Path

import pytest

from tests.database_server import server_or_skip
from tests.power.replaying import PHOTO, POINTS, Killer, Place, begin, the_plan

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def both() -> dict[str, subprocess.Popen[str]]:
    """Both engines beside each other."""
    server_or_skip()
    seed = str(random.randrange(10**6))
    return {
        engine: subprocess.Popen(
            [sys.executable, "-m", "tests.power", "--engine", engine, "--seed", seed, *how],
            cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )
        for engine, how in (("sqlite", ["--kills", "150"]), ("postgresql", ["--kills", "50", "--calls", "700"]))
    }  # fmt: skip


@pytest.mark.parametrize(("engine", "kills"), [("postgresql", 50), ("sqlite", 150)])
def test_nothing_is_lost_and_nothing_comes_twice(
    both: dict[str, subprocess.Popen[str]], engine: str, kills: int
) -> None:
    said, wrong = both[engine].communicate(timeout=900)
    sys.stdout.write(said)  # the seed: shown when the test fails
    assert both[engine].returncode == 0, said + wrong[-2000:]
    assert f"{kills} kills in" in said
    assert all(point in said for point in POINTS)


def test_program_that_says_saved_too_early_is_found(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """The proof above can fail: here the acknowledgment comes before the commit."""
    place = Place(tmp_path / "day.book", tmp_path / "keys", tmp_path / "acknowledged")
    begin(place)
    with pytest.raises(AssertionError, match="the replay failed after a kill"):
        Killer(place, 20, random.Random(1), too_early=True).run(4, points=(POINTS[1],))
    assert "was acknowledged and is not in the book" in capfd.readouterr().err


def test_entry_that_comes_before_its_photograph_is_found(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """Here the entry is saved first and the file comes after it: a cut between the two leaves an entry without its file."""
    place = Place(tmp_path / "day.book", tmp_path / "keys", tmp_path / "acknowledged")
    begin(place)
    first = next(number for number, call in enumerate(the_plan().calls) if call.what == "attach photograph")
    with pytest.raises(AssertionError, match="the replay failed after a kill"):
        Killer(place, first + 3, random.Random(1), file_late=True).run(2, points=(PHOTO,))
    assert "an entry names a photograph that is not there" in capfd.readouterr().err
