"""Process checks: what is due, what was done."""

from __future__ import annotations

from collections.abc import Callable

from ndi.domain import facts as f
from ndi.domain.vocabulary import CheckKind, Quantity
from ndi.gui.presenters.desk import marks
from ndi.gui.presenters.desk.acts import Form
from ndi.gui.presenters.desk.listing import Column, Listing, Row
from ndi.gui.presenters.desk.recording_forms import RecordingForms
from ndi.services.checks_due import checks_due
from ndi.services.copies import copies_text
from ndi.services.lookup import every
from ndi.services.record_rows import check_text
from ndi.services.workplace import Workplace

_DUE = (
    Column("Object", 13),
    Column("Check", 24, stretch=True),
    Column("Answer", 15),
    Column("Every", 10, stretch=True),
    Column("Last done", 16),
    Column("Holds until", 16),
    Column("What it says", 28, stretch=True),
)
_DONE = (
    Column("At", 17),
    Column("Object", 14),
    Column("Check", 26, stretch=True),
    Column("Result", 34, stretch=True),
    Column("By", 8),
)
_MOST_DONE = 200  # lines of what was done last

# the checks that are a single number from a meter; every other one is said to be met or not
_AS_READING = {
    "UV-A reading": Quantity.UV_A,
    "visible light": Quantity.AMBIENT,
    "concentration": Quantity.PARTICLE_VOLUME,
    "water content": Quantity.WATER_CONTENT,
    "brightness": Quantity.BRIGHTNESS,
    "remover concentration": Quantity.REMOVER_CONCENTRATION,
    "look at the developer": Quantity.SPECKS,
}
_AS_CHECK = {
    "integrity check": CheckKind.LAMP_INTEGRITY,
    "cleanliness": CheckKind.BOOTH_CLEAN,
    "clock offset": CheckKind.CLOCK_OFFSET,
    "contamination check": CheckKind.BATH_CONTAMINATION,
    "vehicle check": CheckKind.VEHICLE,
    "system performance": CheckKind.RING,
    "known-defect panel": CheckKind.PANEL,
    "look at the tank": CheckKind.TANK,
    "removability and sensitivity comparison": CheckKind.REMOVABILITY,
    "restore test": CheckKind.RESTORE,
}


class Checks:
    """What the procedures in force ask to be checked."""

    def __init__(self, work: Workplace, person: Callable[[], str], forms: RecordingForms) -> None:
        self._work, self._person, self._forms = work, person, forms

    def due(self) -> tuple[Listing, str]:
        """Every check of every object in service, the ones to do first; and a sentence."""
        found = checks_due(self._work)
        rows = []
        for check in found:
            mark = marks.of_verdict(check.verdict)
            said = check.says if check.settled or not check.way_out else f"{check.says}: {check.way_out}"
            cells = (
                check.object,
                check.name,
                str(mark),
                check.every or "not set",
                check.last or "never",
                check.due,
                said,
            )
            rows.append(Row(cells, f"{check.object}|{check.name}", act=not check.settled))
        todo = sum(1 for check in found if check.every and not check.settled)
        unset = sum(1 for check in found if not check.every)
        said = f"{todo} of {len(found)} checks to do" + (
            f", {unset} without an interval in the procedure" if unset else ""
        )
        with self._work.look() as session:
            said += f". {copies_text(self._work, session)}"
        return Listing(_DUE, tuple(rows), "Nothing is in service that could be checked."), said

    def done(self) -> Listing:
        """What was checked last, the latest first."""
        with self._work.book.session(readonly=True) as session:
            latest = sorted(every(session, f.ProcessCheckRecorded), key=lambda r: r.position, reverse=True)[:_MOST_DONE]
        rows = [
            Row(
                (
                    str(r.when),
                    r.fact.object,
                    r.fact.check,
                    f"{marks.SETTLED if r.fact.passed else marks.FAILED} {check_text(r.fact)} {r.fact.detail or ''}",
                    r.by,
                ),
                str(r.position),
                act=not r.fact.passed,
            )
            for r in latest
        ]
        return Listing(_DONE, tuple(rows), "No process check was recorded.")

    def form(self, key: str) -> Form:
        """Record the check of a line of the list, or any other when none is chosen."""
        thing, _, name = key.partition("|")
        if name in _AS_READING:
            return self._forms.form(
                "reading",
                f"{name} of {thing}",
                {"object": thing, "quantity": str(_AS_READING[name])},
                only=("value", "quantity", "condition", "meter", "distance", "screen_on", "note"),
            )
        kind = str(_AS_CHECK.get(name, ""))
        if kind == CheckKind.PANEL:
            with self._work.book.session(readonly=True) as session:
                panels = [
                    r.fact.equipment
                    for r in every(session, f.EquipmentEntered)
                    if r.fact.kind == "panel" and r.fact.line == thing
                ]
                batches = {r.fact.line: "+".join(r.fact.batches) for r in every(session, f.TankFilled)}
            preset = {
                "check": kind,
                "object": panels[0] if panels else "",
                "line": thing,
                "batches": batches.get(thing, ""),
            }
            return self._forms.form(
                "check",
                f"Known-defect panel of {thing}",
                preset,
                only=("passed", "object", "line", "batches", "compared_with_reference", "detail"),
            )
        if kind == CheckKind.RING:
            return self._forms.form(
                "check",
                f"Tool-steel ring on {thing}",
                {"check": kind, "object": thing, "passed": "yes"},
                only=("holes", "amps", "detail"),
                lines=("Whether it showed enough is for the procedure to say.",),
            )
        return self._forms.form(
            "check",
            f"{name or 'Process check'} of {thing}" if thing else "Process check",
            {"check": kind, "object": thing},
            only=("passed", "check", "object", "meter", "detail"),
        )
