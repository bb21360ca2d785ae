"""Order, times and completeness of the evidence (G17 to G30), as asked of one inspection record."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime, timedelta
from fractions import Fraction

from ndi.domain import facts as f
from ndi.domain.entry import Obtained, Recorded
from ndi.domain.moment import Moment, duration_text
from ndi.domain.outcome import Missing, Outcome, failed, not_applicable, not_recorded, not_yet, passed, worst
from ndi.domain.quantity import PERCENT, shown
from ndi.domain.vocabulary import Method, Quantity, Step, ViewKind
from ndi.rules import photo_codes
from ndi.rules.basket import between, removal_method
from ndi.rules.inquiry import Indication, Inquiry, View, as_timedelta
from ndi.rules.light import looks_relied_on
from ndi.rules.record import STANDING_KEYS, Entry, about_to_sign, baskets, signed
from ndi.rules.registry import rule
from ndi.rules.viewing import (
    dark_outcome,
    lie_apart,
    overlap_outcome,
    stretch,
    stretch_outcome,
    views_around,
    views_from,
)

# steps of the line by removal method; viewing follows
LINE_ORDER = {
    "A": (Step.WET, Step.WASH, Step.DRY, Step.DEVELOP),
    "D": (Step.WET, Step.PREWASH, Step.REMOVER, Step.WASH, Step.DRY, Step.DEVELOP),
}
DEMAG, PLUGS_OUT = "demag", "plugs out"  # post-process steps that have facts of their own; the others are ticks

EVIDENCE: tuple[type[f.Fact], ...] = (
    f.InspectionOpened,
    f.BasketLoaded,
    f.ConfirmationGiven,
    f.PlugsCounted,
    f.StepStarted,
    f.StepEnded,
    f.StepObserved,
    f.PieceTimed,
    f.AttemptVoided,
    f.ViewStarted,
    f.ViewEnded,
    f.ShotFired,
    f.ShotVoided,
    f.Demagnetised,
    f.ResidualRead,
    f.IndicationSeen,
    f.IndicationTested,
    f.IndicationInterpreted,
    f.IndicationEvaluated,
    f.PhotoAttached,
    f.PhotographMeasured,
    f.SecondLookSaved,
)


def evidence(q: Inquiry) -> list[Entry]:
    """Every fact of the record, its baskets and indications that a decision rests on, in the book's order."""

    def gather() -> list[Entry]:
        keys = [q.inspection, *baskets(q), *(indication.id for indication in q.indications)]
        found: dict[int, Entry] = {r.position: r for key in keys for kind in EVIDENCE for r in q.facts.of(kind, key)}
        return [found[position] for position in sorted(found)]

    return q.once(gather, "evidence")


def name_of(recorded: Entry) -> str:
    """What a fact is, for a sentence: ``wet started``, ``view ended``, ``shot fired``."""
    fact = recorded.fact
    if isinstance(fact, f.StepStarted | f.StepEnded):
        return f"{fact.step} {'started' if isinstance(fact, f.StepStarted) else 'ended'}"
    if isinstance(fact, f.ConfirmationGiven):
        return f"tick {fact.item}"
    words = "".join(f" {letter.lower()}" if letter.isupper() else letter for letter in type(fact).__name__)
    return words.strip()


# --- order and times ------------------------------------------------------------------------------


@rule("G17", "Were all steps done, in their order?")
def g17_steps_in_order(q: Inquiry) -> Outcome:
    return magnetic_order(q) if q.method == Method.MT else penetrant_order(q)


def penetrant_order(q: Inquiry) -> Outcome:
    """Each step of the basket begins when the one before has ended, viewing when the developer is on."""
    letter = removal_method(q)
    order = LINE_ORDER.get(letter)
    if order is None:
        raise Missing(
            f"the order of steps of Method {letter} is not known", ["Level III: choose a technique by Method A or D"]
        )
    outcomes: list[Outcome] = []
    before: tuple[str, Recorded[f.StepEnded]] | None = None
    for step in order:
        starts, ends = q.starts(step), q.ends(step)
        if not starts or not ends:
            missing = "start" if not starts else "end"
            outcomes.append(
                not_recorded(
                    f"{missing} of {step} not recorded", f"scan the {missing} of {step}", used=[*starts, *ends]
                )
            )
        if starts and ends and ends[-1].at < starts[0].at:
            outcomes.append(out_of_order(f"{step} ended", ends[-1], f"{step} start", starts[0]))
        elif starts and ends and ends[-1].at < starts[-1].at:  # begun again
            outcomes.append(
                not_recorded(
                    f"end of {step} begun {starts[-1].when.clock()} not recorded",
                    f"scan the end of {step}",
                    used=[*starts, *ends],
                )
            )
        if starts and before is not None:
            outcomes.append(follows(f"{step} started", starts[0], f"{before[0]} end", before[1]))
        if ends:
            before = (step, ends[-1])
    developed = q.starts(Step.DEVELOP)
    if developed:
        outcomes += [follows("view started", view.started, "develop start", developed[-1]) for view in q.views]
    if not q.views:
        outcomes.append(not_recorded("no view recorded", "view the part"))
    return worst(outcomes)


