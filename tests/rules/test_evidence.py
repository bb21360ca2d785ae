"""G17 to G30: order, times and completeness of the evidence.

Limits are common practice, no source, unless a test says otherwise.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from ndi.domain import facts as f
from ndi.domain.answer import Verdict
from ndi.domain.entry import Obtained, Recorded
from ndi.domain.moment import Precision
from ndi.domain.parameter_keys import OPTIONAL
from ndi.rules import registry
from ndi.rules.evidence import photo_outcome
from ndi.rules.viewing import dark_outcome, stretch_outcome, views_of
from tests import build as b
from tests.rules.general_record import (
    Facts,
    ask,
    closed,
    decision,
    facts,
    indication,
    named,
    other_view,
    photo,
    received,
    shot,
    step,
    tick,
    typed,
)

PASS, FAIL, NOT_RECORDED, NOT_YET, NOT_APPLICABLE = (
    Verdict.PASS,
    Verdict.FAIL,
    Verdict.NOT_RECORDED,
    Verdict.NOT_YET,
    Verdict.NOT_APPLICABLE,
)
RULES = [f"G{number}" for number in range(17, 31)]
NO_POST = {"technique": b.technique(post_process=())}
PACE = {"technique": b.technique(expected_view_min=b.num("20 min"))}


@pytest.mark.parametrize("rule_id", RULES)
def test_complete_penetrant_record_stands(rule_id: str) -> None:
    answer = ask(rule_id, inquiry=NO_POST)
    assert answer.settled, answer.line()


@pytest.mark.parametrize("rule_id", RULES)
def test_complete_magnetic_record_stands(rule_id: str) -> None:
    answer = ask(rule_id, "MT")
    assert answer.settled, answer.line()


@pytest.mark.parametrize("rule_id", [rule_id for rule_id in RULES if rule_id not in ("G19", "G30")])
def test_no_facts_at_all_never_passes_or_fails_by_absence(rule_id: str) -> None:
    answer = b.ask(rule_id, "PT", [])
    assert answer.verdict in (NOT_RECORDED, NOT_APPLICABLE), answer.line()


@pytest.mark.parametrize(
    ("rule_id", "key"),
    [(rule_id, key) for rule_id in RULES for key in registry.load_all()[rule_id].keys if key not in OPTIONAL],
)
def test_parameter_missing_not_recorded(rule_id: str, key: str) -> None:
    more = [
        *b.view("09:20", "09:25", name="SC-1", person="NL3-E", kind="second look"),
        b.meter(),
        b.lamp_reading("LP-1", "06:42"),
        b.lamp_reading("LP-1", "12:40"),
        *other_view("X-000", "08:00", "08:40"),
        photo(),
    ]
    whole = ask(rule_id, more=more, inquiry=PACE)
    assert whole.verdict is PASS, whole.line()
    answer = ask(rule_id, more=more, inquiry={**PACE, "parameters": {key: None}})
    assert answer.verdict is NOT_RECORDED
    assert key in answer.says


# --- G17 ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("part", "name", "start", "end"),
    [("wash", "wash", "07:37", "08:14"), ("dryer", "dry", "08:13", "08:34"), ("develop", "develop", "08:33", "08:37")],
)
def test_g17_step_before_end_of_the_one_before_fail(part: str, name: str, start: str, end: str) -> None:
    answer = ask("G17", **named(part, step(name, start, end)))
    assert answer.verdict is FAIL
    assert start in answer.says


def test_g17_step_at_end_of_the_one_before_pass() -> None:
    assert ask("G17", develop=step("develop", "08:34", "08:37")).verdict is PASS


@pytest.mark.parametrize(
    ("part", "name", "start", "end"),
    [("wash", "wash", "08:10", None), ("dryer", "dry", None, "08:34"), ("develop", "develop", None, None)],
)
def test_g17_time_missing_not_recorded(part: str, name: str, start: str | None, end: str | None) -> None:
    answer = ask("G17", **named(part, step(name, start, end)))
    assert answer.verdict is NOT_RECORDED
    assert name in answer.says


def test_g17_step_ends_before_it_starts_fail() -> None:
    assert ask("G17", wash=step("wash", "08:14", "08:10")).verdict is FAIL


def test_g17_step_of_no_length_pass() -> None:
    assert ask("G17", wash=step("wash", "08:12", "08:12")).verdict is PASS


def test_g17_begun_again() -> None:
    """A second start without an end is an end missing, not a wrong order; the last end is the one that counts."""
    assert ask("G17", more=step("wet", "08:02", None)).verdict is NOT_RECORDED
    assert ask("G17", more=step("wet", "08:02", "08:10")).verdict is PASS
    assert ask("G17", more=step("wet", "08:02", "08:11")).verdict is FAIL
    assert ask("G17", wet=[*step("wet", "07:35", "07:38"), *step("wet", "07:36", None)]).verdict is PASS


@pytest.mark.parametrize(("start", "verdict"), [("08:35", FAIL), ("08:36", PASS), ("08:37", PASS)])
def test_g17_view_against_developer(start: str, verdict: Verdict) -> None:
    assert ask("G17", view=b.view(start, "09:12")).verdict is verdict


def test_g17_no_view_not_recorded() -> None:
    assert ask("G17", view=None).verdict is NOT_RECORDED


HYDROPHILIC = {"technique": b.technique(pt_method="D")}


def test_g17_method_d_needs_prewash_and_remover() -> None:
    assert ask("G17", inquiry=HYDROPHILIC).verdict is NOT_RECORDED
    more = [*step("prewash", "08:05", "08:06"), *step("remover", "08:07", "08:08")]
    assert ask("G17", more=more, inquiry=HYDROPHILIC).verdict is PASS
    late = [*step("prewash", "08:05", "08:06"), *step("remover", "08:05:59", "08:08")]
    assert ask("G17", more=late, inquiry=HYDROPHILIC).verdict is FAIL


@pytest.mark.parametrize("letter", [None, "B"])
def test_g17_order_not_known_not_recorded(letter: str | None) -> None:
    assert ask("G17", inquiry={"technique": b.technique(pt_method=letter)}).verdict is NOT_RECORDED


def test_g17_current_attempt_only_pass() -> None:
    again = [
        b.rec(f.BasketLoaded("B4b", "A", "Method A line", ("X-001",), 2), "13:36"),
        *step("wet", "14:20", "14:23", "B4b"),
        *step("wash", "14:56", "15:08", "B4b"),
        *step("dry", "15:10", "15:28", "B4b"),
        *step("develop", "15:30", "15:31", "B4b"),
        *b.view("15:45", "15:57", name="V2", attempt=2),
    ]
    assert (
        ask("G17", wash=step("wash", "13:34", None), dryer=None, develop=None, view=None, again=again).verdict is PASS
    )


@pytest.mark.parametrize(("when", "verdict"), [("07:29", FAIL), ("07:30", PASS), ("07:31", PASS)])
def test_g17_first_shot_against_opening(when: str, verdict: Verdict) -> None:
    assert ask("G17", "MT", shots=[shot(1, when), shot(2, "08:45")]).verdict is verdict


def test_g17_voided_shot_does_not_count_pass() -> None:
    early = [shot(1, "07:20"), b.rec(f.ShotVoided("X-001", 1, b.at("07:20"), "wrong current"), "07:31")]
    assert ask("G17", "MT", early=early).verdict is PASS


@pytest.mark.parametrize("part", ["shots", "view", "demag", "residual"])
def test_g17_magnetic_step_missing_not_recorded(part: str) -> None:
    assert ask("G17", "MT", **named(part, None)).verdict is NOT_RECORDED


@pytest.mark.parametrize(("when", "verdict"), [("08:44", NOT_RECORDED), ("08:45", PASS), ("08:46", PASS)])
def test_g17_demagnetised_before_last_shot_is_missing_after_it(when: str, verdict: Verdict) -> None:
    assert ask("G17", "MT", demag=b.rec(f.Demagnetised("X-001", "reversing"), when)).verdict is verdict


def test_g17_technique_without_demagnetisation_pass() -> None:
    about = {"technique": b.technique("MT", post_process=(), residual_points=())}
    assert ask("G17", "MT", demag=None, residual=None, inquiry=about).verdict is PASS


def test_g17_demagnetisation_without_residual_points_not_recorded() -> None:
    about = {"technique": b.technique("MT", post_process=("demag",), residual_points=())}
    assert ask("G17", "MT", demag=None, residual=None, inquiry=about).verdict is NOT_RECORDED
    assert ask("G17", "MT", residual=None, inquiry=about).verdict is PASS


@pytest.mark.parametrize(("again", "verdict"), [("09:13", PASS), ("09:13:01", NOT_RECORDED)])
def test_g17_demagnetised_again_needs_new_readings(again: str, verdict: Verdict) -> None:
    assert ask("G17", "MT", more=b.rec(f.Demagnetised("X-001", "reversing"), again)).verdict is verdict


# --- G18, G19 -------------------------------------------------------------------------------------


def test_g18_view_end_later_than_signature_fail() -> None:
    """View end typed 9 min ahead of the clock at the moment of signing."""
    ahead = [b.view("08:50", "09:12")[0], replace(b.view("08:50", "16:36")[1], recorded_at=b.at("16:36").at)]
    answer = ask("G18", view=ahead, asked="16:27", inquiry={"decider": "L2-A", "disposition": "ACCEPT"})
    assert answer.verdict is FAIL
    assert "16:36" in answer.says and "16:27" in answer.says


@pytest.mark.parametrize(("asked", "verdict"), [("09:11:59", FAIL), ("09:12", PASS), ("09:12:01", PASS)])
def test_g18_signing_against_last_evidence(asked: str, verdict: Verdict) -> None:
    assert ask("G18", asked=asked, inquiry={"decider": "L2-A", "disposition": "ACCEPT"}).verdict is verdict


@pytest.mark.parametrize(("when", "verdict"), [("09:11", FAIL), ("09:12", PASS), ("09:13", PASS)])
def test_g18_signed_against_last_evidence(when: str, verdict: Verdict) -> None:
    assert b.ask("G18", "PT", [*facts(), decision(when)]).verdict is verdict


def test_g18_nobody_wants_to_sign_pass() -> None:
    assert ask("G18", asked="08:00").verdict is PASS


def test_g18_signed_in_the_minute_of_the_evidence_pass() -> None:
    given = facts(view=b.view("08:50", "09:12:30"))
    stamp = b.at("09:12", precision=Precision.MINUTE)
    assert b.ask("G18", "PT", [*given, replace(decision(), when=stamp)]).verdict is PASS
    assert (
        b.ask("G18", "PT", [*given, replace(decision(), when=replace(stamp, precision=Precision.SECOND))]).verdict
        is FAIL
    )


def test_g18_re_view_after_signature_pass() -> None:
    """Evidence that entered the book after the signature is no evidence that the signature rested on."""
    given = [*facts(), decision(), *b.view("13:10", "13:18", name="V2", kind="re-view", containment="CT-01")]
    assert b.ask("G18", "PT", given).verdict is PASS


def test_g18_correction_moves_evidence_past_signature_fail() -> None:
    first, _ = b.view("08:50", "09:12")
    given = [*facts(view=[first]), decision("09:13")]
    ended = b.rec(f.ViewEnded("V1", "X-001", ("Z1", "Z2"), True), "09:40")
    assert b.ask("G18", "PT", [*given, ended]).verdict is PASS
    assert b.ask("G18", "PT", [*given, replace(ended, supersedes="test-000001", why="typed wrong")]).verdict is FAIL


@pytest.mark.parametrize(("seconds", "verdict"), [(-1, FAIL), (0, PASS), (1, PASS)])
def test_g18_event_against_entry(seconds: int, verdict: Verdict) -> None:
    first, last = b.view("08:50", "09:12")
    entered = replace(last, recorded_at=last.at + timedelta(seconds=seconds))
    assert ask("G18", view=[first, entered]).verdict is verdict


def test_g18_minute_stamp_is_the_start_of_its_minute_pass() -> None:
    first, last = b.view("08:50", "09:12")
    stamp = replace(last, when=b.at("09:12", precision=Precision.MINUTE), recorded_at=b.at("09:12:10").at)
    assert ask("G18", view=[first, stamp]).verdict is PASS


@pytest.mark.parametrize(("when", "verdict"), [("07:29", PASS), ("07:30", PASS), ("07:31", FAIL)])
def test_g18_event_against_receipt(when: str, verdict: Verdict) -> None:
    assert ask("G18", received=received(when)).verdict is verdict


def test_g18_receipt_missing_not_recorded() -> None:
    assert ask("G18", received=None).verdict is NOT_RECORDED


def test_g18_basket_and_indication_are_looked_at_fail() -> None:
    assert (
        ask("G18", wet=[replace(r, recorded_at=b.at("07:00").at) for r in step("wet", "07:35", "07:38")]).verdict
        is FAIL
    )
    test = b.rec(f.IndicationTested("IND-01", "wiped"), "09:05")
    assert ask("G18", more=[indication(), replace(test, recorded_at=b.at("09:00").at)]).verdict is FAIL


@pytest.mark.parametrize(("entered", "verdict"), [("09:26:59", PASS), ("09:27", PASS), ("09:27:01", FAIL)])
def test_g19_delay_at_limit(entered: str, verdict: Verdict) -> None:
    first, last = b.view("08:50", "09:12")
    answer = ask("G19", view=[first, typed(last, entered, Obtained.TYPED_LIVE)])
    assert answer.verdict is verdict
    if verdict is FAIL:
        assert "15 min 1 s" in answer.says


@pytest.mark.parametrize(
    ("how", "why", "verdict"),
    [
        (Obtained.TYPED_LATE, "timer stood still", PASS),
        (Obtained.TYPED_LATE, None, NOT_RECORDED),
        (Obtained.TRANSCRIBED, "power cut", PASS),
        (Obtained.TIMER, "said so", FAIL),
    ],
)
def test_g19_late_with_and_without_reason(how: Obtained, why: str | None, verdict: Verdict) -> None:
    first, last = b.view("08:50", "09:12")
    assert ask("G19", view=[first, typed(last, "11:22", how, why)]).verdict is verdict


def test_g19_correction_with_reason_pass() -> None:
    first, last = b.view("08:50", "09:12")
    corrected = replace(typed(last, "11:22", Obtained.TYPED_LIVE, "read the wrong clock"), supersedes="old")
    assert ask("G19", view=[first, corrected]).verdict is PASS


# --- G20 ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("start", "end", "verdict"),
    [
        ("08:40", "08:49", PASS),
        ("08:40", "08:50", PASS),
        ("08:40", "08:50:01", FAIL),
        ("09:11:59", "09:20", FAIL),
        ("09:12", "09:20", PASS),
        ("09:00", "09:05", FAIL),
        ("08:40", "09:30", FAIL),
        ("08:50", "09:12", FAIL),
    ],
)
def test_g20_same_person_elsewhere(start: str, end: str, verdict: Verdict) -> None:
    answer = ask("G20", more=other_view("X-009", start, end, station="PT booth"))
    assert answer.verdict is verdict
    if verdict is FAIL:
        assert "X-009" in answer.says and "L2-A" in answer.says


def test_g20_same_person_second_look_elsewhere_fail() -> None:
    assert (
        ask("G20", more=other_view("X-009", "09:00", "09:05", kind="second look", station="PT booth")).verdict is FAIL
    )


def test_g20_other_person_first_view_at_same_station_fail() -> None:
    answer = ask("G20", more=other_view("X-009", "09:00", "09:05", "L2-B"))
    assert answer.verdict is FAIL
    assert "MT booth" in answer.says


def test_g20_other_person_touching_at_same_station_pass() -> None:
    assert ask("G20", more=other_view("X-009", "09:12", "09:20", "L2-B")).verdict is PASS


def test_g20_other_person_elsewhere_pass() -> None:
    assert ask("G20", more=other_view("X-009", "09:00", "09:05", "L2-B", station="PT booth")).verdict is PASS


def test_g20_second_look_at_same_station_pass() -> None:
    assert ask("G20", more=other_view("X-009", "09:00", "09:05", "NL3-E", kind="second look")).verdict is PASS


def test_g20_second_person_of_this_record_doubles_fail() -> None:
    look = b.view("09:20", "09:25", name="SC-1", person="NL3-E", kind="second look")
    assert (
        ask("G20", look=look, more=other_view("X-009", "09:24", "09:30", "NL3-E", station="PT booth")).verdict is FAIL
    )
    assert (
        ask("G20", look=look, more=other_view("X-009", "09:25", "09:30", "NL3-E", station="PT booth")).verdict is PASS
    )


def test_g20_two_views_of_this_record_overlap_fail() -> None:
    assert ask("G20", more=b.view("09:10", "09:20", name="V2")).verdict is FAIL


@pytest.mark.parametrize(("start", "verdict"), [("08:49", NOT_RECORDED), ("09:12", PASS)])
def test_g20_end_of_other_view_missing(start: str, verdict: Verdict) -> None:
    assert ask("G20", more=other_view("X-009", start, None, station="PT booth")).verdict is verdict


def test_g20_own_view_still_open() -> None:
    assert ask("G20", view=b.view("08:50", None)).verdict is PASS
    assert ask("G20", view=b.view("08:50", None), more=other_view("X-009", "09:00", "09:05")).verdict is NOT_RECORDED


def test_g20_station_or_view_missing_not_recorded() -> None:
    assert ask("G20", view=b.view("08:50", "09:12", station=None)).verdict is NOT_RECORDED
    assert ask("G20", view=None).verdict is NOT_RECORDED


# --- G21, G22 -------------------------------------------------------------------------------------


def test_g21_time_not_stated_not_applicable() -> None:
    assert ask("G21").verdict is NOT_APPLICABLE


@pytest.mark.parametrize(("end", "verdict"), [("08:59:59", FAIL), ("09:00", PASS), ("09:00:01", PASS)])
def test_g21_half_of_twenty_minutes(end: str, verdict: Verdict) -> None:
    assert ask("G21", view=b.view("08:50", end), inquiry=PACE).verdict is verdict


@pytest.mark.parametrize(("end", "verdict"), [("09:49:59", FAIL), ("09:50", PASS)])
def test_g21_counts_pieces(end: str, verdict: Verdict) -> None:
    assert ask("G21", opened=b.opened(quantity=6), view=b.view("08:50", end), inquiry=PACE).verdict is verdict


def test_g21_views_add_up_pass() -> None:
    two = [*b.view("08:50", "08:55"), *b.view("08:56", "09:01", name="V2")]
    assert ask("G21", view=two, inquiry=PACE).verdict is PASS


@pytest.mark.parametrize(("asked", "verdict"), [("08:59:59", NOT_YET), ("09:00", PASS)])
def test_g21_still_viewing(asked: str, verdict: Verdict) -> None:
    assert ask("G21", view=b.view("08:50", None), asked=asked, inquiry=PACE).verdict is verdict


def test_g21_no_view_not_recorded() -> None:
    assert ask("G21", view=None, inquiry=PACE).verdict is NOT_RECORDED


@pytest.mark.parametrize(("start", "verdict"), [("07:12:01", PASS), ("07:12", PASS), ("07:11:59", FAIL)])
def test_g22_stretch_at_limit(start: str, verdict: Verdict) -> None:
    """120 min to the end of the view at 09:12, across two records."""
    answer = ask("G22", more=other_view("X-000", start, "08:48"))
    assert answer.verdict is verdict
    if verdict is FAIL:
        assert "120 min 1 s" in answer.says


@pytest.mark.parametrize(("end", "verdict"), [("08:39:59", PASS), ("08:40", PASS), ("08:40:01", FAIL)])
def test_g22_gap_that_is_a_break(end: str, verdict: Verdict) -> None:
    assert ask("G22", more=other_view("X-000", "06:30", end)).verdict is verdict


def test_g22_second_looks_count_in_the_stretch_fail() -> None:
    assert ask("G22", more=other_view("X-000", "07:00", "08:48", kind="second look")).verdict is FAIL


@pytest.mark.parametrize(("asked", "verdict"), [("10:49:59", NOT_YET), ("10:50", NOT_YET), ("10:50:01", FAIL)])
def test_g22_still_viewing(asked: str, verdict: Verdict) -> None:
    answer = ask("G22", view=b.view("08:50", None), asked=asked)
    assert answer.verdict is verdict


def test_g22_earlier_end_missing_not_recorded() -> None:
    assert ask("G22", more=other_view("X-000", "07:00", None)).verdict is NOT_RECORDED


def test_g22_earlier_end_missing_but_short_anyway_pass() -> None:
    assert ask("G22", more=other_view("X-000", "08:00", None)).verdict is PASS


@pytest.mark.parametrize(
    ("until", "verdict"),
    [("09:50", PASS), ("09:50:01", FAIL), ("10:09:59", FAIL), ("10:20", PASS), ("12:20", PASS), ("12:20:01", FAIL)],
)
def test_stretch_asked_at_any_time(until: str, verdict: Verdict) -> None:
    given: Facts = []
    for start, end in (("07:50", "08:46"), ("08:48", "09:40"), ("09:42", "10:10"), ("10:20", "12:30")):
        given += other_view(f"X-{start}", start, end)
    q = b.inquiry("MT", given)
    assert stretch_outcome(q, views_of(q.facts, "L2-A"), b.at(until)).verdict is verdict


def test_stretch_during_a_break_pass() -> None:
    q = b.inquiry("MT", other_view("X-0", "07:00", "10:00"))
    assert stretch_outcome(q, views_of(q.facts, "L2-A"), b.at("10:09:59")).verdict is FAIL
    assert stretch_outcome(q, views_of(q.facts, "L2-A"), b.at("10:10")).verdict is PASS


# --- G23, G24 -------------------------------------------------------------------------------------


@pytest.mark.parametrize(("when", "verdict"), [("08:48:59", PASS), ("08:49", PASS), ("08:49:01", FAIL)])
def test_g23_sixty_seconds(when: str, verdict: Verdict) -> None:
    """60 s: ASTM E1417 and E1444 ask at least 1 min of dark adaptation, from memory."""
    answer = ask("G23", closed=closed(when))
    assert answer.verdict is verdict
    if verdict is FAIL:
        assert answer.found == "59 s"


def test_g23_closed_as_the_view_starts_fail() -> None:
    assert ask("G23", closed=closed("08:50")).verdict is FAIL


def test_g23_closed_as_the_last_view_before_the_break_ends_pass() -> None:
    assert ask("G23", closed=closed("08:40"), more=other_view("X-000", "08:00", "08:40")).verdict is PASS


def test_g23_last_closing_counts_fail() -> None:
    assert ask("G23", closed=[closed("08:40"), closed("08:49:40")]).verdict is FAIL


def test_g23_minute_stamps_not_recorded_where_they_decide() -> None:
    def stamped(when: str) -> Recorded[f.Fact]:
        return closed(b.at(when, precision=Precision.MINUTE))

    assert ask("G23", closed=stamped("08:49")).verdict is NOT_RECORDED
    assert ask("G23", closed=stamped("08:48")).verdict is PASS


@pytest.mark.parametrize(
    "other",
    [
        None,
        closed("08:51"),
        closed("08:40", "L2-B"),
        closed("08:40", station="PT booth"),
        replace(closed("08:40"), when=b.at("08:40", "2026-03-09")),
    ],
)
def test_g23_no_closing_that_counts_not_recorded(other: Recorded[f.Fact] | None) -> None:
    assert ask("G23", closed=other).verdict is NOT_RECORDED


@pytest.mark.parametrize(("end", "verdict"), [("08:40:01", PASS), ("08:40", NOT_RECORDED)])
def test_g23_closed_once_per_stretch(end: str, verdict: Verdict) -> None:
    """A closing before an earlier view of the stretch holds; one before a break does not."""
    assert ask("G23", closed=closed("07:58"), more=other_view("X-000", "08:00", end)).verdict is verdict


def test_g23_viewed_elsewhere_meanwhile_not_recorded() -> None:
    assert (
        ask("G23", closed=closed("08:30"), more=other_view("X-000", "08:35", "08:48", station="PT booth")).verdict
        is NOT_RECORDED
    )


def test_g23_station_missing_not_recorded() -> None:
    assert ask("G23", view=b.view("08:50", "09:12", station=None)).verdict is NOT_RECORDED


def test_dark_adaptation_before_viewing_not_yet() -> None:
    q = b.inquiry("MT", [closed("08:48")])
    outcome = dark_outcome(q, "L2-A", "MT booth", b.at("08:48:20"), viewing=False)
    assert outcome.verdict is NOT_YET
    assert "20 s" in outcome.says and "40 s" in outcome.says
    assert dark_outcome(q, "L2-A", "MT booth", b.at("08:49"), viewing=False).verdict is PASS


def checked(glasses: bool | None, when: str = "06:30", name: str = "L2-A", day: str = b.DAY) -> Recorded[f.Fact]:
    return b.rec(f.CheckedIn(name, "MT booth", glasses), when, name, day=day)


@pytest.mark.parametrize(
    ("given", "verdict"),
    [
        ([], NOT_RECORDED),
        ([checked(None)], NOT_RECORDED),
        ([checked(True)], PASS),
        ([checked(False)], FAIL),
        ([checked(False), checked(True, "08:00")], PASS),
        ([checked(True), checked(None, "08:00")], PASS),
        ([checked(True, "08:51")], NOT_RECORDED),
        ([checked(True, "08:50")], PASS),
        ([checked(True, "05:59:59")], NOT_RECORDED),
        ([checked(True, "06:00")], PASS),
        ([checked(True, day="2026-03-09")], NOT_RECORDED),
        ([checked(True, name="L2-B")], NOT_RECORDED),
    ],
)
def test_g24_declaration_of_the_day(given: Facts, verdict: Verdict) -> None:
    assert ask("G24", check_in=given).verdict is verdict


# --- G25 to G27 -----------------------------------------------------------------------------------


def test_g25_no_photograph_not_applicable() -> None:
    assert ask("G25").verdict is NOT_APPLICABLE


@pytest.mark.parametrize(
    ("taken", "verdict"),
    [("08:39:59", FAIL), ("08:40", PASS), ("08:55", PASS), ("09:22", PASS), ("09:22:01", FAIL)],
)
def test_g25_time_against_inspection(taken: str, verdict: Verdict) -> None:
    assert ask("G25", more=[photo(taken)]).verdict is verdict


@pytest.mark.parametrize(
    ("mine", "theirs", "verdict"),
    [(None, None, FAIL), ("one frame shows both", None, PASS), (None, "one frame shows both", PASS)],
)
def test_g25_same_photograph_on_two_records(mine: str | None, theirs: str | None, verdict: Verdict) -> None:
    answer = ask("G25", more=[photo(reuse_reason=mine), photo(inspection="X-012", reuse_reason=theirs)])
    assert answer.verdict is verdict
    if verdict is FAIL:
        assert "X-012" in answer.says


@pytest.mark.parametrize(
    ("codes", "reason", "verdict"),
    [
        (None, None, PASS),
        ((), None, PASS),
        (("part:W-1/P/1",), None, PASS),
        (("order:W-1",), None, PASS),
        (("part:W-1/P/2",), None, FAIL),
        (("part:W-1/P/1", "part:W-1/P/2"), None, FAIL),
        (("part:W-1/P/2",), "one frame shows both", PASS),
        (("order:W-2",), None, FAIL),
        (("lamp:LP-1", "https://example.org", "part:", ""), None, PASS),
    ],
)
def test_g25_code_in_the_frame_names_the_part(
    codes: tuple[str, ...] | None, reason: str | None, verdict: Verdict
) -> None:
    own = b.inquiry("PT", facts()).opened.fact
    read = None if codes is None else tuple(c.replace("W-1/P/1", own.part) for c in codes)
    read = read and tuple(own.work_order.join(("order:", "")) if c == "order:W-1" else c for c in read)
    answer = ask("G25", more=[photo(codes_read=read, reuse_reason=reason)])
    assert answer.verdict is verdict
    if verdict is FAIL:
        assert "W-1/P/2" in answer.says or "W-2" in answer.says


def test_g25_same_photograph_twice_on_this_record_pass() -> None:
    assert ask("G25", more=[photo(), photo()]).verdict is PASS


@pytest.mark.parametrize(("lost", "verdict"), [("aa", NOT_RECORDED), ("bb", PASS)])
def test_g25_file_of_a_photograph_is_lost(lost: str, verdict: Verdict) -> None:
    q = b.inquiry("PT", facts(more=[photo()]), lost_photographs=frozenset({lost}))
    assert registry.answer("G25", q).verdict is verdict


def test_g25_no_hash_not_recorded() -> None:
    assert ask("G25", more=[photo(sha256="")]).verdict is NOT_RECORDED


def test_g25_no_view_not_recorded() -> None:
    assert ask("G25", view=None, more=[photo()]).verdict is NOT_RECORDED


def test_g25_photograph_of_first_view_after_re_view_pass() -> None:
    again = b.view("13:10", "13:18", name="V2", kind="re-view", containment="CT-01")
    assert ask("G25", again=again, more=[photo()]).verdict is PASS


def test_photo_refused_when_attached_to_other_part_fail() -> None:
    q = b.inquiry("PT", facts(more=[photo(inspection="X-012")]))
    about_to_attach = f.PhotoAttached("X-001", "aa", b.at("09:00"))
    assert photo_outcome(q, about_to_attach, about_to_attach.taken_at).verdict is FAIL


@pytest.mark.parametrize(
    ("zones", "verdict"),
    [(("Z1", "Z2"), PASS), (("Z1",), NOT_RECORDED), ((), NOT_RECORDED), (("Z1", "Z2", "Z3"), PASS)],
)
def test_g26_zones_ticked(zones: tuple[str, ...], verdict: Verdict) -> None:
    answer = ask("G26", view=b.view("08:50", "09:12", zones=zones))
    assert answer.verdict is verdict
    assert verdict is PASS or "Z2" in answer.says


def test_g26_views_together_cover_pass() -> None:
    two = [*b.view("08:50", "09:00", zones=("Z1",)), *b.view("09:01", "09:12", name="V2", zones=("Z2",))]
    assert ask("G26", view=two).verdict is PASS


def test_g26_re_view_must_cover_again_not_recorded() -> None:
    again = b.view("13:10", "13:18", name="V2", kind="re-view", containment="CT-01", zones=("Z1",))
    assert ask("G26", again=again).verdict is NOT_RECORDED


def test_g26_no_view_not_recorded() -> None:
    assert ask("G26", view=None).verdict is NOT_RECORDED


@pytest.mark.parametrize(
    ("nothing", "seen", "verdict"),
    [
        (True, False, PASS),
        (True, True, FAIL),
        (None, True, PASS),
        (False, True, PASS),
        (None, False, NOT_RECORDED),
        (False, False, NOT_RECORDED),
    ],
)
def test_g27_result_of_first_view(nothing: bool | None, seen: bool, verdict: Verdict) -> None:
    assert (
        ask("G27", view=b.view("08:50", "09:12", nothing_seen=nothing), more=[indication()] if seen else []).verdict
        is verdict
    )


def test_g27_view_not_ended_not_recorded() -> None:
    assert ask("G27", view=b.view("08:50", None)).verdict is NOT_RECORDED


def test_g27_indication_belongs_to_its_own_view() -> None:
    two = [*b.view("08:50", "09:00", nothing_seen=True), *b.view("09:01", "09:12", name="V2", nothing_seen=None)]
    assert ask("G27", view=two, more=[indication("09:05")]).verdict is PASS
    assert ask("G27", view=two, more=[indication("08:55")]).verdict is FAIL


def test_g27_indication_at_the_start_of_a_view_is_of_that_view_pass() -> None:
    two = [*b.view("08:50", "09:01", nothing_seen=True), *b.view("09:01", "09:12", name="V2", nothing_seen=None)]
    assert ask("G27", view=two, more=[indication("09:01")]).verdict is PASS


def test_g27_re_view_says_nothing_new_pass() -> None:
    again = b.view("13:10", "13:18", name="V2", kind="re-view", containment="CT-01")
    first = b.view("08:50", "09:12", nothing_seen=None)
    assert ask("G27", view=first, again=again, more=[indication()]).verdict is PASS


def test_g27_re_view_silent_not_recorded() -> None:
    again = b.view("13:10", "13:18", name="V2", kind="re-view", containment="CT-01", nothing_seen=None)
    assert ask("G27", again=again, more=[indication()]).verdict is NOT_RECORDED


# --- G28 to G30 -----------------------------------------------------------------------------------


def test_g28_technique_lists_none_not_applicable() -> None:
    answer = ask("G28", inquiry=NO_POST)
    assert answer.verdict is NOT_APPLICABLE
    assert answer.says.startswith("technique")


def test_g28_missing_are_named_not_recorded() -> None:
    answer = ask("G28", "MT", post=tick("post-process: clean", "09:14"))
    assert answer.verdict is NOT_RECORDED
    assert "dry" in answer.says and "preserve" in answer.says and "clean" not in answer.says


@pytest.mark.parametrize(("when", "verdict"), [("08:44", NOT_RECORDED), ("08:45", PASS), ("08:46", PASS)])
def test_g28_demagnetised_after_last_shot(when: str, verdict: Verdict) -> None:
    assert ask("G28", "MT", demag=b.rec(f.Demagnetised("X-001", "reversing"), when)).verdict is verdict


def test_g28_voided_shot_magnetises_too_not_recorded() -> None:
    late = [shot(1, "09:20"), b.rec(f.ShotVoided("X-001", 1, b.at("09:20"), "wrong current"), "09:21")]
    assert ask("G28", "MT", late=late).verdict is NOT_RECORDED


def test_g28_tick_no_fail() -> None:
    about = {"technique": b.technique("MT", post_process=("preserve",))}
    assert ask("G28", "MT", post=tick("post-process: preserve", "09:14", value="no"), inquiry=about).verdict is FAIL


@pytest.mark.parametrize(("first", "last", "verdict"), [("no", "yes", PASS), ("yes", "no", FAIL)])
def test_g28_last_tick_counts(first: str, last: str, verdict: Verdict) -> None:
    about = {"technique": b.technique("MT", post_process=("preserve",))}
    given = [tick("post-process: preserve", "09:14", value=first), tick("post-process: preserve", "09:15", value=last)]
    assert ask("G28", "MT", post=given, inquiry=about).verdict is verdict


def plugs(direction: str, count: int, when: str) -> Recorded[f.Fact]:
    return b.rec(f.PlugsCounted("X-001", direction, count), when)


def test_g28_plugs_out() -> None:
    about = {"technique": b.technique("MT", post_process=("plugs out",))}
    assert ask("G28", "MT", inquiry=about).verdict is NOT_RECORDED
    assert ask("G28", "MT", more=[plugs("out", 9, "09:15")], inquiry=about).verdict is PASS


PLUGGED = {"technique": b.technique("MT", plugs=9)}


def test_g29_no_plugs_in_technique_not_applicable() -> None:
    assert ask("G29", "MT").verdict is NOT_APPLICABLE


@pytest.mark.parametrize(("out", "verdict"), [(8, FAIL), (9, PASS), (10, FAIL)])
def test_g29_out_against_in(out: int, verdict: Verdict) -> None:
    answer = ask("G29", "MT", more=[plugs("in", 9, "07:34"), plugs("out", out, "09:15")], inquiry=PLUGGED)
    assert answer.verdict is verdict
    assert answer.found == f"9 in, {out} out"


def test_g29_counted_again_last_counts_pass() -> None:
    given = [plugs("in", 8, "07:33"), plugs("in", 9, "07:34"), plugs("out", 8, "09:15"), plugs("out", 9, "09:20")]
    assert ask("G29", "MT", more=given, inquiry=PLUGGED).verdict is PASS


@pytest.mark.parametrize("given", [[], [plugs("in", 9, "07:34")], [plugs("out", 9, "09:15")]])
def test_g29_count_blank_not_recorded(given: Facts) -> None:
    assert ask("G29", "MT", more=given, inquiry=PLUGGED).verdict is NOT_RECORDED


def containment(*inspections: str, name: str = "CT-01") -> Recorded[f.Fact]:
    fact = f.ContainmentOpened(
        name, "LP-3", "UV-A at 15 in", 1, b.at("06:42"), b.at("12:35"), inspections, (), len(inspections)
    )
    return b.rec(fact, "12:35")


def settled(name: str = "CT-01", inspection: str = "X-001") -> Recorded[f.Fact]:
    return b.rec(f.ContainmentItemDone(name, inspection, "re-view"), "13:20")


def test_g30_open_fail_says_what_and_when() -> None:
    answer = ask("G30", more=[containment("X-001", "X-002")])
    assert answer.verdict is FAIL
    for word in ("LP-3", "UV-A at 15 in", "12:35", "CT-01"):
        assert word in answer.says


@pytest.mark.parametrize(
    ("given", "verdict"),
    [
        ([containment("X-002")], PASS),
        ([containment("X-001"), settled()], PASS),
        ([containment("X-001"), settled(inspection="X-002")], FAIL),
        ([containment("X-001"), containment("X-001", name="CT-02"), settled()], FAIL),
    ],
)
def test_g30_item_done(given: Facts, verdict: Verdict) -> None:
    assert ask("G30", more=given).verdict is verdict


def test_facts_used_are_named() -> None:
    given = facts()
    ended = next(r for r in given if isinstance(r.fact, f.ViewEnded))
    for rule_id in ("G18", "G20", "G22", "G26", "G27"):
        assert ended.position in b.ask(rule_id, "PT", given).facts, rule_id
