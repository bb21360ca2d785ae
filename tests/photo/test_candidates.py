"""Candidates: regions as a general reference library sees them, their form and size, and what is left out."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
import pytest
from skimage import measure

from ndi.photo import candidates
from ndi.photo.card import find_cards
from tests.photo import scene
from tests.photo.indications import CRACK, PORE, made

SIZE = (900, 600)


def plain(look: str) -> Any:
    tone = (14, 12, 46) if look == "fluorescent" else (212, 211, 205)
    return np.full((SIZE[1], SIZE[0], 3), tone, np.uint8)


def drawn(look: str, line: list[tuple[int, int]], width: int) -> Any:
    colour = plain(look)
    tone = (120, 240, 80) if look == "fluorescent" else (130, 40, 40)
    points = np.array(line, np.int32)
    if len(line) == 1:
        cv2.circle(colour, line[0], width // 2, tone, -1, cv2.LINE_AA)
    else:
        cv2.polylines(colour, [points], False, tone, width, cv2.LINE_AA)
    return cv2.GaussianBlur(colour, (0, 0), 0.8)


@pytest.mark.parametrize("look", candidates.LOOKS)
def test_regions_agree_with_a_general_library(look: str) -> None:
    """scikit-image's labels of the same contrast, those that reach the upper level; areas and boxes compared."""
    regions = 0
    for number in range(4):
        colour = made(look, np.random.default_rng(300 + number), SIZE).colour
        found = candidates.segments(colour, look)
        scatter = 1.4826 * float(np.median(np.abs(found.contrast - np.median(found.contrast))))
        low = max(candidates._LEAST_LOWER, candidates._LOWER * scatter)
        high = max(candidates._LEAST_UPPER, candidates._UPPER * scatter)
        spread = measure.regionprops(measure.label(found.contrast > low, connectivity=2), found.contrast)
        theirs = [region for region in spread if region.intensity_max > high]
        ours = [
            (int((found.labels == n).sum()), top, left, top + tall, left + wide)
            for n, (left, top, wide, tall) in enumerate(found.boxes)
            if n
        ]
        assert sorted(ours) == sorted((int(region.area), *region.bbox) for region in theirs)
        regions += len(ours)
    assert regions > 5


@pytest.mark.parametrize("look", candidates.LOOKS)
@pytest.mark.parametrize("width", [3, 5, 8])
def test_length_and_width_agree_with_a_general_library(look: str, width: int) -> None:
    """scikit-image's major axis of the region at half height (an ellipse's; a bar is longer by sqrt(3) / 2), and its area."""
    colour = drawn(look, [(250, 200), (430, 290)], width)
    (only,) = candidates.propose(colour, look)
    contrast = candidates.segments(colour, look).contrast
    (region,) = measure.regionprops((contrast >= contrast.max() / 2).astype(int))
    assert only.length_px == pytest.approx(region.axis_major_length * np.sqrt(3) / 2, rel=0.03)
    assert only.length_px == pytest.approx(np.hypot(180, 90) + width, abs=4)
    assert only.width_px == pytest.approx(region.area / only.length_px, rel=0.08)
    assert only.is_linear and len(only.outline) >= 3 and only.strength > 0.3


@pytest.mark.parametrize("look", candidates.LOOKS)
@pytest.mark.parametrize(
    ("line", "width", "is_linear"),
    [([(200, 200)], 12, False), ([(200, 200), (216, 200)], 10, False), ([(200, 200), (290, 200)], 10, True)],
)
def test_form_is_linear_from_three_times_the_width(
    look: str, line: list[tuple[int, int]], width: int, is_linear: bool
) -> None:
    (only,) = candidates.propose(drawn(look, line, width), look)
    assert only.is_linear == is_linear


