"""Identity, authority, order (G01 to G16), as asked of one inspection record.

Whether the evidence of the record is whole and in order is asked in ``evidence``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from ndi.calc import serial_guard
from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.fact_set import FactSet
from ndi.domain.moment import Moment
from ndi.domain.outcome import Missing, Outcome, failed, not_applicable, not_recorded, passed, worst
from ndi.domain.procedure import RequiredMethod, Zone
from ndi.domain.ticks import CLEAN, CLEANING_STARTED, CO_SIGNED, DRY, PLUGGED, PRE_CLEAN_VISUAL
from ndi.domain.vocabulary import DECIDING_LEVEL, PROCESSING_LEVEL, SPLIT, Disposition, Method
from ndi.rules.inquiry import Inquiry
from ndi.rules.light import looks_relied_on
from ndi.rules.record import (
    STANDING_KEYS,
    baskets,
    doer,
    first_process_step,
    first_step,
    need_first_step,
    processing,
    signed,
    ticked_before,
    ticks,
)
from ndi.rules.registry import rule

NO_SERIAL_WORDS = ("n/a", "na", "none", "nil", "-")  # written where a serial number belongs
TRAINEE = "trainee"

# --- identity -------------------------------------------------------------------------------------


def listed(q: Inquiry) -> Recorded[f.PartListed]:
    """The part's line of its receiving list; Missing if there is none."""
    lines = q.facts.of(f.PartListed, q.part)
    if not lines:
        raise Missing(f"{q.part} is on no receiving list", ["receive the part"])
    return lines[-1]


def received(q: Inquiry) -> Recorded[f.PartReceived]:
    """The latest identification of the part on the floor; Missing if there is none."""
    found = q.facts.of(f.PartReceived, q.part)
    if not found:
        raise Missing(f"{q.part} was not identified at receiving", ["scan the tag and count"])
    return found[-1]


def identified(arrival: Recorded[f.PartReceived]) -> Outcome:
    """Whether a receipt rests on a scan or on typing twice."""
    if arrival.fact.scanned or arrival.fact.typed_twice:
        return passed("scanned" if arrival.fact.scanned else "typed twice", "scan, or typed twice", [arrival])
    return not_recorded("identity typed once, never scanned", "scan the tag", "type it again", used=[arrival])


@rule("G01", "Is the identified part number on the work order, and is the technique written for it?")
def g01_part_number_fits_technique(q: Inquiry) -> Outcome:
    line, arrival = listed(q), received(q)
    number, order = line.fact.part_no, q.opened.fact.work_order
    if line.fact.work_order != order:
        return failed(
            f"{q.part} is listed under {line.fact.work_order}, this record is of {order}",
            "open the record under its own work order",
            used=[line, q.opened],
        )
    fits = ", ".join(q.technique.applies_to)
    if number not in q.technique.applies_to:
        return failed(
            f"{q.technique.name} is not written for {number}",
            "choose the technique of this part",
            "ask the Level III",
            found=number,
            limit=fits,
            used=[line],
        )
    return worst([passed(number, fits, [line, arrival]), identified(arrival)])


@rule("G02", "Was this very serial number identified on the work order?")
def g02_serial_identified(q: Inquiry) -> Outcome:
    if not q.master.serialised:
        return not_applicable(f"part master: {q.master.number} has no serial numbers")
    line = listed(q)
    serial = (line.fact.serial or "").strip()
    if not serial or serial.lower() in NO_SERIAL_WORDS:
        return not_recorded(
            f"{q.master.number} is serialised, no serial number given", "read the number on the part", used=[line]
        )
    return worst([passed(serial, used=[line]), identified(received(q))])


