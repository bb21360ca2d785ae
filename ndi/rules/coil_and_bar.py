"""Fields over the part: two directions, fill class, length in the coil, coil stations, bar placements, field shown (M15, M21 to M24, M27).

The technique says what each shot reaches, the part master how large the part is,
the bench's equipment record how wide the coil; formulas stand in ``calc``.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from fractions import Fraction

from ndi.calc import coil, stations
from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.errors import InputError
from ndi.domain.outcome import Missing, Outcome, failed, not_applicable, not_recorded, passed, worst
from ndi.domain.procedure import NominalShot, Section
from ndi.domain.quantity import HALF_TURN_DEG, Number, shown
from ndi.domain.vocabulary import FieldProof, ShotKind
from ndi.rules.inquiry import Inquiry, Shot
from ndi.rules.light import calibration_outcome
from ndi.rules.magnetization import each_shot, need_nominals, nominal_name, nominal_of
from ndi.rules.registry import rule
from ndi.rules.wet_bath import shot_name

COMPLETE = "Level III: complete the technique"
INCH = "in"


# --- M15: two directions in each zone -------------------------------------------------------------


@rule("M15", "Was each zone reached by two fields that cross at a wide enough angle?", "cross_field_min")
def m15_two_directions(q: Inquiry) -> Outcome:
    if not any(nominal.fields for nominal in need_nominals(q)):
        raise Missing(f"technique {q.technique.name} does not say which zones its shots reach", [COMPLETE])
    fired = {shot.fired.fact.shot for shot in q.need_shots()}
    return worst(crossing_outcome(q, zone, fired) for zone in q.technique.zones)


def crossing_outcome(q: Inquiry, zone: str, fired: set[int]) -> Outcome:
    """One zone: the widest angle between two fields of shots that were fired, else what is missing."""
    least = q.limit("cross_field_min")
    used = [shot.fired for shot in q.shots if shot.counts]
    reaching = [(n, field.direction) for n in q.technique.shots for field in n.fields if field.zone == zone]
    if not reaching:
        return not_recorded(f"technique {q.technique.name} gives no field for zone {zone}", COMPLETE)
    widest = widest_angle(direction for nominal, direction in reaching if nominal.shot in fired)
    found, limit = f"{zone} {shown(widest, 'deg')}", f"at least {least} apart"
    if widest >= least.in_unit("deg"):
        return passed(found, limit, used)
    left = [nominal for nominal, _ in reaching if nominal.shot not in fired]
    if left and widest_angle(direction for _, direction in reaching) >= least.in_unit("deg"):
        names = ", ".join(nominal_name(nominal) for nominal in left)
        return not_recorded(f"{zone} has one direction only: no shot recorded for {names}", "fire it", used=used)
    return failed(
        f"{zone}: the fields of {q.technique.name} cross at {shown(widest, 'deg')} only",
        "fire a shot across it, by a technique that has one",
        COMPLETE,
        found=found,
        limit=limit,
        used=used,
    )


def widest_angle(directions: Iterable[Number]) -> Fraction:
    """The widest angle between two of some field lines, 0 to 90 deg; 0 where there is only one."""
    lines = [direction.in_unit("deg") % HALF_TURN_DEG for direction in directions]
    apart = [abs(one - other) for one in lines for other in lines]
    return max((min(angle, HALF_TURN_DEG - angle) for angle in apart), default=Fraction(0))


# --- the part in the coil -------------------------------------------------------------------------


def section_of(q: Inquiry, nominal: NominalShot) -> Section:
    """The stretch of the part that a coil or bar shot works on; Missing when technique or master does not say."""
    if nominal.section is None:
        raise Missing(f"technique {q.technique.name} names no section for {nominal_name(nominal)}", [COMPLETE])
    found = q.master.section(nominal.section)
    if found is None:
        says = f"part master {q.master.number} has no length and diameter for section {nominal.section}"
        raise Missing(says, ["Level III: measure it, complete the part master"])
    return found


def coil_diameter(q: Inquiry, shot: Shot) -> Fraction:
    """Inside diameter of the bench's coil, in inches; Missing when its equipment record does not say."""
    entered = q.equipment(shot.fired.fact.bench)
    if entered is None or entered.fact.coil_diameter is None:
        says = f"{shot.fired.fact.bench}: diameter of the coil not in its equipment record"
        raise Missing(says, ["measure the coil, enter it"], [shot.fired.position])
    return entered.fact.coil_diameter.in_unit(INCH)


