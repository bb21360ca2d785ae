"""After the shots: last direction, demagnetisation, residual field, residue (M19, M29, M30, M31, M35).

Only what was read after the last demagnetisation says anything about the part
that leaves the bench; earlier readings are void.
"""

from __future__ import annotations

from ndi.domain import facts as f
from ndi.domain import ticks
from ndi.domain.entry import Recorded
from ndi.domain.outcome import Missing, Outcome, failed, not_applicable, not_recorded, passed, worst
from ndi.rules.inquiry import Inquiry
from ndi.rules.light import calibration_outcome
from ndi.rules.magnetization import is_after, tick_outcome
from ndi.rules.magnetizing_order import direction_of
from ndi.rules.registry import rule
from ndi.rules.wet_bath import shot_name

Residual = Recorded[f.ResidualRead]


def last_demagnetisation(q: Inquiry) -> Recorded[f.Demagnetised]:
    """The last demagnetisation of the record; Missing when there is none."""
    found = q.facts.last(f.Demagnetised, q.inspection)
    if found is None:
        raise Missing("no demagnetisation recorded", ["demagnetise, read the residual field"])
    return found


def residual_readings(q: Inquiry) -> dict[str, Residual]:
    """The last residual reading of each point after the last demagnetisation."""
    demag = last_demagnetisation(q)
    return {r.fact.point: r for r in q.facts.of(f.ResidualRead, q.inspection) if is_after(r, demag)}


@rule("M19", "Was the last field before demagnetising in the direction that can be read afterwards?", "last_direction")
def m19_last_direction(q: Inquiry) -> Outcome:
    wanted, demag = q.word("last_direction"), last_demagnetisation(q)
    counted = q.need_shots()
    to_come = [s for s in counted if is_after(s.fired, demag)]
    if to_come:
        return not_recorded(
            f"no demagnetisation since {shot_name(to_come[-1])}", "demagnetise", used=[demag, to_come[-1].fired]
        )
    fired = {s.fired.fact.shot for s in counted}
    if any(nominal.demag_before and nominal.shot not in fired for nominal in q.technique.shots):
        return not_recorded(
            f"demagnetised {demag.when.clock()} between directions; shots of the other are to follow",
            "fire them",
            used=[demag],
        )
    last = counted[-1]
    direction = direction_of(q, last)
    if direction is None:
        return not_recorded(
            f"direction of {shot_name(last)} not in technique {q.technique.name}",
            "fire the technique's shots",
            used=[last.fired],
        )
    used = [last.fired, demag]
    if direction != wanted:
        says = f"{shot_name(last)} was {direction}: such a field stays inside, the residual reading says nothing"
        return failed(says, f"one {wanted} shot, demagnetise, read again", found=direction, limit=wanted, used=used)
    return passed(direction, wanted, used)


@rule("M29", "Was the part demagnetised after the last shot?")
def m29_demagnetised(q: Inquiry) -> Outcome:
    if not q.shots:
        raise Missing("no shot recorded", ["fire the technique's shots"])
    last, demag = q.shots[-1], last_demagnetisation(q)
    if not is_after(demag, last.fired):
        says = f"no demagnetisation since {shot_name(last)}; last one {demag.when.clock()}"
        return not_recorded(says, "demagnetise, read the residual field", used=[last.fired, demag])
    return passed(f"demagnetised {demag.when.clock()}", f"after {shot_name(last)}", [last.fired, demag])


@rule(
    "M30",
    "Is the residual field within its maximum at every listed point, after the last demagnetisation?",
    "residual_max",
)
def m30_residual_field(q: Inquiry) -> Outcome:
    if not q.technique.residual_points:
        raise Missing(
            f"technique {q.technique.name} lists no points for the residual field",
            ["Level III: complete the technique"],
        )
    readings = residual_readings(q)
    return worst(point_outcome(q, point, readings.get(point)) for point in q.technique.residual_points)


def point_outcome(q: Inquiry, point: str, reading: Residual | None) -> Outcome:
    """One listed point against the maximum; the sign of the reading does not matter."""
    most = q.limit("residual_max")
    if reading is None:
        return not_recorded(f"residual not read at {point} since the last demagnetisation", f"read {point}")
    found, limit = f"{point} {reading.fact.value}", f"at most {most}"
    if abs(reading.fact.value.in_unit(most.unit)) > most.value:
        return failed(
            f"{point}: {reading.fact.value} at {reading.when.clock()}",
            "demagnetise, read every point again",
            found=found,
            limit=limit,
            used=[reading],
        )
    if reading.fact.meter is not None:
        meter = calibration_outcome(q, reading.fact.meter, "residual field", reading)
        if meter.verdict != "PASS":
            return meter
    return passed(found, limit, [reading])


@rule("M31", "Was the residual field read away from the bench, and is not every reading exactly 0?")
def m31_residual_believable(q: Inquiry) -> Outcome:
    readings = list(residual_readings(q).values())
    if not readings:
        raise Missing("no residual reading since the last demagnetisation", ["read every listed point"])
    at_bench = [r.fact.point for r in readings if r.fact.away_from_bench is False]
    if at_bench:
        return failed(
            f"read beside the bench: {', '.join(at_bench)}", "read again away from bench and coil", used=readings
        )
    if all(r.fact.value.value == 0 for r in readings):
        return failed(
            f"all {len(readings)} readings exactly 0",
            "is the meter on? read again",
            found="0 everywhere",
            used=readings,
        )
    unstated = [r.fact.point for r in readings if r.fact.away_from_bench is None]
    if unstated:
        return not_recorded(
            f"not ticked that {', '.join(unstated)} was read away from the bench", "tick or read again", used=readings
        )
    return passed(f"{len(readings)} points read away from the bench", used=readings)


@rule("M35", "Were the passages flushed, and is no bath residue left under UV-A?")
def m35_no_residue(q: Inquiry) -> Outcome:
    if "flush" not in q.technique.post_process:
        return not_applicable(f"technique {q.technique.name} asks for no flushing")
    outcome = tick_outcome(q, ticks.RESIDUE, "flush, look under UV-A, tick")
    given = q.confirmed(ticks.RESIDUE.item)
    if outcome.verdict == "PASS" and given and q.shots and not is_after(given, q.shots[-1].fired):
        says = f"ticked {given.when.clock()}, {shot_name(q.shots[-1])} came after it: {ticks.RESIDUE.item}"
        return not_recorded(says, "flush, look again, tick", used=[given, q.shots[-1].fired])
    return outcome
