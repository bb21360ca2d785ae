"""Photographs attached with their files: kept first, refused with the reason, and missed by the rules that rest on them."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from ndi.domain import facts as f
from ndi.domain.answer import Verdict
from ndi.domain.errors import InputError, NotFound, NotPermitted, StoreError, VersionConflict
from ndi.domain.moment import Moment
from ndi.photo.archive import FolderArchive
from ndi.services import photographs
from ndi.services.photographs import Shown, attach_photograph
from tests import build as b
from tests.photo.picture_files import picture
from tests.services.shop import GEAR, GEAR_SHEET, Shop

GOOD = Shown(scale_in_frame=True, tag_in_frame="read", light="UV")


def archive(shop: Shop) -> FolderArchive:
    found = shop.work.photographs
    assert isinstance(found, FolderArchive)
    return found


def files(shop: Shop) -> list[str]:
    return sorted(path.name for path in archive(shop).folder.rglob("*") if path.is_file())


@pytest.fixture
def viewed(shop: Shop) -> Shop:
    """Gear MT-001 with a crack, its view over; to be photographed."""
    part = shop.receive(GEAR, "CG-1")
    steps = shop.magnetic_steps("MT-001", part, GEAR_SHEET, nothing_seen=False)
    shop.play(step for step in steps if step.seconds <= 780)
    shop.crack("MT-001", part)
    return shop


def attach(shop: Shop, content: bytes, **more: Any) -> f.PhotoAttached:
    given: dict[str, Any] = {"indication": "IND-01", "shown": GOOD, **more}
    inspection = given.pop("inspection", "MT-001")
    name = given.pop("name", "DSC_0001.JPG")
    recorded = attach_photograph(shop.work, inspection, content, name, given.pop("person", "L2-A"), **given)
    fact = recorded.fact
    assert isinstance(fact, f.PhotoAttached)
    return fact


def seen_at(shop: Shop) -> str:
    """A camera time inside the view, as the camera writes it."""
    return f"{shop.work.now().local:%Y:%m:%d %H:%M:%S}"


def test_bytes_are_kept_and_what_the_file_says_is_recorded(viewed: Shop) -> None:
    content = picture(taken=seen_at(viewed), camera=("Maker", "Model 3"))
    fact = attach(viewed, content, name="/card/DCIM/DSC_0001.JPG")
    assert fact.sha256 == hashlib.sha256(content).hexdigest()
    assert photographs.original(viewed.work, fact.sha256) == content
    assert (fact.size, fact.media_type, fact.width, fact.height) == (len(content), "image/jpeg", 48, 32)
    assert (fact.original_name, fact.camera, fact.indication) == ("DSC_0001.JPG", "Maker Model 3", "IND-01")
    assert fact.taken_at == fact.camera_time and fact.taken_at.at == viewed.work.clock.now()
    assert viewed.facts(f.PhotoAttached, fact.sha256)[0].fact == fact


@pytest.mark.parametrize(
    ("name", "kept"),
    [("C:\\card\\a.jpg", "a.jpg"), ("a\nb.jpg", "ab.jpg"), ("x" * 900, "x" * 200), ("../../a.jpg", "a.jpg")],
)
def test_name_is_kept_without_folders_and_in_printable_characters(viewed: Shop, name: str, kept: str) -> None:
    assert attach(viewed, picture(taken=seen_at(viewed)), name=name).original_name == kept


# --- time ---------------------------------------------------------------------------------------------


def test_clock_that_is_ahead_is_corrected_and_what_it_wrote_is_kept(viewed: Shop) -> None:
    """Summer time: the camera is an hour ahead, which alone would be refused."""
    later = viewed.work.now().local + timedelta(hours=1)
    content = picture(taken=f"{later:%Y:%m:%d %H:%M:%S}")
    with pytest.raises(InputError, match="later than now"):
        attach(viewed, content)
    fact = attach(viewed, content, shown=replace(GOOD, camera_ahead_s=3600))
    assert fact.taken_at.at == viewed.work.clock.now()
    assert fact.camera_time is not None and fact.camera_time.at == viewed.work.clock.now() + timedelta(hours=1)
    assert fact.camera_ahead_s == 3600


def test_zone_that_the_camera_wrote_counts(viewed: Shop) -> None:
    utc = viewed.work.clock.now()
    fact = attach(viewed, picture(taken=f"{utc:%Y:%m:%d %H:%M:%S}", offset="+00:00"))
    assert fact.taken_at.at == utc


def test_same_figures_of_another_zone_are_refused_with_both_zones(viewed: Shop) -> None:
    """The shop is five hours behind UTC: what a camera on UTC calls by the same figures was five hours earlier."""
    with pytest.raises(NotPermitted, match="not during the inspection") as refused:
        attach(viewed, picture(taken=seen_at(viewed), offset="+00:00"))
    assert " UTC, the inspection's clock UTC-05:00" in refused.value.answers[0].says


def test_time_outside_the_inspection_is_refused_with_the_rule(viewed: Shop) -> None:
    """Yesterday's photograph; no file is kept for it, and the refusal is in the book."""
    with pytest.raises(NotPermitted, match="not during the inspection") as refused:
        attach(viewed, picture(taken="2026:03:09 08:05:30"))
    assert [answer.rule for answer in refused.value.answers] == ["G25"]
    says = refused.value.answers[0].says
    assert "10 min" in says and says.count(":") >= 3  # the hours that would have been right are named
    assert "clock" not in says  # one zone, which need not be said
    assert files(viewed) == []
    assert [r.fact.rules for r in viewed.facts(f.ActionRefused)][-1] == ("G25",)


