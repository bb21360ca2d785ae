"""A record book in a PostgreSQL database of its own, for several machines.

Two accounts: the *owner* owns the tables, begins the book, changes tables and
rebuilds; the *application's account*, under which the stations work, owns
nothing.  It may read and append to the journal and change rows of the read
tables, no more.  Who is given the owner's account, or a superuser's, can take
the guards away; what such a person changes is found by ``verify``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError

from ndi.domain.errors import InputError, StoreError
from ndi.services.ports import Clock
from ndi.store.book import BUSY_SECONDS, SqlBook, begin, connected, station_key
from ndi.store.dialect import FIRST_TO_READ, FIRST_TO_WRITE
from ndi.store.errors import DATABASE_ERRORS, store_error
from ndi.store.identifiers import new_book_id
from ndi.store.keys import StationKey, new_key, save_key
from ndi.store.schema import SCHEMA_VERSION, client_key, entry, journal_metadata, read_tables, rebuild_progress

_STAMP = "ndi record book, tables of version "
_WRITERS = 0x4E444942  # the advisory lock that every writer of this database holds to its commit
_ONE_STATE = "SET TRANSACTION ISOLATION LEVEL REPEATABLE READ"
_LOCK = f"SELECT pg_advisory_xact_lock({_WRITERS})"  # read committed: what follows sees what earlier holders committed
_ROW, _BEFORE, _INSERT, _DELETE, _UPDATE, _TRUNCATE = 1, 2, 4, 8, 16, 32  # pg_trigger.tgtype

# set on every connection, whatever server, database or account say
_SETTINGS = {
    "synchronous_commit": "on",
    "search_path": "public, pg_temp",
    "tcp_keepalives_idle": "10",  # a station that vanished lets go of the writers' lock within half a minute
    "tcp_keepalives_interval": "5",
    "tcp_keepalives_count": "3",
}
_CONNECT = {"connect_timeout": 10, "keepalives_idle": 10, "keepalives_interval": 5, "keepalives_count": 3}

_REFUSE = "BEGIN RAISE EXCEPTION 'the record book is append-only' USING ERRCODE = 'restrict_violation'; END"
_AT_THE_END = (
    "BEGIN IF NEW.position <> (SELECT COALESCE(MAX(position), 0) + 1 FROM public.entry) THEN "
    "RAISE EXCEPTION 'entries go to the end of the record book' USING ERRCODE = 'restrict_violation'; END IF; "
    "RETURN NEW; END"
)

# name: what fires it, for each row or statement, its bits in pg_trigger, what it does
_TRIGGERS: dict[str, tuple[str, str, int, str]] = {
    "entry_no_change": ("UPDATE OR DELETE", "ROW", _ROW | _BEFORE | _UPDATE | _DELETE, _REFUSE),
    "entry_no_statement": (
        "UPDATE OR DELETE OR TRUNCATE", "STATEMENT", _BEFORE | _UPDATE | _DELETE | _TRUNCATE, _REFUSE,
    ),
    "entry_no_gap": ("INSERT", "ROW", _ROW | _BEFORE | _INSERT, _AT_THE_END),
}  # fmt: skip

_FOUND = (
    "SELECT t.tgname, t.tgenabled::text, t.tgtype, p.prosrc FROM pg_trigger t JOIN pg_proc p ON p.oid = t.tgfoid "
    "WHERE t.tgrelid = 'public.entry'::regclass AND NOT t.tgisinternal"
)


class PostgresDialect:
    """PostgreSQL: writers queue at an advisory lock held to commit, readers see one snapshot."""

    def engine(self, place: str | Path, busy_seconds: float) -> Engine:
        settings = {**_SETTINGS, "lock_timeout": f"{int(busy_seconds * 1000)}ms"}
        try:
            engine = create_engine(
                database_url(str(place)),
                connect_args=dict(_CONNECT),
                pool_pre_ping=True,
                execution_options={FIRST_TO_READ: _ONE_STATE, FIRST_TO_WRITE: _LOCK},
            )
        except ModuleNotFoundError as error:
            raise StoreError(
                f"a book on a database server needs a part that is not installed ({error.name}): "
                'type pip install "ndi-recordbook[postgres]"'
            ) from error

        def set_up(connection: Any, _record: Any) -> None:
            connection.autocommit = True
            connection.execute("; ".join(f"SET {name} = {_quoted(value)}" for name, value in settings.items()))
            connection.autocommit = False

        event.listen(engine, "connect", set_up)
        return engine

    def stamp(self, connection: Connection) -> None:
        connection.exec_driver_sql(f"COMMENT ON TABLE public.entry IS '{_STAMP}{SCHEMA_VERSION}'")

    def check(self, connection: Connection) -> None:
        found = connection.exec_driver_sql("SELECT obj_description(to_regclass('public.entry'), 'pg_class')").scalar()
        if found is None or not str(found).startswith(_STAMP):
            raise StoreError("this database is not a record book: choose another one or begin a new book")
        version = str(found).removeprefix(_STAMP)
        if version != str(SCHEMA_VERSION):
            raise StoreError(
                f"this record book has tables of version {version}, this program knows {SCHEMA_VERSION}: use the fitting program"
            )
        for name in ("fsync", "full_page_writes"):
            if connection.exec_driver_sql(f"SHOW {name}").scalar() != "on":
                raise StoreError(
                    f"the database server does not keep what it says it saved ({name} = off): have {name} switched on"
                )

    def guards(self) -> dict[str, str]:
        return {name: f"A {bits} {body}" for name, (_, _, bits, body) in _TRIGGERS.items()}

    def guarded(self, connection: Connection) -> bool:
        return guards_found(connection) == self.guards()

    def restore_guards(self, connection: Connection) -> None:
        for name, (when, each, _, body) in _TRIGGERS.items():
            for statement in (
                f"CREATE OR REPLACE FUNCTION public.{name}() RETURNS trigger LANGUAGE plpgsql "
                f"SET search_path = pg_catalog AS $guard${body}$guard$",
                f"DROP TRIGGER IF EXISTS {name} ON public.entry",
                f"CREATE TRIGGER {name} BEFORE {when} ON public.entry FOR EACH {each} EXECUTE FUNCTION public.{name}()",
                f"ALTER TABLE public.entry ENABLE ALWAYS TRIGGER {name}",  # also where replication roles are played
            ):
                connection.exec_driver_sql(statement)


POSTGRES = PostgresDialect()


class PostgresBook(SqlBook):
    """A record book on a database server, used by stations of one or several machines."""

    def __init__(self, engine: Engine, url: URL, key: StationKey, clock: Clock) -> None:
        super().__init__(engine, key, clock)
        self.url = url

    def clock_offset(self) -> timedelta:
        """How much this station's clock is ahead of the server's (negative: behind).

        Exact to half the time that the question took.
        """
        with self.transaction(reading=True) as tx:
            before = self.clock.now()
            micro = tx.connection.exec_driver_sql(
                "SELECT (EXTRACT(EPOCH FROM clock_timestamp()) * 1000000)::bigint"
            ).scalar_one()
            after = self.clock.now()
        server = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=int(micro))
        return before + (after - before) / 2 - server


def clock_offset(book: object) -> timedelta | None:
    """How much the station's clock is ahead of the server's; None for a book without a server."""
    return book.clock_offset() if isinstance(book, PostgresBook) else None


def guards_found(connection: Connection) -> dict[str, str]:
    """The triggers that the journal really has: enabled how, fired by what, doing what."""
    rows = connection.exec_driver_sql(_FOUND).all()
    return {name: f"{enabled} {bits} {body}" for name, enabled, bits, body in rows}


def database_url(text: str) -> URL:
    """The URL of a book, for the driver that is used; InputError if it is none."""
    try:
        url = make_url(text)
    except ArgumentError:
        raise InputError(f"{text} is no address of a database: write postgresql://account@server/database") from None
    if url.get_backend_name() != "postgresql":
        raise InputError(f"{url.get_backend_name()} is no database for a record book: use a file or postgresql://...")
    return url.set(drivername="postgresql+psycopg")


def create_book_on(
    url: str, *, owner_url: str, shop: str, practice: bool, station: str, key_folder: Path, clock: Clock
) -> PostgresBook:
    """Begin a book in an empty database, for the account in ``url``, owned by the account in ``owner_url``.

    InputError if both are one account; StoreError if the database holds a book already.
    """
    key = new_key(new_book_id(), station)

    def fill(connection: Connection) -> None:
        save_key(key_folder, begin(POSTGRES, connection, key, shop, practice, clock))

    fill_empty(url, owner_url, fill)
    return open_book_on(url, station=station, key_folder=key_folder, clock=clock)


def fill_empty(url: str, owner_url: str, fill: Callable[[Connection], None]) -> None:
    """Make an empty database into a book, all in one transaction of the owner's account; nothing stays if ``fill`` fails.

    InputError if both accounts are one; StoreError if the database holds a book already.
    """
    account = database_url(url).username
    if not account or account == database_url(owner_url).username:
        raise InputError("the account of the stations must not own the book: name one account for each address")
    with _engine(owner_url, BUSY_SECONDS) as engine, connected(engine, reading=False) as connection:
        if connection.exec_driver_sql("SELECT to_regclass('public.entry')").scalar() is not None:
            raise StoreError("there is a record book in this database already: choose an empty database")
        fill(connection)
        _grant(connection, account)
        try:
            connection.commit()
        except DATABASE_ERRORS as error:
            raise store_error(error, committing=True) from error


def _grant(connection: Connection, account: str) -> None:
    """Give the stations' account what it needs, and nobody else anything."""
    to = connection.dialect.identifier_preparer.quote(account)
    connection.exec_driver_sql(f"GRANT USAGE ON SCHEMA public TO {to}")
    for table in (*journal_metadata.sorted_tables, *read_tables().all):
        rights = "SELECT, INSERT, UPDATE, DELETE"
        if table in (entry, client_key):
            rights = "SELECT, INSERT"
        elif table is rebuild_progress:
            rights = "SELECT"
        connection.exec_driver_sql(f"REVOKE ALL ON public.{table.name} FROM PUBLIC")
        connection.exec_driver_sql(f"GRANT {rights} ON public.{table.name} TO {to}")


