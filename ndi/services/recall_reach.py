"""How far a bad object reaches: under which names, and from when to when, records relied on it.

A lamp, bath, bench, line or batch is relied on directly.  A meter is relied on
through everything that was read with it, a person also through the steps and the
signatures that no view of theirs names.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime
from typing import NamedTuple

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.services.bearing import lines_with, records_named
from ndi.services.lookup import about, every
from ndi.services.ports import Reliance, Session

_STEPS: tuple[type[f.Fact], ...] = (f.StepStarted, f.StepEnded, f.ShotFired, f.Demagnetised, f.ResidualRead)


class Window(NamedTuple):
    """An object under one name, in (since, until]; ``since`` None: from its first use."""

    name: str
    since: datetime | None
    until: datetime


def windows(
    session: Session, object_: str, since: datetime | None, until: datetime, also: Iterable[str] = ()
) -> tuple[Window, ...]:
    """Where an object in doubt in (since, until] was relied upon, each name once for each stretch of time."""
    found = [Window(name, since, until) for name in dict.fromkeys((object_, *also))]
    return tuple(_joined([*found, *_read_with(session, object_, since, until)]))


def _read_with(session: Session, meter: str, since: datetime | None, until: datetime) -> Iterator[Window]:
    """What was read with a meter in doubt: relied upon from the reading before each to the one after it."""
    doubted = [
        r
        for r in about(session, f.ReadingRecorded, meter, since=since, until=until)
        if r.fact.meter == meter and r.fact.object != meter and (since is None or r.at > since)
    ]
    read = {(r.fact.object, r.fact.quantity) for r in doubted}
    for thing, quantity in sorted(read):
        same = [
            r
            for r in about(session, f.ReadingRecorded, thing)
            if (r.fact.object, r.fact.quantity) == (thing, quantity) and r.at <= until
        ]
        names = (thing, *lines_with(session, thing))
        for number, reading in enumerate(same):
            if reading.fact.meter != meter or (since is not None and reading.at <= since):
                continue
            before = same[number - 1].at if number else None
            after = same[number + 1].at if number + 1 < len(same) else until
            for name in names:
                yield Window(name, before, after)


def _joined(found: Iterable[Window]) -> Iterator[Window]:
    """The same stretches with those of one name that touch made one, so that nothing is asked twice."""
    by_name: dict[str, list[Window]] = {}
    for window in found:
        by_name.setdefault(window.name, []).append(window)
    for name, stretches in by_name.items():
        stretches.sort(key=lambda w: (w.since is not None, w.since or w.until))
        current = stretches[0]
        for window in stretches[1:]:
            if window.since is None or window.since <= current.until:
                current = Window(name, current.since, max(current.until, window.until))
            else:
                yield current
                current = window
        yield current


def worked(session: Session, person: str, since: datetime | None, until: datetime) -> Iterator[Reliance]:
    """Records that rest on a person through a step, a shot, a residual reading or a signature in (since, until].

    Looks through every step of the book, for the rare change of a certificate;
    empty for an object that is no person.
    """
    if not about(session, f.PersonEntered, person):
        return
    for kind in _STEPS:
        for recorded in every(session, kind):
            if person in (recorded.by, recorded.on_behalf_of) and _within(recorded, since, until):
                for inspection in records_named(session, recorded.fact):
                    yield _reliance(session, inspection, kind.__name__)
    for signed in about(session, f.DecisionSigned, person):
        if signed.fact.person == person and _within(signed, since, until):
            yield _reliance(session, signed.fact.inspection, f"signed {signed.fact.disposition}")


def _within(recorded: Recorded[f.Fact], since: datetime | None, until: datetime) -> bool:
    return (since is None or recorded.at > since) and recorded.at <= until


def _reliance(session: Session, inspection: str, what: str) -> Reliance:
    row = session.inspection(inspection)
    return Reliance(inspection, what, what, 1, row.part, row.quantity, some_voided=False)


class Scope(NamedTuple):
    """What a doubt is of where it is not of everything: records of one method, or of one technique."""

    column: str  # of the table of inspections
    value: str


def scope_of(fact: f.Fact) -> Scope | None:
    """A certificate is for a method, an authorisation for a technique; None for a doubt of everything."""
    if isinstance(fact, f.CertificateEntered):
        return Scope("method", fact.method)
    return Scope("technique", fact.technique) if isinstance(fact, f.AuthorisationEntered) else None


def within(session: Session, uses: Iterable[Reliance], scope: Scope | None) -> list[Reliance]:
    """The uses by records that a doubt is of."""
    if scope is None:
        return list(uses)
    fits: dict[str, bool] = {}
    for use in uses:
        if use.inspection not in fits:
            fits[use.inspection] = getattr(session.inspection(use.inspection), scope.column) == scope.value
    return [use for use in uses if fits[use.inspection]]
