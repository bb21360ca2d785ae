"""Sums and shares over what was recorded: coverage, evidence, use of shots, blended depth, audit draw.

Counting only, the project's own; exact.  The audit draw orders names by SHA-256 of
seed and name, so anybody draws the same sample again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from ndi.domain.errors import InputError

OBTAINED = ("timer", "scanner", "typed", "typed late")
ANSWERS = ("PASS", "FAIL", "NOT RECORDED", "NOT YET", "NOT APPLICABLE")


@dataclass(frozen=True)
class Shot:
    """A shot, its direction, and the zones that it covers."""

    name: str
    direction: str
    zones: tuple[str, ...]


def coverage(zones: Sequence[str], shots: Sequence[Shot]) -> dict[str, dict[str, list[str]]]:
    """For each zone: direction to shots.  InputError for a shot of a zone that is not listed."""
    found: dict[str, dict[str, list[str]]] = {zone: {} for zone in zones}
    if len(found) != len(zones):
        raise InputError("zones: one name stands there twice; list each zone once")
    for shot in shots:
        for zone in shot.zones:
            if zone not in found:
                raise InputError(f"shot {shot.name}: zone {zone!r} is not in zones; add it there or correct it")
            names = found[zone].setdefault(shot.direction, [])
            if shot.name not in names:
                names.append(shot.name)
    return found


def lacking(matrix: Mapping[str, Mapping[str, Sequence[str]]], directions: int) -> list[str]:
    """Zones with fewer than ``directions`` directions."""
    return [zone for zone, row in matrix.items() if len(row) < directions]


@dataclass(frozen=True)
class Ledger:
    """Depth blended away in one zone over all visits, what is left, and whether the sum lies within the limit."""

    total: Fraction
    left: Fraction
    is_within: bool


def blend_ledger(depths: Sequence[tuple[str, Fraction]], limits: Mapping[str, Fraction]) -> dict[str, Ledger]:
    """For each zone of ``limits`` the sum of (zone, depth) over all visits; InputError for a zone without limit."""
    totals = {zone: Fraction(0) for zone in limits}
    for zone, depth in depths:
        if zone not in totals:
            raise InputError(f"zone {zone!r} has no limit: give the part master's limit for it")
        if depth < 0:
            raise InputError(f"zone {zone!r}: a depth is not below 0")
        totals[zone] += depth
    return {
        zone: Ledger(total, limits[zone] - total, total <= limits[zone]) for zone, total in totals.items()
    }  # at the limit is within it


@dataclass(frozen=True)
class Evidence:
    """Answers that were asked for, how many are PASS, and these by how their weakest fact was obtained."""

    asked: int
    passed: int
    by_obtained: Mapping[str, int]

    @property
    def share(self) -> Fraction | None:
        """Share of PASS among what was asked; None where nothing was."""
        return Fraction(self.passed, self.asked) if self.asked else None


def evidence(answers: Sequence[tuple[str, str]]) -> Evidence:
    """Completeness of (answer, how obtained); NOT APPLICABLE is not asked for."""
    asked = [(answer, obtained) for answer, obtained in answers if answer != "NOT APPLICABLE"]
    passed = [obtained for answer, obtained in asked if answer == "PASS"]
    return Evidence(len(asked), len(passed), {how: passed.count(how) for how in OBTAINED})


def first_shown(shots: Sequence[str], shown_at: Sequence[str]) -> dict[str, int]:
    """How many indications each shot was the first to show; InputError for a shot that is not listed."""
    for shot in shown_at:
        if shot not in shots:
            raise InputError(f"shot {shot!r} is not in shots; add it there or correct it")
    return {shot: shown_at.count(shot) for shot in shots}


def audit_draw(population: Sequence[str], seed: str, size: int) -> list[str]:
    """``size`` names in the order drawn; the same for the same names in any order."""
    if len(set(population)) != len(population):
        raise InputError("population: one name stands there twice; each record is drawn by its own name")
    if not 1 <= size <= len(population):
        raise InputError(f"size {size}: it lies between 1 and the {len(population)} of the population")

    def place(name: str) -> bytes:
        return hashlib.sha256(f"{seed}\0{name}".encode()).digest()

    return sorted(population, key=place)[:size]
