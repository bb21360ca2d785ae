"""What is read off a photograph when it is attached: whose it is, whether there is a scale, and what is refused for it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from ndi.calc.photo_measures import Uncertain
from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotFound, NotPermitted
from ndi.domain.quantity import Number
from ndi.services import annotating, candidates, photographs
from ndi.services.measuring import Marked
from ndi.services.photo_lengths import in_book, in_words, record_length
from ndi.services.photographs import Shown, attach_photograph
from tests.photo import scene
from tests.services.shop import GEAR, GEAR_SHEET, ORDER, Shop


@pytest.fixture
def viewed(shop: Shop) -> Shop:
    """Gear MT-001 with a crack, its view over; to be photographed."""
    part = shop.receive(GEAR, "CG-1")
    shop.play(s for s in shop.magnetic_steps("MT-001", part, GEAR_SHEET, nothing_seen=False) if s.seconds <= 780)
    shop.crack("MT-001", part)
    return shop


def photographed(code: str | None, card: str = "M", seed: int = 1) -> tuple[bytes, scene.Camera]:
    """A card with a code, seen by a camera."""
    chance = np.random.default_rng(seed)
    camera = scene.over(card, chance, (1600, 1200), tilt=15)
    grey = scene.photograph(card, camera, chance, code=code, lines=(np.array([(25, 30), (50, 40)]),))
    return scene.saved(grey, "JPEG", quality=92), camera


def attach(shop: Shop, content: bytes, **more: Any) -> f.PhotoAttached:
    shown = Shown(light="white", taken_at=shop.work.now(), **more)
    fact = attach_photograph(shop.work, "MT-001", content, "a.jpg", "L2-A", indication="IND-01", shown=shown).fact
    assert isinstance(fact, f.PhotoAttached)
    return fact


def test_own_card_says_scale_and_part_by_itself(viewed: Shop) -> None:
    content, _ = photographed(f"part:{viewed.row('MT-001').part}")
    fact = attach(viewed, content)
    assert fact.codes_read == (f"part:{viewed.row('MT-001').part}",)
    assert (fact.card, fact.scale_in_frame, fact.tag_in_frame) == ("M", True, "read")


@pytest.mark.parametrize("code", ["part:W-2026-041/OTHER/CG-9", "order:W-2026-999"])
def test_card_of_another_part_is_refused_with_the_rule(viewed: Shop, code: str) -> None:
    content, _ = photographed(code)
    with pytest.raises(NotPermitted, match=r"a code in the frame of this photograph names") as refused:
        attach(viewed, content)
    (answer,) = refused.value.answers
    assert answer.rule == "G25" and code.partition(":")[2] in answer.says
    assert viewed.facts(f.PhotoAttached) == []
    assert [r.fact.rules for r in viewed.facts(f.ActionRefused)][-1] == ("G25",)
    archive = photographs.archive_of(viewed.work)
    assert not archive.folder.exists()  # type: ignore[attr-defined]


def test_work_order_alone_names_no_part(viewed: Shop) -> None:
    """A card of the right order tells the scale; which part it is a person must say."""
    fact = attach(viewed, photographed(f"order:{ORDER}")[0])
    assert (fact.scale_in_frame, fact.tag_in_frame) == (True, None)


def test_what_a_person_said_stands_beside_what_is_read(viewed: Shop) -> None:
    fact = attach(viewed, photographed(None)[0], scale_in_frame=False, tag_in_frame="seen by person")
    assert (fact.card, fact.codes_read, fact.scale_in_frame, fact.tag_in_frame) == ("M", (), False, "seen by person")


def test_picture_without_card_says_none(viewed: Shop) -> None:
    fact = attach(viewed, scene.saved(np.full((60, 80), 90, np.uint8)))
    assert (fact.card, fact.codes_read, fact.scale_in_frame) == ("none", (), None)


# --- measured -------------------------------------------------------------------------------------


def test_length_off_a_photograph_is_recorded_beside_the_one_on_the_part(viewed: Shop) -> None:
    """The line was drawn 26.93 mm long; the part's own length was 0.20 in."""
    content, camera = photographed(f"part:{viewed.row('MT-001').part}")
    sha256 = attach(viewed, content).sha256
    ends = tuple((float(x), float(y)) for x, y in camera.sees(np.array([(25, 30), (50, 40)])))
    found, recorded = record_length(viewed.work, "MT-001", "IND-01", sha256, Marked((ends,)), "L2-A")
    fact = recorded.fact
    assert isinstance(fact, f.PhotographMeasured)
    true = float(np.hypot(25, 10))
    assert abs(float(fact.length_mm.value) - true) <= float(fact.uncertainty_mm.value) < 1
    assert (fact.how, fact.warnings, len(fact.marks)) == (found.how, (), 2)
    assert float(fact.marks[0].x.value) == pytest.approx(100 * ends[0][0] / 1600, abs=1e-3)
    with viewed.work.book.session(readonly=True) as session:
        assert [r.position for r in photographs.every(session, f.PhotographMeasured)] == [recorded.position]


