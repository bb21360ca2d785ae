"""The books of the contract tests, on both engines."""

from tests.contract.conftest import (  # noqa: F401
    _scratch_folder,
    book,
    clock,
    engine_name,
    owned,
    place,
    reopen,
)
