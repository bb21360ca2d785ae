"""Serious findings: the time for their report runs from first sight; release to service is noted and starts the keeping of records."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from ndi.domain import facts as f
from ndi.domain.entry import Draft, Obtained, Recorded
from ndi.domain.errors import InputError, NotFound
from ndi.domain.moment import Moment
from ndi.domain.quantity import Number
from ndi.domain.vocabulary import Interpretation, is_crack_type
from ndi.rules.inquiry import as_timedelta
from ndi.services import covers
from ndi.services.containment import all_containments, containment
from ndi.services.lookup import about, every
from ndi.services.ports import Session
from ndi.services.proof import Meaning, Proof
from ndi.services.recording import check_known
from ndi.services.second_person import holds_level
from ndi.services.signing import require
from ndi.services.workplace import Refused, Workplace

REPORT_WITHIN, JUDGED_WITHIN, RETENTION = "serious_report_within", "judgement_within", "retention_years"


@dataclass(frozen=True)
class Finding:
    """A finding that may have to be reported; the clock runs from ``discovered`` whatever the time of the judgement.

    ``judge_by`` and ``report_by`` are None where no procedure in force sets the time.
    """

    name: str  # an indication, or a containment
    discovered: Moment
    about: tuple[str, ...]  # what a report says: part, engine, place, type, size ...
    judge_by: Moment | None
    report_by: Moment | None
    judged: f.SeriousnessJudged | None
    reported: f.SeriousReportSent | None
    is_crack: bool

    def state(self, now: Moment) -> str:
        """Where it stands, in words."""
        if self.reported is not None:
            return f"reported: {self.reported.reference}"
        if self.judged is not None and not self.judged.serious:
            return f"not serious: {self.judged.reason} ({self.judged.person})"
        if self.judged is not None:
            return f"serious, report due {self.report_by or 'as the procedure does not say'}"
        if self.is_crack and self.judge_by is None:
            return "not judged; the procedure sets no time for it"
        due = f"report would be due {self.report_by or 'as the procedure does not say'}"
        return f"not judged; judge by {self.judge_by}, {due}" if self.is_crack else f"not judged; if serious, its {due}"

    def is_red(self, now: Moment) -> bool:
        """Late: a crack without a judgement, or a serious finding without its report; unknown limits are red at once."""
        if self.reported is not None or (self.judged is not None and not self.judged.serious):
            return False
        due = self.judge_by if self.judged is None else self.report_by
        if self.judged is None and not self.is_crack:
            return False
        return due is None or now.at > due.at


def findings(work: Workplace) -> tuple[Finding, ...]:
    """Relevant crack-type indications and containments, by time of discovery."""
    with work.look() as session:
        return findings_in(work, session)


def findings_in(work: Workplace, session: Session) -> tuple[Finding, ...]:
    found = [*_cracks(work, session), *_containments(work, session)]
    return tuple(sorted(found, key=lambda each: (each.discovered.at, each.name)))


def late(work: Workplace) -> int:
    """How many findings are red, without gathering what their reports say: asked again each minute."""
    with work.look() as session:
        judged = {r.fact.finding: r.fact for r in sorted(every(session, f.SeriousnessJudged), key=lambda r: r.position)}
        sent = {r.fact.finding for r in every(session, f.SeriousReportSent)}
        settled = sent | {name for name, fact in judged.items() if not fact.serious}
        now, count = work.now(), 0
        cracks = {name: seen for name, _, seen in _cracks_seen(session, settled)}
        sets = {r.fact.containment: _discovered(session, r) for r in all_containments(session)}
        begun = {name: _first(seen).when for name, seen in cracks.items()}
        begun |= {name: sets[name] for name in judged if name in sets and name not in settled}
        for name, start in begun.items():
            due = _after(work, session, start, REPORT_WITHIN if name in judged else JUDGED_WITHIN)
            count += due is None or now.at > due.at
        return count


def _cracks(work: Workplace, session: Session) -> Iterator[Finding]:
    for name, fact, seen in _cracks_seen(session, frozenset()):
        first = _first(seen)
        said = _crack_facts(session, first.when, seen[-1], fact)
        yield _finding(work, session, name, first.when, said, is_crack=True)


def _cracks_seen(
    session: Session, apart: Collection[str]
) -> Iterator[tuple[str, f.IndicationInterpreted, list[Recorded[f.IndicationSeen]]]]:
    """Relevant indications that may be cracks, as they are interpreted now, with each time they were seen."""
    latest = {r.fact.indication: r.fact for r in every(session, f.IndicationInterpreted)}
    for name, fact in latest.items():
        if name in apart or fact.interpretation != Interpretation.RELEVANT or not _may_be_a_crack(fact):
            continue
        seen = [r for r in about(session, f.IndicationSeen, name) if r.fact.indication == name]
        if seen:
            yield name, fact, seen


def _first(seen: Sequence[Recorded[f.IndicationSeen]]) -> Recorded[f.IndicationSeen]:
    return min(seen, key=lambda r: (r.at, r.position))


def _may_be_a_crack(interpreted: f.IndicationInterpreted) -> bool:
    """A type that nobody named may be a crack: it is not left out for want of a word."""
    return is_crack_type(interpreted.type) or not (interpreted.type or "").strip()


def _crack_facts(
    session: Session, first: Moment, seen: Recorded[f.IndicationSeen], interpreted: f.IndicationInterpreted
) -> tuple[str, ...]:
    """What a report of a crack says, as far as the book knows it."""
    row = session.inspection(seen.fact.inspection)
    part = session.part(row.part)
    order = about(session, f.WorkOrderOpened, row.work_order)
    engine = order[-1].fact if order else None
    said = (
        ("found", str(first)),
        ("engine", f"{engine.engine_model} {engine.engine_serial}" if engine else None),
        ("time since new", engine.time_since_new if engine else None),
        ("time since overhaul", engine.time_since_overhaul if engine else None),
        ("part", f"{part.part_no} {part.serial or part.lot or ''}".strip()),
        ("piece", seen.fact.piece),
        ("record", row.inspection),
        ("where", ", ".join(each for each in (seen.fact.zone, seen.fact.position) if each) or None),
        ("type", interpreted.type),
        ("length", str(seen.fact.length) if seen.fact.length else None),
        ("disposition", row.disposition),
    )
    return tuple(f"{name}: {value or 'NOT RECORDED'}" for name, value in said if value or name != "piece")


def _containments(work: Workplace, session: Session) -> Iterator[Finding]:
    for recorded in all_containments(session):
        fact = recorded.fact
        if fact.inspections:
            found = _discovered(session, recorded)
            said = (
                f"found: {found}",
                f"object: {fact.object}, {fact.quantity}",
                f"in doubt: {fact.last_good or 'from the first use'} to {fact.first_bad}",
                f"holds: {len(fact.inspections)} records, {fact.pieces} pieces",
            )
            yield _finding(work, session, fact.containment, found, said, is_crack=False)


def _discovered(session: Session, opened: Recorded[f.ContainmentOpened]) -> Moment:
    """The trigger's own time; a person who finds afterwards that an entry was bad discovers it then."""
    return session.entry(opened.fact.trigger).when if opened.how is Obtained.COMPUTED else opened.when


