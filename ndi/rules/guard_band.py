"""The guard band: a limit moved inwards by the uncertainty of what was read, where the procedure has one.

The uncertainty is that of the certificate in force when the reading was taken:
a share of the limit, a width in the unit of the readings, or both, which then
add up.  A share says nothing for a temperature, whose zero is a convention.

What lies beyond the plain limit fails whatever the uncertainty is.  What lies
within it cannot be judged while the uncertainty is not known: NOT RECORDED.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from ndi.domain import facts as f
from ndi.domain.answer import Verdict
from ndi.domain.entry import Recorded
from ndi.domain.outcome import Outcome, failed, not_recorded
from ndi.domain.quantity import PERCENT, Number, difference_unit, dimension, shown
from ndi.rules import basket as b
from ndi.rules.inquiry import Inquiry

KEY = "guard_band"

Reading = Recorded[f.ReadingRecorded]


@dataclass(frozen=True)
class Limit:
    """A limit as it counts for one reading: ``at``, in the unit it was asked in.

    ``unknown`` is the outcome where the guard band is not known; ``at`` is then
    the plain limit, and what it does not break is not judged.
    """

    at: Fraction
    text: str
    high_is_bad: bool
    unknown: Outcome | None = None

    def is_broken_by(self, value: Fraction) -> bool:
        """What is exactly at the limit is within it."""
        return value > self.at if self.high_is_bad else value < self.at


def limit_for(
    q: Inquiry, reading: Reading, number: Number, *, high_is_bad: bool = False, unit: str | None = None
) -> Limit:
    """A limit of the procedure for one reading, in ``unit`` (else in its own)."""
    read: tuple[object, ...] = ()
    if q.says_yes(KEY):  # else the limit is the same for every reading
        read = reading.fact.meter or reading.fact.object, reading.fact.quantity, reading.when.local.date()
    asked = number, high_is_bad, unit, *read
    limit = q.once(lambda: _limit_for(q, reading, number, high_is_bad, unit or number.unit), "guard band", *asked)
    if limit.unknown is None:
        return limit
    return Limit(limit.at, limit.text, high_is_bad, _unknown(reading))  # the reading that is asked about, not the first


def _limit_for(q: Inquiry, reading: Reading, number: Number, high_is_bad: bool, unit: str) -> Limit:
    words, plain = "at most" if high_is_bad else "at least", number.in_unit(unit)
    if not q.says_yes(KEY):
        return Limit(plain, f"{words} {number}", high_is_bad)
    held = _certificate(q, reading)
    width = None if held is None else _width(held, number, unit)
    if held is None or width is None:
        return Limit(plain, f"{words} {number}, guard band not known", high_is_bad, _unknown(reading))
    at = plain - width if high_is_bad else plain + width
    return Limit(at, f"{words} {shown(at, unit)} ({number} and guard band {_in_words(held)})", high_is_bad)


def _certificate(q: Inquiry, reading: Reading) -> f.CalibrationRecorded | None:
    """The last certificate, on the day of the reading, of its meter (of the object itself where none is named)."""
    on = reading.when.local.date()
    held = q.calibrations_of(reading.fact.meter or reading.fact.object, reading.fact.quantity)
    latest = max((r for r in held if r.fact.done <= on), key=lambda r: (r.fact.done, r.position), default=None)
    return None if latest is None else latest.fact


def _width(held: f.CalibrationRecorded, number: Number, unit: str) -> Fraction | None:
    """How far a limit moves, in ``unit``; None where the certificate does not say it for such a quantity."""
    percent, width, differences = held.uncertainty_percent, held.uncertainty, difference_unit(unit)
    if percent is None and width is None:
        return None
    if (width is not None and dimension(width.unit) != dimension(differences)) or (
        percent is not None and differences != unit
    ):
        return None
    # a sign typed with an uncertainty ("-5 %") never moves a limit outwards
    share = Fraction(0) if percent is None else abs(number.in_unit(unit) * percent.in_unit("%") / PERCENT)
    return share + (Fraction(0) if width is None else abs(width.in_unit(differences)))


def _in_words(held: f.CalibrationRecorded) -> str:
    said = [shown(abs(n.value), n.unit) for n in (held.uncertainty_percent, held.uncertainty) if n is not None]
    return " and ".join(said)


def _unknown(reading: Reading) -> Outcome:
    meter = reading.fact.meter or f"the meter of {reading.fact.object}"
    kind = " in degrees" if difference_unit(reading.fact.value.unit) != reading.fact.value.unit else ""
    return not_recorded(
        f"{reading.fact.object} at {reading.when.clock()}: uncertainty of {meter}{kind} not recorded, "
        "the limit with its guard band is not known",
        "enter the uncertainty from the meter's certificate",
        used=[reading],
    )


def bounded(
    q: Inquiry,
    reading: Reading,
    what: str,
    value: Fraction,
    unit: str,
    *ways_out: str,
    least: Number | None = None,
    most: Number | None = None,
    used: b.Used = (),
) -> Outcome:
    """:func:`basket.bounded` of something that was read: against its limits, each with its guard band."""
    plain = b.bounded(what, value, unit, *ways_out, least=least, most=most, used=used)
    if plain.verdict is Verdict.FAIL or not q.says_yes(KEY):
        return plain
    ends = [(number, high) for number, high in ((least, False), (most, True)) if number is not None]
    limits = [limit_for(q, reading, number, high_is_bad=high, unit=unit) for number, high in ends]
    text = ", ".join(limit.text for limit in limits)
    for limit in limits:
        if limit.unknown is not None:
            return limit.unknown
        if limit.is_broken_by(value):
            side = "above" if limit.high_is_bad else "below"
            says = f"{plain.found} is {side} {shown(limit.at, unit)}"
            return failed(says, *ways_out, found=plain.found, limit=text, used=used)
    return Outcome(plain.verdict, plain.found, text, facts=plain.facts)
