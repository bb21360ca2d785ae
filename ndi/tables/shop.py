"""What one row of a shop's own tables stands for: people, equipment, materials, work orders, receiving lists."""

from __future__ import annotations

from ndi.domain import facts as f
from ndi.tables.rows import Row

LOT_PREFIX = "LOT-"


def person(row: Row) -> f.PersonEntered:
    """A person with roles and shift."""
    return f.PersonEntered(row.text("person"), row.many("roles"), row.opt("shift_start"), row.opt("shift_end"))


def certificate(row: Row) -> f.CertificateEntered:
    return f.CertificateEntered(
        row.text("person"), row.text("method"), row.whole("level"), row.date_of("issued"), row.date_of("expires")
    )


def vision(row: Row) -> f.VisionExamEntered:
    return f.VisionExamEntered(row.text("person"), row.date_of("examined"), row.date_of("expires"))


def authorisation(row: Row) -> f.AuthorisationEntered:
    return f.AuthorisationEntered(
        row.text("person"), row.text("technique"), row.date_of("valid_from"), row.opt_date("valid_to")
    )


def tank(row: Row) -> f.TankFilled:
    return f.TankFilled(row.text("line"), row.many("batches"))


def work_order(row: Row) -> f.WorkOrderOpened:
    """A work order with its engine; ``tsn_h`` and ``tso_h`` as written, with words where there is no number."""
    return f.WorkOrderOpened(
        row.text("wo"),
        row.text("engine_model"),
        row.text("engine_serial"),
        row.text("reason"),
        row.text("limits_basis"),
        row.opt("tsn_h"),
        row.opt("tso_h"),
    )


def listed(row: Row, part: str) -> f.PartListed:
    """A line of a receiving list; a name that begins with ``LOT-`` is a lot, any other a serial number."""
    name = row.text("serial_or_lot")
    is_lot = name.startswith(LOT_PREFIX)
    return f.PartListed(
        part,
        row.text("wo"),
        row.text("part_no"),
        row.whole("qty"),
        None if is_lot else name,
        name if is_lot else None,
        row.opt("item"),
        row.opt("reason_code"),
    )


def equipment(row: Row) -> f.EquipmentEntered:
    """A lamp, meter, bench, bath, line, panel, station ... with what the rules ask of it."""
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
    """A calibration with what it found: +9 means that the meter read 9 % high; ``uncertainty`` with its unit."""
    error, width = row.opt("as_found_error_percent"), row.opt("uncertainty")
    return f.CalibrationRecorded(
        row.text("equipment"),
        row.text("item"),
        row.date_of("done"),
        row.date_of("due"),
        row.text("result"),
        None if error is None else row.number("as_found_error_percent", "%"),
        row.opt_number("uncertainty_percent", "%"),
        None if width is None else row.number_with_unit("uncertainty"),
    )


def batch(row: Row) -> f.BatchEntered:
    """A batch of penetrant, remover, developer or bath."""
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


def revision_read(row: Row) -> f.RevisionRead:
    """A person read and understood a procedure revision."""
    return f.RevisionRead(row.text("person"), row.text("procedure"), row.text("revision"))
