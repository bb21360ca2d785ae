"""How one basket in hand is shown: timer, what is proposed, what is still to be ticked, what was done."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ndi.domain.moment import Moment, duration_text
from ndi.gui.presenters.booth.line_words import (
    BACKGROUND,
    CAUTION_BEFORE,
    PIECES,
    YES,
    action_rows,
    asked,
    big,
    step_rows,
    to_go,
)
from ndi.gui.presenters.booth.screen import BACK, ENTER, INTERRUPT, NOTHING, UNDO
from ndi.gui.presenters.scene import Asked, Big, Form, KeyHint, Part, Row, Rows, Said, Shape, Side, Until
from ndi.services.line_basket import BasketState, Question, Where
from ndi.services.line_limits import Action, Do

if TYPE_CHECKING:
    from ndi.gui.presenters.booth.line_basket import BasketWork


def parts(work: BasketWork, now: Moment) -> tuple[Part | Side, ...]:
    """The whole screen of a basket."""
    state = work.state
    if state is None:
        return ()
    if work.menu:
        rows = tuple(Row(text, key=str(number)) for number, text in enumerate(work.choices(), 1))
        return (Rows(rows, f"{work.basket}: interrupt"),)
    timer = big(state, now)
    if work.ended is not None:
        timer = Big(work.ended.clock(), "the wash ended, as marked", Shape.DONE)
    left: list[Part] = [timer, *_one_part(work, state), *_proposal(work, now)]
    right: list[Part] = [Rows(step_rows(state), f"Done on {state.line}", "Nothing yet.")]
    open_rows = tuple(_question_rows(work))
    if open_rows:
        right.insert(0, Rows(open_rows, "Still to be ticked"))
    if state.queue_says(now):  # what comes next stands with the timer too: there is room for one of the two
        right.append(Said(state.queue_says(now), "Viewing queue"))
    elif state.actions:
        right.append(Rows(action_rows(state), "Comes next"))
    if state.missing:
        right.append(Said("; ".join(state.missing), "Not known"))
    return (Side(tuple(left), tuple(right)),)


def _one_part(work: BasketWork, state: BasketState) -> list[Part]:
    """The count of the part that is under the nozzle."""
    if work.part_since is None or state.stage is not Where.WASHING or state.wash_each is None:
        return []
    words = f"part {len(work.washed)} of {state.pieces or '?'}, at most {duration_text(state.wash_each)} each"
    return [Big(Until(work.part_since, counts_up=True), words, Shape.RUNNING)]


def _proposal(work: BasketWork, now: Moment) -> list[Part]:
    proposed, found = work.proposed(now), list[Part]()
    if isinstance(proposed, str):
        found.append(
            Said(f"{proposed[:1].upper()}{proposed[1:]}. Enter: give the attempt up. 0: go on all the same.", "Stop")
        )
    elif isinstance(proposed, Action):
        found.append(Said(_action_text(work, proposed, now), "Enter"))
        stopped = work.state.stopped(now) if work.state else ""
        if stopped:
            found.append(Said(stopped, "Stop"))
    question = work.question()
    if question is not None:
        found += _asked(work, question)
    caution = _caution(work)
    return [*found, Said(caution, "Caution")] if caution else found


def _action_text(work: BasketWork, action: Action, now: Moment) -> str:
    assert work.state is not None
    if action.earliest is not None and work.too_early(action, now):
        return f"{action.words} – too early: {to_go(action.earliest, now)}"
    if action.do is Do.VIEW:
        return f"View {', '.join(work.state.unseen)}"
    return action.words


def _asked(work: BasketWork, question: Question) -> list[Part]:
    if not question.unit:
        return [Said(asked(question), "Asked")]
    typed = work.screen.typing or ""
    hint = str(work.state.quantity) + " by the records" if question is PIECES and work.state else ""
    unit = "" if question is PIECES else question.unit
    return [Form((Asked(question.item, typed, unit, hint),), "Asked")]


def _question_rows(work: BasketWork) -> list[Row]:
    assert work.state is not None
    current = work.question()
    every = [*([BACKGROUND] if work.ended else []), *work.state.questions]
    return [Row(q.item, ", ".join(q.choices) or q.unit, Shape.OPEN, selected=q == current) for q in every]


def _caution(work: BasketWork) -> str:
    """What the procedure wants read before the step that comes next."""
    state = work.state
    if state is None or state.next is None or state.next.do is not Do.START or state.next.step is None:
        return ""
    word = CAUTION_BEFORE.get(state.next.step)
    return "  ".join(text for before, text in state.cautions if before == word)


def keys(work: BasketWork, now: Moment) -> tuple[KeyHint, ...]:
    """What the keys mean now."""
    if work.menu:
        return (KeyHint("1-9", "choose"), KeyHint(BACK, "back"))
    hints, question = [], work.question()
    proposed = work.proposed(now)
    if isinstance(proposed, str):
        hints += [KeyHint(ENTER, "give up"), KeyHint(NOTHING, "all the same")]
    elif isinstance(proposed, Action):
        hints.append(KeyHint(ENTER, proposed.words))
    elif proposed is None and work.state is not None and work.state.stage is Where.GIVEN_UP:
        hints.append(KeyHint(ENTER, "load again"))
    elif proposed is not None and YES in proposed.choices:
        hints.append(KeyHint(ENTER, YES))
    if question is not None:
        hints.append(KeyHint("1-9", "number") if question.unit else KeyHint(f"1-{len(question.choices)}", "answer"))
        hints.append(KeyHint(NOTHING, "leave open"))
    return (*hints, KeyHint(INTERRUPT, "interrupt"), KeyHint(UNDO, "undo"), KeyHint(BACK, "baskets"))
