"""Indications, second looks, rework, disposition (D01 to D14, D17, D19), as asked of one record.

Interpretation (what is it) and evaluation (is it allowed) are two questions
with separate evidence.  The larger of the lengths that two people measured
counts.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from fractions import Fraction

from ndi.calc import grouping
from ndi.domain import facts as f
from ndi.domain.draw import is_drawn
from ndi.domain.entry import Recorded
from ndi.domain.outcome import Missing, Outcome, failed, not_applicable, not_recorded, not_yet, passed, worst
from ndi.domain.procedure import ZoneLimit
from ndi.domain.quantity import FULL_TURN_DEG, PERCENT, Number, shown
from ndi.domain.vocabulary import DECIDING_LEVEL, LEVEL_THREE, Disposition, Form, Interpretation, Method, is_crack_type
from ndi.rules.authority import certified, vision_outcome
from ndi.rules.inquiry import Indication, Inquiry, SecondLook
from ndi.rules.light import second_look_stands
from ndi.rules.record import STANDING_KEYS
from ndi.rules.registry import rule

WITHIN, OVER, NO_LIMIT = "within limit", "over limit", "no limit in data"


def each_indication(
    q: Inquiry, ask: Callable[[Indication], Outcome], chosen: list[Indication] | None = None
) -> Outcome:
    """One outcome over the indications asked about."""
    indications = q.indications if chosen is None else chosen
    if not indications:
        return not_applicable("no such indication on this record")
    return worst(ask(indication) for indication in indications)


@rule("D01", "Has each indication its zone, position, length, width, orientation and form?")
def d01_indication_described(q: Inquiry) -> Outcome:
    def ask(indication: Indication) -> Outcome:
        seen = indication.seen.fact
        wanted = {
            "zone": seen.zone,
            "position": seen.position,
            "length": seen.length,
            "width": seen.width,
            "orientation": seen.orientation,
            "form": seen.form,
        }
        blank = [name for name, value in wanted.items() if not value]
        if blank:
            return not_recorded(f"{seen.indication}: {', '.join(blank)} missing", "fill it in", used=[indication.seen])
        if q.master.zone(seen.zone or "") is None:
            return failed(
                f"{seen.indication}: zone {seen.zone} is not on the outline of {q.master.number}",
                "choose a zone of the part",
                used=[indication.seen],
            )
        return passed(f"{seen.indication} described", used=[indication.seen])

    return each_indication(q, ask)


@rule("D02", "Has each indication an interpretation with the evidence that it needs?")
def d02_interpretation_has_evidence(q: Inquiry) -> Outcome:
    def ask(indication: Indication) -> Outcome:
        if indication.interpreted is None:
            return not_recorded(
                f"{indication.id}: not interpreted",
                "relevant, nonrelevant or false, with its evidence",
                used=[indication.seen],
            )
        call = indication.interpreted.fact
        return interpretation_outcome(q, indication, call.interpretation, call.basis, call.type)

    return each_indication(q, ask)


def interpretation_outcome(
    q: Inquiry, indication: Indication, interpretation: str, basis: str, type_: str | None
) -> Outcome:
    """Whether the evidence recorded so far carries an interpretation."""
    used: list[Recorded[f.Fact] | None] = [indication.seen, *indication.tests, indication.interpreted]
    results = {r.fact.step: r.fact.outcome for r in indication.tests}
    again = "redeveloped" if q.method == Method.PT else "re-shot"
    if not basis:
        return not_recorded(f"{indication.id}: basis of the interpretation missing", "say what it rests on", used=used)
    if interpretation == Interpretation.RELEVANT:
        return passed(f"{indication.id} relevant", used=used)
    if interpretation == Interpretation.NONRELEVANT and type_ != "magnetic writing":
        if "described" not in results:
            return not_recorded(
                f"{indication.id}: called nonrelevant, its look is not described",
                "describe it and its cause",
                used=used,
            )
        return passed(f"{indication.id} nonrelevant, described", used=used)
    what, first = (
        ("magnetic writing", "demagnetised") if interpretation == Interpretation.NONRELEVANT else ("false", "wiped")
    )
    for step in (first, again):
        if step not in results:
            return not_recorded(
                f"{indication.id}: called {what}, but not {step}",
                f"{'demagnetise' if first == 'demagnetised' else 'wipe'}, look again",
                used=used,
            )
    if results[again] is None:
        return not_recorded(
            f"{indication.id}: {again}, but not said whether it came back", "say what was seen", used=used
        )
    if results[again] != "gone":
        return failed(f"{indication.id}: called {what}, but it {results[again]}", "interpret it again", used=used)
    return passed(f"{indication.id} {what}: gone after it was {again}", used=used)


@rule("D03", "Does the form of each indication agree with its length and width?", "linear_ratio")
def d03_form_agrees(q: Inquiry) -> Outcome:
    def ask(indication: Indication) -> Outcome:
        seen = indication.seen.fact
        if seen.form not in (Form.LINEAR, Form.ROUNDED):
            return not_applicable(
                f"{seen.indication}: form {seen.form or 'blank'} is neither linear nor rounded", [indication.seen]
            )
        if seen.length is None or seen.width is None:
            return not_recorded(f"{seen.indication}: length or width missing", "measure it", used=[indication.seen])
        computed = Form.LINEAR if is_linear(q, seen.length, seen.width) else Form.ROUNDED
        found = f"{seen.indication} {seen.length.typed} x {seen.width.typed} {seen.width.unit} is {computed}"
        if computed != seen.form:
            return failed(
                f"{found}, recorded as {seen.form}",
                "correct the form or the size",
                found=found,
                limit=f"linear from {q.limit('linear_ratio').typed} to 1",
                used=[indication.seen],
            )
        return passed(found, f"linear from {q.limit('linear_ratio').typed} to 1", [indication.seen])

    return each_indication(q, ask)


def is_linear(q: Inquiry, length: Number, width: Number) -> bool:
    """Length at least the stated multiple of the width, exactly."""
    return length.in_unit("in") >= q.limit("linear_ratio").value * width.in_unit("in")


@rule(
    "D04",
    "Are rounded marks in line counted as one linear indication where the group rule says so?",
    "group_count",
    "group_gap",
    "group_straightness",
    "linear_ratio",
)
def d04_group_rule(q: Inquiry) -> Outcome:
    def ask(indication: Indication) -> Outcome:
        seen = indication.seen.fact
        if seen.form in (Form.ALIGNED_GROUP, Form.CLUSTER) and not seen.marks:
            return not_recorded(
                f"{seen.indication}: positions of the marks not given",
                "place each mark on the outline",
                used=[indication.seen],
            )
        if not seen.marks:
            return not_applicable(f"{seen.indication} is a single mark", [indication.seen])
        row = longest_row(q, seen)
        limit = f"{q.limit('group_count').typed} or more in line, gaps up to {q.limit('group_gap')}"
        if row is None:
            return passed(
                f"{seen.indication}: {len(seen.marks)} marks, no row of {q.limit('group_count').typed}",
                limit,
                [indication.seen],
            )
        found = f"{seen.indication}: {len(row.members)} in line, {row.length:.4f} in over all"
        recorded = seen.length.in_unit("in") if seen.length else Fraction(0)
        if seen.form != Form.ALIGNED_GROUP and row.extent > recorded:
            return failed(
                f"{found}: counts as one linear indication",
                "record it as an aligned group with its whole length",
                found=found,
                limit=limit,
                used=[indication.seen],
            )
        return passed(found, limit, [indication.seen])

    return each_indication(q, ask)


def longest_row(q: Inquiry, seen: f.IndicationSeen) -> grouping.Group | None:
    """The longest row of rounded marks that counts as linear, or None."""
    marks = [
        grouping.Mark(m.x.in_unit("in"), m.y.in_unit("in"), m.length.in_unit("in"), m.width.in_unit("in"))
        for m in seen.marks
    ]
    groups = grouping.group_marks(
        marks,
        gap=q.limit("group_gap").in_unit("in"),
        count=int(q.limit("group_count").value),
        straightness=q.limit("group_straightness").in_unit("in"),
        ratio=q.limit("linear_ratio").value,
    )
    rows = [g for g in groups if len(g.members) > 1 and g.form == Form.LINEAR]
    return max(rows, key=lambda g: g.extent, default=None)


def length_that_counts(indication: Indication) -> Fraction:
    """The larger of the first and the second person's length, in inches; Missing when not measured."""
    seen = indication.seen.fact
    if seen.length is None:
        raise Missing(f"{seen.indication}: length missing", ["measure it"])
    lengths = [seen.length.in_unit("in")]
    lengths += [
        look.saved.fact.length.in_unit("in")
        for look in indication.second_looks
        if look.saved and look.saved.fact.length
    ]
    return max(lengths)


