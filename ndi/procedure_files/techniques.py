"""Technique files: how one family of parts is inspected, TOML text to :class:`Technique`."""

from __future__ import annotations

from ndi.domain.procedure import NominalShot, Technique, ZoneField
from ndi.domain.quantity import Number
from ndi.procedure_files.parameters import read_parameters
from ndi.procedure_files.tables import QUOTED, Table, bare_number, root
from ndi.procedure_files.words import (
    BATH_MODES,
    CURRENT_TYPES,
    DEVELOPER_FORMS,
    DIRECTIONS,
    FILLS,
    METHODS,
    PENETRANT_METHODS,
    PENETRANT_TYPES,
    POST_PROCESS,
    SENSITIVITIES,
    SHOT_KINDS,
)

_COMMON = (
    "number",
    "revision",
    "method",
    "procedure",
    "applies_to",
    "effective_from",
    "approved_by",
    "zones",
    "post_process",
    "plugs",
    "expected_view_min",
    "needs_authorisation",
    "coating_max",
    "uv_at_part",
    "white_light",
    "windows",
)
_MT = ("shots", "residual_points", "forbidden_contact", "field_points", "basis")
_PT = ("type", "pt_method", "sensitivity", "developer_form")
_SHOT = (
    "shot",
    "kind",
    "direction",
    "amps",
    "current_type",
    "bath_mode",
    "pulses",
    "turns",
    "position",
    "group",
    "demag_before",
    "fields",
    "section",
    "fill",
    "conductor",
    "offset",
    "rotations",
)
# keys that only shots of certain kinds have
_ONLY = {
    "turns": ("coil",),
    "fill": ("coil",),
    "conductor": ("bar",),
    "offset": ("bar",),
    "rotations": ("bar",),
    "section": ("coil", "bar"),
}
# what a bench can be asked for at all; typing errors lie outside
_AMPS = (100, 6000)
_TURNS = (1, 10)
_PULSES = (1, 20)
_PLUGS = (0, 40)
_RESIDUAL_POINTS = 12
_ROTATIONS = (1, 40)


def load_technique(text: str, file: str) -> Technique:
    """Read one technique sheet; ProcedureFileError names file, line and key of the first problem."""
    return read_technique(root(text, file))


def read_technique(table: Table) -> Technique:
    table.only((*_COMMON, *_MT, *_PT))
    method = table.choice("method", METHODS)
    for key in _PT if method == "MT" else _MT:
        if key in table:
            raise table.refusal(key, f"does not belong to a technique of method {method}; take it out")
    zones = table.words("zones", least=1)
    shots = _shots(table, zones) if method == "MT" else ()
    points = table.words("residual_points", least=1) if method == "MT" else ()
    if len(points) > _RESIDUAL_POINTS:
        raise table.refusal("residual_points", f"has {len(points)} points, the most is {_RESIDUAL_POINTS}")
    penetrant = method == "PT"
    return Technique(
        number=table.text("number"),
        revision=table.text("revision"),
        method=method,
        procedure=table.text("procedure"),
        applies_to=table.words("applies_to", least=1),
        effective_from=table.day("effective_from"),
        approved_by=table.text("approved_by", empty=True),
        zones=zones,
        post_process=table.words("post_process", known=POST_PROCESS),
        plugs=table.count("plugs", *_PLUGS, default=0),
        expected_view_min=_expected_view(table),
        needs_authorisation=table.yes_no("needs_authorisation", default=False),
        coating_max=table.optional_measure("coating_max", "in", zero=True),
        uv_at_part=table.words("uv_at_part", known=zones, what="zone of this technique"),
        white_light=table.yes_no("white_light", default=False),
        shots=shots,
        residual_points=points,
        forbidden_contact=table.words("forbidden_contact"),
        field_points=table.words("field_points"),
        basis=table.optional_text("basis") or "",
        type=table.choice("type", PENETRANT_TYPES) if penetrant else None,
        pt_method=table.choice("pt_method", PENETRANT_METHODS) if penetrant else None,
        sensitivity=table.choice("sensitivity", SENSITIVITIES) if penetrant else None,
        developer_form=table.choice("developer_form", DEVELOPER_FORMS) if penetrant else None,
        windows=read_parameters(table.optional_table("windows")),
    )


def _expected_view(table: Table) -> Number | None:
    """Minutes per piece; the unit stands in the key's name."""
    key = "expected_view_min"
    if key not in table or table.value(key) == "":
        return None
    if not isinstance(table.value(key), str):
        raise table.refusal(key, bare_number(table.value(key), "5.6"))
    typed = table.text(key)
    if " " in typed.strip():
        raise table.refusal(key, f"is in minutes, without a unit; {QUOTED.format('5.6')}")
    number = table.number(key, typed, "min", "min")
    table.above_zero(key, number)
    return number


def _shots(table: Table, zones: tuple[str, ...]) -> tuple[NominalShot, ...]:
    entries = table.tables("shots")
    if not entries:
        raise table.refusal("shots", "is missing; a technique of method MT needs at least one [[shots]]")
    shots: list[NominalShot] = []
    for entry in entries:
        shot = _shot(entry, zones)
        if any(shot.shot == earlier.shot for earlier in shots):
            raise entry.refusal("shot", f"shot {shot.shot} stands here twice; number the shots 1, 2, 3 ...")
        shots.append(shot)
    return tuple(shots)


def _shot(table: Table, zones: tuple[str, ...]) -> NominalShot:
    table.only(_SHOT)
    kind = table.choice("kind", SHOT_KINDS)
    for key, kinds in _ONLY.items():
        if key in table and kind not in kinds:
            raise table.refusal(key, f"only a {' or '.join(kinds)} shot has {key}, this is a {kind} shot; take it out")
    offset = table.yes_no("offset", default=False)
    if "rotations" in table and not offset:
        raise table.refusal("rotations", "only an offset bar is put at several places; write offset = true")
    return NominalShot(
        shot=table.count("shot", 1, 99),
        kind=kind,
        direction=table.choice("direction", DIRECTIONS),
        amps=_amps(table),
        current_type=table.choice("current_type", CURRENT_TYPES),
        bath_mode=table.choice("bath_mode", BATH_MODES),
        pulses=table.count("pulses", *_PULSES),
        turns=table.count("turns", *_TURNS) if kind == "coil" else None,
        position=table.optional_measure("position", "in", zero=True),
        group=table.optional_text("group"),
        demag_before=table.yes_no("demag_before", default=False),
        fields=_fields(table.optional_table("fields"), zones),
        section=table.optional_text("section"),
        fill=table.choice("fill", FILLS) if "fill" in table else None,
        conductor=table.optional_measure("conductor", "in"),
        offset=offset,
        rotations=table.count("rotations", *_ROTATIONS) if "rotations" in table else None,
    )


def _fields(table: Table | None, zones: tuple[str, ...]) -> tuple[ZoneField, ...]:
    """``fields = { "BODY" = "90 deg" }``: the direction of the shot's field in each zone that it reaches."""
    if table is None:
        return ()
    table.only(zones, "zone of this technique")
    return tuple(ZoneField(zone, table.measure(zone, "deg", zero=True)) for zone in table.names())


def _amps(table: Table) -> Number:
    amps = table.measure("amps", "A")
    least, most = _AMPS
    if not least <= amps.in_unit("A") <= most:
        raise table.refusal("amps", f"{amps} is not within {least} to {most} A; look at the digits and the unit")
    return amps
