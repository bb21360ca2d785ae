"""The demonstration procedures, techniques and parts load, agree with one another and say what the shop's papers say."""

from __future__ import annotations

import hashlib
from datetime import date
from fractions import Fraction
from functools import cache
from itertools import combinations
from pathlib import Path

import pytest

from ndi.domain.parameter_keys import KEYS
from ndi.domain.procedure import PartMaster, Procedure, Technique
from ndi.domain.quantity import Number
from ndi.procedure_files import ALL_RULES, Library, document_from_text, load_library

PROCEDURE_FOLDER = Path(__file__).parents[2] / "procedures"

Point = tuple[Fraction, Fraction]


@cache
def library() -> Library:
    return load_library(PROCEDURE_FOLDER)


def procedure(number: str, revision: str) -> Procedure:
    return next(each for each in library().procedures if (each.number, each.revision) == (number, revision))


def technique(number: str) -> Technique:
    return next(each for each in library().techniques if each.number == number)


def part(number: str) -> PartMaster:
    return next(each for each in library().parts if each.number == number)


def test_load_library_reads_every_file_once() -> None:
    files = sorted(path.relative_to(PROCEDURE_FOLDER) for path in PROCEDURE_FOLDER.rglob("*.toml"))
    assert len(library().documents) == len(files)
    assert len(library().procedures) + len(library().techniques) + len(library().parts) == len(files)
    names = {(document.kind, document.number, document.revision) for document in library().documents}
    assert len(names) == len(files)


def test_documents_keep_text_and_hash_of_the_bytes() -> None:
    document = next(each for each in library().documents if each.number == "PT-P-02")
    content = (PROCEDURE_FOLDER / "PT-P-02/rev-B.toml").read_bytes()
    assert (document.kind, document.revision, document.method) == ("procedure", "B", "PT")
    assert document.sha256 == hashlib.sha256(content).hexdigest()
    assert document.content.encode() == content


def test_documents_decode_again_to_the_same_things() -> None:
    again = [document_from_text(each.kind, each.content, "the book") for each in library().documents]
    assert again == [*library().procedures, *library().techniques, *library().parts]


@pytest.mark.parametrize(
    ("number", "revision", "first", "last", "rules"),
    [
        ("MT-P-01", "F", date(2026, 1, 15), None, 100),
        ("MT-P-01", "E", date(2025, 2, 1), date(2026, 1, 14), 96),
        ("PT-P-01", "D", date(2026, 1, 15), None, 109),
        ("PT-P-02", "B", date(2025, 11, 3), None, 109),
    ],
)
def test_procedure_dates_approver_and_count_of_rules(
    number: str, revision: str, first: date, last: date | None, rules: int
) -> None:
    found = procedure(number, revision)
    assert (found.effective_from, found.effective_to, found.approved_by) == (first, last, "NL3-E")
    assert len(found.rules) == rules
    assert len(found.second_person_for) == 8
    assert found.cautions


def test_keys_used_are_catalogued_with_paragraph_and_source() -> None:
    for each in library().procedures:
        assert set(each.parameters) <= set(KEYS)
        for parameter in each.parameters.values():
            assert parameter.paragraph
            assert parameter.source


def test_every_catalogued_key_is_set_somewhere() -> None:
    used = {key for each in library().procedures for key in each.parameters}
    used |= {key for each in library().techniques for key in each.windows}
    assert used == set(KEYS)


def test_rules_are_known_and_stand_once_in_the_text() -> None:
    for path in PROCEDURE_FOLDER.glob("*/rev-*.toml"):
        lines = [line.split(" = {")[0] for line in path.read_text(encoding="utf-8").splitlines() if "severity" in line]
        rules = [line for line in lines if not line.startswith("#")]
        assert len(rules) == len(set(rules))
        assert set(rules) <= set(ALL_RULES)


def test_all_rules_counts() -> None:
    assert {letter: sum(rule[0] == letter for rule in ALL_RULES) for letter in "GLPMDK"} == {
        "G": 30,
        "L": 18,
        "P": 42,
        "M": 37,
        "D": 20,
        "K": 20,
    }


def test_rules_name_the_paragraph_of_their_limit() -> None:
    for each in library().procedures:
        for rule, key in (("L02", "uv_min"), ("D03", "linear_ratio"), ("P07", "dwell_max"), ("M30", "residual_max")):
            if rule in each.rules:
                assert each.rules[rule].paragraph == each.parameters[key].paragraph