def limit_of(q: Inquiry, indication: Indication) -> ZoneLimit | None:
    """The limit that the zone sets for this kind of indication; None when the data hold none."""
    seen = indication.seen.fact
    zone = q.master.zone(seen.zone or "")
    if zone is None:
        raise Missing(f"{seen.indication}: zone {seen.zone} is not on the outline", ["choose a zone of the part"])
    type_ = indication.interpreted.fact.type if indication.interpreted else None
    linear = seen.form != Form.ROUNDED or longest_row(q, seen) is not None
    form = "linear" if linear else "rounded"
    fitting = [z for z in zone.limits if z.form in (form, "any") and z.discontinuity in (None, type_)]
    # the most particular limit wins: of this discontinuity first, then of this form
    fitting.sort(key=lambda z: (z.discontinuity is None, z.form == "any"))
    return fitting[0] if fitting else None


def evaluation(q: Inquiry, indication: Indication) -> tuple[str, str, ZoneLimit | None]:
    """What the zone's limit makes of an indication: evaluation word, limit in words, the limit."""
    limit = limit_of(q, indication)
    if limit is None:
        return NO_LIMIT, "no limit in data", None
    if limit.max_length is None:
        words = f"none allowed ({limit.reference})"
        if limit.blend_depth is not None:
            words = f"none allowed, blend to {limit.blend_depth} ({limit.reference})"
        return OVER, words, limit
    most, row = limit.max_length.in_unit("in"), longest_row(q, indication.seen.fact)
    over = length_that_counts(indication) > most or (row is not None and row.extent > most)
    words = f"at most {limit.max_length} {limit.form} ({limit.reference})"
    return (OVER if over else WITHIN), words, limit


