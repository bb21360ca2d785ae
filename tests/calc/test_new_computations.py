"""``ndi compute``: light, marks, records, planning: hand cases on limits, refusals, keys named, odd inputs."""

import json
from datetime import date
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from ndi.calc import agreement, bookkeeping, shop_time
from ndi.calc.computations.table import COMPUTATIONS
from ndi.calc.computations.table import answer as run
from tests.calc.asking import ask, example, refused, wrong
from tests.calc.published_data import rows

# --- light ------------------------------------------------------------------------------------------


def test_screen_light_exactly_at_the_limit_is_within():
    at = {"area_m2": 0.159, "distance_m": 0.6, "limit_lx": 132.5}
    assert ask("screen-light", luminance_cd_m2=300, **at)["is_within"]
    assert not ask("screen-light", luminance_cd_m2=300.000001, **at)["is_within"]
    assert ask("screen-light", luminance_cd_m2=0, **at)["allowed_cd_m2"] == 300


def test_lamp_distance_follows_the_inverse_square_data():
    """Own data, E = 5000 (38 cm / d)^2: the rows within 12 to 24 in."""
    for row in rows("uva-inverse-square-synthetic.csv"):
        inches = Fraction(row["distance_cm"]) / Fraction("2.54")
        if 12 <= inches <= 24:
            found = ask("lamp-distance", uv_a_uw_cm2=5000, distance_in=38 / 2.54, to_distance_in=float(inches))[
                "uv_a_uw_cm2"
            ]
            assert found == pytest.approx(float(row["irradiance_uW_cm2"]), rel=1e-6)


@pytest.mark.parametrize(("place", "lawful"), [(12, True), (11.999, False), (24, True), (24.001, False)])
def test_lamp_distance_only_within_its_span(place, lawful):
    inputs = {"uv_a_uw_cm2": 1000, "distance_in": 15, "to_distance_in": place}
    assert run("lamp-distance", json.dumps(inputs))[0] == (0 if lawful else 1)
    assert run("lamp-distance", json.dumps(inputs | {"distance_in": place, "to_distance_in": 15}))[0] == (not lawful)


def test_lamp_distance_asks_for_one_of_two():
    wrong("lamp-distance", "to_distance_in", uv_a_uw_cm2=1000, distance_in=15)
    wrong("lamp-distance", "to_distance_in", uv_a_uw_cm2=1000, distance_in=15, to_distance_in=14, to_uw_cm2=900)
    assert "in" in refused("lamp-distance", uv_a_uw_cm2=1000, distance_in=15, to_uw_cm2=100)["found"]


# --- marks ------------------------------------------------------------------------------------------


def test_marks_keys():
    line = {"x1_in": 0, "y1_in": 0, "x2_in": 1, "y2_in": 0}
    wrong("join-lines", "marks[0].x2_in", marks=[line | {"x2_in": 0}], angle_deg=5)
    wrong("join-lines", "angle_deg", marks=[line], angle_deg=91)
    wrong("join-lines", "gap_in", marks=[line], angle_deg=5, gap_in=-1)
    wrong("arc", "chord_in", radius_in=1, chord_in=2.1)
    wrong("clock-angles", "angles_deg", angles_deg=[])
    wrong("clock-angles", "angles_deg[1]", angles_deg=[1, "2"])
    card = example("card-length")
    wrong("card-length", "corners", **(card | {"corners": card["corners"][:3]}))
    crossed = [card["corners"][i] for i in (0, 2, 1, 3)]
    wrong("card-length", "corners", **(card | {"corners": crossed}))
    wrong("card-length", "ends[0].x_px", **(card | {"ends": [{"x_px": "a", "y_px": 1}, {"x_px": 1, "y_px": 1}]}))
    wrong("card-length", "draws", **card, end_noise_px=1, draws=20001)
    wrong("card-length", "radius_in", **card, radius_in=0.1)
    assert ask("card-length", **card, radius_in=1.125)["arc_in"] == pytest.approx(0.3745, abs=5e-4)
    assert "sd_in" not in ask("card-length", **card)
    assert ask("clock-angles", angles_deg=[0, 180])["mean_deg"] is None


def test_join_lines_golden_pair():
    """By hand: gap 0.0502 up to 0.07, step 0.005 over 0.135 between the middles is 2.1 degrees."""
    found = ask("join-lines", **example("join-lines"))
    assert found["groups"] == [{"members": [0, 1], "length_in": pytest.approx((0.22**2 + 0.005**2) ** 0.5)}]
    assert len(ask("join-lines", **example("join-lines", angle_deg=2))["groups"]) == 2


# --- records and planning -------------------------------------------------------------------------------


