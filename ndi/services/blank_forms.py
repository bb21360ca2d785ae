"""Blank forms for an outage: what is written by hand while the book cannot be reached, with numbers, codes, limits, cautions.

The forms ask for what the book would have asked, in its words, so that they can
be typed in line by line afterwards.  No disposition is signed on them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from ndi.domain import facts as f
from ndi.domain.errors import InputError
from ndi.domain.parameter_keys import KEYS
from ndi.domain.procedure import Procedure
from ndi.domain.scan_codes import ScanKind, scan_text
from ndi.domain.vocabulary import Method, Step
from ndi.services import paper_blocks as b
from ndi.services.lookup import every
from ndi.services.outage_paper import number_forms
from ndi.services.paper_record import record_text
from ndi.services.paper_text import local_text, on_paper
from ndi.services.ports import Session
from ndi.services.report_models import CodeCell, SheetTable
from ndi.services.workplace import Workplace

NO_DISPOSITION = (
    "Nothing on this sheet is a decision: no part is accepted, rejected or reworked on paper. Write every time when it "
    "happens, from one clock. Cross out with one line, never erase. What was not seen or read stays empty."
)
_MOST_CODES = 8
_ROW, _NARROW = 7.2, 6.1  # mm


@dataclass(frozen=True)
class Kind:
    """One kind of form; ``limits`` are parameters that whoever writes on it looks up."""

    title: str
    methods: tuple[Method, ...]
    limits: tuple[str, ...]
    codes: tuple[str, ...]  # kinds of equipment whose codes stand on it
    blocks: Callable[[], Iterator[b.Block]]


def blank_forms(work: Workplace, kind: str, count: int, person: str) -> b.PaperModel:
    """Numbered forms of one kind, front and back; their numbers are kept in the book.

    InputError for a kind that there is not, and for 0 or very many of them.
    """
    if kind not in KINDS:
        raise InputError(f"there is no blank form {kind!r}; use one of {', '.join(KINDS)}")
    form = KINDS[kind]
    names = number_forms(work, kind, count, person)
    with work.book.session(readonly=True) as session:
        today = work.now().local.date()
        procedures = [
            each
            for each in work.procedures(session)
            if each.method in form.methods
            and each.effective_from <= today
            and (each.effective_to is None or today <= each.effective_to)
        ]
        cells = tuple(_codes(session, form.codes))[:_MOST_CODES]
        blocks: list[b.Block] = []
        for name in names:
            blocks += [*([b.NewPage()] if blocks else []), *_one(form, name, cells, procedures)]
        return b.PaperModel(
            title=f"BLANK FORM: {form.title}",
            subject=names[0] if len(names) == 1 else f"{names[0]} to {names[-1]}",
            book_id=work.book.book_id,
            practice=work.practice,
            printed_at=local_text(work.now()),
            head=str(session.head()),
            blocks=tuple(blocks),
            record=record_text(work, session, "blank forms", {"form": kind, "numbers": list(names)}),
            footer="Outage paper, to be typed into the record book and compared by a second person. Not a record, not a tag.",
        )


def _one(form: Kind, name: str, cells: tuple[CodeCell, ...], procedures: Sequence[Procedure]) -> Iterator[b.Block]:
    yield b.Codes((CodeCell(name, name, form.title),))
    yield b.Text(NO_DISPOSITION)
    yield b.WritingFields(("Date", "Place (booth, bench, line)", "Written by", "Clock used, and how far off it is"))
    yield from form.blocks()
    yield b.WritingFields(("Typed in by, date, time", "Compared by (another person), date, time"))
    yield b.NewPage()
    yield b.Heading(f"{name}, back: limits, cautions, codes")
    yield _limits(form, procedures)
    yield from _cautions(procedures)
    if cells:
        yield b.Heading("Codes, for typing in")
        yield b.Codes(cells)
    yield b.WritingRows("Remarks", (("Time", 0.12), ("What", 0.88)), 6, _NARROW, on_this_page=True)


def _limits(form: Kind, procedures: Sequence[Procedure]) -> SheetTable:
    """Each limit once for all procedures that state it alike."""
    stated: dict[tuple[str, str], list[str]] = {}
    for key in form.limits:
        for procedure in procedures:
            found = procedure.parameters.get(key)
            if found is not None:
                limit = on_paper(KEYS[key].meaning), on_paper(_value(found.value))
                stated.setdefault(limit, []).append(f"{procedure.name}, {found.paragraph}")
    rows = tuple((*limit, "; ".join(where)) for limit, where in stated.items())
    columns = (("Limit", 0.5), ("Value", 0.16), ("Procedure in force when printed", 0.34))
    return SheetTable("Limits", columns, rows, "No procedure of this method is in force.")


def _value(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return ", ".join(value) if isinstance(value, tuple) else str(value)


def _cautions(procedures: Sequence[Procedure]) -> Iterator[b.Block]:
    found = dict.fromkeys((c.before, c.text) for procedure in procedures for c in procedure.cautions)
    yield b.Heading("Cautions")
    yield b.Bullets(
        (
            *(f"Before {before}: {text}" for before, text in found),
            "The shop's safety rules, the maker's manual of each machine and the law of the place come first.",
        )
    )


def _codes(session: Session, kinds: Sequence[str]) -> Iterator[CodeCell]:
    latest = {r.fact.equipment: r.fact for r in every(session, f.EquipmentEntered)}
    scans = {"lamp": ScanKind.LAMP, "meter": ScanKind.METER, "basket": ScanKind.BASKET}
    for kind in kinds:
        for name in sorted(latest):
            if latest[name].kind == kind:
                code = scan_text(scans.get(kind, ScanKind.EQUIPMENT), name)
                yield CodeCell(code, name, ", ".join(filter(None, (kind, latest[name].place))))


# --- the forms ------------------------------------------------------------------------------------------

_PART = ("Work order", "Part number", "Serial number or lot", "Pieces")


def _readings() -> Iterator[b.Block]:
    yield b.WritingRows(
        "Readings and checks: lamps, booths, baths, line",
        (
            ("Time", 0.09),
            ("Object", 0.14),
            ("Quantity or check", 0.19),
            ("Value and unit", 0.14),
            ("As found, as left", 0.12),
            ("Distance", 0.09),
            ("Meter", 0.09),
            ("Screen on?", 0.07),
            ("By", 0.07),
        ),
        21,
        _ROW,
    )


def _magnetic() -> Iterator[b.Block]:
    yield b.WritingFields((*_PART, "Technique, revision", "Record, where it is open already"))
    yield b.WritingFields(
        ("Clean, dry, plugged: plugs in", "Residual before, and where", "Plugs out", "Bath sample read at")
    )
    yield b.WritingRows(
        "Shots, in the order of the technique",
        (
            ("No", 0.06),
            ("Kind, position", 0.24),
            ("Amps", 0.1),
            ("Turns", 0.08),
            ("Pulses, s", 0.12),
            ("Bath on before and through", 0.14),
            ("Time", 0.1),
            ("Viewed from, to", 0.16),
        ),
        7,
        _NARROW,
    )
    yield from _views(3, _NARROW)
    yield b.WritingRows(
        "Demagnetised; residual field at each point of the technique",
        (("Time", 0.12), ("Point", 0.4), ("Value and unit", 0.2), ("Meter", 0.14), ("By", 0.14)),
        4,
        _NARROW,
    )


def _penetrant() -> Iterator[b.Block]:
    yield b.WritingFields(("Basket", "Line", "Records or parts in it (write each)", "Batches in the tanks"))
    steps = tuple(str(step) for step in Step)
    yield b.Text(f"Steps: {', '.join(steps)}. First part in and last part out are two times; write both.")
    yield b.WritingRows(
        "Steps of the basket",
        (
            ("Step", 0.15),
            ("First part in", 0.13),
            ("Last part in", 0.13),
            ("First part out", 0.13),
            ("Last part out", 0.13),
            ("Read: part, water, dryer", 0.23),
            ("By", 0.1),
        ),
        9,
        _ROW,
    )
    yield from _views(7, _ROW)


def _views(rows: int, height: float) -> Iterator[b.Block]:
    yield b.WritingRows(
        "Views",
        (
            ("Part or record", 0.2),
            ("Lamps", 0.12),
            ("Booth closed", 0.1),
            ("View from", 0.09),
            ("to", 0.09),
            ("Zones seen", 0.2),
            ("Nothing seen / which", 0.12),
            ("By", 0.08),
        ),
        rows,
        height,
    )


def _indications() -> Iterator[b.Block]:
    yield b.WritingFields((*_PART, "Record", "Lamps"))
    yield b.WritingRows(
        "Indications",
        (
            ("No", 0.05),
            ("First seen", 0.09),
            ("Zone, place, clock angle", 0.24),
            ("Form, direction", 0.14),
            ("Length, width, unit", 0.15),
            ("Wiped, shot or developed again: returned?", 0.21),
            ("Photograph", 0.12),
        ),
        7,
        10.0,
    )
    yield b.Text(
        "The part stays apart, marked, until the book is back: a crack waits for nobody. Tell the Level III; a second "
        "person looks without having seen this sheet."
    )
    yield b.WritingRows("Sketch", (("which side, with the datum and an arrow to the place", 1.0),), 1, 34.0)


_LIGHT = ("uv_min", "uv_distance", "uv_distance_tolerance", "ambient_max", "dark_adapt_min", "view_stretch_max")
_MT = (
    "amps_tolerance",
    "pulses_min",
    "pulse_min",
    "pulse_max",
    "residual_max",
    "bath_working_min",
    "bath_working_max",
    "bath_valid",
)
_PT = (
    "dwell_base", "dwell_max", "prewash_max", "remover_max", "rinse_max", "wash_per_part_max", "wash_to_dryer_max",
    "dryer_temperature_max", "dryer_time_max", "dryer_to_developer_max", "develop_min", "develop_max",
)  # fmt: skip
_BOTH = (Method.MT, Method.PT)

KINDS: dict[str, Kind] = {
    "readings": Kind("READINGS AND CHECKS", _BOTH, _LIGHT, ("lamp", "meter"), _readings),
    "mt": Kind("MAGNETIC PARTICLE, ONE PART OR LOT", (Method.MT,), (*_MT, *_LIGHT), ("lamp", "bench"), _magnetic),
    "pt": Kind("PENETRANT, ONE BASKET", (Method.PT,), (*_PT, *_LIGHT), ("lamp", "basket", "line"), _penetrant),
    "indications": Kind("INDICATIONS OF ONE PART", _BOTH, _LIGHT, ("lamp",), _indications),
}
