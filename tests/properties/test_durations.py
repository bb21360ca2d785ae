"""Dwell and the clocks: longer turns PASS into FAIL only at the maximum; no change of zone or clock alters a duration."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import assume, given
from hypothesis import strategies as st

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.moment import Boot, Moment, Precision, Span, elapsed
from tests import build as b
from tests.properties.settings import fixed
from tests.rules import penetrant_day as day
from tests.services.shop import Shop, Step, open_copy

WET_START, WET_END, WASH = 8 * 3600, 8 * 3600 + 300, 120  # seconds of the day; the wash takes two minutes
MINIMUM, MAXIMUM = 30 * 60, 120 * 60  # dwell_base and dwell_max of tests/build.py, in seconds


def clock(seconds: int) -> str:
    return f"{seconds // 3600:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d}"


def dwell_answers(dwell: int, *, offset: int = b.OFFSET) -> tuple[str, str]:
    """P06 and P07 of a basket whose last part was wet ``dwell`` seconds before the wash began."""
    begun = WET_END + dwell

    def at(seconds: int) -> Moment:
        return Moment(b.at(clock(seconds)).at, offset)

    times = {"wet": (at(WET_START), at(WET_END)), "wash": (at(begun), at(begun + WASH)), "dry": None, "develop": None}
    facts = day.basket(view=None, **times)  # type: ignore[arg-type]
    return str(day.ask("P06", facts, "22:00").verdict), str(day.ask("P07", facts, "22:00").verdict)


spans = (
    st.integers(1, 4 * 3600)
    | st.integers(MINIMUM - 3, MINIMUM + 3)
    | st.integers(MAXIMUM - WASH - 303, MAXIMUM - WASH - 297)
)


@fixed(150)
@given(dwell=spans)
def test_dwell_passes_from_the_minimum_to_the_maximum_both_included(dwell: int) -> None:
    """The minimum counts from the last part wet to the first washed, the maximum from the first wet to the last washed."""
    shortest, longest = dwell, (WET_END - WET_START) + dwell + WASH
    assert dwell_answers(dwell) == ("PASS" if shortest >= MINIMUM else "FAIL", "PASS" if longest <= MAXIMUM else "FAIL")


@fixed(150)
@given(one=spans, other=spans)
def test_longer_dwell_turns_pass_into_fail_only_at_the_maximum(one: int, other: int) -> None:
    assume(one < other)
    (short_min, short_max), (long_min, long_max) = dwell_answers(one), dwell_answers(other)
    if short_min == "PASS":
        assert long_min == "PASS"  # the minimum, once reached, stays reached
    if short_max == "FAIL":
        assert long_max == "FAIL"  # the maximum, once passed, stays passed
    if (short_min, short_max) == ("PASS", "PASS") and "FAIL" in (long_min, long_max):
        assert long_max == "FAIL"


# --- time zone ------------------------------------------------------------------------------------

offsets = st.sampled_from((-720, -300, -240, 0, 60, 345, 840))
seconds = st.integers(0, 86_400)


@fixed(200)
@given(dwell=spans, offset=offsets)
def test_offset_alters_no_dwell(dwell: int, offset: int) -> None:
    assert dwell_answers(dwell, offset=offset) == dwell_answers(dwell)


@fixed(300)
@given(start=seconds, length=seconds, offset=offsets, later=offsets, precision=st.sampled_from(tuple(Precision)))
def test_offset_alters_no_elapsed_time(start: int, length: int, offset: int, later: int, precision: Precision) -> None:
    begin = b.at("00:00").at + timedelta(seconds=start)
    plain = elapsed(Moment(begin, 0, precision), Moment(begin + timedelta(seconds=length), 0, precision))
    moved = elapsed(Moment(begin, offset, precision), Moment(begin + timedelta(seconds=length), later, precision))
    assert plain == moved


# --- wall clock -----------------------------------------------------------------------------------


@fixed(300)
@given(length=seconds, jump=st.integers(-7200, 7200))
def test_clock_that_is_set_in_between_neither_shortens_a_maximum_nor_lengthens_a_minimum(
    length: int, jump: int
) -> None:
    """The boot clock tells the true time; whatever UTC says, both estimates enclose it."""
    begin = b.at("08:00").at
    start = Moment(begin, b.OFFSET, boot=Boot("a", 1_000_000))
    stop = Moment(begin + timedelta(seconds=length + jump), b.OFFSET, boot=Boot("a", 1_000_000 + length * 1000))
    smaller, larger = elapsed(start, stop)
    true = timedelta(seconds=length)
    assert smaller <= true <= larger
    assert {smaller, larger} == {true, true + timedelta(seconds=jump)}
    span = Span(start, start, stop, stop)
    assert (span.shortest(), span.longest()) == (smaller, larger)


@fixed(100)
@given(length=seconds, jump=st.integers(-7200, 7200), restarted=st.booleans())
def test_boot_clocks_of_two_starts_are_not_compared(length: int, jump: int, restarted: bool) -> None:
    begin = b.at("08:00").at
    start = Moment(begin, b.OFFSET, boot=Boot("a", 500))
    stop = Moment(
        begin + timedelta(seconds=length), b.OFFSET, boot=Boot("b" if restarted else "a", 500 + (length + jump) * 1000)
    )
    both = {timedelta(seconds=length)} if restarted else {timedelta(seconds=length), timedelta(seconds=length + jump)}
    assert set(elapsed(start, stop)) == both


class JumpingShop(Shop):
    """Its wall clock or zone is changed while the basket dwells; the boot clock goes on."""

    def change(self, *, offset: int | None = None, jump: int = 0) -> None:
        boot_ms = self.clock.boot_ms
        if offset is not None:
            self.clock.offset = offset
        self.clock.at += timedelta(seconds=jump)
        self.clock.boot_ms = lambda: boot_ms() - jump * 1000  # type: ignore[method-assign]


@fixed(12)
@given(offset=st.sampled_from((None, -240, 60)), jump=st.sampled_from((0, 0, 1800, -1500)))
def test_change_of_zone_or_clock_in_the_book(morning: Path, offset: int | None, jump: int) -> None:
    """The dwell of 32 minutes stays one of 32 minutes; a clock set forward does not make it longer where long is wanted."""
    with TemporaryDirectory() as folder:
        plain = open_copy(morning, Path(folder) / "book")
        shop = JumpingShop(plain.work, plain.clock)
        try:
            steps = shop.sump_steps("PT-001", shop.receive("T6-11020", "SP-1"), "B1")
            begin = [s for s in steps if s.seconds <= 120]
            shop.play(begin)
            shop.after(600).change(offset=offset, jump=jump)
            rest = [Step(s.name, s.seconds - 720, s.make) for s in steps if 120 < s.seconds <= 2160]
            shop.play(rest)
            answers = {a.rule: a for a in shop.judge("PT-001").answers}
            wet, washed = _ends(shop, "wet"), _starts(shop, "wash")
            assert elapsed(wet.when, washed.when)[0] == timedelta(seconds=1920 + min(jump, 0))
            assert elapsed(wet.when, washed.when)[1] == timedelta(seconds=1920 + max(jump, 0))
            assert answers["P06"].verdict == ("FAIL" if jump < 0 else "PASS")
            assert answers["P07"].verdict == "PASS"
        finally:
            shop.close()


def _ends(shop: Shop, step: str) -> Recorded[f.StepEnded]:
    return next(r for r in shop.facts(f.StepEnded, "B1") if r.fact.step == step)


def _starts(shop: Shop, step: str) -> Recorded[f.StepStarted]:
    return next(r for r in shop.facts(f.StepStarted, "B1") if r.fact.step == step)
