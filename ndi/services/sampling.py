"""Which records an auditor looks at: drawn by a number that is printed, so that anybody can draw the same again."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, tzinfo

from ndi.domain.errors import InputError
from ndi.services.ports import InspectionRow, Session
from ndi.services.workplace import Workplace


@dataclass(frozen=True)
class Choice:
    """From which records is drawn: signed ones, decided from ``since`` to ``until`` (local days, both counted)."""

    since: date | None = None
    until: date | None = None
    method: str | None = None

    @property
    def words(self) -> str:
        days = f"decided from {self.since or 'the first day'} to {self.until or 'now'}"
        return f"signed records, {days}" + (f", {self.method} only" if self.method else "")


@dataclass(frozen=True)
class Sample:
    """What was drawn.  ``population`` is how many there were, ``digest`` the SHA-256 over their names, one a line."""

    seed: str
    choice: Choice
    population: int
    digest: str
    drawn: tuple[str, ...]


def draw(work: Workplace, count: int, seed: str | None = None, choice: Choice | None = None) -> Sample:
    """Draw records: those whose SHA-256 over ``seed:record`` comes first, in the order in which they were opened.

    Without a ``seed`` the head of the book is it, which nobody chooses.
    InputError for a count below 1 and for more than there are.
    """
    chosen = choice or Choice()
    with work.look() as session:
        seed = seed or str(session.head())
        names = _names(session, chosen, work.now().local.tzinfo)
    if count < 1:
        raise InputError(f"a sample of {count} is none: ask for 1 or more")
    if count > len(names):
        raise InputError(f"{len(names)} records to draw from ({chosen.words}), {count} asked for: ask for fewer")
    first = set(sorted(names, key=lambda name: (_place(seed, name), name))[:count])
    digest = hashlib.sha256("\n".join(names).encode()).hexdigest()
    return Sample(seed, chosen, len(names), digest, tuple(name for name in names if name in first))


def _place(seed: str, name: str) -> bytes:
    return hashlib.sha256(f"{seed}:{name}".encode()).digest()


def _names(session: Session, choice: Choice, zone: tzinfo | None) -> list[str]:
    return [row.inspection for row in _rows(session) if _fits(row, choice, zone)]


def _rows(session: Session) -> Iterable[InspectionRow]:
    return (row for row in session.inspections() if row.decided_at is not None)


def _fits(row: InspectionRow, choice: Choice, zone: tzinfo | None) -> bool:
    assert row.decided_at is not None
    day = row.decided_at.astimezone(zone).date()
    return (
        (choice.since is None or choice.since <= day)
        and (choice.until is None or day <= choice.until)
        and choice.method in (None, row.method)
    )
