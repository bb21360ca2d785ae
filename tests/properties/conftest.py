"""The shop of tests/services, and books with a record that is ready to be signed."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.services.conftest import morning  # noqa: F401
from tests.services.shop import Shop, open_copy
from tests.services.test_deciding import lot_with_a_crack


def kept(source: Path, target: Path, *, build: str) -> Path:
    """A book with one record more, closed again."""
    shop = open_copy(source, target)
    {"gear": Shop.gear, "accepted": accept_gear, "lot": lot_with_a_crack}[build](shop)
    shop.close()
    return target


def accept_gear(shop: Shop) -> None:
    shop.gear()
    shop.sign("MT-001")


@pytest.fixture(scope="session")
def accepted_book(morning: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:  # noqa: F811
    return kept(morning, tmp_path_factory.mktemp("accepted"), build="accepted")


@pytest.fixture(scope="session")
def lot_book(morning: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:  # noqa: F811
    return kept(morning, tmp_path_factory.mktemp("lot"), build="lot")