PUBLISHED = [  # key, value, unit, publication it was compared with
    ("uv_min", "1000", "uW/cm2", "US T.O. 33B-1-1: new and used lamps, 15 in from the filter"),
    ("uv_distance", "15", "in", "US T.O. 33B-1-1"),
    ("ambient_max", "2", "fc", "US T.O. 33B-1-1"),
    ("settling_time", "60", "min", "US T.O. 33B-1-1, oil vehicle"),
    ("agitation_min", "30", "min", "US T.O. 33B-1-1, pump off 4 h or more"),
    ("agitation_off", "4", "h", "US T.O. 33B-1-1"),
    ("bath_valid", "8", "h", "ASTM E3024-16 Table 1, secondary source"),
    ("lamp_integrity_interval", "7", "d", "ASTM E3024-16 Table 1, secondary source"),
    ("water_temperature_min", "10", "degC", "AMS 2647A as quoted, 10 to 38 degC"),
    ("uv_removal_min", "1", "W/m2", "ISO 3059 style, secondary source"),
    ("ambient_removal_max", "100", "lx", "ISO 3059 style, secondary source"),
    ("dwell_base", "30", "min", "US T.O. 33B-1-1, service-induced flaws"),
    ("dryer_temperature_max", "160", "degF", "US Navy (NAVSEA)"),
    ("group_count", "4", "pcs", "ASME VIII-1 App. 8, secondary source"),
    ("bath_hard_max", "0.4", "mL", "from memory (ASTM E1444, E709)"),
    ("develop_max", "240", "min", "from memory (ASTM E1417, dry developer)"),
]


@pytest.mark.parametrize(("key", "value", "unit", "publication"), PUBLISHED, ids=[row[0] for row in PUBLISHED])
def test_values_with_a_published_source_equal_it(key: str, value: str, unit: str, publication: str) -> None:
    values = [each.parameters[key].value for each in library().procedures if key in each.parameters]
    assert values, publication
    for found in values:
        assert isinstance(found, Number)
        assert found.in_unit(unit) == Fraction(value), publication


def test_numbers_stay_as_typed() -> None:
    value = procedure("MT-P-01", "F").parameters["bath_hard_min"].value
    assert isinstance(value, Number)
    assert value.typed == "0.10"


# --- techniques -------------------------------------------------------------------------------------


def test_every_mt_technique_ends_longitudinal_and_demagnetises() -> None:
    for each in library().techniques:
        if each.method == "MT":
            directions = [shot.direction for shot in each.shots]
            assert directions == sorted(directions), each.name  # circular before longitudinal
            assert directions[0] == "circular"
            assert directions[-1] == "longitudinal"
            assert each.post_process[0] == "demag"
            assert 2 <= len(each.residual_points) <= 6
            assert [shot.shot for shot in each.shots] == list(range(1, len(each.shots) + 1))


def test_crank_techniques_have_plugs_authorisation_and_a_view_after_each_shot() -> None:
    special = {each.number for each in library().techniques if each.plugs or each.needs_authorisation}
    assert special == {"MT-T-6001", "MT-T-4001"}
    crank = technique("MT-T-6001")
    assert crank.plugs == 9
    assert all(shot.group is None for shot in crank.shots)
    assert [str(shot.position) for shot in crank.shots if shot.kind == "coil"] == ["5 in", "15 in", "25 in", "35 in"]
    assert [shot.shot for shot in crank.shots if shot.demag_before] == [4]
    assert "PIN4-REAR-FILLET" in crank.zones


def test_coil_current_of_rod_follows_the_low_fill_formula() -> None:
    """NI = 45000 / (L/D), part against the side of the coil: US T.O. 33B-1-1."""
    coil = technique("MT-T-6010").shots[-1]
    ampere_turns = Fraction(45000) / (Fraction("9.6") / Fraction("1.10"))
    assert coil.turns == 5
    assert coil.amps.in_unit("A") == round(ampere_turns / 5) == 1031


def test_every_mt_sheet_lays_two_fields_across_each_other_in_every_zone() -> None:
    for each in library().techniques:
        for zone in each.zones if each.method == "MT" else ():
            angles = {str(field.direction) for shot in each.shots for field in shot.fields if field.zone == zone}
            assert angles == {"0 deg", "90 deg"}, (each.name, zone)


