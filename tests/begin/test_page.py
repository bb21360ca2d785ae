"""The README's page *Your own shop in an hour*, followed literally."""

from __future__ import annotations

import re
from pathlib import Path

from tests.begin.page import ROOT, follow, section, steps


def test_following_the_page_works(tmp_path: Path) -> None:
    page = section((ROOT / "README.md").read_text(encoding="utf-8"))
    done = follow(page, tmp_path)
    failed = [result for result in done if result.returncode]
    assert not failed, f"{steps(page)[len(done) - 1].commands}\n{failed[0].stdout}\n{failed[0].stderr}"
    assert len(done) == len(steps(page)) >= 15
    said = "\n".join(result.stdout for result in done)
    assert re.search(r"compared: head of the copy \d+:[0-9a-f]{16} = entry \d+ of the book", said)
    assert re.search(r"\d+ entries hold", said)
    assert "uv_min has no value" not in said and "residual_max has no value" not in said  # filled in from the list
    # the first signed record, and its tag
    assert "MT-001: ACCEPT signed by L2-A; saved" in said
    assert "MT-001 | W-0001/P-200/LOT-1 | 8 pc | MT-T-01 | L2-A | ACCEPT PROVISIONAL" in said
    assert "tag 1 scanned on the part" in said and (tmp_path / "tag-MT-001.pdf").read_bytes().startswith(b"%PDF")
    for paper in ("people", "lamps", "baskets", "commands"):
        assert (tmp_path / f"codes-{paper}.pdf").read_bytes().startswith(b"%PDF")
    assert (tmp_path / "travellers.pdf").is_file() and (tmp_path / "try" / "shop.ndibook").is_file()
