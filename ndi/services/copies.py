"""What the book knows of its own copies: that one was made, how old the last one is."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from ndi.domain import facts as f
from ndi.domain.entry import Draft, Obtained, Recorded
from ndi.services.lookup import every
from ndi.services.ports import Head, Session
from ndi.services.workplace import Workplace


def record_backup(
    work: Workplace, place: str, head: Head, by: str, *, photographs: int = 0, missing: tuple[str, ...] = ()
) -> Recorded[f.Fact]:
    """Keep that a copy was made and read back."""
    with work.transaction() as session:
        fact = f.BackupMade(place, head.position, head.hash, photographs, missing)
        (recorded,) = session.append([Draft(fact, work.now(), by, Obtained.COMPUTED)])
        return recorded


@dataclass(frozen=True)
class BackupAge:
    """The last copy, how long ago it was made, and how many entries it does not hold."""

    made: Recorded[f.BackupMade]
    age: timedelta
    entries_since: int


def backup_age(work: Workplace, session: Session) -> BackupAge | None:
    """None when no copy was ever made."""
    made = every(session, f.BackupMade)
    if not made:
        return None
    last = max(made, key=lambda recorded: recorded.position)
    return BackupAge(last, work.clock.now() - last.at, session.head().position - last.fact.position)
