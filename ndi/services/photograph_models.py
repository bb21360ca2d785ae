"""The photographs of a record for paper, with what is drawn beside them."""

from __future__ import annotations

from ndi.domain import facts as f
from ndi.domain.errors import NotFound, StoreError
from ndi.rules.inquiry import Inquiry
from ndi.services.annotating import annotated
from ndi.services.paper_text import local_text
from ndi.services.ports import Session
from ndi.services.report_models import PictureModel
from ndi.services.workplace import Workplace

EDGE = 1000  # pixels: 87 mm on paper at 290 to the inch


def photograph_models(work: Workplace, session: Session, q: Inquiry, edge: int = EDGE) -> tuple[PictureModel, ...]:
    """Every photograph of a record whose file is there and whole, once each, by time."""
    found: dict[str, PictureModel] = {}
    for recorded in q.facts.of(f.PhotoAttached, q.inspection):
        photo = recorded.fact
        if photo.inspection != q.inspection or photo.size is None or photo.sha256 in found or work.photographs is None:
            continue
        try:
            content = annotated(work, session, photo.sha256, q.inspection, edge=edge)
        except (NotFound, StoreError):  # the answers say that it is missing
            continue
        found[photo.sha256] = PictureModel(content, caption_of(photo))
    return tuple(found.values())


def caption_of(photo: f.PhotoAttached) -> str:
    """``IND-01, 2026-03-10 09:30:20, UV, sha256 1f2e3d4c5b6a7980``."""
    words = (photo.indication or "whole part", local_text(photo.taken_at), photo.light or "light not recorded")
    return ", ".join((*words, f"sha256 {photo.sha256[:16]}"))
