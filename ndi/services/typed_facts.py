"""Keys and values as a person types them, made into a fact: what a kind's keys are is read off its dataclass.

Texts come from a command line (``amps="1200 A"``), values also from JSON.  What
is wrong is said in one message that names the key and the nearest right word.
"""

from __future__ import annotations

import dataclasses
import re
import types
import typing
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, timezone
from difflib import get_close_matches
from typing import Any

from ndi.domain.errors import InputError
from ndi.domain.moment import Moment, Precision
from ndi.domain.quantity import Number, dimension, known_units

JOINED, INSIDE = "+", ":"  # several values of one key; the parts of one value
_NUMBER = re.compile(r"(?P<typed>[+-]?[0-9.]+)(?![0-9.])\s*(?P<unit>\S.*)\Z", re.ASCII)
_AT = re.compile(r"(?:(?P<day>\d{4}-\d\d-\d\d)[ T])?(?P<clock>\d\d:\d\d(?::\d\d)?)\Z", re.ASCII)
_YES_NO = {"yes": True, "no": False}


@dataclass(frozen=True)
class Key:
    """One key of a kind.  ``measure``: the dimension of its unit; ``parts``: of a value that has several."""

    name: str
    kind: type
    needed: bool
    many: bool
    measure: str | None = None
    words: tuple[str, ...] = ()
    parts: tuple[Key, ...] = ()

    @property
    def form(self) -> str:
        """How a value is written, for a person."""
        if self.parts:
            one = INSIDE.join(part.name for part in self.parts)
            units = "; ".join(f"{part.name}: {part.form}" for part in self.parts)
            return f"{one} ({units}), several joined by {JOINED}"
        one = _FORMS.get(self.kind, "text")
        if self.words:
            one = " | ".join(self.words)
        elif self.kind is Number and self.measure:
            one = f"number and unit ({', '.join(units_of(self.measure))})"
        return f"{one}, several joined by {JOINED}" if self.many else one


_FORMS: dict[type, str] = {
    int: "whole number",
    bool: "yes | no",
    date: "YYYY-MM-DD",
    Number: "number and unit",
    Moment: "HH:MM[:SS] of today, or YYYY-MM-DD HH:MM[:SS]",
}


def units_of(measure: str) -> tuple[str, ...]:
    """The units of a dimension."""
    return tuple(unit for unit in known_units() if dimension(unit) == measure)


def keys_of(
    cls: type, *, hidden: Iterable[str] = (), words: Mapping[str, Sequence[str]] = {}, measures: Mapping[str, str] = {}
) -> tuple[Key, ...]:
    """The keys of a dataclass in its own order; ``hidden`` ones are never typed, nor is what has no form as text."""
    hints, left_out = typing.get_type_hints(cls), set(hidden)
    found = []
    for each in dataclasses.fields(cls):
        if each.name in left_out:
            continue
        kind, optional, many = _kind_of(hints[each.name])
        if not _is_typed(kind):
            continue  # drawn, not typed
        parts = keys_of(kind, measures=measures) if dataclasses.is_dataclass(kind) and kind not in _FORMS else ()
        needed = each.default is dataclasses.MISSING and not optional
        allowed = tuple(str(word) for word in words.get(each.name, ()))
        found.append(Key(each.name, kind, needed, many, measures.get(each.name), allowed, parts))
    return tuple(found)


def _is_typed(kind: Any) -> bool:
    """Whether a person can type a value of this type; a dataclass when every part of it can be."""
    if dataclasses.is_dataclass(kind) and kind not in _FORMS:
        return all(_is_typed(_kind_of(hint)[0]) for hint in typing.get_type_hints(kind).values())
    return kind is str or kind in _FORMS


def _kind_of(hint: Any) -> tuple[type, bool, bool]:
    """The bare type of a field, whether it may be absent, whether it holds several."""
    optional = False
    if typing.get_origin(hint) in (types.UnionType, typing.Union):
        (hint,) = (arg for arg in typing.get_args(hint) if arg is not type(None))
        optional = True
    if typing.get_origin(hint) is tuple:
        return typing.get_args(hint)[0], optional, True
    return hint, optional, False


# --- from what was typed to a fact ----------------------------------------------------------------


def pairs(words: Sequence[str]) -> dict[str, list[str]]:
    """``key=value`` words; a key that comes again adds a value."""
    found: dict[str, list[str]] = {}
    for word in words:
        key, equals, value = word.partition("=")
        if not equals or not key.strip():
            raise InputError(f"{word!r} is no key=value: quote a value that holds a space, like amps='1200 A'")
        found.setdefault(key.strip(), []).append(value.strip())
    return found


def unknown(word: str, known: Sequence[str], what: str) -> str:
    """The message for a word that is not in a list, with the nearest that is."""
    near = get_close_matches(word, known, 1, 0.5)
    return (
        f"{what} {word!r} is not known; nearest is {near[0]!r}"
        if near
        else f"{what} {word!r} is none of {', '.join(known)}"
    )


