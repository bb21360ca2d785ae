"""The flat card that lies beside an indication in a photograph: sizes, marks, window, rulers; the design is the project's.

Millimetres on the card, x to the right and y down from its upper left corner.
What is drawn and what is looked for in a picture come from here, so that a
card that is printed is the card that is measured against.  The marks are of
the public 4 x 4 dictionary that general picture libraries read; each size has
numbers of its own, so that a mark tells which card it is on.
"""

from __future__ import annotations

from dataclasses import dataclass

from ndi.domain.errors import InputError

Point = tuple[float, float]

# how a mark's 4 x 4 inner modules stand, row by row, 1 is white: the first of the dictionary DICT_4X4_50
BITS = (
    "1011010100110010",
    "0000111110011010",
    "0011001100101101",
    "1001100101000110",
    "0101010010011110",
    "0111100111001101",
    "1001111000101110",
    "1100010011110010",
    "1111111011011010",
    "1100111101010110",
    "1111100110010001",
    "0001000110100111",
    "0000111010110111",
    "0010101000001111",
)
MODULES = 6  # across a mark: 4 inner ones and its black edge
CORNERS_OF_MARK: tuple[Point, ...] = ((0, 0), (1, 0), (1, 1), (0, 1))  # in the order in which they are found


@dataclass(frozen=True)
class Box:
    """A rectangle on the card."""

    left: float
    top: float
    width: float
    height: float

    @property
    def right(self) -> float:
        return self.left + self.width

    @property
    def bottom(self) -> float:
        return self.top + self.height


@dataclass(frozen=True)
class Card:
    """One size; ``marks`` by number: the upper left corner of each; ``window`` is cut out and laid over the indication."""

    name: str
    width: float
    height: float
    mark_side: float
    marks: dict[int, Point]
    code: Box  # the square of the QR code with its quiet zone
    texts: Box
    window: Box | None

    def corners(self, mark: int) -> tuple[Point, ...]:
        """The four corners of a mark on the card, clockwise from its own upper left one."""
        left, top = self.marks[mark]
        return tuple((left + x * self.mark_side, top + y * self.mark_side) for x, y in CORNERS_OF_MARK)


SMALL = Card(
    "S",
    50,
    30,
    6,
    {0: (2, 2), 1: (42, 2), 2: (42, 22), 3: (2, 22)},
    Box(10, 7, 16, 16),
    Box(26, 7, 14, 16),
    None,
)
MEDIUM = Card(
    "M",
    80,
    66,
    8,
    {4: (2.5, 2.5), 5: (69.5, 2.5), 6: (69.5, 55.5), 7: (2.5, 55.5)},
    Box(13, 1.5, 18, 18),
    Box(32, 2.5, 35, 16),
    Box(13, 26, 54, 26),
)
LARGE = Card(
    "L",
    130,
    90,
    10,
    {8: (3, 3), 9: (117, 3), 10: (117, 77), 11: (3, 77), 12: (3, 40), 13: (117, 40)},
    Box(17, 1.5, 22, 22),
    Box(41, 3, 70, 18),
    Box(18, 30, 94, 44),
)
CARDS = {card.name: card for card in (SMALL, MEDIUM, LARGE)}
CARD_OF_MARK = {mark: card for card in CARDS.values() for mark in card.marks}


def card_named(name: str) -> Card:
    """The card of a size; InputError for a size that there is not."""
    if name not in CARDS:
        raise InputError(f"there is no scale card {name!r}; sizes are {', '.join(CARDS)}")
    return CARDS[name]


def dark_modules(mark: int) -> list[tuple[int, int]]:
    """Row and column of every black module of a mark, its edge included."""
    inner = {(1 + place // 4, 1 + place % 4) for place, bit in enumerate(BITS[mark]) if bit == "1"}
    return [(row, column) for row in range(MODULES) for column in range(MODULES) if (row, column) not in inner]
