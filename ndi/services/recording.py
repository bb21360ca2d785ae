"""Shop facts: readings, checks, meters, people, equipment; and what they do to records signed already."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from difflib import get_close_matches
from functools import partial
from typing import cast

from ndi.domain import facts as f
from ndi.domain.answer import Answer, Severity, Verdict
from ndi.domain.entry import Draft, Obtained, Recorded
from ndi.domain.errors import InputError, NotFound
from ndi.domain.fact_set import FactSet
from ndi.domain.moment import Moment
from ndi.domain.outcome import Outcome
from ndi.domain.procedure import Procedure
from ndi.domain.quantity import Number
from ndi.domain.ticks import CO_SIGNED, TICKS
from ndi.domain.vocabulary import CheckKind, Condition, Method, Quantity
from ndi.rules import light, light_trend, wet_bath
from ndi.rules.authority import vision_outcome
from ndi.rules.inquiry import Inquiry
from ndi.services import covers, leaving, recall_triggers
from ndi.services.basket_orders import check_load
from ndi.services.bearing import affected_by_reading, bearing_on, records_named, records_of_part, relying_on_any
from ndi.services.containment import open_containment
from ndi.services.deciding import reconsider, undo_after_correction
from ndi.services.lookup import about, every
from ndi.services.ports import KeptHead, Session
from ndi.services.proof import Meaning, Proof
from ndi.services.shop_inquiry import shop_inquiry
from ndi.services.signing import require
from ndi.services.workplace import Refused, Workplace

_ZERO = Number("0", "%")
SHIFT_CLOSED = "closed"

# facts that carry no permission of their own: what happened, happened
PLAIN = (
    f.BasketLoaded,
    f.BathSampled,
    f.BoothClosed,
    f.BreakMarked,
    f.CheckedOut,
    f.CoatingMeasured,
    f.ConfirmationGiven,
    f.Demagnetised,
    f.DirectivesConfirmed,
    f.EquipmentSwitched,
    f.FieldShown,
    f.IndicationEvaluated,
    f.IndicationSeen,
    f.IndicationTested,
    f.OwnerAnswered,
    f.PartListed,
    f.PartMoved,
    f.PastRework,
    f.PlugsCounted,
    f.ReasonGiven,
    f.ResidualRead,
    f.ReworkStarted,
    f.ShiftMarked,
    f.ShotFired,
    f.ShotVoided,
    f.StepEnded,
    f.StepObserved,
    f.StepStarted,
    f.PieceTimed,
    f.TankFilled,
    f.WorkOrderOpened,
    f.AttemptVoided,
)

# signatures and what the program works out: made by their own use cases, never copied in or put in another's place
_MADE_HERE = (
    f.AcceptanceRestored,
    f.AcceptanceSuspended,
    f.ActionRefused,
    f.BadgeAssigned,
    f.BlankFormsPrinted,
    f.BookBegun,
    f.ConcessionGiven,
    f.ContainmentActionAssigned,
    f.ContainmentActionDone,
    f.ContainmentActionsProposed,
    f.ContainmentClosed,
    f.ContainmentItemDone,
    f.ContainmentOpened,
    f.DecisionSigned,
    f.DecisionUndone,
    f.FormCompared,
    f.FormTranscribed,
    f.DeviationSigned,
    f.DisagreementResolved,
    f.DocumentAdopted,
    f.HandoverAcknowledged,
    f.OneTimeCodeConfirmed,
    f.OneTimeCodeIssued,
    f.PartScrapped,
    f.PersonRemoved,
    f.ProvisionalCleared,
    f.QualificationConfirmed,
    f.QualificationProposed,
    f.RejectReopened,
    f.ReleaseNoted,
    f.ReturnedUnserviceable,
    f.ReworkOrdered,
    f.SecondLookSaved,
    f.SecondSignature,
    f.SecretSet,
    f.SecretTried,
    f.SeriousReportSent,
    f.SeriousnessJudged,
    f.SetUpSigned,
    f.StationKeyEntered,
    f.TagPrinted,
    f.TagScannedBack,
    f.TagVoided,
    f.VerificationSigned,
)

# in a real book: persons, and their qualifications, which one enters and another confirms; records, which are opened here
_CONFIRMED_BY_ANOTHER = (
    f.AuthorisationEntered,
    f.CertificateEntered,
    f.InspectionOpened,
    f.PersonEntered,
    f.VisionExamEntered,
)

# what identifies and describes one part: a correction concerns every record of it
_OF_THE_PART = (f.PartListed, f.PartReceived, f.ConfirmationGiven)

# shop facts that come in at any time: people, equipment, materials
OUTSIDE = (
    f.AuthorisationEntered,
    f.BatchEntered,
    f.CalibrationRecorded,
    f.CertificateEntered,
    f.EquipmentEntered,
    f.EquipmentStatusSet,
    f.PersonEntered,
    f.RevisionRead,
    f.VisionExamEntered,
)


def outside_answer(rule: str, outcome: Outcome, procedure: Procedure | None = None) -> Answer:
    """An outcome asked outside any record, e.g. of a meter that is scanned."""
    setting = procedure.rules.get(rule) if procedure else None
    return Answer(
        rule,
        1,
        outcome.verdict,
        outcome.found,
        outcome.limit,
        outcome.says,
        outcome.ways_out,
        outcome.facts,
        setting.severity if setting else Severity.BLOCK,
        f"{procedure.name}, {setting.paragraph}" if procedure and setting else "",
    )


def check_known(session: Session, person: str) -> None:
    """InputError for a person who was never entered: nobody can be asked about what a stranger saw."""
    if not about(session, f.PersonEntered, person):
        raise InputError(
            f"{person!r} is no person of this book: scan the badge again, or have the person entered first"
        )


def _check_tick(fact: f.Fact) -> None:
    """InputError for a tick that no rule reads: it would look confirmed and stay unanswered."""
    if not isinstance(fact, f.ConfirmationGiven):
        return
    tick = TICKS.get(fact.item)
    if tick is None:
        near = get_close_matches(fact.item, TICKS, 1)
        hint = f"; nearest is {near[0]!r}" if near else ""
        raise InputError(f"{fact.item!r} is nothing that is ticked here{hint}")
    if tick.values and fact.value not in tick.values:
        raise InputError(f"{fact.item}: {fact.value!r} is none of {', '.join(tick.values)}")


def _check_opened(session: Session, fact: f.Fact) -> None:
    """NotFound for a fact of an inspection that was never opened, or of an indication that nobody recorded."""
    inspection, indication = getattr(fact, "inspection", None), getattr(fact, "indication", None)
    if inspection is not None:
        session.inspection(inspection)
    elif indication is not None and not about(session, f.IndicationSeen, indication):
        raise NotFound(f"no indication {indication} in the book: record what was seen first")


def _check_leaving(work: Workplace, session: Session, fact: f.Fact) -> None:
    """Refused for a part that would leave without a reason while no acceptance stands."""
    refusal = leaving.refusal(work, session, fact)
    if refusal:
        raise Refused((), refusal)


def record(
    work: Workplace,
    facts: Iterable[f.Fact],
    by: str,
    *,
    when: Moment | None = None,
    why: str | None = None,
    proof: Proof | None = None,
) -> tuple[Recorded[f.Fact], ...]:
    """Record what a person saw or did, all in one transaction, and recompute what rests on it.

    A co-signature of a trainee's work is a signature: ``proof`` (in a practice
    book none) is of the person who co-signs, for ``covers.co_signature``.
    """
    moment = when or work.now()
    how = work.obtained(moment, why)
    new = list(facts)
    for fact in new:
        if not isinstance(fact, PLAIN):
            raise InputError(f"{type(fact).__name__} has a use case of its own")
    co_signed = [
        line
        for fact in new
        if isinstance(fact, f.ConfirmationGiven) and fact.item == CO_SIGNED.item
        for line in covers.co_signature(fact.about, fact.value)
    ]
    with work.act("record", by, ", ".join(co_signed)) as session:
        if co_signed:
            require(work, session, proof, by, Meaning.APPROVED, co_signed)
        check_known(session, by)
        for fact in new:
            _check_tick(fact)
            _check_opened(session, fact)
            check_load(session, fact)
            if isinstance(fact, f.PieceTimed) and fact.began.at > moment.at:
                raise InputError(
                    f"{fact.step} of {fact.piece} began {fact.began}, after it ended: type the times again"
                )
            _check_leaving(work, session, fact)
        written = session.append([Draft(fact, moment, by, how, why=why) for fact in new])
        for recorded in written:
            reconsider(work, session, bearing_on(session, recorded), recorded.position)
        closed = [fact.station for fact in new if isinstance(fact, f.ShiftMarked) and fact.mark == SHIFT_CLOSED]
        head = session.head() if closed and work.heads is not None else None
    if head is not None and work.heads is not None:
        # after the commit: a kept head never names what is not in the book
        for station in closed:
            kept = KeptHead(head, work.clock.now(), station)
            work.after_commit(partial(work.heads.keep, kept))
    return written


def transcribe(
    work: Workplace, facts: Iterable[tuple[f.Fact, Moment]], *, person: str, on_behalf_of: str | None = None, why: str
) -> None:
    """Enter what was kept on paper; never counts as taken by timer or scanner.

    Signatures are not copied in: what was decided on paper is a paper acceptance.
    """
    copied = list(facts)
    _refuse_made_here(work, [fact for fact, _ in copied])
    for _, when in copied:
        work.obtained(when, why)  # refuses what has not happened yet
    with work.transaction() as session:
        for fact, _ in copied:
            refusal = leaving.refusal(work, session, fact)
            if refusal:
                raise InputError(refusal)
        written = session.append(
            [
                Draft(fact, when, person, Obtained.TRANSCRIBED, on_behalf_of=on_behalf_of, why=why)
                for fact, when in copied
            ]
        )
        for recorded in written:
            reconsider(work, session, bearing_on(session, recorded), recorded.position)


def _refuse_made_here(work: Workplace, facts: Iterable[f.Fact]) -> None:
    for fact in facts:
        if not work.practice and isinstance(fact, _CONFIRMED_BY_ANOTHER):
            raise InputError(
                f"{type(fact).__name__} is neither copied in nor corrected by one person: use the action of its own (ndi person)"
            )
        if isinstance(fact, _MADE_HERE):
            raise InputError(
                f"{type(fact).__name__} is signed or worked out here: it is neither copied in nor corrected; use its own action"
            )


# --- meters and people ----------------------------------------------------------------------------


def select_meter(work: Workplace, meter: str, person: str, station: str | None = None) -> Answer:
    """Take a meter for the shift; refused when it is out of calibration (L10)."""
    with work.act("select meter", person, meter) as session:
        answer = meter_answer(work, session, meter)
        if not answer.settled:
            raise Refused([answer])
        session.append([Draft(f.MeterSelected(meter, station), work.now(), person, Obtained.SCANNER)])
        return answer


def meter_answer(work: Workplace, session: Session, meter: str) -> Answer:
    """L10 asked of a meter now."""
    q = shop_inquiry(work, session, [meter])
    probe: Recorded[f.ReadingRecorded] = Recorded(
        f.ReadingRecorded(meter, Quantity.UV_A, _ZERO, meter=meter),
        work.now(),
        "",
        Obtained.SCANNER,
        work.now().at,
        0,
        "",
    )
    return outside_answer("L10", light.meter_outcome(q, probe), q.procedure)


def check_in(
    work: Workplace, person: str, *, station: str | None, clear_glasses: bool | None, viewing: bool = False
) -> None:
    """Begin a person's shift; somebody who wants to view needs a vision exam that is valid today (G13)."""
    with work.act("check in", person, person) as session:
        if viewing:
            facts = FactSet(session.facts(person))
            outcome = vision_outcome(facts, person, work.now())
            if outcome.verdict is not Verdict.PASS:
                raise Refused([outside_answer("G13", outcome)])
        session.append([Draft(f.CheckedIn(person, station, clear_glasses), work.now(), person, Obtained.SCANNER)])


