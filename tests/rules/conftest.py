"""Whatever a test asks a rule, the answer has the words that a person needs; checked for every answer that any test gets."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from ndi.domain.answer import Answer, Verdict
from ndi.domain.outcome import Outcome
from ndi.domain.procedure import Procedure
from ndi.rules import registry

WANTS_A_WAY_OUT = (Verdict.FAIL, Verdict.NOT_RECORDED)


@pytest.fixture(autouse=True, scope="module")  # no longer: tests of other folders run after these
def answers_have_their_words() -> Iterator[None]:
    """Law: an answer against a part says what was found wrong and names at least one way out; every text is a text."""
    sound = registry.to_answer

    def checked(found: registry.Rule, outcome: Outcome, procedure: Procedure) -> Answer:
        answer = sound(found, outcome, procedure)
        texts = (answer.found, answer.limit, answer.says, *answer.ways_out)
        assert all(type(text) is str or issubclass(type(text), str) for text in texts), answer
        assert "None" not in f"{answer.found} {answer.limit}".split(), answer
        if answer.verdict is not Verdict.PASS:
            assert answer.says.strip(), answer
        if answer.verdict in WANTS_A_WAY_OUT:
            assert answer.ways_out and all(way.strip() for way in answer.ways_out), answer
        assert list(answer.facts) == sorted(set(answer.facts)), answer
        return answer

    registry.to_answer = checked
    yield
    registry.to_answer = sound
