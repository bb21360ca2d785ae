"""Interpretation, then evaluation: two steps, each with what it rests on."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

from ndi.domain import facts as f
from ndi.domain.vocabulary import Interpretation, Method
from ndi.gui.presenters.booth.screen import ENTER, INTERRUPT, UNDO, Screen, number_key
from ndi.gui.presenters.scene import KeyHint, Part, Row, Rows, Said, Shape, Side
from ndi.services import inspecting
from ndi.services.evaluating import Evidence as Found
from ndi.services.evaluating import evidence_of, types_for
from ndi.services.ports import Session

if TYPE_CHECKING:
    from ndi.gui.presenters.booth.booth import Booth

# what is done to an indication, with what may come of it
TESTS: tuple[tuple[str, bool], ...] = (
    ("wiped", False),
    ("demagnetised", False),
    ("re-shot", True),
    ("redeveloped", True),
    ("described", False),
)
OUTCOMES = ("returned", "gone")
NONRELEVANT_TYPES = ("magnetic writing", "geometry", "press fit or thread", "grain flow")
FALSE_TYPES = ("lint", "scale or dirt", "handling mark", "bath run-off")
BASES = {
    Interpretation.RELEVANT: (
        "returned after wipe and second try",
        "sharp, same place each time",
        "seen by two methods",
    ),
    Interpretation.NONRELEVANT: ("gone after demagnetising", "geometry, same at both edges", "broad and fuzzy"),
    Interpretation.FALSE: ("gone after wipe and second try", "lint under the lens", "run-off from an edge"),
}
EVALUATIONS = ("within limit", "over limit", "no limit in data", "not applicable")
_FIRST_CALL = 6  # keys 1 to 5 are the tests; 6, 7, 8 the interpretations


class Evidence(Screen):
    """``1``-``5`` what was done to it; ``6``-``8`` what it is; then its type, the basis, and the limit."""

    name: ClassVar[str] = "evidence"

    def __init__(self, booth: Booth, indication: str | None = None) -> None:
        super().__init__(booth)
        self.indication = indication
        self.found: Found | None = None
        self.stage = "tests"  # tests, outcome, type, basis, evaluation
        self.test: str | None = None
        self.call: Interpretation | None = None
        self.type: str | None = None

    def load(self, session: Session) -> None:
        assert self.indication is not None
        self.found = evidence_of(self.booth.work, session, self.indication)
        if self.stage == "tests" and self.found.indication.interpreted and not self.found.indication.evaluated:
            self.stage = "evaluation"

    # --- showing ---

    def title(self) -> str:
        return f"{self.indication}"

    def parts(self) -> tuple[Part | Side, ...]:
        assert self.found is not None
        return (Side((self._known(),), self._asked(), 0.46),)

    def _known(self) -> Rows:
        assert self.found is not None
        mark = self.found.indication
        seen = mark.seen.fact
        size = " x ".join(str(value) for value in (seen.length, seen.width) if value is not None) or "not measured"
        zone = self.found.inquiry.master.zone(seen.zone) if seen.zone else None
        rows = [
            Row(zone.name if zone else seen.zone or "no zone", seen.piece or ""),
            Row(f"{seen.form or 'form not said'} {seen.orientation or ''}".strip(), size),
        ]
        rows += [Row(r.fact.step, f"{r.fact.outcome or ''} {r.when.clock()}".strip(), Shape.DONE) for r in mark.tests]
        if mark.interpreted is not None:
            call = mark.interpreted.fact
            rows.append(Row(call.interpretation, call.type or "", Shape.DONE))
        if mark.evaluated is not None:
            rows.append(Row(mark.evaluated.fact.evaluation, mark.evaluated.fact.limit or "", Shape.DONE))
        rows.append(Row(f"{len(mark.photos)} photograph(s)", shape=Shape.DONE if mark.photos else Shape.OPEN))
        looked = [look for look in mark.second_looks if look.saved is not None]
        rows.append(
            Row("second look saved" if looked else "no second look", shape=Shape.DONE if looked else Shape.OPEN)
        )
        return Rows(tuple(rows), "Evidence")

    def _asked(self) -> tuple[Part, ...]:
        assert self.found is not None
        match self.stage:
            case "outcome":
                return (Rows(_numbered(OUTCOMES), f"{self.test}: and then?"),)
            case "type":
                return (Rows(_numbered(self._types()), f"{self.call}: what is it?"),)
            case "basis":
                assert self.call is not None
                return (Rows(_numbered(BASES[self.call]), f"{self.call}: it rests on? (or type it)"),)
            case "evaluation":
                word = self.found.word
                said = Said(f"{word or 'cannot be said'}: {self.found.limit}", "What its size says")
                return said, Rows(_numbered(EVALUATIONS, word), "Evaluation: Enter takes what the size says")
        tests = tuple(Row(step, key=str(n)) for n, (step, _) in enumerate(TESTS, 1) if self._applies(step))
        calls = tuple(Row(str(call), key=str(n)) for n, call in enumerate(Interpretation, _FIRST_CALL))
        return Rows(tests, "Done to it"), Rows(calls, "It is")

    def _applies(self, step: str) -> bool:
        assert self.found is not None
        magnetic = self.found.inquiry.method == Method.MT
        return step not in (("redeveloped",) if magnetic else ("demagnetised", "re-shot"))

    def _types(self) -> tuple[str, ...]:
        assert self.found is not None
        if self.call is Interpretation.NONRELEVANT:
            return NONRELEVANT_TYPES
        if self.call is Interpretation.FALSE:
            return FALSE_TYPES
        return types_for(self.found.inquiry.master, self.found.indication.seen.fact.zone)[:9]

    def keys(self) -> tuple[KeyHint, ...]:
        if self.stage == "tests":
            return (
                KeyHint("1-8", "choose"),
                KeyHint("+", "photograph"),
                KeyHint("*", "what others saw"),
                KeyHint("-", "undo"),
                KeyHint(".", "back"),
            )
        if self.stage == "evaluation":
            return (KeyHint("Enter", "as its size says"), KeyHint("1-4", "another"), KeyHint(".", "back"))
        return (KeyHint("1-9", "choose"), KeyHint("-", "one back"))

    # --- keys ---

    def press(self, key: str) -> bool:
        number = number_key(key)
        if key == UNDO and self.stage in ("outcome", "type", "basis"):
            self.stage = {"basis": "type"}.get(self.stage, "tests")
            return True
        if key in ("+", INTERRUPT) and self.found is not None:
            booth, stage = self.booth, "zone" if key == INTERRUPT else "files"
            about = {"inspection": self.found.inquiry.inspection, "indication": self.indication, "stage": stage}
            booth.go(booth.make_screen("photograph", booth, **about))
            return True
        if self.stage == "evaluation" and key == ENTER:
            assert self.found is not None
            if self.found.word is None:
                self.booth.refuse(f"{self.found.limit}: choose by number, or measure it")
            else:
                self._evaluate(self.found.word)
            return True
        if number is None:
            return False
        return self._choose(number)

    def _choose(self, number: int) -> bool:
        match self.stage:
            case "outcome":
                return self._picked(OUTCOMES, number, self._test_done)
            case "type":
                return self._picked(self._types(), number, self._typed)
            case "basis":
                assert self.call is not None
                return self._picked(BASES[self.call], number, self._interpret)
            case "evaluation":
                return self._picked(EVALUATIONS, number, self._evaluate)
        if 1 <= number <= len(TESTS):
            return self._test(*TESTS[number - 1])
        calls = list(Interpretation)
        if _FIRST_CALL <= number < _FIRST_CALL + len(calls):
            self.call, self.stage = calls[number - _FIRST_CALL], "type"
            return True
        return False

    @staticmethod
    def _picked(words: tuple[str, ...], number: int, act: Any) -> bool:
        if not 1 <= number <= len(words):
            return False
        act(words[number - 1])
        return True

    def _test(self, step: str, has_outcome: bool) -> bool:
        if not self._applies(step):
            return False
        if has_outcome:
            self.test, self.stage = step, "outcome"
        else:
            self._record_test(step, None)
        return True

    def _test_done(self, outcome: str) -> None:
        assert self.test is not None
        self._record_test(self.test, outcome)
        self.stage = "tests"

    def _record_test(self, step: str, outcome: str | None) -> None:
        assert self.indication is not None
        self.booth.record(f.IndicationTested(self.indication, step, outcome))

    def _typed(self, type_: str) -> None:
        self.type, self.stage = type_, "basis"

    def text(self, text: str) -> bool:
        if self.stage != "basis" or ":" in text.split(" ")[0]:
            return False
        self._interpret(text)
        return True

    def _interpret(self, basis: str) -> None:
        booth = self.booth
        assert self.indication is not None and self.call is not None
        call = f.IndicationInterpreted(self.indication, str(self.call), basis, self.type)
        person = booth.person()
        made = booth.do(lambda: inspecting.interpret(booth.work, call, person))
        self.stage = "tests" if made is None else "evaluation"
        if made is not None:
            booth.say(f"{self.call}, saved as entry {made.position}")

    def _evaluate(self, word: str) -> None:
        assert self.indication is not None and self.found is not None
        relevant = self.found.indication.relevant
        limit = self.found.limit if relevant else None
        if self.booth.record(f.IndicationEvaluated(self.indication, word, limit)):
            self.stage = "done"

    # --- kept ---

    def keep(self) -> dict[str, Any]:
        call = str(self.call) if self.call else None
        return {"indication": self.indication, "stage": self.stage, "test": self.test, "call": call, "type": self.type}

    def restore(self, kept: dict[str, Any]) -> None:
        self.indication, self.stage = kept["indication"], kept["stage"]
        self.test, self.type = kept.get("test"), kept.get("type")
        self.call = Interpretation(kept["call"]) if kept.get("call") else None


def _numbered(words: tuple[str, ...], selected: str | None = None) -> tuple[Row, ...]:
    return tuple(Row(word, key=str(n), selected=word == selected) for n, word in enumerate(words, 1))
