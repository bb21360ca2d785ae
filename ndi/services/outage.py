"""Where the paper of an outage stands: sheets typed in or not, compared by a second person or not, and what rests on them.

What was typed in for the time of an outage stands behind no acceptance until a
second person has read its sheet against it and signed that it agrees.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from ndi.domain import facts as f
from ndi.domain.entry import Obtained, Recorded
from ndi.domain.errors import InputError
from ndi.domain.vocabulary import Disposition
from ndi.services.judging import Judgement
from ndi.services.lookup import about, every
from ndi.services.ports import Session
from ndi.services.workplace import Refused

_DIGITS, _MOST_ENTRIES = 12, 1000
LATE = (Obtained.TYPED_LATE, Obtained.TRANSCRIBED)


class State(StrEnum):
    """Where a sheet that was written on stands."""

    NOT_TYPED = "not typed in"
    NOT_COMPARED = "not compared"
    DIFFERS = "differs"
    COMPARED = "compared"


@dataclass(frozen=True)
class Sheet:
    """One numbered form that was used in an outage."""

    form: str
    outage: str
    state: State
    written_by: str = ""
    typed_by: str = ""
    compared_by: str = ""
    entries: tuple[int, ...] = ()
    says: str = ""


def in_force(session: Session, entries: Iterable[int]) -> tuple[int, ...]:
    """The entries, each by the last correction of it; one that was taken back by what took it back."""
    after = {each.old.position: each.new.position for each in session.corrections()}
    found = set()
    for position in entries:
        while position in after:
            position = after[position]
        found.add(position)
    return tuple(sorted(found))


def positions_of(text: str) -> list[int]:
    """``12-15,20`` as numbers; InputError."""
    found: list[int] = []
    for part in text.replace(" ", "").split(","):
        first, dash, last = part.partition("-")
        numbers = (first, last) if dash else (first,)
        if not all(text.isascii() and text.isdigit() and len(text) <= _DIGITS for text in numbers):
            raise InputError(f"{part!r} is no entry and no range of entries: write them like 214-219,223")
        if int(last or first) - int(first) >= _MOST_ENTRIES:
            raise InputError(f"{part} are more than {_MOST_ENTRIES} entries: no sheet holds so many")
        found += range(int(first), int(last or first) + 1)
    return found


def is_within(recorded: Recorded[f.Fact], outage: f.OutageDeclared) -> bool:
    return outage.began.earliest <= recorded.when.latest and recorded.when.earliest <= outage.ended.latest


def sheets(session: Session) -> tuple[Sheet, ...]:
    """Every sheet that was used in an outage, in the order of the outages."""
    return tuple(
        _sheet(session, form, outage.fact.outage)
        for outage in every(session, f.OutageDeclared)
        for form in outage.fact.forms
    )


def _sheet(session: Session, form: str, outage: str) -> Sheet:
    typed = about(session, f.FormTranscribed, form)
    if not typed:
        return Sheet(form, outage, State.NOT_TYPED)
    fact = typed[-1].fact
    entries = in_force(session, fact.entries)
    compared = [r for r in about(session, f.FormCompared, form) if r.position > max(entries)]
    told = Sheet(form, outage, State.NOT_COMPARED, fact.written_by, fact.person, "", entries)
    if not compared:
        return told
    last = compared[-1].fact
    state = State.COMPARED if last.agrees else State.DIFFERS
    return Sheet(form, outage, state, fact.written_by, fact.person, last.person, entries, last.differences or "")


@dataclass(frozen=True)
class Uncompared:
    """An entry for the time of an outage that no second person has compared with its sheet."""

    position: int
    outage: str
    form: str | None  # None: tied to no sheet


def uncompared(session: Session, positions: Iterable[int]) -> tuple[Uncompared, ...]:
    """Of some entries those that were typed late for the time of an outage and stand compared on no sheet."""
    outages = [r.fact for r in every(session, f.OutageDeclared)]
    if not outages:
        return ()
    of_form = {position: sheet for sheet in sheets(session) for position in sheet.entries}
    found = []
    for position in sorted(set(positions)):
        recorded = session.entry(position)
        outage = next((each for each in outages if is_within(recorded, each)), None)
        if recorded.how not in LATE or outage is None:
            continue
        sheet = of_form.get(position)
        if sheet is None or sheet.state is not State.COMPARED:
            found.append(Uncompared(position, outage.outage, sheet.form if sheet else None))
    return tuple(found)


def refuse_uncompared(session: Session, judgement: Judgement) -> None:
    """Refused when an acceptance would rest on something copied from paper that no second person compared."""
    if Disposition.ACCEPT not in judgement.dispositions:
        return
    own = {recorded.position for recorded in session.facts(judgement.inspection)}
    left = uncompared(session, own | {position for answer in judgement.answers for position in answer.facts})
    if left:
        forms = sorted({each.form for each in left if each.form})
        untied = [str(each.position) for each in left if each.form is None]
        said = [
            *([f"{', '.join(forms)}: a second person compares the sheet with its entries first"] if forms else []),
            *([f"entries {', '.join(untied)}: tie them to the sheet that they were typed from"] if untied else []),
        ]
        raise Refused(
            (),
            f"{judgement.inspection} rests on {len(left)} entries copied from paper in {left[0].outage}; "
            + "; ".join(said),
        )


def paper_lines(session: Session, positions: Iterable[int]) -> tuple[str, ...]:
    """What of a record was copied from which sheet, for its paper."""
    wanted = set(positions)
    return tuple(
        f"{len(wanted & set(sheet.entries))} entries copied from paper {sheet.form} ({sheet.outage}), written by "
        f"{sheet.written_by}, typed in by {sheet.typed_by}; "
        + (f"compared by {sheet.compared_by}." if sheet.state is State.COMPARED else f"{sheet.state.upper()}.")
        for sheet in sheets(session)
        if wanted & set(sheet.entries)
    )
