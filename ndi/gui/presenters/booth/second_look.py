"""A second look: what waits for one, then one's own result; the first is shown only when that is saved."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

from ndi.domain import facts as f
from ndi.domain.quantity import Number
from ndi.domain.vocabulary import Interpretation, ViewKind
from ndi.gui.presenters.booth.indication import FORMS, NOT_MEASURED
from ndi.gui.presenters.booth.screen import ENTER, NOTHING, UNDO, Screen, number_key
from ndi.gui.presenters.scene import Asked, Form, KeyHint, Part, Row, Rows, Said, Shape, Side
from ndi.services import covers, inspecting
from ndi.services.numbering import next_second_look
from ndi.services.ports import Session
from ndi.services.proof import Meaning, Proof
from ndi.services.second_looks_due import Due, both_results, due

if TYPE_CHECKING:
    from ndi.gui.presenters.booth.booth import Booth

CALLS = tuple(str(call) for call in Interpretation)


class SecondLookScreen(Screen):
    """Choose by number, ``enter`` begins the look, ``0`` nothing seen, else form, length, interpretation; signed."""

    name: ClassVar[str] = "second look"

    def __init__(self, booth: Booth) -> None:
        super().__init__(booth)
        self.due: tuple[Due, ...] = ()
        self.chosen: Due | None = None
        self.look: str | None = None
        self.stage = "list"  # list, look, form, length, call, ready, shown
        self.form: str | None = None
        self.length: str | None = None
        self.call: str | None = None
        self.none_seen = False
        self.results: tuple[str, str, str] | None = None

    def load(self, session: Session) -> None:
        person = self.booth.hand.person
        self.due = due(self.booth.work, session, person) if person else ()
        if self.stage == "shown" and self.look is not None:
            self.results = both_results(self.booth.work, session, self.look)

    # --- showing ---

    def title(self) -> str:
        return "Second looks" if self.chosen is None else f"Second look at {self.chosen.inspection}"

    def parts(self) -> tuple[Part | Side, ...]:
        if self.chosen is None:
            rows = tuple(
                Row(f"{each.inspection}  {each.part}", each.where, Shape.RUNNING if each.look else Shape.OPEN, str(n))
                for n, each in enumerate(self.due[:9], 1)
            )
            who = self.booth.hand.person
            empty = (
                "Nothing waits for your second look."
                if who
                else "Scan your badge: what you viewed yourself is not shown."
            )
            return (Rows(rows, "Waiting for a second look by somebody else than its viewer", empty),)
        where = Said(f"{self.chosen.part}: {self.chosen.where}", "Look here. What the first person found is not shown")
        return (where, *self._asked())

    def _asked(self) -> tuple[Part, ...]:
        match self.stage:
            case "look":
                lamps = " ".join(self.booth.hand.lamps) or "no lamp: scan the lamp first"
                return (Said(f"Enter begins the look under {lamps}", "Next"),)
            case "form":
                rows = tuple(Row(word, key=str(n)) for n, word in enumerate(FORMS, 1))
                return (Rows((Row("nothing seen", key=NOTHING), *rows), "What do you see?"),)
            case "length":
                return (Form((Asked("Length", self.typing or "", "in", "0 = not measured"),), self.form or ""),)
            case "call":
                return (Rows(tuple(Row(word, key=str(n)) for n, word in enumerate(CALLS, 1)), "It is"),)
            case "shown" if self.results is not None:
                first, mine, says = self.results
                rows = (Row("first look", first), Row("your look", mine))
                return Rows(rows, "Both results"), Said(says, "Do they agree?")
        return (Said(self._own(), "Your result. Enter signs and saves it, - changes it"),)

    def _own(self) -> str:
        if self.none_seen:
            return "nothing seen"
        size = f"{self.length} in" if self.length and self.length != NOT_MEASURED else "not measured"
        return f"{self.call}, {self.form}, {size}"

    def keys(self) -> tuple[KeyHint, ...]:
        if self.stage in ("list", "call"):
            return (KeyHint("1-9", "choose"), KeyHint(".", "back"))
        if self.stage == "form":
            return (KeyHint("0", "nothing seen"), KeyHint("1-6", "form"), KeyHint("-", "one back"))
        return (KeyHint("Enter", "next"), KeyHint("-", "one back"))

    # --- keys ---

    def press(self, key: str) -> bool:
        number = number_key(key)
        if key == UNDO and self.stage in ("form", "length", "call", "ready"):
            self._to({"length": "form", "call": "length", "ready": "form"}.get(self.stage, "form"))
            return True
        match self.stage:
            case "list" if number is not None and 1 <= number <= len(self.due[:9]):
                self._choose(self.due[number - 1])
            case "look" if key == ENTER:
                self._begin()
            case "form" if key == NOTHING:
                self.none_seen = True
                self._to("ready")
            case "form" if number is not None and 1 <= number <= len(FORMS):
                self.none_seen, self.form = False, FORMS[number - 1]
                self._to("length")
            case "call" if number is not None and 1 <= number <= len(CALLS):
                self.call = CALLS[number - 1]
                self._to("ready")
            case "ready" if key == ENTER:
                self._sign()
            case "shown" if key == ENTER:
                self.booth.home()
            case _:
                return False
        return True

    def entered(self, typed: str) -> None:
        Number(typed, "in")
        self.length = typed
        self._to("call")

    def _to(self, stage: str) -> None:
        self.stage = stage
        self.typing = "" if stage == "length" else None

    def _choose(self, chosen: Due) -> None:
        self.chosen, self.look = chosen, chosen.look
        self._to("form" if chosen.look else "look")

    def _begin(self) -> None:
        booth, chosen = self.booth, self.chosen
        assert chosen is not None
        if not booth.hand.lamps:
            booth.refuse("no lamp in use: scan the lamp that is on the part")
            return
        person = booth.person()
        with booth.work.book.session(readonly=True) as session:
            name = next_second_look(session, chosen.inspection)
        begun = booth.do(
            lambda: inspecting.start_view(
                booth.work,
                name,
                chosen.inspection,
                person,
                booth.hand.lamps,
                kind=ViewKind.SECOND_LOOK,
                station=booth.station(),
                indication=chosen.indication,
            )
        )
        if begun is not None:
            self.look = name
            self._to("form")

    def _sign(self) -> None:
        booth, chosen = self.booth, self.chosen
        assert chosen is not None and self.look is not None
        length = None if self.none_seen or self.length in (None, NOT_MEASURED) else Number(str(self.length), "in")
        saved = f.SecondLookSaved(
            self.look,
            chosen.inspection,
            booth.person(),
            chosen.indication,
            None if self.none_seen else self.call,
            None if self.none_seen else self.form,
            length,
            True if self.none_seen else None,
        )
        if not self._ended(chosen):
            return

        def sign(proof: Proof | None) -> object:
            return inspecting.save_second_look(booth.work, saved, proof=proof)

        booth.go(
            booth.make_screen(
                "signing",
                booth,
                title=f"Save second look at {chosen.inspection}",
                meaning=Meaning.SECOND_LOOK,
                covers=covers.second_look(saved),
                sign=sign,
                then=self._shown,
            )
        )

    def _ended(self, chosen: Due) -> bool:
        """The look ends before its result is signed; ended once."""
        booth = self.booth
        assert self.look is not None
        with booth.work.book.session(readonly=True) as session:
            if session.facts(self.look, (f.ViewEnded,)):
                return True
            seen = session.facts(chosen.indication, (f.IndicationSeen,)) if chosen.indication else []
        zones = [r.fact.zone for r in seen if isinstance(r.fact, f.IndicationSeen) and r.fact.zone]
        look = self.look
        return booth.do(lambda: inspecting.end_view(booth.work, look, zones=zones)) is not None

    def _shown(self) -> None:
        self._to("shown")
        self.booth.reload()

    # --- kept ---

    def keep(self) -> dict[str, Any]:
        chosen = self.chosen
        return {
            "chosen": [chosen.inspection, chosen.indication, chosen.part, chosen.where, chosen.look]
            if chosen
            else None,
            "look": self.look,
            "stage": self.stage,
            "form": self.form,
            "length": self.length,
            "call": self.call,
            "none": self.none_seen,
        }

    def restore(self, kept: dict[str, Any]) -> None:
        self.chosen = Due(*kept["chosen"]) if kept.get("chosen") else None
        self.look, self.stage = kept.get("look"), kept["stage"]
        self.form, self.length, self.call = kept.get("form"), kept.get("length"), kept.get("call")
        self.none_seen = bool(kept.get("none"))
