"""What a picture file says of itself, whether it is whole, and small pictures for screens.

Files come from cameras, cards and strangers: whatever the picture library
trips over is a refusal with one line, never a crash.  The library is loaded
when a picture first comes.
"""

from __future__ import annotations

import hashlib
import io
import re
import struct
import warnings
from datetime import UTC, datetime
from typing import Any

from ndi.domain.errors import InputError
from ndi.photo import alike
from ndi.services.ports import Picture

PILImage = Any  # the library is loaded when a picture first comes, so its names are not at hand here

# what a machine of today can still decode and show; cameras of "100 million" write a little more (11,648 x 8,736, from
# memory); no limit of any procedure
MOST_PIXELS = 120_000_000
MOST_BYTES = 2**30
FORMS = ("JPEG", "PNG", "TIFF", "BMP", "WEBP")
_SHOWN_FORMS = "JPEG, PNG, TIFF, BMP or WebP"
# MPO is what the library calls a JPEG with a preview behind it
_MEDIA_TYPES = {"JPEG": "image/jpeg", "MPO": "image/jpeg", "PNG": "image/png", "TIFF": "image/tiff"}
_MEDIA_TYPES |= {"BMP": "image/bmp", "WEBP": "image/webp"}

# ISO/IEC 15948, 11.2.5, with its check value; ITU-T T.81, table B.1: EOI, SOS
_PNG_END, _JPEG_END, _JPEG_SCAN = b"IEND\xaeB`\x82", b"\xff\xd9", b"\xff\xda"

# what decoders raise on a file that was cut, changed or made to hurt
_HOSTILE = (
    *(OSError, ValueError, SyntaxError, LookupError, TypeError, AttributeError, ArithmeticError, AssertionError),
    *(EOFError, RuntimeError, MemoryError, BufferError, struct.error, Warning),
)

# Exif 2.32, tables 4 and 8
_MAKE, _MODEL, _EXIF_IFD = 0x010F, 0x0110, 0x8769
_ORIGINAL_TIME, _DIGITIZED_TIME, _ORIGINAL_OFFSET = 0x9003, 0x9004, 0x9011
_FOCAL_35 = 0xA405
_LONGEST_FOCAL = 5000  # mm; longer lenses are not made
_TIME = re.compile(r"(\d{4}):(\d\d):(\d\d) (\d\d):(\d\d):(\d\d)", re.ASCII)
_OFFSET = re.compile(r"([+-])(\d\d):(\d\d)", re.ASCII)
_FIRST_EXIF_YEAR = 1995  # of the standard; a clock before it was never set
_LONGEST_NAME = 120


def examine(content: bytes, name: str) -> Picture:
    """Decode a file to its last pixel and read what it says of itself; InputError names the file and the way out."""
    name = printable(name)
    if not content:
        raise InputError(f"{name} is empty: copy it from the camera again")
    if len(content) > MOST_BYTES:
        raise InputError(f"{name} has more than {MOST_BYTES:,} bytes: save the picture smaller and attach that")
    form, (width, height) = _form(content, name)
    try:
        with _open(content) as checked:
            checked.verify()
        with _open(content) as image:
            camera, when, offset = _said_by_camera(image)  # a TIFF is closed once it is loaded
            image.load()
            shrunk = alike.shrunk(image)
    except _hostile() as error:
        raise InputError(f"{name} is cut off or damaged ({_short(error)}): copy it from the camera again") from error
    if not _has_end_mark(form, content):
        raise InputError(f"{name} is cut off (its end mark is missing): copy it from the camera again")
    digest = hashlib.sha256(content).hexdigest()
    return Picture(digest, len(content), _MEDIA_TYPES[form], width, height, camera, when, offset, shrunk)


def _has_end_mark(form: str, content: bytes) -> bool:
    """Whether a file goes on to the end of its picture; decoders are content with less."""
    if form == "PNG":
        return _PNG_END in content
    return form not in ("JPEG", "MPO") or content.rfind(_JPEG_END) > content.rfind(_JPEG_SCAN)


def _form(content: bytes, name: str) -> tuple[str, tuple[int, int]]:
    """Form and size from the head of the file alone, before anything is decoded."""
    bomb = _pillow().DecompressionBombError, _pillow().DecompressionBombWarning
    too_large = f"{name} has more than {MOST_PIXELS // 10**6} million pixels: save it smaller and attach that"
    try:
        with _open(content) as image:
            form, size = image.format, image.size
    except bomb as error:
        raise InputError(too_large) from error
    except _hostile() as error:
        raise InputError(f"{name} is no picture that can be read here: attach {_SHOWN_FORMS}") from error
    if size[0] * size[1] > MOST_PIXELS:
        raise InputError(too_large)
    assert form in _MEDIA_TYPES
    return form, size


def small(content: bytes, edge: int) -> bytes:
    """An upright RGB JPEG, ``edge`` pixels at most, of a whole picture; InputError when it cannot be decoded."""
    from PIL import ImageOps

    try:
        with _open(content) as image:
            image.draft("RGB", (2 * edge, 2 * edge))
            shown = _eight_bit(image)
            shown.thumbnail((edge, edge))
            exif = image.getexif()
            if exif:
                shown.getexif().update(exif)
            shown = ImageOps.exif_transpose(shown)
            if "A" in shown.getbands() or "transparency" in shown.info:
                shown = shown.convert("RGBA")
                ground = _pillow().new("RGBA", shown.size, "black")
                shown = _pillow().alpha_composite(ground, shown)
            out = io.BytesIO()
            shown.convert("RGB").save(out, "JPEG", quality=85)
    except _hostile() as error:
        raise InputError(f"the photograph cannot be shown ({_short(error)})") from error
    return out.getvalue()


