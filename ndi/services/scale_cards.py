"""Scale cards for a photograph: which part or work order the code on each names, taken from the book."""

from __future__ import annotations

from collections.abc import Sequence

from ndi.domain import facts as f
from ndi.domain.errors import NotFound
from ndi.domain.scan_codes import ScanKind, scan_text
from ndi.services.lookup import about
from ndi.services.ports import Session
from ndi.services.report_models import ScaleCardModel, ScaleCardSheetModel
from ndi.services.workplace import Workplace


def scale_cards(work: Workplace, names: Sequence[str] = ()) -> ScaleCardSheetModel:
    """A sheet of cards for each part or work order named; without names one whose cards give the scale alone.

    NotFound for a name that is neither.
    """
    with work.book.session(readonly=True) as session:
        cards = tuple(_card(session, name) for name in names)
    return ScaleCardSheetModel(
        cards or (ScaleCardModel(None, ("Names no part: lay", "the part's code beside it")),),
        work.book.book_id,
        f"{work.now().local:%Y-%m-%d}",
        work.practice,
    )


def _card(session: Session, name: str) -> ScaleCardModel:
    try:
        row = session.part(name)
    except NotFound:
        opened = about(session, f.WorkOrderOpened, name)
        if not opened:
            raise NotFound(
                f"the book holds no part and no work order {name!r}: give one as receiving wrote it"
            ) from None
        order = opened[-1].fact
        engine = f"{order.engine_model} {order.engine_serial}"
        return ScaleCardModel(scan_text(ScanKind.ORDER, name), (f"Work order {name}", engine))
    item = f"serial {row.serial}" if row.serial else f"lot {row.lot}, {row.quantity} pieces"
    return ScaleCardModel(scan_text(ScanKind.PART, name), (row.part_no, item, row.work_order))
