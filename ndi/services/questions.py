"""Single questions to the book that belong to no record: a bench, a lamp, a bath, a person, a part."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from ndi.domain import facts as f
from ndi.domain.answer import Answer, Severity, Verdict
from ndi.domain.entry import Recorded
from ndi.domain.fact_set import FactSet
from ndi.domain.moment import Moment
from ndi.domain.outcome import not_recorded
from ndi.domain.vocabulary import Method, Quantity
from ndi.rules import light, light_trend, registry, wet_bath
from ndi.rules.authority import g05_every_method_accepted
from ndi.rules.viewing import stretch_outcome, views_of
from ndi.services.assemble import NEIGHBOURS, inquiry_for
from ndi.services.containment import all_containments
from ndi.services.lookup import about, every
from ndi.services.ports import Session
from ndi.services.recording import is_withdrawn, outside_answer
from ndi.services.shop_inquiry import any_procedure, shop_inquiry
from ndi.services.tagging import tag_answer
from ndi.services.workplace import Refused, Workplace


def refusals_about(session: Session, subject: str) -> list[Recorded[f.ActionRefused]]:
    """What was refused about a thing or to a person."""
    return about(session, f.ActionRefused, subject)


def first_accept_answer(work: Workplace, bench: str) -> Answer:
    """Whether parts of a bench may be accepted yet (M05): its bath needs a result of the shift."""
    with work.book.session(readonly=True) as session:
        entered = about(session, f.EquipmentEntered, bench)
        bath = entered[-1].fact.tank_bath if entered else None
        inquiry = shop_inquiry(work, session, [bench, bath], method=Method.MT)
        outcome = wet_bath.first_result_outcome(inquiry, bath or bench, work.now())
        return outside_answer("M05", outcome, inquiry.procedure)


def stretch_answer(work: Workplace, person: str) -> Answer:
    """How long a person has viewed without a break, now (G22)."""
    with work.book.session(readonly=True) as session:
        since = work.now().at - NEIGHBOURS
        facts = FactSet(session.facts(person, [f.ViewStarted, f.ViewEnded], since=since))
        procedure = any_procedure(work, session)
        inquiry = shop_inquiry(work, session, [])
        outcome = stretch_outcome(inquiry, views_of(facts, person), work.now())
        return outside_answer("G22", outcome, procedure)


def lamp_answers(work: Workplace, lamp: str) -> tuple[list[Answer], str]:
    """The last reading of a lamp against its limit (L02) and its trend (L12), its status and open containments."""
    with work.book.session(readonly=True) as session:
        inquiry = shop_inquiry(work, session, [lamp])
        readings = inquiry.readings(lamp, Quantity.UV_A)
        if not readings:
            return [], f"{lamp} was never read"
        last = readings[-1]
        answers = [
            outside_answer("L02", light.uv_outcome(inquiry, last), inquiry.procedure),
            outside_answer("L12", light_trend.trend_outcome(inquiry, last), inquiry.procedure),
        ]
        status = "stays withdrawn" if is_withdrawn(inquiry, lamp) else "in service"
        text = [
            f"{lamp} {last.fact.value} {last.fact.condition}: L02 {answers[0].verdict}, L12 {answers[1].verdict}; {status}"
        ]
        for opened in all_containments(session):
            if opened.fact.object == lamp:
                text.append(containment_text(opened.fact))
    if answers[1].verdict is not Verdict.PASS and answers[0].verdict is Verdict.PASS:
        text.append(answers[1].says)
    return answers, "; ".join(text)


def containment_text(opened: f.ContainmentOpened) -> str:
    """``CT-01: 17 inspections (18 pieces) PT-001, ...; second looks SC-03, ...``."""
    looks = f"; second looks {', '.join(opened.second_looks)}" if opened.second_looks else ""
    return f"{opened.containment} open: {len(opened.inspections)} inspections ({opened.pieces} pieces) {', '.join(opened.inspections)}{looks}"


def bath_answer(work: Workplace, bath: str) -> tuple[list[Answer], str]:
    """The last result of a bath (M03) and until when it holds."""
    with work.book.session(readonly=True) as session:
        inquiry = shop_inquiry(work, session, [bath], method=Method.MT)
        results = inquiry.readings(bath, Quantity.PARTICLE_VOLUME)
        if not results:
            return [], f"{bath} has no result"
        last = results[-1]
        outcome = wet_bath.volume_with_working_range(inquiry, last)
        until = Moment(last.at + inquiry.minutes("bath_valid"), last.when.offset_min)
        text = (
            f"{bath} {last.fact.value} at {last.when.clock()}, valid to {until.clock()}"
            if outcome.verdict is Verdict.PASS
            else outcome.says
        )
        return [outside_answer("M03", outcome, inquiry.procedure)], text


def cleared_since(work: Workplace, since: Moment) -> tuple[list[Answer], str]:
    """Provisional acceptances that the readings since a time cleared (L11), and what stays open or suspended."""
    with work.book.session(readonly=True) as session:
        rows = {row.inspection: row for row in session.inspections()}
        cleared = [r for r in every(session, f.ProvisionalCleared) if since.at <= r.at <= work.now().at]
        counts: Counter[tuple[str, str]] = Counter((rows[r.fact.inspection].method, r.when.clock()) for r in cleared)
        open_ = [row.inspection for row in rows.values() if row.provisional and not row.suspended]
        suspended = [row.inspection for row in rows.values() if row.suspended]
        procedure = any_procedure(work, session)
    parts = ", ".join(f"{count} {method} at {clock}" for (method, clock), count in sorted(counts.items()))
    found = f"{len(cleared)} cleared ({parts})" if cleared else "none cleared"
    text = f"{found}; {len(open_)} still provisional; {len(suspended)} suspended: {', '.join(suspended)}"
    verdict = Verdict.NOT_YET if open_ else Verdict.PASS
    setting = procedure.rules.get("L11")
    answer = Answer(
        "L11",
        1,
        verdict,
        found,
        "a reading in limits after each view",
        text,
        severity=setting.severity if setting else Severity.BLOCK,
    )
    return [answer], text


def accept_part(work: Workplace, part: str, person: str) -> Answer:
    """Call a part accepted; refused while a required method has no accepted inspection (G05), or a tag is not on it (D16)."""
    with work.act("accept part", person, part) as session:
        answer = part_answer(work, session, part)
        if not answer.settled:
            raise Refused([answer])
        untagged = [] if work.practice else tags_missing(work, session, part)
        if untagged:
            raise Refused(untagged)
        return answer


def tags_missing(work: Workplace, session: Session, part: str) -> list[Answer]:
    """D16 of each record of a part whose tag is not scanned on it, where the record's procedure asks that."""
    rows = session.inspections(part=part)
    closed = {row.previous for row in rows}
    answers = [
        tag_answer(work, session, row.inspection)
        for row in rows
        if row.inspection not in closed
        and "D16" in work.procedure(session, row.procedure, row.procedure_revision).rules
    ]
    return [answer for answer in answers if not answer.settled]


def part_answer(work: Workplace, session: Session, part: str) -> Answer:
    """G05 asked of a part: where each of its required methods stands."""
    row, rows = session.part(part), session.inspections(part=part)
    master = work.master(session, row.part_no)
    if not rows:
        return outside_answer("G05", not_recorded(f"{row.serial or row.lot}: no inspection recorded", "inspect it"))
    inquiry = inquiry_for(work, session, rows[-1].inspection)
    others = [recorded for other in rows for recorded in session.facts(other.inspection)]
    registry.load_all()
    return outside_answer(
        "G05", g05_every_method_accepted(replace(inquiry, master=master, facts=FactSet([*inquiry.facts, *others])))
    )
