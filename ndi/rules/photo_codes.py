"""What the codes in a photograph's frame say of whose photograph it is."""

from __future__ import annotations

from collections.abc import Iterable

from ndi.domain.errors import InputError
from ndi.domain.scan_codes import ScanKind, parse_scan


def of_others(codes: Iterable[str], part: str, work_order: str) -> list[str]:
    """Parts and work orders other than the record's that codes name, as a person reads them, each once."""
    own = {ScanKind.PART: part, ScanKind.ORDER: work_order}
    named = [(kind, name) for kind, name in _read(codes) if kind in own and name != own[kind]]
    return list(dict.fromkeys(f"{'part' if kind is ScanKind.PART else 'work order'} {name}" for kind, name in named))


def names_part(codes: Iterable[str], part: str) -> bool:
    """Whether a code names the part itself; a work order alone names no part."""
    return any(kind is ScanKind.PART and name == part for kind, name in _read(codes))


def _read(codes: Iterable[str]) -> list[tuple[ScanKind, str]]:
    found = []
    for code in codes:
        try:
            scanned = parse_scan(code)
        except InputError:
            continue  # what strangers print on things is none of ours
        found.append((scanned.kind, scanned.name))
    return found
