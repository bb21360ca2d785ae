"""Undo: an entry that somebody just made by mistake is taken away again, by an entry that says so.

Nothing is deleted.  Only what nobody signed on yet is undone, soon, and by the
person who entered it; later it is corrected with a reason.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from typing import Any, cast

from ndi.domain import facts as f
from ndi.domain.entry import Draft, Obtained, Recorded
from ndi.domain.errors import NotFound
from ndi.services.bearing import bearing_on, records_named
from ndi.services.deciding import reconsider
from ndi.services.ports import Session
from ndi.services.workplace import Refused, Workplace

UNDO_WITHIN = timedelta(minutes=10)
_LOOK_BACK = 400  # entries of the book that are looked at, from its end, for the last of a person

# what may be taken away: said by one person about work in progress, with nothing else drawn from it
UNDOABLE: tuple[type[f.Fact], ...] = (
    f.BasketLoaded,
    f.BathSampled,
    f.BoothClosed,
    f.ConfirmationGiven,
    f.Demagnetised,
    f.EquipmentSwitched,
    f.IndicationEvaluated,
    f.IndicationInterpreted,
    f.IndicationSeen,
    f.IndicationTested,
    f.PartMoved,
    f.PhotographAnnotated,
    f.PhotographMeasured,
    f.PieceTimed,
    f.PlugsCounted,
    f.ReasonGiven,
    f.ResidualRead,
    f.ShotFired,
    f.StepEnded,
    f.StepObserved,
    f.StepStarted,
    f.ViewEnded,
    f.ViewStarted,
)
# what goes on from an entry: once one of these is there, later and about the same thing, the entry is not undone
_GOES_ON: dict[type[f.Fact], tuple[type[f.Fact], ...]] = {
    f.BasketLoaded: (f.StepStarted, f.AttemptVoided),
    f.IndicationInterpreted: (f.IndicationEvaluated,),
    f.IndicationSeen: (
        f.IndicationTested,
        f.IndicationInterpreted,
        f.IndicationEvaluated,
        f.PhotoAttached,
        f.PhotographMeasured,
    ),
    f.StepStarted: (f.StepEnded,),
    f.ViewEnded: (f.SecondLookSaved,),
    f.ViewStarted: (f.ViewEnded, f.IndicationSeen, f.SecondLookSaved),
}


def last_of(work: Workplace, session: Session, person: str) -> Recorded[f.Fact] | None:
    """The latest entry of a person that may still be undone, or None."""
    now = work.now()
    for recorded in _backwards(session):
        if now.at - recorded.recorded_at > UNDO_WITHIN:
            return None
        if recorded.by != person or not isinstance(recorded.fact, UNDOABLE):
            continue
        if session.is_superseded(recorded.position):
            continue
        return recorded
    return None


def _backwards(session: Session) -> Iterator[Recorded[f.Fact]]:
    end = session.head().position
    for position in range(end, max(0, end - _LOOK_BACK), -1):
        try:
            yield session.entry(position)
        except NotFound:
            return


def undo_last(work: Workplace, person: str) -> Recorded[f.Fact]:
    """Take the person's latest entry away; returns that entry.  Refused when there is none, or a signature rests on it."""
    with work.act("undo", person, person) as session:
        old = last_of(work, session, person)
        if old is None:
            raise Refused(
                (),
                f"{person} entered nothing in the last {UNDO_WITHIN.seconds // 60} min that can be undone: correct it with a reason",
            )
        _refuse_signed(session, old)
        _refuse_with_dependents(session, old)
        fact = f.EntryWithdrawn(type(old.fact).__name__, old.position, old.fact.subjects())
        draft = Draft(fact, work.now(), person, Obtained.TIMER, supersedes=old.uid, why="undone at once")
        (recorded,) = session.append([draft])
        reconsider(work, session, bearing_on(session, cast("Recorded[Any]", old)), recorded.position)
        return old


def _refuse_signed(session: Session, old: Recorded[f.Fact]) -> None:
    for name in records_named(session, old.fact):
        try:
            row = session.inspection(name)
        except NotFound:
            continue
        if row.decision is not None:
            raise Refused(
                (), f"{name} is signed {row.disposition}: what it rests on is corrected with a reason, not undone"
            )


def _refuse_with_dependents(session: Session, old: Recorded[f.Fact]) -> None:
    for recorded in session.facts(_thing(old.fact), _GOES_ON.get(type(old.fact), ())):
        same_step = getattr(recorded.fact, "step", None) == getattr(old.fact, "step", None)
        if recorded.position > old.position and (same_step or not isinstance(old.fact, f.StepStarted)):
            raise Refused(
                (),
                f"{type(recorded.fact).__name__} of {recorded.by} at {recorded.when.clock()} goes on from it: undo or correct that first",
            )


def _thing(fact: f.Fact) -> str:
    """What later entries would be about: the record for a view, else the thing itself."""
    return fact.inspection if isinstance(fact, (f.ViewStarted, f.ViewEnded)) else fact.subjects()[0]
