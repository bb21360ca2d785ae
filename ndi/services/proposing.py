"""What may be signed on a record now: each word with what stands in its way.  A person chooses and signs."""

from __future__ import annotations

from dataclasses import dataclass

from ndi.domain import facts as f
from ndi.domain.answer import Answer
from ndi.domain.vocabulary import SPLIT, Disposition
from ndi.rules.inquiry import Inquiry
from ndi.services.deciding import in_the_way
from ndi.services.judging import judge
from ndi.services.ports import Session
from ndi.services.workplace import Workplace


@dataclass(frozen=True)
class Proposal:
    """A disposition that could be signed.  ``waits_for``: it would be provisional; ``asked``: how many rules were asked."""

    disposition: str
    children: tuple[f.Child, ...]
    in_the_way: tuple[Answer, ...]
    waits_for: str = ""
    asked: int = 0
    detail: str = ""

    @property
    def words(self) -> str:
        """``SPLIT 11 ACCEPT / 1 REJECT (RA-07)``."""
        shares = [
            f"{child.quantity} {child.disposition}" + (f" ({child.piece})" if child.piece else "")
            for child in self.children
        ]
        return f"{self.disposition} {' / '.join(shares)}" if shares else self.disposition


def proposals(work: Workplace, session: Session, inspection: str, person: str | None) -> tuple[Proposal, ...]:
    """ACCEPT first, then the split of a lot whose indications name their pieces, then the other words."""
    row = session.inspection(inspection)
    found = [_proposal(work, session, inspection, person, Disposition.ACCEPT, ())]
    q = judge(work, session, inspection).inquiry
    children = split_of(q, row.quantity)
    if children:
        found.append(_proposal(work, session, inspection, person, SPLIT, children))
    found += [
        _proposal(work, session, inspection, person, word, ())
        for word in (Disposition.REWORK, Disposition.REJECT, Disposition.HOLD_ENG)
    ]
    return tuple(found)


def split_of(q: Inquiry, quantity: int) -> tuple[f.Child, ...]:
    """Pieces of a lot that carry a relevant indication rejected, the rest accepted; empty where that is no split."""
    pieces = dict.fromkeys(mark.seen.fact.piece for mark in q.indications if mark.relevant and mark.seen.fact.piece)
    if quantity < 1 or not pieces or len(pieces) >= quantity:
        return ()
    rest = f.Child(Disposition.ACCEPT, quantity - len(pieces))
    return (rest, *(f.Child(Disposition.REJECT, 1, piece) for piece in pieces))


def _proposal(
    work: Workplace, session: Session, inspection: str, person: str | None, word: str, children: tuple[f.Child, ...]
) -> Proposal:
    judgement = judge(work, session, inspection, decider=person, disposition=word, children=children)
    waiting = judgement.standing().provisional if Disposition.ACCEPT in judgement.dispositions else ()
    blocking = in_the_way(judgement)
    return Proposal(word, children, blocking, waiting[0].says if waiting else "", len(judgement.answers))
