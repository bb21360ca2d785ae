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
    found = {recorded.position for recorded in used if recorded is not None}
    return tuple(sorted(found)) if len(found) > 1 else tuple(found)


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
    if len(every) == 1 and _is_plain(every[0]):
        return every[0]
    verdicts = {outcome.verdict for outcome in every}
    verdict = next(verdict for verdict in _WORST_FIRST if verdict in verdicts)
    same = [outcome for outcome in every if outcome.verdict is verdict] if len(verdicts) > 1 else every
    return Outcome(
        verdict,
        _joined([outcome.found for outcome in same]),
        _joined([outcome.limit for outcome in same]),
        _joined([outcome.says for outcome in same]),
        tuple(dict.fromkeys([way for outcome in same for way in outcome.ways_out])),
        tuple(sorted({position for outcome in every for position in outcome.facts})),
    )


def _is_plain(outcome: Outcome) -> bool:
    """Whether it already has the form that :func:`worst` gives: plain texts, nothing twice, facts ascending."""
    plain = type(outcome.found) is type(outcome.limit) is type(outcome.says) is str
    facts = outcome.facts
    return plain and len(outcome.ways_out) < 2 and (len(facts) < 2 or tuple(sorted(set(facts))) == facts)


def _joined(texts: list[str]) -> str:
    """Each text once, in order; most often there is one only."""
    return "; ".join(texts if len(texts) == 1 else filter(None, dict.fromkeys(texts)))
