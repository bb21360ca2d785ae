"""Search by anything: one text, scanned or typed, looked for among everything that has a name in the book."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotFound
from ndi.domain.scan_codes import ScanKind, parse_scan
from ndi.services.lookup import about, every
from ndi.services.ports import InspectionRow, PartRow, Session
from ndi.services.state import decision_text
from ndi.services.workplace import Workplace

MOST = 50  # found things of one kind


@dataclass(frozen=True)
class Found:
    """One thing: its kind, its name, what it is, where it stands; ``leads_to`` is the name its own page has."""

    kind: str
    name: str
    what: str
    stands: str
    leads_to: str


WORK_ORDER, PART, INSPECTION, PERSON = "work order", "part", "inspection", "person"
EQUIPMENT, BATCH, ZONE, DOCUMENT = "equipment", "batch", "zone", "document"
RECALL, TAG, INDICATION = "recall set", "tag", "indication"

_BY_CODE = {
    ScanKind.PERSON: PERSON,
    ScanKind.LAMP: EQUIPMENT,
    ScanKind.METER: EQUIPMENT,
    ScanKind.EQUIPMENT: EQUIPMENT,
    ScanKind.PLACE: EQUIPMENT,
    ScanKind.PART: PART,
    ScanKind.ORDER: WORK_ORDER,
}


def find(work: Workplace, text: str, most: int = MOST) -> tuple[Found, ...]:
    """What the text may mean, the exact names first; nothing for an empty text.

    A name is found by how it begins, whatever its case; a serial number as it
    is written or in capitals.
    """
    typed, kind = _typed(text)
    if not typed:
        return ()
    with work.book.session(readonly=True) as session:
        found: list[Found] = []
        for looked_for, look in _LOOKS:
            if kind in (None, looked_for):
                found += _some(look(work, session, typed), most)
    exact = typed.casefold()
    return tuple(sorted(dict.fromkeys(found), key=lambda each: each.name.casefold() != exact))


def _typed(text: str) -> tuple[str, str | None]:
    """What is looked for, and of which kind when a code of the shop was scanned."""
    try:
        scanned = parse_scan(text)
    except InputError:
        return " ".join(text.split()), None
    return scanned.name, _BY_CODE.get(scanned.kind)


def _some(found: Iterator[Found], most: int) -> Iterator[Found]:
    for count, each in enumerate(found):
        if count == most:
            return
        yield each


def _begins(name: str | None, typed: str) -> bool:
    return name is not None and name.casefold().startswith(typed.casefold())


# --- one function for each kind ---------------------------------------------------------------------


def _inspections(_work: Workplace, session: Session, typed: str) -> Iterator[Found]:
    """A whole number means that record alone, whatever else begins with it."""
    found = {row.inspection: row for start in (typed, typed.upper()) for row in session.inspections_named(start)}
    whole = [row for name, row in found.items() if name in (typed, typed.upper())]
    yield from (_of_record(session, row) for row in whole or found.values())


def _of_record(session: Session, row: InspectionRow) -> Found:
    what = f"{row.method} of {row.part_no}, {row.part}"
    return Found(INSPECTION, row.inspection, what, _stands(session, row), row.inspection)


def _stands(session: Session, row: InspectionRow) -> str:
    overlay = " - SUSPENDED" if row.suspended else " - PROVISIONAL" if row.provisional else ""
    return decision_text(session, row) + overlay


def _work_orders(_work: Workplace, session: Session, typed: str) -> Iterator[Found]:
    for recorded in every(session, f.WorkOrderOpened):
        order = recorded.fact
        if _begins(order.work_order, typed) or _begins(order.engine_serial, typed):
            what = f"{order.engine_model} serial {order.engine_serial}, {order.reason}"
            yield Found(WORK_ORDER, order.work_order, what, order.limits_basis, order.work_order)


def _parts(work: Workplace, session: Session, typed: str) -> Iterator[Found]:
    rows = {row.part: row for start in (typed, typed.upper()) for row in session.parts_by_serial(start)}
    if not rows:
        rows = {row.part: row for row in session.parts() if _begins(row.lot, typed) or _begins(row.part_no, typed)}
    if not rows and "/" in typed:
        try:
            rows = {typed: session.part(typed)}
        except NotFound:
            rows = {}
    yield from (_of_part(session, row) for row in rows.values())


def _of_part(session: Session, row: PartRow) -> Found:
    item = f"serial {row.serial}" if row.serial else f"lot {row.lot}, {row.quantity} pieces"
    of_part = [f"{each.inspection} {_stands(session, each)}" for each in session.inspections(part=row.part)]
    records = ", ".join(of_part) or row.reason_code or "no record yet"
    stands = f"{records}; at {row.place}" if row.place else f"{records}; not scanned"
    name = row.serial or row.lot or row.part
    return Found(PART, name, f"{row.part_no} {row.description or ''}, {item}, {row.work_order}", stands, row.part)


def _people(_work: Workplace, session: Session, typed: str) -> Iterator[Found]:
    people = {r.fact.person: r.fact for r in every(session, f.PersonEntered) if _begins(r.fact.person, typed)}
    for person in people.values():
        yield Found(PERSON, person.person, ", ".join(person.roles), "", person.person)


def _equipment(_work: Workplace, session: Session, typed: str) -> Iterator[Found]:
    things = {r.fact.equipment: r.fact for r in every(session, f.EquipmentEntered) if _begins(r.fact.equipment, typed)}
    for thing in things.values():
        status = about(session, f.EquipmentStatusSet, thing.equipment)
        stands = status[-1].fact.state if status else "in service"
        yield Found(EQUIPMENT, thing.equipment, f"{thing.kind}, {thing.place or 'no place'}", stands, thing.equipment)


def _batches(_work: Workplace, session: Session, typed: str) -> Iterator[Found]:
    for recorded in every(session, f.BatchEntered):
        batch = recorded.fact
        if _begins(batch.batch, typed):
            yield Found(BATCH, batch.batch, batch.material, f"expires {batch.expires}", batch.batch)


def _zones(work: Workplace, session: Session, typed: str) -> Iterator[Found]:
    for master in work.masters(session):
        for zone in master.zones:
            if _begins(zone.code, typed) or _begins(zone.name, typed):
                what = f"{zone.name} of {master.number} {master.description}"
                yield Found(ZONE, zone.code, what, zone.material, f"part {master.number}")


def _indications(_work: Workplace, session: Session, typed: str) -> Iterator[Found]:
    for recorded in every(session, f.IndicationSeen):
        fact = recorded.fact
        if _begins(fact.indication, typed) or _begins(fact.zone, typed):
            what = f"{fact.form or 'form not recorded'} in {fact.zone or 'no zone'}"
            yield Found(INDICATION, fact.indication, what, fact.inspection, fact.inspection)


def _documents(_work: Workplace, session: Session, typed: str) -> Iterator[Found]:
    for recorded in every(session, f.DocumentAdopted):
        fact = recorded.fact
        if _begins(fact.number, typed):
            name = f"{fact.number} Rev {fact.revision}"
            yield Found(DOCUMENT, name, fact.document, f"adopted {recorded.when}", f"{fact.document} {fact.number}")


def _recalls(_work: Workplace, session: Session, typed: str) -> Iterator[Found]:
    for recorded in every(session, f.ContainmentOpened):
        fact = recorded.fact
        if _begins(fact.containment, typed):
            yield Found(
                RECALL,
                fact.containment,
                f"{fact.object}, {fact.quantity}",
                f"{len(fact.inspections)} records",
                fact.containment,
            )


def _tags(_work: Workplace, session: Session, typed: str) -> Iterator[Found]:
    if not typed.isdigit():
        return
    for recorded in about(session, f.TagPrinted, typed):
        fact = recorded.fact
        if fact.tag == typed:
            yield Found(TAG, fact.tag, f"{fact.disposition}, copy {fact.copy}", fact.inspection, fact.inspection)


_LOOKS: tuple[tuple[str, Callable[[Workplace, Session, str], Iterator[Found]]], ...] = (
    (INSPECTION, _inspections),
    (WORK_ORDER, _work_orders),
    (PART, _parts),
    (PERSON, _people),
    (EQUIPMENT, _equipment),
    (BATCH, _batches),
    (RECALL, _recalls),
    (INDICATION, _indications),
    (ZONE, _zones),
    (DOCUMENT, _documents),
    (TAG, _tags),
)
