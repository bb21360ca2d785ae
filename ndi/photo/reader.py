"""Reads pictures for the services: cards, codes, candidates; one decoding each."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from ndi.domain.errors import InputError
from ndi.photo.candidates import propose
from ndi.photo.card import find_cards
from ndi.photo.codes import read_codes
from ndi.photo.levels import colour, grey
from ndi.services.picture_ports import CardSeen, PictureRead, Proposed


class Reader:
    """Keeps nothing between two pictures."""

    def read(self, content: bytes) -> PictureRead:
        """Cards and codes of a picture; InputError when it cannot be decoded."""
        levels, focal = grey(content)
        with _what_the_library_refuses():
            cards, doubled = find_cards(levels)
            height, width = levels.shape
            return PictureRead(width, height, read_codes(levels, cards), cards, doubled, focal)

    def propose(self, content: bytes, look: str, cards: tuple[CardSeen, ...]) -> tuple[Proposed, ...]:
        """What may be an indication, what is printed on cards apart; InputError when the picture cannot be decoded."""
        levels = colour(content)
        with _what_the_library_refuses():
            return propose(levels, look, cards)


@contextmanager
def _what_the_library_refuses() -> Iterator[None]:
    import cv2

    try:
        yield
    except (cv2.error, MemoryError) as error:
        raise InputError(
            "the photograph is too large or too odd to be read off here: save it smaller and attach that"
        ) from error
