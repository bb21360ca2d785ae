"""A bath sample that settles: when it may be read."""

from __future__ import annotations

from dataclasses import dataclass

from ndi.domain import facts as f
from ndi.domain.moment import Moment
from ndi.domain.outcome import Missing
from ndi.domain.vocabulary import Method
from ndi.services.lookup import about
from ndi.services.ports import Session
from ndi.services.shop_inquiry import shop_inquiry
from ndi.services.workplace import Workplace


@dataclass(frozen=True)
class Settling:
    """``ready`` is None where the procedure gives no settling time; ``says`` then tells so."""

    drawn: Moment
    ready: Moment | None
    says: str = ""


def settling(work: Workplace, session: Session, bath: str) -> Settling | None:
    """The sample that was drawn last on this local day, or None."""
    now = work.now()
    start = now.local.replace(hour=0, minute=0, second=0, microsecond=0)
    drawn = about(session, f.BathSampled, bath, since=start, until=now.at)
    if not drawn:
        return None
    last = drawn[-1].when
    try:
        need = shop_inquiry(work, session, [], method=Method.MT).minutes("settling_time")
    except Missing as missing:
        return Settling(last, None, str(missing))
    return Settling(last, Moment(last.at + need, last.offset_min))
