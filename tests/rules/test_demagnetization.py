"""Last direction, demagnetisation, residual field, residue.

Sources of the limits used: residual at most 3 G in absolute value: a
light-helicopter maker's manual; last field longitudinal, because a circular one
cannot be read with a field meter: AC 43.13-1B; away from the bench: common
practice, no source.
"""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from ndi.domain import facts as f
from ndi.domain.answer import Verdict
from ndi.domain.entry import Recorded
from tests import build as b
from tests.rules.mt_record import ask, demag, fired, meter_calibration, missing_keys, record, residual, tick, void

RULES = ("M19", "M29", "M30", "M31", "M35")
FLUSHED: dict[str, Any] = {"technique": b.technique("MT", post_process=("demag", "flush", "clean"))}


@pytest.mark.parametrize("rule_id", RULES)
def test_complete_record_passes(rule_id: str) -> None:
    assert ask(rule_id, **FLUSHED).verdict == "PASS"


@pytest.mark.parametrize("rule_id", ["M19", "M29", "M30", "M31"])
def test_never_demagnetised_not_recorded(rule_id: str) -> None:
    answer = ask(rule_id, record(demag=[]))
    assert (answer.verdict, answer.says) == ("NOT RECORDED", "no demagnetisation recorded")


@pytest.mark.parametrize("rule_id", ["M19", "M29"])
def test_no_shot_not_recorded(rule_id: str) -> None:
    assert ask(rule_id, record(shots=[])).verdict == "NOT RECORDED"


@pytest.mark.parametrize(("rule_id", "key"), missing_keys(RULES))
def test_parameter_missing_not_recorded_names_key(rule_id: str, key: str) -> None:
    answer = ask(rule_id, parameters={key: None})
    assert answer.verdict == "NOT RECORDED"
    assert answer.says == f"procedure MT-P-01 rev D gives no value for {key}"


# --- M19 ------------------------------------------------------------------------------------------


def test_m19_last_field_circular_fails() -> None:
    answer = ask("M19", record(shots=[fired(2, "08:00"), fired(1, "08:10")]))
    assert answer.verdict == "FAIL"
    assert (answer.found, answer.limit) == ("circular", "longitudinal")
    assert answer.ways_out == ("one longitudinal shot, demagnetise, read again",)


def test_m19_only_circular_fired_and_demagnetised_fails() -> None:
    assert ask("M19", record(shots=[fired(1, "08:00")])).verdict == "FAIL"


def test_m19_healed_by_one_coil_shot_and_demagnetisation_passes() -> None:
    facts = record(
        shots=[fired(2, "08:00"), fired(1, "08:10"), fired(2, "08:24")], demag=[demag("08:20"), demag("08:26")]
    )
    assert ask("M19", facts).verdict == "PASS"


def test_m19_shot_after_the_demagnetisation_not_recorded() -> None:
    assert ask("M19", record(shots=[fired(1, "08:00"), fired(2, "08:21")])).verdict == "NOT RECORDED"


def test_m19_voided_last_shot_does_not_count_fails() -> None:
    shots = [fired(1, "08:00"), fired(2, "08:10"), void(2, "08:10")]
    assert ask("M19", record(shots=shots)).verdict == "FAIL"


def test_m19_between_directions_the_rest_is_to_follow_not_recorded() -> None:
    shots = (b.shot(1, "circular"), b.shot(2, "longitudinal", demag_before=True))
    answer = ask(
        "M19", record(shots=[fired(1, "08:00")], demag=[demag("08:05")]), technique=b.technique("MT", shots=shots)
    )
    assert answer.verdict == "NOT RECORDED"


def test_m19_direction_unknown_to_technique_not_recorded() -> None:
    assert ask("M19", record(shots=[fired(1, "08:00"), fired(9, "08:10")])).verdict == "NOT RECORDED"


def test_m19_procedure_may_ask_for_another_direction() -> None:
    assert ask("M19", parameters={"last_direction": "circular"}).verdict == "FAIL"


# --- M29 ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("when", "verdict"), [("08:09:59", "NOT RECORDED"), ("08:10", "PASS"), ("08:10:01", "PASS")])
def test_m29_demagnetised_about_the_last_shot(when: str, verdict: str) -> None:
    shots = [fired(1, "08:00"), fired(2, "08:10")]
    facts = record(shots=shots, demag=[demag(when)])  # of the same instant: recorded after the shot
    assert ask("M29", facts).verdict == verdict


def test_m29_voided_shot_magnetised_the_part_too_not_recorded() -> None:
    shots = [fired(1, "08:00"), fired(2, "08:10"), fired(1, "08:21"), void(1, "08:21")]
    answer = ask("M29", record(shots=shots))
    assert answer.verdict == "NOT RECORDED"
    assert "shot 1 at 08:21" in answer.says


