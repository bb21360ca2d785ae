"""What is still to do on one record, in the order in which it is worked: a list read from technique and facts.

It decides nothing: whether a thing done was done right is for the rules.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from ndi.domain import facts as f
from ndi.domain import ticks as t
from ndi.domain.procedure import NominalShot
from ndi.domain.quantity import Number
from ndi.domain.ticks import Tick
from ndi.domain.vocabulary import Method, ShotKind
from ndi.rules.inquiry import Inquiry

DEMAG, FLUSH, PLUGS_OUT = "demag", "flush", "plugs-out"


class Kind(StrEnum):
    """What sort of thing it is; each has its own way of being recorded."""

    TICKS = "ticks"
    PLUGS_IN = "plugs in"
    PLUGS_OUT = "plugs out"
    BASKET = "basket"
    VIEW = "view"
    SHOT = "shot"
    LOOK = "look after the shot"
    EVIDENCE = "evidence"
    DEMAGNETISE = "demagnetise"
    RESIDUAL = "residual field"
    DECIDE = "decide"


@dataclass(frozen=True)
class Task:
    """One thing to do.  ``ticks`` are asked together; ``about`` is what they are recorded under."""

    kind: Kind
    title: str
    done: bool
    about: str
    ticks: tuple[Tick, ...] = ()
    shot: NominalShot | None = None
    point: str | None = None
    indication: str | None = None
    detail: str = ""


def tasks(q: Inquiry) -> tuple[Task, ...]:
    """Every task of a record, done ones too."""
    found = tuple(_magnetic(q) if q.method == Method.MT else _penetrant(q))
    return (*found, Task(Kind.DECIDE, "Decide", q.disposition is not None, q.inspection))


def next_task(q: Inquiry) -> Task:
    """The first that is not done; the decision when all are."""
    every = tasks(q)
    return next((task for task in every if not task.done), every[-1])


# --- magnetic particle ----------------------------------------------------------------------------


def _magnetic(q: Inquiry) -> Iterator[Task]:
    technique = q.technique
    before = [t.CLEAN, t.DRY, t.TRAPPED_REMOVED, *([t.PLUGGED] if technique.plugs else [])]
    yield _ticks(q, "Before the first shot", before)
    if technique.plugs:
        yield _plugs(q, Kind.PLUGS_IN, "in", f"Plugs in: technique says {technique.plugs}")
    yield Task(Kind.VIEW, "Start the view", bool(q.views), q.inspection)
    for nominal, following in zip(technique.shots, (*technique.shots[1:], None), strict=True):
        if nominal.demag_before:
            yield Task(
                Kind.DEMAGNETISE,
                f"Demagnetise before shot {nominal.shot}",
                _demagnetised_before(q, nominal),
                q.inspection,
                shot=nominal,
            )
        yield Task(Kind.SHOT, shot_title(nominal), _is_fired(q, nominal), q.inspection, shot=nominal)
        if following is not None and (nominal.group is None or nominal.group != following.group):
            yield Task(
                Kind.LOOK,
                f"Looked at the part after shot {nominal.shot}",
                _looked_after(q, nominal),
                q.inspection,
                shot=nominal,
            )
    yield from _evidence(q)
    contacts = [nominal.shot for nominal in technique.shots if nominal.kind in (ShotKind.HEAD, ShotKind.BETWEEN_HEADS)]
    if contacts:
        yield _ticks(q, "Contacts", [t.ARC_BURN], after_shots=contacts)
    if q.opened.fact.quantity > 1 and any(nominal.kind == ShotKind.BAR for nominal in technique.shots):
        yield _ticks(q, "Bar", [t.SPACED_ON_BAR])
    if DEMAG in technique.post_process or technique.residual_points:
        yield Task(Kind.DEMAGNETISE, "Demagnetise", _demagnetised_last(q), q.inspection)
    read = residual_read(q)
    for point in technique.residual_points:
        yield Task(Kind.RESIDUAL, f"Residual field at {point}", point in read, q.inspection, point=point)
    yield from _after_the_view(q)


def shot_title(nominal: NominalShot) -> str:
    """``3 coil 600 A at 5.25 in``."""
    words = [str(nominal.shot), nominal.kind, str(nominal.amps)]
    if nominal.turns is not None:
        words.append(f"{nominal.turns} turns")
    if nominal.position is not None:
        words.append(f"at {nominal.position}")
    return " ".join(words)


def _fired(q: Inquiry, nominal: NominalShot) -> list[f.ShotFired]:
    return [shot.fired.fact for shot in q.shots if shot.counts and shot.fired.fact.shot == nominal.shot]


def _is_fired(q: Inquiry, nominal: NominalShot) -> bool:
    return bool(_fired(q, nominal))


def _looked_after(q: Inquiry, nominal: NominalShot) -> bool:
    return any(
        r.fact.item == t.VIEWED_AFTER_SHOT.item and r.fact.value == str(nominal.shot)
        for r in q.facts.of(f.ConfirmationGiven, q.inspection)
    )


def _demagnetised_before(q: Inquiry, nominal: NominalShot) -> bool:
    """Before the shot and since the last shot of another number."""
    if _is_fired(q, nominal):
        return True
    others = [shot.fired for shot in q.shots if shot.counts]
    demags = q.facts.of(f.Demagnetised, q.inspection)
    return bool(demags) and (not others or demags[-1].at >= others[-1].at)


def _demagnetised_last(q: Inquiry) -> bool:
    demags = q.facts.of(f.Demagnetised, q.inspection)
    shots = [shot.fired for shot in q.shots if shot.counts]
    wanted = {nominal.shot for nominal in q.technique.shots}
    complete = wanted <= {shot.fact.shot for shot in shots}
    return complete and bool(demags) and (not shots or demags[-1].at >= shots[-1].at)


def residual_read(q: Inquiry) -> dict[str, Number]:
    """What was read last at each point since the last demagnetisation; empty before it."""
    demag = q.facts.last(f.Demagnetised, q.inspection)
    if demag is None:
        return {}
    return {r.fact.point: r.fact.value for r in q.facts.of(f.ResidualRead, q.inspection) if r.at >= demag.at}


# --- penetrant ------------------------------------------------------------------------------------


def _penetrant(q: Inquiry) -> Iterator[Task]:
    technique = q.technique
    before = [t.CLEAN, t.DRY, *([t.PLUGGED] if technique.plugs else [])]
    yield _ticks(q, "Before the basket", before)
    if technique.plugs:
        yield _plugs(q, Kind.PLUGS_IN, "in", f"Plugs in: technique says {technique.plugs}")
    yield Task(Kind.BASKET, "Into a basket, through the line", bool(q.basket_loads), q.inspection)
    yield Task(Kind.VIEW, "Start the view", bool(q.views), q.inspection)
    yield from _evidence(q)
    yield from _after_the_view(q)


def _evidence(q: Inquiry) -> Iterator[Task]:
    """What each indication is, and whether it is within its limit."""
    for mark in q.indications:
        done = mark.interpreted is not None and mark.evaluated is not None
        title = f"What is {mark.id.rpartition('/')[2]} at {mark.seen.fact.zone or 'no zone'}?"
        yield Task(Kind.EVIDENCE, title, done, q.inspection, indication=mark.id)


# --- both -----------------------------------------------------------------------------------------


def _after_the_view(q: Inquiry) -> Iterator[Task]:
    ended = bool(q.views) and all(view.ended is not None for view in q.views)
    yield Task(Kind.VIEW, "Look at every zone, end the view", ended, q.inspection)
    items = [item for item in q.technique.post_process if item not in (DEMAG, PLUGS_OUT)]
    after = [t.TICKS[f"post-process: {item}"] for item in items if f"post-process: {item}" in t.TICKS]
    if FLUSH in items:
        after.append(t.RESIDUE)
    if q.technique.plugs:
        yield _plugs(q, Kind.PLUGS_OUT, "out", f"Plugs out: {_count(q, 'in') or 'none'} went in")
    if after:
        yield _ticks(q, "After the view", after, after_shots=True)


def _ticks(q: Inquiry, title: str, wanted: list[Tick], *, after_shots: bool | list[int] = False) -> Task:
    """What is still to be ticked of a list; ticks that came before the last shot (of some numbers) do not count where it matters."""
    open_ticks = tuple(tick for tick in wanted if not _is_ticked(q, tick, after_shots=after_shots))
    return Task(
        Kind.TICKS,
        title,
        not open_ticks,
        q.inspection,
        open_ticks or tuple(wanted),
        detail=", ".join(x.item for x in wanted),
    )


def _is_ticked(q: Inquiry, tick: Tick, *, after_shots: bool | list[int]) -> bool:
    given = q.confirmed(tick.item)
    if given is None or given.fact.value == "no":
        return False
    shots = [shot.fired for shot in q.shots if shot.counts]
    if isinstance(after_shots, list):
        shots = [shot for shot in shots if shot.fact.shot in after_shots]
    return not (after_shots and shots and given.at < shots[-1].at)


def _count(q: Inquiry, direction: str) -> int | None:
    counts = [r.fact.count for r in q.facts.of(f.PlugsCounted, q.inspection) if r.fact.direction == direction]
    return counts[-1] if counts else None


def _plugs(q: Inquiry, kind: Kind, direction: str, title: str) -> Task:
    return Task(kind, title, _count(q, direction) is not None, q.inspection)
