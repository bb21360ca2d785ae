"""What is seen in the frame of a picture that somebody is about to attach, in words for a screen."""

from __future__ import annotations

from ndi.domain.scale_card import CARDS
from ndi.rules.photo_codes import names_part, of_others
from ndi.services.photographs import read_off
from ndi.services.workplace import Workplace


def in_frame(work: Workplace, inspection: str, content: bytes) -> str:
    """``the code of this part; scale card M, 4 of 4 marks``; empty where nothing is read off pictures."""
    read = read_off(work, content)
    if read is None:
        return ""
    with work.look() as session:
        row = session.inspection(inspection)
    strangers = of_others(read.codes, row.part, row.work_order)
    if strangers:
        whose = f"NOT THIS PART: a code names {', '.join(strangers)}"
    else:
        whose = "the code of this part" if names_part(read.codes, row.part) else "no code of a part"
    cards = [f"scale card {card.name}, {len(card.marks)} of {len(CARDS[card.name].marks)} marks" for card in read.cards]
    return "; ".join([whose, *(cards or ["no scale card"])])
