"""``ndi compute``: trends, meter correction, detection and rates: limits, refusals, keys named; numpy and scipy as judges."""

import json
from datetime import date, timedelta
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from ndi.calc import golden, golden_statistics, meter_correction
from tests.calc.asking import ask, refused, wrong
from tests.calc.published_data import rows

LAMP = golden_statistics.LAMP | {"limit_uw_cm2": 1000}

# --- trends ----------------------------------------------------------------------------------------


def test_lamp_trend_seven_readings_are_too_few():
    readings = LAMP["readings"]
    found = refused("lamp-trend", **(LAMP | {"readings": readings[:7]}))
    assert (found["found"], found["limit"]) == ("7 readings", "8 readings")
    assert ask("lamp-trend", **(LAMP | {"readings": readings[:8]}))["readings_used"] == 8
    assert ask("lamp-trend", **(LAMP | {"readings": readings[:7], "readings_min": 7}))["readings_used"] == 7


def test_lamp_trend_leaves_out_as_left_and_what_lies_before_the_change():
    plain = ask("lamp-trend", **LAMP)
    more = [{"day": 5, "uv_a_uw_cm2": 2500, "condition": "as left"}, {"day": -3, "uv_a_uw_cm2": 700}]
    marked = [r | {"condition": "as found"} for r in LAMP["readings"]]
    assert ask("lamp-trend", **(LAMP | {"readings": marked + more, "since_day": 0})) == plain
    assert ask("lamp-trend", **(LAMP | {"readings": marked + more}))["readings_used"] == plain["readings_used"] + 1


@pytest.mark.parametrize(("z_most", "jumps"), [(19, True), (20, False)])
def test_lamp_trend_jump_beyond_so_many_standard_errors(z_most, jumps):
    found = ask("lamp-trend", **LAMP, new_uw_cm2=1380, jump_z=z_most)
    assert found["is_jump"] is jumps and (found["reading"] == "on the trend") is not jumps


def test_lamp_trend_that_rises_never_crosses():
    rising = [{"day": d, "uv_a_uw_cm2": 1000 + d} for d in range(9)]
    found = ask("lamp-trend", **(LAMP | {"readings": rising}))
    assert found["crossing_day"] is None and found["crossing_date"] is None


def test_lamp_trend_without_scatter_has_no_z():
    flat = [{"day": d, "uv_a_uw_cm2": 1000} for d in range(9)]
    found = ask("lamp-trend", **(LAMP | {"readings": flat, "new_uw_cm2": 900}))
    assert found["z"] is None and found["is_jump"]


def test_lamp_trend_crossing_beyond_the_calendar_has_a_day_and_no_date():
    slow = [{"day": d, "uv_a_uw_cm2": 1600 - d * 0.0001} for d in range(9)]
    found = ask("lamp-trend", **(LAMP | {"readings": slow}))
    assert found["crossing_day"] > 3e6 and found["crossing_date"] is None


def test_lamp_trend_names_the_key_that_is_wrong():
    for key, change in {
        "readings[0].condition": {"readings": [{"day": 0, "uv_a_uw_cm2": 1, "condition": "clean"}]},
        "readings[0].uv_a_uw_cm2": {"readings": [{"day": 0, "uv_a_uw_cm2": 0}]},
        "readings_min": {"readings_min": 2},
        "limit_uw_cm2": {"limit_uw_cm2": 0},
        "first_date": {"first_date": "2026-2-9"},
        "new_uw_cm2": {"new_uw_cm2": -1},
    }.items():
        wrong("lamp-trend", key, **(LAMP | change))


BATH = json.loads(next(v.inputs for v in golden.VALUES if v.computation == "bath-trend"))


def test_bath_trend_agrees_with_scipy():
    found = ask("bath-trend", **BATH, next_shots=480)
    x = [r["shots"] for r in BATH["results"]]
    y = [r["particles_ml"] for r in BATH["results"]]
    line = stats.linregress(x, y)
    assert (found["slope_ml_per_shot"], found["intercept_ml"]) == (
        pytest.approx(line.slope, rel=1e-10),
        pytest.approx(line.intercept, rel=1e-10),
    )
    design = np.column_stack([np.ones(len(x)), x])
    error = found["s_ml"] * np.sqrt(1 + np.array([1, 480]) @ np.linalg.inv(design.T @ design) @ np.array([1, 480]))
    half = stats.t.ppf(0.975, len(x) - 2) * error
    assert found["next_high_ml"] - found["next_ml"] == pytest.approx(half, rel=1e-6)
    assert found["next_ml"] - found["next_low_ml"] == pytest.approx(half, rel=1e-6)
    forecast = found["forecast"][0]
    assert forecast["at_shot_lower"] < forecast["at_shot"]
    assert forecast["shots_left"] == pytest.approx((0.165 - 0.15) / -line.slope)


def test_bath_trend_that_rises_never_reaches_a_limit_below():
    rising = [{"shots": s, "particles_ml": 0.2 + s * 0.001} for s in (0, 10, 20, 31)]
    row = ask("bath-trend", results=rising, limits_ml=[0.1])["forecast"][0]
    assert row["at_shot"] is None and row["shots_left"] is None


