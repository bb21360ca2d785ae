"""One record as its entries tell it."""

from __future__ import annotations

from collections.abc import Iterable

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.services.lookup import about
from ndi.services.ports import Session


def facts_of(session: Session, inspection: str) -> list[Recorded[f.Fact]]:
    """What is in the book about a record, its part, its indications and its baskets, in the order of the book.

    NotFound when the book holds no such record.  What was corrected is left out.
    """
    row = session.inspection(inspection)
    own = session.facts(inspection)
    names = [row.part]
    names += [r.fact.indication for r in about(session, f.IndicationSeen, inspection)]
    baskets = [r.fact.basket for r in about(session, f.BasketLoaded, inspection)]
    found = {r.position: r for r in [*own, *_about_any(session, [*names, *baskets])]}
    others = (
        f.InspectionOpened,
        f.DecisionSigned,
        f.ViewStarted,
        f.ViewEnded,
        f.TagPrinted,
    )  # of the part's other records
    mine = {r.position for r in own}
    return [r for position, r in sorted(found.items()) if position in mine or not isinstance(r.fact, others)]


def _about_any(session: Session, names: Iterable[str]) -> Iterable[Recorded[f.Fact]]:
    for name in dict.fromkeys(names):
        yield from session.facts(name)