@rule(
    "D05",
    "Is each relevant indication evaluated against its zone's limit?",
    "linear_ratio",
    "group_count",
    "group_gap",
    "group_straightness",
)
def d05_evaluated_against_limit(q: Inquiry) -> Outcome:
    def ask(indication: Indication) -> Outcome:
        used = [
            indication.seen,
            indication.interpreted,
            indication.evaluated,
            *(look.saved for look in indication.second_looks),
        ]
        word, limit, _ = evaluation(q, indication)
        found = f"{indication.id} {shown(length_that_counts(indication), 'in')}, {word}"
        if word == NO_LIMIT:
            return not_recorded(
                f"{indication.id}: no limit for zone {indication.seen.fact.zone}", "hold for engineering", used=used
            )
        if indication.evaluated is None:
            return not_recorded(f"{indication.id}: not evaluated", "confirm the evaluation", used=used)
        if indication.evaluated.fact.evaluation != word:
            return failed(
                f"{indication.id}: recorded as {indication.evaluated.fact.evaluation}, its size says {word}",
                "evaluate again",
                found=found,
                limit=limit,
                used=used,
            )
        return passed(found, limit, used)

    return each_indication(q, ask, [i for i in q.indications if i.relevant])


@rule("D06", "Class 1, relevant: is there a photograph with scale and readable tag, and a second look?")
def d06_photograph_and_second_look(q: Inquiry) -> Outcome:
    if not is_class_one(q):
        return not_applicable(f"part master: {q.master.number} is class {q.master.item_class}")

    def ask(indication: Indication) -> Outcome:
        photos = indication.photos
        if not photos:
            return not_recorded(
                f"{indication.id}: no photograph", "photograph it with scale and tag", used=[indication.seen]
            )
        if not any(p.fact.scale_in_frame and p.fact.tag_in_frame in ("read", "seen by person") for p in photos):
            return not_recorded(
                f"{indication.id}: no photograph with scale and readable tag", "photograph it again", used=photos
            )
        if not any(look.saved for look in indication.second_looks):
            return not_yet(f"{indication.id}: no second look yet", "call the second inspector", used=photos)
        return passed(f"{indication.id}: {len(photos)} photograph(s), second look saved", used=photos)

    return each_indication(q, ask, [i for i in q.indications if i.relevant])


