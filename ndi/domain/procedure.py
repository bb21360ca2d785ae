"""Procedure revisions, technique sheets and part masters: where every limit lives.

They are read from TOML files, adopted into the book with content and hash, and
pinned by a record at its first step.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property

from ndi.domain.answer import Severity
from ndi.domain.quantity import Number


@dataclass(frozen=True)
class Parameter:
    """A limit: number with unit, yes/no, or a word from a list, with its paragraph and source."""

    key: str
    value: Number | bool | str | tuple[str, ...]
    paragraph: str
    source: str
    tolerance_percent: Number | None = None


@dataclass(frozen=True)
class RuleSetting:
    """That a rule is asked, how severely, where the procedure says so, who may sign a deviation."""

    rule: str
    severity: Severity
    paragraph: str
    may_deviate: tuple[str, ...] = ()


@dataclass(frozen=True)
class Caution:
    """Shown before a step where the work can hurt somebody."""

    before: str
    text: str


@dataclass(frozen=True)
class Procedure:
    """One revision of one procedure."""

    number: str
    revision: str
    title: str
    method: str
    effective_from: date
    effective_to: date | None
    approved_by: str
    source_documents: tuple[str, ...]
    parameters: Mapping[str, Parameter]
    rules: Mapping[str, RuleSetting]
    second_person_for: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()

    @property
    def name(self) -> str:
        return f"{self.number} Rev {self.revision}"

    @cached_property
    def cited(self) -> Mapping[str, str]:
        """By rule: procedure, revision and paragraph that ask it."""
        return {rule: f"{self.name}, {setting.paragraph}" for rule, setting in self.rules.items()}


@dataclass(frozen=True)
class ZoneField:
    """In which direction a shot puts its field into one zone, in degrees on the surface from the part's axis."""

    zone: str
    direction: Number


@dataclass(frozen=True)
class NominalShot:
    """A shot that the technique asks for.

    ``kind`` is ``head``, ``bar``, ``coil`` or ``between heads``; ``direction``
    ``circular`` or ``longitudinal``; ``group`` names shots that may be fired
    before one common view.  ``section`` names the stretch of the part master
    that a coil or bar works on, ``fill`` the fill class that the coil's formula
    was chosen for.  ``conductor`` is the diameter of a bar, ``offset`` says that it
    lies against the bore, at ``rotations`` places one after the other (None: one).
    """

    shot: int
    kind: str
    direction: str
    amps: Number
    current_type: str
    bath_mode: str
    pulses: int
    turns: int | None = None
    position: Number | None = None
    group: str | None = None
    demag_before: bool = False
    fields: tuple[ZoneField, ...] = ()
    section: str | None = None
    fill: str | None = None
    conductor: Number | None = None
    offset: bool = False
    rotations: int | None = None


@dataclass(frozen=True)
class Technique:
    """How one family of parts is inspected under one procedure."""

    number: str
    revision: str
    method: str
    procedure: str
    applies_to: tuple[str, ...]
    effective_from: date
    approved_by: str
    zones: tuple[str, ...]  # in viewing order
    post_process: tuple[str, ...] = ()
    plugs: int = 0
    expected_view_min: Number | None = None
    needs_authorisation: bool = False
    coating_max: Number | None = None
    uv_at_part: tuple[str, ...] = ()  # zones on whose surface UV-A is read in the view
    white_light: bool = False  # the part is also looked at under white light
    # MT
    shots: tuple[NominalShot, ...] = ()
    residual_points: tuple[str, ...] = ()
    forbidden_contact: tuple[str, ...] = ()
    field_points: tuple[str, ...] = ()  # where a shim (QQI) or a Hall probe has to show the field
    basis: str = ""
    # PT
    type: str | None = None
    pt_method: str | None = None
    sensitivity: str | None = None
    developer_form: str | None = None
    windows: Mapping[str, Parameter] = field(default_factory=dict)  # override the procedure's value of the same key

    @property
    def name(self) -> str:
        return f"{self.number} Rev {self.revision}"


@dataclass(frozen=True)
class ZoneLimit:
    """The limit of one zone for one kind of indication; ``max_length`` None means none allowed."""

    form: str  # linear, rounded, any
    max_length: Number | None
    reference: str
    blend_depth: Number | None = None  # may be blended out to this depth
    discontinuity: str | None = None  # only for this type of discontinuity


@dataclass(frozen=True)
class Zone:
    """A zone of the outline: polygon in millimetres, material, limits."""

    code: str
    name: str
    material: str
    ferromagnetic: bool
    polygon: tuple[tuple[Number, Number], ...]
    limits: tuple[ZoneLimit, ...] = ()  # empty: no limit in the data, hold for engineering


@dataclass(frozen=True)
class Section:
    """A stretch of the part as a coil or a bar meets it; ``id`` None: solid there."""

    code: str
    length: Number
    od: Number
    id: Number | None = None


@dataclass(frozen=True)
class RequiredMethod:
    """A zone group that must have an accepted inspection by this method before the part is accepted."""

    group: str
    method: str
    technique: str
    zones: tuple[str, ...]


@dataclass(frozen=True)
class ReadingPoint:
    """Where on the outline a residual field point of a technique sheet lies: ``name`` as the sheet says, mm."""

    name: str
    x: Number
    y: Number


@dataclass(frozen=True)
class PartMaster:
    """One part number."""

    number: str
    description: str
    item_class: int
    serialised: bool
    models: tuple[str, ...]
    required: tuple[RequiredMethod, ...]
    zones: tuple[Zone, ...]
    outline: tuple[tuple[Number, Number], ...] = ()
    datum: str = ""
    clock_reference: str = ""
    alloy: str | None = None
    similar_parts: tuple[str, ...] = ()
    coating: Number | None = None
    sections: tuple[Section, ...] = ()
    reading_points: tuple[ReadingPoint, ...] = ()

    def section(self, code: str) -> Section | None:
        """The section of this code, or None."""
        return next((section for section in self.sections if section.code == code), None)

    def zone(self, code: str) -> Zone | None:
        """The zone of this code, or None."""
        return next((zone for zone in self.zones if zone.code == code), None)
