"""What was found: places, rates, engines, lots (F3, F5, F35, F39)."""

from __future__ import annotations

import json
from collections import Counter, defaultdict
from collections.abc import Iterator
from fractions import Fraction

from ndi.calc.crack_rate import wilson
from ndi.domain import facts as f
from ndi.domain.errors import NotFound
from ndi.domain.vocabulary import is_crack_type
from ndi.services.asked.marks import Mark, relevant
from ndi.services.asked.question import YEARS, AskedRow, Parameter, Reader, question
from ndi.services.asked.words import NOT_RECORDED, number_of, shown, when

_TURN = 360
_NAMED = 6  # work orders that are named one by one
_BANDS = (0, 500, 1000, 1500, 2000)  # hours since overhaul: how the rates are told apart, no limit


def _apart(one: Fraction, other: Fraction) -> Fraction:
    """The smaller angle between two clock angles, in degrees."""
    turned = abs(one - other) % _TURN
    return min(turned, _TURN - turned)


@question(
    "F3",
    "Which parts had a crack at this location in the last two years?",
    "Relevant indications of every type, and those that papers of earlier visits name, on the same part number (and "
    "those that its part master names as similar), in the zone, within the angle of the clock position where one is "
    "given; any serial number.",
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
        if body["part_no"] in numbers and body.get("type") and fits(body):
            cells = (when(line), body["part_no"], body["serial"], body["work_order"], zone, shown(body.get("clock")))
            yield AskedRow((*cells, shown(body.get("type")), "earlier visit"), (line.position,), body["serial"])
    here = []
    for mark in relevant(q, since, until):
        clock = json.loads(mark.clock) if mark.clock and mark.zone == zone else None
        if fits({"zone": mark.zone, "clock": clock}):
            here.append((mark, clock))
    q.gather(mark.inspection for mark, _ in here)
    for mark, clock in here:
        row = q.record(mark.inspection)
        if row and row.part_no in numbers:
            cells = (when(mark), row.part_no, q.item(row.part), row.work_order, zone, shown(clock))
            yield AskedRow((*cells, shown(mark.type), row.inspection), mark.evidence, row.inspection)


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
    pieces: Counter[tuple[str, str]] = Counter()
    cracked: dict[tuple[str, str], dict[tuple[str, str], tuple[int, ...]]] = defaultdict(dict)
    for part_no, order, count in q.session.pieces_inspected():
        pieces[part_no, bands.get(order, NOT_RECORDED)] += count
    cracks = [mark for mark in relevant(q) if is_crack_type(mark.type)]
    records = q.briefs_of(mark.inspection for mark in cracks)
    for mark in cracks:
        found = records.get(mark.inspection)
        if found is not None:
            key = found.part_no, bands.get(found.work_order, NOT_RECORDED)
            cracked[key][found.part, mark.piece] = mark.evidence
    past: set[tuple[str, str]] = set()
    for line in q.lines(f.PastInspection):
        key, name = (line.body["part_no"], NOT_RECORDED), f"{line.body['work_order']}/{line.body['serial']}"
        pieces[key] += (key[0], name) not in past
        past.add((key[0], name))
        if is_crack_type(line.body.get("type")):
            cracked[key][name, ""] = (line.position,)
    wanted = q.text("part_no")
    for key in sorted(pieces):
        if wanted in ("", key[0]):
            of_all, bad = pieces[key], len(cracked[key])
            rate = wilson(min(bad, of_all), of_all)
            shares = tuple(f"{100 * value:.1f}" for value in (rate.estimate, rate.low, rate.high))
            evidence = tuple(position for positions in cracked[key].values() for position in positions)
            yield AskedRow((*key, str(of_all), str(bad), *shares), evidence, key[0])


def _band(typed: str | None) -> str:
    if typed is not None and typed.startswith("not applicable"):
        return "not applicable"
    hours = (typed or "").replace(",", "").removesuffix("h").strip()
    if not (hours.isascii() and hours.replace(".", "", 1).isdigit()):
        return NOT_RECORDED
    low = max(each for each in _BANDS if each <= Fraction(hours))
    following = [each for each in _BANDS if each > low]
    return f"{low}-{following[0]}" if following else f"{low}+"


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
    pieces: Counter[str] = Counter()
    for _, order, number in q.session.pieces_inspected():
        pieces[order] += number
    stand = relevant(q)
    records = q.briefs_of(mark.inspection for mark in stand)
    seen: dict[str, list[int]] = defaultdict(list)
    for mark in stand:
        found = records.get(mark.inspection)
        if found is not None:
            seen[found.work_order].append(mark.position)
    others = [name for name, line in orders.items() if line.body["engine_model"] == model and name != wanted]
    for label, names in ((f"{model}, this one", [wanted]), (f"{model}, the others", others)):
        count = sum(pieces[name] for name in names)
        evidence = tuple(position for name in names for position in seen[name])
        rate = f"{100 * len(evidence) / count:.1f}" if count else "no pieces"
        listed = ", ".join(names) if len(names) <= _NAMED else f"{len(names)} work orders"
        yield AskedRow((label, listed, str(count), str(len(evidence)), rate), evidence, wanted)


@question(
    "F39",
    "Which discontinuities come again in the same lot?",
    "Two or more relevant indications of the same type on pieces of the same part number and lot (the only mark of a "
    "heat in this book); single pieces carry no lot and are left out.",
    ("Part number", "Lot", "Type", "Indications", "Pieces", "Zones"),
)
def f39(q: Reader) -> Iterator[AskedRow]:
    found: dict[tuple[str, str, str], list[Mark]] = defaultdict(list)
    stand = relevant(q)
    records = q.briefs_of(mark.inspection for mark in stand)
    for mark in stand:
        row = records.get(mark.inspection)
        if row is not None and row.lot:
            found[row.part_no, row.lot, shown(mark.type)].append(mark)
    for key, marks in sorted(found.items()):
        if len(marks) > 1:
            pieces = {mark.piece or mark.inspection for mark in marks}
            zones = ", ".join(sorted({shown(mark.zone) for mark in marks}))
            evidence = tuple(mark.position for mark in marks)
            yield AskedRow((*key, str(len(marks)), str(len(pieces)), zones), evidence, key[1])