def test_picture_without_a_time_needs_one(viewed: Shop) -> None:
    with pytest.raises(InputError, match="wrote no time"):
        attach(viewed, picture())
    said = viewed.work.now()
    fact = attach(viewed, picture(), shown=replace(GOOD, taken_at=said))
    assert (fact.taken_at, fact.camera_time) == (said, None)


@pytest.mark.parametrize("ahead", [10**10, -(10**10), 10**17, -(10**17)])
def test_absurd_difference_of_clocks_is_refused(viewed: Shop, ahead: int) -> None:
    with pytest.raises((InputError, NotPermitted)):
        attach(viewed, picture(taken=seen_at(viewed)), shown=replace(GOOD, camera_ahead_s=ahead))
    assert files(viewed) == []


# --- what is refused ----------------------------------------------------------------------------------


@pytest.mark.parametrize("content", [b"", b"no picture", picture()[:300]])
def test_what_is_no_whole_picture_changes_nothing(viewed: Shop, content: bytes) -> None:
    before = viewed.head()
    with pytest.raises(InputError):
        attach(viewed, content)
    assert viewed.head() == before and files(viewed) == []


def test_file_of_another_record_is_refused_and_the_other_is_named(viewed: Shop) -> None:
    content = picture(taken=seen_at(viewed))
    attach(viewed, content)
    other = viewed.receive(GEAR, "CG-2")
    steps = viewed.magnetic_steps("MT-012", other, GEAR_SHEET)
    viewed.play(step for step in steps if step.seconds <= 780)
    with pytest.raises(NotPermitted, match="already on MT-001"):
        attach(viewed, content, inspection="MT-012", indication=None)
    # also under another name and with another time: the bytes count
    with pytest.raises(NotPermitted, match="already on MT-001"):
        attach(
            viewed,
            content,
            inspection="MT-012",
            indication=None,
            name="other.jpg",
            shown=Shown(taken_at=viewed.work.now()),
        )
    assert not [r for r in viewed.facts(f.PhotoAttached) if r.fact.inspection == "MT-012"]


def test_same_file_on_the_same_indication_is_said_and_on_another_one_is_lawful(viewed: Shop) -> None:
    """One frame may show two indications of a part."""
    content = picture(taken=seen_at(viewed))
    attach(viewed, content)
    with pytest.raises(InputError, match="attached already"):
        attach(viewed, content)
    attach(viewed, content, indication=None)
    assert len(viewed.facts(f.PhotoAttached)) == 2 and len(files(viewed)) == 1


@pytest.mark.parametrize(
    ("more", "error"),
    [
        ({"indication": "IND-99"}, NotFound),
        ({"inspection": "MT-999"}, NotFound),
        ({"person": "nobody"}, InputError),
        ({"seen": 1}, VersionConflict),
        ({"shown": replace(GOOD, tag_in_frame="perhaps")}, InputError),
        ({"shown": replace(GOOD, light="candle")}, InputError),
    ],
)
def test_what_does_not_fit_the_record_attaches_nothing(viewed: Shop, more: dict[str, Any], error: type) -> None:
    with pytest.raises(error):
        attach(viewed, picture(taken=seen_at(viewed)), **more)
    assert viewed.facts(f.PhotoAttached) == []


