"""What a recall set holds, down to where each piece is: views, second looks, child lots, parts, assemblies, engines."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace

from ndi.domain import facts as f
from ndi.domain.dispositions import SCRAP
from ndi.domain.errors import NotFound
from ndi.domain.moment import Moment
from ndi.domain.vocabulary import ViewKind
from ndi.services.assemble import decision_in_force
from ndi.services.bearing import lines_with
from ndi.services.containment import SHIPPED, all_containments, cheapest_action, containment, latest_actions, recall_set
from ndi.services.leaving import leaves_for, let_go
from ndi.services.lookup import about
from ndi.services.ports import Session
from ndi.services.recall_reach import scope_of, windows
from ndi.services.recall_triggers import trigger_of
from ndi.services.rejected_pieces import wholly_gone
from ndi.services.workplace import Workplace

NOWHERE, ASSEMBLY = "not scanned", "assembly"


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
    kinds: tuple[tuple[str, str], ...] = ()  # of each use: first, second look, re-view, shots ..., and its name
    let_go: str = ""  # the reason with which it left although no acceptance stood

    @property
    def is_shipped(self) -> bool:
        return leaves_for(self.place) == SHIPPED  # however the place is written


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
    def stages(self) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """The set in the order in which it is followed: from the looks at the parts to the engines that they went into."""
        kinds = [kind for item in self.items for kind in item.kinds]
        looks = (ViewKind.FIRST, ViewKind.SECOND_LOOK, ViewKind.RE_VIEW)
        named = {kind: tuple(dict.fromkeys(what for k, what in kinds if k == kind)) for kind in looks}
        at_assembly = tuple(item.name or item.part for item in self.items if leaves_for(item.place) == ASSEMBLY)
        return (
            ("views", named[ViewKind.FIRST]),
            ("second looks", named[ViewKind.SECOND_LOOK] or self.second_looks),
            ("re-views", named[ViewKind.RE_VIEW]),
            ("shots, baskets and other work", tuple(dict.fromkeys(w for k, w in kinds if k not in looks))),
            ("child lots", tuple(f"{item.name}: {child}" for item in self.items for child in item.children)),
            ("records that rest on them", tuple(name for item in self.items for name in item.later)),
            ("parts", tuple(dict.fromkeys(item.name or item.part for item in self.items))),
            ("at assembly", at_assembly),
            ("engines", self.engines),
            ("shipped", tuple(item.name or item.part for item in self.items if item.is_shipped)),
        )

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
    scope = scope_of(session.entry(opened.trigger).fact)
    now = recall_set(session, opened.object, opened.last_good, opened.first_bad, objects, scope)
    closed = [r.fact for r in about(session, f.ContainmentClosed, name)]
    return replace(
        _contents(work, session, opened, objects),
        added=tuple(each for each in now.inspections if each not in opened.inspections),
        gone=tuple(each for each in opened.inspections if each not in now.inspections),
        closed=closed[-1] if closed else None,
    )


def supposed(work: Workplace, position: int) -> Contents:
    """What would be recalled if the entry at ``position`` were found bad now: the same set, nothing is written."""
    with work.look() as session:
        suspect = session.entry(position)
        found, scope = trigger_of(work, session, suspect), scope_of(suspect.fact)
        until = found.believed_until(work.now())
        frozen = recall_set(session, found.object, found.last_good, until, found.objects, scope)
        as_if = f.ContainmentOpened(
            "",
            found.object,
            found.quantity,
            position,
            found.last_good,
            until,
            frozen.inspections,
            frozen.second_looks,
            frozen.pieces,
        )
        return _contents(work, session, as_if, found.objects)


def _contents(work: Workplace, session: Session, opened: f.ContainmentOpened, objects: Iterable[str]) -> Contents:
    since = opened.last_good.at if opened.last_good else None
    uses: dict[str, dict[tuple[str, str], None]] = defaultdict(dict)
    for window in windows(session, opened.object, since, opened.first_bad.at, objects):
        for use in session.uses(window.name, window.since, window.until):
            uses[use.inspection][use.kind, use.what] = None
    name = opened.containment
    actions = latest_actions(session, name) if name else {}
    assigned = assignments(session, name) if name else {}
    done = done_items(session, name) if name else {}
    items = tuple(
        _item(work, session, each, tuple(uses.get(each, ())), actions.get(each), assigned.get(each), done.get(each, ""))
        for each in opened.inspections
    )
    return Contents(
        name,
        opened.object,
        opened.quantity,
        opened.last_good,
        opened.first_bad,
        _let_go_first(work, session, items),
        opened.second_looks,
        opened.pieces,
    )


def assignments(session: Session, name: str) -> dict[str, f.ContainmentActionAssigned]:
    """Who was last told to do what for each item."""
    found = sorted(about(session, f.ContainmentActionAssigned, name), key=lambda r: r.position)
    return {r.fact.inspection: r.fact for r in found}


def done_items(session: Session, name: str) -> dict[str, str]:
    """How each item was done: decided anew, or the owner told; a part that was scrapped needs nothing more."""
    found = {
        inspection: SCRAP
        for inspection in containment(session, name).fact.inspections
        if wholly_gone(session, session.part(session.inspection(inspection).part)) == SCRAP
    }
    found |= {
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


def _let_go_first(work: Workplace, session: Session, items: Iterable[Item]) -> tuple[Item, ...]:
    """What left with a reason while no acceptance stood is on top: nobody else looks for it."""
    found = list(items)
    reasons = let_go(work, session, (item.part for item in found))
    told = [replace(item, let_go=reasons.get(item.part, "")) for item in found]
    return tuple(sorted(told, key=lambda item: not item.let_go))


def _item(
    work: Workplace,
    session: Session,
    inspection: str,
    kinds: tuple[tuple[str, str], ...],
    proposed: f.ContainmentAction | None,
    assigned: f.ContainmentActionAssigned | None,
    done: str,
) -> Item:
    row = session.inspection(inspection)
    part = session.part(row.part)
    # what is still to do is asked anew each time: the developer's time runs, and parts are moved
    action = proposed if done and proposed else cheapest_action(work, session, inspection)
    signed = decision_in_force(session, inspection)
    children = signed.fact.children if signed and len(signed.fact.children) > 1 else ()
    later = [other.inspection for other in session.inspections(part=row.part) if other.previous == inspection]
    return Item(
        inspection,
        row.part,
        row.part_no,
        part.serial or part.lot or "",
        row.quantity,
        tuple(f"{what} ({kind})" if kind != what else what for kind, what in kinds),
        tuple(f"{c.quantity} {c.disposition}{f' ({c.piece})' if c.piece else ''}" for c in children),
        tuple(later),
        row.disposition + (" - SUSPENDED" if row.suspended else ""),
        part.place or NOWHERE,
        engine_of(session, row.work_order),
        row.work_order,
        action.action,
        action.because,
        assigned,
        done,
        kinds,
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
