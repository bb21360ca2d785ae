"""Person x method x level x date x role: nobody without the right gets a part accepted; nobody alone does what needs two."""

from __future__ import annotations

import contextlib
import itertools
import shutil
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from ndi import bootstrap
from ndi.cli.main import main
from ndi.domain import facts as f
from ndi.domain.errors import NdiError, NotPermitted
from ndi.domain.moment import Moment
from ndi.domain.secrets import SecretKind
from ndi.services import covers, deciding, inspecting, people, recording, second_person, verifying
from ndi.services.proof import Meaning, Proof
from ndi.store.errors import KeyMismatch
from tests import build as b
from tests.people import real_shop
from tests.people.real_shop import ADMIN, LEVEL3, RealShop, password

# --- the matrix ---------------------------------------------------------------------------------------

RECORDS = {"MT": ("MT-001", "L2-A"), "PT": ("PT-001", "L2-B")}  # the person who did all of it and wants to sign
ISSUED, TODAY = date(2023, 3, 6), date.fromisoformat(b.DAY)
CERTIFICATES: dict[str, Callable[[str, str], f.Fact | None]] = {
    "none": lambda p, m: None,
    "expired yesterday": lambda p, m: f.CertificateEntered(p, m, 2, ISSUED, date(2026, 3, 9)),
    "ends today": lambda p, m: f.CertificateEntered(p, m, 2, ISSUED, TODAY),
    "from tomorrow": lambda p, m: f.CertificateEntered(p, m, 2, date(2026, 3, 11), date(2028, 3, 5)),
    "level 1": lambda p, m: f.CertificateEntered(p, m, 1, ISSUED, date(2028, 3, 5)),
    "level 2": lambda p, m: f.CertificateEntered(p, m, 2, ISSUED, date(2028, 3, 5)),
    "level 3": lambda p, m: f.CertificateEntered(p, m, 3, ISSUED, date(2028, 3, 5)),
    "other method": lambda p, m: f.CertificateEntered(p, "PT" if m == "MT" else "MT", 3, ISSUED, date(2028, 3, 5)),
}
MAY_DECIDE = {"ends today", "level 2", "level 3"}
VISION = {"none": None, "expired yesterday": date(2026, 3, 9), "ends today": TODAY}
MAY_VIEW = {"ends today"}
ROLES = ("inspector", "trainee", "administrator")
MAY_SIGN = {"inspector"}
STATES = ("free", "waiting", "removed", "removed from tomorrow")