# --- readings -------------------------------------------------------------------------------------


def record_reading(
    work: Workplace,
    reading: f.ReadingRecorded,
    by: str,
    *,
    when: Moment | None = None,
    why: str | None = None,
    confirmed: bool = False,
) -> Recorded[f.Fact]:
    """Record a number from a meter or an eye, and draw what follows from it.

    A lamp below its minimum is withdrawn and its recall set frozen in the same
    transaction; a bath result outside its hard range likewise.
    """
    moment = when or work.now()
    how = work.obtained(moment, why, Obtained.TYPED_LIVE)
    with work.act("record reading", by, reading.object) as session:
        check_known(session, by)
        _check_plausible(work, session, reading, confirmed)
        (recorded,) = session.append([Draft(reading, moment, by, how, why=why)])
        _draw_consequences(work, session, cast("Recorded[f.ReadingRecorded]", recorded))
        return recorded


def _check_plausible(work: Workplace, session: Session, reading: f.ReadingRecorded, confirmed: bool) -> None:
    """A wrong unit shows in the size of the number: ask again rather than believe it."""
    if reading.quantity != Quantity.UV_A or confirmed:
        return
    q = shop_inquiry(work, session, [])
    low, high = q.limit("uv_plausible_min"), q.limit("uv_plausible_max")
    value = reading.value.in_unit(low.unit)
    if not low.value <= value <= high.in_unit(low.unit):
        raise Refused(
            (),
            f"{reading.object}: {reading.value} is outside {low} to {high}: look at the unit on the meter, "
            "then type number and unit again (or confirm that it really is so)",
        )


