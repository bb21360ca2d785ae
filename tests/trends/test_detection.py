"""Probability of detection from a table: a worked case, a general library's fit, the refusals, and broken tables."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy import optimize

from ndi.domain.quantity import Number
from ndi.services.chart_models import Chart, Curve, Points, Upright
from ndi.services.detection_study import Target, detection_study
from ndi.shop_files.qualification import read_targets
from ndi.shop_files.reading import TableErrors
from tests.calc.published_data import rows

SIZES = [
    ".015",
    ".018",
    ".020",
    ".022",
    ".025",
    ".025",
    ".028",
    ".030",
    ".030",
    ".033",
    ".035",
    ".035",
    ".038",
    ".040",
    ".040",
    ".043",
    ".045",
    ".048",
    ".050",
    ".050",
    ".053",
    ".055",
    ".058",
    ".060",
    ".060",
    ".065",
    ".070",
    ".070",
    ".075",
    ".080",
    ".080",
    ".085",
    ".090",
    ".095",
    ".100",
    ".110",
    ".120",
    ".130",
    ".150",
    ".180",
]
HITS = [
    "0",
    "0",
    "0",
    "0",
    "1",
    "0",
    "0",
    "0",
    "1",
    "0",
    "0",
    "1",
    "0",
    "1",
    "0",
    "1",
    "1",
    "0",
    "1",
    "1",
    "0",
    "1",
    "1",
    "1",
    "1",
    "1",
    "0",
    "1",
    "1",
    "1",
    "1",
    "1",
    "1",
    "1",
    "1",
    "1",
    "1",
    "1",
    "1",
    "1",
]
WORKED = tuple(Target(Number(size, "in"), hit == "1") for size, hit in zip(SIZES, HITS, strict=True))


def test_worked_case_of_forty_targets() -> None:
    """b0 11.92902, b1 3.65289, a50 0.03817, a90 0.06966, a90/95 0.1111 by likelihood ratio, 0.1300 by Wald (separate script)."""
    study = detection_study(WORKED, "rods, oil bath")
    found = study.figures
    assert found["b0"] == pytest.approx(11.92902, abs=5e-6) and found["b1"] == pytest.approx(3.65289, abs=5e-6)
    assert found["a50_in"] == pytest.approx(0.03817, abs=5e-6) and found["a90_in"] == pytest.approx(0.06966, abs=5e-6)
    assert found["a90_95_likelihood_ratio_in"] == pytest.approx(0.1111, abs=5e-5)
    assert found["a90_95_wald_in"] == pytest.approx(0.1300, abs=5e-5)
    assert study.enough and "with 95 % confidence at 0.111 in" in study.says
    assert any(line.value == "rods, oil bath" for line in study.lines)


def test_the_drawn_curve_is_that_of_greatest_likelihood() -> None:
    """The curve in the chart beside a fit by scipy.optimize.minimize of the same likelihood."""
    chart = detection_study(WORKED, "x").charts[0]
    assert isinstance(chart, Chart) and chart.log_x
    x = np.log([float(size) for size in SIZES])
    y = np.array([int(hit) for hit in HITS])

    def loss(b: np.ndarray) -> float:
        eta = b[0] + b[1] * x
        return float(np.sum(np.logaddexp(0, eta) - y * eta))

    best = optimize.minimize(loss, [0.0, 1.0], method="BFGS", options={"gtol": 1e-9}).x
    curve, lower = [layer for layer in chart.layers if isinstance(layer, Curve)]
    assert curve.ys == pytest.approx(1 / (1 + np.exp(-(best[0] + best[1] * np.log(curve.xs)))), abs=1e-5)
    assert all(low < middle for low, middle in zip(lower.ys, curve.ys, strict=True))
    wald = np.interp(0.9, lower.ys, lower.xs)
    assert wald == pytest.approx(0.1300, abs=2e-3)
    assert [line.x for line in chart.layers if isinstance(line, Upright)] == pytest.approx([0.06966, 0.1111], abs=5e-5)
    assert [len(p.xs) for p in chart.layers if isinstance(p, Points)] == [26, 14]


def test_synthetic_set_in_millimetres() -> None:
    """Sixty targets of tests/data with answers of another program's iterations: a90 3.3875 mm, a90/95 5.6424 mm."""
    targets = [Target(Number(row["size_mm"], "mm"), row["hit"] == "1") for row in rows("pod-hitmiss-synthetic.csv")]
    found = detection_study(targets, "x").figures
    assert float(found["a90_in"]) * 25.4 == pytest.approx(3.387519087, rel=1e-6)  # type: ignore[arg-type]
    assert float(found["a90_95_likelihood_ratio_in"]) * 25.4 == pytest.approx(5.642379082, rel=1e-6)  # type: ignore[arg-type]


