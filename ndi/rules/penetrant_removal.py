"""Taking the penetrant off: prewash, remover, wash or rinse, dryer (P11 to P21)."""

from __future__ import annotations

from datetime import timedelta

from ndi.domain import facts as f
from ndi.domain import ticks
from ndi.domain.answer import Verdict
from ndi.domain.entry import Recorded
from ndi.domain.moment import duration_text
from ndi.domain.outcome import Missing, Outcome, failed, not_recorded, not_yet, passed, worst
from ndi.domain.quantity import Number, shown
from ndi.domain.vocabulary import Material, Observed, Quantity, Step
from ndi.rules import basket as b
from ndi.rules import guard_band
from ndi.rules.inquiry import Inquiry, as_timedelta
from ndi.rules.registry import rule

OVER_WASHED = ticks.BACKGROUNDS[-1]


def step_time(q: Inquiry, step: Step, what: str, *ways_out: str) -> b.Timed:
    """The latest pass of the basket through a step, from its first start to its end."""
    run = b.need_runs(q, step)[-1]
    over = None if run.end else b.moved_on(q, step)
    return b.Timed(what, run.first_start, run.end.when if run.end else None, over, run.used, ways_out)


def timed_to_the_second(q: Inquiry, step: Step, what: str, *ways_out: str) -> b.Timed:
    """:func:`step_time` for a limit in seconds; Missing where it was timed to the minute only."""
    b.need_seconds(what, b.need_runs(q, step)[-1])
    return step_time(q, step, what, *ways_out)


def from_step_to_step(q: Inquiry, first: Step, then: Step, what: str, *ways_out: str) -> b.Timed:
    """From the end of a step to the start of another; Missing while the first has not ended."""
    before, after = b.need_runs(q, first)[-1], b.runs(q, then)
    if before.end is None:
        raise Missing(
            f"end of step {first} not recorded", ["enter the time it ended"], [r.position for r in before.starts]
        )
    start = after[-1] if after else None
    over = None if start else b.moved_on(q, then)
    return b.Timed(
        what,
        before.end.when,
        start.last_start if start else None,
        over,
        [before.end, *(start.starts if start else ())],
        ways_out,
    )


# --- prewash, remover, rinse (hydrophilic) --------------------------------------------------------


@rule("P11", "Method D: was the prewash within its maximum?", "prewash_max")
def p11_prewash(q: Inquiry) -> Outcome:
    other = b.only_for(q, b.HYDROPHILIC)
    if other:
        return other
    timed = timed_to_the_second(q, Step.PREWASH, "prewash", b.CLEAN_AND_RESTART)
    return b.at_most(q, timed, b.shared_maximum(q, "prewash_max"))


@rule("P12", "Method D: was the remover contact within its minimum and maximum?", "remover_min", "remover_max")
def p12_remover_contact(q: Inquiry) -> Outcome:
    other = b.only_for(q, b.HYDROPHILIC)
    if other:
        return other
    timed = timed_to_the_second(q, Step.REMOVER, "remover contact", b.CLEAN_AND_RESTART)
    least, most = b.shared_minimum(q, "remover_min"), b.shared_maximum(q, "remover_max")
    run = b.need_runs(q, Step.REMOVER)[-1]
    shortest = b.Timed(timed.what, run.last_start, timed.stop, timed.over, timed.used, timed.ways_out)
    return worst([b.at_most(q, timed, most), b.at_least(q, shortest, as_timedelta(least), least)])


@rule(
    "P13",
    "Method D: was the remover concentration about nominal, below its maximum and read recently enough?",
    "remover_tolerance",
    "remover_concentration_max",
    "remover_interval",
)
def p13_remover_concentration(q: Inquiry) -> Outcome:
    other = b.only_for(q, b.HYDROPHILIC)
    if other:
        return other
    return worst(concentration_outcome(q, batch) for batch in b.batches(q, Material.REMOVER))


