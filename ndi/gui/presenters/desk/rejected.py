"""Rejected pieces: what their owner wants, what became of them, the scrap register."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from ndi.domain import dispositions as d
from ndi.domain import facts as f
from ndi.domain.errors import InputError
from ndi.gui.presenters.desk import marks
from ndi.gui.presenters.desk.acts import Act, Field, Form, needed, signed_by_two
from ndi.gui.presenters.desk.listing import Column, Listing, Row
from ndi.services import covers, recording, rejected, scrapping
from ndi.services.assemble import decision_in_force
from ndi.services.lookup import about, every
from ndi.services.paper_text import on_paper
from ndi.services.ports import InspectionRow, Session
from ndi.services.proof import Meaning, Proof
from ndi.services.rejected_pieces import owner_answer, piece_state, rejection_undone
from ndi.services.workplace import Workplace

_PIECES = (
    Column("Record", 9),
    Column("Part", 26, stretch=True),
    Column("Piece", 10),
    Column("Stands", 24, stretch=True),
    Column("Owner's answer", 26, stretch=True),
    Column("To do", 34, stretch=True),
    Column("Place", 12),
)
_REGISTER = (
    Column("Scrapped", 17),
    Column("Part number", 12),
    Column("Serial or piece", 16, stretch=True),
    Column("By", 8),
    Column("Witness", 8),
    Column("How", 20, stretch=True),
    Column("Photograph", 14),
)
NOBODY = "choose who stands at the desk first (above, at the right)"
YES = "yes"
_TO_DO = {None: "ask the owner", d.OWNER_SCRAP: "scrap before a witness", d.OWNER_RETURN: "mark, wire the tag, return"}


class Rejected:
    """Every piece that a signature rejects, and the scrap register."""

    def __init__(self, work: Workplace, person: Callable[[], str]) -> None:
        self._work, self._person = work, person

    # --- looking ------------------------------------------------------------------------------------

    def listing(self) -> Listing:
        """Pieces that something is to be done with first."""
        with self._work.book.session(readonly=True) as session:
            rows = [row for record in session.inspections() for row in self._rows(session, record)]
        rows.sort(key=lambda row: not row.act)
        return Listing(_PIECES, tuple(rows), "No piece is rejected.")

    def _rows(self, session: Session, record: InspectionRow) -> Iterator[Row]:
        signed = decision_in_force(session, record.inspection) or rejection_undone(session, record)
        if signed is None:
            return
        part = session.part(record.part)
        for child in signed.fact.children:
            if child.disposition != d.REJECT:
                continue
            state = piece_state(session, record.part, child.piece) if record.decision else d.REJECT_CORRECTED
            answer = owner_answer(session, record.part, child.piece)
            said = f"{answer.answer}: {answer.reference}" if answer else "none yet"
            is_open = state not in d.FINAL
            todo = _TO_DO.get(answer.answer if answer else None, "") if is_open else ""
            if state == d.REJECT_CORRECTED:
                todo = "sign REJECT again, or take it back"
            mark = marks.Mark(marks.FAILED if is_open else marks.SETTLED, state)
            many = f" ({child.quantity} pcs)" if child.quantity > 1 else ""
            cells = (
                record.inspection,
                f"{part.part_no}  {part.serial or part.lot or ''}{many}",
                child.piece or "",
                str(mark),
                on_paper(said),
                todo,
                _place(session, record.part, child.piece) or part.place or "not scanned",
            )
            yield Row(cells, f"{record.inspection}|{child.piece or ''}", act=is_open)

    def register(self) -> Listing:
        """The scrap register, the latest first; nothing leaves it."""
        with self._work.book.session(readonly=True) as session:
            found = sorted(every(session, f.PartScrapped), key=lambda r: r.position, reverse=True)
        rows = tuple(
            Row(
                (
                    str(r.when)[:16],
                    r.fact.part_no,
                    r.fact.piece or r.fact.serial or "",
                    r.fact.person,
                    r.fact.witness or "",
                    r.fact.how or "",
                    (r.fact.photo or "")[:12],
                ),
                str(r.position),
            )
            for r in found
        )
        return Listing(_REGISTER, rows, "Nothing was scrapped.")

    # --- doing --------------------------------------------------------------------------------------

    def _by(self) -> str:
        if not self._person():
            raise InputError(NOBODY)
        return self._person()

    def _piece(self, key: str) -> tuple[str, str, str | None]:
        """Record, part and piece of a line."""
        record, _, piece = key.partition("|")
        if not record:
            raise InputError("put the bar on a rejected piece")
        with self._work.book.session(readonly=True) as session:
            return record, session.inspection(record).part, piece or None

    def _of_quality(self) -> tuple[str, ...]:
        with self._work.book.session(readonly=True) as session:
            found = [r.fact for r in every(session, f.PersonEntered) if "quality" in r.fact.roles]
        return tuple(dict.fromkeys(p.person for p in found))

    def owner_form(self, key: str) -> Form:
        """What the owner answered: scrap it, or send it back."""
        _, part, piece = self._piece(key)
        fields = (
            Field("answer", "Answer", "", choices=(d.OWNER_SCRAP, d.OWNER_RETURN), free=False, needed=True),
            Field("reference", "Letter or message", needed=True),
        )

        def act(values: Mapping[str, str]) -> Act:
            needed(values, fields)
            by, answer = self._by(), values["answer"]
            if answer not in (d.OWNER_SCRAP, d.OWNER_RETURN):
                raise InputError(f"{answer!r} is no answer: choose {d.OWNER_SCRAP} or {d.OWNER_RETURN}")

            def make(_proof: object) -> str:
                recording.record(self._work, [f.OwnerAnswered(part, answer, values["reference"], piece)], by)
                return f"{piece or part}: the owner answered {answer}, {values['reference']}"

            return Act(
                f"Answer of the owner for {piece or part}", by, make, notes=(f"{answer}: {values['reference']}",)
            )

        return Form(f"What the owner wants done with {piece or part}", fields, act)

    def scrap_form(self, key: str) -> Form:
        """Made unusable before a witness; quality and the witness sign."""
        _, part, piece = self._piece(key)
        quality, by = self._of_quality(), self._person()
        fields = (
            Field("person", "Of quality", by if by in quality else "", choices=quality, needed=True),
            Field("witness", "Witness", needed=True, hint="who saw it"),
            Field("defaced", "Made unusable", "", "number struck out, piece cut or crushed", (YES, "no"), False, True),
            Field("how", "How", hint="cut, crushed ..."),
            Field("photo", "Photograph", needed=True, hint="SHA-256 of the picture that shows it"),
        )

        def act(values: Mapping[str, str]) -> Act:
            needed(values, fields)
            who, witness = values["person"], values["witness"]
            with self._work.book.session(readonly=True) as session:
                shown = covers.scrap(part, session.part(part).serial, piece)

            def make(proof: Proof | None, other: Proof | None) -> str:
                scrapping.scrap_part(
                    self._work,
                    part,
                    who,
                    witness,
                    photo=values["photo"],
                    defaced=values["defaced"] == YES,
                    how=values.get("how") or None,
                    piece=piece,
                    proof=proof,
                    witness_proof=other,
                )
                return f"{piece or part} stands in the scrap register, by {who} before {witness}"

            first, second = (who, Meaning.PERFORMED), (witness, Meaning.VERIFIED)
            return signed_by_two(f"Scrap {piece or part}", first, second, make, shown, ("Scrap is final.",))

        cautions = ("Cutting and crushing: eye, hand and fire protection as the shop's own rules say.",)
        return Form(f"Scrap {piece or part}", fields, act, cautions)

    def return_form(self, key: str) -> Form:
        """Back to its owner, marked, with the tag wired on; signed by quality."""
        _, part, piece = self._piece(key)
        fields = (Field("marked", "Marked, tag wired on", "", "", (YES, "no"), False, True),)

        def act(values: Mapping[str, str]) -> Act:
            needed(values, fields)
            by = self._by()

            def make(proof: Proof | None) -> str:
                rejected.return_unserviceable(
                    self._work, part, by, marked=values["marked"] == YES, piece=piece, proof=proof
                )
                return f"{piece or part} goes back: print its tag (record, Ctrl+T)"

            shown = rejected.return_covers(part, piece)
            return Act(f"Return {piece or part}", by, make, Meaning.PERFORMED, shown, ("A return is final.",))

        return Form(f"Return {piece or part} to its owner", fields, act)

    def reopen_form(self, key: str) -> Form:
        """A rejection by mistake is taken back by a Level III and quality, neither of whom signed it."""
        record, _, _ = self._piece(key)
        fields = (
            Field("level_three", "Level III", needed=True),
            Field("quality", "Of quality", "", choices=self._of_quality(), needed=True),
            Field("reason", "Reason", needed=True, hint="mistaken identity, or mistaken measurement"),
            Field("evidence", "Evidence", needed=True),
        )

        def act(values: Mapping[str, str]) -> Act:
            needed(values, fields)
            first, second = values["level_three"], values["quality"]
            shown = rejected.reopen_covers(record, values["reason"], values["evidence"])

            def make(proof: Proof | None, other: Proof | None) -> str:
                rejected.reopen(
                    self._work,
                    record,
                    first,
                    second,
                    reason=values["reason"],
                    evidence=values["evidence"],
                    proof=proof,
                    quality_proof=other,
                )
                return f"{record}: the rejection is taken back by {first} and {second}; it is decided anew"

            return signed_by_two(
                f"Take the rejection of {record} back",
                (first, Meaning.APPROVED),
                (second, Meaning.VERIFIED),
                make,
                shown,
            )

        return Form(f"The rejection of {record} was a mistake", fields, act)


def _place(session: Session, part: str, piece: str | None) -> str | None:
    """Where the marked piece of a lot was scanned last; None for one that has no mark of its own."""
    moved = [r.fact.place for r in about(session, f.PartMoved, part) if piece is not None and r.fact.piece == piece]
    return moved[-1] if moved else None
