"""Light at the part: UV-A on its surface (L04, L17), white light (L14).

Sources of the limits used: UV-A at the part at least 1000 uW/cm2: ISO 3059 style
(secondary source); white light at least 100 fc: ASTM E1444-12 (secondary source);
UV-A at the part at most 10 000 uW/cm2: common practice, no source.
"""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from ndi.domain import facts as f
from ndi.domain.answer import Answer
from ndi.domain.entry import Recorded
from tests import build as b
from tests.rules.light_record import Facts, found_high, keys_read, record
from tests.rules.light_record import ask as ask_record

DEEP = b.technique("MT", uv_at_part=("Z2",))
WHITE = b.technique("MT", white_light=True)


def ask(rule_id: str, facts: Facts | None = None, technique: Any = DEEP, **changed: Any) -> Answer:
    return ask_record(rule_id, facts, technique=technique, **changed)


def at_part(
    when: str, value: str = "1400", zone: str | None = "Z2", day: str = b.DAY, **changed: Any
) -> Recorded[f.Fact]:
    fact = f.ReadingRecorded(
        "X-001", "UV-A at part", b.num(f"{value} uW/cm2"), **{"meter": "RM-1", "zone": zone, **changed}
    )
    return b.rec(fact, when, "L2-A", day=day)


def white(
    when: str, value: str = "120 fc", place: str = "MT booth", day: str = b.DAY, **changed: Any
) -> Recorded[f.Fact]:
    fact = f.ReadingRecorded(place, "white light", b.num(value), **{"meter": "RM-1", **changed})
    return b.rec(fact, when, "L2-A", day=day)


def seen(under: str | None, when: str = "10:10") -> Recorded[f.Fact]:
    fact = f.IndicationSeen(
        "IND-01", "X-001", "Z1", "5 deg", "linear", b.num("0.2 in"), b.num("0.02 in"), seen_under=under
    )
    return b.rec(fact, when)


# --- L04 ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("value", "expected"), [("1000", "PASS"), ("1000.1", "PASS"), ("999.9", "FAIL")])
def test_l04_value_about_the_limit(value: str, expected: str) -> None:
    answer = ask("L04", record(more=at_part("10:02", value)))
    assert answer.verdict == expected
    assert answer.limit == "at least 1000 uW/cm2"
    if expected == "FAIL":
        assert answer.says == "Z2: 999.9 uW/cm2 on the surface"


def test_l04_not_read_not_recorded() -> None:
    answer = ask("L04")
    assert (answer.verdict, answer.says) == ("NOT RECORDED", "UV-A on the surface of Z2 not read in view V1")


def test_l04_zone_not_named_not_recorded() -> None:
    assert ask("L04", record(more=at_part("10:02", zone=None))).verdict == "NOT RECORDED"


def test_l04_other_zone_read_not_recorded() -> None:
    assert ask("L04", record(more=at_part("10:02", zone="Z1"))).verdict == "NOT RECORDED"


def test_l04_view_still_running_not_yet() -> None:
    answer = ask("L04", record(view=b.view("10:00", None)), asked="10:05")
    assert answer.verdict == "NOT YET"
    assert "before the view ends" in answer.ways_out[0]


def test_l04_read_in_the_running_view_pass() -> None:
    assert ask("L04", record(view=b.view("10:00", None), more=at_part("10:02")), asked="10:05").verdict == "PASS"


def test_l04_technique_asks_for_none_not_applicable() -> None:
    answer = ask("L04", technique=b.technique("MT"))
    assert (answer.verdict, "T-1 Rev 2 asks for no UV-A" in answer.says) == ("NOT APPLICABLE", True)


@pytest.mark.parametrize(
    ("when", "expected"),
    [("09:58", "PASS"), ("10:20", "PASS"), ("10:20:01", "NOT RECORDED"), ("05:59", "NOT RECORDED"), ("06:00", "PASS")],
)
def test_l04_reading_belongs_to_its_view(when: str, expected: str) -> None:
    assert ask("L04", record(more=at_part(when))).verdict == expected


def test_l04_reading_of_the_day_before_not_recorded() -> None:
    assert ask("L04", record(more=at_part("10:02", day="2026-03-09"))).verdict == "NOT RECORDED"


def test_l04_second_view_needs_its_own_reading_not_recorded() -> None:
    views = [*b.view("10:00", "10:20"), *b.view("11:00", "11:20", name="V2")]
    answer = ask("L04", record(view=views, more=at_part("10:02")))
    assert (answer.verdict, answer.says) == ("NOT RECORDED", "UV-A on the surface of Z2 not read in view V2")


def test_l04_lamp_moved_and_read_again_pass() -> None:
    assert ask("L04", record(more=[at_part("10:02", "800"), at_part("10:04", "1300")])).verdict == "PASS"


def test_l04_meter_expired_fail() -> None:
    expired = b.meter(done=date(2025, 3, 9), due=date(2026, 3, 9))
    answer = ask("L04", record(meter=expired, more=at_part("10:02")))
    assert (answer.verdict, answer.says) == ("FAIL", "RM-1 expired 2026-03-09")


def test_l04_no_meter_not_recorded() -> None:
    assert ask("L04", record(more=at_part("10:02", meter=None))).verdict == "NOT RECORDED"


@pytest.mark.parametrize(("value", "expected"), [("1090", "PASS"), ("1089.9", "FAIL")])
def test_l04_meter_found_high_later_is_counted_off(value: str, expected: str) -> None:
    """1090 / 1.09 = 1000 exactly."""
    assert ask("L04", record(more=[at_part("10:02", value), found_high()])).verdict == expected


