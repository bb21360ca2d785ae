"""Bath: agitation, settling, particle volume, checks, system performance (M01 to M09).

A bath result is a settled reading of particle volume.  Each shot stands on the
last result at or before it; ``results_for_shots`` is the one place that says
which.  The pump runs with its bench, so the bench's switching is the pump log.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import timedelta

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.moment import Moment, duration_text, elapsed, to_the_second
from ndi.domain.outcome import Missing, Outcome, failed, not_applicable, not_recorded, not_yet, passed, worst
from ndi.domain.quantity import Number
from ndi.domain.vocabulary import CheckKind, Quantity
from ndi.rules.inquiry import Inquiry, Shot, as_timedelta, up_to
from ndi.rules.registry import rule

Reading = Recorded[f.ReadingRecorded]
Check = Recorded[f.ProcessCheckRecorded]


@dataclass(frozen=True)
class BathResult:
    """A settled reading, the sample it was read from, and the bench whose pump stirs the bath."""

    bench: str
    reading: Reading
    sample: Recorded[f.BathSampled] | None

    @property
    def bath(self) -> str:
        return self.reading.fact.object

    @property
    def name(self) -> str:
        return f"{self.bath} result of {self.reading.when.clock()}"


# --- which bath, which result ---------------------------------------------------------------------


def bath_of(q: Inquiry, bench: str) -> str:
    """The bath that a bench runs; Missing if its equipment record does not say."""
    entered = q.equipment(bench)
    if entered is None or entered.fact.tank_bath is None:
        raise Missing(f"{bench}: its bath is not in the equipment record", ["enter the bench with its bath"])
    return entered.fact.tank_bath


def benches(q: Inquiry) -> list[str]:
    """Benches of the shots that count; before any shot those of the record's station, else all of the shop."""
    used = [shot.fired.fact.bench for shot in q.shots if shot.counts]
    if used:
        return list(dict.fromkeys(used))
    entered = [r for r in q.facts.of(f.EquipmentEntered) if r.fact.kind == "bench"]
    here = [r for r in entered if r.fact.place is not None and r.fact.place == q.opened.fact.station]
    if not entered:
        raise Missing("no bench in the equipment records", ["enter the bench with its bath"])
    return list(dict.fromkeys(r.fact.equipment for r in here or entered))


def readings_until(q: Inquiry, bath: str, until: Moment) -> list[Reading]:
    """The particle volumes read of a bath at or before a moment, by time."""
    return up_to(q.readings(bath, Quantity.PARTICLE_VOLUME), until.at)


def result_before(q: Inquiry, shot: Shot) -> BathResult | None:
    """The last result of the shot's bath at or before the shot, with the sample that was drawn for it.

    A sample serves one reading: one that was read before is not taken again.
    """
    bench = shot.fired.fact.bench
    bath = bath_of(q, bench)
    known = readings_until(q, bath, shot.fired.when)
    if not known:
        return None
    reading = known[-1]
    read_before = known[:-1][-1:]
    drawn = up_to(q.facts.of(f.BathSampled, bath), reading.at)[-1:]
    sample = next((s for s in drawn if all(s.at > earlier.at for earlier in read_before)), None)
    return BathResult(bench, reading, sample)


def results_for_shots(q: Inquiry) -> list[BathResult]:
    """Every result that a counted shot stands on, by time; Missing when a shot has none before it."""
    return q.once(lambda: _results_for_shots(q), "results for shots")


def _results_for_shots(q: Inquiry) -> list[BathResult]:
    found: dict[int, BathResult] = {}
    for shot in q.need_shots():
        result = result_before(q, shot)
        if result is None:
            raise no_result(shot)
        found[result.reading.position] = result
    return list(found.values())


def no_result(shot: Shot) -> Missing:
    """That a shot has no bath result before it."""
    return Missing(
        f"no bath result before {shot_name(shot)}", ["draw a sample, let it settle, read it"], [shot.fired.position]
    )


def shot_name(shot: Shot) -> str:
    """``shot 3 at 08:02``."""
    return f"shot {shot.fired.fact.shot} at {shot.fired.when.clock()}"