def is_class_one(q: Inquiry) -> bool:
    return q.master.item_class == 1


def dispositions(q: Inquiry) -> set[str]:
    """The words being signed, or signed already."""
    words = {q.disposition} if q.disposition else set()
    return words | {child.disposition for child in q.children}


def needs_second_look(q: Inquiry, indication: Indication) -> bool:
    """By the procedure's list: class and interpretation, and what carries a reject or a rework order."""
    listed = q.procedure.second_person_for
    call = indication.interpreted.fact.interpretation if indication.interpreted else Interpretation.RELEVANT
    if f"class {q.master.item_class} {call}" in listed:
        return True
    words = dispositions(q)
    carries = call == Interpretation.RELEVANT
    return carries and (
        ("reject" in listed and Disposition.REJECT in words)
        or ("rework order" in listed and Disposition.REWORK in words)
    )


@rule(
    "D07",
    "Has everything that needs a second person a blind second look by another qualified person?",
    "second_look_on_clean_percent",
    *STANDING_KEYS,
)
def d07_second_look(q: Inquiry) -> Outcome:
    outcomes = [
        second_look_outcome(q, i.id, i.second_looks, q.master.item_class)
        for i in q.indications
        if needs_second_look(q, i)
    ]
    if q.opened.fact.reason == "rework" and "rework closing" in q.procedure.second_person_for:
        whole = tuple(look for look in q.second_looks if look.view.started.fact.indication is None)
        outcomes.append(second_look_outcome(q, "closing of the rework", whole, q.master.item_class))
    elif (
        is_class_one(q) and not q.indications and is_drawn(q.inspection, q.limit("second_look_on_clean_percent").value)
    ):
        whole = tuple(look for look in q.second_looks if look.view.started.fact.indication is None)
        outcomes.append(second_look_outcome(q, "drawn for a look at a clean part", whole, q.master.item_class))
    if not outcomes:
        return not_applicable(f"procedure {q.procedure.name} asks for no second person here")
    return worst(outcomes)


def second_look_outcome(q: Inquiry, what: str, looks: tuple[SecondLook, ...], item_class: int) -> Outcome:
    """The best of the second looks at one thing."""
    found = [one_look_outcome(q, what, look) for look in looks]
    for verdict in ("PASS", "FAIL"):
        for outcome in found:
            if outcome.verdict == verdict:
                return outcome
    if found:
        return found[-1]
    return not_yet(f"{what}: second look missing (class {item_class})", "call a second inspector", used=())


def one_look_outcome(q: Inquiry, what: str, look: SecondLook) -> Outcome:
    """Another person, qualified on the day, blind, under a lamp that stands."""
    person, first = look.view.person, {view.person for view in q.all_views if view.started.fact.kind != "second look"}
    used = [*look.view.used, look.saved]
    if person in first:
        return failed(
            f"{what}: {person} viewed this part and cannot be its second person",
            "another qualified person must look",
            used=used,
        )
    if look.saved is None:
        return not_yet(f"{look.id}: not saved yet", "save the result", used=used)
    if not look.saved.fact.blind:
        return failed(f"{look.id}: the first result was shown before it was saved", "another blind look", used=used)
    for qualified in (
        certified(q, person, DECIDING_LEVEL, look.view.start.local.date()),
        vision_outcome(q.facts, person, look.view.start),
    ):
        if qualified.verdict != "PASS":
            return qualified
    if not second_look_stands(q, look.view):
        return not_yet(
            f"{look.id} was made under {'+'.join(look.view.lamps)}, which is not relied on: look again",
            "repeat the second look",
            used=used,
        )
    return passed(f"{what}: {look.id} by {person}", used=used)


