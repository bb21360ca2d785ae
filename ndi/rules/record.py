"""What rules of identity, authority and evidence share about one record: who did what, and what came first.

These functions put facts in order; they judge nothing but the order of a tick and an event.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.outcome import Missing, Outcome, failed, not_recorded, passed
from ndi.domain.vocabulary import Step
from ndi.rules.inquiry import Inquiry

STANDING_KEYS = (
    "uv_min",
    "guard_band",
    "uv_distance",
    "uv_distance_tolerance",
    "lamp_gap_max",
)  # tell which second looks stand
CLEANING_STEPS = (Step.PRECLEAN, Step.ETCH, Step.POSTCLEAN, Step.PRESERVE)  # cleaners' work, no certificate needed

Entry = Recorded[f.Fact]
Start = Recorded[f.StepStarted | f.ShotFired | f.ViewStarted]
Work = Recorded[f.StepStarted | f.StepEnded | f.ShotFired]


def doer(recorded: Entry) -> str:
    """Who did it: the person on whose behalf it was copied in, else who recorded it."""
    return recorded.on_behalf_of or recorded.by


def baskets(q: Inquiry) -> list[str]:
    """Every basket that the record went through, by attempt."""
    return [load.fact.basket for load in q.basket_loads]


def first_step(q: Inquiry) -> Start | None:
    """The first thing done on the record in any attempt: a step, a shot or a view."""
    starts = [r for key in (q.inspection, *baskets(q)) for r in q.facts.of(f.StepStarted, key)]
    every: list[Start] = [*starts, *(shot.fired for shot in q.shots), *(view.started for view in q.all_views)]
    return min(every, key=lambda r: (r.at, r.position), default=None)


def need_first_step(q: Inquiry) -> Start:
    """:func:`first_step`; Missing when nothing was done yet."""
    found = first_step(q)
    if found is None:
        raise Missing("no step of this record has a start", ["scan the first step"], [q.opened.position])
    return found


def first_process_step(q: Inquiry) -> Start | None:
    """The first step of the current attempt after cleaning."""
    starts = [r for key in (q.inspection, *baskets(q)[-1:]) for r in q.facts.of(f.StepStarted, key)]
    views = [view.started for view in q.all_views if view.started.fact.attempt == q.attempt]
    steps = [r for r in starts if r.fact.step not in CLEANING_STEPS]
    every: list[Start] = [*steps, *(shot.fired for shot in q.shots), *views]
    return min(every, key=lambda r: (r.at, r.position), default=None)


def processing(q: Inquiry) -> list[Work]:
    """Shots, and starts and ends of the current attempt's steps that are not cleaners' work."""
    keys = [q.inspection, *baskets(q)[-1:]]
    steps: list[Recorded[f.StepStarted | f.StepEnded]] = []
    for key in keys:
        steps += [*q.facts.of(f.StepStarted, key), *q.facts.of(f.StepEnded, key)]
    return [*(r for r in steps if r.fact.step not in CLEANING_STEPS), *(shot.fired for shot in q.shots)]


def signed(q: Inquiry) -> Recorded[f.DecisionSigned] | None:
    """The decision that the question is about, once it is signed; None while it is still to be signed, or undone since."""
    decisions = q.facts.of(f.DecisionSigned, q.inspection)
    if q.decided is not None:
        decided = q.decided.at
        return next((r for r in reversed(decisions) if r.at == decided), None)
    if q.decider is not None or q.disposition is not None or not decisions:
        return None
    undone = any(r.position > decisions[-1].position for r in q.facts.of(f.DecisionUndone, q.inspection))
    return None if undone else decisions[-1]


def about_to_sign(q: Inquiry) -> bool:
    """Whether somebody wants to sign now."""
    return q.decided is None and (q.decider is not None or q.disposition is not None)


def ticks(q: Inquiry, item: str, abouts: Iterable[str]) -> list[Recorded[f.ConfirmationGiven]]:
    """Every tick for an item on the given keys, by time."""
    found = [r for about in abouts for r in q.facts.of(f.ConfirmationGiven, about) if r.fact.item == item]
    return sorted(found, key=lambda r: (r.at, r.position))


def ticked_before(
    given: Sequence[Recorded[f.ConfirmationGiven]], item: str, event: Entry | None, name: str, way: str
) -> Outcome:
    """Whether the last tick not later than ``event`` (called ``name``) says yes; a tick only after it is too late."""
    if not given:
        return not_recorded(f"{item} not ticked", way, used=[event])
    timely = [r for r in given if event is None or r.at <= event.at]
    if event is not None and not timely:
        late, begun = given[0].when.clock(), event.when.clock()
        return failed(
            f"{item} ticked at {late}, after {name} at {begun}",
            way,
            found=late,
            limit=f"before {begun}",
            used=[given[0], event],
        )
    last = timely[-1]
    if last.fact.value != "yes":
        return failed(f"{item}: {last.fact.value} at {last.when.clock()}", way, used=[last, event])
    return passed(f"{item} {last.when.clock()}", used=[last, event])