def _finding(
    work: Workplace, session: Session, name: str, discovered: Moment, said: tuple[str, ...], *, is_crack: bool
) -> Finding:
    judged = [r.fact for r in about(session, f.SeriousnessJudged, name)]
    last = judged[-1] if judged else None
    # what a report asks for beside the facts of the finding (14 CFR 145.221(b))
    said += (
        f"aircraft registration: {(last and last.registration) or 'NOT RECORDED'}",
        f"apparent cause: {(last and last.cause) or 'NOT RECORDED'}",
    )
    sent = [r.fact for r in about(session, f.SeriousReportSent, name)]
    return Finding(
        name,
        discovered,
        said,
        _after(work, session, discovered, JUDGED_WITHIN),
        _after(work, session, discovered, REPORT_WITHIN),
        last,
        sent[-1] if sent else None,
        is_crack,
    )


def _after(work: Workplace, session: Session, start: Moment, key: str) -> Moment | None:
    """The end of the shortest time that a procedure in force on the day of ``start`` sets."""
    times = [as_timedelta(number) for number in _numbers(work, session, key, start.local.date())]
    return Moment(start.at + min(times), start.offset_min) if times else None


def _numbers(work: Workplace, session: Session, key: str, on: date) -> list[Number]:
    found = []
    for procedure in work.procedures(session):
        parameter = procedure.parameters.get(key)
        in_force = procedure.effective_from <= on and (procedure.effective_to is None or on <= procedure.effective_to)
        if in_force and parameter is not None and isinstance(parameter.value, Number):
            found.append(parameter.value)
    return found


