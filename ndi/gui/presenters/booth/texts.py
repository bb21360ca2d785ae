"""Words and shapes that several booth screens share."""

from __future__ import annotations

from ndi.domain.answer import Answer, Verdict
from ndi.domain.procedure import Procedure
from ndi.gui.presenters.scene import Shape
from ndi.services.to_do import Kind, Task

_BEFORE: dict[Kind, tuple[str, ...]] = {
    Kind.DEMAGNETISE: ("demagnetisation",),
    Kind.VIEW: ("UV-A",),
    Kind.BASKET: ("penetrant",),
}


def caution_before(procedure: Procedure, task: Task) -> str:
    """The cautions that the procedure wants shown before such a step."""
    wanted = _BEFORE.get(task.kind, ())
    if task.kind is Kind.SHOT and task.shot is not None:
        wanted = (f"{task.shot.kind} shot",)
    return "  ".join(caution.text for caution in procedure.cautions if caution.before in wanted)


def is_done_shape(done: bool, in_hand: bool) -> Shape:
    if done:
        return Shape.DONE
    return Shape.RUNNING if in_hand else Shape.OPEN


def answer_shape(answer: Answer) -> Shape:
    """One shape for each of the five answers."""
    return {
        Verdict.PASS: Shape.DONE,
        Verdict.FAIL: Shape.CROSS,
        Verdict.NOT_RECORDED: Shape.OPEN,
        Verdict.NOT_YET: Shape.WAIT,
        Verdict.NOT_APPLICABLE: Shape.DASH,
    }[answer.verdict]
