""" "Can I go to lunch?": yes until when, or no and why."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from ndi.domain.answer import Verdict
from ndi.gui.presenters.booth.line_words import shape_of, word_of
from ndi.gui.presenters.booth.screen import BACK, Screen, number_key
from ndi.gui.presenters.scene import Big, KeyHint, Part, Row, Rows, Said, Shape, Side, Until
from ndi.services.line_basket import BasketState
from ndi.services.line_questions import back_by, leave_answer
from ndi.services.line_state import line_now
from ndi.services.ports import Session

if TYPE_CHECKING:
    from ndi.gui.presenters.booth.booth import Booth


class Lunch(Screen):
    """The answer for whoever has the line in hand; it goes with the clock."""

    name: ClassVar[str] = "lunch"

    def __init__(self, booth: Booth) -> None:
        super().__init__(booth)
        self.states: tuple[BasketState, ...] = ()

    def load(self, session: Session) -> None:
        self.states = line_now(self.booth.work, session)

    def title(self) -> str:
        return "Can I go to lunch?"

    def parts(self) -> tuple[Part | Side, ...]:
        now = self.booth.now()
        answer, back = leave_answer(self.states, now), back_by(self.states)
        match answer.verdict:
            case Verdict.PASS if back is None:
                big = Big("Yes", "nothing waits", Shape.DONE)
            case Verdict.PASS:
                assert back is not None
                big = Big(Until(back.at), f"Yes, back by {back.clock()}", Shape.DONE)
            case Verdict.NOT_RECORDED:
                big = Big("Not known", "something is not recorded", Shape.OPEN)
            case _:
                big = Big("No", "hands are needed here", Shape.CROSS)
        return (big, Said(answer.says), self._baskets())

    def _baskets(self) -> Rows:
        now, rows = self.booth.now(), []
        for number, state in enumerate(self.states[:9], 1):
            sentences = "; ".join(action.sentence(state.basket) for action in state.actions)
            rows.append(Row(f"{state.basket}  {word_of(state, now)}", sentences, shape_of(state, now), str(number)))
        return Rows(tuple(rows), "On the line", "No basket is on the line.")

    def keys(self) -> tuple[KeyHint, ...]:
        return (KeyHint("1-9", "basket"), KeyHint(BACK, "back"))

    def press(self, key: str) -> bool:
        number = number_key(key)
        if number is None:
            return False
        if 1 <= number <= len(self.states[:9]):
            basket = self.states[number - 1].basket
            self.booth.swap(self.booth.make_screen("line", self.booth, basket=basket))
        return True
