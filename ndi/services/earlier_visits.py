"""Earlier visits that this book itself recorded, beside those that were entered from older papers.

A crack in the same zone of the same part number, or on the same serial number,
was found here before: for the rules on history it is the same as a line of the
shop's old papers, and its evidence is the entry that called it a crack.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.vocabulary import Interpretation, is_crack_type
from ndi.services.ports import PartRow, Session


def earlier_visits(
    session: Session, row: PartRow, opened: datetime, *, until: datetime, has_crack: bool
) -> Iterator[Recorded[f.PastInspection]]:
    """Relevant indications on earlier stays of this serial number; with ``has_crack`` also cracks of its part number.

    Each stands at the entry that interpreted it.  Nothing of the same work
    order is an earlier visit of the serial number; a crack on another piece of
    it counts for the part number.
    """
    given: set[int] = set()
    if row.serial is not None:
        for stay in session.parts_by_serial(row.serial):
            if stay.serial == row.serial and stay.part_no == row.part_no and stay.work_order != row.work_order:
                for each in _of_stay(session, stay):
                    if each.at < opened:
                        given.add(each.position)
                        yield each
    if has_crack:
        yield from (each for each in _cracks(session, row, until) if each.position not in given)


def _of_stay(session: Session, stay: PartRow) -> Iterator[Recorded[f.PastInspection]]:
    for record in session.inspections(part=stay.part):
        for seen in session.facts(record.inspection, (f.IndicationSeen,)):
            assert isinstance(seen.fact, f.IndicationSeen)
            found = _found(session, seen.fact, stay)
            if found is not None:
                yield found


def _cracks(session: Session, row: PartRow, until: datetime) -> Iterator[Recorded[f.PastInspection]]:
    """Cracks of the part number on other pieces, however long ago: how far back counts is for the procedure to say."""
    called = [
        line.body["indication"]
        for line in session.lines(f.IndicationInterpreted, None, until)
        if line.body["interpretation"] == Interpretation.RELEVANT and is_crack_type(line.body.get("type"))
    ]
    for indication in dict.fromkeys(called):
        for seen in session.facts(indication, (f.IndicationSeen,)):
            assert isinstance(seen.fact, f.IndicationSeen)
            piece = session.part(session.inspection(seen.fact.inspection).part)
            if piece.part_no == row.part_no and piece.part != row.part:
                found = _found(session, seen.fact, piece)
                if found is not None and is_crack_type(found.fact.type):
                    yield found


def _found(session: Session, seen: f.IndicationSeen, piece: PartRow) -> Recorded[f.PastInspection] | None:
    """The indication as it was called last; None while it is not called relevant."""
    called = session.facts(seen.indication, (f.IndicationInterpreted,))
    if not called:
        return None
    last = max(called, key=lambda recorded: recorded.position)
    assert isinstance(last.fact, f.IndicationInterpreted)
    if last.fact.interpretation != Interpretation.RELEVANT:
        return None
    past = f.PastInspection(
        piece.part_no, piece.work_order, piece.serial or piece.lot or piece.part, seen.zone, last.fact.type, seen.clock
    )
    return Recorded(past, last.when, last.by, last.how, last.recorded_at, last.position, last.uid)
