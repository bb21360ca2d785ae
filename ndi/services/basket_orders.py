"""Parts of several engines in one basket: lawful, but never by mistake."""

from __future__ import annotations

from collections.abc import Iterable

from ndi.domain import facts as f
from ndi.services.ports import InspectionRow, Session
from ndi.services.workplace import Refused


def orders_text(orders: Iterable[tuple[str, str]]) -> str:
    """``W26-0148: PT-001, PT-002; W26-0151: PT-019`` from pairs of work order and record."""
    found: dict[str, list[str]] = {}
    for order, name in orders:
        found.setdefault(order, []).append(name)
    return "; ".join(f"{order}: {', '.join(names)}" for order, names in found.items())


def refuse_mixed(basket: str, rows: Iterable[InspectionRow], said: bool | None) -> None:
    """Refused when parts of more than one work order go into a basket and nobody ``said`` that they are meant to."""
    every = list(rows)
    if len({row.work_order for row in every}) > 1 and not said:
        listed = orders_text((row.work_order, row.inspection) for row in every)
        raise Refused(
            (),
            f"{basket} would hold parts of more than one engine ({listed}): look at each part; "
            "take out what does not belong there, or say that they are meant to go together",
        )


def check_load(session: Session, fact: f.Fact) -> None:
    """:func:`refuse_mixed` for a load that is recorded as it is."""
    if isinstance(fact, f.BasketLoaded):
        refuse_mixed(fact.basket, [session.inspection(name) for name in fact.inspections], fact.mixed_orders)
