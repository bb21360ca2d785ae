"""Typed reading of facts from a session: one kind about one subject, or every fact of one kind."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import TypeVar, cast

from ndi.domain.entry import Recorded
from ndi.domain.errors import NotFound
from ndi.domain.facts import Fact
from ndi.services.ports import Session

F = TypeVar("F", bound=Fact)


def about(
    session: Session, kind: type[F], subject: str, *, since: datetime | None = None, until: datetime | None = None
) -> list[Recorded[F]]:
    """Facts of one kind about a subject, by event time."""
    return cast("list[Recorded[F]]", session.facts(subject, [kind], since=since, until=until))


def every(session: Session, kind: type[F]) -> list[Recorded[F]]:
    """Every fact of one kind that is in force, by event time."""
    return cast("list[Recorded[F]]", session.of_kind(kind))


def only(session: Session, kind: type[F], subject: str) -> Recorded[F]:
    """The latest fact of a kind about a subject; NotFound."""
    found = about(session, kind, subject)
    if not found:
        raise NotFound(f"the book holds no {kind.__name__} for {subject}")
    return found[-1]


def existing(session: Session, inspections: Iterable[str]) -> list[str]:
    """Those of some inspections that were opened, once each: a fact may name one that was refused."""
    found = []
    for inspection in dict.fromkeys(inspections):
        try:
            found.append(session.inspection(inspection).inspection)
        except NotFound:
            continue
    return found
