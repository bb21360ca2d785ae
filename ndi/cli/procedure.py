"""``ndi procedure``: a new file to begin from, a check of a folder, adoption by a Level III."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from ndi import bootstrap
from ndi.cli.typed_secret import add_signer, proof_of
from ndi.domain.errors import InputError
from ndi.domain.procedure import Procedure
from ndi.services.proof import Meaning
from ndi.services.receiving import adopt, adoption_covers
from ndi.services.set_up_answers import day
from ndi.shop_files.part_masters import part_files, write_parts
from ndi.shop_files.procedures import Filled, filled, open_lines, with_rules


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("procedure", help="procedures, technique sheets and part masters as files")
    verbs = parser.add_subparsers(dest="verb", required=True, metavar="VERB")
    _add_new(verbs)
    check = verbs.add_parser("check", help="read a folder of procedures and say what it leaves open")
    check.add_argument("folder", type=Path)
    check.set_defaults(run=run_check)
    adopting = verbs.add_parser("adopt", help="adopt what a folder holds into a book")
    adopting.add_argument("book", type=bootstrap.where)
    adopting.add_argument("folder", type=Path)
    add_signer(adopting)
    adopting.set_defaults(run=run_adopt)
    parts = verbs.add_parser("parts-from-csv", help="make part masters without limits from a table of part numbers")
    parts.add_argument("table", type=Path, help="first line: ndi columns parts")
    parts.add_argument("folder", type=Path, help="folder of procedures; the files go into its folder parts")
    parts.set_defaults(run=run_parts)


def _add_new(verbs: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    new = verbs.add_parser(
        "new", help="print a commented file with empty values; each answers NOT RECORDED until it is filled in"
    )
    new.add_argument("kind", choices=("procedure", "technique", "part"))
    new.add_argument("--number")
    new.add_argument("--revision")
    new.add_argument("--title")
    new.add_argument("--method", choices=("MT", "PT"))
    new.add_argument("--effective", metavar="DATE", help="first day in force")
    new.add_argument("--approved-by", metavar="PERSON")
    new.add_argument(
        "--rules-of",
        metavar="NUMBER",
        help="list the rules that this demonstration procedure lists, with its severities and no values",
    )
    new.set_defaults(run=run_new)


def run_new(args: argparse.Namespace) -> int:
    text = bootstrap.template(args.kind)
    if args.rules_of:
        if args.kind != "procedure":
            raise InputError("only a procedure lists rules: leave --rules-of out")
        text = with_rules(text, _demonstration(args.rules_of))
    values = Filled(
        args.number,
        args.revision,
        args.title,
        args.method,
        day(args.effective) if args.effective else None,
        args.approved_by,
    )
    sys.stdout.write(filled(text, values))
    return 0


def _demonstration(number: str) -> Procedure:
    known = bootstrap.load_procedures(bootstrap.data_folder("procedures"))
    found = [procedure for procedure in known if procedure.number == number]
    if not found:
        names = ", ".join(dict.fromkeys(procedure.number for procedure in known))
        raise InputError(f"{number} is no demonstration procedure; use one of: {names}")
    return max(found, key=lambda procedure: procedure.effective_from)


def run_check(args: argparse.Namespace) -> int:
    """Exit 0 when every file can be loaded; what is open is said."""
    documents = bootstrap.library_documents(args.folder)
    for document in documents:
        print(f"{document.kind} {document.number} rev {document.revision}: read, sha256 {document.sha256[:16]}")
    _print_open(args.folder)
    return 0


def run_adopt(args: argparse.Namespace) -> int:
    work = bootstrap.open_book(args.book, station=args.station)
    documents = bootstrap.library_documents(args.folder)
    proof = proof_of(work, args, Meaning.APPROVED, adoption_covers(documents))
    count = adopt(work, documents, args.by, proof=proof)
    print(f"adopted: {count} documents, {len(documents) - count} were there already")
    _print_open(args.folder)
    return 0


def _print_open(folder: Path) -> None:
    lines = list(open_lines(bootstrap.load_procedures(folder)))
    for line in lines:
        print(f"? {line}")
    print(f"{len(lines)} open" if lines else "nothing open: every rule that is listed has its values")


def run_parts(args: argparse.Namespace) -> int:
    files = part_files(args.table, bootstrap.check_part)
    for path in write_parts(files, args.folder):
        print(path)
    print(
        f"{len(files)} part masters with one zone and no limits: every relevant indication goes to engineering until you enter limits"
    )
    return 0