def test_coil_shots_name_the_section_and_the_fill_class_that_the_12_in_coil_gives() -> None:
    for each in library().techniques:
        for shot in (shot for shot in each.shots if shot.kind == "coil"):
            for number in each.applies_to:
                section = part(number).section(shot.section or "")
                assert section is not None, each.name
                ratio = Fraction(12) ** 2 / section.od.in_unit("in") ** 2
                fill = "low" if ratio >= 10 else "high" if ratio <= 2 else "intermediate"
                assert shot.fill == fill, (each.name, number)


def test_barrel_sheets_put_the_bar_at_five_places_round_the_bore() -> None:
    """pi x 5.25 in / (0.9 x 4 x 1.0 in) = 4.58."""
    for number in ("MT-T-6120", "MT-T-4120"):
        bars = [shot for shot in technique(number).shots if shot.offset]
        assert [(str(shot.conductor), shot.section, shot.rotations) for shot in bars] == [
            ("1.0 in", "BARREL", None)
        ] * 5


def test_810_amps_lie_nearest_to_the_rocker_arm_setting_only() -> None:
    amps = {(each.number, shot.amps.in_unit("A")) for each in library().techniques for shot in each.shots}
    assert ("MT-T-6030", Fraction(800)) in amps
    assert not [pair for pair in amps if 800 < pair[1] < 820]
    within = {number for number, current in amps if abs(current - 810) <= current / 10}
    assert within - {"MT-T-6030"} <= {"MT-T-6011", "MT-T-6022", "MT-T-6053", "MT-T-6057"} | {
        number for number in within if number.startswith("MT-T-4") or number == "MT-T-6120"
    }


def test_penetrant_techniques_name_system_and_procedure() -> None:
    for each in library().techniques:
        if each.method == "PT":
            wanted = ("1", "D", "3", "a") if each.number == "PT-T-6130" else ("1", "A", "2", "a")
            assert (each.type, each.pt_method, each.sensitivity, each.developer_form) == wanted
            assert each.procedure == ("PT-P-02" if each.number == "PT-T-6130" else "PT-P-01")


@pytest.mark.parametrize(
    ("number", "minutes"),  # 0.8 x the shortest record's minutes / pieces, cut to 2 decimals
    [("MT-T-6001", "44.8"), ("MT-T-6010", "5.6"), ("MT-T-6030", "1.46"), ("PT-T-6114", "2"), ("PT-T-6120", "9.6")],
)
def test_expected_view_time_per_piece(number: str, minutes: str) -> None:
    assert technique(number).expected_view_min == Number(minutes, "min")


# --- parts --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("number", "zone"),
    [
        ("T6-10010", "PIN4-REAR-FILLET"),
        ("T6-10101", "BEAM-FLANGE"),
        ("T6-10401", "PIN-OD"),
        ("T6-10301", "SOCKET-RADIUS"),
        ("T6-10501", "KEYWAY"),
        ("T6-11001", "MAIN3-THROUGH-BOLT-BOSS"),
        ("T6-11002", "MAIN3-THROUGH-BOLT-BOSS"),
        ("T6-11010", "MOUNT-PAD-2"),
        ("T6-12001", "FIN-ROOT-4"),
        ("T4-20201", "LOBE-6"),
        ("T4-22001", "PLUG-BOSS-TO-EXH-SEAT"),
    ],
)
def test_zone_is_on_the_part(number: str, zone: str) -> None:
    assert part(number).zone(zone) is not None


def test_limits_none_allowed_but_for_three_zones() -> None:
    for each in library().parts:
        for zone in each.zones:
            if zone.code == "MAIN3-THROUGH-BOLT-BOSS":
                assert zone.limits == ()
            elif zone.code == "MOUNT-PAD-2":
                assert [(limit.form, str(limit.max_length)) for limit in zone.limits] == [
                    ("rounded", "0.06 in"),
                    ("linear", "0.12 in"),
                ]
            elif zone.code == "BEAM-FLANGE":
                lap, other = zone.limits
                assert (lap.discontinuity, str(lap.blend_depth), lap.max_length) == ("forging lap", "0.010 in", None)
                assert (other.discontinuity, other.max_length) == (None, None)
            else:
                assert [(limit.form, limit.max_length) for limit in zone.limits] == [("any", None)]
            assert all(limit.reference for limit in zone.limits)