@pytest.fixture(scope="module")
def whole_records(cheap_secrets: None, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A real book with one whole record of each method, by persons who hold no certificate and no vision examination."""
    folder = tmp_path_factory.mktemp("whole")
    real_shop.begin(folder, unqualified=("L2-A", "L2-B"))
    opened = RealShop(bootstrap.open_book(folder / "shop.book", clock=(clock := real_shop.SetClock())), clock)
    opened.at("07:50")
    opened.gear()
    opened.sump()
    opened.work.book.close()  # type: ignore[attr-defined]
    return folder


def copied(source: Path, target: Path) -> RealShop:
    shop = real_shop.open_copy(source, target)
    with shop.work.book.session(readonly=True) as session:
        shop.clock.at = session.entry(session.head().position).at
    return shop.after(5)  # type: ignore[return-value]


def fresh(old: RealShop | None, source: Path | None, target: Path | None) -> RealShop | None:
    """Another copy of the book in place of the one at hand."""
    if old is not None:
        folder = old.work.book.path.parent  # type: ignore[attr-defined]
        old.work.book.close()  # type: ignore[attr-defined]
        shutil.rmtree(folder)
    return copied(source, target) if source and target else None


def qualify(shop: RealShop, method: str, certificate: str, vision: str, role: str) -> None:
    person = RECORDS[method][1]
    held = CERTIFICATES[certificate](person, method)
    ends = VISION[vision]
    shop.put(
        f.PersonEntered(person, (role,)),
        *([held] if held else []),
        *([f.VisionExamEntered(person, date(2025, 3, 1), ends)] if ends else []),
    )


def bring_into(shop: RealShop, person: str, state: str) -> None:
    shop.after(60)  # whoever had to wait has waited
    if state == "waiting":
        for _ in range(5):
            with pytest.raises(NotPermitted):
                shop.prove(person, Meaning.PERFORMED, ("x",), secret="wrong")
    elif state.startswith("removed"):
        shop.put(f.PersonRemoved(person, "left", TODAY if state == "removed" else date(2026, 3, 11)))


def may_accept(certificate: str, vision: str, role: str, state: str) -> bool:
    return (
        certificate in MAY_DECIDE
        and vision in MAY_VIEW
        and role in MAY_SIGN
        and state in ("free", "removed from tomorrow")
    )


def is_accepted(shop: RealShop, inspection: str) -> bool:
    return shop.row(inspection).disposition == "ACCEPT"


@pytest.mark.parametrize("certificate", CERTIFICATES)
@pytest.mark.parametrize("method", RECORDS)
def test_matrix_of_rights_through_the_use_case(
    whole_records: Path, tmp_path: Path, method: str, certificate: str
) -> None:
    inspection, person = RECORDS[method]
    shop: RealShop | None = None
    tried = 0
    for vision, role, state in itertools.product(VISION, ROLES, STATES):
        if shop is None or state in ("free", "removed from tomorrow"):
            # a state that leaves no trace on the record is followed by the next one in the same book
            shop = fresh(shop, whole_records, tmp_path / f"{tried}")
            qualify(shop, method, certificate, vision, role)
        bring_into(shop, person, state)
        expected = may_accept(certificate, vision, role, state)
        with contextlib.suppress(NotPermitted):
            shop.sign(inspection, person=person)
        assert is_accepted(shop, inspection) is expected, (vision, role, state)
        if expected:
            shop = fresh(shop, None, None)
        else:
            refuse_foreign_proofs(shop, inspection, person)
        tried += 1
    fresh(shop, None, None)
    assert tried == len(VISION) * len(ROLES) * len(STATES)


def refuse_foreign_proofs(shop: RealShop, inspection: str, person: str) -> None:
    """Who may not sign cannot do so with somebody else's proof, or with none."""
    what = covers.decision(shop.row(inspection), "ACCEPT")
    for proof in (None, shop.prove("L2-C", Meaning.PERFORMED, what)):
        with pytest.raises(NotPermitted):
            deciding.sign_decision(shop.work, inspection, person, "ACCEPT", proof=proof)
    assert not is_accepted(shop, inspection)


@pytest.mark.parametrize("method", RECORDS)
def test_matrix_of_rights_through_the_command_line(
    whole_records: Path, tmp_path: Path, method: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    inspection, person = RECORDS[method]
    secret = tmp_path / "secret"
    secret.write_text(password(person) + "\n", encoding="utf-8")
    usual = {"certificate": "level 2", "vision": "ends today", "role": "inspector", "state": "free"}
    cases = [{**usual, "certificate": c, "vision": v} for c, v in itertools.product(CERTIFICATES, VISION)]
    cases += [{**usual, name: value} for name, values in (("role", ROLES), ("state", STATES)) for value in values]
    for number, case in enumerate(cases):
        folder = tmp_path / f"{number}"
        shop = copied(whole_records, folder)
        qualify(shop, method, case["certificate"], case["vision"], case["role"])
        bring_into(shop, person, case["state"])
        monkeypatch.setattr(bootstrap, "SystemClock", lambda clock=shop.clock: clock)
        code = main(
            ["sign", str(folder / "shop.book"), inspection, "ACCEPT", "--by", person, "--secret-file", str(secret)]
        )
        expected = may_accept(**case)
        assert (code, is_accepted(shop, inspection)) == ((0, True) if expected else (1, False)), case
        shop.work.book.close()  # type: ignore[attr-defined]
        shutil.rmtree(folder)


def test_an_unknown_station_signs_nothing(
    whole_records: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shop = copied(whole_records, tmp_path / "book")
    path = tmp_path / "book" / "shop.book"
    qualify(shop, "MT", "level 2", "ends today", "inspector")
    with pytest.raises(KeyMismatch):
        bootstrap.open_book(path, station="BENCH 9", clock=shop.clock)
    assert (
        main(["sign", str(path), "MT-001", "ACCEPT", "--by", "L2-A", "--station", "BENCH 9", "--secret-file", "-"]) == 3
    )
    what = covers.decision(shop.row("MT-001"), "ACCEPT")
    proof = shop.prove("L2-A", Meaning.PERFORMED, what)
    shop.work.station = "BENCH 9"
    with pytest.raises(NotPermitted, match="proof of L2-A at BENCH 1"):
        deciding.sign_decision(shop.work, "MT-001", "L2-A", "ACCEPT", proof=proof)
    assert not is_accepted(shop, "MT-001")
    shop.work.book.close()  # type: ignore[attr-defined]


# --- nobody alone ------------------------------------------------------------------------------------

ALONE, OTHER = "L2-A", "L2-C"
Move = Callable[[RealShop], object]


def cracked(shop: RealShop) -> None:
    """A class 1 record by L2-A with a relevant indication, in quarantine, without a second look."""
    part = shop.receive("T6-10501", "CG-1")
    shop.play(shop.magnetic_steps("MT-001", part, "MT-T-6050", nothing_seen=False))
    shop.after(30).crack("MT-001", part)  # type: ignore[attr-defined]


def viewed_in_the_name_of_another(shop: RealShop) -> None:
    """The same, but the first view was entered in the name of L2-C, who was not there."""
    part = shop.receive("T6-10501", "CG-1")
    steps = shop.magnetic_steps("MT-001", part, "MT-T-6050", nothing_seen=False)
    look = [
        replace(
            s,
            make=lambda: inspecting.start_view(shop.work, "MT-001/view", "MT-001", OTHER, ["LP-1"], station="MT booth"),
        )
        if s.name == "view"
        else s
        for s in steps
    ]
    shop.record(f.BoothClosed("MT booth", OTHER), by=OTHER)
    shop.play(look)
    shop.after(30).crack("MT-001", part)  # type: ignore[attr-defined]


def held(shop: RealShop) -> None:
    """A clean record that engineering held and allows by a concession; nobody released it yet."""
    shop.gear()
    shop.sign("MT-001", "HOLD-ENG")
    shop.concession("MT-001")


def reworked(shop: RealShop) -> None:
    """A rework was ordered, done and measured by the book; the re-inspection is ready but for its second look."""
    part = shop.receive("T6-10501", "CG-1")
    shop.play(shop.magnetic_steps("MT-001", part, "MT-T-6050", nothing_seen=False))
    shop.after(30)
    shop.record(
        f.IndicationSeen(
            "IND-01",
            "MT-001",
            "WEB",
            "at 90 deg",
            "linear",
            b.num("0.20 in"),
            b.num("0.01 in"),
            "radial",
            b.num("90 deg"),
        )
    )
    shop.record(f.IndicationTested("IND-01", "wiped", "returned"), f.IndicationTested("IND-01", "re-shot", "returned"))
    inspecting.interpret(
        shop.work, f.IndicationInterpreted("IND-01", "relevant", "returned, curved, shallow", "forging lap"), ALONE
    )
    shop.record(f.IndicationEvaluated("IND-01", "over limit", "none allowed, blend"))
    shop.second_look("MT-001", "IND-01", interpretation="relevant", form="linear", length=b.num("0.20 in"))
    order("MT-001", ALONE)(shop)
    shop.sign("MT-001", "REWORK")
    shop.after(60).record(f.ReworkStarted("MT-001", part, "RWK-N"), by="RWK-N")
    web = f.Dimension("web", b.num("0.310 in"), b.num("0.305 in"), b.num("0.300 in"))
    inspecting.complete_rework(
        shop.after(600).work, f.ReworkDone("MT-001", part, "RWK-N", "WEB", b.num("0.004 in"), (web,))
    )
    shop.after(60).play(shop.magnetic_steps("MT-002", part, "MT-T-6050", reason="rework", previous="MT-001"))
    shop.after(30)


def proof(shop: RealShop, meaning: Meaning, what: tuple[str, ...]) -> Proof:
    """Of the one person there is."""
    return shop.prove(ALONE, meaning, what)


def sign(inspection: str, disposition: str, name: str, typed: str) -> Move:
    def move(shop: RealShop) -> object:
        what = covers.decision(shop.row(inspection), disposition)
        given = proof(shop, Meaning.PERFORMED, what) if typed == ALONE else None
        return deciding.sign_decision(shop.work, inspection, name, disposition, proof=given)

    return move


def countersign(inspection: str, disposition: str, name: str) -> Move:
    def move(shop: RealShop) -> object:
        what = covers.decision(shop.row(inspection), disposition)
        return second_person.countersign(
            shop.work, inspection, name, disposition, proof=proof(shop, Meaning.APPROVED, what)
        )

    return move


def second_look(inspection: str, indication: str | None, looker: str) -> Move:
    """A second look in the name of ``looker``, and every way of saving it that one person has."""

    def move(shop: RealShop) -> None:
        name = f"SC-{looker}"
        shop.record(f.BoothClosed("MT booth", looker), by=looker)
        shop.after(90)
        inspecting.start_view(
            shop.work, name, inspection, looker, ["LP-1"], kind="second look", station="MT booth", indication=indication
        )
        shop.after(120)
        inspecting.end_view(shop.work, name)
        form, length = ("linear", b.num("0.20 in")) if indication else (None, None)
        for saver, proved in itertools.product((OTHER, ALONE), (False, True)):
            look = f.SecondLookSaved(
                name,
                inspection,
                saver,
                indication,
                "relevant" if indication else None,
                form,
                length,
                indication is None,
            )
            given = proof(shop, Meaning.SECOND_LOOK, covers.second_look(look)) if proved else None
            with contextlib.suppress(NdiError):
                inspecting.save_second_look(shop.work, look, proof=given)

    return move


def order(inspection: str, name: str) -> Move:
    def move(shop: RealShop) -> object:
        wanted = f.ReworkOrdered(inspection, shop.row(inspection).part, "IND-01", "WEB", "blend", name)
        return inspecting.order_rework(shop.work, wanted, proof=proof(shop, Meaning.APPROVED, covers.rework(wanted)))

    return move


def call(word: str) -> Move:
    def move(shop: RealShop) -> object:
        gone = "gone" if word != "relevant" else "returned"
        shop.record(f.IndicationTested("IND-01", "wiped", gone), f.IndicationTested("IND-01", "re-shot", gone))
        shop.record(f.IndicationTested("IND-01", "demagnetised", gone))
        return inspecting.interpret(
            shop.work, f.IndicationInterpreted("IND-01", word, "gone after wipe", "grinding crack"), ALONE
        )

    return move


def people_moves() -> dict[str, Move]:
    entry = f.PersonEntered("GHOST", ("inspector",))
    held_by_ghost = f.CertificateEntered(OTHER, "MT", 3, ISSUED, date(2030, 1, 1))

    def issue(shop: RealShop) -> object:
        name, code = people.issue_code(
            shop.work, OTHER, ALONE, proof=proof(shop, Meaning.PERFORMED, people.code_covers(OTHER))
        )
        with contextlib.suppress(NotPermitted):  # nobody confirmed it
            people.set_secret_by_code(shop.work, OTHER, code, SecretKind.PASSWORD, "ten geese over the lake")
        return people.confirm_code(
            shop.work, name, ALONE, proof=proof(shop, Meaning.APPROVED, people.confirm_code_covers(name, OTHER))
        )

    def confirm_as_other(shop: RealShop) -> object:
        name = shop.facts(f.OneTimeCodeIssued, OTHER)[-1].fact.code
        return people.confirm_code(
            shop.work, name, LEVEL3, proof=proof(shop, Meaning.APPROVED, people.confirm_code_covers(name, OTHER))
        )

    def own_code(shop: RealShop) -> object:
        return people.issue_code(
            shop.work, ALONE, ALONE, proof=proof(shop, Meaning.PERFORMED, people.code_covers(ALONE))
        )

    def enter_certificate(shop: RealShop) -> object:
        return people.propose(
            shop.work,
            [held_by_ghost],
            ALONE,
            proof=proof(shop, Meaning.PERFORMED, people.proposal_covers([held_by_ghost], ALONE)),
        )

    def own_certificate(shop: RealShop) -> object:
        mine = replace(held_by_ghost, person=ALONE)
        return people.propose(
            shop.work, [mine], ALONE, proof=proof(shop, Meaning.PERFORMED, people.proposal_covers([mine], ALONE))
        )

    def confirm_certificate(name: str) -> Move:
        def move(shop: RealShop) -> object:
            with shop.work.book.session(readonly=True) as session:
                waiting = people.open_proposals(session)[-1:]
            given = proof(shop, Meaning.APPROVED, people.confirmation_covers(waiting))
            return people.confirm(shop.work, [waiting[0].proposal], name, proof=given)

        return move

    def own_secret_for_other(shop: RealShop) -> object:
        given = proof(shop, Meaning.PERFORMED, people.own_secret_covers(SecretKind.PASSWORD))
        return people.set_own_secret(shop.work, OTHER, SecretKind.PASSWORD, "ten geese over the lake", proof=given)

    return {
        "enter a person": lambda s: people.enter(
            s.work, [entry], ALONE, proof=proof(s, Meaning.PERFORMED, people.entry_covers([entry]))
        ),
        "code for the other": issue,
        "code confirmed as the Level III": confirm_as_other,
        "code for oneself": own_code,
        "certificate of the other entered": enter_certificate,
        "certificate of one's own entered": own_certificate,
        "certificate confirmed": confirm_certificate(ALONE),
        "certificate confirmed as the Level III": confirm_certificate(LEVEL3),
        "secret for the other": own_secret_for_other,
        "certificate put in": lambda s: recording.record_outside_fact(s.work, held_by_ghost, ALONE),
        "certificate copied in": lambda s: recording.transcribe(
            s.work, [(held_by_ghost, s.work.now())], person=ALONE, why="from paper"
        ),
    }


def roundabout(inspection: str) -> dict[str, Move]:
    """Ways past the use cases that sign: copying in, putting in another's place, correcting what was signed."""

    def in_place(shop: RealShop, kind: type[f.Fact], **changed: str) -> object:
        old = shop.facts(kind, inspection)[-1]
        return recording.correct(
            shop.work, old.uid, replace(old.fact, **changed), ALONE, when=old.when, why="it was entered wrongly"
        )  # type: ignore[type-var]

    def copied_in(shop: RealShop) -> object:
        look = f.SecondLookSaved("SC-X", inspection, OTHER, "IND-01", "relevant", proof="password, entry 1")
        return recording.transcribe(shop.work, [(look, shop.work.now())], person=ALONE, why="from paper")

    def ordered_on_paper(shop: RealShop) -> object:
        wanted = f.ReworkOrdered(inspection, shop.row(inspection).part, "IND-01", "WEB", "blend", OTHER, "x")
        return recording.transcribe(shop.work, [(wanted, shop.work.now())], person=ALONE, why="from paper")

    def view_end(shop: RealShop) -> object:
        end = shop.facts(f.ViewEnded, f"{inspection}/view")[-1].when
        return inspecting.correct_view_end(
            shop.work, f"{inspection}/view", Moment(end.at, end.offset_min), "one minute off, says L2-A"
        )

    return {
        "second look copied in": copied_in,
        "rework order copied in": ordered_on_paper,
        "viewer put in another's place": lambda s: in_place(s, f.ViewStarted, person=OTHER),
        "not a rework after all": lambda s: in_place(s, f.InspectionOpened, reason="first"),
        "second look put in another's place": lambda s: in_place(s, f.SecondLookSaved, person=OTHER),
        "decision put in another's place": lambda s: in_place(s, f.DecisionSigned, disposition="ACCEPT"),
        "view end corrected": view_end,
    }


def moves(inspection: str, indication: str | None) -> dict[str, Move]:
    found = roundabout(inspection)
    for word in ("ACCEPT", "REJECT", "REWORK", "HOLD-ENG"):
        found[f"sign {word}"] = sign(inspection, word, ALONE, ALONE)
        found[f"sign {word} as the other"] = sign(inspection, word, OTHER, ALONE)
    found["sign ACCEPT as the other without proof"] = sign(inspection, "ACCEPT", OTHER, "")
    for word in ("ACCEPT", "REJECT", "REWORK"):
        found[f"countersign {word}"] = countersign(inspection, word, ALONE)
    found["countersign ACCEPT as the other"] = countersign(inspection, "ACCEPT", OTHER)
    found |= {f"second look of {looker}": second_look(inspection, indication, looker) for looker in (ALONE, OTHER)}
    if indication:
        found |= {f"call {word}": call(word) for word in ("false", "nonrelevant")}
        found |= {"order rework": order(inspection, ALONE), "order rework as the other": order(inspection, OTHER)}
    return found


def done_by_two(shop: RealShop, since: int) -> list[f.Fact]:
    """What the procedure wants two persons for, and what would make one person two."""
    two = []
    for fact in shop.since(since):
        if isinstance(fact, f.DecisionSigned) and fact.disposition in ("REJECT", "REWORK", "ACCEPT"):
            two.append(fact)
        if isinstance(fact, (f.ReworkOrdered, f.CertificateEntered, f.PersonEntered)) or (
            isinstance(fact, f.SecretSet) and fact.person != ALONE
        ):
            two.append(fact)
    return two


def walk(
    source: Path, scratch: Path, inspection: str, possible: dict[str, Move], depth: int
) -> Iterator[tuple[str, ...]]:
    """Every sequence of acts of one person up to ``depth``, each checked; two orders of the same acts are gone on from once.

    An act that changes nothing but refusals and tries is not gone on from.
    """
    level: dict[frozenset[str], tuple[tuple[str, ...], Path]] = {frozenset(): ((), source)}
    for step in range(depth):
        following: dict[frozenset[str], tuple[tuple[str, ...], Path]] = {}
        for path, book in level.values():
            shop: RealShop | None = None
            for number, (name, move) in enumerate(possible.items()):
                if name in path:
                    continue
                shop = shop or copied(book, scratch / f"{step}-{'-'.join(path)}-{number}".replace("/", " "))
                before = shop.head()
                with contextlib.suppress(NdiError, IndexError):
                    move(shop)
                done = done_by_two(shop, before)
                assert not done, (*path, name, done)
                yield (*path, name)
                if all(isinstance(fact, (f.ActionRefused, f.SecretTried)) for fact in shop.since(before)):
                    continue
                key = frozenset((*path, name))
                if step + 1 < depth and key not in following:
                    following[key] = ((*path, name), shop.work.book.path.parent)  # type: ignore[attr-defined]
                    shop.work.book.close()  # type: ignore[attr-defined]
                    shop = None
                else:
                    shop = fresh(shop, None, None)
            fresh(shop, None, None)
        level = following


STARTS: dict[str, tuple[Move, str, str | None]] = {
    "an indication without a second look": (cracked, "MT-001", "IND-01"),
    "a view in the name of another": (viewed_in_the_name_of_another, "MT-001", "IND-01"),
    "held by engineering": (held, "MT-001", None),
    "a rework to be closed": (reworked, "MT-002", None),
}


def powerful(morning: Path, folder: Path) -> RealShop:
    """L2-A holds every right that one person can hold beside inspecting."""
    shop = real_shop.open_copy(morning, folder)
    shop.put(f.CertificateEntered(ALONE, "MT", 3, ISSUED, date(2030, 1, 1)))
    shop.put(f.PersonEntered(ALONE, ("inspector", "level3", "supervisor", "second", "quality", "engineering")))
    return shop


@pytest.mark.parametrize("start", STARTS)
def test_no_two_acts_of_one_person_do_what_needs_two(morning: Path, tmp_path: Path, start: str) -> None:
    prepare, inspection, indication = STARTS[start]
    shop = powerful(morning, tmp_path / "start")
    prepare(shop)
    shop.work.book.close()  # type: ignore[attr-defined]
    possible = moves(inspection, indication)
    walked = list(walk(tmp_path / "start", tmp_path / "walk", inspection, possible, 2))
    assert len(walked) >= 3 * len(possible)


def test_no_three_acts_of_one_person_make_a_second_person(morning: Path, tmp_path: Path) -> None:
    powerful(morning, tmp_path / "start").work.book.close()  # type: ignore[attr-defined]
    possible = people_moves()
    assert len(list(walk(tmp_path / "start", tmp_path / "walk", "", possible, 3))) >= 2 * len(possible)


def test_with_the_second_person_each_of_these_is_possible(morning: Path, tmp_path: Path) -> None:
    """Else the walk would show nothing."""
    shop = real_shop.open_copy(morning, tmp_path / "reject")
    cracked(shop)
    with pytest.raises(NotPermitted, match="second look by another qualified person comes first"):
        order("MT-001", ALONE)(shop)
    shop.second_look("MT-001", "IND-01", interpretation="relevant", form="linear", length=b.num("0.20 in"))
    order("MT-001", ALONE)(shop)
    assert shop.facts(f.ReworkOrdered, "MT-001")[-1].fact.proof
    shop.sign("MT-001", "REJECT")
    assert shop.row("MT-001").disposition == "REJECT"

    shop = real_shop.open_copy(morning, tmp_path / "held")
    held(shop)
    with pytest.raises(NotPermitted, match="hold release"):
        shop.sign("MT-001")
    what = covers.decision(shop.row("MT-001"), "ACCEPT")
    second_person.countersign(shop.work, "MT-001", OTHER, "ACCEPT", proof=shop.prove(OTHER, Meaning.APPROVED, what))
    shop.sign("MT-001")
    assert shop.row("MT-001").disposition == "ACCEPT"

    shop = real_shop.open_copy(morning, tmp_path / "rework")
    reworked(shop)
    with pytest.raises(NotPermitted, match="second look missing"):
        shop.sign("MT-002")
    shop.second_look("MT-002", None, "SC-02", none_seen=True)
    shop.sign("MT-002")
    assert shop.row("MT-002").disposition == "ACCEPT"


def test_the_second_look_of_the_decider_counts_only_if_the_first_viewer_signs(morning: Path, tmp_path: Path) -> None:
    shop = real_shop.open_copy(morning, tmp_path / "book")
    shop.put(f.CertificateEntered(ALONE, "MT", 3, ISSUED, date(2030, 1, 1)))  # a Level III decides what others viewed
    viewed_in_the_name_of_another(shop)
    shop.second_look(
        "MT-001", "IND-01", person=ALONE, interpretation="relevant", form="linear", length=b.num("0.20 in")
    )
    with pytest.raises(NotPermitted, match="own"):
        shop.sign("MT-001", "REJECT", person=ALONE)
    shop.sign("MT-001", "REJECT", person=OTHER)
    assert shop.row("MT-001").disposition == "REJECT"


def test_an_administrator_decides_looks_and_verifies_nothing(morning: Path, tmp_path: Path) -> None:
    shop = real_shop.open_copy(morning, tmp_path / "book")
    shop.put(
        f.CertificateEntered(ADMIN, "MT", 3, ISSUED, date(2030, 1, 1)),
        f.VisionExamEntered(ADMIN, date(2025, 9, 15), date(2026, 9, 14)),
    )
    shop.gear()
    with pytest.raises(NotPermitted, match="administrator"):
        shop.sign("MT-001", person=ADMIN)
    shop.sign("MT-001")
    shop.at("20:30").read_lamp("LP-1", "1690")
    with pytest.raises(NotPermitted, match="no supervisor"):
        verifying.verify_records(
            shop.work, ADMIN, proof=shop.prove(ADMIN, Meaning.VERIFIED, verifying.verifiable(shop.work))
        )
    with pytest.raises(NotPermitted, match="no supervisor"):
        verifying.verify_records(
            shop.work, OTHER, proof=shop.prove(OTHER, Meaning.VERIFIED, verifying.verifiable(shop.work))
        )
    shop.gear("MT-002", "CG-2")
    with pytest.raises(NotPermitted, match="administrator"):
        shop.second_look("MT-002", None, person=ADMIN, none_seen=True)


@pytest.mark.parametrize("start", ["a view in the name of another", "held by engineering"])
def test_the_walk_finds_a_hole_where_there_is_one(
    morning: Path, tmp_path: Path, start: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With the check for a second person taken out."""
    monkeypatch.setattr(deciding, "refuse_alone", lambda *given: None)
    prepare, inspection, indication = STARTS[start]
    shop = powerful(morning, tmp_path / "start")
    prepare(shop)
    shop.work.book.close()  # type: ignore[attr-defined]
    with pytest.raises(AssertionError, match="DecisionSigned"):
        list(walk(tmp_path / "start", tmp_path / "walk", inspection, moves(inspection, indication), 2))
