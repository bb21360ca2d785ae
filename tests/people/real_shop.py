"""The small shop on a real book: its people come in through set-up, codes and confirmations, and prove themselves to sign."""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Any

from argon2 import Parameters, Type

from ndi import bootstrap
from ndi.domain import facts as f
from ndi.domain.secrets import SecretKind
from ndi.services import covers, deciding, exceptions, inspecting, people, receiving, recording, signing
from ndi.services.judging import Judgement
from ndi.services.proof import Meaning, Proof
from ndi.services.workplace import Workplace
from tests import build as b
from tests.services import shop as practice
from tests.services.shop import STATION, SetClock, Shop

# far below any recommendation: tests only
CHEAP = Parameters(Type.ID, version=19, salt_len=16, hash_len=16, time_cost=1, memory_cost=8, parallelism=1)

ADMIN, LEVEL3 = "ADM-Z", "NL3-E"
ROLES: dict[str, tuple[str, ...]] = {
    "RWK-N": ("rework",),
    "SUP-F": ("supervisor", "inspector"),
    "L2-A": ("inspector",),
    "L2-B": ("inspector",),
    "L2-C": ("inspector", "second"),
    "L1-D": ("operator",),
    "RCV-H": ("receiving",),
    "CLN-J": ("cleaner",),
    "ENG-P": ("engineering",),
}
LEVELS = {"L2-A": 2, "L2-B": 2, "L2-C": 2, "L1-D": 1, "SUP-F": 2}
ISSUED, EXPIRES = date(2023, 3, 6), date(2028, 3, 5)
EXAMINED, VISION_ENDS = date(2025, 9, 15), date(2026, 9, 14)


def password(person: str) -> str:
    """An invented password, another for each person."""
    return f"seven herons stand {sum(person.encode()) * 7919}"


def pin(person: str) -> str:
    return str(100003 + sum(person.encode()) * 7919)[:6]


class RealShop(Shop):
    """A shop whose people type their secrets."""

    def prove(self, person: str, meaning: Meaning, what: Sequence[str], **more: Any) -> Proof:
        return signing.prove(self.work, person, more.pop("secret", password(person)), meaning, what, **more)

    def sign(self, inspection: str, disposition: str = "ACCEPT", person: str = "L2-A", **more: Any) -> Judgement:
        what = covers.decision(self.row(inspection), disposition, more.get("children", ()))
        proof = self.prove(person, Meaning.PERFORMED, what)
        return deciding.sign_decision(self.work, inspection, person, disposition, proof=proof, **more)

    def second_look(
        self, inspection: str, indication: str | None, name: str = "SC-01", person: str = "L2-C", **saved: Any
    ) -> None:
        self.record(f.BoothClosed("MT booth", person), by=person)
        self.after(90)
        inspecting.start_view(
            self.work, name, inspection, person, ["LP-1"], kind="second look", station="MT booth", indication=indication
        )
        self.after(120)
        inspecting.end_view(self.work, name)
        look = f.SecondLookSaved(name, inspection, person, indication, **saved)
        inspecting.save_second_look(
            self.work, look, proof=self.prove(person, Meaning.SECOND_LOOK, covers.second_look(look))
        )

    def concession(self, inspection: str) -> None:
        """Engineering allows it, with reference, revision and conditions."""
        words = {"reference": "ENG-0412", "revision": "1", "conditions": "none"}
        proof = self.prove("ENG-P", Meaning.APPROVED, covers.concession(inspection, *words.values()))
        exceptions.give_concession(self.work, inspection, "ENG-P", **words, proof=proof)

    def put(self, *facts: f.Fact) -> None:
        """Put facts into the book past every use case: the shop's history as a test wants it."""
        from ndi.domain.entry import Draft

        with self.work.transaction() as session:
            session.append([Draft(fact, self.work.now(), ADMIN) for fact in facts])


def level_three_qualifications() -> list[people.Qualification]:
    return [
        *(f.CertificateEntered(LEVEL3, method, 3, ISSUED, EXPIRES) for method in ("MT", "PT")),
        f.VisionExamEntered(LEVEL3, EXAMINED, VISION_ENDS),
    ]


def set_up(work: Workplace) -> None:
    people.set_up(
        work,
        people.Newcomer(ADMIN, password(ADMIN)),
        people.Newcomer(LEVEL3, password(LEVEL3), pin(LEVEL3), f"B-{LEVEL3}"),
        qualifications=level_three_qualifications(),
    )


