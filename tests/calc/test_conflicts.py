"""Where published sources contradict each other: an input names its choice, the result shows every value with its source."""

import json

import pytest

from ndi.calc.computations.table import answer

COIL = {"length_in": 10, "od_in": 2, "id_in": 0, "coil_diameter_in": 2.5, "turns": 5, "position": "side"}
BAR = {"bar_diameter_in": 1, "wall_in": 0.25, "bore_in": 1.5, "amps_per_in_min": 500, "amps_per_in_max": 500}
DWELL = {"base_min": 20, "part_temperature_f": 60, "service_induced": False}
FLOW = {"values": [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]}
MARK = {
    "marks": [{"x_in": 0, "y_in": 0, "length_in": 0.3, "width_in": 0.1}],
    "gap_in": 0.1,
    "count": 4,
    "straightness_in": 0,
}

CASES = [
    # computation, inputs, key, (choice, field, value) of each source; values by hand from the formulas printed there
    ("coil", COIL, "high_fill", [("plus 2", "ampere_turns", 5000), ("plus 5", "ampere_turns", 3500)]),
    (
        "coil",
        COIL | {"coil_diameter_in": 12},
        "rule",
        [("fill class", "ampere_turns", 9000), ("length to diameter", "ampere_turns", 5000)],
    ),
    (
        "coil",
        COIL | {"coil_diameter_in": 12, "length_in": 6, "position": "centred"},
        "rule",
        [("fill class", "ampere_turns", 43000 * 6 / 13), ("length to diameter", "ampere_turns", 15000)],
    ),
    ("offset-bar", BAR, "diameter_basis", [("bar", "amps_min", 750), ("part", "amps_min", 1250)]),
    (
        "head-shot",
        {"diameter_in": 2},
        "amps_practice",
        [("300-800", "amps_max", 1600), ("800-1000", "amps_max", 2000), ("1000", "amps_max", 2000)],
    ),
    (
        "counted-diameter",
        {"width_in": 1, "height_in": 1},
        "basis",
        [("perimeter", "diameter_in", 4 / 3.141592653589793), ("diagonal", "diameter_in", 2**0.5)],
    ),
    ("dwell", DWELL, "edge", [("middle", "required_min", 20), ("longer", "required_min", 40)]),
    (
        "dwell",
        DWELL | {"part_temperature_f": 55},
        "cold_band",
        [("40-60", "required_min", 40), ("40-50", "required_min", 20)],
    ),
    (
        "individuals-chart",
        FLOW,
        "limit_factor",
        [("3/d2", "upper_limit", 55.804078), ("2.66", "upper_limit", 55.804889)],
    ),
]


def ask(name, inputs):
    code, out, err = answer(name, json.dumps(inputs))
    assert code == 0, out or err
    return json.loads(out)


@pytest.mark.parametrize(("name", "inputs", "key", "expected"), CASES, ids=lambda c: c if isinstance(c, str) else None)
def test_each_choice_gives_its_value_and_shows_all(name, inputs, key, expected):
    for word, field, value in expected:
        told = ask(name, inputs | {key: word})
        found = told["result"]
        assert found[field] == pytest.approx(value, rel=1e-6), word
        rows = found[f"{key}_alternatives"]
        assert [row["choice"] for row in rows] == [choice for choice, _, _ in expected]
        assert [row[f] for row, (_, f, _) in zip(rows, expected, strict=True)] == [
            pytest.approx(v, rel=1e-6) for _, _, v in expected
        ]
        assert len({row["source"] for row in rows}) == len(rows) and all(row["source"] for row in rows)


@pytest.mark.parametrize(("name", "inputs", "key", "expected"), CASES, ids=lambda c: c if isinstance(c, str) else None)
def test_without_a_choice_the_first_counts_and_the_result_keeps_its_keys(name, inputs, key, expected):
    if key == "basis":
        return  # there the choice must be named
    found = ask(name, inputs)["result"]
    assert not [k for k in found if k.endswith("_alternatives")]
    _, field, value = expected[0]
    assert found[field] == pytest.approx(value, rel=1e-6)


def test_no_alternatives_where_sources_agree():
    assert ask("dwell", DWELL | {"part_temperature_f": 70, "edge": "middle"})["result"] == {"required_min": 20}
    low = COIL | {"coil_diameter_in": 12, "high_fill": "plus 5"}
    assert "high_fill_alternatives" not in ask("coil", low)["result"]


def test_exactly_three_to_one_shows_both_readings():
    found = ask("group", MARK | {"ratio_inclusive": True})["result"]
    rows = found["ratio_inclusive_alternatives"]
    assert found["groups"][0]["form"] == "linear"
    assert [row["groups"][0]["form"] for row in rows] == ["linear", "rounded"]
    other = MARK | {"marks": [MARK["marks"][0] | {"length_in": 0.31}], "ratio_inclusive": False}
    assert list(ask("group", other)["result"]) == ["groups"]


def test_an_alternative_that_has_no_answer_says_why():
    short = {"length_in": 2, "od_in": 2.5, "id_in": 0, "coil_diameter_in": 12, "turns": 5, "position": "centred"}
    found = ask("coil", short | {"floor": 0.5, "rule": "length to diameter"})["result"]["rule_alternatives"]
    assert "refused" in found[0] and found[1]["ampere_turns"] == pytest.approx(45000 / 0.8)


@pytest.mark.parametrize(
    ("name", "inputs", "key"),
    [
        ("coil", COIL | {"high_fill": "plus 3"}, "high_fill"),
        ("coil", COIL | {"rule": 2}, "rule"),
        ("offset-bar", BAR | {"diameter_basis": "bore"}, "diameter_basis"),
        ("head-shot", {"diameter_in": 2, "amps_practice": "1000", "amps_per_in_min": 1}, "amps_practice"),
        ("dwell", DWELL | {"cold_band": "30-60"}, "cold_band"),
    ],
)
def test_unknown_choice_names_its_key(name, inputs, key):
    code, out, err = answer(name, json.dumps(inputs))
    assert (code, out) == (2, "") and f"{key}: " in err


@pytest.mark.parametrize(
    ("temperature", "needed"), [(49.9, 40), (50, 20), (50.1, 20), (40, 40), (100, 20), (100.1, 10)]
)
def test_dwell_doubled_up_to_50(temperature, needed):
    inputs = DWELL | {"part_temperature_f": temperature, "cold_band": "40-50"}
    assert ask("dwell", inputs)["result"]["required_min"] == needed


@pytest.mark.parametrize(("length", "turns"), [(8, 35000 / 6), (7.999999, 45000 / 3.9999995), (40, 35000 / 17)])
def test_boiler_code_changes_at_four(length, turns):
    inputs = COIL | {"length_in": length, "rule": "length to diameter"}
    assert ask("coil", inputs)["result"]["ampere_turns"] == pytest.approx(turns, rel=1e-9)


@pytest.mark.parametrize(("length", "asks_for_pole_pieces"), [(5, True), (6, True), (6.000001, False)])
def test_length_to_diameter_floor_shows_both_practices(length, asks_for_pole_pieces):
    """One training sheet uses the formulas from L/D 2 on; the handbook wants pole pieces at 3 and less (p. 3-41)."""
    found = ask("coil", COIL | {"coil_diameter_in": 12, "length_in": length, "floor": 2})["result"]
    if not asks_for_pole_pieces:
        assert "floor_alternatives" not in found
        return
    low, high = found["floor_alternatives"]
    assert low["ampere_turns"] == pytest.approx(45000 / (length / 2), rel=1e-9)
    assert high["choice"] == "3" and "refused" in high and "3-41" in high["source"]
