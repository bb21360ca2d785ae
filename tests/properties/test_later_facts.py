"""Changes of an acceptance follow law 10, over random sequences of facts inside and outside the record."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import given
from hypothesis import strategies as st

from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotPermitted
from ndi.services import recording
from ndi.services.judging import Judgement
from tests import build as b
from tests.build import num
from tests.properties.law_2 import carries
from tests.properties.settings import fixed
from tests.services.shop import Shop, calibration, certificate, open_copy

WHY = "found on the paper sheet"
State = tuple[str, bool, bool]
Event = Callable[[Shop], None]


def reading(value: str, **changed: object) -> Event:
    return lambda shop: void(shop.read_lamp("LP-1", value, **changed))  # type: ignore[arg-type]


def void(_: object) -> None:
    return None


def outside(fact: f.Fact, **more: object) -> Event:
    return lambda shop: void(recording.record_outside_fact(shop.work, fact, "SUP-F", **more))  # type: ignore[arg-type]


def replaced(kind: type[f.Fact], subject: str, fact: f.Fact) -> Event:
    """The latest entry of a kind is corrected to ``fact``."""

    def make(shop: Shop) -> None:
        old = [r for r in shop.facts(kind, subject) if getattr(r.fact, "method", "MT") == "MT"][-1]
        recording.record_outside_fact(shop.work, fact, "SUP-F", when=old.when, why=WHY, supersedes=old.uid)

    return make


def plain(fact: f.Fact, at: str | None = None) -> Event:
    return lambda shop: void(shop.record(fact, when=b.at(at), why=WHY) if at else shop.record(fact))


def check(fact: f.ProcessCheckRecorded, at: str | None = None) -> Event:
    return lambda shop: void(
        recording.record_check(shop.work, fact, "L1-D", when=b.at(at) if at else None, why=WHY if at else None)
    )


def inside(kind: type[f.Fact], subject: str, **changed: object) -> Event:
    def make(shop: Shop) -> None:
        old = shop.facts(kind, subject)[-1]
        recording.correct(shop.work, old.uid, replace(old.fact, **changed), "L2-A", when=old.when, why=WHY)  # type: ignore[type-var]

    return make


def reading_corrected(value: str) -> Event:
    def make(shop: Shop) -> None:
        old = shop.facts(f.ReadingRecorded, "LP-1")[-1]
        recording.correct(
            shop.work, old.uid, replace(old.fact, value=num(f"{value} uW/cm2")), "L1-D", when=old.when, why=WHY
        )

    return make


def closed_and_taken_back(shop: Shop) -> None:
    """A good closing reading, and the correction that it was taken too near: L11 passes and does not any more."""
    shop.read_lamp("LP-1", "1690")
    old = shop.facts(f.ReadingRecorded, "LP-1")[-1]
    recording.correct(
        shop.after(60).work, old.uid, replace(old.fact, distance=num("12 in")), "L1-D", when=old.when, why=WHY
    )


def reason_before_the_warning(shop: Shop) -> None:
    """A reason for L08 while it passes; a late fact then makes it fail."""
    shop.record(f.ReasonGiven("MT-001", "L08", "looked at by eye", "L2-A"))
    EVENTS["integrity had failed"](shop.after(60))


EVENTS: dict[str, Event] = {
    "closed and taken back": closed_and_taken_back,
    "reason before the warning": reason_before_the_warning,
    "lamp good": reading("1690"),
    "lamp at the limit": reading("1000"),
    "lamp bad": reading("900"),
    "lamp bad, as left": reading("900", condition="as-left"),
    "lamp good at 12 in": reading("1690", distance=num("12 in")),
    "lamp bad, meter out": reading("900", meter="RM-2"),
    "late, bad, before the view": reading("900", when=b.at("07:50"), why=WHY),
    "late, good, before the view": reading("1700", when=b.at("07:50"), why=WHY),
    "late, bad, the day before": reading("900", when=b.at("16:00", "2026-03-09"), why=WHY),
    "other lamp bad": lambda shop: void(shop.read_lamp("LP-2", "900")),
    "last reading corrected to bad": reading_corrected("900"),
    "last reading corrected to good": reading_corrected("1650"),
    "meter found high": outside(
        calibration("RM-1", "UV-A channel", date(2026, 3, 11), date(2026, 9, 11), as_found_error_percent=num("80 %"))
    ),
    "meter found right": outside(
        calibration("RM-1", "UV-A channel", date(2026, 3, 11), date(2026, 9, 11), as_found_error_percent=num("1 %"))
    ),
    "meter was out": replaced(f.CalibrationRecorded, "RM-1", calibration("RM-1", "UV-A channel", due=date(2026, 3, 9))),
    "certificate renewed": outside(certificate("L2-A", "MT", 2, issued=date(2026, 3, 10), expires=date(2031, 3, 9))),
    "certificate had ended": replaced(
        f.CertificateEntered, "L2-A", certificate("L2-A", "MT", 2, expires=date(2026, 3, 9))
    ),
    "vision had ended": replaced(
        f.VisionExamEntered, "L2-A", f.VisionExamEntered("L2-A", date(2025, 1, 1), date(2026, 3, 9))
    ),
    "certificate of another": outside(certificate("L2-C", "MT", 2, expires=date(2029, 1, 1))),
    "lamp withdrawn now": outside(f.EquipmentStatusSet("LP-1", "withdrawn", "cracked filter")),
    "lamp had been withdrawn": outside(
        f.EquipmentStatusSet("LP-1", "withdrawn", "cracked filter"), when=b.at("07:00"), why=WHY
    ),
    "lamp was off": plain(f.EquipmentSwitched("LP-1", "off"), "07:00"),
    "lamp off now": plain(f.EquipmentSwitched("LP-1", "off")),
    "part moved": plain(f.PartMoved("W26-0148/T6-10501/CG-1", "stores")),
    "integrity had failed": check(f.ProcessCheckRecorded("lamp integrity", "LP-1", False), "07:40"),
    "integrity fails now": check(f.ProcessCheckRecorded("lamp integrity", "LP-1", False)),
    "integrity passes": check(f.ProcessCheckRecorded("lamp integrity", "LP-1", True)),
    "ring fails": check(f.ProcessCheckRecorded("tool-steel ring", "MT-01", False, holes=4, amps=num("2500 A"))),
    "indication seen": plain(
        f.IndicationSeen("IND-01", "MT-001", "WEB", "at 90 deg", "linear", num("0.2 in"), num("0.01 in"), "radial")
    ),
    "directive not answered": plain(f.DirectivesConfirmed("W26-0148", ("look at the gear",)), "07:50"),
    "directive answered": plain(f.DirectivesConfirmed("W26-0148", ("look at the gear",), ("look at the gear",))),
    "INSIDE residual": inside(f.ResidualRead, "MT-001", value=num("1.5 G")),
    "INSIDE residual over": inside(f.ResidualRead, "MT-001", value=num("3.5 G")),
    "INSIDE view": inside(f.ViewStarted, "MT-001/view", lamps=("LP-1", "LP-2")),
    "INSIDE tick on the part": inside(f.ConfirmationGiven, "W26-0148/T6-10501/CG-1", value="yes"),
}


def state(shop: Shop) -> State:
    row = shop.row("MT-001")
    return row.disposition, row.provisional, row.suspended


def stands(judgement: Judgement, person: str, day: date) -> bool:
    reasons = [r.fact for r in judgement.inquiry.facts.of(f.ReasonGiven, "MT-001")]
    return carries(judgement.answers, judgement.inquiry.procedure, reasons=reasons, decider=person, day=day)


def expected_after(
    before: State, inside_fact: bool, signed: f.DecisionSigned | None, now: Judgement, was_cleared: bool
) -> State:
    """Law 10: what becomes of an acceptance, from its snapshot and the answers as they are now."""
    if before[0] != "ACCEPT":
        return before
    if inside_fact:
        return "NO DECISION", False, False
    if before[2]:
        return before
    assert signed is not None
    answers = {a.rule: str(a.verdict) for a in now.answers}
    settled = {k.rule for k in signed.answers if k.verdict in ("PASS", "NOT APPLICABLE")}
    if not before[1] or was_cleared:
        settled.add("L11")  # passed when it was signed, or since
    left = [rule for rule in settled if answers[rule] not in ("PASS", "NOT APPLICABLE")]
    provisional = before[1] and not was_cleared and answers["L11"] == "NOT YET"
    if left or not stands(now, signed.person, date(2026, 3, 10)):
        return before[0], before[1] and not was_cleared, True
    return before[0], provisional, False


changed = st.sampled_from(
    [
        *EVENTS,
        "reason before the warning",
        "closed and taken back",
        "INSIDE residual",
        "INSIDE tick on the part",
        "lamp good",
    ]
)


def test_acceptance_follows_law_10(accepted_book: Path) -> None:
    """After each fact, and after each try to sign again, the record stands as law 10 says; every kind of change is met."""
    met: Counter[str] = Counter()

    @fixed(60)
    @given(events=st.lists(st.tuples(changed, st.booleans()), min_size=1, max_size=4))
    def follow(events: list[tuple[str, bool]]) -> None:
        with TemporaryDirectory() as folder:
            shop = open_copy(accepted_book, Path(folder) / "book")
            try:
                shop.at("08:30")
                for name, sign_after in events:
                    met[_one(shop.after(1200), name)] += 1
                    if sign_after:
                        met[_sign(shop.after(60))] += 1
            finally:
                shop.close()

    follow()
    assert (
        min(met[word] for word in ("suspended", "undone", "cleared", "nothing", "signed again", "not signed")) >= 3
    ), met


def _one(shop: Shop, name: str) -> str:
    """Let one fact come in; what became of the acceptance, checked against law 10."""
    before, head = state(shop), shop.head()
    signed = shop.facts(f.DecisionSigned, "MT-001")[-1].fact if before[0] == "ACCEPT" else None
    try:
        EVENTS[name](shop)
    except (NotPermitted, InputError):
        assert state(shop) == before
        return "refused"
    # only the closing reading itself, good when it came in, clears in the middle of an event
    was_cleared = name == "closed and taken back" and any(
        isinstance(fact, f.ProvisionalCleared) for fact in shop.since(head)
    )
    expected = expected_after(before, name.startswith("INSIDE"), signed, shop.judge("MT-001"), was_cleared)
    assert state(shop) == expected, name
    if expected == before:
        return "nothing"
    return "undone" if expected[0] != before[0] else "suspended" if expected[2] else "cleared"


def _sign(shop: Shop) -> str:
    """Try to accept (again); it is done exactly when law 2 allows it and no acceptance stands already."""
    before = state(shop)
    may = stands(shop.judge("MT-001", decider="L2-A", disposition="ACCEPT"), "L2-A", shop.clock.at.date())
    may = may and (before[0] == "NO DECISION" or before[2])
    try:
        shop.sign("MT-001")
    except NotPermitted:
        assert not may
        assert state(shop) == before
        return "not signed"
    assert may
    assert state(shop)[0] == "ACCEPT" and not state(shop)[2]
    return "signed again"
