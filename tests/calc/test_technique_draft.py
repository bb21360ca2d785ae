"""Drafting of techniques: worked currents, groups of sections, coverage, warnings; the file loads and is not approved."""

import json
from fractions import Fraction
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ndi.calc.magnetizing_current import Window
from ndi.calc.technique_draft import (
    Bar,
    Coil,
    Part,
    Section,
    SectionWindow,
    by_current,
    common,
    draft,
    nominal,
    places,
)
from ndi.cli import main as ndi
from ndi.domain.errors import InputError
from ndi.procedure_files.techniques import load_technique

F = Fraction


def section(zone, start, end, od, bore="0") -> Section:
    return Section(zone, F(str(start)), F(str(end)), F(str(od)), F(str(bore)))


def part(length, *sections, coil=(12, 5, "side"), bars=(), maker=None, head=True, bench=None, amps=(300, 800)) -> Part:
    return Part(
        length=F(str(length)),
        sections=sections,
        amps_per_in=(F(amps[0]), F(amps[1])),
        is_head_shot_allowed=head,
        coil=Coil(F(coil[0]), coil[1], coil[2]) if coil else None,
        bars=tuple(Bar(F(str(d)), placed) for d, placed in bars),
        maker={kind: F(amps) for kind, amps in (maker or {}).items()},
        floor=F(2),
        bench_amps_max=None if bench is None else F(bench),
    )


PIN = section("BODY", 0, "3.90", "1.125", "0.75")


def test_piston_pin_worked_currents():
    """Worked once by a separate script: coil 1935 A, bar 338 to 900 A; maker's table 1000 A lies outside the window."""
    found = draft(part("3.90", PIN, bars=[("0.5", "centred")], maker={"bar": 1000, "coil": 1935}))
    head, bar, coil = found.shots
    assert (float(bar.window.amps_min), float(bar.window.amps_max)) == (337.5, 900)
    assert (coil.amps, coil.turns, float(coil.position), coil.direction) == (1935, 5, 1.95, "longitudinal")
    assert (head.surfaces, bar.surfaces) == (("BODY outside",), ("BODY outside", "BODY bore"))
    assert found.lacking == ()
    assert found.maker[0].startswith("bar: maker's table 1000 A, formula ~338 to 900 A") and "justify" in found.maker[0]
    assert "inside" in found.maker[1] and "justify" not in found.maker[1]
    assert any("no field at the bore of BODY" in warning for warning in found.warnings)
    assert sum("1000 A" in warning for warning in found.warnings) == 1


def test_bore_without_a_bar_lacks_a_direction():
    found = draft(part("3.90", PIN))
    assert found.lacking == ("BODY bore",) and any("fewer than 2 directions" in w for w in found.warnings)


def test_crank_worked_currents_and_places():
    """Worked once: diameter 4.5 asks for 879.0 A (side, 12 in coil), 2.38 for 600 A, and 4 places."""
    found = draft(part(40, section("MAINS", 0, 20, "2.38"), section("CHEEKS", 20, 40, "4.5"), amps=(300, 500)))
    coils = [shot for shot in found.shots if shot.kind == "coil"]
    assert (
        len(coils) == 4
        and {shot.amps for shot in coils} == {879}
        and {shot.governed_by for shot in coils} == {"CHEEKS"}
    )
    assert (float(coils[0].position), float(coils[-1].position)) == (6, 34)
    heads = [shot for shot in found.shots if shot.kind == "head"]
    assert [shot.governed_by for shot in heads] == ["MAINS", "CHEEKS"] and heads[0].amps < heads[1].amps
    text = "\n".join(found.warnings)
    assert "no one current" in text and "MAINS 600 A" in text and "counted as 15" not in text
    assert "intermediate fill" in text


def test_offset_bar_is_turned_round_the_bore():
    """Worked once: bore 5.25, wall 0.20, bar 1.0: window 420 to 1120 A; 5 placements, by bore or outside."""
    barrel = section("BARREL", 0, 6, "5.65", "5.25")
    found = draft(part(6, barrel, coil=None, bars=[("1.0", "offset")], head=False))
    (shot,) = found.shots
    assert (shot.window.amps_min, shot.window.amps_max) == (420, 1120)
    assert (shot.placements, shot.conductor) == (5, 1)
    assert any("placements" in w and "cautious" in w for w in found.warnings)
    assert found.lacking == ("BARREL outside", "BARREL bore")


def test_bar_that_does_not_go_in_is_left_out_with_a_warning():
    found = draft(part("3.90", PIN, bars=[("0.751", "centred")]))
    assert not [s for s in found.shots if s.kind == "bar"]
    assert any("goes into no bore" in w for w in found.warnings)
    exact = draft(part("3.90", PIN, bars=[("0.75", "centred")]))
    assert [s for s in exact.shots if s.kind == "bar"]


def test_short_part_asks_for_extensions_and_counts_on_them():
    found = draft(part(3, section("GEAR", 0, 3, 2)))
    assert any("add extensions" in w and "1 in or more" in w for w in found.warnings)
    (coil,) = [s for s in found.shots if s.kind == "coil"]
    assert coil.amps == 45000 // 2 // 5  # L/D exactly 2 with 4 in; low fill, side, 5 turns


