"""One station at work: the book, the clock, the adopted documents; how facts get their time."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Protocol
from weakref import ReferenceType, ref

from ndi.domain import facts as f
from ndi.domain.answer import Answer
from ndi.domain.entry import Draft, Obtained
from ndi.domain.errors import InputError, NotFound, NotPermitted
from ndi.domain.moment import Boot, Moment
from ndi.domain.procedure import PartMaster, Procedure, Technique
from ndi.services.lookup import every
from ndi.services.picture_ports import PictureReader
from ndi.services.ports import Book, ChainCheck, Clock, HeadsFile, PhotoArchive, Secrets, Session
from ndi.services.proof import Proofs
from ndi.services.station_clock import check_station_clock


class AlreadyDone(Exception):
    """A call with this client key was made before; ``positions`` is what it wrote."""

    def __init__(self, positions: tuple[int, ...]) -> None:
        super().__init__(positions)
        self.positions = positions


class Refused(Exception):
    """Raised inside :meth:`Workplace.act` when the rules say no."""

    def __init__(self, answers: Sequence[Answer], message: str = "") -> None:
        super().__init__(message)
        self.answers, self.message = tuple(answers), message


LIVE = timedelta(minutes=2)  # a time typed within two minutes counts as typed live


class DocumentReader(Protocol):
    """Turns the text of an adopted document into a procedure, technique or part master."""

    def __call__(self, kind: str, content: str, name: str) -> Procedure | Technique | PartMaster: ...


@dataclass
class Workplace:
    """What every use case needs.  ``computed_by`` signs what the program itself works out."""

    book: Book
    clock: Clock
    read_document: DocumentReader
    station: str
    practice: bool = False
    computed_by: str = "ndi"
    secrets: Secrets | None = None  # None where the book secret file is not at hand
    proofs: Proofs = field(default_factory=Proofs, repr=False)
    _documents: dict[tuple[str, str, str], Procedure | Technique | PartMaster] = field(default_factory=dict)
    _known_documents: int = 0
    _documents_read_in: ReferenceType[Session] | None = None
    _client_key: str | None = None
    _shared: Session | None = None  # while several calls are one transaction
    _refused: tuple[str, str, str, Refused] | None = None  # what ended it, kept after it was taken back
    _afterwards: list[Callable[[], object]] = field(default_factory=list, repr=False)
    clock_offset: Callable[[], timedelta | None] | None = None  # against the database server, where there is one
    photographs: PhotoArchive | None = None  # None where the book was opened without its folder
    pictures: PictureReader | None = None  # reads cards and codes; None where nothing is read off pictures
    heads: HeadsFile | None = None
    check_chain: Callable[[], ChainCheck] | None = None  # walks the whole chain

    def now(self) -> Moment:
        """Now, as a timer would take it."""
        return Moment(self.clock.now(), self.clock.offset_min(), boot=Boot(self.clock.boot_id(), self.clock.boot_ms()))

    def obtained(self, when: Moment, why: str | None, live: Obtained = Obtained.TIMER) -> Obtained:
        """How a time counts: live when it is now, typed live within two minutes, else typed late with a reason."""
        now = self.clock.now()
        if when.at > now:
            raise InputError(f"{when} is later than now: type the time at which it happened")
        if now - when.at <= LIVE and self.clock_offset is not None:
            check_station_clock(self.clock_offset())
        if when.boot is not None or when.at == now:
            # only a timer of this program gives a moment its boot clock
            return live
        if now - when.at <= LIVE:
            return Obtained.TYPED_LIVE
        if not why:
            raise InputError(f"{when} is more than {LIVE.seconds // 60} min ago: give a reason for the late entry")
        return Obtained.TYPED_LATE

    @contextmanager
    def transaction(self) -> Iterator[Session]:
        """One transaction; commits when the block ends without an error."""
        if self._shared is not None:
            yield self._shared
            return
        key, before = self._client_key, 0
        with self.book.session() as session:
            if key is not None:
                done = session.seen_client_key(key)
                if done is not None:
                    raise AlreadyDone(done)
                before = session.head().position
            yield session
            if key is not None:
                session.keep_client_key(key, range(before + 1, session.head().position + 1))
            session.commit()

    @contextmanager
    def together(self) -> Iterator[Session]:
        """Several calls to use cases in one transaction: all of them or none; a refusal is kept all the same."""
        self._afterwards.clear()
        try:
            with self.transaction() as session:
                self._shared = session
                try:
                    yield session
                finally:
                    self._shared = None
        except NotPermitted:
            refused, self._refused = self._refused, None
            if refused is None:
                raise
            action, person, subject, why = refused
            raise self.refusal(action, person, subject, why.answers, why.message) from None
        while self._afterwards:
            self._afterwards.pop(0)()

    def after_commit(self, do: Callable[[], object]) -> None:
        """Do something outside the book that may only follow what is safely in it."""
        if self._shared is not None:
            self._afterwards.append(do)
        else:
            do()

    @contextmanager
    def look(self) -> Iterator[Session]:
        """A look at the book; inside :meth:`together` with what was done there."""
        if self._shared is not None:
            yield self._shared
            return
        with self.book.session(readonly=True) as session:
            yield session

    def once(self, client_key: str, make: Callable[[], object]) -> tuple[int, ...]:
        """Make one call to a use case under a key of the caller's; a repeated key does nothing twice.

        Returns the positions that the call wrote, now or the first time.
        """
        self._client_key = client_key
        try:
            make()
        except AlreadyDone as done:
            return done.positions
        finally:
            self._client_key = None
        with self.book.session(readonly=True) as session:
            return session.seen_client_key(client_key) or ()

    @contextmanager
    def act(self, action: str, person: str, subject: str) -> Iterator[Session]:
        """One transaction of a person; :class:`Refused` inside it undoes it and is kept as a refusal."""
        try:
            with self.transaction() as session:
                yield session
        except Refused as refused:
            if self._shared is not None:
                self._refused = (action, person, subject, refused)
                raise NotPermitted(refused.message, refused.answers) from None
            raise self.refusal(action, person, subject, refused.answers, refused.message) from None

    # --- documents --------------------------------------------------------------------------------

    def _load_documents(self, session: Session) -> None:
        """Decode what was adopted since; asked once per transaction, which sees one state of the book."""
        if self._documents_read_in is not None and self._documents_read_in() is session:
            return
        self._documents_read_in = ref(session)
        adopted = sorted(every(session, f.DocumentAdopted), key=lambda r: r.position)
        for recorded in adopted[self._known_documents :]:
            fact = recorded.fact
            name = f"{fact.number} rev {fact.revision} as adopted"
            self._documents[fact.document, fact.number, fact.revision] = self.read_document(
                fact.document, fact.content, name
            )
        self._known_documents = len(adopted)

    def procedures(self, session: Session) -> list[Procedure]:
        """Every adopted revision."""
        self._load_documents(session)
        return [d for d in self._documents.values() if isinstance(d, Procedure)]

    def procedure(self, session: Session, number: str, revision: str) -> Procedure:
        found = [p for p in self.procedures(session) if (p.number, p.revision) == (number, revision)]
        if not found:
            raise NotFound(
                f"procedure {number} rev {revision} is not adopted in this book; a Level III adopts it first"
            )
        return found[0]

    def procedure_in_force(self, session: Session, number: str, on: date) -> Procedure:
        """The revision in force on a day."""
        found = [
            p
            for p in self.procedures(session)
            if p.number == number and p.effective_from <= on and (p.effective_to is None or on <= p.effective_to)
        ]
        if not found:
            raise NotFound(f"no revision of {number} is in force on {on}; a Level III adopts one")
        return found[-1]

    def technique(self, session: Session, number: str, revision: str | None = None) -> Technique:
        self._load_documents(session)
        found = [
            d
            for d in self._documents.values()
            if isinstance(d, Technique) and d.number == number and revision in (None, d.revision)
        ]
        if not found:
            raise NotFound(f"technique {number} is not adopted in this book")
        return found[-1]

    def techniques(self, session: Session, number: str) -> list[Technique]:
        """Every adopted revision of a technique."""
        self._load_documents(session)
        return [d for d in self._documents.values() if isinstance(d, Technique) and d.number == number]

    def master(self, session: Session, part_no: str) -> PartMaster:
        self._load_documents(session)
        found = [d for d in self._documents.values() if isinstance(d, PartMaster) and d.number == part_no]
        if not found:
            raise NotFound(f"part number {part_no} has no part master in this book")
        return found[-1]

    def masters(self, session: Session) -> list[PartMaster]:
        """Every adopted part master; the latest of each part number."""
        self._load_documents(session)
        return list({d.number: d for d in self._documents.values() if isinstance(d, PartMaster)}.values())

    # --- refusals ---------------------------------------------------------------------------------

    def refusal(
        self, action: str, person: str, subject: str, answers: Sequence[Answer], message: str = ""
    ) -> NotPermitted:
        """Keep a refusal in the book and hand back the error to raise."""
        text = message or "; ".join(answer.says or answer.line() for answer in answers)
        rules = tuple(answer.rule for answer in answers)
        # a refusal may be asked for again under the same key: only what was done is done once
        self._client_key = None
        with self.transaction() as session:
            fact = f.ActionRefused(action, person, subject, rules, text)
            session.append([Draft(fact, self.now(), person, Obtained.COMPUTED)])
        return NotPermitted(f"{action} refused: {text}", answers)
