"""The auditor: tags, photographs, packs, samples, the chain, retention, what the book does not know (F25, F28 to F32, F40)."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import date

from ndi.calc.bookkeeping import audit_draw
from ndi.domain import facts as f
from ndi.domain.answer import Verdict
from ndi.domain.codec import body_of
from ndi.domain.entry import Recorded
from ndi.domain.errors import InputError
from ndi.services.asked.question import (
    NOT_RECORDED,
    AskedRow,
    Parameter,
    Reader,
    at,
    question,
    shown,
    state_of,
    when,
)
from ndi.services.ports import InspectionRow, Line


@question(
    "F25",
    "Which reject tags are there, and what proves the scrapping?",
    "Tags with a disposition REJECT or SCRAP that are not void, with the entry of the scrap register for the part.",
    ("Tag", "Record", "Part", "Pieces", "Printed", "Scanned back", "Scrapped", "Witness"),
)
def f25(q: Reader) -> Iterator[AskedRow]:
    void = {line.body["tag"] for line in q.lines(f.TagVoided)}
    back = {line.body["tag"] for line in q.lines(f.TagScannedBack)}
    scrapped: dict[str, list[Line]] = defaultdict(list)
    for line in q.lines(f.PartScrapped):
        scrapped[line.body["part"]].append(line)
    for tag in q.lines(f.TagPrinted):
        body = tag.body
        if body["disposition"] not in ("REJECT", "SCRAP") or body["tag"] in void:
            continue
        proof = [s for s in scrapped[body["part"]] if body.get("piece") in (None, s.body.get("piece"))]
        cells = (
            body["tag"],
            body["inspection"],
            q.item(body["part"]),
            str(body["quantity"]),
            when(tag),
            "yes" if body["tag"] in back else "no",
            ", ".join(when(each) for each in proof) or NOT_RECORDED,
            ", ".join(shown(each.body.get("witness")) for each in proof),
        )
        yield AskedRow(cells, (tag.position, *(each.position for each in proof)), body["inspection"])


@question(
    "F28",
    "Which photographs lack the tag, were used twice, or do not fit the clock?",
    "Photographs without a tag read in the frame; whose hash stands with another record or indication too; whose "
    "camera clock was ahead or behind by more than the minutes asked for.",
    ("Record", "Indication", "Taken", "Hash", "What", "By"),
    Parameter("minutes", "how far the camera's clock may be off", "5"),
)
def f28(q: Reader) -> Iterator[AskedRow]:
    photos = q.lines(f.PhotoAttached)
    used: dict[str, set[tuple[str, str]]] = defaultdict(set)
    for line in photos:
        used[line.body["sha256"]].add((line.body["inspection"], line.body.get("indication", "")))
    most = 60 * q.whole("minutes")
    for line in photos:
        body = line.body
        faults = [] if body.get("tag_in_frame") else ["no tag in frame"]
        if len(used[body["sha256"]]) > 1:
            faults.append("used more than once")
        if abs(body.get("camera_ahead_s") or 0) > most:
            faults.append(f"camera {body['camera_ahead_s']} s ahead")
        if faults:
            cells = (body["inspection"], body.get("indication", ""), shown(body["taken_at"]), body["sha256"][:16])
            yield AskedRow((*cells, ", ".join(faults), line.by), (line.position,), body["inspection"])


_PACK = ("Record", "Kind", "Time", "What", "By", "Entry")


@question(
    "F29",
    "What is the whole evidence for one part?",
    "Every fact of the part and its records, every answer as it was kept with the decision, photographs by hash, and "
    "the papers of the deciders that held on the day; ndi tag and ndi verify print the paper.",
    _PACK,
    Parameter("part", "its key, serial number or lot"),
)
def f29(q: Reader) -> Iterator[AskedRow]:
    part = q.part_named(q.text("part"))
    for recorded in q.session.facts(part.part):
        yield _fact_row("", recorded)
    for row in q.session.inspections(part=part.part):
        yield from _pack(q, row)


def _pack(q: Reader, row: InspectionRow) -> Iterator[AskedRow]:
    for recorded in q.session.facts(row.inspection):
        yield _fact_row(row.inspection, recorded)
        if isinstance(recorded.fact, f.DecisionSigned):
            yield from _kept(row.inspection, recorded.fact, recorded)
            yield from _papers(q, row.inspection, recorded.fact.person, recorded)


def _fact_row(record: str, recorded: Recorded[f.Fact]) -> AskedRow:
    body = {name: value for name, value in body_of(recorded.fact).items() if name != "answers"}
    cells = (record, type(recorded.fact).__name__, str(recorded.when), shown(body), recorded.by)
    return AskedRow((*cells, str(recorded.position)), (recorded.position,), record)


def _kept(record: str, fact: f.DecisionSigned, recorded: Recorded[f.Fact]) -> Iterator[AskedRow]:
    for answer in fact.answers:
        words = f"{answer.rule} version {answer.version}: {answer.verdict} ({answer.severity}); found {answer.found}; limit {answer.limit}"
        cells = (record, "answer", str(recorded.when), words, "ndi", str(recorded.position))
        yield AskedRow(cells, (recorded.position, *answer.facts), record)


def _papers(q: Reader, record: str, person: str, recorded: Recorded[f.Fact]) -> Iterator[AskedRow]:
    day = recorded.when.local.date()
    for paper in q.session.facts(person, [f.CertificateEntered, f.VisionExamEntered]):
        fact = paper.fact
        if isinstance(fact, (f.CertificateEntered, f.VisionExamEntered)) and fact.expires >= day:
            cells = (record, "paper", str(recorded.when), shown(body_of(fact)), paper.by, str(paper.position))
            yield AskedRow(cells, (paper.position,), record)


@question(
    "F30",
    "What is the evidence for a random sample of records?",
    "As many decided records as asked for, drawn by the seed (SHA-256 of seed and number, in order): anybody who types "
    "the same seed on the same records draws the same.",
    ("Drawn", "Record", "Part", "Decided", "State", "Facts", "Photographs", "Open answers"),
    Parameter("seed", "any text"),
    Parameter("size", "how many records", "10"),
)
def f30(q: Reader) -> Iterator[AskedRow]:
    decided = [name for name, row in q.records.items() if row.decision is not None]
    if not decided:
        return
    for nth, name in enumerate(audit_draw(decided, q.text("seed"), min(q.whole("size", 1), len(decided))), 1):
        row = q.records[name]
        assert row.decision is not None
        facts = q.session.facts(name)
        photos = sum(1 for recorded in facts if isinstance(recorded.fact, f.PhotoAttached))
        decision = q.session.entry(row.decision).fact
        assert isinstance(decision, f.DecisionSigned)
        open_ = [a.rule for a in decision.answers if a.verdict not in (Verdict.PASS, Verdict.NOT_APPLICABLE)]
        cells = (str(nth), name, f"{row.part_no} {q.item(row.part)}", at(row.decided_at, q.now.offset_min))
        more = (state_of(row), str(len(facts)), str(photos), ", ".join(open_) or "none")
        yield AskedRow((*cells, *more), (row.decision,), name)


@question(
    "F31",
    "Was any record altered outside the program?",
    "Every entry's hash, its link to the one before and its station's signature, walked from the first; the first that "
    "does not hold. A cut at the end shows only against a printed head (ndi verify --against).",
    ("Chain", "What was found"),
)
def f31(q: Reader) -> Iterator[AskedRow]:
    if q.work.check_chain is None:
        raise InputError("this station was opened without a way to walk the chain: run ndi verify")
    found = q.work.check_chain()
    if found.broken is not None:
        yield AskedRow(("broken", found.says), (found.broken,))
    else:
        yield AskedRow(("holds", "every entry follows from the one before and is signed by a station of this book"))


@question(
    "F32",
    "What may go to the archive, and what must stay?",
    "Each work order with the date of its release to service, from which the years of retention noted with it run; without one it "
    "stays. Nothing is ever deleted.",
    ("Work order", "Engine", "Records", "Released", "Kept until", "May be archived"),
)
def f32(q: Reader) -> Iterator[AskedRow]:
    released = {line.body["work_order"]: line for line in q.lines(f.ReleaseNoted)}
    for order in q.lines(f.WorkOrderOpened):
        name, note = order.body["work_order"], released.get(order.body["work_order"])
        records = len(q.session.inspections(work_order=name))
        day = date.fromisoformat(note.body["released"]) if note else None
        until = _years_after(day, note.body["keep_years"]) if note and day else None
        cells = (
            name,
            f"{order.body['engine_model']} {order.body['engine_serial']}",
            str(records),
            str(day) if day else NOT_RECORDED,
            str(until) if until else "open: it stays",
            "yes" if until and q.today > until else "no",
        )
        yield AskedRow(cells, (order.position, *([note.position] if note else [])), name)


def _years_after(day: date, years: int) -> date:
    try:
        return day.replace(year=day.year + years)
    except ValueError:  # 29 February
        return day.replace(year=day.year + years, month=3, day=1)


@question(
    "F40",
    "What does the book itself not know?",
    "Answers NOT RECORDED in the snapshots of decisions signed in the days asked for, by rule: where the process leaks "
    "information.",
    ("Rule", "Not recorded", "Of decisions"),
    Parameter("days", "days back from now", "90"),
)
def f40(q: Reader) -> Iterator[AskedRow]:
    since = q.start_of(date.fromordinal(q.today.toordinal() - q.whole("days")))
    missing: dict[str, list[int]] = defaultdict(list)
    asked: dict[str, int] = defaultdict(int)
    for line in q.session.lines(f.DecisionSigned, since):
        for answer in line.body.get("answers", []):
            asked[answer["rule"]] += 1
            if answer["verdict"] == Verdict.NOT_RECORDED:
                missing[answer["rule"]].append(line.position)
    for rule, positions in sorted(missing.items(), key=lambda item: (-len(item[1]), item[0])):
        yield AskedRow((rule, str(len(positions)), str(asked[rule])), tuple(positions), rule)