def test_photograph_of_the_archive_without_card_gives_no_length(viewed: Shop) -> None:
    sha256 = attach(viewed, scene.saved(np.full((60, 80), 90, np.uint8))).sha256
    with pytest.raises(InputError, match="no scale card"):
        record_length(viewed.work, "MT-001", "IND-01", sha256, Marked((((1, 1), (9, 9)),)), "L2-A")
    assert viewed.facts(f.PhotographMeasured) == []


@pytest.mark.parametrize(
    ("value", "sd", "typed", "words"),
    [
        (9.4691, 0.0497, ("9.469", "0.100"), "9.469 +/- 0.100 mm (0.3728 +/- 0.0040 in)"),
        (26.93, 0.2101, ("26.93", "0.43"), "26.93 +/- 0.43 mm (1.060 +/- 0.017 in)"),
        (120.0, 6.02, ("120", "13"), "120 +/- 13 mm (4.72 +/- 0.52 in)"),
    ],
)
def test_uncertainty_is_kept_to_two_figures_and_never_smaller(
    value: float, sd: float, typed: tuple[str, str], words: str
) -> None:
    """JCGM 100:2008, 7.2.6: two figures, rounded up."""
    found = Uncertain(value, sd, 0.0, 0.0, 1e9)
    assert tuple(number.typed for number in in_book(found)) == typed
    assert in_words(found) == words


# --- candidates -----------------------------------------------------------------------------------


def proposed(shop: Shop) -> tuple[str, f.CandidatesProposed]:
    content, _ = photographed(f"part:{shop.row('MT-001').part}")
    sha256 = attach(shop, content).sha256
    fact = candidates.propose(shop.work, "MT-001", sha256, "dark", "L2-A").fact
    assert isinstance(fact, f.CandidatesProposed)
    return sha256, fact


def test_line_in_the_window_is_proposed_with_its_size_and_nothing_printed_is(viewed: Shop) -> None:
    _, fact = proposed(viewed)
    (only,) = fact.candidates
    assert (only.number, only.form) == (1, "linear")
    assert only.length_mm is not None and float(only.length_mm.value) == pytest.approx(26.9, rel=0.05)
    assert viewed.facts(f.IndicationSeen, "MT-001")[-1].fact.indication == "IND-01"  # no new one came of it


