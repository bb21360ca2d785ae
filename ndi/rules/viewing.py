"""A person's viewing time across records: overlaps, stretches without a break, dark adaptation.

Used by the rules of evidence and by whoever asks before a view begins.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import timedelta

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.fact_set import FactSet
from ndi.domain.moment import Moment, duration_text
from ndi.domain.outcome import Outcome, failed, not_recorded, not_yet, passed
from ndi.rules.basket import between
from ndi.rules.inquiry import Inquiry, View


def with_ends(facts: FactSet, started: Iterable[Recorded[f.ViewStarted]]) -> list[View]:
    """Views of any record, by start, each with its end if recorded."""
    ordered = sorted(started, key=lambda r: (r.at, r.position))
    return [View(r, facts.last(f.ViewEnded, r.fact.view)) for r in ordered]


def views_of(facts: FactSet, person: str) -> list[View]:
    """Every view, second look and re-view of a person, on whatever record, by start."""
    return with_ends(facts, (r for r in facts.of(f.ViewStarted, person) if r.fact.person == person))


def views_around(q: Inquiry, person: str) -> list[View]:
    """:func:`views_of` the facts of an inquiry, put together once."""
    return q.once(
        lambda: views_from(q, [r for r in q.facts.of(f.ViewStarted, person) if r.fact.person == person]),
        *("views", person),
    )


def views_from(q: Inquiry, started: Iterable[Recorded[f.ViewStarted]]) -> list[View]:
    """Views with their ends if recorded, in the order given; a view that several rules ask for is put together once."""
    known: dict[int, View] = q.once(dict, "views known")
    found = []
    for recorded in started:
        view = known.get(recorded.position)
        if view is None:
            view = known[recorded.position] = View(recorded, q.facts.last(f.ViewEnded, recorded.fact.view))
        found.append(view)
    return found


# --- overlaps -------------------------------------------------------------------------------------


def span_text(view: View) -> str:
    """``PT-009 10:27-10:30``."""
    return f"{view.started.fact.inspection} {view.start.clock()}-{view.end.clock() if view.end else 'open'}"


def lie_apart(one: View, other: View) -> bool:
    """Whether the earlier of two views has ended when the later one starts; touching ends do."""
    mine, theirs = one.started, other.started
    if (mine.at, mine.position) <= (theirs.at, theirs.position):
        return one.ended is not None and theirs.at >= one.ended.at
    return other.ended is not None and mine.at >= other.ended.at


def overlap_outcome(who: str, one: View, other: View) -> Outcome:
    """Whether two views (of one person, or at one station: ``who``) lie apart; touching ends do."""
    first, second = sorted((one, other), key=lambda v: (v.start.at, v.started.position))
    used = [*first.used, *second.used]
    if first.end is None:
        return not_recorded(
            f"{who}: end of the view of {first.started.fact.inspection} from {first.start.clock()} not recorded",
            "end the view",
            used=used,
        )
    if second.start.at < first.end.at:
        both = f"{span_text(first)} and {span_text(second)}"
        return failed(
            f"{who}: views overlap, {both}", "correct the times with a reason", "view again", found=both, used=used
        )
    return passed(used=used)


# --- stretches ------------------------------------------------------------------------------------


def stretch(q: Inquiry, views: Sequence[View], until: Moment, *, longest: bool) -> tuple[timedelta, list[View]]:
    """How long one person has viewed without a break at a moment, and the views of that stretch.

    The end of an earlier view that is not recorded is taken as its own start,
    or, for the ``longest`` possible, as the start of the next view.
    """
    rested = _rested(q)
    seen = [view for view in views if view.started.at <= until.at]
    current: list[View] = []
    last = until
    for number, view in enumerate(seen):
        start = view.started.when
        if current and rested(last, start):
            current = []
        if view.ended is not None:
            end = view.ended.when if view.ended.at <= until.at else until
        else:
            following = seen[number + 1].start if number + 1 < len(seen) else None
            end = until if following is None else following if longest else start
        last = end if not current or end.at > last.at else last
        current.append(view)
    if not current or rested(last, until):
        return timedelta(), []
    return between(current[0].start, last, q.limit("view_stretch_max"))[1], current


def _rested(q: Inquiry) -> Callable[[Moment, Moment], bool]:
    """Tells whether the time between two moments is a break; nearly always the wall clock alone shows that it is none."""
    pause, shortest = q.limit("view_break_min"), q.minutes("view_break_min")

    def rested(last: Moment, start: Moment) -> bool:
        return start.at - last.at >= shortest and between(last, start, pause)[0] >= shortest

    return rested


def stretch_outcome(q: Inquiry, views: Sequence[View], until: Moment) -> Outcome:
    """Whether one person's viewing without a break is within its maximum at a moment; ``views`` by start."""
    maximum, limit = q.minutes("view_stretch_max"), f"at most {q.limit('view_stretch_max')} without a break"
    length, current = stretch(q, views, until, longest=False)
    used = [part for view in current for part in view.used]
    found = duration_text(length)
    if length > maximum:
        person, since = current[0].person, current[0].start.clock()
        pause = f"take a break of {q.limit('view_break_min')}"
        return failed(
            f"{person} viewing since {since}, {found} without a break",
            pause,
            "give a reason",
            found=found,
            limit=limit,
            used=used,
        )
    possible, every = stretch(q, views, until, longest=True)
    if possible > maximum:
        open_views = ", ".join(span_text(view) for view in every if view.end is None)
        return not_recorded(
            f"end of view not recorded: {open_views}",
            "end the view",
            used=[part for view in every for part in view.used],
        )
    return passed(found, limit, used)


