"""``ndi ledger BOOK --serial S``: what was taken off a serial number over its life, zone by zone, oldest first, with the sum."""

from __future__ import annotations

import argparse
import json

from ndi import bootstrap
from ndi.domain.errors import NotFound
from ndi.domain.quantity import shown
from ndi.services.ledger import ZoneLedger, ledger
from ndi.services.ports import Session
from ndi.services.workplace import Workplace


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("ledger", help="the life-time blend ledger of a serial number")
    parser.add_argument("book", type=bootstrap.where)
    parser.add_argument("--serial", required=True)
    parser.add_argument("--part-no", help="where several part numbers carry that serial number")
    parser.add_argument("--zone")
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--station", help="the station that stands here, where the key folder holds several")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Exit 0; it answers a question and judges nothing."""
    work = bootstrap.open_book(args.book, station=args.station)
    with work.book.session(readonly=True) as session:
        found = ledger(session, args.serial, part_no=args.part_no, zone=args.zone)
        limits = {each.zone: _limit(work, session, each) for each in found}
    if args.json:
        print(json.dumps([_as_json(each, limits[each.zone]) for each in found], indent=1, ensure_ascii=False))
        return 0
    if not found:
        print(f"{args.serial}: no rework recorded{f' in zone {args.zone}' if args.zone else ''}")
    for each in found:
        _print(each, limits[each.zone])
    return 0


def _print(zone: ZoneLedger, limit: str | None) -> None:
    print(f"{zone.part_no} {zone.serial}, zone {zone.zone}")
    for line in zone.lines:
        where = f"{line.work_order}, " if line.work_order else ""
        print(f"  {line.done}  {line.depth or 'depth not recorded'}  {where}{line.source}  entry {line.position}")
    least = f" at least: {zone.without_depth} without a depth" if zone.without_depth else ""
    print(f"  sum{least} {shown(zone.sum(), zone.unit)}; limit in the part master: {limit or 'none'}")


def _limit(work: Workplace, session: Session, ledger: ZoneLedger) -> str | None:
    """What the part master lets be blended in a zone."""
    try:
        zone = work.master(session, ledger.part_no).zone(ledger.zone)
    except NotFound:
        return None
    depths = [f"{each.blend_depth} ({each.reference})" for each in zone.limits if each.blend_depth] if zone else []
    return "; ".join(depths) or None


def _as_json(zone: ZoneLedger, limit: str | None) -> dict[str, object]:
    return {
        "part_no": zone.part_no,
        "serial": zone.serial,
        "zone": zone.zone,
        "reworks": [
            {
                "done": line.done.isoformat(),
                "depth": str(line.depth) if line.depth else None,
                "work_order": line.work_order,
                "source": line.source,
                "entry": line.position,
            }
            for line in zone.lines
        ],
        "sum": shown(zone.sum(), zone.unit),
        "without_depth": zone.without_depth,
        "limit": limit,
    }
