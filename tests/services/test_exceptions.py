"""The signed exceptions of law 2: a deviation beside an answer, a reason for a warning, a concession."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotPermitted
from ndi.services import exceptions, recording, tagging
from tests.build import num
from tests.services.shop import Shop, Step, certificate

TODAY = date(2026, 3, 10)


@pytest.fixture
def wrong_distance(shop: Shop) -> Shop:
    """MT-001 viewed under LP-1, whose last reading before it was taken at 15.6 in: L03 is FAIL, L11 with it."""
    shop.read_lamp("LP-1", "1700", distance=num("15.6 in"))
    shop.gear()
    return shop


def deviate(shop: Shop, rule: str = "L03", person: str = "NL3-E", **changed: Any) -> None:
    base: dict[str, Any] = {"role": "L3", "justification": "read again at 15 in within the hour", "expires": TODAY}
    exceptions.sign_deviation(shop.work, "MT-001", rule, person, **{**base, **changed})


def open_lines(shop: Shop, **more: Any) -> list[str]:
    return [
        a.rule
        for a in shop.judge("MT-001", **{"decider": "L2-A", "disposition": "ACCEPT", **more}).standing().open_lines
    ]


def test_deviation_stands_beside_the_answer_and_changes_none(wrong_distance: Shop) -> None:
    before = wrong_distance.judge("MT-001", decider="L2-A", disposition="ACCEPT")
    assert "L03" in open_lines(wrong_distance)
    deviate(wrong_distance)
    after = wrong_distance.judge("MT-001", decider="L2-A", disposition="ACCEPT")
    assert [(a.rule, a.verdict) for a in after.answers] == [(a.rule, a.verdict) for a in before.answers]
    assert after.answer("L03").verdict == "FAIL"
    assert [a.rule for a in after.standing().deviated] == ["L03"]
    assert "L03" not in open_lines(wrong_distance)


@pytest.mark.parametrize("rule", ["G01", "G02", "G12", "G13", "D07", "D12", "G30", "L02", "L11", "M30", "L08"])
def test_rules_without_deviation(wrong_distance: Shop, rule: str) -> None:
    with pytest.raises(NotPermitted):
        deviate(wrong_distance, rule)
    assert not wrong_distance.facts(f.DeviationSigned)


def test_rule_that_the_revision_does_not_ask(wrong_distance: Shop) -> None:
    with pytest.raises(InputError, match="does not ask"):
        deviate(wrong_distance, "P07")


@pytest.mark.parametrize(
    ("person", "role"), [("L2-A", "L3"), ("SUP-F", "L3"), ("SUP-F", "supervisor"), ("NL3-E", "level3"), ("NL3-P", "L3")]
)
def test_only_the_named_role_signs(wrong_distance: Shop, person: str, role: str) -> None:
    """NL3-P is a Level III, of the other method."""
    recording.record_outside_fact(wrong_distance.work, certificate("NL3-P", "PT", 3), "SUP-F")
    with pytest.raises(NotPermitted):
        deviate(wrong_distance, person=person, role=role)


def test_deviation_does_not_help_the_one_who_signed_it(wrong_distance: Shop) -> None:
    deviate(wrong_distance)
    assert "L03" in open_lines(wrong_distance, decider="NL3-E")


def test_last_day_of_a_deviation_counts_and_the_day_after_does_not(wrong_distance: Shop) -> None:
    deviate(wrong_distance)
    assert "L03" not in open_lines(wrong_distance.at("23:59:59"))
    assert "L03" in open_lines(wrong_distance.at("00:00", "2026-03-11"))


def test_deviation_that_would_have_ended_is_refused(wrong_distance: Shop) -> None:
    with pytest.raises(InputError, match="give a day to come"):
        deviate(wrong_distance, expires=TODAY - timedelta(days=1))


# --- accepted under a deviation -------------------------------------------------------------------


@pytest.fixture
def deviated(shop: Shop) -> Shop:
    """PT-001 accepted although it was washed 190 s (P16, at most 180 s), by deviation of the Level III."""
    steps = shop.sump_steps("PT-001", shop.receive("T6-11020", "SP-1"), "B1")
    moved = {"wash start": 1980, "nozzle": 1980, "still wet": 1980, "wash end": 2170, "rinse": 2170}
    shop.play(Step(s.name, moved.get(s.name, s.seconds), s.make) for s in steps)
    shop.after(30)
    with pytest.raises(NotPermitted) as refused:
        shop.sign("PT-001", person="L2-B")
    assert [a.rule for a in refused.value.answers] == ["P16"]
    why = "the pump was stopped for part of the time"
    exceptions.sign_deviation(shop.work, "PT-001", "P16", "NL3-E", role="L3", justification=why, expires=TODAY)
    shop.after(60).sign("PT-001", person="L2-B")
    return shop


def test_deviation_is_printed_on_the_tag(deviated: Shop) -> None:
    (printed,) = tagging.print_tags(deviated.work, "PT-001", "L2-B")
    (said,) = printed.model.exceptions
    assert "P16" in said and "deviation" in said
    assert any("P16" in line for line in printed.model.lines)


def test_deviation_that_ends_after_the_signature_suspends_nothing(deviated: Shop) -> None:
    """Judged as it stood when it was signed: only facts suspend."""
    deviated.at("06:30", "2026-03-11").read_lamp("LP-3", "1690")
    row = deviated.row("PT-001")
    assert (row.disposition, row.suspended, row.provisional) == ("ACCEPT", False, False)


# --- reasons and concessions ----------------------------------------------------------------------


def test_warning_needs_a_reason_with_a_person(shop: Shop) -> None:
    part = shop.receive("T6-10501", "CG-1")
    steps = shop.magnetic_steps("MT-001", part, "MT-T-6050")
    hasty = [type(s)(s.name, 300 if s.name == "view end" else s.seconds, s.make) for s in steps]
    shop.play(hasty)
    with pytest.raises(NotPermitted) as refused:
        shop.after(30).sign("MT-001")
    assert [a.rule for a in refused.value.answers] == ["G21"]
    shop.record(f.ReasonGiven("MT-001", "G21", "second gear of a pair, turned on the mandrel", "L2-A"))
    shop.after(30).sign("MT-001")
    (reason,) = shop.facts(f.DecisionSigned, "MT-001")[-1].fact.reasons
    assert (reason.rule, reason.person) == ("G21", "L2-A")


@pytest.mark.parametrize(
    ("person", "changed"),
    [
        ("L2-A", {}),
        ("NL3-E", {}),
        ("ENG-P", {"reference": " "}),
        ("ENG-P", {"revision": ""}),
        ("ENG-P", {"conditions": ""}),
    ],
)
def test_concession_comes_from_engineering_with_reference_and_revision(
    accepted: Shop, person: str, changed: dict[str, str]
) -> None:
    recording.record_outside_fact(accepted.work, f.PersonEntered("ENG-P", ("engineering",)), "SUP-F")
    base = {"reference": "ER-12", "revision": "A", "conditions": "inspect again at 500 h"}
    with pytest.raises((NotPermitted, InputError)):
        exceptions.give_concession(accepted.work, "MT-001", person, **{**base, **changed})
    assert not accepted.facts(f.ConcessionGiven)
