"""Entries as lists need them: straight from the journal along the indexes of the read tables, bodies not decoded into facts."""

from __future__ import annotations

import json
import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime
from functools import cache
from typing import Any

from sqlalchemy import JSON, FromClause, Select, Text, bindparam, cast, func, literal_column, select

from ndi.domain.codec import utc_text
from ndi.domain.facts import DecisionSigned, Fact
from ndi.services.ports import Correction, Fields, Kept, Line, Named, Signed
from ndi.store import rows
from ndi.store.schema import ReadTables, entry
from ndi.store.transaction import Tx

# the last key of a decision in the canonical form, whose keys are sorted
_WAITS = re.compile(r'"waits_for":("(?:[^"\\]|\\.)*")\}$')
# Answers in the canonical form of a decision: its keys are sorted, and a quote inside a text has a backslash before
# it, so that no text can look like one.  Bodies of decisions are long; this is ten times as fast as decoding them.
# A warning's reason names a rule too, but no severity.
_RULE = re.compile(r'"rule":"([^"\\]*)","severity"')
_VERDICT = re.compile(r'"rule":"([^"\\]*)","severity":"[^"\\]*","verdict":"([^"\\]*)"')
_RULE_SAYING = '"rule":"([^"\\\\]*)","severity":"[^"\\\\]*","verdict":"{}"'
_LONGEST_WAIT = 2000  # characters at the end of a decision in which the last key is looked for

_WANTED = ("position", "kind", "event_time", "offset_min", "by", "how", "recorded_time", "why", "body")


def _columns(table: FromClause) -> list[Any]:
    return [table.c[name] for name in _WANTED]


def _in_force(columns: list[Any], tables: ReadTables, since: bool, until: bool) -> Select[Any]:
    """Some columns of the entries of one kind that nothing superseded, by time; ``until`` itself is not in it."""
    fact = tables.fact
    query = (
        select(*columns)
        .select_from(fact.join(entry, entry.c.position == fact.c.position))
        .where(fact.c.kind == bindparam("kind"), fact.c.nth == 0, fact.c.superseded.is_(False))
    )
    if since:
        query = query.where(fact.c.at >= bindparam("since"))
    if until:
        query = query.where(fact.c.at < bindparam("until"))
    return query.order_by(fact.c.at, fact.c.position)


@cache
def _of_kind(tables: ReadTables, since: bool, until: bool) -> Select[Any]:
    return _in_force(_columns(entry), tables, since, until)


@cache
def _obtained(tables: ReadTables) -> Select[Any]:
    fact = tables.fact
    return (
        select(*_columns(entry))
        .select_from(entry.join(fact, fact.c.position == entry.c.position))
        .where(entry.c.how == bindparam("how"), fact.c.nth == 0, fact.c.superseded.is_(False))
        .order_by(entry.c.position)
    )


_NAMED = ("position", "kind", "event_time", "offset_min", "by", "how", "recorded_time")


@cache
def _named(tables: ReadTables, since: bool, until: bool) -> Select[Any]:
    return _in_force([*(entry.c[name] for name in _NAMED), tables.fact.c.subject], tables, since, until)


def _field(name: str, engine: str) -> Any:
    """A field of a body as text, by the engine's own reading of JSON."""
    if engine == "postgresql":
        return cast(entry.c.body, JSON).op("->>")(literal_column(f"'{name}'"))
    return cast(func.json_extract(entry.c.body, literal_column(f"'$.{name}'")), Text)


@cache
def _fields(tables: ReadTables, names: tuple[str, ...], engine: str, since: bool, until: bool) -> Select[Any]:
    shown = [entry.c[name] for name in ("position", "event_time", "offset_min", "by")]
    return _in_force([*shown, *(_field(name, engine) for name in names)], tables, since, until)


@cache
def _named_by(tables: ReadTables) -> Select[Any]:
    fact = tables.fact
    return (
        select(*(entry.c[name] for name in _NAMED), fact.c.subject)
        .select_from(entry.join(fact, fact.c.position == entry.c.position))
        .where(
            entry.c.by == bindparam("person"),
            entry.c.event_time >= bindparam("since"),
            entry.c.event_time < bindparam("until"),
            fact.c.nth == 0,
            fact.c.superseded.is_(False),
        )
        .order_by(entry.c.event_time, entry.c.position)
    )


