"""People: set-up, persons and roles, secrets and one-time codes, badges, qualifications confirmed by another, leaving."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from ndi.domain import facts as f
from ndi.domain.entry import Draft, Recorded
from ndi.domain.errors import InputError, NotFound, NotPermitted
from ndi.domain.moment import Moment
from ndi.domain.secrets import CODE_VALID, SecretKind, checked
from ndi.domain.vocabulary import LEVEL_THREE, PROCESSING_LEVEL, Method
from ndi.services import covers, signing
from ndi.services.bearing import relying_on_any
from ndi.services.deciding import reconsider
from ndi.services.lookup import about, every
from ndi.services.ports import Session
from ndi.services.proof import Meaning, Proof
from ndi.services.signing import ADMINISTRATOR, book_secrets, keep_try, require, roles_of, secret_of
from ndi.services.workplace import Refused, Workplace

CERTIFICATE, VISION, AUTHORISATION = "certificate", "vision", "authorisation"
CLERKS = frozenset(
    {ADMINISTRATOR, "level3", "supervisor", "quality"}
)  # enter and confirm qualifications, confirm codes
ISSUERS = frozenset({ADMINISTRATOR, "level3"})  # issue one-time codes
LONGEST_CODE = 40  # characters of a person's code or badge
SET_UP_EXCEPTION = "at set-up nobody else is there to confirm it: entered by the administrator, signed by both"

Qualification = f.CertificateEntered | f.VisionExamEntered | f.AuthorisationEntered


# --- set-up ---------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Newcomer:
    """A person at set-up with the secrets that this person typed."""

    person: str
    password: str
    pin: str | None = None
    badge: str | None = None


def set_up(
    work: Workplace, administrator: Newcomer, level_three: Newcomer, *, qualifications: Sequence[Qualification] = ()
) -> Recorded[f.Fact]:
    """Begin a book with two persons, each with their own secret; refused in a book that has people already.

    ``qualifications`` are the Level III's own certificates, vision examination
    and authorisations: the one time that nobody else confirms them.
    """
    check_two(administrator, level_three)
    if not any(isinstance(q, f.CertificateEntered) and q.level >= LEVEL_THREE for q in qualifications):
        raise InputError(
            f"{level_three.person} is set up as Level III: give the level {LEVEL_THREE} certificate, or procedures cannot be adopted"
        )
    for qualification in qualifications:
        if qualification.person != level_three.person:
            raise InputError(
                f"at set-up only qualifications of {level_three.person} are entered, not of {qualification.person}"
            )
        check_days(qualification)
    secrets = [fact for each in (administrator, level_three) for fact in _first_secrets(work, each)]
    with work.act("set up", administrator.person, "book") as session:
        if bool(every(session, f.PersonEntered)) or bool(every(session, f.SecretSet)):
            raise Refused(
                (),
                "this book has its people already: set-up is done once, further persons are entered by the administrator",
            )
        signed = f.SetUpSigned(administrator.person, level_three.person, SET_UP_EXCEPTION)
        entered: list[f.Fact] = [
            f.PersonEntered(administrator.person, (ADMINISTRATOR,)),
            f.PersonEntered(level_three.person, ("level3", "inspector")),
            *secrets,
        ]
        entered += [
            replace(q, entered_by=administrator.person, confirmed_by=None, exception=SET_UP_EXCEPTION)
            for q in qualifications
        ]
        return session.append([Draft(fact, work.now(), administrator.person) for fact in (signed, *entered)])[0]


def check_two(administrator: Newcomer, level_three: Newcomer) -> None:
    """InputError when these cannot be the two persons of set-up."""
    for each in (administrator, level_three):
        check_code(each.person, "person")
    if administrator.person.casefold() == level_three.person.casefold():
        raise InputError("set-up needs two persons: an administrator without inspection rights, and a Level III")
    if administrator.password == level_three.password or (administrator.pin and administrator.pin == level_three.pin):
        raise InputError("both typed the same secret: each chooses one that the other does not know")


def _first_secrets(work: Workplace, newcomer: Newcomer) -> list[f.Fact]:
    if (newcomer.pin is None) != (newcomer.badge is None):
        raise InputError(f"{newcomer.person}: a PIN goes with a badge, give both or none")
    found: list[f.Fact] = [_secret(work, newcomer.person, SecretKind.PASSWORD, newcomer.password, "set-up")]
    if newcomer.pin is not None and newcomer.badge is not None:
        check_code(newcomer.badge, "badge")
        found += [
            _secret(work, newcomer.person, SecretKind.PIN, newcomer.pin, "set-up"),
            f.BadgeAssigned(newcomer.person, newcomer.badge),
        ]
    return found


def _secret(
    work: Workplace, person: str, kind: SecretKind, secret: str, how: str, code: str | None = None
) -> f.SecretSet:
    text = checked(kind, secret, person)
    return f.SecretSet(person, str(kind), book_secrets(work).verifier(text, secret_of(person, kind)), how, code)


def check_code(code: str, what: str) -> str:
    """A person's code or badge; InputError if it cannot be one."""
    if (
        not code
        or code != code.strip()
        or len(code) > LONGEST_CODE
        or not code.isprintable()
        or code.startswith("unknown ")
    ):
        raise InputError(
            f"{what} {code!r} cannot be used: 1 to {LONGEST_CODE} printable characters, no blanks at the ends"
        )
    return code