def test_each_candidate_is_accepted_rejected_or_redrawn_and_the_last_word_stands(viewed: Shop) -> None:
    sha256, _ = proposed(viewed)

    def judge(outcome: str, **more: Any) -> None:
        candidates.judge_candidate(viewed.work, "MT-001", sha256, 1, outcome, "L2-A", **more)

    def now() -> candidates.Standing:
        with viewed.work.book.session(readonly=True) as session:
            return candidates.standing(session, "MT-001", sha256)

    assert [each.number for each in now().open] == [1]
    judge("rejected", reason="scratch")
    judge("accepted", indication="IND-01")
    assert now().open == [] and now().judged[1].fact.outcome == "accepted"
    corner = tuple(f.PicturePoint(b_num(x), b_num(y)) for x, y in ((10, 10), (20, 10), (20, 20)))
    judge("redrawn", indication="IND-01", outline=corner)
    assert now().judged[1].fact.outline == corner
    assert len(viewed.facts(f.CandidateJudged, sha256)) == 3
    candidates.propose(viewed.work, "MT-001", sha256, "dark", "L2-A")
    assert [each.number for each in now().open] == [1]  # a new proposal is judged anew


def b_num(value: float) -> Any:
    from ndi.domain.quantity import Number

    return Number(str(value), "%")


@pytest.mark.parametrize(
    ("outcome", "more", "words"),
    [
        ("rejected", {}, "say what it is"),
        ("rejected", {"reason": "  "}, "say what it is"),
        ("accepted", {}, "name the indication"),
        ("accepted", {"indication": "IND-77"}, "no indication IND-77"),
        ("redrawn", {"indication": "IND-01"}, "3 points or more"),
        ("found", {}, "is none of"),
    ],
)
def test_word_on_a_candidate_that_says_too_little_is_refused(
    viewed: Shop, outcome: str, more: dict[str, Any], words: str
) -> None:
    sha256, _ = proposed(viewed)
    with pytest.raises((InputError, NotFound), match=words):
        candidates.judge_candidate(viewed.work, "MT-001", sha256, 1, outcome, "L2-A", **more)
    assert viewed.facts(f.CandidateJudged) == []


def test_candidate_that_was_not_proposed_and_photograph_that_is_not_attached_are_refused(viewed: Shop) -> None:
    sha256, _ = proposed(viewed)
    with pytest.raises(InputError, match="none of number 9"):
        candidates.judge_candidate(viewed.work, "MT-001", sha256, 9, "rejected", "L2-A", reason="lint")
    with pytest.raises(NotFound, match="attach it first"):
        candidates.propose(viewed.work, "MT-001", "ab" * 32, "dark", "L2-A")
    with pytest.raises(InputError, match="none of fluorescent, dark"):
        candidates.propose(viewed.work, "MT-001", sha256, "green", "L2-A")
    other = attach(viewed, scene.saved(np.full((60, 80), 90, np.uint8))).sha256
    with pytest.raises(NotFound, match="nothing was proposed"):
        candidates.judge_candidate(viewed.work, "MT-001", other, 1, "rejected", "L2-A", reason="lint")


def test_scale_bar_says_what_the_card_beside_it_says(viewed: Shop) -> None:
    """The line of the scene is 26.93 mm long, by Pythagoras from its two ends."""
    content, camera = photographed(f"part:{viewed.row('MT-001').part}")
    photo = attach(viewed, content)
    ends = tuple(
        annotating.point(f"{x / 16:.3f},{y / 12:.3f}") for x, y in camera.sees(np.array([(25.0, 30.0), (50.0, 40.0)]))
    )

    def bar(length: str, unit: str = "mm") -> f.PhotographAnnotated:
        return f.PhotographAnnotated("MT-001", photo.sha256, "", "scale bar", ends, length=Number(length, unit))

    for length in ("10", "25", "29"):
        with pytest.raises(InputError, match=r"by the scale card in this photograph its two ends are 2[67]\.\d+ \+/- "):
            annotating.annotate(viewed.work, bar(length), "L2-A")
    assert viewed.facts(f.PhotographAnnotated) == []
    for drawn in (bar("27"), bar("1.06", "in")):
        annotating.annotate(viewed.work, drawn, "L2-A")
    assert len(viewed.facts(f.PhotographAnnotated)) == 2
