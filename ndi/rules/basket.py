"""What the parts of one basket share: steps, windows, line and batches.

The penetrant rules read a basket through these functions.  Durations are
compared here once for all: a minimum takes the shortest that the times allow,
a maximum the longest; what still runs is measured up to the moment of asking.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from fractions import Fraction

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.fact_set import happened_between
from ndi.domain.moment import Moment, Precision, duration_text, elapsed, to_the_second
from ndi.domain.outcome import Missing, Outcome, failed, not_applicable, not_recorded, not_yet, passed, positions
from ndi.domain.procedure import Technique
from ndi.domain.quantity import Number, shown
from ndi.domain.ticks import Tick
from ndi.domain.vocabulary import Material, Step
from ndi.rules.inquiry import Inquiry, as_timedelta

Fact = Recorded[f.Fact]
Used = Sequence[Fact | None]

IN_LINE_ORDER = (Step.WET, Step.IMMERSE, Step.PREWASH, Step.REMOVER, Step.WASH, Step.DRY, Step.DEVELOP, Step.POSTCLEAN)

# classification letters and figures of the trade
FLUORESCENT = "1"
WATER_WASHABLE, HYDROPHILIC = "A", "D"
DRY_POWDER = "a"
NONAQUEOUS = ("d", "e")
COUNT = "pcs"
NOTHING = timedelta()
CLEAN_AND_RESTART = "clean and start again as the next attempt"


# --- steps ----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Run:
    """One pass of the basket through a step.

    A second start before the end does not overwrite the first: the pass then
    has two starts, and the longest counts from the first, the shortest from the last.
    """

    starts: tuple[Recorded[f.StepStarted], ...]
    end: Recorded[f.StepEnded] | None

    @property
    def first_start(self) -> Moment:
        return self.starts[0].when

    @property
    def last_start(self) -> Moment:
        return self.starts[-1].when

    @property
    def pieces(self) -> int | None:
        return self.starts[0].fact.pieces

    @property
    def used(self) -> tuple[Fact | None, ...]:
        return (*self.starts, self.end)


def runs(q: Inquiry, step: str) -> list[Run]:
    """Every pass of the current basket through a step, by time; an end without a start is no pass."""
    return q.once(lambda: _runs(q, step), "runs", step)


def _runs(q: Inquiry, step: str) -> list[Run]:
    found: list[Run] = []
    waiting = list(q.starts(step))
    for end in q.ends(step):
        begun = tuple(start for start in waiting if (start.at, start.position) < (end.at, end.position))
        if begun:
            found.append(Run(begun, end))
            waiting = waiting[len(begun) :]
    return [*found, Run(tuple(waiting), None)] if waiting else found


def need_runs(q: Inquiry, step: str) -> list[Run]:
    """:func:`runs`; Missing when the step never began."""
    found = runs(q, step)
    if not found:
        raise Missing(
            f"start of step {step} not recorded for basket {q.basket.fact.basket}", [f"scan the start of step {step}"]
        )
    return found


def moved_on(q: Inquiry, step: str) -> Fact | None:
    """A later step of the basket or a view that has begun: an end missing before it is missing, not running."""
    later = IN_LINE_ORDER[IN_LINE_ORDER.index(Step(step)) + 1 :]
    for other in later:
        starts = q.starts(other)
        if starts:
            return starts[0]
    return q.views[0].started if q.views else None


def removal_step(q: Inquiry) -> Step:
    """The step that ends the dwell: the wash, with a hydrophilic remover the prewash."""
    return Step.PREWASH if removal_method(q) == HYDROPHILIC else Step.WASH


def removal_method(q: Inquiry) -> str:
    """Method letter of the technique; Missing where it gives none."""
    if q.technique.pt_method is None:
        raise Missing(
            f"technique {q.technique.name} gives no removal method", ["Level III: complete the technique sheet"]
        )
    return q.technique.pt_method


def only_for(q: Inquiry, method: str) -> Outcome | None:
    """NOT APPLICABLE where the technique works by another removal method, else None."""
    if removal_method(q) == method:
        return None
    return not_applicable(f"technique {q.technique.name} is Method {q.technique.pt_method}")


def first_wetting(q: Inquiry) -> Moment:
    """When the first part of the current basket was wetted for the first time."""
    return need_runs(q, Step.WET)[0].first_start


def latest_whole_wetting(q: Inquiry) -> Run:
    """The latest wetting of all parts; a re-wetting of fewer pieces than the first does not count."""
    wettings = need_runs(q, Step.WET)
    return [run for run in wettings if run.pieces == wettings[0].pieces][-1]


# --- windows --------------------------------------------------------------------------------------


def techniques(q: Inquiry) -> list[Technique]:
    """The different techniques of the parts in the basket, this record's first."""

    def gather() -> list[Technique]:
        return list({technique.name: technique for technique in (q.technique, *q.techniques.values())}.values())

    return q.once(gather, "techniques")