@rule(
    "D08",
    "Is every disagreement between first and second look resolved by a Level III?",
    "size_agreement",
    "size_agreement_share",
    *STANDING_KEYS,
)
def d08_disagreement_resolved(q: Inquiry) -> Outcome:
    outcomes = []
    for indication in q.indications:
        for look in indication.second_looks:
            if look.saved and second_look_stands(q, look.view):
                outcomes.append(agreement_outcome(q, indication, look))
    for look in q.second_looks:
        if look.view.started.fact.indication is None and look.saved and second_look_stands(q, look.view):
            outcomes.append(whole_part_outcome(q, look.id, look.saved))
    return worst(outcomes) if outcomes else not_applicable("no second look on this record")


def whole_part_outcome(q: Inquiry, look: str, saved: Recorded[f.SecondLookSaved]) -> Outcome:
    """A second look at the whole part: both saw something, or both nothing, or a Level III decided."""
    if bool(saved.fact.none_seen) == (not q.indications):
        return passed(f"{look} agrees", used=[saved])
    resolved = [r for r in q.facts.of(f.DisagreementResolved, q.inspection) if r.fact.indication is None]
    if resolved:
        return passed(f"{look}: resolved by {resolved[-1].fact.person}", used=[saved, resolved[-1]])
    return not_recorded(f"{look} disagrees with the first result", "Level III decides", used=[saved])


def agreement_outcome(q: Inquiry, indication: Indication, look: SecondLook) -> Outcome:
    """Same interpretation, and sizes within the stated difference or share of the larger."""
    assert look.saved is not None
    second, seen, call = look.saved.fact, indication.seen.fact, indication.interpreted
    used = [indication.seen, call, look.saved]
    says = []
    if call is not None and second.interpretation is not None and second.interpretation != call.fact.interpretation:
        says.append(f"{call.fact.interpretation} against {second.interpretation}")
    if second.form is not None and seen.form is not None and second.form != seen.form:
        says.append(f"{seen.form} against {second.form}")
    limit = f"within {q.limit('size_agreement')} or {q.limit('size_agreement_share')} of the larger"
    if seen.length is not None and second.length is not None:
        mine, theirs = seen.length.in_unit("in"), second.length.in_unit("in")
        allowed = max(
            q.limit("size_agreement").in_unit("in"), q.limit("size_agreement_share").value / PERCENT * max(mine, theirs)
        )
        if abs(mine - theirs) > allowed:
            says.append(f"{seen.length} against {second.length}")
    if not says:
        return passed(f"{indication.id}: {look.id} agrees", limit, used)
    if indication.resolved is not None:
        return passed(
            f"{indication.id}: resolved by {indication.resolved.fact.person}", limit, [*used, indication.resolved]
        )
    return not_recorded(
        f"{indication.id}: {look.id} disagrees ({'; '.join(says)}): waiting for the Level III",
        "Level III decides",
        used=used,
    )


