"""Who is checked in today, and what each may do."""

from __future__ import annotations

from dataclasses import dataclass

from ndi.domain import facts as f
from ndi.services.lookup import about
from ndi.services.ports import Session
from ndi.services.signing import roles_of
from ndi.services.workplace import Workplace


@dataclass(frozen=True)
class Helper:
    """A person and what the certificates that are valid today allow."""

    person: str
    can: str


def who_can_help(work: Workplace, session: Session) -> tuple[Helper, ...]:
    """Everybody who checked in on this local day and has not checked out, highest level first."""
    now = work.now()
    start = now.local.replace(hour=0, minute=0, second=0, microsecond=0)
    here = {}
    people = sorted({r.fact.person for r in session.of_kind(f.PersonEntered) if isinstance(r.fact, f.PersonEntered)})
    for person in people:
        last_in = about(session, f.CheckedIn, person, since=start, until=now.at)
        last_out = about(session, f.CheckedOut, person, since=start, until=now.at)
        if last_in and not (last_out and last_out[-1].at > last_in[-1].at):
            here[person] = last_in[-1]
    found = []
    for person in here:
        today = now.local.date()
        held = [
            r.fact for r in about(session, f.CertificateEntered, person) if r.fact.issued <= today <= r.fact.expires
        ]
        levels = {fact.method: max(c.level for c in held if c.method == fact.method) for fact in held}
        words = [f"{method} level {level}" for method, level in sorted(levels.items())]
        words += sorted(roles_of(session, person) - {"inspector"})
        found.append((max(levels.values(), default=0), Helper(person, ", ".join(words))))
    found.sort(key=lambda item: (-item[0], item[1].person))
    return tuple(helper for _, helper in found)