def follows(what: str, event: Entry, after: str, earlier: Entry) -> Outcome:
    """Whether an event is not before another."""
    if event.at < earlier.at:
        return out_of_order(what, event, after, earlier)
    return passed(used=[event, earlier])


def out_of_order(what: str, event: Entry, after: str, earlier: Entry) -> Outcome:
    """FAIL: ``event`` came before ``earlier``, which it must follow."""
    return failed(
        f"{what} {event.when.clock()}, before {after} {earlier.when.clock()}",
        "correct the time with a reason",
        "process again",
        found=event.when.clock(),
        limit=f"not before {earlier.when.clock()}",
        used=[event, earlier],
    )


def magnetic_order(q: Inquiry) -> Outcome:
    """Record opened, shots, views, demagnetisation, residual field, as far as the technique has them."""
    counted = [shot.fired for shot in q.shots if shot.counts]
    if not counted:
        raise Missing("no shot recorded", ["fire the technique's shots"])
    outcomes = [follows("first shot", counted[0], "opening of the record", q.opened)]
    if not q.views:
        outcomes.append(not_recorded("no view recorded", "view the part"))
    if DEMAG not in q.technique.post_process and not q.technique.residual_points:
        return worst(outcomes)
    demags = [r for r in q.facts.of(f.Demagnetised, q.inspection) if r.at >= counted[-1].at]
    if not demags:
        return worst(
            [
                *outcomes,
                not_recorded(
                    "not demagnetised after the last shot", "demagnetise, read the residual field", used=[counted[-1]]
                ),
            ]
        )
    reads = [r for r in q.facts.of(f.ResidualRead, q.inspection) if r.at >= demags[-1].at]
    if q.technique.residual_points and not reads:
        return worst(
            [*outcomes, not_recorded("residual field not read after demagnetisation", "read it", used=[demags[-1]])]
        )
    return worst([*outcomes, passed("shots, demagnetisation, residual field", used=[counted[-1], demags[-1], *reads])])


@rule("G18", "Does every time lie after receipt, not after its entry, and not after the signature?")
def g18_times_possible(q: Inquiry) -> Outcome:
    arrivals = q.facts.of(f.PartReceived, q.part)
    decision = signed(q)
    signing = q.asked if about_to_sign(q) else q.decided
    arrival = arrivals[0] if arrivals else None
    outcomes = of_each(evidence(q), lambda r: time_fault(r, arrival, decision, signing), beside=arrival)
    if not arrivals:
        outcomes.append(not_recorded(f"receipt of {q.part} not recorded", "receive the part"))
    return worst(outcomes)


def of_each(
    asked: Iterable[Entry], fault: Callable[[Entry], Outcome | None], *, limit: str = "", beside: Entry | None = None
) -> list[Outcome]:
    """The faults of some facts, and one PASS over all the others (read beside one more fact)."""
    faults, without = [], []
    for recorded in asked:
        found = fault(recorded)
        if found is None:
            without.append(recorded)
        else:
            faults.append(found)
    return [*faults, *([passed(limit=limit, used=[*without, beside])] if without else [])]


