"""What all charts share: colours, shapes, sizes of letters, the legend under the axes.

The colours are those of M. Okabe and K. Ito (2002), which people who mix up red and green tell apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, TypeAlias

from ndi.services.chart_models import Dash, Marker

# of the plotting library, which is loaded by the first chart and not before
Axes: TypeAlias = Any
Figure: TypeAlias = Any

INK, QUIET, GRID, SHADE = "#1b2733", "#5b6875", "#d9dee3", "#dbe6f1"
BLUE, VERMILION, GREEN, PURPLE, ORANGE = "#0072b2", "#d55e00", "#009e73", "#aa4499", "#e69f00"
COLOURS = (BLUE, VERMILION, GREEN, PURPLE, ORANGE)
TEXT, SMALL, TITLE = 8.5, 7.5, 9.5  # points
FAMILY = "DejaVu Sans"
MARKERS = {
    Marker.DOT: {"marker": "o", "markersize": 4.5},
    Marker.RING: {"marker": "o", "markersize": 5.5, "markerfacecolor": "white"},
    Marker.CROSS: {"marker": "x", "markersize": 6.5, "markeredgewidth": 1.8},
    Marker.SQUARE: {"marker": "s", "markersize": 4.5},
    Marker.TRIANGLE: {"marker": "^", "markersize": 5.5},
    Marker.DIAMOND: {"marker": "D", "markersize": 4.5},
}
DASHES = {Dash.SOLID: "-", Dash.DASHED: (0, (5, 3)), Dash.DOTTED: (0, (1.2, 2))}


def legend_columns(labels: Sequence[str], width: float) -> int:
    """As many columns as a width in inches has room for."""
    room = width * 72 / (SMALL * 0.62)  # characters across
    return max(1, min(len(labels), int(room / (max(map(len, labels)) + 6))))


def legend(figure: Figure, axes: Axes) -> None:
    """Every labelled layer of the axes."""
    handles, labels = axes.get_legend_handles_labels()
    if handles:
        place_legend(figure, handles, labels)


def place_legend(figure: Figure, handles: Sequence[Any], labels: Sequence[str], title: str = "") -> None:
    """Under the axes, as many columns as there is room for; a title of its own above it."""
    figure.legend(
        handles,
        labels,
        loc="outside lower left",
        ncols=legend_columns(labels, figure.get_figwidth()),
        frameon=False,
        prop={"size": SMALL, "family": FAMILY},
        labelcolor=INK,
        handlelength=2.4,
        borderaxespad=0.2,
        columnspacing=1.4,
        title=title or None,
        title_fontproperties={"size": SMALL, "family": FAMILY},
        alignment="left",
    )
