"""One record at the bench: what is to be done next, shot strip, ticks, demagnetising, residual field."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, ClassVar

from ndi.domain import facts as f
from ndi.domain.errors import InputError
from ndi.domain.procedure import PartMaster, Technique
from ndi.domain.quantity import Number
from ndi.domain.ticks import VIEWED_AFTER_SHOT
from ndi.gui.presenters.booth import residual_points, shots
from ndi.gui.presenters.booth.screen import ENTER, INDICATION, INTERRUPT, UNDO, Screen, number_key
from ndi.gui.presenters.booth.texts import caution_before, is_done_shape
from ndi.gui.presenters.scene import Asked, Form, KeyHint, Part, Row, Rows, Said, Shape, Side, Strip
from ndi.rules.inquiry import Inquiry
from ndi.services import inspecting
from ndi.services.assemble import inquiry_for
from ndi.services.numbering import next_inspection
from ndi.services.ports import InspectionRow, PartRow, Session
from ndi.services.to_do import Kind, Task, tasks
from ndi.services.work_board import part_name, record_in_hand, techniques_for

if TYPE_CHECKING:
    from ndi.gui.presenters.booth.booth import Booth

DEMAGNETISERS = (
    "reversing step-down FWDC in the coil",
    "reversing step-down FWDC between heads",
    "AC coil, part drawn out",
    "AC step-down in the coil",
)
_PAGE = 8


class RecordScreen(Screen):
    """The list of what is to do; ``enter`` does what is next.  Opens a record for a part that has none."""

    name: ClassVar[str] = "record"

    def __init__(self, booth: Booth, inspection: str | None = None, part: str | None = None) -> None:
        super().__init__(booth)
        self.inspection, self.part = inspection, part
        self.row: InspectionRow | None = None
        self.piece: PartRow | None = None
        self.called = ""
        self.q: Inquiry | None = None
        self.master: PartMaster | None = None
        self.tasks: tuple[Task, ...] = ()
        self.choices: list[Technique] = []
        self.typed: list[str] = []  # numbers of the shot or point in hand
        self.typed_for: str | None = None  # the task that they belong to
        self.refused_ticks: set[str] = set()
        self.chosen: str | None = None  # a task that is not the next one
        self.choosing = False
        self.page = 0

    # --- reading ---

    def load(self, session: Session) -> None:
        work = self.booth.work
        if self.inspection is None and self.part is not None:
            self.inspection = record_in_hand(session, self.part)
        if self.inspection is None:
            self.piece = session.part(self.part or "")
            self.called = part_name(work, session, self.piece)
            self.choices = techniques_for(work, session, self.piece)
            return
        self.row = session.inspection(self.inspection)
        self.piece = session.part(self.row.part)
        self.part = self.piece.part
        self.called = part_name(work, session, self.piece)
        self.master = work.master(session, self.piece.part_no)
        self.q = inquiry_for(work, session, self.inspection)
        self.tasks = tasks(self.q)
        self._ask()

    @property
    def task(self) -> Task | None:
        """What is in hand: the one that was chosen, else the first that is not done."""
        if self.chosen is not None:
            for task in self.tasks:
                if task.title == self.chosen:
                    return task
        return next((task for task in self.tasks if not task.done), self.tasks[-1] if self.tasks else None)

    def _ask(self) -> None:
        """Numbers are typed where the task in hand asks for them."""
        task = self.task
        if task is None or not self._fields(task) or self.choosing:
            self.typing, self.typed = None, []
        elif self.typing is None:
            self.typing, self.typed, self.typed_for = "", [], task.title
        elif task.title != self.typed_for:
            if self.typed or self.typing:  # recorded meanwhile: numbers never wander to the next thing
                self.booth.say(f"{self.typed_for}: recorded meanwhile, what was typed is dropped")
            self.typing, self.typed, self.typed_for = "", [], task.title

    def _fields(self, task: Task) -> list[tuple[str, str, str]]:
        """Label, unit and hint of each number of a task."""
        match task.kind:
            case Kind.SHOT:
                assert task.shot is not None
                return shots.fields(task.shot)
            case Kind.RESIDUAL:
                return [(task.point or "", "G", "")]
            case Kind.PLUGS_IN | Kind.PLUGS_OUT:
                return [(task.title, "pcs", "")]
        return []

    # --- showing ---

    def title(self) -> str:
        if self.inspection is None:
            return f"Open a record: {self.called}"
        return f"{self.inspection}  {self.called}"

    def parts(self) -> tuple[Part | Side, ...]:
        if self.inspection is None:
            return self._opening()
        assert self.q is not None
        task = self.task
        left: list[Part] = []
        reading_field = task is not None and task.kind is Kind.RESIDUAL  # the shots are over: room for the outline
        if self.q.technique.shots and not reading_field:
            shown = task.shot.shot if task is not None and task.kind is Kind.SHOT and task.shot else None
            left.append(Strip(shots.strip(self.q, shown)))
        body = Side((self._list(),), tuple(self._in_hand(task)), 0.46)
        return (*left, body)

    def _opening(self) -> tuple[Part | Side, ...]:
        rows = tuple(
            Row(f"{technique.name}  {technique.method}", technique.basis or ", ".join(technique.zones), key=_key(n))
            for n, technique in enumerate(self.choices, 1)
        )
        return (Rows(rows, "Technique", "No technique is adopted for this part number: call the Level III."),)

    def _list(self) -> Rows:
        at = self.tasks.index(self.task) if self.task in self.tasks else 0
        if self.choosing:
            at = self.page * _PAGE + _PAGE // 2
        first = max(0, min(at - _PAGE // 2, len(self.tasks) - _PAGE))
        rows = tuple(
            Row(
                task.title,
                shape=is_done_shape(task.done, task is self.task),
                key=_key(n) if self.choosing else "",
                selected=task is self.task,
            )
            for n, task in enumerate(self.tasks[first : first + _PAGE], 1)
        )
        done = sum(task.done for task in self.tasks)
        if self.choosing:
            return Rows(rows, "Which? 0 turns the page")
        return Rows(rows, f"To do: {done} of {len(self.tasks)} done")

    def _in_hand(self, task: Task | None) -> list[Part]:
        if task is None or self.q is None:
            return []
        found: list[Part] = []
        fields = self._fields(task)
        if fields and self.typing is not None:
            found.append(Form(tuple(self._asked(fields)), task.title))
        if task.kind is Kind.RESIDUAL:
            found.append(residual_points.rows(self.q, self.tasks, task))
        if task.kind is Kind.TICKS:
            found.append(Rows(self._tick_rows(task), task.title))
        elif task.kind is Kind.DEMAGNETISE:
            rows = tuple(
                Row(how, key=_key(n), selected=how == self.booth.hand.demagnetiser)
                for n, how in enumerate(DEMAGNETISERS, 1)
            )
            found.append(Rows(rows, f"{task.title}: how?"))
        elif not fields:
            found.append(Said(self._proposal(task), "Next"))
        caution = caution_before(self.q.procedure, task)
        if caution:
            found.append(Said(caution, "Caution"))
        if task.kind is Kind.RESIDUAL and self.master is not None:
            drawn = residual_points.drawing(self.master, self.tasks, task)
            found += [drawn] if drawn else []
        return found

    def _asked(self, fields: list[tuple[str, str, str]]) -> list[Asked]:
        asked = []
        for n, (label, unit, hint) in enumerate(fields):
            if n < len(self.typed):
                asked.append(Asked(label, self.typed[n], unit, "", current=False))
            else:
                current = n == len(self.typed)
                asked.append(Asked(label, self.typing or "" if current else "", unit, hint, current=current))
        if len(self.typed) == len(fields):
            task = self.task
            if task is not None and task.kind is Kind.SHOT and task.shot is not None:
                asked.append(Asked(f"Enter: {shots.as_technique(task.shot)}", "", current=True))
            else:
                asked.append(Asked("Enter: read away from bench and coil", "", current=True))
        return asked

    def _tick_rows(self, task: Task) -> tuple[Row, ...]:
        return tuple(
            Row(
                tick.item,
                "no" if tick.item in self.refused_ticks else "",
                Shape.CROSS if tick.item in self.refused_ticks else Shape.OPEN,
                _key(n),
            )
            for n, tick in enumerate(task.ticks, 1)
        )

    def _proposal(self, task: Task) -> str:
        match task.kind:
            case Kind.VIEW:
                lamps = " ".join(self.booth.hand.lamps) or "no lamp: scan the lamp first"
                return f"{task.title}  ({lamps})"
            case Kind.BASKET:
                return "Scan the basket, or go to the line"
            case Kind.DECIDE:
                return "All is recorded: to the decision"
        return task.title

    def keys(self) -> tuple[KeyHint, ...]:
        if self.inspection is None:
            return (KeyHint("1-9", "technique"), KeyHint("Enter", "open with 1"), KeyHint(".", "back"))
        task = self.task
        hints = [
            KeyHint("Enter", _verb(task)),
            KeyHint("+", "indication"),
            KeyHint("-", "undo"),
            KeyHint("*", "interrupt"),
        ]
        if task is not None and task.kind is Kind.TICKS:
            hints.insert(1, KeyHint("1-9", "says no"))
        if self.typing is not None:
            hints[2] = KeyHint("-", "delete / undo")
        return (*hints, KeyHint("/", "call"), KeyHint(".", "back" if self.typing is None else "point"))

    # --- keys ---

    def press(self, key: str) -> bool:
        if self.inspection is None:
            return self._open_by(key)
        task = self.task
        booth = self.booth
        if key == INDICATION:
            booth.go(booth.make_screen("indication", booth, inspection=self.inspection))
            return True
        if key == ENTER and self.row is not None and self.row.disposition == "REWORK":
            booth.swap(booth.make_screen("rework", booth, inspection=self.inspection))
            return True
        if key == INTERRUPT:
            booth.go(booth.make_screen("viewing", booth, inspection=self.inspection))
            return booth.screen.press(INTERRUPT)
        if task is None:
            return False
        if key == UNDO and self.typing is not None and self.typed:
            self.typing = self.typed.pop()
            return True
        number = number_key(key)
        if self.choosing and number is not None:
            return self._pick(number)
        if number is not None and self.typing is None:
            return self._choose(task, number)
        if key == ENTER:
            self._do(task)
            return True
        return False

    def _open_by(self, key: str) -> bool:
        number = 1 if key == ENTER else number_key(key)
        if number is None or not 1 <= number <= len(self.choices):
            return False
        booth, technique, piece = self.booth, self.choices[number - 1], self.piece
        assert piece is not None
        with booth.work.book.session(readonly=True) as session:
            name = next_inspection(session, technique.method)
            earlier = [r for r in session.inspections(part=piece.part) if r.disposition == "REWORK"]
        opened = booth.do(
            lambda: inspecting.open_inspection(
                booth.work,
                name,
                piece.part,
                technique.number,
                booth.person(),
                quantity=piece.quantity,
                station=booth.station(),
                reason="rework" if earlier else "first",
                previous=earlier[-1].inspection if earlier else None,
            )
        )
        if opened is not None:
            self.inspection = name
            booth.reload()
            booth.say(f"{name} is open, saved as entry {opened.position}")
        return True

    def _pick(self, number: int) -> bool:
        """Another task than the next one, e.g. a shot that is fired again."""
        if number == 0:
            self.page = (self.page + 1) % -(-len(self.tasks) // _PAGE)
            return True
        first = max(0, min(self.page * _PAGE, len(self.tasks) - _PAGE))
        if first + number > len(self.tasks):
            return False
        self.chosen, self.choosing = self.tasks[first + number - 1].title, False
        self.typing, self.typed = None, []
        self._ask()
        return True

    def _choose(self, task: Task, number: int) -> bool:
        if number == 0:
            self.choosing, self.page = True, 0
            return True
        if task.kind is Kind.TICKS and 1 <= number <= len(task.ticks):
            item = task.ticks[number - 1].item
            self.refused_ticks ^= {item}
            return True
        if task.kind is Kind.DEMAGNETISE and 1 <= number <= len(DEMAGNETISERS):
            self.booth.hand.demagnetiser = DEMAGNETISERS[number - 1]
            self._demagnetise(DEMAGNETISERS[number - 1])
            return True
        return False

    def entered(self, typed: str) -> None:
        task = self.task
        if task is None:
            return
        fields = self._fields(task)
        if len(self.typed) < len(fields):
            _, unit, _ = fields[len(self.typed)]
            Number(typed, unit)  # InputError when it is no number
            self.typed.append(typed)
        if task.kind in (Kind.PLUGS_IN, Kind.PLUGS_OUT) and len(self.typed) == len(fields):
            self._plugs(task)

    def _do(self, task: Task) -> None:
        """Enter: yes to what is proposed."""
        doers: dict[Kind, Callable[[Task], None]] = {
            Kind.TICKS: self._tick,
            Kind.VIEW: self._view,
            Kind.SHOT: self._shot,
            Kind.LOOK: self._look,
            Kind.DEMAGNETISE: self._demagnetise_as_before,
            Kind.EVIDENCE: self._evidence,
            Kind.RESIDUAL: self._residual,
            Kind.BASKET: self._basket,
            Kind.DECIDE: self._decide,
        }
        doer = doers.get(task.kind)
        if doer is not None:
            doer(task)

    def _tick(self, task: Task) -> None:
        said = [
            f.ConfirmationGiven(task.about, tick.item, "no" if tick.item in self.refused_ticks else "yes")
            for tick in task.ticks
        ]
        if self.booth.record(*said):
            self._go_on()

    def _shot(self, task: Task) -> None:
        assert task.shot is not None and self.inspection is not None
        if len(self.typed) < len(self._fields(task)):
            if not self.typed and not self.typing:
                self.typing, self.choosing, self.page = None, True, 0
            raise InputError("type what the meter showed, then Enter; the technique's value is only shown beside it")
        fired = shots.fired(self.inspection, self.bench(), task.shot, self.typed)
        if self.booth.record(fired):
            self._go_on()

    def _go_on(self) -> None:
        """Done and in the book: what is next is in hand."""
        self.typed, self.typing, self.chosen = [], None, None
        self.refused_ticks.clear()
        self._ask()

    def bench(self) -> str:
        """The bench at this place; InputError when there are several and none was scanned."""
        with self.booth.work.book.session(readonly=True) as session:
            return shots.bench_at(session, self.booth.hand.place)

    def _look(self, task: Task) -> None:
        assert task.shot is not None
        if self.booth.record(f.ConfirmationGiven(task.about, VIEWED_AFTER_SHOT.item, str(task.shot.shot))):
            self._go_on()

    def _demagnetise_as_before(self, task: Task) -> None:
        how = self.booth.hand.demagnetiser
        if not how:
            raise InputError("press the number that says how it was demagnetised")
        self._demagnetise(how)

    def _demagnetise(self, how: str) -> None:
        assert self.inspection is not None
        if self.booth.record(f.Demagnetised(self.inspection, how)):
            self._go_on()

    def _residual(self, task: Task) -> None:
        assert task.point is not None and self.inspection is not None
        if not self.typed:
            raise InputError(f"type what the field indicator showed at {task.point}")
        read = f.ResidualRead(self.inspection, task.point, Number(self.typed[0], "G"), self.booth.hand.meter, True)
        if self.booth.record(read):
            self._go_on()

    def _plugs(self, task: Task) -> None:
        assert self.inspection is not None
        count = int(Number(self.typed[0], "pcs").value)
        direction = "in" if task.kind is Kind.PLUGS_IN else "out"
        if self.booth.record(f.PlugsCounted(self.inspection, direction, count)):
            self._go_on()

    def _view(self, task: Task) -> None:
        """Begin the view; at the bench the shots come next, else the zones."""
        booth = self.booth
        begins = not self._is_viewing()
        booth.go(booth.make_screen("viewing", booth, inspection=self.inspection))
        if begins:
            booth.screen.press(ENTER)
            said, refused = booth.message, booth.refused
            if not refused and self.q is not None and self.q.technique.shots:
                booth.back()
                booth.message, booth.refused = said, refused

    def _is_viewing(self) -> bool:
        return self.q is not None and any(view.ended is None for view in self.q.all_views)

    def _basket(self, task: Task) -> None:
        self.booth.go(self.booth.make_screen("line", self.booth))

    def _evidence(self, task: Task) -> None:
        self.chosen = None
        self.booth.go(self.booth.make_screen("evidence", self.booth, indication=task.indication))

    def _decide(self, task: Task) -> None:
        self.booth.go(self.booth.make_screen("decision", self.booth, inspection=self.inspection))

    # --- kept ---

    def keep(self) -> dict[str, Any]:
        return {
            "inspection": self.inspection,
            "part": self.part,
            "typed": self.typed,
            "for": self.typed_for,
            "no": sorted(self.refused_ticks),
            "chosen": self.chosen,
            "choosing": self.choosing,
            "page": self.page,
        }

    def restore(self, kept: dict[str, Any]) -> None:
        self.inspection, self.part = kept.get("inspection"), kept.get("part")
        self.typed, self.refused_ticks = list(kept.get("typed", [])), set(kept.get("no", []))
        self.typed_for = kept.get("for")
        self.chosen, self.choosing, self.page = kept.get("chosen"), bool(kept.get("choosing")), int(kept.get("page", 0))


def _key(number: int) -> str:
    return str(number) if number <= 9 else ""


def _verb(task: Task | None) -> str:
    if task is None:
        return ""
    return {
        Kind.TICKS: "yes to all shown",
        Kind.VIEW: "view",
        Kind.SHOT: "fired so",
        Kind.LOOK: "looked at",
        Kind.DEMAGNETISE: "as before",
        Kind.RESIDUAL: "read",
        Kind.DECIDE: "decide",
        Kind.EVIDENCE: "evidence",
        Kind.BASKET: "line",
    }.get(task.kind, "enter")
