"""The second person: what needs one, whether the look stands, whether the two agree (D07 to D09)."""

from __future__ import annotations

from ndi.domain import facts as f
from ndi.domain.draw import is_drawn
from ndi.domain.entry import Recorded
from ndi.domain.outcome import Outcome, failed, not_applicable, not_recorded, not_yet, passed, worst
from ndi.domain.quantity import PERCENT
from ndi.domain.vocabulary import DECIDING_LEVEL, Disposition, Interpretation
from ndi.rules.authority import certified, vision_outcome
from ndi.rules.indications import dispositions, is_class_one
from ndi.rules.inquiry import Indication, Inquiry, SecondLook
from ndi.rules.light import second_look_stands
from ndi.rules.record import STANDING_KEYS
from ndi.rules.registry import rule


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
    version=2,
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
    version=3,
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
    says = ["the second person saw nothing there"] if second.none_seen else []
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


@rule("D09", "Reject: is there a second look, and is the part scanned into quarantine?", *STANDING_KEYS, version=2)
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
