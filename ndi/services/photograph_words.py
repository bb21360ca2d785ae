"""What was read off a photograph and measured on it, in lines for a person: the same at the desk and on the command line."""

from __future__ import annotations

from ndi.domain import facts as f
from ndi.services.lookup import about
from ndi.services.measuring import Measured, plane_of
from ndi.services.photo_lengths import in_words
from ndi.services.picture_ports import PictureRead
from ndi.services.ports import Session


def read_in_words(read: PictureRead) -> list[str]:
    """Size, scale cards with their scale, codes in the frame; what is not there is said."""
    said = [f"{read.width} x {read.height} pixels shown upright"]
    for card in read.cards:
        plane = plane_of(read, card)
        corners = [corner for mark in card.marks for corner in mark.corners]
        middle = sum(x for x, _ in corners) / len(corners), sum(y for _, y in corners) / len(corners)
        scale = plane.millimetres_per_pixel(middle)
        said.append(
            f"scale card {card.name}: {len(card.marks)} marks, {scale.mean:.4f} mm per pixel in its middle "
            f"({scale.finest:.4f} to {scale.coarsest:.4f} by direction), marks scatter {plane.noise_px:.2f} px"
        )
    said += [f"cards of size {name} lie in it twice: they say nothing" for name in read.doubled]
    if not read.cards:
        said.append("no scale card is seen: no length can be measured in it")
    said += [f"code in the frame: {code}" for code in read.codes] or ["no code of this shop in the frame"]
    return said


def measured_in_words(found: Measured) -> list[str]:
    """Length with what it may be off by, what gave the scale, what else was measured, each warning."""
    said = [f"length {in_words(found.length)}", f"  by {found.how}"]
    if found.chord is not None:
        said.append(f"straight from end to end {in_words(found.chord)}")
    if found.width is not None:
        said.append(f"width {in_words(found.width)}")
    if found.angle is not None:
        said.append(f"against the part's axis {in_words(found.angle, 'deg')}")
    if found.from_datum is not None:
        said.append(f"nearer end from the datum {in_words(found.from_datum)}")
    said.append("+/-: holds the true value in 95 of 100 cases")
    return [*said, *(f"WARNING {warning}" for warning in found.warnings)]


def recorded_in_words(session: Session, sha256: str) -> list[str]:
    """Lengths that were recorded from a photograph, what the program proposed on it and what became of each, by entry."""
    said: dict[int, str] = {}
    for one in about(session, f.PhotographMeasured, sha256):
        length = f"{one.fact.length_mm} +/- {one.fact.uncertainty_mm}, {one.fact.how}"
        words = "; ".join((f"{one.fact.indication} measured {length}", *one.fact.warnings))
        said[one.position] = f"{words}; by {one.by} {one.when}"
    for asked in about(session, f.CandidatesProposed, sha256):
        count = f"{len(asked.fact.candidates)} proposed by the program ({asked.fact.look}), none of them a finding"
        said[asked.position] = f"{count}; asked by {asked.by} {asked.when}"
    for judged in about(session, f.CandidateJudged, sha256):
        fact = judged.fact
        became = ", ".join(filter(None, (fact.outcome, fact.indication, fact.reason)))
        said[judged.position] = f"number {fact.number} of entry {fact.proposal}: {became}; by {judged.by} {judged.when}"
    return [f"entry {position}: {said[position]}" for position in sorted(said)]
