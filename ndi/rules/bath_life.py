"""How long a bath has been in use (M36)."""

from __future__ import annotations

from datetime import timedelta

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.moment import Moment
from ndi.domain.outcome import Outcome, failed, not_recorded, passed
from ndi.rules.inquiry import Inquiry, Shot
from ndi.rules.light import days
from ndi.rules.registry import rule
from ndi.rules.wet_bath import each_shot_in_bath


@rule("M36", "Was the bath not used longer than it may be?", "bath_age_max")
def m36_bath_not_too_old(q: Inquiry) -> Outcome:
    most = q.minutes("bath_age_max")

    def ask(shot: Shot, bath: str) -> Outcome:
        begun = bath_begun(q, shot.fired.fact.bench, shot.fired.when)
        if begun is None:
            return not_recorded(
                f"{bath}: its filling into {shot.fired.fact.bench} is not recorded",
                "enter when the bench was filled, and with what",
                used=[shot.fired],
            )
        age = days(shot.fired.when) - days(begun.when)
        found, limit = f"{bath} in use for {days_text(age)}", f"at most {q.limit('bath_age_max')}"
        if age > most:
            return failed(
                f"{found}, since {begun.when.local.date()}",
                "change the bath",
                "give the reason why it still serves",
                found=found,
                limit=limit,
                used=[begun, shot.fired],
            )
        return passed(found, limit, [begun, shot.fired])

    return each_shot_in_bath(q, ask)


def bath_begun(q: Inquiry, bench: str, at: Moment) -> Recorded[f.TankFilled] | None:
    """The filling with which the bath in a bench at a moment began; topping up keeps part of what was in it."""
    fillings = [r for r in q.facts.of(f.TankFilled, bench) if r.at <= at.at]
    if not fillings:
        return None
    begun, inside = fillings[-1], set(fillings[-1].fact.batches)
    for earlier in reversed(fillings[:-1]):
        if not inside & set(earlier.fact.batches):
            break
        begun, inside = earlier, inside | set(earlier.fact.batches)
    return begun


def days_text(age: timedelta) -> str:
    return f"{age.days} d"
