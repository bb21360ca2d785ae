"""A length off a photograph: scale from the card in the frame, points from a person, what it may be off by, and what speaks against it.

The points are pixels of the picture shown upright.  Nothing is measured
without a card, and a warning never takes a length away: it goes with it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import hypot, sqrt

from ndi.calc.camera_place import CameraPlace, camera_place, focal_for_height, focal_px
from ndi.calc.card_plane import MarkPoint, Plane, fit
from ndi.calc.photo_measures import Ruler, Uncertain, repeated
from ndi.domain.errors import InputError
from ndi.domain.scale_card import CARDS, Card, card_named
from ndi.services.picture_ports import CardSeen, PictureRead, Point

# what the card's own sheet asks of the print; a card that was measured may be known better
PRINT_SHARE = 0.005
# how well a person marks a point at most (one standard deviation): a pixel, and of a large picture a pixel of the screen
# that shows it smaller; from memory, no source
CLICK_PX, _SCREEN_PX = 1.0, 2000
# a line of fewer pixels is hardly seen, and its ends less (own choice)
_LEAST_PIXELS = 20
# by how much more than finding them costs the marks may miss one plane before it is said (own choice, measured on
# generated cards that bulge)
_FLAT_PX, _FLAT_BY_BLUR, _FLAT_MM = 0.5, 0.35, 0.15


@dataclass(frozen=True)
class Marked:
    """What a person marked on a picture, and what else is known.

    ``lines``: the same line marked once or several times, from end to end;
    ``across``: two points from edge to edge of it; ``axis``: two points along
    the part's axis; ``datum``: one point, or two on a straight edge.
    ``off_plane_mm``: how far the indication may lie above or below the card's
    plane; ``camera_mm``: from card to camera, where the camera wrote no focal
    length; ``crack_mm``: how wide the crack itself can be at most.
    """

    lines: tuple[tuple[Point, ...], ...]
    across: tuple[Point, ...] = ()
    axis: tuple[Point, ...] = ()
    datum: tuple[Point, ...] = ()
    radius_mm: float | None = None
    click_px: float | None = None
    print_share: float = PRINT_SHARE
    off_plane_mm: float | None = None
    camera_mm: float | None = None
    crack_mm: float | None = None


@dataclass(frozen=True)
class Measured:
    """What was found; lengths in mm, ``angle`` in degrees.  ``length`` goes along the surface where a radius was given."""

    card: str
    how: str
    length: Uncertain
    chord: Uncertain | None  # the straight length, where ``length`` is an arc
    width: Uncertain | None
    angle: Uncertain | None
    from_datum: Uncertain | None
    mm_per_pixel: float
    warnings: tuple[str, ...]


def plane_of(read: PictureRead, card: CardSeen) -> Plane:
    """The plane of a card that was seen; InputError when its marks fix none."""
    design = card_named(card.name)
    marks = [
        MarkPoint(*seen, *place)
        for mark in card.marks
        for seen, place in zip(mark.corners, design.corners(mark.number), strict=True)
    ]
    return fit(marks, (read.width, read.height))


def measure(read: PictureRead, marked: Marked) -> Measured:
    """Length and what else was asked for; InputError without a card, or for points that make no line."""
    _check(read, marked)
    by_nearness = sorted(read.cards, key=lambda card: _far(card, marked.lines[0]))
    found = _by_card(read, by_nearness[0], marked)
    for other in by_nearness[1:]:
        there = _by_card(read, other, marked).length
        apart, may_be = abs(there.value - found.length.value), hypot(there.half_width, found.length.half_width)
        if apart > may_be:
            said = (
                f"card {other.name} in the same picture gives {there.value:.2f} mm: the two cards do not lie in one plane, "
                "lay one of them beside the indication and photograph it again"
            )
            found = replace(found, warnings=(*found.warnings, said))
    return found


def _check(read: PictureRead, marked: Marked) -> None:
    if not read.cards:
        twice = f"cards of size {', '.join(read.doubled)} lie in it twice: take one away. " if read.doubled else ""
        raise InputError(
            f"no scale card is seen in this photograph, so it has no scale. {twice}Lay a card flat beside the indication, at "
            "least two of its marks in the frame, and photograph it again (ndi codes BOOK cards), or measure on the part"
        )
    if not marked.lines or any(len(line) < 2 for line in marked.lines):
        raise InputError("mark the line from end to end: two points or more")
    points = [p for line in marked.lines for p in line] + [*marked.across, *marked.axis, *marked.datum]
    for x, y in points:
        if not (0 <= x <= read.width and 0 <= y <= read.height):
            raise InputError(f"{x:g}, {y:g} lies outside the picture of {read.width} x {read.height} pixels")
    if marked.across and len(marked.across) != 2:
        raise InputError(f"a width of {len(marked.across)} points: mark one at each edge of the line")
    sizes = {
        "radius": marked.radius_mm,
        "click": marked.click_px,
        "print": marked.print_share,
        "camera": marked.camera_mm,
        "crack": marked.crack_mm,
    }
    for name, size in sizes.items():
        if size is not None and not size > 0:
            raise InputError(f"{name} {size:g}: it is above 0")
    if marked.off_plane_mm is not None and marked.off_plane_mm < 0:
        raise InputError(
            f"off the plane by {marked.off_plane_mm:g} mm: say how far at most, above or below, without a sign"
        )


def _far(card: CardSeen, line: Sequence[Point]) -> float:
    corners = [corner for mark in card.marks for corner in mark.corners]
    middle = sum(x for x, _ in corners) / len(corners), sum(y for _, y in corners) / len(corners)
    size = max(hypot(x - middle[0], y - middle[1]) for x, y in corners)
    return max(hypot(x - middle[0], y - middle[1]) for x, y in line) / size


def _by_card(read: PictureRead, card: CardSeen, marked: Marked) -> Measured:
    plane, line = plane_of(read, card), marked.lines[0]
    click = marked.click_px
    if click is None:
        click = max(CLICK_PX, card.blur_px, max(read.width, read.height) / _SCREEN_PX)
    ruler = Ruler(plane, click, marked.print_share)
    chord = repeated([ruler.length(each) for each in marked.lines])
    length = chord
    if marked.radius_mm is not None:
        radius = marked.radius_mm
        length = repeated([ruler.on_journal(each, radius, marked.axis) for each in marked.lines])
    bound, spoken = _off_plane(read, plane, marked)
    length = replace(length, bound=length.bound + bound)
    width = ruler.length(marked.across) if marked.across else None
    return Measured(
        card.name,
        _how(card, plane, marked),
        length,
        None if marked.radius_mm is None else chord,
        width,
        ruler.angle(line, marked.axis) if marked.axis else None,
        _nearest(ruler, line, marked.datum) if marked.datum else None,
        plane.millimetres_per_pixel(line[len(line) // 2]).mean,
        (*_warnings(card, plane, marked, length, width, click), *spoken),
    )


def _how(card: CardSeen, plane: Plane, marked: Marked) -> str:
    times = f", line marked {len(marked.lines)} times" if len(marked.lines) > 1 else ""
    round_it = f", along a journal of radius {marked.radius_mm:g} mm" if marked.radius_mm is not None else ""
    return (
        f"scale card {card.name} in the plane of the indication, {len(card.marks)} of {len(CARDS[card.name].marks)} marks, "
        f"{plane.noise_px:.2f} px{round_it}{times}"
    )


def _nearest(ruler: Ruler, line: Sequence[Point], datum: Sequence[Point]) -> Uncertain:
    """From the end that is nearer to the datum."""
    return min((ruler.distance(end, datum) for end in (line[0], line[-1])), key=lambda found: found.value)


# --- what speaks against it -----------------------------------------------------------------------


def _warnings(
    card: CardSeen, plane: Plane, marked: Marked, length: Uncertain, width: Uncertain | None, click: float
) -> tuple[str, ...]:
    design, line = CARDS[card.name], marked.lines[0]
    places = [(float(x), float(y)) for x, y in plane.at([p for each in marked.lines for p in each])]
    pixels = sum(hypot(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(line))
    said = []
    beyond = max(_beyond(design, place) for place in places)
    if beyond > 0:
        said.append(
            f"outside card: the line goes {beyond:.1f} mm beyond it, where the scale is carried on from the card"
        )
    if len(card.marks) * 2 <= len(design.marks):
        said.append(f"only {len(card.marks)} of {len(design.marks)} marks of the card are seen")
    off_mm = plane.noise_px * plane.millimetres_per_pixel(line[0]).mean
    if plane.noise_px > _FLAT_PX + _FLAT_BY_BLUR * card.blur_px and off_mm > _FLAT_MM:
        said.append(
            f"card not flat or lens bends strongly: its marks miss one plane by {off_mm:.2f} mm; "
            "press it flat and photograph it again"
        )
    if width is not None:
        said += _bleeding(length, width, marked.crack_mm)
    if pixels < _LEAST_PIXELS:
        said.append(f"the line is only {pixels:.0f} pixels long: go nearer")
    if len(line) > 2 and _added_by_marking(line, click) * length.value / max(pixels, 1e-9) > length.sd / 2:
        said.append("the points of the line lie so close that marking them makes it longer: mark fewer")
    return tuple(said)


def _beyond(card: Card, place: Point) -> float:
    x, y = place
    return max(-x, x - card.width, -y, y - card.height, 0.0)


def _bleeding(length: Uncertain, width: Uncertain, crack_mm: float | None) -> list[str]:
    """The developer or the particles spread past the crack's ends as they spread past its edges (common practice, no source)."""
    if crack_mm is not None and width.value - width.half_width > crack_mm:
        return [
            f"bleed-out: the line is {width.value:.2f} mm wide, the crack at most {crack_mm:g} mm; "
            f"it may be up to {width.value - crack_mm:.2f} mm shorter than what is seen, which is not taken off"
        ]
    if crack_mm is None and width.value > length.half_width:
        return [
            f"bleed-out: the line is {width.value:.2f} mm wide; the crack may be up to {width.value:.2f} mm shorter than what "
            "is seen, which is not taken off"
        ]
    return []


