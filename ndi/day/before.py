"""What lies before the day: people, equipment, materials, earlier readings, all transcribed from paper."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from ndi.day import readings
from ndi.day.files import Folder, Row
from ndi.domain import facts as f
from ndi.domain.moment import Moment

Entries = Iterator[tuple[f.Fact, Moment]]


def people(folder: Folder) -> Entries:
    """Persons and what they are qualified for."""
    for row in folder.rows("people"):
        yield f.PersonEntered(row.text("person"), row.many("roles"), row.opt("shift_start"), row.opt("shift_end")), row.moment("time")
    for row in folder.rows("certificates"):
        fact = f.CertificateEntered(row.text("person"), row.text("method"), row.whole("level"), row.date_of("issued"), row.date_of("expires"))
        yield fact, row.moment("time")
    for row in folder.rows("vision"):
        yield f.VisionExamEntered(row.text("person"), row.date_of("examined"), row.date_of("expires")), row.moment("time")
    for row in folder.rows("authorisations"):
        fact_ = f.AuthorisationEntered(row.text("person"), row.text("technique"), row.date_of("valid_from"), row.opt_date("valid_to"))
        yield fact_, row.moment("time")
    for row in folder.rows("read_and_understood"):
        yield f.RevisionRead(row.text("person"), row.text("procedure"), row.text("revision")), row.moment("time")


def equipment(folder: Folder) -> Entries:
    """Equipment, calibrations, batches, tanks."""
    for row in folder.rows("equipment"):
        yield _equipment(row), row.moment("time")
    for row in folder.rows("calibrations"):
        yield calibration(row), row.moment("time")
    for row in folder.rows("batches"):
        yield _batch(row), row.moment("time")
    for row in folder.rows("tanks"):
        yield f.TankFilled(row.text("line"), row.many("batches")), row.moment("time")


def _equipment(row: Row) -> f.EquipmentEntered:
    return f.EquipmentEntered(
        row.text("equipment"),
        row.text("kind"),
        row.opt("place"),
        row.yes_no("battery_powered"),
        row.opt("lamp_type"),
        row.opt("vehicle"),
        row.opt("current_type"),
        row.opt_number("max_amps", "A"),
        row.whole("coil_turns") if row.opt("coil_turns") else None,
        row.opt_number("coil_diameter_in", "in"),
        row.opt("tank_bath"),
        row.opt("line"),
        row.opt("wash_station"),
        row.opt("water"),
        row.opt("dryer"),
    )


def calibration(row: Row) -> f.CalibrationRecorded:
    """A calibration with what it found: +9 means that the meter read 9 % high."""
    error = row.opt("as_found_error_percent")
    return f.CalibrationRecorded(
        row.text("equipment"),
        row.text("item"),
        row.date_of("done"),
        row.date_of("due"),
        row.text("result"),
        None if error is None else row.number("as_found_error_percent", "%"),
    )


def _batch(row: Row) -> f.BatchEntered:
    return f.BatchEntered(
        row.text("batch"),
        row.text("material"),
        row.date_of("expires"),
        row.opt("system"),
        row.opt("type"),
        row.opt("method"),
        row.opt("sensitivity"),
        row.opt("form"),
        row.many("alloys"),
        row.opt_number("nominal_percent", "%"),
    )


def history(folder: Folder, part_key: Callable[[Row, str], str]) -> Entries:
    """Earlier readings, checks, ticks, switches, paper acceptances and past visits."""
    for row in folder.rows("readings"):
        for fact in readings.facts_of(row):
            yield fact, row.moment("time")
    for row in folder.rows("switches"):
        yield f.EquipmentSwitched(row.text("equipment"), row.text("state")), row.moment("time")
    for row in folder.rows("checks"):
        yield _check(row), row.moment("time")
    for row in folder.rows("paper_acceptances"):
        yield _paper(row), row.moment("time")
    for row in folder.rows("history"):
        yield _past(row), row.moment("time")
    for row in folder.rows("ticks"):
        yield f.ConfirmationGiven(part_key(row, row.text("about")), row.text("item"), row.text("value")), row.moment("time")


def _check(row: Row) -> f.ProcessCheckRecorded:
    passed = row.yes_no("passed")
    if passed is None:
        raise row.error("passed", "is empty; say yes or no")
    return f.ProcessCheckRecorded(row.text("check"), row.text("object"), passed, row.opt("line"), detail=row.opt("detail"))


def _paper(row: Row) -> f.PaperAcceptance:
    return f.PaperAcceptance(
        row.text("inspection"), row.text("person"), row.text("method"), row.many("lamps"), row.opt("part_no"), row.opt("decision") or "ACCEPT"
    )


def _past(row: Row) -> f.PastInspection:
    return f.PastInspection(
        row.text("part_no"), row.text("work_order"), row.text("serial"), row.opt("zone"), row.opt("type"), row.opt_number("clock_deg", "deg")
    )