def concentration_outcome(q: Inquiry, batch: Recorded[f.BatchEntered]) -> Outcome:
    """The last concentration reading of a remover batch before it was used (or, not used yet, before wetting)."""
    contact = b.runs(q, Step.REMOVER)
    name, used_at = batch.fact.batch, contact[0].first_start if contact else b.first_wetting(q)
    readings = [r for r in q.readings(name, Quantity.REMOVER_CONCENTRATION) if r.at <= used_at.at]
    interval = q.limit("remover_interval")
    if not readings:
        return not_recorded(f"concentration of {name} never read", "read it with the refractometer", used=[batch])
    reading = readings[-1]
    if b.overdue(reading.when, used_at, interval):
        return not_recorded(
            f"{name}: last concentration reading {reading.when}, due every {interval}",
            "read it before the next basket",
            used=[reading],
        )
    return strength_outcome(q, batch, reading)


def strength_outcome(q: Inquiry, batch: Recorded[f.BatchEntered], reading: Recorded[f.ReadingRecorded]) -> Outcome:
    """One concentration reading of a remover batch against nominal and maximum."""
    name = batch.fact.batch
    tolerance, most = q.limit("remover_tolerance"), q.limit("remover_concentration_max")
    if batch.fact.nominal_percent is None:
        return not_recorded(f"nominal concentration of {name} not entered", "enter it", used=[batch])
    value, nominal = reading.fact.value.in_unit(tolerance.unit), batch.fact.nominal_percent.in_unit(tolerance.unit)
    found, limit = (
        f"{name} {shown(value, tolerance.unit)}",
        f"{batch.fact.nominal_percent} +/- {tolerance}, at most {most}",
    )
    if abs(value - nominal) > tolerance.value or value > most.in_unit(tolerance.unit):
        return failed(
            f"{found}, nominal {batch.fact.nominal_percent}",
            "correct the bath, read again",
            b.CLEAN_AND_RESTART,
            found=found,
            limit=limit,
            used=[reading, batch],
        )
    return passed(found, limit, [reading, batch])


@rule("P14", "Method D: was the rinse within its maximum and checked under UV-A?", "rinse_max")
def p14_rinse(q: Inquiry) -> Outcome:
    other = b.only_for(q, b.HYDROPHILIC)
    if other:
        return other
    timed = timed_to_the_second(q, Step.WASH, "rinse", "look for over-washing", b.CLEAN_AND_RESTART)
    time = b.at_most(q, timed, b.shared_maximum(q, "rinse_max"))
    if time.verdict is Verdict.NOT_YET:
        return time
    checked = b.ticked(
        q, ticks.RINSE_CHECKED, "rinse was not checked under UV-A", "ask a level 2 to look; " + b.CLEAN_AND_RESTART
    )
    return worst([time, checked])


# --- water and wash -------------------------------------------------------------------------------


@rule(
    "P15",
    "Were water temperature, water pressure, nozzle distance and air within their limits at the wash?",
    "water_temperature_min",
    "water_temperature_max",
    "water_pressure_max",
    "nozzle_distance_min",
    "air_pressure_max",
    "guard_band",
    "shop_day_start",
    "shop_day_end",
    version=2,
)
def p15_water(q: Inquiry) -> Outcome:
    """The guard band moves the limits of temperature and pressure; distance and air are observed, not read by a meter that is named."""
    run = b.need_runs(q, Step.WASH)[-1]
    supply = b.line(q).fact.water
    if supply is None:
        return not_recorded(
            f"water supply of {q.basket.fact.line} not in its equipment record", "complete the line's record"
        )
    cold, hot = b.shared_minimum(q, "water_temperature_min"), b.shared_maximum(q, "water_temperature_max")
    pressure = b.shared_maximum(q, "water_pressure_max")
    temperature_read = b.today(q, run.first_start, q.readings(supply, Quantity.WATER_TEMPERATURE))
    pressure_read = b.today(q, run.first_start, q.readings(supply, Quantity.WATER_PRESSURE))
    outcomes = [
        not_recorded("water temperature not read today before the wash", "read it", used=run.used)
        if temperature_read is None
        else guard_band.bounded(
            q,
            temperature_read,
            "water",
            temperature_read.fact.value.in_unit(cold.unit),
            cold.unit,
            "correct the water",
            least=cold,
            most=hot,
            used=[temperature_read],
        ),
        not_recorded("water pressure not read today before the wash", "read it", used=run.used)
        if pressure_read is None
        else guard_band.bounded(
            q,
            pressure_read,
            "water",
            q.value(pressure_read, pressure.unit, high_is_bad=True),
            pressure.unit,
            "correct the water",
            most=pressure,
            used=[pressure_read],
        ),
        nozzle_outcome(q),
    ]
    # air is judged only where the wash used it
    for read in q.observed(Step.WASH, Observed.AIR_PRESSURE):
        air = b.shared_maximum(q, "air_pressure_max")
        outcomes.append(
            b.bounded("air", read.fact.value.in_unit(air.unit), air.unit, "turn the air down", most=air, used=[read])
        )
    return worst(outcomes)


