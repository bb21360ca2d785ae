"""Cards found in photographs made from known geometry, and lengths measured with them."""

from __future__ import annotations

import io
import os
from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from PIL import Image

from ndi.calc.photo_measures import along
from ndi.domain.errors import InputError
from ndi.domain.scale_card import CARDS
from ndi.photo.card import find_cards
from ndi.photo.reader import Reader
from ndi.services import measuring
from ndi.services.measuring import Marked, measure
from ndi.services.picture_ports import PictureRead
from tests.photo import scene

SIZE = (800, 600)
CASES = 210


def seen_by(camera: scene.Camera, places: Any) -> tuple[tuple[float, float], ...]:
    return tuple((float(x), float(y)) for x, y in camera.sees(np.asarray(places, float)))


def near(card: str) -> tuple[Any, Any]:
    """Where an indication may lie: in the window, or below a card without one."""
    design = CARDS[card]
    if design.window is not None:
        box = design.window
        return np.array([box.left, box.top]), np.array([box.right, box.bottom])
    return np.array([5, design.height]), np.array([design.width - 5, design.height + 20])


def one(number: int) -> tuple[float, float, float] | None:
    """True length, length found, its uncertainty, of one case drawn from a seed; None where no card was found."""
    chance = np.random.default_rng(7000 + number)
    card = "SML"[number % 3]
    camera = scene.over(card, chance, SIZE)
    grown = 1 + float(chance.uniform(-0.005, 0.005))
    grey = scene.photograph(
        card,
        camera,
        chance,
        blur=float(chance.uniform(0, 1.4)),
        light=float(chance.uniform(0.25, 1)),
        noise=float(chance.uniform(0, 6)),
        print_scale=grown,
    )
    cards, doubled = find_cards(grey)
    if not cards:
        return None
    low, high = near(card)
    count, click = int(chance.integers(2, 5)), float(chance.uniform(0.5, 2))
    ends = chance.uniform(low, high, (2, 2))
    line = np.linspace(ends[0], ends[1], count) + chance.normal(0, 0.3, (count, 2))
    clicked = camera.sees(line) + chance.normal(0, click, (count, 2))
    if not ((clicked >= 0) & (clicked <= SIZE)).all():
        return None
    read = PictureRead(*SIZE, cards=cards, doubled=doubled)
    found = measure(read, Marked((tuple((float(x), float(y)) for x, y in clicked),), click_px=click))
    return along([(float(x), float(y)) for x, y in line]), found.length.value, found.length.half_width


def test_true_length_lies_within_the_stated_uncertainty() -> None:
    """In at least 95 of 100 cases: perspective, blur, dim light, noise, bent lens, printer's stretch, marking noise."""
    cases = [one(number) for number in range(CASES)]
    found = [case for case in cases if case is not None]
    assert len(found) >= 0.95 * CASES
    inside = [abs(value - true) <= half for true, value, half in found]
    assert sum(inside) >= 0.95 * len(found)
    # and it is not stated so wide that it says nothing: half of them to better than 7 %, and few lie in its inner fifth
    assert float(np.median([half / true for true, _, half in found])) < 0.07
    assert sum(abs(value - true) <= half / 5 for true, value, half in found) < 0.6 * len(found)


def flat(card: str = "M", seed: int = 1, **more: Any) -> tuple[scene.Camera, Any]:
    chance = np.random.default_rng(seed)
    camera = scene.over(card, chance, SIZE, tilt=15)
    return camera, scene.photograph(card, camera, chance, **more)


@pytest.mark.parametrize("card", CARDS)
def test_corners_are_found_to_a_fraction_of_a_pixel(card: str) -> None:
    camera, grey = flat(card, blur=0.7, noise=2)
    ((found,), _) = find_cards(grey)
    assert found.name == card and len(found.marks) == len(CARDS[card].marks)
    off = [
        np.hypot(*(np.array(seen) - np.array(wanted)))
        for mark in found.marks
        for seen, wanted in zip(mark.corners, seen_by(camera, CARDS[card].corners(mark.number)), strict=True)
    ]
    assert max(off) < 0.4


def test_blur_is_told() -> None:
    """By the library's own Gaussian: the standard deviation that was put in, the pixel's own width beside it."""
    for blur in (0.6, 1.2, 1.8):
        _, grey = flat(blur=blur, noise=1)
        assert find_cards(grey).cards[0].blur_px == pytest.approx(np.hypot(blur, 0.45), rel=0.25)


