"""How a catch is switched off while a test runs; only tests ever read this.

``L02``: the rule answers PASS whatever it is asked.  ``ndi.services.recording._check_plausible``:
the function does nothing.  ``...=True``: it returns that (``...=PASS``: the answer).  ``@name``: a function of this module.
"""

from __future__ import annotations

import ast
import importlib
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, timedelta
from fractions import Fraction
from typing import Any

_RULE = re.compile(r"[GLPMDK]\d\d\Z")


def switch_off(words: str) -> None:
    """Switch off everything named, separated by spaces; LookupError for a name that is not there."""
    for word in words.split():
        if word.startswith("@"):
            SPECIAL[word[1:]]()
        elif _RULE.match(word):
            _pass_rule(word)
        else:
            _replace_function(word)


def _pass_rule(rule_id: str) -> None:
    from ndi.domain.outcome import passed
    from ndi.rules import registry

    rule = registry.load_all()[rule_id]
    registry.RULES[rule_id] = replace(rule, ask=lambda q: passed("switched off"))


def _replace_function(word: str) -> None:
    from ndi.domain.outcome import passed

    path, _, value = word.partition("=")
    module_name, _, name = path.rpartition(".")
    module = importlib.import_module(module_name)
    if not callable(getattr(module, name, None)):
        raise LookupError(f"{path} is no function any more: look where the catch is now")
    returned = passed("switched off") if value == "PASS" else ast.literal_eval(value) if value else None
    setattr(module, name, lambda *args, **named: returned)


# --- catches that are no rule and no function of their own --------------------------------------------

SPECIAL: dict[str, Callable[[], None]] = {}


def special(switch: Callable[[], None]) -> Callable[[], None]:
    SPECIAL[switch.__name__.replace("_", "-")] = switch
    return switch


@special
def wall_clock_only() -> None:
    """The clock that nobody can set is not looked at."""
    from ndi.domain import moment
    from ndi.rules import basket, wet_bath

    def elapsed(start: Any, stop: Any) -> tuple[timedelta, timedelta]:
        return stop.earliest - start.latest, stop.latest - start.earliest

    for module in (moment, basket, wet_bath):
        module.elapsed = elapsed  # type: ignore[attr-defined]


@special
def local_times() -> None:
    """Durations are taken from the clock on the wall, whatever its offset was."""
    from ndi.domain import moment
    from ndi.rules import basket, wet_bath

    def elapsed(start: Any, stop: Any) -> tuple[timedelta, timedelta]:
        apart = stop.local.replace(tzinfo=UTC) - start.local.replace(tzinfo=UTC)
        return apart, apart

    for module in (moment, basket, wet_bath):
        module.elapsed = elapsed  # type: ignore[attr-defined]


@special
def rounded_numbers() -> None:
    """Numbers are rounded to whole ones before they are judged."""
    from ndi.domain.quantity import Number

    in_unit = Number.in_unit

    def rounded(self: Number, unit: str) -> Fraction:
        return Fraction(round(in_unit(self, unit)))

    Number.in_unit = rounded  # type: ignore[method-assign]


@special
def revision_of_the_day() -> None:
    """A record is judged by the revision in force when it is asked about, not at its first step."""
    from ndi.rules import authority

    first = authority.need_first_step

    def asked_now(q: Any) -> Any:
        return replace(first(q), when=q.asked)

    authority.need_first_step = asked_now


@special
def copied_times_are_live() -> None:
    """What is copied from paper counts as taken live."""
    from ndi.services import recording

    class Live:
        TRANSCRIBED = recording.Obtained.TIMER

        def __getattr__(self, name: str) -> Any:
            return getattr(Live._all, name)

        _all = recording.Obtained

    recording.Obtained = Live()  # type: ignore[assignment,misc]


@special
def no_place_is_gone() -> None:
    """Where a recalled part is does not matter."""
    from ndi.services import containment

    containment.GONE = frozenset()


@special
def recall_takes_the_word() -> None:
    """A recall suspends a reject like an acceptance."""
    from ndi.services import deciding

    consequence = deciding._consequence

    def whole(*args: Any) -> Any:
        draft = consequence(*args)
        if draft is not None and getattr(draft.fact, "claim_only", False):
            return replace(draft, fact=replace(draft.fact, claim_only=False))
        return draft

    deciding._consequence = whole


@special
def first_length_only() -> None:
    """Only what the first person measured counts."""
    from ndi.rules import indications

    def first(indication: Any) -> Fraction:
        return Fraction(indication.seen.fact.length.in_unit("in"))

    indications.length_that_counts = first


@special
def no_guard_band() -> None:
    """Whatever the procedure says, limits stay where they are."""
    from ndi.rules.inquiry import Inquiry

    says_yes = Inquiry.says_yes
    Inquiry.says_yes = lambda self, key: key != "guard_band" and says_yes(self, key)  # type: ignore[method-assign]


@special
def no_viewing_queue() -> None:
    """Nobody knows what is to be viewed before a basket."""
    from ndi.services import line_state

    line_state.with_queues = tuple
