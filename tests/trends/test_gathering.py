"""Where cracks gather and how often: published circular data, scipy's intervals, and the alert of D19."""

from __future__ import annotations

from datetime import timedelta
from fractions import Fraction

import numpy as np
import pytest
from scipy import stats

from ndi.calc.clock_angles import gathering
from ndi.domain import facts as f
from ndi.domain.errors import NotFound
from ndi.domain.moment import Moment
from ndi.services.chart_models import ClockFace, PartMap
from ndi.services.crack_places import by_zone, finds_of
from ndi.services.crack_rates import NEVER, UNKNOWN, band_of, crack_rates
from ndi.services.gathering import gather, part_numbers
from tests.build import num
from tests.calc.published_data import rows
from tests.services.shop import GEAR
from tests.trends.past import PEOPLE, Past, on

TREES = [float(row["angle_deg"]) for row in rows("zar-trees-circular.csv")]


def visits(past: Past, angles: list[float | None], *, zone: str = "BOSS", type_: str | None = "fatigue crack") -> None:
    """Earlier visits of part number T6-11001, a week apart."""
    past.put(
        *(
            (
                f.PastInspection(
                    "T6-11001",
                    f"W25-{n:04d}",
                    f"CC-{zone}-{n}",
                    zone,
                    type_,
                    None if angle is None else num(f"{angle} deg"),
                ),
                on("2025-06-01") if n == 0 else Moment(on("2025-06-01").at + timedelta(days=7 * n), -300),
            )
            for n, angle in enumerate(angles)
        )
    )


# --- circular statistics ------------------------------------------------------------------------------


def test_published_angles_of_eight_trees(past: Past) -> None:
    """Zar's example: mean 99 degrees, r 0.82522; Rayleigh's test 0.001 < P < 0.002 (example 27.1), from memory."""
    visits(past, [*TREES])
    study = gather(past.work, "T6-11001")
    (zone,) = study.figures["zones"].values()  # type: ignore[attr-defined]
    assert round(zone["mean_deg"]) == 99 and zone["resultant"] == pytest.approx(0.82522, abs=5e-6)
    assert 0.001 < zone["p"] < 0.002
    assert zone["mean_deg"] == pytest.approx(float(stats.circmean(TREES, high=360)))
    assert 1 - zone["resultant"] == pytest.approx(float(stats.circvar(TREES, high=360)))
    assert "they gather at 99°" in study.says


def test_worked_case_of_four_and_five_angles(past: Past) -> None:
    """164.0 degrees, R 0.9958, p 0.0081; with 20 degrees R 0.646, mean 153.5 (worked once by a separate script)."""
    visits(past, [165, 158, 172, 161])
    (zone,) = gather(past.work, "T6-11001").figures["zones"].values()  # type: ignore[attr-defined]
    assert (round(zone["mean_deg"], 1), round(zone["resultant"], 4), round(zone["p"], 4)) == (164.0, 0.9958, 0.0081)
    visits(past, [20])
    study = gather(past.work, "T6-11001")
    (zone,) = study.figures["zones"].values()  # type: ignore[attr-defined]
    assert (round(zone["mean_deg"], 1), round(zone["resultant"], 3)) == (153.5, 0.646)
    assert "no closer than chance" in study.says


def test_turning_every_angle_turns_the_mean() -> None:
    for turn in (90, 180, 333):
        turned = gathering([(angle + turn) % 360 for angle in TREES])
        assert turned.mean == pytest.approx((gathering(TREES).mean + turn) % 360)  # type: ignore[operator]
        assert turned.p == pytest.approx(gathering(TREES).p)


@pytest.mark.parametrize("count", [3, 4, 8, 20])
def test_chance_against_simulated_even_spread(count: int) -> None:
    """Rayleigh's p beside the share of evenly spread samples that gather as strongly; with few angles a small p is never too small."""
    rng = np.random.default_rng(3)
    angles = rng.uniform(0, 2 * np.pi, size=(40_000, count))
    resultants = np.abs(np.exp(1j * angles).sum(axis=1)) / count
    for share in (0.5, 0.8, 0.95, 0.99):
        strong = float(np.quantile(resultants, share))
        sample = angles[int(np.argmin(np.abs(resultants - strong)))]
        found = gathering([float(a) for a in np.degrees(sample)]).p
        chance = float(np.mean(resultants >= strong))
        if chance < 0.06:
            assert found > chance - 4 * np.sqrt(chance * (1 - chance) / 40_000)
        assert found == pytest.approx(chance, abs=0.035)


def test_zones_are_told_apart(past: Past) -> None:
    visits(past, [10, 12, 14])
    visits(past, [200, 205], zone="FLANGE")
    study = gather(past.work, "T6-11001")
    face = next(chart for chart in study.charts if isinstance(chart, ClockFace))
    assert [len(ray.angles_deg) for ray in face.rays] == [3, 2]
    assert [row[:2] for row in study.tables[0].rows] == [("BOSS", "3"), ("FLANGE", "2")]
    assert "In FLANGE" not in study.says  # two angles: shown, nothing concluded


# --- what counts --------------------------------------------------------------------------------------


def test_only_relevant_finds_of_this_part_number_count(past: Past) -> None:
    first, second, third = past.record(), past.record(), past.record(part_no="T6-10502")
    past.relevant(first, "I-1", clock="90", place=("10", "20"))
    past.relevant(first, "I-2", call="nonrelevant")
    past.relevant(second, "I-3", clock=None)
    past.relevant(third, "I-4", clock="90")
    study = gather(past.work, GEAR)
    assert study.figures["finds"] == 2
    part = next(chart for chart in study.charts if isinstance(chart, PartMap))
    assert part.marks == ((10.0, 20.0),) and {zone.code: zone.count for zone in part.zones}["WEB"] == 2
    assert study.left_out == (
        "1 find without a place on the outline: counted in the zone, not drawn",
        "1 find without a clock angle",
    )


