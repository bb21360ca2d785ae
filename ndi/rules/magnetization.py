"""Shots: calibration, current, pulses, direction, bath mode, contacts, views between them (M10 to M18, M20 to M37).

A shot is measured against the technique's shot of the same number.  A voided
shot counts for nothing that is asked of the record, but it did put a field
into the part: demagnetising between directions looks at every shot fired.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import date
from fractions import Fraction
from itertools import pairwise

from ndi.domain import facts as f
from ndi.domain import ticks
from ndi.domain.entry import Recorded
from ndi.domain.outcome import Missing, Outcome, failed, not_applicable, not_recorded, passed, worst
from ndi.domain.procedure import NominalShot
from ndi.domain.quantity import PERCENT, Number, shown
from ndi.domain.vocabulary import BathMode, Disposition, ShotKind
from ndi.rules.inquiry import Indication, Inquiry, Shot
from ndi.rules.registry import rule
from ndi.rules.wet_bath import shot_name

SHOOT_AGAIN = "void the shot, demagnetise, shoot again"
CONTACT_KINDS = (ShotKind.HEAD, ShotKind.BETWEEN_HEADS)


# --- shots against the technique ------------------------------------------------------------------


def need_nominals(q: Inquiry) -> tuple[NominalShot, ...]:
    """The technique's shots; Missing when it lists none."""
    if not q.technique.shots:
        raise Missing(f"technique {q.technique.name} lists no shots", ["Level III: put the shots into the technique"])
    return q.technique.shots


def nominal_of(q: Inquiry, shot: Shot) -> NominalShot | None:
    """The technique's shot that a fired one stands for."""
    return next((n for n in q.technique.shots if n.shot == shot.fired.fact.shot), None)


def each_shot(q: Inquiry, ask: Callable[[Shot, NominalShot], Outcome], kinds: Iterable[str] | None = None) -> Outcome:
    """One outcome over the counted shots (of certain kinds) and what the technique says of each.

    NOT APPLICABLE by technique where it has no shot of these kinds.
    """
    wanted = None if kinds is None else tuple(kinds)
    if wanted is not None and not any(n.kind in wanted for n in need_nominals(q)):
        return not_applicable(f"technique {q.technique.name} has no {' or '.join(wanted)} shot")
    outcomes = []
    for shot in q.need_shots():
        nominal = nominal_of(q, shot)
        if nominal is None:
            says = f"{shot_name(shot)} is not in technique {q.technique.name}"
            outcomes.append(not_recorded(says, SHOOT_AGAIN, used=[shot.fired]))
        elif wanted is None or nominal.kind in wanted:
            outcomes.append(ask(shot, nominal))
    if not outcomes:
        raise Missing(f"no {' or '.join(wanted or ())} shot recorded", ["fire the technique's shots"])
    return worst(outcomes)


def each_pulse(shot: Shot, ask: Callable[[f.Pulse], Outcome]) -> Outcome:
    """One outcome over the pulses of a shot; a shot without pulses is not recorded."""
    if not shot.fired.fact.pulses:
        return not_recorded(
            f"{shot_name(shot)}: no pulse recorded", "enter current and time of each pulse", used=[shot.fired]
        )
    return worst(ask(pulse) for pulse in shot.fired.fact.pulses)


def is_after(later: Recorded[f.Fact], earlier: Recorded[f.Fact]) -> bool:
    """Whether one fact comes after another; facts of the same instant stand in the order of the book."""
    return (later.at, later.position) > (earlier.at, earlier.position)


def is_within(value: Fraction, nominal: Fraction, tolerance: Number) -> bool:
    """Whether ``value`` lies within a percentage of ``nominal``, the edges included."""
    return abs(value - nominal) <= abs(nominal) * tolerance.in_unit("%") / PERCENT


