"""Draws where marks lie: round the clock face of a part, and on its outline."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from ndi.printing.chart_style import (
    COLOURS,
    FAMILY,
    GRID,
    INK,
    MARKERS,
    QUIET,
    SMALL,
    TITLE,
    Axes,
    Figure,
    legend,
    place_legend,
)
from ndi.services.chart_models import ClockFace, CountedZone, PartMap, Place

_ROUNDED = 1e-9
_FROM_MARK = 0.6  # an edge may be nearer than a mark: a number over a line is read, one over a mark hides it
_INNER = 31  # places tried across and up for the number of a zone


def draw_clock(figure: Figure, face: ClockFace) -> None:
    """Marks round the face, an arrow to the mean of each zone, as long as they gather."""
    axes: Any = figure.add_subplot(projection="polar")
    axes.set_theta_zero_location("N")
    axes.set_theta_direction(-1)
    axes.set_ylim(0, 1.25)
    axes.set_yticks([])
    axes.set_thetagrids(range(0, 360, 30), [f"{angle}°" for angle in range(0, 360, 30)])
    axes.tick_params(labelsize=SMALL, colors=INK, labelfontfamily=FAMILY)
    axes.grid(True, color=GRID, linewidth=0.6)
    axes.spines["polar"].set_color(QUIET)
    axes.set_title(face.title, fontsize=TITLE, loc="left", color=INK, fontweight="bold", family=FAMILY)
    shapes = list(MARKERS.values())
    for number, ray in enumerate(face.rays):
        colour = COLOURS[number % len(COLOURS)]
        shape: dict[str, Any] = shapes[number % len(shapes)]
        radii = _stacked(ray.angles_deg, 1.0 - 0.09 * number)
        angles = [math.radians(angle) for angle in ray.angles_deg]
        axes.plot(angles, radii, color=colour, linestyle="", label=ray.label, zorder=3, **shape)
        if ray.mean_deg is not None:
            toward = math.radians(ray.mean_deg)
            axes.annotate(
                "",
                xy=(toward, ray.resultant * 0.85),
                xytext=(0, 0),
                arrowprops={"arrowstyle": "-|>", "color": colour, "linewidth": 1.6, "shrinkA": 0, "shrinkB": 0},
            )
    axes.set_xlabel(face.caption, fontsize=SMALL, color=QUIET, family=FAMILY)
    legend(figure, axes)


def _stacked(angles: Sequence[float], radius: float) -> list[float]:
    """Marks at nearly one angle stand behind one another, so that each is seen."""
    taken: dict[int, int] = {}
    radii = []
    for angle in angles:
        place = round(angle / 3)
        taken[place] = taken.get(place, -1) + 1
        radii.append(max(radius - 0.05 * taken[place], 0.1))
    return radii


def draw_map(figure: Figure, part: PartMap) -> None:
    """The outline, zones shaded and numbered by what they hold, a cross for each mark that has a place."""
    from matplotlib.patches import Polygon

    axes = figure.add_subplot()
    axes.set_aspect("equal")
    axes.set_axis_off()
    axes.set_title(part.title, fontsize=TITLE, loc="left", color=INK, fontweight="bold", family=FAMILY)
    counted = sorted((zone for zone in part.zones if zone.count), key=lambda zone: (-zone.count, zone.code))
    shades = _shades(counted)
    for zone in part.zones:
        fill = shades.get(zone.code, "white")
        axes.add_patch(Polygon(zone.polygon, closed=True, facecolor=fill, edgecolor=QUIET, linewidth=0.7, zorder=1))
    if part.outline:
        axes.add_patch(Polygon(part.outline, closed=True, fill=False, edgecolor=INK, linewidth=1.4, zorder=2))
    if part.marks:
        xs, ys = zip(*part.marks, strict=True)
        axes.plot(xs, ys, linestyle="", marker="x", color=INK, markersize=7, markeredgewidth=1.8, zorder=5)
    for number, zone in enumerate(counted, 1):
        _numbered(axes, number, zone, part.marks)
    axes.autoscale_view()
    _scale_bar(axes, part)
    _zone_legend(figure, counted, shades, part.caption)


def _shades(counted: Sequence[CountedZone]) -> dict[str, Any]:
    """The more a zone holds, the deeper its shade; its number and the legend say it without the shade."""
    from matplotlib.colors import LinearSegmentedColormap

    deeper = LinearSegmentedColormap.from_list("counts", ["#ffffff", "#f2b134"])
    most = max((zone.count for zone in counted), default=1)
    return {zone.code: deeper(0.3 + 0.7 * zone.count / most) for zone in counted}


def _numbered(axes: Axes, number: int, zone: CountedZone, marks: Sequence[Place]) -> None:
    x, y = _inner_place(zone.polygon, marks)
    around = {"boxstyle": "circle,pad=0.25", "facecolor": "white", "edgecolor": INK, "linewidth": 0.8}
    axes.text(
        x,
        y,
        str(number),
        fontsize=SMALL,
        family=FAMILY,
        color=INK,
        ha="center",
        va="center",
        fontweight="bold",
        zorder=6,
        bbox=around,
    )


def _inner_place(polygon: Sequence[Place], marks: Sequence[Place]) -> Place:
    """A place inside the zone, far from its edges and from marks: the middle of a ring would lie outside of it."""
    import numpy as np
    from matplotlib.path import Path

    corners = np.asarray(polygon, float)
    (left, below), (right, above) = corners.min(axis=0), corners.max(axis=0)
    shares = (np.arange(_INNER) + 0.5) / _INNER
    grid = np.array([(left + a * (right - left), below + b * (above - below)) for a in shares for b in shares])
    inside = grid[Path(corners).contains_points(grid)]
    if not len(inside):
        return float((left + right) / 2), float((below + above) / 2)
    ends = np.roll(corners, -1, axis=0) - corners
    length = np.maximum((ends**2).sum(axis=1), _ROUNDED)
    from_corner = inside[:, None, :] - corners[None, :, :]
    along = np.clip((from_corner * ends[None, :, :]).sum(axis=2) / length, 0, 1)
    apart = np.linalg.norm(from_corner - along[:, :, None] * ends[None, :, :], axis=2).min(axis=1)
    for mark in marks:
        apart = np.minimum(apart, np.linalg.norm(inside - np.asarray(mark), axis=1) * _FROM_MARK)
    x, y = inside[int(apart.argmax())]
    return float(x), float(y)


def _zone_legend(figure: Figure, counted: Sequence[CountedZone], shades: dict[str, Any], caption: str) -> None:
    from matplotlib.patches import Patch

    if not counted:
        figure.supxlabel(caption, fontsize=SMALL, color=QUIET, x=0.01, ha="left", family=FAMILY)
        return
    labels = [zone_label(number, zone) for number, zone in enumerate(counted, 1)]
    handles = [Patch(facecolor=shades[zone.code], edgecolor=QUIET, linewidth=0.7) for zone in counted]
    place_legend(figure, handles, labels, caption)


def zone_label(number: int, zone: CountedZone) -> str:
    """What the legend says of a zone."""
    return f"{number}  {zone.code}: {zone.count}"


def _scale_bar(axes: Axes, part: PartMap) -> None:
    points = [*part.outline, *(p for zone in part.zones for p in zone.polygon)]
    if not points:
        return
    xs, ys = [x for x, _ in points], [y for _, y in points]
    across = max(max(xs) - min(xs), _ROUNDED)
    length = next((step for step in (500, 200, 100, 50, 20, 10, 5, 2, 1) if step <= across / 4), 1)
    right, below = max(xs), min(ys) - 0.06 * max(across, max(ys) - min(ys))
    axes.plot([right - length, right], [below, below], color=INK, linewidth=1.2, solid_capstyle="butt")
    axes.annotate(
        f"{length} mm",
        (right - length / 2, below),
        xytext=(0, -4),
        textcoords="offset points",
        fontsize=SMALL,
        ha="center",
        va="top",
        color=INK,
        family=FAMILY,
    )