def test_blend_ledger_at_the_limit_is_within():
    inputs = example("blend-ledger", blends=[{"zone": "PIN-1", "depth_in": d} for d in (0.004, 0.006)])
    assert ask("blend-ledger", **inputs)["zones"][0] == {
        "zone": "PIN-1",
        "total_in": 0.01,
        "left_in": 0,
        "is_within": True,
    }
    more = inputs | {"blends": [*inputs["blends"], {"zone": "PIN-1", "depth_in": 0.0000001}]}
    assert not ask("blend-ledger", **more)["zones"][0]["is_within"]
    wrong("blend-ledger", "blends[0].zone", **(inputs | {"blends": [{"zone": "X", "depth_in": 0}]}))
    wrong("blend-ledger", "zones[1].zone", **(inputs | {"zones": inputs["zones"] * 2}))


def test_coverage_names_what_lacks_a_direction():
    found = ask("coverage", **example("coverage"))
    assert found["lacking"] == ["FLANGE"]
    assert found["matrix"]["PIN"] == {"circular": ["1"], "longitudinal": ["2"]}
    assert ask("coverage", **example("coverage"), directions=1)["lacking"] == []
    wrong("coverage", "zones[1]", **example("coverage", zones=["PIN", "PIN"]))
    wrong(
        "coverage", "shots[0].zones[0]", **example("coverage", shots=[{"shot": "1", "direction": "x", "zones": ["Y"]}])
    )


def test_evidence_leaves_out_what_does_not_apply():
    answers = [
        {"answer": a, "obtained": o} for a, o in (("PASS", "timer"), ("NOT APPLICABLE", "typed"), ("FAIL", "typed"))
    ]
    found = ask("evidence", answers=answers)
    assert (found["asked"], found["passed"], found["share"]) == (2, 1, 0.5)
    assert found["share_by_obtained"] == {"timer": 0.5, "scanner": 0, "typed": 0, "typed late": 0}
    assert refused("evidence", answers=answers[1:2])["limit"] == "1 answer"
    wrong("evidence", "answers[0].answer", answers=[{"answer": "OK", "obtained": "timer"}])


def test_shot_use_and_its_keys():
    assert ask("shot-use", **example("shot-use")) == {"first_shown": {"1": 2, "2": 0, "3": 1}, "never": ["2"]}
    wrong("shot-use", "first_shown_by[0]", shots=["1"], first_shown_by=["2"])


def test_audit_draw_does_not_depend_on_the_order_and_is_pinned():
    names = [f"MT-{i:03d}" for i in range(40)]
    one = ask("audit-draw", population=names, seed="2026-03", size=10)["drawn"]
    assert one == ask("audit-draw", population=names[::-1], seed="2026-03", size=10)["drawn"]
    assert one != ask("audit-draw", population=names, seed="2026-04", size=10)["drawn"]
    # worked in a shell: printf '2026-03\0MT-000' | sha256sum for each name, sorted
    assert one[:5] == ["MT-009", "MT-033", "MT-038", "MT-027", "MT-037"]
    wrong("audit-draw", "size", population=names, seed="x", size=41)
    wrong("audit-draw", "population[1]", population=["a", "a"], seed="x", size=1)


def test_audit_draw_is_even():
    """Each of 20 names in 400 seeds: about a quarter of the draws of 5 (binomial, 5 standard deviations)."""
    names = [str(i) for i in range(20)]
    counts = dict.fromkeys(names, 0)
    for seed in range(400):
        for name in bookkeeping.audit_draw(names, str(seed), 5):
            counts[name] += 1
    assert all(abs(count - 100) < 5 * (400 * 0.25 * 0.75) ** 0.5 for count in counts.values())


def test_demag_forecast_counts_the_pass_that_reaches_the_limit():
    found = ask("demag-forecast", parts=[{"residual_g": r} for r in ([7, -3], [3], [9, 5], [4, 3.1, 2])], limit_g=3)
    assert found == {"usual_passes": 2, "most_passes": 3, "never_within": [2], "last_plus": 3, "last_minus": 1}
    assert refused("demag-forecast", parts=[], limit_g=3)["found"] == "0 parts"
    wrong("demag-forecast", "parts[0].residual_g", parts=[{"residual_g": []}], limit_g=3)
    assert ask("demag-forecast", parts=[{"residual_g": [9]}], limit_g=3)["usual_passes"] is None


def test_second_look_and_margins_agree_with_numpy():
    values = [4.0, 3.5, 3.8, 2.9, 3.1, 0.4]
    found = ask("margins", margins=values)
    assert found["worst_5_percent"] == pytest.approx(np.quantile(values, 0.05))
    assert found["drift_per_step"] == pytest.approx(np.polyfit(range(6), values, 1)[0])
    assert (found["worst"], found["mean"]) == (0.4, pytest.approx(np.mean(values)))
    wrong("margins", "margins", margins=[1])
    wrong("second-look", "pairs", pairs=[{"first_in": 1, "second_in": 1}])


