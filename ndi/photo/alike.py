"""A decoded picture shrunk to the few grey levels by which copies of it are known again."""

from __future__ import annotations

from array import array
from typing import Any

from ndi.services.ports import SHRUNK_EDGE

_HALF_WAY = 8 * SHRUNK_EDGE


def shrunk(image: Any) -> bytes:
    """A picture as it is stored in 32 x 32 grey levels of 256, row by row; deep levels are spread, as they are shown."""
    from PIL import Image

    size, box = (SHRUNK_EDGE, SHRUNK_EDGE), Image.Resampling.BOX
    if image.mode in ("L", "RGB", "CMYK"):  # the quick way down; other modes are rare and small
        image = image.reduce(max(1, min(image.size) // _HALF_WAY))
    if image.mode not in ("I", "F") and not image.mode.startswith("I;16"):
        return bytes(image.convert("L").resize(size, box).tobytes())
    levels = array("f", image.convert("F").resize(size, box).tobytes())
    low, high = min(levels), max(levels)
    return bytes(round(255 * (level - low) / (high - low)) if high > low else 0 for level in levels)
