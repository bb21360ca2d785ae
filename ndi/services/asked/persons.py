"""People: late entries, deviations, corrections, papers that end, second looks, calls (F14 to F18, F20, F21, F24, F27)."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from datetime import date, timedelta

from ndi.domain import facts as f
from ndi.domain.codec import utc_from_text
from ndi.domain.entry import Obtained
from ndi.domain.quantity import shown as shown_number
from ndi.domain.vocabulary import Interpretation
from ndi.services.asked.question import PERIOD, YEARS, AskedRow, Parameter, Reader, question
from ndi.services.asked.words import kind_text, local, number_of, shown, when, written
from ndi.services.checks_due import checks_due
from ndi.services.ports import Fields, Line


@question(
    "F14",
    "Which facts were typed late, by person and hour?",
    "Entries in force that were typed more than two minutes after they happened, in the period, by person and local "
    "hour at which they happened, with the share of that person's late entries.",
    ("Person", "Hour", "Late entries", "Share %"),
    *PERIOD,
)
def f14(q: Reader) -> Iterator[AskedRow]:
    since, until = q.period()
    found: dict[tuple[str, int], list[int]] = defaultdict(list)
    of_person: Counter[str] = Counter()
    for line in q.session.lines_obtained(Obtained.TYPED_LATE):
        if since <= utc_from_text(line.at) < until:
            found[line.by, local(line).hour].append(line.position)
            of_person[line.by] += 1
    for (person, hour), positions in sorted(found.items()):
        share = f"{100 * len(positions) / of_person[person]:.0f}"
        yield AskedRow((person, f"{hour:02d}", str(len(positions)), share), tuple(positions), person)


@question(
    "F15",
    "Which deviations are in force?",
    "Deviations signed whose last valid day is not before the day asked for.",
    ("Record", "Rule", "Signed by", "Role", "Until", "Justification"),
    Parameter("day", "local day, YYYY-MM-DD", "today"),
)
def f15(q: Reader) -> Iterator[AskedRow]:
    for line in q.lines(f.DeviationSigned):
        body = line.body
        if date.fromisoformat(body["expires"]) >= q.day("day"):
            cells = (body["inspection"], body["rule"], body["person"], body["role"], body["expires"])
            yield AskedRow((*cells, body["justification"]), (line.position,), body["inspection"])


@question(
    "F16",
    "What was corrected after a signature, before and after?",
    "Corrections and withdrawals of entries about a record that were written after a decision on that record; the "
    "fields that changed.",
    ("Record", "Entry", "What", "Before", "After", "By", "Written", "Reason"),
)
def f16(q: Reader) -> Iterator[AskedRow]:
    corrections = q.session.corrections()
    if not corrections:
        return
    signed: dict[str, int] = {}
    for line in q.session.named(f.DecisionSigned):
        signed[line.subject] = min(line.position, signed.get(line.subject, line.position))
    for old, new in corrections:
        for record in _about(old):
            if record in signed and signed[record] < new.position:
                before, after = _changed(old, new)
                cells = (
                    record,
                    str(old.position),
                    kind_text(old.kind),
                    before,
                    after,
                    new.by,
                    written(new),
                    new.why or "",
                )
                yield AskedRow(cells, (old.position, new.position), record)


def _about(line: Line) -> tuple[str, ...]:
    found = line.body.get("inspection") or line.body.get("about")
    names = found if isinstance(found, list) else [found] if found else []
    return (*names, *line.body.get("inspections", []))


def _changed(old: Line, new: Line) -> tuple[str, str]:
    if new.kind != old.kind:
        return shown(old.body), "taken away"
    names = [n for n in dict.fromkeys([*old.body, *new.body]) if old.body.get(n) != new.body.get(n)]
    before = [f"{name} {shown(old.body.get(name))}" for name in names]
    after = [f"{name} {shown(new.body.get(name))}" for name in names]
    if old.at != new.at:
        before, after = [*before, f"time {when(old)}"], [*after, f"time {when(new)}"]
    return "; ".join(before), "; ".join(after)


@question(
    "F17",
    "Whose certificates, vision examinations and authorisations end soon, and what does that block?",
    "The latest of each kind for each person who was not removed, whose last valid day lies within the days asked for "
    "or has passed; a certificate below a higher one of the same method that lasts as long is left out.",
    ("Person", "What", "Valid to", "Days left", "Blocks"),
    Parameter("days", "days from today", "60"),
)
def f17(q: Reader) -> Iterator[AskedRow]:
    gone = {line.body["person"] for line in q.lines(f.PersonRemoved)}
    latest: dict[tuple[str, str], tuple[date, str, int]] = {}
    for (person, what), (ends, method, position) in _certificates(q).items():
        latest[person, what] = ends, f"decisions and work by {method}", position
    for line in q.lines(f.VisionExamEntered):  # the last one counts, whatever an earlier one said
        ends = date.fromisoformat(line.body["expires"])
        latest[line.body["person"], "vision"] = ends, "viewing and deciding", line.position
    for line in q.lines(f.AuthorisationEntered):
        name, ends_text = f"authorisation {line.body['technique']}", line.body.get("valid_to") or date.max.isoformat()
        _later(latest, (line.body["person"], name), ends_text, line.body["technique"], line)
    for (person, what), (ends, blocks, position) in sorted(latest.items(), key=lambda item: (item[1][0], item[0])):
        left = (ends - q.today).days
        if person not in gone and left <= q.whole("days"):
            yield AskedRow((person, what, str(ends), str(left), blocks), (position,), person)


def _certificates(q: Reader) -> dict[tuple[str, str], tuple[date, str, int]]:
    """The latest of each method and level; one below another that lasts as long or longer blocks nothing."""
    latest: dict[tuple[str, str], tuple[date, str, int]] = {}
    levels: dict[tuple[str, str], int] = {}
    for line in q.lines(f.CertificateEntered):
        body = line.body
        key = body["person"], f"certificate {body['method']} level {body['level']}"
        _later(latest, key, body["expires"], body["method"], line)
        levels[key] = body["level"]
    return {
        key: found
        for key, found in latest.items()
        if not any(
            (key[0], found[1]) == (other[0], of[1]) and levels[other] > levels[key] and of[0] >= found[0]
            for other, of in latest.items()
        )
    }


def _later(
    latest: dict[tuple[str, str], tuple[date, str, int]], key: tuple[str, str], ends: str, blocks: str, line: Line
) -> None:
    day = date.fromisoformat(ends)
    if key not in latest or day >= latest[key][0]:
        latest[key] = day, blocks, line.position


@question(
    "F18",
    "Which calibrations and process checks end soon?",
    "The latest calibration of each item of each object, and the checks that the procedures in force ask, due within "
    "the days asked for or overdue; checks due on each day of use are left out.",
    ("Object", "What", "Due", "Days left", "Last"),
    Parameter("days", "days from today", "30"),
)
def f18(q: Reader) -> Iterator[AskedRow]:
    until = q.today + timedelta(days=q.whole("days"))
    latest = {(line.body["equipment"], line.body["item"]): line for line in q.lines(f.CalibrationRecorded)}
    found = []
    for (thing, item), line in latest.items():
        due = date.fromisoformat(line.body["due"])
        if due <= until:
            row = (thing, f"calibration, {item}", str(due), str((due - q.today).days), line.body["done"])
            found.append(AskedRow(row, (line.position,), thing))
    for check in checks_due(q.work):
        try:
            due = date.fromisoformat(check.due[:10])
        except ValueError:
            continue  # "now": it was never done
        if due <= until and check.every.startswith("every"):
            row = (check.object, check.name, str(due), str((due - q.today).days), check.last)
            found.append(AskedRow(row, (), check.object))
    yield from sorted(found, key=lambda row: (row.cells[2], row.cells[:2]))


@question(
    "F20",
    "Where did first and second inspector differ, and by how much?",
    "Second looks at an indication in the period, beside what the first person recorded: length difference as second "
    "minus first, and whether interpretation and form agree.",
    ("Second look", "Record", "Indication", "First", "Second", "Difference", "Agree", "Second person"),
    *YEARS,
)
def f20(q: Reader) -> Iterator[AskedRow]:
    seen = {line.body["indication"]: line for line in q.lines(f.IndicationSeen)}
    said = {line.body["indication"]: line for line in q.lines(f.IndicationInterpreted)}
    for look in q.lines_in(f.SecondLookSaved):
        body = look.body
        name = body.get("indication")
        if name is None or name not in seen:
            continue
        first, called = seen[name], said.get(name)
        one, two = number_of(first.body.get("length")), number_of(body.get("length"))
        difference = shown_number(two.value - one.in_unit(two.unit), two.unit) if one and two else ""
        word = called.body["interpretation"] if called else None
        same = body.get("interpretation") in (None, word) and body.get("form") in (None, first.body.get("form"))
        cells = (
            body["second_look"],
            body["inspection"],
            name,
            f"{shown(word)}, {shown(first.body.get('form'))}, {one or 'no length'}",
            f"{shown(body.get('interpretation'))}, {shown(body.get('form'))}, {two or 'no length'}",
            difference,
            "yes" if same else "no",
            body["person"],
        )
        evidence = (first.position, *([called.position] if called else []), look.position)
        yield AskedRow(cells, evidence, body["inspection"])


@question(
    "F21",
    "How many clean parts were looked at a second time, and what did that find?",
    "By part number: records decided in the period without any indication, those of them with a blind second look, and "
    "second looks that saw something.",
    ("Part number", "Clean records", "Looked at again", "Percent", "Finds"),
    *YEARS,
)
def f21(q: Reader) -> Iterator[AskedRow]:
    marked = {line.body["inspection"] for line in q.lines(f.IndicationSeen)}
    decided = dict.fromkeys(line.subject for line in q.named_in(f.DecisionSigned))
    looks = {line.body["inspection"]: line for line in q.lines(f.SecondLookSaved) if not line.body.get("indication")}
    clean: dict[str, list[str]] = defaultdict(list)
    for name in decided:
        row = q.briefs.get(name)
        if row is not None and name not in marked:
            clean[row.part_no].append(name)
    for part_no, names in sorted(clean.items()):
        again = [looks[name] for name in names if name in looks]
        finds = sum(1 for look in again if look.body.get("none_seen") is not True)
        cells = (part_no, str(len(names)), str(len(again)), f"{100 * len(again) / len(names):.0f}", str(finds))
        yield AskedRow(cells, tuple(look.position for look in again), part_no)


@question(
    "F24",
    "Which indications were called nonrelevant or false, by whom, and how was it proved?",
    "Interpretations in force, in the period, other than relevant, with the steps of evidence and what they showed.",
    ("Indication", "Record", "Part", "Called", "By", "Basis", "Proof"),
    *YEARS,
)
def f24(q: Reader) -> Iterator[AskedRow]:
    fields = ("indication", "inspection")
    seen = {line.values[0]: line for line in q.session.fields(f.IndicationSeen, fields)}
    called = [
        line
        for line in q.lines_in(f.IndicationInterpreted)
        if line.body["interpretation"] != Interpretation.RELEVANT and line.body["indication"] in seen
    ]
    tested: dict[str | None, list[Fields]] = defaultdict(list)
    for test in q.session.fields(f.IndicationTested, ("indication", "step", "outcome")) if called else ():
        tested[test.values[0]].append(test)
    records = q.briefs_of(seen[line.body["indication"]].values[1] or "" for line in called)
    for line in called:
        name, word = line.body["indication"], line.body["interpretation"]
        record = seen[name].values[1] or ""
        row, tests = records.get(record), tested[name]
        proof = ", ".join(f"{r.values[1]} {r.values[2] or ''}".strip() for r in tests) or "none recorded"
        part = f"{row.part_no} {row.item}" if row else ""
        so = f"{word}{': ' + line.body['type'] if line.body.get('type') else ''}"
        cells = (name, record, part, so, line.by, line.body["basis"], proof)
        yield AskedRow(cells, (seen[name].position, line.position, *(r.position for r in tests)), record)


@question(
    "F27",
    "What did this person do between two days?",
    "Every entry in force by the person that happened in the period, as it was entered; neutral, for an investigation. "
    "Secrets and frozen answers are left out.",
    ("Time", "Kind", "About", "How obtained", "Written"),
    Parameter("person", "code of the person"),
    *PERIOD,
)
def f27(q: Reader) -> Iterator[AskedRow]:
    left_out = {kind.__name__ for kind in (f.SecretSet, f.SecretTried, f.AnswerFrozen)}
    for line in q.session.named_by(q.text("person"), *q.period()):
        if line.kind not in left_out:
            cells = (when(line), kind_text(line.kind), line.subject, line.how, written(line))
            yield AskedRow(cells, (line.position,), line.subject)
