"""Whatever persons try, in whatever order, no step is taken that the department's list of transitions does not allow.

What is allowed is written here by hand, from the department's list and not from
the table in ``ndi``: the conditions under which a step *may* be taken.  A walk
also counts the steps that it saw, so that it cannot pass by doing nothing.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotPermitted
from ndi.services import exceptions, inspecting, recording, rejected, scrapping, second_person
from ndi.services.state import piece_counts, piece_states
from tests.build import num
from tests.properties.settings import fixed
from tests.services.shop import Shop, open_copy
from tests.services.test_deciding import lot_with_a_crack
from tests.services.test_law_10 import correct_one

QUALIFIED = {"L2-A", "L2-B", "L2-C", "NL3-E", "SUP-F"}  # level 2 or 3 of the method
PEOPLE = ("L2-A", "L2-C", "NL3-E", "L1-D", "CI-G", "ENG-K")
WORDS = ("ACCEPT", "REJECT", "REWORK", "HOLD-ENG")
PARTS = {"MT-001": ("W26-0148/T6-10501/CG-1", 1, None), "MT-002": ("W26-0148/T6-10503/LOT-1", 12, "ID-07")}

# a word that an inspector may sign, by where the record stands
SIGNED_FROM = {
    "NO DECISION": set(WORDS),
    "HOLD-ENG": set(WORDS),
    "SUSPENDED": set(WORDS),
    "REJECT - SUSPENDED": {"REJECT"},
    "REWORK - SUSPENDED": {"REWORK"},
}

person = st.sampled_from(PEOPLE)
steps = st.one_of(
    st.tuples(st.just("sign"), st.sampled_from(WORDS), st.sampled_from(("L2-A", "L2-A", "L2-A", *PEOPLE))),
    st.tuples(st.just("sign"), st.sampled_from(WORDS), st.just("L2-A")),
    st.tuples(st.just("approve"), st.sampled_from(WORDS), st.sampled_from(("L2-C", *PEOPLE))),
    st.tuples(st.just("correct"), st.sampled_from(("1.1 G", "1.2 G", "1.3 G"))),
    st.tuples(st.just("bad lamp")),
    st.tuples(st.just("concession"), st.sampled_from(("ENG-K", "ENG-K", *PEOPLE))),
    st.tuples(st.just("owner"), st.sampled_from(("scrap", "return"))),
    st.tuples(st.just("scrap"), st.sampled_from(("CI-G", *PEOPLE)), person, st.booleans()),
    st.tuples(st.just("return"), st.sampled_from(("CI-G", *PEOPLE)), st.booleans()),
    st.tuples(st.just("reopen"), st.sampled_from(("NL3-E", *PEOPLE)), st.sampled_from(("CI-G", *PEOPLE))),
)
REJECTED = ("sign", "REJECT", "L2-A")
HELD = ("sign", "HOLD-ENG", "L2-A")
APPROVED = ("approve", "REJECT", "L2-C")
# how a walk begins: most of them from a signature, so that they come further; each is walked once by itself
BEGINNINGS: tuple[list[tuple[Any, ...]], ...] = (
    [],
    [("sign", "ACCEPT", "L2-A")],
    [("sign", "ACCEPT", "L2-A"), ("bad lamp",)],
    [("sign", "ACCEPT", "L2-A"), ("correct", "1.1 G")],
    [REJECTED],
    [REJECTED, ("bad lamp",)],
    [REJECTED, ("correct", "1.1 G"), ("sign", "ACCEPT", "L2-A"), REJECTED],
    [REJECTED, ("correct", "1.1 G"), ("reopen", "NL3-E", "CI-G")],
    [REJECTED, ("reopen", "NL3-E", "CI-G")],
    [REJECTED, ("owner", "scrap"), ("scrap", "CI-G", "L2-C", True)],
    [REJECTED, ("bad lamp",), ("owner", "return"), ("return", "CI-G", True)],
    [REJECTED, ("scrap", "CI-G", "L2-C", True), ("return", "CI-G", True)],  # the owner was not asked
    [REJECTED, ("owner", "return"), ("scrap", "CI-G", "L2-C", True), ("scrap", "CI-G", "CI-G", True)],
    [REJECTED, ("owner", "scrap"), ("return", "CI-G", True), ("scrap", "CI-G", "CI-G", True)],
    [HELD, ("bad lamp",)],
    [HELD, APPROVED, REJECTED, ("concession", "ENG-K"), REJECTED],
    [HELD, ("correct", "1.1 G"), REJECTED, ("concession", "ENG-K"), APPROVED, REJECTED],
)
SEEN: Counter[tuple[str, str, str]] = Counter()


@dataclass
class Account:
    """What has happened, kept by the test."""

    rejected_by: str | None = None  # a rejection that nobody took back
    held: bool = False  # engineering was asked and has not answered
    word: str = ""  # signed last
    owner: str | None = None
    final: str | None = None
    approved: set[tuple[str, str]] = field(default_factory=set)  # word and person, since the last signature


@pytest.fixture(scope="module", params=["cracked", "clean", "lot"])
def begun(request: pytest.FixtureRequest, morning: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book with one record that waits for a signature: cracked, clean, or a lot with one cracked piece."""
    place = tmp_path_factory.mktemp(request.param)
    shop = open_copy(morning, place)
    for name, role in (("CI-G", "quality"), ("ENG-K", "engineering")):
        recording.record_outside_fact(shop.work, f.PersonEntered(name, (role,)), "SUP-F")
    if request.param == "cracked":
        part, _, _ = PARTS["MT-001"]
        shop.play(shop.magnetic_steps("MT-001", shop.receive("T6-10501", "CG-1"), "MT-T-6050", nothing_seen=False))
        shop.after(30).crack("MT-001", part)
        shop.after(30).second_look("MT-001", "IND-01", interpretation="relevant", form="linear", length=num("0.20 in"))
        photo = f.PhotoAttached("MT-001", "ab" * 32, shop.work.now(), "IND-01", True, "read")
        inspecting.attach_photo(shop.work, photo, "L2-A")
    elif request.param == "clean":
        shop.gear()
    else:
        lot_with_a_crack(shop)
    shop.close()
    return place


