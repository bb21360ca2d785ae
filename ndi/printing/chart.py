"""Draws charts: for the screen at its own size, for paper at 300 dots to the inch.

Every figure is an object of its own, drawn on a canvas without a window and
without the plotting library's shared state, so that any thread may draw.
Shapes and dashes tell apart before colour does.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from io import BytesIO
from typing import Any

from ndi.printing.chart_places import draw_clock, draw_map, zone_label
from ndi.printing.chart_style import (
    COLOURS,
    DASHES,
    FAMILY,
    GRID,
    INK,
    MARKERS,
    PURPLE,
    QUIET,
    SHADE,
    SMALL,
    TEXT,
    TITLE,
    VERMILION,
    Axes,
    Figure,
    legend,
    legend_columns,
)
from ndi.services.chart_models import (
    Band,
    Chart,
    ClockFace,
    Curve,
    Dash,
    Level,
    Marker,
    PartMap,
    Picture,
    Points,
    Upright,
)

PAPER_DPI, MM_PER_INCH = 300, 25.4
_SMALLEST, _LARGEST = 60, 8000  # pixels along an edge
_LEAST_WIDTH, _LEAST_HEIGHT, _LEGEND_ROW = 3.2, 1.5, 0.16  # inches


def chart_png(picture: Picture, width: int, height: int, dpi: float) -> bytes:
    """A PNG of ``width`` x ``height`` pixels without transparency; ``dpi`` says how large its letters are.

    Where that is too small for the letters, the chart is drawn larger and made smaller.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure
    from PIL import Image

    width, height = (min(max(size, _SMALLEST), _LARGEST) for size in (width, height))
    most = max(1.0, _LEAST_WIDTH * dpi / width)
    most = max(most, _least_height(picture, width * most / dpi) * dpi / height)
    size = width * most / dpi, height * most / dpi
    figure = Figure(figsize=size, dpi=dpi, facecolor="white", layout="constrained")
    _DRAW[type(picture)](figure, picture)
    canvas: Any = FigureCanvasAgg(figure)
    canvas.draw()
    drawn = Image.frombytes("RGBA", canvas.get_width_height(), bytes(canvas.buffer_rgba())).convert("RGB")
    if drawn.size != (width, height):
        drawn = drawn.resize((width, height), Image.Resampling.LANCZOS)
    kept = BytesIO()
    drawn.save(kept, "PNG", dpi=(dpi, dpi))
    return kept.getvalue()


