"""The shift sheet as a report model: one day of the shop, and what is still open as the book stands."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import date
from typing import TypeVar

from ndi.domain import facts as f
from ndi.domain.answer import Verdict
from ndi.domain.entry import Recorded
from ndi.domain.moment import Moment
from ndi.domain.outcome import Missing
from ndi.domain.vocabulary import Condition, Method, Quantity
from ndi.rules import wet_bath
from ndi.services.containment import all_containments, latest_actions
from ndi.services.lamps import lamp_day, lamps
from ndi.services.lookup import about, every
from ndi.services.paper_text import clock_range, doer, local_text, on_paper, value_text
from ndi.services.ports import Session
from ndi.services.record_rows import check_text, conditions_text
from ndi.services.report_models import Labelled, SheetTable, ShiftModel
from ndi.services.shop_inquiry import shop_inquiry
from ndi.services.state import Standing, record_counts, standings
from ndi.services.workplace import Workplace

F = TypeVar("F", bound=f.Fact)


def shift_model(work: Workplace, day: date) -> ShiftModel:
    """What happened on a local day, and every line that is open now."""
    with work.book.session(readonly=True) as session:
        every_record = standings(work, session)
        begun = every(session, f.BookBegun)
        return ShiftModel(
            day=f"{day:%Y-%m-%d}, {day:%A}",
            shop=begun[0].fact.shop if begun else "not recorded",
            book_id=work.book.book_id,
            practice=work.practice,
            printed_at=local_text(work.now()),
            head=str(session.head()),
            figures=_figures(session, day, every_record),
            tables=(
                _people(session, day),
                _lamps(work, session, day),
                _baths(work, session, day),
                _readings(session, day),
                _checks(session, day),
                _containments(session),
                _open_lines(every_record),
                _refusals(session, day),
                _cautions(work, session, day),
            ),
        )


def _on(facts: Iterable[Recorded[F]], day: date) -> list[Recorded[F]]:
    return [r for r in facts if r.when.local.date() == day]


def _figures(session: Session, day: date, every_record: Sequence[Standing]) -> tuple[Labelled, ...]:
    """How much was done, in numbers that come from the book; and whether the calculators may be trusted."""
    from ndi.calc import selftest  # builds its table: only when a sheet is made

    rows = [s.row for s in every_record]
    decisions = _on(every(session, f.DecisionSigned), day)
    asked = sum(len(r.fact.answers) for r in decisions)
    revisions = Counter(f"{s.judgement.inquiry.procedure.name} ({len(s.judgement.answers)})" for s in every_record)
    shift = [f"{r.fact.station} {r.fact.mark} {r.when.clock()}" for r in _on(every(session, f.ShiftMarked), day)]
    verified = _on(every(session, f.VerificationSigned), day)
    tags = _on(every(session, f.TagPrinted), day)
    return (
        Labelled("Records opened", str(len(_on(every(session, f.InspectionOpened), day)))),
        Labelled("Decisions signed", f"{len(decisions)}, with {asked} answers"),
        Labelled("Rules asked", ", ".join(sorted(revisions)) or "none"),
        Labelled("Tags printed", str(len(tags))),
        Labelled(
            "Records by state",
            ", ".join(f"{count} {word}" for word, count in record_counts(session, rows).items() if count),
        ),
        Labelled(
            "Still provisional",
            ", ".join(row.inspection for row in rows if row.provisional and not row.suspended) or "none",
        ),
        Labelled(
            "Verified",
            "; ".join(f"{len(v.fact.inspections)} by {v.fact.person} {v.when.clock()}" for v in verified)
            or "no verification signed",
        ),
        Labelled("Line and booth shifts", "; ".join(shift) or "no opening or closing entry"),
        Labelled("Self-test of the calculators", selftest.run().line()),
    )


def _cautions(work: Workplace, session: Session, day: date) -> SheetTable:
    """Where the work can hurt somebody: the cautions of every procedure revision in force that day."""
    rows: dict[tuple[str, str], list[str]] = {}
    for procedure in work.procedures(session):
        if procedure.effective_from <= day and (procedure.effective_to is None or day <= procedure.effective_to):
            for caution in procedure.cautions:
                rows.setdefault((caution.before, caution.text), []).append(procedure.name)
    columns = (("Before", 0.16), ("Caution", 0.62), ("Procedure", 0.22))
    told = tuple((before, text, ", ".join(names)) for (before, text), names in rows.items())
    return SheetTable("Cautions", columns, told, "The procedures in force hold no cautions.")


def _people(session: Session, day: date) -> SheetTable:
    """Who checked in, with the certificates held that day; and who checked out."""
    out = {r.fact.person: r.when.clock() for r in _on(every(session, f.CheckedOut), day)}
    rows = []
    for recorded in sorted(_on(every(session, f.CheckedIn), day), key=lambda r: r.at):
        fact = recorded.fact
        held = [
            r.fact for r in about(session, f.CertificateEntered, fact.person) if r.fact.issued <= day <= r.fact.expires
        ]
        roles = about(session, f.PersonEntered, fact.person)
        glasses = {None: "not declared", True: "clear", False: "NOT clear"}[fact.clear_glasses]
        rows.append(
            (
                fact.person,
                recorded.when.clock(),
                out.get(fact.person, ""),
                fact.station or "",
                ", ".join(roles[-1].fact.roles) if roles else "",
                ", ".join(dict.fromkeys(f"{c.method} {c.level}" for c in held)) or "none",
                glasses,
            )
        )
    columns = (
        ("Person", 0.12),
        ("In", 0.09),
        ("Out", 0.09),
        ("Station", 0.15),
        ("Roles", 0.26),
        ("Certificates", 0.17),
        ("Glasses", 0.12),
    )
    return SheetTable("People", columns, tuple(rows), "Nobody checked in.")


def _lamps(work: Workplace, session: Session, day: date) -> SheetTable:
    """Each lamp with its answer of the day, and whether it is in service now."""
    rows, act = [], set()
    for number, lamp in enumerate(lamps(session)):
        found = lamp_day(work, session, lamp, day)
        status = about(session, f.EquipmentStatusSet, lamp)
        now = status[-1].fact.state if status else "in service"
        today = [
            r
            for r in _on(about(session, f.ReadingRecorded, lamp), day)
            if (r.fact.quantity, r.fact.condition) == (Quantity.UV_A, Condition.AS_FOUND)
        ]
        says = ", ".join(f"{r.when.clock()} {value_text(r.fact.value)}" for r in today) or on_paper(found.says)
        rows.append((lamp, str(found.verdict), says, str(len(found.used_for)), now))
        if found.verdict in (Verdict.FAIL, Verdict.NOT_RECORDED) or now != "in service":
            act.add(number)
    columns = (("Lamp", 0.1), ("Answer", 0.15), ("Readings as found", 0.49), ("Records", 0.1), ("Now", 0.16))
    return SheetTable("Lamps (UV-A)", columns, tuple(rows), "The shop has no lamps.", frozenset(act))


def _baths(work: Workplace, session: Session, day: date) -> SheetTable:
    """Each result of a bath with its answer, and until when it holds."""
    rows, act = [], set()
    results = [r for r in _on(every(session, f.ReadingRecorded), day) if r.fact.quantity == Quantity.PARTICLE_VOLUME]
    for number, recorded in enumerate(results):
        inquiry = shop_inquiry(work, session, [recorded.fact.object], method=Method.MT)
        try:
            outcome = wet_bath.volume_with_working_range(inquiry, recorded)
            until = Moment(recorded.at + inquiry.minutes("bath_valid"), recorded.when.offset_min).clock()
        except Missing as missing:
            outcome, until = missing.outcome, ""
        rows.append(
            (
                recorded.when.clock(),
                recorded.fact.object,
                value_text(recorded.fact.value),
                value_text(recorded.fact.contamination),
                str(outcome.verdict),
                on_paper(outcome.limit),
                until,
                doer(recorded),
            )
        )
        if outcome.verdict is not Verdict.PASS:
            act.add(number)
    columns = (
        ("At", 0.09),
        ("Bath", 0.14),
        ("Particles", 0.13),
        ("Contamination", 0.14),
        ("Answer", 0.14),
        ("Limit", 0.18),
        ("Valid to", 0.1),
        ("By", 0.08),
    )
    return SheetTable("Baths", columns, tuple(rows), "No bath was read.", frozenset(act))


def _readings(session: Session, day: date) -> SheetTable:
    """Every other reading of the day, and the as-left ones of lamps."""
    rows = []
    for recorded in sorted(_on(every(session, f.ReadingRecorded), day), key=lambda r: (r.at, r.position)):
        fact = recorded.fact
        if fact.quantity == Quantity.PARTICLE_VOLUME or (fact.quantity, fact.condition) == (
            Quantity.UV_A,
            Condition.AS_FOUND,
        ):
            continue
        rows.append(
            (
                recorded.when.clock(),
                fact.object,
                fact.quantity,
                value_text(fact.value),
                conditions_text(fact),
                fact.meter or "",
                doer(recorded),
            )
        )
    columns = (
        ("At", 0.09),
        ("Object", 0.16),
        ("Quantity", 0.21),
        ("Value", 0.17),
        ("Condition", 0.21),
        ("Meter", 0.08),
        ("By", 0.08),
    )
    return SheetTable("Other readings", columns, tuple(rows))


def _checks(session: Session, day: date) -> SheetTable:
    """Panels, rings and the other process checks of the day."""
    rows, act = [], set()
    for number, recorded in enumerate(
        sorted(_on(every(session, f.ProcessCheckRecorded), day), key=lambda r: (r.at, r.position))
    ):
        fact = recorded.fact
        detail = ", ".join(filter(None, (fact.line, ", ".join(fact.batches), fact.detail)))
        rows.append((recorded.when.clock(), fact.object, fact.check, check_text(fact), detail, doer(recorded)))
        if not fact.passed:
            act.add(number)
    columns = (
        ("At", 0.09),
        ("Object", 0.14),
        ("Check", 0.21),
        ("Result", 0.22),
        ("Line, batches, detail", 0.26),
        ("By", 0.08),
    )
    return SheetTable("Panels and process checks", columns, tuple(rows), emphasised=frozenset(act))


def _containments(session: Session) -> SheetTable:
    """Recall sets with what is still to do, whatever day they were opened on."""
    rows, act = [], set()
    for number, recorded in enumerate(all_containments(session)):
        fact = recorded.fact
        done = {r.fact.inspection for r in about(session, f.ContainmentItemDone, fact.containment)}
        actions = latest_actions(session, fact.containment)
        left = [name for name in fact.inspections if name not in done]
        todo = "; ".join(f"{name}: {actions[name].action}" if name in actions else name for name in left)
        doubt = clock_range(fact.last_good, fact.first_bad) if fact.last_good else f"until {fact.first_bad.clock()}"
        rows.append(
            (
                fact.containment,
                fact.object,
                doubt,
                f"{len(fact.inspections)} records, {fact.pieces} pieces",
                f"{len(done)} done",
                todo or "nothing",
            )
        )
        if left:
            act.add(number)
    columns = (("Set", 0.09), ("Object", 0.1), ("In doubt", 0.15), ("Holds", 0.16), ("Done", 0.1), ("To do", 0.4))
    return SheetTable("Recall sets", columns, tuple(rows), "None was opened.", frozenset(act))


def _open_lines(every_record: Sequence[Standing]) -> SheetTable:
    """What keeps records from being verified, record by record."""
    rows = []
    for standing in every_record:
        if standing.is_verifiable:
            continue
        lines = [f"{a.rule} {a.verdict}" for a in standing.open_lines]
        ways = dict.fromkeys(way for a in standing.open_lines for way in a.ways_out)
        word = standing.row.disposition + (" - SUSPENDED" if standing.row.suspended else "")
        rows.append((standing.row.inspection, word, ", ".join(lines) or "not signed", on_paper("; ".join(ways))))
    columns = (("Record", 0.11), ("State", 0.22), ("Open lines", 0.3), ("Ways out", 0.37))
    return SheetTable("Open records", columns, tuple(rows), "Every record is complete.")


def _refusals(session: Session, day: date) -> SheetTable:
    """What the tool refused, to whom and why."""
    rows = []
    for recorded in sorted(_on(every(session, f.ActionRefused), day), key=lambda r: r.position):
        fact = recorded.fact
        rows.append(
            (
                recorded.when.clock(),
                fact.person,
                fact.action,
                fact.subject,
                ", ".join(fact.rules),
                on_paper(fact.message),
            )
        )
    columns = (("At", 0.08), ("Person", 0.1), ("Action", 0.16), ("About", 0.17), ("Rules", 0.1), ("Why", 0.39))
    return SheetTable("Refusals", columns, tuple(rows), "Nothing was refused.")
