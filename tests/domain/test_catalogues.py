"""The lists that facts, rules, procedures and papers share hold together: ticks, words, keys, outcomes, answers."""

from __future__ import annotations

import ast
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ndi.domain import ticks, vocabulary
from ndi.domain.answer import Answer, Severity, Verdict
from ndi.domain.outcome import Missing, Outcome, not_recorded, passed, worst
from ndi.domain.parameter_keys import KEYS, OPTIONAL
from ndi.domain.quantity import known_units
from ndi.rules import registry
from tests.build import PARAMETERS

ROOT = Path(__file__).resolve().parents[2]
SOURCES = {path: ast.parse(path.read_text("utf-8")) for path in sorted((ROOT / "ndi").rglob("*.py"))}


def strings(folder: str) -> set[str]:
    """Every text constant in the code of a room, docstrings included."""
    found = set()
    for path, tree in SOURCES.items():
        if path.is_relative_to(ROOT / "ndi" / folder):
            found |= {
                node.value for node in ast.walk(tree) if isinstance(node, ast.Constant) and isinstance(node.value, str)
            }
    return found


# --- ticks ----------------------------------------------------------------------------------------


def test_ticks_items_are_unique_and_complete() -> None:
    declared = [value for value in vars(ticks).values() if isinstance(value, ticks.Tick)]
    assert {tick.item: tick for tick in declared} == ticks.TICKS
    assert len(ticks.TICKS) == len(declared)
    assert {tick.about for tick in declared} <= {"part", "inspection", "basket"}


def test_ticks_values_are_words_without_repeats() -> None:
    for tick in ticks.TICKS.values():
        assert len(set(tick.values)) == len(tick.values), tick.item
        assert all(value == value.strip() and value for value in tick.values), tick.item


def confirmed_items() -> Iterator[tuple[str, ast.expr]]:
    """The first argument of every ``confirmed(...)`` and ``ticks(q, ...)`` in the rules."""
    for path, tree in SOURCES.items():
        if path.is_relative_to(ROOT / "ndi" / "rules"):
            for node in ast.walk(tree):
                if (
                    isinstance(node, ast.Call)
                    and isinstance(node.func, ast.Attribute)
                    and node.func.attr == "confirmed"
                ):
                    yield path.name, node.args[0]


def test_ticks_that_rules_ask_for_by_text_are_in_the_catalogue() -> None:
    asked = list(confirmed_items())
    assert asked, "the rules ask for no tick at all: look how they are asked for now"
    for name, argument in asked:
        if isinstance(argument, ast.Constant):
            assert argument.value in ticks.TICKS, f"{name} asks for {argument.value!r}"


def used_names(module: str) -> set[str]:
    """Names of a domain module that the program uses outside of it."""
    found = set()
    for path, tree in SOURCES.items():
        if path.stem == module:
            continue
        for node in ast.walk(tree):
            if isinstance(node, ast.Attribute):
                found.add(node.attr)
            elif isinstance(node, ast.Name):
                found.add(node.id)
    return found


def test_ticks_are_each_asked_for_by_somebody() -> None:
    names = used_names("ticks")
    texts = strings("rules") | strings("services") | strings("day")
    unused = [
        name
        for name, value in vars(ticks).items()
        if isinstance(value, ticks.Tick)
        and name not in names
        and value.item not in texts
        and not value.item.startswith("post-process: ")
    ]
    # what a trainee's supervisor signs has no rule yet
    assert set(unused) <= {"CO_SIGNED"}


def test_post_process_ticks_fit_the_words_of_the_techniques() -> None:
    listed = set()
    for path in sorted((ROOT / "procedures" / "techniques").glob("*.toml")):
        listed |= set(tomllib.loads(path.read_text("utf-8")).get("post_process", ()))
    ticked = {item.removeprefix("post-process: ") for item in ticks.TICKS if item.startswith("post-process: ")}
    assert listed, "no technique lists a post-process: look how they list it now"
    assert listed - ticked <= {"demag", "plugs out"}  # these two are facts of their own


# --- words ----------------------------------------------------------------------------------------


def test_part_states_are_dispositions_and_the_overlay_worst_first() -> None:
    assert set(vocabulary.PART_STATE_ORDER) == {str(d) for d in vocabulary.Disposition} | {"SUSPENDED"}
    assert vocabulary.PART_STATE_ORDER[-1] == "ACCEPT"
    order = vocabulary.PART_STATE_ORDER
    assert order.index("HOLD-ENG") < order.index("SUSPENDED") < order.index("REWORK")


@pytest.mark.parametrize(
    ("word", "expected"),
    [
        ("fatigue crack", True),
        ("grinding crack", True),
        ("heat-treat crack", True),
        ("stress-corrosion", True),
        ("porosity", False),
        ("lap", False),
        ("", False),
        (None, False),
    ],
)
def test_crack_types(word: str | None, expected: bool) -> None:
    assert vocabulary.is_crack_type(word) is expected


