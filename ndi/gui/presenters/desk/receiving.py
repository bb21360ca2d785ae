"""Receiving: open a work order, bring in the part list, identify and count each piece, look at it before cleaning."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from ndi.domain import facts as f
from ndi.domain.errors import DayFileError, InputError
from ndi.domain.scan_codes import ScanKind, parse_scan
from ndi.domain.ticks import PRE_CLEAN_VISUAL
from ndi.gui.presenters.desk import marks
from ndi.gui.presenters.desk.acts import Act, Field, Form
from ndi.gui.presenters.desk.listing import Column, Listing, Row
from ndi.gui.presenters.desk.recording_forms import NOBODY, RecordingForms
from ndi.services import look_alikes, receiving, recording
from ndi.services.lookup import about, every
from ndi.services.ports import PartRow, Session
from ndi.services.proof import Meaning, Proof
from ndi.services.workplace import Workplace
from ndi.shop_files import bringing
from ndi.shop_files.kinds import KINDS
from ndi.shop_files.reading import TableErrors

RECEIVING_TABLE = "receiving"
_PARTS = (
    Column("Part number", 11),
    Column("Serial or lot", 15, stretch=True),
    Column("Listed", 7, right=True),
    Column("On the floor", 24, stretch=True),
    Column("Before cleaning", 22),
)
_ERRORS = (Column("Line", 6, right=True), Column("Column", 16), Column("What is wrong", 60, stretch=True))


@dataclass(frozen=True)
class TableCheck:
    """A part list as it was read: what is wrong with it, or an act that brings it in whole."""

    said: str
    errors: Listing
    act: Act | None


@dataclass(frozen=True)
class Floor:
    """The lines of a work order and how far they are."""

    work_order: str
    said: str
    parts: Listing


@dataclass(frozen=True)
class Guard:
    """The serial guard's answer to what was typed; ``part`` is the piece that is meant, if it is one."""

    mark: marks.Mark
    lines: tuple[str, ...]
    part: str
    quantity: int
    looks_like: str = ""


