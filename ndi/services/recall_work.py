"""Working a recall set off: opened from a bad entry, actions given to persons, done, closed by two signatures."""

from __future__ import annotations

from datetime import date

from ndi.domain import facts as f
from ndi.domain.entry import Draft, Recorded
from ndi.domain.errors import InputError
from ndi.services import covers
from ndi.services.containment import (
    NOTIFY,
    RETRIEVE,
    all_containments,
    cheapest_action,
    containment,
    open_containment,
)
from ndi.services.exceptions import LEVEL_THREE_ROLE, has_role
from ndi.services.lookup import about
from ndi.services.ports import Session
from ndi.services.proof import Meaning, Proof
from ndi.services.recall_contents import contents_in, done_items
from ndi.services.recall_triggers import trigger_of
from ndi.services.recording import check_known
from ndi.services.signing import require
from ndi.services.workplace import Refused, Workplace

ACTIONS = ("re-view", "reprocess", RETRIEVE, NOTIFY)
_QUALITY = "quality"


def recall_from(work: Workplace, position: int, person: str, reason: str) -> f.ContainmentOpened:
    """Open a containment from an entry that a person found to be bad afterwards.

    It was relied upon until the next good one of its kind, so the doubt goes on to
    there.  InputError when a containment was opened from it already.
    """
    if not reason.strip():
        raise InputError("say why the entry is taken to be bad")
    with work.act("recall", person, str(position)) as session:
        check_known(session, person)
        recorded = session.entry(position)
        before = [r.fact.containment for r in all_containments(session) if r.fact.trigger == position]
        if before:
            raise InputError(f"{before[0]} was opened from entry {position} already")
        found = trigger_of(work, session, recorded)
        return open_containment(
            work,
            session,
            found.object,
            found.quantity,
            recorded,
            found.last_good,
            also=found.objects,
            first_bad=found.believed_until(work.now()),
            by=person,
            why=reason,
        )


def assign(
    work: Workplace, name: str, inspection: str, person: str, due: date, by: str, *, action: str | None = None
) -> Recorded[f.Fact]:
    """Give an item's action to a person, with the day by which it is done."""
    with work.act("assign recall action", by, name) as session:
        check_known(session, by)
        check_known(session, person)
        item = _item(work, session, name, inspection)
        if due < work.now().local.date():
            raise InputError(f"{due} is past: give a day to come")
        what = action or item
        if what not in ACTIONS:
            raise InputError(f"{what!r} is no action of a recall: use {', '.join(ACTIONS)}")
        fact = f.ContainmentActionAssigned(name, inspection, what, person, due, by)
        (recorded,) = session.append([Draft(fact, work.now(), by)])
        return recorded


def action_done(
    work: Workplace, name: str, inspection: str, action: str, person: str, reference: str
) -> Recorded[f.Fact]:
    """The part was brought back, or its owner told; a look or a process again is done by the new decision."""
    if action not in (RETRIEVE, NOTIFY):
        raise InputError(
            f"{action}: it is done by signing the record anew; only {RETRIEVE} and {NOTIFY} are noted here"
        )
    if not reference.strip():
        raise InputError("name the letter, or where the part is now")
    with work.act("recall action done", person, name) as session:
        check_known(session, person)
        proposed = _item(work, session, name, inspection)
        if action == NOTIFY and proposed != NOTIFY:
            raise Refused((), f"{inspection} is not shipped: {proposed}")
        fact = f.ContainmentActionDone(name, inspection, action, person, reference)
        (recorded,) = session.append([Draft(fact, work.now(), person)])
        return recorded


def _item(work: Workplace, session: Session, name: str, inspection: str) -> str:
    """The action that an open item asks for as things stand; InputError for one that is not open."""
    opened = containment(session, name).fact
    if inspection not in opened.inspections:
        raise InputError(f"{inspection} is not in {name}")
    if inspection in done_items(session, name):
        raise InputError(f"{inspection} is done in {name} already")
    return cheapest_action(work, session, inspection).action


# --- closing ------------------------------------------------------------------------------------------


def closing_covers(work: Workplace, name: str) -> covers.Covers:
    """What both signatures of a closing cover: every item with how it was done, and the difference to the set as of now."""
    with work.look() as session:
        return _closing_covers(work, session, name)


def _closing_covers(work: Workplace, session: Session, name: str) -> covers.Covers:
    found = contents_in(work, session, name)
    return (
        f"CLOSE {name} {found.object}: {len(found.items)} records, {found.pieces} pieces",
        *(f"{item.inspection}: {item.done or 'OPEN'}" for item in found.items),
        f"in the set as of now and not in the frozen one: {', '.join(found.added) or 'none'}",
        f"in the frozen set only: {', '.join(found.gone) or 'none'}",
    )


def close(
    work: Workplace,
    name: str,
    level_three: str,
    quality: str,
    *,
    proof: Proof | None = None,
    quality_proof: Proof | None = None,
) -> Recorded[f.Fact]:
    """Close a containment: a Level III and another person of quality sign :func:`closing_covers`.

    Refused while an item is open, or a record of the recomputed set stands in no containment.
    """
    with work.act("close recall", level_three, name) as session:
        if about(session, f.ContainmentClosed, name):
            raise InputError(f"{name} is closed already")
        found = contents_in(work, session, name)
        shown = _closing_covers(work, session, name)
        first = require(work, session, proof, level_three, Meaning.APPROVED, shown)
        second = require(work, session, quality_proof, quality, Meaning.VERIFIED, shown)
        refuse_pair(work, session, level_three, quality)
        if found.open_items:
            raise Refused((), f"{name}: {', '.join(found.open_items)} still to do")
        added = [each for each in found.added if not _in_another(session, each, name)]
        if added:
            raise Refused(
                (), f"{name}: {', '.join(added)} came into the set since it was frozen: recall the entry anew for them"
            )
        fact = f.ContainmentClosed(
            name,
            level_three,
            quality,
            found.added,
            found.gone,
            first.proof,
            second.proof,
            first.meaning,
            first.covers,
        )
        (recorded,) = session.append([Draft(fact, work.now(), level_three)])
        return recorded


def refuse_pair(work: Workplace, session: Session, level_three: str, quality: str) -> None:
    """Refused unless one is Level III, the other is of quality, and they are two persons."""
    today = work.now().local.date()
    if level_three == quality:
        raise Refused((), f"{level_three} cannot sign twice: a Level III and another person of quality")
    if not any(has_role(session, level_three, LEVEL_THREE_ROLE, method, today) for method in ("MT", "PT")):
        raise Refused((), f"{level_three} holds no level 3 certificate")
    if not has_role(session, quality, _QUALITY, "", today):
        raise Refused((), f"{quality} is not of quality")


def _in_another(session: Session, inspection: str, name: str) -> bool:
    return any(
        r.fact.containment != name and inspection in r.fact.inspections
        for r in about(session, f.ContainmentOpened, inspection)
    )
