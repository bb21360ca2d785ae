"""One basket in hand on the line screen: the step that is proposed, what is to be ticked, giving up."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Any

from ndi.domain import facts as f
from ndi.domain.errors import InputError
from ndi.domain.moment import Boot, Moment
from ndi.domain.quantity import Number
from ndi.domain.vocabulary import Step
from ndi.gui.presenters.booth.line_words import BACKGROUND, PIECES, YES, counted, to_go, word_of
from ndi.gui.presenters.booth.screen import DIGITS, ENTER, INTERRUPT, NOTHING, UNDO, number_key
from ndi.services import recording
from ndi.services.line_basket import OFF_THE_LINE, BasketState, Question, Where
from ndi.services.line_limits import STEP_WORDS, Action, Do
from ndi.services.line_state import RUNNING

if TYPE_CHECKING:
    from ndi.gui.presenters.booth.line import Line

COUNTED_AT = (Step.WET, Step.WASH)
WET_AGAIN, WASH_AGAIN, SOUND_OFF = "Wet again", "Wash again", "Sound off for a while, or on again"
GIVE_UP = "Give up: "
REASONS = (
    "too long wet",
    "over-washed",
    "penetrant dried on the parts",
    "remover or developing time exceeded",
    "wrong material or setting",
    "power, water or air failed",
)
_AGAIN = {Where.DWELLING: WET_AGAIN, Where.WASHED: WASH_AGAIN}


class BasketWork:
    """What the keys mean while one basket is open.  ``enter`` does what is proposed, digits answer the question shown."""

    def __init__(self, screen: Line, basket: str) -> None:
        self.screen, self.booth, self.basket = screen, screen.booth, basket
        self.state: BasketState | None = None
        self.seen: list[str] = []  # parts scanned for counting
        self.washed: list[str] = []  # parts scanned as each one's wash began
        self.under: str | None = None  # the part whose wash is timed
        self.part_began: Moment | None = None
        self.aside: list[str] = []  # questions left open for now
        self.all_the_same = False  # the step is wanted although the time or a rule speaks against it
        self.ended: Moment | None = None  # end of the wash, before its background is stated
        self.menu = False

    def read(self, state: BasketState) -> None:
        """Take over what the book says now."""
        if self.state is not None and self.state.stage is not state.stage:
            self.all_the_same, self.aside = False, []
            self.washed, self.under, self.part_began = [], None, None
        self.state = state

    @property
    def pieces(self) -> int | None:
        """As counted, not recorded yet."""
        return self.screen.counts.get(self.basket)

    # --- what is proposed -------------------------------------------------------------------------

    def questions(self) -> list[Question]:
        """What is open and was not put aside."""
        assert self.state is not None
        if self.ended is not None:
            return [BACKGROUND]
        found = list(self.state.questions)
        action = self.state.next
        counting = action is not None and action.do is Do.START and action.step in COUNTED_AT
        if counting and self.pieces is None and self.state.pieces is None:
            found.insert(0, PIECES)
        return [question for question in found if question.item not in self.aside]

    def question(self) -> Question | None:
        """The one that digits answer."""
        found = self.questions()
        return next((q for q in found if q.first), found[0] if found else None)

    def stop(self, now: Moment) -> str:
        """Why giving up is proposed instead of the next step; a step that runs is ended first."""
        assert self.state is not None
        runs = self.state.next is not None and self.state.next.do is Do.END
        return "" if self.all_the_same or runs else self.state.stopped(now)

    def proposed(self, now: Moment) -> Question | Action | str | None:
        """What ``enter`` says yes to: a question, the next step, or giving up for a reason."""
        assert self.state is not None
        question, action = self.question(), self.state.next
        if self.ended is not None:
            return question
        reason = self.stop(now)
        if reason:
            return reason
        if action is None or (action.do is not Do.END and question is not None and question.first):
            return question
        waits = action.do is not Do.END and self.too_early(action, now)
        return question if question is not None and (waits or action.do is Do.VIEW) else action

    def too_early(self, action: Action, now: Moment) -> bool:
        return action.earliest is not None and now.at < action.earliest.at

    # --- what is shown ----------------------------------------------------------------------------

    def title(self) -> str:
        state = self.state
        if state is None:
            return self.basket
        return f"{self.basket}, attempt {state.attempt}: {word_of(state, self.booth.now())}"

    # --- keys -------------------------------------------------------------------------------------

    def press(self, key: str) -> bool:
        if self.state is None:
            return False
        if self.menu:
            return self._press_menu(key)
        now = self.booth.now()
        if key == ENTER:
            self._yes(now)
        elif key == NOTHING:
            self._leave_open(now)
        elif key == INTERRUPT:
            self.menu = True
        elif key == UNDO and self.ended is not None:
            self.ended = None
            self.booth.say("the wash runs on: its end was not recorded")
        elif key == UNDO and self.screen.typing is not None:
            self.screen.typing = None
        elif key in DIGITS:
            self._digit(key)
        else:
            return False
        return True

    def _yes(self, now: Moment) -> None:
        self.screen.typing = None
        proposed = self.proposed(now)
        if isinstance(proposed, str):
            self.menu = True
        elif isinstance(proposed, Question):
            if YES in proposed.choices:
                self._answer(proposed, YES)
            else:
                self.booth.refuse(
                    f"nothing is proposed for {proposed.item}: {'type it' if proposed.unit else 'choose'}"
                )
        elif isinstance(proposed, Action):
            self._do(proposed, now)
        elif self.state is not None and self.state.stage is Where.GIVEN_UP:
            self.screen.load_anew(self.basket)
        else:
            self.booth.say(f"nothing is to be done with {self.basket}")

    def _do(self, action: Action, now: Moment) -> None:
        if action.do is not Do.END and self.too_early(action, now) and not self.all_the_same:
            assert action.earliest is not None
            self.booth.refuse(f"too early: {to_go(action.earliest, now)}  → wait / 0, then Enter: all the same")
        elif action.do is Do.VIEW:
            assert self.state is not None
            self.booth.go(self.booth.make_screen("record", self.booth, inspection=self.state.unseen[0]))
        elif action.step is not None:
            self._step(action.step, action.do is Do.START)

    def _leave_open(self, now: Moment) -> None:
        """A question is put aside; where the time or a rule speaks against the step, it is done all the same."""
        assert self.state is not None
        action, question = self.state.next, self.question()
        if self.ended is not None:
            self._end_wash(None)
        elif self.stop(now):
            self.all_the_same = True
            self.booth.say("the step is offered all the same")
        elif question is not None:
            self.aside.append(question.item)
            self.booth.say(f"left open: {question.item}")
        elif action is not None and self.too_early(action, now):
            self.all_the_same = True
            self.booth.say(f"{action.words} is offered although it is too early")
        else:
            self.aside = []

    def _digit(self, key: str) -> None:
        question, number = self.question(), number_key(key)
        if question is None or number is None:
            self.booth.say("nothing is asked here; . leads back to the baskets")
        elif question.unit:
            self.screen.typing = key
        elif 1 <= number <= len(question.choices):
            self._answer(question, question.choices[number - 1])
        else:
            self.booth.refuse(f"{question.item}: 1 to {len(question.choices)}")

    def entered(self, typed: str) -> None:
        """A number was typed for the question shown."""
        question = self.question()
        if question is None or not question.unit:
            return
        if question is PIECES:
            if not typed.isdigit() or int(typed) == 0:
                raise InputError(f"{typed} pieces: type how many lie in the basket")
            self.screen.counts[self.basket] = int(typed)
            self.booth.say(f"{self.basket}: {counted(int(typed), 'piece')}")
            return
        value = Number(typed, question.unit)
        self._record(f"{question.item} {value}", f.StepObserved(self.basket, question.step, question.item, value))

    def _answer(self, question: Question, value: str) -> None:
        assert self.state is not None
        if question is BACKGROUND:
            self._end_wash(value)
            return
        fact = f.ConfirmationGiven(self.basket, question.item, value, self.state.attempt)
        self._record(f"{question.item}: {value}", fact)

    # --- interrupting -----------------------------------------------------------------------------

    def choices(self) -> list[str]:
        """What can be done out of turn, by number."""
        assert self.state is not None
        if self.state.stage in OFF_THE_LINE:
            return [SOUND_OFF]
        stopped, again = self.state.stopped(self.booth.now()), _AGAIN.get(self.state.stage)
        reasons = [*([stopped] if stopped else []), *REASONS]
        return [*(f"{GIVE_UP}{reason}" for reason in reasons), *([again] if again else []), SOUND_OFF]

    def _press_menu(self, key: str) -> bool:
        number, choices = number_key(key), self.choices()
        if number is None or not 1 <= number <= len(choices):
            if key in (ENTER, NOTHING) or number is not None:
                self.booth.refuse(f"choose 1 to {len(choices)}; . leads back")
                return True
            if key == INTERRUPT:
                self.menu = False
                return True
            return False
        self.menu, chosen = False, choices[number - 1]
        if chosen == SOUND_OFF:
            self.screen.mute()
        elif chosen in (WET_AGAIN, WASH_AGAIN):
            self._step(Step.WET if chosen == WET_AGAIN else Step.WASH, True)
        else:
            self._give_up(chosen.removeprefix(GIVE_UP))
        return True

    def _give_up(self, reason: str) -> None:
        assert self.state is not None
        facts = [f.AttemptVoided(name, self.basket, self.state.attempt, reason) for name in self.state.inspections]
        self._record(f"attempt {self.state.attempt} is given up: {reason}", *facts)

    # --- steps ------------------------------------------------------------------------------------

    def command(self, step: Step, begins: bool) -> None:
        """A command code; what happened is recorded also out of turn, but not twice."""
        assert self.state is not None
        running = RUNNING.get(self.state.stage)
        word = STEP_WORDS.get(step, str(step))
        if self.state.stage in OFF_THE_LINE:
            raise InputError(f"{self.basket} is {self.state.stage}: load it anew first")
        if begins and step is running:
            raise InputError(f"{word} of {self.basket} runs already")
        if not begins and step is not running and step in STEP_WORDS:
            raise InputError(f"{word} of {self.basket} does not run: scan its start first")
        self._step(step, begins)

    def _step(self, step: Step, begins: bool) -> None:
        assert self.state is not None
        word = STEP_WORDS.get(step, str(step))
        if not begins and step is Step.WASH:
            self._part_ends()
            self.ended = self.booth.now()
            self.booth.say("end of the wash is marked: how is the background?")
            return
        if begins:
            pieces = (self.pieces or self.state.pieces) if step in COUNTED_AT else None
            self._record(f"{word} begins", f.StepStarted(self.basket, step, pieces))
        else:
            self._record(f"{word} ends", f.StepEnded(self.basket, step))

    def _end_wash(self, background: str | None) -> None:
        """Record the end of the wash as it was marked."""
        ended = self.ended
        assert ended is not None
        if self._record(f"wash ends: {background or 'background not stated'}", self._wash_end(background), when=ended):
            self.ended = None

    def _wash_end(self, background: str | None) -> f.Fact:
        return f.StepEnded(self.basket, Step.WASH, background)

    def leave(self) -> bool:
        """Before another basket or the tiles: close the menu, or record the end that was marked."""
        if self.menu:
            self.menu = False
            return False
        if self.ended is not None:
            self._end_wash(None)
            return self.ended is None
        return True

    def part(self, part: str) -> bool:
        """A part of the basket was scanned: it is counted while pieces are counted, timed while they are washed."""
        assert self.state is not None
        if part in self.state.parts and self.state.stage is Where.WASHING and self.ended is None:
            self._part_ends()
            if part not in self.washed:
                self.washed.append(part)
            self.under, self.part_began = part, self.booth.now()
            self.booth.say(f"part {len(self.washed)} under the nozzle")
            return True
        if part not in self.state.parts or self.question() is not PIECES:
            return False
        if part not in self.seen:
            self.seen.append(part)
        if len(self.seen) == self.state.quantity == len(self.state.parts):
            self.screen.counts[self.basket] = len(self.seen)
        self.booth.say(f"{len(self.seen)} counted of {self.state.quantity} by the records")
        return True

    @property
    def part_since(self) -> datetime | None:
        """Since when the part under the nozzle is washed."""
        return None if self.part_began is None else self.part_began.at

    def _part_ends(self) -> None:
        """The wash of the part under the nozzle is over, because the next one is scanned or the basket is done."""
        if self.under is None or self.part_began is None:
            return
        name, fact = self.under.rpartition("/")[2], f.PieceTimed(self.basket, Step.WASH, self.under, self.part_began)
        if self._record(f"{name} washed", fact):
            self.under, self.part_began = None, None

    def _record(self, said: str, *facts: f.Fact, when: Moment | None = None) -> bool:
        booth = self.booth
        person = booth.person()
        done = booth.do(lambda: recording.record(booth.work, facts, person, when=when))
        if done:
            booth.say(f"{self.basket}: {said}, {done[0].when.clock()}")
        return bool(done)

    # --- over a power cut -------------------------------------------------------------------------

    def keep(self) -> dict[str, Any]:
        return {
            "basket": self.basket,
            "seen": self.seen,
            "washed": self.washed,
            "under": self.under,
            "part began": _kept(self.part_began),
            "aside": self.aside,
            "menu": self.menu,
            "all the same": self.all_the_same,
            "ended": _kept(self.ended),
        }

    @classmethod
    def of(cls, screen: Line, kept: dict[str, Any]) -> BasketWork:
        """The reverse of :meth:`keep`."""
        found = cls(screen, kept["basket"])
        found.seen, found.aside, found.washed = list(kept["seen"]), list(kept["aside"]), list(kept["washed"])
        found.under, found.part_began = kept.get("under"), _moment(kept.get("part began"))
        found.menu, found.all_the_same = bool(kept.get("menu")), bool(kept.get("all the same"))
        found.ended = _moment(kept.get("ended"))
        return found


def _kept(moment: Moment | None) -> list[Any] | None:
    """A moment as it is kept over a power cut, with its boot clock."""
    if moment is None:
        return None
    return [moment.at.isoformat(), moment.offset_min, *([moment.boot.id, moment.boot.ms] if moment.boot else [])]


def _moment(kept: list[Any] | None) -> Moment | None:
    """The reverse of :func:`_kept`."""
    if not kept:
        return None
    boot = Boot(kept[2], kept[3]) if len(kept) == 4 else None
    return Moment(datetime.fromisoformat(kept[0]), kept[1], boot=boot)
