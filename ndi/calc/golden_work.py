"""Golden values of magnetizing, penetrant, marks, planning, units and light."""

from __future__ import annotations

import json

from ndi.calc.golden_value import HANDBOOK, WORKED, golden


def _coil(
    length: float, od: float, turns: int = 5, position: str = "side", *, bore: float = 0, coil: float = 12
) -> str:
    keys = ("length_in", "od_in", "id_in", "coil_diameter_in", "turns", "position")
    return json.dumps(dict(zip(keys, (length, od, bore, coil, turns, position), strict=True)))


MAGNETIZING = (
    golden(
        "coil",
        "solid 10 x 2, side",
        _coil(10, 2),
        {"ampere_turns": "9000.000", "amps": "1800.000"},
        f"{HANDBOOK} table 3-3: 1800 A",
    ),
    golden(
        "coil",
        "solid 10 x 2, centred",
        _coil(10, 2, position="centred"),
        {"ampere_turns": "10320.000", "amps": "2064.000"},
    ),
    golden(
        "coil",
        "tube 2 / 1.75",
        _coil(10, 2, bore=1.75),
        {"effective_diameter_in": "0.97", "amps": "871.4"},
        f"{HANDBOOK} p. 3-40: effective diameter 0.97, 873 A with it; unrounded {WORKED}",
    ),
    golden(
        "coil",
        "crank",
        _coil(40, 4.5),
        {"fill": "intermediate", "area_ratio": "7.111", "ampere_turns": "4395.1", "amps": "879.0", "positions": "4"},
    ),
    golden(
        "coil",
        "slender crank",
        _coil(40, 2.38),
        {"length_to_diameter": "15", "ampere_turns": "3000.000", "amps": "600.000"},
    ),
    golden("coil", "rod", _coil(9.6, 1.10), {"length_to_diameter": "8.73", "ampere_turns": "5156", "amps": "1031"}),
    golden(
        "coil",
        "piston pin",
        _coil(3.90, 1.125, bore=0.75),
        {"effective_diameter_in": "0.8385", "length_to_diameter": "4.65", "ampere_turns": "9675", "amps": "1935"},
    ),
    golden(
        "coil",
        "rocker shaft",
        _coil(2.9, 0.62, bore=0.31),
        {"effective_diameter_in": "0.5369", "length_to_diameter": "5.40", "ampere_turns": "8332", "amps": "1666"},
    ),
    golden("coil", "20 x 5, side", _coil(20, 5), {"area_ratio": "5.76", "ampere_turns": "8379.2"}),
    golden("coil", "20 x 5, centred", _coil(20, 5, position="centred"), {"ampere_turns": "9473.8"}),
    golden("coil", "camshaft", _coil(31.5, 1), {"positions": "3"}),
    golden("coil", "L/D 1.9", _coil(3.8, 2), {"refusal.limit": "L/D 2"}, "training sheet 'MPI Formula & Data 2022'"),
    golden(
        "coil",
        "boiler code 10 x 2",
        _coil(10, 2)[:-1] + ', "rule": "length to diameter"}',
        {"ampere_turns": "5000.000", "rule_alternatives.0.ampere_turns": "9000.000"},
        "boiler code Article 7, worked example",
    ),
    golden(
        "head-shot",
        "bar of 1.125 through a piston pin",
        {"diameter_in": 1.125},
        {"amps_min": "337.5", "amps_max": "900"},
    ),
    golden(
        "head-shot",
        "1.5 in at 500 A/in",
        {"diameter_in": 1.5, "amps_per_in_min": 500, "amps_per_in_max": 500},
        {"amps_min": "750"},
        "'Amperage Selection', worked example",
    ),
    *(
        golden(
            "offset-bar",
            f"barrel, bar {bar}",
            {"bar_diameter_in": bar, "wall_in": 0.2, "bore_in": 5.25},
            {"effective_diameter_in": counted, "amps_min": low, "amps_max": high, "rotations": times},
        )
        for bar, counted, low, high, times in ((1.0, "1.4", "420", "1120", "5"), (2.0, "2.4", "720", "1920", "3"))
    ),
    golden(
        "offset-bar",
        "1 in bar, 500 A/in",
        {"bar_diameter_in": 1, "wall_in": 0.25, "bore_in": 1.5, "amps_per_in_min": 500, "amps_per_in_max": 500},
        {"amps_min": "750"},
        "'Amperage Selection', inputs of its worked example",
    ),
    golden(
        "counted-diameter",
        "1 in square",
        {"width_in": 1, "height_in": 1, "basis": "perimeter"},
        {"diameter_in": "1.273", "basis_alternatives.1.diameter_in": "1.414"},
        "perimeter / pi against diagonal, plane geometry",
    ),
)

