"""The table of kinds: complete, readable, each example of it goes through; what is wrong is said with the nearest right word."""

from __future__ import annotations

import shlex
from dataclasses import MISSING, fields
from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ndi.cli.main import main
from ndi.cli.record import lines
from ndi.domain import facts as f
from ndi.domain.codec import body_of, fact_from_body
from ndi.domain.errors import InputError
from ndi.domain.moment import Moment, Precision
from ndi.domain.quantity import Number
from ndi.services import recording
from ndi.services.recordable import BY_FACT, RECORDABLE, Recordable
from ndi.services.typed_facts import Key, build, keys_of, moment_of, pairs, values_of

NOW = Moment(datetime(2026, 3, 10, 15, 0, tzinfo=UTC), -300)
OWN_VERBS = {
    f.InspectionOpened,  # ndi inspection open
    f.PersonEntered,  # ndi person ...
    f.CertificateEntered,
    f.VisionExamEntered,
    f.AuthorisationEntered,
}


def test_every_plain_and_outside_kind_stands_in_the_table() -> None:
    """A kind that only a use case knows cannot be recorded from the command line: add a line to ``recordable``."""
    known = {*recording.PLAIN, *recording.OUTSIDE} - OWN_VERBS
    assert known - set(BY_FACT) == set()


@pytest.mark.parametrize("name", RECORDABLE)
def test_example_of_a_kind_is_a_fact_that_the_book_can_keep(name: str) -> None:
    kind = RECORDABLE[name]
    values = values_of(kind.keys, pairs(shlex.split(kind.example)), NOW)
    told = {key: "X" for key in ("part", "work_order", "inspection", *kind.who) if _is_missing(kind, key, values)}
    fact = build(kind.fact, kind.all_keys, {**kind.usual, **told, **values})
    assert fact_from_body(kind.fact.__name__, body_of(fact)) == fact


def _is_missing(kind: Recordable, name: str, values: dict[str, object]) -> bool:
    return any(key.name == name and key.needed for key in kind.all_keys) and name not in values


@pytest.mark.parametrize("name", RECORDABLE)
def test_listing_of_a_kind_names_every_key_with_its_form(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    kind = RECORDABLE[name]
    assert main(["record", "--list", name]) == 0
    said = capsys.readouterr().out
    assert said.splitlines() == list(lines(kind))
    for key in kind.keys:
        assert f"    {key.name}" in said and key.form in said
    for number in (key for key in kind.keys if key.kind is Number and key.name not in ("value", "uncertainty")):
        assert number.measure, f"{name}: {number.name} has no dimension: say in MEASURES which"
    assert kind.example in said


def test_whole_list_has_every_kind(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["record", "--list"]) == 0
    said = capsys.readouterr().out
    assert all(f"\n{name}: " in f"\n{said}" for name in RECORDABLE)


SHOT = RECORDABLE["shot"].keys


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        (["ampere=1"], "key 'ampere' is none of inspection, bench, shot, pulses"),
        (["puls=1"], "nearest is 'pulses'"),
        (["pulses=1200 B:0.7 s"], "unit 'B' is not known here, use A, kA"),
        (["pulses=1200:0.7 s"], "a number without its unit is never guessed"),
        (["pulses=12 s:0.7 s"], "is time, asked is current: use A, kA"),
        (["pulses=1200 A:0.7 s:3"], "write amps:seconds"),
        (["pulses=1.2.3 A"], "is not a number"),
        (["shot=1", "shot=2"], "shot is given 2 times"),
        (["shot=one"], "shot='one' is not a whole number"),
        (["shot=１"], "is not a whole number"),
        (["bath_mode=continous"], "bath_mode: 'continous' is not known; nearest is 'continuous'"),
        (["current_type"], "is no key=value"),
    ],
)
def test_what_is_wrong_is_said_with_the_nearest_right_word(typed: list[str], says: str) -> None:
    with pytest.raises(InputError) as error:
        values_of(SHOT, pairs(typed), NOW)
    assert says in str(error.value)


