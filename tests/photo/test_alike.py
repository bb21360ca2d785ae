"""Copies of a picture are known again, pictures of other things are not; the number of bits is measured here on generated pictures.

The transform is compared with OpenCV's.
"""

from __future__ import annotations

import io

import cv2
import numpy as np
import pytest
from PIL import Image

from ndi.calc.alike_pictures import BITS, EDGE, KEPT, MOST_BITS, bits_apart, frequencies, looks
from ndi.photo import pictures
from tests.photo.indications import made
from tests.photo.picture_files import picture

SIZE = (600, 450)
PICTURES = 12  # of each kind: every pair of them is compared


def jpeg(levels: np.ndarray, quality: int = 90) -> bytes:
    out = io.BytesIO()
    Image.fromarray(levels).save(out, "JPEG", quality=quality)
    return out.getvalue()


def copies(levels: np.ndarray) -> dict[str, bytes]:
    """What people do to a picture that they use again."""
    image, (width, height) = Image.fromarray(levels), SIZE
    brighter = np.clip(levels * 1.2 + 5, 0, 255).astype(np.uint8)
    return {
        "saved at quality 30": jpeg(levels, 30),
        "half the size": jpeg(np.asarray(image.resize((width // 2, height // 2))), 80),
        "a quarter of the size": jpeg(np.asarray(image.resize((width // 4, height // 4))), 80),
        "brighter": jpeg(brighter),
        "grey": jpeg(np.asarray(image.convert("L").convert("RGB"))),
        "1 % cut off": jpeg(levels[2 : height - 3, 3 : width - 3]),
        "turned": jpeg(np.rot90(levels)),
        "mirrored": jpeg(levels[:, ::-1]),
    }


@pytest.fixture(scope="module")
def originals() -> list[np.ndarray]:
    chance = np.random.default_rng(20261128)
    return [made(look, chance, SIZE).colour for look in ("fluorescent", "dark") for _ in range(PICTURES)]


def hashes(content: bytes) -> tuple[str, ...]:
    return looks(pictures.examine(content, "a.jpg").shrunk)


def apart(content: bytes, known: str) -> int:
    return min(bits_apart(look, known) for look in hashes(content))


def test_copies_stay_within_the_bits_and_other_pictures_do_not(originals: list[np.ndarray]) -> None:
    known = [hashes(jpeg(levels))[0] for levels in originals]
    same = {
        (name, n): apart(content, known[n])
        for n, levels in enumerate(originals)
        for name, content in copies(levels).items()
    }
    missed = {key: bits for key, bits in same.items() if bits > MOST_BITS}
    assert len(missed) <= 0.1 * len(same), missed
    turned = [hashes(jpeg(levels)) for levels in originals]
    others = [
        min(bits_apart(look, known[n]) for look in turned[m])
        for n in range(len(known))
        for m in range(len(known))
        if m != n
    ]
    assert min(others) > MOST_BITS, min(others)
    print(f"{len(missed)} of {len(same)} copies missed; others: {min(others)} of {BITS} bits apart at least")


def test_transform_is_that_of_a_general_library() -> None:
    levels = np.random.default_rng(1).uniform(0, 255, (EDGE, EDGE)).astype(np.float32)
    expected = cv2.dct(levels)[:KEPT, :KEPT].ravel()
    assert frequencies(levels.tolist()) == pytest.approx(expected.tolist(), abs=0.01)


def test_even_surface_has_nothing_to_be_known_by() -> None:
    out = io.BytesIO()
    Image.new("RGB", (40, 40), "grey").save(out, "PNG")
    assert hashes(out.getvalue()) == ()


@pytest.mark.parametrize("mode", ["L", "RGB", "CMYK"])
@pytest.mark.parametrize("form", ["JPEG", "TIFF"])
def test_every_depth_and_colour_is_hashed(form: str, mode: str) -> None:
    content = picture(form=form, mode=mode, size=(480, 320))
    assert apart(content, hashes(picture(form="JPEG", mode="RGB", size=(480, 320)))[0]) <= MOST_BITS


@pytest.mark.parametrize(("form", "mode"), [("PNG", "I;16"), ("TIFF", "F"), ("PNG", "P"), ("PNG", "RGBA")])
def test_rare_depths_are_hashed(form: str, mode: str) -> None:
    content = picture(form=form, mode=mode, size=(480, 320))
    assert len(pictures.examine(content, "a").shrunk) == EDGE * EDGE and len(hashes(content)) == 8