def serial_outcome(typed: str, known: Sequence[str]) -> Outcome:
    """A serial number as scanned or typed against those of the work order; the nearest are named."""
    if not typed.strip() or typed.strip().lower() in NO_SERIAL_WORDS:
        return not_recorded("no serial number given", "read the number on the part")
    if not known:
        return not_recorded("the work order lists no serial number", "complete the receiving list")
    if typed in known:
        return passed(typed)
    nearest = [
        f"{serial} ({serial_guard.difference(typed, serial)}, distance {edits})"
        for serial, edits in serial_guard.near(typed, known)
    ]
    hint = f"nearest {', '.join(nearest)}" if nearest else "none of its numbers is near"
    return failed(
        f"{typed} is not on the work order; {hint}",
        "read the number on the part again",
        found=typed,
        limit="a serial number of the work order",
    )


def one_piece(q: Inquiry) -> Outcome:
    """A serialised piece is no lot; a record or receipt of it that counts other than one is about something else."""
    arrival = q.facts.last(f.PartReceived, q.part)
    for counted, recorded in ((q.opened.fact.quantity, q.opened), (arrival.fact.quantity if arrival else 1, arrival)):
        if counted != 1:
            says = f"{counted} pieces under one serial number"
            return failed(
                says, "count again", "one record for each serial number", found=f"{counted}", limit="1", used=[recorded]
            )
    return not_applicable(f"part master: {q.master.number} is serialised, not a lot")


@rule("G03", "Does the lot's count agree from receipt to disposition?")
def g03_lot_adds_up(q: Inquiry) -> Outcome:
    if q.master.serialised:
        return one_piece(q)
    arrival, inside = received(q), q.opened.fact.quantity
    if arrival.fact.quantity != inside:
        return failed(
            f"{arrival.fact.quantity} received, {inside} in this record",
            "count again",
            "report what is missing",
            found=f"{inside}",
            limit=f"{arrival.fact.quantity} received",
            used=[arrival, q.opened],
        )
    last = signed(q)
    children = last.fact.children if last else q.children
    split = (last.fact.disposition if last else q.disposition) == SPLIT
    if split and not children:
        return not_recorded("lot split without counts", "count each share", used=[last, q.opened])
    total = sum(child.quantity for child in children)
    if children and total != inside:
        shares = " + ".join(f"{child.quantity} {child.disposition}" for child in children)
        return failed(
            f"{inside} in, {total} out",
            "count again",
            "report what is missing",
            found=f"{shares} = {total}",
            limit=f"{inside}",
            used=[q.opened, last],
        )
    return passed(f"{inside} in", f"{arrival.fact.quantity} received", [arrival, q.opened, last])


@rule("G04", "Can this method find cracks in the material of every zone?")
def g04_material_fits_method(q: Inquiry) -> Outcome:
    zones = {zone.code: zone for zone in q.master.zones}
    return material_outcome(zones, q.method, q.technique.zones, q.master.required)


def material_outcome(
    zones_by_code: Mapping[str, Zone], method: str, zone_codes: Sequence[str], required: Sequence[RequiredMethod] = ()
) -> Outcome:
    """Whether a method suits the material of zones.

    MT needs ferromagnetic material.  PT on it is refused only where ``required``
    (of the part master) asks MT and not PT of that zone.
    """
    if not zone_codes:
        return not_recorded("no zones named for this part", "Level III: complete technique and part master")

    def ask(code: str) -> Outcome:
        zone = zones_by_code.get(code)
        if zone is None or not zone.material:
            return not_recorded(
                f"material of zone {code} is not in the part master", "Level III: complete the part master"
            )
        found = f"{code} {zone.material}"
        if method == Method.MT and not zone.ferromagnetic:
            return failed(
                f"zone {code} is {zone.material}: MT cannot be used on it",
                "inspect it by PT",
                "leave the zone out",
                found=found,
                limit="ferromagnetic",
            )
        asked_of_zone = {line.method for line in required if code in line.zones}
        if method == Method.PT and zone.ferromagnetic and Method.MT in asked_of_zone and Method.PT not in asked_of_zone:
            return failed(
                f"zone {code} is {zone.material}: the part master asks MT of it, not PT",
                "inspect it by MT",
                found=found,
                limit=Method.MT,
            )
        return passed(found)

    return worst(ask(code) for code in zone_codes)


