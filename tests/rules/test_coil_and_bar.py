"""Fields over the part: two directions, fill class, length in the coil, coil stations, bar placements, field shown.

Sources of the limits used: two fields across each other: ISO 9934-1, the least angle of 60 deg:
from memory; fill classes, L/D of 3 with pole pieces: US
T.O. 33B-1-1 and a training sheet on E1444 type practice; tangential field 30 to
60 G: E1444 type manual (secondary source); 10 % overlap: secondary sources.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from ndi.domain import facts as f
from ndi.domain.answer import Answer
from ndi.domain.entry import Recorded
from ndi.domain.procedure import NominalShot, PartMaster, Section, Technique, ZoneField
from tests import build as b
from tests.rules.mt_record import Facts, fired, missing_keys, record, void
from tests.rules.mt_record import ask as ask_record

RULES = ("M15", "M21", "M22", "M23", "M24", "M27")
WHOLE = Section("WHOLE", b.num("9.6 in"), b.num("1.10 in"))
BARREL = Section("BARREL", b.num("7.5 in"), b.num("5.65 in"), b.num("5.25 in"))


def fields(**directions: str) -> tuple[ZoneField, ...]:
    return tuple(ZoneField(zone, b.num(f"{angle} deg")) for zone, angle in directions.items())


HEAD = b.shot(1, "circular", group="all", fields=fields(Z1="90", Z2="90"))
COIL = b.shot(
    2, "longitudinal", "600 A", group="all", fields=fields(Z1="0", Z2="0"), section="WHOLE", fill="low",
    position=b.num("4.8 in"),
)  # fmt: skip
BAR = b.shot(
    1, "circular", kind="bar", group="all", section="BARREL", conductor=b.num("1 in"), offset=True, rotations=5
)


def sheet(*shots: NominalShot, **changed: Any) -> Technique:
    return b.technique("MT", shots=shots or (HEAD, COIL), **changed)


def part(*sections: Section) -> PartMaster:
    return b.master("MT", sections=sections or (WHOLE, BARREL))


def bench(diameter: str | None = "12 in") -> Facts:
    entered = f.EquipmentEntered(
        "MT-01", "bench", place="MT booth", tank_bath="MTB-26-07", coil_turns=5,
        coil_diameter=b.num(diameter) if diameter else None,
    )  # fmt: skip
    return [b.rec(entered, "06:00", day="2026-01-02")]


def coil_shot(position: str | None = "4.8 in", number: int = 2, when: str = "08:10", **more: Any) -> Recorded[f.Fact]:
    return fired(number, when, "600 A", coil_turns=5, position=b.num(position) if position else None, **more)


def ask(rule_id: str, *shots: Recorded[f.Fact], facts: Facts | None = None, **changed: Any) -> Answer:
    """Ask of a head and a coil shot on a rod in a 12 in coil, unless told otherwise."""
    base: dict[str, Any] = {"technique": sheet(), "master": part()}
    kept = facts or record(bench=bench(), shots=list(shots) or [fired(1, "08:00"), coil_shot()])
    return ask_record(rule_id, kept, **{**base, **changed})


# --- M15 ------------------------------------------------------------------------------------------


def crossing(*angles: str, shots: Facts | None = None) -> Answer:
    """A technique whose shots 1, 2 ... lay their fields at these angles; Z1 is crossed well."""
    kept = [
        b.shot(n, "circular", "1000 A", kind="head", fields=fields(Z1="0" if n == 1 else "90", Z2=angle))
        for n, angle in enumerate(angles, 1)
    ]
    every = [fired(n, f"08:0{n}", "1000 A") for n in range(1, len(angles) + 1)]
    return ask("M15", *(shots or every), technique=sheet(*kept))


@pytest.mark.parametrize(
    ("angles", "expected"),
    [
        (("0", "90"), "PASS"),
        (("0", "60"), "PASS"),
        (("0", "60.1"), "PASS"),
        (("0", "59.9"), "FAIL"),
        (("0", "120"), "PASS"),
        (("0", "120.1"), "FAIL"),
        (("10", "170"), "FAIL"),  # 20 deg apart: a field line has no front end
        (("0", "180"), "FAIL"),
        (("350", "80"), "PASS"),
        (("0", "30", "60"), "PASS"),
    ],
)
def test_m15_angle_about_the_limit(angles: tuple[str, ...], expected: str) -> None:
    answer = crossing(*angles)
    assert answer.verdict == expected
    assert answer.limit.split("; ")[0] == "at least 60 deg apart"


def test_m15_one_direction_only_by_the_technique_fail() -> None:
    answer = crossing("0", "10")
    assert answer.verdict == "FAIL"
    assert answer.says == "Z2: the fields of T-1 Rev 2 cross at 10 deg only"


def test_m15_second_direction_not_fired_not_recorded() -> None:
    answer = crossing("0", "90", shots=[fired(1, "08:01", "1000 A")])
    assert answer.verdict == "NOT RECORDED"
    assert "Z2 has one direction only: no shot recorded for shot 2 (head)" in answer.says


def test_m15_voided_shot_gives_no_direction_not_recorded() -> None:
    shots = [fired(1, "08:00"), coil_shot()]
    assert ask("M15", facts=record(bench=bench(), shots=[*shots, void(2, "08:10")])).verdict == "NOT RECORDED"


def test_m15_technique_without_fields_not_recorded() -> None:
    answer = ask("M15", technique=b.technique("MT"))
    assert (answer.verdict, answer.says) == (
        "NOT RECORDED",
        "technique T-1 Rev 2 does not say which zones its shots reach",
    )


def test_m15_zone_in_no_field_not_recorded() -> None:
    shots = (replace(HEAD, fields=fields(Z1="90")), replace(COIL, fields=fields(Z1="0")))
    answer = ask("M15", technique=sheet(*shots))
    assert (answer.verdict, answer.says) == ("NOT RECORDED", "technique T-1 Rev 2 gives no field for zone Z2")


def test_m15_nothing_fired_not_recorded() -> None:
    assert ask("M15", facts=record(bench=bench(), shots=[])).says == "no shot recorded"


# --- M21 ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("od", "reckoned", "expected"),
    [
        ("1.10", "low", "PASS"),
        ("3.79", "low", "PASS"),  # 144 / 14.3641 = 10.02
        ("3.80", "low", "FAIL"),  # 144 / 14.44 = 9.97
        ("3.80", "intermediate", "PASS"),
        ("8.48", "intermediate", "PASS"),  # 144 / 71.9104 = 2.0025
        ("8.49", "intermediate", "FAIL"),  # 144 / 72.0801 = 1.998
        ("8.49", "high", "PASS"),
        ("4.5", "low", "FAIL"),
    ],
)
def test_m21_fill_about_the_classes(od: str, reckoned: str, expected: str) -> None:
    """Low from 10 coil areas per part area, high up to 2."""
    technique = sheet(HEAD, replace(COIL, fill=reckoned))
    answer = ask("M21", technique=technique, master=part(Section("WHOLE", b.num("40 in"), b.num(f"{od} in"))))
    assert answer.verdict == expected
    if od == "4.5":
        assert answer.says == (
            "shot 2 at 08:10: intermediate fill, area ratio ~7.1111; T-1 Rev 2 reckons with low fill"
        )


@pytest.mark.parametrize(("diameter", "expected"), [("10 in", "PASS"), ("3.16 in", "FAIL")])
def test_m21_area_ratio_about_10(diameter: str, expected: str) -> None:
    """10 / sqrt(10) = 3.1623: a coil of 10 in over a part of 3.16 in is low, of 3.16 in over 1 in is not."""
    od = "3.16" if diameter == "10 in" else "1"
    master = part(Section("WHOLE", b.num("40 in"), b.num(f"{od} in")))
    facts = record(bench=bench(diameter), shots=[fired(1, "08:00"), coil_shot()])
    assert ask("M21", facts=facts, master=master).verdict == expected


def test_m21_coil_not_measured_not_recorded() -> None:
    answer = ask("M21", facts=record(bench=bench(None), shots=[fired(1, "08:00"), coil_shot()]))
    assert (answer.verdict, answer.says) == (
        "NOT RECORDED",
        "MT-01: diameter of the coil not in its equipment record",
    )


def test_m21_technique_without_fill_class_not_recorded() -> None:
    assert "gives no fill class for shot 2" in ask("M21", technique=sheet(HEAD, replace(COIL, fill=None))).says


def test_m21_part_wider_than_the_coil_not_recorded() -> None:
    answer = ask("M21", master=part(Section("WHOLE", b.num("40 in"), b.num("12 in"))))
    assert (answer.verdict, "must rise in this order" in answer.says) == ("NOT RECORDED", True)


@pytest.mark.parametrize("rule_id", ["M21", "M22", "M23"])
def test_section_not_named_not_recorded(rule_id: str) -> None:
    answer = ask(rule_id, technique=sheet(HEAD, replace(COIL, section=None)))
    assert answer.verdict == "NOT RECORDED"
    assert answer.says == "technique T-1 Rev 2 names no section for shot 2 (coil at 4.8 in)"


@pytest.mark.parametrize("rule_id", ["M21", "M22", "M23"])
def test_section_not_measured_not_recorded(rule_id: str) -> None:
    answer = ask(rule_id, master=part(BARREL))
    assert answer.verdict == "NOT RECORDED"
    assert answer.says == "part master PN-1 has no length and diameter for section WHOLE"


@pytest.mark.parametrize("rule_id", ["M21", "M22", "M23"])
def test_technique_without_coil_shot_not_applicable(rule_id: str) -> None:
    answer = ask(rule_id, fired(1, "08:00"), technique=sheet(HEAD))
    assert (answer.verdict, "T-1 Rev 2 has no coil shot" in answer.says) == ("NOT APPLICABLE", True)


@pytest.mark.parametrize("rule_id", ["M21", "M22", "M23"])
def test_coil_shot_not_fired_not_recorded(rule_id: str) -> None:
    assert ask(rule_id, fired(1, "08:00")).verdict == "NOT RECORDED"


# --- M22 ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("length", "expected"), [("6", "PASS"), ("6.01", "PASS"), ("5.99", "NOT RECORDED")])
def test_m22_length_about_three_diameters(length: str, expected: str) -> None:
    answer = ask("M22", master=part(Section("WHOLE", b.num(f"{length} in"), b.num("2 in"))))
    assert answer.verdict == expected
    if expected == "NOT RECORDED":
        assert answer.says.endswith("no extension or stack recorded")


@pytest.mark.parametrize(("added", "expected"), [("2 in", "PASS"), ("1.99 in", "FAIL")])
def test_m22_extension_about_the_limit(added: str, expected: str) -> None:
    short = part(Section("WHOLE", b.num("4 in"), b.num("2 in")))
    answer = ask("M22", fired(1, "08:00"), coil_shot(extension=b.num(added)), master=short)
    assert answer.verdict == expected
    assert f"length 4 in + {added} of extension" in (answer.found or answer.says)


@pytest.mark.parametrize(("pieces", "expected"), [(3, "PASS"), (2, "FAIL")])
def test_m22_stack_about_the_limit(pieces: int, expected: str) -> None:
    short = part(Section("WHOLE", b.num("2 in"), b.num("2 in")))
    assert ask("M22", fired(1, "08:00"), coil_shot(stacked=pieces), master=short).verdict == expected


def test_m22_tube_is_measured_by_its_effective_diameter_pass() -> None:
    """sqrt(5 x 5 - 3 x 3) = 4, so 12 in are three of them exactly."""
    assert ask("M22", master=part(Section("WHOLE", b.num("12 in"), b.num("5 in"), b.num("3 in")))).verdict == "PASS"


# --- M23 ------------------------------------------------------------------------------------------

CRANK = Section("WHOLE", b.num("40 in"), b.num("2.38 in"))


def at_stations(*places: str, nominals: int | None = None, master: PartMaster | None = None, **more: Any) -> Answer:
    """Coil shots 1, 2 ... at these stations along a part of 40 in, in a coil of 12 in."""
    count = len(places) if nominals is None else nominals
    shots = [replace(COIL, shot=n, position=b.num("5 in")) for n in range(1, count + 1)]
    kept = [coil_shot(f"{place} in", n, f"08:{n:02}", **more) for n, place in enumerate(places, 1)]
    return ask("M23", *kept, technique=sheet(*shots), master=master or part(CRANK))


def test_m23_stations_of_the_worked_example_pass() -> None:
    answer = at_stations("5", "15", "25", "35")
    assert answer.verdict == "PASS"
    assert answer.found == "stations 5, 15, 25, 35 in"
    assert answer.limit == "4 or more, fields of 12 in overlapping"


def test_m23_end_left_out_fail() -> None:
    answer = at_stations("5", "15", "25")
    assert answer.verdict == "FAIL"
    assert answer.says == "stations 5, 15, 25 in: no field from 31 to 40 in"


def test_m23_last_station_not_fired_not_recorded() -> None:
    answer = at_stations("5", "15", "25", nominals=4)
    assert answer.verdict == "NOT RECORDED"
    assert "no shot recorded for shot 4 (coil at 5 in)" in answer.says


@pytest.mark.parametrize(("third", "expected"), [("25.8", "PASS"), ("25.81", "FAIL")])
def test_m23_overlap_about_ten_percent(third: str, expected: str) -> None:
    """Fields of 12 in may stand 10.8 in apart."""
    answer = at_stations("5", "15", third, "35.5")
    assert answer.verdict == expected
    if expected == "FAIL":
        assert answer.says.endswith("too little overlap between 15 and 25.81 in")


@pytest.mark.parametrize(("first", "expected"), [("6", "PASS"), ("6.01", "FAIL")])
def test_m23_first_station_about_the_edge(first: str, expected: str) -> None:
    assert at_stations(first, "15", "25", "35").verdict == expected


def test_m23_station_not_marked_not_recorded() -> None:
    answer = ask("M23", fired(1, "08:00"), coil_shot(None))
    assert (answer.verdict, answer.says) == ("NOT RECORDED", "station of the coil not recorded: shot 2 at 08:10")


def test_m23_coil_not_measured_not_recorded() -> None:
    assert ask("M23", facts=record(bench=bench(None), shots=[coil_shot()])).verdict == "NOT RECORDED"


@pytest.mark.parametrize(("pieces", "expected"), [(6, "PASS"), (7, "FAIL")])
def test_m23_stack_longer_than_the_field(pieces: int, expected: str) -> None:
    """Six pieces of 2 in fill the field of 12 in that stands about 6 in."""
    tappet = part(Section("WHOLE", b.num("2 in"), b.num("1 in")))
    assert at_stations("6", stacked=pieces, master=tappet).verdict == expected


def test_m23_filled_coil_reaches_18_in_pass() -> None:
    wide = part(Section("WHOLE", b.num("18 in"), b.num("9 in")))
    assert at_stations("9", master=wide).verdict == "PASS"


# --- M24 ------------------------------------------------------------------------------------------


def bar(rotations: int | None = 5, number: int = 1, when: str = "08:00") -> Recorded[f.Fact]:
    return fired(number, when, "1000 A", rotations=rotations)


@pytest.mark.parametrize(("places", "expected"), [(5, "PASS"), (6, "PASS"), (4, "FAIL"), (3, "FAIL")])
def test_m24_places_about_the_limit(places: int, expected: str) -> None:
    """pi x 5.25 / (0.9 x 4 x 1) = 4.58: five places."""
    answer = ask("M24", bar(places), technique=sheet(BAR))
    assert answer.verdict == expected
    if places == 3:
        assert answer.says == "bar at 3 places, a bar of 1 in in a bore of 5.25 in needs 5"


def test_m24_places_not_recorded() -> None:
    answer = ask("M24", bar(None), technique=sheet(BAR))
    assert (answer.verdict, answer.says) == ("NOT RECORDED", "places of the bar not recorded: shot 1 at 08:00")


def by_shot(fired_shots: int, listed: int = 5) -> Answer:
    """A technique with a shot for each place of the bar."""
    shots = [replace(BAR, shot=n, rotations=None) for n in range(1, listed + 1)]
    return ask("M24", *(bar(None, n, f"08:0{n}") for n in range(1, fired_shots + 1)), technique=sheet(*shots))


def test_m24_a_shot_for_each_place_pass() -> None:
    assert by_shot(5).verdict == "PASS"


def test_m24_a_place_left_out_not_recorded() -> None:
    answer = by_shot(4)
    assert (answer.verdict, answer.says) == ("NOT RECORDED", "4 of 5 places: no shot recorded for shot 5 (bar)")


def test_m24_technique_has_too_few_places_fail() -> None:
    assert by_shot(4, listed=4).verdict == "FAIL"


def test_m24_the_same_place_again_is_one_place_fail() -> None:
    shots = [replace(BAR, shot=n, rotations=None) for n in range(1, 5)]
    again = [bar(None, n, f"08:0{n}") for n in range(1, 5)] + [bar(None, 4, "08:09")]
    assert ask("M24", *again, technique=sheet(*shots)).verdict == "FAIL"


def test_m24_thicker_bar_needs_fewer_pass() -> None:
    assert ask("M24", bar(3), technique=sheet(replace(BAR, conductor=b.num("2 in")))).verdict == "PASS"


def test_m24_no_diameter_of_the_bar_not_recorded() -> None:
    assert "gives no diameter" in ask("M24", bar(), technique=sheet(replace(BAR, conductor=None))).says


def test_m24_no_bore_not_recorded() -> None:
    solid = part(Section("BARREL", b.num("7.5 in"), b.num("5.65 in")))
    answer = ask("M24", bar(), technique=sheet(BAR), master=solid)
    assert (answer.verdict, answer.says) == ("NOT RECORDED", "part master PN-1: section BARREL has no bore")


def test_m24_bar_too_thick_for_the_bore_not_recorded() -> None:
    answer = ask("M24", bar(), technique=sheet(replace(BAR, conductor=b.num("6 in"))))
    assert (answer.verdict, "does not go into a bore" in answer.says) == ("NOT RECORDED", True)


def test_m24_centred_bar_not_applicable() -> None:
    answer = ask("M24", bar(), technique=sheet(replace(BAR, offset=False, rotations=None)))
    assert (answer.verdict, "no bar against the bore" in answer.says) == ("NOT APPLICABLE", True)


def test_m24_nothing_fired_not_recorded() -> None:
    assert ask("M24", facts=record(bench=bench(), shots=[]), technique=sheet(BAR)).says == "no shot recorded"


# --- M27 ------------------------------------------------------------------------------------------


def shim(clear: bool | None = True, point: str = "pin 3", when: str = "08:05") -> Recorded[f.Fact]:
    return b.rec(f.FieldShown("X-001", point, "QQI", clear), when)


def probe(value: str | None = "45 G", meter: str | None = "GM-1", when: str = "08:05") -> Recorded[f.Fact]:
    return b.rec(f.FieldShown("X-001", "pin 3", "Hall probe", None, b.num(value) if value else None, meter), when)


def at_pin(*proofs: Recorded[f.Fact], points: tuple[str, ...] = ("pin 3",), **changed: Any) -> Answer:
    return ask("M27", facts=[*record(**changed), *proofs], technique=sheet(field_points=points))


@pytest.mark.parametrize(
    ("value", "expected"),
    [("30 G", "PASS"), ("29.9 G", "FAIL"), ("60 G", "PASS"), ("60.1 G", "FAIL"), ("-45 G", "PASS"), ("3 mT", "PASS")],
)
def test_m27_tangential_field_about_the_limits(value: str, expected: str) -> None:
    answer = at_pin(probe(value))
    assert answer.verdict == expected
    assert answer.limit == "30 G to 60 G"


@pytest.mark.parametrize(("clear", "expected"), [(True, "PASS"), (False, "FAIL"), (None, "NOT RECORDED")])
def test_m27_shim(clear: bool | None, expected: str) -> None:
    assert at_pin(shim(clear)).verdict == expected


def test_m27_not_shown_not_recorded() -> None:
    answer = at_pin()
    assert (answer.verdict, answer.says) == ("NOT RECORDED", "field not shown at pin 3")


def test_m27_one_of_two_points_not_recorded() -> None:
    assert at_pin(shim(), points=("pin 3", "pin 6")).says == "field not shown at pin 6"


def test_m27_shown_again_after_a_bad_one_pass() -> None:
    assert at_pin(shim(False), shim(True, when="08:09")).verdict == "PASS"


@pytest.mark.parametrize(("value", "meter", "blank"), [(None, "GM-1", "value"), ("45 G", None, "meter")])
def test_m27_probe_without_value_or_meter_not_recorded(value: str | None, meter: str | None, blank: str) -> None:
    answer = at_pin(probe(value, meter))
    assert (answer.verdict, answer.says) == ("NOT RECORDED", f"pin 3: {blank} of the tangential field not given")


def test_m27_meter_expired_fail() -> None:
    old = b.rec(
        f.CalibrationRecorded("GM-1", "field", date(2025, 3, 9), date(2026, 3, 9), "in tolerance"), "12:00",
        day="2025-03-09",
    )  # fmt: skip
    assert at_pin(probe(), meter=[old]).verdict == "FAIL"


def test_m27_technique_wants_none_not_applicable() -> None:
    assert ask("M27").verdict == "NOT APPLICABLE"


# --- all ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("rule_id", "key"), missing_keys(RULES))
def test_parameter_missing_not_recorded_names_key(rule_id: str, key: str) -> None:
    facts = [*record(bench=bench(), shots=[fired(1, "08:00"), coil_shot()]), probe()]
    answer = ask(rule_id, facts=facts, technique=sheet(field_points=("pin 3",)), parameters={key: None})
    assert answer.verdict == "NOT RECORDED"
    assert answer.says == f"procedure MT-P-01 rev D gives no value for {key}"


@pytest.mark.parametrize("rule_id", RULES[:5])
def test_technique_without_shots_not_recorded(rule_id: str) -> None:
    assert "T-1 Rev 2 lists no shots" in ask(rule_id, technique=b.technique("MT", shots=())).says


def test_complete_record_is_settled() -> None:
    verdicts = {rule_id: str(ask(rule_id).verdict) for rule_id in RULES}
    assert verdicts == {
        "M15": "PASS", "M21": "PASS", "M22": "PASS", "M23": "PASS", "M24": "NOT APPLICABLE", "M27": "NOT APPLICABLE"
    }  # fmt: skip