@pytest.mark.parametrize("look", candidates.LOOKS)
def test_bent_line_is_measured_along_its_way(look: str) -> None:
    """Half a circle of radius 70, pi times 70: a line of nine pieces cuts its corners a little."""
    turn = np.linspace(0, np.pi, 60)
    line = [(int(300 + 70 * np.cos(t)), int(160 + 70 * np.sin(t))) for t in turn]
    (only,) = candidates.propose(drawn(look, line, 3), look)
    assert only.length_px == pytest.approx(np.pi * 70, rel=0.06)


@pytest.mark.parametrize("look", candidates.LOOKS)
def test_nothing_is_proposed_on_a_bare_surface(look: str) -> None:
    chance = np.random.default_rng(1)
    for noise in (0.0, 2.0, 8.0):
        colour = np.clip(plain(look) + chance.normal(0, noise, (SIZE[1], SIZE[0], 3)), 0, 255).astype(np.uint8)
        assert candidates.propose(colour, look) == ()


def test_blue_white_lint_and_soft_glow_are_not_proposed() -> None:
    colour = plain("fluorescent")
    cv2.polylines(
        colour, [np.array([(60, 60), (120, 90), (180, 60)], np.int32)], False, (150, 180, 255), 2, cv2.LINE_AA
    )
    glow = np.zeros(colour.shape[:2], np.float32)
    cv2.circle(glow, (420, 200), 50, 1.0, -1)
    glow = cv2.GaussianBlur(glow, (0, 0), 25)[..., None] * np.array([60, 110, 30])
    assert candidates.propose(np.clip(colour + glow, 0, 255).astype(np.uint8), "fluorescent") == ()


@pytest.mark.parametrize("card", ["S", "M", "L"])
def test_print_of_a_card_is_left_out_and_what_shows_in_its_window_is_not(card: str) -> None:
    chance = np.random.default_rng(4)
    camera = scene.over(card, chance, (1200, 900), tilt=15)
    line = np.array([(25, 34), (50, 44)] if card != "S" else [(10, 38), (40, 42)])
    bare = scene.photograph(card, camera, np.random.default_rng(1))
    with_line = scene.photograph(card, camera, np.random.default_rng(1), lines=(line,))
    for grey, count in ((bare, 0), (with_line, 1)):
        colour = np.repeat(grey[..., None], 3, axis=2)
        found = candidates.propose(colour, "dark", find_cards(grey).cards)
        assert len([each for each in found if each.length_px > 20]) == count
    ends = camera.sees(line)
    assert found[0].length_px == pytest.approx(float(np.hypot(*(ends[1] - ends[0]))), rel=0.06)


@pytest.mark.parametrize("look", candidates.LOOKS)
def test_large_picture_gives_places_of_its_own_size(look: str) -> None:
    colour = cv2.resize(drawn(look, [(150, 100), (330, 190)], 5), None, fx=6, fy=6, interpolation=cv2.INTER_CUBIC)
    (only,) = candidates.propose(colour, look)
    assert only.length_px == pytest.approx(6 * np.hypot(180, 90), rel=0.04)
    assert np.array(only.line[0]) / 6 == pytest.approx((150, 100), abs=4) or np.array(
        only.line[-1]
    ) / 6 == pytest.approx((150, 100), abs=4)


@pytest.mark.parametrize("look", candidates.LOOKS)
def test_most_cracks_and_pores_of_known_pictures_are_proposed(look: str) -> None:
    """A small part of the set that the benchmark counts; seeds of its own."""
    hit = drawn_ = 0
    for number in range(8):
        picture = made(look, np.random.default_rng(9000 + number), SIZE)
        found = candidates.propose(picture.colour, look)
        for thing in picture.things:
            if thing.kind in (CRACK, PORE):
                drawn_ += 1
                hit += any(
                    np.linalg.norm(thing.line[:, None] - np.array(each.outline)[None], axis=2).min()
                    < thing.width / 2 + 6
                    for each in found
                )
    assert drawn_ > 10 and hit >= 0.85 * drawn_