def time_fault(
    recorded: Entry, arrival: Entry | None, decision: Entry | None, signing: Moment | None
) -> Outcome | None:
    """What makes one time impossible; evidence is later than a signature only if it was in the book by then, or corrects."""
    when = recorded.when
    if when.earliest > recorded.recorded_at:
        entered = Moment(recorded.recorded_at, when.offset_min).clock()
        return failed(
            f"{name_of(recorded)} {when.clock()} is later than its entry at {entered}",
            "correct the time with a reason",
            found=when.clock(),
            limit=f"not after {entered}",
            used=[recorded],
        )
    if arrival is not None and when.at < arrival.at:
        return failed(
            f"{name_of(recorded)} {when} is before receipt of the part at {arrival.when}",
            "correct the time with a reason",
            found=str(when),
            limit=f"from {arrival.when}",
            used=[recorded, arrival],
        )
    signature = signing
    if decision is not None:
        rested_on = recorded.position < decision.position or recorded.supersedes is not None
        signature = decision.when if rested_on else None
    if signature is not None and when.earliest > signature.latest:
        return failed(
            f"{name_of(recorded)} {when.clock()} is later than the signature at {signature.clock()}",
            "correct the time with a reason",
            "sign again",
            found=when.clock(),
            limit=f"not after {signature.clock()}",
            used=[recorded, decision],
        )
    return None


@rule("G19", "Was everything entered soon after it happened, or with a reason?", "typed_late_after")
def g19_entered_in_time(q: Inquiry) -> Outcome:
    allowed, limit = (
        q.minutes("typed_late_after"),
        f"at most {q.limit('typed_late_after')} afterwards, or with a reason",
    )

    def fault(recorded: Entry) -> Outcome | None:
        late = recorded.recorded_at - recorded.when.earliest
        if late <= allowed:
            return None
        found = duration_text(late)
        said = f"{name_of(recorded)} {recorded.when.clock()} entered {found} afterwards"
        marked = recorded.how in (Obtained.TYPED_LATE, Obtained.TRANSCRIBED) or recorded.supersedes is not None
        if not marked:
            return failed(said, "give a reason", found=found, limit=limit, used=[recorded])
        if not recorded.why:
            return not_recorded(f"{said}, no reason", "give a reason", used=[recorded])
        return None

    return worst(of_each(evidence(q), fault, limit=limit))


# --- views ----------------------------------------------------------------------------------------


@rule("G20", "Do no two views of one person, and no two first views at one station, overlap?")
def g20_views_apart(q: Inquiry) -> Outcome:
    own = [*q.need_views(), *(look.view for look in q.second_looks)]
    faults: dict[tuple[str, frozenset[int]], Outcome] = {}
    apart: list[Entry | None] = [part for view in own for part in view.used]

    def ask(who: str, one: View, others: Iterable[View]) -> None:
        for other in others:
            if other.id == one.id:
                continue
            if lie_apart(one, other):
                apart.extend((other.started, other.ended))
                continue
            key = who, frozenset((one.started.position, other.started.position))
            faults.setdefault(key, overlap_outcome(who, one, other))

    for view in own:
        ask(view.person, view, views_around(q, view.person))
        station = view.started.fact.station
        if view.started.fact.kind == ViewKind.FIRST:
            if station is None:
                raise Missing(
                    f"booth of the view from {view.start.clock()} not recorded",
                    ["scan the booth"],
                    [view.started.position],
                )
            ask(station, view, first_views_at(q, station))
    return worst([passed(f"{len(own)} views apart from all others", used=apart), *faults.values()])


def first_views_at(q: Inquiry, station: str) -> list[View]:
    """First views of other records at a station."""

    def gather() -> list[View]:
        started = [
            r
            for r in q.facts.of(f.ViewStarted, station)
            if r.fact.station == station and r.fact.kind == ViewKind.FIRST and r.fact.inspection != q.inspection
        ]
        return views_from(q, started)

    return q.once(gather, "first views", station)


