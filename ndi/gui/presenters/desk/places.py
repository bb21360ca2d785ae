"""Where a part goes: a scan at a place, with what stands against its leaving said before it is saved."""

from __future__ import annotations

from collections.abc import Callable

from ndi.domain.errors import InputError
from ndi.domain.vocabulary import HANDLING_PLACES, RE_VIEW_PLACES
from ndi.gui.presenters.desk.acts import Form
from ndi.gui.presenters.desk.recording_forms import RecordingForms
from ndi.services.code_sheets import named_places
from ndi.services.leaving import departures, without_acceptance
from ndi.services.workplace import Workplace

_MOST = 4  # lines above the recall sets


class Places:
    """Location scans at the desk."""

    def __init__(self, work: Workplace, person: Callable[[], str], forms: RecordingForms) -> None:
        self._work, self._person, self._forms = work, person, forms

    def form(self, part: str) -> Form:
        """The part under the bar goes to a place."""
        if not part:
            raise InputError("put the bar on the part that goes somewhere")
        with self._work.book.session(readonly=True) as session:
            row = session.part(part)
            against = without_acceptance(self._work, session, part)
            places = tuple(dict.fromkeys([*HANDLING_PLACES, *RE_VIEW_PLACES, "quarantine", *named_places(session)]))
        lines = [f"It is at {row.place}." if row.place else "It was not scanned anywhere yet."]
        if against:
            lines.append(
                f"No acceptance stands: {'; '.join(against)}. To assembly, stores or shipped only with a reason."
            )
        return self._forms.form(
            "moved",
            f"{row.part_no} {row.serial or row.lot or ''} goes to",
            {"part": part},
            only=("place", "piece", "reason") if row.quantity > 1 else ("place", "reason"),
            choices={"place": places},
            lines=lines,
        )

    def left_early(self) -> str:
        """What left with a reason although no acceptance stands, a line each; empty when nothing did."""
        with self._work.book.session(readonly=True) as session:
            found = [each for each in departures(self._work, session) if each.reason]
        lines = [f"LEFT EARLY: {each.brief}" for each in found[:_MOST]]
        if len(found) > _MOST:
            lines.append(f"and {len(found) - _MOST} more: the handover (F10) lists all")
        return "\n".join(lines)
