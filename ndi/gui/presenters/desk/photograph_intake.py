"""A picture file comes in at the desk: chosen by its path, looked at whole, shown before it is attached."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from ndi.domain import facts as f
from ndi.domain.errors import InputError
from ndi.gui.presenters.booth.picture_content import content_of
from ndi.gui.presenters.desk.acts import Act, Field, Form
from ndi.services import photographs
from ndi.services.camera_clock import camera_moment, in_words, seconds_ahead
from ndi.services.ports import Picture
from ndi.services.workplace import Workplace

YES, NO = "yes", "no"


def attach_form(work: Workplace, who: Callable[[], str], record: str = "", indication: str = "") -> Form:
    """File, record and what is in the frame; the act says what the file is and when it was taken before it is attached."""
    fields = (
        Field("file", "Picture file", hint="its whole path, as the file manager copies it", needed=True),
        Field("record", "Record", record, needed=True),
        Field("indication", "Indication", indication, hint="empty for the whole part"),
        Field("scale", "Scale in the frame", choices=(YES, NO), free=False, hint="empty: as read off it"),
        Field("tag", "Tag of the part", choices=photographs.TAG_IN_FRAME, free=False, hint="empty: as read off it"),
        Field("light", "Light", choices=photographs.LIGHTS, free=False),
        Field("reason", "Why used again", hint="only where it is, or looks like, one of another record"),
    )

    def act(values: Mapping[str, str]) -> Act:
        path = _path(values["file"])
        content = content_of(work, str(path))
        found = photographs.archive_of(work).examine(content, path.name)
        person, given = who(), values["record"].strip()
        with work.look() as session:
            session.inspection(given)
        scale = {YES: True, NO: False}.get(values["scale"])
        shown = photographs.Shown(
            scale, values["tag"] or None, values["light"] or None, reuse_reason=values["reason"].strip() or None
        )

        def make(_proof: object) -> str:
            recorded = photographs.attach_photograph(
                work, given, content, path.name, person, indication=values["indication"].strip() or None, shown=shown
            )
            fact = recorded.fact
            assert isinstance(fact, f.PhotoAttached)
            return f"{path.name} attached to {fact.indication or fact.inspection}, entry {recorded.position}."

        return Act(f"Attach {path.name} to {given}", person, make, notes=_said(work, found))

    return Form("Attach a picture file", fields, act)


def _path(text: str) -> Path:
    """As typed or copied: quotes and ``file://`` that a file manager adds are left out."""
    typed = text.strip().strip("'\"").removeprefix("file://")
    if not typed:
        raise InputError("name the picture file: its whole path")
    return Path(typed).expanduser()


def _said(work: Workplace, found: Picture) -> tuple[str, ...]:
    at = camera_moment(work, found)
    if at is None:
        return (f"{found.media_type}, {found.width} x {found.height} pixels", "The camera wrote no time into it.")
    with work.look() as session:
        ahead = seconds_ahead(session, found.camera)
    clock = "its clock was never compared" if ahead is None else f"its clock {in_words(ahead)}, which is taken off"
    return (
        f"{found.media_type}, {found.width} x {found.height} pixels",
        f"Taken {at.local:%Y-%m-%d %H:%M:%S} by {found.camera or 'a camera without a name'}, {clock}.",
    )
