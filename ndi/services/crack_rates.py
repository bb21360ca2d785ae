"""How often pieces of a part number are cracked, by engine time, with the intervals that small numbers deserve (I.10).

Parts are seen only at overhaul: a share of pieces by their hours, never hours to a crack.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from ndi.calc import crack_rate
from ndi.calc.crack_rate import Span
from ndi.domain import facts as f
from ndi.domain.vocabulary import Interpretation, is_crack_type
from ndi.services.ports import Session

BANDS = (0, 500, 1000, 1500, 2000)  # hours since overhaul: how the rates are told apart, no limit
UNKNOWN, NEVER = "not recorded", "not applicable"  # NEVER: said to have had no overhaul
EARLIER = "earlier visits"
PER_HOURS = 1000


@dataclass(frozen=True)
class Rate:
    """Pieces of one band with the share that was cracked; ``drawn`` is drawn towards the family's share."""

    band: str
    inspected: int
    cracked: int
    share: Span
    drawn: Span | None = None

    @property
    def upper_after_none(self) -> float | None:
        """One-sided 95 % bound where nothing was found."""
        return crack_rate.upper_after_none(self.inspected) if self.cracked == 0 else None


@dataclass(frozen=True)
class Rates:
    """``exposure_h``: hours since overhaul of every piece whose hours are recorded, added up."""

    bands: tuple[Rate, ...]
    whole: Rate
    family: tuple[int, int]  # cracked, inspected, of the similar part numbers
    per_hours: Span | None
    exposure_h: Fraction
    cracked_with_hours: int


@dataclass
class _Count:
    pieces: dict[str, int]
    cracked: set[tuple[str, str]]

    @property
    def inspected(self) -> int:
        return sum(self.pieces.values())

    @property
    def bad(self) -> int:
        """A lot may hold more marked pieces than were counted into it; the share stays a share."""
        return min(len(self.cracked), self.inspected)


def hours_of(typed: str | None) -> Fraction | None:
    """Hours as the log book states them: ``1912``, ``1,912 h``; None for words."""
    text = (typed or "").replace(",", "").removesuffix("h").strip()
    return Fraction(text) if text.isascii() and text.replace(".", "", 1).isdigit() else None


def band_of(typed: str | None) -> str:
    """The band of hours as they were typed: ``1500-2000``, ``2000+``; as question F5 tells them apart."""
    hours = hours_of(typed)
    if hours is None:
        return NEVER if typed is not None and typed.startswith(NEVER) else UNKNOWN
    low = max(each for each in BANDS if each <= hours)
    following = [each for each in BANDS if each > low]
    return f"{low}-{following[0]}" if following else f"{low}+"


def crack_rates(session: Session, part_no: str, similar: Iterable[str] = ()) -> Rates | None:
    """The rates of one part number; None where no piece of it was inspected."""
    hours = {line.body["work_order"]: line.body.get("time_since_overhaul") for line in session.lines(f.WorkOrderOpened)}
    counts, exposure, with_hours = _counted(session, part_no, hours)
    if not counts:
        return None
    family = [_counted(session, other, hours)[0] for other in similar if other != part_no]
    prior = (
        sum(count.bad for group in family for count in group.values()),
        sum(count.inspected for group in family for count in group.values()),
    )

    def rate(band: str, inspected: int, cracked: int) -> Rate:
        drawn = crack_rate.shrunk(cracked, inspected, *prior) if 0 < prior[0] < prior[1] else None
        return Rate(band, inspected, cracked, crack_rate.wilson(cracked, inspected), drawn)

    order = [*(band_of(str(low)) for low in BANDS), NEVER, UNKNOWN, EARLIER]
    bands = tuple(rate(band, counts[band].inspected, counts[band].bad) for band in order if band in counts)
    whole = rate("all", sum(b.inspected for b in bands), sum(b.cracked for b in bands))
    per = crack_rate.per_time(with_hours, float(exposure / PER_HOURS)) if exposure else None
    return Rates(bands, whole, prior, per, exposure, with_hours)


def _counted(
    session: Session, part_no: str, hours: Mapping[str, str | None]
) -> tuple[dict[str, _Count], Fraction, int]:
    """By band; hours of all pieces added up; cracked pieces among those with hours.  Each piece once in a work order."""
    counts: dict[str, _Count] = defaultdict(lambda: _Count({}, set()))
    records = {row.inspection: row for row in session.inspections() if row.part_no == part_no}
    for row in records.values():
        pieces = counts[band_of(hours.get(row.work_order))].pieces
        pieces[row.part] = max(pieces.get(row.part, 0), row.quantity)
    said = {line.body["indication"]: line.body for line in session.lines(f.IndicationInterpreted)}
    for seen in session.lines(f.IndicationSeen):
        found, call = records.get(seen.body["inspection"]), said.get(seen.body["indication"])
        if found is None or call is None or call["interpretation"] != Interpretation.RELEVANT:
            continue
        if is_crack_type(call.get("type")):
            counts[band_of(hours.get(found.work_order))].cracked.add((found.part, seen.body.get("piece") or ""))
    for line in session.lines(f.PastInspection):
        if line.body["part_no"] == part_no:
            name = f"{line.body['work_order']}/{line.body['serial']}"
            counts[EARLIER].pieces[name] = 1
            if is_crack_type(line.body.get("type")):
                counts[EARLIER].cracked.add((name, ""))
    pieces_hours = {row.part: hours_of(hours.get(row.work_order)) for row in records.values()}
    exposure, cracked = Fraction(0), 0
    for band, count in counts.items():
        if band in (UNKNOWN, NEVER, EARLIER):
            continue
        for part, number in count.pieces.items():
            exposure += (pieces_hours[part] or 0) * number
        cracked += count.bad
    return dict(counts), exposure, cracked
