"""What the study of a part number shows: its outline, the clock face, the rates, the tables."""

from __future__ import annotations

from collections.abc import Sequence

from ndi.domain.procedure import PartMaster
from ndi.services.chart_models import Chart, ClockFace, CountedZone, PartMap, Picture, Points, Ray
from ndi.services.crack_places import Find, ZoneFinds, types_of
from ndi.services.crack_rates import Rate, Rates
from ndi.services.record_report import outline_points, outline_zones
from ndi.services.report_models import SheetTable
from ndi.services.study import clock_text, newest, percent


def charts_of(
    part_no: str, finds: Sequence[Find], zones: Sequence[ZoneFinds], rates: Rates | None, master: PartMaster | None
) -> list[Picture]:
    """The outline with its counts, the clock face, the rates; each only where there is something to draw."""
    charts: list[Picture] = []
    counts = {zone.zone: len(zone.finds) for zone in zones}
    if master is not None and master.outline and finds:
        drawn = tuple(CountedZone(z.code, z.polygon, counts.get(z.code, 0)) for z in outline_zones(master))
        marks = tuple(find.place for find in finds if find.place is not None)
        caption = f"relevant indications by zone; a cross where one has a place. Datum: {master.datum or 'not stated'}"
        charts.append(PartMap(f"{part_no} {master.description}", caption, outline_points(master), drawn, marks))
    around = [zone for zone in zones if zone.angles]
    if around:
        rays = tuple(
            Ray(
                _ray_label(zone),
                zone.angles,
                zone.around.mean if zone.around else None,
                zone.around.resultant if zone.around else 0.0,
            )
            for zone in around
        )
        reference = master.clock_reference if master and master.clock_reference else "as recorded"
        charts.append(ClockFace(f"{part_no}: clock angles", f"angles from: {reference}", rays))
    if rates is not None:
        charts.append(_rate_chart(part_no, rates))
    return charts


def _ray_label(zone: ZoneFinds) -> str:
    told = f"{zone.zone}: {len(zone.angles)}"
    if zone.around is None or zone.around.mean is None:
        return told
    return f"{told}, mean {zone.around.mean:.0f}°, R {zone.around.resultant:.2f}, chance p {zone.around.p:.2g}"


def _rate_chart(part_no: str, rates: Rates) -> Chart:
    names = tuple(f"{rate.band}\n{rate.cracked} of {rate.inspected}" for rate in (*rates.bands, rates.whole))
    every = (*rates.bands, rates.whole)
    xs = tuple(float(n) for n in range(len(every)))
    return Chart(
        f"{part_no}: share of pieces cracked, by hours since overhaul",
        "hours since overhaul of the engine, cracked of inspected",
        "share cracked, %",
        (
            Points(
                "share with Wilson's 95 % interval",
                xs,
                tuple(100 * rate.share.estimate for rate in every),
                low=tuple(100 * rate.share.low for rate in every),
                high=tuple(100 * rate.share.high for rate in every),
            ),
        ),
        x_names=names,
        from_zero=True,
    )


def tables_of(finds: Sequence[Find], zones: Sequence[ZoneFinds], rates: Rates | None) -> list[SheetTable]:
    """By zone, by engine time, and every find."""
    rows = []
    for zone in zones:
        around = zone.around
        mean = f"{around.mean:.0f}°" if around and around.mean is not None else ""
        strength = f"{around.resultant:.3f}" if around else ""
        chance = f"{around.p:.2g}" if around else ""
        rows.append(
            (
                zone.zone,
                str(len(zone.finds)),
                types_of(zone.finds),
                mean,
                strength,
                chance,
                str(zone.recent),
                "ALERT" if zone.alert else "",
            )
        )
    columns = (
        ("Zone", 0.25),
        ("Finds", 0.07),
        ("Types", 0.24),
        ("Mean", 0.08),
        ("R", 0.08),
        ("Chance p", 0.1),
        ("Recent cracks", 0.1),
        ("D19", 0.08),
    )
    alerts = frozenset(n for n, zone in enumerate(zones) if zone.alert)
    tables = [SheetTable("By zone", columns, tuple(rows), "No relevant indication is recorded.", alerts)]
    if rates is not None:
        tables.append(_rate_table(rates))
    listed, heading = newest(
        [
            (
                clock_text(f_.when),
                f_.where,
                f_.item,
                f_.zone,
                "" if f_.clock_deg is None else f"{f_.clock_deg:.0f}°",
                f_.type,
            )
            for f_ in finds
        ],
        "Every relevant indication",
    )
    told = (("Seen", 0.18), ("Record", 0.13), ("Item", 0.17), ("Zone", 0.25), ("Clock", 0.08), ("Type", 0.19))
    tables.append(SheetTable(heading, told, listed))
    return tables


def _rate_table(rates: Rates) -> SheetTable:
    def row(rate: Rate) -> tuple[str, ...]:
        drawn = rate.drawn
        return (
            rate.band,
            str(rate.inspected),
            str(rate.cracked),
            percent(rate.share.estimate),
            f"{percent(rate.share.low)} to {percent(rate.share.high)}",
            "" if rate.upper_after_none is None else f"at most {percent(rate.upper_after_none)}",
            "" if drawn is None else f"{percent(drawn.estimate)} ({percent(drawn.low)} to {percent(drawn.high)})",
        )

    columns = (
        ("Hours since overhaul", 0.19),
        ("Inspected", 0.1),
        ("Cracked", 0.09),
        ("Share", 0.09),
        ("95 % interval", 0.18),
        ("None found", 0.15),
        ("Drawn to its family", 0.2),
    )
    rows = tuple(row(rate) for rate in (*rates.bands, rates.whole))
    return SheetTable("How often, by engine time", columns, rows)