@rule("G05", "Has every required zone group an accepted inspection by its method?", scope="part")
def g05_every_method_accepted(q: Inquiry) -> Outcome:
    if not q.master.required:
        raise Missing(
            f"part master {q.master.number} names no required method", ["Level III: complete the part master"]
        )
    lines = q.facts.of(f.PartListed, q.part)
    name = (lines[-1].fact.serial or lines[-1].fact.lot if lines else None) or q.part
    outcomes = [line_outcome(q, line) for line in q.master.required]
    every = worst(outcomes)
    done = [outcome.found for outcome in outcomes if outcome.found and outcome.verdict == "PASS"]
    open_lines = [outcome.says for outcome in outcomes if outcome.verdict != "PASS"]
    if not open_lines:
        return Outcome(every.verdict, f"{name}: {', '.join(done)}", facts=every.facts)
    return Outcome(
        every.verdict, ", ".join(done), "", f"{name}: {', '.join([*done, *open_lines])}", every.ways_out, every.facts
    )


def line_outcome(q: Inquiry, line: RequiredMethod) -> Outcome:
    """One required (zone group, method): where its latest inspection of this part stands."""
    label = f"{line.group} {line.method}"
    opened = [
        r
        for r in q.facts.of(f.InspectionOpened, q.part)
        if (r.fact.method, r.fact.technique) == (line.method, line.technique)
    ]
    if not opened:
        return not_recorded(f"{label} not recorded", f"inspect by {line.technique}")
    last = opened[-1]
    record = last.fact.inspection
    decisions = q.facts.of(f.DecisionSigned, record)
    decision = decisions[-1] if decisions else None
    if decision is None or decision.fact.disposition == Disposition.NO_DECISION:
        return not_recorded(f"{label} not decided ({record})", f"finish {record}", used=[last, decision])
    undone = [r for r in q.facts.of(f.DecisionUndone, record) if r.position > decision.position]
    if undone:
        return not_recorded(
            f"{label} to be signed again ({record})", f"sign {record} again", used=[last, decision, *undone]
        )
    overlay = [
        *(
            r
            for r in q.facts.of(f.AcceptanceSuspended, record)
            if r.position > decision.position and not r.fact.claim_only
        ),
        *(r for r in q.facts.of(f.AcceptanceRestored, record) if r.position > decision.position),
    ]
    newest = max(overlay, key=lambda r: r.position, default=None)
    if newest is not None and isinstance(newest.fact, f.AcceptanceSuspended):
        return failed(f"{label} suspended ({record})", f"view or process {record} again", used=[last, decision, newest])
    words = [child.disposition for child in decision.fact.children] or [decision.fact.disposition]
    if Disposition.ACCEPT not in words:
        return failed(
            f"{label} {', '.join(dict.fromkeys(words))} ({record})", f"settle {record} first", used=[last, decision]
        )
    return passed(f"{label} done", used=[last, decision])


# --- documents ------------------------------------------------------------------------------------


@rule("G06", "Was the pinned procedure revision the one in force at the first step?")
def g06_revision_in_force(q: Inquiry) -> Outcome:
    first, pinned = need_first_step(q), q.procedure
    day = first.when.local.date()
    used = [q.opened, first]
    if pinned.revision != q.opened.fact.procedure_revision or pinned.number != q.opened.fact.procedure:
        return failed(
            f"record pins {q.opened.fact.procedure} Rev {q.opened.fact.procedure_revision}, asked with {pinned.name}",
            "ask with the pinned revision",
            used=used,
        )
    if day < pinned.effective_from:
        return failed(
            f"{pinned.name} takes effect only on {pinned.effective_from}",
            "work again to the revision in force",
            found=f"{day}",
            used=used,
        )
    begun = [r for r in (pinned, *q.newer_revisions) if r.effective_from <= day]
    newest = max(begun, key=lambda r: r.effective_from)  # the pinned one comes first where two begin on one day
    if newest.effective_from > pinned.effective_from:
        return failed(
            f"worked to {pinned.name} on {day}; Rev {newest.revision} has been in force since {newest.effective_from}",
            "work again to the revision in force",
            "Level III: note on equivalence",
            found=pinned.name,
            limit=newest.name,
            used=used,
        )
    if pinned.effective_to is not None and day > pinned.effective_to:
        return failed(
            f"{pinned.name} ended on {pinned.effective_to}",
            "work again to the revision in force",
            found=f"{day}",
            used=used,
        )
    return passed(f"{pinned.name} on {day}", f"in force from {pinned.effective_from}", used)


