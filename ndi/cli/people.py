"""``ndi person ...``: persons, secrets, one-time codes, badges, qualifications entered by one and confirmed by another."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from datetime import date

from ndi import bootstrap
from ndi.cli.typed_secret import Typed, add_signer, add_source, proof_of
from ndi.domain import facts as f
from ndi.domain.errors import InputError
from ndi.domain.secrets import SecretKind
from ndi.services import people, signing
from ndi.services.lookup import only
from ndi.services.proof import Meaning
from ndi.services.workplace import Workplace


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    top = commands.add_parser("person", help="people: roles, secrets, certificates, who confirms them, who leaves")
    actions = top.add_subparsers(dest="action", required=True, metavar="ACTION")
    _action(actions, "list", "who is in the book, and what waits to be confirmed", _list, signer=False)
    add = _action(actions, "add", "enter a person, or change the roles of one (administrator)", _add)
    add.add_argument("person")
    add.add_argument(
        "--roles",
        required=True,
        help="inspector, second, level3, supervisor, quality, trainee ..., joined by commas; administrator stands alone",
    )
    add.add_argument("--shift", metavar="HH:MM-HH:MM")
    badge = _action(actions, "badge", "assign a badge (administrator)", _badge)
    badge.add_argument("person")
    badge.add_argument("code")
    _action(actions, "code", "issue a one-time code for a first or forgotten secret; shown once", _code).add_argument(
        "person"
    )
    secret = _action(actions, "secret", "set your own PIN or password", _secret, signer=False)
    secret.add_argument("by", metavar="person")
    secret.add_argument("--kind", choices=[str(kind) for kind in SecretKind], default=str(SecretKind.PASSWORD))
    secret.add_argument(
        "--with-code",
        action="store_true",
        help="with a one-time code instead of the present secret; asked: code, new secret",
    )
    add_source(secret)
    certificate = _action(actions, "certificate", "enter a certificate of another person", _certificate)
    for name, kind in (("person", str), ("method", str), ("level", int), ("issued", _day), ("expires", _day)):
        certificate.add_argument(name, type=kind)
    vision = _action(actions, "vision", "enter a vision examination of another person", _vision)
    for name, kind in (("person", str), ("examined", _day), ("expires", _day)):
        vision.add_argument(name, type=kind)
    authorise = _action(actions, "authorise", "enter an authorisation of another person for a technique", _authorise)
    for name, kind in (("person", str), ("technique", str), ("valid_from", _day)):
        authorise.add_argument(name, type=kind)
    authorise.add_argument("valid_to", type=_day, nargs="?")
    _action(
        actions, "confirm", "confirm what somebody else entered or issued (QP-... or OC-...)", _confirm
    ).add_argument("names", nargs="+")
    remove = _action(actions, "remove", "end a person's rights today", _remove)
    remove.add_argument("person")
    remove.add_argument("reason")


def _action(
    actions: argparse._SubParsersAction[argparse.ArgumentParser],
    name: str,
    text: str,
    do: Callable[[Workplace, argparse.Namespace], None],
    *,
    signer: bool = True,
) -> argparse.ArgumentParser:
    parser = actions.add_parser(name, help=text)
    parser.add_argument("book", type=bootstrap.where)
    if signer:
        add_signer(parser)
    parser.set_defaults(run=run, do=do)
    return parser


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no day: write YYYY-MM-DD") from None


def run(args: argparse.Namespace) -> int:
    """Exit 0 when it is done."""
    work = bootstrap.open_book(args.book, station=getattr(args, "station", None))
    args.do(work, args)
    return 0


def _list(work: Workplace, args: argparse.Namespace) -> None:
    with work.book.session(readonly=True) as session:
        lines, waiting = people.listing(work, session), people.open_proposals(session)
    for line in lines:
        words = [line.person, ", ".join(line.roles), "; ".join(line.qualifications) or "no qualification today"]
        words.append(f"secrets: {', '.join(line.secrets) or 'none'}{f', badge {line.badge}' if line.badge else ''}")
        if line.removed:
            words.append(f"REMOVED {line.removed}")
        if line.waits:
            words.append(f"waits {line.waits} at {work.station}")
        print(" | ".join(words))
    for line_, fact in zip(people.confirmation_covers(waiting), waiting, strict=True):
        print(f"to be confirmed: {line_} (entered by {fact.entered_by})")


def _add(work: Workplace, args: argparse.Namespace) -> None:
    start, _, end = (args.shift or "").partition("-")
    roles = tuple(role.strip() for role in args.roles.split(",") if role.strip())
    entries = [f.PersonEntered(args.person, roles, start or None, end or None)]
    people.enter(work, entries, args.by, proof=proof_of(work, args, Meaning.PERFORMED, people.entry_covers(entries)))
    print(f"{args.person} entered: {', '.join(roles)}; saved. Next: ndi person code, for the first secret")


def _badge(work: Workplace, args: argparse.Namespace) -> None:
    proof = proof_of(work, args, Meaning.PERFORMED, people.badge_covers(args.person, args.code))
    people.assign_badge(work, args.person, args.code, args.by, proof=proof)
    print(f"badge {args.code} belongs to {args.person}; saved")


def _code(work: Workplace, args: argparse.Namespace) -> None:
    name, code = people.issue_code(
        work, args.person, args.by, proof=proof_of(work, args, Meaning.PERFORMED, people.code_covers(args.person))
    )
    print(f"{name}: tell {args.person} this code, it is not shown again: {code}")
    print(f"It works for 24 hours once a second person has typed: ndi person confirm {args.book} {name} --by PERSON")


def _secret(work: Workplace, args: argparse.Namespace) -> None:
    kind, typed = SecretKind(args.kind), Typed(args.secret_file)
    if args.with_code:
        code = typed.ask("one-time code")
        people.set_secret_by_code(work, args.by, code, kind, typed.ask_new(f"new {kind}"))
    else:
        present = typed.ask(f"present {'PIN' if args.badge else 'password'} of {args.by}")
        proof = signing.prove(
            work, args.by, present, Meaning.PERFORMED, people.own_secret_covers(kind), badge=args.badge
        )
        people.set_own_secret(work, args.by, kind, typed.ask_new(f"new {kind}"), proof=proof)
    print(f"{kind} of {args.by} set; saved")


def _propose(work: Workplace, args: argparse.Namespace, qualification: people.Qualification) -> None:
    proof = proof_of(work, args, Meaning.PERFORMED, people.proposal_covers([qualification], args.by))
    (name,) = people.propose(work, [qualification], args.by, proof=proof)
    print(f"{name} saved; it counts once another person has typed: ndi person confirm {args.book} {name} --by PERSON")


def _certificate(work: Workplace, args: argparse.Namespace) -> None:
    _propose(work, args, f.CertificateEntered(args.person, args.method, args.level, args.issued, args.expires))


def _vision(work: Workplace, args: argparse.Namespace) -> None:
    _propose(work, args, f.VisionExamEntered(args.person, args.examined, args.expires))


def _authorise(work: Workplace, args: argparse.Namespace) -> None:
    _propose(work, args, f.AuthorisationEntered(args.person, args.technique, args.valid_from, args.valid_to))


def _confirm(work: Workplace, args: argparse.Namespace) -> None:
    codes = [name for name in args.names if name.startswith("OC-")]
    if codes and len(args.names) > 1:
        raise InputError("a one-time code is confirmed alone")
    if codes:
        with work.book.session(readonly=True) as session:
            person = only(session, f.OneTimeCodeIssued, codes[0]).fact.person
        proof = proof_of(work, args, Meaning.APPROVED, people.confirm_code_covers(codes[0], person))
        people.confirm_code(work, codes[0], args.by, proof=proof)
        print(
            f"{codes[0]} for {person} confirmed; {person} now types: ndi person secret {args.book} {person} --with-code"
        )
        return
    with work.book.session(readonly=True) as session:
        waiting = {fact.proposal: fact for fact in people.open_proposals(session)}
    chosen = [waiting[name] for name in args.names if name in waiting]
    people.confirm(
        work, args.names, args.by, proof=proof_of(work, args, Meaning.APPROVED, people.confirmation_covers(chosen))
    )
    print(f"{', '.join(args.names)} confirmed by {args.by}; saved")


def _remove(work: Workplace, args: argparse.Namespace) -> None:
    proof = proof_of(work, args, Meaning.PERFORMED, people.removal_covers(args.person, args.reason))
    people.remove(work, args.person, args.reason, args.by, proof=proof)
    print(f"{args.person} signs nothing any more; signatures made before stand; saved")
