"""Facts to bodies and back: plain dictionaries of strings, integers, booleans, lists.

Bodies hold no floats; numbers stay as typed with their unit; times are
``YYYY-MM-DDTHH:MM:SS.ffffffZ`` plus ``offset_min``; absent fields are left out.
"""

from __future__ import annotations

import dataclasses
import re
import types
import typing
from collections.abc import Callable
from datetime import UTC, date, datetime
from functools import cache
from typing import Any

from ndi.domain.errors import InputError
from ndi.domain.facts import KINDS, Fact
from ndi.domain.moment import Moment, Precision
from ndi.domain.quantity import Number

_UTC_TEXT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{6}Z\Z", re.ASCII)


def utc_text(at: datetime) -> str:
    """``2026-03-10T12:35:00.000000Z``."""
    if at.tzinfo is not UTC:
        at = at.astimezone(UTC)
    return at.isoformat(timespec="microseconds")[: -len("+00:00")] + "Z"


def utc_from_text(text: str) -> datetime:
    """The inverse of :func:`utc_text`; ValueError for any other way of writing a time."""
    if not _UTC_TEXT.match(text):
        raise ValueError(f"{text!r} is not a time like 2026-03-10T12:35:00.000000Z")
    return datetime.fromisoformat(text)


def _encode(value: Any) -> Any:
    if value is None or isinstance(value, (str, bool, int)):
        return value
    if isinstance(value, Number):
        return {"typed": value.typed, "unit": value.unit}
    if isinstance(value, Moment):
        body = {"at": utc_text(value.at), "offset_min": value.offset_min}
        if value.precision is not Precision.SECOND:
            body["precision"] = str(value.precision)
        return body
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, tuple):
        return [_encode(item) for item in value]
    if dataclasses.is_dataclass(value):
        return body_of(value)
    raise InputError(f"{value!r} cannot be kept in the book: use text, whole numbers, yes/no, Number or Moment")


@cache
def _field_names(cls: type[Any]) -> tuple[str, ...]:
    return tuple(f.name for f in dataclasses.fields(cls))


def body_of(fact: Any) -> dict[str, Any]:
    """The body of a fact (or of a dataclass inside one); absent fields are left out."""
    body = {}
    for name in _field_names(fact.__class__):
        value = getattr(fact, name)
        if value is not None:
            body[name] = _encode(value)
    return body


def _decoder(hint: Any) -> Callable[[Any], Any] | None:
    if typing.get_origin(hint) in (types.UnionType, typing.Union):
        inner = next(arg for arg in typing.get_args(hint) if arg is not type(None))
        return _decoder(inner)
    if typing.get_origin(hint) is tuple:
        item = _decoder(typing.get_args(hint)[0])
        return tuple if item is None else lambda value: tuple([item(each) for each in value])
    if hint is Number:
        return lambda value: Number(value["typed"], value["unit"])
    if hint is Moment:
        return lambda value: Moment(
            utc_from_text(value["at"]), value["offset_min"], Precision(value.get("precision", "s"))
        )
    if hint is date:
        return date.fromisoformat
    if isinstance(hint, type) and dataclasses.is_dataclass(hint):
        return lambda value: _build(hint, value)
    return None


@dataclasses.dataclass(frozen=True, slots=True)
class _Field:
    """How a field of a fact is read from a body; ``needed``: no default, and never absent."""

    name: str
    decode: Callable[[Any], Any] | None  # None: as it stands
    default: Any
    needed: bool


@cache
def _fields(cls: type) -> tuple[_Field, ...]:
    hints = typing.get_type_hints(cls)
    found = []
    for field in dataclasses.fields(cls):
        hint, missing = hints[field.name], field.default is dataclasses.MISSING
        needed = missing and type(None) not in typing.get_args(hint)
        found.append(_Field(field.name, _decoder(hint), None if missing else field.default, needed))
    return tuple(found)


def _build(cls: type, body: dict[str, Any]) -> Any:
    values = []
    for field in _fields(cls):
        raw = body.get(field.name)
        if raw is None:
            if field.needed:
                raise InputError(f"a body of {cls.__name__} without {field.name} cannot be read: verify the book")
            values.append(field.default)
        else:
            values.append(raw if field.decode is None else field.decode(raw))
    return cls(*values)


def fact_from_body(kind: str, body: dict[str, Any]) -> Fact:
    """The fact that a body of this kind stands for; InputError for an unknown kind or a body without what it must hold."""
    cls = KINDS.get(kind)
    if cls is None:
        raise InputError(f"entries of kind {kind!r} are not known to this program; use a newer one to read this book")
    fact: Fact = _build(cls, body)
    return fact
