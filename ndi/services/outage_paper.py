"""Paper that stands in for the book: numbered blank forms, the outage, sheets typed in, a second person who compares them."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import fields, is_dataclass
from typing import Any

from ndi.domain import facts as f
from ndi.domain.entry import Draft, Obtained, Recorded
from ndi.domain.errors import InputError, NotFound
from ndi.domain.moment import Moment
from ndi.domain.quantity import Number
from ndi.services import covers
from ndi.services.lookup import about, every
from ndi.services.outage import LATE, in_force, is_within
from ndi.services.ports import Session
from ndi.services.proof import Meaning, Proof
from ndi.services.recording import check_known
from ndi.services.signing import require
from ndi.services.workplace import Refused, Workplace

_FORM, _OUTAGE = "OF-", "OUT-"
_MOST_FORMS = 500  # in one print


# --- before, and when it is over ----------------------------------------------------------------------


def number_forms(work: Workplace, kind: str, count: int, person: str) -> tuple[str, ...]:
    """Numbers for blank forms that are about to be printed; no number is given twice."""
    if not 1 <= count <= _MOST_FORMS:
        raise InputError(f"{count} forms: print 1 to {_MOST_FORMS} at a time")
    with work.act("print blank forms", person, kind) as session:
        check_known(session, person)
        given = sum(len(r.fact.forms) for r in every(session, f.BlankFormsPrinted))
        names = tuple(f"{_FORM}{number:04d}" for number in range(given + 1, given + count + 1))
        session.append([Draft(f.BlankFormsPrinted(kind, names), work.now(), person)])
        return names


def declare(
    work: Workplace, began: Moment, ended: Moment, reason: str, forms: Sequence[str], person: str
) -> Recorded[f.Fact]:
    """Say from when to when was written on paper, why, and on which numbered sheets."""
    used = _checked(work, began, ended, reason, forms)
    with work.act("declare outage", person, ", ".join(used)) as session:
        check_known(session, person)
        _check_forms(session, used)
        name = f"{_OUTAGE}{len(every(session, f.OutageDeclared)) + 1:02d}"
        fact = f.OutageDeclared(name, began, ended, reason, person, used)
        (recorded,) = session.append([Draft(fact, work.now(), person)])
        return recorded


def amend(
    work: Workplace, name: str, began: Moment, ended: Moment, forms: Sequence[str], person: str, why: str
) -> Recorded[f.Fact]:
    """Put the times or sheets of a declared outage right; the first declaration stays, corrected with the reason.

    InputError when a sheet that is typed in would be left out, or an entry of one would lie outside.
    """
    with work.look() as session:
        old = outage_named(session, name)
    used = _checked(work, began, ended, old.fact.reason, forms)
    with work.act("amend outage", person, name) as session:
        check_known(session, person)
        old = outage_named(session, name)
        _check_forms(session, used, of=name)
        fact = f.OutageDeclared(name, began, ended, old.fact.reason, person, used)
        for form in old.fact.forms:
            for typed in about(session, f.FormTranscribed, form):
                if form not in used:
                    raise InputError(f"{form} is typed in already: it stays among the sheets of {name}")
                for position in in_force(session, typed.fact.entries):
                    _check_entry(session, fact, position)
        draft = Draft(fact, old.when, person, Obtained.TYPED_LATE, supersedes=old.uid, why=why)
        (recorded,) = session.append([draft])
        return recorded


def _checked(work: Workplace, began: Moment, ended: Moment, reason: str, forms: Sequence[str]) -> tuple[str, ...]:
    if not reason.strip():
        raise InputError("say why paper was used: no power, no network ...")
    if not began.at < ended.latest:
        raise InputError(f"the outage cannot end {ended} before it began {began}: type both times")
    if ended.at > work.now().at:
        raise InputError(f"{ended} is later than now: declare the outage when it is over")
    return tuple(dict.fromkeys(forms))


def _check_forms(session: Session, forms: Sequence[str], of: str = "") -> None:
    """Every sheet was printed by this book, and none was used in another outage."""
    for form in forms:
        _refuse_unknown(session, form)
        named = [r.fact.outage for r in about(session, f.OutageDeclared, form) if r.fact.outage != of]
        if named:
            raise InputError(f"{form} was used in {named[0]} already: look at the number on the sheet")


def outage_named(session: Session, name: str) -> Recorded[f.OutageDeclared]:
    """The outage of this name as declared last; NotFound."""
    found = [r for r in about(session, f.OutageDeclared, name) if r.fact.outage == name]
    if not found:
        raise NotFound(f"no outage {name} was declared in this book")
    return found[-1]


def _refuse_unknown(session: Session, form: str) -> None:
    if not any(form in r.fact.forms for r in about(session, f.BlankFormsPrinted, form)):
        raise InputError(f"no blank form {form} was printed by this book: look at the number on the sheet")


# --- typing in ----------------------------------------------------------------------------------------


def tie(
    work: Workplace,
    form: str,
    person: str,
    written_by: str,
    entries: Sequence[int],
    paper: str,
    *,
    picture: bytes | None = None,
    name: str = "picture",
) -> Recorded[f.Fact]:
    """Say which entries, typed late, are what stands on a sheet; ``paper`` is where the sheet itself is kept.

    ``picture``: a photograph or scan of the sheet, kept in the archive.
    InputError for an entry that was not typed late, or happened outside the outage.
    """
    if not paper.strip():
        raise InputError("say where the sheet itself is kept: its folder or binder")
    if not entries:
        raise InputError(f"{form}: name the entries that were typed from it")
    sha256 = _keep(work, picture, name)
    with work.act("tie outage form", person, form) as session:
        for each in (person, written_by):
            check_known(session, each)
        _refuse_unknown(session, form)
        outage = _outage_of(session, form)
        if about(session, f.FormTranscribed, form):
            raise InputError(f"{form} is typed in already: correct the entries that are wrong, then have it compared")
        positions = tuple(sorted(set(entries)))
        for position in positions:
            _check_entry(session, outage, position)
        fact = f.FormTranscribed(
            form, outage.outage, person, written_by, positions, paper, sha256, None if picture is None else len(picture)
        )
        (recorded,) = session.append([Draft(fact, work.now(), person)])
        return recorded


def _keep(work: Workplace, picture: bytes | None, name: str) -> str | None:
    if picture is None:
        return None
    if work.photographs is None:
        raise InputError(
            "this book has no folder for pictures here: say where the sheet is kept, without a picture of it"
        )
    work.photographs.examine(picture, name)
    return work.photographs.keep(picture)


def pictures(session: Session) -> list[str]:
    """The SHA-256 of every picture of a sheet that the archive holds."""
    return [r.fact.sha256 for r in every(session, f.FormTranscribed) if r.fact.sha256 is not None]


def _outage_of(session: Session, form: str) -> f.OutageDeclared:
    found = [r.fact for r in about(session, f.OutageDeclared, form) if form in r.fact.forms]
    if not found:
        raise InputError(f"{form} is not among the sheets of a declared outage: declare the outage first")
    return found[-1]


def _check_entry(session: Session, outage: f.OutageDeclared, position: int) -> None:
    recorded = session.entry(position)
    if recorded.how not in LATE:
        raise InputError(f"entry {position} is {recorded.how}: only what was typed late can come from a sheet")
    if not is_within(recorded, outage):
        raise InputError(
            f"entry {position} happened {recorded.when}, outside {outage.outage} ({outage.began} to {outage.ended}): "
            "correct its time, or the times of the outage"
        )


# --- comparing ----------------------------------------------------------------------------------------


def form_covers(work: Workplace, form: str) -> covers.Covers:
    """What the second person signs: every entry of the sheet as it stands now, and one hash over all of them."""
    with work.look() as session:
        return _form_covers(session, form)


def _form_covers(session: Session, form: str) -> covers.Covers:
    fact = _transcribed(session, form).fact
    positions = in_force(session, fact.entries)
    seals = session.seals(positions)
    digest = hashlib.sha256("\n".join(seal.hash for seal in seals).encode()).hexdigest()
    lines = tuple(entry_words(session.entry(position)) for position in positions)
    return (f"{form} written by {fact.written_by}, {len(positions)} entries, {digest[:16]}", *lines)


def _transcribed(session: Session, form: str) -> Recorded[f.FormTranscribed]:
    found = about(session, f.FormTranscribed, form)
    if not found:
        raise NotFound(f"{form} is not typed in yet: type it in first (ndi outage enter)")
    return found[-1]


def entry_words(recorded: Recorded[f.Fact]) -> str:
    """An entry for reading against paper: time, kind, every value."""
    fact = recorded.fact
    values = [(each.name, _word(getattr(fact, each.name))) for each in fields(fact)]  # type: ignore[arg-type]
    said = ", ".join(f"{name} {value}" for name, value in values if value)
    return f"entry {recorded.position}, {recorded.when}: {type(fact).__name__}: {said}; by {recorded.by}"


def _word(value: Any) -> str:
    if value is None or value == ():
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return "+".join(_word(each) for each in value)
    if is_dataclass(value) and not isinstance(value, (Number, Moment)):
        return " ".join(_word(getattr(value, each.name)) for each in fields(value))
    return str(value)


def compare(
    work: Workplace, form: str, person: str, *, differences: str | None = None, proof: Proof | None = None
) -> Recorded[f.Fact]:
    """A second person has read the sheet against its entries; ``differences`` says what is not the same.

    ``proof`` (in a practice book none): of that person, for :func:`form_covers`.
    Refused for whoever typed any of it.
    """
    with work.act("compare outage form", person, form) as session:
        check_known(session, person)
        shown = _form_covers(session, form)
        signed = require(work, session, proof, person, Meaning.VERIFIED, shown, office=True)
        refuse_own(session, form, person)
        said = (differences or "").strip() or None
        fact = f.FormCompared(form, person, said is None, said, signed.proof, signed.meaning, signed.covers)
        (recorded,) = session.append([Draft(fact, work.now(), person)])
        return recorded


def refuse_own(session: Session, form: str, person: str) -> None:
    """Refused for whoever typed the sheet in, or an entry of it."""
    fact = _transcribed(session, form).fact
    typed = {fact.person, *(session.entry(position).by for position in in_force(session, fact.entries))}
    if person in typed:
        raise Refused((), f"{person} typed {form} in: a second person compares it with the paper")
