"""Parts that are taken for one another: told apart by a feature when they come in, not by a tag on a wire."""

from __future__ import annotations

from collections.abc import Sequence

from ndi.calc import serial_guard
from ndi.domain.errors import NotFound
from ndi.services.ports import PartRow, Session
from ndi.services.workplace import Refused, Workplace


def look_alikes(work: Workplace, session: Session, part: PartRow) -> tuple[PartRow, ...]:
    """The other lines of the part's work order whose part master, or its own, names the two as similar."""
    mine = _similar(work, session, part.part_no)
    others = [row for row in session.parts(part.work_order) if row.part_no != part.part_no]
    return tuple(row for row in others if row.part_no in mine or part.part_no in _similar(work, session, row.part_no))


def _similar(work: Workplace, session: Session, part_no: str) -> frozenset[str]:
    try:
        return frozenset(work.master(session, part_no).similar_parts)
    except NotFound:  # a part without a master: nobody could say what it looks like
        return frozenset()


def warning(part: PartRow, others: Sequence[PartRow]) -> str:
    """``T6-11050 FA-0077 looks like T6-11051 CA-0081: ...``; serial numbers that are near one another are named so."""
    mine = part.serial or part.lot or ""
    names = []
    for other in others:
        theirs = other.serial or other.lot or ""
        near = serial_guard.near(mine, [theirs]) if mine and theirs else []
        alike = f" (numbers differ little: {serial_guard.difference(mine, theirs)})" if near else ""
        names.append(f"{other.part_no} {theirs}{alike}".strip())
    return f"{part.part_no} {mine} looks like {', '.join(names)} of the same engine".replace("  ", " ")


def refuse_untold(work: Workplace, session: Session, part: PartRow, told_apart: str | None) -> None:
    """Refused when a look-alike is on the work order and nobody says by what feature this part was told from it."""
    others = look_alikes(work, session, part)
    if others and not (told_apart or "").strip():
        raise Refused(
            (),
            f"{warning(part, others)}: look at the part, not at its tag, "
            "and say by which feature it was told apart (cast number, bore, oil hole ...)",
        )