# --- judging and reporting ------------------------------------------------------------------------------


def judgement_covers(
    finding: str, serious: bool, reason: str, registration: str | None = None, cause: str | None = None
) -> covers.Covers:
    more = (f"aircraft registration {registration}" if registration else "", f"apparent cause {cause}" if cause else "")
    return (
        f"{finding}: {'SERIOUS, to be reported' if serious else 'not serious'}",
        reason,
        *(each for each in more if each),
    )


def judge_seriousness(
    work: Workplace,
    finding: str,
    person: str,
    *,
    serious: bool,
    reason: str,
    registration: str | None = None,
    cause: str | None = None,
    proof: Proof | None = None,
) -> Recorded[f.Fact]:
    """A Level III says whether a finding is reported; "not serious" too has a name and a reason.

    ``registration`` of the aircraft and the apparent ``cause``: what the report asks for and no inspection tells.
    """
    if not reason.strip():
        raise InputError("give the reason; it is kept with your name")
    with work.act("judge seriousness", person, finding) as session:
        check_known(session, person)
        _refuse_unknown(session, finding)
        shown = judgement_covers(finding, serious, reason, registration, cause)
        signed = require(work, session, proof, person, Meaning.APPROVED, shown)
        today = work.now().local.date()
        if not any(holds_level(session, person, method, 3, today) for method in ("MT", "PT")):
            raise Refused((), f"{person} holds no level 3 certificate: a Level III judges it")
        fact = f.SeriousnessJudged(
            finding, serious, person, reason, signed.proof, signed.meaning, signed.covers, registration, cause
        )
        (recorded,) = session.append([Draft(fact, work.now(), person)])
        return recorded


def report_sent(work: Workplace, finding: str, person: str, *, reference: str, sent_to: str) -> Recorded[f.Fact]:
    """The report went out; refused for a finding that nobody judged serious."""
    if not (reference.strip() and sent_to.strip()):
        raise InputError("name the report and to whom it went")
    with work.act("report serious finding", person, finding) as session:
        check_known(session, person)
        judged = about(session, f.SeriousnessJudged, finding)
        if not judged or not judged[-1].fact.serious:
            raise Refused((), f"{finding} is not judged serious")
        fact = f.SeriousReportSent(finding, person, reference, sent_to)
        (recorded,) = session.append([Draft(fact, work.now(), person)])
        return recorded


def _refuse_unknown(session: Session, finding: str) -> None:
    if not about(session, f.IndicationSeen, finding):
        containment(session, finding)  # NotFound


# --- release and keeping --------------------------------------------------------------------------------


def note_release(
    work: Workplace, work_order: str, released: date, reference: str, person: str, by: str, *, years: int | None = None
) -> Recorded[f.Fact]:
    """The engine was released to service by somebody else, elsewhere: date, reference, person, as its document says.

    ``years`` for which records are kept; without it the longest time of the procedures in force.
    """
    with work.act("note release", by, work_order) as session:
        check_known(session, by)
        if not about(session, f.WorkOrderOpened, work_order):
            raise NotFound(f"no work order {work_order} in the book")
        if not (reference.strip() and person.strip()):
            raise InputError("name the release document and who signed it")
        if released > work.now().local.date():
            raise InputError(f"{released} has not come yet")
        set_by = [int(number.value) for number in _numbers(work, session, RETENTION, released)]
        if years is None and not set_by:
            raise InputError("no procedure in force says for how many years records are kept: type the years")
        kept = max([years or 0, *set_by])
        fact = f.ReleaseNoted(work_order, released, reference, person, kept)
        (recorded,) = session.append([Draft(fact, work.now(), by)])
        return recorded


def keep_until(release: f.ReleaseNoted) -> date:
    """The last day on which the records must be kept; nothing is deleted after it either."""
    year = release.released.year + release.keep_years
    try:
        return release.released.replace(year=year)
    except ValueError:  # 29 February
        return date(year, 3, 1)


def releases(work: Workplace) -> tuple[Recorded[f.ReleaseNoted], ...]:
    """The release of each work order that was noted."""
    with work.look() as session:
        latest = {r.fact.work_order: r for r in every(session, f.ReleaseNoted)}
    return tuple(latest.values())
