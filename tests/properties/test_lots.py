"""Pieces of a lot are conserved: what is signed adds up, and what does not is not signed."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import given
from hypothesis import strategies as st

from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotPermitted
from ndi.domain.vocabulary import PART_STATE_ORDER
from ndi.services.state import piece_counts, piece_states, worst_pieces
from tests.properties.settings import fixed
from tests.services.shop import open_copy

WORDS = ("ACCEPT", "REJECT", "HOLD-ENG", "REWORK")
children = st.lists(
    st.builds(f.Child, st.sampled_from(WORDS), st.integers(0, 13), st.none() | st.sampled_from(("ID-07", "ID-08"))),
    max_size=4,
)


@st.composite
def shares(draw: st.DrawFn) -> tuple[f.Child, ...]:
    """Children of a lot of twelve: any, or such as add up."""
    if draw(st.booleans()):
        return tuple(draw(children))
    left, found = 12, []
    while left:
        quantity = draw(st.integers(1, left))
        piece = "ID-07" if quantity == 1 and not any(c.piece for c in found) else None
        found.append(f.Child(draw(st.sampled_from(WORDS)), quantity, piece))
        left -= quantity
    return tuple(found)


def adds_up(disposition: str, given_shares: tuple[f.Child, ...]) -> bool:
    """Twelve pieces in whole shares, each named piece once and alone, the word that of the shares."""
    words = {c.disposition for c in given_shares}
    named = [c.piece for c in given_shares if c.piece]
    whole = (
        sum(c.quantity for c in given_shares) == 12 and min(c.quantity for c in given_shares) > 0
        if given_shares
        else disposition != "SPLIT"
    )
    once = len(named) == len(set(named)) and all(c.quantity == 1 for c in given_shares if c.piece)
    fits = len(words) > 1 if disposition == "SPLIT" else words <= {disposition}
    return bool(whole and once and fits)


@fixed(60)
@given(disposition=st.sampled_from(("SPLIT", "SPLIT", "SPLIT", *WORDS)), given_shares=shares())
def test_lot_is_signed_only_with_all_its_pieces(
    lot_book: Path, disposition: str, given_shares: tuple[f.Child, ...]
) -> None:
    with TemporaryDirectory() as folder:
        shop = open_copy(lot_book, Path(folder) / "book")
        try:
            shop.at("09:00")
            head, outcome = shop.head(), "signed"
            try:
                shop.sign("MT-002", disposition, children=given_shares)
            except InputError:
                outcome = "does not add up"
            except NotPermitted:
                outcome = "refused by the rules"
            assert (outcome == "does not add up") is not adds_up(disposition, given_shares)
            with shop.work.book.session(readonly=True) as session:
                states = piece_states(shop.work, session, session.part("W26-0148/T6-10503/LOT-1"))
                counted = piece_counts(shop.work, session, "W26-0148")
            assert sum(states.values()) == 12 == counted["received"]
            if outcome == "signed":
                assert states == +sum(
                    (Counter({c.disposition: c.quantity}) for c in given_shares or (f.Child(disposition, 12),)),
                    Counter(),
                )
            else:
                assert states == {"NO DECISION": 12}
                assert not [fact for fact in shop.since(head) if not isinstance(fact, f.ActionRefused)]
        finally:
            shop.close()


partition = st.lists(st.sampled_from(PART_STATE_ORDER), min_size=6, max_size=6).map(Counter)


@fixed(300)
@given(several=st.lists(partition, min_size=1, max_size=4))
def test_worst_of_several_inspections_loses_no_piece_and_hides_no_bad_one(several: list[Counter[str]]) -> None:
    """For each state, at least as many pieces are that bad or worse as in any one inspection."""
    total = worst_pieces(several)
    assert sum(total.values()) == 6
    for worst in range(1, len(PART_STATE_ORDER) + 1):
        words = PART_STATE_ORDER[:worst]
        assert sum(total[w] for w in words) >= max(sum(counts[w] for w in words) for counts in several)