def test_thirty_nine_targets_are_refused() -> None:
    """40 at least, from memory (60 is the usual plan)."""
    study = detection_study(WORKED[:-1], "x")
    assert not study.enough and "No curve: found 39 targets, needed 40 targets" in study.says


def test_no_misses_are_refused_and_29_of_29_shown_with_its_meaning() -> None:
    """0.9^29 = 0.0471; the lower bound 0.05^(1/29) = 0.9019."""
    study = detection_study([Target(Number("0.1", "in"), True)] * 29, "x")
    assert not study.enough and "0.9^29 = 0.0471" in study.says and "at least 90.2 %" in study.says
    many = detection_study([Target(Number(f"0.{n}", "in"), True) for n in range(10, 60)], "x")
    assert "No curve: found no misses" in many.says


def test_sizes_that_do_not_overlap_are_refused() -> None:
    targets = [Target(Number(f"0.0{n}", "in"), n >= 40) for n in range(10, 60)]
    study = detection_study(targets, "x")
    assert "No curve" in study.says and "all below were missed and all above found" in study.says
    assert study.charts and not any(isinstance(layer, Curve) for layer in study.charts[0].layers)  # type: ignore[union-attr]


def test_what_was_not_stated_may_not_be_quoted() -> None:
    assert any("quoted for nothing" in line.value for line in detection_study(WORKED, "").lines)


# --- the table ----------------------------------------------------------------------------------------


def written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "set.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_table_is_read_as_it_was_typed(tmp_path: Path) -> None:
    read = read_targets(written(tmp_path, "size_in,found\n.015,no\n0.180,yes\n+0.2,YES\n"))
    assert read == (
        Target(Number(".015", "in"), False),
        Target(Number("0.180", "in"), True),
        Target(Number("0.2", "in"), True),
    )
    assert read_targets(written(tmp_path, "size_mm,found\n0.5,yes\n")) == (Target(Number("0.5", "mm"), True),)


def test_everything_wrong_with_a_table_is_said_at_once(tmp_path: Path) -> None:
    path = written(tmp_path, "size_in,size_mm,found\n0.1,,maybe\n,,yes\n0.1,2,yes\n0,,yes\nx,,no\n0.2,,\n0.3,,yes\n")
    with pytest.raises(TableErrors) as caught:
        read_targets(path)
    assert [(error.line, error.column) for error in caught.value.errors] == [
        (2, "found"),
        (3, None),
        (4, None),
        (5, "size_in"),
        (6, "size_in"),
        (7, "found"),
    ]
    assert "nothing was brought in" in str(caught.value)


@pytest.mark.parametrize("text", ["", "size_in,found\n", "a,b\n1,2\n"])
def test_a_table_without_targets_is_said(tmp_path: Path, text: str) -> None:
    with pytest.raises(TableErrors):
        read_targets(written(tmp_path, text))


def test_a_file_that_is_not_there_is_said(tmp_path: Path) -> None:
    with pytest.raises(TableErrors, match="cannot be read"):
        read_targets(tmp_path / "nothing.csv")


@pytest.mark.parametrize(
    ("head", "missing"), [("size_mm,hit", "no column found"), ("size,found", "no column size_in or size_mm")]
)
def test_column_that_a_table_lacks_is_said_once(tmp_path: Path, head: str, missing: str) -> None:
    with pytest.raises(TableErrors, match=missing) as told:
        read_targets(written(tmp_path, f"{head}\n" + "0.5,yes\n" * 60))
    assert str(told.value).startswith("1 problem;") and head.replace(",", ", ") in str(told.value)
