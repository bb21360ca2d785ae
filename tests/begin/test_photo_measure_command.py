"""``ndi photo measure``, ``candidates``, ``judge`` as they are typed, on photographs made from known geometry."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from ndi.domain import facts as f
from tests.begin.conftest import Run
from tests.photo import scene
from tests.services.shop import GEAR, GEAR_SHEET, STATION, Shop

LINE = [(25, 30), (50, 40)]
TRUE = float(np.hypot(25, 10))


@pytest.fixture
def book(shop: Shop, tmp_path: Path) -> Path:
    """Gear MT-001 with the crack IND-01, its view over."""
    part = shop.receive(GEAR, "CG-1")
    shop.play(s for s in shop.magnetic_steps("MT-001", part, GEAR_SHEET, nothing_seen=False) if s.seconds <= 780)
    shop.crack("MT-001", part)
    return tmp_path / "book" / "shop.book"


def photograph(shop: Shop, tmp_path: Path, code: str | None = None) -> tuple[Path, scene.Camera]:
    chance = np.random.default_rng(1)
    camera = scene.over("M", chance, (1600, 1200), tilt=15)
    own = f"part:{shop.row('MT-001').part}"
    path = tmp_path / "crack.png"
    path.write_bytes(
        scene.saved(scene.photograph("M", camera, chance, code=code or own, lines=(np.array(LINE, float),)))
    )
    return path, camera


def attached(shop: Shop, book: Path, ndi: Run, path: Path) -> str:
    when = shop.facts(f.ViewEnded, "MT-001/view")[0].at.isoformat()
    words = ("photo", "add", book, path, "--inspection", "MT-001", "--indication", "IND-01", "--by", "L2-A")
    said = ndi(*words, "--taken", when, "--station", STATION)
    assert said.code == 0, said.err
    return shop.facts(f.PhotoAttached)[-1].fact.sha256


def pixels(camera: scene.Camera, places: list[tuple[float, float]]) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in camera.sees(np.array(places, float)))


def test_photograph_of_another_part_is_not_added(shop: Shop, book: Path, ndi: Run, tmp_path: Path) -> None:
    path, _ = photograph(shop, tmp_path, "part:W-9/OTHER/1")
    when = shop.facts(f.ViewEnded, "MT-001/view")[0].at.isoformat()
    said = ndi(
        "photo", "add", book, path, "--inspection", "MT-001", "--by", "L2-A", "--taken", when, "--station", STATION
    )
    assert said.code == 1 and "names part W-9/OTHER/1" in said.err
    assert shop.facts(f.PhotoAttached) == []


def test_what_is_read_is_told_before_anything_is_measured(shop: Shop, book: Path, ndi: Run, tmp_path: Path) -> None:
    path, _ = photograph(shop, tmp_path)
    sha256 = attached(shop, book, ndi, path)
    said = ndi("photo", "measure", book, sha256[:10], "--station", STATION)
    assert said.code == 0
    assert "1600 x 1200 pixels" in said.out and "scale card M: 4 marks" in said.out and "mm per pixel" in said.out
    own = f"part:{shop.row('MT-001').part}"
    assert f"code in the frame: {own}" in said.out
    assert f"read off it: scale card M, codes in the frame: {own}" in ndi("photo", "show", book, sha256[:10]).out


def test_length_is_told_and_recorded_only_with_a_person(shop: Shop, book: Path, ndi: Run, tmp_path: Path) -> None:
    path, camera = photograph(shop, tmp_path)
    sha256 = attached(shop, book, ndi, path)
    more = ("--axis", pixels(camera, [(20, 28), (60, 28)]), "--datum", pixels(camera, [(15, 30)]))
    words = ("photo", "measure", book, sha256[:10], "--line", pixels(camera, LINE), *more, "--station", STATION)
    said = ndi(*words)
    assert said.code == 0 and "not recorded" in said.out and shop.facts(f.PhotographMeasured) == []
    found = re.search(r"length ([\d.]+) \+/- ([\d.]+) mm \(([\d.]+) \+/- [\d.]+ in\)", said.out)
    assert found is not None and abs(float(found[1]) - TRUE) <= float(found[2]) < 1
    assert float(found[3]) == pytest.approx(float(found[1]) / 25.4, rel=1e-3)
    assert "against the part's axis 21." in said.out and "from the datum 10." in said.out
    assert "no place on the outline" in ndi(*words, "--place", "612 mm", "--by", "L2-A").err
    place = ("--place", "612 mm, 0.5 in")
    said = ndi(*words, *place, "--by", "L2-A", "--across", pixels(camera, [(37, 34), (37, 36.5)]))
    assert said.code == 0 and "recorded for IND-01" in said.out and "WARNING bleed-out" in said.out
    (fact,) = [r.fact for r in shop.facts(f.PhotographMeasured)]
    assert fact.width_mm is not None and fact.angle is not None and fact.warnings
    assert (str(fact.x_mm), str(fact.y_mm)) == ("612 mm", "0.5 in")
    shown = ndi("photo", "show", book, sha256[:10]).out
    assert f"IND-01 measured {fact.length_mm} +/- {fact.uncertainty_mm}" in shown and "bleed-out" in shown


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--line", "1,1 5"], "is no point"),
        (["--line", "1,1 nan,5"], "is no point"),
        (["--line", "1,1 1e300,5"], "is no point"),
        (["--line", "1,1 9000,5"], "outside the picture"),
        (["--line", "1,1 90,5", "--radius", "1.125"], "no unit of length"),
        (["--line", "1,1 90,5", "--radius", "x in"], "x"),
        (["--line", "1,1 90,5", "--check-line", "148 mm"], "throw the cards"),
    ],
)
def test_what_cannot_be_measured_is_said(
    shop: Shop, book: Path, ndi: Run, tmp_path: Path, words: list[str], said: str
) -> None:
    sha256 = attached(shop, book, ndi, photograph(shop, tmp_path)[0])
    answer = ndi("photo", "measure", book, sha256[:10], *words, "--station", STATION)
    assert answer.code == 2 and said in answer.err and len(answer.err.splitlines()) == 1


def test_journal_in_inches_and_a_measured_print(shop: Shop, book: Path, ndi: Run, tmp_path: Path) -> None:
    path, camera = photograph(shop, tmp_path)
    sha256 = attached(shop, book, ndi, path)
    words = ("photo", "measure", book, sha256[:10], "--line", pixels(camera, LINE), "--station", STATION)
    said = ndi(*words, "--radius", "1.125 in", "--check-line", "150.1 mm", "--camera", "0.2 m")
    assert said.code == 0 and "straight from end to end" in said.out and "ends lie 3.3" in said.out


def test_candidates_are_proposed_and_judged(shop: Shop, book: Path, ndi: Run, tmp_path: Path) -> None:
    sha256 = attached(shop, book, ndi, photograph(shop, tmp_path)[0])
    ask = ("photo", "candidates", book, sha256[:10], "--look", "dark", "--by", "L2-A", "--station", STATION)
    assert ndi(*ask, "--out", tmp_path / "c.jpg").code == 2
    said = ndi(*ask, "--out", tmp_path / "c.png")
    copy, original = (
        np.asarray(Image.open(tmp_path / name).convert("L")).astype(int) for name in ("c.png", "crack.png")
    )
    assert copy.shape == (1200, 1600) and np.abs(copy - original).max() > 100  # a circle was drawn
    assert said.code == 0 and "1: linear at" in said.out and "1 candidates, none of them a finding" in said.out
    judge = ("photo", "judge", book, sha256[:10], "1")
    said = ndi(*judge, "accepted", "--by", "L2-A", "--station", STATION)
    assert said.code == 2 and "name the indication" in said.err
    said = ndi(
        *judge, "redrawn", "--indication", "IND-01", "--outline", "9,9 90,9 90,90", "--by", "L2-A", "--station", STATION
    )
    assert said.code == 0 and "0 not judged yet" in said.out
    assert [r.fact.outcome for r in shop.facts(f.CandidateJudged)] == ["redrawn"]
    shown = ndi("photo", "show", book, sha256[:10]).out
    assert "1 proposed by the program (dark), none of them a finding; asked by L2-A" in shown
    assert re.search(r"number 1 of entry \d+: redrawn, IND-01; by L2-A", shown)


def test_place_on_the_outline_follows_from_datum_and_axis(shop: Shop, book: Path, ndi: Run, tmp_path: Path) -> None:
    """The line's middle lies 22.5 mm along and 5 mm below the datum on the card's plane, by construction."""
    path, camera = photograph(shop, tmp_path)
    sha256 = attached(shop, book, ndi, path)
    marks = ("--line", pixels(camera, LINE), "--axis", pixels(camera, [(20, 28), (60, 28)]))
    words = ("photo", "measure", book, sha256[:10], *marks, "--by", "L2-A", "--station", STATION)
    said = ndi(*words, "--datum-at", "100 mm, 20 mm")
    assert said.code == 2 and "mark the datum by one point" in said.err
    said = ndi(*words, "--datum", pixels(camera, [(15, 30)]), "--datum-at", "100 mm, 20 mm", "--place", "1 mm, 1 mm")
    assert said.code == 2 and "give one" in said.err and shop.facts(f.PhotographMeasured) == []
    said = ndi(*words, "--datum", pixels(camera, [(15, 30)]), "--datum-at", "100 mm, 20 mm")
    assert said.code == 0, said.err
    (fact,) = [r.fact for r in shop.facts(f.PhotographMeasured)]
    assert fact.x_mm is not None and fact.y_mm is not None
    assert float(fact.x_mm.value) == pytest.approx(122.5, abs=0.5)
    assert float(fact.y_mm.value) == pytest.approx(15, abs=0.5)
