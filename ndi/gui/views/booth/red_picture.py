"""A photograph over the whole dark screen, in levels of red alone, dimmed by its own light so that the booth stays dark.

Decoding belongs into the worker (:func:`in_red`), drawing into the window's
thread (:class:`RedPicture`).  The picture library is loaded with the first
picture.
"""

from __future__ import annotations

import io
import tkinter as tk
from dataclasses import dataclass
from typing import Any

from ndi.gui.presenters.scene import Part, Picture, Scene, Side
from ndi.gui.views.booth.brush import Brush
from ndi.gui.views.booth.palette import BLACK, SCREEN_CD_M2, foot_candles, relative_luminance

PILImage = Any  # the library is loaded when a picture first comes, so its names are not at hand here

MOST_CD_M2 = 5.0  # mean of the screen at which it adds a tenth of 2 fc; computed as palette.foot_candles does
MOST_LUMINANCE = MOST_CD_M2 / SCREEN_CD_M2
_FOR_THE_PICTURE = 0.85  # of it; the rest is for the words below the picture
_LEVELS = range(256)


def picture_of(scene: Scene | None) -> Picture | None:
    """The photograph that a scene offers to be looked at."""
    found: list[Part | Side] = list(scene.parts) if scene is not None else []
    while found:
        part = found.pop(0)
        if isinstance(part, Picture):
            return part
        if isinstance(part, Side):
            found += [*part.left, *part.right]
    return None


@dataclass(frozen=True)
class InRed:
    """A picture ready to be shown; ``light`` is relative luminance times pixels."""

    image: PILImage
    light: float


def in_red(content: bytes, width: int, height: int) -> InRed:
    """Decode, turn upright, fit into a part of a screen of this size, keep reds only, dim.

    Raises whatever the picture library raises on a file that is no picture.
    """
    from PIL import Image

    room = max(16, width), max(16, height - foot_of(height))
    grey = _grey(content, room)
    lut, light = _dimmed(grey.histogram(), width * height * MOST_LUMINANCE * _FOR_THE_PICTURE)
    nothing = Image.new("L", grey.size)
    return InRed(Image.merge("RGB", (grey.point(lut), nothing, nothing)), light)


def foot_of(height: int) -> int:
    """Pixels below the picture, for the words."""
    return max(24, height // 16)


def _grey(content: bytes, room: tuple[int, int]) -> PILImage:
    from PIL import Image, ImageOps

    with Image.open(io.BytesIO(content)) as image:
        image.draft(
            "L", (max(room), max(room))
        )  # a JPEG is decoded little larger than it is shown, whichever way is up
        upright = ImageOps.exif_transpose(_eight_bit(image))
    if "A" in upright.getbands() or "transparency" in upright.info:
        ground = Image.new("RGBA", upright.size, "black")
        upright = Image.alpha_composite(ground, upright.convert("RGBA"))
    grey = upright.convert("L")
    scale = min(room[0] / grey.width, room[1] / grey.height)
    size = max(1, int(grey.width * scale)), max(1, int(grey.height * scale))
    if scale < 1:
        grey.thumbnail(size)
        return grey
    return grey.resize(size)


def _eight_bit(image: PILImage) -> PILImage:
    """Deep grey levels, as technical cameras write them, spread over the levels of a screen."""
    if image.mode not in ("I", "F") and not image.mode.startswith("I;16"):
        image.load()
        return image
    deep = image.convert("F")
    low, high = deep.getextrema()
    scale = 255 / (high - low) if high > low else 1.0
    return deep.point(lambda level: level * scale - low * scale).convert("L")


def _dimmed(histogram: list[int], most: float) -> tuple[list[int], float]:
    """Red for each grey level so that the sum of all pixels' luminance is at most ``most``; and that sum."""
    full = [relative_luminance(level) for level in _LEVELS]
    own = sum(count * light for count, light in zip(histogram, full, strict=True))
    share = min(1.0, most / own) if own else 1.0
    lut, level = [], 0
    for light in full:  # the largest red that is not brighter than its share
        while level < 255 and full[level + 1] <= light * share:
            level += 1
        lut.append(level)
    return lut, sum(count * full[red] for count, red in zip(histogram, lut, strict=True))


class RedPicture(tk.Canvas):
    """Lies over the booth's canvas while the key is down; made black, gone when it is destroyed."""

    def __init__(self, parent: tk.Misc, shown: InRed, name: str) -> None:
        super().__init__(parent, background=BLACK, highlightthickness=0, borderwidth=0)
        from PIL import ImageTk

        self._name = name
        width, height = parent.winfo_width(), parent.winfo_height()
        self._size = width, height
        self._light = shown.light
        self._photo = ImageTk.PhotoImage(shown.image, master=self)
        self._brush = Brush(self)
        self._brush.set_size(width, height)
        self._foot = foot_of(height)
        self.create_image(width / 2, (height - self._foot) / 2, image=self._photo)
        self.counted(0)
        self.place(x=0, y=0, relwidth=1, relheight=1)

    def counted(self, seconds: int) -> None:
        """Words below the picture: which one, how long it has been held, what the screen adds on the part."""
        self.delete("words")
        brush, (width, height) = self._brush, self._size
        added = foot_candles(self.mean_luminance())
        told = brush.fitting(f"{self._name}   held {seconds} s   screen adds {added:.2f} fc", width * 0.94, brush.small)
        brush.light = 0.0
        brush.text(width / 2, height - self._foot / 2, told, size=brush.small, anchor="center", tag="words")

    def mean_luminance(self) -> float:
        """Mean relative luminance of the whole."""
        width, height = self._size
        return (self._light + self._brush.light) / max(1, width * height)
