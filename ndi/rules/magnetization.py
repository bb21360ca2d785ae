"""Shots as fired: calibration, current, pulses, type, ampere-turns, bath mode (M10 to M14, M16, M20, M28).

A shot is measured against the technique's shot of the same number; a voided
shot counts for nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import date
from fractions import Fraction

from ndi.domain import facts as f
from ndi.domain import ticks
from ndi.domain.entry import Recorded
from ndi.domain.outcome import Missing, Outcome, failed, not_applicable, not_recorded, passed, worst
from ndi.domain.procedure import NominalShot
from ndi.domain.quantity import PERCENT, Number, shown
from ndi.domain.vocabulary import BathMode, ShotKind
from ndi.rules.inquiry import Inquiry, Shot
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
