"""Law 2: when a part may be called accepted, and what each other disposition needs.

Pure functions over answers; they decide nothing that is not in the answers.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from ndi.domain import dispositions
from ndi.domain.answer import Answer, Severity, Verdict
from ndi.domain.vocabulary import Disposition

# No deviation exists for identity, certificate, vision, independence of the second look, an open crack, an open containment.
NO_DEVIATION = frozenset({"G01", "G02", "G12", "G13", "D07", "D12", "G30"})

# Rules that a disposition other than acceptance must have settled before it can be signed.
GUARDS: dict[str, tuple[str, ...]] = {
    word: dispositions.guard_of(word) for word in dispositions.words_signed() if word != Disposition.ACCEPT
}

# What the disposition itself is the answer to: it may stay open in a complete record.
ANSWERED_BY: dict[str, frozenset[str]] = {
    Disposition.HOLD_ENG: frozenset({"D05"}),
}


@dataclass(frozen=True)
class Standing:
    """Whether a set of answers carries an acceptance, and under which of the three named exceptions."""

    open_lines: tuple[Answer, ...]  # S or B answers that stand in the way
    without_reason: tuple[Answer, ...]  # W answers that nobody gave a reason for
    provisional: tuple[Answer, ...]  # exception (i): L11 waits for the closing reading
    deviated: tuple[Answer, ...]  # exception (ii)
    conceded: tuple[Answer, ...]  # exception (iii)

    @property
    def holds(self) -> bool:
        return not self.open_lines and not self.without_reason

    @property
    def in_the_way(self) -> tuple[Answer, ...]:
        return self.open_lines + self.without_reason


def standing(
    answers: Iterable[Answer],
    *,
    reasons: Collection[str] = (),
    deviations: Collection[str] = (),
    needs_bracket: bool = True,
    concession: bool = False,
) -> Standing:
    """Whether the answers carry an acceptance.

    ``reasons``: rules for whose warning a person gave a reason.  ``deviations``:
    B rules with a signed, unexpired deviation by the role that the procedure
    names.  ``needs_bracket``: the procedure makes acceptance wait for L11.
    ``concession``: an engineering concession with reference and revision is there.
    """
    open_lines, without_reason, provisional, deviated, conceded = [], [], [], [], []
    for answer in answers:
        if answer.settled:
            continue
        if answer.severity is Severity.WARN:
            if answer.rule not in reasons:
                without_reason.append(answer)
        elif answer.rule == "L11" and answer.verdict is Verdict.NOT_YET and not needs_bracket:
            provisional.append(answer)
        elif answer.severity is Severity.BLOCK and answer.rule in deviations and answer.rule not in NO_DEVIATION:
            deviated.append(answer)
        elif answer.rule == "D05" and concession:
            conceded.append(answer)
        else:
            open_lines.append(answer)
    return Standing(tuple(open_lines), tuple(without_reason), tuple(provisional), tuple(deviated), tuple(conceded))


def guard(answers: Iterable[Answer], dispositions: Collection[str]) -> tuple[Answer, ...]:
    """The answers that stand in the way of signing these dispositions (acceptance apart)."""
    wanted = {rule for word in dispositions for rule in GUARDS.get(word, ())}
    allowed = frozenset().union(*(ANSWERED_BY.get(word, frozenset()) for word in dispositions))
    return tuple(a for a in answers if a.rule in wanted - allowed and not a.settled)


def incomplete(answers: Iterable[Answer], dispositions: Collection[str]) -> tuple[Answer, ...]:
    """S and B answers that keep a signed record from being verified; warnings do not."""
    allowed = frozenset().union(*(ANSWERED_BY.get(word, frozenset()) for word in dispositions))
    return tuple(a for a in answers if a.severity.blocks and not a.settled and a.rule not in allowed)
