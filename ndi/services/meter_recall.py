"""A meter found wrong at calibration: which of its readings do not hold, by the worst case and by even drift, and what rests on them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from ndi.calc import meter_correction
from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.errors import InputError, NotFound
from ndi.domain.moment import Moment
from ndi.domain.outcome import Missing
from ndi.domain.quantity import PERCENT, Number, shown
from ndi.domain.vocabulary import Method, Quantity
from ndi.rules.guard_band import limit_for
from ndi.services.containment import recall_set
from ndi.services.lookup import about
from ndi.services.ports import Session
from ndi.services.shop_inquiry import shop_inquiry
from ndi.services.workplace import Workplace

# key of the limit of each quantity, and whether it is the least or the most
_LIMITS: dict[str, tuple[str, bool]] = {
    Quantity.UV_A: ("uv_min", True),
    Quantity.UV_A_AT_PART: ("uv_at_part_min", True),
    Quantity.AMBIENT: ("ambient_max", False),
    Quantity.WHITE_LIGHT: ("white_light_min", True),
}
RESIDUAL, CURRENT = "residual field", "current of a pulse"
AMMETER = "ammeter"  # of a bench, whose other items (shot timer, quick break, coil turns) read no current


@dataclass(frozen=True)
class Endangered:
    """One reading with what it was worth; ``typed``, ``worst`` and ``linear`` say whether it is within ``limit``."""

    object: str
    quantity: str
    when: Moment
    position: int
    read: Fraction
    worst: Fraction
    linear: Fraction
    unit: str
    limit: str
    typed_holds: bool
    worst_holds: bool
    linear_holds: bool
    inspections: tuple[str, ...]

    @property
    def is_endangered(self) -> bool:
        return self.typed_holds and not (self.worst_holds and self.linear_holds)

    def line(self) -> str:
        """One line for terminal and list."""
        marks = ["" if holds else " below" for holds in (self.worst_holds, self.linear_holds)]
        worst, linear = (tenth(each) for each in (self.worst, self.linear))
        return (
            f"{self.when}  {self.object} {self.quantity}: read {shown(self.read, self.unit)}, "
            f"worst case {worst} {self.unit}{marks[0] and ' OUT'}, "
            f"even drift {linear} {self.unit}{marks[1] and ' OUT'}, limit {self.limit}"
        )


@dataclass(frozen=True)
class MeterFound:
    """What one calibration says of every reading since the one before."""

    meter: str
    item: str
    error: Number
    calibrated: date
    found: date
    readings: tuple[Endangered, ...]

    @property
    def endangered(self) -> tuple[Endangered, ...]:
        """Readings that were within their limit as typed and are not as corrected."""
        return tuple(each for each in self.readings if each.is_endangered)

    def inspections(self, *, worst: bool = True) -> tuple[str, ...]:
        """The records that rest on endangered readings; by the worst case or by even drift."""
        bad = [r for r in self.endangered if not (r.worst_holds if worst else r.linear_holds)]
        return tuple(sorted({name for each in bad for name in each.inspections}))


def tenth(value: Fraction) -> str:
    """To one decimal, for reading beside each other; nothing is judged on it."""
    scaled = round(value * 10)
    return f"{scaled // 10}.{scaled % 10}" if scaled >= 0 else f"-{-scaled // 10}.{-scaled % 10}"


def meter_found(
    work: Workplace, meter: str, *, error: Number | None = None, found: date | None = None, item: str | None = None
) -> MeterFound:
    """Every reading with a meter between its last two calibrations, corrected.

    ``error`` (signed, + reads high) with ``found`` supposes a calibration that the
    book does not hold; InputError where neither tells of an error.  An ``item``
    (``UV-A channel``) endangers only what that channel reads; without one an error
    is supposed of every channel.
    """
    with work.book.session(readonly=True) as session:
        every = sorted(about(session, f.CalibrationRecorded, meter), key=lambda r: (r.fact.done, r.position))
        every = [r for r in every if r.fact.equipment == meter]
        items = sorted({r.fact.item for r in every})
        if not every:
            raise NotFound(f"no calibration of {meter} is in this book")
        if item not in (None, *items):
            raise NotFound(f"{meter} was never calibrated for {item!r}: its items are {', '.join(items)}")
        every = [r for r in every if item in (None, r.fact.item)]
        if error is None:
            wrong = [r.fact for r in every if r.fact.as_found_error_percent is not None]
            if not wrong:
                raise InputError(f"no calibration of {meter} says what it found: type the error, e.g. '+9 %'")
            last = wrong[-1]
            assert last.as_found_error_percent is not None
            error, found, item = last.as_found_error_percent, last.done, last.item
        found = found or work.now().local.date()
        before = [r.fact for r in every if r.fact.done < found and item in (None, r.fact.item)]
        if not before:
            raise InputError(f"{meter} has no calibration before {found}: since when it was wrong is not known")
        start = min(
            {fact.item: fact.done for fact in before}.values()
        )  # the last of each channel, the earliest of these
        what = item or ", ".join(items)
        readings = tuple(_readings(work, session, meter, item, error, start, found))
        return MeterFound(meter, what, error, start, found, readings)


def _readings(
    work: Workplace, session: Session, meter: str, item: str | None, error: Number, start: date, found: date
) -> Iterator[Endangered]:
    percent = error.in_unit("%")
    q = shop_inquiry(work, session, [meter])

    def is_read(quantity: str) -> bool:
        """Whether the channel that was found wrong reads a quantity."""
        return item is None or any(r.fact.item == item for r in q.calibrations_of(meter, quantity))

    for recorded in about(session, f.ReadingRecorded, meter):
        fact = recorded.fact
        on = recorded.when.local.date()
        if (
            fact.meter != meter
            or fact.quantity not in _LIMITS
            or not is_read(fact.quantity)
            or not start <= on <= found
        ):
            continue
        limit, least = _limit(work, session, fact.quantity)
        if limit is not None:
            rests = _rests_on(work, session, recorded)
            at = limit_for(q, recorded, limit, high_is_bad=not least).at  # with its guard band, where that is known
            yield _one(recorded, fact.object, fact.quantity, fact.value, limit, least, percent, start, found, rests, at)
    for residual in about(session, f.ResidualRead, meter) if is_read(RESIDUAL) else ():
        on = residual.when.local.date()
        limit, least = _residual_limit(work, session)
        if limit is not None and residual.fact.meter == meter and start <= on <= found:
            value, name = residual.fact.value, f"{residual.fact.inspection} {residual.fact.point}"
            rests = (residual.fact.inspection,)
            size = Number(value.typed.lstrip("+-"), value.unit)  # the sign is the direction of the field
            yield _one(residual, name, RESIDUAL, size, limit, least, percent, start, found, rests)
    has_ammeter = any(r.fact.item == AMMETER for r in q.facts.of(f.CalibrationRecorded, meter))
    if item == AMMETER or (is_read(CURRENT) and not (item and has_ammeter)):
        yield from _pulses(work, session, meter, percent, start, found)


def _pulses(
    work: Workplace, session: Session, bench: str, percent: Fraction, start: date, found: date
) -> Iterator[Endangered]:
    """Currents of a bench whose ammeter was wrong, against the technique's current."""
    for shot in about(session, f.ShotFired, bench):
        on = shot.when.local.date()
        if shot.fact.bench != bench or not start <= on <= found:
            continue
        opened = about(session, f.InspectionOpened, shot.fact.inspection)[-1].fact
        technique = work.technique(session, opened.technique, opened.technique_revision)
        nominal = next((each for each in technique.shots if each.shot == shot.fact.shot), None)
        procedure = work.procedure(session, opened.procedure, opened.procedure_revision)
        tolerance = procedure.parameters.get("amps_tolerance")
        if nominal is None or tolerance is None or not isinstance(tolerance.value, Number):
            continue
        room = abs(nominal.amps.value) * tolerance.value.in_unit("%") / PERCENT
        for pulse in shot.fact.pulses:
            if pulse.amps is None:
                continue
            read = pulse.amps.in_unit(nominal.amps.unit)
            worst, linear = _corrected(read, percent, start, on, found)
            inside = [abs(each - nominal.amps.value) <= room for each in (read, worst, linear)]
            yield Endangered(
                f"{shot.fact.inspection} shot {shot.fact.shot}",
                CURRENT,
                shot.when,
                shot.position,
                read,
                worst,
                linear,
                nominal.amps.unit,
                f"{nominal.amps} +/- {tolerance.value}",
                inside[0],
                inside[1],
                inside[2],
                (shot.fact.inspection,),
            )


