"""Entries as lists need them: straight from the journal along the indexes of the read tables, bodies not decoded into facts."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import datetime
from functools import cache
from typing import Any

from sqlalchemy import FromClause, Select, bindparam, select

from ndi.domain.codec import utc_text
from ndi.domain.facts import Fact
from ndi.services.ports import Correction, Line
from ndi.store.schema import ReadTables, entry
from ndi.store.transaction import Tx

_WANTED = ("position", "kind", "event_time", "offset_min", "by", "how", "recorded_time", "why", "body")


def _columns(table: FromClause) -> list[Any]:
    return [table.c[name] for name in _WANTED]


@cache
def _of_kind(tables: ReadTables, since: bool, until: bool) -> Select[Any]:
    fact = tables.fact
    query = (
        select(*_columns(entry))
        .select_from(fact.join(entry, entry.c.position == fact.c.position))
        .where(fact.c.kind == bindparam("kind"), fact.c.nth == 0, fact.c.superseded.is_(False))
    )
    if since:
        query = query.where(fact.c.at >= bindparam("since"))
    if until:
        query = query.where(fact.c.at < bindparam("until"))
    return query.order_by(fact.c.at, fact.c.position)


@cache
def _obtained(tables: ReadTables) -> Select[Any]:
    fact = tables.fact
    return (
        select(*_columns(entry))
        .select_from(entry.join(fact, fact.c.position == entry.c.position))
        .where(entry.c.how == bindparam("how"), fact.c.nth == 0, fact.c.superseded.is_(False))
        .order_by(entry.c.position)
    )


@cache
def _corrections() -> Select[Any]:
    old = entry.alias()
    return (
        select(*_columns(old), *_columns(entry))
        .select_from(entry.join(old, old.c.uid == entry.c.supersedes))
        .where(entry.c.supersedes.is_not(None))
        .order_by(entry.c.position)
    )


def _line(row: Sequence[Any]) -> Line:
    position, kind, at, offset_min, by, how, recorded, why, body = row
    return Line(position, kind, at, offset_min, by, how, recorded, why, json.loads(body))


def of_kind(tx: Tx, kind: type[Fact], since: datetime | None, until: datetime | None) -> list[Line]:
    """Entries of one kind that are not superseded, of event times in ``[since, until)``, by event time, then position."""
    params: dict[str, Any] = {"kind": kind.__name__}
    params.update((name, utc_text(at)) for name, at in (("since", since), ("until", until)) if at is not None)
    rows = tx.quickly(_of_kind(tx.tables, since is not None, until is not None), [params])
    return [_line(row) for row in rows]


def obtained(tx: Tx, how: str) -> list[Line]:
    """Entries in force that came into the book in one way, by position."""
    return [_line(row) for row in tx.quickly(_obtained(tx.tables), [{"how": how}])]


def corrections(tx: Tx) -> list[Correction]:
    """Every entry that supersedes another, with that one, by position of the correction."""
    width = len(_WANTED)
    rows = tx.rows(_corrections())
    return [Correction(_line(tuple(row)[:width]), _line(tuple(row)[width:])) for row in rows]
