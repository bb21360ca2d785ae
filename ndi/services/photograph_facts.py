"""The record facts that go along with one photograph when it leaves the book."""

from __future__ import annotations

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.errors import InputError
from ndi.domain.image_facts import ImageFacts, ImageIndication
from ndi.rules.inquiry import Indication, Inquiry
from ndi.services.annotating import in_words, layer_of
from ndi.services.assemble import inquiry_for
from ndi.services.lookup import every, only
from ndi.services.measured_photographs import lengths_in_words
from ndi.services.paper_text import size_text
from ndi.services.photographs import named_like
from ndi.services.ports import Session
from ndi.services.workplace import Workplace


def photograph_facts(
    work: Workplace, session: Session, start: str, inspection: str | None = None
) -> tuple[f.PhotoAttached, ImageFacts]:
    """The photograph whose hash begins with ``start``, with the facts of the record that it is attached to.

    NotFound for no such photograph; InputError where it is on several records
    and none was named, or was only described.
    """
    attached = [r for r in named_like(session, start) if inspection in (None, r.fact.inspection)]
    records = list(dict.fromkeys(r.fact.inspection for r in attached))
    if len(records) != 1:
        known = ", ".join(records) or "another record"
        raise InputError(f"this photograph is attached to {known}: say by --inspection which record goes along")
    if attached[0].fact.size is None:
        raise InputError("this photograph was only described: its bytes were never put into the archive")
    return attached[0].fact, _facts(work, session, attached)


def _facts(work: Workplace, session: Session, attached: list[Recorded[f.PhotoAttached]]) -> ImageFacts:
    recorded, photo = attached[-1], attached[-1].fact
    q = inquiry_for(work, session, photo.inspection)
    row, opened = session.inspection(photo.inspection), q.opened.fact
    part, order = session.part(row.part), only(session, f.WorkOrderOpened, row.work_order).fact
    held = q.certificate(opened.inspector, q.opened.when.local.date())
    shown = {r.fact.indication for r in attached}
    marks = [mark for mark in q.indications if mark.id in shown]
    begun = every(session, f.BookBegun)
    return ImageFacts(
        work.book.book_id,
        begun[0].fact.shop if begun else "",
        str(session.head()),
        recorded.position,
        photo.sha256,
        photo.original_name or "",
        photo.inspection,
        row.work_order,
        f"{order.engine_model} serial {order.engine_serial}",
        row.part_no,
        part.serial or part.lot or "",
        part.description or q.master.description,
        "; ".join(dict.fromkeys(f"{zone.name}: {zone.material}" for zone in q.master.zones)),
        q.master.alloy or "",
        q.method,
        f"{q.procedure.number} rev {q.procedure.revision}",
        q.technique.name,
        opened.inspector,
        f"{held.fact.method} level {held.fact.level}, valid to {held.fact.expires}" if held else "",
        recorded.by,
        opened.station or "",
        photo.taken_at,
        photo.camera or "",
        photo.camera_ahead_s,
        photo.light or "",
        tuple(_indication(q, mark) for mark in marks),
        tuple(dict.fromkeys(look.view.person for look in q.second_looks if look.saved)),
        tuple(f"{mark.id}: {said}" for mark in marks for said in lengths_in_words(mark) if photo.sha256[:8] in said),
        tuple(in_words(r.fact) for r in layer_of(session, photo.sha256, photo.inspection).drawn),
    )


def _indication(q: Inquiry, mark: Indication) -> ImageIndication:
    seen, called = mark.seen.fact, mark.interpreted
    zone = q.master.zone(seen.zone) if seen.zone else None
    said = (
        zone.name if zone else seen.zone,
        seen.position,
        seen.form,
        seen.orientation,
        size_text(seen.length, seen.width),
    )
    call = ", ".join(filter(None, (called.fact.interpretation, called.fact.type))) if called else "not interpreted"
    words = {child.disposition for child in q.children if seen.piece is None or child.piece == seen.piece}
    return ImageIndication(mark.id, ", ".join(filter(None, said)), call, words.pop() if len(words) == 1 else "")
