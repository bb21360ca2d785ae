"""The exceptions of law 2 that a person signs: a reason for a warning, a deviation, an engineering concession."""

from __future__ import annotations

from datetime import date

from ndi.domain import facts as f
from ndi.domain.acceptance import NO_DEVIATION
from ndi.domain.answer import Severity
from ndi.domain.entry import Draft, Recorded
from ndi.domain.errors import InputError
from ndi.domain.vocabulary import LEVEL_THREE
from ndi.services import covers
from ndi.services.deciding import check_version
from ndi.services.lookup import about
from ndi.services.ports import Session
from ndi.services.proof import Meaning, Proof
from ndi.services.signing import require
from ndi.services.workplace import Refused, Workplace

ENGINEERING = "engineering"
LEVEL_THREE_ROLE = "L3"


def has_role(session: Session, person: str, role: str, method: str, on: date) -> bool:
    """Whether a person may act in a role: ``L3`` means a level 3 certificate of the method on that day."""
    if role == LEVEL_THREE_ROLE:
        held = [r.fact for r in about(session, f.CertificateEntered, person)]
        return any(c.method == method and c.level >= LEVEL_THREE and c.issued <= on <= c.expires for c in held)
    entered = about(session, f.PersonEntered, person)
    return bool(entered) and role in entered[-1].fact.roles


def sign_deviation(
    work: Workplace,
    inspection: str,
    rule: str,
    person: str,
    *,
    role: str,
    justification: str,
    expires: date,
    seen: int | None = None,
    proof: Proof | None = None,
) -> Recorded[f.Fact]:
    """Allow acceptance although one B rule is not met; the answer stays what it is.

    Refused for rules that have none (identity, certificate, vision, second look,
    open crack, open containment), for roles that the procedure does not name,
    and for persons who do not hold the role.
    """
    with work.act("sign deviation", person, inspection) as session:
        row = session.inspection(inspection)
        check_version(session, inspection, seen)
        signed = require(
            work, session, proof, person, Meaning.APPROVED, covers.deviation(inspection, rule, justification)
        )
        setting = work.procedure(session, row.procedure, row.procedure_revision).rules.get(rule)
        today = work.now().local.date()
        if setting is None:
            raise InputError(f"{row.procedure} Rev {row.procedure_revision} does not ask {rule}")
        if rule in NO_DEVIATION or setting.severity is not Severity.BLOCK:
            raise Refused((), f"no deviation exists for {rule}")
        if role not in setting.may_deviate:
            raise Refused(
                (), f"{rule}: the procedure lets {', '.join(setting.may_deviate) or 'nobody'} deviate, not {role}"
            )
        if not has_role(session, person, role, row.method, today):
            raise Refused((), f"{person} does not hold the role {role}")
        if expires < today:
            raise InputError(f"the deviation would have ended on {expires}: give a day to come")
        fact = f.DeviationSigned(inspection, rule, person, role, justification, expires, signed.proof)
        (recorded,) = session.append([Draft(fact, work.now(), person)])
        return recorded


def give_concession(
    work: Workplace,
    inspection: str,
    person: str,
    *,
    reference: str,
    revision: str,
    conditions: str,
    seen: int | None = None,
    proof: Proof | None = None,
) -> Recorded[f.Fact]:
    """Engineering's concession on a record: number, revision, conditions; by an engineer who did not decide it."""
    with work.act("give concession", person, inspection) as session:
        row = session.inspection(inspection)
        check_version(session, inspection, seen)
        signed = require(
            work,
            session,
            proof,
            person,
            Meaning.APPROVED,
            covers.concession(inspection, reference, revision, conditions),
        )
        if not has_role(session, person, ENGINEERING, row.method, work.now().local.date()):
            raise Refused((), f"{person} is not of engineering: a concession comes from there")
        if not (reference.strip() and revision.strip() and conditions.strip()):
            raise InputError("a concession has a reference, a revision and conditions")
        fact = f.ConcessionGiven(inspection, reference, revision, conditions, person, signed.proof)
        (recorded,) = session.append([Draft(fact, work.now(), person)])
        return recorded