def _draw_consequences(work: Workplace, session: Session, recorded: Recorded[f.ReadingRecorded]) -> None:
    reading = recorded.fact
    assert isinstance(reading, f.ReadingRecorded)
    if reading.quantity == Quantity.UV_A:
        _lamp_reading(work, session, recorded)
    elif reading.quantity == Quantity.PARTICLE_VOLUME:
        _bath_reading(work, session, recorded)
    else:
        _material_reading(work, session, recorded)
    reconsider(work, session, affected_by_reading(work, session, recorded), recorded.position)


def _lamp_reading(work: Workplace, session: Session, recorded: Recorded[f.ReadingRecorded]) -> None:
    lamp = recorded.fact.object
    q = shop_inquiry(work, session, [lamp, recorded.fact.meter])
    if not light.is_comparable(q, recorded):
        return
    limit = light.uv_outcome(q, recorded)
    if recorded.fact.condition == Condition.AS_FOUND and limit.verdict is Verdict.FAIL:
        _withdraw(work, session, lamp, f"{recorded.fact.value} at {recorded.when.clock()}")
        earlier = [r for r in q.as_found(lamp, Quantity.UV_A) if r.at < recorded.at and light.is_in_limits(q, r)]
        open_containment(work, session, lamp, recorded.fact.quantity, recorded, earlier[-1].when if earlier else None)
    elif recorded.fact.condition == Condition.AS_LEFT and is_withdrawn(q, lamp) and _may_return(q, recorded):
        fact = f.EquipmentStatusSet(lamp, "in service", f"as-left {recorded.fact.value}")
        session.append([Draft(fact, work.now(), work.computed_by, Obtained.COMPUTED)])


