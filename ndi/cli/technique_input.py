"""Reads what a technique is drafted from: dimensions of the part and what the bench has, TOML or JSON.

Numbers are plain numbers, kept exactly as typed; units stand in the names of the keys.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from pathlib import Path

from ndi.calc import coil, published
from ndi.calc.computations.inputs import BadInput, Inputs, Literal, read
from ndi.calc.technique_draft import BAR, COIL, HEAD, Bar, Coil, Part, Section
from ndi.domain.errors import InputError

NEEDED = ("number", "procedure", "applies_to", "effective_from", "current_type", "pulses", "length_in", "sections")
OPTIONAL = (
    "revision",
    "amps_per_in_min",
    "amps_per_in_max",
    "head_shot",
    "coil",
    "bars",
    "maker",
    "length_to_diameter_floor",
    "bench_amps_max",
    "bath_mode",
    "master_section",
    "forbidden_contact",
    "residual_points",
    "post_process",
    "plugs",
    "needs_authorisation",
)
_SECTION = ("zone", "from_in", "to_in", "od_in", "id_in")
_COIL = ("diameter_in", "turns", "position")
_BAR = ("diameter_in", "placed")
_KINDS = (HEAD, BAR, COIL)
_CURRENT_TYPES = ("FWDC", "HWDC", "AC")
_BATH_MODES = ("continuous", "residual")
_PULSES_MOST, _PLUGS_MOST = 20, 40


@dataclass(frozen=True)
class Sheet:
    """What the draft needs besides the part's dimensions."""

    number: str
    revision: str
    procedure: str
    applies_to: tuple[str, ...]
    effective_from: date
    current_type: str
    bath_mode: str
    pulses: int
    plugs: int
    needs_authorisation: bool
    forbidden_contact: tuple[str, ...]
    residual_points: tuple[str, ...]
    post_process: tuple[str, ...]
    amps_per_in_source: str
    master_section: str  # stretch of the part master that coil and bar work on; "" if not named


def read_file(path: Path) -> tuple[Part, Sheet]:
    """The part and the rest of the sheet; InputError names the file and the key that is wrong."""
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"{path} cannot be read ({error}); name a TOML or JSON file of dimensions") from None
    try:
        return _understood(Inputs(_toml(text) if path.suffix.lower() == ".toml" else read(text)))
    except InputError as error:
        raise InputError(f"{path}: {error}") from error


def _toml(text: str) -> dict[str, object]:
    try:
        found = tomllib.loads(text, parse_float=_Exact)
    except tomllib.TOMLDecodeError as error:
        raise BadInput("", f"not TOML ({error})") from None
    return {key: _plain(value) for key, value in found.items()}


class _Exact(str):
    """A TOML number as typed."""


def _plain(value: object) -> object:
    """TOML's values as JSON's: numbers as literals, days as text."""
    if isinstance(value, _Exact):
        return Literal(str(value).replace("_", "").lstrip("+").replace("inf", "Infinity").replace("nan", "NaN"))
    if isinstance(value, int) and not isinstance(value, bool):
        return Literal(str(value))
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_plain(item) for item in value]
    return value if isinstance(value, (str, bool)) else str(value)


def _understood(inputs: Inputs) -> tuple[Part, Sheet]:
    inputs.only(NEEDED, OPTIONAL)
    low, high, whence = _amps_per_in(inputs)
    floor = published.LENGTH_TO_DIAMETER_FLOOR.value
    part = Part(
        length=inputs.number("length_in", above=0),
        sections=tuple(_section(item) for item in inputs.objects("sections")),
        amps_per_in=(low, high),
        is_head_shot_allowed=inputs.flag("head_shot") if inputs.has("head_shot") else True,
        coil=_coil(inputs),
        bars=tuple(_bar(item) for item in inputs.objects("bars")) if inputs.has("bars") else (),
        maker=_maker(inputs),
        floor=inputs.number("length_to_diameter_floor", above=0) if inputs.has("length_to_diameter_floor") else floor,
        bench_amps_max=inputs.number("bench_amps_max", above=0) if inputs.has("bench_amps_max") else None,
    )
    return part, _sheet(inputs, whence)