def test_code_on_the_card_is_read_and_the_scale_is_told() -> None:
    chance = np.random.default_rng(1)
    camera = scene.over("M", chance, (2000, 1500), tilt=15)
    read = Reader().read(scene.saved(scene.photograph("M", camera, chance), "JPEG", quality=90))
    assert read.codes == (scene.CODE,) and [card.name for card in read.cards] == ["M"]
    plane = measuring.plane_of(read, read.cards[0])
    a, b = seen_by(camera, [(40, 33), (41, 33)])
    scale = plane.millimetres_per_pixel(a)
    assert scale.finest * 0.995 <= 1 / np.hypot(b[0] - a[0], b[1] - a[1]) <= scale.coarsest * 1.005


def test_small_code_is_read_from_the_card_made_straight() -> None:
    """A picture so large that its smaller copy shows no code: the card tells where to look."""
    chance = np.random.default_rng(3)
    camera = scene.over("M", chance, (900, 700), tilt=10)
    grey = scene.photograph("M", camera, chance, blur=0.4, noise=1)
    wide = np.full((4200, 5600), 120, np.uint8)
    wide[1500:2200, 2000:2900] = grey
    read = Reader().read(scene.saved(wide))
    assert [card.name for card in read.cards] == ["M"] and len(read.cards[0].marks) == 4
    assert read.codes in ((scene.CODE,), ())  # the printed modules are two pixels wide here
    bare = Reader().read(scene.saved(grey))
    assert bare.codes in ((scene.CODE,), ())


@pytest.mark.parametrize("orientation", [3, 6, 8])
def test_points_are_those_of_the_picture_shown_upright(orientation: int) -> None:
    """Exif orientation (CIPA DC-008): the same card, stored on its side."""
    camera, grey = flat()
    turned = {3: cv2.ROTATE_180, 6: cv2.ROTATE_90_COUNTERCLOCKWISE, 8: cv2.ROTATE_90_CLOCKWISE}[orientation]
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif.get_ifd(0x8769)[0xA405] = 50
    read = Reader().read(scene.saved(cv2.rotate(grey, turned), "JPEG", quality=95, exif=exif.tobytes()))
    assert (read.width, read.height, read.focal_35_mm) == (*SIZE, 50)
    corners = {mark.number: mark.corners[0] for mark in read.cards[0].marks}
    for number, corner in corners.items():
        assert corner == pytest.approx(seen_by(camera, [CARDS["M"].marks[number]])[0], abs=0.5)


@pytest.mark.parametrize("form", ["PNG", "TIFF", "WEBP", "BMP"])
def test_every_form_of_picture_is_read(form: str) -> None:
    _, grey = flat()
    assert [card.name for card in Reader().read(scene.saved(grey, form)).cards] == ["M"]


def test_deep_and_coloured_pictures_are_read() -> None:
    _, grey = flat()
    deep = Image.fromarray(grey.astype(np.uint16) * 16)
    out = io.BytesIO()
    deep.save(out, "PNG")
    for content in (out.getvalue(), _as(grey, "RGB"), _as(grey, "CMYK", "TIFF"), _as(grey, "P"), _as(grey, "RGBA")):
        assert [card.name for card in Reader().read(content).cards] == ["M"]


def _as(grey: Any, mode: str, form: str = "PNG") -> bytes:
    out = io.BytesIO()
    image = Image.fromarray(grey)
    (image.convert("RGB").convert(mode) if mode != "RGB" else image.convert("RGB")).save(out, form)
    return out.getvalue()


@pytest.mark.parametrize("size", [(1, 1), (2, 900), (30, 20), (64, 64)])
def test_picture_of_any_size_is_read_without_a_card(size: tuple[int, int]) -> None:
    chance = np.random.default_rng(0)
    read = Reader().read(scene.saved(chance.integers(0, 255, size, dtype=np.uint8)))
    assert read.cards == () and read.codes == ()


def test_noise_makes_no_card() -> None:
    chance = np.random.default_rng(0)
    for _ in range(10):
        rough = cv2.resize(chance.integers(0, 255, (60, 80), dtype=np.uint8), SIZE, interpolation=cv2.INTER_NEAREST)
        assert find_cards(rough).cards == ()


# --- what is said against it ----------------------------------------------------------------------


def read_of(grey: Any, focal: float | None = None) -> PictureRead:
    cards, doubled = find_cards(grey)
    return PictureRead(*SIZE, cards=cards, doubled=doubled, focal_35_mm=focal)


