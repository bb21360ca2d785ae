"""``ndi compute``: exit codes, keys, exact reading of numbers, refusals, and one case of each computation."""

import io
import json
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ndi.cli.compute import COMPUTATIONS, main, run

EXAMPLES = {name: computation.example for name, computation in COMPUTATIONS.items()}


def ask(name, **inputs):
    code, out, err = run(name, json.dumps(inputs))
    assert (code, err) == (0, ""), err
    return json.loads(out)["result"]


def refused(name, **inputs):
    code, out, err = run(name, json.dumps(inputs))
    assert (code, err) == (1, "")
    found = json.loads(out)
    assert list(found) == ["name", "inputs", "refusal"]
    assert list(found["refusal"]) == ["rule", "found", "limit", "ways_out"] and found["refusal"]["ways_out"]
    return found["refusal"]


def wrong(name, text, key):
    code, out, err = run(name, text)
    assert (code, out) == (2, "") and key in err and err.endswith("\n"), (code, out, err)
    return err


COIL = {"length_in": 40, "od_in": 4.5, "id_in": 0, "coil_diameter_in": 12, "turns": 5, "position": "side"}


@pytest.mark.parametrize("name", EXAMPLES)
def test_run_example_gives_the_five_parts(name):
    code, out, err = run(name, EXAMPLES[name])
    found = json.loads(out)
    assert (code, err, out.count("\n")) == (0, "", 1)
    assert list(found) == ["name", "inputs", "formula", "source", "result"]
    assert found["name"] == name and found["inputs"] == json.loads(EXAMPLES[name])
    assert found["formula"] and found["source"]


@pytest.mark.parametrize("name", EXAMPLES)
def test_run_each_key_missing_unknown_null_and_twice(name):
    example = json.loads(EXAMPLES[name])
    for key in example:
        if key in COMPUTATIONS[name].needed:
            wrong(name, json.dumps({k: v for k, v in example.items() if k != key}), f"{key}: this key is missing")
        wrong(name, json.dumps(example | {key: None}), f"{key}: ")
        wrong(
            name,
            EXAMPLES[name][:-1] + f', "{key}": {json.dumps(example[key])}' + "}",
            f"{key}: this key is given twice",
        )
        wrong(name, json.dumps({k + "x" if k == key else k: v for k, v in example.items()}), f"{key}x: ")


@pytest.mark.parametrize("name", EXAMPLES)
@pytest.mark.parametrize(
    "bad", ['"2"', "true", "false", "NaN", "Infinity", "-Infinity", "null", "[]", "{}", "1e999999999"]
)
def test_run_number_that_is_none_names_its_key(name, bad):
    example = json.loads(EXAMPLES[name])
    numbers = [key for key, value in example.items() if isinstance(value, (int, float)) and value is not False]
    for key in numbers:
        parts = [f'"{k}": {bad if k == key else json.dumps(v)}' for k, v in example.items()]
        wrong(name, "{" + ", ".join(parts) + "}", f"{key}: ")


@pytest.mark.parametrize(
    "text", ["", "nothing", "[]", "3", "null", '"a"', "{", '{"a": 1} x', "[" * 100_000, "\ufeff{}"]
)
def test_run_text_that_is_no_object_is_wrong_input(text):
    wrong("head-shot", text, "standard input")


def test_run_unknown_name_lists_the_known_ones():
    code, out, err = run("head", "{}")
    assert (code, out) == (2, "") and all(name in err for name in COMPUTATIONS)


def test_run_numbers_are_exact_and_echoed_as_typed():
    code, out, _ = run("head-shot", '{"diameter_in": 0.100000000000000000000000000010}')
    assert code == 0 and '"inputs": {"diameter_in": 0.100000000000000000000000000010}' in out


def test_run_result_beyond_doubles_is_wrong_input():
    wrong("head-shot", '{"diameter_in": 1e399}', "diameter_in")


def test_head_shot_default_and_given_amps_per_inch():
    assert ask("head-shot", diameter_in=2.25) == {"amps_min": 675, "amps_max": 1800}
    assert ask("head-shot", diameter_in=2, amps_per_in_min=500, amps_per_in_max=500) == {
        "amps_min": 1000,
        "amps_max": 1000,
    }
    wrong("head-shot", '{"diameter_in": 2, "amps_per_in_min": 500}', "amps_per_in_max: ")
    wrong("head-shot", '{"diameter_in": 2, "amps_per_in_max": 500}', "amps_per_in_min: ")
    wrong("head-shot", '{"diameter_in": 2, "amps_per_in_min": 501, "amps_per_in_max": 500}', "amps_per_in_min: ")
    wrong("head-shot", '{"diameter_in": 0}', "diameter_in: ")


