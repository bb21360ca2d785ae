"""Records on which too few persons worked, and what takes them off the handover."""

from __future__ import annotations

from pathlib import Path

import pytest

from ndi.services import handover, verifying
from tests.services.shop import Shop, begin, open_copy


def lines(shop: Shop) -> list[handover.OpenLine]:
    return [line for line in handover.open_lines(shop.work) if line.kind == "few hands"]


@pytest.fixture(scope="module")
def morning(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The shop under procedures that want two persons for class 1 and three for class 2."""
    folder = tmp_path_factory.mktemp("few hands")

    def adapt(procedures: Path) -> None:
        for file in ("MT-P-01/rev-F.toml", "PT-P-01/rev-D.toml"):
            text = (procedures / file).read_text("utf-8")
            kept = [line for line in text.split("\n") if not line.startswith("persons_min_class_")]
            place = kept.index("[parameters]") + 1
            for item_class, wanted in (("1", "2"), ("2", "3")):
                said = (
                    f'{{ value = "{wanted}", unit = "pcs", paragraph = "3.25", source = "common practice, no source" }}'
                )
                kept.insert(place, f"persons_min_class_{item_class} = {said}")
            (procedures / file).write_text("\n".join(kept), "utf-8")

    begin(folder, adapt=adapt)
    return folder


@pytest.fixture
def small(morning: Path, tmp_path: Path) -> Shop:
    return open_copy(morning, tmp_path / "small")


def test_class_1_part_that_one_person_did_alone_stands_in_the_handover_until_another_verifies(
    small: Shop,
) -> None:
    small.gear("MT-001")
    small.sign("MT-001")
    (line,) = lines(small)
    assert (line.about, line.text) == (
        "MT-001",
        "L2-A processed, looked and decided; the procedure wants 2 persons for class 1: "
        "another person looks, or verifies it",
    )
    small.read_lamp("LP-1", "1690")
    verifying.verify_records(small.work, "SUP-F")
    assert not lines(small)


def test_two_did_a_class_2_part_that_wants_three(small: Shop) -> None:
    """L1-D at the line, L2-B at the booth."""
    small.sump("PT-001")
    assert not lines(small)  # nothing is decided yet
    small.sign("PT-001", person="L2-B")
    (line,) = lines(small)
    assert line.text.startswith("L1-D, L2-B processed, looked and decided; the procedure wants 3 persons for class 2")


def test_procedure_without_a_number_asks_none(tmp_path: Path) -> None:
    folder = tmp_path / "none"
    folder.mkdir()

    def adapt(procedures: Path) -> None:
        for file in procedures.glob("*/rev-*.toml"):
            text = file.read_text("utf-8")
            file.write_text("\n".join(line for line in text.split("\n") if not line.startswith("persons_min")), "utf-8")

    begin(folder, adapt=adapt)
    small = open_copy(folder, tmp_path / "book")
    small.gear("MT-001")
    small.sign("MT-001")
    assert not lines(small)