def test_no_walk_takes_a_forbidden_step(begun: Path) -> None:
    def run(begins: list[tuple[Any, ...]], walk: list[tuple[Any, ...]]) -> None:
        with TemporaryDirectory() as folder:
            shop = open_copy(begun, Path(folder) / "book")
            try:
                shop.at("10:00")
                _walk(shop, [*begins, *walk])
            finally:
                shop.close()

    for begins in BEGINNINGS:
        run = example(begins=begins, walk=[])(run)
    walks = st.lists(steps, min_size=5, max_size=12)
    fixed(20)(given(begins=st.sampled_from(BEGINNINGS), walk=walks)(run))()


def test_the_walks_saw_what_they_are_to_judge() -> None:
    """Runs after the walks of this file; how often each step was taken is the same in every run."""
    if not SEEN:
        pytest.skip("the walks of this file were not run")
    wanted = {
        ("sign", "NO DECISION", "ACCEPT"),
        ("sign", "NO DECISION", "REJECT"),
        ("sign", "NO DECISION", "HOLD-ENG"),
        ("sign", "NO DECISION", "SPLIT"),
        ("sign", "HOLD-ENG", "REJECT"),
        ("sign", "SPLIT", "SPLIT"),
        ("bad lamp", "ACCEPT", "SUSPENDED"),
        ("bad lamp", "HOLD-ENG", "SUSPENDED"),
        ("bad lamp", "REJECT", "REJECT - SUSPENDED"),
        ("correct", "ACCEPT", "NO DECISION"),
        ("correct", "REJECT", "NO DECISION"),
        ("reopen", "REJECT", "NO DECISION"),
        ("reopen", "NO DECISION", "NO DECISION"),
        ("scrap", "REJECT", "REJECT"),
        ("scrap", "SPLIT", "SPLIT"),
        ("return", "REJECT - SUSPENDED", "REJECT - SUSPENDED"),
    }
    assert wanted <= set(SEEN), sorted(wanted - set(SEEN))


def _walk(shop: Shop, walk: list[tuple[Any, ...]]) -> None:
    (inspection,) = [name for name in PARTS if shop.facts(f.InspectionOpened, name)]
    account = Account()
    for step in walk:
        shop.after(60)
        before = _stands(shop, inspection)
        try:
            _try(shop, inspection, step)
        except (NotPermitted, InputError):
            assert _stands(shop, inspection) == before, step
            continue
        after = _stands(shop, inspection)
        SEEN[step[0], before, after] += 1
        _judge(account, step, before, after, cracked=bool(shop.facts(f.IndicationSeen, inspection)))
        _conserved(shop, inspection, account)


def _stands(shop: Shop, inspection: str) -> str:
    row = shop.row(inspection)
    word = row.disposition
    if not row.suspended:
        return word
    return f"{word} - SUSPENDED" if word in ("REJECT", "REWORK") else "SUSPENDED"


