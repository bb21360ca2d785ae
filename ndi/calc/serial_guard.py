"""How near a typed serial number lies to the ones that are known, and how they differ, in words.

Distance: optimal string alignment (Damerau 1964 in the restricted form: insert,
delete, replace and swap of neighbours each count 1, nothing is edited twice).
Whether a serial *is* the right one is asked by a rule; here are only distances.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

_LOOK_ALIKE = tuple(frozenset(pair) for pair in ("0O", "1I", "5S", "8B"))  # common practice, no source


def _table(typed: str, known: str) -> list[list[int]]:
    """Distances of every beginning of ``typed`` to every beginning of ``known``."""
    rows = [list(range(len(known) + 1))]
    for i, mine in enumerate(typed, start=1):
        row = [i]
        for j, theirs in enumerate(known, start=1):
            least = min(rows[i - 1][j] + 1, row[j - 1] + 1, rows[i - 1][j - 1] + (mine != theirs))
            if i > 1 and j > 1 and mine == known[j - 2] and typed[i - 2] == theirs:
                least = min(least, rows[i - 2][j - 2] + 1)
            row.append(least)
        rows.append(row)
    return rows


def distance(typed: str, known: str) -> int:
    """Optimal string alignment distance of two texts, in edits."""
    return _table(typed, known)[-1][-1]


def near(typed: str, known: Iterable[str], most: int = 2) -> list[tuple[str, int]]:
    """Known serials at most ``most`` edits away, each once, with the distance; nearest first, then by text."""
    close = (serial for serial in set(known) if abs(len(serial) - len(typed)) <= most)
    found = [(serial, distance(typed, serial)) for serial in close]
    return sorted((pair for pair in found if pair[1] <= most), key=lambda pair: (pair[1], pair[0]))


def _edits(typed: str, known: str) -> list[tuple[str, str]]:
    """One shortest list of edits from known to typed, as (kind, characters), first to last."""
    rows, i, j = _table(typed, known), len(typed), len(known)
    edits: list[tuple[str, str]] = []
    while i or j:
        here = rows[i][j]
        swapped = i > 1 and j > 1 and typed[i - 1] == known[j - 2] and typed[i - 2] == known[j - 1]
        if i and j and typed[i - 1] == known[j - 1] and here == rows[i - 1][j - 1]:
            i, j = i - 1, j - 1
        elif swapped and here == rows[i - 2][j - 2] + 1:
            edits.append(("swapped", known[j - 2 : j]))
            i, j = i - 2, j - 2
        elif i and j and here == rows[i - 1][j - 1] + 1:
            edits.append(("differs", typed[i - 1] + known[j - 1]))
            i, j = i - 1, j - 1
        elif j and here == rows[i][j - 1] + 1:
            edits.append(("missing", known[j - 1]))
            j -= 1
        else:
            edits.append(("too many", typed[i - 1]))
            i -= 1
    return edits[::-1]


_COUNTED = {1: "one", 2: "two", 3: "three", 4: "four", 5: "five", 6: "six"}


def _phrase(kind: str, count: int) -> str:
    if kind == "swapped":
        return "two characters swapped" + ("" if count == 1 else f" in {_COUNTED.get(count, str(count))} places")
    noun = "character" if count == 1 else "characters"
    verb = "differ" if kind == "differs" and count > 1 else kind
    return f"{_COUNTED.get(count, str(count))} {noun} {verb}"


def difference(typed: str, known_serial: str) -> str:
    """How ``typed`` differs from ``known_serial``, in words, e.g. ``two characters swapped``.

    Characters that are easily taken for one another (0 and O, 1 and I, 5 and S,
    8 and B) are named, also in lower case.
    """
    edits = _edits(typed, known_serial)
    if not edits:
        return "no difference"
    counts = Counter(kind for kind, _ in edits)
    text = ", ".join(_phrase(kind, counts[kind]) for kind in dict.fromkeys(kind for kind, _ in edits))
    alike = [pair for kind, pair in edits if kind == "differs" and frozenset(pair.upper()) in _LOOK_ALIKE]
    if alike:
        text += " (" + ", ".join(f"{pair[0]} typed for {pair[1]}" for pair in alike) + ")"
    return text