@rule("G21", "Did viewing take at least the stated share of the technique's usual time?", "view_pace_min")
def g21_pace(q: Inquiry) -> Outcome:
    expected = q.technique.expected_view_min
    if expected is None:
        return not_applicable(f"technique: {q.technique.name} states no viewing time")
    pieces, least = q.opened.fact.quantity, q.limit("view_pace_min")
    usual = as_timedelta(expected) * pieces
    if usual <= timedelta():
        raise Missing(f"{q.technique.name}: viewing time or pieces are none", ["Level III: complete the technique"])
    views = q.need_views()
    total = sum((between(view.start, view.end or q.asked, expected)[0] for view in views), timedelta())
    share = Fraction(total // timedelta.resolution, usual // timedelta.resolution) * PERCENT
    found = (
        f"{duration_text(total)} for {pieces} pcs, {shown(share, '%', digits=1)} of the usual {duration_text(usual)}"
    )
    limit = f"at least {least} of {expected} per piece"
    used = [part for view in views for part in view.used]
    if share >= least.in_unit("%"):
        return passed(found, limit, used)
    if any(view.end is None for view in views):
        return not_yet(f"viewing goes on: {found}", "go on viewing", found=found, limit=limit, used=used)
    return failed(f"viewed {found}", "look again", "give a reason", found=found, limit=limit, used=used)


@rule(
    "G22",
    "Did no viewer view longer without a break than allowed?",
    "view_stretch_max",
    "view_break_min",
    *STANDING_KEYS,
    version=2,
)
def g22_stretch(q: Inquiry) -> Outcome:
    def ask(view: View) -> Outcome:
        outcome = stretch_outcome(q, views_around(q, view.person), view.end or q.asked)
        if view.end is None and outcome.verdict == "PASS":
            length, _ = stretch(q, views_around(q, view.person), q.asked, longest=True)
            left = duration_text(q.minutes("view_stretch_max") - length)
            return not_yet(
                f"{view.person} is viewing: {outcome.found}",
                f"break in {left}",
                found=outcome.found,
                limit=outcome.limit,
                used=view.used,
            )
        return outcome

    return worst(ask(view) for view in looks_relied_on(q))


@rule("G23", "Was each viewer dark-adapted when the view started?", "dark_adapt_min", "view_break_min")
def g23_dark_adapted(q: Inquiry) -> Outcome:
    def ask(view: View) -> Outcome:
        station = view.started.fact.station
        if station is None:
            return not_recorded(
                f"booth of the view from {view.start.clock()} not recorded", "scan the booth", used=view.used
            )
        return dark_outcome(q, view.person, station, view.start)

    return worst(ask(view) for view in q.need_views())


@rule("G24", "Did each viewer declare clear glasses on the day of the view?", "shop_day_start", "shop_day_end")
def g24_clear_glasses(q: Inquiry) -> Outcome:
    def ask(view: View) -> Outcome:
        opens, _ = q.shop_day(view.start)
        entered = [
            r
            for r in q.facts.of(f.CheckedIn, view.person)
            if r.fact.person == view.person and opens <= r.at <= view.start.at
        ]
        declared = [r for r in entered if r.fact.clear_glasses is not None]
        if not declared:
            return not_recorded(
                f"{view.person} declared no clear glasses today before {view.start.clock()}",
                "declare at check-in",
                used=[*entered, *view.used],
            )
        last = declared[-1]
        if not last.fact.clear_glasses:
            return failed(
                f"{view.person} wears tinted or photochromic glasses",
                "let another person view",
                "change the glasses",
                used=[last, *view.used],
            )
        return passed(f"{view.person} declared {last.when.clock()}", used=[last, *view.used])

    return worst(ask(view) for view in q.need_views())


# --- completeness ---------------------------------------------------------------------------------


@rule(
    "G25", "Is each photograph of this part only, and taken during its inspection?", "photo_time_tolerance", version=2
)
def g25_photos(q: Inquiry) -> Outcome:
    photos = [r for r in q.facts.of(f.PhotoAttached, q.inspection) if r.fact.inspection == q.inspection]
    if not photos:
        return not_applicable("no photograph attached")
    lost = [r for r in photos if r.fact.sha256 in q.lost_photographs]
    if lost:
        names = ", ".join(dict.fromkeys(r.fact.original_name or r.fact.sha256 for r in lost))
        return not_recorded(
            f"the file of {names} is missing or not what it was", "bring it back from a backup", used=lost
        )
    return worst(photo_outcome(q, r.fact, r.fact.taken_at) for r in photos)


def photo_outcome(q: Inquiry, photo: f.PhotoAttached, taken_at: Moment) -> Outcome:
    """Whether a photograph may stand as evidence of this record; ``taken_at`` is the corrected camera time."""
    if not photo.sha256:
        return not_recorded("photograph without hash", "attach the file again")
    own = [r for r in q.facts.of(f.PhotoAttached, photo.sha256) if r.fact.inspection == q.inspection]
    others = [r for r in q.facts.of(f.PhotoAttached, photo.sha256) if r.fact.inspection != q.inspection]
    unexplained = [r for r in others if not r.fact.reuse_reason]
    if unexplained and not photo.reuse_reason:
        names = ", ".join(dict.fromkeys(r.fact.inspection for r in unexplained))
        return failed(
            f"this photograph is already on {names}",
            "attach the photograph of this part",
            "give a reason for using it twice",
            used=[*own, *unexplained],
        )
    if photo.alike and not photo.reuse_reason:
        known = [r for sha256 in photo.alike for r in q.facts.of(f.PhotoAttached, sha256)]
        names = ", ".join(dict.fromkeys(r.fact.inspection for r in known)) or ", ".join(photo.alike)
        return failed(
            f"this photograph looks like the one on {names}, saved anew",
            "attach the photograph of this part",
            "say why it is another picture of the same place",
            used=[*own, *known],
        )
    strangers = photo_codes.of_others(photo.codes_read or (), q.part, q.opened.fact.work_order)
    if strangers and not photo.reuse_reason:
        return failed(
            f"a code in the frame of this photograph names {', '.join(strangers)}, not {q.part}",
            "attach the photograph of this part",
            "photograph it again with only its own code in the frame",
            found=", ".join(strangers),
            limit=q.part,
            used=own,
        )
    views = q.all_views
    if not views:
        raise Missing("no view recorded, time of the photograph cannot be compared", ["view the part"])
    margin = q.minutes("photo_time_tolerance")
    first, last = views[0].start, max((view.end or q.asked for view in views), key=lambda moment: moment.at)
    limit = f"{first.clock()} to {last.clock()}, {q.limit('photo_time_tolerance')} before or after"
    found = str(taken_at)
    if not first.at - margin <= taken_at.at <= last.at + margin:
        return failed(
            f"photograph taken {_beside(taken_at, first)}, not during the inspection ({first.local:%Y-%m-%d}, {limit})",
            "attach another",
            "correct the camera clock",
            *summer_time(taken_at, first.at - margin, last.at + margin),
            found=found,
            limit=limit,
            used=own,
        )
    return passed(found, limit, own)


def _beside(taken_at: Moment, first: Moment) -> str:
    """The time; with the zones where it was not written by the clock of the inspection, as the same figures then mean another time."""
    if taken_at.offset_min == first.offset_min:
        return str(taken_at)
    return f"{taken_at} {taken_at.local:%Z}, the inspection's clock {first.local:%Z}"


def summer_time(taken_at: Moment, earliest: datetime, latest: datetime) -> tuple[str, ...]:
    """The way out where the photograph would fit if the camera's clock were an hour off, as it is when summer time begins or ends."""
    hour = timedelta(hours=1)
    for shift, word in ((hour, "ahead"), (-hour, "behind")):
        if earliest + shift <= taken_at.at <= latest + shift:
            return (f"compare the camera's clock with the station's: is it 1 h {word} (summer time)?",)
    return ()


@rule("G26", "Was every zone of the technique viewed?")
def g26_zones_covered(q: Inquiry) -> Outcome:
    views = q.need_views()
    used = [part for view in views for part in view.used]
    covered = {zone for view in views if view.ended for zone in view.ended.fact.zones}
    missing = [code for code in q.technique.zones if code not in covered]
    if missing:
        names = [zone.name if (zone := q.master.zone(code)) else code for code in missing]
        return not_recorded(f"zones not ticked: {', '.join(names)}", "view them and tick", used=used)
    return passed(f"{len(q.technique.zones)} zones", used=used)


@rule("G27", "Does each view say that nothing was seen, or what was?")
def g27_result_stated(q: Inquiry) -> Outcome:
    views = q.need_views()
    looks = [view for view in q.all_views if view.started.fact.kind != ViewKind.SECOND_LOOK]
    under: dict[str, list[Indication]] = {view.id: [] for view in looks}
    for indication in q.indications:
        begun = [view for view in looks if view.start.at <= indication.seen.when.latest]
        under[(begun or looks)[-1 if begun else 0].id].append(indication)

    def ask(view: View) -> Outcome:
        seen = under[view.id]
        names = ", ".join(indication.id for indication in seen)
        used = [*view.used, *(indication.seen for indication in seen)]
        if view.ended is None:
            return not_recorded(f"view from {view.start.clock()} not ended", "end the view", used=used)
        nothing = view.ended.fact.nothing_seen
        if nothing and seen and view.started.fact.kind == ViewKind.FIRST:
            return failed(
                f"nothing seen is stated, yet {names} recorded",
                "correct one of the two",
                found=names,
                limit="none",
                used=used,
            )
        if nothing or seen:
            return passed(names or "nothing seen", used=used)
        return not_recorded(
            f"view ended {view.ended.when.clock()}: not stated whether anything was seen", "state it", used=used
        )

    return worst(ask(view) for view in views)


@rule("G28", "Were the technique's steps after the inspection done?")
def g28_post_process(q: Inquiry) -> Outcome:
    items = q.technique.post_process
    if not items:
        return not_applicable(f"technique: {q.technique.name} lists no step after the inspection")
    return worst(post_process_outcome(q, item) for item in items)


def post_process_outcome(q: Inquiry, item: str) -> Outcome:
    """One step after the inspection; what was done before the last shot does not count."""
    last_shot = q.shots[-1].fired if q.shots else None
    done: list[Entry]
    if item == DEMAG:
        done = [*q.facts.of(f.Demagnetised, q.inspection)]
    elif item == PLUGS_OUT:
        done = [r for r in q.facts.of(f.PlugsCounted, q.inspection) if r.fact.direction == "out"]
    else:
        done = [r for r in q.facts.of(f.ConfirmationGiven, q.inspection) if r.fact.item == f"post-process: {item}"]
    done = [r for r in done if last_shot is None or r.at >= last_shot.at]
    if not done:
        return not_recorded(f"{item} not recorded after the inspection", f"do it: {item}, and tick", used=[last_shot])
    last = done[-1]
    if isinstance(last.fact, f.ConfirmationGiven) and last.fact.value != "yes":
        return failed(f"{item}: {last.fact.value} at {last.when.clock()}", f"do it: {item}, and tick", used=[last])
    return passed(f"{item} {last.when.clock()}", used=[last, last_shot])


@rule("G29", "Did as many plugs come out as went in?")
def g29_plugs_out(q: Inquiry) -> Outcome:
    if q.technique.plugs == 0:
        return not_applicable(f"technique: {q.technique.name} needs no plugs")
    counts = q.facts.of(f.PlugsCounted, q.inspection)
    inside = [r for r in counts if r.fact.direction == "in"]
    outside = [r for r in counts if r.fact.direction == "out"]
    if not inside or not outside:
        which = " and ".join(word for word, found in (("in", inside), ("out", outside)) if not found)
        return not_recorded(f"plugs not counted {which}", f"count them {which}", used=[*inside, *outside])
    went, came = inside[-1], outside[-1]
    found = f"{went.fact.count} in, {came.fact.count} out"
    if went.fact.count != came.fact.count:
        return failed(
            f"plugs: {found}",
            "keep the part here and find the plug",
            found=found,
            limit="as many out as in",
            used=[went, came],
        )
    return passed(found, "as many out as in", [went, came])


@rule("G30", "Is the record free of an open containment?")
def g30_no_open_containment(q: Inquiry) -> Outcome:
    opened = [r for r in q.facts.of(f.ContainmentOpened, q.inspection) if q.inspection in r.fact.inspections]
    done = [r for r in q.facts.of(f.ContainmentItemDone, q.inspection) if r.fact.inspection == q.inspection]
    closed = {r.fact.containment for r in done}
    waiting = [r for r in opened if r.fact.containment not in closed and not rests_on_later_work(q, r)]
    if not waiting:
        return passed("no open containment", used=[*opened, *done])
    causes = "; ".join(
        f"{r.fact.object} {r.fact.quantity} at {r.fact.first_bad.clock()} ({r.fact.containment})" for r in waiting
    )
    return failed(
        f"suspended: {causes}", "view again if the developer allows it", "process again", found=causes, used=waiting
    )


def rests_on_later_work(q: Inquiry, opened: Recorded[f.ContainmentOpened]) -> bool:
    """Whether all that the record rests on now was done after a containment opened.

    A lamp in doubt spoils looks, so new views are enough; anything else spoils
    what was done to the part, so shots or wetting must be new as well.
    """
    begun = [view.start for view in q.views]
    if opened.fact.quantity != Quantity.UV_A:
        begun += [shot.fired.when for shot in q.shots if shot.counts]
        if q.method == Method.PT:
            begun += [r.when for r in q.starts(Step.WET)]
    return bool(begun) and all(moment.at >= opened.at for moment in begun)
