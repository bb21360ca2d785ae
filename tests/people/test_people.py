"""Set-up, one-time codes, qualifications confirmed by another, badges, roles, leaving; and the command line of all this."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import date
from pathlib import Path

import pytest

from ndi import bootstrap
from ndi.cli.main import main
from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotFound, NotPermitted
from ndi.domain.secrets import SecretKind
from ndi.services import people, receiving, recording
from ndi.services.proof import Meaning
from ndi.services.workplace import Workplace
from tests.people import real_shop
from tests.people.real_shop import ADMIN, EXAMINED, EXPIRES, ISSUED, LEVEL3, VISION_ENDS, RealShop, password
from tests.services.shop import STATION, SetClock
from tests.store.conftest import forger

PASSWORD = SecretKind.PASSWORD
NEW = "ten geese over the lake"


@pytest.fixture
def empty(tmp_path: Path) -> RealShop:
    clock = SetClock()
    return RealShop(
        bootstrap.new_book(tmp_path / "new.book", shop="X", station=STATION, practice=False, clock=clock), clock
    )


# --- set-up -------------------------------------------------------------------------------------------


def test_a_new_book_has_no_accounts_and_nothing_can_be_signed(empty: RealShop) -> None:
    assert not empty.facts(f.SecretSet) and not empty.facts(f.PersonEntered)
    with pytest.raises(NotPermitted):
        empty.prove("administrator", Meaning.PERFORMED, (), secret="administrator")


def test_set_up_makes_an_administrator_and_a_level_three_once(empty: RealShop) -> None:
    real_shop.set_up(empty.work)
    assert {r.fact.person: r.fact.roles for r in empty.facts(f.PersonEntered)} == {
        ADMIN: ("administrator",),
        LEVEL3: ("level3", "inspector"),
    }
    entered = [r.fact for kind in (f.CertificateEntered, f.VisionExamEntered) for r in empty.facts(kind)]
    assert entered and all(
        (q.person, q.entered_by, q.confirmed_by) == (LEVEL3, ADMIN, None) and q.exception for q in entered
    )
    assert empty.facts(f.SetUpSigned, LEVEL3)[0].fact.exception == people.SET_UP_EXCEPTION
    for person in (ADMIN, LEVEL3):
        assert empty.prove(person, Meaning.PERFORMED, ("x",))
    with pytest.raises(NotPermitted, match="already"):
        real_shop.set_up(empty.work)


def newcomers(**changed: str) -> tuple[people.Newcomer, people.Newcomer]:
    given = {"a": ADMIN, "b": LEVEL3, "pa": password(ADMIN), "pb": password(LEVEL3)} | changed
    return people.Newcomer(given["a"], given["pa"]), people.Newcomer(given["b"], given["pb"])


@pytest.mark.parametrize(
    ("changed", "qualifications"),
    [
        ({"b": ADMIN}, real_shop.level_three_qualifications()),
        ({"pb": password(ADMIN)}, real_shop.level_three_qualifications()),
        ({"pa": "short"}, real_shop.level_three_qualifications()),
        ({"a": " "}, real_shop.level_three_qualifications()),
        ({}, []),
        ({}, [f.CertificateEntered(LEVEL3, "MT", 2, ISSUED, EXPIRES)]),
        ({}, [f.CertificateEntered(ADMIN, "MT", 3, ISSUED, EXPIRES)]),
        ({}, [f.CertificateEntered(LEVEL3, "MT", 3, EXPIRES, ISSUED)]),
    ],
)
def test_set_up_that_is_not_whole_writes_nothing(
    empty: RealShop, changed: dict[str, str], qualifications: Sequence[people.Qualification]
) -> None:
    before = empty.head()
    with pytest.raises(InputError):
        people.set_up(empty.work, *newcomers(**changed), qualifications=qualifications)
    assert empty.head() == before


# --- secrets ------------------------------------------------------------------------------------------


def issue(shop: RealShop, person: str = "L2-A", by: str = ADMIN) -> tuple[str, str]:
    return people.issue_code(shop.work, person, by, proof=shop.prove(by, Meaning.PERFORMED, people.code_covers(person)))


def confirm_code(shop: RealShop, name: str, person: str = "L2-A", by: str = LEVEL3) -> None:
    people.confirm_code(
        shop.work, name, by, proof=shop.prove(by, Meaning.APPROVED, people.confirm_code_covers(name, person))
    )


def use(shop: RealShop, code: str, person: str = "L2-A") -> None:
    people.set_secret_by_code(shop.work, person, code, PASSWORD, NEW)


def test_a_forgotten_secret_is_set_by_its_owner_with_a_confirmed_code(shop: RealShop) -> None:
    name, code = issue(shop)
    with pytest.raises(NotPermitted):
        use(shop, code)  # not confirmed
    confirm_code(shop, name)
    with pytest.raises(NotPermitted):
        use(shop, "0" * 10)
    use(shop, f" {code.lower()} ")
    assert shop.prove("L2-A", Meaning.PERFORMED, ("x",), secret=NEW)
    with pytest.raises(NotPermitted):
        shop.prove("L2-A", Meaning.PERFORMED, ("x",))  # the forgotten one
    with pytest.raises(NotPermitted):
        use(shop, code)  # used up


@pytest.mark.parametrize(("seconds", "works"), [(86400, True), (86401, False)])
def test_a_code_works_for_24_hours(shop: RealShop, seconds: int, works: bool) -> None:
    name, code = issue(shop)
    confirm_code(shop, name)
    shop.after(seconds)
    if works:
        use(shop, code)
    else:
        with pytest.raises(NotPermitted):
            use(shop, code)


def test_a_newer_code_takes_the_place_of_the_older(shop: RealShop) -> None:
    name, code = issue(shop)
    confirm_code(shop, name)
    issue(shop)
    with pytest.raises(NotPermitted):
        use(shop, code)


def test_wrong_codes_count_as_wrong_tries(shop: RealShop) -> None:
    name, code = issue(shop)
    confirm_code(shop, name)
    for _ in range(5):
        with pytest.raises(NotPermitted):
            use(shop, "0" * 10)
    with pytest.raises(NotPermitted, match="wait"):
        use(shop, code)


def test_issuer_confirmer_and_owner_are_three(shop: RealShop) -> None:
    name, _ = issue(shop)
    for by in (ADMIN, "L2-B"):
        with pytest.raises(NotPermitted):
            confirm_code(shop, name, by=by)
    with pytest.raises(NotPermitted):
        issue(shop, ADMIN, ADMIN)
    with pytest.raises(NotPermitted):
        issue(shop, "L2-B", "L2-A")
    name, _ = issue(shop, "SUP-F")
    with pytest.raises(NotPermitted):
        confirm_code(shop, name, "SUP-F", by="SUP-F")
    with pytest.raises(NotFound):
        confirm_code(shop, "OC-999")


def test_a_person_changes_the_own_secret_with_the_present_one(shop: RealShop) -> None:
    what = people.own_secret_covers(PASSWORD)
    people.set_own_secret(shop.work, "L2-A", PASSWORD, NEW, proof=shop.prove("L2-A", Meaning.PERFORMED, what))
    assert shop.prove("L2-A", Meaning.PERFORMED, ("x",), secret=NEW)
    with pytest.raises(NotPermitted):
        people.set_own_secret(
            shop.work, "L2-B", PASSWORD, NEW, proof=shop.prove("L2-A", Meaning.PERFORMED, what, secret=NEW)
        )


def test_verifiers_are_not_shown(shop: RealShop) -> None:
    for kind in (f.SecretSet, f.OneTimeCodeIssued):
        assert shop.facts(kind)
        assert all("argon2" not in repr(r) for r in shop.facts(kind))


def test_nothing_typed_is_in_the_file(shop: RealShop) -> None:
    content = b"".join(path.read_bytes() for path in shop.work.book.path.parent.iterdir() if path.is_file())  # type: ignore[attr-defined]
    assert b"argon2id" in content
    assert not any(password(person).encode() in content for person in (ADMIN, LEVEL3, "L2-A"))


# --- qualifications -----------------------------------------------------------------------------------


def propose(shop: RealShop, qualification: people.Qualification, by: str = ADMIN) -> str:
    what = people.proposal_covers([qualification], by)
    (name,) = people.propose(shop.work, [qualification], by, proof=shop.prove(by, Meaning.PERFORMED, what))
    return name


def confirm(shop: RealShop, name: str, by: str = LEVEL3) -> None:
    with shop.work.book.session(readonly=True) as session:
        waiting = [fact for fact in people.open_proposals(session) if fact.proposal == name]
    people.confirm(shop.work, [name], by, proof=shop.prove(by, Meaning.APPROVED, people.confirmation_covers(waiting)))


QUALIFICATIONS: list[people.Qualification] = [
    f.CertificateEntered("RCV-H", "MT", 1, ISSUED, EXPIRES),
    f.VisionExamEntered("RCV-H", EXAMINED, VISION_ENDS),
    f.AuthorisationEntered("RCV-H", "MT-T-6001", ISSUED),
]


@pytest.mark.parametrize("qualification", QUALIFICATIONS, ids=lambda q: type(q).__name__)
def test_a_qualification_counts_once_another_confirmed_it(shop: RealShop, qualification: people.Qualification) -> None:
    name = propose(shop, qualification)
    assert not shop.facts(type(qualification), "RCV-H")
    with pytest.raises(NotPermitted, match="third person"):
        confirm(shop, name, ADMIN)
    confirm(shop, name)
    (kept,) = [r.fact for r in shop.facts(type(qualification), "RCV-H")]
    assert (kept.entered_by, kept.confirmed_by) == (ADMIN, LEVEL3)
    signed = shop.facts(f.QualificationConfirmed, name)[0].fact
    assert signed.meaning == "approved" and signed.covers and "RCV-H" in signed.covers[0]
    with pytest.raises(NotFound):
        confirm(shop, name)


def test_holder_enterer_and_confirmer_are_three(shop: RealShop) -> None:
    own = f.CertificateEntered(LEVEL3, "MT", 3, ISSUED, date(2031, 1, 1))
    with pytest.raises(NotPermitted, match="own qualification"):
        propose(shop, own, LEVEL3)
    name = propose(shop, own)
    with pytest.raises(NotPermitted, match="third person"):
        confirm(shop, name, LEVEL3)
    with pytest.raises(NotPermitted, match="confirmed by one of"):
        confirm(shop, name, "L2-A")
    confirm(shop, name, "SUP-F")


def test_in_a_real_book_no_certificate_comes_in_another_way(shop: RealShop) -> None:
    certificate = f.CertificateEntered("L2-A", "MT", 3, ISSUED, EXPIRES)
    with pytest.raises(InputError):
        recording.record_outside_fact(shop.work, certificate, ADMIN)
    with pytest.raises(InputError):
        recording.transcribe(shop.work, [(certificate, shop.work.now())], person=ADMIN, why="from paper")
    old = shop.facts(f.CertificateEntered, "L2-A")[0]
    with pytest.raises(InputError):
        recording.correct(shop.work, old.uid, certificate, ADMIN, when=old.when, why="it says level 3, I think")


@pytest.mark.parametrize(
    "qualification",
    [
        f.CertificateEntered("RCV-H", "XT", 1, ISSUED, EXPIRES),
        f.CertificateEntered("RCV-H", "MT", 4, ISSUED, EXPIRES),
        f.CertificateEntered("RCV-H", "MT", 0, ISSUED, EXPIRES),
        f.VisionExamEntered("RCV-H", VISION_ENDS, EXAMINED),
    ],
)
def test_a_qualification_that_cannot_be_is_refused(shop: RealShop, qualification: people.Qualification) -> None:
    with pytest.raises(InputError):
        propose(shop, qualification)


# --- roles, badges, leaving -----------------------------------------------------------------------------


def enter(shop: RealShop, person: str, *roles: str, by: str = ADMIN) -> None:
    entries = [f.PersonEntered(person, roles)]
    people.enter(shop.work, entries, by, proof=shop.prove(by, Meaning.PERFORMED, people.entry_covers(entries)))


def test_only_an_administrator_enters_persons_and_never_the_own_roles(shop: RealShop) -> None:
    enter(shop, "L2-N", "inspector")
    with pytest.raises(NotPermitted, match="administrator"):
        enter(shop, "L2-O", "inspector", by=LEVEL3)
    with pytest.raises(NotPermitted, match="own roles"):
        enter(shop, ADMIN, "inspector")
    with pytest.raises(InputError, match="no other role"):
        enter(shop, "ADM-Y", "administrator", "inspector")
    with pytest.raises(InputError):
        enter(shop, "L2-P")


def remove(shop: RealShop, person: str, by: str = ADMIN) -> None:
    people.remove(
        shop.work,
        person,
        "left the shop",
        by,
        proof=shop.prove(by, Meaning.PERFORMED, people.removal_covers(person, "left the shop")),
    )


def test_who_is_removed_signs_nothing_any_more_and_the_code_is_not_given_out_again(shop: RealShop) -> None:
    inspection = shop.gear()
    shop.sign(inspection)
    remove(shop, "L2-A")
    assert shop.row(inspection).disposition == "ACCEPT"  # the old signature stands
    with pytest.raises(NotPermitted, match="removed"):
        shop.prove("L2-A", Meaning.PERFORMED, ("x",))
    with pytest.raises(NotPermitted, match="not right"):  # said to nobody who does not know the secret
        shop.prove("L2-A", Meaning.PERFORMED, ("x",), secret="guessed at random")
    with pytest.raises(NotPermitted, match="not given out again"):
        enter(shop, "L2-A", "inspector")
    with pytest.raises(NotPermitted, match="removed"):
        issue(shop)
    with pytest.raises(NotPermitted, match="nobody removes themselves"):
        remove(shop, ADMIN)


def test_a_proof_given_before_the_removal_signs_nothing_after_it(shop: RealShop) -> None:
    from ndi.services import covers, deciding

    inspection = shop.gear()
    proof = shop.prove("L2-A", Meaning.PERFORMED, covers.decision(shop.row(inspection), "ACCEPT"))
    remove(shop, "L2-A")
    with pytest.raises(NotPermitted, match="removed"):
        deciding.sign_decision(shop.work, inspection, "L2-A", "ACCEPT", proof=proof)


def test_a_badge_belongs_to_one_person_for_ever(shop: RealShop) -> None:
    def assign(person: str, badge: str) -> None:
        proof = shop.prove(ADMIN, Meaning.PERFORMED, people.badge_covers(person, badge))
        people.assign_badge(shop.work, person, badge, ADMIN, proof=proof)

    assign("L2-A", "B-17")
    assign("L2-A", "B-18")  # the first was lost
    with pytest.raises(NotPermitted, match="somebody else"):
        assign("L2-B", "B-17")
    people.set_own_secret(
        shop.work,
        "L2-A",
        SecretKind.PIN,
        "204816",
        proof=shop.prove("L2-A", Meaning.PERFORMED, people.own_secret_covers(SecretKind.PIN)),
    )
    assert shop.prove("L2-A", Meaning.PERFORMED, ("x",), secret="204816", badge="B-18")
    with pytest.raises(NotPermitted):
        shop.prove("L2-A", Meaning.PERFORMED, ("x",), secret="204816", badge="B-17")


def test_adoption_needs_the_proof_of_a_level_three(shop: RealShop) -> None:
    document = receiving.Document("part", "X-1", "1", None, "", "0" * 64)
    with pytest.raises(NotPermitted, match="no Level III"):
        receiving.adopt(
            shop.work,
            [document],
            "L2-A",
            proof=shop.prove("L2-A", Meaning.APPROVED, receiving.adoption_covers([document])),
        )


# --- past the program ---------------------------------------------------------------------------------


def test_a_decision_written_into_the_file_is_found(shop: RealShop) -> None:
    """The account of the file itself: a row put in by hand, with a body that looks right."""
    inspection = shop.gear()
    shop.sign(inspection, "HOLD-ENG")
    work = shop.work
    path = work.book.path  # type: ignore[attr-defined]
    head = shop.head()
    assert bootstrap.verify(work.book).ok
    with forger(path) as connection:
        row = dict(
            connection.execute("SELECT * FROM entry WHERE kind = 'DecisionSigned' ORDER BY position DESC").fetchone()
        )
        body = json.loads(row["body"]) | {"disposition": "ACCEPT", "person": "L2-C", "proof": f"password, entry {head}"}
        last = dict(connection.execute("SELECT hash FROM entry ORDER BY position DESC LIMIT 1").fetchone())
        row |= {
            "position": head + 1,
            "uid": "forged-000001",
            "prev_hash": last["hash"],
            "body": json.dumps(body, sort_keys=True, separators=(",", ":")),
        }
        row["station_seq"] = head + 1
        columns = ", ".join(row)
        connection.execute(f"INSERT INTO entry ({columns}) VALUES ({', '.join('?' * len(row))})", list(row.values()))
        connection.execute(
            "UPDATE inspection SET disposition = 'ACCEPT', decision = ? WHERE inspection = ?", (head + 1, inspection)
        )
    found = bootstrap.verify(work.book)
    assert not found.ok and found.problem is not None and found.problem.position == head + 1
    assert main(["verify", str(path)]) == 3


def test_an_acceptance_written_into_the_read_table_alone_is_found(shop: RealShop) -> None:
    inspection = shop.gear()
    shop.sign(inspection, "HOLD-ENG")
    with forger(shop.work.book.path) as connection:  # type: ignore[attr-defined]
        connection.execute("UPDATE inspection SET disposition = 'ACCEPT' WHERE inspection = ?", (inspection,))
    assert not bootstrap.verify(shop.work.book).ok


# --- the command line -----------------------------------------------------------------------------------


def test_people_by_the_command_line(
    empty: RealShop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    real_shop.set_up(empty.work)
    book = str(tmp_path / "new.book")
    monkeypatch.setattr(bootstrap, "SystemClock", lambda: empty.clock)

    def ndi(*words: str, secrets: Sequence[str] = (), code: int = 0) -> str:
        source = tmp_path / "secrets"
        source.write_text("\n".join(secrets) + "\n", encoding="utf-8")
        action, *rest = words
        given = [] if action == "list" else ["--secret-file", str(source)]
        assert main(["person", action, book, *rest, *given]) == code, capsys.readouterr()
        shown = capsys.readouterr()
        assert not any(secret in shown.out + shown.err for secret in secrets[:1])
        return shown.out + shown.err

    admin, level3 = ("--by", ADMIN), ("--by", LEVEL3)
    ndi("add", "L2-A", "--roles", "inspector,second", *admin, secrets=[password(ADMIN)])
    said = ndi("code", "L2-A", *admin, secrets=[password(ADMIN)])
    name, one_time = said.split("OC-")[1][:3], said.split("again: ")[1][:10]
    ndi("confirm", f"OC-{name}", *admin, secrets=[password(ADMIN)], code=1)
    ndi("confirm", f"OC-{name}", *level3, secrets=[password(LEVEL3)])
    main(
        ["person", "secret", book, "L2-A", "--with-code", "--secret-file", _lines(tmp_path, one_time, password("L2-A"))]
    )
    ndi("secret", "L2-A", secrets=[password("L2-A"), NEW])
    ndi("secret", "L2-A", "--kind", "pin", secrets=[NEW, "123456"], code=2)
    ndi("secret", "L2-A", "--kind", "pin", secrets=[NEW, "204816"])
    ndi("badge", "L2-A", "B-17", *admin, secrets=[password(ADMIN)])
    ndi("certificate", "L2-A", "MT", "2", "2023-03-06", "2028-03-05", *admin, secrets=[password(ADMIN)])
    ndi("vision", "L2-A", "2025-09-15", "2026-09-14", *admin, secrets=[password(ADMIN)])
    ndi("authorise", "L2-A", "MT-T-6001", "2026-01-15", *admin, secrets=[password(ADMIN)])
    assert "QP-003: L2-A authorisation MT-T-6001 2026-01-15 (entered by ADM-Z)" in ndi("list")
    ndi("confirm", "QP-001", "QP-002", "QP-003", "--badge", f"B-{LEVEL3}", *level3, secrets=[real_shop.pin(LEVEL3)])
    ndi("confirm", "QP-001", *level3, secrets=[password(LEVEL3)], code=3)
    shown = ndi("list")
    assert (
        "L2-A | inspector, second | MT level 2 to 2028-03-05; vision to 2026-09-14; MT-T-6001 to open | secrets: password, pin, badge B-17"
        in shown
    )
    assert "argon2" not in shown
    ndi("remove", "L2-A", "left the shop", *admin, secrets=["wrong secret"], code=1)
    ndi("remove", "L2-A", "left the shop", *admin, secrets=[password(ADMIN)])
    assert "REMOVED" in ndi("list")
    ndi("secret", "L2-A", secrets=[NEW, password("L2-A")], code=1)


def _lines(folder: Path, *lines: str) -> str:
    path = folder / "typed"
    path.write_text("\n".join(lines), encoding="utf-8")
    return str(path)


def test_secrets_come_from_standard_input_too(
    shop: RealShop, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    import io
    import sys

    inspection = shop.gear()
    shop.clock.at = shop.work.now().at
    monkeypatch.setattr(bootstrap, "SystemClock", lambda: shop.clock)
    path = str(shop.work.book.path)  # type: ignore[attr-defined]
    monkeypatch.setattr(sys, "stdin", io.StringIO(password("L2-A") + "\n"))
    assert main(["sign", path, inspection, "ACCEPT", "--by", "L2-A", "--secret-file", "-"]) == 0
    shown = capsys.readouterr()
    assert "L2-A signs (performed):" in shown.err and "MT-001 ACCEPT" in shown.err and "as of entry" in shown.err
    assert main(["sign", path, inspection, "ACCEPT", "--by", "L2-A", "--secret-file", "/nowhere"]) == 2


def test_a_practice_book_asks_for_no_secret(tmp_path: Path) -> None:
    work: Workplace = bootstrap.new_book(
        tmp_path / "p.book", shop="X", station=STATION, practice=True, clock=SetClock()
    )
    entries = [f.PersonEntered("A", ("administrator",))]
    with work.transaction() as session:
        from ndi.domain.entry import Draft

        session.append([Draft(entries[0], work.now(), "A")])
    people.enter(work, [f.PersonEntered("B", ("inspector",))], "A")
    with work.book.session(readonly=True) as session:
        assert [line.person for line in people.listing(work, session)] == ["A", "B"]