_MARKS = [(1, 2, 0.03), (1.078, 2.004, 0.03), (1.15, 1.998, 0.028), (1.5, 2, 0.03), (1.09, 2.2, 0.03)]


def _marks(marks: list[tuple[float, float, float]]) -> dict[str, object]:
    items = [{"x_in": x, "y_in": y, "length_in": d, "width_in": d} for x, y, d in marks]
    return {"marks": items, "gap_in": 0.0625, "count": 4, "straightness_in": 0.010}


PART = (
    *(
        golden(
            "dwell",
            f"base {base} at {temperature} F{', in service' if service else ''}",
            {"base_min": base, "part_temperature_f": temperature, "service_induced": service},
            {"required_min": needed},
            f"{HANDBOOK}, dwell table",
        )
        for base, temperature, service, needed in (
            (20, 55, True, "40"),
            (10, 70, True, "30"),
            (20, 110, True, "30"),
            (20, 59.9, False, "40"),
            (20, 100.1, False, "10"),
            (4, 110, False, "5"),
        )
    ),
    golden(
        "dwell",
        "38 F",
        {"base_min": 20, "part_temperature_f": 38, "service_induced": False},
        {"refusal.limit": "40 to 120 F"},
        f"{HANDBOOK}, dwell table",
    ),
    golden(
        "group",
        "three in line and two apart",
        _marks(_MARKS),
        {
            "groups.0.members.2": "2",
            "groups.0.form": "rounded",
            "groups.0.length_in": "0.179",
            "groups.1.members.0": "3",
            "groups.2.members.0": "4",
        },
    ),
    golden(
        "group",
        "four in line",
        _marks([*_MARKS[:3], (1.2245, 2, 0.03)]),
        {"groups.0.form": "linear", "groups.0.length_in": "0.2545"},
    ),
    golden("arc", "chord 0.300", {"radius_in": 1.125, "chord_in": 0.3}, {"arc_in": "0.3009"}),
    golden("arc", "chord 1.200", {"radius_in": 1.125, "chord_in": 1.2}, {"arc_in": "1.2657"}),
    golden(
        "card-length",
        "mark below the card",
        {
            "card_width_in": 1,
            "card_height_in": 0.5,
            "corners": [{"x_px": x, "y_px": y} for x, y in ((412, 388), (1195, 341), (1222, 742), (436, 771))],
            "ends": [{"x_px": 618, "y_px": 902}, {"x_px": 905, "y_px": 861}],
            "corner_noise_px": 1.5,
            "end_noise_px": 2,
            "draws": 500,
        },
        {"length_in": "0.3728", "simple_length_in": "0.3696", "sd_in": "0.004", "is_outside_card": "true"},
    ),
    golden(
        "clock-angles",
        "four near 164",
        {"angles_deg": [165, 158, 172, 161]},
        {"mean_deg": "164.0", "resultant": "0.9958", "rayleigh_p": "0.0081"},
    ),
    golden(
        "clock-angles",
        "one away",
        {"angles_deg": [165, 158, 172, 161, 20]},
        {"mean_deg": "153.5", "resultant": "0.646"},
    ),
)

PLANNING = (
    golden(
        "look-ahead",
        "wait on purpose",
        {
            "jobs": [
                {"name": name, "release_min": release, "deadline_min": deadline, "work_min": work}
                for name, release, deadline, work in (("X", 0, 40, 15), ("Y", 5, 25, 12), ("Z", 10, 60, 20))
            ]
        },
        {
            "order.0.name": "Y",
            "order.0.end_min": "17",
            "order.1.end_min": "32",
            "order.2.end_min": "52",
            "wait_min": "5",
        },
    ),
    golden(
        "serial",
        "two digits swapped",
        {"typed": "6H-C-3319", "known": ["6H-C-3391"]},
        {"matches.0.distance": "1"},
    ),
    golden("convert", "2 fc", {"value": 2, "from": "fc", "to": "lx"}, {"value": "21.528"}, "1 / 0.3048^2"),
    golden("convert", "30 G", {"value": 30, "from": "G", "to": "A/m"}, {"value": "2387.3"}, "1 Oe = 1000/(4 pi) A/m"),
    golden(
        "screen-light",
        "300 cd/m2",
        {"luminance_cd_m2": 300, "area_m2": 0.159, "distance_m": 0.6},
        {"illuminance_lx": "132.5"},
    ),
    golden(
        "lamp-distance",
        "an inch nearer",
        {"uv_a_uw_cm2": 1000, "distance_in": 15, "to_distance_in": 14},
        {"change_percent": "14.8"},
    ),
    golden(
        "lamp-distance",
        "where 880 reads 1000",
        {"uv_a_uw_cm2": 880, "distance_in": 15, "to_uw_cm2": 1000},
        {"distance_in": "14.07"},
    ),
)
