"""Whether two pictures show the same exposure: a hash that survives saving anew, smaller, brighter or in grey.

The lowest spatial frequencies of a picture shrunk to 32 x 32 (discrete cosine
transform, type II: N. Ahmed, T. Natarajan, K. Rao, IEEE Transactions on
Computers C-23, 1974), each one bit: above or below their median.  Pictures of
different things differ in about half of the bits.

``MOST_BITS`` is no published limit: it is measured on generated pictures
(``tests/photo/test_alike.py``).  What it does not see is a copy of which more
than a few percent were cut off; what it cannot tell apart is a camera on a
stand that takes like parts.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from math import cos, pi, sqrt
from statistics import median

EDGE = 32  # pixels of the shrunk picture
KEPT = 16  # frequencies each way
BITS = KEPT * KEPT - 1  # without the mean
MOST_BITS = 64
LEAST_CONTRAST = 3.0  # grey levels of 256; below it there is nothing to tell pictures apart by


def looks(levels: Sequence[float]) -> tuple[str, ...]:
    """The hashes of 32 x 32 grey levels, row by row: as they stand, then turned and mirrored; none of an even surface."""
    if max(levels) - min(levels) < LEAST_CONTRAST:
        return ()
    rows = [list(levels[start : start + EDGE]) for start in range(0, EDGE * EDGE, EDGE)]
    found = []
    for _ in range(2):
        for _ in range(4):
            found.append(_hash(rows))
            rows = [list(row) for row in zip(*rows[::-1], strict=True)]  # a quarter turn
        rows = [row[::-1] for row in rows]
    return tuple(found)


def bits_apart(one: str, other: str) -> int:
    """In how many of :data:`BITS` two hashes differ."""
    return (int(one, 16) ^ int(other, 16)).bit_count()


def frequencies(rows: Sequence[Sequence[float]]) -> list[float]:
    """The lowest 16 x 16 frequencies of 32 x 32 levels, the mean first, by row."""
    basis = _basis()
    half = [[sum(w * level for w, level in zip(wave, row, strict=True)) for wave in basis] for row in rows]
    columns = list(zip(*half, strict=True))
    return [
        sum(w * level for w, level in zip(basis[v], columns[u], strict=True)) for v in range(KEPT) for u in range(KEPT)
    ]


def _hash(rows: Sequence[Sequence[float]]) -> str:
    waves = frequencies(rows)[1:]
    middle = median(waves)
    return f"{int(''.join('1' if wave > middle else '0' for wave in waves), 2):064x}"


@cache
def _basis() -> tuple[tuple[float, ...], ...]:
    """The cosine waves, orthonormal, by rising frequency."""
    scale = sqrt(2 / EDGE)
    return tuple(
        tuple(scale * (1 if k else sqrt(0.5)) * cos(pi * k * (2 * n + 1) / (2 * EDGE)) for n in range(EDGE))
        for k in range(KEPT)
    )
