"""A book on a server from the command line: begun, asked and checked by its address."""

from __future__ import annotations

from pathlib import Path

import pytest

from ndi.cli.main import main
from tests.database_server import OWNER, server_or_skip


def test_a_book_on_a_server_is_begun_and_verified_by_its_address(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    server = server_or_skip()
    database = server.database()
    address, owner = server.url(database), server.url(database, OWNER)
    monkeypatch.setenv("NDI_KEYS", str(tmp_path / "keys"))
    assert main(["new", address, "--owner-url", owner, "--practice", "--shop", "TST", "--station", "DESK"]) == 0
    assert "practice book" in capsys.readouterr().out
    assert main(["verify", address]) == 0
    assert "entries hold" in capsys.readouterr().out
    assert main(["judge", address, "MT-001"]) == 3
    assert "MT-001" in capsys.readouterr().err
