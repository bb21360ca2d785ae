"""Answers: what a rule says of a record, with what was found, the limit and the ways out."""

from __future__ import annotations

from enum import StrEnum
from typing import NamedTuple


class Verdict(StrEnum):
    """The five answers (law 1)."""

    PASS = "PASS"
    FAIL = "FAIL"
    NOT_RECORDED = "NOT RECORDED"
    NOT_YET = "NOT YET"
    NOT_APPLICABLE = "NOT APPLICABLE"


class Severity(StrEnum):
    """What an answer other than PASS or NOT APPLICABLE does."""

    STOP = "S"  # stop the process now; also blocks acceptance
    BLOCK = "B"  # blocks acceptance
    WARN = "W"  # needs a reason with a person

    @property
    def blocks(self) -> bool:
        return self is not Severity.WARN


class Answer(NamedTuple):
    """One answer to one rule.

    ``facts`` are the positions in the book of the entries it was read from;
    ``limit`` and ``found`` are for reading, already with units; ``paragraph``
    names procedure, revision and paragraph the question came from.
    """

    rule: str
    version: int
    verdict: Verdict
    found: str = ""
    limit: str = ""
    says: str = ""
    ways_out: tuple[str, ...] = ()
    facts: tuple[int, ...] = ()
    severity: Severity = Severity.BLOCK
    paragraph: str = ""

    @property
    def settled(self) -> bool:
        """PASS or NOT APPLICABLE: nothing stands in the way of acceptance."""
        return self.verdict in (Verdict.PASS, Verdict.NOT_APPLICABLE)

    def line(self) -> str:
        """One line for terminal and log."""
        parts = [f"{self.rule} {self.verdict}"]
        if self.says:
            parts.append(self.says)
        elif self.found or self.limit:
            parts.append(f"found {self.found or '-'}, limit {self.limit or '-'}")
        if self.ways_out and not self.settled:
            parts.append("-> " + " / ".join(self.ways_out))
        return ": ".join(parts[:2]) + (" " + " ".join(parts[2:]) if parts[2:] else "")