# --- dark adaptation ------------------------------------------------------------------------------


def light_since(q: Inquiry, person: str, station: str, start: Moment) -> Moment | None:
    """When the person last stopped viewing in this booth before a break, or viewed at another station."""
    earlier = [view for view in views_around(q, person) if view.started.at < start.at]
    rested, following = _rested(q), start
    for view in reversed(earlier):
        end = view.end or view.start
        if view.started.fact.station != station or rested(end, following):
            return end
        following = view.start
    return None


def dark_outcome(q: Inquiry, person: str, station: str, start: Moment, *, viewing: bool = True) -> Outcome:
    """Whether a person was long enough in a darkened booth when a view started.

    The booth is closed once per stretch: a closing before the last break, on
    another day, or before a view elsewhere does not count.  With ``viewing``
    False nobody looks yet, and what is missing is NOT YET.
    """
    since = light_since(q, person, station, start)
    closed = [
        r
        for r in q.facts.of(f.BoothClosed, station)
        if r.fact.station == station
        and r.fact.person == person
        and r.at <= start.at
        and r.when.local.date() == start.local.date()
        and (since is None or r.at >= since.at)
    ]
    if not closed:
        return not_recorded(
            f"{station}: closing by {person} before {start.clock()} not recorded", "close the booth and scan it"
        )
    last, minimum = closed[-1], q.limit("dark_adapt_min")
    smaller, larger = between(last.when, start, minimum)
    need, found, limit = q.minutes("dark_adapt_min"), duration_text(smaller), f"at least {minimum}"
    if smaller >= need:
        return passed(f"{person} {found}", limit, [last])
    if not viewing:
        left = duration_text(need - smaller)
        return not_yet(
            f"{person} {found} in the dark, {left} to go", f"wait {left}", found=found, limit=limit, used=[last]
        )
    if larger >= need:
        return not_recorded(f"{station}: closed or viewed to the minute only", "enter the seconds", used=[last])
    found = duration_text(larger)
    return failed(
        f"{person} only {found} in the dark before the view",
        "view again after dark adaptation",
        found=found,
        limit=limit,
        used=[last],
    )
