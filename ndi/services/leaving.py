"""Parts that leave for assembly, stores or the owner while no acceptance stands: only with a reason, and first to be looked for."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.errors import InputError, NotFound
from ndi.domain.vocabulary import SPLIT, Disposition
from ndi.services.assemble import decision_in_force
from ndi.services.lookup import about
from ndi.services.ports import InspectionRow, Session
from ndi.services.rejected_pieces import gone
from ndi.services.workplace import Workplace

SHORTEST_REASON = 10  # letters: a reason that says something

# how the places begin from which a part has to be brought back, or its owner told
SHIPPED = "shipped"
LEAVING = {"assembl": "assembly", "store": "stores", "ship": SHIPPED}


def leaves_for(place: str) -> str | None:
    """Assembly, stores or shipped when a place is one of them, however it is written: ``sub-assembly bench 2``, ``shipping``."""
    words = re.findall(r"[^\W\d_]+", place.casefold().replace("dis-", "dis"))
    return next((known for stem, known in LEAVING.items() if any(word.startswith(stem) for word in words)), None)


def without_acceptance(work: Workplace, session: Session, part: str, piece: str | None = None) -> tuple[str, ...]:
    """What stands against a part or piece leaving, a line for each record, and for each method of which there is none.

    Empty when every record is an acceptance.

    Records that a later one took the place of do not count, nor do pieces that are scrapped or returned by signature.
    """
    left = gone(session, part)
    if None in left or piece in left:
        return ()
    rows = session.inspections(part=part)
    replaced = {row.previous for row in rows}
    lines = [_stands(session, row, piece) for row in rows if row.inspection not in replaced]
    return tuple(line for line in [*lines, *_not_begun(work, session, part, rows)] if line)


def _not_begun(work: Workplace, session: Session, part: str, rows: list[InspectionRow]) -> Iterator[str]:
    """A line for each method that the part master asks for and of which there is no record.

    Nothing is asked of a part that is not to be inspected, nor of one whose
    part number no master was adopted for.
    """
    row = session.part(part)
    if row.reason_code is not None:
        return
    try:
        master = work.master(session, row.part_no)
    except NotFound:
        return
    begun = {each.method for each in rows}
    for method in dict.fromkeys(need.method for need in master.required):
        if method not in begun:
            yield f"no {method} record"


def _stands(session: Session, row: InspectionRow, piece: str | None) -> str:
    """Why a record is no acceptance that stands; empty when it is one."""
    word = row.disposition
    if row.disposition == SPLIT:
        signed = decision_in_force(session, row.inspection)
        children = signed.fact.children if signed else ()
        word = next((each.disposition for each in children if piece and each.piece == piece), Disposition.ACCEPT)
    if row.suspended:
        return f"{row.inspection} {word} - SUSPENDED"
    if row.provisional and word == Disposition.ACCEPT:
        signed = decision_in_force(session, row.inspection)
        waits = f", waits for {signed.fact.waits_for}" if signed and signed.fact.waits_for else ""
        return f"{row.inspection} ACCEPT - PROVISIONAL{waits}"
    return "" if word == Disposition.ACCEPT else f"{row.inspection} {word}"


def refusal(work: Workplace, session: Session, fact: f.Fact) -> str:
    """Why a location scan is not taken as it is, with the ways out; empty when it is.

    InputError for a reason that says nothing.
    """
    if not isinstance(fact, f.PartMoved) or leaves_for(fact.place) is None:
        return ""
    lines = without_acceptance(work, session, fact.part, fact.piece)
    if not lines:
        return ""
    reason = (fact.reason or "").strip()
    if reason and len(reason) < SHORTEST_REASON:
        raise InputError(f"the reason is kept for ever: write {SHORTEST_REASON} letters or more")
    if reason:
        return ""
    name = f"{fact.part} piece {fact.piece}" if fact.piece else fact.part
    return (
        f"{name} is scanned to {fact.place} only with a reason: {'; '.join(lines)}. Leave it where it is until the acceptance "
        "stands (take the reading that it waits for, or look again), or give the reason for it; it then stands first on "
        "the recall list"
    )


# --- what is out ------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Departure:
    """A part or piece that is out of the shop's hands while a record of it is no acceptance that stands.

    ``reason`` is empty where the acceptance fell after it had left.
    """

    part: str
    piece: str | None
    place: str
    moved: Recorded[f.PartMoved]
    lines: tuple[str, ...]

    @property
    def reason(self) -> str:
        return self.moved.fact.reason or ""

    @property
    def name(self) -> str:
        return f"{self.part} piece {self.piece}" if self.piece else self.part

    @property
    def where(self) -> str:
        return self.place if self.place == SHIPPED else f"at {self.place}"

    @property
    def brief(self) -> str:
        """``W26-0148/P-100/S-4711 at assembly: trial fit``."""
        return f"{self.name} {self.where}: {self.reason or 'its acceptance stood when it left'}"

    @property
    def text(self) -> str:
        """``at assembly since 11:50, RCV-H: reason; PT-006 ACCEPT - SUSPENDED``."""
        said = f"left with the reason: {self.reason}" if self.reason else "its acceptance stood when it left"
        return f"{self.where} since {self.moved.when} ({self.moved.by}), {said}; {'; '.join(self.lines)}"


_NOT_ACCEPTED = (Disposition.NO_DECISION, Disposition.REJECT, Disposition.HOLD_ENG, Disposition.REWORK, SPLIT)


def departures(work: Workplace, session: Session) -> tuple[Departure, ...]:
    """Every part and piece that is out and not accepted; what was let go with a reason first, then by time."""
    rows = [*session.inspections(provisional=True), *session.inspections(suspended=True)]
    rows += [row for word in _NOT_ACCEPTED for row in session.inspections(disposition=word)]
    parts = dict.fromkeys(row.part for row in rows if row.quantity > 1 or _is_out(session, row.part))
    # parts that left with a reason before any record of a method was begun
    parts |= dict.fromkeys(line.body["part"] for line in session.lines(f.PartMoved) if line.body.get("reason"))
    found = [each for part in parts for each in departures_of(work, session, part)]
    return tuple(sorted(found, key=lambda each: (not each.reason, each.moved.at, each.moved.position)))


def _is_out(session: Session, part: str) -> bool:
    place = session.part(part).place
    return place is not None and leaves_for(place) is not None


def departures_of(work: Workplace, session: Session, part: str) -> tuple[Departure, ...]:
    """The part itself and pieces of it that are out and not accepted."""
    latest: dict[str | None, Recorded[f.PartMoved]] = {}
    for moved in about(session, f.PartMoved, part):
        latest[moved.fact.piece] = moved
    found = []
    for piece, moved in latest.items():
        place = leaves_for(moved.fact.place)
        lines = without_acceptance(work, session, part, piece) if place else ()
        if place and lines:
            found.append(Departure(part, piece, place, moved, lines))
    return tuple(found)


def let_go(work: Workplace, session: Session, parts: Iterable[str]) -> dict[str, str]:
    """Of some parts those that left with a reason and are not accepted, each with that reason."""
    return {
        each.part: each.reason
        for part in dict.fromkeys(parts)
        for each in departures_of(work, session, part)
        if each.reason
    }