def fill_of(q: Inquiry, shot: Shot, section: Section) -> coil.Setup:
    """The part in the coil of a shot; Missing when it cannot lie in it at all."""
    inside = section.id.in_unit(INCH) if section.id else Fraction(0)
    try:
        return coil.Setup(
            section.length.in_unit(INCH), section.od.in_unit(INCH), inside, coil_diameter(q, shot), 1, "side"
        )
    except InputError as error:
        raise Missing(str(error), ["look at the sizes of part and coil"], [shot.fired.position]) from None


def each_coil_shot(q: Inquiry, ask: Callable[[Shot, NominalShot], Outcome]) -> Outcome:
    """One outcome over the counted coil shots; NOT APPLICABLE by technique where it has none."""
    return each_shot(q, ask, [ShotKind.COIL])


@rule("M21", "Coil shots: does the part fill the coil as the technique reckoned?")
def m21_fill_class(q: Inquiry) -> Outcome:
    def ask(shot: Shot, nominal: NominalShot) -> Outcome:
        section = section_of(q, nominal)
        if nominal.fill is None:
            says = f"technique {q.technique.name} gives no fill class for {nominal_name(nominal)}"
            return not_recorded(says, COMPLETE)
        setup = fill_of(q, shot, section)
        used = [shot.fired, q.equipment(shot.fired.fact.bench)]
        found = f"{setup.fill} fill, area ratio {shown(setup.area_ratio)}"
        if setup.fill != nominal.fill:
            return failed(
                f"{shot_name(shot)}: {found}; {q.technique.name} reckons with {nominal.fill} fill",
                "call the Level III",
                "take the coil that the technique was made for",
                found=found,
                limit=nominal.fill,
                used=used,
            )
        return passed(found, nominal.fill, used)

    return each_coil_shot(q, ask)


@rule("M22", "Coil shots: is the part long enough for its diameter, with its extensions or stacked?", "coil_ld_min")
def m22_long_enough(q: Inquiry) -> Outcome:
    def ask(shot: Shot, nominal: NominalShot) -> Outcome:
        section, least = section_of(q, nominal), q.limit("coil_ld_min")
        fact = shot.fired.fact
        length = length_in_coil(shot, section) + (fact.extension.in_unit(INCH) if fact.extension else 0)
        inside = section.id.in_unit(INCH) if section.id else Fraction(0)
        added = f" + {fact.extension} of extension" if fact.extension else ""
        pieces = f"{fact.stacked} x " if fact.stacked else ""
        found = f"length {pieces}{section.length}{added}, outside diameter {section.od}"
        limit = f"length at least {least.typed} effective diameters"
        if not stations.is_long_enough(length, section.od.in_unit(INCH), inside, least.value):
            says = f"{shot_name(shot)}: too short for its diameter ({found})"
            ways = ("put extensions of its own diameter on, or stack pieces", "shoot again, enter what was added")
            if fact.extension is None and fact.stacked is None:
                return not_recorded(f"{says}; no extension or stack recorded", *ways, used=[shot.fired])
            return failed(says, *ways, found=found, limit=limit, used=[shot.fired])
        return passed(found, limit, [shot.fired])

    return each_coil_shot(q, ask)


def length_in_coil(shot: Shot, section: Section) -> Fraction:
    """Length of what lies in the coil without extensions, in inches: one piece, or the pieces put end to end."""
    return section.length.in_unit(INCH) * (shot.fired.fact.stacked or 1)


# --- M23: stations of the coil --------------------------------------------------------------------


