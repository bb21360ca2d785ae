"""A proof of person: what stands between a typed secret and a signature.

A proof is made in ``signing.prove`` only, is good for one signature of one
meaning over what was shown, at one station, for two minutes.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from ndi.domain.moment import Moment, elapsed
from ndi.domain.secrets import PROOF_VALID


class Meaning(StrEnum):
    """What a signature says."""

    PERFORMED = "performed"
    SECOND_LOOK = "second look"
    VERIFIED = "verified"
    APPROVED = "approved"


@dataclass(frozen=True)
class Proof:
    """That a person typed a right secret at a station, for one meaning and one cover."""

    person: str
    how: str  # password, badge and PIN
    station: str
    meaning: Meaning
    covers: tuple[str, ...]
    issued: Moment
    entry: int  # position of the try that was right

    def __str__(self) -> str:
        return f"{self.how}, entry {self.entry}"


class Proofs:
    """The proofs that one workplace gave out and that were not used yet."""

    def __init__(self) -> None:
        self._open: dict[int, Proof] = {}

    def give_out(self, proof: Proof) -> Proof:
        """Remember a proof until it is used."""
        self._open[proof.entry] = proof
        return proof

    def take(self, proof: Proof, now: Moment) -> str | None:
        """Use a proof up; says what is wrong with it, or None."""
        if self._open.get(proof.entry) is not proof:
            return "this proof was used already, or was not given here"
        del self._open[proof.entry]
        if elapsed(proof.issued, now)[1] > PROOF_VALID:
            return f"this proof is older than {PROOF_VALID.seconds // 60} min"
        return None
