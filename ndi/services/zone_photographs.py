"""What others saw there: the last photographs of one zone of one part number, with what became of each."""

from __future__ import annotations

from dataclasses import dataclass

from ndi.domain import facts as f
from ndi.domain.errors import NotFound
from ndi.domain.moment import Moment
from ndi.services.lookup import about
from ndi.services.photographs import archived
from ndi.services.ports import Session
from ndi.services.workplace import Workplace

MOST = 5


@dataclass(frozen=True)
class ZonePhotograph:
    """One photograph of another part; ``is_there`` tells whether its file is whole, ``word`` what it was called."""

    sha256: str
    inspection: str
    indication: str
    taken_at: Moment
    word: str
    disposition: str
    is_there: bool


def zone_photographs(
    work: Workplace, session: Session, indication: str, most: int = MOST
) -> tuple[ZonePhotograph, ...]:
    """The latest photographs of the zone of an indication, on other records of the same part number, newest first.

    NotFound when the book holds no such indication.  Only photographs whose
    bytes came into the archive: of the others there is nothing to look at.
    """
    seen = about(session, f.IndicationSeen, indication)
    if not seen:
        raise NotFound(f"no indication {indication} in the book")
    own = seen[-1].fact
    if own.zone is None:
        return ()
    part_no = session.inspection(own.inspection).part_no
    found: dict[str, ZonePhotograph] = {}
    for recorded in sorted(archived(session), key=lambda r: (r.fact.taken_at.at, r.position), reverse=True):
        if len(found) == most:
            break
        photo = recorded.fact
        if photo.inspection == own.inspection or photo.sha256 in found:
            continue
        if _zone_of(session, photo) == own.zone and _part_no_of(session, photo) == part_no:
            found[photo.sha256] = _described(work, session, photo)
    return tuple(found.values())


def _zone_of(session: Session, photo: f.PhotoAttached) -> str | None:
    seen = about(session, f.IndicationSeen, photo.indication) if photo.indication is not None else []
    return seen[-1].fact.zone if seen else None


def _part_no_of(session: Session, photo: f.PhotoAttached) -> str | None:
    try:
        return session.inspection(photo.inspection).part_no
    except NotFound:
        return None


def _described(work: Workplace, session: Session, photo: f.PhotoAttached) -> ZonePhotograph:
    assert photo.indication is not None
    called = about(session, f.IndicationInterpreted, photo.indication)
    word = " ".join(each for each in (called[-1].fact.interpretation, called[-1].fact.type) if each) if called else ""
    is_there = work.photographs is not None and work.photographs.holds(photo.sha256)
    return ZonePhotograph(
        photo.sha256,
        photo.inspection,
        photo.indication,
        photo.taken_at,
        word or "not interpreted",
        session.inspection(photo.inspection).disposition,
        is_there,
    )