def test_slender_part_counts_as_fifteen_and_bench_is_too_small():
    found = draft(part(40, section("SHAFT", 0, 40, "2.38"), bench=500))
    text = "\n".join(found.warnings)
    assert "counted as 15" in text and "asks for 600 A, the bench gives 500 A" in text


def test_current_that_no_technique_file_holds_is_said():
    """L/D brought to 2 by extensions: 10003 to 12226 A at 3 turns, centred in a coil of 12 in."""
    found = draft(part(1, section("GEAR", 0, 1, 4, 1), coil=(12, 3, "centred")))
    assert any("holds 100 to 6000 A: take more turns" in w for w in found.warnings)
    assert not any("holds 100" in w for w in draft(part("3.90", PIN)).warnings)


def test_maker_value_of_a_shot_that_is_not_there():
    found = draft(part("3.90", PIN, head=False, maker={"head": 700}))
    assert found.maker == ("head: maker's table 700 A, no such shot in this draft",)


@pytest.mark.parametrize(
    "make",
    [
        lambda: part(4),
        lambda: part(4, section("A", 0, 5, 1)),
        lambda: part(4, section("A", 2, 2, 1)),
        lambda: part(4, section("A", 0, 4, 1, 1)),
        lambda: part(4, section("A", 0, 2, 1), section("A", 2, 4, 1)),
        lambda: draft(part(4, section("A", 0, 4, 1), coil=None, head=False)),
        lambda: draft(part(20, section("A", 0, 4, 12))),
    ],
)
def test_impossible_parts_are_input_errors(make):
    with pytest.raises(InputError):
        make()


windows = st.lists(st.tuples(st.integers(1, 30), st.integers(0, 30)), min_size=1, max_size=6)


@settings(max_examples=100, deadline=None)
@given(windows)
def test_by_current_is_the_fewest_groups(pairs):
    """Against every way to choose currents: no fewer would serve all sections."""
    each = [SectionWindow("head", str(i), F(1), Window(F(a), F(a + b))) for i, (a, b) in enumerate(pairs)]
    groups = by_current(each)
    assert sorted(w.zone for g in groups for w in g) == sorted(w.zone for w in each)
    shared = [common(w.window for w in group) for group in groups]
    assert all(window.amps_min <= window.amps_max for window in shared)
    assert [w.amps_max for w in shared] == sorted(w.amps_max for w in shared)
    ends = {w.window.amps_max for w in each}
    for count in range(1, len(groups)):
        for currents in combinations(ends, count):
            assert not all(any(w.window.amps_min <= c <= w.window.amps_max for c in currents) for w in each)


@given(st.integers(1, 4000), st.integers(0, 3000))
def test_nominal_lies_in_its_window(low, width):
    window = Window(F(low), F(low + width))
    assert window.amps_min <= nominal(window) <= window.amps_max


@given(st.integers(1, 600), st.sampled_from([12, 18]))
def test_places_reach_the_whole_part_with_overlap(tenths, reach):
    from ndi.calc.stations import stations_needed, too_far_apart, unlit

    length = F(tenths, 10)
    found = places(length, stations_needed(length, F(reach)), F(reach))
    assert unlit(length, F(reach), found) == [] and too_far_apart(F(reach), found) == []


DIMENSIONS = {
    "number": "MT-T-9001",
    "procedure": "MT-P-01",
    "applies_to": ["T0-10410"],
    "effective_from": "2026-12-01",
    "current_type": "FWDC",
    "pulses": 2,
    "length_in": 3.90,
    "maker": {"head_a": 1000},
    "coil": {"diameter_in": 12, "turns": 5, "position": "side"},
    "bars": [{"diameter_in": 0.5, "placed": "centred"}],
    "sections": [{"zone": 'BODY "A"', "from_in": 0, "to_in": 3.90, "od_in": 1.125, "id_in": 0.75}],
}
TOML = """
number = "MT-T-9001"
procedure = "MT-P-01"
applies_to = ["T0-10410"]
effective_from = 2026-12-01
current_type = "FWDC"
pulses = 2
length_in = 3.90
maker = { head_a = 1000 }
coil = { diameter_in = 12, turns = 5, position = "side" }
bars = [{ diameter_in = 0.5, placed = "centred" }]
[[sections]]
zone = 'BODY "A"'
from_in = 0
to_in = 3.90
od_in = 1.125
id_in = 0.75
"""


def given_file(tmp_path, **change):
    path = tmp_path / "part.json"
    path.write_text(json.dumps({k: v for k, v in (DIMENSIONS | change).items() if v is not None}), encoding="utf-8")
    return str(path)


