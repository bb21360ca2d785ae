"""What relied on something: a lamp, a bath, a batch, a meter, a revision (F1, F2, F4, F13, F26, F33, F36)."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from fractions import Fraction

from ndi.calc.meter_correction import worst_case
from ndi.domain import facts as f
from ndi.domain.errors import NotFound
from ndi.domain.outcome import Missing
from ndi.domain.quantity import Number
from ndi.domain.quantity import shown as shown_number
from ndi.domain.vocabulary import Disposition, Quantity
from ndi.rules import light
from ndi.services.asked.question import PERIOD, AskedRow, Parameter, Reader, at, question, state_of, when
from ndi.services.containment import latest_actions
from ndi.services.lookup import about, every
from ndi.services.ports import UseRow
from ndi.services.shop_inquiry import any_procedure, shop_inquiry

_RELIED = ("Record", "What", "Part", "Pieces", "State", "Used from", "Used to", "Place now", "To do")


def _doubt(q: Reader, thing: str) -> tuple[datetime | None, datetime, int | None, str]:
    """The interval in doubt: that of the last recall set of the object, else from its last good reading to now."""
    opened = [r for r in every(q.session, f.ContainmentOpened) if r.fact.object == thing]
    if opened:
        fact = max(opened, key=lambda r: r.position).fact
        return fact.last_good.at if fact.last_good else None, fact.first_bad.at, fact.trigger, fact.containment
    good = _last_good(q, thing)
    return (None if good is None else good[0]), q.now.at, (None if good is None else good[1]), ""


def _last_good(q: Reader, thing: str) -> tuple[datetime, int] | None:
    """The last reading of a lamp in limits; of anything else its last reading or its last passed check."""
    inquiry = shop_inquiry(q.work, q.session, [thing])
    found = [
        (r.at, r.position)
        for r in inquiry.readings(thing, Quantity.UV_A)
        if light.is_comparable(inquiry, r) and light.is_in_limits(inquiry, r)
    ]
    if not found:
        found = [(r.at, r.position) for r in about(q.session, f.ReadingRecorded, thing) if r.fact.object == thing]
        checks = about(q.session, f.ProcessCheckRecorded, thing)
        found += [(r.at, r.position) for r in checks if r.fact.passed]
    return max(found, default=None)


@question(
    "F1",
    "Which parts were accepted under a lamp since its last good reading?",
    "Looks (first views, re-views, second looks) under the lamp that overlap the time from its last reading in limits "
    "to the bad one, or to now; voided attempts left out. What is to be done stands with the recall set.",
    _RELIED,
    Parameter("lamp", "which lamp"),
)
def f1(q: Reader) -> Iterator[AskedRow]:
    yield from _relied(q, q.text("lamp"))


@question(
    "F2",
    "Which parts rest on a bath, panel, developer, meter, bench, batch or dryer since it was last good?",
    "Uses of the object that overlap the time from its last good reading or passed check to the bad one, or to now; "
    "voided attempts left out. What is to be done stands with the recall set.",
    _RELIED,
    Parameter("object", "bath, batch, bench, line, meter, person, place"),
)
def f2(q: Reader) -> Iterator[AskedRow]:
    yield from _relied(q, q.text("object"))


def _relied(q: Reader, thing: str) -> Iterator[AskedRow]:
    after, until, trigger, recall = _doubt(q, thing)
    actions = latest_actions(q.session, recall) if recall else {}
    done = {r.fact.inspection for r in about(q.session, f.ContainmentItemDone, recall)} if recall else set()
    seen: set[tuple[str, str]] = set()
    for use in q.session.uses(thing, after, until):
        what = use.what if use.kind in ("first", "re-view", "second look") else use.kind
        if (use.inspection, what) in seen or _voided(q, use):
            continue
        seen.add((use.inspection, what))
        row = q.record(use.inspection)
        part = row.part if row else ""
        action = actions.get(use.inspection)
        todo = "done" if use.inspection in done else f"{action.action}: {action.because}" if action else "nothing open"
        cells = (
            use.inspection,
            f"{use.kind} {use.what}" if what == use.what else what,
            f"{row.part_no} {q.item(part)}" if row else "",
            str(row.quantity) if row else "",
            state_of(row),
            at(use.started, q.now.offset_min),
            at(use.ended, q.now.offset_min) or "not ended",
            q.place(part),
            todo,
        )
        evidence = tuple(p for p in (row.decision if row else None, trigger) if p is not None)
        yield AskedRow(cells, evidence, use.inspection)


def _voided(q: Reader, use: UseRow) -> bool:
    return any(r.fact.attempt == use.attempt for r in about(q.session, f.AttemptVoided, use.inspection))


@question(
    "F4",
    "Who signed what under an expired or quarantined batch?",
    "Records whose shots or basket drew on a batch after its last valid day, or while it was out of service, with "
    "who decided them.",
    ("Batch", "Expired or out of service", "Record", "Used at", "Signed by", "Part", "State", "Place now"),
)
def f4(q: Reader) -> Iterator[AskedRow]:
    for entered in q.lines(f.BatchEntered):
        batch, ends = entered.body["batch"], date.fromisoformat(entered.body["expires"])
        bad: list[tuple[datetime, datetime | None, str, int]] = [
            (q.start_of(ends + timedelta(days=1)), None, f"expired {ends}", entered.position)
        ]
        bad += _out_of_service(q, batch)
        for since, until, why, position in bad:
            for use in q.session.uses(batch, since, until):
                if until is not None and use.started >= until:
                    continue
                row = q.record(use.inspection)
                signed = q.session.entry(row.decision) if row and row.decision else None
                cells = (
                    batch,
                    why,
                    use.inspection,
                    at(use.started, q.now.offset_min),
                    signed.by if signed else "not signed",
                    f"{row.part_no} {q.item(row.part)}" if row else "",
                    state_of(row),
                    q.place(row.part) if row else "",
                )
                evidence = (position,) if signed is None else (position, signed.position)
                yield AskedRow(cells, evidence, use.inspection)


def _out_of_service(q: Reader, batch: str) -> list[tuple[datetime, datetime | None, str, int]]:
    status = about(q.session, f.EquipmentStatusSet, batch)
    found = []
    for nth, recorded in enumerate(status):
        if recorded.fact.state != "in service":
            until = status[nth + 1].at if nth + 1 < len(status) else None
            found.append((recorded.at, until, f"{recorded.fact.state}: {recorded.fact.reason}", recorded.position))
    return found


# quantity of a reading -> parameter that limits it, and whether it is the least allowed
_LIMITS = {
    Quantity.UV_A: ("uv_min", True),
    Quantity.AMBIENT: ("ambient_max", False),
    "residual": ("residual_max", False),
}


@question(
    "F13",
    "Which readings would have failed if a meter read wrong by so many percent?",
    "Readings of UV-A, ambient light and residual field taken with the meter in the period that are within the limit "
    "of the procedure in force now as read, and beyond it once divided by 1 + percent/100 (the whole error all along).",
    ("Time", "Object", "What", "As read", "Would be", "Limit", "Taken by"),
    Parameter("meter", "which meter"),
    Parameter("percent", "how much it read high; negative: low", "10"),
    *PERIOD,
)
def f13(q: Reader) -> Iterator[AskedRow]:
    meter, percent = q.text("meter"), q.number("percent", 99)
    since, until = q.period()
    for recorded in q.session.facts(meter, [f.ReadingRecorded, f.ResidualRead], since=since, until=until):
        fact = recorded.fact
        assert isinstance(fact, (f.ReadingRecorded, f.ResidualRead))
        if fact.meter != meter:
            continue
        what = fact.quantity if isinstance(fact, f.ReadingRecorded) else "residual"
        about_ = fact.object if isinstance(fact, f.ReadingRecorded) else f"{fact.inspection} {fact.point}"
        limit = _limit(q, what)
        if limit is None:
            continue
        number, least = limit
        read = fact.value.in_unit(number.unit)
        true = worst_case(read, percent)
        if _holds(read, number, least) and not _holds(true, number, least):
            cells = (
                str(recorded.when),
                about_,
                what,
                str(fact.value),
                shown_number(true, number.unit),
                f"{'at least' if least else 'at most'} {number}",
                recorded.by,
            )
            yield AskedRow(cells, (recorded.position,), about_)


def _limit(q: Reader, what: str) -> tuple[Number, bool] | None:
    if what not in _LIMITS:
        return None
    key, least = _LIMITS[what]
    method = "MT" if what == "residual" else None
    try:
        found = any_procedure(q.work, q.session, method).parameters.get(key)
    except (NotFound, Missing):
        return None
    return (found.value, least) if found is not None and isinstance(found.value, Number) else None


def _holds(value: Fraction, limit: Number, least: bool) -> bool:
    return value >= limit.value if least else value <= limit.value


@question(
    "F26",
    "What was done to a revision of a procedure?",
    "Records that pinned the revision at their first step, whatever is in force now.",
    ("Record", "Part", "Method", "Technique", "Opened", "State", "Inspector"),
    Parameter("procedure", "its number"),
    Parameter("revision", "its revision"),
)
def f26(q: Reader) -> Iterator[AskedRow]:
    for row in q.session.inspections(procedure=q.text("procedure"), procedure_revision=q.text("revision")):
        cells = (
            row.inspection,
            f"{row.part_no} {row.part.split('/')[-1]}",
            row.method,
            row.technique,
            at(row.opened_at, q.now.offset_min),
            state_of(row),
            row.inspector,
        )
        yield AskedRow(cells, () if row.decision is None else (row.decision,), row.inspection)


@question(
    "F33",
    "What was used up: batches and baths, lamp hours, shots, against parts?",
    "For each batch, bath, lamp and bench in the period: records and pieces that used it, minutes of view under a lamp, "
    "shots on a bench. Amounts filled in are not recorded in this book.",
    ("Object", "Kind", "Records", "Pieces", "Minutes of view", "Shots"),
    *PERIOD,
)
def f33(q: Reader) -> Iterator[AskedRow]:
    since, until = q.period()
    things = [(line.body["batch"], line.body["material"]) for line in q.lines(f.BatchEntered)]
    things += [
        (line.body["equipment"], line.body["kind"])
        for line in q.lines(f.EquipmentEntered)
        if line.body["kind"] in ("lamp", "bath", "bench")
    ]
    for name, kind in dict.fromkeys(things):
        uses = [use for use in q.session.uses(name, since, until) if use.started < until]
        if not uses:
            continue
        records = {use.inspection for use in uses}
        pieces = sum(row.quantity for row in map(q.record, records) if row is not None)
        minutes = sum(((use.ended or until) - use.started for use in uses), timedelta()) // timedelta(minutes=1)
        shots = sum(1 for use in uses if use.kind == "shots")
        cells = (
            name,
            kind,
            str(len(records)),
            str(pieces),
            str(minutes) if kind == "lamp" else "",
            str(shots) if kind == "bench" else "",
        )
        yield AskedRow(cells, (), name)


@question(
    "F36",
    "Which accepted parts rest on a technique that was replaced later?",
    "Records that stand as ACCEPT and were opened to a technique revision after which another revision of the same "
    "technique was adopted.",
    ("Record", "Part", "Technique", "Revision used", "Latest revision", "Adopted", "Place now"),
)
def f36(q: Reader) -> Iterator[AskedRow]:
    latest = {line.body["number"]: line for line in q.lines(f.DocumentAdopted) if line.body["document"] == "technique"}
    for opened in q.lines(f.InspectionOpened):
        adopted = latest.get(opened.body["technique"])
        if adopted is None or adopted.body["revision"] == opened.body["technique_revision"]:
            continue
        row = q.record(opened.body["inspection"])
        if row is None or row.disposition != Disposition.ACCEPT or row.suspended:
            continue
        cells = (
            row.inspection,
            f"{row.part_no} {q.item(row.part)}",
            row.technique,
            opened.body["technique_revision"],
            adopted.body["revision"],
            when(adopted),
            q.place(row.part),
        )
        yield AskedRow(cells, (opened.position, adopted.position), row.inspection)
