"""Procedures, technique sheets and part masters as adopted: limits, rules, shots, zones, outline."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ndi.domain import facts as f
from ndi.domain.errors import NotFound
from ndi.domain.procedure import Caution, Parameter, PartMaster, Procedure, Technique, ZoneLimit
from ndi.domain.quantity import Number
from ndi.gui.presenters.desk import marks
from ndi.gui.presenters.desk.listing import Column, Labelled, Listing, Row
from ndi.gui.presenters.desk.outline import Drawing, drawing_of_master
from ndi.rules import registry
from ndi.services.lookup import every
from ndi.services.ports import Session
from ndi.services.workplace import Workplace

_DOCUMENTS = (
    Column("Kind", 10),
    Column("Number", 13),
    Column("Rev", 4),
    Column("Title", 24, stretch=True),
    Column("Stands", 20),
)
_LIMITS = (
    Column("What", 34, stretch=True),
    Column("Value", 20, stretch=True),
    Column("Paragraph", 10),
    Column("Source", 30, stretch=True),
)
_RULES = (
    Column("Rule", 6),
    Column("Sev.", 4),
    Column("Question", 60, stretch=True),
    Column("Paragraph", 10),
    Column("May deviate", 14),
)
_SHOTS = (
    Column("Shot", 5, right=True),
    Column("Kind", 15),
    Column("Direction", 13),
    Column("Current", 14, right=True),
    Column("Bath", 22, stretch=True),
    Column("Pulses", 7, right=True),
    Column("Turns", 6, right=True),
    Column("View", 16, stretch=True),
)
_ZONES = (
    Column("Zone", 18),
    Column("Name", 24, stretch=True),
    Column("Material", 14),
    Column("Limits", 46, stretch=True),
)
NO_DRAWING = Drawing((), (), (), "Choose a part master or a technique sheet: its outline and zones are drawn here.")


@dataclass(frozen=True)
class DocumentView:
    """One document.  ``first`` and ``second`` are its two lists with their headings."""

    key: str
    title: str
    lines: tuple[Labelled, ...]
    first: tuple[str, Listing]
    second: tuple[str, Listing]
    drawing: Drawing


class Procedures:
    """The documents that a Level III adopted into the book."""

    def __init__(self, work: Workplace) -> None:
        self._work = work

    def listing(self) -> Listing:
        """Procedures, technique sheets, part masters."""
        today = self._work.now().local.date()
        rows = []
        with self._work.book.session(readonly=True) as session:
            in_force = {
                (p.number, p.revision): p.effective_from <= today
                and (p.effective_to is None or today <= p.effective_to)
                for p in self._work.procedures(session)
            }
            adopted = sorted(
                every(session, f.DocumentAdopted),
                key=lambda r: ("procedure", "technique", "part").index(r.fact.document),
            )
            for recorded in adopted:
                fact = recorded.fact
                if fact.document == "procedure":
                    mark = (
                        marks.Mark(marks.SETTLED, "in force")
                        if in_force.get((fact.number, fact.revision))
                        else marks.Mark(marks.NONE, "not in force today")
                    )
                else:
                    mark = marks.Mark(marks.SETTLED, f"adopted {recorded.when.local:%Y-%m-%d}")
                rows.append(
                    Row(
                        (_KINDS[fact.document], fact.number, fact.revision, self._title(session, fact), str(mark)),
                        f"{fact.document} {fact.number} {fact.revision}",
                    )
                )
        return Listing(
            _DOCUMENTS, tuple(rows), "Nothing is adopted: a Level III adopts procedures first (ndi procedure adopt)."
        )

    def _title(self, session: Session, fact: f.DocumentAdopted) -> str:
        try:
            if fact.document == "procedure":
                return self._work.procedure(session, fact.number, fact.revision).title
            if fact.document == "technique":
                return f"for {', '.join(self._work.technique(session, fact.number, fact.revision).applies_to)}"
            return self._work.master(session, fact.number).description
        except NotFound:
            return ""

    def document(self, key: str) -> DocumentView:
        """One document; a technique sheet with the outline of the first part it is for."""
        kind, number, *revision = key.split(" ")
        with self._work.book.session(readonly=True) as session:
            if kind == "procedure":
                found = [
                    p for p in self._work.procedures(session) if p.number == number and revision in ([], [p.revision])
                ]
                if not found:
                    raise NotFound(f"procedure {number} is not adopted in this book")
                return _procedure(key, found[-1])
            if kind == "technique":
                sheet = self._work.technique(session, number, revision[0] if revision else None)
                master = next((m for m in self._work.masters(session) if m.number in sheet.applies_to), None)
                return _technique(key, sheet, master)
            return _master(key, self._work.master(session, number))


_KINDS = {"procedure": "procedure", "technique": "technique", "part": "part"}


def _value(parameter: Parameter) -> str:
    value = parameter.value
    text = (
        {True: "yes", False: "no"}[value]
        if isinstance(value, bool)
        else " + ".join(value)
        if isinstance(value, tuple)
        else str(value)
    )
    return f"{text} ± {parameter.tolerance_percent.typed} %" if parameter.tolerance_percent else text


def _limits(parameters: list[Parameter], cautions: Sequence[Caution] = ()) -> Listing:
    rows = [Row((f"caution before {c.before}", c.text, "", "")) for c in cautions]
    rows += [Row((p.key.replace("_", " "), _value(p), p.paragraph, p.source), p.key) for p in parameters]
    return Listing(_LIMITS, tuple(rows), "No limit of its own.")


def _procedure(key: str, found: Procedure) -> DocumentView:
    questions = registry.load_all()
    rules = [
        Row(
            (s.rule, str(s.severity), _question(questions[s.rule].question), s.paragraph, ", ".join(s.may_deviate)),
            s.rule,
        )
        for s in found.rules.values()
    ]
    lines = (
        Labelled("Method", found.method),
        Labelled("In force", f"{found.effective_from} to {found.effective_to or 'further notice'}"),
        Labelled("Approved by", found.approved_by),
        Labelled("Source documents", ", ".join(found.source_documents)),
        Labelled("Two persons for", ", ".join(found.second_person_for) or "nothing"),
    )
    return DocumentView(
        key,
        f"{found.name}: {found.title}",
        lines,
        (f"{len(rules)} rules", Listing(_RULES, tuple(rules))),
        (
            f"{len(found.cautions)} cautions, {len(found.parameters)} limits",
            _limits(list(found.parameters.values()), found.cautions),
        ),
        NO_DRAWING,
    )


def _question(text: str) -> str:
    return text[:1].upper() + text[1:]


def _technique(key: str, sheet: Technique, master: PartMaster | None) -> DocumentView:
    shots = [
        Row(
            (
                str(s.shot),
                s.kind,
                s.direction,
                f"{s.amps} {s.current_type}",
                s.bath_mode,
                str(s.pulses),
                str(s.turns or ""),
                f"together with {s.group}" if s.group else "by itself",
            )
        )
        for s in sheet.shots
    ]
    process = ", ".join(
        filter(
            None,
            (
                sheet.type and f"type {sheet.type}",
                sheet.pt_method and f"method {sheet.pt_method}",
                sheet.sensitivity and f"sensitivity {sheet.sensitivity}",
                sheet.developer_form and f"developer form {sheet.developer_form}",
            ),
        )
    )
    lines = (
        Labelled("Method", f"{sheet.method}, under {sheet.procedure}"),
        Labelled("Parts", ", ".join(sheet.applies_to)),
        Labelled("In force from", f"{sheet.effective_from}, approved by {sheet.approved_by}"),
        Labelled("Zones in viewing order", ", ".join(sheet.zones)),
        *([Labelled("Process", process)] if process else []),
        Labelled("After it", ", ".join(sheet.post_process) or "nothing"),
        *([Labelled("Residual field at", ", ".join(sheet.residual_points))] if sheet.residual_points else []),
        *([Labelled("No contact on", ", ".join(sheet.forbidden_contact))] if sheet.forbidden_contact else []),
        Labelled("Plugs", str(sheet.plugs)),
        *([Labelled("Basis", sheet.basis)] if sheet.basis else []),
    )
    drawing = drawing_of_master(master) if master else NO_DRAWING
    return DocumentView(
        key,
        f"Technique sheet {sheet.name}",
        lines,
        ("Shots", Listing(_SHOTS, tuple(shots), "A penetrant sheet has no shots.")),
        ("Limits of its own", _limits(list(sheet.windows.values()))),
        drawing,
    )


def _master(key: str, master: PartMaster) -> DocumentView:
    zones = [
        Row(
            (
                z.code,
                z.name,
                z.material,
                "; ".join(_limit(limit) for limit in z.limits) or "no limit in the data: hold for engineering",
            ),
            z.code,
        )
        for z in master.zones
    ]
    needs = tuple(Row((n.group, n.method, n.technique, ", ".join(n.zones))) for n in master.required)
    columns = (Column("Group", 14), Column("Method", 8), Column("Technique", 12), Column("Zones", 50, stretch=True))
    lines = (
        Labelled("Description", master.description),
        Labelled("Class", f"{master.item_class}, {'serialised' if master.serialised else 'in lots'}"),
        Labelled("Engine models", ", ".join(master.models)),
        Labelled("Datum, clock", f"{master.datum or 'not stated'}; {master.clock_reference or 'not stated'}"),
        *([Labelled("Looks like", ", ".join(master.similar_parts))] if master.similar_parts else []),
        Labelled("Coating", str(master.coating) if isinstance(master.coating, Number) else "not stated"),
    )
    return DocumentView(
        key,
        f"Part {master.number} {master.description}",
        lines,
        ("Zones with their limits", Listing(_ZONES, tuple(zones))),
        ("Required methods", Listing(columns, needs)),
        drawing_of_master(master),
    )


def _limit(limit: ZoneLimit) -> str:
    what = limit.discontinuity or limit.form
    most = f"up to {limit.max_length}" if limit.max_length is not None else "none allowed"
    blend = f", blend to {limit.blend_depth}" if limit.blend_depth is not None else ""
    return f"{what}: {most}{blend} ({limit.reference})"
