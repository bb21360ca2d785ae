"""Reads the shop's codes that lie in a picture, wherever they lie and however they are turned."""

from __future__ import annotations

from typing import Any

from ndi.domain.scale_card import CARDS
from ndi.services.picture_ports import CardSeen

Array = Any

_LONG_SIDE, _CLOSER = 2000, 4000  # pixels; most codes are large enough for a smaller picture, which is far quicker
_LONGEST, _MOST = 200, 20
_BOX = 400  # pixels of a card's code made straight


def read_codes(grey: Array, cards: tuple[CardSeen, ...]) -> tuple[str, ...]:
    """The texts of all codes, each once; a closer look is taken only when nothing was read."""
    found = _texts(_smaller(grey, _LONG_SIDE))
    for card in cards:
        found += _texts(_straight(grey, card))
    if not found and max(grey.shape) > _LONG_SIDE:
        found = _texts(_smaller(grey, _CLOSER))
    return tuple(dict.fromkeys(found))[:_MOST]


def _smaller(grey: Array, long_side: int) -> Array:
    import cv2

    share = long_side / max(grey.shape)
    return grey if share >= 1 else cv2.resize(grey, None, fx=share, fy=share, interpolation=cv2.INTER_AREA)


def _texts(grey: Array) -> list[str]:
    import numpy
    import zxingcpp

    codes = zxingcpp.read_barcodes(
        numpy.ascontiguousarray(grey), formats=zxingcpp.BarcodeFormats([zxingcpp.BarcodeFormat.QRCode])
    )
    return [code.text for code in codes if code.valid and code.text.isprintable() and 0 < len(code.text) <= _LONGEST]


def _straight(grey: Array, card: CardSeen) -> Array:
    """The card's code as if it were seen from straight above."""
    import cv2
    import numpy

    design = CARDS[card.name]
    seen = numpy.asarray([corner for mark in card.marks for corner in mark.corners], float)
    places = numpy.asarray([corner for mark in card.marks for corner in design.corners(mark.number)], float)
    box = design.code
    matrix, _ = cv2.findHomography((places - (box.left, box.top)) * (_BOX / box.width), seen)
    return cv2.warpPerspective(grey, matrix, (_BOX, _BOX), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP)
