"""Part files: outline, zones with material and limits, required methods; TOML text to :class:`PartMaster`."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from ndi.domain.procedure import PartMaster, ReadingPoint, RequiredMethod, Section, Zone, ZoneLimit
from ndi.domain.quantity import Number
from ndi.procedure_files.tables import Table, root, unknown_word
from ndi.procedure_files.words import LIMIT_FORMS, METHODS

_KEYS = (
    "number",
    "revision",
    "description",
    "item_class",
    "serialised",
    "models",
    "alloy",
    "coating",
    "similar_parts",
    "datum",
    "clock_reference",
    "outline",
    "reading_points",
    "required",
    "sections",
    "zones",
)
_LIMIT = ("form", "max_length", "reference", "blend_depth", "discontinuity")


def load_part(text: str, file: str) -> PartMaster:
    """Read one part master; ProcedureFileError names file, line and key of the first problem."""
    return read_part(root(text, file))


def read_part(table: Table) -> PartMaster:
    table.only(_KEYS)
    table.text("revision")  # kept with the document, not in the part master
    zones = _zones(table)
    return PartMaster(
        number=table.text("number"),
        description=table.text("description"),
        item_class=table.count("item_class", 1, 3),
        serialised=table.yes_no("serialised"),
        models=table.words("models", least=1),
        required=tuple(_required(entry, zones) for entry in table.tables("required")),
        zones=zones,
        outline=_polygon(table, "outline") if "outline" in table else (),
        datum=table.optional_text("datum") or "",
        clock_reference=table.optional_text("clock_reference") or "",
        alloy=table.optional_text("alloy"),
        similar_parts=table.words("similar_parts"),
        coating=table.optional_measure("coating", "in", zero=True),
        sections=_sections(table),
        reading_points=_reading_points(table),
    )


def _reading_points(table: Table) -> tuple[ReadingPoint, ...]:
    """Places on the outline for the residual field points that the technique sheets name; none is no mistake."""
    points: list[ReadingPoint] = []
    for entry in table.tables("reading_points"):
        entry.only(("name", "at"))
        name, (x, y) = entry.text("name"), entry.point("at")
        if any(name == earlier.name for earlier in points):
            raise entry.refusal("name", f"point {name} stands here twice; give each its own name")
        points.append(ReadingPoint(name, x, y))
    return tuple(points)


def _sections(table: Table) -> tuple[Section, ...]:
    """Length and diameters of the stretches that coils and bars work on; a part without them has none."""
    sections: list[Section] = []
    for entry in table.tables("sections"):
        entry.only(("code", "length", "od", "id"))
        section = Section(
            entry.text("code"),
            entry.measure("length", "in"),
            entry.measure("od", "in"),
            entry.optional_measure("id", "in"),
        )
        if any(section.code == earlier.code for earlier in sections):
            raise entry.refusal("code", f"section {section.code} stands here twice; give each its own code")
        if section.id is not None and section.id.in_unit("in") >= section.od.in_unit("in"):
            raise entry.refusal("id", f"{section.id} is not below od, {section.od}")
        sections.append(section)
    return tuple(sections)


def _zones(table: Table) -> tuple[Zone, ...]:
    entries = table.tables("zones")
    if not entries:
        raise table.refusal("zones", "is missing; a part needs at least one [[zones]]")
    zones: list[Zone] = []
    for entry in entries:
        zone = _zone(entry)
        if any(zone.code == earlier.code for earlier in zones):
            raise entry.refusal("code", f"zone {zone.code} stands here twice; give each its own code")
        zones.append(zone)
    return tuple(zones)


def _zone(table: Table) -> Zone:
    table.only(("code", "name", "material", "ferromagnetic", "polygon", "limits"))
    table.value("limits")  # an empty list says "no limit in the data"; a forgotten line must not
    return Zone(
        code=table.text("code"),
        name=table.text("name"),
        material=table.text("material"),
        ferromagnetic=table.yes_no("ferromagnetic"),
        polygon=_polygon(table, "polygon"),
        limits=tuple(_limit(entry) for entry in table.tables("limits")),
    )


def _limit(table: Table) -> ZoneLimit:
    """``max_length`` absent or empty: none allowed."""
    table.only(_LIMIT)
    return ZoneLimit(
        form=table.choice("form", LIMIT_FORMS),
        max_length=table.optional_measure("max_length", "in"),
        reference=table.text("reference"),
        blend_depth=table.optional_measure("blend_depth", "in"),
        discontinuity=table.optional_text("discontinuity"),
    )


def _required(table: Table, zones: Sequence[Zone]) -> RequiredMethod:
    table.only(("group", "method", "technique", "zones"))
    method = table.choice("method", METHODS)
    codes = tuple(zone.code for zone in zones)
    wanted = table.words("zones", known=codes, least=1, what="zone of this part")
    for zone in zones:
        if method == "MT" and zone.code in wanted and not zone.ferromagnetic:
            raise table.refusal("zones", f"zone {zone.code} is {zone.material}: MT cannot be used there")
    return RequiredMethod(table.text("group"), method, table.text("technique"), wanted)


def _polygon(table: Table, key: str) -> tuple[tuple[Number, Number], ...]:
    corners = table.points(key, 3)
    if _double_area(corners) == 0:
        raise table.refusal(key, "encloses no area; look at the corners")
    return corners


def _double_area(corners: Sequence[tuple[Number, Number]]) -> Fraction:
    following = (*corners[1:], corners[0])
    return sum(
        (
            x.value * next_y.value - next_x.value * y.value
            for (x, y), (next_x, next_y) in zip(corners, following, strict=True)
        ),
        Fraction(0),
    )


def unknown_zone(zone: str, part: PartMaster) -> str:
    """The problem text for a zone that a part does not have."""
    return unknown_word(zone, [known.code for known in part.zones], f"zone of {part.number}")
