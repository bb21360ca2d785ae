"""How it was worked: rework loops, fast views, which shot or minute shows what (F19, F22, F23)."""

from __future__ import annotations

import json
from collections import Counter, defaultdict
from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import NamedTuple

from ndi.domain import facts as f
from ndi.domain.codec import utc_from_text
from ndi.domain.vocabulary import Method, Step, ViewKind
from ndi.rules.inquiry import as_timedelta
from ndi.services.asked.marks import SEEN, Mark, marks, relevant
from ndi.services.asked.question import PERIOD, YEARS, AskedRow, Parameter, Reader, question
from ndi.services.asked.words import state_of, when
from ndi.services.ports import Brief, Fields, Line

_DAY = timedelta(
    days=1
)  # a basket is loaded at most so long before an indication is seen, a view ends at most so long after
_FEW = 3  # views that make a median


@question(
    "F19",
    "How many rework loops, how long, and what came of them?",
    "Each rework ordered in the period: when it was ordered and done, the record that closes it and where that stands; "
    "the loop is counted along the chain of records.",
    ("Record", "Part", "Zone", "Loop", "Ordered", "Done", "Hours", "Closed by", "Stands"),
    *YEARS,
)
def f19(q: Reader) -> Iterator[AskedRow]:
    following = q.session.inspections(follows_another=True)
    closing = {row.previous: row for row in following}
    before = {row.inspection: row.previous for row in following}
    finished: dict[tuple[str, str], Line] = {}
    for line in q.lines(f.ReworkDone):
        finished[line.body["inspection"], line.body["zone"]] = line
    every = q.lines_in(f.ReworkOrdered)
    records = q.briefs_of(line.body["inspection"] for line in every)
    for ordered in every:
        body = ordered.body
        last = finished.get((body["inspection"], body["zone"]))
        spent = (utc_from_text(last.at) - utc_from_text(ordered.at)) if last else None
        closed = closing.get(body["inspection"])
        name = closed.inspection if closed else ""
        cells = (
            body["inspection"],
            records[body["inspection"]].item if body["inspection"] in records else body["part"],
            body["zone"],
            str(_loop(before, body["inspection"])),
            when(ordered),
            when(last) if last else "not done",
            f"{spent / timedelta(hours=1):.1f}" if spent is not None else "",
            name or "none yet",
            state_of(closed) if closed else "open",
        )
        decided = [closed.decision] if closed and closed.decision else []
        evidence = (ordered.position, *([last.position] if last else []), *decided)
        yield AskedRow(cells, evidence, body["inspection"])


def _loop(before: dict[str, str | None], inspection: str) -> int:
    """How many records of a chain lead to this one, itself counted."""
    seen: list[str | None] = [inspection]
    while (previous := before.get(seen[-1] or "")) is not None and previous not in seen:
        seen.append(previous)
    return len(seen)


@question(
    "F22",
    "Which parts were viewed unusually fast?",
    "First views shorter for each piece than the share of what the technique expects, or, where it expects nothing, of "
    "the median over all first views of the same technique in the period (at least three); with relevant indications "
    "seen on the part after the view. About views, never a ranking.",
    ("Record", "Part", "Technique", "Minutes a piece", "Expected", "Share %", "Later findings"),
    Parameter("share", "percent of what is expected", "50"),
    *PERIOD,
)
def f22(q: Reader) -> Iterator[AskedRow]:
    since, until = q.period()
    starts = q.session.fields(f.ViewStarted, ("view", "inspection", "kind"), since, until)
    ends = {line.values[0]: line for line in q.session.fields(f.ViewEnded, ("view",), since, until + _DAY)}
    by_technique: dict[str, list[_View]] = defaultdict(list)
    for start in starts:
        end, row = ends.get(start.values[0]), q.briefs.get(start.values[1] or "")
        if end is not None and row is not None and start.values[2] == ViewKind.FIRST:
            took = (datetime.fromisoformat(end.at) - datetime.fromisoformat(start.at)) / max(row.quantity, 1)
            by_technique[row.technique].append(_View(row, start.position, end.position, end.at, took))
    fast = list(_fast(q, by_technique))
    later: dict[str, list[Mark]] = defaultdict(list)
    for mark in relevant(q) if fast else ():
        found = q.briefs.get(mark.inspection)
        if found is not None:
            later[found.part].append(mark)
    for view, expected, word in fast:
        row = view.row
        finds = [mark for mark in later[row.part] if mark.at > view.ended]
        minutes = f"{view.took / timedelta(minutes=1):.1f}", f"{expected / timedelta(minutes=1):.1f} {word}"
        cells = (row.inspection, f"{row.part_no} {row.item}", row.technique, *minutes)
        names = ", ".join(mark.indication for mark in finds) or "none"
        evidence = (view.start, view.end, *(mark.position for mark in finds))
        yield AskedRow((*cells, f"{100 * view.took / expected:.0f}", names), evidence, row.inspection)


