"""The inspection record as a report model: everything that an acceptance stands on, as the book has it now."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from ndi.domain import facts as f
from ndi.domain.answer import Answer
from ndi.domain.entry import Recorded
from ndi.domain.procedure import PartMaster
from ndi.domain.quantity import Number
from ndi.domain.vocabulary import Disposition, ViewKind
from ndi.rules import registry
from ndi.rules.inquiry import Inquiry
from ndi.services import outage
from ndi.services import record_rows as rows
from ndi.services.assemble import decision_in_force
from ndi.services.containment import latest_actions
from ndi.services.judging import Judgement, judge, reasons_given
from ndi.services.lookup import about, only
from ndi.services.paper_text import clock_range, doer, local_text, on_paper
from ndi.services.photograph_models import photograph_models
from ndi.services.ports import InspectionRow, Session
from ndi.services.record_signatures import cause_text, signature_lines
from ndi.services.report_models import AnswerLine, Labelled, Point, ReasonLine, RecordModel, ZoneModel
from ndi.services.state import decision_text
from ndi.services.workplace import Workplace

NOT_SIGNED = "none: not signed"


def record_model(work: Workplace, session: Session, inspection: str, judgement: Judgement | None = None) -> RecordModel:
    """One record with the answers as they are now, and the hash of the snapshot that was signed.

    Answers that are other now than in that snapshot are listed by name.
    ``judgement``: the answers, where they are at hand already.
    """
    row = session.inspection(inspection)
    judgement = judgement or judge(work, session, inspection)
    q, signed = judgement.inquiry, decision_in_force(session, inspection)
    part = session.part(row.part)
    item = (
        f"serial {part.serial}"
        if part.serial
        else f"lot {part.lot}, {row.quantity} pieces"
        if part.lot
        else f"{row.quantity} pieces"
    )
    return RecordModel(
        record_no=inspection,
        book_id=work.book.book_id,
        practice=work.practice,
        part_no=row.part_no,
        item=item,
        work_order=row.work_order,
        word=_word(session, row),
        suspended=row.suspended,
        provisional=row.provisional,
        standing=tuple(_standing(session, row, judgement, signed)),
        identity=_identity(work, session, row, q, item),
        revisions=_revisions(session, q),
        attempts=tuple(_attempts(session, row, q)),
        rules_asked=f"{len(judgement.answers)} of {q.procedure.name}",
        record_hash=signed.fact.snapshot if signed else NOT_SIGNED,
        head=str(session.head()),
        steps=rows.step_rows(q),
        shots=rows.shot_rows(q),
        views=rows.view_rows(q),
        readings=rows.reading_rows(q, judgement.answers),
        second_looks=rows.second_look_rows(q),
        indications=rows.indication_models(q),
        outline=outline_points(q.master),
        zones=outline_zones(q.master),
        answers=_answer_lines(judgement),
        reasons=tuple(
            ReasonLine(reason.rule, reason.text, reason.person)
            for reason in reasons_given(q.facts, inspection).values()
        ),
        exceptions=tuple(_exceptions(judgement)),
        signatures=signature_lines(session, row, q),
        pictures=photograph_models(work, session, q),
        containments=tuple(_containments(session, inspection)),
        changed=tuple(_changed(judgement, signed)),
    )


def _word(session: Session, row: InspectionRow) -> str:
    words = [decision_text(session, row)]
    words += ["SUSPENDED"] if row.suspended else ["PROVISIONAL"] if row.provisional else []
    return " - ".join(words)


def _standing(
    session: Session, row: InspectionRow, judgement: Judgement, signed: Recorded[f.DecisionSigned] | None
) -> Iterator[str]:
    """What explains the word: who suspended it, what it waits for, what is still open."""
    if row.suspended:
        for recorded in about(session, f.AcceptanceSuspended, row.inspection)[-1:]:
            fact = recorded.fact
            what = "Its claim of no other indications is suspended" if fact.claim_only else "Suspended"
            yield f"{what} since {local_text(recorded.when)} by entry {fact.cause}: {cause_text(session, fact.cause)}; rules {', '.join(fact.rules)}."
    elif row.provisional and signed is not None:
        yield on_paper(f"Provisional: waits for {signed.fact.waits_for}.")
    if row.suspended or signed is None:
        unsettled = [a for a in judgement.answers if a.severity.blocks and not a.settled]
        if unsettled:
            yield f"In the way now: {', '.join(f'{a.rule} {a.verdict}' for a in unsettled)}."
        ways = list(dict.fromkeys(way for a in unsettled for way in a.ways_out))
        if ways:
            yield on_paper(f"Ways out: {'; '.join(ways)}.")


# --- what it is about ---


def _identity(work: Workplace, session: Session, row: InspectionRow, q: Inquiry, item: str) -> tuple[Labelled, ...]:
    part, opened = session.part(row.part), q.opened.fact
    order = only(session, f.WorkOrderOpened, row.work_order).fact
    times = [
        f"{name} {value}"
        for name, value in (("TSN", order.time_since_new), ("TSO", order.time_since_overhaul))
        if value
    ]
    held = q.certificate(opened.inspector, q.opened.when.local.date())
    certificate = f", {held.fact.method} level {held.fact.level}" if held else ""
    return (
        Labelled("Part number", row.part_no),
        Labelled("Item", item),
        Labelled("Description", part.description or q.master.description),
        Labelled("Quantity", str(row.quantity)),
        Labelled("Class", str(q.master.item_class)),
        Labelled("Materials", ", ".join(dict.fromkeys(zone.material for zone in q.master.zones)) or "not recorded"),
        Labelled("Work order", row.work_order),
        Labelled("Engine", f"{order.engine_model} serial {order.engine_serial}"),
        Labelled("Times as received", ", ".join(times) or "not recorded"),
        Labelled("Reason, limits", f"{order.reason}, {order.limits_basis}"),
        Labelled("Method", method_text(q)),
        Labelled("Inspector", f"{opened.inspector}{certificate}"),
        Labelled("Opened", local_text(q.opened.when)),
        Labelled("Station", opened.station or "not recorded"),
        Labelled(
            "Reason for record",
            f"re-inspection after {opened.reason} of {opened.previous}"
            if opened.previous
            else f"{opened.reason} inspection",
        ),
        Labelled("Place now", part.place or "not recorded"),
    )


def method_text(q: Inquiry) -> str:
    """The method with its process: type and sensitivity, or bath and current."""
    technique = q.technique
    if q.method == "PT":
        words = (
            ("type", technique.type),
            ("method", technique.pt_method),
            ("sensitivity", technique.sensitivity),
            ("developer form", technique.developer_form),
        )
        return ", ".join(["PT", *(f"{name} {value}" for name, value in words if value)])
    return ", ".join(
        [
            "MT",
            *dict.fromkeys(shot.bath_mode for shot in technique.shots),
            *dict.fromkeys(shot.current_type for shot in technique.shots),
        ]
    )


def _revisions(session: Session, q: Inquiry) -> tuple[Labelled, ...]:
    """The pinned documents, each with the first 16 of the hash of its text as adopted."""
    pinned = (
        ("Procedure", "procedure", q.procedure.number, q.procedure.revision),
        ("Technique sheet", "technique", q.technique.number, q.technique.revision),
        ("Part master", "part", q.master.number, None),
    )
    documents = []
    for label, kind, number, revision in pinned:
        adopted = [
            r.fact
            for r in about(session, f.DocumentAdopted, kind)
            if r.fact.number == number and revision in (None, r.fact.revision)
        ]
        documents.append(Labelled(label, f"{number} Rev {adopted[-1].revision}" if adopted else number))
        documents.append(Labelled("Text as adopted", adopted[-1].sha256[:16] if adopted else "not recorded"))
    return tuple(documents)


def _points(polygon: Iterable[tuple[Number, Number]]) -> tuple[Point, ...]:
    return tuple((float(x.in_unit("mm")), float(y.in_unit("mm"))) for x, y in polygon)


def outline_points(master: PartMaster) -> tuple[Point, ...]:
    """The outline of a part number for a drawing."""
    return _points(master.outline)


def outline_zones(master: PartMaster) -> tuple[ZoneModel, ...]:
    """The zones of a part number for a drawing."""
    return tuple(ZoneModel(zone.code, _points(zone.polygon)) for zone in master.zones if zone.polygon)


# --- what happened to it ---


def _attempts(session: Session, row: InspectionRow, q: Inquiry) -> Iterator[str]:
    if row.previous:
        before = session.inspection(row.previous)
        yield f"Follows {row.previous} ({before.disposition}) of the same part."
    voided = {r.fact.attempt: r for r in q.facts.of(f.AttemptVoided, row.inspection)}
    if not q.basket_loads:
        yield f"Attempt 1: {_shots_and_views(q, 1)}."
    for load in q.basket_loads:
        attempt = load.fact.attempt
        text = f"Attempt {attempt}: basket {load.fact.basket} on {load.fact.line}, loaded {load.when.clock()}, with {len(load.fact.inspections)} record(s)"
        if attempt in voided:
            void = voided[attempt]
            yield f"{text}; VOID at {void.when.clock()}: {void.fact.reason}."
        else:
            yield f"{text}; {_shots_and_views(q, attempt)}."
    yield from outage.paper_lines(session, (r.position for r in session.facts(row.inspection)))
    for other in session.inspections(part=row.part):
        if other.previous == row.inspection:
            yield f"Followed by {other.inspection} ({decision_text(session, other)}) of the same part."


def _shots_and_views(q: Inquiry, attempt: int) -> str:
    views = [v for v in q.all_views if v.started.fact.attempt == attempt]
    first = [v for v in views if v.started.fact.kind == ViewKind.FIRST]
    again = [v for v in views if v.started.fact.kind == ViewKind.RE_VIEW]
    shots = [shot for shot in q.shots if shot.counts]
    said = []
    if shots:
        said.append(f"{len(shots)} shot(s) {clock_range(shots[0].fired.when, shots[-1].fired.when)}")
    void = len(q.shots) - len(shots)
    if void:
        said.append(f"{void} void shot(s)")
    for name, found in (("viewed", first), ("viewed again", again)):
        if found:
            said.append(f"{name} {clock_range(found[0].start, found[-1].end)}")
    return ", ".join(said) or "not viewed"


def _containments(session: Session, inspection: str) -> Iterator[str]:
    """Each recall set that holds the record: why, the proposed action, whether it was done."""
    done = {r.fact.containment: r for r in about(session, f.ContainmentItemDone, inspection)}
    for recorded in about(session, f.ContainmentOpened, inspection):
        fact = recorded.fact
        since = f"after {fact.last_good}" if fact.last_good else "from the first use on"
        text = f"{fact.containment}: {cause_text(session, fact.trigger)}; in doubt {since} until {fact.first_bad}"
        action = latest_actions(session, fact.containment).get(inspection)
        if fact.containment in done:
            item = done[fact.containment]
            text += f"; done by {item.fact.how} {item.when.clock()} ({doer(item)})"
        elif action is not None:
            text += f"; to do: {action.action} ({action.because})"
        else:
            text += "; open"
        yield on_paper(text + ".")


# --- answers ---


def _answer_lines(judgement: Judgement) -> tuple[AnswerLine, ...]:
    questions = registry.load_all()
    reasons = reasons_given(judgement.inquiry.facts, judgement.inspection)
    return tuple(
        AnswerLine(
            a.rule,
            str(a.verdict),
            str(a.severity),
            _question_text(questions[a.rule].question, a),
            on_paper(a.found or (a.says if a.settled else "")),
            on_paper(a.limit),
            a.paragraph.removeprefix(f"{judgement.inquiry.procedure.name}, "),
            reasons[a.rule].person if a.rule in reasons and not a.settled else None,
        )
        for a in judgement.answers
    )


def _question_text(question: str, answer: Answer) -> str:
    """The question; where it is not settled also what the answer says."""
    text = question[:1].upper() + question[1:]
    return text if answer.settled or not answer.says else f"{text}\n{on_paper(answer.says)}"


def _exceptions(judgement: Judgement) -> Iterator[str]:
    """The named exceptions under which the answers carry an acceptance (law 2)."""
    q = judgement.inquiry
    if Disposition.ACCEPT not in judgement.dispositions:
        return
    standing = judgement.standing()
    for answer in standing.provisional:
        yield on_paper(f"{answer.rule} {answer.verdict}: accepted provisionally, {answer.says}")
    for answer in standing.deviated:
        deviation = next(
            r.fact for r in reversed(q.facts.of(f.DeviationSigned, q.inspection)) if r.fact.rule == answer.rule
        )
        yield on_paper(
            f"{answer.rule} {answer.verdict}: deviation signed by {deviation.person} ({deviation.role}) until {deviation.expires}: {deviation.justification}"
        )
    for answer in standing.conceded:
        yield f"{answer.rule} {answer.verdict}: engineering concession {q.concession}"


def _changed(judgement: Judgement, signed: Recorded[f.DecisionSigned] | None) -> Iterator[str]:
    """Rule by rule, where the answer is another now than the one that was signed."""
    if signed is None:
        return
    then = {kept.rule: kept for kept in signed.fact.answers}
    for answer in judgement.answers:
        kept = then.get(answer.rule)
        if kept is None:
            yield f"{answer.rule}: not asked when it was signed, {answer.verdict} now"
        elif kept.verdict != answer.verdict:
            yield f"{answer.rule}: {kept.verdict} when it was signed, {answer.verdict} now"
