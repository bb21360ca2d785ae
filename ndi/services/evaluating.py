"""What an indication's size says against the limit of its zone, before somebody confirms it; and what it may be called."""

from __future__ import annotations

from dataclasses import dataclass

from ndi.domain.errors import NotFound
from ndi.domain.outcome import Missing
from ndi.domain.procedure import PartMaster
from ndi.rules.indications import evaluation
from ndi.rules.inquiry import Indication, Inquiry
from ndi.services.assemble import inquiry_for
from ndi.services.inspecting import inspection_of
from ndi.services.ports import Session
from ndi.services.workplace import Workplace

# what discontinuities of engine parts are called; common practice, no source
TRADE_TYPES = (
    "fatigue crack",
    "thermal fatigue crack",
    "grinding cracks",
    "forging lap",
    "seam",
    "inclusion",
    "porosity",
    "shrinkage",
    "corrosion pit",
)


@dataclass(frozen=True)
class Evidence:
    """An indication with its record; ``word`` and ``limit`` are what the size says, or why that cannot be said."""

    inquiry: Inquiry
    indication: Indication
    word: str | None
    limit: str


def evidence_of(work: Workplace, session: Session, indication: str) -> Evidence:
    """NotFound when nobody recorded such an indication."""
    q = inquiry_for(work, session, inspection_of(session, indication))
    found = next((mark for mark in q.indications if mark.id == indication), None)
    if found is None:
        raise NotFound(f"no indication {indication} in the book")
    try:
        word, limit, _ = evaluation(q, found)
    except Missing as missing:
        return Evidence(q, found, None, str(missing))
    return Evidence(q, found, word, limit)


def types_for(master: PartMaster, zone: str | None) -> tuple[str, ...]:
    """Types by name: those for which the zone has limits of their own, then those of the trade."""
    known = master.zone(zone) if zone else None
    own = [limit.discontinuity for limit in known.limits if limit.discontinuity] if known else []
    return tuple(dict.fromkeys([*own, *TRADE_TYPES]))