def values_of(keys: Sequence[Key], given: Mapping[str, Any], now: Moment) -> dict[str, Any]:
    """What was typed as values of the fields; empty ones are left out."""
    by_name = {key.name: key for key in keys}
    found: dict[str, Any] = {}
    for name, typed in given.items():
        if name not in by_name:
            raise InputError(unknown(name, list(by_name), "key"))
        value = _value(by_name[name], typed, now)
        if value is not None:
            found[name] = value
    return found


def build(cls: type[Any], keys: Sequence[Key], values: Mapping[str, Any]) -> Any:
    """The fact (or the part of one); InputError names every key that is missing."""
    missing = [key for key in keys if key.needed and key.name not in values]
    if missing:
        raise InputError("missing: " + "; ".join(f"{key.name} ({key.form})" for key in missing))
    absent = {f.name: None for f in dataclasses.fields(cls) if f.default is dataclasses.MISSING}
    return cls(**{**absent, **values})


def _value(key: Key, typed: Any, now: Moment) -> Any:
    given = typed if isinstance(typed, list) else [typed]
    if not key.many:
        if len(given) != 1:
            raise InputError(f"{key.name} is given {len(given)} times: once")
        return _one(key, given[0], now)
    items = [part for each in given for part in (each.split(JOINED) if isinstance(each, str) else [each])]
    return tuple(value for value in (_one(key, item, now) for item in items) if value is not None)


def _one(key: Key, typed: Any, now: Moment) -> Any:
    """One value, from a text or from JSON; None for an empty text."""
    if typed is None or (isinstance(typed, str) and not typed.strip()):
        return None
    if key.parts:
        return _with_parts(key, typed, now)
    if isinstance(typed, bool) and key.kind is bool:
        return typed
    if isinstance(typed, int) and not isinstance(typed, bool) and key.kind is int:
        return typed
    if isinstance(typed, Mapping) and key.kind is Number and set(typed) == {"typed", "unit"}:
        typed = f"{typed['typed']} {typed['unit']}"
    if not isinstance(typed, str):
        raise InputError(f"{key.name}={typed!r}: write {key.form}")
    return _from_text(key, typed.strip(), now)


def _with_parts(key: Key, typed: Any, now: Moment) -> Any:
    if isinstance(typed, str):
        texts = typed.split(INSIDE)
        if len(texts) > len(key.parts):
            raise InputError(f"{key.name}={typed!r}: write {key.form}")
        typed = dict(zip((part.name for part in key.parts), texts, strict=False))
    if not isinstance(typed, Mapping):
        raise InputError(f"{key.name}={typed!r}: write {key.form}")
    try:
        return build(key.kind, key.parts, values_of(key.parts, typed, now))
    except InputError as error:
        raise InputError(f"{key.name}: {error}") from None


def _from_text(key: Key, text: str, now: Moment) -> Any:
    if key.kind is int:
        if not (text.isascii() and text.isdigit() and len(text) <= 9):
            raise InputError(f"{key.name}={text!r} is not a whole number")
        return int(text)
    if key.kind is bool:
        if text not in _YES_NO:
            raise InputError(f"{key.name}={text!r}: write yes or no (or leave it out where nobody knows)")
        return _YES_NO[text]
    if key.kind is date:
        return _date(key.name, text)
    if key.kind is Moment:
        return moment_of(text, now, key.name)
    if key.kind is Number:
        return _number(key, text)
    if key.words and text not in key.words:
        raise InputError(unknown(text, key.words, f"{key.name}:"))
    return text


def _date(name: str, text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise InputError(f"{name}={text!r} is not a day YYYY-MM-DD") from None


def _number(key: Key, text: str) -> Number:
    found = _NUMBER.match(text)
    if not found:
        raise InputError(f"{key.name}={text!r}: write {key.form}; a number without its unit is never guessed")
    units = units_of(key.measure) if key.measure else known_units()
    try:
        number = Number(found["typed"], found["unit"].strip())
    except InputError as error:
        near = get_close_matches(found["unit"].strip(), units, 1)
        hint = f"; nearest is {near[0]!r}" if near else ""
        shown = f"unit {found['unit'].strip()!r} is not known here, use {', '.join(units)}{hint}"
        raise InputError(f"{key.name}: {shown if 'unit' in str(error) else error}") from None
    if key.measure and dimension(number.unit) != key.measure:
        raise InputError(
            f"{key.name}={text!r} is {dimension(number.unit)}, asked is {key.measure}: use {', '.join(units)}"
        )
    return number


def moment_of(text: str, now: Moment, name: str = "at") -> Moment:
    """A typed local time of this station; to the minute it means that whole minute."""
    found = _AT.match(text)
    if not found:
        raise InputError(f"{name}={text!r}: write {_FORMS[Moment]}")
    try:
        day = date.fromisoformat(found["day"]) if found["day"] else now.local.date()
        zone = timezone(timedelta(minutes=now.offset_min))
        at = datetime.combine(day, time.fromisoformat(found["clock"]), zone)
        precision = Precision.SECOND if found["clock"].count(":") == len(("min", "s")) else Precision.MINUTE
        return Moment(at, now.offset_min, precision)
    except (ValueError, OverflowError):
        raise InputError(f"{name}={text!r} is no time of a day") from None
