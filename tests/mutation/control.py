"""Whether kills are true: tests run once more over mutants that were said to be killed, each in a process of its own.

The tool forks its tests from one process that has already imported the program;
a kill there can come from the fork and not from the mutant.  In a fresh process
one killed mutant of every function must fail its tests, and the same tests must
pass over the same files when no mutant is chosen.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

from tests.mutation.scores import Mutant

NOBODY = "no.such.mutant__mutmut_1"
PASSED, FAILED = 0, 1  # exit codes of pytest
MOST_SECONDS = 600


def untrue_kills(folder: Path, found: Sequence[Mutant], environment: dict[str, str]) -> list[str]:
    """Names of kills that a fresh process does not repeat, one tried of each function; NOBODY where the control fails."""
    reached = json.loads((folder / "mutants" / "mutmut-stats.json").read_text())["tests_by_mangled_function_name"]
    killed: dict[str, str] = {}
    for mutant in found:
        if mutant.status == "killed":
            killed.setdefault(mutant.name.rpartition("__mutmut_")[0], mutant.name)
    untrue = []
    for function, name in killed.items():
        tests = reached.get(function, [])
        if _run(folder, tests, NOBODY, environment) != PASSED:
            untrue.append(f"{function} without a fault")
        elif _run(folder, tests, name, environment) != FAILED:
            untrue.append(name)
    return untrue


def _run(folder: Path, tests: Sequence[str], mutant: str, environment: dict[str, str]) -> int:
    command = [sys.executable, "-m", "pytest", "-x", "-q", "--rootdir=.", "-p", "tests.mutation.steady"]
    command += ["-p", "no:cacheprovider", "-p", "no:xdist", *tests]
    where = folder / "mutants"
    chosen = {**environment, "MUTANT_UNDER_TEST": mutant, "PYTHONPATH": str(where)}
    try:
        done = subprocess.run(command, cwd=where, env=chosen, capture_output=True, check=False, timeout=MOST_SECONDS)
    except subprocess.TimeoutExpired:
        return FAILED  # a mutant that runs on and on
    return done.returncode
