"""The report to the owner of an engine: plain words, every piece accounted for, what was found and what it means."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from ndi.domain import facts as f
from ndi.domain.errors import NotFound
from ndi.domain.procedure import PartMaster
from ndi.rules.inquiry import Indication, Inquiry
from ndi.services import owner_words as words
from ndi.services import paper_blocks as b
from ndi.services.assemble import decision_in_force, inquiry_for
from ndi.services.lookup import about, only
from ndi.services.paper_text import local_text, on_paper, value_text
from ndi.services.ports import InspectionRow, PartRow, Session
from ndi.services.record_report import outline_points, outline_zones
from ndi.services.record_rows import indication_models
from ndi.services.report_models import IndicationModel, Labelled, PictureModel, SheetTable
from ndi.services.state import decision_text, piece_counts, piece_states
from ndi.services.workplace import Workplace

_THUMBNAIL = 900  # pixels along the longer edge


@dataclass(frozen=True)
class _Line:
    """One part or lot of the work order."""

    part: PartRow
    name: str
    methods: str
    states: Counter[str]
    rows: tuple[InspectionRow, ...]


@dataclass(frozen=True)
class _Finding:
    """One indication with the record and part that carry it."""

    line: _Line
    row: InspectionRow
    q: Inquiry
    mark: Indication
    model: IndicationModel


def owner_report(work: Workplace, work_order: str) -> b.PaperModel:
    """The report of one work order as the book stands; NotFound for one that the book does not hold."""
    with work.book.session(readonly=True) as session:
        order = only(session, f.WorkOrderOpened, work_order)
        counts = piece_counts(work, session, work_order)
        listed = session.parts(work_order)
        lines = [_line(work, session, part) for part in listed if part.reason_code is None]
        left_out = [part for part in listed if part.reason_code is not None]
        findings = [found for line in lines for found in _findings(work, session, line)]
        head = str(session.head())
        fact = order.fact
        bottom = words.bottom_line(counts, _named(lines))
        blocks = (
            b.Heading("What this report is about"),
            b.Pairs(_identity(session, fact, order.when.local.date().isoformat())),
            b.NoticeBox("IN ONE SENTENCE", (bottom,)),
            *_open_notices(session, lines),
            *_table(lines, left_out, counts),
            *_relevant(work, session, findings),
            *_others(findings),
            *_rework(session, lines),
            *_directives(session, work_order),
            *_how(work, session, lines),
            b.Heading("What this inspection cannot tell"),
            b.Bullets(words.LIMITS_OF_INSPECTION),
            *_numbers(session, lines),
        )
        return b.PaperModel(
            title="ENGINE INSPECTION REPORT",
            subject=f"{fact.engine_model} serial {fact.engine_serial}   work order {work_order}",
            book_id=work.book.book_id,
            practice=work.practice,
            printed_at=local_text(work.now()),
            head=head,
            blocks=blocks,
            record=_record(work, fact, counts, lines, left_out, findings, bottom, head),
        )


def _line(work: Workplace, session: Session, part: PartRow) -> _Line:
    rows = tuple(session.inspections(part=part.part))
    master = _master(work, session, part.part_no)
    methods = ", ".join(dict.fromkeys(need.method for need in master.required)) if master else "no data"
    name = part.description or (master.description if master else part.part_no)
    return _Line(part, name, methods, piece_states(work, session, part), rows)


def _master(work: Workplace, session: Session, part_no: str) -> PartMaster | None:
    try:
        return work.master(session, part_no)
    except NotFound:
        return None


def _item(part: PartRow) -> str:
    return part.serial or (f"lot {part.lot}" if part.lot else "")


def _named(lines: Sequence[_Line]) -> dict[str, list[str]]:
    """The names of what stands in each state, for the states that an owner must know by name."""
    named: dict[str, list[str]] = {}
    for line in lines:
        for word, count in line.states.items():
            pieces = f", {count} of {line.part.quantity}" if line.part.quantity > 1 else ""
            named.setdefault(word, []).append(f"{line.name} {_item(line.part)}{pieces}")
    return named


def _identity(session: Session, order: f.WorkOrderOpened, opened: str) -> tuple[Labelled, ...]:
    released = about(session, f.ReleaseNoted, order.work_order)
    return (
        Labelled("Engine", f"{order.engine_model} serial {order.engine_serial}"),
        Labelled("Work order", f"{order.work_order}, opened {opened}"),
        Labelled("Time since new", f"{order.time_since_new or 'not recorded'} (h, as stated in the log book)"),
        Labelled(
            "Since last shop visit", f"{order.time_since_overhaul or 'not recorded'} (h, as stated in the log book)"
        ),
        Labelled("Reason for the work", order.reason),
        Labelled("Limits used", order.limits_basis),
        *(Labelled("Release (elsewhere)", f"{r.fact.released}, {r.fact.reference}") for r in released[-1:]),
    )


def _open_notices(session: Session, lines: Sequence[_Line]) -> Iterator[b.Block]:
    """Acceptances that are not final: suspended ones, and ones that wait for a reading."""
    rows = [(line, row) for line in lines for row in line.rows]
    suspended = [
        f"{line.name} {_item(line.part)} ({row.inspection}): {_suspension(session, row, decision_text(session, row))}"
        for line, row in rows
        if row.suspended
    ]
    waiting = []
    for line, row in rows:
        signed = decision_in_force(session, row.inspection)
        if row.provisional and not row.suspended and signed is not None:
            waits = on_paper(signed.fact.waits_for or "a reading still to be taken")
            waiting.append(f"{line.name} {_item(line.part)} ({row.inspection}): waits for {waits}")
    if suspended:
        yield b.NoticeBox(f"SUSPENDED: {len(suspended)} INSPECTION(S)", tuple(suspended), inverted=True)
    if waiting:
        yield b.NoticeBox(f"PROVISIONAL: {len(waiting)} INSPECTION(S)", tuple(waiting))


def _suspension(session: Session, row: InspectionRow, word: str) -> str:
    """What the suspension of a record leaves standing; empty for a record that is not suspended."""
    if not row.suspended:
        return ""
    found = about(session, f.AcceptanceSuspended, row.inspection)
    return words.suspension(word, claim_only=bool(found) and found[-1].fact.claim_only)


def _followed_by(session: Session, found: _Finding) -> str:
    """What later records of the same piece say, e.g. after rework."""
    later = [row for row in found.line.rows if row.previous == found.row.inspection]
    return " ".join(
        f"Inspected anew as {row.inspection}: {decision_text(session, row)}{' - SUSPENDED' if row.suspended else ''}."
        for row in later
    )


# --- the table -----------------------------------------------------------------------------------------


def _table(lines: Sequence[_Line], left_out: Sequence[PartRow], counts: dict[str, int]) -> Iterator[b.Block]:
    used = [word for word in words.STATE_WORDS if counts.get(word)]
    rows = [
        (
            line.name,
            line.part.part_no,
            _item(line.part),
            line.methods,
            str(line.part.quantity),
            *(str(line.states[word] or "") for word in used),
        )
        for line in lines
    ]
    total = ("All pieces", "", "", "", str(counts["received"]), *(str(counts[word]) for word in used))
    share = 0.36 / max(1, len(used))
    columns = (
        ("Part", 0.23),
        ("Part number", 0.12),
        ("Serial or lot", 0.14),
        ("Methods", 0.08),
        ("Pieces", 0.07),
        *((words.STATE_WORDS[word], share) for word in used),
    )
    act = frozenset(n for n, line in enumerate(lines) if set(line.states) - {"ACCEPT"}) | {len(rows)}
    yield SheetTable("Every piece received", columns, (*rows, total), emphasised=act)
    yield b.Text(words.reconciled(counts))
    if left_out:
        told = tuple((p.description or "", p.part_no, _item(p), str(p.quantity), p.reason_code or "") for p in left_out)
        columns = (("Part", 0.3), ("Part number", 0.16), ("Serial or lot", 0.18), ("Pieces", 0.1), ("Why not", 0.26))
        yield SheetTable("Received and not inspected", columns, told)


# --- what was found ------------------------------------------------------------------------------------


def _findings(work: Workplace, session: Session, line: _Line) -> Iterator[_Finding]:
    for row in line.rows:
        if not about(session, f.IndicationSeen, row.inspection):
            continue
        q = inquiry_for(work, session, row.inspection)
        models = {model.name: model for model in indication_models(q)}
        for mark in q.indications:
            yield _Finding(line, row, q, mark, models[mark.id])


def _relevant(work: Workplace, session: Session, findings: Sequence[_Finding]) -> Iterator[b.Block]:
    yield b.Heading("Findings")
    relevant = [found for found in findings if found.mark.relevant or found.mark.interpreted is None]
    if not relevant:
        yield b.Text("No relevant indication was recorded.")
    for number, found in enumerate(relevant, start=1):
        seen, model = found.mark.seen.fact, found.model
        piece = f", piece {seen.piece}" if seen.piece else ""
        yield b.Heading(f"{number}. {found.line.name}, {_item(found.line.part)}{piece}")
        word = model.disposition or found.row.disposition
        yield b.Pairs(
            (
                Labelled("Where", _place(found)),
                Labelled("What", f"{model.interpretation}; {model.form}"),
                Labelled("Size", model.size or "not recorded"),
                Labelled("Limit", f"{model.limit or 'none stated'} ({model.evaluation})"),
                Labelled("Decision", word + (" - SUSPENDED" if found.row.suspended else "")),
                Labelled("Record", f"{found.row.inspection}, {model.name}"),
            )
        )
        told = words.consequence(word, _suspension(session, found.row, word), _followed_by(session, found))
        yield b.Text(f"What follows: {told}")
        yield b.Drawing(
            "The numbered line points at the place; the length is drawn to scale inside the ring.",
            outline_points(found.q.master),
            outline_zones(found.q.master),
            (replace(model, disposition=""),),
        )
        yield from _photographs(work, found)


def _place(found: _Finding) -> str:
    seen = found.mark.seen.fact
    zone = found.q.master.zone(seen.zone) if seen.zone else None
    return on_paper(
        "; ".join(filter(None, (zone.name if zone else seen.zone, found.model.position))) or "place not recorded"
    )


def _photographs(work: Workplace, found: _Finding) -> Iterator[b.Block]:
    pictures, missing = [], 0
    for photo in found.mark.photos:
        sha, archive = photo.fact.sha256, work.photographs
        if photo.fact.size is not None and archive is not None and archive.holds(sha):
            caption = f"{found.mark.id}, {local_text(photo.fact.taken_at)}, {photo.fact.light or 'light not recorded'}"
            pictures.append(PictureModel(archive.thumbnail(sha, _THUMBNAIL), caption))
        else:
            missing += 1
    if pictures:
        yield b.Pictures(tuple(pictures))
    if missing:
        yield b.Text(f"{missing} photograph(s) named in the record are not in the archive of this book.", small=True)
    if not found.mark.photos:
        yield b.Text("No photograph was recorded.", small=True)


def _others(findings: Sequence[_Finding]) -> Iterator[b.Block]:
    """What is no reason for a decision against the part, so that the next shop knows."""
    rows = tuple(
        (
            f"{found.line.name} {_item(found.line.part)}",
            _place(found),
            f"{found.model.form} {found.model.size}",
            f"{found.model.interpretation}, {found.model.evaluation}",
            found.row.inspection,
        )
        for found in findings
        if found.mark.interpreted is not None and not found.mark.relevant
    )
    columns = (("Part", 0.26), ("Where", 0.24), ("Form, size", 0.2), ("Taken as", 0.2), ("Record", 0.1))
    yield SheetTable("Other indications, for the next shop", columns, rows)


def _rework(session: Session, lines: Sequence[_Line]) -> Iterator[b.Block]:
    rows = []
    for line in lines:
        for recorded in about(session, f.ReworkDone, line.part.part):
            done = recorded.fact
            sizes = [
                f"{d.name} {value_text(d.value)} (new limit {value_text(d.new_limit) or 'not recorded'}, "
                f"service limit {value_text(d.service_limit) or 'not recorded'})"
                for d in done.dimensions
            ]
            item, depth = f"{line.name} {_item(line.part)}", value_text(done.depth) or "not recorded"
            rows.append((item, done.zone, depth, "; ".join(sizes) or "not recorded", str(recorded.when)))
    if rows:
        columns = (("Part", 0.25), ("Zone", 0.17), ("Depth", 0.12), ("Dimension after", 0.3), ("Done", 0.16))
        yield SheetTable("Material removed in rework", columns, tuple(rows))


def _directives(session: Session, work_order: str) -> Iterator[b.Block]:
    confirmed = about(session, f.DirectivesConfirmed, work_order)
    yield b.Heading("Directives and bulletins")
    if not confirmed:
        yield b.Text("The list of directives for this engine was not recorded.")
    elif not confirmed[-1].fact.lines:
        yield b.Text("The list was drawn up; no line asks for one of these inspections.")
    else:
        fact = confirmed[-1].fact
        yield b.Bullets(
            tuple(f"{line}: {'answered' if line in fact.answered else 'NOT answered yet'}" for line in fact.lines)
        )


def _how(work: Workplace, session: Session, lines: Sequence[_Line]) -> Iterator[b.Block]:
    used: Counter[tuple[str, ...]] = Counter()
    recalls: dict[str, set[str]] = {}
    for row in (row for line in lines for row in line.rows):
        opened = only(session, f.InspectionOpened, row.inspection)
        day = opened.when.local.date()
        held = [
            r.fact.level
            for r in about(session, f.CertificateEntered, row.inspector)
            if r.fact.method == row.method and r.fact.issued <= day <= r.fact.expires
        ]
        person = f"{row.inspector} level {max(held)}" if held else f"{row.inspector}, no valid certificate"
        technique = f"{row.technique} rev {opened.fact.technique_revision}"
        used[row.method, f"{row.procedure} rev {row.procedure_revision}", technique, person] += 1
        for recorded in about(session, f.ContainmentOpened, row.inspection):
            closed = bool(about(session, f.ContainmentClosed, recorded.fact.containment))
            state = "closed" if closed else "still open"
            told = f"{recorded.fact.containment}: {recorded.fact.object} was found out of its limit; {state}"
            recalls.setdefault(told, set()).add(row.inspection)
    rows = tuple((*key, str(count)) for key, count in sorted(used.items()))
    columns = (("Method", 0.1), ("Procedure", 0.24), ("Technique", 0.26), ("Inspector", 0.3), ("Records", 0.1))
    yield SheetTable("How it was inspected", columns, rows, "No inspection was begun.")
    if recalls:
        yield b.Text("Doubt about equipment of ours that touched this engine:")
        yield b.Bullets(tuple(f"{told} ({len(records)} record(s) of this engine)" for told, records in recalls.items()))


def _numbers(session: Session, lines: Sequence[_Line]) -> Iterator[b.Block]:
    rows = []
    for line in lines:
        for row in line.rows:
            tags = [r.fact for r in about(session, f.TagPrinted, row.inspection) if r.fact.decision == row.decision]
            signed = decision_in_force(session, row.inspection)
            who = f"{signed.fact.person} {signed.when}" if signed else "not signed"
            codes = ", ".join(dict.fromkeys(f"{tag.tag}: {tag.check_code}" for tag in tags)) or "no tag"
            word = decision_text(session, row) + (" - SUSPENDED" if row.suspended else "")
            word += " - PROVISIONAL" if row.provisional and not row.suspended else ""
            rows.append((row.inspection, f"{line.name} {_item(line.part)}", word, who, codes))
    columns = (("Record", 0.1), ("Part", 0.3), ("Decision", 0.22), ("Signed", 0.2), ("Tag: check code", 0.18))
    yield SheetTable("Records and tags", columns, tuple(rows), "No record was opened.")
    yield b.Text("This is an inspection report. It is not the release document and takes no part of one.")
    yield b.SignLines(("inspector, date", "for the shop, date"))


def _record(
    work: Workplace,
    order: f.WorkOrderOpened,
    counts: dict[str, int],
    lines: Sequence[_Line],
    left_out: Sequence[PartRow],
    findings: Sequence[_Finding],
    bottom: str,
    head: str,
) -> str:
    """The same for machines."""
    told = {
        "kind": "engine inspection report",
        "book": work.book.book_id,
        "head": head,
        "practice": work.practice,
        "work_order": order.work_order,
        "engine": {"model": order.engine_model, "serial": order.engine_serial},
        "bottom_line": bottom,
        "pieces": counts,
        "parts": [
            {
                "part": line.part.part,
                "part_no": line.part.part_no,
                "pieces": line.part.quantity,
                "states": dict(line.states),
                "records": [
                    {
                        "record": row.inspection,
                        "disposition": row.disposition,
                        "provisional": row.provisional,
                        "suspended": row.suspended,
                    }
                    for row in line.rows
                ],
            }
            for line in lines
        ],
        "not_inspected": [{"part": p.part, "pieces": p.quantity, "reason": p.reason_code} for p in left_out],
        "indications": [
            {
                "indication": found.mark.id,
                "record": found.row.inspection,
                "zone": found.mark.seen.fact.zone,
                "length": str(found.mark.seen.fact.length) if found.mark.seen.fact.length else None,
                "interpretation": found.model.interpretation,
                "evaluation": found.model.evaluation,
                "limit": found.model.limit,
                "photographs": [photo.fact.sha256 for photo in found.mark.photos],
            }
            for found in findings
        ],
    }
    return json.dumps(told, ensure_ascii=False, indent=1, sort_keys=True)