def apart(start: Moment, stop: Moment, limit: Number) -> tuple[timedelta, timedelta]:
    """Smaller and larger estimate of a duration; a minute stamp is its minute only where the limit is in seconds."""
    if limit.unit == "s":
        return elapsed(start, stop)
    return elapsed(to_the_second(start), to_the_second(stop))


def each_shot_in_bath(q: Inquiry, ask: Callable[[Shot, str], Outcome]) -> Outcome:
    """One outcome over every counted shot and the bath it stood in."""
    return worst(ask(shot, bath_of(q, shot.fired.fact.bench)) for shot in q.need_shots())


# --- agitation and settling -----------------------------------------------------------------------


@rule(
    "M01",
    "Was the bath stirred long enough before the sample, when the pump had been off long?",
    "agitation_min",
    "agitation_off",
)
def m01_agitated_before_sample(q: Inquiry) -> Outcome:
    return worst(agitation_outcome(q, result) for result in results_for_shots(q))


def agitation_outcome(q: Inquiry, result: BathResult) -> Outcome:
    """Running time of the pump since its last long stop, up to the sample; short stops only interrupt it."""
    sample = result.sample
    if sample is None:
        return no_sample(result)
    need, long_off = q.limit("agitation_min"), q.limit("agitation_off")
    limit = f"at least {need} after {long_off} off or more"
    log = up_to(q.facts.of(f.EquipmentSwitched, result.bench), sample.at)
    if not log:
        return not_recorded(
            f"{result.bench}: pump on before the sample of {sample.when.clock()} not recorded",
            "scan the bench when it is switched",
            used=[sample],
        )
    if log[-1].fact.state != "on":
        return failed(
            f"{result.bench}: pump off since {log[-1].when.clock()}, sample drawn {sample.when.clock()}",
            "run the pump, draw a new sample",
            found="pump off",
            limit=limit,
            used=[log[-1], sample],
        )
    changes: list[Recorded[f.EquipmentSwitched]] = []
    for switched in log:
        if not changes or changes[-1].fact.state != switched.fact.state:
            changes.append(switched)
    running, stop, on = timedelta(0), sample.when, changes[-1]
    for switched in reversed(changes):
        if switched.fact.state == "on":
            running += apart(switched.when, stop, need)[0]
            on = switched
            continue
        off = apart(switched.when, on.when, long_off)[1]
        found, used = f"{duration_text(running)} stirred, off {duration_text(off)} before", [switched, on, sample]
        if running >= as_timedelta(need):
            return passed(found, limit, used)
        if off >= as_timedelta(long_off):
            says = f"{result.bench}: pump ran {duration_text(running)} after {duration_text(off)} off; sample drawn {sample.when.clock()}"
            return failed(says, "stir on, draw a new sample", found=found, limit=limit, used=used)
        stop = switched.when
    if changes[0].fact.state == "off":
        return passed(f"no long stop since {changes[0].when}", limit, [*changes, sample])
    return not_recorded(
        f"{result.bench}: when the pump was off before {on.when.clock()} is not recorded",
        "enter when it was switched off",
        used=[on, sample],
    )


def no_sample(result: BathResult) -> Outcome:
    """That a result has no sample of its own."""
    return not_recorded(
        f"{result.name}: drawing of its sample not recorded", "draw a new sample and scan it", used=[result.reading]
    )


@rule("M02", "Did the demagnetised sample settle for the full time of its vehicle?", "settling_time")
def m02_settled(q: Inquiry) -> Outcome:
    return worst(settling_outcome(q, result) for result in results_for_shots(q))


def settling_outcome(q: Inquiry, result: BathResult) -> Outcome:
    """Drawing of the sample to reading of the tube, and whether the sample was demagnetised."""
    need, sample, reading = q.limit("settling_time"), result.sample, result.reading
    if sample is None:
        return no_sample(result)
    used = [sample, reading]
    settled = apart(sample.when, reading.when, need)[0]
    found, limit = duration_text(settled), f"at least {need}"
    if settled < as_timedelta(need):
        return failed(
            f"{result.name}: tube read after {found}", "let a new sample settle", found=found, limit=limit, used=used
        )
    demagnetised = reading.fact.demagnetised if sample.fact.demagnetised is None else sample.fact.demagnetised
    if demagnetised is None:
        return not_recorded(
            f"{result.name}: demagnetising of the sample not ticked", "tick it", "draw a new sample", used=used
        )
    if not demagnetised:
        return failed(
            f"{result.name}: sample was not demagnetised, it settles in clumps",
            "demagnetise and settle a new sample",
            used=used,
        )
    return passed(found, limit, used)


