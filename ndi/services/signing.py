"""Who somebody is: a typed secret becomes a proof, a proof becomes a signature.

Every try is an entry.  An unknown person costs the same time and gets the same
answer.  In a practice book no proof is asked for.
"""

from __future__ import annotations

import hmac
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

from ndi.domain import facts as f
from ndi.domain.entry import Draft, Obtained, Recorded
from ndi.domain.errors import InputError, NotPermitted
from ndi.domain.moment import Moment, elapsed
from ndi.domain.secrets import SecretKind, wait_after, wrong_in_a_row
from ndi.services.lone_hands import soon_after
from ndi.services.lookup import about
from ndi.services.ports import Secrets, Session
from ndi.services.proof import Meaning, Proof
from ndi.services.workplace import Refused, Workplace

ADMINISTRATOR, TRAINEE = "administrator", "trainee"
PRACTICE = "practice"
NOT_RIGHT = "person or secret is not right"
BY_PASSWORD, BY_PIN, BY_CODE = "password", "badge and PIN", "one-time code"


@dataclass(frozen=True)
class Signed:
    """What a signed fact keeps of its proof."""

    proof: str
    meaning: str
    covers: tuple[str, ...]


def secret_of(person: str, kind: SecretKind | str) -> str:
    """Whose secret of which kind a verifier belongs to."""
    return f"{kind} of {person}"


def book_secrets(work: Workplace) -> Secrets:
    """The book's secrets; InputError if its secret file is not at this station."""
    if work.secrets is None:
        raise InputError(
            f"the book secret file {work.book.book_id}.pepper is not in this station's key folder: "
            "copy it from another station of the book or from its own backup"
        )
    return work.secrets


# --- reading --------------------------------------------------------------------------------------


def roles_of(session: Session, person: str) -> frozenset[str]:
    """The roles of a person as entered last; none for somebody who is not entered."""
    entered = about(session, f.PersonEntered, person)
    return frozenset(max(entered, key=lambda r: r.position).fact.roles) if entered else frozenset()


def removal(session: Session, person: str, now: Moment) -> f.PersonRemoved | None:
    """The removal that is in force, if any."""
    today = now.local.date()
    return next((r.fact for r in about(session, f.PersonRemoved, person) if r.fact.valid_from <= today), None)


def verifier_in_force(session: Session, person: str, kind: SecretKind) -> str | None:
    """What the person's secret of a kind is compared with."""
    found = [r for r in about(session, f.SecretSet, person) if r.fact.kind == kind]
    return max(found, key=lambda r: r.position).fact.verifier if found else None


def badge_of(session: Session, person: str) -> str | None:
    """The badge assigned to a person last, unless it went to somebody else since."""
    mine = [r for r in about(session, f.BadgeAssigned, person) if r.fact.person == person]
    if not mine:
        return None
    last = max(mine, key=lambda r: r.position)
    holders = [r for r in about(session, f.BadgeAssigned, last.fact.badge) if r.fact.badge == last.fact.badge]
    return last.fact.badge if max(holders, key=lambda r: r.position).fact.person == person else None


def person_of_badge(session: Session, badge: str) -> str | None:
    """Whose badge this is, or None."""
    holders = [r for r in about(session, f.BadgeAssigned, badge) if r.fact.badge == badge]
    if not holders:
        return None
    person = max(holders, key=lambda r: r.position).fact.person
    return person if badge_of(session, person) == badge else None


def has_to_wait(work: Workplace, session: Session, name: str) -> timedelta:
    """How much longer a person waits on this station; zero when the next try is free."""
    tried = [r for r in about(session, f.SecretTried, name) if r.fact.station == work.station and not r.fact.waiting]
    tried.sort(key=lambda r: r.position)
    wait = wait_after(wrong_in_a_row(r.fact.right for r in tried))
    if not wait:
        return wait
    return max(wait - elapsed(tried[-1].when, work.now())[0], timedelta(0))


# --- trying ---------------------------------------------------------------------------------------


def prove(
    work: Workplace, person: str, secret: str, meaning: Meaning, covers: Sequence[str], *, badge: str | None = None
) -> Proof:
    """Compare what was typed; the proof is good for one signature of this meaning over ``covers``.

    With ``badge`` the secret is a PIN, without it a password.  NotPermitted when
    it is not right, when the person was removed, or has to wait.
    """
    secrets = book_secrets(work)
    kind, how = (SecretKind.PASSWORD, BY_PASSWORD) if badge is None else (SecretKind.PIN, BY_PIN)
    with work.book.session(readonly=True) as session:
        verifier = verifier_in_force(session, person, kind)
        own_badge = badge_of(session, person)
    # compared outside the transaction, so that nobody waits for it; what came out is told only inside
    right = secrets.matches(secret, secret_of(person, kind), verifier)
    if badge is not None:
        right &= hmac.compare_digest(badge.encode(), (own_badge or "").encode())
    tried = keep_try(work, person, right)
    if verifier is not None and secrets.outdated(verifier):
        _keep_anew(work, person, kind, secret)
    return work.proofs.give_out(Proof(person, how, work.station, meaning, tuple(covers), work.now(), tried.position))