# --- L17 ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("value", "expected"), [("10000", "PASS"), ("9999.9", "PASS"), ("10000.1", "FAIL")])
def test_l17_value_about_the_limit(value: str, expected: str) -> None:
    answer = ask("L17", record(more=at_part("10:02", value)))
    assert answer.verdict == expected
    assert answer.limit == "at most 10000 uW/cm2"


def test_l17_read_though_not_asked_for_fail() -> None:
    answer = ask("L17", record(more=at_part("10:02", "14000", zone=None)), technique=b.technique("MT"))
    assert answer.verdict == "FAIL"
    assert answer.says.startswith("the part: 14000 uW/cm2 on the surface")


def test_l17_asked_for_and_not_read_not_recorded() -> None:
    assert ask("L17").verdict == "NOT RECORDED"


def test_l17_view_still_running_not_yet() -> None:
    assert ask("L17", record(view=b.view("10:00", None)), asked="10:05").verdict == "NOT YET"


def test_l17_neither_asked_for_nor_read_not_applicable() -> None:
    assert ask("L17", technique=b.technique("MT")).verdict == "NOT APPLICABLE"


@pytest.mark.parametrize(("value", "expected"), [("9090", "PASS"), ("9101", "PASS"), ("10000.1", "FAIL")])
def test_l17_meter_found_high_does_not_excuse(value: str, expected: str) -> None:
    """A meter that read too high only lowers what was there: the reading as typed is the worst case."""
    assert ask("L17", record(more=[at_part("10:02", value), found_high()])).verdict == expected


def test_l17_meter_found_low_raises_the_value_fail() -> None:
    """9500 / 0.95 = 10 000; 9501 is more."""
    low = found_high("-5 %")
    assert ask("L17", record(more=[at_part("10:02", "9500"), low])).verdict == "PASS"
    assert ask("L17", record(more=[at_part("10:02", "9501"), low])).verdict == "FAIL"


# --- L14 ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("value", "expected"), [("100 fc", "PASS"), ("100.1 fc", "PASS"), ("99.9 fc", "FAIL")])
def test_l14_value_about_the_limit(value: str, expected: str) -> None:
    answer = ask("L14", record(more=white("09:50", value)), WHITE)
    assert answer.verdict == expected
    assert answer.limit == "at least 100 fc"


@pytest.mark.parametrize(("lux", "expected"), [("1076.4", "PASS"), ("1076.3", "FAIL")])
def test_l14_lux_are_converted_exactly(lux: str, expected: str) -> None:
    """100 fc = 100 / 0.09290304 lx = 1076.391 lx."""
    assert ask("L14", record(more=white("09:50", f"{lux} lx")), WHITE).verdict == expected


def test_l14_not_read_this_shift_not_recorded() -> None:
    answer = ask("L14", record(more=white("16:00", day="2026-03-09")), WHITE)
    assert (answer.verdict, answer.says) == ("NOT RECORDED", "view V1: white light not read today before 10:20")


def test_l14_view_still_running_not_yet() -> None:
    assert ask("L14", record(view=b.view("10:00", None)), WHITE, asked="10:05").verdict == "NOT YET"


def test_l14_no_view_not_recorded() -> None:
    assert ask("L14", record(view=None), WHITE).says == "no view recorded"


def test_l14_not_used_not_applicable() -> None:
    answer = ask("L14", record(more=seen("UV-A")), b.technique("MT"))
    assert answer.verdict == "NOT APPLICABLE"
    assert "T-1 Rev 2 asks for no white light" in answer.says


@pytest.mark.parametrize(("when", "expected"), [("10:10", "PASS"), ("10:10:01", "NOT RECORDED")])
def test_l14_indication_looked_at_under_white_light(when: str, expected: str) -> None:
    answer = ask("L14", record(more=[seen("white light"), white(when)]), b.technique("MT"))
    assert answer.verdict == expected


def test_l14_read_at_the_part_itself_pass() -> None:
    assert ask("L14", record(more=white("10:01", place="X-001")), WHITE).verdict == "PASS"


def test_l14_other_booth_not_recorded() -> None:
    assert ask("L14", record(more=white("09:50", place="PT booth")), WHITE).verdict == "NOT RECORDED"


def test_l14_indication_outside_every_view_is_at_the_station_of_the_record_pass() -> None:
    assert ask("L14", record(more=[seen("white light", "11:00"), white("09:50")]), b.technique("MT")).verdict == "PASS"


def test_l14_meter_expired_fail() -> None:
    expired = b.meter(done=date(2025, 3, 9), due=date(2026, 3, 9))
    assert ask("L14", record(meter=expired, more=white("09:50")), WHITE).verdict == "FAIL"


# --- all ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rule_id", "key"),
    [
        ("L04", "uv_at_part_min"),
        ("L04", "shop_day_start"),
        ("L04", "shop_day_end"),
        ("L17", "uv_at_part_max"),
        ("L17", "shop_day_start"),
        ("L17", "shop_day_end"),
        ("L14", "white_light_min"),
        ("L14", "shop_day_start"),
        ("L14", "shop_day_end"),
    ],
)
def test_parameter_missing_not_recorded_names_key(rule_id: str, key: str) -> None:
    facts = record(more=[at_part("10:02"), white("09:50")])
    technique = b.technique("MT", uv_at_part=("Z2",), white_light=True)
    answer = ask(rule_id, facts, technique, parameters={key: None})
    assert answer.verdict == "NOT RECORDED"
    assert answer.says == f"procedure MT-P-01 rev D gives no value for {key}"
    assert key in keys_read(rule_id, "MT", facts, technique=technique)


@pytest.mark.parametrize("rule_id", ["L04", "L17"])
def test_no_view_not_recorded(rule_id: str) -> None:
    assert ask(rule_id, record(view=None)).says == "no view recorded"
