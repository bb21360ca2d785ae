"""Readings and how facts are obtained: plausible units, late entries, paper, lamps that come back."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from ndi.domain import facts as f
from ndi.domain.entry import Obtained
from ndi.domain.errors import InputError, NotPermitted, UnitMismatch
from ndi.domain.moment import Moment
from ndi.services import recording
from tests import build as b
from tests.build import num
from tests.services.shop import Shop, calibration

WHY = "kept on the paper sheet"


def status(shop: Shop, lamp: str) -> str | None:
    found = shop.facts(f.EquipmentStatusSet, lamp)
    return found[-1].fact.state if found else None


# --- units ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "value", ["1.7 uW/cm2", "49 uW/cm2", "12001 uW/cm2", "1700 mW/cm2", "0.0499 mW/cm2", "1700 W/m2", "0 uW/cm2"]
)
def test_implausible_unit_is_refused_and_nothing_is_withdrawn(shop: Shop, value: str) -> None:
    head = shop.head()
    with pytest.raises(NotPermitted, match="look at the unit"):
        shop.read_lamp("LP-1", value)
    (kept,) = shop.since(head)
    assert isinstance(kept, f.ActionRefused)
    assert status(shop, "LP-1") is None


@pytest.mark.parametrize("value", ["50 uW/cm2", "12000 uW/cm2", "1.7 mW/cm2", "17 W/m2", "0.05 mW/cm2"])
def test_plausible_value_is_kept_as_typed(shop: Shop, value: str) -> None:
    recorded = shop.read_lamp("LP-1", value)
    assert recorded.fact.value == num(value)  # type: ignore[attr-defined]


def test_implausible_value_that_is_confirmed_is_believed(shop: Shop) -> None:
    shop.read_lamp("LP-1", "12 uW/cm2", confirmed=True)
    assert status(shop, "LP-1") == "withdrawn"


def test_unit_of_another_quantity_is_refused(shop: Shop) -> None:
    head = shop.head()
    with pytest.raises(UnitMismatch):
        shop.read_lamp("LP-1", "1700 fc")
    assert shop.head() == head


# --- when -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ago", "why", "how"),
    [
        (0, None, Obtained.TIMER),
        (1, None, Obtained.TYPED_LIVE),
        (120, None, Obtained.TYPED_LIVE),
        (121, WHY, Obtained.TYPED_LATE),
        (3600, WHY, Obtained.TYPED_LATE),
    ],
)
def test_how_a_time_counts(shop: Shop, ago: int, why: str | None, how: Obtained) -> None:
    when = Moment(shop.clock.at - timedelta(seconds=ago), b.OFFSET)
    (recorded,) = shop.record(f.BoothClosed("PT booth", "L2-B"), when=when, why=why)
    assert (recorded.how, recorded.why, recorded.at, recorded.recorded_at) == (how, why, when.at, shop.clock.at)


@pytest.mark.parametrize("why", [None, ""])
def test_late_entry_without_reason_is_refused(shop: Shop, why: str | None) -> None:
    head = shop.head()
    with pytest.raises(InputError, match="reason"):
        shop.record(f.BoothClosed("PT booth", "L2-B"), when=b.at("07:47:59"), why=why)
    with pytest.raises(InputError, match="reason"):
        shop.read_lamp("LP-1", "1700", when=b.at("07:40"), why=why)
    assert shop.head() == head


def test_time_to_come_is_refused(shop: Shop) -> None:
    with pytest.raises(InputError, match="later than now"):
        shop.record(f.BoothClosed("PT booth", "L2-B"), when=b.at("07:50:01"), why=WHY)


def test_transcribed_facts_never_count_as_timer(shop: Shop) -> None:
    """Also when the paper says this very minute, and when the moment handed over carries a boot clock."""
    now = shop.work.now()
    assert now.boot is not None
    recording.transcribe(
        shop.work, [(f.BoothClosed("PT booth", "L2-B"), now)], person="SUP-F", on_behalf_of="L2-B", why=WHY
    )
    recorded = shop.facts(f.BoothClosed, "PT booth")[-1]
    assert (recorded.how, recorded.by, recorded.on_behalf_of, recorded.why) == (
        Obtained.TRANSCRIBED,
        "SUP-F",
        "L2-B",
        WHY,
    )
    assert recorded.when.boot is None
    live = {Obtained.TIMER, Obtained.SCANNER, Obtained.INSTRUMENT}
    with shop.work.book.session(readonly=True) as session:
        before = [session.entry(n) for n in range(1, session.head().position + 1)]
    copied = [r for r in before if r.why in (WHY, "kept on paper before this book")]
    assert len(copied) > 50
    assert not [r for r in copied if r.how in live or r.when.boot is not None]


def test_transcription_of_what_has_not_happened_yet_is_refused(shop: Shop) -> None:
    with pytest.raises(InputError, match="later than now"):
        recording.transcribe(shop.work, [(f.BoothClosed("PT booth", "L2-B"), b.at("09:00"))], person="SUP-F", why=WHY)


def test_fact_with_a_use_case_of_its_own_is_not_recorded_plainly(shop: Shop) -> None:
    for fact in (f.CheckedIn("L2-A", None, True), f.TagVoided("1", "MT-001", "P", "x"), f.ViewEnded("V", "MT-001")):
        with pytest.raises(InputError, match="use case of its own"):
            shop.record(fact)


# --- meters ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(("due", "may"), [(date(2026, 3, 9), False), (date(2026, 3, 10), True)])
def test_meter_is_taken_until_the_day_its_calibration_is_due(shop: Shop, due: date, may: bool) -> None:
    recording.record_outside_fact(shop.work, calibration("RM-9", "UV-A channel", due=due), "SUP-F")
    if may:
        assert recording.select_meter(shop.work, "RM-9", "L1-D").settled
    else:
        with pytest.raises(NotPermitted) as refused:
            recording.select_meter(shop.work, "RM-9", "L1-D")
        assert [a.rule for a in refused.value.answers] == ["L10"]


def test_meter_without_calibration_is_refused(shop: Shop) -> None:
    with pytest.raises(NotPermitted):
        recording.select_meter(shop.work, "RM-404", "L1-D")


# --- lamps out and back ---------------------------------------------------------------------------


def with_trend(shop: Shop, lamp: str = "LP-1", count: int = 9) -> None:
    """Readings of nine earlier days, falling slowly to about 1700."""
    readings = []
    for n in range(count, 0, -1):
        value = num(f"{1700 + n * 3 + (n % 2)} uW/cm2")
        fact = f.ReadingRecorded(lamp, "UV-A at 15 in", value, "as-found", "RM-1", num("15 in"))
        readings.append((fact, b.at("07:00", (date(2026, 3, 9) - timedelta(days=n - 1)).isoformat())))
    recording.transcribe(shop.work, readings, person="SUP-F", why=WHY)


@pytest.mark.parametrize(
    ("value", "state"), [("1700", "in service"), ("1500", "withdrawn"), ("1000", "withdrawn"), ("2300", "withdrawn")]
)
def test_lamp_returns_only_with_an_as_left_reading_on_its_trend(shop: Shop, value: str, state: str) -> None:
    with_trend(shop)
    shop.at("12:35").read_lamp("LP-1", "880")
    assert status(shop, "LP-1") == "withdrawn"
    shop.at("12:50").read_lamp("LP-1", value, condition="as-left")
    assert status(shop, "LP-1") == state


@pytest.mark.parametrize(
    "changed",
    [
        {"condition": "as-found"},
        {"condition": "after-cleaning"},
        {"distance": num("12 in")},
        {"distance": None},
        {"meter": "RM-2"},
        {"meter": None},
    ],
)
def test_no_other_good_reading_brings_a_lamp_back(shop: Shop, changed: dict[str, Any]) -> None:
    with_trend(shop)
    shop.at("12:35").read_lamp("LP-1", "880")
    shop.at("12:50").read_lamp("LP-1", "1700", **{"condition": "as-left", **changed})
    assert status(shop, "LP-1") == "withdrawn"


def test_lamp_with_too_few_readings_for_a_trend_returns_by_its_limit(shop: Shop) -> None:
    shop.at("12:35").read_lamp("LP-2", "880")
    shop.at("12:50").read_lamp("LP-2", "999", condition="as-left")
    assert status(shop, "LP-2") == "withdrawn"
    shop.at("12:55").read_lamp("LP-2", "1000", condition="as-left")
    assert status(shop, "LP-2") == "in service"


@pytest.mark.parametrize("changed", [{"distance": num("12 in")}, {"meter": "RM-2"}, {"condition": "as-left"}])
def test_bad_value_that_proves_nothing_withdraws_nothing(shop: Shop, changed: dict[str, Any]) -> None:
    shop.at("12:35").read_lamp("LP-1", "880", **changed)
    assert status(shop, "LP-1") is None
    assert not shop.facts(f.ContainmentOpened)


# --- who and what -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "facts",
    [
        [f.EquipmentSwitched("LP-1", "on")],
        [f.ConfirmationGiven("MT-001", "clean")],
    ],
)
def test_a_person_who_was_never_entered_records_nothing(shop: Shop, facts: list[f.Fact]) -> None:
    head = shop.head()
    with pytest.raises(InputError, match="no person of this book"):
        recording.record(shop.work, facts, "NOBODY")
    assert shop.head() == head


@pytest.mark.parametrize(
    ("item", "value", "says"), [("cleen", "yes", "nearest is 'clean'"), ("clean", "perhaps", "none of yes, no")]
)
def test_a_tick_that_no_rule_reads_is_refused(shop: Shop, item: str, value: str, says: str) -> None:
    with pytest.raises(InputError, match=says):
        recording.record(shop.work, [f.ConfirmationGiven("LOT-1", item, value)], "L1-D")