def test_coil_crank():
    found = ask("coil", **COIL)
    assert list(found) == [
        "fill",
        "area_ratio",
        "effective_diameter_in",
        "length_to_diameter",
        "length_to_diameter_raw",
        "ampere_turns",
        "amps",
        "positions",
    ]
    assert (found["fill"], found["positions"], round(found["ampere_turns"], 1)) == ("intermediate", 4, 4395.1)
    long = ask("coil", **(COIL | {"od_in": 2.38}))
    assert (long["length_to_diameter"], round(long["length_to_diameter_raw"], 1)) == (15, 16.8)


def test_coil_below_the_floor_is_refused_and_asks_for_extensions():
    found = refused("coil", **(COIL | {"length_in": 8.9}))
    assert "extensions" in found["ways_out"][0] and "0.1 in" in found["ways_out"][0]
    assert ask("coil", **(COIL | {"length_in": 9}))["length_to_diameter"] == 2
    refused("coil", **(COIL | {"length_in": 9, "floor": 3}))


def test_coil_refusal_never_asks_for_too_short_an_extension():
    inputs = {"length_in": 3, "od_in": 2.7, "id_in": 1.1, "coil_diameter_in": 12, "turns": 5, "position": "side"}
    missing = refused("coil", **inputs)["ways_out"][0].split("diameter, ")[1].split(" in")[0]
    assert ask("coil", **(inputs | {"length_in": 3 + float(missing)}))["length_to_diameter"] >= 2


@pytest.mark.parametrize(
    ("change", "key"),
    [
        ({"id_in": 4.5}, "id_in"),
        ({"id_in": -0.1}, "id_in"),
        ({"od_in": 12}, "od_in"),
        ({"turns": 0}, "turns"),
        ({"turns": 2.5}, "turns"),
        ({"position": "top"}, "position"),
        ({"floor": 0}, "floor"),
        ({"length_in": -1}, "length_in"),
    ],
)
def test_coil_impossible_value_names_its_key(change, key):
    wrong("coil", json.dumps(COIL | change), key)


def test_offset_bar_placements():
    found = ask("offset-bar", bar_diameter_in=0.75, wall_in=0.25, bore_in=1.5)
    assert found == {
        "effective_diameter_in": 1.25,
        "amps_min": 375,
        "amps_max": 1000,
        "rotations": 2,
        "rotations_outside": 3,
    }
    assert ask("offset-bar", bar_diameter_in=1.5, wall_in=0.25, bore_in=1.5)["rotations"] == 1
    wrong("offset-bar", '{"bar_diameter_in": 1.51, "wall_in": 0.25, "bore_in": 1.5}', "bar_diameter_in")


def test_dwell_cases_and_refusal():
    def needed(base, temperature, service=False, **more):
        return ask("dwell", base_min=base, part_temperature_f=temperature, service_induced=service, **more)[
            "required_min"
        ]

    assert [needed(20, t) for t in (60, 59.9, 100, 100.1)] == [20, 40, 20, 10]
    assert (needed(4, 110), needed(20, 55, True), needed(20, 60, edge="longer")) == (5, 40, 40)
    found = refused("dwell", base_min=20, part_temperature_f=120.1, service_induced=False)
    assert found["found"] == "120.1 F" and found["limit"] == "40 to 120 F" and "P06" in found["rule"]
    wrong("dwell", '{"base_min": 20, "part_temperature_f": 70, "service_induced": 0}', "service_induced: ")
    wrong("dwell", '{"base_min": 20, "part_temperature_f": 70, "service_induced": true, "edge": "x"}', "edge: ")
    wrong("dwell", '{"base_min": 0, "part_temperature_f": 70, "service_induced": true}', "base_min: ")
    wrong("dwell", '{"base_min": 9, "part_temperature_f": -500, "service_induced": true}', "part_temperature_f: ")


def _mark(x, y, diameter):
    return {"x_in": x, "y_in": y, "length_in": diameter, "width_in": diameter}


GROUP = {
    "marks": [_mark(1, 2, 0.03), _mark(1.078, 2.004, 0.03), _mark(1.15, 1.998, 0.028), _mark(1.2245, 2, 0.03)],
    "gap_in": 0.0625,
    "count": 4,
    "straightness_in": 0.01,
}


def test_group_row_of_four_and_ratio():
    (row,) = ask("group", **GROUP)["groups"]
    assert row == {"members": [0, 1, 2, 3], "form": "linear", "length_in": 0.2545}
    three_to_one = GROUP | {"marks": [{"x_in": 0, "y_in": 0, "length_in": 0.3, "width_in": 0.1}]}
    assert ask("group", **three_to_one)["groups"][0]["form"] == "linear"
    assert ask("group", **(three_to_one | {"ratio_inclusive": False}))["groups"][0]["form"] == "rounded"
    assert ask("group", **(GROUP | {"marks": []})) == {"groups": []}


