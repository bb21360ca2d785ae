"""Recall: from a bad reading to the frozen set of everything that relied on the object since the last in-limit one."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import cast

from ndi.domain import dispositions
from ndi.domain import facts as f
from ndi.domain.entry import Draft, Obtained, Recorded
from ndi.domain.errors import NotFound
from ndi.domain.moment import Moment
from ndi.domain.vocabulary import Method, ViewKind
from ndi.rules.penetrant_developing import re_view_possible
from ndi.services.assemble import inquiry_for
from ndi.services.deciding import reconsider
from ndi.services.leaving import leaves_for
from ndi.services.lookup import about, every
from ndi.services.ports import Reliance, Session
from ndi.services.recall_reach import Scope, scope_of, windows, within, worked
from ndi.services.rejected_pieces import wholly_gone
from ndi.services.workplace import Workplace

# places from which a part must be brought back before anything else can be done; what is shipped is the owner's to hold back
GONE = frozenset({"assembly", "stores"})
SHIPPED = "shipped"
RETRIEVE, NOTIFY, NOTHING = "retrieve", "notify", "none"

# a set that holds no record is kept under a name of its own series: the numbers of the others run without gaps
_EMPTY = "CT-E"


@dataclass(frozen=True)
class RecallSet:
    """What relied on an object in a doubt interval."""

    inspections: tuple[str, ...]
    second_looks: tuple[str, ...]
    pieces: int


def recall_set(
    session: Session,
    object_: str,
    last_good: Moment | None,
    first_bad: Moment,
    also: Iterable[str] = (),
    scope: Scope | None = None,
) -> RecallSet:
    """Inspections and second looks that relied on ``object_`` in (last good, first bad]; pieces counted once.

    ``also``: other names under which it was relied upon, like the line of a dryer;
    a meter is relied upon through what was read with it.
    """
    since = last_good.at if last_good else None
    reach = windows(session, object_, since, first_bad.at, also)
    uses = [use for each in reach for use in session.reliances(each.name, each.since, each.until)]
    uses = within(session, [*uses, *worked(session, object_, since, first_bad.at)], scope)
    uses = [use for use in uses if not (use.some_voided and _voided(session, use))]
    second = tuple(dict.fromkeys(use.what for use in uses if use.kind == ViewKind.SECOND_LOOK))
    pieces: dict[str, int] = {}
    for use in uses:
        part = use.part or session.inspection(use.inspection).part  # NotFound for a record that the book does not hold
        pieces[part] = max(pieces.get(part, 0), use.quantity)
    return RecallSet(tuple(sorted({use.inspection for use in uses})), second, sum(pieces.values()))


def _voided(session: Session, use: Reliance) -> bool:
    return any(r.fact.attempt == use.attempt for r in about(session, f.AttemptVoided, use.inspection))


def open_containment(
    work: Workplace,
    session: Session,
    object_: str,
    quantity: str,
    trigger: Recorded[f.Fact],
    last_good: Moment | None,
    *,
    also: Iterable[str] = (),
    first_bad: Moment | None = None,
    by: str | None = None,
    why: str | None = None,
) -> f.ContainmentOpened:
    """Freeze the recall set of a bad reading and suspend what the answers no longer carry.

    Called inside the transaction that records the reading, so that no moment
    exists in which the lamp is bad and its parts are accepted.  ``first_bad``:
    another end than the trigger's own time; ``by`` and ``why``: a person opened it.
    """
    until = first_bad or trigger.when
    found = recall_set(session, object_, last_good, until, also, scope_of(trigger.fact))
    opened = f.ContainmentOpened(
        _next_name(session, empty=not found.inspections),
        object_,
        quantity,
        trigger.position,
        last_good,
        until,
        found.inspections,
        found.second_looks,
        found.pieces,
    )
    how = Obtained.COMPUTED if by is None else Obtained.TIMER
    session.append([Draft(opened, work.now(), by or work.computed_by, how, why=why)])
    reconsider(work, session, found.inspections, trigger.position)
    session.append([_proposal(work, session, opened)])
    return opened


def _next_name(session: Session, *, empty: bool) -> str:
    """``CT-03``, or ``CT-E02`` for a set without a record: nobody looks for work in it, and no number is missing."""
    names = [r.fact.containment for r in every(session, f.ContainmentOpened)]
    of_kind = [name for name in names if name.startswith(_EMPTY) is empty]
    return f"{_EMPTY if empty else 'CT-'}{len(of_kind) + 1:02d}"


def containment(session: Session, name: str) -> Recorded[f.ContainmentOpened]:
    """The containment of this name; NotFound."""
    for recorded in about(session, f.ContainmentOpened, name):
        return recorded
    raise NotFound(f"no containment {name} is open in this book")


def propose_actions(work: Workplace, name: str) -> f.ContainmentActionsProposed:
    """The cheapest lawful action for each item as things stand now; kept with the containment."""
    with work.transaction() as session:
        opened = containment(session, name).fact
        draft = _proposal(work, session, opened)
        session.append([draft])
        return cast("f.ContainmentActionsProposed", draft.fact)


def _proposal(work: Workplace, session: Session, opened: f.ContainmentOpened) -> Draft:
    done = {r.fact.inspection for r in about(session, f.ContainmentItemDone, opened.containment)}
    actions = tuple(
        cheapest_action(work, session, inspection) for inspection in opened.inspections if inspection not in done
    )
    return Draft(
        f.ContainmentActionsProposed(opened.containment, actions), work.now(), work.computed_by, Obtained.COMPUTED
    )


def cheapest_action(work: Workplace, session: Session, inspection: str) -> f.ContainmentAction:
    """Retrieve what is gone; look again where the developer still allows it and nobody touched it; else process again."""
    row = session.inspection(inspection)
    part = session.part(row.part)
    left, place = wholly_gone(session, part), part.place
    if left == dispositions.SCRAP:
        return f.ContainmentAction(inspection, NOTHING, "scrapped: no engine gets it")
    if left:
        return f.ContainmentAction(inspection, NOTIFY, f"{left}: the owner is told")
    out = leaves_for(place or "")  # however the place is written
    if out == SHIPPED:
        return f.ContainmentAction(inspection, NOTIFY, "shipped: the owner is told, and holds it back")
    if out in GONE:
        return f.ContainmentAction(inspection, RETRIEVE, f"at {place}")
    if row.method != Method.PT:
        return f.ContainmentAction(
            inspection, "reprocess", "magnetic-particle indications do not outlast the bench: shoot and view again"
        )
    possible = re_view_possible(inquiry_for(work, session, inspection), work.now())
    if possible.verdict == "PASS":
        return f.ContainmentAction(inspection, "re-view", possible.found)
    return f.ContainmentAction(inspection, "reprocess", possible.says)


def latest_actions(session: Session, name: str) -> dict[str, f.ContainmentAction]:
    """The action proposed last for each item of a containment."""
    found: dict[str, f.ContainmentAction] = {}
    for recorded in about(session, f.ContainmentActionsProposed, name):
        found.update({action.inspection: action for action in recorded.fact.actions})
    return found


def all_containments(session: Session) -> list[Recorded[f.ContainmentOpened]]:
    """Every containment, as they were opened."""
    return sorted(every(session, f.ContainmentOpened), key=lambda r: r.position)
