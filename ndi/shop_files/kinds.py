"""The tables that a shop may bring: their columns, what a row stands for, what is asked of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches

from ndi.domain import facts as f
from ndi.domain.errors import DayFileError, InputError
from ndi.domain.quantity import Number
from ndi.domain.vocabulary import DECIDING_LEVEL, LEVEL_THREE, PROCESSING_LEVEL, Material, Method
from ndi.services.receiving import part_key
from ndi.shop_files.known import Known
from ndi.tables import shop
from ndi.tables.rows import Row

Problems = Iterator[DayFileError]

ROLES = (
    *("administrator", "level3", "inspector", "second", "operator", "trainee"),
    *("receiving", "cleaner", "rework", "supervisor", "quality", "engineering"),
)
EQUIPMENT = (
    *("lamp", "meter", "bench", "bath", "line", "panel", "ring", "station", "water supply", "dryer", "tank", "basket"),
    *("demagnetising coil", "refractometer", "part thermometer", "water thermometer", "pressure gauge", "camera"),
)
WHEN = ("date", "time", "utc_offset")  # when it was kept on paper; without them: now
REMARKS = ("note", "inv")  # for people, never read


@dataclass(frozen=True)
class Kind:
    """One table.  ``confirmed``: in a book that is not for practice, a second person confirms each row."""

    name: str
    about: str
    needed: tuple[str, ...]
    optional: tuple[str, ...]
    read: Callable[[Row], f.Fact]
    check: Callable[[Row, f.Fact, Known], Problems]
    example: str
    confirmed: bool = False

    @property
    def columns(self) -> tuple[str, ...]:
        return (*self.needed, *self.optional)


def unknown_word(word: str, known: Sequence[str]) -> str:
    """The problem text for a word that is not in a closed list."""
    close = get_close_matches(word, known, n=1, cutoff=0.6)
    hint = f"; did you mean {close[0]}?" if close else f"; use one of: {', '.join(known)}"
    return f"{word!r} is not known here{hint}"


def _word(row: Row, column: str, known: Sequence[str]) -> Problems:
    word = row.opt(column)
    if word is not None and word not in known:
        yield row.error(column, unknown_word(word, known))


def _not_before(row: Row, first: str, last: str) -> Problems:
    begin, end = row.opt_date(first), row.opt_date(last)
    if begin and end and end < begin:
        yield row.error(last, f"{end} is before {first}, {begin}")


def _new(row: Row, column: str, taken: set[str], what: str) -> Problems:
    name = row.text(column)
    if name in taken:
        yield row.error(column, f"{what} {name} is there already (in the book, or further up); each stands once")


def _there(row: Row, column: str, name: str, known: set[str], what: str, table: str) -> Problems:
    if name not in known:
        close = get_close_matches(name, sorted(known), n=1, cutoff=0.6)
        hint = f"did you mean {close[0]}?" if close else f"bring {table} first, or together with this table"
        yield row.error(column, f"{what} {name} is not in the book; {hint}")


# --- people -----------------------------------------------------------------------------------------


def _person(row: Row, fact: f.Fact, known: Known) -> Problems:
    assert isinstance(fact, f.PersonEntered)
    yield from _new(row, "person", known.people, "person")
    if not fact.roles:
        yield row.error("roles", f"is empty; join roles with +, from: {', '.join(ROLES)}")
    for role in fact.roles:
        if role not in ROLES:
            yield row.error("roles", unknown_word(role, ROLES))
    for column in ("shift_start", "shift_end"):
        row.opt_moment(column)


def _holder(row: Row, known: Known) -> Problems:
    yield from _there(row, "person", row.text("person"), known.people, "person", "people.csv")


def _certificate(row: Row, fact: f.Fact, known: Known) -> Problems:
    assert isinstance(fact, f.CertificateEntered)
    yield from _holder(row, known)
    yield from _word(row, "method", tuple(Method))
    if not PROCESSING_LEVEL <= fact.level <= LEVEL_THREE:
        yield row.error(
            "level", f"{fact.level} is no level; write {PROCESSING_LEVEL}, {DECIDING_LEVEL} or {LEVEL_THREE}"
        )
    yield from _not_before(row, "issued", "expires")


def _vision(row: Row, _fact: f.Fact, known: Known) -> Problems:
    yield from _holder(row, known)
    yield from _not_before(row, "examined", "expires")


def _authorisation(row: Row, _fact: f.Fact, known: Known) -> Problems:
    yield from _holder(row, known)
    yield from _not_before(row, "valid_from", "valid_to")
    technique = row.text("technique")
    if technique not in known.techniques:
        yield row.error("technique", f"{technique} is not adopted in this book; a Level III adopts it first")


def _read(row: Row, fact: f.Fact, known: Known) -> Problems:
    assert isinstance(fact, f.RevisionRead)
    yield from _holder(row, known)
    if (fact.procedure, fact.revision) not in known.revisions:
        yield row.error(
            "revision", f"{fact.procedure} rev {fact.revision} is not adopted in this book; a Level III adopts it first"
        )


# --- equipment and materials ------------------------------------------------------------------------


def _equipment(row: Row, fact: f.Fact, known: Known) -> Problems:
    assert isinstance(fact, f.EquipmentEntered)
    yield from _new(row, "equipment", known.equipment, "equipment")
    yield from _word(row, "kind", EQUIPMENT)
    yield from _word(row, "lamp_type", ("LED", "mercury", "tube"))
    yield from _word(row, "vehicle", ("oil", "water"))
    yield from _word(row, "current_type", ("FWDC", "HWDC", "AC"))
    if fact.kind == "lamp" and fact.battery_powered is None:
        yield row.error("battery_powered", "is empty; say yes or no for a lamp")
    yield from _above_zero(row, "max_amps", fact.max_amps)
    yield from _above_zero(row, "coil_diameter_in", fact.coil_diameter)


def _above_zero(row: Row, column: str, number: Number | None) -> Problems:
    if number is not None and number.value <= 0:
        yield row.error(column, f"{number} is not above zero")


def _calibration(row: Row, _fact: f.Fact, known: Known) -> Problems:
    yield from _there(row, "equipment", row.text("equipment"), known.equipment, "equipment", "equipment.csv")
    yield from _not_before(row, "done", "due")
    if row.date_of("done") > known.here:
        yield row.error("done", f"{row.date_of('done')} is later than today, {known.here}")


def _batch(row: Row, _fact: f.Fact, known: Known) -> Problems:
    yield from _new(row, "batch", known.batches, "batch")
    yield from _word(row, "material", tuple(Material))
    yield from _word(row, "type", ("1", "2"))
    yield from _word(row, "method", ("A", "B", "C", "D"))


def _tank(row: Row, fact: f.Fact, known: Known) -> Problems:
    assert isinstance(fact, f.TankFilled)
    yield from _there(row, "line", fact.line, known.equipment, "line or bench", "equipment.csv")
    if not fact.batches:
        yield row.error("batches", "is empty; join batches with +")
    for batch in fact.batches:
        yield from _there(row, "batches", batch, known.batches, "batch", "batches.csv")


# --- work orders ------------------------------------------------------------------------------------


def _work_order(row: Row, _fact: f.Fact, known: Known) -> Problems:
    yield from _new(row, "wo", known.work_orders, "work order")


def _directive(row: Row) -> f.DirectivesConfirmed:
    line = row.opt("line")
    answered = line is not None and row.yes_no("answered") is True
    return f.DirectivesConfirmed(row.text("wo"), (line,) if line else (), (line,) if line and answered else ())


def _order(row: Row, _fact: f.Fact, known: Known) -> Problems:
    yield from _there(row, "wo", row.text("wo"), known.work_orders, "work order", "work_orders.csv")


def one_for_each_order(facts: Sequence[f.DirectivesConfirmed]) -> list[f.DirectivesConfirmed]:
    """The lines of one engine are one confirmation."""
    merged: dict[str, f.DirectivesConfirmed] = {}
    for fact in facts:
        before = merged.get(fact.work_order)
        merged[fact.work_order] = (
            fact
            if before is None
            else replace(before, lines=before.lines + fact.lines, answered=before.answered + fact.answered)
        )
    return list(merged.values())


def _listed(row: Row) -> f.PartListed:
    return shop.listed(row, part_key(row.text("wo"), row.text("part_no"), row.text("serial_or_lot")))


def _receiving(row: Row, fact: f.Fact, known: Known) -> Problems:
    assert isinstance(fact, f.PartListed)
    yield from _order(row, fact, known)
    if fact.part in known.parts:
        yield row.error(
            "serial_or_lot", f"{fact.serial or fact.lot} of {fact.part_no} is listed under {fact.work_order} already"
        )
    if fact.quantity < 1:
        yield row.error("qty", "is 0; delete the line if nothing came in")
    master = known.masters.get(fact.part_no)
    if master is None:
        close = get_close_matches(fact.part_no, sorted(known.masters), n=1, cutoff=0.6)
        hint = (
            f"did you mean {close[0]}?"
            if close
            else "a Level III adopts its part master first (ndi procedure parts-from-csv makes one)"
        )
        yield row.error("part_no", f"{fact.part_no} has no part master in this book; {hint}")
    elif master == "serial" and fact.serial is None:
        yield row.error("serial_or_lot", f"{fact.part_no} is serialised: list each piece with its own serial number")
    elif fact.serial is not None and fact.quantity != 1:
        yield row.error(
            "qty", f"{fact.quantity} pieces under one serial number; a lot's name begins with {shop.LOT_PREFIX}"
        )


# --- the list ---------------------------------------------------------------------------------------

KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        Kind(
            "people",
            "persons with roles (joined by +) and shift",
            ("person", "roles"),
            ("shift_start", "shift_end"),
            shop.person,
            _person,
            "L2-A,inspector+second,06:00,14:30",
        ),
        Kind(
            "certificates",
            "who holds which level in which method, from when to when",
            ("person", "method", "level", "issued", "expires"),
            (),
            shop.certificate,
            _certificate,
            "L2-A,MT,2,2024-03-06,2029-03-05",
            confirmed=True,
        ),
        Kind(
            "vision",
            "vision examinations and how long they count",
            ("person", "examined", "expires"),
            (),
            shop.vision,
            _vision,
            "L2-A,2026-01-12,2027-01-12",
            confirmed=True,
        ),
        Kind(
            "authorisations",
            "who may work to a technique that needs an authorisation",
            ("person", "technique", "valid_from"),
            ("valid_to",),
            shop.authorisation,
            _authorisation,
            "L2-A,MT-T-01,2026-01-12,",
            confirmed=True,
        ),
        Kind(
            "read_and_understood",
            "who read which procedure revision",
            ("person", "procedure", "revision"),
            (),
            shop.revision_read,
            _read,
            "L2-A,MT-P-01,A",
        ),
        Kind(
            "equipment",
            "lamps, meters, benches, baths, lines, panels, stations, baskets",
            ("equipment", "kind"),
            (
                *("place", "battery_powered", "lamp_type", "vehicle", "current_type", "max_amps", "coil_turns"),
                *("coil_diameter_in", "tank_bath", "line", "wash_station", "water", "dryer"),
            ),
            shop.equipment,
            _equipment,
            "UV-1,lamp,MT booth,no,LED,,,,,,,,,,",
        ),
        Kind(
            "calibrations",
            "what was calibrated when, with what it found (+9 read 9 % high)",
            ("equipment", "item", "done", "due", "result"),
            ("as_found_error_percent", "uncertainty_percent", "uncertainty"),
            shop.calibration,
            _calibration,
            "RM-1,UV-A channel,2026-01-12,2027-01-12,within tolerance,,4,",
        ),
        Kind(
            "batches",
            "batches of penetrant, remover, developer, bath",
            ("batch", "material", "expires"),
            ("system", "type", "method", "sensitivity", "form", "alloys", "nominal_percent"),
            shop.batch,
            _batch,
            "PEN-1,penetrant,2027-12-31,SYS-1,1,A,2,,aluminium+steel,",
        ),
        Kind(
            "tanks",
            "which batches (joined by +) a line or bench draws on",
            ("line", "batches"),
            (),
            shop.tank,
            _tank,
            "Method A line,PEN-1+DEV-1",
        ),
        Kind(
            "work_orders",
            "engines with the reason and the limits that are used",
            ("wo", "engine_model", "engine_serial", "reason", "limits_basis"),
            ("tsn_h", "tso_h"),
            shop.work_order,
            _work_order,
            "W-0001,Model 4,E-1001,overhaul,new limits,2034,not applicable: first visit",
        ),
        Kind(
            "directives",
            "directives and bulletins for an engine; a row without a line says that there are none",
            ("wo",),
            ("line", "answered"),
            _directive,
            _order,
            "W-0001,,",
        ),
        Kind(
            "receiving",
            "the receiving list: serial number, or a lot whose name begins with LOT-",
            ("wo", "part_no", "serial_or_lot", "qty"),
            ("item", "reason_code"),
            _listed,
            _receiving,
            "W-0001,P-100,S-4711,1,Connecting rod 1,",
        ),
    )
}


def kind_of(name: str) -> Kind:
    """The table of that name; InputError lists them all."""
    if name not in KINDS:
        raise InputError(f"table {unknown_word(name, tuple(KINDS))}")
    return KINDS[name]
