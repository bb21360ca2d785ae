"""A picture file as an array of levels, shown upright; the array library comes when the first picture does."""

from __future__ import annotations

from typing import Any

from ndi.photo import pictures

Array = Any


def grey(content: bytes) -> tuple[Array, float | None]:
    """Brightness levels 0 to 255, row by row, and the focal length as of 35 mm film where the camera wrote it."""
    import numpy

    image, focal = pictures.upright(content, "L")
    return numpy.asarray(image), focal


def colour(content: bytes) -> Array:
    """Red, green and blue levels 0 to 255."""
    import numpy

    return numpy.asarray(pictures.upright(content, "RGB")[0])
