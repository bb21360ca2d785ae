"""Facts to bodies and back, for every kind there is, from its type hints."""

from __future__ import annotations

import dataclasses
import json
import types
import typing
from datetime import UTC, date, datetime, timedelta, timezone
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ndi.domain import facts as f
from ndi.domain.codec import body_of, fact_from_body, utc_from_text, utc_text
from ndi.domain.errors import InputError
from ndi.domain.moment import Boot, Moment, Precision
from ndi.domain.quantity import Number, known_units

words = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
numbers = st.builds(Number, st.decimals(-100_000, 100_000, places=4).map(str), st.sampled_from(known_units()))
moments = st.builds(
    Moment,
    st.datetimes(datetime(1900, 1, 1), datetime(2200, 1, 1), timezones=st.just(UTC)),  # noqa: DTZ001  bounds are naive to hypothesis
    st.integers(-840, 840),
    st.sampled_from(Precision),
    st.none() | st.builds(Boot, st.just("a"), st.integers(0, 10**12)),
)
PLAIN: dict[Any, st.SearchStrategy[Any]] = {
    str: words,
    int: st.integers(-(10**9), 10**9),
    bool: st.booleans(),
    date: st.dates(),
    Number: numbers,
    Moment: moments,
}


def values_of(hint: Any) -> st.SearchStrategy[Any]:
    """Everything that a field of this type may hold."""
    if typing.get_origin(hint) in (types.UnionType, typing.Union):
        return st.one_of([st.none() if arg is type(None) else values_of(arg) for arg in typing.get_args(hint)])
    if typing.get_origin(hint) is tuple:
        return st.lists(values_of(typing.get_args(hint)[0]), max_size=3).map(tuple)
    if hint in PLAIN:
        return PLAIN[hint]
    return made(hint)


def made(cls: type[Any]) -> st.SearchStrategy[Any]:
    hints = typing.get_type_hints(cls)
    fields = dataclasses.fields(cls)
    return st.builds(cls, **{field.name: values_of(hints[field.name]) for field in fields})


STRATEGIES = {kind: made(cls) for kind, cls in f.KINDS.items()}


def plain(body: Any) -> bool:
    """Only what the canonical form knows: no floats, no null."""
    if isinstance(body, dict):
        return all(isinstance(key, str) and plain(value) for key, value in body.items())
    if isinstance(body, list):
        return all(plain(value) for value in body)
    return type(body) in (str, int, bool)


@pytest.mark.parametrize("kind", sorted(f.KINDS))
def test_every_kind_round_trips_through_json(kind: str) -> None:
    @settings(max_examples=25, suppress_health_check=[HealthCheck.too_slow], deadline=None)
    @given(STRATEGIES[kind])
    def check(fact: f.Fact) -> None:
        body = body_of(fact)
        assert plain(body)
        assert fact_from_body(kind, json.loads(json.dumps(body))) == fact
        assert set(body) == {field.name for field in dataclasses.fields(fact) if getattr(fact, field.name) is not None}  # type: ignore[arg-type]

    check()


@pytest.mark.parametrize("kind", sorted(f.KINDS))
def test_every_kind_is_frozen_and_names_fields_of_its_own(kind: str) -> None:
    cls = f.KINDS[kind]
    names = {field.name for field in dataclasses.fields(cls)}  # type: ignore[arg-type]
    assert cls.__name__ == kind
    assert cls.__dataclass_params__.frozen  # type: ignore[attr-defined]
    assert set(cls.SUBJECTS) <= names
    assert cls.SUBJECTS, "a fact that is about nothing is never found again"
    assert cls.VERSION >= 1


@pytest.mark.parametrize("kind", sorted(f.KINDS))
def test_a_body_without_what_it_must_hold_is_refused(kind: str) -> None:
    cls = f.KINDS[kind]
    hints = typing.get_type_hints(cls)
    required = [
        field.name
        for field in dataclasses.fields(cls)  # type: ignore[arg-type]
        if field.default is dataclasses.MISSING and type(None) not in typing.get_args(hints[field.name])
    ]
    if required:
        with pytest.raises(InputError, match=f"a body of {kind} without {required[0]}"):
            fact_from_body(kind, {})
    else:
        assert fact_from_body(kind, {}) == cls(
            **{field.name: None for field in dataclasses.fields(cls) if field.default is dataclasses.MISSING}
        )  # type: ignore[arg-type]


def test_unknown_kind_is_refused_with_a_way_out() -> None:
    with pytest.raises(
        InputError, match="kind 'HorseShod' are not known to this program; use a newer one to read this book"
    ):
        fact_from_body("HorseShod", {})


def test_absent_fields_are_left_out_and_come_back_absent() -> None:
    reading = f.ReadingRecorded("LP-1", "UV-A at 15 in", Number("1490", "uW/cm2"))
    assert body_of(reading) == {
        "object": "LP-1",
        "quantity": "UV-A at 15 in",
        "value": {"typed": "1490", "unit": "uW/cm2"},
    }
    assert fact_from_body("ReadingRecorded", body_of(reading)) == reading


def test_an_absent_field_with_a_default_takes_it() -> None:
    """Written by an older program that did not know the field."""
    fact = fact_from_body("ConfirmationGiven", {"about": "X-001", "item": "dry"})
    assert fact == f.ConfirmationGiven("X-001", "dry", "yes")


@pytest.mark.parametrize("typed", ["0.10", "+5", "00.1", "1490.0", "-0"])
def test_numbers_stay_as_typed(typed: str) -> None:
    fact = f.Pulse(Number(typed, "A"), None)
    assert body_of(fact) == {"amps": {"typed": typed, "unit": "A"}}


def test_moment_inside_a_body() -> None:
    body = body_of(
        f.ShotVoided("X-001", 1, Moment(datetime(2026, 3, 10, 12, 35, tzinfo=UTC), -300, Precision.MINUTE), "why")
    )
    assert body["fired_at"] == {"at": "2026-03-10T12:35:00.000000Z", "offset_min": -300, "precision": "min"}


@pytest.mark.parametrize("value", [1.5, object(), {"a": 1}, [1], b"x"], ids=lambda value: type(value).__name__)
def test_what_a_body_cannot_hold_is_refused(value: Any) -> None:
    with pytest.raises(InputError, match="cannot be kept in the book"):
        body_of(f.ConfirmationGiven("X-001", "dry", value))


@given(st.datetimes(datetime(1000, 1, 1), datetime(9999, 12, 30), timezones=st.just(UTC)), st.integers(-840, 840))  # noqa: DTZ001  bounds are naive to hypothesis
def test_utc_text_equals_the_standard_library_and_reads_back(at: datetime, offset: int) -> None:
    text = utc_text(at.astimezone(timezone(timedelta(minutes=offset))))
    assert text == at.replace(tzinfo=None).isoformat(timespec="microseconds") + "Z"
    assert utc_from_text(text) == at


@pytest.mark.parametrize(
    "text",
    [
        "",
        "2026-03-10",
        "2026-03-10T12:35:00Z",
        "2026-03-10 12:35:00.000000Z",
        "2026-03-10T12:35:00.000000+00:00",
        "2026-13-10T12:35:00.000000Z",
    ],
)
def test_utc_from_another_way_of_writing_is_refused(text: str) -> None:
    with pytest.raises(ValueError):
        utc_from_text(text)
