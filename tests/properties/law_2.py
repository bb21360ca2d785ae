"""Law 2 written down a second time, for tests: whether answers carry an acceptance.

Nothing of the program is used but its words; the list of what has no deviation
is law 2's: identity, certificate, vision, independence of the second look, an
open crack, an open containment.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from ndi.domain import facts as f
from ndi.domain.answer import Answer
from ndi.domain.procedure import Procedure

NEVER = {"G01", "G02", "G12", "G13", "D07", "D12", "G30"}


def carries(
    answers: Iterable[Answer],
    procedure: Procedure,
    *,
    reasons: Sequence[f.ReasonGiven] = (),
    deviations: Sequence[f.DeviationSigned] = (),
    decider: str | None,
    day: date,
    concession: bool = False,
) -> bool:
    """Whether every S and B answer is PASS or NOT APPLICABLE and every other W answer has a reason, exceptions apart."""
    for answer in answers:
        if str(answer.verdict) in ("PASS", "NOT APPLICABLE"):
            continue
        setting = procedure.rules[answer.rule]
        if str(setting.severity) == "W":
            if not any(r.rule == answer.rule and r.person for r in reasons):
                return False
            continue
        if (
            answer.rule == "L11"
            and str(answer.verdict) == "NOT YET"
            and procedure.parameters["accept_needs_bracket"].value is False
        ):
            continue
        signed = [d for d in deviations if d.rule == answer.rule and d.role in setting.may_deviate]
        signed = [d for d in signed if d.expires >= day and d.person != decider]
        if str(setting.severity) == "B" and answer.rule not in NEVER and signed:
            continue
        if answer.rule == "D05" and concession:
            continue
        return False
    return True
