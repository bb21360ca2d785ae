"""People: who is in the book with which certificates; entered by one, confirmed by another, each with a secret."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.errors import InputError
from ndi.gui.presenters.desk import entries, marks
from ndi.gui.presenters.desk.acts import Act, Field, Form, needed
from ndi.gui.presenters.desk.listing import Column, Labelled, Listing, Row
from ndi.gui.presenters.desk.recording_forms import NOBODY, RecordingForms
from ndi.services import people
from ndi.services.lookup import about, every, only
from ndi.services.proof import Meaning, Proof
from ndi.services.workplace import Workplace
from ndi.shop_files.kinds import ROLES

SOON = timedelta(days=30)  # a certificate that ends within this time is said to end soon
_PEOPLE = (
    Column("Person", 10),
    Column("Roles", 26, stretch=True),
    Column("Qualifications today", 46, stretch=True),
    Column("Signs with", 20, stretch=True),
)
_PROPOSALS = (Column("Waiting", 9), Column("What was entered", 50, stretch=True), Column("Entered by", 11))
_HELD = (
    Column("Kind", 14),
    Column("What", 20, stretch=True),
    Column("From", 11),
    Column("To", 11),
    Column("Stands", 24, stretch=True),
    Column("Entered, confirmed", 24, stretch=True),
)


@dataclass(frozen=True)
class PersonView:
    """One person."""

    person: str
    lines: tuple[Labelled, ...]
    held: Listing
    entries: Listing


class People:
    """Everybody, and what waits for a second person."""

    def __init__(self, work: Workplace, person: Callable[[], str], forms: RecordingForms) -> None:
        self._work, self._person, self._forms = work, person, forms

    def listing(self) -> Listing:
        with self._work.book.session(readonly=True) as session:
            lines = people.listing(self._work, session)
        rows = []
        for line in lines:
            secrets = ", ".join(line.secrets) or ("practice: no secret" if self._work.practice else "no secret yet")
            secrets += f", badge {line.badge}" if line.badge else ""
            held = f"REMOVED from {line.removed} on" if line.removed else "; ".join(line.qualifications) or "none today"
            rows.append(Row((line.person, ", ".join(line.roles), held, secrets), line.person, act=False))
        return Listing(_PEOPLE, tuple(rows), "Nobody is entered.")

    def waiting(self) -> Listing:
        """Qualifications and one-time codes that a second person confirms."""
        with self._work.book.session(readonly=True) as session:
            proposals = people.open_proposals(session)
            confirmed = {r.fact.code for r in every(session, f.OneTimeCodeConfirmed)}
            codes = [
                r.fact
                for r in every(session, f.OneTimeCodeIssued)
                if r.fact.code not in confirmed and r.fact.expires.at > self._work.now().at
            ]
        texts = people.confirmation_covers(proposals)
        rows = [
            Row((fact.proposal, text.partition(": ")[2], fact.entered_by), fact.proposal, act=True)
            for fact, text in zip(proposals, texts, strict=True)
        ]
        rows += [
            Row((code.code, f"one-time code for {code.person}", code.issued_by), code.code, act=True) for code in codes
        ]
        return Listing(_PROPOSALS, tuple(rows), "Nothing waits for a second person.")

    def person(self, name: str) -> PersonView:
        """One person with everything held now and before."""
        today = self._work.now().local.date()
        with self._work.book.session(readonly=True) as session:
            entered = only(session, f.PersonEntered, name).fact
            certificates = about(session, f.CertificateEntered, name)
            vision = about(session, f.VisionExamEntered, name)
            authorised = about(session, f.AuthorisationEntered, name)
            read = [r.fact for r in about(session, f.RevisionRead, name)]
            in_today = [r for r in about(session, f.CheckedIn, name) if r.when.local.date() == today]
            kinds = (
                f.CheckedIn,
                f.CheckedOut,
                f.DecisionSigned,
                f.SecondLookSaved,
                f.SecondSignature,
                f.VerificationSigned,
                f.ActionRefused,
            )
            work = session.facts(name, kinds)
        rows = [
            _held_row("certificate", f"{c.fact.method} level {c.fact.level}", c.fact.issued, c.fact.expires, c, today)
            for c in certificates
        ]
        rows += [_held_row("vision", "examination", v.fact.examined, v.fact.expires, v, today) for v in vision]
        rows += [
            _held_row("authorisation", a.fact.technique, a.fact.valid_from, a.fact.valid_to, a, today)
            for a in authorised
        ]
        shift = f"{entered.shift_start} to {entered.shift_end}" if entered.shift_start else "no shift on file"
        lines = (
            Labelled("Roles, shift", f"{', '.join(entered.roles)}; {shift}"),
            Labelled("Today", f"checked in {in_today[-1].when.clock()}" if in_today else "not checked in"),
            Labelled("Revisions read", ", ".join(f"{r.procedure} Rev {r.revision}" for r in read) or "none"),
        )
        return PersonView(
            name, lines, Listing(_HELD, tuple(rows), "No qualification was entered."), entries.brief(work)
        )

    # --- forms --------------------------------------------------------------------------------------

    def _by(self) -> str:
        if not self._person():
            raise InputError(NOBODY)
        return self._person()

    def _proposal(
        self, title: str, fields: tuple[Field, ...], make: Callable[[Mapping[str, str]], people.Qualification]
    ) -> Form:
        def act(values: Mapping[str, str]) -> Act:
            needed(values, fields)
            by, qualification = self._by(), make(values)
            covers = people.proposal_covers([qualification], by)

            def do(proof: Proof | None) -> str:
                (name,) = people.propose(self._work, [qualification], by, proof=proof)
                return f"{name} saved; it counts once another person has confirmed it"

            return Act(title, by, do, Meaning.PERFORMED, covers)

        return Form(title, fields, act, ("Entered by one person, confirmed by another; neither is the holder.",))

    def certificate_form(self, person: str) -> Form:
        fields = (
            Field("person", "Person", person, needed=True),
            Field("method", "Method", choices=("MT", "PT"), free=False, needed=True),
            Field("level", "Level", choices=("1", "2", "3"), free=False, needed=True),
            Field("first", "Issued", day=True, needed=True),
            Field("last", "Expires", hint="counts as a valid day", day=True, needed=True),
        )
        return self._proposal(
            "Enter a certificate",
            fields,
            lambda v: f.CertificateEntered(
                v["person"], v["method"], int(v["level"] or 0), _day(v["first"]), _day(v["last"])
            ),
        )

    def vision_form(self, person: str) -> Form:
        fields = (
            Field("person", "Person", person, needed=True),
            Field("first", "Examined", day=True, needed=True),
            Field("last", "Expires", day=True, needed=True),
        )
        return self._proposal(
            "Enter a vision examination",
            fields,
            lambda v: f.VisionExamEntered(v["person"], _day(v["first"]), _day(v["last"])),
        )

    def authorisation_form(self, person: str) -> Form:
        fields = (
            Field("person", "Person", person, needed=True),
            Field("technique", "Technique sheet", needed=True),
            Field("first", "Valid from", day=True, needed=True),
            Field("last", "Valid to", hint="empty: until further notice", day=True),
        )
        return self._proposal(
            "Enter an authorisation",
            fields,
            lambda v: f.AuthorisationEntered(
                v["person"], v["technique"], _day(v["first"]), _day(v["last"]) if v["last"] else None
            ),
        )

    def read_form(self) -> Form:
        return self._forms.form(
            "revision-read",
            "I have read a procedure revision",
            {"person": self._person()},
            only=("procedure", "revision"),
        )

    def confirm(self, name: str) -> Act:
        """Confirm what somebody else entered (QP-...) or issued (OC-...)."""
        by = self._by()
        with self._work.book.session(readonly=True) as session:
            proposals = [fact for fact in people.open_proposals(session) if fact.proposal == name]
            if not proposals:
                holder = only(session, f.OneTimeCodeIssued, name).fact.person
        if proposals:
            covers = people.confirmation_covers(proposals)
            return Act(f"Confirm {name}", by, lambda proof: self._confirmed(name, by, proof), Meaning.APPROVED, covers)

        def do(proof: Proof | None) -> str:
            people.confirm_code(self._work, name, by, proof=proof)
            return f"{name} confirmed: {holder} now sets a secret with the code"

        return Act(f"Confirm {name}", by, do, Meaning.APPROVED, people.confirm_code_covers(name, holder))

    def _confirmed(self, name: str, by: str, proof: Proof | None) -> str:
        people.confirm(self._work, [name], by, proof=proof)
        return f"{name} confirmed by {by}: it counts from now on"

    def enter_form(self) -> Form:
        """Enter a person, or change the roles of one."""
        fields = (
            Field("person", "Person's code", needed=True),
            Field("roles", "Roles", hint=f"joined by +: {', '.join(ROLES)}", needed=True),
            Field("start", "Shift begins", hint="HH:MM, if known"),
            Field("end", "Shift ends", hint="HH:MM, if known"),
        )

        def act(values: Mapping[str, str]) -> Act:
            needed(values, fields)
            by = self._by()
            roles = tuple(role.strip() for role in values["roles"].split("+") if role.strip())
            unknown = [role for role in roles if role not in ROLES]
            if unknown:
                raise InputError(f"{unknown[0]!r} is no role here; roles are {', '.join(ROLES)}")
            entered = [f.PersonEntered(values["person"], roles, values["start"] or None, values["end"] or None)]

            def do(proof: Proof | None) -> str:
                people.enter(self._work, entered, by, proof=proof)
                return f"{values['person']} entered: {', '.join(roles)}; next: a one-time code for the first secret"

            return Act("Enter a person", by, do, Meaning.PERFORMED, people.entry_covers(entered))

        return Form("Enter a person, or change roles", fields, act, ("By an administrator, never for oneself.",))

    def badge_form(self, person: str) -> Form:
        fields = (Field("person", "Person", person, needed=True), Field("badge", "Badge", hint="scan it", needed=True))

        def act(values: Mapping[str, str]) -> Act:
            needed(values, fields)
            by, who, badge = self._by(), values["person"], values["badge"]

            def do(proof: Proof | None) -> str:
                people.assign_badge(self._work, who, badge, by, proof=proof)
                return f"badge {badge} belongs to {who}"

            return Act(f"Badge for {who}", by, do, Meaning.PERFORMED, people.badge_covers(who, badge))

        return Form("Assign a badge", fields, act)

    def code_form(self, person: str) -> Form:
        """A one-time code for a first or forgotten secret; shown once."""
        fields = (Field("person", "Person", person, needed=True),)

        def act(values: Mapping[str, str]) -> Act:
            needed(values, fields)
            by, who = self._by(), values["person"]

            def do(proof: Proof | None) -> str:
                name, code = people.issue_code(self._work, who, by, proof=proof)
                return f"{name}: tell {who} this code, it is not shown again: {code} (24 h, once a second person has confirmed it)"

            return Act(f"One-time code for {who}", by, do, Meaning.PERFORMED, people.code_covers(who))

        return Form("Issue a one-time code", fields, act)

    def remove_form(self, person: str) -> Form:
        fields = (
            Field("person", "Person", person, needed=True),
            Field("reason", "Reason", needed=True),
            Field("first", "From", hint="empty: from today on", day=True),
        )

        def act(values: Mapping[str, str]) -> Act:
            needed(values, fields)
            by, who, reason = self._by(), values["person"], values["reason"]
            first = _day(values["first"]) if values["first"] else None

            def do(proof: Proof | None) -> str:
                people.remove(self._work, who, reason, by, valid_from=first, proof=proof)
                return f"{who} signs nothing any more; signatures made before stand"

            return Act(f"End the rights of {who}", by, do, Meaning.PERFORMED, people.removal_covers(who, reason))

        return Form("End a person's rights", fields, act)


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise InputError(f"{text!r} is no day: type it like 2026-03-10") from None


def _held_row(
    kind: str,
    what: str,
    first: date,
    last: date | None,
    recorded: Recorded[f.CertificateEntered] | Recorded[f.VisionExamEntered] | Recorded[f.AuthorisationEntered],
    today: date,
) -> Row:
    fact = recorded.fact
    if today < first:
        mark = marks.Mark(marks.WAITING, "not yet")
    elif last is not None and last < today:
        mark = marks.Mark(marks.FAILED, "ended")
    elif last is not None and last <= today + SOON:
        mark = marks.Mark(marks.WAITING, f"valid, ends in {(last - today).days} d")
    else:
        mark = marks.Mark(marks.SETTLED, "valid")
    by = fact.exception or f"{fact.entered_by or 'not recorded'}, {fact.confirmed_by or 'not recorded'}"
    cells = (kind, what, str(first), str(last or "open"), str(mark), by)
    return Row(cells, str(recorded.position), act=mark.shape == marks.FAILED)
