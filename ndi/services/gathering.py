"""The study of a part number: where its cracks gather, how often it cracks, whether engineering is told (I.10, I.11, D19)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from ndi.domain.errors import NotFound
from ndi.domain.procedure import PartMaster
from ndi.rules.inquiry import as_timedelta
from ndi.services.crack_places import Find, ZoneFinds, by_zone, finds_of
from ndi.services.crack_rates import PER_HOURS, Rates, crack_rates
from ndi.services.gathering_shown import charts_of, tables_of
from ndi.services.paper_text import on_paper
from ndi.services.ports import Session
from ndi.services.report_models import Labelled
from ndi.services.study import Limit, Study, count_of, percent, strictest
from ndi.services.workplace import Workplace

CHANCE = 0.05  # what is called unlikely by chance, as is usual in statistics; no limit of the procedure
ANGLES = 3  # below it a mean direction is shown and nothing is concluded
_SOURCES = (
    "mean direction and Rayleigh's test: J. H. Zar, Biostatistical Analysis, chapter on circular distributions; its p-value "
    "errs to the careful side where few angles gather strongly",
    "shares with the interval of E. B. Wilson 1927; for each 1000 h the exact Poisson interval (F. Garwood 1936); drawn "
    "towards the similar part numbers: beta prior",
    "Parts are seen only at overhaul: shares of pieces by their hours, never hours to a crack",
)


def gather(work: Workplace, part_no: str, *, similar: bool = False) -> Study:
    """The study of one part number, with ``similar`` together with those that its part master names as similar."""
    with work.look() as session:
        master = _master(work, session, part_no)
        alike = tuple(master.similar_parts) if master else ()
        finds = finds_of(session, (part_no, *(alike if similar else ())))
        rates = crack_rates(session, part_no, alike)
        if not finds and rates is None:
            raise NotFound(f"no piece of part number {part_no} was inspected in this book")
        count, window = _alert(work, session)
    zones = _zones(finds, work.now().at, count, window)
    names = (part_no, *alike) if similar else (part_no,)
    title = f"Where cracks gather on {', '.join(names)}"
    return Study(
        f"gather {part_no}",
        title,
        _says(part_no, finds, zones, rates, master, window),
        tuple(_lines(zones, rates, count, window, master)),
        tuple(charts_of(part_no, finds, zones, rates, master)),
        tuple(tables_of(finds, zones, rates)),
        _left_out(finds, master),
        (*(limit.source for limit in (count, window) if limit), *_SOURCES),
        enough=bool(finds),
        figures={
            "finds": len(finds),
            "zones": {
                z.zone: {
                    "finds": len(z.finds),
                    "mean_deg": z.around.mean if z.around else None,
                    "resultant": z.around.resultant if z.around else None,
                    "p": z.around.p if z.around else None,
                    "recent_cracks": z.recent,
                    "alert": z.alert,
                }
                for z in zones
            },
            "inspected": rates.whole.inspected if rates else 0,
            "cracked": rates.whole.cracked if rates else 0,
        },
    )


@dataclass(frozen=True)
class PartNumber:
    """A part number that was inspected, with its relevant finds; ``alert``: some zone of it is one for engineering."""

    number: str
    description: str
    finds: int
    alert: bool


def part_numbers(work: Workplace) -> tuple[PartNumber, ...]:
    """Every part number that was inspected; those with an alert first, then the fullest."""
    with work.look() as session:
        groups: dict[str, list[Find]] = {row.part_no: [] for row in session.inspections()}
        for find in finds_of(session):
            groups.setdefault(find.part_no, []).append(find)
        count, window = _alert(work, session)
        rows = []
        for number, finds in groups.items():
            master = _master(work, session, number)
            alert = any(zone.alert for zone in _zones(finds, work.now().at, count, window))
            rows.append(PartNumber(number, master.description if master else "", len(finds), alert))
    return tuple(sorted(rows, key=lambda row: (not row.alert, -row.finds, row.number)))


def _alert(work: Workplace, session: Session) -> tuple[Limit | None, Limit | None]:
    """Count and window of rule D19, the strictest in force."""
    count = strictest(work, session, "alert_count", least=False)
    return count, strictest(work, session, "alert_window", least=True)


def _zones(finds: Sequence[Find], now: datetime, count: Limit | None, window: Limit | None) -> tuple[ZoneFinds, ...]:
    span = as_timedelta(window.number) if window else None
    return by_zone(finds, now, count.number if count else None, span)


def _master(work: Workplace, session: Session, part_no: str) -> PartMaster | None:
    try:
        return work.master(session, part_no)
    except NotFound:
        return None


def _name(master: PartMaster | None, zone: str) -> str:
    found = master.zone(zone) if master else None
    return found.name if found and found.name else zone


def _says(
    part_no: str,
    finds: Sequence[Find],
    zones: Sequence[ZoneFinds],
    rates: Rates | None,
    master: PartMaster | None,
    window: Limit | None,
) -> str:
    said = []
    if not finds:
        said.append(f"No relevant indication on {part_no}.")
    else:
        first = zones[0]
        said.append(
            f"{count_of(len(finds), 'relevant indication')} on {part_no}, "
            f"{len(first.finds)} of them in {first.zone} ({_name(master, first.zone)})."
            if len(zones) > 1
            else f"{count_of(len(finds), 'relevant indication')} on {part_no}, all in {first.zone} ({_name(master, first.zone)})."
        )
        said += [_gathers(zone) for zone in zones if zone.around is not None and len(zone.angles) >= ANGLES]
    if rates is not None:
        said.append(_rate_says(rates))
    for zone in zones:
        if zone.alert and window is not None:
            said.append(
                f"ALERT: {count_of(zone.recent, 'crack-type find')} in {zone.zone} within {on_paper(str(window.number))}: "
                "tell engineering."
            )
    return " ".join(said)


def _gathers(zone: ZoneFinds) -> str:
    assert zone.around is not None
    mean, p = zone.around.mean, zone.around.p
    if mean is None or p > CHANCE:
        return f"In {zone.zone} {len(zone.angles)} clock angles lie no closer than chance would have them (p {p:.2g})."
    return f"In {zone.zone} they gather at {mean:.0f}° ({len(zone.angles)} clock angles, chance p {p:.2g})."


def _rate_says(rates: Rates) -> str:
    whole = rates.whole
    if whole.cracked == 0:
        return (
            f"None of {whole.inspected} pieces cracked: at most {percent(whole.upper_after_none or 0.0)} "
            "(one-sided 95 % bound)."
        )
    return (
        f"{whole.cracked} of {whole.inspected} pieces cracked: {percent(whole.share.estimate)} "
        f"({percent(whole.share.low)} to {percent(whole.share.high)})."
    )


def _lines(
    zones: Sequence[ZoneFinds],
    rates: Rates | None,
    count: Limit | None,
    window: Limit | None,
    master: PartMaster | None,
) -> list[Labelled]:
    lines = []
    if count is not None and window is not None:
        fullest = max(zones, key=lambda zone: zone.recent, default=None)
        now = f"; now {fullest.recent} in {fullest.zone}" if fullest else ""
        lines.append(
            Labelled(
                "Alert (D19)",
                f"at {count.number.typed} crack-type finds in one zone within {on_paper(str(window.number))} ({window.where}){now}",
            )
        )
    else:
        lines.append(Labelled("Alert (D19)", "the procedures in force set none"))
    if master is not None and master.clock_reference:
        lines.append(Labelled("Clock angles from", master.clock_reference))
    if rates is not None:
        if rates.per_hours is not None:
            per = rates.per_hours
            lines.append(
                Labelled(
                    f"For each {PER_HOURS} h",
                    f"{per.estimate:.3f} ({per.low:.3f} to {per.high:.3f}): {rates.cracked_with_hours} cracked in "
                    f"{float(rates.exposure_h):.0f} h since overhaul of all pieces together",
                )
            )
        if rates.whole.drawn is not None:
            drawn = rates.whole.drawn
            lines.append(
                Labelled(
                    "Drawn to its family",
                    f"{percent(drawn.estimate)} ({percent(drawn.low)} to {percent(drawn.high)}), similar part numbers "
                    f"{rates.family[0]} of {rates.family[1]}",
                )
            )
    return lines


def _left_out(finds: Sequence[Find], master: PartMaster | None) -> tuple[str, ...]:
    said = []
    without_place = sum(find.place is None for find in finds)
    without_clock = sum(find.clock_deg is None for find in finds)
    if without_place:
        said.append(f"{count_of(without_place, 'find')} without a place on the outline: counted in the zone, not drawn")
    if without_clock:
        said.append(f"{count_of(without_clock, 'find')} without a clock angle")
    if master is None:
        said.append("no part master of this number is adopted: no outline to draw on")
    return tuple(said)
