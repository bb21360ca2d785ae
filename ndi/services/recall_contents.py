"""What a recall set holds, down to where each piece is: views, second looks, child lots, parts, assemblies, engines."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from ndi.domain import facts as f
from ndi.domain.errors import NotFound
from ndi.domain.moment import Moment
from ndi.services.assemble import decision_in_force
from ndi.services.bearing import lines_with
from ndi.services.containment import SHIPPED, all_containments, cheapest_action, containment, latest_actions, recall_set
from ndi.services.lookup import about
from ndi.services.ports import Session
from ndi.services.recall_triggers import trigger_of
from ndi.services.workplace import Workplace

NOWHERE = "not scanned"


@dataclass(frozen=True)
class Item:
    """One record of a recall set."""

    inspection: str
    part: str
    part_no: str
    name: str  # serial number or lot
    pieces: int
    uses: tuple[str, ...]  # views, re-views, second looks, shots and baskets that relied on the object
    children: tuple[str, ...]  # shares of a lot that was split
    later: tuple[str, ...]  # records that rest on this one: re-inspections after rework
    state: str
    place: str
    engine: str  # model and serial number of the work order
    work_order: str
    action: str
    because: str
    assigned: f.ContainmentActionAssigned | None = None
    done: str = ""  # how, by whom

    @property
    def is_shipped(self) -> bool:
        return self.place == SHIPPED


@dataclass(frozen=True)
class Contents:
    """A recall set with its items, and how it differs from what the book says now."""

    name: str
    object: str
    quantity: str
    last_good: Moment | None
    first_bad: Moment
    items: tuple[Item, ...]
    second_looks: tuple[str, ...]
    pieces: int
    added: tuple[str, ...] = ()  # in the recomputed set, not in the frozen one
    gone: tuple[str, ...] = ()  # in the frozen set, not in the recomputed one
    closed: f.ContainmentClosed | None = None

    @property
    def engines(self) -> tuple[str, ...]:
        """Every engine with a piece in the set."""
        return tuple(dict.fromkeys(item.engine for item in self.items))

    @property
    def open_items(self) -> tuple[str, ...]:
        return tuple(item.inspection for item in self.items if not item.done)


def contents(work: Workplace, name: str) -> Contents:
    """The frozen set of a containment, with the set as it would be now beside it."""
    with work.look() as session:
        return contents_in(work, session, name)


def contents_in(work: Workplace, session: Session, name: str) -> Contents:
    recorded = containment(session, name)
    opened = recorded.fact
    objects = _objects(session, opened)
    now = recall_set(session, opened.object, opened.last_good, opened.first_bad, objects)
    actions, assigned, done = latest_actions(session, name), assignments(session, name), done_items(session, name)
    items = tuple(
        _item(
            work, session, each, opened.object, opened, objects, actions.get(each), assigned.get(each), done.get(each)
        )
        for each in opened.inspections
    )
    closed = [r.fact for r in about(session, f.ContainmentClosed, name)]
    return Contents(
        name,
        opened.object,
        opened.quantity,
        opened.last_good,
        opened.first_bad,
        items,
        opened.second_looks,
        opened.pieces,
        tuple(each for each in now.inspections if each not in opened.inspections),
        tuple(each for each in opened.inspections if each not in now.inspections),
        closed[-1] if closed else None,
    )


def supposed(work: Workplace, position: int) -> Contents:
    """What would be recalled if the entry at ``position`` were bad: the same set, nothing is written."""
    with work.book.session(readonly=True) as session:
        found = trigger_of(work, session, session.entry(position))
        frozen = recall_set(session, found.object, found.last_good, found.first_bad, found.objects)
        window = f.ContainmentOpened(
            "",
            found.object,
            found.quantity,
            position,
            found.last_good,
            found.first_bad,
            frozen.inspections,
            frozen.second_looks,
            frozen.pieces,
        )
        items = tuple(
            _item(work, session, each, found.object, window, found.objects, None, None, None)
            for each in frozen.inspections
        )
        return Contents(
            "",
            found.object,
            found.quantity,
            found.last_good,
            found.first_bad,
            items,
            frozen.second_looks,
            frozen.pieces,
        )


def assignments(session: Session, name: str) -> dict[str, f.ContainmentActionAssigned]:
    """Who was last told to do what for each item."""
    found = sorted(about(session, f.ContainmentActionAssigned, name), key=lambda r: r.position)
    return {r.fact.inspection: r.fact for r in found}


def done_items(session: Session, name: str) -> dict[str, str]:
    """How each item was done: decided anew, or the owner told."""
    found = {
        r.fact.inspection: f"{r.fact.action}: {r.fact.reference}, {r.fact.person} {r.when}"
        for r in about(session, f.ContainmentActionDone, name)
        if r.fact.action != "retrieve"  # brought back only: the look or the process is still to come
    }
    found.update(
        {r.fact.inspection: f"{r.fact.how}, {r.by} {r.when}" for r in about(session, f.ContainmentItemDone, name)}
    )
    return found


def containments_of(session: Session, object_: str) -> list[str]:
    """The containments that an object opened, in order."""
    return [r.fact.containment for r in all_containments(session) if r.fact.object == object_]


def _objects(session: Session, opened: f.ContainmentOpened) -> tuple[str, ...]:
    return (opened.object, *lines_with(session, opened.object))


def _item(
    work: Workplace,
    session: Session,
    inspection: str,
    object_: str,
    window: f.ContainmentOpened,
    objects: Iterable[str],
    action: f.ContainmentAction | None,
    assigned: f.ContainmentActionAssigned | None,
    done: str | None,
) -> Item:
    row = session.inspection(inspection)
    part = session.part(row.part)
    action = action or cheapest_action(work, session, inspection)
    since = window.last_good.at if window.last_good else None
    uses = [
        f"{use.what} ({use.kind})" if use.kind != use.what else use.what
        for name in dict.fromkeys((object_, *objects))
        for use in session.uses(name, since, window.first_bad.at)
        if use.inspection == inspection
    ]
    signed = decision_in_force(session, inspection)
    children = signed.fact.children if signed and len(signed.fact.children) > 1 else ()
    later = [other.inspection for other in session.inspections(part=row.part) if other.previous == inspection]
    return Item(
        inspection,
        row.part,
        row.part_no,
        part.serial or part.lot or "",
        row.quantity,
        tuple(dict.fromkeys(uses)),
        tuple(f"{c.quantity} {c.disposition}{f' ({c.piece})' if c.piece else ''}" for c in children),
        tuple(later),
        row.disposition + (" - SUSPENDED" if row.suspended else ""),
        part.place or NOWHERE,
        engine_of(session, row.work_order),
        row.work_order,
        action.action,
        action.because,
        assigned,
        done or "",
    )


def engine_of(session: Session, work_order: str) -> str:
    """Model and serial number of the engine or component of a work order."""
    opened = about(session, f.WorkOrderOpened, work_order)
    if not opened:
        return work_order
    return f"{opened[-1].fact.engine_model} {opened[-1].fact.engine_serial}"


def entry_named(work: Workplace, text: str) -> int:
    """An entry by its position; NotFound."""
    with work.look() as session:
        if not text.isdecimal() or not 1 <= int(text) <= session.head().position:
            raise NotFound(f"{text!r} is no entry of this book: type a number from 1 to {session.head().position}")
    return int(text)
