"""The auditor: tags, photographs, packs, samples, the chain, retention, what the book does not know (F25, F28 to F32, F40)."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import date

from ndi.calc.bookkeeping import audit_draw
from ndi.domain import facts as f
from ndi.domain.answer import Verdict
from ndi.domain.codec import body_of
from ndi.domain.errors import InputError
from ndi.domain.vocabulary import Disposition
from ndi.services.asked.question import AskedRow, Parameter, Reader, question
from ndi.services.asked.words import NOT_RECORDED, kind_text, local, shown, state_of, when
from ndi.services.ports import InspectionRow, Line

_TAG_SEEN = ("read", "seen by person")
_REJECTED = (Disposition.REJECT, Disposition.SCRAP)


@question(
    "F25",
    "Which reject tags are there, and what proves the scrapping?",
    "Tags with a disposition REJECT or SCRAP that are not void, with the entry of the scrap register for the part.",
    ("Tag", "Record", "Part", "Pieces", "Printed", "Scanned back", "Scrapped", "Witness"),
)
def f25(q: Reader) -> Iterator[AskedRow]:
    void = {line.subject for line in q.session.named(f.TagVoided)}
    back = {line.subject for line in q.session.named(f.TagScannedBack)}
    scrapped: dict[str, list[Line]] = defaultdict(list)
    for line in q.lines(f.PartScrapped):
        scrapped[line.body["part"]].append(line)
    printed = q.session.fields(f.TagPrinted, ("tag", "inspection", "part", "quantity", "disposition", "piece"))
    rejected = [tag for tag in printed if tag.values[4] in _REJECTED and tag.values[0] not in void]
    q.gather_parts(tag.values[2] or "" for tag in rejected)
    for tag in rejected:
        name, inspection, part, quantity, _, piece = tag.values
        proof = [s for s in scrapped[part or ""] if piece in (None, s.body.get("piece"))]
        cells = (
            name or "",
            inspection or "",
            q.item(part or ""),
            quantity or "",
            when(tag),
            "yes" if name in back else "no",
            ", ".join(when(each) for each in proof) or NOT_RECORDED,
            ", ".join(shown(each.body.get("witness")) for each in proof),
        )
        yield AskedRow(cells, (tag.position, *(each.position for each in proof)), inspection or "")


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
        faults = [] if body.get("tag_in_frame") in _TAG_SEEN else ["no tag in frame"]
        if len(used[body["sha256"]]) > 1:
            faults.append("used more than once")
        if abs(body.get("camera_ahead_s") or 0) > most:
            faults.append(f"camera {body['camera_ahead_s']} s ahead")
        if faults:
            cells = (body["inspection"], body.get("indication", ""), shown(body["taken_at"]), body["sha256"][:16])
            yield AskedRow((*cells, ", ".join(faults), line.by), (line.position,), body["inspection"])


_PACK = ("Record", "Kind", "Time", "What", "By")


@question(
    "F29",
    "What is the whole evidence for one part?",
    "Every fact of the part and its records, every answer as it was kept with the decision, photographs by hash, and "
    "the papers of the deciders that held on the day; ndi report evidence prints it.",
    _PACK,
    Parameter("part", "its key, serial number or lot"),
)
def f29(q: Reader) -> Iterator[AskedRow]:
    part = q.part_named(q.text("part"))
    for line in q.session.lines_about(part.part):
        yield _fact_row("", line)
    for row in q.session.inspections(part=part.part):
        yield from _pack(q, row)


def _pack(q: Reader, row: InspectionRow) -> Iterator[AskedRow]:
    for line in q.session.lines_about(row.inspection):
        yield _fact_row(row.inspection, line)
        if line.kind == f.DecisionSigned.__name__:
            yield from _kept(row.inspection, line)
            yield from _papers(q, row.inspection, line.body["person"], line)


def _fact_row(record: str, line: Line) -> AskedRow:
    body = {name: value for name, value in line.body.items() if name != "answers"}
    cells = (record, kind_text(line.kind), when(line), shown(body), line.by)
    return AskedRow(cells, (line.position,), record)


def _kept(record: str, line: Line) -> Iterator[AskedRow]:
    for answer in line.body["answers"]:
        words = (
            f"{answer['rule']} version {answer['version']}: {answer['verdict']} ({answer['severity']}); "
            f"found {answer['found']}; limit {answer['limit']}"
        )
        cells = (record, "answer", when(line), words, "ndi")
        yield AskedRow(cells, (line.position, *answer["facts"]), record)


def _papers(q: Reader, record: str, person: str, line: Line) -> Iterator[AskedRow]:
    """What the decider held on that day."""
    day = local(line).date()
    for paper in q.session.facts(person, [f.CertificateEntered, f.VisionExamEntered]):
        fact = paper.fact
        if isinstance(fact, (f.CertificateEntered, f.VisionExamEntered)) and fact.expires >= day:
            cells = (record, "paper", when(line), shown(body_of(fact)), paper.by)
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
    decided = q.session.decided()
    if not decided:
        return
    drawn = audit_draw(decided, q.text("seed"), min(q.whole("size", 1), len(decided)))
    q.gather(drawn)
    for nth, name in enumerate(drawn, 1):
        row = q.record(name)
        assert row is not None and row.decision is not None
        about = q.session.lines_about(name)
        photos = sum(1 for line in about if line.kind == f.PhotoAttached.__name__)
        said = q.session.verdicts(row.decision)
        open_ = [rule for rule, verdict in said if verdict not in (Verdict.PASS, Verdict.NOT_APPLICABLE)]
        cells = (str(nth), name, f"{row.part_no} {q.item(row.part)}", q.at(row.decided_at, row.decision))
        more = (state_of(row), str(len(about)), str(photos), ", ".join(open_) or "none")
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
    records_of = q.session.records_of_orders()
    for order in q.lines(f.WorkOrderOpened):
        name, note = order.body["work_order"], released.get(order.body["work_order"])
        records = records_of.get(name, 0)
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
    missing = [each for each in q.session.kept(Verdict.NOT_RECORDED, since) if each.positions]
    for each in sorted(missing, key=lambda each: (-len(each.positions), each.rule)):
        yield AskedRow((each.rule, str(len(each.positions)), str(each.asked)), each.positions, each.rule)
