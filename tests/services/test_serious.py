"""The clock of serious findings, the release that starts the keeping of records, and what becomes of rejected pieces."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotPermitted
from ndi.services import handover, inspecting, recall_work, recording, rejected, serious
from tests.services.shop import ORDER, Shop
from tests.services.test_law_10 import rejected_gear

PART = "W26-0148/T6-10501/CG-1"


@pytest.fixture
def cracked(shop: Shop) -> Shop:
    """A gear rejected for a crack; CI-G is of quality."""
    recording.record_outside_fact(shop.work, f.PersonEntered("CI-G", ("quality",)), "SUP-F")
    rejected_gear(shop)
    return shop


def only(shop: Shop) -> serious.Finding:
    (found,) = [each for each in serious.findings(shop.work) if each.is_crack]
    return found


def test_clock_runs_from_first_sight_whenever_it_was_judged(cracked: Shop) -> None:
    """14 CFR 145.221(a): within 96 hours after discovery."""
    seen = cracked.facts(f.IndicationSeen)[0].when
    found = only(cracked)
    assert found.discovered.at == seen.at
    assert found.report_by is not None and (found.report_by.at - seen.at).total_seconds() == 96 * 3600
    cracked.after(50 * 3600)
    serious.judge_seriousness(cracked.work, found.name, "NL3-E", serious=True, reason="crank gear, engine stops")
    assert only(cracked).report_by == found.report_by
    assert not only(cracked).is_red(cracked.work.now())
    cracked.after(46 * 3600)
    assert only(cracked).is_red(cracked.work.now())
    serious.report_sent(cracked.work, found.name, "SUP-F", reference="SDR 4", sent_to="the authority")
    assert not only(cracked).is_red(cracked.work.now())


def test_crack_without_a_judgement_is_red_after_a_day(cracked: Shop) -> None:
    def red() -> list[str]:
        return [line.about for line in handover.open_lines(cracked.work) if line.kind == "serious finding"]

    first = cracked.facts(f.IndicationSeen)[0].when.at
    cracked.clock.at = first.replace(day=first.day + 1)
    assert red() == []
    cracked.after(1)
    assert red() == ["IND-01"]
    serious.judge_seriousness(
        cracked.work, "IND-01", "NL3-E", serious=False, reason="found at overhaul, within known wear"
    )
    assert red() == []
    (kept,) = cracked.facts(f.SeriousnessJudged)
    assert (kept.fact.person, kept.fact.reason) == ("NL3-E", "found at overhaul, within known wear")


def test_judgement_has_a_reason_and_a_level_three(cracked: Shop) -> None:
    with pytest.raises(InputError, match="reason"):
        serious.judge_seriousness(cracked.work, "IND-01", "NL3-E", serious=False, reason=" ")
    with pytest.raises(NotPermitted, match="level 3"):
        serious.judge_seriousness(cracked.work, "IND-01", "L2-A", serious=False, reason="small")


def test_release_comes_from_outside_and_starts_the_keeping(cracked: Shop) -> None:
    """14 CFR 145.219(c): at least 2 years from the date the article was approved for return to service."""
    released = serious.note_release(cracked.work, ORDER, date(2026, 3, 10), "8130-3 no. 7", "A. Releaser", "SUP-F")
    assert isinstance(released.fact, f.ReleaseNoted)
    assert serious.keep_until(released.fact) == date(2028, 3, 10)
    longer = serious.note_release(
        cracked.work, ORDER, date(2026, 3, 10), "8130-3 no. 7", "A. Releaser", "SUP-F", years=3
    )
    assert isinstance(longer.fact, f.ReleaseNoted)
    assert serious.keep_until(longer.fact) == date(2029, 3, 10)
    with pytest.raises(InputError, match="not come yet"):
        serious.note_release(cracked.work, ORDER, date(2026, 3, 11), "x", "y", "SUP-F")


def test_rejected_piece_goes_back_when_its_owner_asks(cracked: Shop) -> None:
    with pytest.raises(NotPermitted, match="owner has not answered"):
        rejected.return_unserviceable(cracked.work, PART, "CI-G", marked=True)
    cracked.record(f.OwnerAnswered(PART, "return", "letter 3"))
    with pytest.raises(NotPermitted, match="not of quality"):
        rejected.return_unserviceable(cracked.work, PART, "L2-A", marked=True)
    rejected.return_unserviceable(cracked.work, PART, "CI-G", marked=True)
    with pytest.raises(InputError, match="already"):
        rejected.return_unserviceable(cracked.work, PART, "CI-G", marked=True)


def test_rejection_is_taken_back_by_two_who_did_not_sign_it(cracked: Shop) -> None:
    def reopen(three: str = "NL3-E", quality: str = "CI-G", **changed: str) -> None:
        given = {"reason": "wrong serial number", "evidence": "photo ab12"}
        rejected.reopen(cracked.work, "MT-001", three, quality, **{**given, **changed})

    with pytest.raises(NotPermitted, match="no level 3"):
        reopen("L2-C")
    with pytest.raises(InputError, match="evidence"):
        reopen(evidence="")
    reopen()
    assert cracked.row("MT-001").disposition == "NO DECISION"
    with pytest.raises(NotPermitted, match="only a standing REJECT"):
        reopen()


# --- boundaries of the clock ------------------------------------------------------------------------------


def red(shop: Shop) -> list[str]:
    """The red ones; the count that the desk asks for each minute says the same."""
    now = shop.work.now()
    found = [each.name for each in serious.findings(shop.work) if each.is_red(now)]
    assert serious.late(shop.work) == len(found)
    return found


@pytest.mark.parametrize(("seconds", "is_red"), [(-1, False), (0, False), (1, True)])
def test_unjudged_crack_turns_red_one_second_after_a_day(cracked: Shop, seconds: int, is_red: bool) -> None:
    """24 h without a judgement is the department's own rule: common practice, no source."""
    seen = cracked.facts(f.IndicationSeen)[0].when.at
    cracked.clock.at = seen + timedelta(hours=24, seconds=seconds)
    assert red(cracked) == (["IND-01"] if is_red else [])