# --- M30 ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "verdict"),
    [
        ("2.99 G", "PASS"),
        ("3 G", "PASS"),
        ("3.01 G", "FAIL"),
        ("-3 G", "PASS"),
        ("-3.01 G", "FAIL"),
        ("0.3 mT", "PASS"),
        ("0.31 mT", "FAIL"),
    ],
)
def test_m30_field_about_3_g(value: str, verdict: str) -> None:
    assert (
        ask("M30", record(residual=[residual("flange", "08:22", value), residual("pin", "08:23")])).verdict == verdict
    )


def test_m30_names_the_point_fails() -> None:
    answer = ask("M30", record(residual=[residual("flange", "08:22"), residual("pin", "08:23", "5 G")]))
    assert (answer.verdict, answer.says) == ("FAIL", "pin: 5 G at 08:23")
    assert (answer.found, answer.limit) == ("pin 5 G", "at most 3 G")


def test_m30_point_missing_not_recorded() -> None:
    answer = ask("M30", record(residual=[residual("flange", "08:22")]))
    assert (answer.verdict, answer.says) == ("NOT RECORDED", "residual not read at pin since the last demagnetisation")


def test_m30_second_demagnetisation_voids_all_readings_before_it_not_recorded() -> None:
    readings = [residual("flange", "08:22"), residual("pin", "08:23", "5 G"), residual("pin", "08:27")]
    answer = ask("M30", record(demag=[demag("08:20"), demag("08:25")], residual=readings))
    assert answer.verdict == "NOT RECORDED"
    assert "flange" in answer.says


def test_m30_5_g_then_demagnetised_and_1_g_passes() -> None:
    readings = [
        residual("flange", "08:22"),
        residual("pin", "08:23", "5 G"),
        residual("flange", "08:26"),
        residual("pin", "08:27", "1 G"),
    ]
    assert ask("M30", record(demag=[demag("08:20"), demag("08:25")], residual=readings)).verdict == "PASS"


def test_m30_last_reading_of_a_point_counts() -> None:
    better = [residual("flange", "08:22"), residual("pin", "08:23", "5 G"), residual("pin", "08:24", "2 G")]
    worse = [residual("flange", "08:22"), residual("pin", "08:23", "2 G"), residual("pin", "08:24", "5 G")]
    assert ask("M30", record(residual=better)).verdict == "PASS"
    assert ask("M30", record(residual=worse)).verdict == "FAIL"


def test_m30_technique_lists_no_points_not_recorded() -> None:
    assert ask("M30", technique=b.technique("MT", residual_points=())).verdict == "NOT RECORDED"


# --- M31 ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("away", "verdict"), [(True, "PASS"), (False, "FAIL"), (None, "NOT RECORDED")])
def test_m31_away_from_the_bench(away: bool | None, verdict: str) -> None:
    assert (
        ask("M31", record(residual=[residual("flange", "08:22"), residual("pin", "08:23", away=away)])).verdict
        == verdict
    )


@pytest.mark.parametrize(
    ("pin", "verdict"), [("0 G", "FAIL"), ("0.00 G", "FAIL"), ("0.01 G", "PASS"), ("-0.01 G", "PASS")]
)
def test_m31_every_reading_exactly_0(pin: str, verdict: str) -> None:
    assert (
        ask("M31", record(residual=[residual("flange", "08:22", "0 G"), residual("pin", "08:23", pin)])).verdict
        == verdict
    )


@pytest.mark.parametrize("readings", [[], [residual("flange", "08:19")]])
def test_m31_nothing_read_since_demagnetising_not_recorded(readings: list[Recorded[f.Fact]]) -> None:
    assert ask("M31", record(residual=readings)).verdict == "NOT RECORDED"


# --- M35 ------------------------------------------------------------------------------------------


def test_m35_technique_without_flushing_not_applicable() -> None:
    answer = ask("M35")
    assert (answer.verdict, answer.says) == ("NOT APPLICABLE", "technique T-1 Rev 2 asks for no flushing")


@pytest.mark.parametrize(
    ("given", "verdict"),
    [
        ({"when": "08:10:01"}, "PASS"),
        ({"when": "08:09:59"}, "NOT RECORDED"),
        ({"when": "08:40", "value": "no"}, "FAIL"),
        (None, "NOT RECORDED"),
    ],
)
def test_m35_residue_tick_after_the_last_shot(given: dict[str, Any] | None, verdict: str) -> None:
    residue = [tick("passages flushed, no bath residue under UV-A", **given)] if given else []
    assert ask("M35", record(residue=residue), **FLUSHED).verdict == verdict


@pytest.mark.parametrize(
    ("due", "verdict"),
    [(date(2026, 3, 10), Verdict.PASS), (date(2026, 3, 9), Verdict.FAIL)],
    ids=["due today", "due yesterday"],
)
def test_a_gaussmeter_out_of_calibration_proves_nothing(due: date, verdict: Verdict) -> None:
    """A residual field of 1 G read with a meter that is overdue is no reading (common practice, no source; as for lamps, L10)."""
    answer = ask("M30", record(meter=[meter_calibration(due)]))
    assert answer.verdict is verdict


def test_a_gaussmeter_without_a_certificate_leaves_the_field_open() -> None:
    assert ask("M30", record(meter=[])).verdict is Verdict.NOT_RECORDED