def tick_outcome(q: Inquiry, tick: ticks.Tick, way_out: str) -> Outcome:
    """A tick on the record: yes is met, no contradicts, none is not recorded."""
    given = q.confirmed(tick.item)
    if given is None:
        return not_recorded(f"not ticked: {tick.item}", way_out)
    if given.fact.value != "yes":
        return failed(
            f"ticked {given.fact.value} at {given.when.clock()}: {tick.item}",
            way_out,
            found=given.fact.value,
            limit="yes",
            used=[given],
        )
    return passed(f"ticked {given.when.clock()}", used=[given])


# --- equipment ------------------------------------------------------------------------------------


@rule(
    "M10",
    "Were ammeter, shot timer and quick break of the bench in calibration on the day of the shots?",
    "calibration_items_mt",
)
def m10_bench_in_calibration(q: Inquiry) -> Outcome:
    value = q.parameter("calibration_items_mt").value
    items = value if isinstance(value, tuple) else (str(value),)
    days = {(shot.fired.fact.bench, shot.fired.when.local.date()): shot for shot in q.need_shots()}
    return worst(calibration_outcome(q, bench, item, on) for bench, on in days for item in items)


def calibration_outcome(q: Inquiry, bench: str, item: str, on: date) -> Outcome:
    """The latest calibration of one item of a bench done by a day; the due day counts."""
    held = [r for r in q.facts.of(f.CalibrationRecorded, bench) if r.fact.item == item and r.fact.done <= on]
    if not held:
        return not_recorded(f"{bench}: no calibration of {item} on file", "enter its certificate")
    latest = max(held, key=lambda r: (r.fact.done, r.position))
    found, limit = f"{item} due {latest.fact.due}", f"in date on {on}"
    if on > latest.fact.due:
        return failed(
            f"{bench}: calibration of {item} ended {latest.fact.due}",
            "stop the bench, calibrate",
            found=found,
            limit=limit,
            used=[latest],
        )
    return passed(found, limit, [latest])


# --- current and pulses ---------------------------------------------------------------------------


@rule("M11", "Was the current of every pulse within tolerance of the technique's?", "amps_tolerance")
def m11_amps(q: Inquiry) -> Outcome:
    return each_shot(q, lambda shot, nominal: each_pulse(shot, lambda pulse: amps_outcome(q, shot, nominal, pulse)))


def amps_outcome(q: Inquiry, shot: Shot, nominal: NominalShot, pulse: f.Pulse) -> Outcome:
    """One pulse against the technique's current; a wrong one names the earlier setting it looks like."""
    tolerance, unit = q.limit("amps_tolerance"), nominal.amps.unit
    if pulse.amps is None:
        return not_recorded(
            f"{shot_name(shot)}: current of a pulse not entered",
            "enter it from the meter",
            SHOOT_AGAIN,
            used=[shot.fired],
        )
    value, limit = pulse.amps.in_unit(unit), f"{nominal.amps} +/- {tolerance}"
    if is_within(value, nominal.amps.value, tolerance):
        return passed(f"shot {nominal.shot} {pulse.amps}", limit, [shot.fired])
    room = shown(abs(nominal.amps.value) * tolerance.in_unit("%") / PERCENT, unit)
    says = f"{shot_name(shot)}: {pulse.amps}, technique {nominal.amps} +/- {room}{earlier_setting(q, value, unit)}"
    return failed(says, SHOOT_AGAIN, found=str(pulse.amps), limit=limit, used=[shot.fired])


def earlier_setting(q: Inquiry, value: Fraction, unit: str) -> str:
    """``. 800 A was set for rocker arms (MT-T-6030)``: the nearest earlier current within tolerance, else nothing."""
    tolerance = q.limit("amps_tolerance")
    near = [entry for entry in q.earlier_amps if is_within(value, entry[0].in_unit(unit), tolerance)]
    if not near:
        return ""
    amps, item, technique = min(near, key=lambda entry: abs(entry[0].in_unit(unit) - value))
    return f". {amps} was set for {item} ({technique})"


@rule("M12", "Has every shot its pulses, each of the right length?", "pulses_min", "pulse_min", "pulse_max")
def m12_pulses(q: Inquiry) -> Outcome:
    return each_shot(q, lambda shot, nominal: pulses_outcome(q, shot, nominal))


