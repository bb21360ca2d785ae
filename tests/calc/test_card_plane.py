"""The plane of a card, what is measured in it and its uncertainty, against closed forms, simulation and general libraries."""

from __future__ import annotations

import math
from dataclasses import replace

import cv2
import numpy as np
import pytest
from scipy import stats

from ndi.calc import photo_length
from ndi.calc.camera_place import CameraPlace, camera_place, focal_for_height, focal_px
from ndi.calc.card_plane import LENS, MarkPoint, fit
from ndi.calc.photo_measures import Ruler, Uncertain, along, coverage, repeated
from ndi.domain.errors import InputError

IN = 25.4
# worked example of the golden case: a card of 1.000 x 0.500 in, its corners and the ends of a line in pixels
CORNERS = ((412, 388), (1195, 341), (1222, 742), (436, 771))
ENDS = ((618.0, 902.0), (905.0, 861.0))
PLACES = ((0, 0), (IN, 0), (IN, IN / 2), (0, IN / 2))
MARKS = [MarkPoint(*seen, *place) for seen, place in zip(CORNERS, PLACES, strict=True)]
SIZE = (1600, 1200)


def golden(click_px: float = 2.0) -> Ruler:
    return Ruler(fit(MARKS, SIZE, noise_px=1.5, lens=0), click_px, 0.0)


def test_golden_length_and_its_scatter() -> None:
    """0.3728 in; sd about 0.004 in with 1.5 px at the corners and 2 px at the ends."""
    found = golden().length(ENDS)
    assert found.value / IN == pytest.approx(0.3728, abs=5e-5)
    assert found.sd / IN == pytest.approx(0.004, abs=2e-4)
    assert (
        0.364 < (found.value - found.half_width) / IN < 0.366 and 0.379 < (found.value + found.half_width) / IN < 0.381
    )


def test_golden_agrees_with_the_closed_form_of_four_corners() -> None:
    picture = photo_length.Picture(CORNERS, ENDS, 1.0, 0.5)
    assert golden().length(ENDS).value / IN == pytest.approx(picture.length, rel=1e-9)
    spread = photo_length.scatter(picture, 1.5, 2.0, 4000, 1)
    assert golden().length(ENDS).sd / IN == pytest.approx(spread.sd, rel=0.05)


@pytest.mark.parametrize(("chord", "expected"), [(0.300, 0.3009), (1.200, 1.2657)])
def test_golden_arc_of_a_journal(chord: float, expected: float) -> None:
    """Radius 1.125 in; worked example."""
    flat = Ruler(fit([MarkPoint(10 * x, 10 * y, x, y) for x, y in PLACES], SIZE, noise_px=0.01, lens=0), 0.01, 0.0)
    found = flat.on_journal(((0, 0), (10 * chord * IN, 0)), 1.125 * IN)
    assert found.value / IN == pytest.approx(expected, abs=5e-5)


def test_slanting_line_on_a_journal_is_a_helix() -> None:
    """Length of a helix: sqrt(arc^2 + rise^2), plane geometry of the unrolled cylinder."""
    flat = Ruler(fit([MarkPoint(10 * x, 10 * y, x, y) for x, y in PLACES], SIZE, noise_px=0.01, lens=0), 0.01, 0.0)
    found = flat.on_journal(((0, 0), (120, 50)), 8.0, axis=((0, 0), (0, 100)))
    assert found.value == pytest.approx(math.hypot(16 * math.asin(12 / 16), 5.0), rel=1e-6)


# --- the fit --------------------------------------------------------------------------------------


def marks_of(chance: np.random.Generator, noise: float, bend: float = 0.0) -> tuple[list[MarkPoint], np.ndarray]:  # type: ignore[type-arg]
    """Twelve corners of three marks seen by a known homography and lens, and that homography."""
    matrix = np.array([[9.0, 0.7, 300], [-0.5, 8.5, 200], [4e-4, -3e-4, 1]])
    places = [(x + dx, y + dy) for x, y in ((0, 0), (60, 2), (5, 40)) for dx, dy in ((0, 0), (8, 0), (8, 8), (0, 8))]
    marks = []
    for place in places:
        u = matrix @ [*place, 1]
        straight = (u[:2] / u[2] - (800, 600)) / 1000
        bent = straight
        for _ in range(60):
            bent = straight / (1 + bend * (bent @ bent))
        seen = bent * 1000 + (800, 600) + chance.normal(0, noise, 2)
        marks.append(MarkPoint(float(seen[0]), float(seen[1]), *place))
    return marks, matrix


def test_fit_agrees_with_the_general_picture_library() -> None:
    """OpenCV's least squares over the same corners, mapped points compared."""
    marks, _ = marks_of(np.random.default_rng(1), 0.3)
    plane = fit(marks, (1600, 1200), lens=0)
    theirs, _ = cv2.findHomography(
        np.array([(m.x_px, m.y_px) for m in marks]), np.array([(m.x_mm, m.y_mm) for m in marks]), 0
    )
    points = [(400.0, 300.0), (900.0, 500.0)]
    other = cv2.perspectiveTransform(np.array([points]), theirs)[0]
    assert plane.at(points) == pytest.approx(other, abs=0.05)  # they weigh millimetres, we weigh pixels