class Receiving:
    """What the receiving clerk does, in the order in which it is done."""

    def __init__(self, work: Workplace, person: Callable[[], str], forms: RecordingForms) -> None:
        self._work, self._person, self._forms = work, person, forms

    def work_orders(self) -> tuple[str, ...]:
        """The latest first."""
        with self._work.book.session(readonly=True) as session:
            orders = sorted(every(session, f.WorkOrderOpened), key=lambda r: r.position, reverse=True)
            return tuple(r.fact.work_order for r in orders)

    def order_form(self) -> Form:
        """Open a work order."""
        form = self._forms.form("work-order", "Open a work order")

        def act(values: Mapping[str, str]) -> Act:
            if values["work_order"] in self.work_orders():
                raise InputError(
                    f"work order {values['work_order']} is open already: its part list is brought in below"
                )
            return form.act(values)

        return Form(form.title, form.fields, act, form.lines, form.button)

    def directives_form(self, work_order: str) -> Form:
        """The list of directives and bulletins of an engine was drawn up; it may be empty."""
        return self._forms.form(
            "directives",
            "Directives and bulletins",
            {"work_order": work_order},
            lines=("An empty list says that there are none.",),
        )

    # --- the part list ------------------------------------------------------------------------------

    def columns_text(self) -> str:
        """How a part list begins."""
        return ",".join(KINDS[RECEIVING_TABLE].columns)

    def check(self, path: str) -> TableCheck:
        """Read a part list whole: every error by line and column, or the act that brings it in."""
        person = self._person()
        try:
            tables = bringing.read(self._work, [Path(path).expanduser()], RECEIVING_TABLE)
        except TableErrors as wrong:
            rows = tuple(_error_row(error) for error in wrong.errors)
            return TableCheck(
                f"{len(rows)} wrong: nothing is brought in until all of it is right", Listing(_ERRORS, rows), None
            )
        if not person:
            raise InputError(NOBODY)
        count = sum(len(table.facts) for table in tables)
        covers = bringing.covers(self._work, tables, person)

        def make(proof: Proof | None) -> str:
            bringing.bring(self._work, tables, by=person, proof=proof)
            return f"{_lines(count)} brought in from {Path(path).name}"

        act = Act(f"Bring in {_lines(count)}", person, make, Meaning.PERFORMED, covers)
        return TableCheck(f"Nothing wrong: {_lines(count)} can be brought in", Listing(_ERRORS, (), "No error."), act)

    # --- on the floor -------------------------------------------------------------------------------

    def floor(self, work_order: str) -> Floor:
        """Every line of the list: identified, counted, looked at."""
        with self._work.book.session(readonly=True) as session:
            parts = session.parts(work_order)
            rows = tuple(self._row(session, part) for part in parts)
            here = sum(1 for part in parts if about(session, f.PartReceived, part.part))
        return Floor(
            work_order,
            f"{here} of {len(parts)} lines identified on the floor",
            Listing(_PARTS, rows, "No part list yet: bring one in (above)."),
        )

    def _row(self, session: Session, part: PartRow) -> Row:
        received = about(session, f.PartReceived, part.part)
        if received:
            fact = received[-1].fact
            how = "scanned" if fact.scanned else "typed twice" if fact.typed_twice else "how not recorded"
            floor = marks.Mark(
                marks.SETTLED if fact.quantity == part.quantity else marks.FAILED, f"{fact.quantity} counted, {how}"
            )
        else:
            floor = marks.Mark(marks.OPEN, "not identified yet")
        ticks = [r.fact for r in about(session, f.ConfirmationGiven, part.part) if r.fact.item == PRE_CLEAN_VISUAL.item]
        seen = marks.yes_no(ticks[-1].value == "yes" if ticks else None, "looked at", "not looked at")
        cells = (part.part_no, part.serial or part.lot or "", str(part.quantity), str(floor), str(seen))
        return Row(cells, part.part, act=not received)

    def guard(self, work_order: str, first: str, second: str | None) -> Guard:
        """What the serial guard says; ``second`` None: it was scanned, which is once enough."""
        if second is not None and first != second:
            return Guard(
                marks.Mark(marks.FAILED, "the two are not the same"),
                (f"first {first!r}, then {second!r}: read the part again",),
                "",
                0,
            )
        name = _scanned_part(first)
        with self._work.book.session(readonly=True) as session:
            rows = session.parts(work_order)
            exact = [row for row in rows if name in (row.serial, row.lot, row.part)]
            answer = receiving.serial_answer(
                session, work_order, exact[0].serial or name if exact and exact[0].serial else name
            )
            likes = look_alikes.look_alikes(self._work, session, exact[0]) if exact else ()
        if exact:
            row = exact[0]
            warned = look_alikes.warning(row, likes) if likes else ""
            item = f"serial {row.serial}" if row.serial else f"lot {row.lot}"
            return Guard(
                marks.Mark(marks.SETTLED, f"{row.part_no}, {item}"),
                (f"listed: {row.quantity}", *([warned] if warned else [])),
                row.part,
                row.quantity,
                warned,
            )
        lines = (answer.says, *answer.ways_out)
        return Guard(marks.of_verdict(answer.verdict), tuple(line for line in lines if line), "", 0)

    def floor_form(self, guard: Guard, *, typed_twice: bool) -> Form:
        """Count the piece or lot, say whether it was looked at before cleaning."""
        fields: tuple[Field, ...] = (
            Field("quantity", "Pieces counted", "", "count them; the list is not the count", needed=True),
            Field(
                "visual",
                "Looked at before cleaning",
                "",
                "cracks, arc burns, old marks, before anything is washed away",
                ("yes", "no", "not yet"),
                free=False,
                needed=True,
            ),
        )
        if guard.looks_like:
            hint = "look at the part, not at its tag: cast number, bore, oil hole ..."
            fields += (Field("told_apart", "Told from its look-alike by", "", hint, needed=True),)

        def act(values: Mapping[str, str]) -> Act:
            count, told_apart = values["quantity"], values.get("told_apart", "").strip()
            if guard.looks_like and not told_apart:
                raise InputError(f"{guard.looks_like}: say by which feature it was told apart")
            if not (count.isascii() and count.isdigit() and int(count) > 0):
                raise InputError(f"{count!r} pieces: count them and type the number")
            if values["visual"] not in ("yes", "no", "not yet"):
                raise InputError("say whether it was looked at before cleaning: yes, no, or not yet")
            person = self._person()
            if not person:
                raise InputError(NOBODY)
            differs = int(count) != guard.quantity
            notes = (f"The list says {guard.quantity}, you counted {count}.",) if differs else ()
            return Act(
                f"Receive {guard.part}",
                person,
                lambda _proof: self._receive(guard.part, int(count), values["visual"], person, typed_twice, told_apart),
                notes=notes,
            )

        return Form(f"Receive {guard.mark.word}", fields, act, button="Save")

    def _receive(self, part: str, count: int, visual: str, person: str, typed_twice: bool, told_apart: str = "") -> str:
        work = self._work
        with work.together():
            receiving.receive(
                work,
                part,
                person,
                quantity=count,
                typed_twice=typed_twice or None,
                scanned=None if typed_twice else True,
                told_apart=told_apart or None,
            )
            if visual in ("yes", "no"):
                recording.record(work, [f.ConfirmationGiven(part, PRE_CLEAN_VISUAL.item, visual)], person)
        return f"{part}: {count} received; pre-clean visual {visual}"

    def visual_form(self, part: str) -> Form:
        """The look before cleaning, for a piece that was received without it."""
        return self._forms.form(
            "confirm",
            f"Before cleaning: {part}",
            {"about": part, "item": PRE_CLEAN_VISUAL.item},
            only=("value",),
            choices={"value": ("yes", "no")},
        )


def _lines(count: int) -> str:
    return "1 line" if count == 1 else f"{count} lines"


def _error_row(error: DayFileError) -> Row:
    return Row((str(error.line or ""), error.column or "", error.problem), act=True)


def _scanned_part(text: str) -> str:
    """The key of a part from its code, or the text as it is."""
    try:
        scanned = parse_scan(text)
    except InputError:
        return text.strip()
    return scanned.name if scanned.kind is ScanKind.PART else text.strip()