def pulses_outcome(q: Inquiry, shot: Shot, nominal: NominalShot) -> Outcome:
    """Number of pulses against technique and procedure, and the length of each."""
    least = max(q.limit("pulses_min").value, Fraction(nominal.pulses))
    shortest, longest = q.limit("pulse_min"), q.limit("pulse_max")

    def ask(pulse: f.Pulse) -> Outcome:
        limit = f"{shortest} to {longest}"
        if pulse.seconds is None:
            return not_recorded(
                f"{shot_name(shot)}: length of a pulse not entered",
                "enter it from the timer",
                SHOOT_AGAIN,
                used=[shot.fired],
            )
        value = pulse.seconds.in_unit(shortest.unit)
        if not shortest.value <= value <= longest.in_unit(shortest.unit):
            return failed(
                f"{shot_name(shot)}: pulse of {pulse.seconds}",
                SHOOT_AGAIN,
                found=str(pulse.seconds),
                limit=limit,
                used=[shot.fired],
            )
        return passed(str(pulse.seconds), limit, [shot.fired])

    lengths = each_pulse(shot, ask)
    fired = len(shot.fired.fact.pulses)
    found, limit = f"{fired} pulses", f"at least {least} pulses"
    if not fired:
        return lengths
    if fired < least:
        too_few = failed(
            f"{shot_name(shot)}: {fired} of {least} pulses", SHOOT_AGAIN, found=found, limit=limit, used=[shot.fired]
        )
        return worst([too_few, lengths])
    return worst([passed(found, limit, [shot.fired]), lengths])


@rule("M13", "Was the type of current the technique's?")
def m13_current_type(q: Inquiry) -> Outcome:
    def ask(shot: Shot, nominal: NominalShot) -> Outcome:
        used, limit = shot.fired.fact.current_type, nominal.current_type
        if used is None:
            return not_recorded(
                f"{shot_name(shot)}: type of current not recorded",
                "enter the bench setting",
                SHOOT_AGAIN,
                used=[shot.fired],
            )
        if used != limit:
            return failed(
                f"{shot_name(shot)}: {used}, technique {limit}; they do not reach the same depth",
                SHOOT_AGAIN,
                found=used,
                limit=limit,
                used=[shot.fired],
            )
        return passed(used, limit, [shot.fired])

    return each_shot(q, ask)


@rule("M14", "Are all shots of the technique there, and no other?")
def m14_all_shots(q: Inquiry) -> Outcome:
    nominals = need_nominals(q)
    counted = [shot for shot in q.shots if shot.counts]
    used = [shot.fired for shot in counted]
    strangers = [shot_name(shot) for shot in counted if nominal_of(q, shot) is None]
    if strangers:
        return failed(
            f"not in technique {q.technique.name}: {', '.join(strangers)}",
            "void it, fire the technique's shot",
            used=used,
        )
    fired = {shot.fired.fact.shot for shot in counted}
    missing = [nominal for nominal in nominals if nominal.shot not in fired]
    if missing:
        return not_recorded(f"no shot recorded for {', '.join(nominal_name(n) for n in missing)}", "fire it", used=used)
    return passed(f"{len(nominals)} of {len(nominals)} shots", used=used)


def nominal_name(nominal: NominalShot) -> str:
    """``shot 6 (coil at 25 in)``."""
    place = f" at {nominal.position}" if nominal.position else ""
    return f"shot {nominal.shot} ({nominal.kind}{place})"


@rule("M20", "Coil shots: are turns times current within tolerance of the technique's?", "amps_tolerance")
def m20_ampere_turns(q: Inquiry) -> Outcome:
    return each_shot(q, lambda shot, nominal: ampere_turns_outcome(q, shot, nominal), [ShotKind.COIL])


