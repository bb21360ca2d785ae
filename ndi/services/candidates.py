"""Proposals of the program on a photograph, and what the inspector made of each: accepted, rejected or redrawn.

A proposal is never a finding.  An indication is what a person saw on the part
and recorded; accepting a proposal only says which of them it was.
"""

from __future__ import annotations

from dataclasses import dataclass

import ndi
from ndi.calc.photo_measures import along
from ndi.domain import facts as f
from ndi.domain.entry import Draft, Obtained, Recorded
from ndi.domain.errors import InputError, NotFound
from ndi.domain.quantity import Number
from ndi.services.lookup import about
from ndi.services.measured_photographs import check_attached, check_points
from ndi.services.measuring import plane_of
from ndi.services.photo_lengths import share_of
from ndi.services.photographs import archive_of, original
from ndi.services.picture_ports import PictureRead, Proposed
from ndi.services.ports import DrawnShape, Session
from ndi.services.recording import check_known
from ndi.services.workplace import Workplace

LOOKS = ("fluorescent", "dark")
ACCEPTED, REJECTED, REDRAWN = "accepted", "rejected", "redrawn"
OUTCOMES = (ACCEPTED, REJECTED, REDRAWN)
_FEWEST = 3  # points of an outline
_WIDER, _LEAST_RIM = 1.3, 0.004  # a circle drawn round a candidate leaves it to be seen


@dataclass(frozen=True)
class Standing:
    """The last proposal on a photograph, and what became of each of its candidates so far."""

    proposed: Recorded[f.CandidatesProposed]
    judged: dict[int, Recorded[f.CandidateJudged]]

    @property
    def open(self) -> list[f.Candidate]:
        """Candidates that nobody judged."""
        return [each for each in self.proposed.fact.candidates if each.number not in self.judged]


def propose(work: Workplace, inspection: str, sha256: str, look: str, person: str) -> Recorded[f.Fact]:
    """Look for candidates in an attached photograph and record what was proposed, nothing included.

    InputError for a look that there is not; NotFound for a photograph that is
    not attached to the record.
    """
    if look not in LOOKS:
        raise InputError(f"{look!r} is none of {', '.join(LOOKS)}")
    if work.pictures is None:
        raise InputError("nothing is read off pictures here: open the book with the program's own reader")
    with work.look() as session:
        check_attached(session, inspection, sha256)
    content = original(work, sha256)
    read = work.pictures.read(content)
    found = work.pictures.propose(content, look, read.cards)
    fact = f.CandidatesProposed(
        inspection,
        sha256,
        look,
        tuple(_candidate(number, each, read) for number, each in enumerate(found, 1)),
        ndi.__version__,
    )
    with work.act("propose candidates", person, inspection) as session:
        check_known(session, person)
        (recorded,) = session.append([Draft(fact, work.now(), person, Obtained.COMPUTED)])
        return recorded


def _candidate(number: int, found: Proposed, read: PictureRead) -> f.Candidate:
    length = width = None
    if read.cards:
        plane = plane_of(read, read.cards[0])
        places = plane.at(found.line)
        size = along([(float(x), float(y)) for x, y in places])
        per_pixel = plane.millimetres_per_pixel(found.line[len(found.line) // 2]).mean
        length, width = Number(f"{size:.2f}", "mm"), Number(f"{found.width_px * per_pixel:.2f}", "mm")
    return f.Candidate(
        number,
        "linear" if found.is_linear else "rounded",
        tuple(share_of(point, read) for point in found.outline),
        tuple(share_of(point, read) for point in found.line),
        Number(f"{100 * found.strength:.0f}", "%"),
        length,
        width,
    )


def drawn(work: Workplace, fact: f.CandidatesProposed) -> bytes:
    """A full-size PNG of the photograph shown upright, a circle with its number round each candidate; the original stays."""
    shapes = []
    for each in fact.candidates:
        points = [(float(p.x.in_unit("%")) / 100, float(p.y.in_unit("%")) / 100) for p in each.outline]
        x, y = (sum(point[n] for point in points) / len(points) for n in (0, 1))
        far = max(points, key=lambda point: (point[0] - x) ** 2 + (point[1] - y) ** 2)
        rim = tuple(
            a + (b - a) * _WIDER + (_LEAST_RIM if n == 0 else 0) for n, (a, b) in enumerate(((x, far[0]), (y, far[1])))
        )
        shapes.append(DrawnShape("circle", ((x, y), (rim[0], rim[1])), f"{each.number}"))
    return archive_of(work).annotated(fact.sha256, shapes, None)


def standing(session: Session, inspection: str, sha256: str) -> Standing:
    """NotFound where nothing was proposed on this photograph for this record."""
    proposals = [r for r in about(session, f.CandidatesProposed, sha256) if r.fact.inspection == inspection]
    if not proposals:
        raise NotFound(f"nothing was proposed on {sha256[:16]} for {inspection}: ask first (ndi photo candidates)")
    last = max(proposals, key=lambda r: r.position)
    judged = [r for r in about(session, f.CandidateJudged, sha256) if r.fact.proposal == last.position]
    return Standing(last, {r.fact.number: r for r in sorted(judged, key=lambda r: r.position)})


def judge_candidate(
    work: Workplace,
    inspection: str,
    sha256: str,
    number: int,
    outcome: str,
    person: str,
    *,
    indication: str | None = None,
    reason: str | None = None,
    outline: tuple[f.PicturePoint, ...] = (),
) -> Recorded[f.Fact]:
    """Record what became of one candidate of the last proposal; a later word about it stands in place of an earlier one.

    Accepted and redrawn name an indication that was recorded; rejected says
    what it is; redrawn brings its outline.
    """
    if outcome not in OUTCOMES:
        raise InputError(f"{outcome!r} is none of {', '.join(OUTCOMES)}")
    reason = (reason or "").strip() or None
    if outcome == REJECTED and reason is None:
        raise InputError(f"candidate {number}: say what it is (lint, scratch, drip ...), as seen on the part")
    if outcome != REJECTED and indication is None:
        raise InputError(
            f"candidate {number}: name the indication that was recorded for it; a proposal alone is none, "
            "record what is seen on the part first"
        )
    if outcome == REDRAWN and len(outline) < _FEWEST:
        raise InputError(f"candidate {number}: an outline has {_FEWEST} points or more, {len(outline)} were given")
    if outcome != REDRAWN and outline:
        raise InputError(f"candidate {number}: an outline goes with redrawn, not with {outcome}")
    check_points(outline)
    with work.act("judge candidate", person, inspection) as session:
        check_known(session, person)
        check_attached(session, inspection, sha256, indication if outcome != REJECTED else None)
        last = standing(session, inspection, sha256).proposed
        if number not in {each.number for each in last.fact.candidates}:
            raise InputError(f"the last proposal has {len(last.fact.candidates)} candidates, none of number {number}")
        fact = f.CandidateJudged(
            inspection,
            sha256,
            last.position,
            number,
            outcome,
            indication if outcome != REJECTED else None,
            reason,
            outline,
        )
        (recorded,) = session.append([Draft(fact, work.now(), person)])
        return recorded
