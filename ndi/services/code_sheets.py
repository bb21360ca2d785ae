"""Which codes a shop hangs on its walls and badges: taken from the book, so that a sheet never names what is not there."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from ndi.domain import facts as f
from ndi.domain.errors import InputError
from ndi.domain.scan_codes import COMMANDS, ScanKind, scan_text
from ndi.domain.vocabulary import HANDLING_PLACES, RE_VIEW_PLACES
from ndi.services.lookup import every
from ndi.services.ports import Session
from ndi.services.report_models import CodeCell, CodeSheetModel
from ndi.services.signing import badge_of, removal, roles_of
from ndi.services.workplace import Workplace

_PLACE_KINDS = ("station", "line", "bench", "tank", "dryer")
_OWN_SHEET = ("lamp", "meter", "basket", *_PLACE_KINDS)

Cells = Callable[[Workplace, Session, Sequence[str]], Iterable[CodeCell]]


def code_sheet(work: Workplace, kind: str, names: Sequence[str] = ()) -> CodeSheetModel:
    """The sheet of one kind; ``names`` adds baskets or places that the book does not list as equipment."""
    if kind not in SHEETS:
        raise InputError(f"there is no code sheet of {kind!r}; use one of: {', '.join(SHEETS)}")
    if names and kind not in ("baskets", "places"):
        raise InputError(f"codes of {kind} come from the book alone; names are given for baskets and places")
    title, cells_of = SHEETS[kind]
    with work.book.session(readonly=True) as session:
        cells = tuple(cells_of(work, session, names))
    if not cells:
        raise InputError(f"the book holds no {kind}: bring them in first (ndi import), or give names with --name")
    return CodeSheetModel(title, cells, work.book.book_id, f"{work.now().local:%Y-%m-%d}", work.practice)


def _cell(kind: ScanKind, name: str, note: str = "") -> CodeCell:
    return CodeCell(scan_text(kind, name), name, note)


def _people(work: Workplace, session: Session, _names: Sequence[str]) -> Iterable[CodeCell]:
    """Everybody who was not removed: the badge where one is assigned, else the person's own code."""
    for person in sorted({r.fact.person for r in every(session, f.PersonEntered)}):
        if removal(session, person, work.now()) is not None:
            continue
        roles, badge = ", ".join(sorted(roles_of(session, person))), badge_of(session, person)
        text = scan_text(ScanKind.PERSON, person) if badge is None else scan_text(ScanKind.BADGE, badge)
        yield CodeCell(text, person, f"badge, {roles}" if badge else roles)


def _equipment(session: Session, kinds: Sequence[str]) -> list[f.EquipmentEntered]:
    latest = {r.fact.equipment: r.fact for r in every(session, f.EquipmentEntered)}
    return [latest[name] for name in sorted(latest) if latest[name].kind in kinds]


def _lamps(_work: Workplace, session: Session, _names: Sequence[str]) -> Iterable[CodeCell]:
    return [_cell(ScanKind.LAMP, lamp.equipment, lamp.place or "") for lamp in _equipment(session, ("lamp",))]


def _meters(_work: Workplace, session: Session, _names: Sequence[str]) -> Iterable[CodeCell]:
    return [_cell(ScanKind.METER, meter.equipment, meter.place or "") for meter in _equipment(session, ("meter",))]


def _other_equipment(_work: Workplace, session: Session, _names: Sequence[str]) -> Iterable[CodeCell]:
    kinds = {r.fact.kind for r in every(session, f.EquipmentEntered)} - set(_OWN_SHEET)
    return [_cell(ScanKind.EQUIPMENT, item.equipment, item.kind) for item in _equipment(session, sorted(kinds))]


def _baskets(_work: Workplace, session: Session, names: Sequence[str]) -> Iterable[CodeCell]:
    known = [basket.equipment for basket in _equipment(session, ("basket",))]
    return [_cell(ScanKind.BASKET, name) for name in dict.fromkeys([*known, *names])]


def named_places(session: Session) -> tuple[str, ...]:
    """The booths, lines and benches of the shop, each a place that a part can be at."""
    return tuple(item.equipment for item in _equipment(session, _PLACE_KINDS))


def _places(_work: Workplace, session: Session, names: Sequence[str]) -> Iterable[CodeCell]:
    notes = {item.equipment: item.kind for item in _equipment(session, _PLACE_KINDS)}
    every_place = dict.fromkeys([*notes, *RE_VIEW_PLACES, *HANDLING_PLACES, *names])
    return [_cell(ScanKind.PLACE, place, notes.get(place, "")) for place in every_place]


def _commands(_work: Workplace, _session: Session, _names: Sequence[str]) -> Iterable[CodeCell]:
    return [_cell(ScanKind.COMMAND, command, meaning) for command, meaning in COMMANDS.items()]


SHEETS: dict[str, tuple[str, Cells]] = {
    "people": ("People", _people),
    "lamps": ("Lamps", _lamps),
    "meters": ("Meters", _meters),
    "equipment": ("Other equipment", _other_equipment),
    "baskets": ("Baskets", _baskets),
    "places": ("Places", _places),
    "commands": ("Commands", _commands),
}