@rule("G07", "Is the technique approved, in force, and written under this procedure?")
def g07_technique_approved(q: Inquiry) -> Outcome:
    first, sheet, pinned = need_first_step(q), q.technique, q.opened.fact
    day = first.when.local.date()
    used = [q.opened, first]
    if (sheet.number, sheet.revision) != (pinned.technique, pinned.technique_revision):
        return failed(
            f"record pins {pinned.technique} Rev {pinned.technique_revision}, not {sheet.name}",
            "ask with the pinned technique",
            used=used,
        )
    if not sheet.approved_by.strip():
        return not_recorded(f"{sheet.name}: no approval on it", "Level III: approve the technique", used=used)
    if sheet.procedure != q.procedure.number:
        return failed(
            f"{sheet.name} is written under {sheet.procedure}, not {q.procedure.number}",
            "choose a technique of this procedure",
            found=sheet.procedure,
            limit=q.procedure.number,
            used=used,
        )
    if day < sheet.effective_from:
        return failed(
            f"{sheet.name} takes effect only on {sheet.effective_from}", "ask the Level III", found=f"{day}", used=used
        )
    return passed(f"{sheet.name}, approved by {sheet.approved_by}", f"in force from {sheet.effective_from}", used)


@rule("G08", "Is every directive and bulletin line of the work order answered?")
def g08_directives_answered(q: Inquiry) -> Outcome:
    order, decision = q.opened.fact.work_order, signed(q)
    lists = [r for r in q.facts.of(f.DirectivesConfirmed, order) if decision is None or r.at <= decision.at]
    if not lists:
        return not_recorded(f"{order}: list of directives never confirmed", "draw up the list, even if it is empty")
    last = lists[-1]
    unanswered = [line for line in last.fact.lines if line not in last.fact.answered]
    if unanswered:
        return not_recorded(f"directives not answered: {'; '.join(unanswered)}", "answer them", used=[last])
    return passed(f"{len(last.fact.lines)} lines answered", used=[last])


# --- condition of the part ------------------------------------------------------------------------


@rule("G09", "Was the part looked at before cleaning began?")
def g09_visual_before_cleaning(q: Inquiry) -> Outcome:
    looked = ticks(q, PRE_CLEAN_VISUAL.item, [q.part])
    started = ticks(q, CLEANING_STARTED.item, [q.part])
    if looked and not started:
        return not_recorded("start of cleaning not recorded", "scan the start of cleaning", used=looked)
    first = started[0] if started else None
    return ticked_before(looked, PRE_CLEAN_VISUAL.item, first, "cleaning", "ask the Level III for a note")


@rule("G10", "Was the part clean, dry and plugged before its first step?")
def g10_clean_dry_plugged(q: Inquiry) -> Outcome:
    keys, first = [q.inspection, *baskets(q)[-1:]], first_process_step(q)
    plugged = q.method == Method.MT and q.technique.plugs > 0
    items = [CLEAN.item, DRY.item, *([PLUGGED.item] if plugged else [])]
    outcomes = [
        ticked_before(
            ticks(q, item, keys), item, first, "the first step", "clean, dry, plug and tick, then begin again"
        )
        for item in items
    ]
    return worst([*outcomes, *([plugs_in(q)] if plugged else [])])


