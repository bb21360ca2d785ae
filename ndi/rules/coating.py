"""What lies on the metal when a part is inspected (G11): as measured on the piece, else as its part master has it.

A reading counts for its zone (for all zones where it names none) from when it
was taken.  Of each kind of coating the last reading counts, kinds in one zone
add up, and "none" takes away what was there before.  What is judged is the
thickness while the part was worked on: what was stripped or plated after the
look has nothing to do with it.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from fractions import Fraction

from ndi.domain import facts as f
from ndi.domain.answer import Verdict
from ndi.domain.entry import Recorded
from ndi.domain.outcome import Outcome, failed, not_applicable, not_recorded, passed, worst
from ndi.domain.quantity import Number, shown
from ndi.rules.inquiry import Inquiry
from ndi.rules.record import first_process_step
from ndi.rules.registry import rule

BARE = "none"

Measured = Recorded[f.CoatingMeasured]


def worked_on(q: Inquiry) -> tuple[datetime, datetime]:
    """From the first process step of the attempt to the end of its last view; to now where it goes on."""
    first = first_process_step(q)
    ends = [view.end.at for view in q.views if view.end is not None]
    goes_on = first is None or not q.views or len(ends) < len(q.views)
    return (q.asked.at if first is None else first.at), (q.asked.at if goes_on else max(ends))


def lying(readings: Iterable[Measured], at: datetime) -> dict[str, Measured]:
    """What lies on a zone at a moment, by kind of coating: the last reading of each since it was last bare."""
    found: dict[str, Measured] = {}
    for reading in readings:
        if reading.at > at:
            break
        if reading.fact.coating == BARE:
            found = {}
        found[reading.fact.coating] = reading
    return found


def zone_outcome(zone: str, found: dict[str, Measured], most: Number) -> Outcome:
    """The coatings that were measured on one zone, together, against the limit."""
    total, used = Fraction(0), list(found.values())
    for kind, reading in found.items():
        if reading.fact.thickness is not None:
            total += reading.fact.thickness.in_unit(most.unit)
        elif kind != BARE:
            return not_recorded(f"{zone}: thickness of the {kind} not recorded", "measure it", used=used)
    kinds = ", ".join(sorted(kind for kind in found if kind != BARE)) or "bare"
    text, limit = f"{zone} {kinds} {shown(total, most.unit)}", f"at most {most}"
    if total > most.value:
        ways = ("strip the coating", "ask the Level III")
        return failed(
            f"{zone}: {kinds} {shown(total, most.unit)} is over {most}", *ways, found=text, limit=limit, used=used
        )
    return passed(text, limit, used)


def measured_outcome(q: Inquiry, zone: str, most: Number) -> Outcome | None:
    """The worst that was measured on a zone while it was worked on; None where nothing was measured by then."""
    readings = [r for r in q.facts.of(f.CoatingMeasured, q.part) if r.fact.zone in (None, zone)]
    begun, ended = worked_on(q)
    moments = [begun, *(r.at for r in readings if begun < r.at <= ended)]
    outcomes = [zone_outcome(zone, found, most) for at in moments if (found := lying(readings, at))]
    return worst(outcomes) if outcomes else None


def master_outcome(q: Inquiry, most: Number) -> Outcome:
    """The coating that the part master gives."""
    coating = q.master.coating
    if coating is None:
        return not_recorded(
            f"coating of {q.master.number} is not in the part master",
            "measure it",
            "Level III: complete the part master",
        )
    found, limit = str(coating), f"at most {most}"
    if coating.in_unit(most.unit) > most.value:
        return failed(
            f"coating {coating} is over {most}", "strip the coating", "ask the Level III", found=found, limit=limit
        )
    return passed(found, limit)


@rule("G11", "Is the coating known, and thin enough for the technique?", version=2)
def g11_coating(q: Inquiry) -> Outcome:
    most = q.technique.coating_max
    if most is None:
        return not_applicable(f"technique: {q.technique.name} sets no coating limit")
    zones = {zone: measured_outcome(q, zone, most) for zone in q.technique.zones}
    outcomes = [outcome for outcome in zones.values() if outcome is not None]
    if not zones or None in zones.values():
        outcomes.append(master_outcome(q, most))
    combined = worst(outcomes)
    if combined.verdict is Verdict.PASS:
        return passed(combined.found, f"at most {most}", q.facts.of(f.CoatingMeasured, q.part))
    return combined
