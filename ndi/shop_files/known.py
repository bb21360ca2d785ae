"""What rows may refer to: what the book holds, and what earlier rows of the same import bring."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from ndi.domain import facts as f
from ndi.services.lookup import every
from ndi.services.ports import Session


@dataclass
class Known:
    """Names that are taken or may be referred to; ``here`` is today at the station."""

    here: date
    people: set[str] = field(default_factory=set)
    equipment: set[str] = field(default_factory=set)
    batches: set[str] = field(default_factory=set)
    work_orders: set[str] = field(default_factory=set)
    parts: set[str] = field(default_factory=set)
    masters: dict[str, str] = field(default_factory=dict)  # part number -> "serial" or "lot"
    techniques: set[str] = field(default_factory=set)
    revisions: set[tuple[str, str]] = field(default_factory=set)

    def learn(self, fact: f.Fact) -> None:
        """Take up what a fact brings in."""
        match fact:
            case f.PersonEntered():
                self.people.add(fact.person)
            case f.EquipmentEntered():
                self.equipment.add(fact.equipment)
            case f.BatchEntered():
                self.batches.add(fact.batch)
            case f.WorkOrderOpened():
                self.work_orders.add(fact.work_order)
            case f.PartListed():
                self.parts.add(fact.part)
            case f.DocumentAdopted(document="technique"):
                self.techniques.add(fact.number)
            case f.DocumentAdopted(document="procedure"):
                self.revisions.add((fact.number, fact.revision))
            case _:
                pass


def known_in(session: Session, here: date, masters: dict[str, str]) -> Known:
    """What a book holds now."""
    known = Known(here, masters=masters)
    for kind in (
        f.PersonEntered,
        f.EquipmentEntered,
        f.BatchEntered,
        f.WorkOrderOpened,
        f.PartListed,
        f.DocumentAdopted,
    ):
        for recorded in every(session, kind):
            known.learn(recorded.fact)
    return known
