"""What was found: places, rates, rework, fast looks, shots, engines, lots (F3, F5, F19, F22, F23, F35, F39)."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from datetime import datetime, timedelta
from fractions import Fraction

from ndi.calc.crack_rate import wilson
from ndi.domain import facts as f
from ndi.domain.codec import utc_from_text
from ndi.domain.errors import NotFound
from ndi.domain.vocabulary import Interpretation, Step, is_crack_type
from ndi.services.asked.question import (
    NOT_RECORDED,
    PERIOD,
    YEARS,
    AskedRow,
    Parameter,
    Reader,
    number_of,
    question,
    shown,
    state_of,
    when,
)
from ndi.services.lookup import about
from ndi.services.ports import Line

_TURN = 360
_BANDS = (0, 500, 1000, 1500, 2000)  # hours since overhaul: how the rates are told apart, no limit


def _interpreted(q: Reader) -> dict[str, Line]:
    """The latest interpretation of each indication."""
    return {line.body["indication"]: line for line in q.lines(f.IndicationInterpreted)}


def _relevant(q: Reader) -> Iterator[tuple[Line, Line]]:
    """Every indication that stands as relevant, with its interpretation."""
    said = _interpreted(q)
    for seen in q.lines(f.IndicationSeen):
        found = said.get(seen.body["indication"])
        if found is not None and found.body["interpretation"] == Interpretation.RELEVANT:
            yield seen, found


def _apart(one: Fraction, other: Fraction) -> Fraction:
    """The smaller angle between two clock angles, in degrees."""
    turned = abs(one - other) % _TURN
    return min(turned, _TURN - turned)


@question(
    "F3",
    "Which parts had a crack at this location in the last two years?",
    "Relevant indications, and those of earlier visits, on the same part number (and those that its part master "
    "names as similar), in the zone, within the angle of the clock position where one is given; any serial number.",
    ("Seen", "Part number", "Serial or lot", "Work order", "Zone", "Clock", "Type", "Record"),
    Parameter("part_no", "part number"),
    Parameter("zone", "zone code"),
    Parameter("clock", "clock angle in degrees, empty for any", ""),
    Parameter("within", "degrees to either side", "15"),
    *YEARS,
)
def f3(q: Reader) -> Iterator[AskedRow]:
    numbers, zone = _alike(q, q.text("part_no")), q.text("zone")
    wanted, within = (q.number("clock") if q.text("clock") else None), q.number("within")
    since, until = q.period()

    def fits(body: dict[str, object]) -> bool:
        clock = number_of(body.get("clock"))
        return body.get("zone") == zone and (
            wanted is None or (clock is not None and _apart(clock.in_unit("deg"), wanted) <= within)
        )

    for line in q.session.lines(f.PastInspection, since, until):
        body = line.body
        if body["part_no"] in numbers and is_crack_type(body.get("type")) and fits(body):
            cells = (when(line), body["part_no"], body["serial"], body["work_order"], zone, shown(body.get("clock")))
            yield AskedRow((*cells, shown(body.get("type")), "earlier visit"), (line.position,), body["serial"])
    for seen, said in _relevant(q):
        row = q.record(seen.body["inspection"])
        in_time = since <= utc_from_text(seen.at) < until
        if row and in_time and row.part_no in numbers and fits(seen.body):
            cells = (when(seen), row.part_no, q.item(row.part), row.work_order, zone, shown(seen.body.get("clock")))
            yield AskedRow(
                (*cells, shown(said.body.get("type")), row.inspection), (seen.position, said.position), row.inspection
            )


def _alike(q: Reader, part_no: str) -> frozenset[str]:
    try:
        return frozenset({part_no, *q.work.master(q.session, part_no).similar_parts})
    except NotFound:
        return frozenset({part_no})


@question(
    "F5",
    "How often is a part number cracked, by engine time?",
    "Pieces with a relevant crack-type indication of pieces inspected (each piece once per work order, earlier visits "
    "too), by hours since overhaul; Wilson 95 percent interval. Shares of parts, not hours to a crack.",
    ("Part number", "Hours since overhaul", "Inspected", "Cracked", "Share %", "Low %", "High %"),
    Parameter("part_no", "part number, empty for all", ""),
)
def f5(q: Reader) -> Iterator[AskedRow]:
    bands = {
        line.body["work_order"]: _band(line.body.get("time_since_overhaul")) for line in q.lines(f.WorkOrderOpened)
    }
    pieces: dict[tuple[str, str], dict[str, int]] = defaultdict(dict)
    cracked: dict[tuple[str, str], dict[tuple[str, str], tuple[int, ...]]] = defaultdict(dict)
    for row in q.records.values():
        of = pieces[row.part_no, bands.get(row.work_order, NOT_RECORDED)]
        of[row.part] = max(of.get(row.part, 0), row.quantity)
    for seen, said in _relevant(q):
        found = q.record(seen.body["inspection"])
        if found is not None and is_crack_type(said.body.get("type")):
            key = found.part_no, bands.get(found.work_order, NOT_RECORDED)
            cracked[key][found.part, seen.body.get("piece") or ""] = (seen.position, said.position)
    for line in q.lines(f.PastInspection):
        key, name = (line.body["part_no"], NOT_RECORDED), f"{line.body['work_order']}/{line.body['serial']}"
        pieces[key][name] = 1
        if is_crack_type(line.body.get("type")):
            cracked[key][name, ""] = (line.position,)
    wanted = q.text("part_no")
    for key in sorted(pieces):
        if wanted in ("", key[0]):
            of_all, bad = sum(pieces[key].values()), len(cracked[key])
            rate = wilson(min(bad, of_all), of_all)
            shares = tuple(f"{100 * value:.1f}" for value in (rate.estimate, rate.low, rate.high))
            evidence = tuple(position for positions in cracked[key].values() for position in positions)
            yield AskedRow((*key, str(of_all), str(bad), *shares), evidence, key[0])


def _band(typed: str | None) -> str:
    hours = (typed or "").replace(",", "").removesuffix("h").strip()
    if not (hours.isascii() and hours.replace(".", "", 1).isdigit()):
        return NOT_RECORDED
    low = max(each for each in _BANDS if each <= Fraction(hours))
    following = [each for each in _BANDS if each > low]
    return f"{low}-{following[0]}" if following else f"{low}+"


@question(
    "F19",
    "How many rework loops, how long, and what came of them?",
    "Each rework ordered in the period: when it was ordered and done, the record that closes it and where that stands; "
    "the loop is counted along the chain of records.",
    ("Record", "Part", "Zone", "Loop", "Ordered", "Done", "Hours", "Closed by", "Stands"),
    *YEARS,
)
def f19(q: Reader) -> Iterator[AskedRow]:
    closing = {line.body["previous"]: line for line in q.lines(f.InspectionOpened) if line.body.get("previous")}
    for ordered in q.lines_in(f.ReworkOrdered):
        body = ordered.body
        done = [r for r in about(q.session, f.ReworkDone, body["inspection"]) if r.fact.zone == body["zone"]]
        last = done[-1] if done else None
        spent = (last.at - utc_from_text(ordered.at)) if last else None
        closed = closing.get(body["inspection"])
        name = closed.body["inspection"] if closed else ""
        cells = (
            body["inspection"],
            q.item(body["part"]),
            body["zone"],
            str(_loop(q, body["inspection"])),
            when(ordered),
            str(last.when) if last else "not done",
            f"{spent / timedelta(hours=1):.1f}" if spent is not None else "",
            name or "none yet",
            state_of(q.record(name)) if name else "open",
        )
        evidence = (ordered.position, *([last.position] if last else []), *([closed.position] if closed else []))
        yield AskedRow(cells, evidence, body["inspection"])


def _loop(q: Reader, inspection: str) -> int:
    loop, row, seen = 1, q.record(inspection), {inspection}
    while row is not None and row.previous and row.previous not in seen:
        seen.add(row.previous)
        row, loop = q.record(row.previous), loop + 1
    return loop


@question(
    "F22",
    "Which parts were viewed unusually fast?",
    "First views shorter for each piece than the share of the median over all first views of the same technique in the "
    "period (at least three), with relevant indications seen on the part after the view. About views, never a ranking.",
    ("Record", "Part", "Technique", "Minutes a piece", "Median", "Share %", "Later findings"),
    Parameter("share", "percent of the median", "50"),
    *PERIOD,
)
def f22(q: Reader) -> Iterator[AskedRow]:
    ends = {line.body["view"]: line for line in q.lines_in(f.ViewEnded)}
    by_technique: dict[str, list[tuple[Line, Line, timedelta]]] = defaultdict(list)
    for start in q.lines_in(f.ViewStarted):
        end, row = ends.get(start.body["view"]), q.record(start.body["inspection"])
        if end is not None and row is not None and start.body["kind"] == "first":
            took = (utc_from_text(end.at) - utc_from_text(start.at)) / max(row.quantity, 1)
            by_technique[row.technique].append((start, end, took))
    later: dict[str, list[Line]] = defaultdict(list)
    for seen, _ in _relevant(q):
        row = q.record(seen.body["inspection"])
        if row is not None:
            later[row.part].append(seen)
    for technique, views in sorted(by_technique.items()):
        middle = _middle([took for _, _, took in views])
        for start, end, took in views:
            if len(views) < 3 or took * 100 >= middle * q.whole("share"):
                continue
            row = q.record(start.body["inspection"])
            assert row is not None
            found = [seen for seen in later[row.part] if seen.at > end.at]
            minutes = (f"{each / timedelta(minutes=1):.1f}" for each in (took, middle))
            cells = (row.inspection, f"{row.part_no} {q.item(row.part)}", technique, *minutes)
            share = f"{100 * took / middle:.0f}"
            finds = ", ".join(seen.body["indication"] for seen in found) or "none"
            yield AskedRow(
                (*cells, share, finds),
                (start.position, end.position, *(seen.position for seen in found)),
                row.inspection,
            )


@question(
    "F23",
    "Which shot, or which developer minute, showed the indications?",
    "Magnetic particle: for each technique and shot the parts it was fired on and the indications first seen after it "
    "as the last shot. Penetrant: for each technique the indications by minutes since developing ended, in tens.",
    ("Method", "Technique", "Shot or minutes", "Fired on records", "Indications", "Of them relevant"),
    *YEARS,
)
def f23(q: Reader) -> Iterator[AskedRow]:
    shots: dict[str, list[Line]] = defaultdict(list)
    for line in q.lines_in(f.ShotFired):
        shots[line.body["inspection"]].append(line)
    said = _interpreted(q)
    found: dict[tuple[str, str, str], list[Line]] = defaultdict(list)
    for seen in q.lines_in(f.IndicationSeen):
        row = q.record(seen.body["inspection"])
        if row is not None:
            where = _last_shot(shots[row.inspection], seen) if row.method == "MT" else _developed(q, seen)
            found[row.method, row.technique, where].append(seen)
    fired: Counter[tuple[str, str, str]] = Counter()
    for inspection, lines in shots.items():
        row = q.record(inspection)
        if row is not None:
            fired.update(("MT", row.technique, f"shot {n}") for n in {line.body["shot"] for line in lines})
    for key in sorted({*found, *fired}):
        seen_here = found.get(key, [])
        relevant = [
            s
            for s in seen_here
            if (r := said.get(s.body["indication"])) and r.body["interpretation"] == Interpretation.RELEVANT
        ]
        count = str(fired[key]) if key in fired else ""
        yield AskedRow(
            (*key, count, str(len(seen_here)), str(len(relevant))), tuple(s.position for s in seen_here), key[1]
        )


def _middle(several: list[timedelta]) -> timedelta:
    """The median."""
    ordered, half = sorted(several), len(several) // 2
    return ordered[half] if len(ordered) % 2 else (ordered[half - 1] + ordered[half]) / 2


def _last_shot(shots: list[Line], seen: Line) -> str:
    before = [line for line in shots if line.at <= seen.at]
    return f"shot {before[-1].body['shot']}" if before else "before any shot"


def _developed(q: Reader, seen: Line) -> str:
    """Tens of minutes since the last developing of the record's basket ended."""
    at_: datetime = utc_from_text(seen.at)
    ends: list[datetime] = []
    for load in about(q.session, f.BasketLoaded, seen.body["inspection"], until=at_):
        steps = about(q.session, f.StepEnded, load.fact.basket, since=load.at, until=at_)
        ends += [step.at for step in steps if step.fact.step == Step.DEVELOP]
    if not ends:
        return "development not recorded"
    tens = int((at_ - max(ends)) / timedelta(minutes=10)) * 10
    return f"{tens:03d}-{tens + 10:03d} min"


