"""The line of paper that goes with a part through the shop: what it is, what it needs, where that stands."""

from __future__ import annotations

from collections.abc import Sequence

from ndi.domain import facts as f
from ndi.domain.errors import InputError
from ndi.domain.procedure import PartMaster, RequiredMethod
from ndi.domain.scan_codes import ScanKind, scan_text
from ndi.services.lookup import only
from ndi.services.ports import InspectionRow, PartRow, Session
from ndi.services.report_models import TravellerModel, TravellerNeed, TravellerSheetModel
from ndi.services.state import decision_text, piece_states
from ndi.services.workplace import Workplace


def travellers(work: Workplace, parts: Sequence[str] = (), work_order: str | None = None) -> TravellerSheetModel:
    """One line for each part named, or for each of a work order that is to be inspected."""
    with work.book.session(readonly=True) as session:
        rows = [session.part(part) for part in parts]
        if work_order is not None:
            rows += [row for row in session.parts(work_order) if row.reason_code is None]
        lines = tuple(_line(work, session, row) for row in rows)
        head = session.head()
    if not lines:
        raise InputError(
            f"{work_order or 'nothing'} holds no part that is inspected: bring in its receiving list first"
        )
    return TravellerSheetModel(lines, work.book.book_id, f"{work.now()}", str(head), work.practice)


def _line(work: Workplace, session: Session, row: PartRow) -> TravellerModel:
    master = work.master(session, row.part_no)
    order = only(session, f.WorkOrderOpened, row.work_order).fact
    inspections = session.inspections(part=row.part)
    states = piece_states(work, session, row)
    state = next(iter(states)) if len(states) == 1 else " / ".join(f"{count} {word}" for word, count in states.items())
    return TravellerModel(
        part_no=row.part_no,
        description=row.description or master.description,
        item=f"serial {row.serial}" if row.serial else f"lot {row.lot}, {row.quantity} pieces",
        work_order=row.work_order,
        engine=f"{order.engine_model} {order.engine_serial}",
        item_class=str(master.item_class),
        needs=tuple(_need(session, master, need, inspections) for need in master.required),
        state=state,
        code=scan_text(ScanKind.PART, row.part),
    )


def _need(session: Session, master: PartMaster, need: RequiredMethod, rows: Sequence[InspectionRow]) -> TravellerNeed:
    """One required method with its zones, and what the last record of it says."""
    own = [row for row in rows if row.method == need.method and row.technique == need.technique]
    zones = "all zones" if len(need.zones) == len(master.zones) else ", ".join(need.zones)
    if not own:
        return TravellerNeed(need.method, need.technique, zones, "no record yet")
    last = own[-1]
    word = decision_text(session, last)
    if last.suspended:
        word = f"{word} - SUSPENDED"
    elif last.provisional:
        word = f"{word} - PROVISIONAL"
    return TravellerNeed(need.method, need.technique, zones, f"{last.inspection}: {word}")
