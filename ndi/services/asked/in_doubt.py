"""What is in doubt with a lamp, bath, panel, meter, bench, batch or dryer since it was last good (F1, F2)."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from ndi.domain import facts as f
from ndi.domain.errors import NotFound
from ndi.domain.outcome import Missing
from ndi.domain.vocabulary import Method, Quantity, ViewKind
from ndi.rules import light
from ndi.services.asked.question import AskedRow, Parameter, Reader, question
from ndi.services.asked.words import state_of
from ndi.services.bearing import lines_with
from ndi.services.containment import GONE, NOTIFY, RETRIEVE, SHIPPED, cheapest_action, latest_actions
from ndi.services.leaving import leaves_for
from ndi.services.lookup import about, every
from ndi.services.ports import InspectionRow, UseRow
from ndi.services.shop_inquiry import shop_inquiry

_RELIED = ("Record", "What", "Part", "Pieces", "State", "Used from", "Used to", "Place now", "To do")
_METER = "meter"
_LOOKS = (ViewKind.FIRST, ViewKind.RE_VIEW, ViewKind.SECOND_LOOK)
_LATE = timedelta(days=32)  # a good reading is looked for within it first


def _doubt(q: Reader, thing: str) -> tuple[datetime | None, datetime, int | None, str]:
    """The interval in doubt: that of the last recall set of the object, else from its last good reading to now."""
    opened = [r for r in every(q.session, f.ContainmentOpened) if r.fact.object == thing]
    if opened:
        fact = max(opened, key=lambda r: r.position).fact
        return fact.last_good.at if fact.last_good else None, fact.first_bad.at, fact.trigger, fact.containment
    good = _last_calibration(q, thing) if _is_meter(q, thing) else None
    good = good or _last_good(q, thing, q.now.at - _LATE) or _last_good(q, thing, None)
    return (None if good is None else good[0]), q.now.at, (None if good is None else good[1]), ""


def _is_meter(q: Reader, thing: str) -> bool:
    return any(r.fact.kind == _METER for r in about(q.session, f.EquipmentEntered, thing) if r.fact.equipment == thing)


def _last_calibration(q: Reader, meter: str) -> tuple[datetime, int] | None:
    """A meter was last known to read right on the day of its calibration."""
    done = [r for r in about(q.session, f.CalibrationRecorded, meter) if r.fact.equipment == meter]
    return max(((q.start_of(r.fact.done), r.position) for r in done), default=None)


def _through_readings(q: Reader, meter: str, after: datetime | None) -> list[UseRow]:
    """Uses of what was read with a meter: from the reading before those taken with it to the one after them."""
    mine = [r for r in about(q.session, f.ReadingRecorded, meter, since=after) if r.fact.meter == meter]
    found: list[UseRow] = []
    for thing, quantity in dict.fromkeys((r.fact.object, r.fact.quantity) for r in mine):
        since = None if after is None else after - _LATE
        every_ = [r for r in about(q.session, f.ReadingRecorded, thing, since=since) if r.fact.object == thing]
        names = (thing, *lines_with(q.session, thing))
        is_run, begun = False, after
        before: datetime | None = None
        for reading in [*(r for r in every_ if r.fact.quantity == quantity), None]:
            is_mine = reading is not None and reading.fact.meter == meter and (after is None or reading.at >= after)
            if is_mine and not is_run:
                is_run, begun = True, before or after
            elif not is_mine and is_run:
                until = reading.at if reading else q.now.at
                found += [use for name in names for use in q.session.uses(name, begun, until)]
                is_run = False
            before = reading.at if reading else before
    return found


def _last_good(q: Reader, thing: str, since: datetime | None) -> tuple[datetime, int] | None:
    """The last reading of a lamp in limits; of anything else its last reading or its last passed check."""
    inquiry = shop_inquiry(q.work, q.session, [thing], kinds=(f.ReadingRecorded, f.ProcessCheckRecorded), since=since)
    for reading in reversed(inquiry.as_found(thing, Quantity.UV_A)):
        if light.is_comparable(inquiry, reading) and light.is_in_limits(inquiry, reading):
            return reading.at, reading.position
    found = [(r.at, r.position) for r in inquiry.facts.of(f.ReadingRecorded, thing) if r.fact.object == thing]
    checks = inquiry.facts.of(f.ProcessCheckRecorded, thing)
    return max([*found, *((r.at, r.position) for r in checks if r.fact.passed)], default=None)


@question(
    "F1",
    "Which parts were accepted under a lamp since its last good reading?",
    "Looks (first views, re-views, second looks) under the lamp that overlap the time from its last reading in limits "
    "to the bad one, or to now; voided attempts left out. To do: what the recall set says; where none is open, what "
    "one opened now would say.",
    _RELIED,
    Parameter("lamp", "which lamp"),
)
def f1(q: Reader) -> Iterator[AskedRow]:
    yield from _relied(q, q.text("lamp"))


@question(
    "F2",
    "Which parts rest on a bath, panel, developer, meter, bench, batch or dryer since it was last good?",
    "Uses of the object, of the line that it is a part of, or of what was read with it, that overlap the time from its "
    "last good reading, passed check or calibration to the bad one, or to now; voided attempts left out. To do: what the recall set says; where none is "
    "open, what one opened now would say.",
    _RELIED,
    Parameter("object", "bath, batch, bench, line, dryer, meter, person, place"),
)
def f2(q: Reader) -> Iterator[AskedRow]:
    yield from _relied(q, q.text("object"))


def _relied(q: Reader, thing: str) -> Iterator[AskedRow]:
    after, until, trigger, recall = _doubt(q, thing)
    actions = latest_actions(q.session, recall) if recall else {}
    done = {r.fact.inspection for r in about(q.session, f.ContainmentItemDone, recall)} if recall else set()
    entered = [r.fact for r in about(q.session, f.EquipmentEntered, thing) if r.fact.equipment == thing]
    names = dict.fromkeys((thing, *lines_with(q.session, thing), *(each.line for each in entered if each.line)))
    uses = [use for name in names for use in q.session.uses(name, after, until)]
    if _is_meter(q, thing):
        uses += _through_readings(q, thing, after)
    voided = _voided(q, uses)
    q.gather(use.inspection for use in uses)
    q.gather_offsets(use.source for use in uses)
    seen: set[tuple[str, str]] = set()
    for use in uses:
        what = use.what if use.kind in _LOOKS else use.kind
        if (use.inspection, what) in seen or (use.inspection, use.attempt) in voided:
            continue
        seen.add((use.inspection, what))
        row = q.record(use.inspection)
        part = row.part if row else ""
        action = actions.get(use.inspection)
        todo = "done" if use.inspection in done else f"{action.action}: {action.because}" if action else ""
        cells = (
            use.inspection,
            f"{use.kind} {use.what}" if what == use.what else what,
            f"{row.part_no} {q.item(part)}" if row else "",
            str(row.quantity) if row else "",
            state_of(row),
            q.at(use.started, use.source),
            q.at(use.ended, use.source) or "not ended",
            q.place(part),
            todo or (_would_say(q, use, row) if row else "not in this book"),
        )
        evidence = tuple(p for p in (row.decision if row else None, trigger) if p is not None)
        yield AskedRow(cells, evidence, use.inspection)


def _voided(q: Reader, uses: list[UseRow]) -> set[tuple[str, int]]:
    """Record and attempt of what was voided; an attempt is voided after it was begun."""
    since = min((use.started for use in uses), default=q.now.at)
    return {(line.body["inspection"], line.body["attempt"]) for line in q.session.lines(f.AttemptVoided, since)}


def _would_say(q: Reader, use: UseRow, row: InspectionRow) -> str:
    """What a recall opened now would have done with a record; only where the developer may still run is all of P41 asked."""
    place = q.place(row.part)
    out = leaves_for(place)  # however the place is written
    if out in GONE or out == SHIPPED:
        return f"would be: {NOTIFY if out == SHIPPED else RETRIEVE}, at {place}"
    if row.method != Method.PT:
        return "would be: reprocess"
    # the developer was on before a view began, and before the steps of a basket ended
    on_before = use.started if use.kind in _LOOKS else use.ended
    try:
        longest = q.longest(row, "develop_max")
    except (Missing, NotFound):
        longest = None
    if longest is not None and on_before is not None and q.now.at - on_before > longest:
        return f"would be: reprocess, developed before {q.at(on_before, use.source)}"
    action = cheapest_action(q.work, q.session, row.inspection)
    return f"would be: {action.action}, {action.because}"
