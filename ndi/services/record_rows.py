"""The rows of an inspection record, put into the words of paper from the facts of one inquiry."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from ndi.domain import facts as f
from ndi.domain.answer import Answer
from ndi.domain.entry import Recorded
from ndi.domain.moment import Moment, Span, duration_text
from ndi.domain.procedure import NominalShot
from ndi.domain.vocabulary import ViewKind
from ndi.rules.inquiry import Indication, Inquiry, SecondLook, Shot, View
from ndi.services.measured_photographs import angle_deg, how_measured, longest, on_photographs, place_mm
from ndi.services.paper_text import clock_range, doer, on_paper, size_text, value_text
from ndi.services.report_models import IndicationModel, ReadingRow, SecondLookRow, ShotRow, StepRow, ViewRow

TREND_RULES = frozenset({"L12"})  # read many readings of weeks; the paper names them in one line
_CROSSWISE = ("transverse", "circumferential", "radial")
_ALONG, _ACROSS = 0.0, 90.0  # degrees on the drawing, whose x axis is the part's length


# --- process ---


def step_rows(q: Inquiry) -> tuple[StepRow, ...]:
    """Every pass through every step, of every attempt, and what else was done to the part as a step."""
    rows: list[tuple[Moment, StepRow]] = []
    keys = [("", q.inspection), *((str(load.fact.attempt), load.fact.basket) for load in q.basket_loads)]
    for attempt, key in keys:
        rows += _passes(q, attempt, key)
    rows += [
        (r.when, StepRow("", q.inspection, "demagnetise", r.when.clock(), "", "", doer(r), r.fact.method))
        for r in q.facts.of(f.Demagnetised, q.inspection)
    ]
    rows += [
        (
            r.when,
            StepRow(
                "",
                q.inspection,
                f"plugs {r.fact.direction}",
                r.when.clock(),
                "",
                "",
                doer(r),
                f"{r.fact.count} counted",
            ),
        )
        for r in q.facts.of(f.PlugsCounted, q.inspection)
    ]
    return tuple(row for _, row in sorted(rows, key=lambda pair: pair[0].at))


def _passes(q: Inquiry, attempt: str, key: str) -> list[tuple[Moment, StepRow]]:
    steps = dict.fromkeys(r.fact.step for r in q.facts.of(f.StepStarted, key))
    return [row for step in steps for row in _passes_of(q, attempt, key, step)]


def _passes_of(q: Inquiry, attempt: str, key: str, step: str) -> list[tuple[Moment, StepRow]]:
    waiting, ends = list(q.starts(step, key)), q.ends(step, key)
    rows = []
    for end in [*ends, None]:
        begun = [r for r in waiting if end is None or (r.at, r.position) < (end.at, end.position)]
        if begun:
            rows.append((begun[0].when, _step_row(q, attempt, key, begun, end)))
            waiting = waiting[len(begun) :]
    return rows


def _step_row(
    q: Inquiry, attempt: str, key: str, starts: Sequence[Recorded[f.StepStarted]], end: Recorded[f.StepEnded] | None
) -> StepRow:
    step, first, last = starts[0].fact.step, starts[0].when, starts[-1].when
    observed = [
        f"{r.fact.quantity} {value_text(r.fact.value)}"
        for r in q.facts.of(f.StepObserved, key)
        if r.fact.step == step and first.at <= r.at and (end is None or r.at <= end.at)
    ]
    if end is not None and end.fact.outcome:
        observed.append(end.fact.outcome)
    if len(starts) > 1:
        observed.append(f"started again {', '.join(r.when.clock() for r in starts[1:])}")
    duration = ""
    if end is not None:
        span = Span(first, last, end.when, end.when)
        shortest, longest = span.shortest(), span.longest()
        assert shortest is not None and longest is not None
        duration = (
            duration_text(shortest) if shortest == longest else f"{duration_text(shortest)} / {duration_text(longest)}"
        )
    by = dict.fromkeys(doer(r) for r in [*starts, *([end] if end else [])])
    return StepRow(
        attempt,
        key,
        step,
        first.clock(),
        end.when.clock() if end else "not ended",
        duration,
        ", ".join(by),
        "; ".join(observed),
    )


def shot_rows(q: Inquiry) -> tuple[ShotRow, ...]:
    """The shots as fired, beside what the technique asks for; void ones say why."""
    nominal = {shot.shot: shot for shot in q.technique.shots}
    return tuple(_shot_row(shot, nominal.get(shot.fired.fact.shot)) for shot in q.shots)


def _shot_row(shot: Shot, nominal: NominalShot | None) -> ShotRow:
    fired = shot.fired.fact
    amps = list(dict.fromkeys(value_text(pulse.amps) or "not recorded" for pulse in fired.pulses))
    seconds = [value_text(pulse.seconds) or "not recorded" for pulse in fired.pulses]
    if len(set(seconds)) == 1:
        seconds = seconds[:1]
    current = [
        ", ".join(amps),
        *filter(None, (fired.current_type, f"{fired.coil_turns} turns" if fired.coil_turns else None)),
    ]
    kind = f"{nominal.kind}, {nominal.direction}" if nominal else "not in the technique"
    if fired.position is not None:
        kind += f", at {value_text(fired.position)}"
    asked = f"{value_text(nominal.amps)} {nominal.current_type}" if nominal else ""
    pulses = f"{len(fired.pulses)} of {', '.join(seconds)}"
    if fired.bath_mode:
        pulses += f"\nbath: {fired.bath_mode}"
    when = (
        shot.fired.when.clock()
        if shot.counts
        else f"{shot.fired.when.clock()}\nVOID: {shot.voided.fact.reason if shot.voided else ''}"
    )
    return ShotRow(str(fired.shot), kind, fired.bench, " ".join(current), asked, pulses, when, doer(shot.fired))


def view_rows(q: Inquiry) -> tuple[ViewRow, ...]:
    """Every view, re-view and second look, by start."""
    return tuple(_view_row(view) for view in q.all_views)


def _view_row(view: View) -> ViewRow:
    started, ended = view.started.fact, view.ended.fact if view.ended else None
    said: list[str] = []
    if ended is not None and started.kind != ViewKind.SECOND_LOOK:
        said.append(
            "no indication seen" if ended.nothing_seen else "indications" if ended.nothing_seen is False else ""
        )
    if ended is not None and ended.background:
        said.append(f"background {ended.background}")
    if started.containment:
        said.append(f"under {started.containment}")
    zones = ", ".join(ended.zones) if ended else ""
    end = view.end.clock() if view.end else "not ended"
    return ViewRow(
        view.id,
        started.kind,
        str(started.attempt),
        view.person,
        ", ".join(view.lamps),
        view.start.clock(),
        end,
        zones,
        "; ".join(filter(None, said)),
    )


# --- readings ---


def reading_rows(q: Inquiry, answers: Iterable[Answer]) -> tuple[ReadingRow, ...]:
    """The readings, checks and samples that some answer was read from; those of a trend in one line."""
    directly, trend = set[int](), set[int]()
    for answer in answers:
        (trend if answer.rule in TREND_RULES else directly).update(answer.facts)
    kinds = (f.ReadingRecorded, f.ResidualRead, f.ProcessCheckRecorded, f.BathSampled)
    used = [r for r in q.facts if isinstance(r.fact, kinds) and r.position in directly]
    rows = [_reading_row(r, q.opened.when) for r in used]
    return (*rows, *_trend_rows(q, trend - directly))


def _trend_rows(q: Inquiry, positions: set[int]) -> list[ReadingRow]:
    readings = [r for r in q.facts.of(f.ReadingRecorded) if r.position in positions]
    rows = []
    for lamp in dict.fromkeys(r.fact.object for r in readings):
        own = [r for r in readings if r.fact.object == lamp]
        first, last = own[0].when.local.date(), own[-1].when.local.date()
        days = str(first) if first == last else f"{first} to {last}"
        count = f"{len(own)} earlier reading{'s' if len(own) > 1 else ''}"
        rows.append(ReadingRow(days, lamp, own[0].fact.quantity, count, "trend", "", ""))
    return rows


def _reading_row(recorded: Recorded[f.Fact], day: Moment) -> ReadingRow:
    fact, by, at = recorded.fact, doer(recorded), day_clock(recorded.when, day)
    if isinstance(fact, f.ResidualRead):
        return ReadingRow(at, fact.point, "residual field", value_text(fact.value), "", fact.meter or "", by)
    if isinstance(fact, f.ProcessCheckRecorded):
        return ReadingRow(
            at,
            fact.object,
            fact.check,
            check_text(fact),
            ", ".join(filter(None, (fact.line, fact.detail))),
            fact.meter or "",
            by,
        )
    if isinstance(fact, f.BathSampled):
        return ReadingRow(at, fact.bath, "bath sample drawn", "", "demagnetised" if fact.demagnetised else "", "", by)
    assert isinstance(fact, f.ReadingRecorded)
    return ReadingRow(
        at, fact.object, fact.quantity, value_text(fact.value), conditions_text(fact), fact.meter or "", by
    )


def conditions_text(fact: f.ReadingRecorded) -> str:
    """Under what a reading was taken."""
    said = [fact.condition or ""]
    if fact.distance is not None:
        said.append(f"at {value_text(fact.distance)}")
    if fact.screen_on is not None:
        said.append("screen on" if fact.screen_on else "screen off")
    if fact.contamination is not None:
        said.append(f"contamination {value_text(fact.contamination)}")
    return ", ".join(filter(None, said))


def check_text(fact: f.ProcessCheckRecorded) -> str:
    """What a process check came to."""
    found = ["as required" if fact.passed else "NOT as required"]
    if fact.holes is not None:
        found.append(f"{fact.holes} holes{f' at {value_text(fact.amps)}' if fact.amps else ''}")
    return ", ".join(found)


def day_clock(when: Moment, day: Moment) -> str:
    """The clock time; with the date where it was another day than ``day``."""
    return when.clock() if when.local.date() == day.local.date() else str(when)


# --- indications ---


def indication_models(q: Inquiry) -> tuple[IndicationModel, ...]:
    """Every indication with its evidence, in the order in which they were seen."""
    return tuple(_indication_model(q, mark) for mark in q.indications)


def _indication_model(q: Inquiry, mark: Indication) -> IndicationModel:
    seen, called, judged = mark.seen.fact, mark.interpreted, mark.evaluated
    tests = [f"{r.fact.step} {r.when.clock()}{f': {r.fact.outcome}' if r.fact.outcome else ''}" for r in mark.tests]
    place = [
        on_paper(seen.position or ""),
        f"clock {value_text(seen.clock)}"
        if seen.clock is not None and str(seen.clock) not in (seen.position or "")
        else "",
    ]
    basis = [
        *([f"{called.fact.basis}"] if called else []),
        *tests,
        f"called by {doer(called)} {called.when.clock()}" if called else "",
    ]
    placed, drawn, angle = place_mm(mark), longest(mark), angle_deg(mark)
    return IndicationModel(
        mark.id,
        seen.zone or "zone not recorded",
        "; ".join(filter(None, place)),
        ", ".join(filter(None, (seen.form, seen.orientation))),
        "; ".join(filter(None, (size_text(seen.length, seen.width), *on_photographs(mark)))),
        (": ".join(filter(None, (called.fact.interpretation, called.fact.type)))) if called else "not interpreted",
        "; ".join(filter(None, basis)),
        judged.fact.evaluation if judged else "not evaluated",
        on_paper(judged.fact.limit or "") if judged and judged.fact.limit != judged.fact.evaluation else "",
        _disposition_of(q, seen.piece),
        "\n".join(_notes(mark)),
        None if placed is None else float(placed[0].in_unit("mm")),
        None if placed is None else float(placed[1].in_unit("mm")),
        None if drawn is None else float(drawn.in_unit("mm")),
        angle if angle is not None else _ACROSS if seen.orientation in _CROSSWISE else _ALONG,
    )


def _disposition_of(q: Inquiry, piece: str | None) -> str:
    """The word signed for the piece that carries the indication, else for the record."""
    for child in q.children:
        if piece is not None and child.piece == piece:
            return child.disposition
    words = {child.disposition for child in q.children}
    return words.pop() if len(words) == 1 else ""


def _notes(mark: Indication) -> list[str]:
    seen = mark.seen.fact
    notes = [f"piece {seen.piece}"] if seen.piece else []
    notes.append(f"seen {mark.seen.when.clock()} by {doer(mark.seen)}")
    if seen.marks:
        notes.append(
            "marks "
            + "; ".join(
                f"{m.name} {size_text(m.length, m.width)} at {m.x.typed}, {m.y.typed} {m.y.unit}" for m in seen.marks
            )
        )
    for photo in mark.photos:
        notes.append(
            f"photograph {photo.fact.taken_at.clock()} {photo.fact.light or ''} {photo.fact.sha256[:8]}".replace(
                "  ", " "
            )
        )
    return [*notes, *how_measured(mark)]


def second_look_rows(q: Inquiry) -> tuple[SecondLookRow, ...]:
    """What each second person saw, saved before the first result was shown."""
    return tuple(_second_look_row(q, look) for look in q.second_looks)


def _second_look_row(q: Inquiry, look: SecondLook) -> SecondLookRow:
    started, saved = look.view.started.fact, look.saved.fact if look.saved else None
    held = q.certificate(look.view.person, look.view.start.local.date())
    certificate = f"{held.fact.method} level {held.fact.level}" if held else "none valid"
    found = "not saved"
    if saved is not None:
        said = (
            "none seen" if saved.none_seen else "",
            saved.interpretation or "",
            saved.form or "",
            value_text(saved.length),
        )
        found = ", ".join(filter(None, said))
    own = next((i for i in q.indications if i.id == started.indication), None)
    compared = ""
    if own is not None and own.interpreted is not None:
        compared = f"first: {', '.join(filter(None, (own.interpreted.fact.interpretation, own.seen.fact.form, value_text(own.seen.fact.length))))}"
        if own.resolved is not None:
            compared += f"; resolved by {own.resolved.fact.person}: {own.resolved.fact.decision}"
    about = f"{started.indication or 'whole inspection'}\n{clock_range(look.view.start, look.view.end)}"
    blind = "" if saved is None else "yes" if saved.blind else "no"
    return SecondLookRow(look.id, about, look.view.person, certificate, blind, found, compared)