@pytest.mark.parametrize(("seconds", "is_red"), [(-1, False), (0, False), (1, True)])
def test_unreported_serious_finding_turns_red_one_second_after_96_hours(
    cracked: Shop, seconds: int, is_red: bool
) -> None:
    """14 CFR 145.221(a): within 96 hours after discovery, whenever it was judged."""
    seen = cracked.facts(f.IndicationSeen)[0].when.at
    cracked.clock.at = seen + timedelta(hours=95)
    serious.judge_seriousness(cracked.work, "IND-01", "NL3-E", serious=True, reason="crank gear, engine stops")
    cracked.clock.at = seen + timedelta(hours=96, seconds=seconds)
    assert red(cracked) == (["IND-01"] if is_red else [])


def test_clock_starts_at_first_sight_though_it_was_first_taken_for_something_else(cracked: Shop) -> None:
    seen = cracked.facts(f.IndicationSeen)[0].when
    cracked.after(3600)
    call = f.IndicationInterpreted("IND-01", "relevant", "returned", "forging lap")
    inspecting.interpret(cracked.work, call, "L2-A")
    cracked.after(48 * 3600)
    assert serious.findings(cracked.work) == () and serious.late(cracked.work) == 0
    cracked.after(3600)
    inspecting.interpret(
        cracked.work, f.IndicationInterpreted("IND-01", "relevant", "returned", "fatigue crack"), "L2-A"
    )
    assert only(cracked).discovered.at == seen.at
    assert red(cracked) == ["IND-01"]  # two days after first sight, whenever it was called a crack


def test_relevant_indication_without_a_type_may_be_a_crack(cracked: Shop) -> None:
    cracked.after(60)
    inspecting.interpret(cracked.work, f.IndicationInterpreted("IND-01", "relevant", "returned", None), "L2-A")
    assert only(cracked).name == "IND-01"
    inspecting.interpret(
        cracked.after(60).work, f.IndicationInterpreted("IND-01", "relevant", "returned", "forging lap"), "L2-A"
    )
    assert [each for each in serious.findings(cracked.work) if each.is_crack] == []


def test_recall_set_is_discovered_when_somebody_finds_the_entry_bad(cracked: Shop) -> None:
    """A bad reading discovers it at once; a person who finds out later discovers it then."""
    reading = cracked.facts(f.ReadingRecorded, "LP-1")[-1]
    cracked.after(5 * 24 * 3600)
    recall_work.recall_from(cracked.work, reading.position, "SUP-F", "the meter had another filter on")
    (found,) = [each for each in serious.findings(cracked.work) if not each.is_crack]
    assert found.discovered.at == cracked.work.now().at
    assert found.state(cracked.work.now()) == f"not judged; if serious, its report would be due {found.report_by}"
    assert found.report_by is not None and found.report_by.at - found.discovered.at == timedelta(hours=96)
    serious.judge_seriousness(cracked.work, found.name, "NL3-E", serious=True, reason="parts went into an engine")
    assert found.name not in red(cracked)
    cracked.after(96 * 3600 + 1)
    assert found.name in red(cracked)


def test_facts_of_the_report_are_collected_with_what_is_not_known(cracked: Shop) -> None:
    """14 CFR 145.221(b): registration, type of the article, date, nature, time since overhaul, apparent cause."""
    said = dict(line.split(": ", 1) for line in only(cracked).about)
    assert said["part"] == "T6-10501 CG-1" and said["type"] == "grinding crack" and said["found"][:10] == "2026-03-10"
    assert said["aircraft registration"] == said["apparent cause"] == said["time since overhaul"] == "NOT RECORDED"
    serious.judge_seriousness(
        cracked.work, "IND-01", "NL3-E", serious=True, reason="engine stops", registration="N-0000X", cause="grinding"
    )
    said = dict(line.split(": ", 1) for line in only(cracked).about)
    assert (said["aircraft registration"], said["apparent cause"]) == ("N-0000X", "grinding")


@pytest.mark.parametrize(
    ("released", "years", "until"),
    [
        (date(2024, 2, 29), 2, date(2026, 3, 1)),
        (date(2024, 2, 29), 4, date(2028, 2, 29)),
        (date(2026, 3, 10), 3, date(2029, 3, 10)),
    ],
)
def test_records_are_kept_whole_years_from_the_release(released: date, years: int, until: date) -> None:
    assert serious.keep_until(f.ReleaseNoted(ORDER, released, "8130-3 no. 7", "A. Releaser", years)) == until