def test_a_part_never_inspected_is_said(past: Past) -> None:
    with pytest.raises(NotFound, match="no piece of part number T9-1"):
        gather(past.work, "T9-1")


def test_no_person_is_named(past: Past) -> None:
    past.relevant(past.record(), "I-1", clock="90")
    assert [person for person in PEOPLE if person in repr(gather(past.work, GEAR))] == []


# --- the alert of D19 ---------------------------------------------------------------------------------


@pytest.mark.parametrize(("days", "alert"), [(89, True), (90, True), (91, False)])
def test_the_alert_counts_cracks_of_one_zone_in_ninety_days(past: Past, days: int, alert: bool) -> None:
    """Three within 90 days (8.9, 8.10 of the demonstration procedure; common practice, no source); at the limit is within."""
    now = past.work.now()
    old = Moment(now.at - timedelta(days=days), now.offset_min)
    past.put((f.PastInspection("T6-11001", "W25-0001", "CC-1", "BOSS", "fatigue crack"), old))
    for number in range(2):
        past.put(
            (f.PastInspection("T6-11001", f"W26-{number}", f"CC-9{number}", "BOSS", "fatigue crack"), on("2026-03-01"))
        )
    past.put((f.PastInspection("T6-11001", "W26-8", "CC-98", "BOSS", "porosity"), on("2026-03-01")))
    past.put((f.PastInspection("T6-11001", "W26-9", "CC-99", "OTHER", "fatigue crack"), on("2026-03-01")))
    study = gather(past.work, "T6-11001")
    zones = study.figures["zones"]
    assert zones["BOSS"]["alert"] is alert and zones["BOSS"]["recent_cracks"] == (3 if alert else 2)  # type: ignore[index]
    assert zones["OTHER"]["alert"] is False  # type: ignore[index]
    assert ("ALERT: 3 crack-type finds in BOSS" in study.says) is alert
    assert [each.alert for each in part_numbers(past.work) if each.number == "T6-11001"] == [alert]


def test_without_the_procedures_numbers_there_is_no_alert(past: Past) -> None:
    visits(past, [10, 20, 30])
    with past.work.look() as session:
        finds = finds_of(session, ["T6-11001"])
    assert not any(zone.alert for zone in by_zone(finds, past.work.now().at, None, None))


# --- rates --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("typed", "band"),
    [
        ("0", "0-500"),
        ("499.9", "0-500"),
        ("500", "500-1000"),
        ("1,912 h", "1500-2000"),
        ("2000", "2000+"),
        ("not applicable: no earlier overhaul", NEVER),
        (None, UNKNOWN),
    ],
)
def test_hours_fall_into_their_band(typed: str | None, band: str) -> None:
    assert band_of(typed) == band


def test_rates_by_band_with_their_intervals(past: Past) -> None:
    """Wilson's interval by scipy.stats.binomtest, the Poisson interval by chi-squared quantiles (F. Garwood 1936)."""
    past.order("W26-A", "400")
    past.order("W26-B", "1600")
    past.order("W26-C", None)
    for _ in range(6):
        past.record(order="W26-A")
    hit = [past.record(order="W26-B") for _ in range(4)]
    past.record(order="W26-C", quantity=8)
    past.relevant(hit[0], "I-1")
    past.relevant(hit[0], "I-2", zone="BORE")  # one piece cracked twice is one piece
    past.relevant(hit[1], "I-3", type_="porosity")  # no crack
    with past.work.look() as session:
        rates = crack_rates(session, GEAR)
    assert rates is not None
    assert [(r.band, r.inspected, r.cracked) for r in rates.bands] == [
        ("0-500", 6, 0),
        ("1500-2000", 4, 1),
        (UNKNOWN, 8, 0),
    ]
    for rate in (*rates.bands, rates.whole):
        wilson = stats.binomtest(rate.cracked, rate.inspected).proportion_ci(method="wilson")
        assert (rate.share.low, rate.share.high) == pytest.approx((wilson.low, wilson.high))
    assert rates.bands[0].upper_after_none == pytest.approx(1 - 0.05 ** (1 / 6))
    assert rates.exposure_h == 6 * 400 + 4 * 1600 == Fraction(8800)
    assert rates.per_hours is not None and rates.cracked_with_hours == 1
    low, high = stats.chi2.ppf(0.025, 2) / 2 / 8.8, stats.chi2.ppf(0.975, 4) / 2 / 8.8
    assert (rates.per_hours.low, rates.per_hours.high) == pytest.approx((low, high))


def test_few_pieces_are_drawn_to_their_family(past: Past) -> None:
    """Beta prior of the similar part numbers, by scipy.stats.beta: 1 of 2 with a family of 2 of 50."""
    ones = [past.record() for _ in range(2)]
    past.relevant(ones[0], "I-1")
    family = [past.record(part_no="T6-10502") for _ in range(50)]
    past.relevant(family[0], "I-2")
    past.relevant(family[1], "I-3")
    with past.work.look() as session:
        rates = crack_rates(session, GEAR, ("T6-10502",))
    assert rates is not None and rates.family == (2, 50) and rates.whole.drawn is not None
    drawn, beta = rates.whole.drawn, stats.beta(3, 49)
    assert (drawn.estimate, drawn.low, drawn.high) == pytest.approx((beta.mean(), beta.ppf(0.025), beta.ppf(0.975)))
    assert [f"{100 * value:.1f}" for value in (drawn.estimate, drawn.low, drawn.high)] == ["5.8", "1.2", "13.5"]
