"""Indications: described, interpreted, measured, grouped, evaluated, photographed (D01 to D06).

Interpretation (what is it) and evaluation (is it allowed) are two questions
with separate evidence.  The largest of the lengths that two people measured
and that photographs show counts.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from ndi.calc import grouping
from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.outcome import Missing, Outcome, failed, not_applicable, not_recorded, not_yet, passed, worst
from ndi.domain.procedure import ZoneLimit
from ndi.domain.quantity import Number, shown
from ndi.domain.vocabulary import Form, Interpretation, Method
from ndi.rules.inquiry import Indication, Inquiry
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
    """The largest of the first and the second person's length and those on photographs, in inches; Missing when not measured."""
    seen = indication.seen.fact
    if seen.length is None:
        raise Missing(f"{seen.indication}: length missing", ["measure it"])
    lengths = [seen.length.in_unit("in")]
    lengths += [
        look.saved.fact.length.in_unit("in")
        for look in indication.second_looks
        if look.saved and look.saved.fact.length
    ]
    lengths += [measured.fact.length_mm.in_unit("in") for measured in indication.measured]
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
    version=2,
)
def d05_evaluated_against_limit(q: Inquiry) -> Outcome:
    def ask(indication: Indication) -> Outcome:
        used = [
            indication.seen,
            indication.interpreted,
            indication.evaluated,
            *(look.saved for look in indication.second_looks),
            *indication.measured,
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
        photos = [p for p in indication.photos if p.fact.sha256 not in q.lost_photographs]
        if indication.photos and not photos:
            return not_recorded(
                f"{indication.id}: the file of its photograph is missing or not what it was",
                "bring it back from a backup",
                "photograph it again",
                used=indication.photos,
            )
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