def nozzle_outcome(q: Inquiry) -> Outcome:
    """Every nozzle distance observed at the wash against its minimum."""
    least, observed = b.shared_minimum(q, "nozzle_distance_min"), q.observed(Step.WASH, Observed.NOZZLE_DISTANCE)
    if not observed:
        return not_recorded("nozzle distance not recorded", "enter the distance kept")
    return worst(
        b.bounded(
            "nozzle at", read.fact.value.in_unit(least.unit), least.unit, "keep the distance", least=least, used=[read]
        )
        for read in observed
    )


def timed_by_piece(q: Inquiry, each: Number) -> dict[str, tuple[timedelta, list[Recorded[f.PieceTimed]]]]:
    """The wash of every part that was timed by itself, all its passes together, at its longest."""
    found: dict[str, tuple[timedelta, list[Recorded[f.PieceTimed]]]] = {}
    for timed in q.facts.of(f.PieceTimed, q.basket.fact.basket):
        if timed.fact.step == Step.WASH:
            spent, used = found.get(timed.fact.piece, (timedelta(), []))
            found[timed.fact.piece] = (spent + b.between(timed.fact.began, timed.when, each)[1], [*used, timed])
    return found


def piece_outcome(piece: str, spent: timedelta, used: list[Recorded[f.PieceTimed]], each: Number) -> Outcome:
    """One part against the longest wash of one part."""
    name, found, limit = piece.rpartition("/")[-1], duration_text(spent), f"at most {each}"
    if any(timed.fact.began.at > timed.at for timed in used):
        return not_recorded(f"wash of part {name} ended before it began", "correct its times", used=used)
    if spent > as_timedelta(each):
        says = f"part {name} washed {found}, longest {each}"
        return failed(says, b.CLEAN_AND_RESTART, found=f"{name} {found}", limit=limit, used=used)
    return passed(f"{name} {found}", limit, used)


@rule("P16", "Method A: was the wash within the maximum for the number of parts?", "wash_per_part_max", version=2)
def p16_wash_per_part(q: Inquiry) -> Outcome:
    other = b.only_for(q, b.WATER_WASHABLE)
    if other:
        return other
    each, washes = b.shared_maximum(q, "wash_per_part_max"), b.need_runs(q, Step.WASH)
    pieces = next((run.pieces for run in [*washes, *b.runs(q, Step.WET)] if run.pieces), None)
    if pieces is None:
        return not_recorded("number of parts in the basket not recorded", "count the parts", used=washes[-1].used)
    by_piece = timed_by_piece(q, each)
    outcomes = [piece_outcome(piece, spent, used, each) for piece, (spent, used) in by_piece.items()]
    if len(by_piece) >= pieces and washes[-1].end is not None:
        return worst(outcomes)
    text = f"at most {each} x {pieces} = {duration_text(as_timedelta(each) * pieces)}"
    if pieces > 1:
        timed = (
            f"only {len(by_piece)} of {pieces} were timed by themselves" if by_piece else "only the basket was timed"
        )
        text += f", on average: {timed}"
    # what was washed before the last pass leaves less for it
    spent = sum(
        (b.between(run.first_start, run.end.when, each)[1] for run in washes[:-1] if run.end), start=timedelta()
    )
    whole = b.at_most(
        q, step_time(q, Step.WASH, "wash", b.CLEAN_AND_RESTART), each, times=pieces, spent=spent, limit_text=text
    )
    return worst([whole, *outcomes])


