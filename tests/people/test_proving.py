"""Tries, waits, proofs: what stands between a typed secret and a signature."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from ndi import bootstrap
from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotPermitted
from ndi.domain.secrets import SecretKind
from ndi.services import covers, deciding, inspecting, people, receiving, signing, verifying
from ndi.services.proof import Meaning, Proof
from tests.people.real_shop import ADMIN, LEVEL3, RealShop, password, pin

WHAT = ("something",)


def wrong(shop: RealShop, times: int, person: str = "L2-A") -> str:
    """Wrong tries; the message of the last."""
    for _ in range(times):
        with pytest.raises(NotPermitted) as refused:
            shop.prove(person, Meaning.PERFORMED, WHAT, secret="not this one at all")
    return str(refused.value)


def tried(shop: RealShop, person: str = "L2-A") -> list[f.SecretTried]:
    return [r.fact for r in sorted(shop.facts(f.SecretTried, person), key=lambda r: r.position)]


def test_every_try_is_an_entry(shop: RealShop) -> None:
    before = len(tried(shop))
    wrong(shop, 2)
    shop.prove("L2-A", Meaning.PERFORMED, WHAT)
    assert [t.right for t in tried(shop)[before:]] == [False, False, True]


def test_five_wrong_tries_wait_1_5_15_15_minutes(shop: RealShop) -> None:
    for minutes in (1, 5, 15, 15):
        assert "wait" not in wrong(shop, 4)
        assert f"wait {minutes} min" in wrong(shop, 1)
        shop.after(minutes * 60 - 1)
        with pytest.raises(NotPermitted, match="wait 1 s"):
            shop.prove("L2-A", Meaning.PERFORMED, WHAT)  # the right secret is not looked at either
        assert tried(shop)[-1].waiting and not tried(shop)[-1].right
        shop.after(1)
    assert shop.prove("L2-A", Meaning.PERFORMED, WHAT).person == "L2-A"


def test_a_right_try_begins_anew(shop: RealShop) -> None:
    for _ in range(3):
        assert "wait" not in wrong(shop, 4)
        shop.prove("L2-A", Meaning.PERFORMED, WHAT)


def test_waiting_is_of_one_person_on_one_station(shop: RealShop) -> None:
    wrong(shop, 5)
    assert shop.prove("L2-B", Meaning.PERFORMED, WHAT)
    shop.work.station = "BENCH 2"
    assert shop.prove("L2-A", Meaning.PERFORMED, WHAT)


def test_waiting_does_not_end_with_the_program(shop: RealShop) -> None:
    wrong(shop, 5)
    again = bootstrap.open_book(shop.work.book.path, clock=shop.clock)  # type: ignore[attr-defined]
    with pytest.raises(NotPermitted, match="wait"):
        signing.prove(again, "L2-A", password("L2-A"), Meaning.PERFORMED, WHAT)
    again.book.close()  # type: ignore[attr-defined]


def test_putting_the_wall_clock_forward_does_not_end_the_wait(shop: RealShop) -> None:
    wrong(shop, 5)
    boot = shop.clock.boot_ms()
    shop.after(3600)
    shop.clock.boot_ms = lambda: boot + 1000  # type: ignore[method-assign]
    with pytest.raises(NotPermitted, match="wait 59 s"):
        shop.prove("L2-A", Meaning.PERFORMED, WHAT)


def test_an_unknown_person_gets_the_same_answer_and_is_not_named(shop: RealShop) -> None:
    known, unknown = wrong(shop, 1), wrong(shop, 1, "ZZ-99")
    assert known == unknown
    assert "wait 1 min" in wrong(shop, 4, "ZZ-99")
    assert not shop.facts(f.SecretTried, "ZZ-99")  # it may have been a secret in the wrong field
    assert len({r.fact.person for r in shop.facts(f.SecretTried) if r.fact.person.startswith("unknown ")}) == 1


def test_an_unknown_person_costs_one_hash_like_a_known_one(shop: RealShop, monkeypatch: pytest.MonkeyPatch) -> None:
    from argon2 import PasswordHasher

    work: list[str] = []
    hashed, verified = PasswordHasher.hash, PasswordHasher.verify
    monkeypatch.setattr(PasswordHasher, "hash", lambda *a, **k: (work.append("hash"), hashed(*a, **k))[1])
    monkeypatch.setattr(PasswordHasher, "verify", lambda *a, **k: (work.append("verify"), verified(*a, **k))[1])
    for person in ("L2-A", "ZZ-99", "RCV-H"):
        wrong(shop, 1, person)
    assert work == ["verify", "hash", "verify"]


def test_badge_and_pin(shop: RealShop) -> None:
    proof = shop.prove(LEVEL3, Meaning.PERFORMED, WHAT, secret=pin(LEVEL3), badge=f"B-{LEVEL3}")
    assert proof.how == "badge and PIN"
    for badge, secret in ((f"B-{LEVEL3}", password(LEVEL3)), ("B-1", pin(LEVEL3)), ("", pin(LEVEL3))):
        with pytest.raises(NotPermitted, match="not right"):
            shop.prove(LEVEL3, Meaning.PERFORMED, WHAT, secret=secret, badge=badge)
    with pytest.raises(NotPermitted, match="not right"):
        shop.prove(LEVEL3, Meaning.PERFORMED, WHAT, secret=pin(LEVEL3))


def test_the_verifier_of_one_person_is_none_of_another(shop: RealShop) -> None:
    stolen = shop.facts(f.SecretSet, "L2-C")[-1].fact
    shop.put(replace(stolen, person="L2-A"))
    with pytest.raises(NotPermitted, match="not right"):
        shop.prove("L2-A", Meaning.PERFORMED, WHAT, secret=password("L2-C"))


# --- proofs -------------------------------------------------------------------------------------------


def ready(shop: RealShop) -> tuple[str, tuple[str, ...]]:
    """A record that L2-A can sign, and its cover."""
    inspection = shop.gear()
    return inspection, covers.decision(shop.row(inspection), "ACCEPT")


def refused(shop: RealShop, inspection: str, proof: Proof | None, person: str = "L2-A") -> str:
    with pytest.raises(NotPermitted) as error:
        deciding.sign_decision(shop.work, inspection, person, "ACCEPT", proof=proof)
    assert shop.row(inspection).disposition == "NO DECISION"
    assert shop.facts(f.ActionRefused, inspection)
    return str(error.value)


def test_a_signature_keeps_proof_meaning_and_cover(shop: RealShop) -> None:
    inspection, what = ready(shop)
    shop.sign(inspection)
    signed = shop.facts(f.DecisionSigned, inspection)[-1].fact
    assert (signed.meaning, signed.covers) == ("performed", what)
    assert signed.proof is not None
    entry = int(signed.proof.rpartition(" ")[2])
    with shop.work.book.session(readonly=True) as session:
        assert session.entry(entry).fact == f.SecretTried("L2-A", shop.work.station, True)


def test_missing_foreign_used_stale_and_other_proofs_sign_nothing(shop: RealShop) -> None:
    inspection, what = ready(shop)
    assert "secret" in refused(shop, inspection, None)
    assert "proof of L2-C" in refused(shop, inspection, shop.prove("L2-C", Meaning.PERFORMED, what))
    assert "given for verified" in refused(shop, inspection, shop.prove("L2-A", Meaning.VERIFIED, what))
    assert "not what was shown" in refused(
        shop, inspection, shop.prove("L2-A", Meaning.PERFORMED, ("MT-002 ACCEPT", what[1]))
    )
    made_up = Proof("L2-A", "password", shop.work.station, Meaning.PERFORMED, what, shop.work.now(), 1)
    assert "not given here" in refused(shop, inspection, made_up)
    real = shop.prove("L2-A", Meaning.PERFORMED, what)
    assert "not given here" in refused(shop, inspection, replace(real))


@pytest.mark.parametrize(("seconds", "holds"), [(119, True), (120, True), (121, False)])
def test_a_proof_is_good_for_two_minutes(shop: RealShop, seconds: int, holds: bool) -> None:
    inspection, what = ready(shop)
    proof = shop.prove("L2-A", Meaning.PERFORMED, what)
    shop.after(seconds)
    if holds:
        deciding.sign_decision(shop.work, inspection, "L2-A", "ACCEPT", proof=proof)
        assert shop.row(inspection).disposition == "ACCEPT"
    else:
        assert "older than 2 min" in refused(shop, inspection, proof)


def test_a_proof_is_used_up_by_a_refusal_too(shop: RealShop) -> None:
    inspection, what = ready(shop)
    proof = shop.prove("L2-A", Meaning.PERFORMED, what)
    refused(shop, inspection, proof, person="L2-C")
    assert "used already" in refused(shop, inspection, proof)


def test_a_record_that_changed_since_it_was_shown_is_not_signed(shop: RealShop) -> None:
    inspection, what = ready(shop)
    proof = shop.prove("L2-A", Meaning.PERFORMED, what)
    shop.record(f.ReasonGiven(inspection, "G19", "because", "L2-C"), by="L2-C")
    assert "not what was shown" in refused(shop, inspection, proof)


def test_a_proof_of_another_station_is_foreign(shop: RealShop) -> None:
    inspection, what = ready(shop)
    other = bootstrap.open_book(shop.work.book.path, clock=shop.clock)  # type: ignore[attr-defined]
    proof = signing.prove(other, "L2-A", password("L2-A"), Meaning.PERFORMED, what)
    assert "not given here" in refused(shop, inspection, proof)
    other.book.close()  # type: ignore[attr-defined]


def test_every_signing_use_case_asks(shop: RealShop) -> None:
    inspection = shop.gear()
    with pytest.raises(NotPermitted, match="secret"):
        verifying.verify_records(shop.work, "SUP-F")
    with pytest.raises(NotPermitted, match="secret"):
        receiving.adopt(shop.work, [receiving.Document("part", "X", "1", None, "", "0")], LEVEL3)
    part = shop.row(inspection).part
    with pytest.raises(NotPermitted, match="secret"):
        inspecting.order_rework(shop.work, f.ReworkOrdered(inspection, part, "IND-01", "WEB", "blend", "L2-A"))
    with pytest.raises(NotPermitted, match="secret"):
        inspecting.resolve_disagreement(shop.work, f.DisagreementResolved(inspection, None, LEVEL3, "clean"))
    with pytest.raises(NotPermitted, match="secret"):
        shop.record(f.ConfirmationGiven(inspection, "trainee work co-signed"))
    with pytest.raises(NotPermitted, match="secret"):
        people.enter(shop.work, [f.PersonEntered("NEW", ("inspector",))], ADMIN)
    with pytest.raises(NotPermitted, match="secret"):
        people.remove(shop.work, "L2-A", "left", ADMIN)
    with pytest.raises(NotPermitted, match="secret"):
        people.confirm(shop.work, [], LEVEL3)
    with pytest.raises(NotPermitted):
        people.set_own_secret(shop.work, "L2-A", SecretKind.PASSWORD, "nine herons and a crane", proof=None)


def test_verification_signs_what_was_shown(shop: RealShop) -> None:
    inspection = shop.gear()
    shop.sign(inspection)
    shop.at("20:30").read_lamp("LP-1", "1690")  # the closing reading
    what = verifying.verifiable(shop.work)
    assert what == (inspection,)
    verifying.verify_records(shop.work, "SUP-F", proof=shop.prove("SUP-F", Meaning.VERIFIED, what))
    signed = shop.facts(f.VerificationSigned)[-1].fact
    assert (signed.meaning, signed.covers) == ("verified", what)


def test_without_the_book_secret_file_nothing_is_signed(shop: RealShop) -> None:
    shop.work.secrets = None
    with pytest.raises(InputError, match=r"\.pepper"):
        shop.prove("L2-A", Meaning.PERFORMED, WHAT)


def test_a_weaker_verifier_is_kept_anew_at_the_next_right_try(shop: RealShop) -> None:
    from argon2 import Parameters, Type

    from ndi.store.secrets import BookSecrets

    held = shop.work.secrets
    assert isinstance(held, BookSecrets)
    stronger = BookSecrets(held._key, Parameters(Type.ID, 19, 16, 16, time_cost=2, memory_cost=16, parallelism=1))
    shop.work.secrets = stronger
    shop.prove("L2-A", Meaning.PERFORMED, WHAT)
    last = shop.facts(f.SecretSet, "L2-A")[-1].fact
    assert last.how == "kept anew" and not stronger.outdated(last.verifier)
    shop.after(timedelta(seconds=1).seconds)
    assert shop.prove("L2-A", Meaning.PERFORMED, WHAT)
