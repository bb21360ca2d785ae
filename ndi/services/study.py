"""One question put to years of readings, answered: a sentence, figures, charts, tables, what was left out and why.

The same study goes to the terminal, the desk and paper.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from fractions import Fraction

from ndi.domain.errors import NotFound
from ndi.domain.moment import Moment
from ndi.domain.procedure import Procedure
from ndi.domain.quantity import Number
from ndi.services.chart_models import Picture, day_number
from ndi.services.paper_text import on_paper
from ndi.services.ports import Session
from ndi.services.report_models import Labelled, SheetTable
from ndi.services.workplace import Workplace

SHOWN_ROWS = 40  # of a table of readings: the newest; the chart shows all
BAND_READINGS = 3  # a line with a prediction band has n - 2 degrees of freedom


@dataclass(frozen=True)
class Study:
    """``says`` is the answer in a sentence or two; ``enough`` False where there are too few readings for one.

    ``figures`` is the same for machines: texts, whole numbers, floats and None.
    """

    name: str  # what it is about: "lamp LP-3"
    title: str
    says: str
    lines: tuple[Labelled, ...]
    charts: tuple[Picture, ...] = ()
    tables: tuple[SheetTable, ...] = ()
    left_out: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()
    enough: bool = True
    figures: Mapping[str, object] = field(default_factory=dict)

    def as_json(self) -> str:
        """The study for another program."""
        content = {
            "name": self.name,
            "title": self.title,
            "says": self.says,
            "enough": self.enough,
            "lines": {line.label: line.value for line in self.lines},
            "figures": {key: _plain(value) for key, value in self.figures.items()},
            "left_out": list(self.left_out),
            "tables": [
                {
                    "heading": table.heading,
                    "columns": [name for name, _ in table.columns],
                    "rows": [list(row) for row in table.rows],
                }
                for table in self.tables
            ],
            "sources": list(self.sources),
        }
        return json.dumps(content, ensure_ascii=False, indent=1) + "\n"


def _plain(value: object) -> object:
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, Fraction):
        return float(value)
    if isinstance(value, date):
        return value.isoformat()
    return value


# --- limits, with the paragraph that they come from ----------------------------------------------------


@dataclass(frozen=True)
class Limit:
    """A number of a procedure revision in force, with its paragraph and source."""

    key: str
    number: Number
    procedure: Procedure

    @property
    def where(self) -> str:
        return f"{self.procedure.name}, {self.procedure.parameters[self.key].paragraph}"

    @property
    def text(self) -> str:
        return f"{on_paper(str(self.number))} ({self.where})"

    @property
    def source(self) -> str:
        return f"{self.key} {on_paper(str(self.number))}: {self.where}; {self.procedure.parameters[self.key].source}"


def in_force(work: Workplace, session: Session) -> list[Procedure]:
    """Every procedure revision in force today."""
    today = work.now().local.date()
    return [
        p
        for p in work.procedures(session)
        if p.effective_from <= today and (p.effective_to is None or today <= p.effective_to)
    ]


def strictest(work: Workplace, session: Session, key: str, *, least: bool, method: str | None = None) -> Limit | None:
    """The limit that binds first among the procedures in force: the highest of the least, the lowest of the most."""
    found = []
    for procedure in in_force(work, session):
        parameter = procedure.parameters.get(key)
        if parameter is not None and isinstance(parameter.value, Number) and method in (None, procedure.method):
            found.append(Limit(key, parameter.value, procedure))
    if not found:
        return None
    unit = found[0].number.unit

    def size(limit: Limit) -> tuple[Fraction, str]:
        value = limit.number.in_unit(unit)
        return (-value if least else value, limit.procedure.name)

    return min(found, key=size)


def readings_needed(work: Workplace, session: Session) -> Limit:
    """How many readings a trend needs, by the procedures in force; NotFound where none says it."""
    found = strictest(work, session, "trend_readings", least=True)
    if found is None:
        raise NotFound(
            "no procedure in force says how many readings a trend needs (trend_readings): a Level III sets it"
        )
    return found


# --- words ------------------------------------------------------------------------------------------


def count_of(number: int, one: str, many: str = "") -> str:
    """``1 reading``, ``3 readings``."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def places(value: float, digits: int = 3) -> str:
    """A figure of statistics to so many significant digits, without an exponent."""
    if value == 0 or not math.isfinite(value):
        return "0" if value == 0 else "beyond figures"
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    return f"{value:.{min(decimals, 9)}f}"


def percent(share: float, digits: int = 1) -> str:
    return f"{100 * share:.{digits}f} %"


def day_of(number: float) -> date | None:
    """The calendar day of a day number; None beyond the calendar."""
    try:
        return date.fromordinal(math.floor(number) + date(1970, 1, 1).toordinal())
    except (OverflowError, ValueError):
        return None


def day_text(number: float | None) -> str:
    """``2026-07-23``, or what to say without one."""
    found = None if number is None else day_of(number)
    return "never, on this line" if number is None else "beyond the calendar" if found is None else found.isoformat()


def spread(first: float, last: float, count: int = 100) -> tuple[float, ...]:
    """Places from first to last for a curve."""
    return tuple(first + (last - first) * step / (count - 1) for step in range(count))


def newest(rows: Sequence[tuple[str, ...]], heading: str) -> tuple[tuple[tuple[str, ...], ...], str]:
    """The newest rows of a table, newest first, and a heading that says how many there are."""
    shown = tuple(reversed(rows))[:SHOWN_ROWS]
    more = f", the newest {len(shown)} of {len(rows)}" if len(shown) < len(rows) else ""
    return shown, heading + more


def at_days(moments: Sequence[Moment]) -> tuple[float, ...]:
    return tuple(day_number(moment) for moment in moments)


def clock_text(moment: Moment) -> str:
    return f"{moment.local:%Y-%m-%d %H:%M}"


def midnight(day: date, offset_min: int) -> datetime:
    """When a local day begins, in UTC."""
    return datetime(day.year, day.month, day.day, tzinfo=UTC) - timedelta(minutes=offset_min)
