"""``ndi recall BOOK OBJECT``: what relied on an object, where each piece is, what is to be done; opened, worked off, closed."""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator
from datetime import date
from typing import Any

from ndi import bootstrap
from ndi.cli.typed_secret import Typed, add_source, proof_of
from ndi.domain.errors import InputError
from ndi.domain.quantity import Number
from ndi.services import recall_work
from ndi.services.containment import all_containments
from ndi.services.leaving import departures
from ndi.services.meter_recall import MeterFound, meter_found
from ndi.services.proof import Meaning
from ndi.services.recall_contents import Contents, containments_of, contents, entry_named, supposed
from ndi.services.workplace import Workplace


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser(
        "recall", help="what relied on a lamp, bath, panel, meter, batch or person, and what to do"
    )
    parser.add_argument("book", type=bootstrap.where)
    parser.add_argument(
        "object",
        nargs="?",
        default="",
        help="the object (LP-3), a recall set (CT-01), or a meter with --meter; without it the list of everything open",
    )
    does = parser.add_mutually_exclusive_group()
    does.add_argument("--suppose", metavar="ENTRY", help="the set if this entry had been bad; writes nothing")
    does.add_argument("--from", dest="entry", metavar="ENTRY", help="this entry is bad: open a recall set from it")
    does.add_argument("--meter", action="store_true", help="the object is a meter found wrong: its endangered readings")
    does.add_argument("--assign", metavar="INSPECTION", help="give the action of this record to --to, until --due")
    does.add_argument("--done", metavar="INSPECTION", help="brought back, or the owner told (--action, --reference)")
    does.add_argument("--close", action="store_true", help="close it: Level III (--by) and quality (--second) sign")
    parser.add_argument("--error", metavar="'+9 %'", help="with --meter: suppose that it was found so")
    parser.add_argument("--item", metavar="'UV-A channel'", help="with --meter: only this item of its calibration")
    parser.add_argument("--to", metavar="PERSON")
    parser.add_argument("--due", metavar="YYYY-MM-DD")
    parser.add_argument("--action", choices=recall_work.ACTIONS)
    parser.add_argument("--reference", default="", help="letter, message or place")
    parser.add_argument("--why", default="", help="with --from: the reason")
    parser.add_argument("--by", metavar="PERSON")
    parser.add_argument("--second", metavar="PERSON", help="with --close: of quality")
    parser.add_argument("--json", action="store_true")
    add_source(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Exit 0 when it was done or shown."""
    work = bootstrap.open_book(args.book, station=args.station)
    if not args.object and not (args.suppose or args.entry):  # an entry says itself of what it is
        return _list(args, work)
    if args.suppose:
        _show(args, [_checked(args, supposed(work, entry_named(work, args.suppose)))])
        return 0
    if args.meter:
        _show_meter(args, meter_found(work, args.object, error=_error(args.error), item=args.item))
        return 0
    if args.entry:
        opened = recall_work.recall_from(work, entry_named(work, args.entry), _given(args, "by"), args.why)
        args.object = opened.containment
    elif args.assign:
        due = _day(_given(args, "due"))
        by, to = _given(args, "by"), _given(args, "to")
        recall_work.assign(work, args.object, args.assign, to, due, by, action=args.action)
    elif args.done:
        action = _given(args, "action")
        recall_work.action_done(work, args.object, args.done, action, _given(args, "by"), args.reference)
    elif args.close:
        _close(work, args)
    _show(args, [contents(work, name) for name in _names(work, args.object)])
    return 0


def _list(args: argparse.Namespace, work: Workplace) -> int:
    """What left although no acceptance stood, before everything else; then every set with something to do."""
    if any((args.meter, args.assign, args.done, args.close)):
        raise InputError("name the object, the recall set or the meter")
    with work.look() as session:
        out = [each for each in departures(work, session) if each.reason]
        names = [r.fact.containment for r in all_containments(session)]
    sets = [found for found in (contents(work, name) for name in names) if found.open_items]
    if args.json:
        left = [{"part": each.part, "piece": each.piece, "place": each.place, "reason": each.reason} for each in out]
        print(json.dumps({"left_early": left, "sets": [as_json(each) for each in sets]}, indent=1, ensure_ascii=False))
        return 0
    for each in out:
        print(f"LEFT EARLY  {each.name} {each.text}")
    for found in sets:
        print("\n".join(lines(found)))
    if not out and not sets:
        print("nothing is open")
    return 0


def _names(work: Workplace, object_: str) -> list[str]:
    if object_.startswith("CT-"):
        return [object_]
    with work.look() as session:
        names = containments_of(session, object_)
    if not names:
        raise InputError(
            f"no bad reading of {object_} is in the book; with --suppose ENTRY you see what one would recall"
        )
    return names


def _checked(args: argparse.Namespace, found: Contents) -> Contents:
    if args.object and found.object != args.object:
        raise InputError(f"entry {args.suppose} is of {found.object}, not of {args.object}")
    return found


def _close(work: Workplace, args: argparse.Namespace) -> None:
    first, second = _given(args, "by"), _given(args, "second")
    shown, typed = recall_work.closing_covers(work, args.object), Typed(args.secret_file)
    proof = proof_of(work, args, Meaning.APPROVED, shown, typed)
    other = argparse.Namespace(**{**vars(args), "by": second, "badge": None})
    quality_proof = proof_of(work, other, Meaning.VERIFIED, shown, typed)
    recall_work.close(work, args.object, first, second, proof=proof, quality_proof=quality_proof)


def _given(args: argparse.Namespace, name: str) -> str:
    value: str | None = getattr(args, name)
    if not value:
        raise InputError(f"--{name} is needed here")
    return value


def _error(text: str | None) -> Number | None:
    if text is None:
        return None
    typed = text.replace("%", "").strip()
    return Number(typed, "%")


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise InputError(f"{text!r} is not a day; type it like 2026-03-10") from None


# --- shown ----------------------------------------------------------------------------------------------


def _show(args: argparse.Namespace, sets: list[Contents]) -> None:
    if args.json:
        print(json.dumps([as_json(each) for each in sets], indent=1, ensure_ascii=False))
        return
    for each in sets:
        for line in lines(each):
            print(line)


def lines(found: Contents) -> Iterator[str]:
    """A recall set for reading: head, one line for each record, the difference to the set as of now."""
    head = found.name or "supposed, nothing was written"
    yield f"{head}: {found.object}, {found.quantity}; in doubt after {found.last_good or 'the first use'} to {found.first_bad}"
    yield f"  {len(found.items)} records, {found.pieces} pieces; second looks {', '.join(found.second_looks) or 'none'}"
    for engine in found.engines:
        yield f"  engine {engine}"
        for item in found.items:
            if item.engine == engine:
                todo = f"done: {item.done}" if item.done else f"{item.action}: {item.because}"
                given = f" [{item.assigned.person}, due {item.assigned.due}]" if item.assigned and not item.done else ""
                shares = f" ({' / '.join(item.children)})" if item.children else ""
                left = f"  LEFT EARLY: {item.let_go}" if item.let_go else ""
                yield f"    {item.inspection} {item.state}{shares}  {item.part_no} {item.name}, {item.pieces} pcs, {item.place}  {todo}{given}{left}"
    if found.name:
        yield f"  set as of now: added {', '.join(found.added) or 'none'}; gone {', '.join(found.gone) or 'none'}"
        if found.closed:
            yield f"  closed by {found.closed.person} and {found.closed.second}"


def as_json(found: Contents) -> dict[str, Any]:
    return {
        "recall_set": found.name or None,
        "object": found.object,
        "quantity": found.quantity,
        "last_good": str(found.last_good) if found.last_good else None,
        "first_bad": str(found.first_bad),
        "pieces": found.pieces,
        "second_looks": list(found.second_looks),
        "records": [
            {
                "inspection": item.inspection,
                "state": item.state,
                "part": item.part,
                "pieces": item.pieces,
                "uses": list(item.uses),
                "children": list(item.children),
                "rests_on_it": list(item.later),
                "place": item.place,
                "engine": item.engine,
                "shipped": item.is_shipped,
                "action": item.action,
                "because": item.because,
                "person": item.assigned.person if item.assigned else None,
                "due": item.assigned.due.isoformat() if item.assigned else None,
                "done": item.done or None,
                "left_early": item.let_go or None,
            }
            for item in found.items
        ],
        "added": list(found.added),
        "gone": list(found.gone),
        "closed": [found.closed.person, found.closed.second] if found.closed else None,
    }


def _show_meter(args: argparse.Namespace, found: MeterFound) -> None:
    if args.json:
        rows = [{"entry": r.position, "line": r.line(), "records": list(r.inspections)} for r in found.endangered]
        told = {"meter": found.meter, "error": str(found.error), "endangered": rows}
        told["worst_case"] = list(found.inspections())
        told["even_drift"] = list(found.inspections(worst=False))
        print(json.dumps(told, indent=1, ensure_ascii=False))
        return
    print(
        f"{found.meter} {found.item}: found {found.error} on {found.found}, calibrated {found.calibrated}; "
        f"{len(found.readings)} readings between, {len(found.endangered)} do not hold"
    )
    for reading in found.endangered:
        print(f"  {reading.line()}")
        print(f"      records: {', '.join(reading.inspections) or 'none'}")
    print(f"worst case: {len(found.inspections())} records {', '.join(found.inspections())}")
    print(f"even drift: {len(found.inspections(worst=False))} records {', '.join(found.inspections(worst=False))}")
