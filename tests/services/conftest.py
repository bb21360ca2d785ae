"""A shop at 07:50 of the day, on a book of its own for each test."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.services.shop import Shop, begin, open_copy


@pytest.fixture(scope="session")
def morning(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a book with people, equipment and the morning's readings; to be copied, never opened."""
    folder = tmp_path_factory.mktemp("shop")
    begin(folder)
    return folder


@pytest.fixture
def shop(morning: Path, tmp_path: Path) -> Iterator[Shop]:
    opened = open_copy(morning, tmp_path / "book")
    yield opened
    opened.close()


@pytest.fixture
def accepted(shop: Shop) -> Shop:
    """The shop after gear MT-001 was accepted, provisionally: LP-1 was not read again yet."""
    shop.gear()
    shop.sign("MT-001")
    return shop
