"""What is decided of the part, by whom, and what became of it: acceptance, hold, scrap, tag, lock, verification (D12 to D16, D18, D20)."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

from ndi.domain import facts as f
from ndi.domain import ticks
from ndi.domain.entry import Recorded
from ndi.domain.outcome import Outcome, failed, not_applicable, not_recorded, not_yet, passed, worst
from ndi.domain.vocabulary import LEVEL_THREE, Disposition, is_crack_type
from ndi.rules.indications import NO_LIMIT, WITHIN, dispositions, each_indication, evaluation
from ndi.rules.inquiry import Indication, Inquiry
from ndi.rules.record import about_to_sign, signed
from ndi.rules.registry import rule

SUSPENDED = "SUSPENDED"  # word of the tag that a suspended record gets
WORKED_BY: tuple[type[f.ViewStarted], type[f.SecondLookSaved], type[f.DecisionSigned], type[f.ReworkDone]] = (
    f.ViewStarted,
    f.SecondLookSaved,
    f.DecisionSigned,
    f.ReworkDone,
)


@rule(
    "D12",
    "Accept: is every indication closed, none of them over its limit?",
    "linear_ratio",
    "group_count",
    "group_gap",
    "group_straightness",
    version=2,
)
def d12_nothing_open(q: Inquiry) -> Outcome:
    words = dispositions(q)
    if words and not words & {Disposition.ACCEPT, "SPLIT"}:
        return not_applicable("the record is not accepted")
    taken_out = {child.piece for child in q.children if child.disposition != Disposition.ACCEPT}

    def ask(indication: Indication) -> Outcome:
        if indication.interpreted is None:
            return not_recorded(f"{indication.id} is open", "interpret it", used=[indication.seen])
        if not indication.relevant or (indication.seen.fact.piece and indication.seen.fact.piece in taken_out):
            return passed(f"{indication.id} closed", used=[indication.seen, indication.interpreted])
        word, limit, _ = evaluation(q, indication)
        sized = [indication.seen, *indication.measured]
        if word == WITHIN:
            return passed(f"{indication.id} {word}", limit, [*sized, indication.evaluated])
        if q.concession and not is_crack_type(indication.interpreted.fact.type):
            return passed(
                f"{indication.id} {word}, conceded: {q.concession}", limit, [indication.seen, indication.evaluated]
            )
        if word == NO_LIMIT:
            return not_recorded(
                f"{indication.id}: no limit in the data", "hold for engineering", used=[indication.seen]
            )
        return failed(
            f"{indication.id} is over its limit: {limit}",
            "rework",
            "reject",
            "hold for engineering",
            found=word,
            limit=limit,
            used=sized,
        )

    if not q.indications:
        return passed("no indication recorded")
    return each_indication(q, ask)


@rule("D13", "Is the decider the last viewer or a Level III, and not the one who reworked it?")
def d13_decider(q: Inquiry) -> Outcome:
    decider = q.decider
    if decider is None:
        return not_yet("nobody has signed yet", "the viewer signs")
    reworkers = [r for r in q.facts.of(f.ReworkDone, q.part) if r.fact.person == decider]
    if reworkers:
        return failed(f"{decider} reworked this part", "another inspector decides", used=reworkers)
    views = q.need_views()
    if views[-1].person == decider:
        return passed(f"{decider} viewed it last", used=views[-1].used)
    held = q.certificate(decider, (q.decided or q.asked).local.date())
    if held is not None and held.fact.level >= LEVEL_THREE:
        return passed(f"{decider} is Level III", used=[held])
    return failed(
        f"{decider} did not view it last ({views[-1].person} did)",
        "the last viewer or a Level III decides",
        used=views[-1].used,
    )


@rule("D14", "Release from engineering hold: is there an engineering reference with revision and person?", version=2)
def d14_hold_release(q: Inquiry) -> Outcome:
    signed = q.facts.of(f.DecisionSigned, q.inspection)
    held = [r for r in signed if is_held(r.fact.disposition, r.fact.children)]
    if not held or not _is_released(q, held[-1].fact, signed[-1].fact):
        return not_applicable("the record is not released from an engineering hold")
    given = [r for r in q.facts.of(f.ConcessionGiven, q.inspection) if r.position > held[-1].position]
    if not given:
        return not_recorded(
            "no engineering reference since the hold", "get number, revision and person", used=held[-1:]
        )
    return passed(q.concession or given[-1].fact.reference, used=[held[-1], given[-1]])


def is_held(disposition: str, children: Sequence[f.Child]) -> bool:
    """Whether a signature leaves the record, or a share of the lot, to engineering."""
    return Disposition.HOLD_ENG in (disposition, *(child.disposition for child in children))


def _is_released(q: Inquiry, held: f.DecisionSigned, last: f.DecisionSigned) -> bool:
    """Whether what is being signed (or was signed last) leaves fewer pieces to engineering than the hold did."""
    word, children = (q.disposition, q.children) if q.disposition else (last.disposition, last.children)
    if word == Disposition.HOLD_ENG:
        return False
    return not is_held(word, children) or _held_pieces(children) < _held_pieces(held.children)


def _held_pieces(children: Sequence[f.Child]) -> int:
    return sum(child.quantity for child in children if child.disposition == Disposition.HOLD_ENG)


# --- scrap ----------------------------------------------------------------------------------------


@rule("D15", "Scrap: was the piece made unusable before a witness, with a photograph, and never opened again?")
def d15_scrap(q: Inquiry) -> Outcome:
    listed = q.facts.last(f.PartListed, q.part)
    serial = listed.fact.serial if listed else None
    register = q.facts.of(f.PartScrapped, q.master.number)
    own = [r for r in register if r.fact.part == q.part]
    opened_again = scrapped_before(register, q.part, serial, q.opened)
    if opened_again is not None:
        return opened_again
    if not own:
        return not_applicable("the part is not scrapped")
    return worst(scrap_outcome(r, q.lost_photographs) for r in own)


def scrapped_before(
    register: Sequence[Recorded[f.PartScrapped]], part: str, serial: str | None, opened: Recorded[f.Fact] | None = None
) -> Outcome | None:
    """FAIL for a part or serial number of this part number that stood in the scrap register before it was opened."""
    for scrapped in register:
        same_serial = serial is not None and scrapped.fact.serial == serial
        same_part = scrapped.fact.part == part and scrapped.fact.piece is None
        if (same_serial or same_part) and (opened is None or scrapped.at <= opened.at):
            name = scrapped.fact.serial or scrapped.fact.part
            return failed(
                f"{name} was scrapped on {scrapped.when.local.date()} before {scrapped.fact.witness or 'nobody'}",
                "quarantine the piece, tell quality: its number stands in the scrap register",
                found=f"scrapped {scrapped.when.local.date()}",
                limit="never opened again",
                used=[scrapped, opened],
            )
    return None


def scrap_outcome(scrapped: Recorded[f.PartScrapped], lost: Collection[str] = ()) -> Outcome:
    """Whether one entry of the scrap register has everything that makes it final."""
    fact, used = scrapped.fact, [scrapped]
    name = fact.piece or fact.serial or fact.part
    if fact.defaced is False:
        return failed(f"{name}: not made unusable", "strike out the number, cut or crush the piece", used=used)
    if fact.witness is not None and fact.witness == fact.person:
        return failed(f"{name}: {fact.person} cannot witness their own work", "call a second person", used=used)
    blank = {"defacing": fact.defaced, "photograph": fact.photo, "witness": fact.witness}
    missing = [what for what, value in blank.items() if value is None]
    if fact.photo in lost:
        missing.append("file of the photograph")
    if missing:
        return not_recorded(
            f"{name}: {', '.join(missing)} not recorded", "make it unusable before a witness, photograph it", used=used
        )
    return passed(f"{name} scrapped {scrapped.when.local.date()}, witness {fact.witness}", used=used)


# --- the tag --------------------------------------------------------------------------------------


@rule("D16", "Was a tag printed from the decision in force and scanned back on the part?", scope="tag")
def d16_tag_scanned_back(q: Inquiry) -> Outcome:
    decision = signed(q)
    if decision is None:
        return not_yet("nothing is signed yet that a tag could show", "sign a disposition")
    voided = {r.fact.tag for r in q.facts.of(f.TagVoided, q.inspection)}
    latest = {r.fact.tag: r for r in q.facts.of(f.TagPrinted, q.inspection) if r.fact.tag not in voided}
    if latest and all(r.fact.practice for r in latest.values()):
        return not_applicable("practice tags are wired to no part", latest.values())
    scans = {r.fact.tag: r for r in q.facts.of(f.TagScannedBack, q.inspection)}
    current = [r for r in latest.values() if r.fact.decision == decision.position]
    earlier = [tag for tag, r in latest.items() if r.fact.decision != decision.position and tag in scans]
    if earlier and not any(r.fact.tag in scans for r in current):
        return failed(
            f"on the part hangs tag {', '.join(earlier)}, which shows an earlier decision",
            "take it off, scan it in, print a new one",
            found=f"decision of {latest[earlier[-1]].when}",
            limit=f"decision of {decision.when}",
            used=[*(scans[tag] for tag in earlier), decision],
        )
    untagged = [child for child in decision.fact.children if not has_tag(child, current)]
    if untagged:
        shares = ", ".join(f"{child.quantity} {child.disposition}" for child in untagged)
        return not_recorded(f"no tag printed for {shares}", "print the tag, wire it on, scan it", used=[decision])
    if not current:
        return not_applicable(f"a part with {decision.fact.disposition} gets no tag", [decision])
    return worst(scan_outcome(r, scans.get(r.fact.tag)) for r in current)


def has_tag(child: f.Child, current: Iterable[Recorded[f.TagPrinted]]) -> bool:
    """Whether one of the printed tags is of a share; a scrapped or undecided share gets none."""
    if child.disposition in (Disposition.SCRAP, Disposition.NO_DECISION):
        return True
    return any(r.fact.piece == child.piece and r.fact.disposition in (child.disposition, SUSPENDED) for r in current)


def scan_outcome(printed: Recorded[f.TagPrinted], scan: Recorded[f.TagScannedBack] | None) -> Outcome:
    """Whether the latest print of a tag was scanned on the part."""
    if scan is None or scan.position < printed.position:
        return not_recorded(
            f"tag {printed.fact.tag} printed {printed.when.clock()}, not scanned on the part since",
            "wire it on, scan it there",
            used=[printed, scan],
        )
    return passed(f"tag {printed.fact.tag} scanned {scan.when.clock()} by {scan.fact.person}", used=[printed, scan])


# --- the lock -------------------------------------------------------------------------------------


@rule(
    "D18",
    "Signed records: has each later change its reason, the signature taken back, and was it told where a tag was out?",
)
def d18_locked_after_signature(q: Inquiry) -> Outcome:
    changes = changes_after_signature(q)
    if not changes:  # said alike before and after a signature, so that signing alone changes no answer
        return not_applicable("nothing of this record was changed after a signature")
    outcome = worst(change_outcome(q, change) for change in changes)
    if outcome.verdict == "PASS" and not about_to_sign(q) and signed(q) is None:
        last = max(changes, key=lambda r: r.position)
        return not_yet(f"changed at {last.when.clock()}, not signed again yet", "sign it again", used=[last])
    return outcome


def changes_after_signature(q: Inquiry) -> list[Recorded[f.Fact]]:
    """Facts of this record that came into the place of others after it was first signed."""
    decisions = q.facts.of(f.DecisionSigned, q.inspection)
    if not decisions:
        return []
    begun = min(r.position for r in decisions)
    return [r for r in q.facts.corrections if r.position > begun and is_of_record(q, r.fact)]


def is_of_record(q: Inquiry, fact: f.Fact) -> bool:
    """Whether a fact is one of this record: it names it, its basket or an indication on it."""
    if getattr(fact, "inspection", None) == q.inspection:
        return True
    about = getattr(fact, "on", None) or getattr(fact, "about", None)
    if about is not None and about in (q.inspection, *(load.fact.basket for load in q.basket_loads)):
        return True
    return getattr(fact, "indication", None) in {indication.id for indication in q.indications}


def change_outcome(q: Inquiry, change: Recorded[f.Fact]) -> Outcome:
    """One change of a signed record: reason, signature taken back, tag void, somebody told."""
    standing = [r for r in q.facts.of(f.DecisionSigned, q.inspection) if r.position < change.position][-1:]
    undone = [r for r in q.facts.of(f.DecisionUndone, q.inspection) if r.position > standing[-1].position]
    used = [*standing, change, *undone[:1]]
    what = f"{type(change.fact).__name__} of {change.when.clock()}"
    if not any(r.position < change.position or r.fact.cause == change.position for r in undone):
        return failed(
            f"{what} was changed while the signature of {standing[-1].when.clock()} stands",
            "take the signature back, sign again",
            found="signature stands",
            limit="signature taken back by the change",
            used=used,
        )
    if not (change.why or "").strip():
        return not_recorded(f"{what} was changed without a reason", "give the reason", used=used)
    tags = [
        r
        for r in q.facts.of(f.TagPrinted, q.inspection)
        if r.fact.decision == standing[-1].position and r.position < change.position and not r.fact.practice
    ]
    if not tags:
        return passed(f"{what}: {change.why}", used=used)
    voided = {r.fact.tag for r in q.facts.of(f.TagVoided, q.inspection)}
    alive = sorted({r.fact.tag for r in tags} - voided)
    if alive:
        return not_recorded(f"{what} was changed, tag {', '.join(alive)} is not void", "void it, scan it in", used=used)
    told = [
        r
        for r in q.facts.of(f.ConfirmationGiven, q.inspection)
        if r.fact.item == ticks.CHANGE_TOLD.item and r.position > change.position
    ]
    if not told:
        return not_recorded(
            f"{what} was changed after tag {tags[-1].fact.tag} was out: nobody said whom they told",
            "tell the Level III or quality, tick it",
            used=[*used, *tags],
        )
    if told[-1].fact.value != "yes":
        return failed(
            f"ticked {told[-1].fact.value}: {ticks.CHANGE_TOLD.item}", "tell the Level III or quality", used=told[-1:]
        )
    return passed(f"{what}: {change.why}; told {told[-1].when.clock()}", used=[*used, told[-1]])


# --- verification ---------------------------------------------------------------------------------


@rule("D20", "Did the person who verifies work on none of the records in scope?", scope="verification")
def d20_verifier_worked_on_none(q: Inquiry) -> Outcome:
    verified = q.facts.of(f.VerificationSigned, q.inspection) if q.inspection else []
    verifier = q.verifier or (verified[-1].fact.person if verified else None)
    if verifier is None:
        return not_yet("nobody has verified it yet", "a supervisor who did not work on it verifies")
    worked = [r for kind in WORKED_BY for r in q.facts.of(kind) if q.inspection in ("", r.fact.inspection)]
    if q.inspection and not worked:
        return not_recorded("not recorded who viewed or decided it", "record the view", used=verified)
    own = [r for r in worked if r.fact.person == verifier]
    if own:
        names = sorted({r.fact.inspection for r in own})
        return failed(
            f"{verifier} worked on {', '.join(names)}", "another supervisor verifies these", found=verifier, used=own
        )
    return passed(f"{verifier} worked on none of them", "verifier worked on none of them", [*worked, *verified])
