"""The second person: another one, qualified, blind, saving the own result once (laws 2 and 9)."""

from __future__ import annotations

from typing import Any

import pytest

from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotFound, NotPermitted
from ndi.services import inspecting
from tests.build import num
from tests.services.shop import Shop

PART = "W26-0148/T6-10501/CG-1"


@pytest.fixture
def cracked(shop: Shop) -> Shop:
    shop.play(shop.magnetic_steps("MT-001", shop.receive("T6-10501", "CG-1"), "MT-T-6050", nothing_seen=False))
    shop.after(30).crack("MT-001", PART)
    return shop.after(60)


def look(shop: Shop, person: str = "L2-C", name: str = "SC-01", indication: str | None = "IND-01") -> None:
    inspecting.start_view(
        shop.work, name, "MT-001", person, ["LP-1"], kind="second look", station="MT booth", indication=indication
    )


def saved(person: str = "L2-C", name: str = "SC-01", **changed: Any) -> f.SecondLookSaved:
    base: dict[str, Any] = {
        "indication": "IND-01",
        "interpretation": "relevant",
        "form": "linear",
        "length": num("0.20 in"),
    }
    return f.SecondLookSaved(name, "MT-001", person, **{**base, **changed})


def test_who_viewed_the_part_cannot_be_its_second_person(cracked: Shop) -> None:
    with pytest.raises(NotPermitted) as refused:
        look(cracked, "L2-A")
    assert [a.rule for a in refused.value.answers] == ["D07"]
    assert cracked.facts(f.ActionRefused, "IND-01")[-1].fact.person == "L2-A"


def test_the_viewer_does_not_save_the_second_persons_result(cracked: Shop) -> None:
    look(cracked)
    with pytest.raises(NotPermitted, match="only L2-C"):
        inspecting.save_second_look(cracked.after(60).work, saved("L2-A"))


@pytest.mark.parametrize("changed", [{"indication": None}, {"inspection": "MT-009"}])
def test_result_of_something_else_is_refused(cracked: Shop, changed: dict[str, Any]) -> None:
    look(cracked)
    fact = f.SecondLookSaved("SC-01", changed.get("inspection", "MT-001"), "L2-C", changed.get("indication", "IND-01"))
    with pytest.raises((InputError, NotFound)):
        inspecting.save_second_look(cracked.after(60).work, fact)


def test_result_is_saved_once(cracked: Shop) -> None:
    look(cracked)
    inspecting.save_second_look(cracked.after(60).work, saved())
    with pytest.raises(InputError, match="saved already"):
        inspecting.save_second_look(cracked.after(60).work, saved(interpretation="false"))


def test_result_of_a_first_view_is_no_second_look(cracked: Shop) -> None:
    with pytest.raises(InputError):
        inspecting.save_second_look(cracked.work, saved(name="MT-001/view", person="L2-A"))


def test_second_look_at_an_indication_that_is_not_there(cracked: Shop) -> None:
    with pytest.raises(NotFound, match="IND-77"):
        look(cracked, indication="IND-77")


def test_a_first_look_by_an_operator_is_not_enough(cracked: Shop) -> None:
    cracked.second_look(
        "MT-001", "IND-01", person="L1-D", interpretation="relevant", form="linear", length=num("0.20 in")
    )
    judgement = cracked.judge("MT-001", decider="L2-A", disposition="REJECT")
    assert judgement.answer("D07").verdict == "FAIL"


@pytest.mark.parametrize(
    ("length", "verdict"),
    [
        ("0.23 in", "PASS"),
        ("0.25 in", "PASS"),
        ("0.251 in", "NOT RECORDED"),
        ("0.16 in", "PASS"),
        ("0.1599 in", "NOT RECORDED"),
    ],
)
def test_lengths_agree_within_three_hundredths_or_a_fifth_of_the_larger(
    cracked: Shop, length: str, verdict: str
) -> None:
    cracked.second_look("MT-001", "IND-01", interpretation="relevant", form="linear", length=num(length))
    assert cracked.judge("MT-001", decider="L2-A", disposition="REJECT").answer("D08").verdict == verdict


def test_disagreement_is_resolved_by_a_level_three_only(cracked: Shop) -> None:
    cracked.second_look("MT-001", "IND-01", interpretation="false", form="linear", length=num("0.20 in"))
    for person in ("L2-A", "L2-C", "SUP-F"):
        with pytest.raises(NotPermitted, match="Level III"):
            inspecting.resolve_disagreement(
                cracked.work, f.DisagreementResolved("MT-001", "IND-01", person, "relevant")
            )
    inspecting.resolve_disagreement(cracked.work, f.DisagreementResolved("MT-001", "IND-01", "NL3-E", "relevant"))
    assert cracked.judge("MT-001", decider="L2-A", disposition="REJECT").answer("D08").verdict == "PASS"


def test_second_look_under_a_lamp_that_turns_out_bad_is_not_relied_on(cracked: Shop) -> None:
    """Look under LP-2, which is found bad later: another look is needed, the record is not otherwise touched."""
    cracked.record(f.BoothClosed("MT booth", "L2-C"), by="L2-C")
    inspecting.start_view(
        cracked.after(90).work,
        "SC-01",
        "MT-001",
        "L2-C",
        ["LP-2"],
        kind="second look",
        station="MT booth",
        indication="IND-01",
    )
    inspecting.end_view(cracked.after(120).work, "SC-01")
    inspecting.save_second_look(cracked.work, saved())
    assert cracked.judge("MT-001", decider="L2-A", disposition="REJECT").answer("D07").verdict == "PASS"
    cracked.at("12:38").read_lamp("LP-2", "900")
    assert cracked.judge("MT-001", decider="L2-A", disposition="REJECT").answer("D07").verdict == "NOT YET"
    (opened,) = cracked.facts(f.ContainmentOpened)
    assert opened.fact.second_looks == ("SC-01",)


@pytest.mark.parametrize("tests", [(), ("wiped",)])
def test_false_without_wipe_and_new_shot_is_refused(shop: Shop, tests: tuple[str, ...]) -> None:
    shop.play(shop.magnetic_steps("MT-001", shop.receive("T6-10501", "CG-1"), "MT-T-6050", nothing_seen=False))
    shop.after(30).record(
        f.IndicationSeen("IND-01", "MT-001", "WEB", "at 90 deg", "linear", num("0.2 in"), num("0.01 in"), "radial")
    )
    for step in tests:
        shop.record(f.IndicationTested("IND-01", step, "gone"))
    with pytest.raises(NotPermitted) as refused:
        inspecting.interpret(shop.work, f.IndicationInterpreted("IND-01", "false", "wiped off"), "L2-A")
    assert [a.rule for a in refused.value.answers] == ["D02"]
