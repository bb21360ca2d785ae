"""What coil, bar and light rules need of technique sheets and part masters is read as it was typed."""

from __future__ import annotations

from pathlib import Path

from ndi.domain.procedure import Section, ZoneField
from ndi.domain.quantity import Number
from ndi.procedure_files.parts import load_part
from ndi.procedure_files.techniques import load_technique

PROCEDURE_FOLDER = Path(__file__).parents[2] / "procedures"


def test_technique_keys_are_read() -> None:
    text = (PROCEDURE_FOLDER / "techniques/MT-T-6120.toml").read_text(encoding="utf-8")
    text = text.replace("plugs = 0", 'plugs = 0\nuv_at_part = ["BARREL"]\nwhite_light = true\nfield_points = ["skirt"]')
    text = text.replace("offset = true", "offset = true\nrotations = 5", 1)
    sheet = load_technique(text, "a file")
    assert (sheet.uv_at_part, sheet.white_light, sheet.field_points) == (("BARREL",), True, ("skirt",))
    bar, coil = sheet.shots[0], sheet.shots[-1]
    assert (bar.section, bar.conductor, bar.offset, bar.rotations) == ("BARREL", Number("1.0", "in"), True, 5)
    assert bar.fields == (ZoneField("BARREL", Number("90", "deg")),)
    assert (coil.section, coil.fill, coil.offset, coil.rotations) == ("BARREL", "intermediate", False, None)
    assert coil.fields == (ZoneField("BARREL", Number("0", "deg")),)


def test_technique_keys_left_out_are_empty() -> None:
    text = (PROCEDURE_FOLDER / "techniques/MT-T-6010.toml").read_text(encoding="utf-8")
    kept = [line for line in text.splitlines() if not line.startswith(("fields", "section", "fill"))]
    sheet = load_technique("\n".join(kept), "a file")
    assert (sheet.uv_at_part, sheet.white_light, sheet.field_points) == ((), False, ())
    assert {(shot.fields, shot.section, shot.fill, shot.conductor) for shot in sheet.shots} == {((), None, None, None)}


def test_part_sections_are_read() -> None:
    part = load_part((PROCEDURE_FOLDER / "parts/T6-12001.toml").read_text(encoding="utf-8"), "a file")
    barrel = Section("BARREL", Number("7.5", "in"), Number("5.65", "in"), Number("5.25", "in"))
    assert (part.section("BARREL"), part.section("HEAD")) == (barrel, None)
