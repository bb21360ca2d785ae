"""Penetrant before removal: materials, part, wetting, dwell, attempts (P01 to P10, P35 to P40)."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from fractions import Fraction

from ndi.calc import dwell
from ndi.domain import facts as f
from ndi.domain import ticks
from ndi.domain.entry import Recorded
from ndi.domain.moment import Moment, duration_text
from ndi.domain.outcome import Missing, Outcome, failed, not_applicable, not_recorded, not_yet, passed, worst
from ndi.domain.quantity import PERCENT
from ndi.domain.ticks import Tick
from ndi.domain.vocabulary import Material, Observed, Step
from ndi.rules import basket as b
from ndi.rules.inquiry import Inquiry
from ndi.rules.registry import rule

WINDOWS = (
    ("wetting_temperature_min", "wetting_temperature_max"),
    ("dwell_base", "dwell_max"),
    ("water_temperature_min", "water_temperature_max"),
    ("develop_min", "develop_max"),
)
REMOVER_WINDOW = ("remover_min", "remover_max")


# --- materials ------------------------------------------------------------------------------------


@rule("P01", "Do penetrant, remover and developer belong to one system, and is it the technique's?")
def p01_one_system_as_in_technique(q: Inquiry) -> Outcome:
    wanted = [Material.PENETRANT, Material.DEVELOPER]
    if b.removal_method(q) == b.HYDROPHILIC:
        wanted.append(Material.REMOVER)
    held: list[Recorded[f.BatchEntered]] = []
    outcomes: list[Outcome] = []
    for material in wanted:
        try:
            held += b.batches(q, material)
        except Missing as missing:  # the others are judged all the same
            outcomes.append(missing.outcome)
    if held:
        outcomes.append(one_system(held))
    for batch in held:
        if batch.fact.material == Material.PENETRANT:
            outcomes += [
                same_class(q, "type", q.technique.type, batch, batch.fact.type),
                same_class(q, "method", q.technique.pt_method, batch, batch.fact.method),
            ]
            if q.technique.type == b.FLUORESCENT:  # only fluorescent penetrants have sensitivity levels
                outcomes.append(same_class(q, "sensitivity", q.technique.sensitivity, batch, batch.fact.sensitivity))
        if batch.fact.material == Material.DEVELOPER:
            outcomes.append(same_class(q, "form", q.technique.developer_form, batch, batch.fact.form))
    return worst(outcomes)


def one_system(held: list[Recorded[f.BatchEntered]]) -> Outcome:
    """Whether all batches were entered with the same system."""
    unknown = [batch for batch in held if batch.fact.system is None]
    if unknown:
        names = ", ".join(batch.fact.batch for batch in unknown)
        return not_recorded(f"system of {names} not entered", "enter the system from the label", used=held)
    systems = dict.fromkeys(str(batch.fact.system) for batch in held)
    listed = ", ".join(f"{batch.fact.batch} {batch.fact.system}" for batch in held)
    if len(systems) > 1:
        return failed(
            f"materials of different systems: {listed}",
            "stop the line and change the material",
            found=listed,
            limit="one system",
            used=held,
        )
    return passed(f"system {next(iter(systems))}", "one system", held)


def same_class(
    q: Inquiry, name: str, wanted: str | None, batch: Recorded[f.BatchEntered], found: str | None
) -> Outcome:
    """Whether a batch has the class (type, method, sensitivity, form) that the technique asks for."""
    if wanted is None:
        return not_recorded(f"technique {q.technique.name} gives no {name}", "Level III: complete the technique sheet")
    if found is None:
        return not_recorded(f"{name} of {batch.fact.batch} not entered", "enter it from the label", used=[batch])
    if found != wanted:
        return failed(
            f"{batch.fact.batch} is {name} {found}, technique asks for {wanted}",
            "use the line of the technique",
            found=f"{name} {found}",
            limit=f"{name} {wanted}",
            used=[batch],
        )
    return passed(f"{name} {found}", f"{name} {wanted}", [batch])


@rule("P35", "Was every batch in date and not in quarantine?")
def p35_batches_in_date(q: Inquiry) -> Outcome:
    wetted = b.need_runs(q, Step.WET)[-1].first_start
    return worst(batch_outcome(q, batch, wetted) for batch in b.batches(q))


def batch_outcome(q: Inquiry, batch: Recorded[f.BatchEntered], wetted: Moment) -> Outcome:
    """A batch on the day of wetting; its last day counts."""
    name, day = batch.fact.batch, wetted.local.date()
    status = q.facts.last(f.EquipmentStatusSet, name, until=wetted.at)
    if day > batch.fact.expires:
        return failed(
            f"{name} expired {batch.fact.expires}",
            "empty the tank, fill a batch in date",
            found=f"{day}",
            limit=f"until {batch.fact.expires}",
            used=[batch],
        )
    if status is not None and status.fact.state != "in service":
        return failed(
            f"{name} {status.fact.state} since {status.when}: {status.fact.reason}",
            "tell the Level III",
            used=[batch, status],
        )
    return passed(f"{name} until {batch.fact.expires}", used=[batch, status])


@rule("P36", "Is every batch approved for the part's alloy?")
def p36_approved_for_alloy(q: Inquiry) -> Outcome:
    alloy = q.master.alloy
    if alloy is None:
        return not_recorded(f"alloy of {q.master.number} not in the part master", "Level III: enter the alloy")

    def approved(batch: Recorded[f.BatchEntered]) -> Outcome:
        if not batch.fact.alloys:
            return not_recorded(f"approvals of {batch.fact.batch} not entered", "enter its alloys", used=[batch])
        if alloy not in batch.fact.alloys:
            return failed(
                f"{batch.fact.batch} has no approval for {alloy}",
                "call the Level III",
                found=", ".join(batch.fact.alloys),
                limit=alloy,
                used=[batch],
            )
        return passed(f"{batch.fact.batch}: {alloy}", used=[batch])

    return worst(approved(batch) for batch in b.batches(q))


# --- the part before wetting ----------------------------------------------------------------------


@rule(
    "P02", "Was the part within the temperature range at wetting?", "wetting_temperature_min", "wetting_temperature_max"
)
def p02_part_temperature(q: Inquiry) -> Outcome:
    least, most = b.shared_minimum(q, "wetting_temperature_min"), b.shared_maximum(q, "wetting_temperature_max")
    return worst(
        b.bounded(
            "part",
            read.fact.value.in_unit(least.unit),
            least.unit,
            "bring the part into the range, clean, wet again",
            least=least,
            most=most,
            used=[read],
        )
        for read in part_temperatures(q)
    )


def part_temperatures(q: Inquiry) -> list[Recorded[f.StepObserved]]:
    """Part temperatures read at wetting; Missing if there is none."""
    found = q.observed(Step.WET, Observed.PART_TEMPERATURE)
    if not found:
        raise Missing("part temperature at wetting not recorded", ["measure the part before it is wetted"])
    return found


@rule("P03", "Was the part confirmed dry before it was wetted?")
def p03_dry_before_wetting(q: Inquiry) -> Outcome:
    wetting = b.need_runs(q, Step.WET)[0]
    given = b.tick(q, ticks.DRY_BEFORE_WETTING)
    if given is not None and wetting.end is not None and given.at > wetting.end.at:
        return not_recorded(
            f"dryness confirmed only at {given.when.clock()}, after wetting",
            "ask the Level III",
            used=[given, *wetting.used],
        )
    return b.ticked(q, ticks.DRY_BEFORE_WETTING, "part was not dry before wetting", "dry the part", b.CLEAN_AND_RESTART)


@rule("P04", "If the part was worked on since its last etch: was it etched and neutralised before wetting?")
def p04_etched_after_work(q: Inquiry) -> Outcome:
    wetting = b.need_runs(q, Step.WET)[0]
    asked = latest_tick(q, ticks.WORKED_SINCE_ETCH, wetting)
    if asked is None:
        return not_recorded(
            "not stated before wetting whether the part was worked since its last etch",
            "ask the rework bench, tick yes or no",
            used=wetting.used,
        )
    blends = [r for r in q.facts.of(f.ReworkDone, q.part) if r.at <= wetting.first_start.at]
    worked = [*blends, *([asked] if asked.fact.value == "yes" else [])]
    if not worked:
        return passed("not worked since its last etch", used=[asked])
    last = max(worked, key=lambda r: (r.at, r.position))
    etches = [
        r for r in q.facts.of(f.ConfirmationGiven, q.part) if r.fact.item == ticks.ETCHED.item and r.at >= last.at
    ]
    if not etches:
        return not_recorded(
            f"worked ({last.when}), etch after it not recorded: smeared metal may close a crack",
            "etch, neutralise, " + b.CLEAN_AND_RESTART,
            used=[last],
        )
    etch = etches[0]
    if etch.at > wetting.first_start.at:
        return failed(
            f"etched {etch.when.clock()}, after wetting at {wetting.first_start.clock()}",
            b.CLEAN_AND_RESTART,
            used=[last, etch, *wetting.used],
        )
    return passed(f"etched {etch.when}", used=[last, etch])


def latest_tick(q: Inquiry, item: Tick, wetting: b.Run) -> Recorded[f.ConfirmationGiven] | None:
    """The latest tick about the part that was given before the wetting was over."""
    until = wetting.end.at if wetting.end else q.asked.at
    given = [r for r in q.facts.of(f.ConfirmationGiven, q.part) if r.fact.item == item.item and r.at <= until]
    return given[-1] if given else None


@rule("P05", "Fluorescent penetrant: was the part never processed with visible dye, or released by a Level III?")
def p05_no_visible_dye(q: Inquiry) -> Outcome:
    if q.technique.type is None:
        return not_recorded(
            f"technique {q.technique.name} gives no penetrant type", "Level III: complete the technique sheet"
        )
    if q.technique.type != b.FLUORESCENT:
        return not_applicable(f"technique {q.technique.name} is Type {q.technique.type}")
    given = q.confirmed(ticks.VISIBLE_DYE.item, about=q.part)
    if given is None:
        return not_recorded(
            "not stated whether visible dye was ever used on this part", "ask teardown, tick the answer"
        )
    if given.fact.value == "used":
        return failed(
            "visible dye was used on this part before",
            "ask a Level III for release",
            found="used",
            limit="never, or released",
            used=[given],
        )
    return passed(given.fact.value, used=[given])


# --- wetting and dwell ----------------------------------------------------------------------------


@rule(
    "P06",
    "Did the shortest dwell reach the minimum for the part's temperature?",
    "dwell_base",
    "dwell_service_induced",
    "dwell_band_edge",
)
def p06_dwell_long_enough(q: Inquiry) -> Outcome:
    wetting = b.need_runs(q, Step.WET)[-1]
    removal = removal_after(q, wetting)
    temperatures = part_temperatures(q)
    needed = required_minutes(q, temperatures)
    if wetting.end is None and (removal or b.moved_on(q, Step.WET)):
        return not_recorded("end of wetting not recorded", "enter when the last part was wet", used=wetting.used)
    if wetting.end is None:
        return not_yet(
            f"wetting since {wetting.first_start.clock()}; the dwell counts from its end",
            "scan the end of wetting",
            used=wetting.used,
        )
    stop = removal[0] if removal else None
    timed = b.Timed(
        "dwell",
        wetting.end.when,
        stop.first_start if stop else None,
        None if stop else b.moved_on(q, b.removal_step(q)),
        [*wetting.used, *temperatures, *(stop.starts if stop else ())],
        ("wait before washing", b.CLEAN_AND_RESTART),
    )
    allowed = b.minutes_as_timedelta(needed)
    return b.at_least(q, timed, allowed, limit_text=f"at least {duration_text(allowed)}")


def removal_after(q: Inquiry, wetting: b.Run) -> list[b.Run]:
    """The passes through the removal step (wash or prewash) that follow a wetting."""
    return [run for run in b.runs(q, b.removal_step(q)) if run.first_start.at >= wetting.first_start.at]


def required_minutes(q: Inquiry, temperatures: list[Recorded[f.StepObserved]]) -> Fraction:
    """The longest dwell that any part temperature of the basket asks for; Missing outside the dwell table."""
    base = b.shared_minimum(q, "dwell_base").in_unit("min")
    own = [replace(q, technique=technique) for technique in b.techniques(q)]
    service_induced = any(one.parameter("dwell_service_induced").value is True for one in own)
    edges = {one.word("dwell_band_edge") for one in own}
    try:
        return max(
            dwell.required_dwell(base, read.fact.value.in_unit("degF"), service_induced, edge)
            for read in temperatures
            for edge in edges
        )
    except dwell.OutsideTable as outside:
        raise Missing(
            f"no dwell is known: {outside}", ["ask the Level III"], [read.position for read in temperatures]
        ) from outside


@rule(
    "P07",
    "Did the time wet stay within the maximum, from the start of the latest wetting to the end of the wash?",
    "dwell_max",
)
def p07_not_wet_too_long(q: Inquiry) -> Outcome:
    wetting = b.latest_whole_wetting(q)
    timed = time_wet(q, wetting, "do not develop; " + b.CLEAN_AND_RESTART)
    return b.at_most(q, timed, b.shared_maximum(q, "dwell_max"))


def time_wet(q: Inquiry, wetting: b.Run, way_out: str) -> b.Timed:
    """From the start of a wetting to the end of the removal step (wash or prewash)."""
    step = b.removal_step(q)
    removal = removal_after(q, wetting)
    last = removal[-1] if removal else None
    end = last.end if last else None
    return b.Timed(
        "time wet",
        wetting.first_start,
        end.when if end else None,
        None if end else b.moved_on(q, step),
        [*wetting.used, *(last.used if last else ())],
        (way_out,),
        last.first_start if last else None,
    )


@rule("P08", "Did the penetrant stay wet on the part?")
def p08_stayed_wet(q: Inquiry) -> Outcome:
    return b.ticked(q, ticks.STILL_WET, "penetrant dried on the part", b.CLEAN_AND_RESTART)


@rule("P09", "Immersed parts: was the time in the tank within its share of the dwell?", "immersed_share_max")
def p09_immersed_share(q: Inquiry) -> Outcome:
    how, tank = b.tick(q, ticks.WETTED_BY), b.runs(q, Step.IMMERSE)
    if not tank:
        if how is None:
            return not_recorded("not stated how the parts were wetted", f"tick '{ticks.WETTED_BY.item}'")
        if how.fact.value != "immersion":
            return not_applicable(f"condition of the rule: wetted by {how.fact.value}, not immersed", [how])
        return not_recorded("immersed; time in the tank not recorded", "scan in and out of the tank", used=[how])
    share, wetting = b.shared_maximum(q, "immersed_share_max"), b.need_runs(q, Step.WET)[-1]
    removal = removal_after(q, wetting)
    used = [how, *wetting.used, *tank[-1].used, *(removal[0].starts if removal else ())]
    if any(run.end is None for run in tank):
        if removal or b.moved_on(q, Step.IMMERSE):
            return not_recorded("out of the tank not recorded", "enter when the last part came out", used=used)
        return not_yet(f"in the tank since {tank[-1].first_start.clock()}", "scan out of the tank", used=used)
    if wetting.end is None or (not removal and b.moved_on(q, b.removal_step(q))):
        return not_recorded("dwell not recorded", "enter end of wetting and start of the wash", used=used)
    immersed = sum((b.between(run.first_start, run.end.when)[1] for run in tank if run.end), start=timedelta())
    dwelt = b.between(wetting.end.when, removal[0].first_start if removal else q.asked)[0]
    found, limit = f"{duration_text(immersed)} of {duration_text(dwelt)}", f"at most {share} of the dwell"
    if immersed * PERCENT.numerator * share.value.denominator <= dwelt * share.value.numerator:
        return passed(found, limit, used)
    if not removal:
        return not_yet(f"in the tank {found} so far; drain on", "let it drain", found=found, limit=limit, used=used)
    return failed(f"in the tank {found}", "give the reason", found=found, limit=limit, used=used)


@rule(
    "P10",
    "Few enough re-wettings, and the time since the very first wetting within its maximum?",
    "rewets_max",
    "wet_total_max",
)
def p10_rewettings(q: Inquiry) -> Outcome:
    wettings, most = b.need_runs(q, Step.WET), b.shared_maximum(q, "rewets_max")
    total = b.at_most(
        q,
        replace(time_wet(q, wettings[0], b.CLEAN_AND_RESTART), what="time since the first wetting"),
        b.shared_maximum(q, "wet_total_max"),
    )
    used = [start for run in wettings for start in run.starts]
    rewets = len(wettings) - 1
    return worst([b.bounded("re-wettings", Fraction(rewets), "pcs", b.CLEAN_AND_RESTART, most=most, used=used), total])


# --- basket and attempts --------------------------------------------------------------------------


@rule(
    "P37",
    "Do all parts of the basket share one system and windows that overlap?",
    *(key for window in (*WINDOWS, REMOVER_WINDOW) for key in window),
)
def p37_common_windows(q: Inquiry) -> Outcome:
    strangers = [name for name in q.basket.fact.inspections if name != q.inspection and name not in q.techniques]
    if strangers:
        return not_recorded(
            f"technique of {', '.join(strangers)} in this basket not known", "open their records", used=[q.basket]
        )
    every = b.techniques(q)
    if len(every) == 1:
        return passed(f"one technique: {every[0].name}", used=[q.basket])
    outcomes = [one_class(q)]
    windows = [*WINDOWS, *([REMOVER_WINDOW] if b.removal_method(q) == b.HYDROPHILIC else [])]
    for low, high in windows:
        least, most = b.shared_minimum(q, low), b.shared_maximum(q, high)
        found, name = f"{least} to {most}", high.removesuffix("_max").replace("_", " ")
        if least.in_unit(most.unit) > most.value:
            outcomes.append(
                failed(
                    f"no common {name}: at least {least}, at most {most}",
                    "split the basket",
                    found=found,
                    used=[q.basket],
                )
            )
        else:
            outcomes.append(passed(f"{name} {found}", used=[q.basket]))
    return worst(outcomes)


def one_class(q: Inquiry) -> Outcome:
    """Whether the techniques of a basket agree in type, method, sensitivity and developer form."""
    every = b.techniques(q)
    classes = {
        t.name: (t.type, t.pt_method, t.sensitivity if t.type == b.FLUORESCENT else "", t.developer_form) for t in every
    }
    incomplete = [name for name, letters in classes.items() if None in letters]
    if incomplete:
        return not_recorded(
            f"system not complete in {', '.join(incomplete)}",
            "Level III: complete the technique sheet",
            used=[q.basket],
        )
    if len(set(classes.values())) > 1:
        listed = "; ".join(
            f"{name}: {'/'.join(str(letter) for letter in letters)}" for name, letters in classes.items()
        )
        return failed(
            f"different systems in one basket: {listed}",
            "split the basket",
            found=listed,
            limit="one system",
            used=[q.basket],
        )
    return passed("one system", used=[q.basket])


@rule("P38", "Do the parts not touch each other, and do their cavities drain?")
def p38_no_contact(q: Inquiry) -> Outcome:
    return b.ticked(q, ticks.NO_CONTACT, "parts touched or a cavity held penetrant", "spread the parts; wet again")


@rule("P39", "Did a later attempt begin with a pre-clean?")
def p39_preclean_before_wetting(q: Inquiry) -> Outcome:
    if q.attempt == 1:
        return not_applicable("condition of the rule: first attempt")
    since = previous_end(q)
    cleaned = [run for run in b.runs(q, Step.PRECLEAN) if since is None or run.first_start.at >= since]
    wettings = b.runs(q, Step.WET)
    if not wettings:
        if any(run.end for run in cleaned):
            return passed("pre-cleaned", used=cleaned[-1].used)
        if cleaned:
            return not_yet(
                f"pre-clean since {cleaned[-1].first_start.clock()}", "finish it before wetting", used=cleaned[-1].used
            )
        return not_recorded(f"pre-clean of attempt {q.attempt} not recorded", "pre-clean before wetting")
    wetted = wettings[0].first_start
    before = [run for run in cleaned if run.end and run.end.at <= wetted.at]
    if before:
        last = before[-1]
        assert last.end is not None
        return passed(
            f"pre-clean {last.first_start.clock()} to {last.end.when.clock()}", used=[*last.used, *wettings[0].starts]
        )
    return failed(
        f"attempt {q.attempt} was wetted at {wetted.clock()} with no pre-clean before it",
        b.CLEAN_AND_RESTART,
        used=[*wettings[0].starts],
    )


def previous_end(q: Inquiry) -> datetime | None:
    """The last thing recorded in the line about the basket of the attempt before, or None."""
    before = [load.fact.basket for load in q.basket_loads if load.fact.attempt < q.attempt]
    if not before:
        return None
    events = [*q.facts.of(f.StepStarted, before[-1]), *q.facts.of(f.StepEnded, before[-1])]
    return max((event.at for event in events), default=None)


@rule("P40", "Are there few enough full processes of this part?", "attempts_max")
def p40_attempts(q: Inquiry) -> Outcome:
    most = q.limit("attempts_max")
    return b.bounded("attempt", Fraction(q.attempt), most.unit, "tell the Level III", most=most, used=q.basket_loads)
