"""The owner's report for machines: the same pieces, findings and records as JSON."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from ndi.domain import facts as f
from ndi.services.owner_findings import Finding, place
from ndi.services.owner_lines import Line
from ndi.services.ports import PartRow
from ndi.services.workplace import Workplace


def record_text(
    work: Workplace,
    order: f.WorkOrderOpened,
    counts: Mapping[str, int],
    lines: Sequence[Line],
    left_out: Sequence[PartRow],
    findings: Sequence[Finding],
    bottom: str,
    head: str,
) -> str:
    """One JSON object."""
    told = {
        "kind": "engine inspection report",
        "book": work.book.book_id,
        "head": head,
        "practice": work.practice,
        "work_order": order.work_order,
        "engine": {"model": order.engine_model, "serial": order.engine_serial},
        "bottom_line": bottom,
        "pieces": dict(counts),
        "parts": [_part(line) for line in lines],
        "not_inspected": [{"part": p.part, "pieces": p.quantity, "reason": p.reason_code} for p in left_out],
        "indications": [_indication(found) for found in findings],
    }
    return json.dumps(told, ensure_ascii=False, indent=1, sort_keys=True)


def _part(line: Line) -> dict[str, Any]:
    return {
        "part": line.part.part,
        "part_no": line.part.part_no,
        "pieces": line.part.quantity,
        "states": dict(line.states),
        "missing": list(line.missing),
        "records": [
            {
                "record": row.inspection,
                "disposition": row.disposition,
                "provisional": row.provisional,
                "suspended": row.suspended,
            }
            for row in line.rows
        ],
    }


def _indication(found: Finding) -> dict[str, Any]:
    seen = found.mark.seen.fact
    return {
        "indication": found.mark.id,
        "record": found.row.inspection,
        "zone": seen.zone,
        "where": place(found),
        "length": str(seen.length) if seen.length else None,
        "interpretation": found.model.interpretation,
        "evaluation": found.model.evaluation,
        "limit": found.model.limit,
        "disposition": found.decision,
        "suspended": found.row.suspended,
        "photographs": [photo.fact.sha256 for photo in found.mark.photos],
    }
