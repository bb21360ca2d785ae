"""A basket on which everything is right, and what happens when the procedure gives no value."""

from __future__ import annotations

from typing import Any

import pytest

from ndi.domain.answer import Verdict
from ndi.domain.parameter_keys import OPTIONAL
from ndi.domain.procedure import Technique
from ndi.rules import registry
from tests import build
from tests.rules import penetrant_day as day

RULES = {rule_id: rule for rule_id, rule in registry.load_all().items() if rule_id.startswith("P")}
NOT_FOR_A = {"P11", "P12", "P13", "P14"}
NOT_FOR_D = {"P16", "P32"}
RIGHT_CONDITION = {"P09", "P26", "P27", "P39", "P41", "P42"}  # conditions that the basket below does not meet


def test_every_rule_is_declared_once_in_order() -> None:
    assert set(RULES) == {f"P{number:02d}" for number in range(1, 43)}


@pytest.mark.parametrize("rule_id", sorted(RULES))
def test_whole_basket_method_a_passes(rule_id: str) -> None:
    answer = day.ask(rule_id, day.basket())
    expected = Verdict.NOT_APPLICABLE if rule_id in NOT_FOR_A | RIGHT_CONDITION else Verdict.PASS
    assert answer.verdict is expected, answer.line()
    assert answer.paragraph == "PT-P-01 Rev D, 5.1"
    if expected is Verdict.NOT_APPLICABLE:
        assert answer.says.startswith(("technique ", "condition of the rule: ")), answer.says


@pytest.mark.parametrize("rule_id", sorted(RULES))
def test_whole_basket_method_d_passes(rule_id: str) -> None:
    answer = day.ask_d(rule_id, day.basket("D"))
    expected = Verdict.NOT_APPLICABLE if rule_id in NOT_FOR_D | RIGHT_CONDITION else Verdict.PASS
    assert answer.verdict is expected, answer.line()


@pytest.mark.parametrize("rule_id", sorted(RULES))
def test_nothing_recorded_never_fails(rule_id: str) -> None:
    answer = day.ask(rule_id, [])
    assert answer.verdict in (Verdict.NOT_RECORDED, Verdict.NOT_APPLICABLE, Verdict.PASS), answer.line()
    if answer.verdict is Verdict.PASS:
        assert rule_id == "P40"  # no basket yet: first attempt


def everything(method: str) -> list[day.Fact]:
    """A basket in which every rule reaches every key that it declares."""
    facts = day.basket(method, ticks={"wetted by": "immersion"}, immerse=("08:00", "08:10"))
    facts += [day.observed("wash", "air pressure", "20 psi", "08:40")]
    facts += day.wiped_spot(("wiped", "09:40"), ("redeveloped", "09:52"))
    return facts + build.view("11:00", "11:10", name="V2", kind="re-view", containment="CT-9")


def cases() -> list[tuple[str, str]]:
    return [(rule_id, key) for rule_id, rule in sorted(RULES.items()) for key in rule.keys if key not in OPTIONAL]


@pytest.mark.parametrize(("rule_id", "key"), cases())
def test_parameter_without_value_not_recorded(rule_id: str, key: str) -> None:
    method = "D" if rule_id in NOT_FOR_A or key.startswith("remover_") else "A"
    sheet: Technique = day.TECHNIQUE_D if method == "D" else build.technique()
    other = build.technique(number="T-2", pt_method=sheet.pt_method, sensitivity=sheet.sensitivity)
    shared: dict[str, Any] = {"technique": sheet, "techniques": {"X-001": sheet, "X-002": other}}
    whole = day.ask(rule_id, everything(method), **shared)
    assert whole.verdict is Verdict.PASS, whole.line()
    answer = day.ask(rule_id, everything(method), parameters={key: None}, **shared)
    assert answer.verdict is Verdict.NOT_RECORDED, answer.line()
    assert f"rev D gives no value for {key}" in answer.says


# baskets of the invented demo day: steps, first view start, last view end, shortest and longest dwell and developing in minutes
DEMO_DAY = {
    "B1": ("A", "07:35 07:38", "08:10 08:14", "08:16 08:34", "08:36 08:37", "08:50 09:34", (32, 39, 13, 58)),
    "B2": ("A", "08:05 08:08", "08:42 08:55", "08:57 09:15", "09:17 09:19", "09:45 10:40", (34, 50, 26, 83)),
    "B3": ("A", "09:00 09:04", "09:38 09:52", "09:54 10:14", "10:16 10:18", "10:45 12:02", (34, 52, 27, 106)),
    "B5": ("D", "10:20 10:23", "10:56 10:57", "11:02 11:14", "11:15 11:16", "12:04 12:19", (33, 37, 48, 64)),
    "B6": ("A", "12:55 12:58", "13:40 13:50", "13:52 14:10", "14:12 14:13", "14:25 15:22", (42, 55, 12, 70)),
    "B4b": ("A", "14:20 14:23", "14:56 15:08", "15:10 15:28", "15:30 15:31", "15:45 16:25", (33, 48, 14, 55)),
}


@pytest.mark.parametrize("name", DEMO_DAY)
def test_demo_day_basket_times(name: str) -> None:
    method, *spans, minutes = DEMO_DAY[name]
    assert isinstance(minutes, tuple)
    wet, wash, dry, develop, view = (tuple(str(span).split()) for span in spans)
    table: dict[str, Any] = {"wet": wet, "wash" if method == "A" else "prewash": wash, "dry": dry, "develop": develop}
    if method == "D":
        table |= {"remover": ("10:58:00", "10:59:30"), "wash": ("10:59:40", "11:00:30")}
    facts = [day.load(method=str(method)), day.temperature(), *day.steps(table), *build.view(view[0], view[1])]
    ask = day.ask if method == "A" else day.ask_d
    answers = [ask(rule_id, facts) for rule_id in ("P06", "P07", "P24", "P25")]
    assert [answer.verdict for answer in answers] == [Verdict.PASS] * len(answers)
    assert tuple(answer.found for answer in answers) == tuple(f"{number} min" for number in minutes)
    if method == "D":
        in_seconds = [ask(rule_id, facts).verdict for rule_id in ("P11", "P12")]
        assert in_seconds == [Verdict.PASS, Verdict.PASS]  # prewash exactly 60 s, remover 90 s


def test_demo_day_over_dwell_at_lunch() -> None:
    waiting = [day.load(), day.temperature(), *day.steps({"wet": ("11:18", "11:21")})]
    assert day.ask("P07", waiting, "13:18").verdict is Verdict.NOT_YET
    answer = day.ask("P07", waiting, "13:18:01")
    assert (answer.verdict, answer.found) == (Verdict.FAIL, "120 min 1 s")
    washed = [*waiting, *day.steps({"wash": ("13:34", "13:36")})]
    assert (day.ask("P06", washed).found, day.ask("P07", washed).found) == ("133 min", "138 min")
    assert day.ask("P07", washed).verdict is Verdict.FAIL


def test_demo_day_view_asked_four_minutes_early() -> None:
    facts = [day.load(), *day.steps({"develop": ("14:12", "14:13")})]
    answer = day.ask("P24", facts, "14:19")
    assert (answer.verdict, answer.says) == (Verdict.NOT_YET, "developing: 6 min elapsed, ready 14:23")