def test_cylinders_need_both_methods_on_their_own_zones() -> None:
    for number in ("T6-12001", "T4-22001"):
        head, barrel = part(number).required
        assert (head.group, head.method, barrel.group, barrel.method) == ("head", "PT", "barrel", "MT")
        assert barrel.zones == ("BARREL",)
        assert not set(head.zones) & set(barrel.zones)
        assert set(head.zones) | set(barrel.zones) == {zone.code for zone in part(number).zones}
    assert "BARREL" not in technique("PT-T-6120").zones


def test_bronze_bush_is_outside_the_magnetic_technique() -> None:
    bush = part("T6-10301").zone("BUSH")
    assert bush is not None
    assert not bush.ferromagnetic
    assert "BUSH" not in technique("MT-T-6030").zones


def test_material_fits_the_method() -> None:
    for each in library().parts:
        for required in each.required:
            zones = [zone for zone in each.zones if zone.code in required.zones]
            assert all(zone.ferromagnetic == (required.method == "MT") for zone in zones)
            if required.method == "PT":
                assert each.alloy == "aluminium"


@pytest.mark.parametrize("each", library().parts, ids=lambda each: each.number)
def test_zones_are_simple_lie_inside_the_outline_and_do_not_overlap(each: PartMaster) -> None:
    outline = corners(each.outline)
    polygons = {zone.code: corners(zone.polygon) for zone in each.zones}
    for code, polygon in polygons.items():
        assert is_simple(polygon), code
        assert not crossings(polygon, outline), code
        assert all(where(point, outline) >= 0 for point in probes(polygon)), code
    for (one, first), (two, second) in combinations(polygons.items(), 2):
        assert not crossings(first, second), (one, two)
        assert all(where(point, second) <= 0 for point in probes(first)), (one, two)
        assert all(where(point, first) <= 0 for point in probes(second)), (one, two)


def test_crankshaft_outline_is_40_inches_long() -> None:
    xs = [x.in_unit("in") for x, _ in part("T6-10010").outline]
    assert max(xs) - min(xs) == 40


def test_geometry_probe_sees_an_overlap() -> None:
    square = [(Fraction(x), Fraction(y)) for x, y in ((0, 0), (4, 0), (4, 4), (0, 4))]
    shifted = [(x + 2, y + 2) for x, y in square]
    assert crossings(square, shifted)
    assert any(where(point, square) > 0 for point in probes(shifted))
    assert not is_simple([square[0], square[2], square[1], square[3]])


# --- exact geometry -------------------------------------------------------------------------------------


def corners(polygon: tuple[tuple[Number, Number], ...]) -> list[Point]:
    return [(x.in_unit("mm"), y.in_unit("mm")) for x, y in polygon]


def edges(polygon: list[Point]) -> list[tuple[Point, Point]]:
    return list(zip(polygon, polygon[1:] + polygon[:1], strict=True))


def probes(polygon: list[Point]) -> list[Point]:
    return polygon + [((a[0] + b[0]) / 2, (a[1] + b[1]) / 2) for a, b in edges(polygon)]


def turn(a: Point, b: Point, c: Point) -> int:
    area = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
    return (area > 0) - (area < 0)


def cross(one: tuple[Point, Point], two: tuple[Point, Point]) -> bool:
    (a, b), (c, d) = one, two
    return turn(a, b, c) * turn(a, b, d) < 0 and turn(c, d, a) * turn(c, d, b) < 0


def crossings(first: list[Point], second: list[Point]) -> bool:
    return any(cross(one, two) for one in edges(first) for two in edges(second))


def is_simple(polygon: list[Point]) -> bool:
    return len(set(polygon)) == len(polygon) and not any(
        cross(one, two) for one, two in combinations(edges(polygon), 2)
    )


def where(point: Point, polygon: list[Point]) -> int:
    """1 inside, 0 on the edge, -1 outside."""
    inside = False
    for a, b in edges(polygon):
        within = all(min(a[axis], b[axis]) <= point[axis] <= max(a[axis], b[axis]) for axis in (0, 1))
        if within and turn(a, b, point) == 0:
            return 0
        if (a[1] > point[1]) != (b[1] > point[1]):
            inside ^= point[0] < a[0] + (b[0] - a[0]) * (point[1] - a[1]) / (b[1] - a[1])
    return 1 if inside else -1