def _least_height(picture: Picture, width: float) -> float:
    """Inches that a chart needs under its title: axes that are still axes, and the rows of its legend."""
    labels: list[str] = []
    if isinstance(picture, Chart):
        labels = [layer.label for layer in picture.layers if layer.label]
    elif isinstance(picture, ClockFace):
        labels = [ray.label for ray in picture.rays]
    else:
        labels = [zone_label(0, zone) for zone in picture.zones if zone.count] or [""]
    rows = -(-len(labels) // legend_columns(labels, width)) if labels else 0
    return _LEAST_HEIGHT + rows * _LEGEND_ROW


# --- charts over two axes ---------------------------------------------------------------------------


def _chart(figure: Figure, chart: Chart) -> None:
    axes = figure.add_subplot()
    _dress(axes, chart.title, chart.x_label, chart.y_label)
    if chart.log_x:
        axes.set_xscale("log")
    colours = _colours(chart)
    for number, layer in enumerate(chart.layers):
        _layer(axes, layer, colours[number], chart)
    if chart.x_is_date:
        _dates(axes)
    if chart.x_counts:
        axes.locator_params(axis="x", integer=True, nbins=9)
    if chart.log_x:
        from matplotlib.ticker import FormatStrFormatter, NullFormatter

        axes.xaxis.set_major_formatter(FormatStrFormatter("%g"))
        axes.xaxis.set_minor_formatter(NullFormatter())
        _log_ticks(axes)
    if chart.x_names:
        axes.set_xticks(range(len(chart.x_names)), chart.x_names)
        axes.set_xlim(-0.6, len(chart.x_names) - 0.4)
    axes.margins(x=0.02, y=0.08)
    if chart.from_zero:
        axes.set_ylim(bottom=0)
    legend(figure, axes)


def _dress(axes: Axes, title: str, x_label: str, y_label: str) -> None:
    axes.set_title(title, fontsize=TITLE, loc="left", color=INK, fontweight="bold", family=FAMILY)
    axes.set_xlabel(x_label, fontsize=TEXT, color=INK, family=FAMILY)
    axes.set_ylabel(y_label, fontsize=TEXT, color=INK, family=FAMILY)
    axes.tick_params(labelsize=SMALL, colors=INK, labelfontfamily=FAMILY)
    axes.grid(True, color=GRID, linewidth=0.6)
    axes.set_axisbelow(True)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(QUIET)


def _colours(chart: Chart) -> list[str]:
    """A colour for each layer: limits in vermilion, what was not counted quiet, the others in turn."""
    turn, given = [c for c in COLOURS if c != VERMILION], []
    taken = 0
    for layer in chart.layers:
        if isinstance(layer, Level):
            given.append(VERMILION if layer.is_limit else QUIET)
        elif isinstance(layer, Upright):
            given.append(PURPLE)
        elif isinstance(layer, Band):
            given.append(SHADE)
        elif isinstance(layer, Points) and layer.marker is Marker.CROSS:
            given.append(VERMILION)
        elif isinstance(layer, Points) and layer.marker is Marker.RING:
            given.append(QUIET)
        elif isinstance(layer, Curve):
            given.append(INK)
        else:
            given.append(turn[taken % len(turn)])
            taken += 1
    return given


def _layer(axes: Axes, layer: object, colour: str, chart: Chart) -> None:
    if isinstance(layer, Band):
        axes.fill_between(
            layer.xs, layer.low, layer.high, color=colour, edgecolor=QUIET, linewidth=0.5, label=layer.label, zorder=1
        )
    elif isinstance(layer, Curve):
        axes.plot(
            layer.xs, layer.ys, color=colour, linestyle=DASHES[layer.dash], linewidth=1.2, label=layer.label, zorder=2
        )
    elif isinstance(layer, Level):
        style = DASHES[layer.dash]
        axes.axhline(layer.y, color=colour, linestyle=style, linewidth=1.2, label=layer.label, zorder=2)
    elif isinstance(layer, Upright):
        axes.axvline(layer.x, color=colour, linestyle=DASHES[Dash.DASHED], linewidth=1.2, label=layer.label, zorder=2)
    elif isinstance(layer, Points) and layer.xs:
        if layer.low:
            below = [max(y - low, 0.0) for y, low in zip(layer.ys, layer.low, strict=True)]
            above = [max(high - y, 0.0) for y, high in zip(layer.ys, layer.high, strict=True)]
            axes.errorbar(
                layer.xs, layer.ys, [below, above], fmt="none", ecolor=colour, elinewidth=1.4, capsize=4, zorder=2
            )
        marks: dict[str, Any] = MARKERS[layer.marker]
        axes.plot(layer.xs, layer.ys, color=colour, linestyle="", label=layer.label, zorder=3, **marks)


def _dates(axes: Axes) -> None:
    """Days written out; hours only where all readings lie within a day or so."""
    from matplotlib import dates

    tools: Any = dates
    first, last = axes.get_xlim()
    is_short, is_brief = last - first < 9, last - first < 2
    locator = tools.DayLocator() if is_short and not is_brief else tools.AutoDateLocator(minticks=3, maxticks=8)
    axes.xaxis.set_major_locator(locator)
    axes.xaxis.set_major_formatter(tools.DateFormatter("%m-%d %H:%M" if is_brief else "%Y-%m-%d"))


def _log_ticks(axes: Axes) -> None:
    """1, 2, 5 in each decade within the axis: a logarithmic axis of less than two decades has no other figures."""
    low, high = axes.get_xlim()
    decades = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
    ticks = [step * 10.0**decade for decade in decades for step in (1, 2, 5)]
    axes.set_xticks([tick for tick in ticks if low <= tick <= high])
    axes.set_xlim(low, high)


_DRAW: dict[type, Callable[[Any, Any], None]] = {Chart: _chart, ClockFace: draw_clock, PartMap: draw_map}
