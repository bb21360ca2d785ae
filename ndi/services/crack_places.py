"""Where the cracks of a part number gather: every relevant indication by zone and clock angle (I.11, D19)."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from ndi.calc.clock_angles import Gathering, gathering
from ndi.domain import facts as f
from ndi.domain.codec import utc_from_text
from ndi.domain.moment import Moment
from ndi.domain.quantity import Number
from ndi.domain.vocabulary import Interpretation, is_crack_type
from ndi.services.ports import Line, Session

NO_ZONE = "zone not recorded"


@dataclass(frozen=True)
class Find:
    """One relevant indication, of this book or of an earlier visit; ``place`` in millimetres on the outline."""

    part_no: str
    when: Moment
    position: int
    zone: str
    clock_deg: float | None
    type: str
    where: str  # record, or work order of an earlier visit
    item: str
    place: tuple[float, float] | None

    @property
    def is_crack(self) -> bool:
        return is_crack_type(self.type)


@dataclass(frozen=True)
class ZoneFinds:
    """What one zone holds; ``around`` None without a clock angle; ``recent`` cracks within the alert's window."""

    zone: str
    finds: tuple[Find, ...]
    around: Gathering | None
    recent: int
    alert: bool

    @property
    def angles(self) -> tuple[float, ...]:
        return tuple(find.clock_deg for find in self.finds if find.clock_deg is not None)


def finds_of(session: Session, part_nos: Iterable[str] | None = None) -> tuple[Find, ...]:
    """Every relevant indication on some part numbers (or on all), by time; earlier visits count where they name a type."""
    wanted = None if part_nos is None else frozenset(part_nos)
    records = {row.inspection: row for row in session.inspections() if wanted is None or row.part_no in wanted}
    items = {row.part: row.serial or row.lot or row.part for row in session.parts()}
    said = {line.body["indication"]: line.body for line in session.lines(f.IndicationInterpreted)}
    found = []
    for line in session.lines(f.IndicationSeen):
        record, call = records.get(line.body["inspection"]), said.get(line.body["indication"])
        if record is None or call is None or call["interpretation"] != Interpretation.RELEVANT:
            continue
        piece = line.body.get("piece")
        item = " ".join(each for each in (items.get(record.part, record.part), piece) if each)
        found.append(_find(line, record.part_no, call.get("type"), record.inspection, item, _place(line)))
    for line in session.lines(f.PastInspection):
        body = line.body
        if (wanted is None or body["part_no"] in wanted) and body.get("type"):
            found.append(_find(line, body["part_no"], body["type"], body["work_order"], body["serial"], None))
    return tuple(sorted(found, key=lambda each: (each.when.at, each.position)))


def _find(
    line: Line, part_no: str, type_: str | None, where: str, item: str, place: tuple[float, float] | None
) -> Find:
    clock = _float(line.body.get("clock"), "deg")
    when = Moment(utc_from_text(line.at), line.offset_min)
    zone = line.body.get("zone") or NO_ZONE
    return Find(part_no, when, line.position, zone, clock, type_ or "type not recorded", where, item, place)


def _place(line: Line) -> tuple[float, float] | None:
    x, y = (_float(line.body.get(axis), "mm") for axis in ("x_mm", "y_mm"))
    return None if x is None or y is None else (x, y)


def _float(value: dict[str, str] | None, unit: str) -> float | None:
    return None if value is None else float(Number(value["typed"], value["unit"]).in_unit(unit))


def by_zone(
    finds: Sequence[Find], now: datetime, alert_count: Number | None, window: timedelta | None
) -> tuple[ZoneFinds, ...]:
    """The finds of each zone, the fullest first.

    The alert of rule D19: crack-type finds in one zone within the window before
    now, at least as many as the procedure says; none where it says nothing.
    """
    groups: dict[str, list[Find]] = defaultdict(list)
    for find in finds:
        groups[find.zone].append(find)
    zones = []
    for zone, of in groups.items():
        angles = [find.clock_deg for find in of if find.clock_deg is not None]
        recent = sum(find.is_crack and window is not None and now - find.when.at <= window for find in of)
        alert = alert_count is not None and recent >= alert_count.value
        zones.append(ZoneFinds(zone, tuple(of), gathering(angles) if angles else None, recent, alert))
    return tuple(sorted(zones, key=lambda each: (-len(each.finds), each.zone)))


def types_of(finds: Iterable[Find]) -> str:
    """``3 fatigue crack, 1 forging lap``."""
    return ", ".join(f"{count} {word}" for word, count in Counter(find.type for find in finds).most_common())
