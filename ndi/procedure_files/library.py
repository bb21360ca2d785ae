"""A folder of procedures, techniques and parts, read and checked against one another: all or nothing."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from pathlib import Path
from typing import Generic, NamedTuple, TypeVar

from ndi.domain.errors import ProcedureFileError
from ndi.domain.procedure import PartMaster, Procedure, RequiredMethod, Technique
from ndi.procedure_files.parameters import min_above_max
from ndi.procedure_files.parts import read_part, unknown_zone
from ndi.procedure_files.procedures import read_procedure
from ndi.procedure_files.source import nearest, read_text
from ndi.procedure_files.tables import Table, root, unknown_word
from ndi.procedure_files.techniques import read_technique
from ndi.procedure_files.words import ALL_RULES

KINDS = ("procedure", "technique", "part")

_Thing = TypeVar("_Thing", Procedure, Technique, PartMaster)


class Document(NamedTuple):
    """What a Level III adopts: the file's text as it stands, and the SHA-256 of its bytes."""

    kind: str  # "procedure", "technique" or "part"
    number: str
    revision: str
    method: str | None
    content: str
    sha256: str


@dataclass(frozen=True)
class Library:
    """Everything that was read, in the order of the file names."""

    procedures: tuple[Procedure, ...]
    techniques: tuple[Technique, ...]
    parts: tuple[PartMaster, ...]
    documents: tuple[Document, ...]


@dataclass(frozen=True)
class _Read(Generic[_Thing]):
    thing: _Thing
    table: Table
    document: Document


def document_from_text(
    kind: str, content: str, name: str, *, known_rules: Collection[str] = ALL_RULES
) -> Procedure | Technique | PartMaster:
    """One document of the book, decoded again; ``name`` stands for the file in messages."""
    if kind not in KINDS:
        raise ProcedureFileError(name, None, None, unknown_word(kind, KINDS, "kind of document"))
    table = root(content, name)
    if kind == "procedure":
        return read_procedure(table, known_rules)
    return read_technique(table) if kind == "technique" else read_part(table)


def load_library(folder: Path, *, known_rules: Collection[str] = ALL_RULES) -> Library:
    """Read ``<PROC>/rev-*.toml``, ``techniques/*.toml`` and ``parts/*.toml``.

    The first problem of any file, or between files, is raised as
    ProcedureFileError and nothing is returned.
    """
    if not folder.is_dir():
        raise ProcedureFileError(str(folder), None, None, "is not a folder; name the folder that holds the procedures")
    procedures = [_procedure(path, folder, known_rules) for path in _revisions(folder)]
    techniques = [_technique(path, folder) for path in _files(folder / "techniques")]
    parts = [_part(path, folder) for path in _files(folder / "parts")]
    if not (procedures or techniques or parts):
        raise ProcedureFileError(
            str(folder), None, None, "holds no procedure, technique or part; name the folder that holds them"
        )
    _check_procedures(procedures)
    _check_unique(techniques)
    _check_unique(parts)
    _check_techniques(techniques, procedures, parts)
    _check_parts(parts, techniques)
    return Library(
        tuple(read.thing for read in procedures),
        tuple(read.thing for read in techniques),
        tuple(read.thing for read in parts),
        tuple(read.document for group in (procedures, techniques, parts) for read in group),
    )


# --- reading --------------------------------------------------------------------------------------


def _revisions(folder: Path) -> Iterator[Path]:
    for inner in sorted(folder.iterdir()):
        if inner.is_dir() and inner.name not in ("techniques", "parts"):
            yield from sorted(inner.glob("rev-*.toml"))


def _files(folder: Path) -> list[Path]:
    return sorted(folder.glob("*.toml"))


def _open(path: Path, folder: Path) -> tuple[Table, str, str]:
    name = path.relative_to(folder).as_posix()
    text, content = read_text(path, name)
    return root(text, name), text, hashlib.sha256(content).hexdigest()


def _procedure(path: Path, folder: Path, known_rules: Collection[str]) -> _Read[Procedure]:
    table, text, digest = _open(path, folder)
    thing = read_procedure(table, known_rules)
    if path.parent.name != thing.number:
        raise table.refusal("number", f"{thing.number} lies in the folder {path.parent.name}; one of the two is wrong")
    if path.stem != f"rev-{thing.revision}":
        raise table.refusal("revision", f"{thing.revision} lies in the file {path.name}; one of the two is wrong")
    document = Document("procedure", thing.number, thing.revision, thing.method, text, digest)
    return _Read(thing, table, document)


def _technique(path: Path, folder: Path) -> _Read[Technique]:
    table, text, digest = _open(path, folder)
    thing = read_technique(table)
    document = Document("technique", thing.number, thing.revision, thing.method, text, digest)
    return _Read(thing, table, document)


