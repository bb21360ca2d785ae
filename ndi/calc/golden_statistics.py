"""Golden values of trends, detection, rates and control charts."""

from __future__ import annotations

from ndi.calc.computations import proof
from ndi.calc.golden_value import NIST, golden

_DAYS = (0, 1, 2, 3, 4, 7, 8, 9, 10, 11, 14, 15, 16, 17, 18, 21, 22, 23, 24, 25, 28)
_UV_A: tuple[int, ...] = (1620, 1612, 1625, 1604, 1598, 1590, 1596, 1575, 1581, 1570, 1562)
_UV_A += (1548, 1555, 1541, 1549, 1530, 1522, 1527, 1511, 1515, 1498)
LAMP = {
    "readings": [{"day": day, "uv_a_uw_cm2": value} for day, value in zip(_DAYS, _UV_A, strict=True)],
    "at_day": 29,
    "first_date": "2026-02-09",
}
_SHOTS = (0, 60, 118, 175, 240, 301, 355, 420)
_ML = (0.25, 0.24, 0.23, 0.215, 0.205, 0.19, 0.18, 0.165)

TRENDS = (
    golden(
        "lamp-trend",
        "limit 1000, a reading of 880",
        {**LAMP, "limit_uw_cm2": 1000, "new_uw_cm2": 880},
        {
            "intercept": "7.391185",
            "slope_per_day": "-0.00278914",
            "percent_per_day": "-0.279",
            "s": "0.0036779",
            "predicted_uw_cm2": "1495.6",
            "low_uw_cm2": "1483.0",
            "high_uw_cm2": "1508.4",
            "crossing_day": "173.3",
            "crossing_date": "2026-08-01",
            "crossing_day_lower": "164.1",
            "crossing_date_lower": "2026-07-23",
            "ratio": "0.588",
            "z": "-131",
            "is_jump": "true",
        },
    ),
    golden(
        "lamp-trend",
        "action limit 1200, a reading of 1380",
        {**LAMP, "limit_uw_cm2": 1200, "new_uw_cm2": 1380},
        {"crossing_day_lower": "102.2", "crossing_date_lower": "2026-05-22", "ratio": "0.923", "z": "-19.9"},
    ),
    golden(
        "bath-trend",
        "eight results",
        {
            "results": [{"shots": s, "particles_ml": ml} for s, ml in zip(_SHOTS, _ML, strict=True)],
            "limits_ml": [0.15, 0.10],
            "volume_l": 95,
            "target_ml": 0.20,
            "mix_g_per_l": 1.25,
            "mix_ml": 0.25,
        },
        {
            "intercept_ml": "0.251898",
            "slope_ml_per_shot": "-0.00020382",
            "s_ml": "0.00164",
            "forecast.0.at_shot": "499.9",
            "forecast.0.shots_left": "73.6",
            "forecast.1.at_shot": "745.2",
            "dose_g": "16.6",
        },
    ),
    golden(
        "meter-correction",
        "light meter 9 % high",
        {
            "error_percent": 9,
            "calibrated_date": "2025-09-20",
            "found_date": "2026-03-20",
            "readings": [
                {"date": day, "value": value}
                for day, value in (
                    ("2025-10-01", 1085),
                    ("2025-12-15", 1060),
                    ("2026-01-10", 1085),
                    ("2026-03-01", 1060),
                    ("2026-03-10", 1490),
                )
            ],
            "limit_min": 1000,
        },
        {
            "critical_reading_min": "1090",
            "readings.0.worst_case": "995.4",
            "readings.0.linear_drift": "1079.1",
            "readings.1.worst_case": "972.5",
            "readings.1.linear_drift": "1016.5",
            "readings.2.linear_drift": "1027.8",
            "readings.3.linear_drift": "981.0",
            "readings.3.linear_is_within": "false",
            "readings.4.worst_case": "1367.0",
            "readings.4.linear_drift": "1373.2",
        },
    ),
)

