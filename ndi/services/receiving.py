"""Receiving: serial guard, identification on the floor, adoption of documents into an empty book."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ndi.domain import facts as f
from ndi.domain.answer import Answer
from ndi.domain.entry import Draft, Obtained, Recorded
from ndi.domain.vocabulary import LEVEL_THREE
from ndi.rules.authority import serial_outcome
from ndi.services import covers
from ndi.services.look_alikes import refuse_untold
from ndi.services.lookup import about, every
from ndi.services.ports import Session
from ndi.services.proof import Meaning, Proof
from ndi.services.recording import outside_answer
from ndi.services.scrapping import refuse_scrapped
from ndi.services.signing import require
from ndi.services.workplace import Refused, Workplace


def part_key(work_order: str, part_no: str, serial_or_lot: str) -> str:
    """The key of a piece or lot during one stay: the same serial comes back under another work order."""
    return f"{work_order}/{part_no}/{serial_or_lot}"


def identify(work: Workplace, work_order: str, typed: str, person: str) -> Answer:
    """A serial number as read from the part; refused when the work order has no such number (G02)."""
    with work.act("identify part", person, typed) as session:
        answer = serial_answer(session, work_order, typed)
        if not answer.settled:
            raise Refused([answer])
        return answer


def serial_answer(session: Session, work_order: str, typed: str) -> Answer:
    """G02 asked of a typed serial number against the work order's list."""
    known = [row.serial for row in session.parts(work_order) if row.serial]
    return outside_answer("G02", serial_outcome(typed, known))


def receive(
    work: Workplace,
    part: str,
    person: str,
    *,
    quantity: int,
    typed_twice: bool | None,
    scanned: bool | None,
    told_apart: str | None = None,
) -> Recorded[f.Fact]:
    """The piece or lot is on the floor, identified and counted, and told from its look-alikes."""
    with work.act("receive part", person, part) as session:
        row = session.part(part)
        refuse_scrapped(session, row)
        refuse_untold(work, session, row, told_apart)
        fact = f.PartReceived(part, row.work_order, quantity, typed_twice, scanned, told_apart=told_apart or None)
        (recorded,) = session.append([Draft(fact, work.now(), person, Obtained.SCANNER)])
        return recorded


@dataclass(frozen=True)
class Document:
    """A file of ``procedures/`` on its way into the book."""

    kind: str
    number: str
    revision: str
    method: str | None
    content: str
    sha256: str


def adoption_covers(documents: Sequence[Document]) -> tuple[str, ...]:
    """What a Level III signs when adopting."""
    return covers.documents((d.kind, d.number, d.revision, d.sha256) for d in documents)


def adopt(work: Workplace, documents: Sequence[Document], person: str, *, proof: Proof | None = None) -> int:
    """Adopt documents: by a Level III of the method (part masters: of any method). Returns how many were new.

    ``proof`` (in a practice book none): of the person, for :func:`adoption_covers`.
    A number and revision that is in the book already must have the same content.
    """
    with work.act("adopt documents", person, "documents") as session:
        signed = require(work, session, proof, person, Meaning.APPROVED, adoption_covers(documents))
        held = [r.fact for r in about(session, f.CertificateEntered, person)]
        today = work.now().local.date()
        methods = {c.method for c in held if c.level >= LEVEL_THREE and c.issued <= today <= c.expires}
        known = {
            (r.fact.document, r.fact.number, r.fact.revision): r.fact.sha256 for r in every(session, f.DocumentAdopted)
        }
        drafts = []
        for document in documents:
            key = (document.kind, document.number, document.revision)
            if key in known:
                if known[key] != document.sha256:
                    raise Refused(
                        (),
                        f"{document.number} rev {document.revision} was adopted with other content: give the change a new revision",
                    )
                continue
            if not methods or (document.method is not None and document.method not in methods):
                raise Refused(
                    (),
                    f"{person} is no Level III of {document.method or 'any method'}: {document.number} is adopted by one",
                )
            fact = f.DocumentAdopted(
                document.kind,
                document.number,
                document.revision,
                document.method,
                document.content,
                document.sha256,
                signed.proof,
            )
            drafts.append(Draft(fact, work.now(), person, Obtained.COMPUTED))
        session.append(drafts)
        return len(drafts)
