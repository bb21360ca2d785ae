"""What relied on something: a batch, a meter, a revision, a technique; what was used up (F4, F13, F26, F33, F36)."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from fractions import Fraction

from ndi.calc.meter_correction import worst_case
from ndi.domain import facts as f
from ndi.domain.codec import utc_from_text
from ndi.domain.quantity import Number
from ndi.domain.quantity import shown as shown_number
from ndi.domain.vocabulary import Disposition, Quantity
from ndi.services.asked.question import PERIOD, AskedRow, Parameter, Reader, question
from ndi.services.asked.words import NOT_RECORDED, state_of, when
from ndi.services.lookup import about
from ndi.services.ports import Line, UseRow, UseTime


@question(
    "F4",
    "Who signed what under an expired or quarantined batch?",
    "Records whose shots or basket drew on a batch after its last valid day as the label said then, or while it was "
    "out of service: who did the step, and who decided the record.",
    ("Batch", "Expired or out of service", "Record", "Used at", "Done by", "Signed by", "Part", "State", "Place now"),
)
def f4(q: Reader) -> Iterator[AskedRow]:
    entered: dict[str, list[Line]] = defaultdict(list)
    for line in q.lines(f.BatchEntered):
        entered[line.body["batch"]].append(line)
    for batch, labels in entered.items():
        for since, until, why, position in [*_expired(q, labels), *_out_of_service(q, batch)]:
            uses = q.session.uses(batch, since, until)
            q.gather(use.inspection for use in uses)
            q.gather_offsets(use.source for use in uses)
            signed = q.session.signed(use.inspection for use in uses)
            for use in uses:
                if until is not None and use.started >= until:
                    continue
                row = q.record(use.inspection)
                cells = (
                    batch,
                    why,
                    use.inspection,
                    q.at(use.started, use.source),
                    _done_by(q, use),
                    signed[use.inspection].by if use.inspection in signed else "not signed",
                    f"{row.part_no} {q.item(row.part)}" if row else "",
                    state_of(row),
                    q.place(row.part) if row else "",
                )
                evidence = (position,) if row is None or row.decision is None else (position, row.decision)
                yield AskedRow(cells, evidence, use.inspection)


Bad = tuple[datetime, datetime | None, str, int]


def _expired(q: Reader, labels: list[Line]) -> Iterator[Bad]:
    """From the day after the last valid one until the batch was entered with another date."""
    for nth, line in enumerate(labels):
        ends = date.fromisoformat(line.body["expires"])
        until = utc_from_text(labels[nth + 1].at) if nth + 1 < len(labels) else None
        since = q.start_of(ends + timedelta(days=1))
        if until is None or since < until:
            yield since, until, f"expired {ends}", line.position


def _out_of_service(q: Reader, batch: str) -> Iterator[Bad]:
    status = about(q.session, f.EquipmentStatusSet, batch)
    for nth, recorded in enumerate(status):
        if recorded.fact.state != "in service":
            until = status[nth + 1].at if nth + 1 < len(status) else None
            yield recorded.at, until, f"{recorded.fact.state}: {recorded.fact.reason}", recorded.position


def _done_by(q: Reader, use: UseRow) -> str:
    """Who wetted the basket, or fired the shots, in the time of the use."""
    kind, name = (f.StepStarted, use.what) if use.kind == "steps" else (f.ShotFired, use.inspection)
    done = q.session.facts(name, [kind], since=use.started, until=use.ended)
    return ", ".join(dict.fromkeys(str(getattr(r.fact, "by", None) or r.by) for r in done)) or NOT_RECORDED


# quantity of a reading -> parameter that limits it, and whether it is the least allowed
_LIMITS: dict[str, tuple[str, bool]] = {
    Quantity.UV_A: ("uv_min", True),
    Quantity.UV_A_AT_PART: ("uv_at_part_min", True),
    Quantity.AMBIENT: ("ambient_max", False),
    Quantity.WHITE_LIGHT: ("white_light_min", True),
    "residual": ("residual_max", False),
}
# at the station where penetrant is removed other limits hold
_AT_REMOVAL: dict[str, tuple[str, bool]] = {
    Quantity.UV_A_AT_PART: ("uv_removal_min", True),
    Quantity.AMBIENT: ("ambient_removal_max", False),
}


@question(
    "F13",
    "Which readings would have failed if a meter read wrong by so many percent?",
    "Readings of UV-A, visible light and residual field taken with the meter in the period that are within the limit "
    "of the procedure in force that day as read, and beyond it once divided by 1 + percent/100 (the whole error all "
    "along); the sign of a residual field is its direction.",
    ("Time", "Object", "What", "As read", "Would be", "Limit", "Taken by"),
    Parameter("meter", "which meter"),
    Parameter("percent", "how much it read high; negative: low", "10"),
    *PERIOD,
)
def f13(q: Reader) -> Iterator[AskedRow]:
    meter, percent = q.text("meter"), q.number("percent", 99)
    since, until = q.period()
    stations = {line.body.get("wash_station") for line in q.lines(f.EquipmentEntered)} - {None}
    for recorded in q.session.facts(meter, [f.ReadingRecorded, f.ResidualRead], since=since, until=until):
        fact = recorded.fact
        assert isinstance(fact, (f.ReadingRecorded, f.ResidualRead))
        if fact.meter != meter or recorded.at >= until:
            continue
        what = fact.quantity if isinstance(fact, f.ReadingRecorded) else "residual"
        about_ = fact.object if isinstance(fact, f.ReadingRecorded) else f"{fact.inspection} {fact.point}"
        limit = _limit(q, what, recorded.when.local.date(), removal=about_ in stations)
        if limit is None:
            continue
        number, least = limit
        read = fact.value.in_unit(number.unit)
        read = abs(read) if what == "residual" else read
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
            key = fact.object if isinstance(fact, f.ReadingRecorded) else fact.inspection
            yield AskedRow(cells, (recorded.position,), key)


def _limit(q: Reader, what: str, day: date, *, removal: bool) -> tuple[Number, bool] | None:
    """The limit of what was read, by a procedure in force on the day that states one."""
    found = (_AT_REMOVAL.get(what) if removal else None) or _LIMITS.get(what)
    if found is None:
        return None
    key, least = found
    for procedure in q.in_force(day):
        parameter = procedure.parameters.get(key)
        if parameter is not None and isinstance(parameter.value, Number):
            return parameter.value, least
    return None


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
    rows = q.session.inspections(procedure=q.text("procedure"), procedure_revision=q.text("revision"))
    q.gather_offsets(row.opened for row in rows)
    for row in rows:
        cells = (
            row.inspection,
            f"{row.part_no} {row.part.split('/')[-1]}",
            row.method,
            row.technique,
            q.at(row.opened_at, row.opened),
            state_of(row),
            row.inspector,
        )
        yield AskedRow(cells, () if row.decision is None else (row.decision,), row.inspection)


@question(
    "F33",
    "What was used up: batches and baths, lamp hours, shots, against parts?",
    "For each batch, bath, lamp and bench: records and pieces that began to use it in the period, minutes of view under a "
    "lamp, shots on a bench. Amounts filled in are not recorded in this book.",
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
        total = q.session.use_total(name, since, until)
        if not total.records:
            continue
        times = q.session.use_times(name, since, until) if kind == "lamp" else []
        minutes = sum(map(_lasted, times), timedelta()) // timedelta(minutes=1)
        cells = (
            name,
            kind,
            str(total.records),
            str(total.pieces),
            str(minutes) if kind == "lamp" else "",
            str(total.shots) if kind == "bench" else "",
        )
        yield AskedRow(cells, (), name)


def _lasted(use: UseTime) -> timedelta:
    """How long a use lasted; one that still goes on counts nothing."""
    if use.ended is None:
        return timedelta()
    return datetime.fromisoformat(use.ended) - datetime.fromisoformat(use.started)


@question(
    "F36",
    "Which accepted parts rest on a technique that was replaced later?",
    "Records that stand as ACCEPT and were opened to a technique revision after which another revision of the same "
    "technique was adopted.",
    ("Record", "Part", "Technique", "Revision used", "Latest revision", "Adopted", "Place now"),
)
def f36(q: Reader) -> Iterator[AskedRow]:
    latest = {line.body["number"]: line for line in q.lines(f.DocumentAdopted) if line.body["document"] == "technique"}
    for opened in q.session.fields(f.InspectionOpened, ("inspection", "technique", "technique_revision")):
        name, technique, revision = opened.values
        adopted = latest.get(technique or "")
        if adopted is None or adopted.body["revision"] == revision or adopted.at < opened.at:
            continue
        row = q.briefs.get(name or "")
        if row is None or row.disposition != Disposition.ACCEPT or row.suspended:
            continue
        cells = (
            row.inspection,
            f"{row.part_no} {row.item}",
            row.technique,
            revision or "",
            adopted.body["revision"],
            when(adopted),
            q.place(row.part),
        )
        yield AskedRow(cells, (opened.position, adopted.position), row.inspection)
