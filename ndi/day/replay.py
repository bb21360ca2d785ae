"""Replays a day through the use cases: one call for each thing a person did, one question at each moment that asks."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from ndi.day import before as earlier
from ndi.day.calls import Call, Refusal
from ndi.day.clock import SetClock
from ndi.day.events import EventResult, event_calls
from ndi.day.files import Folder, Row
from ndi.day.readings import calls_of
from ndi.day.rows import DayIndex, all_rows
from ndi.domain import facts as f
from ndi.domain.entry import Draft, Obtained
from ndi.domain.errors import DayFileError, NdiError, NotPermitted
from ndi.domain.moment import Moment
from ndi.domain.vocabulary import LEVEL_THREE
from ndi.services import receiving, recording
from ndi.services.workplace import Workplace
from ndi.tables import shop


@dataclass
class Plan:
    """A day, fully read and checked, before anything is written."""

    day: Folder
    before: Folder
    index: DayIndex
    calls: list[Call]
    people: list[tuple[f.Fact, Moment]]
    equipment: list[tuple[f.Fact, Moment]]
    history: list[tuple[f.Fact, Moment]]
    results: list[EventResult] = field(default_factory=list)

    @property
    def begins(self) -> Moment:
        """When the book begins: shortly before the first call of the day."""
        if not self.calls:
            raise DayFileError(str(self.day.path), None, None, "holds no row that stands for a call")
        first = self.calls[0].when
        return Moment(first.at - timedelta(minutes=30), first.offset_min)


def plan(day: Folder, before: Folder) -> Plan:
    """Read every cell of a day; DayFileError names the file, line and column that cannot be used."""
    index = DayIndex(day)
    results: list[EventResult] = []
    calls: list[Call] = [call for row in day.rows("readings") for call in calls_of(row)]
    calls += all_rows(day, index)
    calls += _calibrations(day)
    calls += event_calls(day, index, results)
    calls.sort(key=lambda call: (call.at, call.turn))

    def key_of(row: Row, name: str) -> str:
        return index.parts.get(name, name)

    return Plan(
        day,
        before,
        index,
        calls,
        list(earlier.people(before)),
        list(earlier.equipment(before)),
        list(earlier.history(before, key_of)),
        results,
    )


def _calibrations(day: Folder) -> list[Call]:
    """Calibrations that the day (or a later one, by its ``done`` date) brought."""
    calls = []
    for row in day.rows("calibrations"):
        dated = Row(row.file, row.line, row.cells, row.date_of("done"), row.offset)
        fact, by = shop.calibration(row), row.opt("by") or "SUP-F"

        def make(work: Workplace, fact: f.CalibrationRecorded = fact, by: str = by) -> object:
            return recording.record_outside_fact(work, fact, by)

        when = dated.moment_of("time", row.opt("time") or "12:00")
        calls.append(Call(when, 20, f"calibration of {fact.equipment}", by, fact.equipment, make, row.file, row.line))  # type: ignore[arg-type]
    return calls


def run(
    prepared: Plan,
    work: Workplace,
    clock: SetClock,
    documents: Sequence[receiving.Document],
    *,
    until: datetime | None = None,
    said: Callable[[Call], None] | None = None,
) -> list[Refusal]:
    """Play the plan into an empty book; refused calls are kept and the day goes on.

    ``until`` plays only what happened up to an instant; ``said`` is told of each call before it is made.
    """
    settings = prepared.day.settings
    scribe = settings.get("transcriber", "transcriber")
    why = settings.get("transcription_reason", "kept on paper before this book began")
    recording.transcribe(work, prepared.people, person=scribe, why=why)
    _adopt(prepared, work, documents)
    recording.transcribe(work, prepared.equipment, person=scribe, why=why)
    recording.transcribe(work, prepared.history, person=scribe, why=why)
    refusals: list[Refusal] = []
    for call in prepared.calls:
        if until is not None and call.when.at > until:
            break
        if said is not None:
            said(call)
        clock.set(call.when.at, call.when.offset_min)
        try:
            call.make(work)
        except NotPermitted as refused:
            refusals.append(Refusal(call, refused.message))
        except NdiError as error:
            refusals.append(Refusal(call, str(error)))
            _keep(work, call, str(error))
    return refusals


def _keep(work: Workplace, call: Call, message: str) -> None:
    """A call that could not be made is kept as refused, like one that was not permitted."""
    with work.transaction() as session:
        fact = f.ActionRefused(call.what, call.by or work.computed_by, call.subject, (), message)
        session.append([Draft(fact, work.now(), call.by or work.computed_by, Obtained.COMPUTED)])


def _adopt(prepared: Plan, work: Workplace, documents: Sequence[receiving.Document]) -> None:
    """Adopt the procedures; DayFileError when nobody in the files may do so on that day."""
    try:
        receiving.adopt(work, documents, _level_three(prepared))
    except NotPermitted as refused:
        raise DayFileError("certificates.csv", None, "expires", refused.message) from None


def _level_three(prepared: Plan) -> str:
    """Who adopts the procedures: the first person with level 3 certificates."""
    held = [fact for fact, _ in prepared.people if isinstance(fact, f.CertificateEntered) and fact.level >= LEVEL_THREE]
    if not held:
        raise DayFileError(
            "certificates.csv", None, "level", "nobody holds level 3: procedures are adopted by a Level III"
        )
    return held[0].person