def test_bath_trend_refusals_and_keys():
    assert refused("bath-trend", results=BATH["results"][:2], limits_ml=[])["found"] == "2 results"
    wrong("bath-trend", "mix_ml", **{k: v for k, v in BATH.items() if k != "mix_ml"})
    wrong("bath-trend", "target_ml", **(BATH | {"target_ml": 0.16}))
    wrong("bath-trend", "results[0].particles_ml", **(BATH | {"results": [{"shots": 1, "particles_ml": -1}]}))
    assert ask("bath-trend", **(BATH | {"target_ml": 0.165}))["dose_g"] == 0


METER = json.loads(next(v.inputs for v in golden.VALUES if v.computation == "meter-correction"))


def test_meter_correction_exactly_on_the_limit_is_within():
    for value, within in ((1090, True), (1089.999999, False)):
        row = ask("meter-correction", **(METER | {"readings": [{"date": "2026-03-20", "value": value}]}))["readings"][0]
        assert row["worst_is_within"] is within and row["linear_is_within"] is within
    row = ask("meter-correction", **(METER | {"readings": [{"date": "2025-09-20", "value": 1000}]}))["readings"][0]
    assert (row["linear_drift"], row["linear_is_within"], row["worst_is_within"]) == (1000, True, False)


def test_meter_correction_of_an_ammeter_has_two_limits():
    found = ask("meter-correction", **(METER | {"limit_min": 900, "limit_max": 1100, "error_percent": -10}))
    assert (found["critical_reading_min"], found["critical_reading_max"]) == (810, 990)
    assert [r["worst_is_within"] for r in found["readings"]] == [False] * 5
    bare = ask("meter-correction", **{k: v for k, v in METER.items() if k != "limit_min"})
    assert "worst_is_within" not in bare["readings"][0] and "critical_reading_min" not in bare


@given(st.integers(-90, 90), st.integers(0, 180), st.integers(1, 5000))
def test_meter_correction_linear_lies_between_reading_and_worst(error, day, value):
    start, end = date(2025, 9, 20), date(2025, 9, 20) + timedelta(days=180)
    reading, percent = Fraction(value), Fraction(error)
    worst = meter_correction.worst_case(reading, percent)
    linear = meter_correction.linear_drift(reading, percent, start, start + timedelta(days=day), end)
    assert min(reading, worst) <= linear <= max(reading, worst)
    assert worst * meter_correction.factor(percent) == reading
    assert meter_correction.critical_reading(worst, percent) == reading


def test_meter_correction_keys():
    wrong("meter-correction", "found_date", **(METER | {"found_date": "2025-09-20"}))
    wrong("meter-correction", "error_percent", **(METER | {"error_percent": -100}))
    wrong("meter-correction", "readings[0].date", **(METER | {"readings": [{"date": "2025-09-19", "value": 1}]}))
    wrong("meter-correction", "readings[0].date", **(METER | {"readings": [{"date": "2026-02-30", "value": 1}]}))


# --- detection and rates: refusals --------------------------------------------------------------------


def targets(*pairs):
    return [{"size_in": size, "found": found} for size, found in pairs]


def test_detection_refusals():
    assert refused("detection", targets=targets(*[(0.1, True)] * 39))["limit"] == "40 targets"
    assert refused("detection", targets=targets(*[(0.1, True)] * 40))["found"] == "no misses"
    assert refused("detection", targets=targets(*[(0.1, False)] * 40))["found"] == "no hits"
    apart = [(0.01, False)] * 20 + [(0.02, True)] * 20
    assert "overlap" in refused("detection", targets=targets(*apart))["limit"]
    falls = [(0.01 * i, i < 10 or i == 30) for i in range(1, 41)]
    assert refused("detection", targets=targets(*falls))["limit"] == "a curve that rises"
    wrong("detection", "targets[0].found", targets=[{"size_in": 0.1, "found": 1}])
    wrong("detection", "scale", targets=[], scale="root")


def test_detection_on_the_linear_scale_and_with_an_open_bound():
    sizes = [(float(r["size_mm"]), r["hit"] == "1") for r in rows("pod-hitmiss-synthetic.csv")]
    found = ask("detection", targets=targets(*sizes), scale="linear")
    assert found["a90_in"] == pytest.approx(3.238713123, rel=1e-8)
    assert found["a90_95_likelihood_ratio_in"] == pytest.approx(4.267235756, rel=1e-7)
    assert found["a90_95_delta_in"] == pytest.approx(4.041491244, rel=1e-7)
    weak = targets(*[(0.01 * (1 + i), n < 2 + (i > 7)) for i in range(10) for n in range(4)])
    found = ask("detection", targets=weak)
    assert found["b1"] > 0 and found["a90_95_wald_in"] is None and found["a90_95_likelihood_ratio_in"] is None


def test_rates_name_the_key_that_is_wrong():
    wrong("demonstration", "found", found=30, of=29, share=0.9)
    wrong("demonstration", "share", found=29, of=29, share=1)
    wrong("missed", "both", first=3, second=2, both=3)
    wrong("crack-rate", "prior_of", found=1, of=2, prior_found=1)
    wrong("crack-rate", "prior_found", found=1, of=2, prior_found=2, prior_of=2)
    wrong("crack-rate", "of", found=0, of=0)
    wrong("crack-rate-hours", "hours", found=1, hours=0)
    assert ask("crack-rate-hours", found=7, hours=61400, per_hours=100)["rate"] == pytest.approx(0.7 / 61.4)
    assert not ask("demonstration", found=28, of=28, share=0.9)["is_shown_95"]
    assert ask("demonstration", found=29, of=29, share=0.9)["is_shown_95"]
