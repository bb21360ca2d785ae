"""Outcomes that many records share: worked out once, because what they were read from cannot change."""

from __future__ import annotations

from collections.abc import Callable

from ndi.domain.outcome import Outcome


class Memo:
    """The last outcomes by what they were read from: the same objects, not equal ones.

    Facts and procedures are never changed, so an outcome read from the very
    same objects is the same.  They are kept with it, so that no other object
    can take the place of one of them.  What raises is not kept.
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._known: dict[tuple[int, ...], tuple[Outcome, tuple[object, ...]]] = {}

    def outcome(self, read_from: tuple[object, ...], work_out: Callable[[], Outcome]) -> Outcome:
        """The outcome of ``work_out``, which looks at nothing but ``read_from``."""
        key = tuple(map(id, read_from))
        known = self._known.get(key)
        if known is not None:
            return known[0]
        outcome = work_out()
        if len(self._known) >= self._most:
            self._known.clear()
        self._known[key] = (outcome, read_from)
        return outcome
