"""Finds scale cards in a picture: their marks by the general picture library, the marks' edges to a fraction of a pixel.

Each edge of a mark is where brightness is half way between its black border and
the paper; a corner is where two edges meet.  Blur moves none of the edges, and
what light does to all edges of a mark alike leaves its middle where it is.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from ndi.domain.scale_card import CARD_OF_MARK, CARDS, MODULES, Card
from ndi.services.picture_ports import CardSeen, MarkSeen

Array = Any

_LONG_SIDES = (1600, 3200)  # pixels to which a picture is made smaller to look for marks; smaller marks measure nothing
_ALONG, _ACROSS = 24, 41  # samples along an edge, and across it
_REACH = 0.8  # modules to each side of an edge
_ENDS = 0.14  # share of an edge left out at each end, where the next edge is near
_LEAST_SIDE = 12.0  # pixels; of a smaller mark no edge can be fitted
_LEAST_STEP = 12.0  # grey levels between black and white
_FITS = 0.15  # of a mark's side: what lies farther from where the others put it is no mark of this card


class Found(NamedTuple):
    """The cards of a picture, and the sizes that lie in it twice."""

    cards: tuple[CardSeen, ...]
    doubled: tuple[str, ...]


def find_cards(grey: Array) -> Found:
    """Every card of which at least two marks are seen, the one with most marks first."""
    best = Found((), ())
    long_side = max(grey.shape)
    for size in _LONG_SIDES:
        found = _cards(grey, _marks(grey, max(1.0, long_side / size)))
        if sum(len(card.marks) for card in found.cards) > sum(len(card.marks) for card in best.cards) or not best.cards:
            best = found
        is_whole = found.cards and all(len(card.marks) == len(CARDS[card.name].marks) for card in found.cards)
        if is_whole or long_side <= size:
            break
    return best


def _marks(grey: Array, factor: float) -> list[tuple[int, Array]]:
    """Number and rough corners of every mark, in pixels of the whole picture."""
    import cv2
    import numpy

    small = grey
    if factor > 1:
        small = cv2.resize(grey, None, fx=1 / factor, fy=1 / factor, interpolation=cv2.INTER_AREA)
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    corners, numbers, _ = cv2.aruco.ArucoDetector(dictionary, cv2.aruco.DetectorParameters()).detectMarkers(small)
    if numbers is None:
        return []
    return [
        (int(number), (numpy.asarray(corner[0], float) + 0.5) * factor - 0.5)
        for number, corner in zip(numbers.ravel(), corners, strict=True)
        if int(number) in CARD_OF_MARK
    ]


def _cards(grey: Array, marks: list[tuple[int, Array]]) -> Found:
    cards, doubled = [], []
    for card in CARDS.values():
        own = [(number, corners) for number, corners in marks if number in card.marks]
        if len({number for number, _ in own}) < len(own):
            doubled.append(card.name)
            continue
        fine = [(number, _edges_fitted(grey, corners)) for number, corners in own]
        sharp = _on_one_plane(card, [(number, edges) for number, edges in fine if edges is not None])
        if len(sharp) >= 2:
            blurs = sorted(edges.blur for _, edges in sharp)
            seen = tuple(
                MarkSeen(number, tuple((float(x), float(y)) for x, y in edges.corners)) for number, edges in sharp
            )
            cards.append(CardSeen(card.name, seen, blurs[len(blurs) // 2]))
    return Found(tuple(sorted(cards, key=lambda card: -len(card.marks))), tuple(doubled))


class _Edges(NamedTuple):
    corners: Array
    blur: float


def _on_one_plane(card: Card, marks: list[tuple[int, _Edges]]) -> list[tuple[int, _Edges]]:
    """Without marks that stand where this card has none: something else in the picture looked like one."""
    import cv2
    import numpy

    if len(marks) < 3:
        return marks
    seen = numpy.concatenate([edges.corners for _, edges in marks])
    places = numpy.concatenate([numpy.asarray(card.corners(number), float) for number, _ in marks])
    sides = [float(numpy.linalg.norm(edges.corners[1] - edges.corners[0])) for _, edges in marks]
    limit = max(3.0, _FITS * sorted(sides)[len(sides) // 2])
    matrix, inside = cv2.findHomography(places, seen, cv2.RANSAC, limit)
    if matrix is None:
        return []
    kept = [bool(corners.all()) for corners in numpy.asarray(inside).reshape(-1, 4)]
    return [mark for mark, fits in zip(marks, kept, strict=True) if fits]


def _edges_fitted(grey: Array, rough: Array) -> _Edges | None:
    """The corners of a mark from its four edges; None when an edge cannot be seen."""
    import cv2
    import numpy

    sides = numpy.roll(rough, -1, axis=0) - rough
    lengths = numpy.linalg.norm(sides, axis=1)
    if lengths.min() < _LEAST_SIDE:
        return None
    directions = sides / lengths[:, None]
    outward = numpy.column_stack([directions[:, 1], -directions[:, 0]])  # corners go clockwise, y is down
    module = float(lengths.mean()) / MODULES
    along = numpy.linspace(_ENDS, 1 - _ENDS, _ALONG)
    across = numpy.linspace(-_REACH, _REACH, _ACROSS) * module
    foot = rough[:, None, :] + along[None, :, None] * sides[:, None, :]
    places = foot[:, :, None, :] + across[None, None, :, None] * outward[:, None, None, :]
    flat = places.reshape(4 * _ALONG, _ACROSS, 2).astype(numpy.float32)
    levels = cv2.remap(grey, flat[..., 0], flat[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE).astype(
        float
    )
    lines, blurs = [], []
    for edge in range(4):
        found = _crossings(levels[edge * _ALONG : (edge + 1) * _ALONG], across)
        if found is None:
            return None
        inside, offset, blur = found
        points = foot[edge][inside] + offset[:, None] * outward[edge]
        line = _line(points)
        if line is None:
            return None
        lines.append(line)
        blurs.append(blur)
    corners = [_meeting(lines[number - 1], lines[number]) for number in range(4)]
    if any(corner is None for corner in corners):
        return None
    fitted = numpy.asarray(corners)
    if numpy.abs(fitted - rough).max() > module:  # the fit has run away from what was found
        return None
    return _Edges(fitted, float(numpy.median(blurs)))


def _crossings(levels: Array, across: Array) -> tuple[Array, Array, float] | None:
    """Which profiles show an edge, where each is half way up, and how wide the rise is (one standard deviation)."""
    import numpy

    quarter = len(across) // 4
    black, white = numpy.median(levels[:, :quarter], axis=1), numpy.median(levels[:, -quarter:], axis=1)
    clear = white - black > _LEAST_STEP
    if clear.sum() < _ALONG // 2:
        return None
    share = (levels[clear] - black[clear, None]) / (white - black)[clear, None]
    above = share >= 0.5
    # the crossing nearest to the middle, not the first: print and dirt make others
    rises = ~above[:, :-1] & above[:, 1:]
    seen = rises.any(axis=1)
    middle = (len(across) - 1) / 2
    distance = numpy.where(rises, numpy.abs(numpy.arange(rises.shape[1]) + 0.5 - middle), numpy.inf)
    place = distance.argmin(axis=1)
    rows = numpy.arange(len(share))
    low, high = share[rows, place], share[rows, place + 1]
    part = numpy.where(high > low, (0.5 - low) / numpy.where(high > low, high - low, 1), 0.5)
    step = across[1] - across[0]
    offset = across[0] + (place + part) * step
    if seen.sum() < _ALONG // 2:
        return None
    return numpy.nonzero(clear)[0][seen], offset[seen], _rise(share[seen], step)


def _rise(share: Array, step: float) -> float:
    """How wide the mean edge is between 16 % and 84 %, as one standard deviation of its blur."""
    import numpy

    mean = numpy.clip(numpy.maximum.accumulate(numpy.median(share, axis=0)), 0, 1)
    if mean[0] > 0.16 or mean[-1] < 0.84:
        return float(len(mean) * step / 2)
    grow = mean + numpy.arange(len(mean)) * 1e-9
    low, high = numpy.interp([0.16, 0.84], grow, numpy.arange(len(mean)) * step)
    return float(high - low) / 2


def _line(points: Array) -> tuple[Array, Array] | None:
    """Middle and normal of a straight line through points, without those that lie far off it."""
    import numpy

    for _ in range(3):
        middle = points.mean(axis=0)
        _, _, axes = numpy.linalg.svd(points - middle, full_matrices=False)
        normal = axes[1]
        off = numpy.abs((points - middle) @ normal)
        kept = off <= max(0.1, 3 * float(numpy.median(off)))
        if kept.all():
            return middle, normal
        if kept.sum() < _ALONG // 3:
            return None
        points = points[kept]
    return middle, normal


def _meeting(one: tuple[Array, Array], other: tuple[Array, Array]) -> Array | None:
    import numpy

    normals = numpy.asarray([one[1], other[1]])
    if abs(numpy.linalg.det(normals)) < 0.1:
        return None
    return numpy.linalg.solve(normals, [one[1] @ one[0], other[1] @ other[0]])
