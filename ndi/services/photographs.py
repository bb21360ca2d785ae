"""Photographs as evidence: a file put into the archive and attached to a record, and which files are no longer there.

The file comes first, the entry second: a program that ends between the two
leaves a file that nobody speaks of, never an entry without its file.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta

from ndi.calc.alike_pictures import looks
from ndi.domain import facts as f
from ndi.domain.answer import Answer, Verdict
from ndi.domain.entry import Draft, Recorded
from ndi.domain.errors import InputError, NotFound
from ndi.domain.fact_set import FactSet
from ndi.domain.moment import Moment
from ndi.rules import registry
from ndi.rules.evidence import photo_outcome
from ndi.rules.photo_codes import names_part
from ndi.services.alike_photographs import alike_elsewhere
from ndi.services.assemble import inquiry_for
from ndi.services.camera_clock import camera_moment, seconds_ahead
from ndi.services.deciding import check_version, reconsider
from ndi.services.lookup import about, every
from ndi.services.picture_ports import PictureRead
from ndi.services.ports import PhotoArchive, Picture, Session
from ndi.services.recording import check_known
from ndi.services.workplace import Refused, Workplace

TAG_IN_FRAME = ("read", "seen by person", "no")
LIGHTS = ("UV", "white", "mixed")
NO_CARD = "none"
_LONGEST_NAME = 200


@dataclass(frozen=True)
class Shown:
    """What a person says of a photograph; ``taken_at`` only where the camera wrote no time (or a wrong one)."""

    scale_in_frame: bool | None = None
    tag_in_frame: str | None = None
    light: str | None = None
    taken_at: Moment | None = None
    camera_ahead_s: int | None = None  # seconds by which the camera's clock was found ahead; None: as the book says
    reuse_reason: str | None = None  # why it stands here although it is, or looks like, one of another record


def archive_of(work: Workplace) -> PhotoArchive:
    """The archive of this book; InputError where the book was opened without one."""
    if work.photographs is None:
        raise InputError(
            "this book has no folder for photographs here: open it with one (NDI_PHOTOGRAPHS for a server)"
        )
    return work.photographs


def attach_photograph(
    work: Workplace,
    inspection: str,
    content: bytes,
    name: str,
    person: str,
    *,
    indication: str | None = None,
    shown: Shown | None = None,
    seen: int | None = None,
) -> Recorded[f.Fact]:
    """Keep a file's bytes as they are and attach them to a record (and to one of its indications).

    InputError for a file that is empty, cut off, too large or no picture, and
    for a picture without any time.  NotPermitted (G25) for a file that is on
    another record already, and for a time outside the inspection.
    """
    archive, said = archive_of(work), shown or Shown()
    _check_words(said)
    fact = _fact(work, archive.examine(content, name), inspection, indication, name, said)
    fact = with_what_is_read(fact, read_off(work, content), part_of(work, inspection))
    with work.book.session(readonly=True) as session:
        is_welcome = _refusal(work, session, fact) is None
    if is_welcome:  # else it is refused below, and no file is kept for it
        archive.keep(content)
    with work.act("attach photograph", person, inspection) as session:
        check_known(session, person)
        check_version(session, inspection, seen)
        refusal = _refusal(work, session, fact)
        if refusal is not None:
            raise Refused([refusal])
        if not archive.holds(fact.sha256):
            raise InputError(f"{name} is not in the archive: attach it again; nothing was attached")
        (recorded,) = session.append([Draft(fact, work.now(), person)])
        reconsider(work, session, [inspection], recorded.position)
        return recorded


def read_off(work: Workplace, content: bytes) -> PictureRead | None:
    """Cards and codes in a picture; None where nothing is read off pictures, or nothing can be read off this one."""
    try:
        return None if work.pictures is None else work.pictures.read(content)
    except InputError:
        return None  # it was decoded whole before, so it stays evidence; a person says what is in its frame


def part_of(work: Workplace, inspection: str) -> str:
    with work.look() as session:
        return session.inspection(inspection).part


def with_what_is_read(fact: f.PhotoAttached, read: PictureRead | None, part: str) -> f.PhotoAttached:
    """What the picture itself shows stands where the person said nothing, and beside what the person said."""
    if read is None:
        return fact
    card = read.cards[0].name if read.cards else NO_CARD
    return replace(
        fact,
        codes_read=read.codes,
        card=card,
        scale_in_frame=True if fact.scale_in_frame is None and read.cards else fact.scale_in_frame,
        tag_in_frame="read" if fact.tag_in_frame is None and names_part(read.codes, part) else fact.tag_in_frame,
    )


def _check_words(said: Shown) -> None:
    for value, words in ((said.tag_in_frame, TAG_IN_FRAME), (said.light, LIGHTS)):
        if value is not None and value not in words:
            raise InputError(f"{value!r} is none of {', '.join(words)}")


def _fact(
    work: Workplace, picture: Picture, inspection: str, indication: str | None, name: str, said: Shown
) -> f.PhotoAttached:
    camera_time = camera_moment(work, picture)
    seen = looks(picture.shrunk) if picture.shrunk else ()
    with work.look() as session:
        ahead_s = seconds_ahead(session, picture.camera) if said.camera_ahead_s is None else said.camera_ahead_s
        alike = alike_elsewhere(session, inspection, seen, work.clock.now())
    taken_at = said.taken_at or _corrected(camera_time, ahead_s)
    if taken_at is None:
        raise InputError(f"{name}: the camera wrote no time into it; say when it was taken")
    if taken_at.at > work.clock.now():
        raise InputError(
            f"{name}: taken {taken_at} is later than now; compare the camera's clock with the station's "
            "(ndi photo clock) or say by how much it is ahead"
        )
    return f.PhotoAttached(
        inspection,
        picture.sha256,
        taken_at,
        indication,
        said.scale_in_frame,
        said.tag_in_frame,
        said.light,
        said.reuse_reason,
        size=picture.size,
        media_type=picture.media_type,
        original_name=_plain(name),
        camera=picture.camera,
        camera_time=camera_time,
        camera_ahead_s=ahead_s if camera_time is not None else None,
        width=picture.width,
        height=picture.height,
        perceptual_hash=seen[0] if seen else None,
        alike=alike or None,
    )


def _plain(name: str) -> str:
    """The name alone, without its folders, in characters that can be printed."""
    last = name.replace("\\", "/").rsplit("/", 1)[-1]
    return "".join(character for character in last if character.isprintable())[:_LONGEST_NAME]


def _corrected(camera_time: Moment | None, ahead_s: int | None) -> Moment | None:
    if camera_time is None or ahead_s is None:
        return camera_time
    try:
        return replace(camera_time, at=camera_time.at - timedelta(seconds=ahead_s))
    except OverflowError:
        raise InputError(f"{ahead_s} s is no difference between two clocks: compare them again") from None


def _refusal(work: Workplace, session: Session, fact: f.PhotoAttached) -> Answer | None:
    """Why the photograph cannot stand as evidence of this record, as the rule of G25 says it."""
    inquiry = inquiry_for(work, session, fact.inspection)
    if fact.indication is not None and not any(
        r.fact.inspection == fact.inspection for r in about(session, f.IndicationSeen, fact.indication)
    ):
        raise NotFound(f"{fact.inspection} has no indication {fact.indication}: record what was seen first")
    same = about(session, f.PhotoAttached, fact.sha256)
    own = [r for r in same if r.fact.inspection == fact.inspection and r.fact.indication == fact.indication]
    if own:
        raise InputError(f"{fact.original_name} is attached already (entry {own[-1].position}): nothing was attached")
    like = [r for sha256 in fact.alike or () for r in about(session, f.PhotoAttached, sha256)]
    inquiry = replace(inquiry, facts=FactSet([*inquiry.facts, *same, *like]))
    outcome = photo_outcome(inquiry, fact, fact.taken_at)
    if outcome.verdict is Verdict.PASS:
        return None
    return registry.to_answer(registry.load_all()["G25"], outcome, inquiry.procedure)


# --- looking after them ---------------------------------------------------------------------------


def archived(session: Session) -> list[Recorded[f.PhotoAttached]]:
    """Every attached photograph whose bytes were put into the archive, by time."""
    return [recorded for recorded in every(session, f.PhotoAttached) if recorded.fact.size is not None]


def named_like(session: Session, start: str) -> list[Recorded[f.PhotoAttached]]:
    """The attachments of the one photograph whose hash begins with ``start``; NotFound, InputError when several do."""
    found = [r for r in every(session, f.PhotoAttached) if start and r.fact.sha256.startswith(start.lower())]
    if not found:
        raise NotFound(f"no photograph of this book begins with {start!r}")
    hashes = sorted({r.fact.sha256 for r in found})
    if len(hashes) > 1:
        raise InputError(
            f"{start!r} begins {len(hashes)} photographs: type more of it ({', '.join(h[:16] for h in hashes)})"
        )
    return found


def original(work: Workplace, sha256: str) -> bytes:
    """The bytes of a photograph, compared with its hash; NotFound, or StoreError when they are not what they were."""
    return archive_of(work).original(sha256)
