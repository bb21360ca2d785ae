"""The machine-readable form that every report carries with it: one JSON object, with the end of the book it was made from."""

from __future__ import annotations

import json
from typing import Any

from ndi.services.ports import Session
from ndi.services.workplace import Workplace


def record_text(work: Workplace, session: Session, kind: str, told: dict[str, Any]) -> str:
    """``told`` with what every report says of itself."""
    whole = {
        "kind": kind,
        "book": work.book.book_id,
        "head": str(session.head()),
        "practice": work.practice,
        **told,
    }
    return json.dumps(whole, ensure_ascii=False, indent=1, sort_keys=True)
