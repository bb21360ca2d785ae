"""The machine-readable record inside a report."""

from __future__ import annotations

import json
from typing import Any

import pypdfium2  # type: ignore[import-untyped]


def attached(pdf: bytes) -> dict[str, Any]:
    """The one attachment of a file, as JSON."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        (attachment,) = [document.get_attachment(n) for n in range(document.count_attachments())]
        found: dict[str, Any] = json.loads(bytes(attachment.get_data()).decode())
        return found
    finally:
        document.close()