def test_command_writes_a_sheet_that_loads_and_is_not_approved(tmp_path, capsys):
    assert ndi.main(["technique", "draft", given_file(tmp_path)]) == 0
    text = capsys.readouterr().out
    sheet = load_technique(text, "draft.toml")
    assert (sheet.approved_by, sheet.number, sheet.zones) == (
        "",
        "MT-T-9001",
        ('BODY "A" outside', 'BODY "A" bore'),
    )
    assert [(s.kind, s.direction) for s in sheet.shots] == [
        ("head", "circular"),
        ("bar", "circular"),
        ("coil", "longitudinal"),
    ]
    _, bar, coil = sheet.shots
    assert (coil.fill, str(bar.conductor), bar.offset, bar.section) == ("low", "0.5 in", False, None)
    outside, bore = sheet.zones  # a head shot does not reach the bore
    assert [[(f.zone, str(f.direction)) for f in s.fields] for s in sheet.shots] == [
        [(outside, "90 deg")],
        [(outside, "90 deg"), (bore, "90 deg")],
        [(outside, "0 deg"), (bore, "0 deg")],
    ]
    assert str(sheet.shots[2].amps) == "1935 A" and sheet.basis.startswith("DRAFT")
    assert "# Windows of current" in text and "choose and justify" in text and "# Coverage" in text


def test_command_offset_bar_and_section_of_the_part_master(tmp_path, capsys):
    path = given_file(tmp_path, bars=[{"diameter_in": 0.375, "placed": "offset"}], master_section="WHOLE")
    assert ndi.main(["technique", "draft", path]) == 0
    sheet = load_technique(capsys.readouterr().out, "draft.toml")
    _, bar, coil = sheet.shots
    # by hand: circumference 1.125 pi over 0.9 x 4 x 0.375 is 2.6
    assert (bar.offset, bar.rotations, str(bar.conductor)) == (True, 3, "0.375 in")
    assert (bar.section, coil.section, sheet.shots[0].section) == ("WHOLE", "WHOLE", None)


def test_command_reads_toml_as_it_reads_json(tmp_path, capsys):
    ndi.main(["technique", "draft", given_file(tmp_path)])
    one = capsys.readouterr().out
    path = tmp_path / "part.toml"
    path.write_text(TOML, encoding="utf-8")
    assert ndi.main(["technique", "draft", str(path)]) == 0
    assert capsys.readouterr().out == one


def test_command_keeps_a_file_that_is_there(tmp_path, capsys):
    out = tmp_path / "draft.toml"
    assert ndi.main(["technique", "draft", given_file(tmp_path), "--out", str(out)]) == 0
    told = capsys.readouterr().out
    assert "3 shots" in told and "not approved" in told
    load_technique(out.read_text("utf-8"), "draft.toml")
    assert ndi.main(["technique", "draft", given_file(tmp_path), "--out", str(out)]) == 2
    assert "there already" in capsys.readouterr().err


def test_a_line_end_in_a_name_does_not_leave_its_comment(tmp_path, capsys):
    name = 'X\napproved_by = "NL3-E"'
    bad = [DIMENSIONS["sections"][0] | {"zone": name}]
    ndi.main(["technique", "draft", given_file(tmp_path, sections=bad)])
    sheet = load_technique(capsys.readouterr().out, "draft.toml")
    assert sheet.approved_by == ""


@pytest.mark.parametrize(
    ("change", "key"),
    [
        ({"number": None}, "number: "),
        ({"colour": "red"}, "colour: "),
        ({"length_in": "3.90"}, "length_in: "),
        ({"length_in": 0}, "length_in: "),
        ({"pulses": 21}, "pulses: "),
        ({"pulses": 1.5}, "pulses: "),
        ({"plugs": 41}, "plugs: "),
        ({"effective_from": "soon"}, "effective_from: "),
        ({"current_type": "DC"}, "current_type: "),
        ({"amps_per_in_min": 300}, "amps_per_in_max: "),
        ({"amps_per_in_min": 900, "amps_per_in_max": 800}, "amps_per_in_min: "),
        ({"coil": {"diameter_in": 12, "turns": 5}}, "coil.position: "),
        ({"coil": [1]}, "coil: "),
        ({"bars": [{"diameter_in": 1, "placed": "beside"}]}, "bars[0].placed: "),
        ({"maker": {"wrap_a": 5}}, "maker.wrap_a: "),
        ({"sections": []}, "sections: "),
        ({"sections": [{"zone": "A"}]}, "sections[0].from_in: "),
        ({"applies_to": []}, "applies_to: "),
        ({"head_shot": 1}, "head_shot: "),
    ],
)
def test_command_names_the_key_that_is_wrong(tmp_path, capsys, change, key):
    assert ndi.main(["technique", "draft", given_file(tmp_path, **change)]) == 2
    told = capsys.readouterr()
    assert key in told.err and told.out == ""


@pytest.mark.parametrize("text", ["", "{", "length_in = ", "length_in = nan", "[1]"])
def test_command_with_a_broken_file(tmp_path, capsys, text):
    for name in ("part.toml", "part.json"):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        assert ndi.main(["technique", "draft", str(path)]) == 2
    assert ndi.main(["technique", "draft", str(tmp_path / "none.toml")]) == 2
    assert "cannot be read" in capsys.readouterr().err
