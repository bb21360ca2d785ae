"""Reads the baskets for the loudspeaker, whatever screen is open; reads anew only when the book has grown."""

from __future__ import annotations

from ndi.domain.errors import StoreError
from ndi.services.line_basket import BasketState
from ndi.services.line_state import line_now
from ndi.services.workplace import Workplace


class LineWatch:
    """:meth:`look` belongs to the thread that may talk to the book; :attr:`states` is what it saw last, for any thread."""

    def __init__(self, work: Workplace) -> None:
        self._work = work
        self._head = -1
        self.states: tuple[BasketState, ...] = ()

    def look(self) -> tuple[BasketState, ...]:
        """The baskets as the book has them now, the most urgent first; as they were while it is not reached."""
        try:
            with self._work.book.session(readonly=True) as session:
                head = session.head().position
                if head != self._head:
                    self.states = line_now(self._work, session)
                    self._head = head
        except StoreError:
            pass  # the screen says so; the sounds go on about what was seen last
        return self.states
