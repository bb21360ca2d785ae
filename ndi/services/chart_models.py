"""What a chart shows, without how it is drawn: points, lines, bands, limits, outlines; one model for screen and paper.

Statistics and pictures only: numbers here are floats, and nothing is judged on them.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from enum import StrEnum

from ndi.domain.moment import Moment

Place = tuple[float, float]  # millimetres on the outline, y upwards

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def day_number(when: Moment | date) -> float:
    """Days since 1970-01-01 on the local clock: the x of a chart over dates."""
    if isinstance(when, Moment):
        return (when.at + timedelta(minutes=when.offset_min) - _EPOCH) / timedelta(days=1)
    return float((when - _EPOCH.date()).days)


class Marker(StrEnum):
    """The shape of a point; shape tells apart before colour does."""

    DOT = "dot"  # counted
    RING = "ring"  # shown, not counted
    CROSS = "cross"  # out of limits, or not on the trend
    SQUARE = "square"
    TRIANGLE = "triangle"
    DIAMOND = "diamond"


class Dash(StrEnum):
    SOLID = "solid"
    DASHED = "dashed"
    DOTTED = "dotted"


@dataclass(frozen=True)
class Points:
    """Single values; ``low`` and ``high``, where given, are the ends of their intervals."""

    label: str
    xs: tuple[float, ...]
    ys: tuple[float, ...]
    marker: Marker = Marker.DOT
    low: tuple[float, ...] = ()
    high: tuple[float, ...] = ()


@dataclass(frozen=True)
class Curve:
    label: str
    xs: tuple[float, ...]
    ys: tuple[float, ...]
    dash: Dash = Dash.SOLID


@dataclass(frozen=True)
class Band:
    """What lies between two curves; the label names what it means (95 % prediction band of one reading)."""

    label: str
    xs: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]


@dataclass(frozen=True)
class Level:
    """A horizontal line: a limit with its source, a centre, a control limit."""

    label: str
    y: float
    dash: Dash = Dash.DASHED
    is_limit: bool = False


@dataclass(frozen=True)
class Upright:
    """A vertical line: a predicted day, a change."""

    label: str
    x: float


Layer = Points | Curve | Band | Level | Upright


@dataclass(frozen=True)
class Chart:
    """Layers over one pair of axes.  Labels of axes carry the unit.

    ``x_is_date``: x counts days since 1970-01-01.  ``x_names``: the names under
    x = 0, 1, 2 ...  ``x_counts``: whole numbers only.  ``log_x``: sizes over decades.
    ``from_zero``: y begins at 0.
    """

    title: str
    x_label: str
    y_label: str
    layers: tuple[Layer, ...]
    x_is_date: bool = False
    x_names: tuple[str, ...] = ()
    x_counts: bool = False
    log_x: bool = False
    from_zero: bool = False


@dataclass(frozen=True)
class Ray:
    """The marks of one zone on the clock face; ``mean`` None where the angles cancel, ``resultant`` 0 to 1."""

    label: str
    angles_deg: tuple[float, ...]
    mean_deg: float | None = None
    resultant: float = 0.0


@dataclass(frozen=True)
class ClockFace:
    """Clock angles round a part, 0 at the top and clockwise, one ring of marks for each zone."""

    title: str
    caption: str
    rays: tuple[Ray, ...]


@dataclass(frozen=True)
class CountedZone:
    code: str
    polygon: tuple[Place, ...]
    count: int


@dataclass(frozen=True)
class PartMap:
    """The outline of a part with the count in each zone and every mark that has a place."""

    title: str
    caption: str
    outline: tuple[Place, ...]
    zones: tuple[CountedZone, ...]
    marks: tuple[Place, ...]


Picture = Chart | ClockFace | PartMap
