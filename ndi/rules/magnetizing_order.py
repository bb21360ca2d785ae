"""What comes between, before and after the shots: views, demagnetising, contacts, trapped parts, lots on a bar, the re-shot (M17, M18, M25, M32 to M34, M37)."""

from __future__ import annotations

from itertools import pairwise

from ndi.domain import facts as f
from ndi.domain import ticks
from ndi.domain.outcome import Outcome, failed, not_applicable, not_recorded, passed, worst
from ndi.domain.procedure import NominalShot
from ndi.domain.vocabulary import Disposition, ShotKind
from ndi.rules.inquiry import Indication, Inquiry, Shot
from ndi.rules.magnetization import (
    CONTACT_KINDS,
    SHOOT_AGAIN,
    each_shot,
    is_after,
    need_nominals,
    nominal_name,
    nominal_of,
    tick_outcome,
)
from ndi.rules.registry import rule
from ndi.rules.wet_bath import shot_name


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