def test_lens_is_found_and_taken_off() -> None:
    marks, _ = marks_of(np.random.default_rng(2), 0.0, bend=0.02)
    plane = fit(marks, (1600, 1200))
    assert plane.lens == pytest.approx(0.02, abs=0.002)
    for mark in marks:
        assert plane.at([(mark.x_px, mark.y_px)])[0] == pytest.approx((mark.x_mm, mark.y_mm), abs=0.01)
        assert plane.seen([(mark.x_mm, mark.y_mm)])[0] == pytest.approx((mark.x_px, mark.y_px), abs=0.05)


@pytest.mark.parametrize(
    ("ask", "points"),
    [
        (lambda r, p: r.length(p), 3),
        (lambda r, p: r.angle(p[:2], p[2:]), 4),
        (lambda r, p: r.distance(p[0], p[1:]), 2),
        (lambda r, p: r.distance(p[0], p[1:]), 3),
        (lambda r, p: r.on_journal(p[:2], 40.0), 2),
        (lambda r, p: r.on_journal(p[:2], 40.0, p[2:]), 4),
    ],
)
def test_stated_scatter_is_that_of_a_simulation(ask, points: int) -> None:  # type: ignore[no-untyped-def]
    """Marks and clicks drawn anew 250 times: the scatter of the values, against what one picture states."""
    spots = [(420.0, 330.0), (760.0, 420.0), (900.0, 300.0), (500.0, 520.0)][:points]
    if points == 3:
        spots = [(420.0, 330.0), (600.0, 380.0), (760.0, 420.0)]
    chance = np.random.default_rng(5)
    values, stated = [], []
    for _ in range(250):
        marks, _ = marks_of(chance, 0.5)
        plane = fit(marks, (1600, 1200), noise_px=0.5, lens=0)
        clicked = [tuple(point + chance.normal(0, 1.5, 2)) for point in np.array(spots)]
        found = ask(Ruler(plane, 1.5, 0.0), clicked)
        values.append(found.value)
        stated.append(found.sd)
    assert float(np.median(stated)) == pytest.approx(float(np.std(values)), rel=0.15)


def test_scale_and_its_scatter() -> None:
    """Against finite differences of the known map, and against a simulation of the marks."""
    point, chance = (700.0, 400.0), np.random.default_rng(3)
    exact = fit(marks_of(chance, 0.0)[0], (1600, 1200), noise_px=0.4, lens=0)
    _, matrix = marks_of(chance, 0.0)
    inverse = np.linalg.inv(matrix)

    def place(x: float, y: float) -> np.ndarray:  # type: ignore[type-arg]
        along = inverse @ [x, y, 1]
        return along[:2] / along[2]

    slope = np.column_stack([place(point[0] + 0.5, point[1]) - place(point[0] - 0.5, point[1]),
                             place(point[0], point[1] + 0.5) - place(point[0], point[1] - 0.5)])  # fmt: skip
    scale = exact.millimetres_per_pixel(point)
    assert scale.mean == pytest.approx(math.sqrt(abs(np.linalg.det(slope))), rel=1e-6)
    assert scale.finest <= scale.mean <= scale.coarsest
    means = [
        fit(marks_of(chance, 0.4)[0], (1600, 1200), noise_px=0.4, lens=0).millimetres_per_pixel(point).mean
        for _ in range(300)
    ]
    assert scale.sd == pytest.approx(float(np.std(means)), rel=0.15)


def test_farther_from_the_card_is_less_certain() -> None:
    ruler = Ruler(fit(marks_of(np.random.default_rng(4), 0.3)[0], (1600, 1200)), 1.0, 0.0)
    near, far = ruler.length(((450.0, 350.0), (550.0, 350.0))), ruler.length(((1450.0, 1050.0), (1550.0, 1050.0)))
    assert far.marks / far.value > 2 * near.marks / near.value


@pytest.mark.parametrize(
    ("marks", "words"),
    [
        (MARKS[:3], "four or more"),
        ([MarkPoint(x, 2 * x, x, 0) for x in range(8)], "on one line"),
        (MARKS, "say it"),
    ],
)
def test_marks_that_fix_no_plane_are_refused(marks: list[MarkPoint], words: str) -> None:
    with pytest.raises(InputError, match=words):
        fit(marks, SIZE)


def test_point_beyond_the_horizon_is_refused() -> None:
    """A floor seen flat: above its horizon there is no floor."""
    places = [(x, y) for x in (-50.0, 50.0) for y in (10.0, 40.0, 90.0)]
    seen = [MarkPoint(800 + 1000 * x / (y + 20), 300 + 9000 / (y + 20), x, y) for x, y in places]
    plane = fit(seen, (1600, 1200), noise_px=0.5, lens=0)
    assert plane.at([(800, 390)])[0][1] == pytest.approx(80, abs=0.1)
    with pytest.raises(InputError, match="horizon"):
        plane.at([(800.0, 100.0)])