def _may_return(q: Inquiry, as_left: Recorded[f.ReadingRecorded]) -> bool:
    """A lamp comes back only when it passes its limit and lies on its own trend."""
    trend = light_trend.trend_outcome(q, as_left).verdict
    return light.uv_outcome(q, as_left).verdict is Verdict.PASS and trend in (Verdict.PASS, Verdict.NOT_APPLICABLE)


def is_withdrawn(q: Inquiry, asset: str) -> bool:
    """Whether the latest status of an asset keeps it out of use."""
    status = q.facts.last(f.EquipmentStatusSet, asset)
    return status is not None and status.fact.state != "in service"


def _withdraw(work: Workplace, session: Session, asset: str, reason: str) -> None:
    fact = f.EquipmentStatusSet(asset, "withdrawn", reason)
    session.append([Draft(fact, work.now(), work.computed_by, Obtained.COMPUTED)])


def _bath_reading(work: Workplace, session: Session, recorded: Recorded[f.ReadingRecorded]) -> None:
    bath = recorded.fact.object
    q = shop_inquiry(work, session, [bath], method="MT")
    if wet_bath.volume_outcome(q, recorded).verdict is Verdict.FAIL:
        _recall(work, session, recorded)


def _material_reading(work: Workplace, session: Session, recorded: Recorded[f.ReadingRecorded]) -> None:
    """Specks, remover, water, dryer: one out of limits recalls what went through since the last that was in them."""
    if recall_triggers.failed_material(work, session, recorded):
        _recall(work, session, recorded)


def _recall(work: Workplace, session: Session, recorded: Recorded[f.Fact]) -> None:
    """Freeze what relied on the object of a bad entry since the last good one of its kind."""
    found = recall_triggers.trigger_of(work, session, recorded)
    open_containment(
        work,
        session,
        found.object,
        found.quantity,
        recorded,
        found.last_good,
        also=found.objects,
        first_bad=found.first_bad,
    )


# --- checks ---------------------------------------------------------------------------------------


