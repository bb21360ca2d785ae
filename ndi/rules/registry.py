"""How a rule is declared, listed and asked."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from ndi.domain.answer import Answer
from ndi.domain.outcome import Missing, Outcome
from ndi.domain.parameter_keys import KEYS
from ndi.domain.procedure import Procedure
from ndi.rules.facts_read import FACTS_READ
from ndi.rules.inquiry import Inquiry

Question = Callable[[Inquiry], Outcome]


@dataclass(frozen=True)
class Rule:
    """One rule: its question in words, the parameter keys it reads, what it is asked of.

    ``scope`` is ``inspection`` for rules that stand in every record's answers;
    others are asked by the use case they guard (``part``, ``shift``, ``tag`` ...).
    ``version`` goes up whenever an answer can change.
    """

    id: str
    version: int
    question: str
    keys: tuple[str, ...]
    scope: str
    ask: Question

    @property
    def facts(self) -> tuple[str, ...]:
        """The kinds of fact that it asks for, as found by running its tests."""
        return FACTS_READ.get(self.id, ())


RULES: dict[str, Rule] = {}


def rule(
    id: str, question: str, *keys: str, version: int = 1, scope: str = "inspection"
) -> Callable[[Question], Question]:
    """Declare a rule; ``keys`` are all the parameters that its function may read."""
    unknown = [key for key in keys if key not in KEYS]
    assert not unknown, f"{id} reads keys that are not catalogued: {unknown}"
    assert id not in RULES, f"{id} is declared twice"

    def declare(ask: Question) -> Question:
        RULES[id] = Rule(id, version, question, keys, scope, ask)
        return ask

    return declare


def load_all() -> dict[str, Rule]:
    """Every rule of the program, by id."""
    from ndi.rules import (  # noqa: F401  importing declares them
        authority,
        bath_life,
        coating,
        coil_and_bar,
        demagnetization,
        disposition,
        evidence,
        history,
        indications,
        light,
        light_at_part,
        light_lamps,
        light_trend,
        magnetization,
        magnetizing_order,
        penetrant_application,
        penetrant_developing,
        penetrant_line,
        penetrant_removal,
        process_checks,
        rework,
        second_looks,
        wet_bath,
    )

    return RULES


def answer(rule_id: str, inquiry: Inquiry) -> Answer:
    """Ask one rule of one record with its pinned revision in hand."""
    found = RULES[rule_id]
    try:
        outcome = found.ask(inquiry)
    except Missing as missing:
        outcome = missing.outcome
    return to_answer(found, outcome, inquiry.procedure)


def to_answer(found: Rule, outcome: Outcome, procedure: Procedure) -> Answer:
    """Dress an outcome with the severity and paragraph of the procedure revision."""
    setting = procedure.rules[found.id]
    return Answer(
        found.id,
        found.version,
        outcome.verdict,
        outcome.found,
        outcome.limit,
        outcome.says,
        outcome.ways_out,
        outcome.facts,
        setting.severity,
        procedure.cited[found.id],
    )


def judge(inquiry: Inquiry, only: Iterable[str] | None = None) -> tuple[Answer, ...]:
    """Every inspection rule that the pinned revision lists, in its order."""
    rules = load_all()
    wanted = inquiry.procedure.rules if only is None else only
    return tuple([answer(rule_id, inquiry) for rule_id in wanted if rules[rule_id].scope == "inspection"])