def last_wash(q: Inquiry) -> b.Run | Outcome:
    """The latest pass through the wash (rinse), or why it cannot be judged yet."""
    run = b.need_runs(q, Step.WASH)[-1]
    if run.end is not None:
        return run
    if b.moved_on(q, Step.WASH):
        return not_recorded(
            "end of the wash not recorded", "enter when it ended and how the background looked", used=run.used
        )
    return not_yet(f"washing since {run.first_start.clock()}", "end the wash, judge the background", used=run.used)


@rule("P17", "Was the background stated at the end of the wash?")
def p17_background_stated(q: Inquiry) -> Outcome:
    run = last_wash(q)
    if isinstance(run, Outcome):
        return run
    assert run.end is not None
    stated = run.end.fact.outcome
    if stated not in ticks.BACKGROUNDS:
        unknown = f" ({stated!r} is not one of: {', '.join(ticks.BACKGROUNDS)})" if stated else ""
        return not_recorded(
            f"background after the wash not stated{unknown}", "look under UV-A, state the background", used=run.used
        )
    return passed(stated, used=run.used)


@rule("P18", "Were the parts not over-washed?")
def p18_not_over_washed(q: Inquiry) -> Outcome:
    over = [r for r in q.ends(Step.WASH) if r.fact.outcome == OVER_WASHED]
    if over:
        return failed(
            f"over-washed at {over[-1].when.clock()}: the process stops here",
            b.CLEAN_AND_RESTART,
            found=OVER_WASHED,
            used=over,
        )
    return p17_background_stated(q)


# --- dryer ----------------------------------------------------------------------------------------


@rule("P19", "Did the parts go into the dryer soon enough after the wash?", "wash_to_dryer_max")
def p19_wash_to_dryer(q: Inquiry) -> Outcome:
    timed = from_step_to_step(
        q, Step.WASH, Step.DRY, "time from wash to dryer", "ask a level 2 to look", b.CLEAN_AND_RESTART
    )
    return b.at_most(q, timed, b.shared_maximum(q, "wash_to_dryer_max"))


@rule(
    "P20",
    "Was the dryer read today before use and within its maximum?",
    "dryer_temperature_max",
    "guard_band",
    "shop_day_start",
    "shop_day_end",
    version=2,
)
def p20_dryer_temperature(q: Inquiry) -> Outcome:
    run = b.need_runs(q, Step.DRY)[-1]
    dryer, most = b.line(q).fact.dryer, b.shared_maximum(q, "dryer_temperature_max")
    if dryer is None:
        return not_recorded(f"dryer of {q.basket.fact.line} not in its equipment record", "complete the line's record")
    reading = b.today(q, run.first_start, q.readings(dryer, Quantity.DRYER_TEMPERATURE))
    if reading is None:
        return not_recorded(f"{dryer} not read today before {run.first_start.clock()}", "read the dryer", used=run.used)
    return guard_band.bounded(
        q,
        reading,
        dryer,
        reading.fact.value.in_unit(most.unit),
        most.unit,
        "cool the dryer",
        b.CLEAN_AND_RESTART,
        most=most,
        used=[reading, *run.used],
    )


@rule("P21", "Was the time in the dryer within its maximum, and the part dry at its end?", "dryer_time_max")
def p21_dryer_time(q: Inquiry) -> Outcome:
    time = b.at_most(
        q, step_time(q, Step.DRY, "time in the dryer", b.CLEAN_AND_RESTART), b.shared_maximum(q, "dryer_time_max")
    )
    form = q.technique.developer_form
    if time.verdict is Verdict.NOT_YET:
        return time
    if form is None:
        return worst(
            [
                time,
                not_recorded(
                    f"technique {q.technique.name} gives no developer form", "Level III: complete the technique sheet"
                ),
            ]
        )
    if form != b.DRY_POWDER:  # only dry powder cakes on a damp part
        return time
    return worst([time, b.ticked(q, ticks.DRY_AT_DRYER_OUT, "part was not dry at dryer out", "dry on, then confirm")])
