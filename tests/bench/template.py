"""One shop day as a stencil: the demonstration day as it was replayed, its names and dates ready to be moved to another day."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

from ndi import bootstrap
from ndi.day import files, replay
from ndi.day.clock import SetClock
from ndi.domain import facts as f
from ndi.domain.entry import Obtained, Recorded
from ndi.domain.moment import Moment
from ndi.domain.quantity import Number
from ndi.domain.vocabulary import Condition, Quantity
from ndi.services.judging import snapshot_hash
from ndi.services.receiving import Document
from ndi.services.workplace import Workplace

Entry = Recorded[f.Fact]

# What goes wrong on the demonstration day happens once in years, not every day.
INCIDENTS = (
    f.AcceptanceRestored,
    f.AcceptanceSuspended,
    f.ActionRefused,
    f.CalibrationRecorded,
    f.ContainmentActionsProposed,
    f.ContainmentItemDone,
    f.ContainmentOpened,
    f.EquipmentStatusSet,
    f.PersonEntered,
)
# What has a date after which it no longer holds is entered again before that.
RENEWED = (f.AuthorisationEntered, f.BatchEntered, f.CalibrationRecorded, f.CertificateEntered, f.VisionExamEntered)
NAMES = {
    f.BasketLoaded: ("basket",),
    f.IndicationSeen: ("indication",),
    f.InspectionOpened: ("inspection",),
    f.PartListed: ("part", "serial", "lot", "work_order"),
    f.PhotoAttached: ("sha256",),
    f.SecondLookSaved: ("second_look",),
    f.ViewStarted: ("view",),
}


@dataclass(frozen=True)
class Template:
    """What was there before the day, the day itself, and which of its names belong to that day alone."""

    documents: tuple[Document, ...]
    adopter: str
    standing: tuple[Entry, ...]  # transcribed before the day began
    day: tuple[Entry, ...]
    names: frozenset[str]
    records: int
    tags: int
    lamps: tuple[str, ...]


def demonstration(folder: Path) -> Template:
    """Replay the demonstration day into a book in ``folder`` and cut it into a template."""
    work = _replayed(folder)
    with work.book.session(readonly=True) as session:
        entries = [session.entry(position) for position in range(1, session.head().position + 1)]
    day = [entry for entry in entries if entry.how is not Obtained.TRANSCRIBED and _is_daily(entry)]
    standing = [entry for entry in entries if entry.how is Obtained.TRANSCRIBED]
    adopted = [entry for entry in entries if isinstance(entry.fact, f.DocumentAdopted)]
    return Template(
        tuple(
            Document(a.fact.document, a.fact.number, a.fact.revision, a.fact.method, a.fact.content, a.fact.sha256)
            for a in adopted
        ),
        adopted[0].by,
        tuple(standing),
        tuple(day),
        frozenset(_names(day)),
        sum(isinstance(entry.fact, f.InspectionOpened) for entry in day),
        sum(isinstance(entry.fact, f.TagPrinted) for entry in day),
        tuple(
            sorted(
                {e.fact.equipment for e in standing if isinstance(e.fact, f.EquipmentEntered) and e.fact.kind == "lamp"}
            )
        ),
    )


def _replayed(folder: Path) -> Workplace:
    data = bootstrap.data_folder("demo")
    day = files.read_day(data / "2026-03-10")
    prepared = replay.plan(day, files.read_before(data / "before", day))
    begins = prepared.begins
    clock = SetClock(begins.at, begins.offset_min)
    work = bootstrap.new_book(
        folder / "template.ndibook", shop="BENCH", station=day.settings["station"], practice=True, clock=clock
    )
    replay.run(prepared, work, clock, bootstrap.library_documents(bootstrap.data_folder("procedures")))
    return work


def _is_daily(entry: Entry) -> bool:
    begun = (f.BookBegun, f.StationKeyEntered, f.DocumentAdopted)
    return not isinstance(entry.fact, (*INCIDENTS, *begun)) and entry.supersedes is None


def _names(day: list[Entry]) -> set[str]:
    found = {getattr(e.fact, name) for e in day for name in NAMES.get(type(e.fact), ())}  # type: ignore[call-overload]
    found |= {e.fact.piece for e in day if isinstance(e.fact, f.IndicationSeen)}
    return {name for name in found if name}


# --- moving ---------------------------------------------------------------------------------------


@dataclass
class Move:
    """Moves facts of the template by some days: names get the day's number, times and dates the days, positions the distance."""

    names: frozenset[str]
    number: int  # of the simulated day
    days: int
    tags: int = 0  # tags printed before that day
    dates: bool = False  # move dates of certificates and the like as well
    positions: dict[int, int] = dataclasses.field(default_factory=dict)

    def fact(self, fact: Any) -> Any:
        moved = {name: self._value(getattr(fact, name)) for name in field_names(type(fact))}
        if isinstance(fact, f.TagPrinted):
            moved["tag"] = str(int(fact.tag) + self.tags)
            moved["decision"] = self.positions[fact.decision]
        elif isinstance(fact, f.ProvisionalCleared):
            moved["cause"] = self.positions.get(fact.cause, fact.cause)
        elif isinstance(fact, f.KeptAnswer):
            moved["facts"] = tuple(sorted(self.positions[p] for p in fact.facts if p in self.positions))
        elif isinstance(fact, f.DecisionSigned):
            moved["snapshot"] = snapshot_hash(moved["answers"])
        elif isinstance(fact, f.PhotoAttached):
            moved["sha256"] = f"{self.number:08x}{fact.sha256[8:]}"
        elif isinstance(fact, f.ReadingRecorded) and fact.quantity == Quantity.UV_A:
            moved["value"] = lamp_value(fact.object, self.number, fact.condition)
        return type(fact)(**moved)

    def _value(self, value: Any) -> Any:
        if isinstance(value, str):
            return f"{self.number:04d}-{value}" if value in self.names else value
        if isinstance(value, tuple):
            return tuple(self._value(item) for item in value)
        if isinstance(value, Moment):
            return self.moment(value)
        if isinstance(value, date):
            return value + timedelta(days=self.days) if self.dates else value
        if dataclasses.is_dataclass(value) and not isinstance(value, Number):
            return self.fact(value)
        return value

    def moment(self, moment: Moment) -> Moment:
        return dataclasses.replace(moment, at=self.at(moment.at))

    def at(self, at: datetime) -> datetime:
        return at + timedelta(days=self.days)


@cache
def field_names(cls: type[Any]) -> tuple[str, ...]:
    return tuple(field.name for field in dataclasses.fields(cls))


def lamp_value(lamp: str, day: int, condition: str | None) -> Number:
    """What a lamp reads on a day: it fades by 0.06 % a day and gets a new bulb every 600 days; some scatter."""
    seed = (day * 7919 + sum(lamp.encode()) * 104729) % 997
    value = 1680 * (1 - 0.0006) ** (day % 600) * (1 + (seed / 997 - 0.5) * 0.01)
    return Number(str(round(value * (1.0 if condition == Condition.AS_FOUND else 1.01))), "uW/cm2")
