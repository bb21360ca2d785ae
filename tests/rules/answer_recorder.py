"""A pytest plugin that keeps what the rules answer and read while tests run: ``-p tests.rules.answer_recorder``.

The file named by ``ANSWERS_SEEN`` gets, for each rule asked, the verdicts that
occurred and the kinds of fact that it asked for.
"""

from __future__ import annotations

import json
import os
from collections import defaultdict
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from ndi.domain.answer import Answer
from ndi.domain.entry import Recorded
from ndi.domain.fact_set import FactSet
from ndi.domain.facts import ReadingRecorded
from ndi.domain.outcome import Outcome
from ndi.domain.procedure import Procedure
from ndi.rules import registry
from ndi.rules.inquiry import Inquiry

VERDICTS: dict[str, set[str]] = defaultdict(set)
KINDS: dict[str, set[str]] = defaultdict(set)
WATCHED = {"of", "last", "readings"}  # every way to a fact that a FactSet offers
_asked: list[str] = []  # the rule that is being asked, innermost last


def keep_what_is_read() -> None:
    """From now on every kind of fact that a rule asks for is kept under its id."""
    of, last, readings, answer = FactSet.of, FactSet.last, FactSet.readings, registry.answer

    def kept_of(self: FactSet, kind: type[Any], *rest: Any, **named: Any) -> Any:
        _read(kind)
        return of(self, kind, *rest, **named)

    def kept_last(
        self: FactSet, kind: type[Any], subject: str, *, until: datetime | None = None
    ) -> Recorded[Any] | None:
        _read(kind)
        return last(self, kind, subject, until=until)

    def kept_readings(self: FactSet, *of_what: Any, **named: Any) -> Any:
        _read(ReadingRecorded)
        return readings(self, *of_what, **named)

    def kept_answer(rule_id: str, inquiry: Inquiry) -> Answer:
        _asked.append(rule_id)
        try:
            return answer(rule_id, inquiry)
        finally:
            _asked.pop()

    FactSet.of, FactSet.last = kept_of, kept_last  # type: ignore[method-assign,assignment]
    FactSet.readings = kept_readings  # type: ignore[method-assign]
    registry.answer = kept_answer


def _read(kind: type[Any]) -> None:
    if _asked:
        KINDS[_asked[-1]].add(kind.__name__)


def keep_what_is_answered() -> None:
    to_answer: Callable[[registry.Rule, Outcome, Procedure], Answer] = registry.to_answer

    def kept(found: registry.Rule, outcome: Outcome, procedure: Procedure) -> Answer:
        VERDICTS[found.id].add(str(outcome.verdict))
        return to_answer(found, outcome, procedure)

    registry.to_answer = kept


def pytest_configure(config: pytest.Config) -> None:
    keep_what_is_read()
    keep_what_is_answered()


def pytest_sessionfinish(session: pytest.Session) -> None:
    seen = {rule: {"verdicts": sorted(VERDICTS[rule]), "kinds": sorted(KINDS[rule])} for rule in sorted(VERDICTS)}
    Path(os.environ["ANSWERS_SEEN"]).write_text(json.dumps(seen), encoding="utf-8")