# --- persons, badges, leaving ---------------------------------------------------------------------


def entry_covers(entries: Sequence[f.PersonEntered]) -> tuple[str, ...]:
    """What the administrator signs when persons are entered."""
    return tuple(f"{entry.person}: {', '.join(entry.roles)}" for entry in entries)


def enter(
    work: Workplace, entries: Sequence[f.PersonEntered], by: str, *, proof: Proof | None = None
) -> tuple[Recorded[f.Fact], ...]:
    """Enter persons, or change the roles of persons; by an administrator, never for oneself."""
    for entry in entries:
        check_code(entry.person, "person")
        if not entry.roles:
            raise InputError(f"{entry.person} has no role: name at least one")
        if ADMINISTRATOR in entry.roles and len(entry.roles) > 1:
            raise InputError(f"{entry.person}: an administrator has no other role, above all no inspection rights")
    with work.act("enter persons", by, "people") as session:
        require(work, session, proof, by, Meaning.PERFORMED, entry_covers(entries), office=True)
        _need_role(session, by, frozenset({ADMINISTRATOR}), "persons are entered by an administrator")
        for entry in entries:
            if entry.person == by:
                raise Refused((), "nobody changes their own roles: another administrator does")
            if about(session, f.PersonRemoved, entry.person):
                raise Refused((), f"{entry.person} was removed: a code is not given out again, choose another")
        written = session.append([Draft(entry, work.now(), by) for entry in entries])
        for recorded in written:
            reconsider(work, session, relying_on_any(session, recorded.fact), recorded.position)
        return written


def badge_covers(person: str, badge: str) -> tuple[str, ...]:
    return (f"badge {badge} to {person}",)


def assign_badge(work: Workplace, person: str, badge: str, by: str, *, proof: Proof | None = None) -> Recorded[f.Fact]:
    """Give a badge to a person; a badge is never given to a second person."""
    check_code(badge, "badge")
    with work.act("assign badge", by, person) as session:
        require(work, session, proof, by, Meaning.PERFORMED, badge_covers(person, badge), office=True)
        _need_role(session, by, frozenset({ADMINISTRATOR}), "badges are assigned by an administrator")
        _need_person(work, session, person)
        if any(r.fact.badge == badge and r.fact.person != person for r in about(session, f.BadgeAssigned, badge)):
            raise Refused((), f"badge {badge} belongs to somebody else: take a new one")
        (recorded,) = session.append([Draft(f.BadgeAssigned(person, badge), work.now(), by)])
        return recorded


def removal_covers(person: str, reason: str) -> tuple[str, ...]:
    return (f"removal of {person}", reason)


def remove(
    work: Workplace, person: str, reason: str, by: str, *, valid_from: date | None = None, proof: Proof | None = None
) -> Recorded[f.Fact]:
    """End a person's rights, from today on unless a later day is given; signatures made before stand."""
    if not reason.strip():
        raise InputError("say why the person is removed")
    with work.act("remove person", by, person) as session:
        require(work, session, proof, by, Meaning.PERFORMED, removal_covers(person, reason), office=True)
        _need_role(session, by, ISSUERS, "persons are removed by an administrator or a Level III")
        _need_person(work, session, person)
        if person == by:
            raise Refused((), "nobody removes themselves: somebody else does")
        fact = f.PersonRemoved(person, reason, valid_from or work.now().local.date())
        (recorded,) = session.append([Draft(fact, work.now(), by)])
        return recorded


