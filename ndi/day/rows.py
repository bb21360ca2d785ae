"""Every table of a day but readings and events, row by row, as calls."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Iterable, Iterator
from functools import partial

from ndi.day.calls import Call, Turn
from ndi.day.files import Folder, Row
from ndi.domain import facts as f
from ndi.domain.moment import Moment
from ndi.domain.quantity import Number
from ndi.domain.vocabulary import Disposition, Form, Interpretation, Step, ViewKind
from ndi.services import deciding, inspecting, receiving, recording
from ndi.services.workplace import Workplace
from ndi.tables import shop

_SPLIT = re.compile(r"(?P<quantity>[0-9]{1,6}) (?P<word>[A-Z-]+)")
_NUMBER = re.compile(r"\d*\.?\d+\Z")
_FORMS = tuple(str(form) for form in Form)


class DayIndex:
    """Which part, inspection and view the names in the tables stand for."""

    def __init__(self, folder: Folder) -> None:
        self.parts: dict[str, str] = {}
        for row in folder.rows("receiving"):
            name = row.text("serial_or_lot")
            self.parts.setdefault(name, receiving.part_key(row.text("wo"), row.text("part_no"), name))
        self.inspections = {
            row.text("insp"): row for table in ("inspections_mt", "inspections_pt") for row in folder.rows(table)
        }
        self.indications = {row.text("ind"): row for row in folder.rows("indications")}

    def part(self, row: Row, column: str = "serial_or_lot") -> str:
        """The part behind a serial or lot of a row."""
        name = row.text(column)
        if name in self.parts:
            return self.parts[name]
        if row.opt("wo") and row.opt("part_no"):
            return receiving.part_key(row.text("wo"), row.text("part_no"), name)
        raise row.error(column, f"{name} is not in receiving.csv")

    def part_of(self, inspection: str) -> str | None:
        row = self.inspections.get(inspection)
        return self.part(row) if row else None


def fact_call(row: Row, when: Moment, turn: Turn, fact: f.Fact, by: str, subject: str) -> Call:
    """A call that records one plain fact."""
    return Call(
        when, turn, type(fact).__name__, by, subject, partial(recording.record, facts=[fact], by=by), row.file, row.line
    )


def use_case(
    row: Row, when: Moment, turn: Turn, what: str, by: str, subject: str, make: Callable[[Workplace], object]
) -> Call:
    return Call(when, turn, what, by, subject, make, row.file, row.line)


# --- receiving ------------------------------------------------------------------------------------


def receiving_calls(folder: Folder, index: DayIndex) -> Iterator[Call]:
    for row in folder.rows("work_orders"):
        order = shop.work_order(row)
        yield fact_call(row, row.moment("opened_at"), Turn.OPEN, order, row.text("by"), order.work_order)
    yield from _directives(folder)
    for row in folder.rows("receiving"):
        yield from _received(row, index)
    for row in folder.rows("locations"):
        moved = f.PartMoved(index.part(row), row.text("place"), None, row.opt("piece"), row.opt("reason"))
        yield fact_call(row, row.moment("time"), Turn.MOVE, moved, row.text("by"), moved.part)


def _directives(folder: Folder) -> Iterator[Call]:
    by_order: dict[str, list[Row]] = {}
    for row in folder.rows("directives"):
        by_order.setdefault(row.text("wo"), []).append(row)
    for work_order, rows in by_order.items():
        lines = tuple(row.text("line") for row in rows if row.opt("line"))
        answered = tuple(row.text("line") for row in rows if row.opt("line") and row.yes_no("answered"))
        fact = f.DirectivesConfirmed(work_order, lines, answered)
        yield fact_call(rows[-1], rows[-1].moment("confirmed_at"), Turn.BEGIN, fact, rows[-1].text("by"), work_order)


def _received(row: Row, index: DayIndex) -> Iterator[Call]:
    part, by = index.part(row), row.text("by")
    listed = shop.listed(row, part)
    yield fact_call(row, row.moment("listed_at"), Turn.OPEN, listed, by, part)
    arrival = row.opt_moment("received_at")
    if arrival is not None:
        twice = row.yes_no("typed_twice")
        make = partial(
            receiving.receive,
            part=part,
            person=by,
            quantity=row.whole("qty"),
            typed_twice=twice,
            scanned=not twice,
            told_apart=row.opt("told_apart"),
        )
        yield use_case(row, arrival, Turn.BEGIN, "receive part", by, part, make)


# --- shop -----------------------------------------------------------------------------------------


def shop_calls(folder: Folder) -> Iterator[Call]:
    for row in folder.rows("switches"):
        switched = f.EquipmentSwitched(row.text("equipment"), row.text("state"))
        yield fact_call(row, row.moment("time"), Turn.READ, switched, row.text("by"), switched.equipment)
    for row in folder.rows("booths"):
        closed = f.BoothClosed(row.text("station"), row.text("person"))
        yield fact_call(row, row.moment("time"), Turn.READ, closed, closed.person, closed.station)
    for row in folder.rows("checkins"):
        person, station = row.text("person"), row.opt("station")
        make = partial(recording.check_in, person=person, station=station, clear_glasses=row.yes_no("clear_glasses"))
        yield use_case(row, row.moment("time"), Turn.READ, "check in", person, person, make)


def tick_calls(folder: Folder, index: DayIndex) -> Iterator[Call]:
    for row in folder.rows("ticks"):
        about = row.text("about")
        tick = f.ConfirmationGiven(index.parts.get(about, about), row.text("item"), row.text("value"))
        yield fact_call(row, row.moment("time"), Turn.NOTE, tick, row.text("by"), about)
    for row in folder.rows("plugs"):
        count = f.PlugsCounted(row.text("insp"), row.text("direction"), row.whole("count"))
        yield fact_call(row, row.moment("time"), Turn.NOTE, count, row.text("by"), count.inspection)
    for row in folder.rows("reasons"):
        reason = f.ReasonGiven(row.text("insp"), row.text("rule"), row.text("text"), row.text("by"))
        yield fact_call(row, row.moment("time"), Turn.REASON, reason, reason.person, reason.inspection)


# --- magnetic particle ----------------------------------------------------------------------------


def mt_calls(folder: Folder, index: DayIndex) -> Iterator[Call]:
    for row in folder.rows("inspections_mt"):
        yield from _mt_record(row, index)
    for row in folder.rows("shots"):
        yield from _shot(row)
    for row in folder.rows("demagnetisations"):
        demag = f.Demagnetised(row.text("insp"), row.text("method"))
        yield fact_call(row, row.moment("time"), Turn.BEGIN, demag, row.text("by"), demag.inspection)
    for row in folder.rows("residual_points"):
        read = f.ResidualRead(
            row.text("insp"),
            row.text("point"),
            row.number("value", row.text("unit")),
            row.opt("meter"),
            row.yes_no("away_from_bench"),
        )
        yield fact_call(row, row.moment("time"), Turn.NOTE, read, row.text("by"), read.inspection)


def _opening(row: Row, index: DayIndex, inspector: str) -> Call:
    inspection = row.text("insp")
    make = partial(
        inspecting.open_inspection,
        inspection=inspection,
        part=index.part(row),
        technique=row.text("technique"),
        inspector=inspector,
        quantity=row.whole("qty"),
        station=row.opt("station"),
        reason=row.opt("reason") or "first",
        previous=row.opt("previous"),
    )
    return use_case(row, row.moment("opened_at"), Turn.OPEN, "open inspection", inspector, inspection, make)


def _mt_record(row: Row, index: DayIndex) -> Iterator[Call]:
    inspector = row.text("inspector")
    yield _opening(row, index, inspector)
    yield from _view(row, row.text("insp"), inspector, "start", "end", ViewKind.FIRST)
    yield from _decision(row, index, inspector)


def _view(
    row: Row, inspection: str, person: str, start: str, end: str, kind: ViewKind, containment: str | None = None
) -> Iterator[Call]:
    view = f"{inspection}/{'view' if kind is ViewKind.FIRST else containment}"
    begin = partial(
        inspecting.start_view,
        view=view,
        inspection=inspection,
        person=person,
        lamps=row.many("lamps"),
        kind=kind,
        station=row.opt("station"),
        containment_name=containment,
    )
    yield use_case(row, row.moment(start), Turn.BEGIN, f"start {kind}", person, inspection, begin)
    stop = row.opt_moment(end)
    if stop is None:
        return
    typed = row.opt_moment("end_typed_at")
    finish = partial(
        inspecting.end_view,
        view=view,
        zones=row.many("zones"),
        nothing_seen=row.yes_no("nothing_seen"),
        background=row.opt("background"),
        when=stop if typed else None,
    )
    yield use_case(row, typed or stop, Turn.END, "end view", person, inspection, finish)


def _decision(row: Row, index: DayIndex, person: str, column: str = "inspector_decision") -> Iterator[Call]:
    signed_at, text = row.opt_moment("signed_at"), row.opt(column)
    if signed_at is None or text is None:
        return
    inspection = row.text("insp")
    word, children = _disposition(row, index, column, text)
    make = partial(deciding.sign_decision, inspection=inspection, person=person, disposition=word, children=children)
    yield use_case(row, signed_at, Turn.SIGN, f"sign {text}", person, inspection, make)


def _disposition(row: Row, index: DayIndex, column: str, text: str) -> tuple[str, tuple[f.Child, ...]]:
    """``ACCEPT``, or ``SPLIT 11 ACCEPT / 1 REJECT`` with the pieces that carry its indications."""
    if not text.startswith("SPLIT "):
        if text not in tuple(Disposition):
            raise row.error(
                column, f"{text!r} is no disposition; use {', '.join(Disposition)} or SPLIT 11 ACCEPT / 1 REJECT"
            )
        return text, ()
    shares = [_SPLIT.fullmatch(share.strip()) for share in text.removeprefix("SPLIT ").split("/")]
    if not all(shares):
        raise row.error(column, f"{text!r}: write SPLIT 11 ACCEPT / 1 REJECT")
    pieces = [
        r.opt("piece") for r in index.indications.values() if r.text("insp") == row.text("insp") and r.opt("piece")
    ]
    children = []
    for share in shares:
        assert share is not None
        quantity, word = int(share["quantity"]), share["word"]
        named = [piece for piece in pieces if word != Disposition.ACCEPT][:1] if quantity == 1 else []
        children.append(f.Child(word, quantity, named[0] if named else None))
    return "SPLIT", tuple(children)


def _shot(row: Row) -> Iterator[Call]:
    inspection, by, when = row.text("insp"), row.text("by"), row.moment("time")
    amps, seconds = row.many("amps"), row.many("pulse_s")
    if not amps:
        pulses: tuple[f.Pulse, ...] = ()
    else:
        pulses = tuple(
            f.Pulse(_typed(row, "amps", a, "A"), _typed(row, "pulse_s", s, "s"))
            for a, s in zip(amps, seconds or [None] * len(amps), strict=False)
        )
    fired = f.ShotFired(
        inspection,
        row.text("bench"),
        row.whole("shot"),
        pulses,
        row.opt("current_type"),
        row.opt("bath_mode"),
        row.whole("turns") if row.opt("turns") else None,
        row.opt_number("position_in", "in"),
        row.opt("contact_zone"),
        row.opt_number("extension_in", "in"),
        row.whole("stacked") if row.opt("stacked") else None,
        row.whole("rotations") if row.opt("rotations") else None,
    )
    yield fact_call(row, when, Turn.BEGIN, fired, by, inspection)
    void_at = row.opt_moment("void_at")
    if void_at is not None:
        voided = f.ShotVoided(inspection, fired.shot, when, row.opt("void_reason") or "no reason given")
        yield fact_call(row, void_at, Turn.NOTE, voided, by, inspection)


def _typed(row: Row, column: str, text: str | None, unit: str) -> Number | None:
    if text is None:
        return None
    if not _NUMBER.match(text):
        raise row.error(column, f"{text!r} is not a number")
    return Number(text, unit)


# --- penetrant ------------------------------------------------------------------------------------


def pt_calls(folder: Folder, index: DayIndex) -> Iterator[Call]:
    for row in folder.rows("inspections_pt"):
        viewer = row.text("viewer")
        yield _opening(row, index, viewer)
        yield from _view(row, row.text("insp"), viewer, "view_start", "view_end", ViewKind.FIRST)
        yield from _decision(row, index, viewer)
    for row in folder.rows("baskets"):
        yield from _basket(row, index)
    for row in folder.rows("reviews"):
        viewer, containment = row.text("viewer"), row.text("containment")
        yield from _view(row, row.text("insp"), viewer, "view_start", "view_end", ViewKind.RE_VIEW, containment)
        yield from _decision(row, index, viewer, "decision")


def _basket(row: Row, index: DayIndex) -> Iterator[Call]:
    basket, method = row.text("basket"), row.text("method")
    names = tuple(name for name in row.many("inspections") if name in index.inspections)
    if not names:
        return
    loader = row.text("wet_by")
    loaded = f.BasketLoaded(basket, method, row.text("line"), names, row.whole("attempt"))
    yield fact_call(row, row.moment("loaded_at"), Turn.BEGIN, loaded, loader, basket)
    steps = {
        Step.PRECLEAN: ("preclean_start", "preclean_end", "preclean_by"),
        Step.WET: ("wet_start", "wet_end", "wet_by"),
        (Step.PREWASH if method == "D" else Step.WASH): ("wash_start", "wash_end", "wash_by"),
        Step.REMOVER: ("remover_start", "remover_end", "wash_by"),
        **({Step.WASH: ("rinse_start", "rinse_end", "wash_by")} if method == "D" else {}),
        Step.DRY: ("dry_in", "dry_out", "dry_by"),
        Step.DEVELOP: ("dev_start", "dev_end", "dry_by"),
    }
    for step, columns in steps.items():
        yield from _step(row, basket, step, columns, loader)
    voided_at = row.opt_moment("voided_at")
    if voided_at is not None:
        for name in names:
            fact = f.AttemptVoided(name, basket, loaded.attempt, row.opt("void_reason") or "no reason given")
            yield fact_call(row, voided_at, Turn.GIVE_UP, fact, loader, name)


def _step(row: Row, basket: str, step: Step, columns: tuple[str, str, str], loader: str) -> Iterator[Call]:
    start, end, by_column = columns
    by = row.opt(by_column) or loader
    began, ended = row.opt_moment(start), row.opt_moment(end)
    if began is not None:
        pieces = row.whole("pieces") if row.opt("pieces") else None
        yield fact_call(row, began, Turn.BEGIN, f.StepStarted(basket, step, pieces), by, basket)
        yield from _observations(row, basket, step, began, by)
    if ended is not None:
        outcome = row.opt("background") if step is Step.WASH else None
        yield fact_call(row, ended, Turn.END, f.StepEnded(basket, step, outcome), by, basket)


def _observations(row: Row, basket: str, step: Step, when: Moment, by: str) -> Iterator[Call]:
    seen = {
        Step.WET: ("part temperature", row.opt_number("part_temperature_F", "degF")),
        Step.WASH: ("nozzle distance", row.opt_number("nozzle_in", "in")),
        Step.PREWASH: ("nozzle distance", row.opt_number("nozzle_in", "in")),
    }
    quantity, value = seen.get(step, ("", None))
    if value is not None:
        yield fact_call(row, when, Turn.BEGIN, f.StepObserved(basket, step, quantity, value), by, basket)


# --- indications ----------------------------------------------------------------------------------


def indication_calls(folder: Folder, index: DayIndex) -> Iterator[Call]:
    for row in folder.rows("indications"):
        yield from _indication(row)
    for row in folder.rows("indication_tests"):
        test = f.IndicationTested(row.text("ind"), row.text("step"), row.opt("outcome"))
        yield fact_call(row, row.moment("time"), Turn.NOTE, test, row.text("by"), test.indication)
    for row in folder.rows("photos"):
        photo = photo_fact(row, row.text("insp"), row.opt("ind"))
        make = partial(inspecting.attach_photo, photo=photo, person=row.text("by"))
        yield use_case(row, row.moment("time"), Turn.NOTE, "attach photo", row.text("by"), photo.inspection, make)
    for row in folder.rows("second_looks"):
        yield from _second_look(row, index)
    for row in folder.rows("rework"):
        yield from _rework(row, index)


def photo_fact(row: Row, inspection: str, indication: str | None) -> f.PhotoAttached:
    """A photograph of the day; its bytes are made from its name, so that each has one hash of its own."""
    digest = hashlib.sha256(f"photograph {row.text('file')}".encode()).hexdigest()
    return f.PhotoAttached(
        inspection,
        digest,
        row.moment("taken_at"),
        indication,
        row.yes_no("scale_in_frame"),
        row.opt("tag_in_frame"),
        row.opt("light"),
    )


def split_form(text: str) -> str:
    """``linear circumferential`` is linear; ``3 rounded`` is rounded."""
    words = text.split()
    return next((form for form in _FORMS if form in words or form == text), text)


def _marks(row: Row) -> tuple[f.Mark, ...]:
    """``P1:1.000:2.000:0.03:0.03; P2:...``: name, x, y, length, width in inches."""
    marks = []
    for text in (row.opt("marks") or "").split(";"):
        parts = [part.strip() for part in text.split(":")]
        if parts == [""]:
            continue
        if len(parts) != 5 or not all(_NUMBER.match(part) for part in parts[1:]):
            raise row.error("marks", f"{text.strip()!r}: write name:x:y:length:width in inches")
        marks.append(f.Mark(parts[0], *(Number(part, "in") for part in parts[1:])))
    return tuple(marks)


def _indication(row: Row) -> Iterator[Call]:
    name, by = row.text("ind"), row.text("by")
    seen = f.IndicationSeen(
        name,
        row.text("insp"),
        row.opt("zone"),
        row.opt("position"),
        split_form(row.text("form")) if row.opt("form") else None,
        row.opt_number("len_in", "in"),
        row.opt_number("wid_in", "in"),
        row.opt("orientation"),
        row.opt_number("clock_deg", "deg"),
        row.opt("piece"),
        None,
        _marks(row),
        row.opt_number("x_mm", "mm"),
        row.opt_number("y_mm", "mm"),
    )
    yield fact_call(row, row.moment("seen"), Turn.BEGIN, seen, by, name)
    interpreted, evaluated = row.opt_moment("interpreted_at"), row.opt_moment("evaluated_at")
    if interpreted is not None and row.opt("interpretation"):
        call = f.IndicationInterpreted(name, row.text("interpretation"), row.opt("basis") or "", row.opt("type"))
        make = partial(inspecting.interpret, call=call, person=by)
        yield use_case(row, interpreted, Turn.JUDGE, "interpret", by, name, make)
    if evaluated is not None and row.opt("evaluation"):
        evaluation = f.IndicationEvaluated(name, row.text("evaluation"), row.opt("limit"))
        yield fact_call(row, evaluated, Turn.JUDGE, evaluation, by, name)


def second_look_target(row: Row, index: DayIndex) -> tuple[str, str | None]:
    """The inspection and, unless the whole of it is meant, the indication of a second look."""
    target = row.text("ind_or_insp")
    if target in index.indications:
        return index.indications[target].text("insp"), target
    inspection = target.split()[0]
    if inspection in index.inspections:
        return inspection, None
    return inspection, target  # refused when it is called: there is no such indication


def _second_look(row: Row, index: DayIndex) -> Iterator[Call]:
    name, person = row.text("sc"), row.text("by")
    inspection, indication = second_look_target(row, index)
    begin = partial(
        inspecting.start_view,
        view=name,
        inspection=inspection,
        person=person,
        lamps=row.many("lamps"),
        kind=ViewKind.SECOND_LOOK,
        station=row.opt("station"),
        indication=indication,
    )
    yield use_case(row, row.moment("start"), Turn.BEGIN, "start second look", person, name, begin)
    own = row.opt("own_len")
    interpretation = row.opt("interpretation") or (own if own in tuple(Interpretation) else None)
    saved = f.SecondLookSaved(
        name,
        inspection,
        person,
        indication,
        interpretation,
        split_form(row.text("form")) if row.opt("form") else None,
        Number(own, "in") if own and _NUMBER.match(own) else None,
        True if own == "none seen" else None,
    )
    end = row.opt_moment("end")
    if end is not None:
        finish = partial(inspecting.end_view, view=name, zones=row.many("zones"))
        yield use_case(row, end, Turn.END, "end second look", person, name, finish)
        save = partial(inspecting.save_second_look, saved=saved)
        yield use_case(row, row.opt_moment("saved_at") or end, Turn.NOTE, "save second look", person, name, save)


def _rework(row: Row, index: DayIndex) -> Iterator[Call]:
    inspection = row.text("insp")
    part = index.part_of(inspection)
    if part is None:
        return
    zone = row.text("zone")
    operation = f"{row.text('operation')} within the limit of the zone"
    order = f.ReworkOrdered(inspection, part, row.text("ind"), zone, operation, row.text("ordered_by"))
    yield use_case(
        row,
        row.moment("ordered_at"),
        Turn.MOVE,
        "order rework",
        order.ordered_by,
        inspection,
        partial(inspecting.order_rework, order=order),
    )
    started, ended, by = row.opt_moment("started"), row.opt_moment("ended"), row.text("by")
    if started is not None:
        yield fact_call(row, started, Turn.BEGIN, f.ReworkStarted(inspection, part, by), by, inspection)
    if ended is not None:
        dimensions: tuple[f.Dimension, ...] = ()
        if row.opt("dimension") and row.opt("value_in"):
            dimensions = (
                f.Dimension(
                    row.text("dimension"),
                    row.number("value_in", "in"),
                    row.opt_number("new_limit_in", "in"),
                    row.opt_number("service_limit_in", "in"),
                ),
            )
        done = f.ReworkDone(inspection, part, by, zone, row.opt_number("depth_in", "in"), dimensions)
        yield use_case(
            row, ended, Turn.END, "complete rework", by, inspection, partial(inspecting.complete_rework, done=done)
        )


def all_rows(folder: Folder, index: DayIndex) -> Iterable[Call]:
    """Every call of the day but readings and events."""
    yield from receiving_calls(folder, index)
    yield from shop_calls(folder)
    yield from tick_calls(folder, index)
    yield from mt_calls(folder, index)
    yield from pt_calls(folder, index)
    yield from indication_calls(folder, index)
