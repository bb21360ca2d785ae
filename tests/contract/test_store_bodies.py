"""The tests of the journal and of the read tables, word for word, on PostgreSQL.

``tests/store`` runs these bodies on SQLite; here the fixture ``book`` is one on
a server.  Left out are those that open the file of a SQLite book themselves.
"""

from __future__ import annotations

import inspect
from types import ModuleType

import pytest

from tests.store import test_journal, test_projection


def _bodies(module: ModuleType) -> dict[str, object]:
    """The tests of a module that know the book only by its fixtures."""
    return {
        name: body
        for name, body in vars(module).items()
        if name.startswith("test_") and ".path" not in inspect.getsource(body)
    }


_TAKEN = {**_bodies(test_journal), **_bodies(test_projection)}
globals().update(_TAKEN)


@pytest.fixture
def engine_name() -> str:
    return "postgresql"


def test_most_bodies_are_taken() -> None:
    assert len(_TAKEN) >= 40