def test_entry_never_comes_without_its_file(viewed: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """The archive fails, or forgets what it kept: no entry."""

    def full(*_: Any) -> str:
        raise StoreError("the disk is full")

    content, before = picture(taken=seen_at(viewed)), viewed.head()
    with monkeypatch.context() as patch, pytest.raises(StoreError, match="full"):
        patch.setattr(FolderArchive, "keep", full)
        attach(viewed, content)
    with monkeypatch.context() as patch, pytest.raises(InputError, match="not in the archive"):
        patch.setattr(FolderArchive, "keep", lambda *_: "")
        attach(viewed, content)
    assert viewed.head() == before
    attach(viewed, content)


def test_book_without_its_folder_attaches_nothing(viewed: Shop) -> None:
    viewed.work.photographs = None
    with pytest.raises(InputError, match="no folder for photographs"):
        attach(viewed, picture(taken=seen_at(viewed)))


# --- what rests on them -------------------------------------------------------------------------------


def verdicts(shop: Shop) -> dict[str, Verdict]:
    judgement = shop.judge("MT-001", decider="L2-A", disposition="REJECT")
    return {rule: judgement.answer(rule).verdict for rule in ("D06", "G25")}


@pytest.fixture
def evidence(viewed: Shop) -> tuple[Shop, str]:
    """The crack photographed and looked at by a second person."""
    sha256 = attach(viewed, picture(taken=seen_at(viewed))).sha256
    viewed.second_look("MT-001", "IND-01", interpretation="relevant", form="linear", length=b.num("0.20 in"))
    return viewed, sha256


def path_of(shop: Shop, sha256: str) -> Path:
    return archive(shop).folder / sha256[:2] / sha256


def test_rules_rest_on_the_file_while_it_is_there(evidence: tuple[Shop, str]) -> None:
    assert set(verdicts(evidence[0]).values()) == {Verdict.PASS}


@pytest.mark.parametrize("loss", ["missing", "changed", "no archive"])
def test_rules_say_not_recorded_when_the_file_is_lost_and_pass_when_it_is_back(
    evidence: tuple[Shop, str], loss: str
) -> None:
    shop, sha256 = evidence
    path, kept = path_of(shop, sha256), shop.work.photographs
    content, before = path.read_bytes(), shop.head()
    path.chmod(0o644)
    if loss == "missing":
        path.unlink()
    elif loss == "changed":
        path.write_bytes(content[:-1] + b"\0")
    else:
        shop.work.photographs = None
    assert set(verdicts(shop).values()) == {Verdict.NOT_RECORDED}
    answer = shop.judge("MT-001").answer("G25")
    assert "DSC_0001.JPG is missing or not what it was" in answer.says
    assert shop.head() == before  # a lost file is no fact: nothing is written by looking
    path.write_bytes(content)
    shop.work.photographs = kept
    assert set(verdicts(shop).values()) == {Verdict.PASS}


def test_nothing_is_accepted_on_a_lost_photograph(shop: Shop) -> None:
    """A gear without indications and with a photograph; brought back, it is signed."""
    shop.gear()
    when = shop.facts(f.ViewEnded, "MT-001/view")[0].when
    sha256 = attach(shop, picture(), indication=None, shown=replace(GOOD, taken_at=when)).sha256
    content = path_of(shop, sha256).read_bytes()
    path_of(shop, sha256).unlink()
    with pytest.raises(NotPermitted, match="missing or not what it was") as refused:
        shop.sign("MT-001")
    assert [answer.rule for answer in refused.value.answers] == ["G25"]
    path_of(shop, sha256).write_bytes(content)
    assert shop.sign("MT-001").answer("G25").verdict is Verdict.PASS


def test_one_whole_photograph_of_two_is_enough_for_the_indication(evidence: tuple[Shop, str]) -> None:
    """D06 asks for a photograph; G25 asks of each."""
    shop, sha256 = evidence
    attach(shop, picture("two", taken=seen_at(shop)), shown=replace(GOOD, taken_at=_in_view(shop)))
    path_of(shop, sha256).unlink()
    assert verdicts(shop) == {"D06": Verdict.PASS, "G25": Verdict.NOT_RECORDED}


def _in_view(shop: Shop) -> Moment:
    ended = shop.facts(f.ViewEnded, "MT-001/view")[0]
    return ended.when


# --- looking at them ----------------------------------------------------------------------------------


def test_photograph_is_found_by_the_beginning_of_its_hash(viewed: Shop) -> None:
    first = attach(viewed, picture("one", taken=seen_at(viewed)))
    second = attach(viewed, picture("two", taken=seen_at(viewed)))
    with viewed.work.book.session(readonly=True) as session:
        assert photographs.named_like(session, first.sha256[:12].upper())[0].fact == first
        for nothing in ("", "zz"):
            with pytest.raises(NotFound):
                photographs.named_like(session, nothing)
        common = next((n for n in range(1, 64) if first.sha256[:n] != second.sha256[:n]), 1) - 1
        if common:
            with pytest.raises(InputError, match="begins 2"):
                photographs.named_like(session, first.sha256[:common])
        assert {r.fact.sha256 for r in photographs.archived(session)} == {first.sha256, second.sha256}
