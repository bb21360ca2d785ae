"""What picture files are taken and what of them is read; what is cut, changed, too large or no picture is refused with one line."""

from __future__ import annotations

import hashlib
import io
import random

import pytest
from PIL import Image

from ndi.domain.errors import InputError
from ndi.photo import pictures
from tests.photo.picture_files import ORIENTATION, picture, png_that_claims

KINDS = [
    ("JPEG", "RGB"),
    ("JPEG", "L"),
    ("JPEG", "CMYK"),
    ("PNG", "RGB"),
    ("PNG", "RGBA"),
    ("PNG", "P"),
    ("PNG", "1"),
    ("PNG", "I;16"),
    ("TIFF", "RGB"),
    ("TIFF", "I;16"),
    ("TIFF", "F"),
    ("TIFF", "CMYK"),
    ("BMP", "RGB"),
    ("WEBP", "RGB"),
]


@pytest.mark.parametrize(("form", "mode"), KINDS)
def test_picture_of_every_kind_is_read_and_shown(form: str, mode: str) -> None:
    content = picture(form=form, mode=mode)
    found = pictures.examine(content, "a picture")
    assert (found.width, found.height, found.size) == (48, 32, len(content))
    assert found.sha256 == hashlib.sha256(content).hexdigest()
    assert found.media_type == f"image/{form.lower()}"
    shown = Image.open(io.BytesIO(pictures.small(content, 24)))
    assert (shown.format, shown.mode, shown.size) == ("JPEG", "RGB", (24, 16))


@pytest.mark.parametrize(("form", "mode"), KINDS)
def test_picture_that_is_cut_anywhere_is_refused(form: str, mode: str) -> None:
    content = picture(form=form, mode=mode)
    for end in {*range(1, len(content), max(1, len(content) // 60)), len(content) - 1, len(content) - 2}:
        with pytest.raises(InputError) as refused:
            pictures.examine(content[:end], "a.jpg")
        assert str(refused.value).startswith("a.jpg ") and len(str(refused.value).splitlines()) == 1


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is empty"),
        (b"not a picture", "no picture that can be read"),
        (b"%PDF-1.7\n", "no picture that can be read"),
        (b"\xff\xd8\xff", "no picture that can be read"),
        (b"GIF89a" + bytes(40), "no picture that can be read"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "no picture that can be read"),
        (b"\0" * 5000, "no picture that can be read"),
    ],
)
def test_what_is_no_picture_is_refused(content: bytes, words: str) -> None:
    with pytest.raises(InputError, match=words):
        pictures.examine(content, "a.jpg")


def test_name_of_a_file_cannot_break_the_message() -> None:
    with pytest.raises(InputError) as refused:
        pictures.examine(b"", "a\nndi: all is well\x1b[2J.jpg")
    assert str(refused.value).isprintable()


def test_a_picture_of_the_largest_cameras_is_taken_and_one_row_more_is_refused() -> None:
    """Each side of the limit; the larger one is refused by its head alone, before anything is unpacked."""
    out = io.BytesIO()
    Image.new("1", (10_000, 12_000)).save(out, "PNG")
    found = pictures.examine(out.getvalue(), "large.png")
    assert found.width * found.height == pictures.MOST_PIXELS
    assert Image.open(io.BytesIO(pictures.small(out.getvalue(), 100))).size == (83, 100)
    for height in (12_001, 23_999, 24_001, 10**6, 2**31 - 1):
        with pytest.raises(InputError, match="more than 120 million pixels"):
            pictures.examine(png_that_claims(10_000, height), "bomb.png")
        with pytest.raises(InputError, match="cannot be shown"):
            pictures.small(png_that_claims(10_000, height), 16)


def test_small_file_that_unpacks_to_less_than_it_claims_is_refused() -> None:
    with pytest.raises(InputError, match="cut off or damaged"):
        pictures.examine(png_that_claims(9_000, 9_000), "hollow.png")


def test_changed_bytes_are_a_picture_or_a_refusal_and_never_a_crash() -> None:
    """A thousand pictures with some bytes changed at random, the seed fixed."""
    chance, refused = random.Random(7), 0
    contents = [picture(form=form, mode=mode, taken="2026:03:10 08:29:30") for form, mode in KINDS]
    for _ in range(1000):
        content = bytearray(chance.choice(contents))
        for _ in range(chance.randrange(1, 8)):
            content[chance.randrange(len(content))] = chance.randrange(256)
        try:
            pictures.examine(bytes(content), "changed")
            pictures.small(bytes(content), 16)
        except InputError as error:
            refused += 1
            assert len(str(error).splitlines()) == 1
    assert 100 < refused < 1000


# --- what the camera wrote ----------------------------------------------------------------------------


@pytest.mark.parametrize("form", ["JPEG", "PNG", "TIFF", "WEBP"])
def test_camera_and_its_time_are_read(form: str) -> None:
    content = picture(form=form, taken="2026:03:10 08:29:30", offset="-05:00", camera=("Maker", "Model 3\0"))
    found = pictures.examine(content, "a")
    assert (found.camera, found.camera_time, found.camera_offset_min) == ("Maker Model 3", "2026-03-10T08:29:30", -300)


@pytest.mark.parametrize(
    ("taken", "offset", "expected"),
    [
        (None, None, (None, None)),
        ("0000:00:00 00:00:00", None, (None, None)),
        ("    :  :     :  :  ", None, (None, None)),
        ("1980:01:01 00:00:00", None, (None, None)),
        ("2026:02:30 08:00:00", None, (None, None)),
        ("2026:03:10 08:00:60", None, (None, None)),
        ("tomorrow", "+01:00", (None, None)),
        ("2026:03:10 08:00:00", None, ("2026-03-10T08:00:00", None)),
        ("2026:03:10 08:00:00", "Z", ("2026-03-10T08:00:00", None)),
        ("2026:03:10 08:00:00", "+99:00", ("2026-03-10T08:00:00", None)),
        ("2026:03:10 08:00:00", "+05:30", ("2026-03-10T08:00:00", 330)),
    ],
)
def test_time_that_is_none_is_left_out(
    taken: str | None, offset: str | None, expected: tuple[str | None, int | None]
) -> None:
    found = pictures.examine(picture(taken=taken, offset=offset), "a")
    assert (found.camera_time, found.camera_offset_min) == expected


def test_camera_name_holds_nothing_that_spoils_a_line() -> None:
    found = pictures.examine(picture(camera=("Ma\nker", "x" * 500)), "a")
    assert found.camera is not None and found.camera.isprintable() and len(found.camera) < 300


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
def test_small_picture_stands_upright_and_the_original_is_not_touched(orientation: int) -> None:
    """Exif orientation 6 and 8 lie on their side."""
    content = picture(size=(64, 32), orientation=orientation)
    shown = Image.open(io.BytesIO(pictures.small(content, 32)))
    assert shown.size == ((32, 16) if orientation in (1, 3) else (16, 32))
    assert shown.getexif().get(ORIENTATION) is None
    found = pictures.examine(content, "a")
    assert (found.width, found.height) == (64, 32)


def test_twelve_bits_in_sixteen_are_not_shown_as_black() -> None:
    shown = Image.open(io.BytesIO(pictures.small(picture(form="PNG", mode="I;16"), 48))).convert("L")
    low, high = shown.getextrema()
    assert isinstance(low, int) and isinstance(high, int) and low < 20 and high > 235
