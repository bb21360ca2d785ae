"""Recall sets: what was in doubt, what is to be done with each record, what is done."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from ndi.domain import facts as f
from ndi.gui.presenters.desk import marks
from ndi.gui.presenters.desk.acts import Act
from ndi.gui.presenters.desk.listing import Column, Labelled, Listing, Row
from ndi.services.containment import all_containments, containment, latest_actions, propose_actions
from ndi.services.lookup import about
from ndi.services.record_signatures import cause_text
from ndi.services.workplace import Workplace

_SETS = (
    Column("Recall set", 10),
    Column("Object", 12),
    Column("In doubt", 34, stretch=True),
    Column("Records", 8, right=True),
    Column("Pieces", 7, right=True),
    Column("Stands", 20, stretch=True),
)
_ITEMS = (
    Column("Record", 9),
    Column("State", 28, stretch=True),
    Column("Part", 28, stretch=True),
    Column("Pcs", 4, right=True),
    Column("Place", 12),
    Column("To do", 12),
    Column("Because, or how it was done", 40, stretch=True),
)


@dataclass(frozen=True)
class RecallView:
    """One recall set."""

    name: str
    lines: tuple[Labelled, ...]
    items: Listing


class Recalls:
    """Every recall set of the book."""

    def __init__(self, work: Workplace, person: Callable[[], str]) -> None:
        self._work, self._person = work, person

    def listing(self) -> Listing:
        """The latest first."""
        with self._work.book.session(readonly=True) as session:
            rows = []
            for recorded in reversed(all_containments(session)):
                fact = recorded.fact
                done = {r.fact.inspection for r in about(session, f.ContainmentItemDone, fact.containment)}
                left = len(set(fact.inspections) - done)
                mark = marks.Mark(marks.RUNNING, f"{left} to do") if left else marks.Mark(marks.SETTLED, "all done")
                doubt = f"{fact.last_good or 'from the first use'} to {fact.first_bad}"
                rows.append(
                    Row(
                        (fact.containment, fact.object, doubt, str(len(fact.inspections)), str(fact.pieces), str(mark)),
                        fact.containment,
                        act=bool(left),
                    )
                )
        return Listing(_SETS, tuple(rows), "No recall set was opened.")

    def recall(self, name: str) -> RecallView:
        """One recall set with each of its records."""
        with self._work.book.session(readonly=True) as session:
            fact = containment(session, name).fact
            done = {r.fact.inspection: r for r in about(session, f.ContainmentItemDone, name)}
            actions = latest_actions(session, name)
            rows = []
            for inspection in fact.inspections:
                row = session.inspection(inspection)
                mark = marks.of_disposition(row.disposition, suspended=row.suspended, provisional=row.provisional)
                place = session.part(row.part).place or "not scanned"
                item, action = done.get(inspection), actions.get(inspection)
                todo = "done" if item else action.action if action else "not proposed"
                because = (
                    f"{item.fact.how} {item.when.clock()}, {item.by}" if item else action.because if action else ""
                )
                rows.append(
                    Row(
                        (
                            inspection,
                            str(mark),
                            f"{row.part_no}  {row.part.split('/')[-1]}",
                            str(row.quantity),
                            place,
                            todo,
                            because,
                        ),
                        inspection,
                        act=item is None,
                    )
                )
            lines = (
                Labelled("Cause", cause_text(session, fact.trigger)),
                Labelled("In doubt", f"from {fact.last_good or 'the first use'} to {fact.first_bad}"),
                Labelled("Holds", f"{len(fact.inspections)} records, {fact.pieces} pieces; {len(done)} done"),
                Labelled("Second looks", ", ".join(fact.second_looks) or "none"),
            )
        return RecallView(name, lines, Listing(_ITEMS, tuple(rows), "Nothing relied on it."))

    def propose(self, name: str) -> Act:
        """Work out the cheapest lawful action for each record as things stand now."""

        def make(_proof: object) -> str:
            found = propose_actions(self._work, name)
            return f"{name}: {len(found.actions)} actions proposed anew"

        return Act(f"Propose the actions of {name} anew", self._person() or self._work.station, make)
