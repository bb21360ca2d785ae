"""What can be read off a picture, as protocols: cards, codes, and what may be an indication."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

Point = tuple[float, float]


@dataclass(frozen=True)
class MarkSeen:
    """One mark of a scale card: its number, and its four corners in pixels of the picture shown upright, clockwise."""

    number: int
    corners: tuple[Point, ...]


@dataclass(frozen=True)
class CardSeen:
    """A scale card in a picture; ``blur_px`` is one standard deviation of how its edges are smeared."""

    name: str
    marks: tuple[MarkSeen, ...]
    blur_px: float


@dataclass(frozen=True)
class PictureRead:
    """What was read off a picture; sizes and places in pixels of the picture shown upright.

    ``doubled`` names sizes of cards that lie twice in the picture, which then
    say nothing.
    """

    width: int
    height: int
    codes: tuple[str, ...] = ()
    cards: tuple[CardSeen, ...] = ()
    doubled: tuple[str, ...] = ()
    focal_35_mm: float | None = None  # the lens as of a 35 mm film camera, where the camera wrote it


@dataclass(frozen=True)
class Proposed:
    """Something in a picture that may be an indication, never that it is one; all in pixels of the picture shown upright.

    ``line``: its middle line from end to end; ``outline``: closed.
    """

    outline: tuple[Point, ...]
    line: tuple[Point, ...]
    length_px: float
    width_px: float
    is_linear: bool
    strength: float  # how far it stands out of what is round it, 0 to 1


class PictureReader(Protocol):
    """Reads pictures; each call decodes the file anew and keeps nothing."""

    def read(self, content: bytes) -> PictureRead:
        """Cards and codes; InputError when the picture cannot be decoded."""

    def propose(self, content: bytes, look: str, cards: tuple[CardSeen, ...]) -> tuple[Proposed, ...]:
        """What may be an indication, the strongest first; ``look`` is ``fluorescent`` or ``dark``.

        What is printed on ``cards`` that lie in the picture is left out.
        """
