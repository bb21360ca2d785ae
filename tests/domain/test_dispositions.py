"""The table of dispositions, walked over every pair of states and every person, against a list written out by hand."""

from __future__ import annotations

from itertools import product

import pytest

from ndi.domain import dispositions as d

# Written from the department's list of allowed steps, not from the table: who may sign what from where.
BY_AN_INSPECTOR = {
    "NO DECISION": {"ACCEPT", "REWORK", "REJECT", "HOLD-ENG", "SPLIT"},
    "SUSPENDED": {"ACCEPT", "REWORK", "REJECT", "HOLD-ENG", "SPLIT"},
    "HOLD-ENG": {"ACCEPT", "REWORK", "REJECT", "HOLD-ENG", "SPLIT"},
    "CLAIM SUSPENDED": {"REJECT", "REWORK"},
    "REJECT CORRECTED": {"REJECT"},
}
BY_OTHERS = {
    ("REJECT", "SCRAP", "quality and a witness"),
    ("REJECT", "RETURN UNSERVICEABLE", "quality"),
    ("REJECT", "NO DECISION", "Level III and quality"),
    ("REJECT CORRECTED", "NO DECISION", "Level III and quality"),
    ("CLAIM SUSPENDED", "SCRAP", "quality and a witness"),
    ("CLAIM SUSPENDED", "RETURN UNSERVICEABLE", "quality"),
}


@pytest.mark.parametrize(("origin", "to"), list(product(d.STATES, d.STATES)))
def test_only_the_listed_steps_exist(origin: str, to: str) -> None:
    for who in d.Who:
        if who is d.Who.SYSTEM:
            continue
        wanted = (
            to in BY_AN_INSPECTOR.get(origin, set()) if who is d.Who.INSPECTOR else (origin, to, str(who)) in BY_OTHERS
        )
        assert (d.transition(origin, to, who) is not None) is wanted, (origin, to, who)


def test_nothing_leads_out_of_a_final_state() -> None:
    assert not [t for t in d.TABLE if t.origin in ("SCRAP", "RETURN UNSERVICEABLE")]


def test_system_only_suspends_or_takes_a_signature_back() -> None:
    assert {t.to for t in d.TABLE if t.who is d.Who.SYSTEM} == {
        "SUSPENDED",
        "CLAIM SUSPENDED",
        "NO DECISION",
        "REJECT CORRECTED",
    }
    # a rejection is never free again by a correction alone
    assert d.transition("REJECT", "NO DECISION", d.Who.SYSTEM) is None


@pytest.mark.parametrize(
    ("standing", "to", "may"),
    [("REJECT", "REJECT", True), ("REJECT", "REWORK", False), ("REWORK", "REWORK", True), ("REWORK", "REJECT", False)],
)
def test_a_word_under_a_suspended_claim_is_not_turned(standing: str, to: str, may: bool) -> None:
    state = d.state_of(standing, decided=True, suspended=True)
    assert d.signable(state, standing, to) is may


def test_leaving_an_engineering_hold_is_an_act_for_two() -> None:
    assert d.acts_of(["ACCEPT"], held=True) == ("hold release",)
    assert d.acts_of(["HOLD-ENG"], held=True) == ()
    assert set(d.acts_of(["REJECT"], held=True)) == {"reject", "hold release"}
    assert d.acts_of(["REJECT"], held=False) == ("reject",)


def test_leaving_an_engineering_hold_needs_engineering_s_reference() -> None:
    for word in ("ACCEPT", "REWORK", "REJECT"):
        row = d.transition("HOLD-ENG", word, d.Who.INSPECTOR)
        assert row is not None and "D14" in row.guard
    assert "D14" in d.guard_of("REJECT") and "D14" in d.guard_of("REWORK") and "D14" not in d.guard_of("HOLD-ENG")


def test_what_becomes_of_a_rejected_piece_is_its_owner_s_answer() -> None:
    for origin in ("REJECT", "CLAIM SUSPENDED"):
        for to, answer in (("SCRAP", "scrap"), ("RETURN UNSERVICEABLE", "return")):
            rows = [t for t in d.TABLE if (t.origin, t.to) == (origin, to)]
            assert [row.owner for row in rows] == [answer]


@pytest.mark.parametrize(
    ("held", "rejected_before", "decided", "word", "state"),
    [
        (True, False, True, "SPLIT", "HOLD-ENG"),
        (False, False, True, "SPLIT", "SPLIT"),
        (False, True, False, "NO DECISION", "REJECT CORRECTED"),
        (False, False, False, "NO DECISION", "NO DECISION"),
    ],
)
def test_state_of_a_split_under_hold_and_of_an_undone_rejection(
    held: bool, rejected_before: bool, decided: bool, word: str, state: str
) -> None:
    assert d.state_of(word, decided=decided, suspended=False, held=held, rejected_before=rejected_before) == state
