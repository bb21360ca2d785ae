"""Which objects an inspection relied upon, and from when to when.

Facts may come late or be corrected, so the uses that a fact touches are always
worked out again from all facts that bear on them, by event time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import datetime
from functools import cache
from typing import Any

from sqlalchemy import Delete, Insert, Select, Table, bindparam, delete, insert, select

from ndi.domain import facts as f
from ndi.domain.codec import utc_text
from ndi.domain.entry import Recorded
from ndi.domain.vocabulary import Step
from ndi.store.transaction import Tx

SHOTS, STEPS, RESIDUAL = "shots", "steps", "residual"


@cache
def _delete_of(use: Table) -> Delete:
    return delete(use).where(use.c.source.in_(bindparam("sources", expanding=True)))


@cache
def _insert_use(use: Table) -> Insert:
    return insert(use)


@cache
def _baskets_on_line(use: Table) -> Select[Any]:
    """Baskets with a use of a line that started not earlier than ``since``."""
    return (
        select(use.c.what)
        .where(use.c.object == bindparam("line"), use.c.kind == STEPS, use.c.started >= bindparam("since"))
        .distinct()
        .order_by(use.c.what)
    )


def _rows(
    source: Recorded[Any],
    objects: Iterable[str | None],
    inspections: Iterable[str],
    *,
    ended: datetime | None,
    what: str,
    kind: str,
    attempt: int,
) -> list[dict[str, Any]]:
    inspections = tuple(dict.fromkeys(inspections))
    return [
        {
            "source": source.position,
            "object": name,
            "inspection": inspection,
            "started": utc_text(source.at),
            "ended": None if ended is None else utc_text(ended),
            "what": what,
            "kind": kind,
            "attempt": attempt,
        }
        for name in dict.fromkeys(objects)
        if name
        for inspection in inspections
    ]


def _replace(tx: Tx, sources: Iterable[Recorded[Any]], rows: list[dict[str, Any]]) -> None:
    positions = [source.position for source in sources]
    if positions:
        tx.run(_delete_of(tx.tables.object_use), {"sources": positions})
    if rows:
        tx.run(_insert_use(tx.tables.object_use), rows)


def _earliest(tx: Tx, recorded: Recorded[Any]) -> datetime:
    """From when on a fact may change something: its own time or that of the entry it corrects."""
    old = tx.corrected_by(recorded)
    return recorded.at if old is None else min(recorded.at, old.at)


def _latest_at(entries: list[Recorded[Any]], at: datetime) -> Recorded[Any] | None:
    """The last of ``entries`` (by event time) that is not later than ``at``."""
    return next((each for each in reversed(entries) if each.at <= at), None)


# --- views ----------------------------------------------------------------------------------------


def _views(tx: Tx, recorded: Recorded[Any]) -> None:
    view: str = recorded.fact.view
    starts = tx.facts(view, (f.ViewStarted,), include_superseded=True)
    ends = tx.facts(view, (f.ViewEnded,))
    rows: list[dict[str, Any]] = []
    for start in tx.facts(view, (f.ViewStarted,)):
        fact: f.ViewStarted = start.fact
        stop = next((e for e in ends if e.fact.inspection == fact.inspection and e.at >= start.at), None)
        rows += _rows(
            start,
            (*fact.lamps, fact.person, fact.station),
            (fact.inspection,),
            ended=None if stop is None else stop.at,
            what=view,
            kind=fact.kind,
            attempt=fact.attempt,
        )
    _replace(tx, starts, rows)


# --- shots and residual readings ------------------------------------------------------------------


def _batches(tx: Tx, line: str, at: datetime) -> tuple[str, ...]:
    fill = _latest_at(tx.facts(line, (f.TankFilled,), until=at), at)
    return () if fill is None else fill.fact.batches


def _entered_with_bath(tx: Tx, bench: str) -> list[Recorded[Any]]:
    return [each for each in tx.facts(bench, (f.EquipmentEntered,)) if each.fact.tank_bath]


def _bath(tx: Tx, bench: str, at: datetime) -> str | None:
    """The bath of a bench as it stood; before the first one that is known, that one."""
    known = _entered_with_bath(tx, bench)
    entered = _latest_at(known, at) or (known[0] if known else None)
    return None if entered is None else entered.fact.tank_bath


def _shot_rows(tx: Tx, shot: Recorded[Any]) -> list[dict[str, Any]]:
    fact: f.ShotFired = shot.fact
    objects = (fact.bench, _bath(tx, fact.bench, shot.at), *_batches(tx, fact.bench, shot.at))
    return _rows(shot, objects, (fact.inspection,), ended=shot.at, what=SHOTS, kind=SHOTS, attempt=1)


def _with_corrected(tx: Tx, recorded: Recorded[Any]) -> list[Recorded[Any]]:
    old = tx.corrected_by(recorded)
    return [recorded] if old is None else [old, recorded]


def _shot_fired(tx: Tx, recorded: Recorded[Any]) -> None:
    _replace(tx, _with_corrected(tx, recorded), _shot_rows(tx, recorded))


def _shots_since(tx: Tx, bench: str, since: datetime | None) -> None:
    shots = tx.facts(bench, (f.ShotFired,), since=since)
    _replace(tx, shots, [row for shot in shots for row in _shot_rows(tx, shot)])


def _equipment_entered(tx: Tx, recorded: Recorded[Any]) -> None:
    if not any(each.fact.tank_bath for each in _with_corrected(tx, recorded)):
        return
    known = _entered_with_bath(tx, recorded.fact.equipment)
    is_first = recorded.supersedes is not None or known[0].position == recorded.position
    _shots_since(tx, recorded.fact.equipment, None if is_first else recorded.at)


def _residual_read(tx: Tx, recorded: Recorded[Any]) -> None:
    fact: f.ResidualRead = recorded.fact
    rows = _rows(
        recorded, (fact.meter,), (fact.inspection,), ended=recorded.at, what=RESIDUAL, kind=RESIDUAL, attempt=1
    )
    _replace(tx, _with_corrected(tx, recorded), rows)


# --- baskets on the penetrant line ----------------------------------------------------------------


def _of_step(entries: Iterable[Recorded[Any]], step: Step) -> list[Recorded[Any]]:
    return [each for each in entries if each.fact.step == step]


def _baskets_since(tx: Tx, basket: str, since: datetime) -> None:
    """Work out again the uses of each wetting of a basket from the loading that something at ``since`` bears on."""
    wets = _of_step(tx.facts(basket, (f.StepStarted,), include_superseded=True), Step.WET)
    live = _of_step(tx.facts(basket, (f.StepStarted,)), Step.WET)
    # what happens at ``since`` may end the uses of the loading before, never of those before that
    before = [each.at for each in tx.facts(basket, (f.BasketLoaded,), until=since) if each.at < since]
    begin = before[-1] if before else since
    rows: list[dict[str, Any]] = []
    for wet in live:
        if wet.at >= begin:
            rows += _wetting_rows(tx, basket, wet)
    _replace(tx, [wet for wet in wets if wet.at >= begin], rows)


def _wetting_rows(tx: Tx, basket: str, wet: Recorded[Any]) -> list[dict[str, Any]]:
    """Line and batches, used until developing ends, the attempt is voided or the basket is loaded anew."""
    load = _latest_at(tx.facts(basket, (f.BasketLoaded,), until=wet.at), wet.at)
    if load is None:
        return []
    fact: f.BasketLoaded = load.fact
    stops = _of_step(tx.facts(basket, (f.StepEnded,), since=wet.at), Step.DEVELOP)
    loads = [each for each in tx.facts(basket, (f.BasketLoaded,), since=wet.at) if each.at > wet.at]
    voids = [e for e in tx.facts(basket, (f.AttemptVoided,), since=wet.at) if e.fact.attempt == fact.attempt]
    objects = (fact.line, *_batches(tx, fact.line, wet.at))
    rows: list[dict[str, Any]] = []
    for inspection in dict.fromkeys(fact.inspections):
        voided = [each for each in voids if each.fact.inspection == inspection]
        ended = min((each.at for each in (*stops[:1], *loads[:1], *voided[:1])), default=None)
        rows += _rows(wet, objects, (inspection,), ended=ended, what=basket, kind=STEPS, attempt=fact.attempt)
    return rows


def _attempt_voided(tx: Tx, recorded: Recorded[Any]) -> None:
    since = _earliest(tx, recorded)
    for basket in dict.fromkeys(each.fact.basket for each in _with_corrected(tx, recorded)):
        _baskets_since(tx, basket, since)


def _basket_loaded(tx: Tx, recorded: Recorded[Any]) -> None:
    _baskets_since(tx, recorded.fact.basket, _earliest(tx, recorded))


def _step(boundary: Step) -> Callable[[Tx, Recorded[Any]], None]:
    def project(tx: Tx, recorded: Recorded[Any]) -> None:
        if any(each.fact.step == boundary for each in _with_corrected(tx, recorded)):
            _baskets_since(tx, recorded.fact.on, _earliest(tx, recorded))

    return project


def _tank_filled(tx: Tx, recorded: Recorded[Any]) -> None:
    line: str = recorded.fact.line
    since = _earliest(tx, recorded)
    _shots_since(tx, line, since)
    params = {"line": line, "since": utc_text(since)}
    for row in tx.rows(_baskets_on_line(tx.tables.object_use), params):
        _baskets_since(tx, row.what, since)


def withdrawn(tx: Tx, recorded: Recorded[Any], old: Recorded[Any]) -> None:
    """What ``old`` put here is worked out again, now that ``recorded`` took it away."""
    if isinstance(old.fact, (f.ShotFired, f.ResidualRead)):
        _replace(tx, [old], [])
        return
    project = USE_PROJECTIONS.get(type(old.fact))
    if project is not None:
        project(tx, replace(recorded, fact=old.fact))


USE_PROJECTIONS: dict[type[f.Fact], Callable[[Tx, Recorded[Any]], None]] = {
    f.ViewStarted: _views,
    f.ViewEnded: _views,
    f.ShotFired: _shot_fired,
    f.EquipmentEntered: _equipment_entered,
    f.TankFilled: _tank_filled,
    f.ResidualRead: _residual_read,
    f.BasketLoaded: _basket_loaded,
    f.AttemptVoided: _attempt_voided,
    f.StepStarted: _step(Step.WET),
    f.StepEnded: _step(Step.DEVELOP),
}