def _need_role(session: Session, person: str, roles: frozenset[str], says: str) -> None:
    if not roles_of(session, person) & roles:
        raise Refused((), f"{says}, {person} is none")


def _need_person(work: Workplace, session: Session, person: str) -> None:
    if not about(session, f.PersonEntered, person):
        raise NotFound(f"{person} is not entered in this book: an administrator enters the person first")
    gone = signing.removal(session, person, work.now())
    if gone is not None:
        raise Refused((), f"{person} was removed on {gone.valid_from}")


# --- secrets --------------------------------------------------------------------------------------


def code_covers(person: str) -> tuple[str, ...]:
    return (f"one-time code for {person}",)


def issue_code(work: Workplace, person: str, by: str, *, proof: Proof | None = None) -> tuple[str, str]:
    """A one-time code for somebody's first or forgotten secret: its name, and the code itself, shown this once.

    It works only after a second person confirmed it (:func:`confirm_code`), for 24 hours.
    """
    secrets = book_secrets(work)
    code = secrets.one_time_code()
    with work.act("issue code", by, person) as session:
        require(work, session, proof, by, Meaning.PERFORMED, code_covers(person), office=True)
        _need_role(session, by, ISSUERS, "one-time codes are issued by an administrator or a Level III")
        _need_person(work, session, person)
        if person == by:
            raise Refused((), "nobody issues a code for themselves")
        name = f"OC-{len(every(session, f.OneTimeCodeIssued)) + 1:03d}"
        now = work.now()
        fact = f.OneTimeCodeIssued(
            name,
            person,
            by,
            secrets.verifier(code, secret_of(person, name)),
            Moment(now.at + CODE_VALID, now.offset_min),
        )
        session.append([Draft(fact, now, by)])
    return name, code


def confirm_code_covers(name: str, person: str) -> tuple[str, ...]:
    return (f"{name} for {person}",)


def confirm_code(work: Workplace, name: str, by: str, *, proof: Proof | None = None) -> Recorded[f.Fact]:
    """Confirm that the person who asked for a code is that person; by neither the issuer nor the owner."""
    with work.act("confirm code", by, name) as session:
        issued = _code(session, name)
        signed = require(
            work, session, proof, by, Meaning.APPROVED, confirm_code_covers(name, issued.person), office=True
        )
        _need_role(session, by, CLERKS, f"one-time codes are confirmed by one of {', '.join(sorted(CLERKS))}")
        if by in (issued.person, issued.issued_by):
            raise Refused(
                (), f"{name} was issued by {issued.issued_by} for {issued.person}: a third person confirms it"
            )
        (recorded,) = session.append(
            [Draft(f.OneTimeCodeConfirmed(name, issued.person, by, signed.proof), work.now(), by)]
        )
        return recorded


def _code(session: Session, name: str) -> f.OneTimeCodeIssued:
    for recorded in about(session, f.OneTimeCodeIssued, name):
        if recorded.fact.code == name:
            return recorded.fact
    raise NotFound(f"no one-time code {name} was issued in this book")


def set_secret_by_code(work: Workplace, person: str, code: str, kind: SecretKind, secret: str) -> Recorded[f.Fact]:
    """The owner sets a first or forgotten secret with a one-time code.  A wrong code counts as a wrong try."""
    fact = _secret(work, person, kind, secret, "one-time code")
    with work.book.session(readonly=True) as session:
        usable = _usable_code(work, session, person)
    typed = code.strip().upper()
    right = book_secrets(work).matches(
        typed, secret_of(person, usable.code if usable else ""), usable.verifier if usable else None
    )
    keep_try(work, person, right)
    with work.act("set secret", person, person) as session:
        again = _usable_code(work, session, person)
        if usable is None or again is None or again.code != usable.code:
            raise Refused((), "this one-time code was used already: ask for a new one")
        (recorded,) = session.append([Draft(replace(fact, code=usable.code), work.now(), person)])
        return recorded