def ampere_turns_outcome(q: Inquiry, shot: Shot, nominal: NominalShot) -> Outcome:
    """Ampere-turns of every pulse of a coil shot."""
    tolerance, turns = q.limit("amps_tolerance"), shot.fired.fact.coil_turns
    if nominal.turns is None:
        return not_recorded(
            f"technique {q.technique.name} gives no turns for shot {nominal.shot}", "Level III: complete the technique"
        )
    if turns is None:
        return not_recorded(
            f"{shot_name(shot)}: turns of the coil not recorded",
            "enter the coil in use",
            SHOOT_AGAIN,
            used=[shot.fired],
        )
    wanted = nominal.turns * nominal.amps.in_unit("A")
    limit = f"{shown(wanted, 'A-turns')} +/- {tolerance}"

    def ask(pulse: f.Pulse) -> Outcome:
        if pulse.amps is None:
            return not_recorded(
                f"{shot_name(shot)}: current of a pulse not entered",
                "enter it from the meter",
                SHOOT_AGAIN,
                used=[shot.fired],
            )
        value = turns * pulse.amps.in_unit("A")
        found = f"{turns} turns x {pulse.amps} = {shown(value, 'A-turns')}"
        if not is_within(value, wanted, tolerance):
            return failed(
                f"{shot_name(shot)}: {found}, technique {shown(wanted, 'A-turns')}",
                "plug in the right coil",
                SHOOT_AGAIN,
                found=found,
                limit=limit,
                used=[shot.fired],
            )
        return passed(found, limit, [shot.fired])

    return each_pulse(shot, ask)


# --- bath and current -----------------------------------------------------------------------------


@rule("M16", "Wet continuous: was the bath off before the last pulse, and none put on after it?")
def m16_bath_off_before_last_pulse(q: Inquiry) -> Outcome:
    def ask(shot: Shot, nominal: NominalShot) -> Outcome:
        mode = shot.fired.fact.bath_mode
        if nominal.bath_mode == BathMode.RESIDUAL:
            return not_applicable(f"technique {q.technique.name}: {nominal_name(nominal)} is residual")
        if mode is None or mode not in set(BathMode):
            return not_recorded(
                f"{shot_name(shot)}: when the bath was turned off is not attested",
                "attest it",
                SHOOT_AGAIN,
                used=[shot.fired],
            )
        if mode in (BathMode.AFTER_LAST_PULSE, BathMode.RESIDUAL):
            says = f"{shot_name(shot)}: bath put on after the last pulse; it can wash a weak indication away"
            return failed(says, SHOOT_AGAIN, found=mode, limit=BathMode.OFF_BEFORE_LAST_PULSE, used=[shot.fired])
        return passed(mode, BathMode.OFF_BEFORE_LAST_PULSE, [shot.fired])

    return each_shot(q, ask)


@rule("M28", "Was the residual method used only where the technique names it?")
def m28_residual_only_by_technique(q: Inquiry) -> Outcome:
    def ask(shot: Shot, nominal: NominalShot) -> Outcome:
        mode, limit = shot.fired.fact.bath_mode, nominal.bath_mode
        if mode is None or mode not in set(BathMode):
            return not_recorded(
                f"{shot_name(shot)}: bath mode not attested", "attest it", SHOOT_AGAIN, used=[shot.fired]
            )
        if mode == BathMode.RESIDUAL and limit != BathMode.RESIDUAL:
            return failed(
                f"{shot_name(shot)}: residual, technique {limit} only",
                SHOOT_AGAIN,
                found=mode,
                limit=limit,
                used=[shot.fired],
            )
        return passed(mode, limit, [shot.fired])

    return each_shot(q, ask)


# --- order: views and demagnetising between shots -------------------------------------------------


@rule("M17", "Was each shot viewed before the next one, where the technique does not group them?")
def m17_viewed_between_shots(q: Inquiry) -> Outcome:
    counted = q.need_shots()
    pairs = list(pairwise(counted))
    if not pairs:
        return passed("one shot", used=[counted[0].fired])
    return worst(viewed_between_outcome(q, first, following) for first, following in pairs)


