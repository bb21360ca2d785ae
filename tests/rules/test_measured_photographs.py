"""A length from a photograph beside the length on the part: the larger is read against the limit.

That the larger counts: common practice, no source.
"""

from __future__ import annotations

import pytest

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from tests import build as b
from tests.rules.indication_record import IND, Facts, evaluated, limit, look, part, photo, record, seen

LIMIT = part(limit("linear", "0.125 in"))


def measured(length: str, when: str = "10:16", **changed: object) -> Recorded[f.Fact]:
    fact = f.PhotographMeasured("X-001", IND, "ab12", b.num(length), b.num("0.02 mm"), "card in the plane", **changed)  # type: ignore[arg-type]
    return b.rec(fact, when)


def with_lengths(own: str, *photographs: str, word: str, second: str | None = None) -> Facts:
    looks = look(length=second or own)
    return [*record(seen=seen(own), photo=photo(), look=looks, evaluated=evaluated(word)), *map(measured, photographs)]


def answer(rule: str, facts: Facts, **about: object) -> str:
    return str(b.ask(rule, "MT", facts, master=LIMIT, **about).verdict)


@pytest.mark.parametrize(
    ("own", "photographs", "word"),
    [
        ("0.12 in", [], "within limit"),
        ("0.12 in", ["3.174 mm"], "within limit"),  # just inside 0.125 in = 3.175 mm
        ("0.12 in", ["3.175 mm"], "within limit"),  # exactly on it
        ("0.12 in", ["3.176 mm"], "over limit"),  # just outside
        ("0.13 in", ["3.0 mm"], "over limit"),  # a shorter photograph takes nothing away
        ("0.12 in", ["3.2 mm", "3.0 mm"], "over limit"),  # nor does a second one
    ],
)
def test_d05_larger_of_part_and_photograph_is_read_against_the_limit(
    own: str, photographs: list[str], word: str
) -> None:
    other = {"within limit": "over limit", "over limit": "within limit"}[word]
    assert answer("D05", with_lengths(own, *photographs, word=word)) == "PASS"
    assert answer("D05", with_lengths(own, *photographs, word=other)) == "FAIL"


def test_d05_second_person_and_photograph_are_read_together() -> None:
    facts = with_lengths("0.12 in", "3.1 mm", second="0.13 in", word="over limit")
    assert answer("D05", facts) == "PASS"


def test_d05_photograph_alone_leaves_the_length_on_the_part_open() -> None:
    facts = [*record(seen=seen(None), photo=photo(), evaluated=evaluated("over limit")), measured("9 mm")]
    assert answer("D05", facts) == "NOT RECORDED"
    assert answer("D01", facts) == "NOT RECORDED"


def test_d05_names_the_photograph_among_the_facts_it_used() -> None:
    facts = with_lengths("0.12 in", "3.2 mm", word="over limit")
    found = b.ask("D05", "MT", facts, master=LIMIT)
    assert facts[-1].position in found.facts and "0.126 in" in found.found


@pytest.mark.parametrize(("length", "expected"), [("3.175 mm", "PASS"), ("3.176 mm", "FAIL")])
def test_d12_part_is_not_accepted_over_the_photographs_length(length: str, expected: str) -> None:
    facts = with_lengths("0.12 in", length, word="within limit")
    assert answer("D12", facts, disposition="ACCEPT") == expected


def test_g18_measurement_is_evidence_with_a_possible_time() -> None:
    received = b.rec(f.PartReceived("W26-0148/PN-1/S-1", "W26-0148", 1), "06:30", day="2026-03-09")
    early = b.rec(measured("3 mm").fact, "10:16", recorded=b.at("10:10"))
    assert answer("G18", [received, *record(), measured("3 mm")]) == "PASS"
    assert answer("G18", [received, *record(), early]) == "FAIL"
