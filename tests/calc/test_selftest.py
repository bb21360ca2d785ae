"""The self-test: every golden value is met and can fail; a failure locks the calculators and names itself."""

import json
import time
from dataclasses import replace

import pytest

from ndi.calc import coil, golden, selftest
from ndi.calc.computations.table import COMPUTATIONS
from ndi.cli import main as ndi
from ndi.cli.compute import run


@pytest.fixture(autouse=True)
def _without_memory():
    selftest._wrong.cache_clear()
    yield
    selftest._wrong.cache_clear()


def test_run_meets_every_golden_value_in_under_a_second():
    selftest.run()  # loads the statistics library
    selftest._wrong.cache_clear()
    begun = time.process_time()
    found = selftest.run()
    assert time.process_time() - begun < 1
    assert found.failures == () and found.passed == found.total == len(golden.VALUES)
    assert found.line() == f"{found.total} of {found.total} passed"


def test_every_value_names_a_source_and_its_own_name():
    assert all(value.source and value.expected for value in golden.VALUES)
    assert len({value.name for value in golden.VALUES}) == len(golden.VALUES)


def _spoiled(expected: str) -> str:
    digits = len(expected.partition(".")[2])
    try:
        return f"{float(expected) + 2 * 10.0**-digits:.{digits}f}"
    except ValueError:
        return expected + "x"


@pytest.mark.parametrize("value", golden.VALUES, ids=lambda value: value.name)
def test_each_expected_figure_can_fail(value):
    """Moved by two in its last digit, no figure is met any more."""
    assert selftest._wrong(value) is None
    for at, (place, expected) in enumerate(value.expected):
        changed = [*value.expected]
        changed[at] = (place, _spoiled(expected))
        assert place in (selftest._wrong(replace(value, expected=tuple(changed))) or "")


def test_a_wrong_constant_locks_every_computation(monkeypatch):
    text = COMPUTATIONS["convert"].example
    assert run("convert", text)[0] == 0
    selftest._wrong.cache_clear()
    monkeypatch.setattr(coil, "SIDE", coil.SIDE + 1)
    code, out, err = run("convert", text)
    refusal = json.loads(out)["refusal"]
    assert (code, err) == (1, "") and list(json.loads(out)) == ["name", "inputs", "refusal"]
    assert "locked" in refusal["rule"] and "coil: solid 10 x 2, side" in refusal["found"] and refusal["ways_out"]
    assert run("convert", "{}")[0] == 2  # a question that is not well put is told so all the same
    assert "calculators locked" in selftest.run().line()


def test_a_formula_that_breaks_is_a_failed_value(monkeypatch):
    def broken(*_):
        raise RuntimeError("broken")

    monkeypatch.setattr(coil, "_positions", broken)
    found = selftest.run()
    assert 0 < len(found.failures) < found.total and "RuntimeError broken" in found.failures[0]


def test_one_question_does_not_wait_for_the_statistics_of_others():
    exact, own = selftest.run_for("coil"), selftest.run_for("crack-rate")
    statistical = [v for v in golden.VALUES if COMPUTATIONS[v.computation].is_statistical]
    assert statistical and exact.total == len(golden.VALUES) - len(statistical)
    assert own.total == exact.total + sum(v.computation == "crack-rate" for v in statistical)


def test_only_statistical_computations_load_the_library():
    """In a fresh interpreter: every exact computation runs without scipy or numpy."""
    import subprocess
    import sys

    program = """
import sys
from ndi.calc.computations.table import COMPUTATIONS, answer
for name, computation in COMPUTATIONS.items():
    if not computation.is_statistical:
        assert answer(name, computation.example)[0] == 0, name
        assert "scipy" not in sys.modules and "numpy" not in sys.modules, name
"""
    subprocess.run([sys.executable, "-c", program], check=True, timeout=120)


def test_command_prints_how_many_passed(capsys):
    assert ndi.main(["selftest"]) == 0
    total = len(golden.VALUES)
    assert capsys.readouterr().out == f"self-test {total} of {total} passed\n"
    assert ndi.main(["selftest", "--list"]) == 0
    listed = capsys.readouterr().out
    assert all(value.name in listed and value.source in listed for value in golden.VALUES)


def test_command_names_what_is_not_met(capsys, monkeypatch):
    monkeypatch.setattr(coil, "CEILING", coil.CEILING - 1)
    assert ndi.main(["selftest"]) == 1
    told = capsys.readouterr().out.splitlines()
    assert told[0].startswith("not met: coil: ") and "locked" in told[-1]
    assert any(line.startswith("self-test ") and line.endswith("passed") for line in told)
