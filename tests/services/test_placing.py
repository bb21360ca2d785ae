"""Which zone holds a point: judged by the raster that Pillow's ImageDraw.polygon fills, an implementation of its own.

A raster is right to a pixel, so points nearer than two pixels to an edge are
left to the exact tests below.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import hypot
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from PIL import Image, ImageDraw

from ndi import bootstrap
from ndi.domain.procedure import PartMaster, Zone
from ndi.domain.quantity import Number
from ndi.procedure_files.parts import load_part
from ndi.services import placing
from tests.build import num

PIXELS = 900  # along the longer side of a part
NEAR = 2.0  # pixels
Corners = list[tuple[float, float]]
PARTS = sorted(bootstrap.data_folder("procedures").glob("parts/*.toml"))


def zone(code: str, *corners: tuple[str, str]) -> Zone:
    """A zone with its corners in millimetres."""
    return Zone(code, code, "steel", True, tuple((num(f"{x} mm"), num(f"{y} mm")) for x, y in corners))


def master_of(*zones: Zone) -> PartMaster:
    return PartMaster("T-1", "plate", 1, True, (), (), zones, datum="the left edge")


def distance_to_edges(corners: Corners, x: float, y: float) -> float:
    """From a point to the nearest edge."""
    found = []
    for (x0, y0), (x1, y1) in zip(corners, [*corners[1:], corners[0]], strict=True):
        dx, dy = x1 - x0, y1 - y0
        along = 0.0 if dx == dy == 0 else max(0.0, min(1.0, ((x - x0) * dx + (y - y0) * dy) / (dx * dx + dy * dy)))
        found.append(hypot(x - x0 - along * dx, y - y0 - along * dy))
    return min(found)


def raster(corners: Corners, size: tuple[int, int]) -> np.ndarray:
    """True where the polygon is filled."""
    image = Image.new("1", size)
    ImageDraw.Draw(image).polygon(corners, fill=1)
    return np.asarray(image)


# --- every part of the library ------------------------------------------------------------------------


class Drawn:
    """The zones of a part as rasters."""

    def __init__(self, master: PartMaster) -> None:
        self.zones = [each for each in master.zones if each.polygon]
        corners = [[(float(x.in_unit("mm")), float(y.in_unit("mm"))) for x, y in each.polygon] for each in self.zones]
        xs = [x for polygon in corners for x, _ in polygon]
        ys = [y for polygon in corners for _, y in polygon]
        self.left, self.low = min(xs), min(ys)
        self.width, self.height = max(xs) - self.left, max(ys) - self.low
        self.scale = PIXELS / max(self.width, self.height)
        size = int(self.width * self.scale) + 3, int(self.height * self.scale) + 3
        self.corners = [[self.pixel(x, y) for x, y in polygon] for polygon in corners]
        self.rasters = [raster(polygon, size) for polygon in self.corners]

    def pixel(self, x: float, y: float) -> tuple[float, float]:
        return (x - self.left) * self.scale + 1, (y - self.low) * self.scale + 1

    def is_near_an_edge(self, x: float, y: float) -> bool:
        return any(distance_to_edges(polygon, *self.pixel(x, y)) < NEAR for polygon in self.corners)

    def holding(self, x: float, y: float) -> dict[str, int]:
        """Zones whose raster holds a point, with how many pixels each fills."""
        px, py = (round(value) for value in self.pixel(x, y))
        return {
            each.code: int(filled.sum())
            for each, filled in zip(self.zones, self.rasters, strict=True)
            if 0 <= py < filled.shape[0] and 0 <= px < filled.shape[1] and filled[py, px]
        }


@pytest.mark.parametrize("path", PARTS, ids=lambda path: path.stem)
def test_zone_of_every_point_of_a_grid_is_what_the_raster_says(path: Path) -> None:
    """Over the part and a tenth of it around: the smallest zone that holds the point, or none."""
    master = load_part(path.read_text(), path.name)
    if not any(each.polygon for each in master.zones):
        pytest.fail("a part without any zone drawn")
    drawn = Drawn(master)
    compared = inside = 0
    for across in range(-1, 14):
        for up in range(-1, 14):
            x = Fraction(drawn.left) + Fraction(drawn.width) * Fraction(2 * across + 1, 26)
            y = Fraction(drawn.low) + Fraction(drawn.height) * Fraction(2 * up + 1, 26)
            if drawn.is_near_an_edge(float(x), float(y)):
                continue
            compared += 1
            holding = drawn.holding(float(x), float(y))
            found = placing.zone_at(master, (x, y))
            if not holding:
                assert found is None, (float(x), float(y))
                continue
            inside += 1
            assert found is not None, (float(x), float(y), holding)
            smallest = min(holding.values())
            # pixels on the edges count too, so two zones of nearly one size cannot be told apart by their pixels
            assert found.code in holding and holding[found.code] <= smallest * 1.03, (found.code, holding)
            for wanted in holding:
                chosen = placing.zone_at(master, (x, y), [wanted])
                assert chosen is not None and chosen.code == wanted
    assert compared > 100 and inside > 15


# --- any polygon --------------------------------------------------------------------------------------

whole = st.integers(0, 120)
polygons = st.lists(st.tuples(whole, whole), min_size=3, max_size=9, unique=True)


@given(polygons, st.tuples(st.integers(-10, 130), st.integers(-10, 130)))
def test_a_point_is_held_where_the_raster_is_filled(corners: list[tuple[int, int]], at: tuple[int, int]) -> None:
    """Also where a polygon crosses itself: what is enclosed twice lies outside, for both."""
    scale, edge = 4, 60
    pixels = [(x * scale + edge, y * scale + edge) for x, y in corners]
    px, py = at[0] * scale + edge, at[1] * scale + edge
    assume(distance_to_edges([(float(x), float(y)) for x, y in pixels], px, py) >= NEAR)
    assume(abs(_twice_area(corners)) > 0)
    master = master_of(zone("A", *((str(x), str(y)) for x, y in corners)))
    filled = raster([(float(x), float(y)) for x, y in pixels], (130 * scale + 2 * edge, 130 * scale + 2 * edge))
    assert (placing.zone_at(master, (Fraction(at[0]), Fraction(at[1]))) is not None) == bool(filled[py, px])


def _twice_area(corners: list[tuple[int, int]]) -> int:
    return sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in zip(corners, [*corners[1:], corners[0]], strict=True))


@given(polygons, st.integers(0, 8), st.fractions(0, 1))
def test_the_edge_belongs_to_the_zone(corners: list[tuple[int, int]], edge: int, along: Fraction) -> None:
    """Exactly on it, at any share of its length; so do the corners."""
    master = master_of(zone("A", *((str(x), str(y)) for x, y in corners)))
    (x0, y0), (x1, y1) = corners[edge % len(corners)], corners[(edge + 1) % len(corners)]
    at = x0 + (x1 - x0) * along, y0 + (y1 - y0) * along
    assert placing.zone_at(master, at) is not None


# --- the choice, the middle, the words ----------------------------------------------------------------

LARGE = zone("LARGE", ("0", "0"), ("100", "0"), ("100", "50"), ("0", "50"))
SMALL = zone("SMALL", ("10", "10"), ("30", "10"), ("30", "20"), ("10", "20"))
NOWHERE = zone("NOWHERE")
IN_BOTH, IN_LARGE = (Fraction(20), Fraction(15)), (Fraction(60), Fraction(15))


@pytest.mark.parametrize(
    ("at", "wanted", "code"),
    [
        (IN_BOTH, (), "SMALL"),
        (IN_BOTH, ("LARGE",), "LARGE"),  # the technique asks for this one
        (IN_BOTH, ("SMALL", "LARGE"), "SMALL"),
        (IN_BOTH, ("NOWHERE",), "SMALL"),
        (IN_LARGE, ("SMALL",), "LARGE"),
        ((Fraction(-1, 1000), Fraction(15)), (), None),
        ((Fraction(100001, 1000), Fraction(15)), (), None),
        ((Fraction(100), Fraction(50)), (), "LARGE"),
    ],
)
def test_smallest_zone_and_the_one_of_the_technique_first(
    at: placing.Place, wanted: tuple[str, ...], code: str | None
) -> None:
    for zones in ((LARGE, SMALL, NOWHERE), (NOWHERE, SMALL, LARGE)):
        found = placing.zone_at(master_of(*zones), at, wanted)
        assert (found.code if found else None) == code


def test_inches_and_millimetres_of_one_outline_are_one_place() -> None:
    inches = replace(
        SMALL, polygon=tuple((Number(x, "in"), Number(y, "in")) for x, y in (("0", "0"), ("1", "0"), ("1", "1")))
    )
    assert placing.zone_at(master_of(inches), (Fraction("25.4"), Fraction("25.4"))) is inches
    assert placing.zone_at(master_of(inches), (Fraction("25.401"), Fraction("25.4"))) is None


def test_middle_of_a_zone_is_the_middle_of_its_box() -> None:
    assert placing.centre_of(SMALL) == (Fraction(20), Fraction(15))
    assert placing.centre_of(NOWHERE) == (Fraction(0), Fraction(0))


@pytest.mark.parametrize(
    ("at", "clock", "words"),
    [
        (("60.96", "0"), None, "2.4 in from the left edge"),
        (("-60.96", "7.62"), None, "2.4 in from the left edge, 0.3 in above its line"),
        (("25.4", "-2.54"), "165 deg", "1 in from the left edge, 0.1 in below its line, 165 deg"),
    ],
)
def test_place_in_words(at: tuple[str, str], clock: str | None, words: str) -> None:
    master = master_of(LARGE)
    place = Fraction(at[0]), Fraction(at[1])
    assert placing.in_words(master, place, num(clock) if clock else None) == words