def _part(path: Path, folder: Path) -> _Read[PartMaster]:
    table, text, digest = _open(path, folder)
    thing = read_part(table)
    return _Read(thing, table, Document("part", thing.number, table.text("revision"), None, text, digest))


# --- between files --------------------------------------------------------------------------------


def _check_procedures(procedures: list[_Read[Procedure]]) -> None:
    """No two revisions of one procedure in force on the same day."""
    in_order = sorted(procedures, key=lambda read: (read.thing.number, read.thing.effective_from))
    for earlier, later in pairwise(in_order):
        if earlier.thing.number != later.thing.number:
            continue
        if later.thing.effective_from <= (earlier.thing.effective_to or date.max):
            raise later.table.refusal(
                "effective_from",
                f"{later.thing.name} is in force from {later.thing.effective_from} while {earlier.thing.name} "
                f"still is; end {earlier.thing.name} with effective_to the day before",
            )


def _check_unique(documents: list[_Read[Technique]] | list[_Read[PartMaster]]) -> None:
    seen: set[str] = set()
    for read in documents:
        if read.thing.number in seen:
            raise read.table.refusal("number", f"{read.thing.number} is given by two files; take one out")
        seen.add(read.thing.number)


def _check_techniques(
    techniques: list[_Read[Technique]], procedures: list[_Read[Procedure]], parts: list[_Read[PartMaster]]
) -> None:
    masters = {read.thing.number: read.thing for read in parts}
    numbers = {read.thing.number for read in procedures}
    for read in techniques:
        technique, table = read.thing, read.table
        if technique.procedure not in numbers:
            problem = f"procedure {technique.procedure} is in no file{nearest(technique.procedure, numbers)}"
            raise table.refusal("procedure", problem)
        for procedure in (other.thing for other in procedures if other.thing.number == technique.procedure):
            _check_under(technique, procedure, table)
        for number in technique.applies_to:
            if number not in masters:
                raise table.refusal("applies_to", f"part {number} is in no file{nearest(number, masters)}")
            _check_zones(technique, masters[number], table)


def _check_under(technique: Technique, procedure: Procedure, table: Table) -> None:
    if technique.method != procedure.method:
        raise table.refusal(
            "procedure", f"{procedure.number} is a procedure for {procedure.method}, not {technique.method}"
        )
    crossed = min_above_max({**procedure.parameters, **technique.windows})
    if crossed is not None:
        key = next((key for key in crossed if key in technique.windows), crossed[0])
        raise table.refusal("windows", f"{key} leaves {crossed[0]} above {crossed[1]} under {procedure.name}")


def _check_zones(technique: Technique, part: PartMaster, table: Table) -> None:
    for key, zones in (("zones", technique.zones), ("forbidden_contact", technique.forbidden_contact)):
        for zone in zones:
            if part.zone(zone) is None:
                raise table.refusal(key, unknown_zone(zone, part))
    for entry, shot in zip(table.tables("shots"), technique.shots, strict=True):
        if shot.section is not None and part.section(shot.section) is None:
            known = [section.code for section in part.sections]
            raise entry.refusal("section", unknown_word(shot.section, known, f"section of {part.number}"))


def _check_parts(parts: list[_Read[PartMaster]], techniques: list[_Read[Technique]]) -> None:
    sheets = {read.thing.number: read.thing for read in techniques}
    numbers = {read.thing.number for read in parts}
    for read in parts:
        for entry, required in zip(read.table.tables("required"), read.thing.required, strict=True):
            _check_required(read.thing.number, required, sheets, entry)
        named = {
            point
            for sheet in sheets.values()
            if read.thing.number in sheet.applies_to
            for point in sheet.residual_points
        }
        for entry, point in zip(read.table.tables("reading_points"), read.thing.reading_points, strict=True):
            if point.name not in named:
                problem = (
                    f"{unknown_word(point.name, sorted(named), 'residual point')} of the sheets for {read.thing.number}"
                )
                raise entry.refusal("name", problem)
        for number in read.thing.similar_parts:
            if number not in numbers:
                raise read.table.refusal("similar_parts", f"part {number} is in no file{nearest(number, numbers)}")


def _check_required(part: str, required: RequiredMethod, sheets: dict[str, Technique], table: Table) -> None:
    technique = sheets.get(required.technique)
    if technique is None:
        problem = f"technique {required.technique} is in no file{nearest(required.technique, sheets)}"
        raise table.refusal("technique", problem)
    if technique.method != required.method:
        raise table.refusal("technique", f"{technique.number} is for {technique.method}, required is {required.method}")
    if part not in technique.applies_to:
        raise table.refusal("technique", f"{technique.number} does not apply to {part}; add it to its applies_to")
    for zone in required.zones:
        if zone not in technique.zones:
            raise table.refusal("zones", f"zone {zone} is not among the zones of {technique.number}")