@rule("D09", "Reject: is there a second look, and is the part scanned into quarantine?", *STANDING_KEYS)
def d09_reject_quarantined(q: Inquiry) -> Outcome:
    if Disposition.REJECT not in dispositions(q):
        return not_applicable("nothing on this record is rejected")
    outcomes = []
    pieces = [child.piece for child in q.children if child.disposition == Disposition.REJECT] or [None]
    for piece in pieces:
        seen = [i for i in q.indications if i.relevant and (piece is None or i.seen.fact.piece == piece)]
        if not seen:
            outcomes.append(not_recorded(f"{piece or q.part}: no relevant indication carries the reject", "record it"))
            continue
        outcomes.append(worst(second_look_outcome(q, i.id, i.second_looks, q.master.item_class) for i in seen))
        scans = [
            r
            for r in q.facts.of(f.PartMoved, q.part)
            if r.fact.place == "quarantine" and (piece is None or r.fact.piece == piece)
        ]
        scans = [r for r in scans if r.at >= seen[0].seen.at]
        if scans:
            outcomes.append(passed(f"{piece or 'part'} in quarantine {scans[-1].when.clock()}", used=[scans[-1]]))
        else:
            outcomes.append(
                not_recorded(
                    f"{piece or 'the part'} not scanned into quarantine",
                    "put it into the quarantine cage, scan it there",
                )
            )
    return worst(outcomes)


def rework_of(q: Inquiry) -> tuple[Recorded[f.ReworkOrdered], Recorded[f.ReworkDone] | None] | None:
    """The rework that this record ordered, or that it re-inspects; with its completion if recorded."""
    inspection = q.opened.fact.previous if q.opened.fact.reason == "rework" else q.inspection
    ordered = [r for r in q.facts.of(f.ReworkOrdered, q.part) if r.fact.inspection == inspection]
    if not ordered:
        return None
    done = [r for r in q.facts.of(f.ReworkDone, q.part) if r.fact.inspection == inspection]
    return ordered[-1], done[-1] if done else None


def no_rework(q: Inquiry) -> Outcome:
    """Nothing to ask of a record without rework; a re-inspection after a rework that nobody recorded closes nothing."""
    if q.opened.fact.reason == "rework":
        says = f"opened as re-inspection after rework of {q.opened.fact.previous or 'no record named'}: no rework ordered there"
        return not_recorded(says, "order the rework, measure, inspect again", used=[q.opened])
    return not_applicable("no rework ordered on this record")


@rule(
    "D10",
    "Rework: is the depth, alone and over the part's life, within its limit, and the remaining dimension within the column chosen?",
)
def d10_rework_within_limits(q: Inquiry) -> Outcome:
    rework = rework_of(q)
    if rework is None:
        return no_rework(q)
    ordered, done = rework
    if done is None:
        return not_yet("rework not completed", "complete it and measure", used=[ordered])
    if done.fact.depth is None or not done.fact.dimensions:
        return not_recorded("depth or remaining dimension not measured", "measure both", used=[ordered, done])
    zone = q.master.zone(done.fact.zone)
    depths = [z.blend_depth for z in zone.limits if z.blend_depth is not None] if zone else []
    if not depths:
        return not_recorded(f"zone {done.fact.zone}: no blend depth in the data", "hold for engineering", used=[done])
    limit = depths[0]
    life = [r for r in q.facts.of(f.ReworkDone, q.part) if r.fact.zone == done.fact.zone]
    total = sum((r.fact.depth.in_unit("in") for r in life if r.fact.depth), Fraction(0))
    outcomes = [dimension_outcome(q, done, dimension) for dimension in done.fact.dimensions]
    found = f"depth {shown(total, 'in')} over {len(life)} rework(s)"
    if total > limit.in_unit("in"):
        outcomes.append(
            failed(
                f"{found} is more than {limit}",
                "reject",
                "hold for engineering",
                found=found,
                limit=f"at most {limit}",
                used=life,
            )
        )
    elif any(r.fact.depth is None for r in life):
        outcomes.append(not_recorded(f"{found}, not all of them measured", "measure the earlier one", used=life))
    else:
        outcomes.append(passed(found, f"at most {limit}", life))
    return worst(outcomes)