def open_book_on(
    url: str,
    *,
    station: str,
    key_folder: Path,
    clock: Clock,
    as_owner: bool = False,
    busy_seconds: float = BUSY_SECONDS,
) -> PostgresBook:
    """Open a book on a server as one of its stations; ``as_owner`` to rebuild or to restore guards.

    StoreError if it is no record book, its guards are gone, or the account may
    do more than a station should; KeyMismatch if the key is not the book's.
    """
    engine = POSTGRES.engine(url, busy_seconds)
    try:
        with connected(engine, reading=True) as connection:
            POSTGRES.check(connection)
            _check_account(connection, as_owner)
            key = station_key(connection, station, key_folder)
            has_guards = POSTGRES.guarded(connection)
        if not has_guards:
            _restore_guards(engine, as_owner)
    except BaseException:
        engine.dispose()
        raise
    return PostgresBook(engine, database_url(url), key, clock)


def _check_account(connection: Connection, as_owner: bool) -> None:
    owns = connection.exec_driver_sql(
        "SELECT r.rolsuper OR pg_has_role(c.relowner, 'USAGE') FROM pg_class c, pg_roles r "
        "WHERE c.oid = 'public.entry'::regclass AND r.rolname = current_user"
    ).scalar_one()
    if owns and not as_owner:
        raise StoreError(
            "this account of the database may change everything in the record book: work under the stations' account"
        )


def _restore_guards(engine: Engine, as_owner: bool) -> None:
    if not as_owner:
        raise StoreError(
            "the guards of the record book were taken away or changed: verify the book, and have its owner open it once"
        )
    with connected(engine, reading=False) as connection:
        for name in guards_found(connection):
            connection.exec_driver_sql(
                f"DROP TRIGGER {connection.dialect.identifier_preparer.quote(name)} ON public.entry"
            )
        POSTGRES.restore_guards(connection)
        connection.commit()


@contextmanager
def _engine(url: str, busy_seconds: float) -> Iterator[Engine]:
    engine = POSTGRES.engine(url, busy_seconds)
    try:
        yield engine
    finally:
        engine.dispose()


def _quoted(value: str) -> str:
    return ", ".join(f"'{part.strip()}'" for part in value.split(","))
