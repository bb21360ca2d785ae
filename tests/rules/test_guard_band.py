"""Limits moved inwards by the uncertainty of what was read, where the procedure has a guard band.

That an instrument's uncertainty is kept off a limit is common practice, no
source; the moved limits below are plain arithmetic: 1000 and 5 % are 1050,
100 degF less 2 Fahrenheit degrees are 98.  Values lie exactly on the moved limit
and one smallest step of the number typed beyond it.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

from ndi.domain.answer import Answer
from ndi.domain.entry import Recorded
from ndi.domain.facts import CalibrationRecorded, Fact
from tests import build as b
from tests.rules import penetrant_day as pt
from tests.rules.light_record import Facts, ambient, reading, record, second_look
from tests.rules.light_record import ask as ask_light
from tests.rules.test_light import station
from tests.rules.test_light_at_part import DEEP, WHITE, at_part, white
from tests.rules.test_penetrant_removal import dryer, water

ON = {"guard_band": True}


def certificate(asset: str, percent: str | None = None, width: str | None = None) -> Recorded[Fact]:
    """A certificate with its uncertainty in percent, in the unit of the readings, or both."""
    given = [None if text is None else b.num(text) for text in (percent, width)]
    return b.meter(asset, date(2026, 1, 10), date(2026, 7, 10), uncertainty_percent=given[0], uncertainty=given[1])


def lamp(value: str, *certificates: Recorded[Fact]) -> Facts:
    return record(opening=reading("06:42", value), meter=list(certificates))


def booth(value: str, *certificates: Recorded[Fact]) -> Facts:
    return record(ambient=ambient(value), meter=list(certificates))


def on_part(value: str, *certificates: Recorded[Fact]) -> Facts:
    return record(more=at_part("10:02", value), meter=list(certificates))


def white_light(value: str, *certificates: Recorded[Fact]) -> Facts:
    return record(more=white("09:50", value), meter=list(certificates))


def removal_uv(value: str, *certificates: Recorded[Fact]) -> Facts:
    return [*station(value, "20 lx"), *certificates]


def removal_dark(value: str, *certificates: Recorded[Fact]) -> Facts:
    return [*station("900 uW/cm2", value), *certificates]


def warm_water(value: str, *certificates: Recorded[Fact]) -> Facts:
    return [*water(temperature=value), *certificates]


def pressure(value: str, *certificates: Recorded[Fact]) -> Facts:
    return [*water(pressure=value), *certificates]


def hot_dryer(value: str, *certificates: Recorded[Fact]) -> Facts:
    return [*dryer(value), *certificates]


def at_the_part(rule_id: str, facts: Facts, **changed: Any) -> Answer:
    return ask_light(rule_id, facts, technique=DEEP, **changed)


def under_white_light(rule_id: str, facts: Facts, **changed: Any) -> Answer:
    return ask_light(rule_id, facts, technique=WHITE, **changed)


RM, WASH, LINE, DRYER = "RM-1", "wash station", "PT line", "dryer"  # what stands in for a meter where none is named
CELSIUS_1 = "1.8 ddegF"
_Ask = Callable[..., Answer]
# rule, how it is asked, how its facts are made, certificate, exactly at the limit, one step beyond, the limit in words
CASES: list[tuple[str, _Ask, Callable[..., Facts], Recorded[Fact], str, str, str]] = [
    (
        *("L02", ask_light, lamp, certificate(RM, "5 %"), "1050", "1049"),
        "at least 1050 uW/cm2 (1000 uW/cm2 and guard band 5 %)",
    ),
    (
        *("L02", ask_light, lamp, certificate(RM, "4 %", "12 uW/cm2"), "1052", "1051"),
        "at least 1052 uW/cm2 (1000 uW/cm2 and guard band 4 % and 12 uW/cm2)",
    ),
    (
        *("K01", ask_light, lamp, certificate(RM, "5 %"), "1050", "1049"),
        "at least 1050 uW/cm2 (1000 uW/cm2 and guard band 5 %)",
    ),
    (
        *("L05", ask_light, booth, certificate(RM, "5 %"), "1.9 fc", "1.91 fc"),
        "at most 1.9 fc (2.0 fc and guard band 5 %)",
    ),
    (
        *("K02", ask_light, booth, certificate(RM, width="0.2 fc"), "1.8 fc", "1.81 fc"),
        "at most 1.8 fc (2.0 fc and guard band 0.2 fc)",
    ),
    (
        *("L04", at_the_part, on_part, certificate(RM, "5 %"), "1050", "1049.9"),
        "at least 1050 uW/cm2 (1000 uW/cm2 and guard band 5 %)",
    ),
    (
        *("L17", at_the_part, on_part, certificate(RM, "5 %"), "9500", "9500.1"),
        "at most 9500 uW/cm2 (10000 uW/cm2 and guard band 5 %)",
    ),
    (
        *("L14", under_white_light, white_light, certificate(RM, "6 %"), "106 fc", "105.9 fc"),
        "at least 106 fc (100 fc and guard band 6 %)",
    ),
    (
        *("L15", pt.ask, removal_uv, certificate(WASH, "5 %"), "105 uW/cm2", "104.9 uW/cm2"),
        "at least 105 uW/cm2 (100 uW/cm2 and guard band 5 %), at most 95 lx (100 lx and guard band 5 %)",
    ),
    (
        *("L15", pt.ask, removal_dark, certificate(WASH, "5 %"), "95 lx", "95.1 lx"),
        "at least 105 uW/cm2 (100 uW/cm2 and guard band 5 %), at most 95 lx (100 lx and guard band 5 %)",
    ),
    (
        *("P20", pt.ask, hot_dryer, certificate(DRYER, width=CELSIUS_1), "158.2 degF", "158.3 degF"),
        "at most 158.2 degF (160 degF and guard band 1.8 ddegF)",
    ),
    (
        *("P20", pt.ask, hot_dryer, certificate(DRYER, width="1 ddegC"), "158.2 degF", "158.3 degF"),
        "at most 158.2 degF (160 degF and guard band 1 ddegC)",
    ),
]
_IDS = [f"{case[0]}-{case[4]}" for case in CASES]


@pytest.mark.parametrize(("rule_id", "ask", "facts", "held", "at", "beyond", "limit"), CASES, ids=_IDS)
def test_exactly_at_the_moved_limit_passes_and_one_step_beyond_fails(
    rule_id: str, ask: _Ask, facts: Callable[..., Facts], held: Recorded[Fact], at: str, beyond: str, limit: str
) -> None:
    answers = [ask(rule_id, facts(value, held), parameters=ON) for value in (at, beyond)]
    assert [answer.verdict for answer in answers] == ["PASS", "FAIL"]
    for answer in answers:
        assert limit in answer.limit
    for none in (False, None):  # without a guard band, or where the procedure does not speak of one, the limit stays
        plain = ask(rule_id, facts(beyond, held), parameters={"guard_band": none})
        assert (plain.verdict, "guard band" in plain.limit) == ("PASS", False)


@pytest.mark.parametrize(("rule_id", "ask", "facts", "held", "at", "beyond", "limit"), CASES, ids=_IDS)
def test_uncertainty_not_on_the_certificate_not_recorded(
    rule_id: str, ask: _Ask, facts: Callable[..., Facts], held: Recorded[Fact], at: str, beyond: str, limit: str
) -> None:
    assert isinstance(held.fact, CalibrationRecorded)
    silent = certificate(held.fact.equipment)
    answer = ask(rule_id, facts(at, silent), parameters=ON)
    assert answer.verdict == "NOT RECORDED"
    assert "uncertainty of" in answer.says and "not recorded" in answer.says
    assert "enter the uncertainty from the meter's certificate" in answer.ways_out


@pytest.mark.parametrize(
    ("rule_id", "ask", "facts", "value"),
    [
        ("L02", ask_light, lamp, "999.9"),
        ("K01", ask_light, lamp, "999.9"),
        ("L05", ask_light, booth, "2.01 fc"),
        ("K02", ask_light, booth, "2.01 fc"),
        ("L04", at_the_part, on_part, "999.9"),
        ("L17", at_the_part, on_part, "10000.1"),
        ("L14", under_white_light, white_light, "99.9 fc"),
        ("L15", pt.ask, removal_uv, "99.9 uW/cm2"),
        ("L15", pt.ask, removal_dark, "100.1 lx"),
        ("P15", pt.ask, warm_water, "100.1 degF"),
        ("P15", pt.ask, warm_water, "49.9 degF"),
        ("P15", pt.ask, pressure, "40.1 psi"),
        ("P20", pt.ask, hot_dryer, "160.1 degF"),
    ],
)
def test_beyond_the_plain_limit_fails_whatever_the_uncertainty_is(
    rule_id: str, ask: _Ask, facts: Callable[..., Facts], value: str
) -> None:
    """An unknown uncertainty takes nothing back that a reading shows by itself."""
    answer = ask(rule_id, facts(value, certificate(RM)), parameters=ON)
    assert answer.verdict == "FAIL"


# --- water: two quantities with an uncertainty each ------------------------------------------------


def with_gauges(temperature: str, psi: str, *, degrees: str | None = "2 ddegF", share: str | None = "5 %") -> Facts:
    facts = [*pt.basket(without=["checks", "nozzle"]), pt.observed("wash", "nozzle distance", "12 in")]
    facts.append(pt.reading(LINE, "water temperature", temperature, meter="WT-1"))
    facts.append(pt.reading(LINE, "water pressure", psi, meter="PG-1"))
    return [*facts, certificate("WT-1", width=degrees), certificate("PG-1", share)]


@pytest.mark.parametrize(
    ("temperature", "psi", "expected"),
    [
        ("98 degF", "38 psi", "PASS"),
        ("98.1 degF", "38 psi", "FAIL"),
        ("52 degF", "38 psi", "PASS"),
        ("51.9 degF", "38 psi", "FAIL"),
        ("98 degF", "38.1 psi", "FAIL"),
    ],
)
def test_p15_each_gauge_has_its_own_band(temperature: str, psi: str, expected: str) -> None:
    """50 and 100 degF less 2 Fahrenheit degrees; 40 psi less 5 % of it.  The nozzle at its 12 in is not read by a meter."""
    assert pt.ask("P15", with_gauges(temperature, psi), parameters=ON).verdict == expected


@pytest.mark.parametrize(
    ("degrees", "share"), [(None, "5 %"), ("2 ddegF", None), ("2 psi", "5 %")], ids=["water", "pressure", "wrong unit"]
)
def test_p15_uncertainty_of_either_gauge_missing_or_of_another_kind_not_recorded(
    degrees: str | None, share: str | None
) -> None:
    answer = pt.ask("P15", with_gauges("70 degF", "20 psi", degrees=degrees, share=share), parameters=ON)
    assert answer.verdict == "NOT RECORDED"


def test_p15_a_share_in_percent_says_nothing_for_a_temperature_not_recorded() -> None:
    """2 % of 100 degF are 2 Fahrenheit degrees, of 37.8 degC 1.4: a share of a temperature depends on its zero."""
    facts = [*with_gauges("70 degF", "20 psi", degrees=None), certificate("WT-1", "2 %")]
    answer = pt.ask("P15", facts, parameters=ON)
    assert (answer.verdict, "uncertainty of WT-1 in degrees not recorded" in answer.says) == ("NOT RECORDED", True)


def test_k17_asks_as_p15_does() -> None:
    facts = [*with_gauges("98.1 degF", "38 psi"), pt.reading(DRYER, "dryer temperature", "150 degF")]
    facts.append(certificate(DRYER, width="2 ddegF"))
    assert pt.ask("K17", facts).verdict == "PASS"
    assert pt.ask("K17", facts, parameters=ON).verdict == "FAIL"


# --- signs, several readings ------------------------------------------------------------------------


@pytest.mark.parametrize("typed", ["-5 %", "+5 %", "5 %"])
def test_l02_sign_typed_with_an_uncertainty_never_moves_a_limit_outwards(typed: str) -> None:
    assert ask_light("L02", lamp("1049", certificate(RM, typed)), parameters=ON).verdict == "FAIL"
    assert ask_light("L02", lamp("1050", certificate(RM, typed)), parameters=ON).verdict == "PASS"


def test_l02_certificate_in_force_when_it_was_read_counts() -> None:
    """The better certificate of the week after does not help a reading of today."""
    later = b.meter(RM, date(2026, 3, 17), date(2027, 3, 17), uncertainty_percent=b.num("1 %"))
    assert ask_light("L02", lamp("1040", certificate(RM, "5 %"), later), parameters=ON).verdict == "FAIL"


@pytest.mark.parametrize(
    ("opening", "closing", "expected"),
    [
        ("1050", "1050", "PASS"),
        ("1050", "1049", "FAIL"),
        ("1049", "1490", "FAIL"),
        ("1050", None, "NOT YET"),
    ],
)
def test_l11_both_ends_of_the_bracket_are_held_off_the_limit(opening: str, closing: str | None, expected: str) -> None:
    end = None if closing is None else reading("16:22", closing)
    facts = record(opening=reading("06:42", opening), closing=end, meter=certificate(RM, "5 %"))
    assert ask_light("L11", facts, parameters=ON).verdict == expected


@pytest.mark.parametrize("which", ["opening", "closing"])
def test_l11_end_that_cannot_be_judged_not_recorded(which: str) -> None:
    """A second meter without an uncertainty on its certificate took one of the two readings."""
    when = {"opening": "06:42", "closing": "16:22"}[which]
    facts = record(**{which: reading(when, "1490", meter="RM-2")}, meter=[certificate(RM, "5 %"), certificate("RM-2")])
    answer = ask_light("L11", facts, parameters=ON)
    assert (answer.verdict, "uncertainty of RM-2" in answer.says) == ("NOT RECORDED", True)


def test_l11_reading_under_the_limit_inside_is_not_hidden_by_one_that_cannot_be_judged() -> None:
    facts = record(
        opening=reading("06:42", "1490", meter="RM-2"),
        closing=[reading("10:10", "880"), reading("16:22", "1490")],
        meter=[certificate(RM, "5 %"), certificate("RM-2")],
    )
    assert ask_light("L11", facts, parameters=ON).verdict == "FAIL"


def test_second_look_under_a_lamp_that_cannot_be_judged_says_so_and_nothing_else_breaks() -> None:
    """Only what asks of light is open: D07 sees the look, L11 does not rest on it silently."""
    facts = record(
        more=[*second_look(), b.lamp("LP-2"), reading("06:45", lamp="LP-2", meter="RM-2")],
        meter=[certificate(RM, "5 %"), certificate("RM-2")],
    )
    assert ask_light("L11", facts, parameters=ON).verdict == "NOT RECORDED"
    assert ask_light("L02", facts, parameters=ON).verdict == "NOT RECORDED"
    assert ask_light("D07", facts, parameters=ON).verdict in ("PASS", "NOT APPLICABLE")


def history(first: str = "RM-1") -> Facts:
    """Eleven readings, one each day, that fall by 2 a day and scatter by 5."""
    values = [1520 - 2 * n + (5 if n % 2 else -5) for n in range(11)]
    found = [reading("06:42", str(values[n]), f"2026-02-{18 + n}") for n in range(1, 11)]
    return [reading("06:42", str(values[0]), "2026-02-18", meter=first), *found]


def test_l12_one_reading_of_the_trend_that_cannot_be_judged_not_recorded() -> None:
    held = [certificate(RM, "5 %"), certificate("RM-2")]
    assert ask_light("L12", record(more=history(), meter=held), parameters=ON).verdict == "PASS"
    answer = ask_light("L12", record(more=history("RM-2"), meter=held), parameters=ON)
    assert (answer.verdict, "uncertainty of RM-2" in answer.says) == ("NOT RECORDED", True)
    assert ask_light("L12", record(more=history("RM-2"), meter=held)).verdict == "PASS"
