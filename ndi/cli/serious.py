"""``ndi serious BOOK``: findings that may have to be reported, with their clock; judged, reported; a release noted."""

from __future__ import annotations

import argparse
import json
from datetime import date

from ndi import bootstrap
from ndi.cli.said import entry_line
from ndi.cli.typed_secret import add_signer, proof_of
from ndi.domain.errors import InputError
from ndi.services import serious
from ndi.services.proof import Meaning


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("serious", help="findings with the clock of their report; release to service noted")
    parser.add_argument("book", type=bootstrap.where)
    parser.add_argument("finding", nargs="?", help="an indication or a recall set; with --release the work order")
    does = parser.add_mutually_exclusive_group()
    does.add_argument("--serious", action="store_true", help="it is reported")
    does.add_argument("--not-serious", action="store_true", help="it is not, for the reason of --why")
    does.add_argument("--sent", metavar="REFERENCE", help="the report went out to --to")
    does.add_argument("--release", metavar="REFERENCE", help="released to service elsewhere, on --date by --person")
    parser.add_argument("--why", default="")
    parser.add_argument("--registration", help="of the aircraft, where it is known")
    parser.add_argument("--cause", help="the apparent cause")
    parser.add_argument("--to", default="")
    parser.add_argument("--date", metavar="YYYY-MM-DD")
    parser.add_argument("--person", default="", help="who released it, as the document says")
    parser.add_argument("--keep-years", type=int, help="where the procedures set no time, or a shorter one")
    parser.add_argument("--json", action="store_true")
    add_signer(parser, required=False)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Exit 0 when it was done or shown."""
    work = bootstrap.open_book(args.book, station=args.station)
    if not (args.serious or args.not_serious or args.sent or args.release):
        now, found = work.now(), serious.findings(work)
        if args.json:
            rows = [
                {
                    "finding": each.name,
                    "discovered": str(each.discovered),
                    "state": each.state(now),
                    "red": each.is_red(now),
                    "report_by": str(each.report_by) if each.report_by else None,
                    "facts": list(each.about),
                }
                for each in found
            ]
            print(json.dumps(rows, indent=1, ensure_ascii=False))
            return 0
        for each in found:
            print(f"{'RED ' if each.is_red(now) else ''}{each.name}, discovered {each.discovered}: {each.state(now)}")
            for line in each.about:
                print(f"    {line}")
        for release in serious.releases(work):
            fact = release.fact
            print(
                f"{fact.work_order} released {fact.released} ({fact.reference}, {fact.person}): kept to {serious.keep_until(fact)}"
            )
        return 0
    if not args.finding or not args.by:
        raise InputError("name the finding (or work order) and --by")
    if args.sent:
        done = serious.report_sent(work, args.finding, args.by, reference=args.sent, sent_to=args.to)
    elif args.release:
        try:
            released = date.fromisoformat(args.date or "")
        except ValueError:
            raise InputError("--date of the release: type it like 2026-03-10") from None
        done = serious.note_release(
            work, args.finding, released, args.release, args.person, args.by, years=args.keep_years
        )
    else:
        more = {"registration": args.registration, "cause": args.cause}
        shown = serious.judgement_covers(args.finding, args.serious, args.why, **more)
        proof = proof_of(work, args, Meaning.APPROVED, shown)
        done = serious.judge_seriousness(
            work, args.finding, args.by, serious=args.serious, reason=args.why, proof=proof, **more
        )
    print(entry_line(done))
    return 0
