"""The papers of a replayed day: every tag, the tags of split lots by themselves, the richest records, the shift sheet."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Sequence
from functools import partial
from pathlib import Path

from ndi import bootstrap
from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.errors import InputError, NotPermitted
from ndi.domain.vocabulary import DECIDING_LEVEL, SPLIT
from ndi.services.lookup import about, every
from ndi.services.ports import InspectionRow, Session
from ndi.services.record_report import record_model
from ndi.services.report_models import TagModel
from ndi.services.shift_report import shift_model
from ndi.services.tagging import print_tags, printed_model
from ndi.services.workplace import Workplace

_RECORDS = 2  # inspection records written
_SUPERVISOR = "supervisor"


def write(work: Workplace, out: Path) -> list[Path]:
    """Print what was not printed yet through the use case, then write the PDF files; their paths.

    What the day printed itself is drawn from the book as it was printed, not copied.
    """
    _print_missing(work)
    makers: dict[str, Callable[[], bytes]] = {}
    with work.book.session(readonly=True) as session:
        rows = session.inspections()
        tags = [(row, model) for row in rows for model in _tags_of(work, session, row)]
        richest = sorted(rows, key=lambda row: _content(session, row), reverse=True)[:_RECORDS]
        records = [record_model(work, session, row.inspection) for row in richest]
    if tags:
        makers["tags.pdf"] = partial(bootstrap.tags_pdf, [model for _, model in tags], work)
    for row, model in tags:
        if row.disposition == SPLIT:
            name = f"tag-{_file_name(model.lot or model.inspection)}-{_file_name(model.disposition.lower())}.pdf"
            makers[name] = partial(bootstrap.tags_pdf, [model], work)
    for record in records:
        makers[f"record-{_file_name(record.record_no)}.pdf"] = partial(bootstrap.record_pdf, record, work)
    day = work.now().local.date()
    makers[f"shift-{day}.pdf"] = lambda: bootstrap.shift_pdf(shift_model(work, day), work)
    return [out / name for name, make in makers.items() if _written(out / name, make)]


def _written(path: Path, make: Callable[[], bytes]) -> bool:
    """Whether a paper could be made; what a changed day puts on it may be more than paper can show."""
    try:
        bootstrap.write_paper(path, make())
    except InputError as error:
        print(f"{path.name} is not written: {error}", file=sys.stderr)
        return False
    return True


def _print_missing(work: Workplace) -> None:
    """Tags of every signed record that has none for its decision in force, by a supervisor with a certificate."""
    with work.book.session(readonly=True) as session:
        printed = {r.fact.decision for r in every(session, f.TagPrinted)}
        waiting = [row for row in session.inspections() if row.decision is not None and row.decision not in printed]
        printers = {method: _printer(work, session, method) for method in {row.method for row in waiting}}
    for row in waiting:
        person = printers[row.method]
        if person is None:
            continue
        try:
            print_tags(work, row.inspection, person)
        except (NotPermitted, InputError) as error:
            print(f"no tag for {row.inspection}: {error}", file=sys.stderr)


def _printer(work: Workplace, session: Session, method: str) -> str | None:
    """Who prints tags of a method: a supervisor who holds its certificate, else anybody who does."""
    today = work.now().local.date()
    people = [r.fact for r in every(session, f.PersonEntered)]
    able = [
        person
        for person in sorted(people, key=lambda person: _SUPERVISOR not in person.roles)
        if any(
            _decides(held, method) and held.fact.issued <= today <= held.fact.expires
            for held in about(session, f.CertificateEntered, person.person)
        )
    ]
    return able[0].person if able else None


def _decides(held: Recorded[f.CertificateEntered], method: str) -> bool:
    return held.fact.method == method and held.fact.level >= DECIDING_LEVEL


def _tags_of(work: Workplace, session: Session, row: InspectionRow) -> Iterable[TagModel]:
    """The tags of a record's decision in force, as they were printed last."""
    latest: dict[str, Recorded[f.TagPrinted]] = {}
    for recorded in about(session, f.TagPrinted, row.inspection):
        if recorded.fact.decision == row.decision:
            latest[recorded.fact.tag] = recorded
    return [printed_model(work, session, recorded) for recorded in latest.values()]


def _content(session: Session, row: InspectionRow) -> tuple[bool, int]:
    """How much there is to see in a record: split lots first, then by what was seen, looked at again, photographed, fired."""
    kinds: Sequence[type[f.Fact]] = (
        f.IndicationSeen,
        f.SecondLookSaved,
        f.PhotoAttached,
        f.ShotFired,
        f.ResidualRead,
        f.AttemptVoided,
    )
    return row.disposition == SPLIT, sum(len(about(session, kind, row.inspection)) for kind in kinds)


def _file_name(text: str) -> str:
    """A text as part of a file name."""
    return "".join(char if char.isalnum() or char in "-_." else "-" for char in text)
