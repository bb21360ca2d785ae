"""A report model as JSON, for the file that goes along in its PDF."""

from __future__ import annotations

import hashlib
import json
from dataclasses import fields, is_dataclass
from typing import Any


def machine_text(kind: str, model: Any) -> bytes:
    """Every field of a model by its name; of a picture the SHA-256 of what is printed."""
    return json.dumps({"kind": kind, **_plain(model)}, ensure_ascii=False, indent=1, sort_keys=True).encode()


def _plain(value: Any) -> Any:
    if is_dataclass(value):
        return {each.name: _plain(getattr(value, each.name)) for each in fields(value)}
    if isinstance(value, (list, tuple)):
        return [_plain(each) for each in value]
    if isinstance(value, (set, frozenset)):
        return sorted(_plain(each) for each in value)
    return hashlib.sha256(value).hexdigest() if isinstance(value, bytes) else value
