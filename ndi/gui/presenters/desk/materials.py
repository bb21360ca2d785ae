"""Materials: batches with their days, and what each line or bench draws on now."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from ndi.domain import facts as f
from ndi.gui.presenters.desk import marks
from ndi.gui.presenters.desk.acts import Form
from ndi.gui.presenters.desk.listing import Column, Labelled, Listing, Row
from ndi.gui.presenters.desk.recording_forms import RecordingForms
from ndi.services.lookup import about, every
from ndi.services.paper_text import value_text
from ndi.services.workplace import Workplace

_BATCHES = (
    Column("Batch", 13),
    Column("Material", 11),
    Column("What it is", 30, stretch=True),
    Column("Expires", 12),
    Column("Stands", 24, stretch=True),
    Column("In use on", 20, stretch=True),
)
_TANKS = (Column("Line or bench", 16), Column("Draws on", 40, stretch=True), Column("Since", 17), Column("By", 8))


@dataclass(frozen=True)
class BatchView:
    """One batch."""

    batch: str
    lines: tuple[Labelled, ...]
    readings: Listing
    entry: str  # of the batch itself


class Materials:
    """Batches and tanks."""

    def __init__(self, work: Workplace, person: Callable[[], str], forms: RecordingForms) -> None:
        self._work, self._person, self._forms = work, person, forms

    def batches(self) -> Listing:
        """Every batch, those in use first."""
        today = self._work.now().local.date()
        with self._work.book.session(readonly=True) as session:
            tanks = {r.fact.line: r.fact.batches for r in every(session, f.TankFilled)}
            entered = {r.fact.batch: r.fact for r in every(session, f.BatchEntered)}
        rows = []
        for batch in entered.values():
            lines = [line for line, batches in tanks.items() if batch.batch in batches]
            stands = (
                marks.Mark(marks.FAILED, "expired") if batch.expires < today else marks.Mark(marks.SETTLED, "in date")
            )
            cells = (
                batch.batch,
                batch.material,
                _what(batch),
                str(batch.expires),
                str(stands),
                ", ".join(lines) or "no line",
            )
            rows.append(Row(cells, batch.batch, act=batch.expires < today and bool(lines)))
        rows.sort(key=lambda row: (row.cells[5] == "no line", row.cells[1], row.key))
        return Listing(_BATCHES, tuple(rows), "No batch was entered: bring in batches.csv, or enter one here.")

    def tanks(self) -> Listing:
        """What each line and bench draws on now."""
        with self._work.book.session(readonly=True) as session:
            latest = {r.fact.line: r for r in every(session, f.TankFilled)}
        rows = [
            Row((r.fact.line, " + ".join(r.fact.batches), str(r.when)[:16], r.by), r.fact.line) for r in latest.values()
        ]
        return Listing(_TANKS, tuple(rows), "No tank was filled yet.")

    def batch(self, name: str) -> BatchView:
        """One batch with its readings and checks."""
        with self._work.book.session(readonly=True) as session:
            entered = about(session, f.BatchEntered, name)[-1]
            batch = entered.fact
            readings = about(session, f.ReadingRecorded, name)
            checks = about(session, f.ProcessCheckRecorded, name)
        rows = [
            (r.at, Row((str(r.when)[:16], r.fact.quantity, value_text(r.fact.value), r.by), str(r.position)))
            for r in readings
        ]
        rows += [
            (
                r.at,
                Row(
                    (
                        str(r.when)[:16],
                        r.fact.check,
                        f"{'met' if r.fact.passed else 'NOT met'} {r.fact.detail or ''}",
                        r.by,
                    ),
                    str(r.position),
                ),
            )
            for r in checks
        ]
        columns = (
            Column("At", 17),
            Column("Reading or check", 26, stretch=True),
            Column("Result", 26, stretch=True),
            Column("By", 8),
        )
        shown = tuple(row for _, row in sorted(rows, key=lambda pair: pair[0], reverse=True))
        lines = (Labelled("Material", f"{batch.material}: {_what(batch)}"), Labelled("Expires", str(batch.expires)))
        empty = "No reading and no check of this batch."
        return BatchView(name, lines, Listing(columns, shown, empty), str(entered.position))

    def batch_form(self) -> Form:
        return self._forms.form("batch", "Enter a batch")

    def tank_form(self, line: str = "") -> Form:
        """A line or bench is filled: from now on it draws on these batches."""
        with self._work.book.session(readonly=True) as session:
            lines = sorted(
                {r.fact.equipment for r in every(session, f.EquipmentEntered) if r.fact.kind in ("line", "bench")}
            )
            now = {r.fact.line: "+".join(r.fact.batches) for r in every(session, f.TankFilled)}
        return self._forms.form(
            "tank",
            "Fill a tank",
            {"line": line, "batches": now.get(line, "")},
            choices={"line": lines},
            lines=("Type every batch that the line draws on from now on, the old ones too.",),
        )


def _what(batch: f.BatchEntered) -> str:
    said = [
        batch.type and f"type {batch.type}",
        batch.method and f"method {batch.method}",
        batch.sensitivity and f"sensitivity {batch.sensitivity}",
        batch.form and f"form {batch.form}",
        batch.system and f"system {batch.system}",
    ]
    return ", ".join(str(each) for each in said if each) or batch.material