def dimension_outcome(q: Inquiry, done: Recorded[f.ReworkDone], dimension: f.Dimension) -> Outcome:
    """The remaining dimension against the limit column that the work order chose."""
    orders = q.facts.of(f.WorkOrderOpened, q.opened.fact.work_order)
    if not orders:
        raise Missing("limits basis of the work order not recorded", ["choose new or service limits"])
    column = orders[-1].fact.limits_basis
    limit = {"new limits": dimension.new_limit, "service limits": dimension.service_limit}.get(column)
    if limit is None:
        return not_recorded(f"{dimension.name}: no limit in the column {column}", "enter it", used=[done])
    found = f"{dimension.name} {dimension.value}"
    if dimension.value.in_unit("in") < limit.in_unit("in"):
        return failed(
            f"{found} is under {limit} ({column})",
            "reject",
            "hold for engineering",
            found=found,
            limit=f"at least {limit} ({column})",
            used=[done],
        )
    return passed(found, f"at least {limit} ({column})", [done])


@rule("D11", "Rework: is it closed by a re-inspection that started after it, by the same method, of the whole zone?")
def d11_reinspected_after_rework(q: Inquiry) -> Outcome:
    rework = rework_of(q)
    if rework is None:
        return no_rework(q)
    ordered, done = rework
    again = [
        r
        for r in q.facts.of(f.InspectionOpened, q.part)
        if r.fact.previous == ordered.fact.inspection and r.fact.method == q.method
    ]
    if done is None:
        if again:
            return not_recorded(
                f"{again[0].fact.inspection} opened, completion of the rework not recorded",
                "record depth and time",
                used=again,
            )
        return not_yet("rework not completed", "complete it, then inspect again", used=[ordered])
    if not again:
        return not_yet("not inspected again after the rework", "inspect the whole zone again", used=[done])
    start, end = again[-1].when, done.when
    found = f"{again[-1].fact.inspection} began {start.clock()}, rework ended {end.clock()}"
    if start.at <= end.at:
        return failed(
            f"{found}: the look came before the end of the rework", "inspect again", found=found, used=[done, again[-1]]
        )
    if ordered.fact.zone not in q.technique.zones:
        return failed(
            f"{q.technique.name} does not cover zone {ordered.fact.zone}",
            "inspect the zone with a technique that covers it",
            found=found,
            used=[done, again[-1]],
        )
    return passed(found, "after the rework", [done, again[-1]])


@rule(
    "D12",
    "Accept: is every indication closed, none of them over its limit?",
    "linear_ratio",
    "group_count",
    "group_gap",
    "group_straightness",
)
def d12_nothing_open(q: Inquiry) -> Outcome:
    words = dispositions(q)
    if words and not words & {Disposition.ACCEPT, "SPLIT"}:
        return not_applicable("the record is not accepted")
    taken_out = {child.piece for child in q.children if child.disposition != Disposition.ACCEPT}

    def ask(indication: Indication) -> Outcome:
        if indication.interpreted is None:
            return not_recorded(f"{indication.id} is open", "interpret it", used=[indication.seen])
        if not indication.relevant or (indication.seen.fact.piece and indication.seen.fact.piece in taken_out):
            return passed(f"{indication.id} closed", used=[indication.seen, indication.interpreted])
        word, limit, _ = evaluation(q, indication)
        if word == WITHIN:
            return passed(f"{indication.id} {word}", limit, [indication.seen, indication.evaluated])
        if q.concession and not is_crack_type(indication.interpreted.fact.type):
            return passed(
                f"{indication.id} {word}, conceded: {q.concession}", limit, [indication.seen, indication.evaluated]
            )
        if word == NO_LIMIT:
            return not_recorded(
                f"{indication.id}: no limit in the data", "hold for engineering", used=[indication.seen]
            )
        return failed(
            f"{indication.id} is over its limit: {limit}",
            "rework",
            "reject",
            "hold for engineering",
            found=word,
            limit=limit,
            used=[indication.seen],
        )

    if not q.indications:
        return passed("no indication recorded")
    return each_indication(q, ask)