def viewed_between_outcome(q: Inquiry, first: Shot, following: Shot) -> Outcome:
    """Two counted shots in a row: one group of the technique, or a view of the first before the second."""
    groups = [nominal.group if (nominal := nominal_of(q, shot)) else None for shot in (first, following)]
    used = [first.fired, following.fired]
    if groups[0] is not None and groups[0] == groups[1]:
        return passed(f"shots {first.fired.fact.shot} and {following.fired.fact.shot} are one group", used=used)
    item, number = ticks.VIEWED_AFTER_SHOT.item, str(first.fired.fact.shot)
    views = [
        r
        for r in q.facts.of(f.ConfirmationGiven, q.inspection)
        if r.fact.item == item and r.fact.value == number and is_after(r, first.fired)
    ]
    if not views:
        says = f"view after {shot_name(first)} not recorded before {shot_name(following)}"
        return not_recorded(says, "tick the view with its time", SHOOT_AGAIN, used=used)
    if is_after(views[0], following.fired):
        says = f"{shot_name(following)} fired before shot {number} was viewed at {views[0].when.clock()}"
        return failed(
            says,
            SHOOT_AGAIN,
            found=views[0].when.clock(),
            limit=f"before {following.fired.when.clock()}",
            used=[*used, views[0]],
        )
    return passed(f"shot {number} viewed {views[0].when.clock()}", used=[*used, views[0]])


@rule("M18", "Was the part demagnetised between the directions, where the technique says so?")
def m18_demagnetised_between_directions(q: Inquiry) -> Outcome:
    wanted = [nominal for nominal in need_nominals(q) if nominal.demag_before]
    if not wanted:
        return not_applicable(f"technique {q.technique.name} asks for no demagnetisation between shots")
    outcomes = []
    for nominal in wanted:
        fired = [shot for shot in q.shots if shot.counts and shot.fired.fact.shot == nominal.shot]
        if not fired:
            outcomes.append(not_recorded(f"{nominal_name(nominal)} not recorded", "demagnetise, fire it"))
        outcomes += [demagnetised_before_outcome(q, shot, nominal) for shot in fired]
    return worst(outcomes)


def demagnetised_before_outcome(q: Inquiry, shot: Shot, nominal: NominalShot) -> Outcome:
    """Whether a demagnetisation lies between a shot and the last field of another direction before it."""
    fields = [s for s in q.shots if is_after(shot.fired, s.fired) and direction_of(q, s) != nominal.direction]
    demags = [r for r in q.facts.of(f.Demagnetised, q.inspection) if is_after(shot.fired, r)]
    other = fields[-1] if fields else None
    between = [r for r in demags if other is None or is_after(r, other.fired)]
    if not between:
        since = f" since {shot_name(other)}" if other else ""
        says = f"no demagnetisation before {shot_name(shot)}{since}"
        return not_recorded(says, "demagnetise, repeat the shot", used=[shot.fired, *([other.fired] if other else [])])
    return passed(f"demagnetised {between[-1].when.clock()}", used=[between[-1], shot.fired])


def direction_of(q: Inquiry, shot: Shot) -> str | None:
    """The technique's direction of a fired shot; None for a shot it does not have."""
    nominal = nominal_of(q, shot)
    return nominal.direction if nominal else None


# --- contacts, preparation, lots ------------------------------------------------------------------


@rule("M25", "Was the part looked at for arc burns after the head shot?")
def m25_no_arc_burn(q: Inquiry) -> Outcome:
    if not any(nominal.kind in CONTACT_KINDS for nominal in need_nominals(q)):
        return not_applicable(f"technique {q.technique.name} has no head shot")
    outcome = tick_outcome(q, ticks.ARC_BURN, "look at the contacts, tick")
    given = q.confirmed(ticks.ARC_BURN.item)
    contacts = [s for s in q.shots if (nominal := nominal_of(q, s)) and nominal.kind in CONTACT_KINDS]
    if outcome.verdict == "PASS" and given and contacts and not is_after(given, contacts[-1].fired):
        says = f"ticked {given.when.clock()}, {shot_name(contacts[-1])} came after it: {ticks.ARC_BURN.item}"
        return not_recorded(says, "look at the contacts again, tick", used=[given, contacts[-1].fired])
    return outcome


