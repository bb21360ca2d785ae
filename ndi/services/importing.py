"""Brings in what a shop kept before: many facts in one transaction, and what rests on them judged again."""

from __future__ import annotations

from collections.abc import Sequence

from ndi.domain import facts as f
from ndi.domain.entry import Draft, Obtained, Recorded
from ndi.domain.moment import Moment
from ndi.services.bearing import records_of_part, relying_on_any
from ndi.services.deciding import reconsider
from ndi.services.lookup import about
from ndi.services.proof import Meaning, Proof
from ndi.services.signing import require
from ndi.services.workplace import Refused, Workplace


def bring_in(
    work: Workplace,
    facts: Sequence[tuple[f.Fact, Moment]],
    *,
    by: str,
    why: str,
    covers: Sequence[str],
    proof: Proof | None = None,
) -> tuple[Recorded[f.Fact], ...]:
    """Enter facts as transcribed, all or none; refused for somebody whom the book does not know.

    ``proof`` (in a practice book none): of that person, for ``covers``.
    Signed records that rest on a person, lamp, meter, bath, line, batch or work
    order named by them are judged again, as after any fact from outside (law 10).
    """
    with work.act("bring in tables", by, "tables") as session:
        require(work, session, proof, by, Meaning.PERFORMED, covers, office=True)
        if not about(session, f.PersonEntered, by):
            raise Refused((), f"{by} is not a person of this book: a person of the book brings in its tables")
        written = session.append([Draft(fact, when, by, Obtained.TRANSCRIBED, why=why) for fact, when in facts])
        for recorded in written:
            affected = [*relying_on_any(session, recorded.fact), *records_of_part(session, recorded.fact)]
            reconsider(work, session, affected, recorded.position)
        return written
