"""What a reading, a check, a calibration or a certificate puts in doubt when it is bad: which object, since which good one.

The same answer is given for an entry that is bad and for one that is only
supposed to be: ``what_if`` opens nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, time, timedelta
from typing import cast

from ndi.domain import facts as f
from ndi.domain.answer import Verdict
from ndi.domain.entry import Recorded
from ndi.domain.errors import InputError, NotFound
from ndi.domain.moment import Moment
from ndi.domain.outcome import Missing, Outcome
from ndi.domain.vocabulary import Method, Quantity
from ndi.rules import checking, light, penetrant_line, process_checks, wet_bath
from ndi.rules.inquiry import Inquiry
from ndi.services.bearing import lines_with
from ndi.services.lookup import about
from ndi.services.ports import Session
from ndi.services.shop_inquiry import shop_inquiry
from ndi.services.workplace import Workplace

Reading = Recorded[f.ReadingRecorded]


@dataclass(frozen=True)
class Trigger:
    """``objects`` are relied upon under several names (a dryer is relied upon as its line); the first is the one named.

    ``next_good``: the first good one after it.  An entry that is found bad only
    afterwards was relied upon until then; one that was bad when it was taken, until it was taken.
    """

    object: str
    quantity: str
    last_good: Moment | None
    first_bad: Moment
    objects: tuple[str, ...]
    next_good: Moment | None = None

    def believed_until(self, now: Moment) -> Moment:
        """Until when an entry that was taken for good was relied upon."""
        return self.next_good or now


# --- readings of materials and gauges -----------------------------------------------------------------

_MET: dict[str, Callable[[Inquiry, Reading], Outcome]] = {
    Quantity.SPECKS: lambda q, r: penetrant_line.specks_outcome(r, q.limit("specks_max")),
    Quantity.REMOVER_CONCENTRATION: checking.remover_is_right,
    Quantity.WATER_CONTENT: lambda q, r: checking.within(q, r, most="water_content_max"),
    Quantity.BRIGHTNESS: lambda q, r: checking.within(q, r, least="brightness_min"),
    Quantity.WATER_TEMPERATURE: lambda q, r: _gauge(q, r),
    Quantity.WATER_PRESSURE: lambda q, r: _gauge(q, r),
    Quantity.DRYER_TEMPERATURE: lambda q, r: _gauge(q, r),
}


def _gauge(q: Inquiry, reading: Reading) -> Outcome:
    return checking.within(q, reading, guarded=True, **process_checks.GAUGE_LIMITS[reading.fact.quantity])


def _material_verdict(work: Workplace, session: Session, reading: Reading) -> Verdict | None:
    """Whether a reading of the penetrant line is met by a procedure in force; None where none sets a limit for it."""
    met = _MET.get(reading.fact.quantity)
    if met is None:
        return None
    for q in _penetrant_inquiries(work, session, reading):
        if reading.fact.quantity == Quantity.REMOVER_CONCENTRATION and not q.facts.of(
            f.BatchEntered, reading.fact.object
        ):
            return None
        try:
            return met(q, reading).verdict
        except Missing:
            continue
    return None


def _penetrant_inquiries(work: Workplace, session: Session, reading: Reading) -> Iterable[Inquiry]:
    """One inquiry for each penetrant procedure in force: a limit may stand in only one of them."""
    try:
        base = shop_inquiry(work, session, [reading.fact.object, reading.fact.meter], method=Method.PT)
    except NotFound:
        return
    today = work.now().local.date()
    for procedure in work.procedures(session):
        ended = procedure.effective_to is not None and procedure.effective_to < today
        if procedure.method == Method.PT and procedure.effective_from <= today and not ended:
            yield replace(base, procedure=procedure)


def failed_material(work: Workplace, session: Session, reading: Reading) -> Trigger | None:
    """The trigger of a reading of specks, remover, water, dryer, water content or brightness that is out of limits."""
    if _material_verdict(work, session, reading) is not Verdict.FAIL:
        return None
    return trigger_of(work, session, cast("Recorded[f.Fact]", reading))


# --- any entry ----------------------------------------------------------------------------------------


def trigger_of(work: Workplace, session: Session, recorded: Recorded[f.Fact]) -> Trigger:
    """What would be in doubt if this entry were bad; InputError for an entry that nothing relies upon."""
    fact = recorded.fact
    if isinstance(fact, f.ReadingRecorded):
        return _of_reading(work, session, cast("Reading", recorded))
    if isinstance(fact, f.ProcessCheckRecorded):
        passed = [
            r
            for r in about(session, f.ProcessCheckRecorded, fact.object)
            if r.fact.check == fact.check and r.fact.passed and r.position != recorded.position
        ]
        return _trigger(session, fact.line or fact.object, fact.check, passed, recorded.when)
    if isinstance(fact, f.CalibrationRecorded):
        return _of_calibration(work, session, cast("Recorded[f.CalibrationRecorded]", recorded))
    if isinstance(fact, (f.CertificateEntered, f.VisionExamEntered, f.AuthorisationEntered)):
        what = {f.CertificateEntered: "certificate", f.VisionExamEntered: "vision examination"}.get(
            type(fact), "authorisation"
        )
        begun = getattr(fact, "issued", None) or getattr(fact, "examined", None) or getattr(fact, "valid_from", None)
        good = _day_begins(work, begun) if begun else None
        return Trigger(fact.person, what, good, work.now(), (fact.person,))
    if isinstance(fact, f.BatchEntered):
        return Trigger(fact.batch, f"batch of {fact.material}", None, work.now(), (fact.batch,))
    raise InputError(
        f"entry {recorded.position} is {type(fact).__name__}: "
        "only a reading, check, calibration, certificate, examination or batch puts records in doubt"
    )


def _of_calibration(work: Workplace, session: Session, recorded: Recorded[f.CalibrationRecorded]) -> Trigger:
    """Doubt of a meter or bench: since the calibration before, and until the one after."""
    fact = recorded.fact
    days = [
        r.fact.done
        for r in about(session, f.CalibrationRecorded, fact.equipment)
        if r.fact.equipment == fact.equipment and r.fact.item == fact.item and r.position != recorded.position
    ]
    before = max((day for day in days if day < fact.done), default=None)
    after = min((day for day in days if day > fact.done), default=None)
    return Trigger(
        fact.equipment,
        f"calibration of {fact.item}",
        _day_begins(work, before) if before else None,
        recorded.when,
        (fact.equipment,),
        _day_begins(work, after) if after else None,
    )


def _of_reading(work: Workplace, session: Session, reading: Reading) -> Trigger:
    fact = reading.fact
    if fact.quantity == Quantity.UV_A:
        q = shop_inquiry(work, session, [fact.object, fact.meter])
        good = [
            r
            for r in q.as_found(fact.object, Quantity.UV_A)
            if r.position != reading.position and light.is_comparable(q, r) and light.is_in_limits(q, r)
        ]
    elif fact.quantity == Quantity.PARTICLE_VOLUME:
        q = shop_inquiry(work, session, [fact.object], method=Method.MT)
        good = [
            r
            for r in q.readings(fact.object, Quantity.PARTICLE_VOLUME)
            if r.position != reading.position and wet_bath.volume_outcome(q, r).verdict is Verdict.PASS
        ]
    else:
        good = [
            r
            for r in about(session, f.ReadingRecorded, fact.object)
            if (r.fact.object, r.fact.quantity) == (fact.object, fact.quantity)
            and r.position != reading.position
            and _material_verdict(work, session, r) in (Verdict.PASS, None)
        ]
    return _trigger(session, fact.object, fact.quantity, good, reading.when)


def _trigger(
    session: Session, object_: str, quantity: str, good: Iterable[Recorded[f.Fact]], first_bad: Moment
) -> Trigger:
    """``good`` holds every good one of its kind, before and after, not the one in doubt."""
    known = sorted(good, key=lambda r: (r.at, r.position))
    before = [r for r in known if r.at < first_bad.at]
    after = [r for r in known if r.at > first_bad.at]
    return Trigger(
        object_,
        quantity,
        before[-1].when if before else None,
        first_bad,
        (object_, *lines_with(session, object_)),
        after[0].when if after else None,
    )


def _day_begins(work: Workplace, day: object) -> Moment:
    """The first instant of a local day."""
    offset = work.now().offset_min
    start = datetime.combine(day, time(), UTC) - timedelta(minutes=offset)  # type: ignore[arg-type]
    return Moment(start, offset)


# --- certificates -------------------------------------------------------------------------------------


def cover_lost(old: f.Fact, new: f.Fact) -> bool:
    """Whether a corrected certificate or examination covers less than the one it corrects."""
    if type(old) is not type(new):
        return False
    if isinstance(old, f.CertificateEntered) and isinstance(new, f.CertificateEntered):
        lower = new.level < old.level or new.method != old.method
        return lower or new.issued > old.issued or new.expires < old.expires
    if isinstance(old, f.VisionExamEntered) and isinstance(new, f.VisionExamEntered):
        return new.examined > old.examined or new.expires < old.expires
    return False
