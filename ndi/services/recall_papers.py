"""A recall on paper: the list for whoever works it off, and a letter to the owner of each engine in the set."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ndi.domain import facts as f
from ndi.services import paper_blocks as b
from ndi.services.containment import NOTIFY, RETRIEVE, containment
from ndi.services.lookup import about
from ndi.services.paper_record import record_text
from ndi.services.paper_text import local_text
from ndi.services.ports import Session
from ndi.services.recall_contents import Contents, Item, contents_in
from ndi.services.record_signatures import cause_text
from ndi.services.report_models import Labelled, SheetTable
from ndi.services.workplace import Workplace

_LETTER = "Notice to the owner. Not a release document; it does not say in which state an engine or a part is."


def recall_list(work: Workplace, name: str) -> b.PaperModel:
    """The frozen set with place, action, person and day of each record; NotFound for a set that was not opened."""
    with work.book.session(readonly=True) as session:
        found = contents_in(work, session, name)
        opened = containment(session, name)
        cause = cause_text(session, opened.fact.trigger)
        told = {"containment": name, "object": found.object, "items": [_told(item) for item in found.items]}
        return b.PaperModel(
            title=f"RECALL LIST {name}",
            subject=f"{found.object}, {found.quantity}",
            book_id=work.book.book_id,
            practice=work.practice,
            printed_at=local_text(work.now()),
            head=str(session.head()),
            blocks=tuple(_list(found, opened.when.local.strftime("%Y-%m-%d %H:%M"), cause)),
            record=record_text(work, session, "recall list", told),
            footer=b.WORK_PAPER,
        )


def _list(found: Contents, opened: str, cause: str) -> Iterator[b.Block]:
    since = local_text(found.last_good) if found.last_good else "the first use"
    yield b.Pairs(
        (
            Labelled("Cause", cause),
            Labelled("Opened", opened),
            Labelled("In doubt from", since),
            Labelled("until", local_text(found.first_bad)),
            Labelled("Holds", f"{len(found.items)} records, {found.pieces} pieces"),
            Labelled("Still to do", f"{len(found.open_items)} of {len(found.items)}"),
        )
    )
    gone = [item for item in found.items if not item.done and (item.let_go or item.action in (NOTIFY, RETRIEVE))]
    if gone:
        gone.sort(key=lambda item: not item.let_go)
        yield b.NoticeBox("FIRST: NOT IN THE SHOP'S HANDS", tuple(_first(item) for item in gone), inverted=True)
    yield _items("Still to do", [item for item in found.items if not item.done])
    yield _done([item for item in found.items if item.done])
    if found.added or found.gone:
        yield b.Text(
            f"The set as of now differs from the frozen one. In it now and not then: {', '.join(found.added) or 'none'}. "
            f"Then and not now: {', '.join(found.gone) or 'none'}."
        )
    if found.closed is not None:
        yield b.Text(f"Closed by {found.closed.person} (Level III) and {found.closed.second} (quality).")
    else:
        yield b.SignLines(("Level III, date", "quality, date"))
        yield b.Text(
            "The set is closed in the record book by two signatures; a line signed here does not close it.", small=True
        )
    yield _reach(found)


def _first(item: Item) -> str:
    left = f"; left with the reason: {item.let_go}" if item.let_go else ""
    return f"{_name(item)}: at {item.place}, {item.action}{left}"


def _reach(found: Contents) -> SheetTable:
    """How far the set goes, from the looks at the parts to the engines."""
    rows = tuple((stage, str(len(names)), ", ".join(names)) for stage, names in found.stages if names)
    columns = (("What relied on it", 0.22), ("How many", 0.1), ("Which", 0.68))
    return SheetTable("Reach", columns, rows, "Nothing relied on it.")


def _items(title: str, items: Sequence[Item]) -> SheetTable:
    rows = tuple(
        (
            item.inspection,
            f"{item.part_no} {item.name}",
            str(item.pieces),
            item.engine,
            item.place,
            item.state,
            f"{item.action}: {item.because}",
            f"{item.assigned.person}, by {item.assigned.due}" if item.assigned else "",
            "",
        )
        for item in items
    )
    columns = (
        ("Record", 0.08),
        ("Part", 0.16),
        ("Pieces", 0.07),
        ("Engine", 0.14),
        ("Place now", 0.1),
        ("State", 0.12),
        ("To do", 0.18),
        ("Given to", 0.1),
        ("✓", 0.05),
    )
    return SheetTable(f"{title}: {len(rows)} records", columns, rows, "Nothing.")


def _done(items: Sequence[Item]) -> SheetTable:
    rows = tuple((item.inspection, f"{item.part_no} {item.name}", item.state, item.done) for item in items)
    columns = (("Record", 0.1), ("Part", 0.25), ("State", 0.2), ("How it was done", 0.45))
    return SheetTable(f"Done: {len(rows)} records", columns, rows, "Nothing yet.")


# --- letters ------------------------------------------------------------------------------------------


def recall_letters(work: Workplace, name: str) -> b.PaperModel:
    """A letter for each work order in the set, each on a page of its own; the address is written by the shop."""
    with work.book.session(readonly=True) as session:
        found = contents_in(work, session, name)
        opened = containment(session, name)
        orders = {item.work_order: item.engine for item in found.items}
        blocks: list[b.Block] = []
        for order, engine in orders.items():
            items = [item for item in found.items if item.work_order == order]
            blocks += [*([b.NewPage()] if blocks else []), *_letter(session, opened.fact, order, engine, items, name)]
        told = {
            "containment": name,
            "letters": [
                {
                    "work_order": order,
                    "engine": engine,
                    "records": [_told(item) for item in found.items if item.work_order == order],
                }
                for order, engine in orders.items()
            ],
        }
        return b.PaperModel(
            title=f"NOTICE OF RECALL {name}",
            subject=f"{len(orders)} letter{'' if len(orders) == 1 else 's'}",
            book_id=work.book.book_id,
            practice=work.practice,
            printed_at=local_text(work.now()),
            head=str(session.head()),
            blocks=tuple(blocks) or (b.Text("The set holds no record: there is nobody to write to."),),
            record=record_text(work, session, "notice of recall", told),
            footer=_LETTER,
        )


def _letter(
    session: Session, opened: f.ContainmentOpened, order: str, engine: str, items: Sequence[Item], name: str
) -> Iterator[b.Block]:
    since = local_text(opened.last_good) if opened.last_good else "its first use"
    yield b.WritingFields(("To", "Date"))
    yield b.Heading(f"Engine {engine}, work order {order}")
    yield b.Text(
        f"We inspected pieces of this engine. Something that we relied on in doing so was found not to be as it must be: "
        f"{_thing(session, opened.object)}{cause_text(session, opened.trigger)}. We do not know when between {since} and {local_text(opened.first_bad)} "
        "that began. What was inspected in that time is in doubt. It does not mean that these pieces have a flaw; it means "
        "that our earlier statement that none was found, or that what was found is all there is, cannot be relied on."
    )
    # who was told once is asked again: told is not looked at
    away = [item for item in items if (item.done or item.action).startswith(NOTIFY)]
    open_items = [item for item in items if not item.done]
    gone_on = [item for item in open_items if item.action == RETRIEVE]
    here = [item for item in open_items if item.action not in (NOTIFY, RETRIEVE)]
    done = [item for item in items if item.done and item not in away]
    if away:
        yield b.NoticeBox(
            "PLEASE ACT",
            (
                "Pieces named in the first table have left our shop. Keep them, and the engine that holds them, out of use "
                "until they have been inspected again, tell us where they are, and tell whoever is responsible for the "
                "aircraft.",
            ),
            inverted=True,
        )
        yield _letter_table("Pieces that have left our shop", away)
    if gone_on:
        yield _letter_table("Pieces that had gone on inside our shop and are fetched back", gone_on)
    if here:
        yield _letter_table("Pieces still in our hands, to be inspected again before anything is decided on them", here)
    if gone_on or here:
        yield b.Text("For pieces in our shop you need do nothing; you will be told what is found.")
    if done:
        yield _letter_table("Pieces that were dealt with already", done)
    yield b.Text(
        "We will send you the new inspection report. Until you hold it, do not rely on our report or tags for the pieces "
        f"above. Please name {name} and the work order when you answer."
    )
    yield b.WritingFields(("Our telephone, e-mail", "Who answers for the shop"))
    yield b.SignLines(("for the shop, name, date",))


def _thing(session: Session, object_: str) -> str:
    """``lamp `` in front of a name that an owner does not know."""
    entered = about(session, f.EquipmentEntered, object_)
    return f"{entered[-1].fact.kind} " if entered else ""


def _letter_table(title: str, items: Sequence[Item]) -> SheetTable:
    rows = tuple(
        (f"{item.part_no} {item.name}", str(item.pieces), item.inspection, item.place, item.done or item.action)
        for item in items
    )
    columns = (
        ("Part, serial or lot", 0.32),
        ("Pieces", 0.08),
        ("Our record", 0.12),
        ("Place known to us", 0.18),
        ("What happens", 0.3),
    )
    return SheetTable(title, columns, rows)


def _name(item: Item) -> str:
    return f"{item.inspection}, {item.part_no} {item.name}, {item.engine}"


def _told(item: Item) -> dict[str, object]:
    return {
        "record": item.inspection,
        "part": item.part,
        "pieces": item.pieces,
        "work_order": item.work_order,
        "engine": item.engine,
        "place": item.place,
        "state": item.state,
        "action": item.action,
        "because": item.because,
        "assigned_to": item.assigned.person if item.assigned else None,
        "due": item.assigned.due.isoformat() if item.assigned else None,
        "done": item.done or None,
    }
