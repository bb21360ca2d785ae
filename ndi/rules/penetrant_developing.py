"""Developer, viewing times, wiped indications, re-views (P22 to P27, P41, P42)."""

from __future__ import annotations

from datetime import datetime
from fractions import Fraction

from ndi.domain import facts as f
from ndi.domain import ticks
from ndi.domain.answer import Verdict
from ndi.domain.entry import Recorded
from ndi.domain.moment import Moment, duration_text
from ndi.domain.outcome import Missing, Outcome, failed, not_applicable, not_recorded, not_yet, passed, worst
from ndi.domain.vocabulary import HANDLING_PLACES, RE_VIEW_PLACES, Step, ViewKind
from ndi.rules import basket as b
from ndi.rules.inquiry import Indication, Inquiry, as_timedelta
from ndi.rules.penetrant_removal import from_step_to_step
from ndi.rules.registry import rule

Tested = Recorded[f.IndicationTested]


@rule("P22", "Did the developer go on soon enough after the dryer?", "dryer_to_developer_max")
def p22_dryer_to_developer(q: Inquiry) -> Outcome:
    timed = from_step_to_step(q, Step.DRY, Step.DEVELOP, "time from dryer to developer", "give the reason")
    return b.at_most(q, timed, b.shared_maximum(q, "dryer_to_developer_max"))


@rule("P23", "Is the developer of the technique's form, with a coat on all zones?")
def p23_developer_form_and_coat(q: Inquiry) -> Outcome:
    return worst([form_outcome(q), coat_outcome(q)])


def form_outcome(q: Inquiry) -> Outcome:
    """The developer form that was confirmed at the line against the technique's."""
    wanted, given = q.technique.developer_form, b.tick(q, ticks.DEVELOPER_FORM)
    if wanted is None:
        return not_recorded(
            f"technique {q.technique.name} gives no developer form", "Level III: complete the technique sheet"
        )
    if given is None:
        return not_recorded("developer form not confirmed", "tick the form in use")
    found, limit = f"form {given.fact.value}", f"form {wanted}"
    if given.fact.value != wanted:
        return failed(
            f"developer {found}, technique asks for {limit}",
            b.CLEAN_AND_RESTART,
            found=found,
            limit=limit,
            used=[given],
        )
    return passed(found, limit, [given])


def coat_outcome(q: Inquiry) -> Outcome:
    """Whether the developer was confirmed on all zones."""
    return b.ticked(q, ticks.DEVELOPER_COAT, "developer does not cover all zones", "apply it again and time it anew")


# --- developing time ------------------------------------------------------------------------------


@rule("P24", "Was the shortest developing time reached before each view began?", "develop_min")
def p24_developed_long_enough(q: Inquiry) -> Outcome:
    least, run = b.shared_minimum(q, "develop_min"), b.need_runs(q, Step.DEVELOP)[-1]
    if run.end is None:
        if b.moved_on(q, Step.DEVELOP):
            return not_recorded(
                "end of applying the developer not recorded", "enter when the last part was coated", used=run.used
            )
        return not_yet(
            f"developer going on since {run.first_start.clock()}; the time counts from its end",
            "scan the end",
            used=run.used,
        )
    if not q.views:
        timed = b.Timed("developing", run.end.when, None, b.moved_on(q, Step.DEVELOP), run.used)
        return b.at_least(q, timed, as_timedelta(least), least)
    ways = ("look again after the time", b.CLEAN_AND_RESTART)
    return worst(
        b.at_least(
            q,
            b.Timed(
                f"developing before view {view.id}", run.end.when, view.start, None, [*run.used, view.started], ways
            ),
            as_timedelta(least),
            least,
        )
        for view in q.views
    )


@rule("P25", "Was the developing time at the end of the last view within its maximum?", "develop_max")
def p25_not_developed_too_long(q: Inquiry) -> Outcome:
    return developing_at_view_end(q)


