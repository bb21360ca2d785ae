"""What became of the mutants of each module: kept in the cache to be resumed, and as a table beside the tests."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

from tests.mutation.explained import reason_for

SCORES = Path(__file__).with_name("scores.md")
CAUGHT = frozenset({"killed", "timeout", "segfault"})
COLUMNS = ("module", "mutants", "killed", "explained", "left", "date", "commit")


@dataclass(frozen=True)
class Mutant:
    """``status`` in the tool's words; ``difference`` of one that lives."""

    name: str
    status: str
    difference: str


@dataclass(frozen=True)
class Result:
    """``text`` and ``tests`` are the fingerprints of the module and of its tests."""

    module: str
    text: str
    tests: str
    date: str
    commit: str
    mutants: tuple[Mutant, ...]


def is_killed(mutant: Mutant) -> bool:
    """A test failed, or the mutant ran on and on."""
    return mutant.status in CAUGHT


def is_left(module: str, mutant: Mutant) -> bool:
    """Lives, and nobody has said why it may."""
    return not is_killed(mutant) and reason_for(module, mutant.difference) is None


def load(home: Path, module: str) -> Result | None:
    """The last result of a module, on this machine."""
    path = home / f"{module}.json"
    if not path.is_file():
        return None
    found = json.loads(path.read_text(encoding="utf-8"))
    return Result(**{**found, "mutants": tuple(Mutant(**row) for row in found["mutants"])})


def store(home: Path, result: Result) -> None:
    home.mkdir(parents=True, exist_ok=True)
    (home / f"{result.module}.json").write_text(json.dumps(asdict(result)), encoding="utf-8")


def row(result: Result) -> list[str]:
    killed = sum(is_killed(mutant) for mutant in result.mutants)
    left = sum(is_left(result.module, mutant) for mutant in result.mutants)
    counts = [len(result.mutants), killed, len(result.mutants) - killed - left, left]
    return [result.module, *map(str, counts), result.date, result.commit]


def write_scores(home: Path, modules: Sequence[str]) -> None:
    """The table anew; a module that was not run on this machine keeps its line."""
    kept = rows_kept()
    for module in modules:
        result = load(home, module)
        if result is not None:
            kept[module] = row(result)
    done = sum(cells[4] == "0" for cells in kept.values())
    lines = [
        "# Mutants of each module",
        "",
        f"{len(kept)} of {len(modules)} modules run, {done} with nothing left. "
        "A module is done when none is left, neither killed by a test nor explained in `explained.toml`. "
        "`python -m tests.mutation --all` runs what changed since.",
        "",
        "The tool forks its tests from one process. Of each function one kill is repeated in a process of its own, and the "
        "same tests are run there without a fault; a module in which the two disagree gets no line (`control.py`). Lines dated before 2026-11-28 were made without "
        "this: read their `killed` as at most.",
        "",
        "| " + " | ".join(COLUMNS) + " |",
        "|" + "---|" * len(COLUMNS),
        *("| " + " | ".join(kept[module]) + " |" for module in modules if module in kept),
    ]
    SCORES.write_text("\n".join([*lines, ""]), encoding="utf-8")


def rows_kept() -> dict[str, list[str]]:
    """The table as it stands, by module."""
    if not SCORES.is_file():
        return {}
    lines = [line for line in SCORES.read_text(encoding="utf-8").splitlines() if line.startswith("| ")]
    cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]
    return {row[0]: row for row in cells if row[0] != COLUMNS[0]}