@rule("M23", "Coil shots: do the stations of the coil reach the whole part, with their overlap?")
def m23_coil_stations(q: Inquiry) -> Outcome:
    nominals = [nominal for nominal in need_nominals(q) if nominal.kind == ShotKind.COIL]
    if not nominals:
        return not_applicable(f"technique {q.technique.name} has no coil shot")
    fired: dict[str, list[Shot]] = defaultdict(list)
    sections = {section_of(q, nominal).code: section_of(q, nominal) for nominal in nominals}
    for shot in q.need_shots():
        nominal = nominal_of(q, shot)
        if nominal in nominals:
            fired[section_of(q, nominal).code].append(shot)
    return worst(
        stations_outcome(q, section, fired[code], [n for n in nominals if n.section == code])
        for code, section in sections.items()
    )


def stations_outcome(q: Inquiry, section: Section, fired: list[Shot], nominals: list[NominalShot]) -> Outcome:
    """The stations at which the coil stood along one section."""
    done = {shot.fired.fact.shot for shot in fired}
    left = [nominal_name(nominal) for nominal in nominals if nominal.shot not in done]
    used = [shot.fired for shot in fired]
    if not fired:
        return not_recorded(f"no shot recorded for {', '.join(left)}", "fire it")
    unmarked = [shot_name(shot) for shot in fired if shot.fired.fact.position is None]
    if unmarked:
        return not_recorded(
            f"station of the coil not recorded: {', '.join(unmarked)}", "enter where it stood", used=used
        )
    length = max(length_in_coil(shot, section) for shot in fired)
    field = min(stations.field_length(fill_of(q, s, section).fill, coil_diameter(q, s)) for s in fired)
    centres = [shot.fired.fact.position.in_unit(INCH) for shot in fired if shot.fired.fact.position]
    found = f"stations {', '.join(shown(centre) for centre in sorted(set(centres)))} {INCH}"
    limit = f"{stations.stations_needed(length, field)} or more, fields of {shown(field, INCH)} overlapping"
    dark, apart = stations.unlit(length, field, centres), stations.too_far_apart(field, centres)
    if not dark and not apart:
        return passed(found, limit, used)
    if left:
        return not_recorded(f"{found}: no shot recorded for {', '.join(left)}", "fire it", used=used)
    gaps = [f"no field from {shown(start)} to {shown(end, INCH)}" for start, end in dark]
    gaps += [f"too little overlap between {shown(one)} and {shown(other, INCH)}" for one, other in apart]
    return failed(
        f"{found}: {'; '.join(gaps)}",
        "shoot again at the stations left out",
        found=found,
        limit=limit,
        used=used,
    )


# --- M24: an offset bar ---------------------------------------------------------------------------


@rule("M24", "Offset bar: was it put at enough places round the bore?")
def m24_bar_placements(q: Inquiry) -> Outcome:
    nominals = [nominal for nominal in need_nominals(q) if nominal.kind == ShotKind.BAR and nominal.offset]
    if not nominals:
        return not_applicable(f"technique {q.technique.name} has no bar against the bore")
    sections = {section_of(q, nominal).code: section_of(q, nominal) for nominal in nominals}
    return worst(
        placements_outcome(q, section, [n for n in nominals if n.section == code]) for code, section in sections.items()
    )


