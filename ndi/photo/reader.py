"""Reads pictures for the services: cards, codes, candidates; one decoding each."""

from __future__ import annotations

from ndi.photo.candidates import propose
from ndi.photo.card import find_cards
from ndi.photo.codes import read_codes
from ndi.photo.levels import colour, grey
from ndi.services.picture_ports import CardSeen, PictureRead, Proposed


class Reader:
    """Keeps nothing between two pictures."""

    def propose(self, content: bytes, look: str, cards: tuple[CardSeen, ...]) -> tuple[Proposed, ...]:
        """What may be an indication, what is printed on cards apart; InputError when the picture cannot be decoded."""
        return propose(colour(content), look, cards)

    def read(self, content: bytes) -> PictureRead:
        """Cards and codes of a picture; InputError when it cannot be decoded."""
        levels, focal = grey(content)
        cards, doubled = find_cards(levels)
        height, width = levels.shape
        return PictureRead(width, height, read_codes(levels, cards), cards, doubled, focal)