def test_handling_and_looking_are_different_places() -> None:
    assert not set(vocabulary.HANDLING_PLACES) & set(vocabulary.RE_VIEW_PLACES)


def test_levels_rise() -> None:
    assert vocabulary.PROCESSING_LEVEL < vocabulary.DECIDING_LEVEL < vocabulary.LEVEL_THREE


def test_words_that_rules_write_out_are_words_of_the_vocabulary() -> None:
    """A disposition typed into a rule in another spelling would never be met."""
    for text in strings("rules"):
        if text.upper() in {str(d) for d in vocabulary.Disposition} and text.isupper():
            assert text in {str(d) for d in vocabulary.Disposition}


# --- keys -----------------------------------------------------------------------------------------


def test_keys_have_a_known_unit_and_a_meaning() -> None:
    for key, entry in KEYS.items():
        assert key == entry.key
        assert entry.unit in {*known_units(), "word", "yes/no"}, key
        assert entry.meaning, key


def test_keys_of_rules_are_catalogued_and_tests_set_those_that_rules_read() -> None:
    read = {key for rule in registry.load_all().values() for key in rule.keys}
    assert read <= set(KEYS)
    assert read - OPTIONAL <= set(PARAMETERS)


def test_rules_ask_a_question_and_have_an_id_of_the_trade() -> None:
    for rule in registry.load_all().values():
        assert rule.question.endswith("?"), rule.id
        assert rule.version >= 1
        assert rule.ask.__name__.startswith(rule.id.lower() + "_"), rule.id
        assert len(set(rule.keys)) == len(rule.keys), rule.id


# --- outcomes and answers ---------------------------------------------------------------------------

verdicts = st.sampled_from(Verdict)
outcomes = st.builds(
    Outcome,
    verdicts,
    st.sampled_from(["", "a", "b"]),
    st.just(""),
    st.sampled_from(["", "x", "y"]),
    st.just(("do",)),
    st.tuples(st.integers(1, 9)),
)
WORST_FIRST = ["FAIL", "NOT RECORDED", "NOT YET", "PASS", "NOT APPLICABLE"]


@given(st.lists(outcomes, min_size=1, max_size=6))
def test_worst_of_several_outcomes(every: list[Outcome]) -> None:
    found = worst(every)
    assert found.verdict == min((str(o.verdict) for o in every), key=WORST_FIRST.index)
    assert found.facts == tuple(sorted({position for outcome in every for position in outcome.facts}))
    said = [text for text in found.says.split("; ") if text]
    assert set(said) == {o.says for o in every if o.verdict is found.verdict and o.says}
    assert len(said) == len(set(said))


@given(
    st.lists(outcomes, min_size=1, max_size=6).flatmap(lambda every: st.tuples(st.just(every), st.permutations(every)))
)
def test_worst_verdict_does_not_depend_on_the_order(pair: tuple[list[Outcome], list[Outcome]]) -> None:
    assert worst(pair[0]).verdict is worst(pair[1]).verdict


def test_worst_of_nothing_is_not_recorded() -> None:
    with pytest.raises(Missing):
        worst([])


def test_missing_is_not_recorded_with_its_ways_out() -> None:
    missing = Missing("no shot recorded", ["fire it"], [3])
    assert missing.outcome == Outcome(Verdict.NOT_RECORDED, says="no shot recorded", ways_out=("fire it",), facts=(3,))
    assert not_recorded("x").verdict is Verdict.NOT_RECORDED
    assert passed().verdict is Verdict.PASS


@pytest.mark.parametrize(
    ("verdict", "settled"),
    [("PASS", True), ("NOT APPLICABLE", True), ("FAIL", False), ("NOT RECORDED", False), ("NOT YET", False)],
)
def test_answer_settled(verdict: str, settled: bool) -> None:
    assert Answer("L02", 1, Verdict(verdict)).settled is settled


@pytest.mark.parametrize(("severity", "blocks"), [("S", True), ("B", True), ("W", False)])
def test_severity_blocks(severity: str, blocks: bool) -> None:
    assert Severity(severity).blocks is blocks


@pytest.mark.parametrize(
    ("answer", "line"),
    [
        (Answer("L02", 1, Verdict.PASS), "L02 PASS"),
        (Answer("L02", 1, Verdict.PASS, "1490", "at least 1000"), "L02 PASS: found 1490, limit at least 1000"),
        (
            Answer("L02", 1, Verdict.FAIL, "880", "at least 1000", "880 is below", ("clean", "read again")),
            "L02 FAIL: 880 is below -> clean / read again",
        ),
        (Answer("L01", 1, Verdict.NOT_RECORDED, ways_out=("read it",)), "L01 NOT RECORDED: -> read it"),
        (Answer("L01", 1, Verdict.PASS, says="fine", ways_out=("read it",)), "L01 PASS: fine"),
    ],
)
def test_answer_line(answer: Answer, line: str) -> None:
    assert answer.line() == line