def _usable_code(work: Workplace, session: Session, person: str) -> f.OneTimeCodeIssued | None:
    """The latest code for a person, if it is confirmed, in time and not used up."""
    issued = [r for r in about(session, f.OneTimeCodeIssued, person) if r.fact.person == person]
    if not issued:
        return None
    last = max(issued, key=lambda r: r.position).fact
    confirmed = any(
        r.fact.confirmed_by not in (last.issued_by, person) for r in about(session, f.OneTimeCodeConfirmed, last.code)
    )
    used = any(r.fact.code == last.code for r in about(session, f.SecretSet, person))
    return last if confirmed and not used and work.now().at <= last.expires.at else None


def own_secret_covers(kind: SecretKind) -> tuple[str, ...]:
    return (f"own new {kind}",)


def set_own_secret(
    work: Workplace, person: str, kind: SecretKind, secret: str, *, proof: Proof | None
) -> Recorded[f.Fact]:
    """A person who has proved it sets a new PIN or password; asked for a proof in a practice book too."""
    fact = _secret(work, person, kind, secret, "own secret")
    if proof is None:
        raise NotPermitted(f"{person} types the present secret first")
    with work.act("set secret", person, person) as session:
        problem = signing.problem_with(work, proof, person, Meaning.PERFORMED, own_secret_covers(kind))
        if problem is not None:
            raise Refused((), problem)
        (recorded,) = session.append([Draft(fact, work.now(), person)])
        return recorded


# --- qualifications -------------------------------------------------------------------------------


def proposed(qualification: Qualification, by: str) -> f.QualificationProposed:
    """A certificate, vision examination or authorisation as it is entered by one person."""
    check_days(qualification)
    match qualification:
        case f.CertificateEntered(person, method, level, issued, expires):
            if method not in tuple(Method) or not PROCESSING_LEVEL <= level <= LEVEL_THREE:
                raise InputError(
                    f"{person}: a certificate is of {' or '.join(Method)}, level {PROCESSING_LEVEL} to {LEVEL_THREE}"
                )
            return f.QualificationProposed("", person, CERTIFICATE, by, issued, expires, method=method, level=level)
        case f.VisionExamEntered(person, examined, expires):
            return f.QualificationProposed("", person, VISION, by, examined, expires)
        case f.AuthorisationEntered(person, technique, valid_from, valid_to):
            return f.QualificationProposed("", person, AUTHORISATION, by, valid_from, valid_to, technique=technique)


def check_days(qualification: Qualification) -> None:
    """InputError when a qualification ends before it begins."""
    match qualification:
        case f.CertificateEntered(issued=first, expires=last) | f.VisionExamEntered(examined=first, expires=last):
            pass
        case f.AuthorisationEntered(valid_from=first, valid_to=last):
            pass
    if last is not None and last < first:
        raise InputError(f"{qualification.person}: {last} lies before {first}, look at the dates again")


def proposal_covers(qualifications: Sequence[Qualification], by: str) -> tuple[str, ...]:
    """What is signed when qualifications are entered."""
    return tuple(line for q in qualifications for line in covers.proposal(proposed(q, by)))


def propose(
    work: Workplace, qualifications: Sequence[Qualification], by: str, *, proof: Proof | None = None
) -> tuple[str, ...]:
    """Enter qualifications of other persons; they count once another person confirmed them.  Returns the proposals' names."""
    entries = [proposed(q, by) for q in qualifications]
    with work.act("enter qualification", by, "people") as session:
        signed = require(work, session, proof, by, Meaning.PERFORMED, proposal_covers(qualifications, by), office=True)
        _need_role(session, by, CLERKS, f"qualifications are entered by one of {', '.join(sorted(CLERKS))}")
        number = len(every(session, f.QualificationProposed))
        named = []
        for entry in entries:
            _need_person(work, session, entry.person)
            if entry.person == by:
                raise Refused((), "nobody enters their own qualification: another person does")
            number += 1
            named.append(replace(entry, proposal=f"QP-{number:03d}", proof=signed.proof))
        session.append([Draft(fact, work.now(), by) for fact in named])
    return tuple(fact.proposal for fact in named)


def confirmation_covers(proposals: Sequence[f.QualificationProposed]) -> tuple[str, ...]:
    """What the second person signs: each qualification as it was entered."""
    return tuple(f"{fact.proposal}: {line}" for fact in proposals for line in covers.proposal(fact))


