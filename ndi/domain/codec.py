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
    return at.astimezone(UTC).replace(tzinfo=None).isoformat(timespec="microseconds") + "Z"


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


def _decoder(hint: Any) -> Callable[[Any], Any]:
    if typing.get_origin(hint) in (types.UnionType, typing.Union):
        inner = next(arg for arg in typing.get_args(hint) if arg is not type(None))
        return _decoder(inner)
    if typing.get_origin(hint) is tuple:
        item = _decoder(typing.get_args(hint)[0])
        return lambda value: tuple(item(each) for each in value)
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
    return lambda value: value


@cache
def _decoders(cls: type) -> dict[str, Callable[[Any], Any]]:
    hints = typing.get_type_hints(cls)
    return {name: _decoder(hints[name]) for name in _field_names(cls)}


@cache
def _required(cls: type) -> tuple[str, ...]:
    """Fields that every body of the class holds: no default, and never absent."""
    hints = typing.get_type_hints(cls)
    without_default = [f.name for f in dataclasses.fields(cls) if f.default is dataclasses.MISSING]
    return tuple(name for name in without_default if type(None) not in typing.get_args(hints[name]))


def _build(cls: type, body: dict[str, Any]) -> Any:
    decoders = _decoders(cls)
    values = {}
    for name, decode in decoders.items():
        raw = body.get(name)
        values[name] = None if raw is None else decode(raw)
    for field in dataclasses.fields(cls):
        if values[field.name] is None and field.default is not dataclasses.MISSING:
            values[field.name] = field.default
    for name in _required(cls):
        if values[name] is None:
            raise InputError(f"a body of {cls.__name__} without {name} cannot be read: verify the book")
    return cls(**values)


def fact_from_body(kind: str, body: dict[str, Any]) -> Fact:
    """The fact that a body of this kind stands for; InputError for an unknown kind or a body without what it must hold."""
    cls = KINDS.get(kind)
    if cls is None:
        raise InputError(f"entries of kind {kind!r} are not known to this program; use a newer one to read this book")
    fact: Fact = _build(cls, body)
    return fact