def plugs_in(q: Inquiry) -> Outcome:
    """Plugs counted in against the technique."""
    needed = q.technique.plugs
    counted = [r for r in q.facts.of(f.PlugsCounted, q.inspection) if r.fact.direction == "in"]
    if not counted:
        return not_recorded(f"plugs not counted in, technique has {needed}", "count them in")
    count = counted[-1].fact.count
    if count != needed:
        return failed(
            f"{count} plugs in, technique has {needed}",
            "count again",
            "plug the open passages",
            found=f"{count}",
            limit=f"{needed}",
            used=[counted[-1]],
        )
    return passed(f"{count} plugs in", f"{needed}", [counted[-1]])


# --- people ---------------------------------------------------------------------------------------


def certified(q: Inquiry, person: str, level: int, day: date) -> Outcome:
    """Whether a person held a certificate in the record's method at a level or above on a day."""
    on_file = [r for r in q.facts.of(f.CertificateEntered, person) if r.fact.method == q.method]
    if not on_file:
        return not_recorded(
            f"no {q.method} certificate of {person} on file", "enter the certificate", "hand over to a certified person"
        )
    held = q.certificate(person, day)
    limit = f"{q.method} level {level}"
    if held is None:
        last = max(on_file, key=lambda r: r.fact.expires)
        span = f"{last.fact.issued} to {last.fact.expires}"
        return failed(
            f"{q.method} certificate of {person} did not cover {day}",
            "hand over to a certified person",
            found=span,
            limit=f"{limit} on {day}",
            used=[last],
        )
    found = f"{person} {q.method} level {held.fact.level}"
    if held.fact.level < level:
        may = "may process, not decide" if held.fact.level >= PROCESSING_LEVEL else "may not process"
        return failed(
            f"{person} holds {q.method} level {held.fact.level}: {may}",
            f"hand over to level {level} or above",
            found=found,
            limit=limit,
            used=[held],
        )
    return passed(found, limit, [held])


@rule("G12", "Did the decider hold level 2 or above, and everybody who processed level 1 or above?")
def g12_certificates(q: Inquiry) -> Outcome:
    decision = signed(q)
    if decision is not None:
        person, when = decision.fact.person, decision.when
    elif q.decider is not None:
        person, when = q.decider, q.decided or q.asked
    else:
        person, when = q.opened.fact.inspector, q.opened.when
    workers = {(doer(r), r.when.local.date()) for r in processing(q)}
    outcomes = [certified(q, worker, PROCESSING_LEVEL, on) for worker, on in sorted(workers)]
    return worst([certified(q, person, DECIDING_LEVEL, when.local.date()), *outcomes])


@rule("G13", "Was each viewer's vision examination valid when the view began?", *STANDING_KEYS, version=2)
def g13_vision(q: Inquiry) -> Outcome:
    return worst(vision_outcome(q.facts, view.person, view.start) for view in looks_relied_on(q))


def vision_outcome(facts: FactSet, person: str, moment: Moment) -> Outcome:
    """Whether a person's vision examination covers a moment (its last day counts)."""
    day = moment.local.date()
    held = [r for r in facts.of(f.VisionExamEntered, person) if r.fact.examined <= day]
    if not held:
        return not_recorded(
            f"no vision examination of {person} on file", "enter the examination", "let another person view"
        )
    last = max(held, key=lambda r: (r.fact.expires, r.position))
    limit = f"valid to {last.fact.expires}"
    if day > last.fact.expires:
        return failed(
            f"vision examination of {person} expired {last.fact.expires}",
            "let another person view",
            "renew it",
            found=f"{day}",
            limit=limit,
            used=[last],
        )
    return passed(f"{person} on {day}", limit, [last])


@rule("G14", "Does each viewer hold the authorisation that the technique demands?")
def g14_authorisation(q: Inquiry) -> Outcome:
    sheet = q.technique
    if not sheet.needs_authorisation:
        return not_applicable(f"technique: {sheet.name} demands no authorisation")

    def ask(person: str, day: date, view: Recorded[f.ViewStarted]) -> Outcome:
        held = [r for r in q.facts.of(f.AuthorisationEntered, person) if r.fact.technique == sheet.number]
        if not held:
            return not_recorded(
                f"no authorisation of {person} for {sheet.number} on file",
                "let an authorised person view",
                "enter it",
                used=[view],
            )
        valid = [r for r in held if r.fact.valid_from <= day and (r.fact.valid_to is None or day <= r.fact.valid_to)]
        if not valid:
            span = f"{held[-1].fact.valid_from} to {held[-1].fact.valid_to or 'open'}"
            return failed(
                f"authorisation of {person} for {sheet.number} did not cover {day}",
                "let an authorised person view",
                found=span,
                used=[*held, view],
            )
        return passed(f"{person} for {sheet.number}", used=[valid[-1], view])

    return worst(ask(view.person, view.start.local.date(), view.started) for view in q.need_views())


