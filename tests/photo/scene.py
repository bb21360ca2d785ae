"""Photographs made from known geometry: a card and lines in a plane, a camera over it, a lens that bends, blur, dim light, noise.

Everything here is worked out apart from the program: the card is the printed
sheet as a reader of its own draws it, the lens follows Fitzgibbon's division
model (2001), which is not the one that is fitted, and its middle is not the
picture's middle.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from itertools import pairwise
from typing import Any

import cv2
import numpy as np
import pypdfium2  # type: ignore[import-untyped]
from PIL import Image

from ndi.domain.scale_card import CARDS
from ndi.printing import scale_card_sheet as sheet
from ndi.services.report_models import ScaleCardModel, ScaleCardSheetModel

Array = Any

TEXTURE = 20.0  # pixels of the drawn card to a millimetre
FINER = 3
MARGIN = 60.0  # mm of the plane round the card
CODE = "part:W-1/GEAR/CG-1"


@cache
def drawn_card(name: str, code: str | None = CODE) -> Array:
    """One card, cut out of the printed sheet, its window open (grey as steel)."""
    model = ScaleCardSheetModel((ScaleCardModel(code, ("GEAR", "serial CG-1", "W-1")),), "BOOK", "2026-03-10", False)
    document = pypdfium2.PdfDocument(sheet.scale_card_pdf(model, created=datetime(2026, 3, 10, tzinfo=UTC)))
    card, left, top = next(place for place in sheet.PLACES if place[0].name == name)
    point = 72 / 25.4
    around = (left, 297 - top - card.height, 210 - left - card.width, top)
    fine = (
        document[0]
        .render(scale=FINER * TEXTURE / point, crop=tuple(edge * point for edge in around), grayscale=True)
        .to_numpy()
    )
    document.close()
    shape = round(card.width * TEXTURE), round(card.height * TEXTURE)
    # the reader fills every pixel that a square touches: drawn much finer than it is used, that does not matter
    cut = cv2.resize(np.ascontiguousarray(fine.squeeze()), shape, interpolation=cv2.INTER_AREA)
    if card.window is not None:
        box = [round(v * TEXTURE) for v in (card.window.top, card.window.bottom, card.window.left, card.window.right)]
        cut[box[0] : box[1], box[2] : box[3]] = 120
    return cut


@dataclass(frozen=True)
class Camera:
    """``turn`` and ``shift``: from the card's plane to the camera; ``bend`` of the lens at half the picture's diagonal."""

    size: tuple[int, int]
    focal: float  # pixels
    turn: Array
    shift: Array
    bend: float = 0.0
    off_middle: tuple[float, float] = (0.0, 0.0)

    @property
    def middle(self) -> Array:
        return np.array(self.size) / 2 - 0.5 + np.array(self.off_middle)

    @property
    def radius(self) -> float:
        return float(np.hypot(*self.size) / 2)

    def sees(self, places: Array) -> Array:
        """Pixels of places in the plane (mm); a third column is a height above the plane."""
        places = np.asarray(places, float)
        if places.shape[1] == 2:
            places = np.column_stack([places, np.zeros(len(places))])
        ray = (places * [1, 1, -1]) @ self.turn.T + self.shift  # z of the plane goes away from the camera
        flat = ray[:, :2] / ray[:, 2:] * self.focal / self.radius
        size2 = (flat**2).sum(axis=1)
        # straight = bent / (1 + bend * bent^2), solved for bent
        with np.errstate(divide="ignore", invalid="ignore"):
            root = np.sqrt(1 - 4 * self.bend * size2)
            share = np.where(np.abs(self.bend) * size2 > 1e-12, (1 - root) / (2 * self.bend * size2), 1.0)
        return flat * share[:, None] * self.radius + self.middle

    def looks_at(self, pixels: Array) -> Array:
        """Places in the plane under some pixels."""
        bent = (pixels - self.middle) / self.radius
        flat = bent / (1 + self.bend * (bent**2).sum(axis=-1, keepdims=True)) * self.radius / self.focal
        matrix = np.linalg.inv(np.column_stack([self.turn[:, 0], self.turn[:, 1], self.shift]))
        along = np.concatenate([flat, np.ones((*flat.shape[:-1], 1))], axis=-1) @ matrix.T
        return along[..., :2] / along[..., 2:]


def over(card: str, chance: np.random.Generator, size: tuple[int, int] = (1000, 750), tilt: float = 35.0) -> Camera:
    """A camera over the middle of a card, tilted, turned and off to a side at random."""
    design = CARDS[card]
    vector = np.array([*chance.normal(0, np.radians(tilt) / 2, 2), chance.uniform(-np.pi, np.pi)])
    vector[:2] = np.clip(vector[:2], -np.radians(tilt), np.radians(tilt))
    turn = cv2.Rodrigues(np.array([vector[0], vector[1], 0.0]))[0] @ cv2.Rodrigues(np.array([0, 0, vector[2]]))[0]
    focal = float(np.hypot(*size) * chance.uniform(0.8, 2.0))
    wide = max(design.width, design.height) * chance.uniform(1.25, 2.2)  # of the plane, along the picture's short side
    height = focal * wide / min(size)
    middle = np.array([design.width / 2, design.height / 2, 0])
    aside = chance.uniform(-0.06, 0.06, 2) * wide
    shift = -turn @ middle + np.array([aside[0], aside[1], height])
    bend = float(chance.uniform(-0.03, 0.03))
    off = chance.uniform(-0.02, 0.02, 2) * min(size)
    return Camera(size, focal, turn, shift, bend, (float(off[0]), float(off[1])))


def photograph(
    card: str,
    camera: Camera,
    chance: np.random.Generator,
    *,
    blur: float = 0.8,
    light: float = 0.8,
    noise: float = 3.0,
    print_scale: float = 1.0,
    lines: tuple[Array, ...] = (),
    line_mm: float = 0.3,
    bend_mm: float = 0.0,
    code: str | None = CODE,
) -> Array:
    """Grey levels of what the camera sees.

    ``lines`` are dark, in mm of the plane; ``print_scale``: how much larger the card came out of the printer, about its
    upper left corner; ``bend_mm``: by how much its middle stands higher than its left and right edge.
    """
    texture = _card_in_plane(card, code)
    width, height = camera.size
    rows, columns = np.mgrid[0:height, 0:width].astype(np.float32)
    at = camera.looks_at(np.stack([columns, rows], axis=-1))
    if bend_mm:  # every place is seen where it would be if it stood higher: a cylinder across the card
        design = CARDS[card]
        high = bend_mm * (1 - ((at[..., 0] - design.width / 2) / (design.width / 2)) ** 2)
        eye = -camera.turn.T @ camera.shift
        at = at + (eye[:2] - at) * (high / -eye[2])[..., None]
    at = ((at / print_scale + MARGIN) * PLANE - 0.5).astype(np.float32)
    seen = cv2.remap(texture, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderValue=GROUND).astype(np.float32)
    for line in lines:
        seen = _with_line(seen, camera, np.asarray(line), line_mm)
    seen = cv2.GaussianBlur(seen, (0, 0), np.hypot(blur, 0.3))
    shade = 1 + 0.3 * chance.uniform(-1, 1) * (columns / width - 0.5)
    seen = seen * (light * shade) + noise * chance.standard_normal(seen.shape, dtype=np.float32)
    return np.clip(seen, 0, 255).astype(np.uint8)


PLANE = TEXTURE / 2  # pixels to a millimetre of the whole plane: half as fine as the card is drawn
GROUND = 120


@cache
def _card_in_plane(card: str, code: str | None) -> Array:
    drawn, design = drawn_card(card, code), CARDS[card]
    texture = np.full((round((design.height + 2 * MARGIN) * PLANE), round((design.width + 2 * MARGIN) * PLANE)), GROUND)
    half = cv2.resize(drawn, (round(design.width * PLANE), round(design.height * PLANE)), interpolation=cv2.INTER_AREA)
    edge = round(MARGIN * PLANE)
    texture[edge : edge + half.shape[0], edge : edge + half.shape[1]] = half
    return texture.astype(np.uint8)


def _with_line(seen: Array, camera: Camera, line: Array, line_mm: float) -> Array:
    """A dark line drawn where the camera sees it, bent as the lens bends it."""
    fine = np.concatenate([np.linspace(a, b, 20, endpoint=False) for a, b in pairwise(line)])
    points = camera.sees(np.vstack([fine, line[-1:]]))
    across = camera.sees(line[:1] + np.array([[line_mm, 0]])) - points[0]
    mask = np.zeros(seen.shape, np.uint8)
    wide = max(1, round(float(np.hypot(*across[0]))))
    cv2.polylines(mask, [np.round(points * 16).astype(np.int32)], False, 255, wide, cv2.LINE_AA, shift=4)
    return seen * (1 - 0.8 * mask.astype(np.float32) / 255)


def saved(grey: Array, form: str = "PNG", **exif: Any) -> bytes:
    """As a file."""
    out = io.BytesIO()
    Image.fromarray(grey).save(out, form, **exif)
    return out.getvalue()
