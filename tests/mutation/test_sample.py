"""A small sample of mutants in the normal run: the tests of two modules pass as they stand and fail over each fault.

The faults are put into a copy as text; every run is a fresh process, so the
sound copy is the control of the others.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.mutation.explained import only_wording
from tests.mutation.tree import ROOT, undecorated

MODULES = {"magnetizing_current": "test_current_and_coil", "serial_guard": "test_serial_guard"}
FAULTS = (
    ("magnetizing_current", "Fraction(9, 10)", "Fraction(9, 11)"),
    ("magnetizing_current", 'if counts == "bar" else', 'if counts != "bar" else'),
    ("serial_guard", "rows[i - 1][j - 1] + (mine != theirs)", "rows[i - 1][j - 1] + (mine == theirs)"),
    ("serial_guard", "rows[i - 2][j - 2] + 1)", "rows[i - 2][j - 2] + 2)"),
)


@pytest.fixture(scope="module")
def copy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The rooms and tests that the sample needs."""
    folder = tmp_path_factory.mktemp("sample")
    quiet = shutil.ignore_patterns("__pycache__")
    for part in ("ndi/calc", "ndi/domain", "tests/calc", "tests/data", "tests/mutation"):
        shutil.copytree(ROOT / part, folder / part, ignore=quiet)
    for part in ("ndi/__init__.py", "tests/__init__.py", "pyproject.toml"):
        shutil.copy2(ROOT / part, folder / part)
    return folder


def run(folder: Path, test: str) -> int:
    environment = {**os.environ, "PYTHONPATH": str(folder), "PYTHONDONTWRITEBYTECODE": "1"}
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "tests.mutation.steady", "-p", "no:cacheprovider"]
    command += ["-p", "no:xdist", f"tests/calc/{test}.py"]
    return subprocess.run(command, cwd=folder, env=environment, capture_output=True, check=False).returncode


@pytest.mark.parametrize("test", MODULES.values())
def test_sound_program_passes(copy: Path, test: str) -> None:
    assert run(copy, test) == 0


@pytest.mark.parametrize(("module", "sound", "faulty"), FAULTS)
def test_mutant_is_killed(copy: Path, module: str, sound: str, faulty: str) -> None:
    path = copy / "ndi" / "calc" / f"{module}.py"
    text = path.read_text(encoding="utf-8")
    assert text.count(sound) == 1, "the module changed: pick another fault"
    try:
        path.write_text(text.replace(sound, faulty), encoding="utf-8")
        assert run(copy, MODULES[module]) == 1
    finally:
        path.write_text(text, encoding="utf-8")


def test_wording_is_only_a_sentence_spelled_otherwise() -> None:
    assert only_wording('-    return failed("read it again", 1)\n+    return failed("READ IT AGAIN", 1)')
    assert not only_wording('-    return failed("read it again", 1)\n+    return failed("read it again", 2)')
    assert not only_wording('-    if word == "PASS":\n+    if word == "pass":')


def test_undecorated_program_means_the_same() -> None:
    space: dict[str, object] = {"twice": lambda f: lambda: 2 * f()}
    exec(undecorated("@twice\n@twice\ndef one():\n    return 1\n"), space)
    assert space["one"]() == 4  # type: ignore[operator]