# --- particle volume ------------------------------------------------------------------------------


def volume_outcome(q: Inquiry, reading: Reading) -> Outcome:
    """A particle volume against the range outside which nothing may be inspected."""
    return q.once(lambda: _volume_outcome(q, reading), "volume", reading.position)


def _volume_outcome(q: Inquiry, reading: Reading) -> Outcome:
    least, most = q.limit("bath_hard_min"), q.limit("bath_hard_max")
    name = f"{reading.fact.object} at {reading.when.clock()}"
    if reading.fact.contamination is None:
        return not_recorded(
            f"{name}: contamination layer not stated", "state the layer that was subtracted", used=[reading]
        )
    value = reading.fact.value.in_unit(least.unit)
    found, limit = str(reading.fact.value), f"{least} to {most}"
    stop = "list the parts since the last result in range"
    if value < least.value:
        return failed(
            f"{name}: {found} is too thin",
            "add concentrate, stir, settle a new sample",
            stop,
            found=found,
            limit=limit,
            used=[reading],
        )
    if value > most.in_unit(least.unit):
        return failed(
            f"{name}: {found} is too rich",
            "add vehicle, stir, settle a new sample",
            stop,
            found=found,
            limit=limit,
            used=[reading],
        )
    return passed(found, limit, [reading])


@rule(
    "M03",
    "Is the particle volume in range, contamination subtracted?",
    "bath_hard_min",
    "bath_hard_max",
    "bath_working_min",
    "bath_working_max",
)
def m03_particle_volume(q: Inquiry) -> Outcome:
    return worst(volume_with_working_range(q, result.reading) for result in results_for_shots(q))


def volume_with_working_range(q: Inquiry, reading: Reading) -> Outcome:
    """:func:`volume_outcome`; a volume in range but outside the shop's working range is said in ``found``."""
    outcome = volume_outcome(q, reading)
    low, high = q.limit("bath_working_min"), q.limit("bath_working_max")
    inside = low.value <= reading.fact.value.in_unit(low.unit) <= high.in_unit(low.unit)
    if outcome.verdict != "PASS" or inside:
        return outcome
    return replace(outcome, found=f"{outcome.found}, outside working range {low} to {high}")


@rule("M04", "Was the bath result still valid at each shot?", "bath_valid", "bath_hard_min", "bath_hard_max")
def m04_result_valid_at_shot(q: Inquiry) -> Outcome:
    return worst(validity_outcome(q, shot) for shot in q.need_shots())


def validity_outcome(q: Inquiry, shot: Shot) -> Outcome:
    """Age at the shot of the last result before it; a result out of range covers nothing."""
    valid, result = q.limit("bath_valid"), result_before(q, shot)
    if result is None:
        return no_result(shot).outcome
    volume = volume_outcome(q, result.reading)
    if volume.verdict != "PASS":
        return replace(volume, says=f"{shot_name(shot)} not covered: {volume.says}")
    read = result.reading.when
    age = apart(read, shot.fired.when, valid)[1]
    ends = later(read, as_timedelta(valid)).clock()
    found, limit, used = f"{result.name} holds to {ends}", f"at most {valid} old", [result.reading, shot.fired]
    if age > as_timedelta(valid):
        says = f"{result.name} ended {ends}; {shot_name(shot)}"
        ways = ("take a new bath result", "void the shot, demagnetise, shoot again")
        return failed(says, *ways, found=f"{duration_text(age)} old", limit=limit, used=used)
    return passed(found, limit, used)


def later(moment: Moment, by: timedelta) -> Moment:
    """The moment ``by`` later on the same local clock."""
    return Moment(moment.at + by, moment.offset_min)


