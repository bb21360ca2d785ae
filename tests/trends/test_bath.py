"""The trend of a bath over its shots: a worked case, scipy's line, the sample's own time, and the dose."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest
from scipy import stats

from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotFound
from ndi.domain.moment import Moment
from ndi.domain.quantity import Number
from ndi.services.trend_bath import DOSE_KEYS, bath_study
from tests.build import num
from tests.trends.past import BATH, BENCH, Past, after, on

SHOTS = [0, 60, 118, 175, 240, 301, 355, 420]
ML = ["0.25", "0.24", "0.23", "0.215", "0.205", "0.19", "0.18", "0.165"]
DOSE = dict(zip(DOSE_KEYS, (num("95 pcs"), num("0.20 mL"), num("1.25 pcs"), num("0.25 mL")), strict=True))


def settled(
    past: Past, shots: list[int], values: list[str], *, begin: str = "2026-03-01", condition: str | None = None
) -> None:
    """One result a day: the shots that it takes to its count, a sample, an hour later the reading; a shot in between."""
    record, fired = past.record(begin), 0
    for day, (count, value) in enumerate(zip(shots, values, strict=True)):
        last = on(after(begin, day), "05:00")
        if count > fired:
            last = past.shots(record, last, count - fired)
        drawn, between = later(last, 1), count < shots[-1]
        if between:  # while the sample settles: it tells nothing of this one
            past.shots(record, later(drawn, 30), 1)
        fired = count + between
        reading = f.ReadingRecorded(
            BATH, "bath concentration", num(f"{value} mL"), condition, contamination=num("0.01 mL")
        )
        past.put((f.BathSampled(BATH, True), drawn), (reading, later(drawn, 60)))


def later(when: Moment, minutes: int) -> Moment:
    return Moment(when.at + timedelta(minutes=minutes), when.offset_min)


def test_worked_case_of_eight_results(past: Past) -> None:
    """Computed once by a separate script; the shots fired while a sample settles do not count for it."""
    settled(past, SHOTS, ML)
    study = bath_study(past.work, BATH, dose=DOSE)
    found = study.figures
    assert study.enough and found["shots"] == 420
    assert found["intercept_ml"] == pytest.approx(0.251898, abs=5e-7)
    assert found["slope_ml_per_shot"] == pytest.approx(-0.00020382, abs=5e-9)
    assert found["s_ml"] == pytest.approx(0.00164, abs=5e-6)
    assert found["working_at_shot"] == pytest.approx(499.9, abs=0.05)
    assert found["hard_at_shot"] == pytest.approx(745.2, abs=0.05)
    assert found["working_shots_left"] == pytest.approx(73.6, abs=0.05)
    assert found["dose_g"] == pytest.approx(16.625)
    assert "after about 74 more shots" in study.says and found["last_outside_band"] is False
    line = stats.linregress(SHOTS, [float(v) for v in ML])
    assert found["slope_ml_per_shot"] == pytest.approx(line.slope, rel=1e-12)


def test_lower_limit_meets_before_the_line(past: Past) -> None:
    """Where the one-sided 95 % prediction limit by numpy's covariance meets 0.15 mL."""
    settled(past, SHOTS, ML)
    found = bath_study(past.work, BATH).figures
    y = np.array([float(v) for v in ML])
    (slope, intercept), unscaled = np.polyfit(SHOTS, y, 1, cov="unscaled")
    s2 = float(np.sum((y - slope * np.array(SHOTS) - intercept) ** 2) / 6)
    at = np.array([float(str(found["working_at_shot_lower"])), 1.0])
    lower = slope * at[0] + intercept - stats.t.ppf(0.95, 6) * np.sqrt(s2 * (1 + at @ unscaled @ at))
    assert lower == pytest.approx(0.15, abs=1e-9)


@pytest.mark.parametrize(("count", "enough"), [(2, False), (3, True)])
def test_three_results_are_needed(past: Past, count: int, enough: bool) -> None:
    settled(past, SHOTS[:count], ML[:count])
    study = bath_study(past.work, BATH)
    assert study.enough is enough and ("Too few results" in study.says) is not enough


def test_three_results_at_one_count_are_too_few(past: Past) -> None:
    settled(past, [0, 0, 0], ["0.25", "0.24", "0.25"])
    assert "1 different count" in bath_study(past.work, BATH).says


def test_a_result_far_off_points_to_the_pump(past: Past) -> None:
    settled(past, SHOTS, [*ML[:-1], "0.21"])
    study = bath_study(past.work, BATH)
    assert study.figures["last_outside_band"] is True and "pump and agitation" in study.says


def test_a_filled_bath_begins_anew(past: Past) -> None:
    settled(past, SHOTS[:4], ML[:4], begin="2026-02-20")
    past.put((f.TankFilled(BENCH, ("MTB-91",)), on("2026-03-01", "04:50")))
    settled(past, [0, 30, 60], ["0.22", "0.21", "0.20"])
    study = bath_study(past.work, BATH)
    assert study.figures["results"] == 3 and study.figures["shots"] == 60
    assert study.left_out == ("4 results before the bath was filled on 2026-03-01 04:50",)


def test_a_result_as_left_begins_anew_and_counts(past: Past) -> None:
    settled(past, SHOTS[:4], ML[:4], begin="2026-02-20")
    settled(past, [0], ["0.24"], begin="2026-03-06", condition="as-left")
    settled(past, [20, 40], ["0.235", "0.23"], begin="2026-03-07")
    study = bath_study(past.work, BATH)
    assert study.figures["results"] == 3 and study.figures["shots"] == 40


def test_shots_of_another_bench_do_not_use_this_bath(past: Past) -> None:
    settled(past, SHOTS[:4], ML[:4])
    record = past.record()
    past.put((f.ShotFired(record, "MT-02", 1, (f.Pulse(num("900 A"), None),)), on("2026-03-06", "05:30")))
    assert bath_study(past.work, BATH).figures["shots"] == 175


def test_a_dose_says_what_it_needs(past: Past) -> None:
    settled(past, SHOTS[:4], ML[:4])
    assert any(line.value.startswith("not worked out: it needs volume_l") for line in bath_study(past.work, BATH).lines)
    with pytest.raises(InputError, match="target_ml is missing"):
        bath_study(past.work, BATH, dose={"volume_l": Number("95", "pcs")})
    with pytest.raises(InputError, match="thin it instead"):
        bath_study(past.work, BATH, dose={**DOSE, "target_ml": num("0.10 mL")})
    with pytest.raises(NotFound, match="no bath"):
        bath_study(past.work, "LP-1")
