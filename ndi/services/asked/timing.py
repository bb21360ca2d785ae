"""How close the times of a basket came to their limits (F7)."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta

from ndi.domain import facts as f
from ndi.domain.codec import utc_from_text
from ndi.domain.entry import Recorded
from ndi.domain.errors import NotFound
from ndi.domain.moment import Moment, Span, duration_text
from ndi.domain.outcome import Missing
from ndi.domain.vocabulary import Step, ViewKind
from ndi.rules.inquiry import Inquiry
from ndi.services.asked.question import DAY, AskedRow, Reader, question
from ndi.services.lookup import about
from ndi.services.ports import Line

_CLOSE = 10  # percent of a limit: how little is left where a time is marked, no limit itself


@dataclass(frozen=True)
class _Timed:
    """One time of a basket: between which steps, which end of it counts, its limit."""

    what: str
    key: str
    shortest: bool = False
    for_each_piece: bool = False


_DWELL, _WASH = "penetrant dwell", "wash"
_TIMES = (
    _Timed(_DWELL, "dwell_base", shortest=True),
    _Timed(_DWELL, "dwell_max"),
    _Timed("prewash", "prewash_max"),
    _Timed("remover contact", "remover_min", shortest=True),
    _Timed("remover contact", "remover_max"),
    _Timed("rinse after remover", "rinse_max"),
    _Timed(_WASH, "wash_per_part_max", for_each_piece=True),
    _Timed("wash to dryer", "wash_to_dryer_max"),
    _Timed("dryer", "dryer_time_max"),
    _Timed("dryer to developer", "dryer_to_developer_max"),
    _Timed("developing", "develop_min", shortest=True),
    _Timed("developing", "develop_max"),
)


@question(
    "F7",
    "How close did times come to their limits in this shift?",
    "For each basket loaded on the day: dwell (first wetting to prewash or wash), prewash, remover, rinse, wash for each piece, "
    "wash to dryer, dryer, dryer to developer, developing to the views; the shortest it can have been against a least "
    "time, the longest against a most, of the revisions of its records. The margin is what is left to the limit in "
    "percent of it, the smallest first; under 10 percent is marked. Whether temperature asks for a longer dwell is "
    "rule P06.",
    ("Basket", "Attempt", "What", "Took", "Limit", "Margin %", "Mark"),
    DAY,
)
def f7(q: Reader) -> Iterator[AskedRow]:
    start = q.start_of(q.day("day"))
    rows = []
    for load in q.session.lines(f.BasketLoaded, start, start + timedelta(days=1)):
        rows += list(_margins(q, load))
    yield from (row for _, row in sorted(rows, key=lambda pair: (pair[0], pair[1].cells)))


def _margins(q: Reader, load: Line) -> Iterator[tuple[float, AskedRow]]:
    basket = load.body["basket"]
    limits = _limits(q, load.body["inspections"])
    way = _way(q, load)
    pieces = sum(row.quantity for row in map(q.record, load.body["inspections"]) if row is not None)
    for timed in _TIMES:
        span = way.spans.get(timed.what)
        each = [limit for limit in (_limit(one, timed.key) for one in limits) if limit]
        if span is None or not each:
            continue
        limit = (max(each) if timed.shortest else min(each)) * (pieces if timed.for_each_piece else 1)
        took = span.shortest() if timed.shortest else span.longest()
        if took is None or not limit:
            continue
        margin = 100 * ((took - limit) if timed.shortest else (limit - took)) / limit
        word = f"{'at least' if timed.shortest else 'at most'} {duration_text(limit)}"
        mark = "OVER" if margin < 0 else "close" if margin < _CLOSE else ""
        named = f"{'shortest' if timed.shortest else 'longest'} {timed.what}"
        cells = (basket, str(load.body["attempt"]), named, duration_text(took), word, f"{margin:.0f}", mark)
        yield margin, AskedRow(cells, (load.position, *way.used), load.body["inspections"][0])


def _limits(q: Reader, inspections: list[str]) -> list[Inquiry]:
    """What the revisions of the basket's records allow, those that the book holds."""
    q.gather(inspections, parts=False)
    found = []
    for row in map(q.record, inspections):
        try:
            if row is not None:
                found.append(q.limits(row))
        except NotFound:
            continue
    return list({id(one): one for one in found}.values())


def _limit(limits: Inquiry, key: str) -> timedelta | None:
    try:
        return limits.minutes(key)
    except Missing:
        return None


Four = tuple[Moment, Moment, Moment, Moment]  # first and last start, first and last stop


@dataclass(frozen=True)
class _Way:
    """The stretches of a basket's way by name, and the entries of its steps."""

    spans: dict[str, Span]
    used: tuple[int, ...]


def _way(q: Reader, load: Line) -> _Way:
    """Of this loading only: the steps until the basket was loaded again."""
    basket, begun = load.body["basket"], utc_from_text(load.at)
    until = next((r.at for r in about(q.session, f.BasketLoaded, basket, since=begun) if r.at > begun), None)
    starts: dict[str, list[Recorded[f.StepStarted]]] = defaultdict(list)
    ends: dict[str, list[Recorded[f.StepEnded]]] = defaultdict(list)
    for start in about(q.session, f.StepStarted, basket, since=begun, until=until):
        starts[start.fact.step].append(start)
    for end in about(q.session, f.StepEnded, basket, since=begun, until=until):
        ends[end.fact.step].append(end)
    used = [r.position for each in starts.values() for r in each] + [r.position for each in ends.values() for r in each]

    def step(name: Step) -> Four | None:
        if not starts[name] or not ends[name]:
            return None
        return starts[name][0].when, starts[name][-1].when, ends[name][0].when, ends[name][-1].when

    wet, prewash, remover, wash = (step(each) for each in (Step.WET, Step.PREWASH, Step.REMOVER, Step.WASH))
    dry, develop, off = step(Step.DRY), step(Step.DEVELOP), prewash or wash
    every: dict[str, Four | None] = {
        _DWELL: (wet[0], wet[3], off[0], off[3]) if wet and off else None,
        "prewash": prewash,
        "remover contact": remover,
        "rinse after remover": wash if remover else None,
        _WASH: None if remover else wash,
        "wash to dryer": _between(wash, dry),
        "dryer": dry,
        "dryer to developer": _between(dry, develop),
        "developing": _developing(q, load, develop) if develop else None,
    }
    return _Way({name: Span(*four) for name, four in every.items() if four is not None}, tuple(sorted(used)))


def _between(one: Four | None, other: Four | None) -> Four | None:
    """From the end of one step to the start of another."""
    return (one[2], one[3], other[0], other[1]) if one and other else None


def _developing(q: Reader, load: Line, develop: Four) -> Four | None:
    """From the developer to the first views of the attempt: to the first that began, to the last that ended."""
    begun: list[Moment] = []
    ended: list[Moment] = []
    since = utc_from_text(load.at)
    for inspection in load.body["inspections"]:
        stops = {r.fact.view: r.when for r in about(q.session, f.ViewEnded, inspection, since=since)}
        for view in about(q.session, f.ViewStarted, inspection, since=since):
            first = view.fact.attempt == load.body["attempt"] and view.fact.kind == ViewKind.FIRST
            if first and view.fact.inspection == inspection:
                begun.append(view.when)
                ended += [stops[view.fact.view]] if view.fact.view in stops else []
    if not begun or not ended:
        return None
    first_begun = min(begun, key=lambda moment: moment.at)
    last_ended = max(ended, key=lambda moment: moment.at)
    return develop[0], develop[3], first_begun, last_ended
