"""A record book wherever it is: a file of this machine, or a database on a server."""

from __future__ import annotations

from pathlib import Path

from ndi.domain.errors import InputError
from ndi.services.ports import Clock
from ndi.store.book import SqlBook, create_book, open_book


def is_url(where: str | Path) -> bool:
    """Whether ``where`` names a database on a server rather than a file."""
    return isinstance(where, str) and "://" in where


def open_any(where: str | Path, *, station: str, key_folder: Path, clock: Clock, as_owner: bool = False) -> SqlBook:
    """Open a book by its file or URL; ``as_owner`` bears on a server only."""
    if is_url(where):
        from ndi.store.postgres import open_book_on

        return open_book_on(str(where), station=station, key_folder=key_folder, clock=clock, as_owner=as_owner)
    return open_book(Path(where), station=station, key_folder=key_folder, clock=clock)


def create_any(
    where: str | Path,
    *,
    shop: str,
    practice: bool,
    station: str,
    key_folder: Path,
    clock: Clock,
    owner_url: str | None = None,
) -> SqlBook:
    """Begin a book in a new file, or in an empty database that ``owner_url``'s account owns."""
    if not is_url(where):
        return create_book(
            Path(where), shop=shop, practice=practice, station=station, key_folder=key_folder, clock=clock
        )
    if owner_url is None:
        raise InputError("to begin a book on a server, name also the address with the account that is to own it")
    from ndi.store.postgres import create_book_on

    return create_book_on(
        str(where),
        owner_url=owner_url,
        shop=shop,
        practice=practice,
        station=station,
        key_folder=key_folder,
        clock=clock,
    )