def upright(content: bytes, mode: str) -> tuple[PILImage, float | None]:
    """The whole picture as it is looked at, in ``L`` or ``RGB``, and the focal length as of 35 mm film if it was written."""
    from PIL import ImageOps

    try:
        with _open(content) as image:
            if mode == "L":
                image.draft("L", image.size)  # of a JPEG the colours are then not unpacked
            exif = image.getexif()
            shown = _eight_bit(image)
            if exif:
                shown.getexif().update(exif)
            shown = ImageOps.exif_transpose(shown)
            return shown.convert(mode), _focal(exif)
    except _hostile() as error:
        raise InputError(f"the photograph cannot be read ({_short(error)}): copy it from the camera again") from error


def decoded(content: bytes) -> PILImage:
    """The whole picture in its own mode and as it is stored."""
    try:
        with _open(content) as image:
            image.load()
            return image.copy()
    except _hostile() as error:
        raise InputError(f"the photograph cannot be read ({_short(error)}): copy it from the camera again") from error


def stored_upright(content: bytes) -> PILImage:
    """The whole picture as it is looked at, its levels as they were stored: ``L`` or ``I;16`` where it is grey, else ``RGB``."""
    from PIL import ImageOps

    image = decoded(content)
    try:
        image = ImageOps.exif_transpose(image)
        if image.mode.startswith("I;16") or image.mode == "I":
            return image.convert("I;16")
        if image.mode == "F":
            return _eight_bit(image)
        return image.convert("L" if image.mode in ("1", "L", "LA") else "RGB")
    except _hostile() as error:
        raise InputError(f"the photograph cannot be read ({_short(error)}): copy it from the camera again") from error


def part(image: PILImage, edges: tuple[float, float, float, float], size: tuple[int, int]) -> bytes:
    """What lies between left, top, right and bottom (pixels, also broken ones) in so many pixels, as PPM."""
    from PIL import Image

    left, top, right, bottom = edges
    if not (0 <= left < right <= image.width and 0 <= top < bottom <= image.height):
        raise InputError("that part lies outside the picture")
    shown = image.resize(size, Image.Resampling.BILINEAR, box=edges, reducing_gap=2.0)
    pixels: bytes = shown.convert("RGB").tobytes()
    return b"P6 %d %d 255\n" % shown.size + pixels


def _focal(exif: Any) -> float | None:
    try:
        found = float(exif.get_ifd(_EXIF_IFD).get(_FOCAL_35) or 0)
    except _hostile():
        return None
    return found if 1 <= found <= _LONGEST_FOCAL else None


def _eight_bit(image: PILImage) -> PILImage:
    """Deep grey levels spread over the 256 of a screen; anything else as it is."""
    if image.mode not in ("I", "F") and not image.mode.startswith("I;16"):
        image.load()
        return image.copy()
    deep = image.convert("F")
    low, high = deep.getextrema()
    assert isinstance(low, float) and isinstance(high, float)
    scale = 255 / (high - low) if high > low else 1.0
    return deep.point(lambda level: level * scale - low * scale).convert("L")


def _said_by_camera(image: PILImage) -> tuple[str | None, str | None, int | None]:
    """Camera, its wall clock and the zone it wrote; a picture without (or with broken) Exif says nothing."""
    try:
        exif = image.getexif()
        detail = exif.get_ifd(_EXIF_IFD)
        names = [_text(exif.get(tag)) for tag in (_MAKE, _MODEL)]
        when = _camera_time(_text(detail.get(_ORIGINAL_TIME)) or _text(detail.get(_DIGITIZED_TIME)))
        offset = _offset(_text(detail.get(_ORIGINAL_OFFSET)))
    except _hostile():
        return None, None, None
    return " ".join(name for name in names if name) or None, when, offset if when else None


def _text(value: object) -> str:
    if isinstance(value, bytes):
        value = value.decode("utf-8", "replace")
    if not isinstance(value, str):
        return ""
    return printable(value).strip()[:_LONGEST_NAME]


def _camera_time(text: str) -> str | None:
    match = _TIME.fullmatch(text)
    if match is None:
        return None
    try:
        when = datetime(*(int(group) for group in match.groups()), tzinfo=UTC)  # type: ignore[misc,arg-type]
    except ValueError:
        return None  # a camera whose clock was never set writes zeros
    return when.strftime("%Y-%m-%dT%H:%M:%S") if when.year >= _FIRST_EXIF_YEAR else None


def _offset(text: str) -> int | None:
    match = _OFFSET.fullmatch(text)
    if match is None or int(match[2]) > 14 or int(match[3]) > 59:
        return None
    minutes = 60 * int(match[2]) + int(match[3])
    return -minutes if match[1] == "-" else minutes


def _open(content: bytes) -> PILImage:
    return _pillow().open(io.BytesIO(content), formats=FORMS)


def _pillow() -> Any:
    """The library, told to refuse what would fill the memory and to keep its remarks about broken Exif to itself."""
    from PIL import Image

    Image.MAX_IMAGE_PIXELS = MOST_PIXELS
    warnings.filterwarnings("error", category=Image.DecompressionBombWarning)
    warnings.filterwarnings("ignore", category=UserWarning, module=r"PIL\.")
    return Image


def _hostile() -> tuple[type[Exception], ...]:
    return (*_HOSTILE, _pillow().DecompressionBombError)


def _short(error: BaseException) -> str:
    return printable(" ".join(str(error).split()))[:_LONGEST_NAME] or type(error).__name__


def printable(text: str) -> str:
    """A file may be named, and a decoder may say, what would break a line of a message."""
    return "".join(character for character in text if character.isprintable())
