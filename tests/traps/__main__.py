"""The slow proof of the traps: ``python -m tests.traps [numbers]``.

For each row of the table its test is run twice: as it stands, where it must
come out well, and with the catch switched off, where it must fail (not break
while it is set up).  The result of a whole run is kept in ``tests/traps/last.md``.
"""

from __future__ import annotations

import argparse
import importlib
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.traps.table import TRAPS, Row, rows

ROOT = Path(__file__).resolve().parents[2]
RESULT = ROOT / "tests" / "traps" / "last.md"


@dataclass(frozen=True)
class Proof:
    """How the test of a row came out as it stands, and with the catch switched off."""

    row: Row
    stands: str
    without: str
    seconds: float
    said: str

    @property
    def holds(self) -> bool:
        return (self.stands, self.without) == ("passes", "fails")


class Outcomes:
    """Counts, for each test, how it came out (all its cases together)."""

    def __init__(self) -> None:
        self.failed: set[str] = set()
        self.broke: set[str] = set()  # not failed by what it checks, but while it was set up or read
        self.ran: set[str] = set()

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        name = report.nodeid
        self.ran.add(name)
        if report.failed:
            (self.failed if report.when == "call" else self.broke).add(name)

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        if report.failed:
            self.broke.add(report.nodeid)

    def of(self, test: str) -> str:
        """``passes``, ``fails`` or ``breaks``: of a test named with or without one of its cases."""
        file = test.partition("::")[0]
        cases = [name for name in self.ran if name == test or name.startswith(test + "[")]
        if any(name in self.broke for name in [*cases, file]) or not cases:
            return "breaks"
        return "fails" if any(name in self.failed for name in cases) else "passes"


def run(tests: Sequence[str], off: str) -> tuple[dict[str, str], str]:
    """How some tests come out with something switched off, and the end of what was said.

    They run in a copy of this process, which has read the program already: a
    start from nothing costs more than the test.
    """
    with tempfile.TemporaryFile("w+") as said, tempfile.TemporaryFile("w+") as found:
        child = os.fork()
        if child == 0:
            try:
                json.dump(_in_child(tests, off, said.fileno()), found)
                found.flush()
            finally:
                os._exit(0)
        os.waitpid(child, 0)
        said.seek(0)
        found.seek(0)
        outcomes: dict[str, str] = json.loads(found.read() or "{}")
        return {test: outcomes.get(test, "breaks") for test in tests}, said.read()[-1500:]


def _in_child(tests: Sequence[str], off: str, output: int) -> dict[str, str]:
    os.dup2(output, 1)
    os.dup2(output, 2)
    os.environ |= {"TRAP_OFF": off, "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"}
    outcomes = Outcomes()
    pytest.main(["-q", "-p", "tests.traps.plugin", "-p", "no:cacheprovider", *tests], plugins=[outcomes])
    sys.stdout.flush()
    return {test: outcomes.of(test) for test in tests}


def read_the_program() -> None:
    """Import what every test needs, once."""
    importlib.import_module("ndi.cli.main")
    importlib.import_module("ndi.rules.registry").load_all()


def prove(row: Row, as_it_stands: str) -> Proof:
    began = time.monotonic()
    outcomes, said = run([row.test], row.off)
    return Proof(row, as_it_stands, outcomes[row.test], time.monotonic() - began, said)


def commit() -> str:
    """The commit that was proved, with a plus sign when the tree differs from it."""

    def git(*words: str) -> str:
        done = subprocess.run(["git", *words], cwd=ROOT, capture_output=True, text=True, check=False)
        return done.stdout.strip()

    return git("rev-parse", "--short", "HEAD") + ("+" if git("status", "--porcelain") else "")


def report(proofs: Sequence[Proof], still_open: Sequence[Row], when: str) -> str:
    """The result as it is kept."""
    held = sum(proof.holds for proof in proofs)
    traps = {proof.row.number for proof in proofs if proof.holds}
    lines = [
        "# Traps: last slow proof",
        "",
        f"{when}, commit {commit()}: {held} of {len(proofs)} catches proved, "
        f"{len(traps)} of {TRAPS} traps with a proved catch, {len(still_open)} things open.",
        "",
        "Each test was run as it stands and with its catch switched off; `python -m tests.traps` does it again.",
        "",
        "| trap | catch | switched off | test | as it stands | without the catch |",
        "|---|---|---|---|---|---|",
    ]
    for proof in proofs:
        row = proof.row
        lines.append(f"| {row.number} | {row.catch} | `{row.off}` | `{row.test}` | {proof.stands} | {proof.without} |")
    lines += ["", "## Open", ""]
    lines += [f"- {row.number}, {row.trap}: {row.open}" for row in still_open] or ["- nothing"]
    return "\n".join([*lines, ""])


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.traps", description=__doc__)
    parser.add_argument("numbers", nargs="*", type=int, help="only these traps; the kept result stays as it is")
    args = parser.parse_args()
    every = [row for row in rows() if not args.numbers or row.number in args.numbers]
    proofs = []
    read_the_program()
    to_prove = [row for row in every if row.is_proved]
    stand, said = run(list(dict.fromkeys(row.test for row in to_prove)), "")
    if set(stand.values()) != {"passes"}:
        print(said, flush=True)
    for row in to_prove:
        proof = prove(row, stand[row.test])
        proofs.append(proof)
        word = "proved" if proof.holds else "NOT PROVED"
        print(f"{row.number:3} {word:10} {proof.seconds:5.1f} s  {row.catch}", flush=True)
        if not proof.holds:
            print(f"    {row.test}: {proof.stands} as it stands, {proof.without} without\n{proof.said}", flush=True)
    still_open = [row for row in every if row.open]
    if not args.numbers:
        when = subprocess.run(["date", "+%Y-%m-%d"], capture_output=True, text=True, check=True).stdout.strip()
        RESULT.write_text(report(proofs, still_open, when), encoding="utf-8")
    missing = [proof for proof in proofs if not proof.holds]
    print(f"{len(proofs) - len(missing)} of {len(proofs)} catches proved; {len(still_open)} things open")
    return 1 if missing or not proofs else 0


if __name__ == "__main__":
    sys.exit(main())
