"""What a signature covers, as it is shown before the secret is typed and kept with the signature."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from ndi.domain import facts as f
from ndi.services.ports import InspectionRow

Covers = tuple[str, ...]


def decision(row: InspectionRow, disposition: str, children: Sequence[f.Child] = ()) -> Covers:
    """A disposition on a record as it stands: any later entry of the record needs a new signature."""
    shares = [
        f"{child.quantity} {child.disposition}" + (f" ({child.piece})" if child.piece else "") for child in children
    ]
    words = f"{disposition} {' / '.join(shares)}" if shares else disposition
    return (f"{row.inspection} {words}", f"record as of entry {row.version}")


def second_look(saved: f.SecondLookSaved) -> Covers:
    """The second person's own result."""
    result = (
        "nothing seen"
        if saved.none_seen
        else ", ".join(str(each) for each in (saved.interpretation, saved.form, saved.length) if each)
    )
    return (f"{saved.second_look} at {saved.indication or saved.inspection}", result or "no result")


def records(inspections: Iterable[str]) -> Covers:
    """The records of a verification."""
    return tuple(inspections)


def documents(documents: Iterable[tuple[str, str, str, str]]) -> Covers:
    """Documents by kind, number, revision and hash."""
    return tuple(f"{kind} {number} rev {revision} {sha256[:16]}" for kind, number, revision, sha256 in documents)


def rework(order: f.ReworkOrdered) -> Covers:
    return (f"{order.inspection} {order.indication}", f"{order.zone}: {order.operation}")


def scrap(part: str, serial: str | None, piece: str | None) -> Covers:
    """A piece that is made unusable for good."""
    return (f"SCRAP {piece or serial or part}", part)


def disagreement(fact: f.DisagreementResolved) -> Covers:
    return (f"{fact.inspection} {fact.indication or 'whole part'}", fact.decision)


def deviation(inspection: str, rule: str, justification: str) -> Covers:
    return (f"{inspection} {rule}", justification)


def concession(inspection: str, reference: str, revision: str, conditions: str) -> Covers:
    return (f"{inspection} {reference} rev {revision}", conditions)


def co_signature(inspection: str, value: str) -> Covers:
    """The work of a trainee, co-signed or not."""
    return (f"{inspection} trainee work co-signed: {value}",)


def proposal(fact: f.QualificationProposed) -> Covers:
    """A qualification in one line."""
    what = {"certificate": f"{fact.method} level {fact.level}", "authorisation": f"{fact.technique}"}.get(fact.kind, "")
    until = f" to {fact.valid_to}" if fact.valid_to else ""
    return (f"{fact.person} {fact.kind} {what} {fact.valid_from}{until}".replace("  ", " "),)
