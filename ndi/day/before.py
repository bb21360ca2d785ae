"""What lies before the day: people, equipment, materials, earlier readings, all transcribed from paper."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from ndi.day import readings
from ndi.day.files import Folder
from ndi.domain import facts as f
from ndi.domain.moment import Moment
from ndi.tables import shop
from ndi.tables.rows import Row

Entries = Iterator[tuple[f.Fact, Moment]]


def people(folder: Folder) -> Entries:
    """Persons and what they are qualified for."""
    for row in folder.rows("people"):
        yield shop.person(row), row.moment("time")
    for row in folder.rows("certificates"):
        yield shop.certificate(row), row.moment("time")
    for row in folder.rows("vision"):
        yield shop.vision(row), row.moment("time")
    for row in folder.rows("authorisations"):
        yield shop.authorisation(row), row.moment("time")
    for row in folder.rows("read_and_understood"):
        yield shop.revision_read(row), row.moment("time")


def equipment(folder: Folder) -> Entries:
    """Equipment, calibrations, batches, tanks."""
    for row in folder.rows("equipment"):
        yield shop.equipment(row), row.moment("time")
    for row in folder.rows("calibrations"):
        yield shop.calibration(row), row.moment("time")
    for row in folder.rows("batches"):
        yield shop.batch(row), row.moment("time")
    for row in folder.rows("tanks"):
        yield shop.tank(row), row.moment("time")


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
        yield (
            f.ConfirmationGiven(part_key(row, row.text("about")), row.text("item"), row.text("value")),
            row.moment("time"),
        )


def _check(row: Row) -> f.ProcessCheckRecorded:
    passed = row.yes_no("passed")
    if passed is None:
        raise row.error("passed", "is empty; say yes or no")
    return f.ProcessCheckRecorded(
        row.text("check"), row.text("object"), passed, row.opt("line"), detail=row.opt("detail")
    )


def _paper(row: Row) -> f.PaperAcceptance:
    return f.PaperAcceptance(
        row.text("inspection"),
        row.text("person"),
        row.text("method"),
        row.many("lamps"),
        row.opt("part_no"),
        row.opt("decision") or "ACCEPT",
    )


def _past(row: Row) -> f.PastInspection:
    return f.PastInspection(
        row.text("part_no"),
        row.text("work_order"),
        row.text("serial"),
        row.opt("zone"),
        row.opt("type"),
        row.opt_number("clock_deg", "deg"),
    )