def limits(q: Inquiry, key: str) -> list[Number]:
    """The limit of each technique in the basket; Missing if one has none."""
    return [q.limit(key, technique) for technique in techniques(q)]


def shared_minimum(q: Inquiry, key: str) -> Number:
    """The largest minimum in the basket."""
    every = limits(q, key)
    return max(every, key=lambda number: number.in_unit(every[0].unit))


def shared_maximum(q: Inquiry, key: str) -> Number:
    """The smallest maximum in the basket."""
    every = limits(q, key)
    return min(every, key=lambda number: number.in_unit(every[0].unit))


# --- durations ------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Timed:
    """What is timed: its name in a sentence, start and stop (None: none recorded), and what stands beside it.

    ``over`` is set when the work has gone on although no stop is recorded; the
    stop is then missing and nothing is still running.  ``lasted`` is a moment
    at which it was certainly not over yet.
    """

    what: str
    start: Moment
    stop: Moment | None
    over: Fact | None
    used: Used
    ways_out: tuple[str, ...] = ()
    lasted: Moment | None = None


def at_most(
    q: Inquiry, timed: Timed, limit: Number, *, times: int = 1, spent: timedelta = NOTHING, limit_text: str = ""
) -> Outcome:
    """Whether the longest possible duration is within a maximum (``times`` the limit, of which some is spent already)."""
    allowed, text = as_timedelta(limit) * times - spent, limit_text or f"at most {limit}"
    if timed.stop is None and timed.over is not None:
        known = between(timed.start, timed.lasted, limit)[0] if timed.lasted else NOTHING
        if known > allowed:
            found = f"over {duration_text(known + spent)}"
            return failed(
                f"{timed.what} {found}, end not recorded", *timed.ways_out, found=found, limit=text, used=timed.used
            )
        return not_recorded(
            f"end of {timed.what} not recorded", "enter the time it ended", used=[*timed.used, timed.over]
        )
    smaller, larger = between(timed.start, timed.stop or q.asked, limit)
    found = duration_text(larger + spent)
    if larger > allowed:
        if (
            timed.stop is not None
            and smaller <= allowed
            and Precision.MINUTE in (timed.start.precision, timed.stop.precision)
        ):
            return not_recorded(
                f"{timed.what} was timed to the minute only: {duration_text(smaller + spent)} to {found}",
                "enter the seconds",
                used=timed.used,
            )
        more = duration_text(larger - allowed)
        state = "already " if timed.stop is None else ""
        return failed(
            f"{timed.what} {state}{found}, {more} too long", *timed.ways_out, found=found, limit=text, used=timed.used
        )
    if timed.stop is None:
        ends = replace(timed.start, at=timed.start.at + allowed).clock()
        return not_yet(
            f"{timed.what} is running: {found}, must end by {ends}",
            "end it in time",
            found=found,
            limit=text,
            used=timed.used,
        )
    return passed(found, text, timed.used)


def at_least(
    q: Inquiry, timed: Timed, allowed: timedelta, limit: Number | None = None, *, limit_text: str = ""
) -> Outcome:
    """Whether the shortest possible duration reaches a minimum; ``allowed`` is the minimum as a duration."""
    text = limit_text or f"at least {limit}"
    if timed.stop is None and timed.over is not None:
        return not_recorded(
            f"end of {timed.what} not recorded", "enter the time it ended", used=[*timed.used, timed.over]
        )
    smaller, _ = between(timed.start, timed.stop or q.asked, limit)
    found = duration_text(smaller)
    if smaller >= allowed:
        return passed(found if timed.stop else f"{found} so far", text, timed.used)
    missing = duration_text(allowed - smaller)
    if timed.stop is None:
        ready = replace(timed.start, at=timed.start.at + allowed).clock()
        return not_yet(
            f"{timed.what}: {found} elapsed, ready {ready}", f"wait {missing}", found=found, limit=text, used=timed.used
        )
    return failed(
        f"{timed.what} {found}, {missing} too short", *timed.ways_out, found=found, limit=text, used=timed.used
    )


def between(start: Moment, stop: Moment, limit: Number | None = None) -> tuple[timedelta, timedelta]:
    """Smaller and larger estimate of a duration; a minute stamp is widened only where the limit is in seconds."""
    if limit is None or limit.unit != "s":
        start, stop = to_the_second(start), to_the_second(stop)
    return elapsed(start, stop)


def need_seconds(what: str, timed: Run) -> None:
    """Missing where a step with a limit in seconds was timed to the minute only."""
    if any(r is not None and r.when.precision is Precision.MINUTE for r in timed.used):
        raise Missing(
            f"{what} was timed to the minute only, its limit is in seconds",
            ["time it with the timer"],
            positions(timed.used),
        )