def is_trainee(q: Inquiry, person: str, at: Moment) -> bool:
    """Whether a person was entered as a trainee then; Missing if the person was not entered."""
    entered = q.facts.last(f.PersonEntered, person, until=at.at)
    if entered is None:
        raise Missing(f"{person} is not entered as a person", ["enter the person with the roles held"])
    return TRAINEE in entered.fact.roles


@rule(
    "G15",
    "Is the work of a trainee co-signed by a person of level 2 or above, who viewed a class 1 part too?",
    version=2,
)
def g15_trainee_co_signed(q: Inquiry) -> Outcome:
    done = [(q.opened.fact.inspector, q.opened.when), *((view.person, view.start) for view in q.views)]
    done += [(doer(r), r.when) for r in processing(q)]
    trainees = sorted({person for person, when in done if is_trainee(q, person, when)})
    if not trainees:
        return not_applicable("no trainee worked on this record")
    tick = q.confirmed(CO_SIGNED.item)
    names = ", ".join(trainees)
    if tick is None:
        return not_recorded(f"work of {names} not co-signed", f"the supervising level {DECIDING_LEVEL} co-signs")
    if tick.fact.value != "yes":
        return failed(
            f"co-signature for {names} refused at {tick.when.clock()}",
            "do the work again under supervision",
            used=[tick],
        )
    signer = doer(tick)
    if signer in trainees:
        return failed(
            f"{signer} co-signed own work",
            f"the supervising level {DECIDING_LEVEL} co-signs",
            found=signer,
            used=[tick],
        )
    level = certified(q, signer, DECIDING_LEVEL, tick.when.local.date())
    return worst([level, own_look(q, signer, tick), passed(f"{names} co-signed by {signer}", used=[tick])])


def own_look(q: Inquiry, signer: str, tick: Recorded[f.ConfirmationGiven]) -> Outcome:
    """Whether who co-signs viewed a class 1 part too: nobody signs for a trainee's look from the desk."""
    if q.master.item_class != 1 or any(view.person == signer for view in q.all_views):
        return passed(used=[tick])
    return not_recorded(
        f"{signer} co-signed and has no view of this class 1 part",
        f"{signer} views the part, then co-signs",
        used=[tick],
    )


@rule("G16", "Had everybody read this procedure revision before working to it?")
def g16_revision_read(q: Inquiry) -> Outcome:
    number, revision = q.opened.fact.procedure, q.opened.fact.procedure_revision
    first = first_step(q)
    started: dict[str, Recorded[f.Fact] | None] = {q.opened.fact.inspector: first}
    for view in q.views:
        started.setdefault(view.person, view.started)

    def ask(person: str, use: Recorded[f.Fact] | None) -> Outcome:
        read = [
            r for r in q.facts.of(f.RevisionRead, person) if (r.fact.procedure, r.fact.revision) == (number, revision)
        ]
        if not read:
            return not_recorded(
                f"{person} has not confirmed reading {number} Rev {revision}", "open it, read it, confirm", used=[use]
            )
        if use is not None and read[0].at > use.at:
            return failed(
                f"{person} read {number} Rev {revision} at {read[0].when}, after beginning at {use.when}",
                "ask the Level III",
                found=str(read[0].when),
                limit=f"before {use.when}",
                used=[read[0], use],
            )
        return passed(f"{person} read {number} Rev {revision}", used=[read[0], use])

    return worst(ask(person, use) for person, use in started.items())