def developing_at_view_end(q: Inquiry) -> Outcome:
    """From the start of applying the developer to the end of the last view relied on, against the maximum."""
    run = b.need_runs(q, Step.DEVELOP)[-1]
    ends = [view.end for view in q.views if view.end is not None]
    finished = ends and len(ends) == len(q.views)
    over = None if q.views else b.moved_on(q, Step.DEVELOP)
    used = [*run.used, *(fact for view in q.views for fact in view.used)]
    last = max(ends, key=lambda end: end.latest) if finished else None
    timed = b.Timed("developing time", run.first_start, last, over, used, ("do not evaluate; " + b.CLEAN_AND_RESTART,))
    return b.at_most(q, timed, b.shared_maximum(q, "develop_max"))


# --- wiped indications ----------------------------------------------------------------------------


def wipes(indication: Indication) -> list[Tested]:
    """Every wipe of an indication, by time."""
    return [test for test in indication.tests if test.fact.step == "wiped"]


def wiped_indications(q: Inquiry) -> list[Indication]:
    """The indications of the record that were wiped."""
    return [indication for indication in q.indications if wipes(indication)]


NOTHING_WIPED = "condition of the rule: no indication was wiped"


@rule(
    "P26",
    "Was each wiped spot redeveloped long enough before it was judged, with the second look that it needs?",
    "redevelop_min",
)
def p26_wiped_and_redeveloped(q: Inquiry) -> Outcome:
    found = wiped_indications(q)
    if not found:
        return not_applicable(NOTHING_WIPED)
    return worst(
        outcome for indication in found for outcome in [*redeveloped(q, indication), second_look_outcome(q, indication)]
    )


def redeveloped(q: Inquiry, indication: Indication) -> list[Outcome]:
    """For each wipe: the time to the look that followed it."""
    least, every, outcomes = q.limit("redevelop_min"), wipes(indication), []
    looks = [test for test in indication.tests if test.fact.step == "redeveloped"]
    for place, wipe in enumerate(every):
        following = every[place + 1] if place + 1 < len(every) else None
        look = next((r for r in looks if (r.at, r.position) > (wipe.at, wipe.position)), None)
        if following is not None and (look is None or look.at > following.at):
            # wiped again before anybody looked: the later wipe restarts the time
            continue
        timed = b.Timed(
            f"{indication.id}: redeveloping after the wipe at {wipe.when.clock()}",
            wipe.when,
            look.when if look else None,
            None,
            [wipe, look],
            ("look again after the time",),
        )
        outcome = b.at_least(q, timed, as_timedelta(least), least)
        if look is None and outcome.verdict is Verdict.PASS:
            outcome = not_recorded(
                f"{indication.id}: look after the wipe at {wipe.when.clock()} not recorded",
                "look and enter what came back",
                used=[wipe],
            )
        outcomes.append(outcome)
    return outcomes


def second_look_outcome(q: Inquiry, indication: Indication) -> Outcome:
    """Whether a second look at a wiped indication was saved, where the procedure asks for two persons."""
    prefix = f"class {q.master.item_class} "
    asked_for = [kind for kind in q.procedure.second_person_for if kind.startswith(prefix)]
    if not asked_for:
        return passed(f"{indication.id}: no second look asked for")
    if indication.interpreted is None:
        return not_recorded(f"{indication.id}: not interpreted", "interpret it", used=[indication.seen])
    if prefix + indication.interpreted.fact.interpretation not in asked_for:
        return passed(f"{indication.id}: no second look asked for", used=[indication.interpreted])
    saved = [look.saved for look in indication.second_looks if look.saved]
    if not saved:
        return not_recorded(
            f"{indication.id}: wiped, second look not recorded", "ask a second person to look", used=[indication.seen]
        )
    return passed(f"{indication.id}: second look {saved[-1].when.clock()}", used=saved)


@rule("P27", "Was no indication wiped too often?", "wipes_max")
def p27_wipes(q: Inquiry) -> Outcome:
    found, most = wiped_indications(q), q.limit("wipes_max")
    if not found:
        return not_applicable(NOTHING_WIPED)
    return worst(
        b.bounded(
            f"{indication.id}: wipes",
            Fraction(len(wipes(indication))),
            most.unit,
            "full process again",
            most=most,
            used=wipes(indication),
        )
        for indication in found
    )


