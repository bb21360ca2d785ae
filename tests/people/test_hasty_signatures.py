"""Two persons' secrets within seconds on one station are asked about: less than 5 s is common practice, no source."""

from __future__ import annotations

import pytest

from ndi.domain import facts as f
from ndi.domain.errors import NotPermitted
from ndi.services import handover
from ndi.services.proof import Meaning
from tests.people.real_shop import RealShop

WHAT = ("something",)


def lines(shop: RealShop) -> list[str]:
    return [line.text for line in handover.open_lines(shop.work) if line.kind == "signatures"]


@pytest.mark.parametrize(("apart", "said"), [(0, True), (4.9, True), (5, False), (60, False)])
def test_two_persons_within_seconds_on_one_station_are_pointed_out(shop: RealShop, apart: float, said: bool) -> None:
    shop.after(3600)
    shop.prove("L2-A", Meaning.PERFORMED, WHAT)
    shop.after(apart)
    shop.prove("L2-B", Meaning.SECOND_LOOK, WHAT)
    last = max(shop.facts(f.SecretTried, "L2-B"), key=lambda r: r.position)
    assert (last.fact.soon_after == "L2-A") is said
    found = [text for text in lines(shop) if "L2-B typed a secret" in text]
    assert bool(found) is said
    if said:
        assert "less than 5 s after L2-A: were both there, and did each type their own?" in found[0]


@pytest.mark.parametrize("case", ["the same person", "another station", "a wrong secret before"])
def test_nothing_is_pointed_out_for(shop: RealShop, case: str) -> None:
    shop.after(3600)
    if case == "a wrong secret before":
        with pytest.raises(NotPermitted, match="not right"):
            shop.prove("L2-A", Meaning.PERFORMED, WHAT, secret="not this one at all")
    else:
        shop.prove("L2-B" if case == "the same person" else "L2-A", Meaning.PERFORMED, WHAT)
    if case == "another station":
        shop.work.station = "BENCH 2"
    shop.after(1)
    shop.prove("L2-B", Meaning.SECOND_LOOK, WHAT)
    assert max(shop.facts(f.SecretTried, "L2-B"), key=lambda r: r.position).fact.soon_after is None