@pytest.mark.parametrize(
    ("change", "key"),
    [
        ({"marks": [_mark(0, 0, 1), _mark(0, "0", 1)]}, "marks[1].y_in: "),
        ({"marks": [_mark(0, 0, 1) | {"z_in": 1}]}, "marks[0].z_in: "),
        ({"marks": [{"x_in": 0}]}, "marks[0].y_in: "),
        ({"marks": [3]}, "marks[0]: "),
        ({"marks": {}}, "marks: "),
        ({"marks": [_mark(0, 0, 1) | {"width_in": 1.1}]}, "marks[0].width_in: "),
        ({"marks": [_mark(0, 0, 0)]}, "marks[0].length_in: "),
        ({"gap_in": -0.1}, "gap_in: "),
        ({"straightness_in": -0.1}, "straightness_in: "),
        ({"count": 3.5}, "count: "),
        ({"count": 1}, "count: "),
        ({"ratio_inclusive": 1}, "ratio_inclusive: "),
    ],
)
def test_group_impossible_value_names_its_key(change, key):
    wrong("group", json.dumps(GROUP | change), key)


def _job(name, release, deadline, work):
    return {"name": name, "release_min": release, "deadline_min": deadline, "work_min": work}


def test_look_ahead_waits_on_purpose():
    found = ask("look-ahead", jobs=[_job("X", 0, 40, 15), _job("Y", 5, 25, 12), _job("Z", 10, 60, 20)])
    assert [(job["name"], job["end_min"]) for job in found["order"]] == [("Y", 17), ("X", 32), ("Z", 52)]
    assert (found["late"], found["wait_min"], found["order"][0]["latest_start_min"]) == ([], 5, 13)
    assert ask("look-ahead", jobs=[_job("X", 0, 10, 15.5)])["late"] == [{"name": "X", "by_min": 5.5}]


@pytest.mark.parametrize(
    ("jobs", "key"),
    [
        ([_job("X", 0, 9, 1), _job("X", 0, 9, 1)], "jobs[1].name: "),
        ([_job("X", 0, 9, 0)], "jobs[0].work_min: "),
        ([_job(7, 0, 9, 1)], "jobs[0].name: "),
        ([_job(str(n), 0, 9, 1) for n in range(9)], "jobs: "),
        ("X", "jobs: "),
    ],
)
def test_look_ahead_impossible_jobs_name_their_key(jobs, key):
    wrong("look-ahead", json.dumps({"jobs": jobs}), key)


def test_serial_matches_nearest_first_then_text():
    found = ask("serial", typed="6H-C-3319", known=["X", "6H-C-3310", "6H-C-3391", "6H-C-3399", "6H-C-3329Q"])
    assert [(match["serial"], match["distance"]) for match in found["matches"]] == [
        ("6H-C-3310", 1),
        ("6H-C-3391", 1),
        ("6H-C-3399", 1),
        ("6H-C-3329Q", 2),
    ]
    wrong("serial", '{"typed": "A", "known": ["A", 3]}', "known[1]: ")
    wrong("serial", '{"typed": 3, "known": ["A"]}', "typed: ")


def test_convert_value_and_exact():
    assert ask("convert", value=2, **{"from": "fc", "to": "lx"}) == {
        "value": float(2 / Fraction("0.09290304")),
        "exact": "3125000/145161",
    }
    assert ask("convert", value=30, **{"from": "G", "to": "A/m"})["exact"] == "7500/1/pi"
    message = wrong("convert", '{"value": 1, "from": "A", "to": "in"}', "from, to: ")
    assert "current" in message and "length" in message
    wrong("convert", '{"value": 1, "from": "furlong", "to": "in"}', "from: ")
    wrong("convert", '{"value": 1, "from": "in", "to": "furlong"}', "to: ")
    wrong("convert", '{"value": -1, "from": "K", "to": "degC"}', "value: ")


@given(st.decimals(min_value="0.001", max_value=1000, places=6))
def test_run_decimal_numbers_stay_decimal(value):
    """A number that a double cannot hold goes through unchanged: ft to in is times 12."""
    code, out, _ = run("convert", f'{{"value": {value}, "from": "ft", "to": "in"}}')
    assert code == 0 and Fraction(json.loads(out)["result"]["exact"]) == 12 * Fraction(value)


# --- main ------------------------------------------------------------------------------------------


def _main(*argv, stdin=""):
    out, err = io.StringIO(), io.StringIO()
    return main(argv, io.StringIO(stdin), out, err), out.getvalue(), err.getvalue()


def test_main_list_names_every_key_and_example():
    code, out, err = _main("--list")
    assert (code, err) == (0, "")
    for name, computation in COMPUTATIONS.items():
        assert f"{name}: " in out and computation.example in out
        assert all(key in out for key in (*computation.needed, *computation.optional))


def test_main_computes_what_stands_on_standard_input():
    assert _main("head-shot", stdin='{"diameter_in": 1}') == (*run("head-shot", '{"diameter_in": 1}'),)
    assert _main("coil", stdin=json.dumps(COIL | {"length_in": 1}))[0] == 1
    assert _main("coil", stdin="{}")[0] == 2


@pytest.mark.parametrize("argv", [(), ("coil", "coil"), ("--list", "coil"), ("nothing",)])
def test_main_wrong_arguments_give_two(argv):
    code, out, err = _main(*argv)
    assert (code, out) == (2, "") and err
