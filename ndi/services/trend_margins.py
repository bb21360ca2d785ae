"""How close the times of the penetrant line come to their limits, and whether that drifts (I.15)."""

from __future__ import annotations

from collections import defaultdict
from datetime import date, timedelta
from fractions import Fraction

from ndi.calc import agreement
from ndi.domain import facts as f
from ndi.domain.codec import utc_from_text
from ndi.domain.quantity import shown
from ndi.services.asked.answering import ask, find
from ndi.services.chart_models import Chart, Dash, Layer, Level, Marker, Points
from ndi.services.report_models import Labelled, SheetTable
from ndi.services.study import Study, count_of, newest, readings_needed
from ndi.services.workplace import Workplace

DAYS = 90  # looked back where no first day is asked for
CLOSE = 10  # percent: marked, as question F7 marks it
_SHAPES = tuple(each for each in Marker if each not in (Marker.CROSS, Marker.RING))
_DRAWN = len(_SHAPES)  # kinds of time in the chart, each with a shape of its own; the table has all
_MOST_DRAWN = 100  # percent: a least time may be passed many times over, which says nothing
_SOURCE = (
    "margins as question F7 takes them, to whole percent; worst 5 % by linear interpolation (R. J. Hyndman and Y. Fan 1996, "
    "type 7), drift by least squares over the order of the baskets"
)


def margins_study(work: Workplace, *, since: date | None = None) -> Study:
    """Margins of every basket since a day, by what was timed."""
    today = work.now().local.date()
    begins = since or today - timedelta(days=DAYS)
    with work.look() as session:
        needed = readings_needed(work, session)
        zone = timedelta(minutes=work.now().offset_min)
        loads = session.lines(f.BasketLoaded)
    days = sorted({(utc_from_text(load.at) + zone).date() for load in loads})
    found: dict[str, list[tuple[date, str, str, int]]] = defaultdict(list)
    for day in days:
        if begins <= day <= today:
            for row in ask(work, "F7", {"day": day.isoformat()}).rows:
                cell = dict(zip(find("F7").columns, row.cells, strict=True))
                found[cell["What"]].append((day, cell["Basket"], cell["Took"], int(cell["Margin %"])))
    least = int(needed.number.value)
    baskets = len({(day, basket) for rows in found.values() for day, basket, _, _ in rows})
    lines = []
    rows, act = [], set()
    for number, (what, taken) in enumerate(sorted(found.items())):
        values = [Fraction(margin) for _, _, _, margin in taken]
        closest = min(taken, key=lambda each: each[3])
        if len(values) < max(least, 2):
            words = ("too few", "")
        else:
            told = agreement.margins(values)
            words = (shown(told.worst_5_percent, "%", digits=1), f"{float(told.drift * 10):+.1f} % in ten baskets")
        rows.append((what, str(len(values)), f"{closest[3]} %", f"{closest[1]}, {closest[0]}", *words))
        if closest[3] < CLOSE:
            act.add(number)
    if not found:
        says = f"No basket with its times was run from {begins} to {today}."
    else:
        worst = min((each for taken in found.values() for each in taken), key=lambda each: each[3])
        what = next(name for name, taken in found.items() if worst in taken)
        over = sum(each[3] < 0 for taken in found.values() for each in taken)
        says = (
            f"From {begins} to {today}, {count_of(baskets, 'basket')}: the closest was the {what} of {worst[1]} on {worst[0]}, "
            f"{worst[3]} % from its limit. "
            + (f"{count_of(over, 'time')} past a limit." if over else "None past a limit.")
        )
        if all(len(taken) < least for taken in found.values()):
            says += f" Too few baskets for a drift: {least} are needed ({needed.where})."
    lines.append(Labelled("Looked back to", str(begins)))
    lines.append(Labelled("Close", f"under {CLOSE} % of the limit is left"))
    columns = (("What", 0.2), ("Times", 0.09), ("Closest", 0.11), ("When", 0.22), ("Worst 5 %", 0.14), ("Drift", 0.24))
    table = SheetTable("By what was timed", columns, tuple(rows), "No basket was timed.", frozenset(act))
    return Study(
        "margins",
        "Margins of the penetrant line",
        says,
        tuple(lines),
        (_chart(found),) if found else (),
        (table, _closest(found)) if found else (table,),
        (),
        (_SOURCE, needed.source),
        enough=any(len(taken) >= least for taken in found.values()),
        figures={"baskets": baskets, **{what: [each[3] for each in taken] for what, taken in sorted(found.items())}},
    )


def _chart(found: dict[str, list[tuple[date, str, str, int]]]) -> Chart:
    order = sorted({(day, basket) for taken in found.values() for day, basket, _, _ in taken})
    at = {key: float(n + 1) for n, key in enumerate(order)}
    layers: list[Layer] = [
        Level("at the limit", 0.0, is_limit=True),
        Level(f"close: under {CLOSE} % left", float(CLOSE), Dash.DOTTED),
    ]
    closest = sorted(found.items(), key=lambda item: (min(each[3] for each in item[1]), item[0]))[:_DRAWN]
    for number, (what, taken) in enumerate(closest):
        xs = tuple(at[day, basket] for day, basket, _, _ in taken)
        ys = tuple(float(min(each[3], _MOST_DRAWN)) for each in taken)
        layers.append(Points(what, xs, ys, _SHAPES[number]))
    first, last = order[0][0], order[-1][0]
    return Chart(
        f"Margins to the limits of the procedure, the {len(closest)} that come closest",
        f"baskets in order, {first} to {last}",
        f"left to the limit, % (drawn to {_MOST_DRAWN})",
        tuple(layers),
        x_counts=True,
    )


def _closest(found: dict[str, list[tuple[date, str, str, int]]]) -> SheetTable:
    every = [(margin, what, basket, took, day) for what, taken in found.items() for day, basket, took, margin in taken]
    every.sort(key=lambda each: -each[0])
    shown_rows, heading = newest([(w, b, str(d), t, f"{m} %") for m, w, b, t, d in every], "The closest first")
    columns = (("What", 0.26), ("Basket", 0.14), ("Day", 0.18), ("Took", 0.22), ("Margin", 0.2))
    flags = frozenset(n for n, row in enumerate(shown_rows) if int(row[4].split()[0]) < CLOSE)
    return SheetTable(heading.replace("the newest", "the first"), columns, shown_rows, emphasised=flags)
