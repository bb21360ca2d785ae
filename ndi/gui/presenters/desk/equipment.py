"""Equipment and lamps: what there is, its readings and calibrations, the lamp calendar, what relied on a lamp."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta

from ndi.domain import facts as f
from ndi.domain.moment import Moment
from ndi.domain.vocabulary import Condition, Quantity
from ndi.gui.presenters.desk import marks
from ndi.gui.presenters.desk.acts import Form
from ndi.gui.presenters.desk.listing import Column, Labelled, Listing, Row
from ndi.gui.presenters.desk.recording_forms import RecordingForms
from ndi.services.containment import recall_set
from ndi.services.lamps import lamp_day
from ndi.services.lookup import about, every
from ndi.services.paper_text import on_paper, value_text
from ndi.services.ports import Session
from ndi.services.questions import lamp_answers
from ndi.services.workplace import Workplace
from ndi.shop_files.kinds import EQUIPMENT

CALENDAR_DAYS = 14
_THINGS = (
    Column("Equipment", 14),
    Column("Kind, place", 22, stretch=True),
    Column("Stands", 13),
    Column("Calibrated to", 13),
)
_READINGS = (
    Column("At", 16),
    Column("Quantity", 18, stretch=True),
    Column("Value", 15, right=True),
    Column("Condition", 14),
    Column("Meter", 7),
    Column("By", 7),
)
_DAYS = (
    Column("Day", 14),
    Column("Answer", 16),
    Column("What the readings say", 50, stretch=True),
    Column("Records", 8, right=True),
)
_CALIBRATIONS = (
    Column("Item", 16, stretch=True),
    Column("Done", 11),
    Column("Due", 11),
    Column("Result", 18, stretch=True),
    Column("As found", 10, right=True),
)
_RELIED = (
    Column("Record", 9),
    Column("State", 30, stretch=True),
    Column("Part", 34, stretch=True),
    Column("Pcs", 4, right=True),
)


@dataclass(frozen=True)
class ThingView:
    """One piece of equipment."""

    equipment: str
    is_lamp: bool
    lines: tuple[Labelled, ...]
    readings: Listing
    calendar: Listing
    calibrations: Listing


@dataclass(frozen=True)
class RelianceView:
    """What relied on an object since its last in-limit reading."""

    title: str
    records: Listing


class Equipment:
    """The shop's equipment."""

    def __init__(self, work: Workplace, person: Callable[[], str], forms: RecordingForms) -> None:
        self._work, self._person, self._forms = work, person, forms

    def listing(self) -> Listing:
        """Everything that was entered, lamps first."""
        today = self._work.now().local.date()
        with self._work.book.session(readonly=True) as session:
            things = {r.fact.equipment: r.fact for r in every(session, f.EquipmentEntered)}
            rows = [
                self._row(session, thing, today)
                for thing in sorted(things.values(), key=lambda t: (t.kind != "lamp", t.kind, t.equipment))
            ]
        return Listing(_THINGS, tuple(rows), "No equipment was entered: bring in equipment.csv, or enter it here.")

    def _row(self, session: Session, thing: f.EquipmentEntered, today: date) -> Row:
        stands = _stands(session, thing.equipment)
        due = [r.fact.due for r in about(session, f.CalibrationRecorded, thing.equipment)]
        overdue = bool(due) and max(due) < today
        calibrated = f"{marks.FAILED if overdue else marks.SETTLED} {max(due)}" if due else marks.NONE
        cells = (
            thing.equipment,
            ", ".join(filter(None, (thing.kind, thing.place))),
            str(stands).partition(":")[0],
            calibrated,
        )
        return Row(cells, thing.equipment, act=overdue or stands.shape == marks.FAILED)

    def thing(self, name: str) -> ThingView:
        """One piece of equipment with its readings and calibrations; a lamp with its calendar."""
        with self._work.book.session(readonly=True) as session:
            entered = about(session, f.EquipmentEntered, name)[-1].fact
            readings = [r for r in about(session, f.ReadingRecorded, name) if r.fact.object == name]
            lines = [Labelled("What it is", _words(entered)), Labelled("Stands", str(_stands(session, name)))]
            recalls = [
                f"{r.fact.containment}: {len(r.fact.inspections)} records, {r.fact.pieces} pieces (Ctrl+R lists them)"
                for r in every(session, f.ContainmentOpened)
                if r.fact.object == name
            ]
            calibrations = sorted(about(session, f.CalibrationRecorded, name), key=lambda r: r.fact.done, reverse=True)
            calendar = (
                self._calendar(session, name)
                if entered.kind == "lamp"
                else Listing(_DAYS, (), "Only lamps have a calendar.")
            )
        if entered.kind == "lamp":
            answers, _text = lamp_answers(self._work, name)
            lines += [
                Labelled(a.rule, f"{marks.of_verdict(a.verdict)}: {on_paper(a.says or a.found)}") for a in answers
            ]
            lines += [Labelled("Recall set", text) for text in recalls]
        shown = Listing(
            _READINGS,
            tuple(_reading_row(str(r.when)[:16], r.fact, r.by, r.position) for r in reversed(readings)),
            "It was never read.",
        )
        done = Listing(
            _CALIBRATIONS,
            tuple(
                Row(
                    (
                        c.fact.item,
                        str(c.fact.done),
                        str(c.fact.due),
                        c.fact.result,
                        value_text(c.fact.as_found_error_percent),
                    ),
                    str(c.position),
                )
                for c in calibrations
            ),
            "No calibration is recorded.",
        )
        return ThingView(name, entered.kind == "lamp", tuple(lines), shown, calendar, done)

    def _calendar(self, session: Session, lamp: str) -> Listing:
        """The last two weeks, today first."""
        today = self._work.now().local.date()
        rows = []
        for back in range(CALENDAR_DAYS):
            found = lamp_day(self._work, session, lamp, today - timedelta(days=back))
            mark = marks.of_verdict(found.verdict)
            cells = (f"{found.day:%a %Y-%m-%d}", str(mark), on_paper(found.says), str(len(found.used_for)))
            rows.append(Row(cells, str(found.day), act=mark.shape in (marks.FAILED, marks.OPEN)))
        return Listing(_DAYS, tuple(rows))

    def relied(self, name: str) -> RelianceView:
        """The recall list of a lamp (or bath, meter, bench): every record that relied on it since its last good reading."""
        with self._work.book.session(readonly=True) as session:
            opened = [r for r in every(session, f.ContainmentOpened) if r.fact.object == name]
            if opened:
                fact = opened[-1].fact
                records, pieces, since = (
                    fact.inspections,
                    fact.pieces,
                    f"recall set {fact.containment}, in doubt {fact.last_good or 'from the first use'} to {fact.first_bad}",
                )
            else:
                good = self._last_reading(session, name)
                found = recall_set(session, name, good, self._work.now())
                records, pieces = found.inspections, found.pieces
                since = f"since {'its last reading ' + str(good) if good else 'its first use'}"
            rows = []
            for record in records:
                row = session.inspection(record)
                mark = marks.of_disposition(row.disposition, suspended=row.suspended, provisional=row.provisional)
                rows.append(
                    Row(
                        (record, str(mark), f"{row.part_no}  {row.part.split('/')[-1]}", str(row.quantity)),
                        record,
                        act=row.suspended,
                    )
                )
        return RelianceView(
            f"{len(rows)} records, {pieces} pieces relied on {name}, {since}",
            Listing(_RELIED, tuple(rows), f"Nothing relied on {name}."),
        )

    def _last_reading(self, session: Session, name: str) -> Moment | None:
        """The last reading as found: had it been a bad one, a recall set would have been opened for it."""
        readings = [
            r
            for r in about(session, f.ReadingRecorded, name)
            if r.fact.object == name and r.fact.condition in (None, Condition.AS_FOUND)
        ]
        return readings[-1].when if readings else None

    # --- forms --------------------------------------------------------------------------------------

    def reading_form(self, name: str) -> Form:
        """Record a reading of it."""
        with self._work.book.session(readonly=True) as session:
            kind = about(session, f.EquipmentEntered, name)[-1].fact.kind
            meters = [r.fact.equipment for r in every(session, f.EquipmentEntered) if r.fact.kind == "meter"]
        quantity = {"lamp": Quantity.UV_A, "bath": Quantity.PARTICLE_VOLUME, "station": Quantity.AMBIENT}.get(kind, "")
        only = {
            "lamp": ("value", "quantity", "condition", "meter", "distance", "note"),
            "bath": ("value", "quantity", "contamination", "demagnetised", "note"),
        }.get(kind, ("value", "quantity", "condition", "meter", "screen_on", "note"))
        return self._forms.form(
            "reading",
            f"Reading of {name}",
            {"object": name, "quantity": str(quantity)},
            only=only,
            choices={"meter": sorted(set(meters))},
        )

    def calibration_form(self, name: str) -> Form:
        return self._forms.form(
            "calibration",
            f"Calibration of {name}",
            {"equipment": name},
            only=("item", "done", "due", "result", "as_found_error_percent"),
        )

    def status_form(self, name: str) -> Form:
        return self._forms.form(
            "equipment-status", f"Take {name} out of use, or put it back", {"equipment": name}, only=("state", "reason")
        )

    def new_form(self) -> Form:
        return self._forms.form(
            "equipment",
            "Enter equipment",
            choices={
                "kind": EQUIPMENT,
                "lamp_type": ("LED", "mercury", "tube"),
                "vehicle": ("oil", "water"),
                "current_type": ("FWDC", "HWDC", "AC"),
            },
        )


def _stands(session: Session, name: str) -> marks.Mark:
    status = about(session, f.EquipmentStatusSet, name)
    if not status or status[-1].fact.state == "in service":
        return marks.Mark(marks.SETTLED, "in service")
    return marks.Mark(marks.FAILED, f"{status[-1].fact.state}: {on_paper(status[-1].fact.reason)}")


def _words(thing: f.EquipmentEntered) -> str:
    said = [
        thing.kind,
        thing.lamp_type,
        thing.place and f"at {thing.place}",
        thing.tank_bath and f"runs {thing.tank_bath}",
    ]
    if thing.battery_powered is not None:
        said.append("battery powered" if thing.battery_powered else "mains powered")
    return ", ".join(str(each) for each in said if each)


def _reading_row(at: str, fact: f.ReadingRecorded, by: str, position: int) -> Row:
    cells = (at, fact.quantity, value_text(fact.value), fact.condition or "", fact.meter or "", by)
    return Row(cells, str(position))
