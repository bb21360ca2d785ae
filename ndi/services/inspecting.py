"""One record from scan to evidence: opening, views, second looks, indications, photographs, rework."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from ndi.domain import facts as f
from ndi.domain.answer import Answer, Verdict
from ndi.domain.entry import Draft, Obtained, Recorded
from ndi.domain.errors import InputError, NotFound
from ndi.domain.moment import Moment
from ndi.domain.outcome import failed
from ndi.domain.vocabulary import LEVEL_THREE, ViewKind
from ndi.rules import registry
from ndi.rules.authority import material_outcome
from ndi.rules.evidence import photo_outcome
from ndi.rules.indications import interpretation_outcome
from ndi.rules.inquiry import Inquiry
from ndi.services import covers
from ndi.services.assemble import inquiry_for
from ndi.services.containment import containment
from ndi.services.deciding import check_version, reconsider, undo_after_correction
from ndi.services.lookup import about
from ndi.services.ports import Session
from ndi.services.proof import Meaning, Proof
from ndi.services.recording import outside_answer
from ndi.services.scrapping import refuse_scrapped
from ndi.services.second_person import refuse_order_alone
from ndi.services.signing import require
from ndi.services.workplace import Refused, Workplace


def scan_into(work: Workplace, part_no: str, method: str, zones: Sequence[str], person: str) -> Answer:
    """Ask whether a part that was just scanned may go into a method at all (G04)."""
    with work.act(f"scan into {method}", person, part_no) as session:
        answer = material_answer(work, session, part_no, method, zones)
        if not answer.settled:
            raise Refused([answer])
        return answer


def material_answer(work: Workplace, session: Session, part_no: str, method: str, zones: Sequence[str]) -> Answer:
    """G04 asked of zones of a part number."""
    master = work.master(session, part_no)
    by_code = {zone.code: zone for zone in master.zones}
    return outside_answer("G04", material_outcome(by_code, method, list(zones) or list(by_code), master.required))


def open_inspection(
    work: Workplace,
    inspection: str,
    part: str,
    technique: str,
    inspector: str,
    *,
    quantity: int,
    station: str | None = None,
    reason: str = "first",
    previous: str | None = None,
    when: Moment | None = None,
    why: str | None = None,
) -> Recorded[f.Fact]:
    """Open a record: one method on one part or lot, with the revisions in force then pinned.

    Refused when the technique is not for the part number or the material does
    not allow the method (S rules G01, G04).
    """
    moment = when or work.now()
    how = work.obtained(moment, why, Obtained.SCANNER)
    with work.act("open inspection", inspector, inspection) as session:
        row = session.part(part)
        refuse_scrapped(session, row)
        sheet = work.technique(session, technique)
        if row.part_no not in sheet.applies_to:
            outcome = failed(
                f"technique {technique} is not for {row.part_no}",
                "pick the technique of this part number",
                "call the Level III",
            )
            raise Refused([outside_answer("G01", outcome)])
        material = material_answer(work, session, row.part_no, sheet.method, sheet.zones)
        if material.verdict is Verdict.FAIL:
            raise Refused([material])
        if about(session, f.InspectionOpened, inspection):
            raise InputError(f"{inspection} is in the book already; take the next number")
        _refuse_second_record(session, part, sheet.number)
        procedure = work.procedure_in_force(session, sheet.procedure, moment.local.date())
        fact = f.InspectionOpened(
            inspection,
            part,
            row.work_order,
            quantity,
            sheet.method,
            sheet.number,
            sheet.revision,
            procedure.number,
            procedure.revision,
            inspector,
            station,
            reason,
            previous,
        )
        (recorded,) = session.append([Draft(fact, moment, inspector, how, why=why)])
        if previous is not None:
            reconsider(work, session, [previous], recorded.position)
        return recorded


def _refuse_second_record(session: Session, part: str, technique: str) -> None:
    """A part has one undecided record for each technique: an acceptance in a second one would hide a reject in the first."""
    for row in session.inspections(part=part):
        if row.technique == technique and row.decision is None:
            raise Refused(
                (), f"{part} has the open record {row.inspection} by {technique}: go on in that one, or decide it first"
            )


# --- views ----------------------------------------------------------------------------------------


def start_view(
    work: Workplace,
    view: str,
    inspection: str,
    person: str,
    lamps: Sequence[str],
    *,
    kind: str = ViewKind.FIRST,
    station: str | None = None,
    indication: str | None = None,
    containment_name: str | None = None,
    seen: int | None = None,
    when: Moment | None = None,
    why: str | None = None,
) -> Recorded[f.Fact]:
    """Begin a first view, a re-view under a containment, or a second look.

    Refused: a second look by somebody who viewed the part (D07); a re-view
    without an open containment that holds the record.
    """
    moment = when or work.now()
    how = work.obtained(moment, why)
    with work.act(f"start {kind}", person, indication or inspection) as session:
        check_version(session, inspection, seen)
        if about(session, f.ViewStarted, view):
            raise InputError(f"view {view} was started already; end that one, or give the new one a name of its own")
        inquiry = inquiry_for(work, session, inspection)
        if kind == ViewKind.SECOND_LOOK:
            _refuse_own_second_look(inquiry, person, indication)
        if kind == ViewKind.RE_VIEW:
            _refuse_idle_re_view(session, inspection, containment_name)
        fact = f.ViewStarted(
            view, inspection, person, tuple(lamps), str(kind), station, indication, inquiry.attempt, containment_name
        )
        (recorded,) = session.append([Draft(fact, moment, person, how, why=why)])
        return recorded


def _refuse_own_second_look(inquiry: Inquiry, person: str, indication: str | None) -> None:
    viewers = {view.person for view in inquiry.all_views if view.started.fact.kind != ViewKind.SECOND_LOOK}
    if person in viewers:
        outcome = failed(
            f"{person} viewed {inquiry.inspection} and cannot be its second person",
            "another qualified person must look",
            found=person,
        )
        raise Refused([registry.to_answer(registry.load_all()["D07"], outcome, inquiry.procedure)])
    if indication is not None and all(i.id != indication for i in inquiry.indications):
        raise NotFound(f"{inquiry.inspection} has no indication {indication}")


def _refuse_idle_re_view(session: Session, inspection: str, name: str | None) -> None:
    if name is None:
        raise InputError("a re-view names the containment that asks for it")
    opened = containment(session, name).fact
    if inspection not in opened.inspections:
        raise Refused((), f"{inspection} is not in {name} ({opened.object}); nothing to view again")


def end_view(
    work: Workplace,
    view: str,
    *,
    zones: Sequence[str] = (),
    nothing_seen: bool | None = None,
    background: str | None = None,
    pieces: int | None = None,
    when: Moment | None = None,
    why: str | None = None,
    seen: int | None = None,
) -> Recorded[f.Fact]:
    """End a view; a time that has not come yet is refused (G18)."""
    started = _view(work, view)
    with work.act("end view", started.fact.person, started.fact.inspection) as session:
        check_version(session, started.fact.inspection, seen)
        moment = when or work.now()
        if moment.at > work.now().at:
            raise Refused([_not_in_the_future(work, session, started.fact.inspection, moment)])
        _check_after_start(started, moment)
        if about(session, f.ViewEnded, view):
            raise InputError(f"view {view} has ended already: correct its end with a reason if it is wrong")
        fact = f.ViewEnded(
            view,
            started.fact.inspection,
            tuple(zones),
            nothing_seen,
            background,
            started.fact.person,
            started.fact.station,
            pieces,
        )
        (recorded,) = session.append([Draft(fact, moment, started.fact.person, work.obtained(moment, why), why=why)])
        reconsider(work, session, [started.fact.inspection], recorded.position)
        return recorded


def _check_after_start(started: Recorded[f.ViewStarted], end: Moment) -> None:
    if end.at < started.at:
        raise InputError(
            f"view {started.fact.view} began {started.when.clock()}, it cannot end {end.clock()}: type the time at which it ended"
        )


def _view(work: Workplace, view: str) -> Recorded[f.ViewStarted]:
    with work.look() as session:
        for recorded in about(session, f.ViewStarted, view):
            return recorded
    raise NotFound(f"no view {view} was started")


def _not_in_the_future(work: Workplace, session: Session, inspection: str, moment: Moment) -> Answer:
    inquiry = inquiry_for(work, session, inspection)
    outcome = failed(
        f"{moment.clock()} is later than now, {work.now().clock()}: nothing can be signed before it happened",
        "type the time at which it happened",
        found=moment.clock(),
        limit=f"not later than {work.now().clock()}",
    )
    return registry.to_answer(registry.load_all()["G18"], outcome, inquiry.procedure)


def save_second_look(
    work: Workplace, saved: f.SecondLookSaved, *, seen: int | None = None, proof: Proof | None = None
) -> Recorded[f.Fact]:
    """Save the second person's own result; only then is the first one shown.

    ``proof`` (in a practice book none): of the person, for ``covers.second_look``.
    """
    with work.act("save second look", saved.person, saved.second_look) as session:
        check_version(session, saved.inspection, seen)
        _check_own_look(session, saved)
        signed = require(work, session, proof, saved.person, Meaning.SECOND_LOOK, covers.second_look(saved))
        (recorded,) = session.append([Draft(replace(saved, proof=signed.proof), work.now(), saved.person)])
        reconsider(work, session, [saved.inspection], recorded.position)
        return recorded


def _check_own_look(session: Session, saved: f.SecondLookSaved) -> None:
    """A second look is saved once, by the person who looked, for what was looked at."""
    started = about(session, f.ViewStarted, saved.second_look)
    if not started:
        raise NotFound(f"second look {saved.second_look} was never started")
    look = started[-1].fact
    if (look.kind, look.inspection, look.indication) != (ViewKind.SECOND_LOOK, saved.inspection, saved.indication):
        raise InputError(
            f"{saved.second_look} is a {look.kind} at {look.indication or look.inspection}: save the result of that look"
        )
    if look.person != saved.person:
        raise Refused((), f"{saved.second_look} is the look of {look.person}: only {look.person} saves its result")
    if about(session, f.SecondLookSaved, saved.second_look):
        raise InputError(f"{saved.second_look} is saved already: correct it with a reason, or look again")


# --- indications ----------------------------------------------------------------------------------


def interpret(
    work: Workplace, call: f.IndicationInterpreted, person: str, *, seen: int | None = None
) -> Recorded[f.Fact]:
    """Relevant, nonrelevant or false; refused while the evidence for it is not there (D02)."""
    with work.act("interpret", person, call.indication) as session:
        inspection = inspection_of(session, call.indication)
        check_version(session, inspection, seen)
        inquiry = inquiry_for(work, session, inspection)
        indication = next(i for i in inquiry.indications if i.id == call.indication)
        outcome = interpretation_outcome(inquiry, indication, call.interpretation, call.basis, call.type)
        if outcome.verdict is not Verdict.PASS:
            raise Refused([registry.to_answer(registry.load_all()["D02"], outcome, inquiry.procedure)])
        (recorded,) = session.append([Draft(call, work.now(), person)])
        reconsider(work, session, [inspection], recorded.position)
        return recorded


def inspection_of(session: Session, indication: str) -> str:
    for recorded in about(session, f.IndicationSeen, indication):
        return recorded.fact.inspection
    raise NotFound(f"no indication {indication} in the book")


def resolve_disagreement(
    work: Workplace, fact: f.DisagreementResolved, *, seen: int | None = None, proof: Proof | None = None
) -> Recorded[f.Fact]:
    """A Level III decides between first and second look (``proof``: for ``covers.disagreement``)."""
    with work.act("resolve disagreement", fact.person, fact.inspection) as session:
        check_version(session, fact.inspection, seen)
        signed = require(work, session, proof, fact.person, Meaning.APPROVED, covers.disagreement(fact))
        inquiry = inquiry_for(work, session, fact.inspection)
        held = about(session, f.CertificateEntered, fact.person)
        today = work.now().local.date()
        if not any(
            r.fact.level >= LEVEL_THREE and r.fact.method == inquiry.method and r.fact.issued <= today <= r.fact.expires
            for r in held
        ):
            raise Refused((), f"{fact.person} holds no level 3 certificate in {inquiry.method}: a Level III decides")
        (recorded,) = session.append([Draft(replace(fact, proof=signed.proof), work.now(), fact.person)])
        reconsider(work, session, [fact.inspection], recorded.position)
        return recorded


# --- photographs ----------------------------------------------------------------------------------


def attach_photo(work: Workplace, photo: f.PhotoAttached, person: str, *, seen: int | None = None) -> Recorded[f.Fact]:
    """Describe a photograph that lies elsewhere, as a practice book may; refused when it belongs to another record or time (G25).

    In a real book a photograph comes in with its file: :func:`ndi.services.photographs.attach_photograph`.
    """
    if not work.practice:
        raise InputError("a photograph is attached with its file (ndi photo add): a name alone proves nothing")
    with work.act("attach photo", person, photo.inspection) as session:
        check_version(session, photo.inspection, seen)
        inquiry = inquiry_for(work, session, photo.inspection)
        shared = about(session, f.PhotoAttached, photo.sha256)
        inquiry = replace(inquiry, facts=type(inquiry.facts)([*inquiry.facts, *shared]))
        outcome = photo_outcome(inquiry, photo, photo.taken_at)
        if outcome.verdict is not Verdict.PASS:
            raise Refused([registry.to_answer(registry.load_all()["G25"], outcome, inquiry.procedure)])
        (recorded,) = session.append([Draft(photo, work.now(), person)])
        reconsider(work, session, [photo.inspection], recorded.position)
        return recorded


# --- rework ---------------------------------------------------------------------------------------


def order_rework(
    work: Workplace, order: f.ReworkOrdered, *, seen: int | None = None, proof: Proof | None = None
) -> Recorded[f.Fact]:
    """Order a bounded operation on one indication of a record (``proof``: for ``covers.rework``)."""
    with work.act("order rework", order.ordered_by, order.inspection) as session:
        check_version(session, order.inspection, seen)
        row = session.inspection(order.inspection)
        if row.part != order.part:
            raise InputError(f"{order.inspection} is about {row.part}, not {order.part}")
        signed = require(work, session, proof, order.ordered_by, Meaning.APPROVED, covers.rework(order))
        refuse_order_alone(work, session, order)
        (recorded,) = session.append([Draft(replace(order, proof=signed.proof), work.now(), order.ordered_by)])
        return recorded


def complete_rework(
    work: Workplace, done: f.ReworkDone, *, seen: int | None = None, when: Moment | None = None, why: str | None = None
) -> Recorded[f.Fact]:
    """The rework bench measured depth and remaining dimensions; refused without an order."""
    moment = when or work.now()
    how = work.obtained(moment, why)
    with work.act("complete rework", done.person, done.inspection) as session:
        check_version(session, done.inspection, seen)
        if not about(session, f.ReworkOrdered, done.inspection):
            raise Refused((), f"no rework was ordered on {done.inspection}: have it ordered first")
        (recorded,) = session.append([Draft(done, moment, done.person, how, why=why)])
        reconsider(work, session, [done.inspection], recorded.position)
        return recorded


def correct_view_end(work: Workplace, view: str, when: Moment, why: str) -> Recorded[f.Fact]:
    """Correct the end of a view with a reason; a decision signed on the old time is undone (law 10)."""
    started = _view(work, view)
    with work.act("correct view end", started.fact.person, started.fact.inspection) as session:
        if when.at > work.now().at:
            raise Refused([_not_in_the_future(work, session, started.fact.inspection, when)])
        _check_after_start(started, when)
        old = about(session, f.ViewEnded, view)
        if not old:
            raise NotFound(f"view {view} has no end yet")
        draft = Draft(old[-1].fact, when, started.fact.person, Obtained.TYPED_LATE, supersedes=old[-1].uid, why=why)
        (recorded,) = session.append([draft])
        undo_after_correction(work, session, started.fact.inspection, recorded.position)
        return recorded
