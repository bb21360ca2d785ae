"""What a basket on the penetrant line needs next: from when, begun by when, over by when.

Read from the windows of its procedure and techniques.  A value that is missing
is said beside the action, never guessed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import timedelta
from enum import StrEnum
from typing import TypeVar

from ndi.domain.answer import Severity
from ndi.domain.moment import Moment, duration_text
from ndi.domain.outcome import Missing
from ndi.domain.vocabulary import Step
from ndi.rules import basket as b
from ndi.rules.inquiry import Inquiry, as_timedelta
from ndi.rules.penetrant_application import part_temperatures, required_minutes

T = TypeVar("T")
NOTHING = timedelta()

STEP_WORDS: dict[Step, str] = {
    Step.PRECLEAN: "pre-clean",
    Step.WET: "wetting",
    Step.PREWASH: "prewash",
    Step.REMOVER: "remover",
    Step.WASH: "wash",
    Step.DRY: "drying",
    Step.DEVELOP: "developer",
}


class Do(StrEnum):
    """What kind of thing an action is."""

    START = "start"
    END = "end"
    VIEW = "view"


@dataclass(frozen=True)
class Action:
    """One thing to do.

    ``earliest`` None: at once.  ``latest`` is the last start that still ends in
    time, ``limit`` when it must be over, ``since`` when that time began to run;
    None where no limit is known.  ``stops``: past its limit the process stops.
    ``counted``: a step of seconds, counted aloud.
    """

    do: Do
    words: str
    step: Step | None
    earliest: Moment | None = None
    since: Moment | None = None
    latest: Moment | None = None
    limit: Moment | None = None
    limit_name: str = ""
    rule: str = ""
    stops: bool = False
    counted: bool = False

    @property
    def window(self) -> timedelta | None:
        """How long there is from when the time began to run to the latest start."""
        return None if self.since is None or self.latest is None else self.latest.at - self.since.at

    def latest_text(self) -> str:
        """The latest start for reading: to the full minute before it where it was planned, exact where it is a limit."""
        if self.latest is None:
            return ""
        if self.limit is not None and self.latest.at < self.limit.at:
            return f"{self.latest.local:%H:%M}"
        return self.latest.clock()

    def sentence(self, basket: str) -> str:
        """``Wash B4a: from 11:51, start at the latest 13:06, wash limit 13:18``."""
        said = [f"from {self.earliest.clock()}"] if self.earliest else []
        if self.latest is not None and self.limit is not None and self.latest.at < self.limit.at:
            said.append(f"start at the latest {self.latest_text()}")
        if self.limit is not None:
            said.append(f"{self.limit_name} {self.limit.clock()}")
        return f"{self.words} {basket}" + (f": {', '.join(said)}" if said else "")


@dataclass
class Known:
    """Asks for limits; what is missing is collected in words instead of ending the question."""

    missing: list[str] = field(default_factory=list)

    def get(self, ask: Callable[[], T]) -> T | None:
        try:
            return ask()
        except Missing as missing:
            if missing.outcome.says not in self.missing:
                self.missing.append(missing.outcome.says)
            return None


def shifted(moment: Moment, by: timedelta) -> Moment:
    """The moment ``by`` later, on the same local clock."""
    return Moment(moment.at + by, moment.offset_min)


class Limits:
    """The actions of one basket by the stage at which it stands; ``q`` is the inquiry of a record in it."""

    def __init__(self, q: Inquiry, known: Known) -> None:
        self.q, self.known = q, known
        self.is_hydrophilic = known.get(lambda: b.removal_method(q)) == b.HYDROPHILIC

    # --- values -----------------------------------------------------------------------------------

    def _most(self, key: str) -> timedelta | None:
        return self.known.get(lambda: as_timedelta(b.shared_maximum(self.q, key)))

    def _least(self, key: str) -> timedelta | None:
        return self.known.get(lambda: as_timedelta(b.shared_minimum(self.q, key)))

    def _stops(self, rule: str) -> bool:
        setting = self.q.procedure.rules.get(rule)
        return setting is not None and setting.severity is Severity.STOP

    def run(self, step: Step) -> b.Run | None:
        """The latest pass of the basket through a step."""
        found = b.runs(self.q, step)
        return found[-1] if found else None

    @property
    def pieces(self) -> int | None:
        """As counted at the wetting, else at the wash."""
        passes = [*b.runs(self.q, Step.WET), *b.runs(self.q, Step.WASH)]
        return next((run.pieces for run in passes if run.pieces), None)

    @property
    def wash_each(self) -> timedelta | None:
        """The longest wash of one piece; None with a hydrophilic remover, whose rinse has its own limit."""
        return None if self.is_hydrophilic else self._most("wash_per_part_max")

    def wash_work(self) -> timedelta | None:
        """The longest wash that the pieces may take, less what was washed before."""
        each, pieces = self._most("wash_per_part_max"), self.pieces
        if pieces is None:
            basket = self.q.basket.fact.basket
            text = f"pieces in {basket} not counted: the longest wash is not known"
            if text not in self.known.missing:
                self.known.missing.append(text)
            return None
        if each is None:
            return None
        spent = [run.end.when.at - run.first_start.at for run in b.runs(self.q, Step.WASH) if run.end]
        return max(each * pieces - sum(spent, start=NOTHING), NOTHING)

    def removal_work(self) -> timedelta | None:
        """Time to plan for taking the penetrant off: the wash, with a hydrophilic remover the prewash."""
        return self._most("prewash_max") if self.is_hydrophilic else self.wash_work()

    # --- to wash ----------------------------------------------------------------------------------

    def ready(self) -> Moment | None:
        """When the shortest dwell is over: by the part's temperature, where it was read."""
        wetting = self.run(Step.WET)
        if wetting is None or wetting.end is None:
            return None
        base = self._least("dwell_base")
        needed = self.known.get(lambda: b.minutes_as_timedelta(required_minutes(self.q, part_temperatures(self.q))))
        longest = needed if needed is not None else base
        return None if longest is None else shifted(wetting.end.when, longest)

    def wetted(self) -> Moment | None:
        """When the latest wetting of all parts began; None (and said) when no wetting is recorded."""
        return self.known.get(lambda: b.latest_whole_wetting(self.q).first_start)

    def dwell_limit(self) -> Moment | None:
        """When the parts must be washed: by the latest whole wetting, and by the first of all."""
        whole = self.wetted()
        if whole is None:
            return None
        most, total = self._most("dwell_max"), self._most("wet_total_max")
        ends = [shifted(whole, most)] if most is not None else []
        if total is not None:
            ends.append(shifted(b.first_wetting(self.q), total))
        return min(ends, key=lambda end: end.at, default=None)

    def removal(self) -> Action:
        """Wash (or prewash) after the dwell."""
        limit, work = self.dwell_limit(), self.removal_work()
        return Action(
            Do.START,
            "Prewash" if self.is_hydrophilic else "Wash",
            Step.PREWASH if self.is_hydrophilic else Step.WASH,
            self.ready(),
            self.wetted(),
            shifted(limit, -work) if limit is not None and work is not None else limit,
            limit,
            "wash limit",
            "P07",
            self._stops("P07"),
        )

    # --- a step that runs -------------------------------------------------------------------------

    def end(self, step: Step) -> Action:
        """The end of the step that runs, with its own limit."""
        run = self.run(step)
        assert run is not None, f"{step} does not run"
        words = "Rinse" if step is Step.WASH and self.is_hydrophilic else STEP_WORDS[step]
        keys = _END_LIMITS.get(step)
        if step is Step.WASH and self.is_hydrophilic:
            keys = ("P14", "rinse_max", None, True)
        if step is Step.WASH and not self.is_hydrophilic:
            most, rule, least, counted = self.wash_work(), "P16", None, True
        elif keys is not None:
            rule, most_key, least_key, counted = keys
            most, least = self._most(most_key), self._least(least_key) if least_key else None
        else:
            return Action(Do.END, f"End of {words.lower()}", step, since=run.first_start)
        begun = run.starts[0].when
        limit = shifted(begun, most) if most is not None else None
        return Action(
            Do.END,
            f"End of {words.lower()}" if step is not Step.DRY else "Out of the dryer",
            step,
            shifted(run.last_start, least) if least is not None else None,
            begun,
            limit,
            limit,
            self._limit_name(step, words),
            rule,
            self._stops(rule),
            counted,
        )

    def _limit_name(self, step: Step, words: str) -> str:
        """The wash of Method A has two limits: of the time wet, and its own."""
        if step is Step.DRY:
            return "dryer limit"
        own = step is Step.WASH and not self.is_hydrophilic
        return "washing time limit" if own else f"{words.lower()} limit"

    def dwell_end(self, step: Step) -> Action | None:
        """That the wash must also end within the time wet."""
        limit = self.dwell_limit()
        if limit is None:
            return None
        since = self.wetted()
        words = f"End of {STEP_WORDS[step]}"
        return Action(Do.END, words, step, None, since, limit, limit, "wash limit", "P07", self._stops("P07"))

    # --- from step to step ------------------------------------------------------------------------

    def after(
        self, before: Step, step: Step, words: str, key: str = "", limit_name: str = "", rule: str = ""
    ) -> Action:
        """The start of a step that must follow another within its time, where the procedure limits it."""
        run = self.run(before)
        most = self._most(key) if key else None
        if run is None or run.end is None or most is None:
            return Action(Do.START, words, step)
        limit = shifted(run.end.when, most)
        return Action(Do.START, words, step, None, run.end.when, limit, limit, limit_name, rule, self._stops(rule))

    def least_developing(self) -> timedelta | None:
        """The shortest developing time before a look."""
        return self._least("develop_min")

    def most_developing(self) -> timedelta | None:
        """The longest developing time, at the end of which the look must be over."""
        return self._most("develop_max")

    def view(self, work: timedelta) -> Action:
        """The look at the developed parts, between its shortest and its longest developing time."""
        run = self.run(Step.DEVELOP)
        assert run is not None, "no developer is on"
        least, most = self.least_developing(), self.most_developing()
        end = run.end
        limit = shifted(run.first_start, most) if most is not None else None
        return Action(
            Do.VIEW,
            "View",
            None,
            shifted(end.when, least) if end is not None and least is not None else None,
            run.first_start,
            shifted(limit, -work) if limit is not None else None,
            limit,
            "viewing limit",
            "P25",
            self._stops("P25"),
        )


# step -> rule, longest, shortest, counted in seconds
_END_LIMITS: dict[Step, tuple[str, str, str | None, bool]] = {
    Step.PREWASH: ("P11", "prewash_max", None, True),
    Step.REMOVER: ("P12", "remover_max", "remover_min", True),
    Step.DRY: ("P21", "dryer_time_max", None, False),
}


def left_text(left: timedelta) -> str:
    """``6 min left``, ``3 min over``."""
    return f"{duration_text(abs(left))} {'left' if left >= NOTHING else 'over'}"