def test_missing_keys_are_all_named_with_their_form() -> None:
    with pytest.raises(InputError) as error:
        build(f.ShotFired, SHOT, values_of(SHOT, pairs(["inspection=MT-001"]), NOW))
    assert str(error.value).startswith("missing: bench (text); shot (whole number); pulses (amps:seconds")


def test_pulses_are_typed_joined_or_one_by_one_and_an_empty_part_is_not_recorded() -> None:
    joined = values_of(SHOT, pairs(["pulses=900 A:0.7 s+1 kA:"]), NOW)["pulses"]
    apart = values_of(SHOT, pairs(["pulses=900 A:0.7 s", "pulses=1 kA:"]), NOW)["pulses"]
    assert joined == apart == (f.Pulse(Number("900", "A"), Number("0.7", "s")), f.Pulse(Number("1", "kA"), None))
    as_json = values_of(
        SHOT, {"pulses": [{"amps": "900 A", "seconds": "0.7 s"}, {"amps": {"typed": "1", "unit": "kA"}}]}, NOW
    )
    assert as_json["pulses"] == joined


@pytest.mark.parametrize(
    ("kind", "typed", "value"),
    [
        (bool, "yes", True),
        (bool, True, True),
        (int, 4, 4),
        (int, "4", 4),
        (str, " ", None),
        (bool, None, None),
    ],
)
def test_values_of_text_and_json(kind: type, typed: object, value: object) -> None:
    found = values_of([Key("x", kind, False, False)], {"x": typed}, NOW)
    assert found == ({} if value is None else {"x": value})


@pytest.mark.parametrize(
    ("kind", "typed"), [(bool, "maybe"), (bool, 1), (int, True), (int, "1" * 10), (str, 4), (str, ["a", "b"])]
)
def test_values_of_the_wrong_type_are_refused(kind: type, typed: object) -> None:
    with pytest.raises(InputError, match="x"):
        values_of([Key("x", kind, False, False)], {"x": typed}, NOW)


def test_a_time_to_the_minute_is_that_minute_and_one_to_the_second_is_exact() -> None:
    minute, second = moment_of("09:12", NOW), moment_of("2026-03-09 09:12:30", NOW)
    assert (minute.precision, str(minute)) == (Precision.MINUTE, "2026-03-10 09:12")
    assert (second.precision, str(second)) == (Precision.SECOND, "2026-03-09 09:12:30")
    assert minute.at == datetime(2026, 3, 10, 14, 12, tzinfo=UTC)
    for wrong in ("9:12", "24:00", "2026-02-30 10:00", "yesterday"):
        with pytest.raises(InputError):
            moment_of(wrong, NOW)


def test_what_has_no_form_as_text_is_not_typed_and_nothing_that_is_needed_is_left_out() -> None:
    """Freehand strokes are drawn; every field without a default can be typed."""
    assert "strokes" not in [key.name for key in RECORDABLE["indication"].keys]
    for kind in RECORDABLE.values():
        hidden = {"proof", "meaning", "covers", *kind.hidden}
        needed = {each.name for each in fields(kind.fact) if each.default is MISSING} - hidden  # type: ignore[arg-type]
        assert needed <= {key.name for key in kind.all_keys}, kind.name


def test_keys_follow_the_dataclass_alone() -> None:
    names = [key.name for key in keys_of(f.StepStarted)]
    assert names == ["on", "step", "pieces"]
    assert [key.needed for key in keys_of(f.StepStarted)] == [True, True, False]


JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.text(max_size=12)
    | st.sampled_from(["12 A", "1:2", "yes", "2026-01-01"]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3),
    max_leaves=6,
)


@settings(max_examples=400, deadline=None)
@given(st.data())
def test_whatever_is_typed_makes_a_fact_or_one_message(data: st.DataObject) -> None:
    kind = RECORDABLE[data.draw(st.sampled_from(sorted(RECORDABLE)))]
    names = st.sampled_from([key.name for key in kind.all_keys]) | st.text(max_size=6)
    given_ = data.draw(st.dictionaries(names, JSON, max_size=6))
    try:
        fact = build(kind.fact, kind.all_keys, values_of(kind.all_keys, given_, NOW))
    except InputError as error:
        assert "\n" not in str(error)
    else:
        assert fact_from_body(kind.fact.__name__, body_of(fact)) == fact