@question(
    "F35",
    "How does this engine compare with others of its model?",
    "Relevant indications for each 100 pieces inspected: of the work order, and of all other work orders of the same "
    "engine model together.",
    ("Engines", "Work orders", "Pieces inspected", "Relevant indications", "For each 100 pieces"),
    Parameter("work_order", "work order of the engine"),
)
def f35(q: Reader) -> Iterator[AskedRow]:
    orders = {line.body["work_order"]: line for line in q.lines(f.WorkOrderOpened)}
    wanted = q.text("work_order")
    if wanted not in orders:
        raise NotFound(f"work order {wanted} is not in this book")
    model = orders[wanted].body["engine_model"]
    pieces: dict[str, dict[str, int]] = defaultdict(dict)
    for row in q.records.values():
        of = pieces[row.work_order]
        of[row.part] = max(of.get(row.part, 0), row.quantity)
    marks: dict[str, list[int]] = defaultdict(list)
    for seen, _ in _relevant(q):
        found = q.record(seen.body["inspection"])
        if found is not None:
            marks[found.work_order].append(seen.position)
    others = [name for name, line in orders.items() if line.body["engine_model"] == model and name != wanted]
    for label, names in ((f"{model}, this one", [wanted]), (f"{model}, the others", others)):
        count = sum(sum(pieces[name].values()) for name in names)
        evidence = tuple(position for name in names for position in marks[name])
        rate = f"{100 * len(evidence) / count:.1f}" if count else "no pieces"
        yield AskedRow((label, ", ".join(names), str(count), str(len(evidence)), rate), evidence, wanted)


@question(
    "F39",
    "Which discontinuities come again in the same lot?",
    "Relevant indications of the same type on pieces of the same part number and lot (the only mark of a heat in this "
    "book); single pieces carry no lot and are left out.",
    ("Part number", "Lot", "Type", "Indications", "Pieces", "Zones"),
)
def f39(q: Reader) -> Iterator[AskedRow]:
    found: dict[tuple[str, str, str], list[Line]] = defaultdict(list)
    for seen, said in _relevant(q):
        row = q.record(seen.body["inspection"])
        part = q.part(row.part) if row else None
        if part is not None and part.lot:
            found[part.part_no, part.lot, shown(said.body.get("type"))].append(seen)
    for key, marks in sorted(found.items()):
        pieces = {mark.body.get("piece") or mark.body["inspection"] for mark in marks}
        zones = ", ".join(sorted({shown(mark.body.get("zone")) for mark in marks}))
        yield AskedRow((*key, str(len(marks)), str(len(pieces)), zones), tuple(m.position for m in marks), key[1])
