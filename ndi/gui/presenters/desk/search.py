"""Search: one field for a serial number, work order, zone, person, lamp, batch, inspection, tag or document."""

from __future__ import annotations

from dataclasses import dataclass

from ndi.gui.presenters.desk.listing import Column, Listing, Row
from ndi.services import search
from ndi.services.workplace import Workplace

_COLUMNS = (
    Column("Kind", 13),
    Column("Name", 20),
    Column("What it is", 44, stretch=True),
    Column("Where it stands", 34),
)
_SCREEN_OF = {
    search.WORK_ORDER: "work orders",
    search.PART: "work orders",
    search.INSPECTION: "record",
    search.INDICATION: "record",
    search.TAG: "record",
    search.PERSON: "people",
    search.EQUIPMENT: "equipment",
    search.BATCH: "materials",
    search.ZONE: "procedures",
    search.DOCUMENT: "procedures",
    search.RECALL: "recalls",
}


@dataclass(frozen=True)
class Place:
    """A screen and what it is to show."""

    screen: str
    key: str


class Search:
    """What was typed or scanned, as a list that leads on."""

    def __init__(self, work: Workplace) -> None:
        self._work = work

    def find(self, text: str) -> tuple[Listing, str]:
        """What was found, and a sentence about it."""
        found = search.find(self._work, text)
        rows = tuple(
            Row((each.kind, each.name, each.what, each.stands), f"{_SCREEN_OF[each.kind]}|{each.leads_to}")
            for each in found
        )
        typed = " ".join(text.split())
        said = (
            f"{len(rows)} found for {typed}"
            if rows
            else f"Nothing begins with {typed!r}: type less of it, or scan the code"
            if typed
            else ""
        )
        return Listing(
            _COLUMNS,
            rows,
            "Type or scan: serial number, work order, inspection, zone, person, lamp, batch, tag, procedure.",
        ), said


def place_of(key: str) -> Place:
    """Where a row of the search leads."""
    screen, _, name = key.partition("|")
    return Place(screen, name)