def give_secret(shop: RealShop, person: str) -> None:
    """A first secret: code by the administrator, confirmed by the Level III, used by its owner."""
    name, code = people.issue_code(
        shop.work, person, ADMIN, proof=shop.prove(ADMIN, Meaning.PERFORMED, people.code_covers(person))
    )
    proof = shop.prove(LEVEL3, Meaning.APPROVED, people.confirm_code_covers(name, person))
    people.confirm_code(shop.work, name, LEVEL3, proof=proof)
    people.set_secret_by_code(shop.work, person, code, SecretKind.PASSWORD, password(person))


def qualify(shop: RealShop, *qualifications: people.Qualification) -> None:
    """Entered by the administrator, confirmed by the Level III."""
    proof = shop.prove(ADMIN, Meaning.PERFORMED, people.proposal_covers(qualifications, ADMIN))
    names = people.propose(shop.work, qualifications, ADMIN, proof=proof)
    with shop.work.book.session(readonly=True) as session:
        waiting = [fact for fact in people.open_proposals(session) if fact.proposal in names]
    people.confirm(
        shop.work, names, LEVEL3, proof=shop.prove(LEVEL3, Meaning.APPROVED, people.confirmation_covers(waiting))
    )


def _documents(folder: Path) -> list[receiving.Document]:
    """The practice shop's documents, with one more line in the gear's limits: a forging lap in the web may be blended."""
    practice.documents(folder)
    gear = folder / "parts" / f"{practice.GEAR}.toml"
    text = gear.read_text(encoding="utf-8")
    none_allowed = 'limits = [{ form = "any", reference = "limits sheet LS-10501 rev 3" }]'
    assert none_allowed in text
    lap = '{ form = "any", discontinuity = "forging lap", blend_depth = "0.010 in", reference = "limits sheet LS-10501 rev 3" }'
    gear.write_text(text.replace(none_allowed, none_allowed.replace("[{", f"[{lap}, {{")), encoding="utf-8")
    return bootstrap.library_documents(folder)


def begin(
    folder: Path, *, unqualified: Sequence[str] = (), address: str | None = None, owner_url: str | None = None
) -> None:
    """A real book that stands at 07:50 of the day; some persons may be left without certificate and vision examination.

    ``address``: a database for it in the place of a file in ``folder``.
    """
    clock = SetClock()
    place = address or folder / "shop.book"
    work = bootstrap.new_book(place, shop="TEST", station=STATION, practice=False, clock=clock, owner_url=owner_url)
    shop = RealShop(work, clock)
    shop.at("08:00", "2026-02-01")
    set_up(work)
    entries = [f.PersonEntered(person, roles) for person, roles in ROLES.items()]
    people.enter(work, entries, ADMIN, proof=shop.prove(ADMIN, Meaning.PERFORMED, people.entry_covers(entries)))
    for person in ROLES:
        give_secret(shop, person)
    qualify(
        shop,
        *(
            f.CertificateEntered(p, m, level, ISSUED, EXPIRES)
            for p, level in LEVELS.items()
            if p not in unqualified
            for m in ("MT", "PT")
        ),
        *(f.VisionExamEntered(p, EXAMINED, VISION_ENDS) for p in LEVELS if p not in unqualified),
    )
    for person in (*LEVELS, LEVEL3):
        for number, revision in (("MT-P-01", "F"), ("PT-P-01", "D")):
            recording.record_outside_fact(work, f.RevisionRead(person, number, revision), person)
    documents = _documents(folder / "procedures")
    receiving.adopt(
        work, documents, LEVEL3, proof=shop.prove(LEVEL3, Meaning.APPROVED, receiving.adoption_covers(documents))
    )
    shop.at("09:30", "2026-03-09")
    recording.transcribe(
        work,
        [*practice._equipment(), *(e for e in practice._history() if e[1].at <= clock.at)],
        person="SUP-F",
        why="kept on paper before",
    )
    shop.at("21:00", "2026-03-09")
    recording.transcribe(
        work,
        [e for e in practice._history() if e[1].at > b.at("09:30", "2026-03-09").at],
        person="SUP-F",
        why="kept on paper before",
    )
    practice._morning(shop)
    work.book.close()  # type: ignore[attr-defined]


def open_copy(source: Path, target: Path) -> RealShop:
    """A copy of a book, opened at 07:50 (or at ``clock`` of the copy's maker)."""
    shutil.copytree(source, target, dirs_exist_ok=True, ignore=shutil.ignore_patterns("procedures"))
    clock = SetClock()
    shop = RealShop(bootstrap.open_book(target / "shop.book", station=STATION, clock=clock), clock)
    shop.at("07:50")
    return shop
