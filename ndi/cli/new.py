"""``ndi new BOOK``: an empty record book with its keys, and its first two persons, each with a secret of their own.

The window makes a book in the same way (:func:`make_from_form`): what is asked
and how it is read stands in ``services.set_up_answers``.
"""

from __future__ import annotations

import argparse
import shutil
from collections.abc import Callable, Mapping
from pathlib import Path

from ndi import bootstrap
from ndi.cli.asking import ask, ask_new_secret
from ndi.domain.errors import InputError, NdiError, WrongAnswers
from ndi.domain.vocabulary import LEVEL_THREE, Method
from ndi.services import set_up_answers as answers
from ndi.services.workplace import Workplace

ENDING = ".ndibook"


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("new", help="begin an empty record book and set it up with two persons")
    parser.add_argument("book", type=bootstrap.where, help="file of the new book, on a disk of this machine")
    parser.add_argument("--shop", help="code of the shop (asked for if not given)")
    parser.add_argument("--station", help="name of this station (asked for if not given)")
    parser.add_argument(
        "--owner-url", metavar="URL", help="a book on a database server: the address with the account that is to own it"
    )
    parser.add_argument(
        "--practice", action="store_true", help="a practice book: nobody is asked for secrets, every paper says so"
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Ask everything first; nothing is made before every answer can be used."""
    book: bootstrap.Where = args.book
    refuse_what_is_there(book)
    shop = args.shop or ask("code of the shop", answers.text)
    station = args.station or ask("name of this station", answers.text)
    set_up = None if args.practice else answers.read({"shop": shop, "station": station, **_ask_people()})
    work = make(book, shop, station, set_up, owner_url=args.owner_url)
    for line in _said(work, book, bootstrap.key_folder(book)):
        print(line)
    return 0


def refuse_what_is_there(book: bootstrap.Where) -> None:
    """InputError when a book or its keys are there already."""
    for place in (bootstrap.key_folder(book), *([book] if isinstance(book, Path) else [])):
        if place.exists():
            raise InputError(f"{place} is there already: choose another name for the new book")


def make(
    book: bootstrap.Where,
    shop: str,
    station: str,
    set_up: answers.SetUpAnswers | None,
    *,
    owner_url: str | None = None,
) -> Workplace:
    """Make a book and enter its first persons (none: a practice book); what was made is taken back when it fails."""
    keys = bootstrap.key_folder(book)
    work: Workplace | None = None
    try:
        work = bootstrap.new_book(
            book,
            shop=shop,
            station=station,
            practice=set_up is None,
            clock=bootstrap.SystemClock(),
            owner_url=owner_url,
        )
        if set_up is not None:
            set_up.enter(work)
    except BaseException:
        if work is not None:
            bootstrap.close(work.book)
        _take_back(book, keys)
        raise
    return work


def make_from_form(values: Mapping[str, str], said: Callable[[str], None]) -> str:
    """Make a book from the answers of a form, the file's name under ``file``; where it lies.

    WrongAnswers names every field that cannot be used; then nothing was made.
    """
    problems: dict[str, str] = {}
    file = Path(values.get("file", "")).expanduser().absolute()
    try:
        answers.text(values.get("file", ""))
        if file.suffix != ENDING:
            raise InputError(f"the name of a record book ends in {ENDING}")
        if not file.parent.is_dir():
            raise InputError(f"there is no folder {file.parent}: make it first, or name another")
        refuse_what_is_there(file)
    except InputError as error:
        problems["file"] = str(error)
    try:
        set_up = answers.read(values)
    except WrongAnswers as wrong:
        raise WrongAnswers({**problems, **wrong.problems}) from None
    if problems:
        raise WrongAnswers(problems)
    said("making the book and its keys")
    try:
        work = make(file, set_up.shop, set_up.station, set_up)
    except (NdiError, OSError) as error:
        raise WrongAnswers({"file": f"the book could not be made: {error}"}) from error
    bootstrap.close(work.book)
    return str(file)


def _ask_people() -> dict[str, str]:
    """The two persons of set-up, as they were typed."""
    print(
        "A book begins with two persons: an administrator, who inspects nothing, and a Level III. Each types their own secret."
    )
    values = {**_newcomer("administrator", "administrator"), **_newcomer("level3", "Level III")}
    return {**values, **_qualifications(values["level3"])}


def _newcomer(name: str, what: str) -> dict[str, str]:
    person = ask(f"{what}: code of the person", answers.person)
    secret = ask_new_secret(f"{person}: password, 12 characters or more", lambda typed: answers.password(typed, person))
    return {name: person, f"{name} password": secret}


def _qualifications(person: str) -> dict[str, str]:
    values: dict[str, str] = {}
    for method in Method:
        issued = ask(
            f"{person}: level {LEVEL_THREE} {method} certificate issued on (YYYY-MM-DD, - for none)",
            answers.day_or_none,
        )
        if issued is not None:
            values[answers.issued_name(method)] = issued.isoformat()
            values[answers.expires_name(method)] = ask(f"{person}: and expires on", answers.day).isoformat()
    if not values:
        raise InputError(
            f"{person} holds no level {LEVEL_THREE} certificate: procedures are adopted by somebody who does"
        )
    examined = ask(f"{person}: vision examined on (YYYY-MM-DD, - for none)", answers.day_or_none)
    if examined is not None:
        values["vision examined"] = examined.isoformat()
        values["vision expires"] = ask(f"{person}: and counts until", answers.day).isoformat()
    return values


def _take_back(book: bootstrap.Where, keys: Path) -> None:
    """What this call made holds nothing yet; a database on a server is for its administrator to drop."""
    if isinstance(book, Path):
        for ending in ("", "-wal", "-shm"):
            book.with_name(book.name + ending).unlink(missing_ok=True)
    shutil.rmtree(keys, ignore_errors=True)


def _said(work: Workplace, book: bootstrap.Where, keys: Path) -> list[str]:
    kind = "practice book" if work.practice else "record book"
    with work.book.session(readonly=True) as session:
        head = session.head()
    return [
        f"{kind} {work.book.book_id} in {book}, station {work.station}, head {head}",
        f"keys in {keys}: keep a copy of that folder apart from every copy of the book",
    ]