def record_check(
    work: Workplace, check: f.ProcessCheckRecorded, by: str, *, when: Moment | None = None, why: str | None = None
) -> Recorded[f.Fact]:
    """Record a process check; a failed one opens a containment back to the last that passed."""
    moment = when or work.now()
    how = work.obtained(moment, why, Obtained.TYPED_LIVE)
    with work.act("record check", by, check.object) as session:
        check_known(session, by)
        if check.check == CheckKind.RING and check.holes is not None:
            # whether the ring showed enough is for the procedure to say, not for the person who counted
            check = replace(check, passed=_enough_holes(shop_inquiry(work, session, [], method=Method.MT), check.holes))
        (recorded,) = session.append([Draft(check, moment, by, how, why=why)])
        if not check.passed:
            _recall(work, session, recorded)
        reconsider(work, session, bearing_on(session, recorded), recorded.position)
        return recorded


def _enough_holes(q: Inquiry, holes: int) -> bool:
    return holes >= q.limit("ring_holes_min").value


# --- people, equipment and calibrations, after records rest on them ---------------------------------


def record_outside_fact(
    work: Workplace,
    fact: f.Fact,
    by: str,
    *,
    when: Moment | None = None,
    why: str | None = None,
    supersedes: str | None = None,
) -> Recorded[f.Fact]:
    """A certificate, vision exam, calibration, batch or equipment fact; recompute what rests on it."""
    if not isinstance(fact, OUTSIDE):
        raise InputError(f"{type(fact).__name__} has a use case of its own")
    _refuse_made_here(work, [fact])
    moment = when or work.now()
    how = work.obtained(moment, why, Obtained.TYPED_LIVE)
    with work.transaction() as session:
        old = [r for r in session.facts(fact.subjects()[0], [type(fact)]) if r.uid == supersedes]
        (recorded,) = session.append([Draft(fact, moment, by, how, supersedes=supersedes, why=why)])
        _lost_cover(work, session, old, recorded)
        reconsider(work, session, relying_on_any(session, fact), recorded.position)
        return recorded


def correct(work: Workplace, uid: str, fact: f.Fact, by: str, *, when: Moment, why: str) -> Recorded[f.Fact]:
    """Put a new fact in the place of a recorded one, with the reason; nothing is overwritten (law 10).

    A fact of a record takes its signature away; a fact outside it has it
    recomputed.  A reading that becomes a bad one is followed up like a new one.
    """
    _refuse_made_here(work, [fact])
    work.obtained(when, why)  # refuses a time that has not come yet
    with work.act("correct", by, uid) as session:
        _check_leaving(work, session, fact)
        old = [r for subject in fact.subjects()[:1] for r in session.facts(subject, [type(fact)]) if r.uid == uid]
        (recorded,) = session.append([Draft(fact, when, by, Obtained.TYPED_LATE, supersedes=uid, why=why)])
        both = [fact, *(r.fact for r in old)]
        inside = [name for each in both for name in records_named(session, each)]
        inside += [name for each in both if isinstance(each, _OF_THE_PART) for name in records_of_part(session, each)]
        for inspection in dict.fromkeys(inside):
            undo_after_correction(work, session, inspection, recorded.position)
        if isinstance(fact, f.ReadingRecorded) and not _opened_by(session, old):
            _draw_consequences(work, session, cast("Recorded[f.ReadingRecorded]", recorded))
        _lost_cover(work, session, old, recorded)
        earliest = min([when.at, *(r.at for r in old)])
        affected = [name for each in both for name in relying_on_any(session, each)]
        affected += [name for each in both for name in bearing_on(session, replace(recorded, fact=each), earliest)]
        reconsider(work, session, [name for name in affected if name not in inside], recorded.position)
        return recorded


def _lost_cover(work: Workplace, session: Session, old: Iterable[Recorded[f.Fact]], new: Recorded[f.Fact]) -> None:
    """A certificate or examination that turns out to cover less: what its holder did since then is recalled."""
    if any(recall_triggers.cover_lost(each.fact, new.fact) for each in old):
        _recall(work, session, new)


def _opened_by(session: Session, readings: Iterable[Recorded[f.Fact]]) -> bool:
    """Whether a containment was opened by one of these readings."""
    positions = {r.position for r in readings}
    return any(opened.fact.trigger in positions for opened in every(session, f.ContainmentOpened))