def placements_outcome(q: Inquiry, section: Section, nominals: list[NominalShot]) -> Outcome:
    """The places of a bar in one bore, over all shots that the technique has for it."""
    bars = [nominal.conductor.in_unit(INCH) for nominal in nominals if nominal.conductor]
    if len(bars) < len(nominals):
        return not_recorded(f"technique {q.technique.name} gives no diameter of the bar", COMPLETE)
    if section.id is None:
        return not_recorded(
            f"part master {q.master.number}: section {section.code} has no bore", "Level III: complete the part master"
        )
    try:
        needed = stations.placements_needed(section.id.in_unit(INCH), min(bars))
    except InputError as error:
        return not_recorded(str(error), COMPLETE)
    fired = [s for s in q.need_shots() if (nominal := nominal_of(q, s)) and nominal in nominals]
    used = [shot.fired for shot in fired]
    unstated = [shot_name(shot) for shot in fired if placements_of(q, shot) is None]
    if unstated:
        says = f"places of the bar not recorded: {', '.join(unstated)}"
        return not_recorded(says, "enter how often it was turned", used=used)
    # the same shot fired again stands at the same places
    by_number = {shot.fired.fact.shot: placements_of(q, shot) or 0 for shot in fired}
    done = sum(by_number.values())
    found, limit = f"{done} places", f"at least {needed}, bar {shown(min(bars), INCH)} in a bore of {section.id}"
    if done >= needed:
        return passed(found, limit, used)
    left = [n for n in nominals if n.shot not in {shot.fired.fact.shot for shot in fired}]
    if left:
        names = ", ".join(nominal_name(nominal) for nominal in left)
        return not_recorded(f"{done} of {needed} places: no shot recorded for {names}", "fire it", used=used)
    return failed(
        f"bar at {done} places, a bar of {shown(min(bars), INCH)} in a bore of {section.id} needs {needed}",
        "turn the part, shoot the places left out",
        found=found,
        limit=limit,
        used=used,
    )


def placements_of(q: Inquiry, shot: Shot) -> int | None:
    """Places of the bar for one shot: as recorded; one where the technique has a shot for each place."""
    nominal = nominal_of(q, shot)
    if shot.fired.fact.rotations is None and nominal is not None and nominal.rotations is None:
        return 1
    return shot.fired.fact.rotations


# --- M27: the field shown on the part -------------------------------------------------------------


@rule(
    "M27",
    "Was the field shown at every point where the technique wants it, clear or within its limits?",
    "tangential_min",
    "tangential_max",
)
def m27_field_shown(q: Inquiry) -> Outcome:
    if not q.technique.field_points:
        return not_applicable(f"technique {q.technique.name} wants the field shown at no point")
    latest = {r.fact.point: r for r in q.facts.of(f.FieldShown, q.inspection)}
    return worst(shown_outcome(q, point, latest.get(point)) for point in q.technique.field_points)


def shown_outcome(q: Inquiry, point: str, proof: Recorded[f.FieldShown] | None) -> Outcome:
    """One point: the last that a shim or probe showed there."""
    if proof is None:
        return not_recorded(
            f"field not shown at {point}", "put the shim or the probe there, shoot, enter what it shows"
        )
    if proof.fact.how == FieldProof.QQI:
        return shim_outcome(point, proof)
    return tangential_outcome(q, point, proof)


def shim_outcome(point: str, proof: Recorded[f.FieldShown]) -> Outcome:
    """Whether all lines of the shim were seen."""
    if proof.fact.clear is None:
        return not_recorded(f"{point}: not said whether the shim's lines were seen", "say it", used=[proof])
    if not proof.fact.clear:
        says = f"{point}: lines of the shim not all seen at {proof.when.clock()}"
        return failed(says, "call the Level III", "shoot again", found="not all lines", limit="all lines", used=[proof])
    return passed(f"{point}: all lines of the shim", "all lines", [proof])


def tangential_outcome(q: Inquiry, point: str, proof: Recorded[f.FieldShown]) -> Outcome:
    """The tangential field of a probe against its limits; its meter in calibration."""
    least, most = q.limit("tangential_min"), q.limit("tangential_max")
    if proof.fact.value is None or proof.fact.meter is None:
        blank = "value" if proof.fact.value is None else "meter"
        return not_recorded(f"{point}: {blank} of the tangential field not given", "enter it", used=[proof])
    value, limit = abs(proof.fact.value.in_unit(least.unit)), f"{least} to {most}"
    found = f"{point} {proof.fact.value}"
    if not least.value <= value <= most.in_unit(least.unit):
        return failed(
            f"{point}: tangential field {proof.fact.value} at {proof.when.clock()}",
            "call the Level III",
            "shoot again",
            found=found,
            limit=limit,
            used=[proof],
        )
    meter = calibration_outcome(q, proof.fact.meter, "tangential field", proof)
    return passed(found, limit, [proof]) if meter.verdict == "PASS" else meter