@cache
def _decisions(tables: ReadTables, since: bool) -> Select[Any]:
    fact = tables.fact
    query = (
        select(entry.c.position, entry.c.body)
        .select_from(fact.join(entry, entry.c.position == fact.c.position))
        .where(fact.c.kind == DecisionSigned.__name__, fact.c.nth == 0, fact.c.superseded.is_(False))
    )
    if since:
        query = query.where(fact.c.at >= bindparam("since"))
    return query.order_by(fact.c.at, fact.c.position)


@cache
def _about(tables: ReadTables) -> Select[Any]:
    fact = tables.fact
    return (
        select(*_columns(entry))
        .select_from(fact.join(entry, entry.c.position == fact.c.position))
        .where(fact.c.subject == bindparam("subject"), fact.c.superseded.is_(False))
        .order_by(fact.c.at, fact.c.position)
    )


_BODY = select(entry.c.body).where(entry.c.position == bindparam("position"))


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
    params = {"kind": kind.__name__, **_times(since, until)}
    return [_line(row) for row in tx.quickly(_of_kind(tx.tables, since is not None, until is not None), [params])]


def obtained(tx: Tx, how: str) -> list[Line]:
    """Entries in force that came into the book in one way, by position."""
    return [_line(row) for row in tx.quickly(_obtained(tx.tables), [{"how": how}])]


def _times(since: datetime | None, until: datetime | None) -> dict[str, str]:
    return {name: utc_text(at) for name, at in (("since", since), ("until", until)) if at is not None}


def fields(
    tx: Tx, kind: type[Fact], names: tuple[str, ...], since: datetime | None, until: datetime | None
) -> list[Fields]:
    """Entries in force of one kind with some fields of their bodies, of event times in ``[since, until)``, by event time."""
    query = _fields(tx.tables, names, tx.connection.dialect.name, since is not None, until is not None)
    found = tx.quickly(query, [{"kind": kind.__name__, **_times(since, until)}])
    return [Fields(position, at, offset, by, tuple(values)) for position, at, offset, by, *values in found]


def named(tx: Tx, kind: type[Fact], since: datetime | None, until: datetime | None) -> list[Named]:
    """Entries in force of one kind by their first subject, of event times in ``[since, until)``, by event time."""
    query = _named(tx.tables, since is not None, until is not None)
    return [Named(*row) for row in tx.quickly(query, [{"kind": kind.__name__, **_times(since, until)}])]


def named_by(tx: Tx, person: str, since: datetime, until: datetime) -> list[Named]:
    """Entries in force that one person entered, of event times in ``[since, until)``, by event time."""
    params = {"person": person, **_times(since, until)}
    return [Named(*row) for row in tx.quickly(_named_by(tx.tables), [params])]


def kept(tx: Tx, verdict: str, since: datetime | None) -> list[Kept]:
    """By rule the decisions in force that were signed on one verdict of it, read off the canonical form."""
    asked: Counter[str] = Counter()
    found: dict[str, list[int]] = defaultdict(list)
    saying, word = re.compile(_RULE_SAYING.format(re.escape(verdict))), f'"verdict":"{verdict}"'
    for position, body in tx.quickly(_decisions(tx.tables, since is not None), [_times(since, None)]):
        asked.update(_RULE.findall(body))
        if word in body:
            for rule in saying.findall(body):
                found[rule].append(position)
    return [Kept(rule, count, tuple(found.get(rule, ()))) for rule, count in sorted(asked.items())]


def about(tx: Tx, subject: str) -> list[Line]:
    """Entries in force about a subject, undecoded, by event time, then position."""
    return [_line(row) for row in tx.quickly(_about(tx.tables), [{"subject": subject}])]


def verdicts(tx: Tx, position: int) -> list[tuple[str, str]]:
    """Rule and verdict of each answer that a decision was signed on."""
    return [found for (body,) in tx.quickly(_BODY, [{"position": position}]) for found in _VERDICT.findall(body)]


def signed(tx: Tx, names: Iterable[str]) -> dict[str, Signed]:
    """Who signed the decision in force of some records, and what an acceptance waits for, read off the canonical form."""
    found = {}
    for name, by, body in rows.signatures(tx, names):
        waits = _WAITS.search(body, max(0, len(body) - _LONGEST_WAIT))
        found[name] = Signed(by, json.loads(waits[1]) if waits else None)
    return found


def corrections(tx: Tx) -> list[Correction]:
    """Every entry that supersedes another, with that one, by position of the correction."""
    width = len(_WANTED)
    return [Correction(_line(tuple(row)[:width]), _line(tuple(row)[width:])) for row in tx.rows(_corrections())]