def _one(
    recorded: Recorded[f.Fact] | Recorded[f.ReadingRecorded] | Recorded[f.ResidualRead],
    name: str,
    quantity: str,
    value: Number,
    limit: Number,
    least: bool,
    percent: Fraction,
    start: date,
    found: date,
    inspections: tuple[str, ...],
    at: Fraction | None = None,
) -> Endangered:
    read, counts = value.in_unit(limit.unit), limit.value if at is None else at
    worst, linear = _corrected(read, percent, start, recorded.when.local.date(), found)
    holds = [each >= counts if least else each <= counts for each in (read, worst, linear)]
    band = "" if counts == limit.value else f", with its guard band {shown(counts, limit.unit)}"
    return Endangered(
        name,
        quantity,
        recorded.when,
        recorded.position,
        read,
        worst,
        linear,
        limit.unit,
        f"{'least' if least else 'most'} {limit}{band}",
        holds[0],
        holds[1],
        holds[2],
        inspections,
    )


def _corrected(read: Fraction, percent: Fraction, start: date, on: date, found: date) -> tuple[Fraction, Fraction]:
    return (
        meter_correction.worst_case(read, percent),
        meter_correction.linear_drift(read, percent, start, on, found),
    )


def _limit(work: Workplace, session: Session, quantity: str) -> tuple[Number | None, bool]:
    key, least = _LIMITS[quantity]
    try:
        return shop_inquiry(work, session, []).limit(key), least
    except (Missing, NotFound):
        return None, least


def _residual_limit(work: Workplace, session: Session) -> tuple[Number | None, bool]:
    try:
        return shop_inquiry(work, session, [], method=Method.MT).limit("residual_max"), False
    except (Missing, NotFound):
        return None, False


def _rests_on(work: Workplace, session: Session, reading: Recorded[f.ReadingRecorded]) -> tuple[str, ...]:
    """The records that used what was read, between the reading before and the one after of the same kind."""
    fact = reading.fact
    same = [
        r
        for r in about(session, f.ReadingRecorded, fact.object)
        if (r.fact.object, r.fact.quantity) == (fact.object, fact.quantity) and r.position != reading.position
    ]
    before = [r.when for r in same if r.at < reading.at]
    after = [r.when for r in same if r.at > reading.at]
    until = after[0] if after else work.now()
    return recall_set(session, fact.object, before[-1] if before else None, until).inspections