@pytest.mark.parametrize(
    "call",
    [
        lambda r: r.length([ENDS[0]]),
        lambda r: r.distance(ENDS[0], [ENDS[1]] * 2),
        lambda r: r.distance(ENDS[0], []),
        lambda r: r.angle(ENDS, [ENDS[0]]),
        lambda r: r.angle([ENDS[0], ENDS[0]], ENDS),
        lambda r: r.on_journal(ENDS, 0),
        lambda r: r.on_journal(ENDS, 1.0),
        lambda r: r.on_journal(ENDS, 50.0, [ENDS[0]]),
        lambda r: r.on_journal(ENDS, 50.0, [ENDS[0], ENDS[0]]),
    ],
)
def test_points_that_make_no_measure_are_refused(call) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(InputError):
        call(golden())


# --- uncertainty ----------------------------------------------------------------------------------


@pytest.mark.parametrize("freedom", [1, 2, 3, 5, 8, 11, 15, 22.5, 33, 70, 100, 1000, math.inf])
def test_coverage_is_students_t(freedom: float) -> None:
    """SciPy's Student distribution; the table has two decimals, between its rows 1 % is allowed."""
    assert coverage(freedom) == pytest.approx(float(stats.t.ppf(0.975, freedom)), rel=0.01)


def test_causes_are_put_together_as_squares_and_a_bound_is_added() -> None:
    found = Uncertain(10.0, 0.3, 0.4, 0.0, 1e9)
    assert (found.sd, found.half_width) == (pytest.approx(0.5), pytest.approx(1.0))
    assert replace(found, bound=0.2).half_width == pytest.approx(1.2)
    assert Uncertain(10.0, 0.3, 0.0, 0.0, 4).half_width == pytest.approx(2.78 * 0.3)


def test_print_counts_for_lengths_only() -> None:
    """A share a of equal chance has the standard uncertainty a / sqrt(3) (JCGM 100:2008, 4.3.7)."""
    ruler = replace(golden(), print_share=0.005)
    assert ruler.length(ENDS).printing == pytest.approx(ruler.length(ENDS).value * 0.005 / math.sqrt(3))
    assert ruler.angle(ENDS, ENDS).printing == 0


def test_line_marked_again_and_again_says_itself_how_well() -> None:
    one = Uncertain(10.0, 0.1, 5.0, 0.0, 1e9)
    found = repeated([replace(one, value=value) for value in (9.9, 10.0, 10.2)])
    assert found.value == pytest.approx(10.0333, abs=1e-4)
    assert found.clicks == pytest.approx(float(np.std([9.9, 10.0, 10.2], ddof=1) / math.sqrt(3)))
    assert found.clicks_freedom == 2 and repeated([one]) is one


def test_length_of_a_line_of_several_points() -> None:
    assert along([(0, 0), (3, 4), (3, 10)]) == 11


# --- the camera -----------------------------------------------------------------------------------


def test_camera_is_where_it_was_put() -> None:
    """A pinhole camera of known pose (OpenCV's projection), found again from the plane alone and its focal length."""
    turn, _ = cv2.Rodrigues(np.array([0.3, -0.2, 0.1]))
    shift, focal = np.array([-20.0, -15.0, 400.0]), 1500.0
    places = [(x, y) for x in (0.0, 30.0, 60.0) for y in (0.0, 40.0)]
    camera = np.array([[focal, 0, 800], [0, focal, 600], [0, 0, 1]])
    seen, _ = cv2.projectPoints(np.array([(*p, 0.0) for p in places]), turn, shift, camera, None)
    plane = fit([MarkPoint(*map(float, s[0]), *p) for s, p in zip(seen, places, strict=True)], (1600, 1200), lens=0)
    eye = -turn.T @ shift
    found = camera_place(plane, focal)
    assert (found.x, found.y, found.height) == pytest.approx((eye[0], eye[1], abs(eye[2])), rel=1e-4)
    assert focal_for_height(plane, found.height) == pytest.approx(focal, rel=1e-3)
    with pytest.raises(InputError, match="does not fit"):
        focal_for_height(plane, 1e9)


def test_focal_length_as_of_film() -> None:
    """A 50 mm lens over the diagonal of 36 x 24 mm (43.27 mm)."""
    assert focal_px(50, (3600, 2400)) == pytest.approx(5000)


def test_lying_off_the_plane_costs_what_the_rays_say() -> None:
    """Straight above, 1 mm off at 100 mm: each end is wrong by 1 % of its distance from the foot of the camera."""
    camera = CameraPlace(0, 0, 100)
    assert camera.off_plane([(-10, 0), (10, 0)], 1) == pytest.approx(0.2)
    assert camera.off_plane([(10, 0), (30, 0)], 1) == pytest.approx(0.4)
    with pytest.raises(InputError, match="off the plane"):
        camera.off_plane([(0, 0), (1, 0)], 100)


def test_what_is_assumed_of_a_lens_is_said_to_be_from_memory() -> None:
    assert LENS == 0.03