@rule("M32", "Were bearings, rollers and trapped steel parts out before the first shot?")
def m32_trapped_parts_removed(q: Inquiry) -> Outcome:
    outcome = tick_outcome(q, ticks.TRAPPED_REMOVED, "look, take them out, tick")
    given = q.confirmed(ticks.TRAPPED_REMOVED.item)
    first = next((shot for shot in q.shots if shot.counts), None)
    if outcome.verdict == "PASS" and given and first and given.at > first.fired.at:
        says = f"ticked {given.when.clock()}, after {shot_name(first)}: {ticks.TRAPPED_REMOVED.item}"
        return not_recorded(says, "enter when it was seen", "shoot again", used=[given, first.fired])
    return outcome


@rule("M33", "Lots on a bar: were the parts spaced and viewed all round?")
def m33_spaced_on_bar(q: Inquiry) -> Outcome:
    if not any(nominal.kind == ShotKind.BAR for nominal in need_nominals(q)):
        return not_applicable(f"technique {q.technique.name} has no bar shot")
    if q.opened.fact.quantity <= 1:
        return not_applicable("a single part, no lot on the bar", [q.opened])
    return tick_outcome(q, ticks.SPACED_ON_BAR, "space the parts, turn each, tick")


@rule("M37", "Did the heads touch only zones where contact is allowed?")
def m37_contact_zone(q: Inquiry) -> Outcome:
    barred = q.technique.forbidden_contact
    if not barred:
        return not_applicable(f"technique {q.technique.name} bars no zone to the heads")

    def ask(shot: Shot, nominal: NominalShot) -> Outcome:
        zone, limit = shot.fired.fact.contact_zone, f"not {', '.join(barred)}"
        if zone is None:
            return not_recorded(f"{shot_name(shot)}: contact zone not named", "name it", used=[shot.fired])
        if zone in barred:
            return failed(
                f"{shot_name(shot)}: head contact on {zone}",
                "look for arc burns, tell the Level III",
                found=zone,
                limit=limit,
                used=[shot.fired],
            )
        return passed(zone, limit, [shot.fired])

    return each_shot(q, ask, CONTACT_KINDS)


# --- class 1 indications --------------------------------------------------------------------------


@rule("M34", "Class 1: did the indication behind a reject or rework return after wipe and re-shoot?")
def m34_shown_again(q: Inquiry) -> Outcome:
    if q.master.item_class != 1:
        return not_applicable(f"part master {q.master.number} is class {q.master.item_class}")
    relevant = [i for i in q.indications if i.relevant]
    asked = [i for i in relevant if stands_against(q) or is_over_limit(i)]
    if not asked:
        return not_applicable("no relevant indication that asks for reject or rework")
    return worst(shown_again_outcome(indication) for indication in asked)


def stands_against(q: Inquiry) -> bool:
    """Whether the decision being made, or the last one signed, is a reject, a rework or a split lot."""
    signed = q.facts.last(f.DecisionSigned, q.inspection)
    word = q.disposition or (signed.fact.disposition if signed else None)
    return word in (Disposition.REJECT, Disposition.REWORK, "SPLIT")


def is_over_limit(indication: Indication) -> bool:
    return indication.evaluated is not None and indication.evaluated.fact.evaluation == "over limit"


def shown_again_outcome(indication: Indication) -> Outcome:
    """The latest re-shoot of an indication and whether it returned."""
    shot_again = [r for r in indication.tests if r.fact.step == "re-shot"]
    if not shot_again or shot_again[-1].fact.outcome is None:
        what = "result of the re-shoot" if shot_again else "re-shoot"
        return not_recorded(
            f"{indication.id}: {what} not recorded",
            "wipe, demagnetise, shoot again, look",
            used=[indication.seen, *shot_again],
        )
    last = shot_again[-1]
    if last.fact.outcome != "returned":
        says = f"{indication.id}: {last.fact.outcome} after the re-shoot at {last.when.clock()}, yet called relevant"
        return failed(
            says,
            "shoot again in the best direction",
            "interpret it anew",
            found=last.fact.outcome or "",
            limit="returned",
            used=[last],
        )
    return passed(f"{indication.id} returned {last.when.clock()}", "returned", [last])
