"""The blend ledger: all metal ever taken off a serial number, zone by zone, oldest first."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotFound
from ndi.domain.quantity import Number
from ndi.services.lookup import about
from ndi.services.ports import PartRow, Session

MOST_STAYS = 500


@dataclass(frozen=True)
class Taken:
    """One rework; ``source`` is the record, or the paper of an earlier visit."""

    done: date
    depth: Number | None
    work_order: str | None
    source: str
    position: int


@dataclass(frozen=True)
class ZoneLedger:
    """All reworks of one zone of one serial number, oldest first."""

    part_no: str
    serial: str
    zone: str
    lines: tuple[Taken, ...]

    @property
    def unit(self) -> str:
        """The unit of the first depth that is known."""
        return next((line.depth.unit for line in self.lines if line.depth), "in")

    def sum(self) -> Fraction:
        """The depths that are known, exactly, in :attr:`unit`."""
        return sum((line.depth.in_unit(self.unit) for line in self.lines if line.depth), Fraction(0))

    @property
    def without_depth(self) -> int:
        """Reworks whose depth nobody recorded: the sum is then a least one."""
        return sum(1 for line in self.lines if line.depth is None)


def ledger(
    session: Session, serial: str, *, part_no: str | None = None, zone: str | None = None
) -> tuple[ZoneLedger, ...]:
    """The ledgers of a serial number by zone.

    NotFound for a serial number that the book does not know; InputError when
    several part numbers carry it and none is named.
    """
    stays = [row for row in session.parts_by_serial(serial, MOST_STAYS) if row.serial == serial]
    past = [r for r in about(session, f.PastRework, serial) if r.fact.serial == serial]
    numbers = sorted({row.part_no for row in stays} | {r.fact.part_no for r in past})
    if not numbers:
        raise NotFound(f"no piece with serial number {serial} in the book: look at the number again")
    if part_no is None and len(numbers) > 1:
        raise InputError(f"serial number {serial} is on {', '.join(numbers)}: name the part number too")
    chosen = part_no or numbers[0]
    lines = [(r.fact.zone, _from_paper(r.fact, r.position)) for r in past if r.fact.part_no == chosen]
    lines += [entry for row in stays if row.part_no == chosen for entry in _of_stay(session, row)]
    return tuple(_grouped(chosen, serial, [each for each in lines if zone in (None, each[0])]))


def _from_paper(fact: f.PastRework, position: int) -> Taken:
    return Taken(fact.done, fact.depth, fact.work_order, fact.source or "earlier visit", position)


def _of_stay(session: Session, row: PartRow) -> Iterable[tuple[str, Taken]]:
    for r in about(session, f.ReworkDone, row.part):
        yield r.fact.zone, Taken(r.when.local.date(), r.fact.depth, row.work_order, r.fact.inspection, r.position)


def _grouped(part_no: str, serial: str, lines: list[tuple[str, Taken]]) -> Iterable[ZoneLedger]:
    for zone in sorted({zone for zone, _ in lines}):
        own = sorted((taken for each, taken in lines if each == zone), key=lambda taken: (taken.done, taken.position))
        yield ZoneLedger(part_no, serial, zone, tuple(own))
