"""State by shape and word: one list for every screen of the desk, colour is never the only sign."""

from __future__ import annotations

from dataclasses import dataclass

from ndi.domain.answer import Verdict
from ndi.domain.vocabulary import SPLIT, Disposition

OPEN, RUNNING, SETTLED, FAILED, WAITING, NONE = "□", "▬", "✓", "✗", "◷", "–"
SHAPES = (OPEN, RUNNING, SETTLED, FAILED, WAITING, NONE)


@dataclass(frozen=True)
class Mark:
    """A shape and the word beside it."""

    shape: str
    word: str

    def __str__(self) -> str:
        return f"{self.shape} {self.word}"


_OF_VERDICT: dict[str, str] = {
    Verdict.PASS: SETTLED,
    Verdict.FAIL: FAILED,
    Verdict.NOT_RECORDED: OPEN,
    Verdict.NOT_YET: WAITING,
    Verdict.NOT_APPLICABLE: NONE,
}
_OF_DISPOSITION: dict[str, str] = {
    Disposition.NO_DECISION: OPEN,
    Disposition.ACCEPT: SETTLED,
    Disposition.REWORK: RUNNING,
    Disposition.HOLD_ENG: WAITING,
    Disposition.REJECT: FAILED,
    Disposition.SCRAP: FAILED,
    Disposition.RETURN_UNSERVICEABLE: FAILED,
    SPLIT: RUNNING,
}


def of_verdict(verdict: str) -> Mark:
    """An answer."""
    return Mark(_OF_VERDICT[verdict], str(verdict))


def of_disposition(word: str, *, suspended: bool = False, provisional: bool = False) -> Mark:
    """A decision; suspended and provisional ones wait for something."""
    first = next((name for name in _OF_DISPOSITION if word.startswith(name)), Disposition.NO_DECISION)
    if suspended:
        return Mark(FAILED, f"{word} - SUSPENDED")
    if provisional:
        return Mark(WAITING, f"{word} - PROVISIONAL")
    return Mark(_OF_DISPOSITION[first], word)


def of_state(word: str) -> Mark:
    """A piece state of a work order, SUSPENDED among them."""
    return Mark(FAILED, word) if word == "SUSPENDED" else of_disposition(word)


def yes_no(value: bool | None, yes: str, no: str, unknown: str = "not recorded") -> Mark:
    """Something that is so, is not so, or nobody said."""
    return Mark(OPEN, unknown) if value is None else Mark(SETTLED, yes) if value else Mark(FAILED, no)
