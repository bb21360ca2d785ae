"""Times and spans: what a stamp can mean, two estimates of elapsed time, what a change of the wall clock may do.

Sources: none outside; local time and offsets are compared with the standard
library's zone data (America/Chicago, whose clocks changed on 2026-03-08).
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ndi.domain.errors import InputError
from ndi.domain.moment import Boot, Moment, Precision, Span, duration_text, elapsed

NOON = datetime(2026, 3, 10, 12, 0, tzinfo=UTC)
MICRO = timedelta(microseconds=1)

instants = st.datetimes(datetime(2020, 1, 1), datetime(2035, 1, 1), timezones=st.just(UTC))  # noqa: DTZ001  bounds are naive to hypothesis
offsets = st.integers(-14 * 60, 14 * 60)
gaps = st.timedeltas(timedelta(0), timedelta(days=3))
shifts = st.timedeltas(-timedelta(hours=3), timedelta(hours=3))


def moment(after_s: float = 0, *, minute: bool = False, boot: Boot | None = None, offset: int = -300) -> Moment:
    return Moment(NOON + timedelta(seconds=after_s), offset, Precision.MINUTE if minute else Precision.SECOND, boot)


def test_naive_time_is_refused() -> None:
    with pytest.raises(InputError, match="has no zone; give the offset of the station"):
        Moment(datetime(2026, 3, 10, 12, 0))  # noqa: DTZ001  the very thing that must be refused


@given(instants, offsets, offsets)
def test_same_instant_written_in_another_zone_is_kept_as_utc(at: datetime, zone: int, offset: int) -> None:
    assert Moment(at.astimezone(timezone(timedelta(minutes=zone))), offset) == Moment(at, offset)
    assert Moment(at, offset).at.tzinfo is UTC


@given(instants)
def test_local_time_equals_the_standard_librarys_zone(at: datetime) -> None:
    there = at.astimezone(ZoneInfo("America/Chicago"))
    offset = there.utcoffset()
    assert offset is not None
    shown = Moment(at, int(offset.total_seconds()) // 60)
    assert shown.local.replace(tzinfo=None) == there.replace(tzinfo=None)


@pytest.mark.parametrize(("after_s", "text"), [(0, "07:00"), (30, "07:00:30"), (0.5, "07:00:00"), (3600, "08:00")])
def test_clock_text(after_s: float, text: str) -> None:
    assert moment(after_s).clock() == text
    assert str(moment(after_s)) == f"2026-03-10 {text}"


def test_minute_stamp_covers_its_minute_and_no_more() -> None:
    stamp = moment(minute=True)
    assert (stamp.earliest, stamp.latest) == (NOON, NOON + timedelta(minutes=1) - MICRO)
    exact = moment()
    assert exact.earliest == exact.latest == NOON


def test_boot_clock_is_no_part_of_when_it_happened() -> None:
    assert moment(boot=Boot("a", 1)) == moment(boot=Boot("b", 2)) == moment()


# --- elapsed --------------------------------------------------------------------------------------


def test_elapsed_of_two_seconds_stamps_is_one_number() -> None:
    assert elapsed(moment(), moment(90)) == (timedelta(seconds=90), timedelta(seconds=90))


@pytest.mark.parametrize(
    ("start_minute", "stop_minute", "smaller_s", "larger_s"),
    [(False, True, 60, 120), (True, False, 0, 60), (True, True, 0, 120)],
)
def test_elapsed_of_minute_stamps_is_widened(
    start_minute: bool, stop_minute: bool, smaller_s: int, larger_s: int
) -> None:
    smaller, larger = elapsed(moment(0, minute=start_minute), moment(60, minute=stop_minute))
    assert smaller == timedelta(seconds=smaller_s) + (MICRO if start_minute else timedelta(0))
    assert larger == timedelta(seconds=larger_s) - (MICRO if stop_minute else timedelta(0))


@given(st.integers(0, 59), st.integers(0, 59), st.integers(0, 240), st.booleans(), st.booleans())
def test_elapsed_true_duration_lies_between_the_two_estimates(
    s1: int, s2: int, minutes: int, cut1: bool, cut2: bool
) -> None:
    """Whatever the seconds were that a minute stamp does not tell."""
    true_start, true_stop = NOON + timedelta(seconds=s1), NOON + timedelta(minutes=minutes, seconds=s2)
    start = Moment(
        true_start.replace(second=0) if cut1 else true_start, 0, Precision.MINUTE if cut1 else Precision.SECOND
    )
    stop = Moment(true_stop.replace(second=0) if cut2 else true_stop, 0, Precision.MINUTE if cut2 else Precision.SECOND)
    smaller, larger = elapsed(start, stop)
    assert smaller <= true_stop - true_start <= larger


@pytest.mark.parametrize(("boot_s", "smaller_s", "larger_s"), [(50, 50, 60), (60, 60, 60), (70, 60, 70)])
def test_elapsed_boot_clock_is_the_other_estimate(boot_s: int, smaller_s: int, larger_s: int) -> None:
    start, stop = moment(0, boot=Boot("a", 1000)), moment(60, boot=Boot("a", 1000 + boot_s * 1000))
    assert elapsed(start, stop) == (timedelta(seconds=smaller_s), timedelta(seconds=larger_s))


@pytest.mark.parametrize("stop_boot", [None, Boot("b", 9_000_000)], ids=["no boot clock", "after a restart"])
def test_elapsed_boot_clock_of_another_start_says_nothing(stop_boot: Boot | None) -> None:
    assert elapsed(moment(boot=Boot("a", 0)), moment(60, boot=stop_boot)) == (timedelta(seconds=60),) * 2


@given(instants, gaps, offsets, offsets, offsets, offsets)
def test_elapsed_does_not_see_the_offset(at: datetime, gap: timedelta, a: int, b: int, c: int, d: int) -> None:
    """Daylight saving or a station in another zone: the local clock changes, no duration does."""
    assert elapsed(Moment(at, a), Moment(at + gap, b)) == elapsed(Moment(at, c), Moment(at + gap, d)) == (gap, gap)


def test_elapsed_across_the_spring_change_of_the_clocks() -> None:
    zone = ZoneInfo("America/Chicago")
    before, after = datetime(2026, 3, 8, 1, 50, tzinfo=zone), datetime(2026, 3, 8, 3, 20, tzinfo=zone)
    start, stop = Moment(before, -360), Moment(after, -300)
    assert (start.clock(), stop.clock()) == ("01:50", "03:20")
    assert elapsed(start, stop) == (timedelta(minutes=30),) * 2  # 90 min on the wall, 30 min in truth


@given(instants, gaps, shifts, shifts, gaps)
def test_wall_clock_set_wrong_never_helps_a_judgement(
    at: datetime, gap: timedelta, first: timedelta, second: timedelta, limit: timedelta
) -> None:
    """The boot clock is true.  A minimum that is not met stays so, and so does a maximum that is passed."""
    gap -= timedelta(microseconds=gap.microseconds % 1000)  # the boot clock counts milliseconds
    start, stop = Boot("a", 0), Boot("a", gap // timedelta(milliseconds=1))
    smaller, larger = elapsed(Moment(at + first, 0, boot=start), Moment(at + gap + second, 0, boot=stop))
    assert smaller <= gap <= larger
    if gap < limit:
        assert smaller < limit
    if gap > limit:
        assert larger > limit


# --- spans ----------------------------------------------------------------------------------------


def test_span_shortest_from_last_start_longest_from_first() -> None:
    span = Span(moment(0), moment(30), moment(100), moment(160))
    assert (span.shortest(), span.longest()) == (timedelta(seconds=70), timedelta(seconds=160))


def test_span_still_running_needs_a_moment_to_measure_to() -> None:
    span = Span(moment(0), moment(30))
    assert (span.shortest(), span.longest()) == (None, None)
    assert (span.shortest(moment(90)), span.longest(moment(90))) == (timedelta(seconds=60), timedelta(seconds=90))


def test_span_recorded_stop_comes_before_the_moment_of_asking() -> None:
    span = Span(moment(0), moment(0), moment(60), moment(60))
    assert span.shortest(moment(900)) == span.longest(moment(900)) == timedelta(seconds=60)
    half = Span(moment(0), moment(0), moment(60), None)  # the first part is out, the last is not
    assert (half.shortest(moment(900)), half.longest(moment(900))) == (timedelta(seconds=60), timedelta(seconds=900))


@given(st.lists(st.integers(0, 10_000), min_size=4, max_size=4), st.booleans())
def test_span_shortest_is_never_more_than_longest(seconds: list[int], minute: bool) -> None:
    a, b, c, d = sorted(seconds)
    span = Span(moment(a, minute=minute), moment(b, minute=minute), moment(c, minute=minute), moment(d, minute=minute))
    shortest, longest = span.shortest(), span.longest()
    assert shortest is not None and longest is not None
    assert shortest <= longest


@given(st.lists(st.integers(0, 10_000), min_size=4, max_size=4), shifts, shifts, offsets)
def test_span_of_a_timer_is_safe_against_the_wall_clock(
    seconds: list[int], first: timedelta, second: timedelta, offset: int
) -> None:
    """Clock set between wetting and wash, or its offset changed: minimum from below, maximum from above."""
    a, b, c, d = sorted(seconds)
    timed = [moment(s, boot=Boot("a", s * 1000)) for s in (a, b, c, d)]
    true = Span(*timed)
    moved = [replace(m, at=m.at + (first if k < 2 else second), offset_min=offset) for k, m in enumerate(timed)]
    seen = Span(*moved)
    assert seen.shortest() <= true.shortest()  # type: ignore[operator]
    assert seen.longest() >= true.longest()  # type: ignore[operator]


# --- durations in words ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("duration", "text"),
    [
        (timedelta(0), "0 min"),
        (timedelta(seconds=1), "1 s"),
        (timedelta(seconds=60), "1 min"),
        (timedelta(seconds=90), "90 s"),
        (timedelta(seconds=119), "119 s"),
        (timedelta(seconds=120), "2 min"),
        (timedelta(seconds=121), "2 min 1 s"),
        (timedelta(minutes=26, seconds=30), "26 min 30 s"),
        (timedelta(seconds=-90), "-90 s"),
        (timedelta(minutes=-5), "-5 min"),
        (timedelta(seconds=59, microseconds=999_999), "59 s"),  # never rounded up
        (timedelta(seconds=-59, microseconds=-999_999), "-59 s"),
        (timedelta(hours=2), "120 min"),
    ],
)
def test_duration_text(duration: timedelta, text: str) -> None:
    assert duration_text(duration) == text


@given(st.timedeltas(-timedelta(days=40), timedelta(days=40)))
def test_duration_text_read_back_is_the_whole_seconds(duration: timedelta) -> None:
    text = duration_text(duration)
    words = text.lstrip("-").split()
    units = {"h": 3600, "min": 60, "s": 1}
    seconds = sum(int(number) * units[unit] for number, unit in zip(words[::2], words[1::2], strict=True))
    assert (-seconds if text.startswith("-") else seconds) == int(duration.total_seconds())