def keep_try(work: Workplace, person: str, right: bool) -> Recorded[f.Fact]:
    """Keep a try; NotPermitted when it was wrong, came too early, or the person was removed."""
    with work.transaction() as session:
        name = person if about(session, f.PersonEntered, person) else f"unknown {book_secrets(work).pseudonym(person)}"
        left = has_to_wait(work, session, name)
        counts = right and not left
        other = soon_after(work, session, name) if counts else None
        fact = f.SecretTried(name, work.station, counts, waiting=bool(left), soon_after=other)
        (tried,) = session.append([Draft(fact, work.now(), work.computed_by, Obtained.TIMER)])
        left = left or (timedelta(0) if right else has_to_wait(work, session, name))
        gone = removal(session, person, work.now())
    if left:
        said = "" if fact.waiting else f"{NOT_RIGHT}; "
        raise NotPermitted(f"{said}too many wrong tries: wait {in_words(left)}, then try again on this station")
    if not right:
        raise NotPermitted(f"{NOT_RIGHT}: try again, or ask for a one-time code")
    if gone is not None:
        raise NotPermitted(
            f"{person} was removed on {gone.valid_from} ({gone.reason}): nothing is signed under that name any more"
        )
    return tried


def in_words(left: timedelta) -> str:
    """A wait for a person to read, rounded up."""
    seconds = -(-left // timedelta(seconds=1))
    return f"{seconds} s" if seconds < 60 else f"{-(-seconds // 60)} min"


def _keep_anew(work: Workplace, person: str, kind: SecretKind, secret: str) -> None:
    """The same secret again under today's parameters."""
    fact = f.SecretSet(person, kind, book_secrets(work).verifier(secret, secret_of(person, kind)), "kept anew")
    with work.transaction() as session:
        session.append([Draft(fact, work.now(), person, Obtained.COMPUTED)])


# --- signing --------------------------------------------------------------------------------------


def require(
    work: Workplace,
    session: Session,
    proof: Proof | None,
    person: str,
    meaning: Meaning,
    covers: Sequence[str],
    *,
    office: bool = False,
) -> Signed:
    """What a signed fact keeps; Refused without a proof of this person for this meaning and cover.

    A proof is used up by being shown.  ``office``: an entry about people, which
    an administrator may sign; an administrator never decides, looks or verifies.
    """
    problem = None if work.practice else problem_with(work, proof, person, meaning, tuple(covers))
    if problem is not None:
        raise Refused((), problem)
    refuse_without_right(work, session, person, office=office)
    return Signed(PRACTICE if work.practice else str(proof), str(meaning), tuple(covers))


def problem_with(
    work: Workplace, proof: Proof | None, person: str, meaning: Meaning, covers: tuple[str, ...]
) -> str | None:
    """Uses a proof up; says why it does not carry this signature, or None."""
    again = "type your secret again"
    if proof is None:
        return f"a signature ({meaning}) of {person} is asked for: {person} types the secret"
    wrong = work.proofs.take(proof, work.now())
    if wrong is not None:
        return f"{wrong}: {again}"
    if proof.person != person or proof.station != work.station:
        return f"this is the proof of {proof.person} at {proof.station}, not of {person} at {work.station}: {again}"
    if proof.meaning != meaning:
        return f"this proof was given for {proof.meaning}, not for {meaning}: {again}"
    if proof.covers != covers:
        return f"what is to be signed ({'; '.join(covers)}) is not what was shown ({'; '.join(proof.covers)}): look again, then {again}"
    return None


def refuse_without_right(work: Workplace, session: Session, person: str, *, office: bool = False) -> None:
    """Refused for a removed person and for an administrator on inspection work.

    In a real book also for a trainee; in a practice book the rules alone speak of these.
    """
    gone = removal(session, person, work.now())
    if gone is not None:
        raise Refused((), f"{person} was removed on {gone.valid_from} ({gone.reason}): another person signs")
    roles = roles_of(session, person)
    if not office and ADMINISTRATOR in roles:
        raise Refused(
            (), f"{person} is an administrator: an administrator has no inspection rights, another person signs"
        )
    if not office and not work.practice and TRAINEE in roles:
        raise Refused((), f"{person} is a trainee: a trainee signs no inspection work, the supervising person does")