def open_proposals(session: Session) -> list[f.QualificationProposed]:
    """Qualifications that wait for a second person."""
    done = {r.fact.proposal for r in every(session, f.QualificationConfirmed)}
    return [
        r.fact
        for r in sorted(every(session, f.QualificationProposed), key=lambda r: r.position)
        if r.fact.proposal not in done
    ]


def confirm(
    work: Workplace, names: Sequence[str], by: str, *, proof: Proof | None = None
) -> tuple[Recorded[f.Fact], ...]:
    """Confirm qualifications that somebody else entered for a third person; from then on they count."""
    with work.act("confirm qualification", by, ", ".join(names)) as session:
        waiting = {fact.proposal: fact for fact in open_proposals(session)}
        unknown = [name for name in names if name not in waiting]
        if unknown:
            raise NotFound(f"{', '.join(unknown)}: nothing of that name waits to be confirmed")
        chosen = [waiting[name] for name in names]
        signed = require(work, session, proof, by, Meaning.APPROVED, confirmation_covers(chosen), office=True)
        _need_role(session, by, CLERKS, f"qualifications are confirmed by one of {', '.join(sorted(CLERKS))}")
        written: list[Recorded[f.Fact]] = []
        for fact in chosen:
            if by in (fact.person, fact.entered_by):
                raise Refused(
                    (), f"{fact.proposal} of {fact.person} was entered by {fact.entered_by}: a third person confirms it"
                )
            kept = f.QualificationConfirmed(fact.proposal, fact.person, by, signed.proof, signed.meaning, signed.covers)
            written += session.append([Draft(each, work.now(), by) for each in (kept, _qualification(fact, by))])
        for recorded in written:
            reconsider(work, session, relying_on_any(session, recorded.fact), recorded.position)
        return tuple(written)


def _qualification(fact: f.QualificationProposed, confirmed_by: str) -> f.Fact:
    if fact.kind == AUTHORISATION:
        return f.AuthorisationEntered(
            fact.person, fact.technique or "", fact.valid_from, fact.valid_to, fact.entered_by, confirmed_by
        )
    assert fact.valid_to is not None
    if fact.kind == VISION:
        return f.VisionExamEntered(fact.person, fact.valid_from, fact.valid_to, fact.entered_by, confirmed_by)
    return f.CertificateEntered(
        fact.person, fact.method or "", fact.level or 0, fact.valid_from, fact.valid_to, fact.entered_by, confirmed_by
    )


# --- listing --------------------------------------------------------------------------------------


@dataclass(frozen=True)
class PersonLine:
    """A person as the list shows it; never a secret."""

    person: str
    roles: tuple[str, ...]
    qualifications: tuple[str, ...]
    secrets: tuple[str, ...]
    badge: str | None
    removed: date | None
    waits: str | None


def listing(work: Workplace, session: Session) -> list[PersonLine]:
    """Every person with roles, qualifications that cover today, kinds of secrets, badge."""
    today = work.now().local.date()
    names = dict.fromkeys(r.fact.person for r in sorted(every(session, f.PersonEntered), key=lambda r: r.position))
    return [_line(work, session, name, today) for name in names]


def _line(work: Workplace, session: Session, name: str, today: date) -> PersonLine:
    entered = max(about(session, f.PersonEntered, name), key=lambda r: r.position).fact
    held = [
        f"{c.method} level {c.level} to {c.expires}"
        for c in (r.fact for r in about(session, f.CertificateEntered, name))
        if c.issued <= today <= c.expires
    ]
    held += [
        f"vision to {v.expires}"
        for v in (r.fact for r in about(session, f.VisionExamEntered, name))
        if v.examined <= today <= v.expires
    ]
    held += [
        f"{a.technique} to {a.valid_to or 'open'}"
        for a in (r.fact for r in about(session, f.AuthorisationEntered, name))
        if a.valid_from <= today and (a.valid_to is None or today <= a.valid_to)
    ]
    gone = signing.removal(session, name, work.now())
    wait = signing.has_to_wait(work, session, name)
    kinds = tuple(sorted({r.fact.kind for r in about(session, f.SecretSet, name)}))
    return PersonLine(
        name,
        entered.roles,
        tuple(held),
        kinds,
        signing.badge_of(session, name),
        gone.valid_from if gone else None,
        signing.in_words(wait) if wait else None,
    )
