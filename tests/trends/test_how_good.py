"""Missed indications and agreement of sizes from second looks: worked cases, and that nobody is named."""

from __future__ import annotations

from typing import Any

import pytest
from scipy import stats

from ndi.domain.vocabulary import Method
from ndi.services.how_good import how_good
from ndi.services.study_report import study_report, terminal_lines
from tests.build import num
from tests.trends.past import PEOPLE, Past

SAW = {"interpretation": "relevant", "form": "linear"}


def whole_looks(past: Past, first: int, second: int, both: int, neither: int = 0) -> None:
    """Records fully viewed twice: on so many the first, the second, both saw something relevant."""
    pattern = [(True, True)] * both + [(True, False)] * (first - both) + [(False, True)] * (second - both)
    for number, (one, two) in enumerate(pattern + [(False, False)] * neither):
        record = past.record()
        if one:
            past.relevant(record, f"W-{number}")
        if two:
            past.look(record, **SAW)
        else:
            past.look(record, none_seen=True)


def test_worked_case_of_two_looks(past: Past) -> None:
    """46, 41, 38: N 49.615, sd 0.88, missed 0.6 (worked once by a separate script; D. G. Chapman 1951)."""
    whole_looks(past, 46, 41, 38, neither=5)
    study = how_good(past.work, Method.MT)
    found = study.figures
    assert (found["first"], found["second"], found["both"], found["twice"]) == (46, 41, 38, 54)
    assert found["total"] == pytest.approx(49.615, abs=5e-4) and found["sd"] == pytest.approx(0.88, abs=0.005)
    assert found["missed"] == pytest.approx(0.615, abs=5e-4)
    assert study.enough and "about 0.6 more at least were missed by both" in study.says


@pytest.mark.parametrize(("both", "estimate"), [(6, False), (7, True)])
def test_seven_found_by_both_are_needed(past: Past, both: int, estimate: bool) -> None:
    """D. S. Robson and H. A. Regier 1964, from memory."""
    whole_looks(past, both + 2, both + 1, both)
    study = how_good(past.work, Method.MT)
    assert ("total" in study.figures) is estimate and ("Too few finds" in study.says) is not estimate


@pytest.mark.parametrize(("clean", "finds"), [(60, 0), (20, 2)])
def test_clean_records_looked_at_again(past: Past, clean: int, finds: int) -> None:
    """None of 60: at most 4.87 % (1 - 0.05^(1/60)); else Wilson's interval by scipy.stats.binomtest."""
    for number in range(clean):
        record = past.record()
        if number < finds:
            past.look(record, **SAW)
        else:
            past.look(record, none_seen=True)
    study = how_good(past.work, Method.MT)
    assert (study.figures["clean"], study.figures["clean_finds"]) == (clean, finds)
    if finds:
        wilson = stats.binomtest(finds, clean).proportion_ci(method="wilson")
        assert f"({100 * wilson.low:.1f} % to {100 * wilson.high:.1f} %)" in study.says
    else:
        assert "fewer than 4.9 %" in study.says


def test_a_look_at_a_named_place_says_nothing_of_what_was_missed(past: Past) -> None:
    for number in range(12):
        record = past.record()
        past.relevant(record, f"W-{number}")
        past.look(record, f"W-{number}", length=num("0.21 in"), **SAW)
    study = how_good(past.work, Method.MT)
    assert study.figures["places"] == study.figures["places_again"] == 12 and study.figures["twice"] == 0
    assert "how much is missed is not known" in study.says and not study.enough
    assert study.left_out[0].startswith("12 looks at a place that was named")


def test_a_look_after_the_first_result_was_shown_does_not_count(past: Past) -> None:
    past.look(past.record(), none_seen=True, blind=False)
    study = how_good(past.work, Method.MT)
    assert study.figures["clean"] == 0
    assert study.left_out == ("1 second look made after the first result was shown",)


def test_a_mark_made_after_the_second_look_leaves_the_record_clean(past: Past) -> None:
    """What the second look found is entered afterwards: for the first look the part was clean."""
    record = past.record()
    past.look(record, **SAW, day="2026-03-01")
    past.relevant(record, "W-1", day="2026-03-02")
    study = how_good(past.work, Method.MT)
    assert (study.figures["clean"], study.figures["clean_finds"], study.figures["first"]) == (1, 1, 0)


def test_methods_are_told_apart(past: Past) -> None:
    past.look(past.record(method="PT"), none_seen=True)
    assert how_good(past.work, Method.MT).figures["clean"] == 0
    assert how_good(past.work, Method.PT).figures["clean"] == 1


def test_worked_case_of_sizes_measured_twice(past: Past) -> None:
    """Six pairs: bias 0.000, sd 0.020, limits -/+ 0.039 in (worked once in a spreadsheet; Bland and Altman 1986)."""
    pairs = [(".31", ".29"), (".22", ".20"), (".62", ".65"), (".12", ".13"), (".45", ".44"), (".09", ".10")]
    for number, (one, two) in enumerate(pairs):
        record = past.record()
        past.relevant(record, f"W-{number}", length=one)
        past.look(record, f"W-{number}", length=num(f"{two} in"), **SAW)
    study = how_good(past.work, Method.MT)
    figures: dict[str, Any] = dict(study.figures)
    found = {key: round(float(figures[f"{key}_in"]), 3) for key in ("bias", "sd", "half_width")}
    assert found == {"bias": 0.0, "sd": 0.02, "half_width": 0.039}
    assert "within 0.039 in" in study.says
    error = stats.t.ppf(0.975, 5) * (3 / 6) ** 0.5 * float(figures["sd_in"])
    assert any(line.value.endswith(f"each known to {error:.3f} in") for line in study.lines)
    (chart,) = study.charts
    assert "mean of both sizes" in repr(chart)


def test_sizes_in_millimetres_are_compared_in_inches(past: Past) -> None:
    for number, size in enumerate(("0.10", "0.20", "0.30")):
        record = past.record()
        past.relevant(record, f"W-{number}", length=size)
        past.look(record, f"W-{number}", length=num(f"{25.4 * float(size):.2f} mm"), **SAW)
    assert float(how_good(past.work, Method.MT).figures["bias_in"]) == 0  # type: ignore[arg-type]


@pytest.mark.parametrize("count", [2, 3])
def test_two_pairs_are_too_few(past: Past, count: int) -> None:
    for number in range(count):
        record = past.record()
        past.relevant(record, f"W-{number}", length="0.20")
        past.look(record, f"W-{number}", length=num("0.21 in"), **SAW)
    study = how_good(past.work, Method.MT)
    assert ("Too few sizes measured twice" in study.says) is (count == 2) and bool(study.charts) is (count == 3)


def test_nobody_is_named_anywhere(past: Past) -> None:
    """Neither on the screen's study, nor on paper, nor in JSON, nor at the terminal; and no count is one of a person."""
    whole_looks(past, 9, 9, 8, neither=4)
    record = past.record()
    past.relevant(record, "W-99")
    past.look(record, "W-99", length=num("0.21 in"), **SAW)
    study = how_good(past.work, Method.MT)
    texts = (repr(study), study.as_json(), "\n".join(terminal_lines(study)), repr(study_report(past.work, study)))
    assert [person for person in PEOPLE for text in texts if person in text] == []
    assert all("no ranking" in text for text in texts)