def overdue(done: Moment, at: Moment, interval: Number) -> bool:
    """Whether more whole local days than the interval lie between; the due day itself counts."""
    return timedelta(days=at.local.toordinal() - done.local.toordinal()) > as_timedelta(interval)


def minutes_as_timedelta(minutes: Fraction) -> timedelta:
    """A number of minutes as a duration, to the microsecond."""
    return timedelta(minutes=minutes.numerator) / minutes.denominator


# --- numbers and ticks ----------------------------------------------------------------------------


def bounded(
    what: str,
    value: Fraction,
    unit: str,
    *ways_out: str,
    least: Number | None = None,
    most: Number | None = None,
    used: Used = (),
) -> Outcome:
    """A value (in ``unit``, the unit of its limits) against a minimum, a maximum or both."""
    found = f"{what} {shown(value, '' if unit == COUNT else unit)}"
    low, high = (bare(number) for number in (least, most))
    limit = f"{low} to {high}"
    if most is None:
        limit = f"at least {low}"
    elif least is None:
        limit = f"at most {high}"
    if least is not None and value < least.in_unit(unit):
        return failed(f"{found} is below {low}", *ways_out, found=found, limit=limit, used=used)
    if most is not None and value > most.in_unit(unit):
        return failed(f"{found} is above {high}", *ways_out, found=found, limit=limit, used=used)
    return passed(found, limit, used)


def bare(number: Number | None) -> str:
    """A limit for reading; counts without their unit."""
    return "" if number is None else number.typed if number.unit == COUNT else str(number)


def tick(q: Inquiry, item: Tick) -> Recorded[f.ConfirmationGiven] | None:
    """The latest tick of this record or its basket that belongs to the current attempt."""
    given = q.confirmed(item.item)
    return None if given is None or given.fact.attempt not in (None, q.attempt) else given


def ticked(q: Inquiry, item: Tick, denied: str, *ways_out: str) -> Outcome:
    """A yes/no tick of the basket: yes PASS, no FAIL with the sentence ``denied``, absent NOT RECORDED."""
    given = tick(q, item)
    if given is None:
        return not_recorded(f"not confirmed: {item.item}", f"tick '{item.item}'")
    if given.fact.value == "no":
        return failed(f"{denied} ({given.by} {given.when.clock()})", *ways_out, found="no", used=[given])
    return passed(f"{item.item}: {given.by} {given.when.clock()}", used=[given])


# --- line and batches -----------------------------------------------------------------------------


def line(q: Inquiry) -> Recorded[f.EquipmentEntered]:
    """The equipment record of the basket's line."""
    entered = q.equipment(q.basket.fact.line)
    if entered is None:
        raise Missing(f"{q.basket.fact.line} has no equipment record", ["enter the line"])
    return entered


def tank_fillings(q: Inquiry) -> list[Recorded[f.TankFilled]]:
    """What the line drew on at each wetting; Missing if nobody said what is in its tanks."""
    return q.once(lambda: _tank_fillings(q), "tank fillings")


def _tank_fillings(q: Inquiry) -> list[Recorded[f.TankFilled]]:
    found = {}
    for run in need_runs(q, Step.WET):
        filled = q.facts.last(f.TankFilled, q.basket.fact.line, until=run.first_start.at)
        if filled is None:
            raise Missing(
                f"contents of the tanks of {q.basket.fact.line} not recorded", ["scan the batches in the tanks"]
            )
        found[filled.position] = filled
    return list(found.values())


def batches(q: Inquiry, material: Material | None = None) -> list[Recorded[f.BatchEntered]]:
    """The batches that the line drew on, of one material if given; Missing if none of it or not entered."""
    return q.once(lambda: _batches(q, material), "batches", material)


def _batches(q: Inquiry, material: Material | None) -> list[Recorded[f.BatchEntered]]:
    names = dict.fromkeys(name for filled in tank_fillings(q) for name in filled.fact.batches)
    found = []
    for name in names:
        entered = q.facts.last(f.BatchEntered, name)
        if entered is None:
            raise Missing(f"batch {name} is not entered", ["enter the batch from its label"])
        if material is None or entered.fact.material == material:
            found.append(entered)
    if not found:
        raise Missing(
            f"no {material or 'batch'} recorded in the tanks of {q.basket.fact.line}", ["scan the batches in the tanks"]
        )
    return found


def today(
    q: Inquiry, moment: Moment, recorded: Sequence[Recorded[f.ReadingRecorded]]
) -> Recorded[f.ReadingRecorded] | None:
    """The last of some readings taken on the shop day of a moment and not after it."""
    opens, _ = q.shop_day(moment)
    found = happened_between(recorded, opens, moment.at)
    return found[-1] if found else None
