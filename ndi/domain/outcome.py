"""What a rule function returns, before the registry adds rule, severity and paragraph."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ndi.domain.answer import Verdict
from ndi.domain.entry import Recorded
from ndi.domain.facts import Fact


@dataclass(frozen=True)
class Outcome:
    """A verdict with what was found, the limit, a sentence, the ways out and the facts used."""

    verdict: Verdict
    found: str = ""
    limit: str = ""
    says: str = ""
    ways_out: tuple[str, ...] = ()
    facts: tuple[int, ...] = ()


class Missing(Exception):
    """A rule cannot be answered because something is not recorded."""

    def __init__(self, says: str, ways_out: Sequence[str] = (), facts: Sequence[int] = ()) -> None:
        super().__init__(says)
        self.outcome = Outcome(Verdict.NOT_RECORDED, says=says, ways_out=tuple(ways_out), facts=tuple(facts))


Used = Iterable[Recorded[Fact] | None]


def positions(used: Used) -> tuple[int, ...]:
    """Positions of the facts used, ascending, without repeats."""
    return tuple(sorted({recorded.position for recorded in used if recorded is not None}))


def passed(found: str = "", limit: str = "", used: Used = ()) -> Outcome:
    """The rule is met."""
    return Outcome(Verdict.PASS, found, limit, facts=positions(used))


def failed(says: str, *ways_out: str, found: str = "", limit: str = "", used: Used = ()) -> Outcome:
    """A recorded fact contradicts the rule."""
    return Outcome(Verdict.FAIL, found, limit, says, ways_out, positions(used))


def not_recorded(says: str, *ways_out: str, used: Used = ()) -> Outcome:
    """A fact that the rule needs is missing."""
    return Outcome(Verdict.NOT_RECORDED, says=says, ways_out=ways_out, facts=positions(used))


def not_yet(says: str, *ways_out: str, found: str = "", limit: str = "", used: Used = ()) -> Outcome:
    """Something is still running."""
    return Outcome(Verdict.NOT_YET, found, limit, says, ways_out, positions(used))


def not_applicable(because: str, used: Used = ()) -> Outcome:
    """The rule does not apply; ``because`` names procedure, technique, master, equipment or the rule's condition."""
    return Outcome(Verdict.NOT_APPLICABLE, says=because, facts=positions(used))


_WORST_FIRST = (Verdict.FAIL, Verdict.NOT_RECORDED, Verdict.NOT_YET, Verdict.PASS, Verdict.NOT_APPLICABLE)


def worst(outcomes: Iterable[Outcome]) -> Outcome:
    """One outcome for several things asked: the worst verdict; texts of all that share it, facts of all.

    Missing when there is nothing to ask about: no outcome at all is no PASS.
    """
    every = list(outcomes)
    if not every:
        raise Missing("nothing is recorded that this could be asked of", ["record it"])
    verdict = next(v for v in _WORST_FIRST if any(outcome.verdict is v for outcome in every))
    same = [outcome for outcome in every if outcome.verdict is verdict]

    def joined(texts: Iterable[str]) -> str:
        return "; ".join(dict.fromkeys(text for text in texts if text))

    ways = tuple(dict.fromkeys(way for outcome in same for way in outcome.ways_out))
    facts = tuple(sorted({position for outcome in every for position in outcome.facts}))
    return Outcome(
        verdict,
        joined(outcome.found for outcome in same),
        joined(outcome.limit for outcome in same),
        joined(outcome.says for outcome in same),
        ways,
        facts,
    )
