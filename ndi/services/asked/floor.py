"""The floor: what waits, lamps, where things are, what stops an engine (F6, F8 to F12, F34, F37, F38)."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from typing import cast

from ndi.domain import facts as f
from ndi.domain.codec import utc_from_text, utc_text
from ndi.domain.entry import Obtained, Recorded
from ndi.domain.errors import InputError, NotFound
from ndi.domain.quantity import shown as shown_number
from ndi.domain.vocabulary import Disposition
from ndi.services import lamps
from ndi.services.asked.question import PERIOD, AskedRow, Parameter, Reader, question
from ndi.services.asked.words import kind_text, local, shown, state_of, when
from ndi.services.containment import all_containments
from ndi.services.ledger import ledger
from ndi.services.lookup import about, every
from ndi.services.people import open_proposals
from ndi.services.ports import InspectionRow, PartRow

_DONE = (Disposition.ACCEPT, Disposition.REJECT, Disposition.SCRAP, Disposition.RETURN_UNSERVICEABLE, "SPLIT")


@question(
    "F6",
    "What is not verified yet, oldest first?",
    "Records with a decision in force that no supervisor has verified, by the time of the decision.",
    ("Record", "Part", "Decided", "State", "Inspector", "Procedure"),
)
def f6(q: Reader) -> Iterator[AskedRow]:
    rows = [row for row in q.session.inspections(verified=False) if row.decision is not None]
    q.gather_offsets(row.decision for row in rows)
    for row in sorted(rows, key=lambda row: (row.decided_at or row.opened_at, row.inspection)):
        assert row.decision is not None
        decided = q.at(row.decided_at, row.decision)
        cells = (row.inspection, f"{row.part_no} {_item(row)}", decided, state_of(row), row.inspector)
        yield AskedRow((*cells, f"{row.procedure} rev {row.procedure_revision}"), (row.decision,), row.inspection)


def _item(row: InspectionRow) -> str:
    return row.part.split("/")[-1]


@question(
    "F8",
    "Were the lamps read on every shop day of the month?",
    "Each lamp on each day: in limits, out of limits, used without a reading, not used (no view names it). Readings "
    "around a gap are offered as evidence, never as an answer.",
    ("Lamp", "Day", "Answer", "What the readings say", "Used for"),
    Parameter("month", "YYYY-MM, empty for this one", ""),
)
def f8(q: Reader) -> Iterator[AskedRow]:
    month = q.text("month") or f"{q.today:%Y-%m}"
    try:
        first = date.fromisoformat(f"{month}-01")
    except ValueError:
        raise InputError(f"month={month} is no month; type it like 2026-03") from None
    last = min((first + timedelta(days=31)).replace(day=1) - timedelta(days=1), q.today)
    for lamp in lamps.lamps(q.session):
        for found in lamps.lamp_days(q.work, q.session, lamp, first, last) if first <= last else ():
            cells = (lamp, str(found.day), str(found.verdict), found.says, str(len(found.used_for)))
            yield AskedRow(cells, found.facts, lamp)


@question(
    "F9",
    "What is known about this serial number?",
    "Everything over all work orders: receiving, records, indications, rework and dimensions, decisions, scrapping, "
    "and what earlier papers say, by time; with each rework the depth taken off the zone so far (at least, where one "
    "was not recorded).",
    ("Time", "Work order", "Record", "What", "Words", "Depth so far", "By"),
    Parameter("serial", "serial number"),
)
def f9(q: Reader) -> Iterator[AskedRow]:
    serial = q.text("serial")
    parts = [row for row in q.session.parts_by_serial(serial) if row.serial == serial]
    depths = _depths(q, serial)
    found: dict[int, tuple[str, AskedRow]] = {}
    for line in [*q.lines(f.PastInspection), *q.lines(f.PastRework)]:
        if line.body["serial"] == serial:
            words = shown({name: value for name, value in line.body.items() if name not in ("serial", "work_order")})
            depth = depths.get(line.position, "")
            cells = (when(line), shown(line.body.get("work_order")), "", kind_text(line.kind), words, depth, line.by)
            found[line.position] = line.at, AskedRow(cells, (line.position,), serial)
    for part in parts:
        for subject in [part.part, *(row.inspection for row in q.session.inspections(part=part.part))]:
            for r in q.session.facts(subject, _LIFE):
                words, depth = _words(r.fact), depths.get(r.position, "")
                name = getattr(r.fact, "inspection", "")
                cells = (str(r.when), part.work_order, name, kind_text(type(r.fact).__name__), words, depth, r.by)
                found.setdefault(r.position, (utc_text(r.at), AskedRow(cells, (r.position,), name or part.part)))
    yield from (row for _, (_, row) in sorted(found.items(), key=lambda item: (item[1][0], item[0])))


def _depths(q: Reader, serial: str) -> dict[int, str]:
    """By entry the depth taken off its zone with it and all before."""
    found: dict[int, str] = {}
    numbers = {row.part_no for row in q.session.parts_by_serial(serial) if row.serial == serial}
    numbers |= {r.fact.part_no for r in about(q.session, f.PastRework, serial) if r.fact.serial == serial}
    for number in numbers:
        for zone in ledger(q.session, serial, part_no=number):
            for nth, taken in enumerate(zone.lines, 1):
                so_far = replace(zone, lines=zone.lines[:nth])
                least = "at least " if so_far.without_depth else ""
                found[taken.position] = f"{zone.zone} {least}{shown_number(so_far.sum(), so_far.unit)}"
    return found


_LIFE = (
    f.PartListed,
    f.PartReceived,
    f.PartMoved,
    f.InspectionOpened,
    f.IndicationSeen,
    f.ReworkOrdered,
    f.ReworkDone,
    f.SecondLookSaved,
    f.DecisionSigned,
    f.AcceptanceSuspended,
    f.AcceptanceRestored,
    f.PartScrapped,
    f.CoatingMeasured,
)


def _words(fact: f.Fact) -> str:
    match fact:
        case f.PartMoved():
            return f"at {fact.place}"
        case f.InspectionOpened():
            return f"{fact.method}, {fact.technique}, {fact.reason}"
        case f.IndicationSeen():
            return (
                f"{fact.indication} in {fact.zone or 'no zone'}, {fact.form or 'no form'}, {fact.length or 'no length'}"
            )
        case f.ReworkDone():
            sizes = ", ".join(f"{d.name} {d.value}" for d in fact.dimensions)
            return f"{fact.zone}, depth {fact.depth or 'not recorded'}{'; ' + sizes if sizes else ''}"
        case f.SecondLookSaved():
            seen = "nothing seen" if fact.none_seen else f"{fact.interpretation or ''} {fact.length or ''}".strip()
            return f"{fact.second_look} by {fact.person}: {seen or 'not recorded'}"
        case f.ReworkOrdered():
            return f"{fact.zone}, {fact.operation}"
        case f.DecisionSigned():
            return fact.disposition
        case f.PartListed() | f.PartReceived():
            return f"{fact.quantity} pc"
        case f.CoatingMeasured():
            return f"{fact.coating} {fact.thickness or ''}".strip()
        case _:
            return ""


@question(
    "F10",
    "Where is this part now, and who touched it last?",
    "Every location scan of the part or lot, the latest first.",
    ("Time", "Place", "By", "Piece", "Work order"),
    Parameter("part", "its key, serial number or lot"),
)
def f10(q: Reader) -> Iterator[AskedRow]:
    part = q.part_named(q.text("part"))
    for r in reversed(about(q.session, f.PartMoved, part.part)):
        yield AskedRow((str(r.when), r.fact.place, r.by, r.fact.piece or "", part.work_order), (r.position,), part.part)


@question(
    "F11",
    "What would stop this engine from being released today?",
    "Of the work order: records without a decision that stands or with a decision other than ACCEPT, methods that the "
    "part master asks and nobody opened, directives without an answer, tags not scanned back.",
    ("What", "Part", "Record or tag", "Stands"),
    Parameter("work_order", "work order"),
)
def f11(q: Reader) -> Iterator[AskedRow]:
    order = q.text("work_order")
    if not about(q.session, f.WorkOrderOpened, order):
        raise NotFound(f"work order {order} is not in this book")
    rows: dict[str, list[InspectionRow]] = defaultdict(list)
    for row in q.session.inspections(work_order=order):
        rows[row.part].append(row)
    tags = _tags_out(q, order)
    for part in q.session.parts(order):
        yield from _stops(q, part, rows[part.part], tags)
    lists = about(q.session, f.DirectivesConfirmed, order)
    for line in lists[-1].fact.lines if lists else ():
        if line not in lists[-1].fact.answered:
            yield AskedRow(("directive", "", "", f"not answered: {line}"), (lists[-1].position,), order)
    if not lists:
        yield AskedRow(("directives", "", "", "the list was not drawn up"), (), order)


def _tags_out(q: Reader, order: str) -> dict[str, list[Recorded[f.TagPrinted]]]:
    """By record of a work order the tags that are printed, not void, and were not scanned back."""
    found: dict[str, list[Recorded[f.TagPrinted]]] = {}
    for row in q.session.inspections(work_order=order):
        facts = q.session.facts(row.inspection, _OF_TAGS)
        gone = {r.fact.tag for r in facts if isinstance(r.fact, (f.TagScannedBack, f.TagVoided))}
        printed = [cast("Recorded[f.TagPrinted]", r) for r in facts if isinstance(r.fact, f.TagPrinted)]
        found[row.inspection] = [tag for tag in printed if tag.fact.tag not in gone]
    return found


_OF_TAGS = (f.TagPrinted, f.TagScannedBack, f.TagVoided)


def _stops(
    q: Reader, part: PartRow, rows: list[InspectionRow], tags: dict[str, list[Recorded[f.TagPrinted]]]
) -> Iterator[AskedRow]:
    name = f"{part.part_no} {part.serial or part.lot or part.part}"
    closed = {row.previous for row in rows}
    for row in rows:
        evidence = () if row.decision is None else (row.decision,)
        stands = row.disposition == Disposition.ACCEPT and not row.suspended and not row.provisional
        if row.inspection not in closed and not stands:
            yield AskedRow(("record", name, row.inspection, state_of(row)), evidence, row.inspection)
        for tag in tags[row.inspection]:
            cells = ("tag", name, tag.fact.tag, "printed, not scanned back")
            yield AskedRow(cells, (tag.position,), row.inspection)
    if part.reason_code is None:
        try:
            wanted = {str(each.method) for each in q.work.master(q.session, part.part_no).required}
        except NotFound:
            yield AskedRow(("part", name, "", "no part master adopted"), (), part.part)
            return
        for method in sorted(wanted - {row.method for row in rows}):
            yield AskedRow(("method", name, "", f"{method} not recorded"), (), part.part)


@question(
    "F12",
    "Which acceptances are provisional?",
    "Records whose acceptance waits for the closing reading of a lamp, not suspended.",
    ("Record", "Part", "Decided", "State", "Waits for", "Place now"),
)
def f12(q: Reader) -> Iterator[AskedRow]:
    rows = q.session.inspections(provisional=True, suspended=False)
    signed = q.session.signed(row.inspection for row in rows)
    q.gather_parts(row.part for row in rows)
    q.gather_offsets(row.decision for row in rows)
    for row in rows:
        waits = signed[row.inspection].waits_for if row.inspection in signed else None
        decided = q.at(row.decided_at, row.decision)
        cells = (row.inspection, f"{row.part_no} {_item(row)}", decided, state_of(row), waits or "a lamp reading")
        evidence = () if row.decision is None else (row.decision,)
        yield AskedRow((*cells, q.place(row.part)), evidence, row.inspection)


@question(
    "F34",
    "At which hours of the day are times overrun, checks missed, facts entered late?",
    "In the period, by local hour: attempts voided, acts refused by the rules, entries typed late. No names.",
    ("Hour", "Attempts voided", "Acts refused", "Typed late"),
    *PERIOD,
)
def f34(q: Reader) -> Iterator[AskedRow]:
    since, until = q.period()
    late = [li for li in q.session.lines_obtained(Obtained.TYPED_LATE) if since <= utc_from_text(li.at) < until]
    columns: list[dict[int, list[int]]] = []
    for lines in (q.lines_in(f.AttemptVoided), q.lines_in(f.ActionRefused), late):
        hours: dict[int, list[int]] = defaultdict(list)
        for line in lines:
            hours[local(line).hour].append(line.position)
        columns.append(hours)
    for hour in sorted({hour for hours in columns for hour in hours}):
        counts = tuple(str(len(hours[hour])) for hours in columns)
        yield AskedRow((f"{hour:02d}", *counts), tuple(p for hours in columns for p in hours[hour]))


@question(
    "F37",
    "Which open things are older than a shift?",
    "Records without a decision, recall sets with something to do, equipment out of service, papers that wait for a "
    "second person, each older than the hours asked for.",
    ("What", "Name", "Open since", "Words"),
    Parameter("hours", "how old", "10"),
)
def f37(q: Reader) -> Iterator[AskedRow]:
    before = q.now.at - timedelta(hours=q.whole("hours"))
    for row in q.session.inspections(disposition=Disposition.NO_DECISION):
        if row.opened_at < before:
            opened = q.at(row.opened_at, row.opened)
            yield AskedRow(("record", row.inspection, opened, f"{row.part_no} {_item(row)}"), (), row.inspection)
    for recall in all_containments(q.session):
        done = {r.fact.inspection for r in about(q.session, f.ContainmentItemDone, recall.fact.containment)}
        left = [name for name in recall.fact.inspections if name not in done]
        if left and recall.at < before:
            words = f"{recall.fact.object}: {len(left)} of {len(recall.fact.inspections)} to do"
            cells = ("recall set", recall.fact.containment, str(recall.when), words)
            yield AskedRow(cells, (recall.position,), recall.fact.containment)
    latest = {r.fact.equipment: r for r in every(q.session, f.EquipmentStatusSet)}
    for name, status in latest.items():
        if status.fact.state != "in service" and status.at < before:
            cells = ("equipment", name, str(status.when), f"{status.fact.state}: {status.fact.reason}")
            yield AskedRow(cells, (status.position,), name)
    for proposal in open_proposals(q.session):
        entered = about(q.session, f.QualificationProposed, proposal.proposal)[-1]
        if entered.at < before:
            words = f"{proposal.kind} of {proposal.person}"
            cells = ("qualification", proposal.proposal, str(entered.when), words)
            yield AskedRow(cells, (entered.position,), proposal.person)


@question(
    "F38",
    "What did we promise to look at again?",
    "Lines of the directive lists of all work orders, conditions of concessions and deviations that end; when a "
    "repetitive check is due is not recorded in this book unless the line says so.",
    ("What", "About", "Promise", "Answered or until", "By"),
)
def f38(q: Reader) -> Iterator[AskedRow]:
    for line in q.lines(f.DirectivesConfirmed):
        for text in line.body.get("lines", []):
            answered = "answered" if text in line.body.get("answered", []) else "not answered"
            cells = ("directive", line.body["work_order"], text, answered, line.by)
            yield AskedRow(cells, (line.position,), line.body["work_order"])
    for line in q.lines(f.ConcessionGiven):
        body = line.body
        words = f"{body['reference']} rev {body['revision']}"
        cells = ("concession", body["inspection"], body["conditions"], words, body["person"])
        yield AskedRow(cells, (line.position,), body["inspection"])
    for line in q.lines(f.DeviationSigned):
        body = line.body
        words = f"{body['rule']}: {body['justification']}"
        cells = ("deviation", body["inspection"], words, body["expires"], body["person"])
        yield AskedRow(cells, (line.position,), body["inspection"])
