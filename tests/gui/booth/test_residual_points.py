"""The residual field of the demonstration day's crankshaft in the window: points on the outline, read in turn."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

from ndi.domain.procedure import PartMaster
from ndi.domain.scan_codes import ScanKind
from ndi.gui.presenters.scene import Dot, Outline, Rows, Shape, Side
from tests.gui.window import Window
from tests.procedure_files.test_demonstration_files import library

CRANKSHAFT = "W26-0148/T6-10010/6H-C-3391"


def dots(w: Window) -> tuple[Dot, ...]:
    (drawn,) = [
        part for side in w.scene.parts if isinstance(side, Side) for part in side.right if isinstance(part, Outline)
    ]
    return drawn.dots


def readings(w: Window) -> list[tuple[str, str]]:
    return [
        (row.text, row.detail)
        for side in w.scene.parts
        if isinstance(side, Side)
        for part in side.right
        if isinstance(part, Rows) and part.heading == "Residual field"
        for row in part.rows
    ]


def test_points_of_the_crankshaft_stand_on_its_outline(window: Callable[..., Window]) -> None:
    w = window("08:44")
    w.scan(ScanKind.PERSON, "L2-A").scan(ScanKind.METER, "GM-1").scan(ScanKind.PART, CRANKSHAFT)
    assert [dot.label for dot in dots(w)] == ["1", "2", "3", "4", "5", "6"]
    assert all(left.at.x < right.at.x for left, right in pairwise(dots(w)[:4])), "in order along the shaft"
    assert [dot.shape for dot in dots(w)] == [Shape.DONE, Shape.DONE, Shape.RUNNING, *[Shape.OPEN] * 3]
    w.shot("booth/residual-field")
    w.number("1.3").key("enter")
    assert not w.scene.refused, w.scene.message
    assert [dot.shape for dot in dots(w)] == [*[Shape.DONE] * 3, Shape.RUNNING, Shape.OPEN, Shape.OPEN]
    assert readings(w)[:4] == [
        ("1  flange rim", "1.0 G"),
        ("2  pin 1", "1.0 G"),
        ("3  cheek 5", "1.3 G"),
        ("4  pin 6", ""),
    ]
    w.shot("booth/residual-field-one-read")


def test_every_point_of_a_demonstration_sheet_has_a_place_inside_its_part() -> None:
    sheets = {sheet.number: sheet for sheet in library().techniques}
    for part in library().parts:
        wanted = {point for need in part.required for point in sheets[need.technique].residual_points}
        assert {point.name for point in part.reading_points} == wanted, part.number
        assert all(_is_within(part, point.name) for point in part.reading_points), part.number


def _is_within(part: PartMaster, name: str) -> bool:
    (point,) = [each for each in part.reading_points if each.name == name]
    xs, ys = zip(*((x.value, y.value) for x, y in part.outline), strict=True)
    return min(xs) <= point.x.value <= max(xs) and min(ys) <= point.y.value <= max(ys)
