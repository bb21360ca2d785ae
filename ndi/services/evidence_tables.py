"""Certificates, exams, calibrations and batches that a record rests on, as tables of an evidence pack."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.services.paper_text import on_paper, value_text
from ndi.services.report_models import SheetTable


def certificates(rested: Sequence[Recorded[f.Fact]]) -> Iterator[SheetTable]:
    """Of the entries that a record rests on, those that say who and what was fit for it, with their positions."""
    people, things = [], []
    for recorded in sorted(rested, key=lambda r: r.position):
        fact, at = recorded.fact, str(recorded.position)
        match fact:
            case f.CertificateEntered():
                what = f"certificate {fact.method} level {fact.level}"
                people.append((fact.person, what, str(fact.issued), str(fact.expires), _confirmed(fact), at))
            case f.VisionExamEntered():
                people.append((fact.person, "vision exam", str(fact.examined), str(fact.expires), _confirmed(fact), at))
            case f.AuthorisationEntered():
                until = str(fact.valid_to or "no end")
                what = f"authorisation {fact.technique}"
                people.append((fact.person, what, str(fact.valid_from), until, _confirmed(fact), at))
            case f.CalibrationRecorded():
                error = value_text(fact.as_found_error_percent)
                result = fact.result + (f", as found {error}" if error else "")
                things.append((fact.equipment, fact.item, str(fact.done), str(fact.due), on_paper(result), at))
            case f.BatchEntered():
                things.append((fact.batch, fact.material, "", str(fact.expires), fact.system or "", at))
    yield SheetTable(
        "Certificates and exams relied upon",
        (
            ("Person", 0.12),
            ("What", 0.28),
            ("From", 0.13),
            ("Last valid day", 0.15),
            ("Confirmed", 0.22),
            ("Entry", 0.1),
        ),
        tuple(people),
    )
    if things:
        yield SheetTable(
            "Calibrations and batches relied upon",
            (
                ("Object", 0.16),
                ("Item", 0.24),
                ("Done", 0.13),
                ("Last valid day", 0.15),
                ("Result", 0.22),
                ("Entry", 0.1),
            ),
            tuple(things),
        )


def _confirmed(fact: f.CertificateEntered | f.VisionExamEntered | f.AuthorisationEntered) -> str:
    if fact.confirmed_by:
        return f"by {fact.confirmed_by}, entered by {fact.entered_by}"
    return fact.exception or "copied in from paper"
