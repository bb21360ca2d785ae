"""What is seen in the frame of a picture that somebody is about to attach, in words for a screen."""

from __future__ import annotations

from ndi.domain.scale_card import CARDS
from ndi.rules.photo_codes import names_part, of_others
from ndi.services.photographs import read_off
from ndi.services.workplace import Workplace


def in_frame(work: Workplace, inspection: str, content: bytes) -> str:
    """``scale card M, all 4 marks; the code of this part``; empty where nothing is read off pictures."""
    read = read_off(work, content)
    if read is None:
        return ""
    with work.look() as session:
        row = session.inspection(inspection)
    said = [
        f"scale card {card.name}, {len(card.marks)} of {len(CARDS[card.name].marks)} marks" for card in read.cards
    ] or ["no scale card"]
    strangers = of_others(read.codes, row.part, row.work_order)
    if strangers:
        said.append(f"NOT THIS PART: a code names {', '.join(strangers)}")
    elif names_part(read.codes, row.part):
        said.append("the code of this part")
    else:
        said.append("no code of a part")
    return "; ".join(said)
