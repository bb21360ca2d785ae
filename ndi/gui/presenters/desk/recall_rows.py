"""The lines of a recall set as the desk shows them: columns, one row for each record, what is said of the set and of a record."""

from __future__ import annotations

from ndi.domain import facts as f
from ndi.gui.presenters.desk import marks
from ndi.gui.presenters.desk.listing import Column, Labelled, Row
from ndi.services.paper_text import on_paper
from ndi.services.recall_contents import Contents, Item

SETS = (
    Column("Recall set", 10),
    Column("Object", 12),
    Column("In doubt", 34, stretch=True),
    Column("Records", 8, right=True),
    Column("Pieces", 7, right=True),
    Column("Stands", 20, stretch=True),
)
ORDER = Column("Order", 9)  # only where several work orders are in a set
ITEMS = (
    Column("Record", 9),
    Column("State", 24, stretch=True),
    Column("Part", 26, stretch=True),
    Column("Pcs", 4, right=True),
    ORDER,
    Column("Place", 12),
    Column("To do", 12),
    Column("Given to, until", 16),
    Column("Because, or how it was done", 34, stretch=True),
)


def set_mark(fact: f.ContainmentOpened, left: int, closed: bool) -> marks.Mark:
    if not fact.inspections:
        return marks.Mark(marks.NONE, "nothing relied on it")
    if closed:
        return marks.Mark(marks.SETTLED, "closed")
    if left:
        return marks.Mark(marks.RUNNING, f"{left} of {len(fact.inspections)} to do")
    return marks.Mark(marks.WAITING, "all done, to be closed")


def row_of(item: Item, *, closed: bool, order: bool) -> Row:
    word, _, suspended = item.state.partition(" - ")
    mark = marks.of_disposition(word, suspended=bool(suspended))
    given = f"{item.assigned.person}, {item.assigned.due:%m-%d}" if item.assigned else ""
    cells = (
        item.inspection,
        str(mark),
        f"{item.part_no}  {item.name}",
        str(item.pieces),
        *((item.work_order,) if order else ()),
        item.place,
        "done" if item.done else item.action,
        given,
        on_paper(item.done or item.because),
    )
    return Row(cells, item.inspection, act=not item.done and not closed)


def lines_of(found: Contents, cause: str, is_supposed: bool) -> tuple[Labelled, ...]:
    stages = dict(found.stages)
    looks = ", ".join(f"{len(stages[name])} {name}" for name in ("views", "second looks", "re-views"))
    other = stages["shots, baskets and other work"]
    if other:
        looks += f", {len(other)} shots, baskets or other work"
    lots = stages["child lots"]
    where = ", ".join(
        f"{len(stages[name])} {name}: {', '.join(stages[name])}" if stages[name] else f"none {name}"
        for name in ("at assembly", "shipped")
    )
    lines = [
        Labelled("In doubt", f"{cause}; from {found.last_good or 'the first use'} to {found.first_bad}"),
        Labelled("Looks at parts", f"{looks}; child lots: {', '.join(lots) or 'none'}"),
        Labelled("Parts", f"{len(found.items)} records, {len(stages['parts'])} parts, {found.pieces} pieces; {where}"),
        Labelled("Engines", ", ".join(found.engines) or "none"),
    ]
    if is_supposed:
        lines.append(Labelled("Nothing is written", "This only shows what would be recalled (Ctrl+O opens it)."))
        return tuple(lines)
    added, gone = ", ".join(found.added) or "none", ", ".join(found.gone) or "none"
    lines.append(Labelled("Worked out anew", f"added: {added}; gone: {gone}"))
    if found.closed:
        lines.append(Labelled("Closed", f"by {found.closed.person} and {found.closed.second}"))
    return tuple(lines)


def detail_of(item: Item) -> tuple[Labelled, ...]:
    given = ""
    if item.assigned:
        given = f"; given to {item.assigned.person} until {item.assigned.due} by {item.assigned.assigned_by}"
    said = [
        Labelled(item.inspection, f"{item.part_no} {item.name}, {item.pieces} pcs, {item.engine}, {item.work_order}"),
        Labelled("Relied on it by", ", ".join(item.uses) or "a step or signature of the person"),
        Labelled("To do", f"done: {item.done}" if item.done else f"{item.action}: {on_paper(item.because)}{given}"),
    ]
    if item.let_go:
        said.append(Labelled("Left early", f"with the reason: {on_paper(item.let_go)}"))
    if item.children:
        said.append(Labelled("Child lots", ", ".join(item.children)))
    if item.later:
        said.append(Labelled("Rests on it", ", ".join(item.later)))
    return tuple(said)