class _View(NamedTuple):
    """A first view: its record, its entries, when it ended, how long it took for each piece."""

    row: Brief
    start: int
    end: int
    ended: str
    took: timedelta


def _fast(q: Reader, by_technique: dict[str, list[_View]]) -> Iterator[tuple[_View, timedelta, str]]:
    """Views shorter than the share, with what was expected and where that comes from."""
    share = q.whole("share")
    for technique, views in sorted(by_technique.items()):
        stated = [t.expected_view_min for t in q.work.techniques(q.session, technique)][-1:]
        if stated and stated[0] is not None and stated[0].value > 0:
            expected, word = as_timedelta(stated[0]), "of the technique"
        elif len(views) >= _FEW:
            expected, word = _middle([view.took for view in views]), "median"
        else:
            continue
        for view in views:
            if view.took * 100 < expected * share:
                yield view, expected, word


@question(
    "F23",
    "Which shot, or which developer minute, showed the indications?",
    "Magnetic particle: for each technique and shot the parts it was fired on and the indications first seen after it "
    "as the last shot. Penetrant: for each technique the indications by minutes since developing ended, in tens.",
    ("Method", "Technique", "Shot or minutes", "Fired on records", "Indications", "Of them relevant"),
    *YEARS,
)
def f23(q: Reader) -> Iterator[AskedRow]:
    since, until = q.period()
    shots: dict[str, list[tuple[str, str]]] = defaultdict(list)
    for line in q.session.fields(f.ShotFired, ("inspection", "shot"), since, until):
        shots[line.values[0] or ""].append((line.at, line.values[1] or ""))
    developed = _Developed(q)
    called = {mark.indication: mark for mark in marks(q, since, until)}
    found: dict[tuple[str, str, str], list[Fields]] = defaultdict(list)
    for seen in q.session.fields(f.IndicationSeen, SEEN, since, until):
        name = seen.values[1] or ""
        row = q.briefs.get(name)
        if row is not None:
            where = _last_shot(shots[name], seen.at) if row.method == Method.MT else developed.before(name, seen.at)
            found[row.method, row.technique, where].append(seen)
    fired: Counter[tuple[str, str, str]] = Counter()
    for inspection, of_record in shots.items():
        row = q.briefs.get(inspection)
        if row is not None:
            fired.update((str(Method.MT), row.technique, f"shot {shot}") for shot in {shot for _, shot in of_record})
    for key in sorted({*found, *fired}):
        here = found.get(key, [])
        of_them = sum(1 for seen in here if (mark := called.get(seen.values[0] or "")) and mark.is_relevant)
        count = str(fired[key]) if key in fired else ""
        yield AskedRow((*key, count, str(len(here)), str(of_them)), tuple(s.position for s in here), key[1])


def _middle(several: list[timedelta]) -> timedelta:
    """The median."""
    ordered, half = sorted(several), len(several) // 2
    return ordered[half] if len(ordered) % 2 else (ordered[half - 1] + ordered[half]) / 2


def _last_shot(shots: list[tuple[str, str]], at: str) -> str:
    before = [shot for fired, shot in shots if fired <= at]
    return f"shot {before[-1]}" if before else "before any shot"


class _Developed:
    """When the developer of a record's basket was on, from one reading of the baskets and of the steps."""

    def __init__(self, q: Reader) -> None:
        self._loads: dict[str, list[tuple[str, str]]] = defaultdict(list)
        self._ends: dict[str, list[str]] = defaultdict(list)
        since, until = q.period()
        for load in q.session.fields(f.BasketLoaded, ("basket", "inspections"), since - _DAY, until):
            for inspection in json.loads(load.values[1] or "[]"):
                self._loads[inspection].append((load.at, load.values[0] or ""))
        for step in q.session.fields(f.StepEnded, ("on", "step"), since - _DAY, until):
            if step.values[1] == Step.DEVELOP:
                self._ends[step.values[0] or ""].append(step.at)

    def before(self, inspection: str, at: str) -> str:
        """Tens of minutes since the last developing of the record's basket ended."""
        ends = [end for loaded, basket in self._loads[inspection] for end in self._ends[basket] if loaded <= end <= at]
        if not ends:
            return "development not recorded"
        tens = int((datetime.fromisoformat(at) - datetime.fromisoformat(max(ends))) / timedelta(minutes=10)) * 10
        return f"{tens:03d}-{tens + 10:03d} min"