def test_without_a_card_there_is_no_scale() -> None:
    with pytest.raises(InputError, match="no scale card is seen"):
        measure(PictureRead(800, 600), Marked((((1, 1), (2, 2)),)))


def test_two_cards_of_one_size_say_nothing() -> None:
    _, grey = flat("S")
    read = read_of(np.hstack([grey, grey])[:, :1600])
    assert read.cards == () and read.doubled == ("S",)
    with pytest.raises(InputError, match="size S lie in it twice"):
        measure(read, Marked((((1, 1), (2, 2)),)))


def warned(camera: scene.Camera, grey: Any, line: Any, focal: float | None = None, **more: Any) -> measuring.Measured:
    return measure(read_of(grey, focal), Marked((seen_by(camera, line),), **more))


INSIDE = [(25, 30), (50, 40)]


def test_line_in_the_window_of_a_flat_card_has_no_warning() -> None:
    camera, grey = flat()
    found = warned(camera, grey, INSIDE)
    assert found.warnings == () and found.length.value == pytest.approx(np.hypot(25, 10), rel=0.01)
    assert found.how.startswith("scale card M in the plane of the indication, 4 of 4 marks")


def test_line_outside_the_card_is_said() -> None:
    camera, grey = flat()
    assert warned(camera, grey, [(25, 30), (25, 75)]).warnings[0].startswith("outside card: the line goes 9.")


def test_card_that_is_not_flat_is_said() -> None:
    """A card of 130 mm that bulges by 10 mm, and the flat one."""
    chance = np.random.default_rng(5)
    camera = replace(scene.over("L", chance, SIZE, tilt=30), bend=0.0)
    for bulge, is_said in ((0.0, False), (10.0, True)):
        grey = scene.photograph("L", camera, np.random.default_rng(3), bend_mm=bulge)
        said = measure(read_of(grey), Marked((seen_by(camera, [(40, 50), (80, 50)]),))).warnings
        assert any("not flat" in warning for warning in said) == is_said


def test_card_half_covered_is_said_and_less_certain() -> None:
    camera, grey = flat()
    covered = grey.copy()
    hand = np.round(seen_by(camera, [(66, -20), (110, -20), (110, 90), (66, 90)])).astype(np.int32)
    cv2.fillConvexPoly(covered, hand, 90)
    line = [(25, 30), (50, 40)]
    found, whole = warned(camera, covered, line, click_px=0.2), warned(camera, grey, line, click_px=0.2)
    assert any("only 2 of 4 marks" in warning for warning in found.warnings)
    assert found.length.marks > whole.length.marks
    assert abs(found.length.value - np.hypot(25, 10)) < found.length.half_width


@pytest.mark.parametrize(
    ("crack", "wide", "is_said"), [(None, 3.0, True), (0.5, 3.0, True), (4.0, 3.0, False), (None, 0.05, False)]
)
def test_bleed_out_wider_than_the_crack_is_said(crack: float | None, wide: float, is_said: bool) -> None:
    camera, grey = flat()
    across = seen_by(camera, [(37, 35), (37, 35 + wide)])
    found = warned(camera, grey, INSIDE, across=across, crack_mm=crack)
    assert any(warning.startswith("bleed-out") for warning in found.warnings) == is_said
    assert found.width is not None and found.width.value == pytest.approx(wide, abs=0.05)


def test_off_the_plane_costs_and_needs_the_camera() -> None:
    camera, grey = flat()
    with pytest.raises(InputError, match="distance of the camera"):
        warned(camera, grey, INSIDE, off_plane_mm=2.0)
    plain = warned(camera, grey, INSIDE)
    away = abs(float((camera.turn.T @ camera.shift)[2]))
    focal = camera.focal / np.hypot(*SIZE) * np.hypot(36, 24)
    for given in ({"camera_mm": away}, {"focal": float(focal)}):
        found = warned(camera, grey, INSIDE, off_plane_mm=2.0, **given)  # type: ignore[arg-type]
        assert found.length.half_width > plain.length.half_width
        assert any("off the card's plane" in warning for warning in found.warnings)