@given(st.lists(st.integers(-50, 50), min_size=2, max_size=12), st.integers(0, 20))
def test_quantile_agrees_with_numpy(values, twentieths):
    share = Fraction(twentieths, 20)
    found = agreement.quantile([Fraction(v) for v in values], share)
    assert float(found) == pytest.approx(float(np.quantile(values, float(share))), abs=1e-9)


def test_completion_counts_working_days():
    """By hand: 215 min by two are 107.5 min, more than one day of 100; Friday 13 March and Monday 16 March 2026."""
    found = ask("completion", **example("completion"))
    assert found == {"total_min": 215, "elapsed_min": 107.5, "working_days": 2, "last_date": "2026-03-16"}
    assert ask("completion", **example("completion"), days_off=["2026-03-16"])["last_date"] == "2026-03-17"
    one = ask("completion", work_min=[100], people=9, minutes_per_day=100, first_date="2026-03-14")
    assert (one["elapsed_min"], one["last_date"]) == (100, "2026-03-16")  # one job is not shared; Saturday waits
    wrong("completion", "days_off[0]", **example("completion"), days_off=["Monday"])
    wrong("completion", "work_min", **example("completion", work_min=[]))


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.integers(1, 500), min_size=1, max_size=8),
    st.integers(1, 4),
    st.dates(date(2025, 1, 1), date(2027, 1, 1)),
)
def test_completion_agrees_with_numpy_business_days(work, people, first):
    found = shop_time.completion([Fraction(w) for w in work], people, Fraction(420), first, [])
    days = -(-max(Fraction(sum(work), people), max(work)) // 420)
    judge = np.busday_offset(np.datetime64(first), int(days) - 1, roll="forward")
    assert found.last_day == judge.astype(object)


def test_lamp_hours_count_starts():
    """One start costs 2 to 3 h: 19.5 h and 3 starts count as 25.5 to 28.5 h."""
    found = ask("lamp-hours", **example("lamp-hours"), last_date="2026-03-10", counted_h_per_day=10)
    assert (found["hours"], found["starts"]) == (19.5, 3)
    assert (found["counted_min_h"], found["counted_max_h"]) == (25.5, 28.5)
    assert (found["left_min_h"], found["left_max_h"]) == (971.5, 974.5)
    assert (found["replace_from"], found["replace_by"]) == ("2026-06-15", "2026-06-15")
    spent = ask("lamp-hours", on_h=[999], life_h=1000, last_date="2026-03-10", counted_h_per_day=10)
    assert spent["replace_from"] == "2026-03-10"
    wrong("lamp-hours", "last_date", **example("lamp-hours"), counted_h_per_day=10)
    wrong("lamp-hours", "h_per_start_min", **example("lamp-hours"), h_per_start_min=4)


def test_charts_name_the_key_that_is_wrong():
    wrong("individuals-chart", "values", values=[1])
    wrong("individuals-chart", "limit_factor", values=[1, 2], limit_factor="3")
    wrong("ewma-chart", "weight", values=[1], target=1, sigma=1, weight=1.1)
    wrong("ewma-chart", "sigma", values=[1], target=1, sigma=0)
    wrong("cusum-chart", "h", values=[1], target=1, k=0, h=0)
    wrong("p-chart", "samples[0].found", samples=[{"found": 3, "of": 2}])
    wrong("p-chart", "samples", samples=[])
    wrong("c-chart", "counts[0]", counts=[1.5])
    wrong("c-chart", "counts", counts=[])


# --- anything --------------------------------------------------------------------------------------------

leaves = st.one_of(
    st.integers(-5, 50),
    st.floats(-1e3, 1e3, allow_nan=False),
    st.sampled_from([1e300, 1e-300, 0, "2026-03-10", "side", "as found", "", True, None]),
)
anything = st.recursive(leaves, lambda inner: st.lists(inner, max_size=4), max_leaves=6)


@settings(max_examples=300, deadline=None)
@given(st.sampled_from(sorted(COMPUTATIONS)), st.data())
def test_no_input_breaks_a_computation(name, data):
    """An example with one value anywhere exchanged: an answer, a refusal or a message, never a traceback."""
    inputs = json.loads(COMPUTATIONS[name].example)
    optional = COMPUTATIONS[name].optional
    if optional and data.draw(st.booleans()):
        inputs[data.draw(st.sampled_from(optional))] = data.draw(anything)
    place: object = inputs
    while True:
        key = data.draw(st.sampled_from(sorted(place) if isinstance(place, dict) else range(len(place))))
        if not isinstance(place[key], (dict, list)) or not place[key] or data.draw(st.integers(0, 3)) == 0:
            place[key] = data.draw(anything)
            break
        place = place[key]
    assume(len(json.dumps(inputs)) < 20000)
    code, out, err = run(name, json.dumps(inputs))
    assert code in (0, 1, 2) and bool(out) is (code != 2) and bool(err) is (code == 2)