def _shares(inspection: str, word: str) -> dict[str, Any]:
    """The lot is split so that the cracked piece alone gets a word other than ACCEPT."""
    if inspection == "MT-001" or word == "ACCEPT":
        return {}
    return {"children": (f.Child("ACCEPT", 11), f.Child(word, 1, "ID-07"))}


def _try(shop: Shop, inspection: str, step: tuple[Any, ...]) -> None:
    part, _, piece = PARTS[inspection]
    work = shop.work
    match step:
        case ("sign", word, who):
            more = _shares(inspection, word)
            shop.sign(inspection, "SPLIT" if more else word, who, **more)
        case ("approve", word, who):
            split = inspection == "MT-002" and word != "ACCEPT"
            second_person.countersign(work, inspection, who, "SPLIT" if split else word)
        case ("correct", value):
            correct_one(shop, f.ResidualRead, inspection, value=num(value))
        case ("bad lamp",):
            shop.read_lamp("LP-1", "880")
        case ("concession", who):
            exceptions.give_concession(work, inspection, who, reference="EC-1", revision="1", conditions="look again")
        case ("owner", answer):
            shop.record(f.OwnerAnswered(part, answer, "letter"))
        case ("scrap", who, witness, defaced):
            scrapping.scrap_part(work, part, who, witness, photo="ab12", defaced=defaced, piece=piece)
        case ("return", who, marked):
            rejected.return_unserviceable(work, part, who, marked=marked, piece=piece)
        case ("reopen", three, quality):
            rejected.reopen(work, inspection, three, quality, reason="wrong piece", evidence="photo")


def _judge(account: Account, step: tuple[Any, ...], before: str, after: str, *, cracked: bool) -> None:
    """AssertionError where a step was taken that the list does not allow."""
    match step:
        case ("sign", word, who):
            assert account.final is None, (step, account)
            assert who in QUALIFIED, step
            stood = "HOLD-ENG" if before == "SPLIT" and account.word == "HOLD-ENG" else before  # a share is held
            assert word in SIGNED_FROM.get(stood, ()), (step, before)
            assert not (cracked and word == "ACCEPT"), step
            if account.rejected_by is not None:
                assert word == "REJECT", (step, account)
            if account.held and word != "HOLD-ENG":
                raise AssertionError(f"{step}: engineering has not answered")
            if stood == "HOLD-ENG" and word != "HOLD-ENG":
                assert any(w in (word, "SPLIT") and p != who for w, p in account.approved), step
            account.rejected_by = who if word == "REJECT" else None
            account.held, account.word = word == "HOLD-ENG", word
            account.approved.clear()
        case ("approve", word, who):
            assert who in QUALIFIED
            account.approved.add((word, who))
        case ("concession", who):
            assert who == "ENG-K"
            account.held = False
        case ("owner", answer):
            account.owner = answer
        case ("scrap", who, witness, defaced):
            assert who == "CI-G" and witness != who and defaced and account.final is None
            assert account.owner == "scrap" and account.rejected_by is not None
            assert before in ("REJECT", "REJECT - SUSPENDED", "SPLIT", "SUSPENDED")
            account.final = "SCRAP"
        case ("return", who, marked):
            assert who == "CI-G" and marked and account.final is None
            assert account.owner == "return" and account.rejected_by is not None
            account.final = "RETURN UNSERVICEABLE"
        case ("reopen", three, quality):
            assert three == "NL3-E" and quality == "CI-G" and account.final is None
            assert account.rejected_by not in (None, three, quality)
            assert after == "NO DECISION"
            account.rejected_by = None
        case ("correct", _):
            assert after in ("NO DECISION", before), (before, after)
        case ("bad lamp",):
            assert after in (before, "SUSPENDED", f"{before} - SUSPENDED"), (before, after)
    if step[0] not in ("sign", "reopen", "correct", "bad lamp"):
        assert after == before, step


def _conserved(shop: Shop, inspection: str, account: Account) -> None:
    """Every piece stands in one state, and what has left for good stays gone."""
    part, quantity, _ = PARTS[inspection]
    with shop.work.book.session(readonly=True) as session:
        states = piece_states(shop.work, session, session.part(part))
        counts = piece_counts(shop.work, session, "W26-0148")
    assert sum(states.values()) == quantity == counts["received"]
    for word in ("SCRAP", "RETURN UNSERVICEABLE"):
        assert states[word] == (1 if account.final == word else 0), states