@rule(
    "M05",
    "Was the day's first bath result in range there before the part was decided?",
    "settling_time",
    "bath_hard_min",
    "bath_hard_max",
    "shop_day_start",
    "shop_day_end",
)
def m05_first_result_before_accept(q: Inquiry) -> Outcome:
    counted = [shot for shot in q.shots if shot.counts]
    day = counted[0].fired.when if counted else q.asked
    return worst(first_result_outcome(q, bath_of(q, bench), day) for bench in benches(q))


def first_result_outcome(q: Inquiry, bath: str, day: Moment) -> Outcome:
    """Whether a bath had a result in range on a shop day by the time of deciding."""
    opens, closes = q.shop_day(day)
    decided = decision_moment(q)
    today = [r for r in readings_until(q, bath, q.asked) if opens <= r.at <= closes]
    in_time = [r for r in today if r.at <= decided.at]
    if in_time:
        judged = [volume_outcome(q, r) for r in in_time]
        return next((outcome for outcome in judged if outcome.verdict == "PASS"), worst(judged))
    if today:
        return failed(
            f"decided {decided.clock()}, before the first result of {bath} at {today[0].when.clock()}",
            "decide again",
            found=f"first result {today[0].when.clock()}",
            limit=f"by {decided.clock()}",
            used=[today[0]],
        )
    if q.asked.at > closes:
        return not_recorded(f"{bath}: no result on {day.local.date()}", "inspect again with a bath result")
    return waiting_outcome(q, bath, [s for s in q.facts.of(f.BathSampled, bath) if opens <= s.at <= q.asked.at])


def waiting_outcome(q: Inquiry, bath: str, samples: list[Recorded[f.BathSampled]]) -> Outcome:
    """NOT YET while today's latest sample settles or waits to be read."""
    if not samples:
        return not_yet(f"{bath}: no result yet today", "draw a sample and let it settle")
    need, sample = q.limit("settling_time"), samples[-1]
    left = as_timedelta(need) - apart(sample.when, q.asked, need)[0]
    if left <= timedelta(0):
        return not_yet(f"{bath}: sample of {sample.when.clock()} has settled, not read", "read the tube", used=[sample])
    ends = later(sample.when, as_timedelta(need)).clock()
    found = f"{duration_text(left)} left"
    return not_yet(
        f"{bath}: settling ends {ends}, {found}",
        f"read the tube at {ends}",
        found=found,
        limit=f"{need} settling",
        used=[sample],
    )


def decision_moment(q: Inquiry) -> Moment:
    """When the standing decision was signed; the moment of asking while none stands or a new one is made."""
    if q.decided is not None:
        return q.decided
    signed = q.facts.last(f.DecisionSigned, q.inspection)
    undone = q.facts.last(f.DecisionUndone, q.inspection)
    if signed is None or q.disposition is not None or (undone is not None and undone.at >= signed.at):
        return q.asked
    return signed.when


# --- checks of the bath and of the system ---------------------------------------------------------


def checks_until(q: Inquiry, kind: CheckKind, object_: str, until: Moment) -> list[Check]:
    """Process checks of one kind of one object at or before a moment, by time."""

    def of_kind() -> list[Check]:
        every = q.facts.of(f.ProcessCheckRecorded, object_)
        return [r for r in every if r.fact.object == object_ and r.fact.check == kind]

    return up_to(q.once(of_kind, "checks", kind, object_), until.at)


def periodic_outcome(q: Inquiry, shot: Shot, bath: str, kind: CheckKind, key: str) -> Outcome:
    """The last check of a bath before a shot: passed, and not longer ago than its interval in whole local days."""
    interval = q.limit(key)
    checks = checks_until(q, kind, bath, shot.fired.when)
    if not checks:
        return not_recorded(f"{bath}: {kind} never checked before {shot_name(shot)}", "check it now", used=[shot.fired])
    last = checks[-1]
    day, limit = last.when.local.date(), f"every {interval}"
    if not last.fact.passed:
        detail = f": {last.fact.detail}" if last.fact.detail else ""
        ways = ("change the bath", "list the parts since the last check that was met")
        return failed(
            f"{bath}: {kind} not met on {day}{detail}", *ways, found=f"not met {day}", limit=limit, used=[last]
        )
    if shot.fired.when.local.date() - day > as_timedelta(interval):
        return not_recorded(f"{bath}: {kind} last checked {day}, due {limit}", "check it now", used=[last, shot.fired])
    return passed(f"{kind} checked {day}", limit, [last])