PROOF = (
    golden(
        "detection",
        "forty targets",
        f'{{"targets": [{proof.EXAMPLE_TARGETS}]}}',
        {
            "b0": "11.92902",
            "b1": "3.65289",
            "se_b0": "3.7198",
            "se_b1": "1.1663",
            "log_likelihood": "-16.04192",
            "a50_in": "0.03817",
            "a90_in": "0.06966",
            "a90_95_likelihood_ratio_in": "0.1111",
            "a90_95_wald_in": "0.1300",
        },
    ),
    golden("demonstration", "29 of 29", {"found": 29, "of": 29, "share": 0.9}, {"chance": "0.0471"}, "0.9^29"),
    golden(
        "missed",
        "46, 41, 38",
        {"first": 46, "second": 41, "both": 38},
        {
            "total": "49.615",
            "sd": "0.88",
            "distinct": "49",
            "missed": "0.6",
            "first_share": "0.927",
            "second_share": "0.826",
        },
    ),
    golden(
        "crack-rate",
        "3 of 41, family 2 of 50",
        {"found": 3, "of": 41, "prior_found": 2, "prior_of": 50},
        {
            "share": "0.073",
            "low": "0.025",
            "high": "0.194",
            "shrunk_share": "0.055",
            "shrunk_low": "0.018",
            "shrunk_high": "0.110",
        },
    ),
    golden("crack-rate", "0 of 18", {"found": 0, "of": 18}, {"low": "0.000", "high": "0.176"}),
    golden("crack-rate", "11 of 212", {"found": 11, "of": 212}, {"share": "0.052", "low": "0.029", "high": "0.091"}),
    golden(
        "crack-rate",
        "1 of 2, family 2 of 50",
        {"found": 1, "of": 2, "prior_found": 2, "prior_of": 50},
        {"shrunk_share": "0.058", "shrunk_low": "0.012", "shrunk_high": "0.135"},
    ),
    golden("crack-rate", "0 of 60", {"found": 0, "of": 60}, {"upper_one_sided": "0.0487"}),
    golden(
        "crack-rate-hours",
        "7 in 61400 h",
        {"found": 7, "hours": 61400},
        {"rate": "0.114", "low": "0.0458", "high": "0.2349"},
    ),
    golden(
        "second-look",
        "six pairs",
        {
            "pairs": [
                {"first_in": a, "second_in": b}
                for a, b in ((0.31, 0.29), (0.22, 0.20), (0.62, 0.65), (0.12, 0.13), (0.45, 0.44), (0.09, 0.10))
            ]
        },
        {"bias_in": "0", "sd_in": "0.020", "low_in": "-0.039", "high_in": "0.039"},
    ),
)

_FLOW = (49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1)
_EWMA = (52, 47, 53, 49.3, 50.1, 47, 51, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1)
_CUSUM: tuple[float, ...] = (324.925, 324.675, 324.725, 324.35, 325.35, 325.225, 324.125, 324.525, 325.225, 324.6)
_CUSUM += (324.625, 325.15, 328.325, 327.25, 327.825, 328.5, 326.675, 327.775, 326.875, 328.35)
_WAFERS = (16, 14, 28, 16, 12, 20, 10, 12, 10, 17, 19, 17, 14, 16, 15, 13, 14, 16, 11, 20, 11, 19, 16, 31, 13)

CHARTS = (
    golden(
        "individuals-chart",
        "flow rate",
        {"values": _FLOW, "limit_factor": "3/d2"},
        {
            "centre": "50.81",
            "mean_moving_range": "1.8778",
            "upper_limit": "55.8041",
            "lower_limit": "45.8159",
            "limit_factor_alternatives.1.upper_limit": "55.8049",
        },
        f"{NIST} 6.3.2.2",
    ),
    golden(
        "ewma-chart",
        "twenty values",
        {"values": _EWMA, "target": 50, "sigma": 2.0539},
        {
            "upper_limit": "52.5884",
            "lower_limit": "47.412",
            "averages.0": "50.60",
            "averages.19": "51.99",
            "beyond": "[]",
        },
        f"{NIST} 6.3.2.4 (prints 47.4115 for 47.41157)",
    ),
    golden(
        "cusum-chart",
        "twenty values",
        {"values": _CUSUM, "target": 325, "k": 0.3175, "h": 4.1959},
        {"beyond.0": "13", "high.13": "4.9400", "high.19": "19.0350", "low.7": "0.7150"},
        f"{NIST} 6.3.2.3",
    ),
    golden(
        "c-chart",
        "wafers",
        {"counts": _WAFERS},
        {"centre": "16", "upper_limit": "28", "lower_limit": "4", "beyond": "[23]"},
        f"{NIST} 6.3.3.1",
    ),
)