def _added_by_marking(line: Sequence[Point], click: float) -> float:
    """Pixels by which scattered marks lengthen a line of several points, to second order."""
    return sum(click**2 / max(hypot(b[0] - a[0], b[1] - a[1]), click) for a, b in pairwise(line))


def _off_plane(read: PictureRead, plane: Plane, marked: Marked) -> tuple[float, list[str]]:
    """What lying off the plane may cost in mm, and what is said of it."""
    line = marked.lines[0]
    places = [(float(x), float(y)) for x, y in plane.at(line)]
    chord = hypot(places[-1][0] - places[0][0], places[-1][1] - places[0][1])
    sunk = 0.0 if marked.radius_mm is None else _sagitta(marked.radius_mm, chord)
    off = (marked.off_plane_mm or 0.0) + sunk
    if not off:
        return 0.0, []
    camera = _camera(read, plane, marked)
    why = (
        f"the ends lie {sunk:.2f} mm below the middle of the journal"
        if sunk
        else f"up to {off:g} mm off the card's plane"
    )
    if camera is None:
        if marked.off_plane_mm:
            raise InputError(
                "what lying off the plane costs follows from the distance of the camera: say how far it was "
                "from the card (as 300 mm), as it wrote no focal length"
            )
        return 0.0, [f"{why}, and the distance of the camera is not known: what that costs is not in the uncertainty"]
    cost = camera.off_plane(places, off)
    return cost, [f"{why}, the camera {camera.height:.0f} mm away: {cost:.2f} mm more uncertain"]


def _sagitta(radius: float, chord: float) -> float:
    half = min(chord / 2, radius)
    return radius - sqrt(radius**2 - half**2)


def _camera(read: PictureRead, plane: Plane, marked: Marked) -> CameraPlace | None:
    if marked.camera_mm is not None:
        return camera_place(plane, focal_for_height(plane, marked.camera_mm))
    if read.focal_35_mm is None:
        return None
    return camera_place(plane, focal_px(read.focal_35_mm, (read.width, read.height)))