def test_true_length_off_the_plane_lies_within_what_it_costs() -> None:
    """A line 3 mm above the card, as a camera of known place sees it."""
    chance = np.random.default_rng(11)
    inside = 0
    for number in range(30):
        camera = replace(scene.over("M", chance, SIZE, tilt=25), bend=0.0, off_middle=(0.0, 0.0))
        grey = scene.photograph("M", camera, np.random.default_rng(number), blur=0.6, noise=1)
        line = [(22.0, 30.0, 3.0), (58.0, 45.0, 3.0)]
        away = abs(float((camera.turn.T @ camera.shift)[2]))
        marked = Marked((seen_by(camera, line),), off_plane_mm=3.0, camera_mm=away, click_px=0.2)
        found = measure(read_of(grey), marked).length
        inside += abs(found.value - np.hypot(36, 15)) <= found.half_width
    assert inside == 30


def test_journal_says_how_far_its_ends_lie_below() -> None:
    camera, grey = flat()
    found = warned(camera, grey, INSIDE, radius_mm=28.6)
    chord = np.hypot(25, 10)
    assert found.chord is not None and found.chord.value == pytest.approx(chord, rel=0.01)
    assert found.length.value == pytest.approx(2 * 28.6 * np.arcsin(chord / 2 / 28.6), rel=0.01)
    assert any("ends lie 3." in warning and "not in the uncertainty" in warning for warning in found.warnings)


def test_direction_and_distance_from_a_datum() -> None:
    camera, grey = flat()
    found = warned(
        camera, grey, INSIDE, axis=seen_by(camera, [(20, 28), (60, 28)]), datum=seen_by(camera, [(15, 28), (15, 50)])
    )
    assert found.angle is not None and found.angle.value == pytest.approx(np.degrees(np.arctan2(10, 25)), abs=0.5)
    assert found.from_datum is not None and found.from_datum.value == pytest.approx(10.0, abs=0.1)


def test_short_line_and_crowded_points_are_said() -> None:
    camera, grey = flat()
    assert any("pixels long" in w for w in warned(camera, grey, [(25, 30), (26, 30)]).warnings)
    crowded = [(25 + n * 0.2, 30) for n in range(60)]
    assert any("mark fewer" in w for w in warned(camera, grey, crowded, click_px=2.0).warnings)


def test_second_card_that_lies_elsewhere_is_said() -> None:
    """Two cards in one frame, one of them half as large as it should be: they cannot both be right."""
    camera, grey = flat("M")
    other = replace(read_of(flat("S", 5)[1]).cards[0])
    read = read_of(grey)
    found = measure(replace(read, cards=(*read.cards, other)), Marked((seen_by(camera, INSIDE),), click_px=0.3))
    assert any("card S in the same picture" in warning for warning in found.warnings)


@pytest.mark.parametrize(
    "wrong",
    [
        {"lines": ()},
        {"lines": (((1.0, 1.0),),)},
        {"lines": (((1.0, 1.0), (900.0, 1.0)),)},
        {"lines": (((1.0, 1.0), (float("nan"), 1.0)),)},
        {"across": ((1.0, 1.0),)},
        {"radius_mm": 0.0},
        {"radius_mm": -2.0},
        {"click_px": 0.0},
        {"off_plane_mm": -1.0},
        {"print_share": float("nan")},
        {"camera_mm": 1e12, "off_plane_mm": 1.0},
    ],
)
def test_impossible_marks_are_refused(wrong: dict[str, Any]) -> None:
    camera, grey = flat()
    given: dict[str, Any] = {"lines": (seen_by(camera, INSIDE),), **wrong}
    with pytest.raises(InputError):
        measure(read_of(grey), Marked(**given))


@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="this system does not tell what a program holds")
def test_many_pictures_read_one_after_another_hold_no_memory() -> None:
    """What the system says that this program holds, after five and after thirty of them; the benchmark does it with large ones."""
    chance = np.random.default_rng(1)
    camera = scene.over("M", chance, (1000, 750), tilt=15)
    content = scene.saved(scene.photograph("M", camera, chance), "JPEG", quality=90)
    held = []
    for number in range(30):
        read = Reader().read(content)
        Reader().propose(content, "dark", read.cards)
        if number in (4, 29):
            held.append(resident())
    assert held[1] - held[0] < 12 * 2**20, "25 pictures of 1000 x 750 have 54 MB unpacked"


def resident() -> int:
    words = Path("/proc/self/statm").read_text().split()
    return int(words[1]) * os.sysconf("SC_PAGE_SIZE")


@pytest.mark.parametrize("content", [b"", b"no picture", b"\xff\xd8\xff" + bytes(50)])
def test_what_is_no_picture_is_refused_with_words(content: bytes) -> None:
    for call in (lambda: Reader().read(content), lambda: Reader().propose(content, "dark", ())):
        with pytest.raises(InputError, match="cannot be read"):
            call()
