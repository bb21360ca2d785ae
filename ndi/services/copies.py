"""What the book knows of its own copies and exports: that one was made, how old the last one is."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from ndi.domain import facts as f
from ndi.domain.entry import Draft, Obtained, Recorded
from ndi.domain.moment import duration_text
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


def record_export(
    work: Workplace,
    place: str,
    head: Head,
    by: str,
    *,
    manifest: str,
    entries: int,
    work_order: str | None = None,
    photographs: int = 0,
    missing: tuple[str, ...] = (),
) -> Recorded[f.Fact]:
    """Keep that the book, or what concerns one work order, went out: where to, up to which entry, by whom."""
    with work.transaction() as session:
        fact = f.ExportMade(place, head.position, head.hash, manifest, entries, work_order, photographs, missing)
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


def last_export(session: Session) -> Recorded[f.ExportMade] | None:
    """The last export of the whole book; None when there was none."""
    made = [recorded for recorded in every(session, f.ExportMade) if recorded.fact.work_order is None]
    return max(made, key=lambda recorded: recorded.position, default=None)


USUAL_HOURS = 24  # a backup each working day: common practice, no source


def copies_text(work: Workplace, session: Session) -> str:
    """How old the last backup and the last export are, in a sentence each."""
    age, out = backup_age(work, session), last_export(session)
    if age is None:
        said = "No backup of this book was ever made."
    else:
        more = f"{age.entries_since} entries since" if age.entries_since else "nothing since"
        said = f"Last backup {duration_text(age.age)} ago ({age.made.when}), {more}."
        if age.made.fact.missing:
            said += f" {len(age.made.fact.missing)} photographs were missing in it."
    return said + (f" Last export {out.when}." if out else " Never exported.")


def late_backup(work: Workplace, session: Session) -> str:
    """What is wrong with the last backup; empty when it is of a day, or nothing was entered since.

    Without an age in it: whoever read the sentence has read it until there is another backup.
    """
    age = backup_age(work, session)
    if age is None:
        return "no backup of this book was ever made: ndi backup"
    if age.age > timedelta(hours=USUAL_HOURS) and age.entries_since > 1:
        return f"the last backup is of {age.made.when}, more than {USUAL_HOURS} h old: ndi backup"
    return ""