@rule("D13", "Is the decider the last viewer or a Level III, and not the one who reworked it?")
def d13_decider(q: Inquiry) -> Outcome:
    decider = q.decider
    if decider is None:
        return not_yet("nobody has signed yet", "the viewer signs")
    reworkers = [r for r in q.facts.of(f.ReworkDone, q.part) if r.fact.person == decider]
    if reworkers:
        return failed(f"{decider} reworked this part", "another inspector decides", used=reworkers)
    views = q.need_views()
    if views[-1].person == decider:
        return passed(f"{decider} viewed it last", used=views[-1].used)
    held = q.certificate(decider, (q.decided or q.asked).local.date())
    if held is not None and held.fact.level >= LEVEL_THREE:
        return passed(f"{decider} is Level III", used=[held])
    return failed(
        f"{decider} did not view it last ({views[-1].person} did)",
        "the last viewer or a Level III decides",
        used=views[-1].used,
    )


@rule("D14", "Release from engineering hold: is there an engineering reference with revision and person?")
def d14_hold_release(q: Inquiry) -> Outcome:
    signed = q.facts.of(f.DecisionSigned, q.inspection)
    held = [r for r in signed if r.fact.disposition == Disposition.HOLD_ENG]
    released = held and (
        q.disposition not in (None, Disposition.HOLD_ENG) or signed[-1].fact.disposition != Disposition.HOLD_ENG
    )
    if not released:
        return not_applicable("the record is not released from an engineering hold")
    concession = signed[-1].fact.concession or q.concession
    if not concession:
        return not_recorded("no engineering reference", "get number, revision and person", used=held)
    return passed(concession, used=held)


@rule("D17", "Is no indication at the place of one on the same serial's last visit?", "same_place_angle")
def d17_same_place(q: Inquiry) -> Outcome:
    listed = q.facts.of(f.PartListed, q.part)
    serial = listed[-1].fact.serial if listed else None
    earlier = [
        r for r in q.facts.of(f.PastInspection, q.master.number) if serial and r.fact.serial == serial and r.fact.zone
    ]
    if not earlier:
        return not_applicable("no earlier visit of this serial in the book")

    def ask(indication: Indication) -> Outcome:
        seen = indication.seen.fact
        for past in earlier:
            if past.fact.zone == seen.zone and same_angle(q, seen.clock, past.fact.clock):
                return failed(
                    f"{seen.indication}: same place as on {past.fact.work_order} ({past.when.local.date()})",
                    "tell engineering",
                    used=[indication.seen, past],
                )
        return passed(f"{seen.indication}: nothing there before", used=[indication.seen])

    return each_indication(q, ask)


def same_angle(q: Inquiry, one: Number | None, other: Number | None) -> bool:
    """Within the stated angle on the clock ring; unknown angles count as the same place."""
    if one is None or other is None:
        return True
    apart = abs(one.in_unit("deg") - other.in_unit("deg")) % FULL_TURN_DEG
    return min(apart, FULL_TURN_DEG - apart) <= q.limit("same_place_angle").in_unit("deg")


@rule(
    "D19",
    "Are there fewer crack-type findings in one zone of this part number than raise an alert?",
    "alert_count",
    "alert_window",
    scope="history",
)
def d19_alert(q: Inquiry) -> Outcome:
    window = q.minutes("alert_window")
    zones = {
        i.seen.fact.zone
        for i in q.indications
        if i.relevant and i.interpreted and is_crack_type(i.interpreted.fact.type)
    }
    if not zones:
        return not_applicable("no crack-type indication on this record")
    outcomes = []
    for zone in sorted(z for z in zones if z):
        past = [
            r
            for r in q.facts.of(f.PastInspection, q.master.number)
            if r.fact.zone == zone and is_crack_type(r.fact.type)
        ]
        recent = [r for r in past if q.asked.at - r.at <= window]
        total = len(recent) + 1
        found = f"{total} crack-type finding(s) at {zone} in {days_text(window)}; {len(past) + 1} in all"
        limit = f"alert at {q.limit('alert_count').typed}"
        if total >= q.limit("alert_count").value:
            outcomes.append(failed(found, "tell engineering", found=found, limit=limit, used=past))
        else:
            outcomes.append(passed(found, limit, past))
    return worst(outcomes)


def days_text(window: timedelta) -> str:
    return f"{window.days} days"
