"""Everything of which the book can show a course: what there is, and the study of one of it."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from ndi.domain import facts as f
from ndi.domain.errors import InputError
from ndi.domain.quantity import Number
from ndi.domain.vocabulary import Quantity
from ndi.services.ports import Session
from ndi.services.study import Study
from ndi.services.trend_bath import bath_study
from ndi.services.trend_contamination import contamination_study
from ndi.services.trend_control import readings_study
from ndi.services.trend_lamp import lamp_trend
from ndi.services.trend_margins import margins_study
from ndi.services.trend_meter import meter_study
from ndi.services.trend_residual import residual_study
from ndi.services.workplace import Workplace


class Kind(StrEnum):
    """What is asked; each has its own study."""

    LAMP = "lamp"
    BATH = "bath"
    CONTAMINATION = "contamination"
    METER = "meter"
    RESIDUAL = "residual"
    MARGINS = "margins"
    READINGS = "readings"


WORDS: Mapping[Kind, str] = {
    Kind.LAMP: "UV-A of a lamp, its decay and the day it meets the limit",
    Kind.BATH: "particles of a bath over shots, shots left, dose",
    Kind.CONTAMINATION: "contamination of a bath",
    Kind.METER: "errors of a meter, ammeter or gaussmeter at its calibrations",
    Kind.RESIDUAL: "residual field of a part number by point",
    Kind.MARGINS: "how close the penetrant line comes to its limits",
    Kind.READINGS: "chart of individuals of any repeated reading",
}


@dataclass(frozen=True)
class Subject:
    """One thing whose course can be shown; ``count`` readings of it, the last of them on ``last``."""

    kind: Kind
    object: str = ""
    quantity: str = ""
    count: int = 0
    last: str = ""  # local day

    @property
    def key(self) -> str:
        return "|".join((self.kind, self.object, self.quantity))

    @property
    def title(self) -> str:
        return " ".join(word for word in (self.object, self.quantity) if word) or "penetrant line"


def subject_of(key: str) -> Subject:
    """The subject that a key names."""
    kind, object_, quantity = key.split("|", 2)
    return Subject(Kind(kind), object_, quantity)


def subjects(work: Workplace) -> tuple[Subject, ...]:
    """Everything with at least one reading: lamps, baths, meters, part numbers, then single readings."""
    with work.look() as session:
        return tuple(_subjects(session))


def _subjects(session: Session) -> list[Subject]:
    kinds = {line.body["equipment"]: line.body["kind"] for line in session.lines(f.EquipmentEntered)}
    readings: Counter[tuple[str, str]] = Counter()
    soiled: Counter[str] = Counter()
    last: dict[tuple[str, str], str] = {}
    for read in session.fields(f.ReadingRecorded, ("object", "quantity", "contamination")):
        object_, quantity, contamination = read.values
        assert object_ is not None and quantity is not None
        readings[object_, quantity] += 1
        last[object_, quantity] = read.at[:10]
        soiled[object_] += contamination is not None
    found = []
    for (object_, quantity), count in readings.items():
        kind = Kind.READINGS
        if quantity == Quantity.UV_A and kinds.get(object_) == "lamp":
            kind = Kind.LAMP
        elif quantity == Quantity.PARTICLE_VOLUME and kinds.get(object_) == "bath":
            kind = Kind.BATH
            if soiled[object_]:
                found.append(Subject(Kind.CONTAMINATION, object_, "", soiled[object_], last[object_, quantity]))
        named = quantity if kind is Kind.READINGS else ""
        found.append(Subject(kind, object_, named, count, last[object_, quantity]))
    found += _meters(session) + _residuals(session)
    loads = session.lines(f.BasketLoaded)
    if loads:
        found.append(Subject(Kind.MARGINS, "", "", len(loads), loads[-1].at[:10]))
    order = list(Kind)
    return sorted(found, key=lambda each: (order.index(each.kind), each.object, each.quantity))


def _meters(session: Session) -> list[Subject]:
    done: dict[str, list[str]] = defaultdict(list)
    for line in session.lines(f.CalibrationRecorded):
        done[line.body["equipment"]].append(line.body["done"])
    return [Subject(Kind.METER, name, "", len(days), max(days)) for name, days in done.items()]


def _residuals(session: Session) -> list[Subject]:
    part_no: dict[str | None, str] = {row.inspection: row.part_no for row in session.briefs().values()}
    count: Counter[str] = Counter()
    last: dict[str, str] = {}
    for read in session.fields(f.ResidualRead, ("inspection",)):
        name = part_no.get(read.values[0])
        if name is not None:
            count[name] += 1
            last[name] = read.at[:10]
    return [Subject(Kind.RESIDUAL, name, "", number, last[name]) for name, number in count.items()]


def study_of(
    work: Workplace,
    subject: Subject,
    *,
    since: date | None = None,
    dose: Mapping[str, Number] | None = None,
) -> Study:
    """The study of a subject; NotFound for what the book does not hold."""
    if subject.kind is not Kind.MARGINS and not subject.object:
        raise InputError(f"{subject.kind}: say of what, e.g. ndi trend BOOK {subject.kind} NAME")
    match subject.kind:
        case Kind.LAMP:
            return lamp_trend(work, subject.object, since=since)
        case Kind.BATH:
            return bath_study(work, subject.object, since=since, dose=dose)
        case Kind.CONTAMINATION:
            return contamination_study(work, subject.object, since=since)
        case Kind.METER:
            return meter_study(work, subject.object, item=subject.quantity or None)
        case Kind.RESIDUAL:
            return residual_study(work, subject.object, since=since)
        case Kind.MARGINS:
            return margins_study(work, since=since)
        case Kind.READINGS:
            if not subject.quantity:
                raise InputError(f"readings of {subject.object}: say of which quantity, one of {', '.join(Quantity)}")
            return readings_study(work, subject.object, subject.quantity, since=since)