# --- re-view --------------------------------------------------------------------------------------


@rule(
    "P41",
    "Re-view without a new process: developing time within its maximum, and the part untouched since?",
    "develop_max",
)
def p41_re_view_without_process(q: Inquiry) -> Outcome:
    if not any(view.started.fact.kind == ViewKind.RE_VIEW for view in q.views):
        return not_applicable("condition of the rule: the record rests on first views")
    return worst([developing_at_view_end(q), untouched(q, max(view.start.at for view in q.views))])


def re_view_possible(q: Inquiry, at: Moment) -> Outcome:
    """Whether a re-view that ends after ``at`` could still count, without a new process.

    PASS when the developing maximum ends later than ``at`` and the part was not
    cleaned or handled since it was developed; FAIL names every reason.
    """
    run, most = b.need_runs(q, Step.DEVELOP)[-1], b.shared_maximum(q, "develop_max")
    ends = Moment(run.first_start.at + as_timedelta(most), run.first_start.offset_min)
    text = f"developer limit {ends.clock()}"
    if ends.at > at.at:
        in_time = passed(text, f"at most {most}", run.used)
    else:
        in_time = failed(
            text,
            b.CLEAN_AND_RESTART,
            found=duration_text(at.at - run.first_start.at),
            limit=f"at most {most}",
            used=run.used,
        )
    return worst([in_time, untouched(q, at.at)])


def untouched(q: Inquiry, until: datetime) -> Outcome:
    """Whether the part was neither cleaned nor handled between developing and ``until``.

    A wipe at one spot is not handling; a move to a place where only a look is taken neither.
    """
    run = b.need_runs(q, Step.DEVELOP)[-1]
    if run.end is None:
        raise Missing("end of applying the developer not recorded", ["enter when the last part was coated"])
    since = run.end.at
    moves = q.facts.of(f.PartMoved, q.part)
    if not moves and not q.facts.of(f.PartReceived, q.part):
        return not_recorded("no location was ever scanned for this part", "scan the part where it is")
    first_views = [view.start.at for view in q.all_views if view.started.fact.attempt == q.attempt]
    viewed = min(first_views, default=None)
    cleaned = [r for key in (q.inspection, q.basket.fact.basket) for r in q.facts.of(f.StepStarted, key)]
    reasons = [
        failed(f"post-cleaned {r.when.clock()}", b.CLEAN_AND_RESTART, used=[r])
        for r in cleaned
        if r.fact.step == Step.POSTCLEAN and since < r.at <= until
    ]
    for move in moves:
        if since < move.at <= until and is_handling(move, viewed):
            reasons.append(failed(place_text(move), b.CLEAN_AND_RESTART, used=[move]))
    return worst(reasons) if reasons else passed("untouched since developing", used=[run.end])


def is_handling(move: Recorded[f.PartMoved], viewed: datetime | None) -> bool:
    """Moved to a place of cleaning or handling; once viewed, to any place but booth and re-view rack."""
    place = move.fact.place
    if place in HANDLING_PLACES:
        return True
    looked_at_only = any(place == known or place.endswith(f" {known}") for known in RE_VIEW_PLACES)
    return viewed is not None and move.at > viewed and not looked_at_only


def place_text(move: Recorded[f.PartMoved]) -> str:
    """``post-cleaned 10:05``, ``at assembly since 11:50``."""
    place, clock = move.fact.place, move.when.clock()
    return f"post-cleaned {clock}" if place == HANDLING_PLACES[0] else f"at {place} since {clock}"


@rule("P42", "Nonaqueous developer: was a thin, even coat confirmed?")
def p42_nonaqueous_coat(q: Inquiry) -> Outcome:
    form = q.technique.developer_form
    if form is None:
        return not_recorded(
            f"technique {q.technique.name} gives no developer form", "Level III: complete the technique sheet"
        )
    if form not in b.NONAQUEOUS:
        return not_applicable(f"technique {q.technique.name}: developer form {form} is not nonaqueous")
    return coat_outcome(q)