def _sheet(inputs: Inputs, whence: str) -> Sheet:
    def texts(key: str, default: tuple[str, ...] = ()) -> tuple[str, ...]:
        return tuple(inputs.texts(key)) if inputs.has(key) else default

    if not inputs.texts("applies_to"):
        raise BadInput("applies_to", "no part numbers; give at least one")
    return Sheet(
        number=inputs.text("number"),
        revision=inputs.text("revision") if inputs.has("revision") else "1",
        procedure=inputs.text("procedure"),
        applies_to=texts("applies_to"),
        effective_from=inputs.day("effective_from"),
        current_type=inputs.word("current_type", _CURRENT_TYPES),
        bath_mode=inputs.word("bath_mode", _BATH_MODES) if inputs.has("bath_mode") else _BATH_MODES[0],
        pulses=_count(inputs, "pulses", 1, _PULSES_MOST),
        plugs=_count(inputs, "plugs", 0, _PLUGS_MOST) if inputs.has("plugs") else 0,
        needs_authorisation=inputs.flag("needs_authorisation") if inputs.has("needs_authorisation") else True,
        forbidden_contact=texts("forbidden_contact"),
        residual_points=texts("residual_points", ("first end", "middle", "last end")),
        post_process=texts("post_process", ("demag", "clean", "dry", "preserve")),
        amps_per_in_source=whence,
        master_section=inputs.text("master_section") if inputs.has("master_section") else "",
    )


def _count(inputs: Inputs, key: str, least: int, most: int) -> int:
    value = inputs.whole(key, least=least)
    if value > most:
        raise BadInput(key, f"{value} is not possible; it must not be above {most}")
    return value


def _amps_per_in(inputs: Inputs) -> tuple[Fraction, Fraction, str]:
    keys = ("amps_per_in_min", "amps_per_in_max")
    given = [key for key in keys if inputs.has(key)]
    if not given:
        return (
            published.AMPS_PER_IN_MIN.value,
            published.AMPS_PER_IN_MAX.value,
            "published default, not the procedure's",
        )
    if len(given) == 1:
        missing = next(key for key in keys if key not in given)
        raise BadInput(missing, f"this key is missing; give it together with {given[0]}, or leave out both")
    low, high = (inputs.number(key, above=0) for key in keys)
    if low > high:
        raise BadInput(keys[0], "it is above amps_per_in_max; swap or correct them")
    return low, high, "as given"


def _section(item: Inputs) -> Section:
    item.only(_SECTION[:-1], _SECTION[-1:])
    return Section(
        zone=item.text("zone"),
        start=item.number("from_in", least=0),
        end=item.number("to_in", above=0),
        od=item.number("od_in", above=0),
        id=item.number("id_in", least=0) if item.has("id_in") else Fraction(0),
    )


def _coil(inputs: Inputs) -> Coil | None:
    if not inputs.has("coil"):
        return None
    item = inputs.object("coil")
    item.only(_COIL)
    turns = item.whole("turns", least=1)
    return Coil(item.number("diameter_in", above=0), turns, item.word("position", coil.POSITIONS))


def _bar(item: Inputs) -> Bar:
    item.only(_BAR)
    return Bar(item.number("diameter_in", above=0), item.word("placed", ("centred", "offset")))


def _maker(inputs: Inputs) -> dict[str, Fraction]:
    if not inputs.has("maker"):
        return {}
    item = inputs.object("maker")
    item.only((), tuple(f"{kind}_a" for kind in _KINDS))
    return {kind: item.number(f"{kind}_a", above=0) for kind in _KINDS if item.has(f"{kind}_a")}