@rule("M06", "Was the contamination of the bath checked within its interval and met?", "bath_contamination_interval")
def m06_contamination_checked(q: Inquiry) -> Outcome:
    def ask(shot: Shot, bath: str) -> Outcome:
        return periodic_outcome(q, shot, bath, CheckKind.BATH_CONTAMINATION, "bath_contamination_interval")

    return each_shot_in_bath(q, ask)


@rule("M07", "Was the vehicle checked for glow and viscosity within its interval and met?", "vehicle_interval")
def m07_vehicle_checked(q: Inquiry) -> Outcome:
    return each_shot_in_bath(
        q, lambda shot, bath: periodic_outcome(q, shot, bath, CheckKind.VEHICLE, "vehicle_interval")
    )


@rule(
    "M08",
    "Water baths: did the film stay whole on the test part today, before the shots?",
    "shop_day_start",
    "shop_day_end",
)
def m08_water_break(q: Inquiry) -> Outcome:
    def ask(shot: Shot, bath: str) -> Outcome:
        entered = q.equipment(bath)
        if entered is None or entered.fact.vehicle is None:
            return not_recorded(f"{bath}: vehicle not in its equipment record", "enter the bath with its vehicle")
        if entered.fact.vehicle != "water":
            return not_applicable(f"equipment record: vehicle of {bath} is {entered.fact.vehicle}", [entered])
        opens, _ = q.shop_day(shot.fired.when)
        today = [r for r in checks_until(q, CheckKind.WATER_BREAK, bath, shot.fired.when) if opens <= r.at]
        if not today:
            return not_recorded(
                f"{bath}: water break not checked today before {shot_name(shot)}", "check it now", used=[shot.fired]
            )
        if not today[-1].fact.passed:
            return failed(
                f"{bath}: film broke at {today[-1].when.clock()}", "add wetting agent, check again", used=[today[-1]]
            )
        return passed(f"film whole {today[-1].when.clock()}", used=[entered, today[-1]])

    return each_shot_in_bath(q, ask)


@rule(
    "M09", "Did the ring show enough holes today, before the shots?", "ring_holes_min", "shop_day_start", "shop_day_end"
)
def m09_system_performance(q: Inquiry) -> Outcome:
    return worst(ring_outcome(q, shot) for shot in q.need_shots())


def ring_outcome(q: Inquiry, shot: Shot) -> Outcome:
    """The last ring check of the shot's bench on the day of the shot, at or before it."""
    bench, least = shot.fired.fact.bench, q.limit("ring_holes_min")
    opens, _ = q.shop_day(shot.fired.when)
    last = checks_until(q, CheckKind.RING, bench, shot.fired.when)[-1:]
    today = [r for r in last if opens <= r.at]
    if not today:
        return not_recorded(
            f"{bench}: ring not shot today before {shot_name(shot)}",
            "shoot the ring, count the holes",
            used=[shot.fired],
        )
    return q.once(lambda: ring_check_outcome(today[-1], least), "ring", today[-1].position)


def ring_check_outcome(check: Check, least: Number) -> Outcome:
    """What the ring showed in one check of a bench: enough holes at a current that was written down."""
    bench = check.fact.object
    holes, amps = check.fact.holes, check.fact.amps
    if holes is None or amps is None:
        blank = "holes" if holes is None else "current"
        return not_recorded(
            f"{bench}: {blank} of the ring at {check.when.clock()} not given", "shoot the ring again", used=[check]
        )
    found, limit = f"{holes} holes at {amps}", f"at least {least}"
    if holes < least.value or not check.fact.passed:
        ways = ("find the cause, shoot the ring again", "list the parts since the last ring that was met")
        return failed(
            f"{bench}: ring at {check.when.clock()} showed {found}", *ways, found=found, limit=limit, used=[check]
        )
    return passed(found, limit, [check])
