"""Cheap secrets for tests, and real books to be copied."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from ndi.store import secrets
from tests.people import real_shop
from tests.people.real_shop import CHEAP, RealShop


@pytest.fixture(scope="session", autouse=True)
def cheap_secrets() -> Iterator[None]:
    """Argon2id at the speed of tests; one test uses the real parameters."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(secrets, "PARAMETERS", CHEAP)
        yield


@pytest.fixture
def tmp_path() -> Iterator[Path]:
    """In memory where the system has such a folder: these tests copy a book hundreds of times, none is about disks."""
    memory = Path("/dev/shm")
    with tempfile.TemporaryDirectory(dir=memory if memory.is_dir() else None, ignore_cleanup_errors=True) as folder:
        yield Path(folder)


@pytest.fixture(scope="session")
def morning(cheap_secrets: None, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a real book at 07:50; to be copied, never opened."""
    folder = tmp_path_factory.mktemp("real")
    real_shop.begin(folder)
    return folder


@pytest.fixture
def shop(morning: Path, tmp_path: Path) -> Iterator[RealShop]:
    opened = real_shop.open_copy(morning, tmp_path / "book")
    yield opened
    opened.work.book.close()  # type: ignore[attr-defined]
