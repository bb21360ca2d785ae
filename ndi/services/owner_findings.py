"""What was found on an engine, in the words of its owner's report: each finding with place, limit, decision, consequence."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from ndi.domain import facts as f
from ndi.domain.vocabulary import Disposition
from ndi.rules.inquiry import Indication, Inquiry
from ndi.services import owner_words as words
from ndi.services import paper_blocks as b
from ndi.services.annotating import annotated
from ndi.services.assemble import inquiry_for
from ndi.services.lookup import about
from ndi.services.owner_lines import Line
from ndi.services.paper_text import local_text, on_paper, value_text
from ndi.services.ports import InspectionRow, Session
from ndi.services.record_report import outline_points, outline_zones
from ndi.services.record_rows import indication_models
from ndi.services.rejected_pieces import gone
from ndi.services.report_models import IndicationModel, Labelled, PictureModel, SheetTable
from ndi.services.state import decision_text
from ndi.services.workplace import Workplace

THUMBNAIL = 900  # pixels along the longer edge


@dataclass(frozen=True)
class Finding:
    """One indication with the record and part that carry it."""

    line: Line
    row: InspectionRow
    q: Inquiry
    mark: Indication
    model: IndicationModel

    @property
    def decision(self) -> str:
        """The word signed for the piece, or for the whole record."""
        return self.model.disposition or self.row.disposition

    @property
    def is_relevant(self) -> bool:
        """Relevant, or not interpreted by anybody yet."""
        return self.mark.relevant or self.mark.interpreted is None


def findings_of(work: Workplace, session: Session, line: Line) -> Iterator[Finding]:
    """Every indication of a part, relevant or not."""
    for row in line.rows:
        if not about(session, f.IndicationSeen, row.inspection):
            continue
        q = inquiry_for(work, session, row.inspection)
        models = {model.name: model for model in indication_models(q)}
        for mark in q.indications:
            yield Finding(line, row, q, mark, models[mark.id])


def suspension(session: Session, row: InspectionRow, word: str) -> str:
    """What the suspension of a record leaves standing; empty for a record that is not suspended."""
    if not row.suspended:
        return ""
    found = about(session, f.AcceptanceSuspended, row.inspection)
    return words.suspension(word, claim_only=bool(found) and found[-1].fact.claim_only)


def relevant(work: Workplace, session: Session, findings: Sequence[Finding]) -> Iterator[b.Block]:
    """Each relevant finding, kept together with its drawing and photographs."""
    yield b.Heading("Findings")
    found = [each for each in findings if each.is_relevant]
    if not found:
        yield b.Text("No relevant indication was recorded.")
    for number, each in enumerate(found, start=1):
        yield _block(work, session, each, number)


def _block(work: Workplace, session: Session, found: Finding, number: int) -> b.Finding:
    seen, model, word = found.mark.seen.fact, found.model, found.decision
    piece = f", piece {seen.piece}" if seen.piece else ""
    left = gone(session, found.row.part)
    became = (left.get(seen.piece) or left.get(None)) if word == Disposition.REJECT else None
    told = words.consequence(became or word, suspension(session, found.row, word), _followed_by(session, found))
    suspended = " - SUSPENDED" if found.row.suspended else ""
    pictures, notes = photographs(work, session, found)
    if model.x_mm is None or model.y_mm is None:
        notes = ("Not drawn, because no place in millimetres is recorded.", *notes)
    return b.Finding(
        f"{number}. {found.line.name}, {found.line.item}{piece}",
        (
            Labelled("Where", place(found)),
            Labelled("What", f"{model.interpretation}; {model.form}"),
            Labelled("Size", model.size or "not recorded"),
            Labelled("Limit", f"{model.limit or 'none stated'} ({model.evaluation})"),
            Labelled("Decision", (f"{word}, then {became}" if became else word) + suspended),
            Labelled("Record", f"{found.row.inspection}, {model.name}"),
        ),
        f"What follows: {told}",
        b.Drawing(
            f"Arrow {number} points at the place; the length is drawn to scale inside the ring.",
            outline_points(found.q.master),
            outline_zones(found.q.master),
            (replace(model, disposition=""),),
            number,
        ),
        pictures,
        notes,
    )


def place(found: Finding) -> str:
    """Where on the part, in words."""
    seen = found.mark.seen.fact
    zone = found.q.master.zone(seen.zone) if seen.zone else None
    return on_paper(
        "; ".join(filter(None, (zone.name if zone else seen.zone, found.model.position))) or "place not recorded"
    )


def photographs(work: Workplace, session: Session, found: Finding) -> tuple[tuple[PictureModel, ...], tuple[str, ...]]:
    """The photographs of an indication that are in the archive, with what is drawn beside them, and what there is to say of the others."""
    pictures, missing = [], 0
    for photo in found.mark.photos:
        sha, archive = photo.fact.sha256, work.photographs
        if photo.fact.size is not None and archive is not None and archive.holds(sha):
            caption = f"{found.mark.id}, {local_text(photo.fact.taken_at)}, {photo.fact.light or 'light not recorded'}"
            content = annotated(work, session, sha, found.row.inspection, edge=THUMBNAIL)
            pictures.append(PictureModel(content, f"{caption}, sha256 {sha[:8]}"))
        else:
            missing += 1
    if not found.mark.photos:
        return (), ("No photograph was recorded.",)
    lost = f"{missing} photograph(s) named in the record are not in the archive of this book."
    return tuple(pictures), (lost,) if missing else ()


def _followed_by(session: Session, found: Finding) -> str:
    """What later records of the same piece say, e.g. after rework."""
    later = [row for row in found.line.rows if row.previous == found.row.inspection]
    return " ".join(
        f"Inspected anew as {row.inspection}: {decision_text(session, row)}{' - SUSPENDED' if row.suspended else ''}."
        for row in later
    )


def others(findings: Sequence[Finding]) -> SheetTable:
    """What is no reason for a decision against the part, so that the next shop knows."""
    rows = tuple(
        (
            found.line.full_name,
            place(found),
            f"{found.model.form} {found.model.size}",
            f"{found.model.interpretation}, {found.model.evaluation}",
            found.row.inspection,
        )
        for found in findings
        if not found.is_relevant
    )
    columns = (("Part", 0.24), ("Where", 0.24), ("Form, size", 0.21), ("Taken as", 0.21), ("Record", 0.1))
    return SheetTable("Other indications, for the next shop", columns, rows)


def rework(session: Session, lines: Sequence[Line]) -> Iterator[b.Block]:
    """What was taken off, with the dimensions afterwards beside their limits."""
    rows = []
    for line in lines:
        for recorded in about(session, f.ReworkDone, line.part.part):
            done = recorded.fact
            sizes = [
                f"{d.name} {value_text(d.value)} (new limit {value_text(d.new_limit) or 'not recorded'}, "
                f"service limit {value_text(d.service_limit) or 'not recorded'})"
                for d in done.dimensions
            ]
            depth = value_text(done.depth) or "not recorded"
            rows.append((line.full_name, done.zone, depth, "; ".join(sizes) or "not recorded", str(recorded.when)))
    if rows:
        columns = (("Part", 0.25), ("Zone", 0.17), ("Depth", 0.12), ("Dimension after", 0.3), ("Done", 0.16))
        yield SheetTable("Material removed in rework", columns, tuple(rows))
