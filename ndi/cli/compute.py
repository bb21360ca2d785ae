"""``ndi compute NAME``: one JSON object in, one out, for each formula of ``ndi.calc``.

``run`` gives exit code, standard output and standard error: 0 with a result, 1
with a refusal (a well-put question that has no lawful answer), 2 with a message
that names the key.  Keys, words and examples stand in ``ndi.calc.computations``.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TextIO

from ndi.calc import selftest
from ndi.calc.computations.inputs import read, written
from ndi.calc.computations.table import COMPUTATIONS, answer


def run(name: str, text: str) -> tuple[int, str, str]:
    """Do computation ``name`` on the JSON ``text``: (exit code, standard output, standard error).

    A golden value that is not met locks every computation: the answer is then a refusal.
    """
    found = answer(name, text)
    if found[0] == 2:
        return found
    checked = selftest.run_for(name)
    return (1, _locked(name, text, checked), "") if checked.failures else found


def _locked(name: str, text: str, checked: selftest.Selftest) -> str:
    refusal = {
        "rule": "self-test: a golden value is not met, the calculators are locked",
        "found": f"{checked.passed} of {checked.total} passed; {checked.failures[0]}",
        "limit": f"{checked.total} of {checked.total} passed",
        "ways_out": [
            "work it by hand from the procedure",
            "run ndi selftest and report what it says; records are not touched",
        ],
    }
    return written({"name": name, "inputs": read(text), "refusal": refusal}) + "\n"


def listing() -> str:
    """Every computation with its keys and an example."""
    lines = []
    for name, computation in COMPUTATIONS.items():
        keys = [*computation.needed, *(f"[{key}]" for key in computation.optional)]
        lines += [
            f"{name}: {computation.asks}",
            f"  keys     {' '.join(keys)}",
            f"  example  {computation.example}",
            "",
        ]
    return "\n".join(lines)


def main(argv: Sequence[str], stdin: TextIO, stdout: TextIO, stderr: TextIO) -> int:
    """``ndi compute NAME`` or ``ndi compute --list``; returns the exit code."""
    if list(argv) == ["--list"]:
        stdout.write(listing())
        return 0
    if len(argv) != 1:
        stderr.write("ndi compute: give one name, or --list\n")
        return 2
    code, out, err = run(argv[0], stdin.read())
    stdout.write(out)
    stderr.write(err)
    return code
