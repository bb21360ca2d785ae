"""The evidence pack: records with everything they rest on, for an auditor; of one part, of named records, or of a sample.

Entries that several records rest on stand once in the attached file, in the
form that their hashes are taken over, so that anybody can take them again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from ndi.domain import facts as f
from ndi.domain.errors import InputError
from ndi.services import evidence_tables as tables
from ndi.services import paper_blocks as b
from ndi.services.annotating import annotated
from ndi.services.judging import Judgement, judge
from ndi.services.lookup import about, every
from ndi.services.paper_record import record_text
from ndi.services.paper_text import local_text
from ndi.services.ports import Session
from ndi.services.record_report import record_model
from ndi.services.report_models import Labelled, PictureModel, SheetTable
from ndi.services.sampling import Sample
from ndi.services.typed_recording import part_named
from ndi.services.workplace import Workplace

READ, CHAIN = "record read", "entry of the chain walked"
THUMBNAIL = 900  # pixels along the longer edge
HOW_TO_CHECK = (
    "The SHA-256 over the UTF-8 bytes of an entry's text is its hash; the text names the hash of the entry before it. "
    "The attached file holds the text of every entry named here.",
    "The signature of an entry is its station's Ed25519 signature over that hash; the stations' keys are entries too, and "
    "they are in the attached file.",
    "ndi verify BOOK --against HEAD, with the head at the foot of this page, shows that the book still holds this chain.",
    "This shows that nothing was changed, taken out or put in between. It does not show that what was typed was true, "
    "and whoever holds a station's key could have written another chain.",
)


@dataclass(frozen=True)
class _Read:
    """One record as it goes into the pack."""

    name: str
    word: str
    blocks: tuple[b.Block, ...]
    positions: tuple[int, ...]
    photographs: tuple[str, ...]


def pack_of_part(work: Workplace, part: str, progress: b.Progress = b.unheard) -> b.PaperModel:
    """Every record of one part or lot; NotFound, InputError for a part without a record."""
    with work.look() as session:
        row = part_named(session, part)
        names = [each.inspection for each in session.inspections(part=row.part)]
    if not names:
        raise InputError(f"{part} has no record: nothing was inspected of it")
    return evidence_pack(work, names, f"part {part}", progress=progress)


def pack_of_sample(work: Workplace, sample: Sample, progress: b.Progress = b.unheard) -> b.PaperModel:
    """The records of a sample, with what it takes to draw it again."""
    subject = f"sample of {len(sample.drawn)} from {sample.population} records, drawn by {sample.seed}"
    return evidence_pack(work, sample.drawn, subject, sample=sample, progress=progress)


def evidence_pack(
    work: Workplace,
    names: Sequence[str],
    subject: str,
    *,
    sample: Sample | None = None,
    progress: b.Progress = b.unheard,
) -> b.PaperModel:
    """The pack of some records, each read once and in this order, as the book stands."""
    with work.book.session(readonly=True) as session:
        read = []
        for number, name in enumerate(names, start=1):
            read.append(_read(work, session, name))
            progress(READ, number, len(names))
        head = str(session.head())
        keys = [r.position for r in every(session, f.StationKeyEntered)]  # what the signatures are checked with
        seals = session.seals([*keys, *(position for each in read for position in each.positions)])
        hashes = {seal.position: seal.hash for seal in seals}
        progress(CHAIN, 0, session.head().position)
        chain = work.check_chain() if work.check_chain is not None else None
        walked = "The chain was not walked: this book was opened without it." if chain is None else chain.says
        told = {
            "sample": _sample_told(sample),
            "chain": {"walked": walked, "how_to_check": list(HOW_TO_CHECK)},
            "records": [
                {
                    "record": each.name,
                    "word": each.word,
                    "entries": list(each.positions),
                    "digest": _digest(each.positions, hashes),
                    "photographs": list(each.photographs),
                }
                for each in read
            ],
            "entries": [
                {"position": s.position, "text": s.text, "hash": s.hash, "station": s.station, "signature": s.signature}
                for s in seals
            ],
        }
        return b.PaperModel(
            title="EVIDENCE PACK",
            subject=subject,
            book_id=work.book.book_id,
            practice=work.practice,
            printed_at=local_text(work.now()),
            head=head,
            blocks=(
                *_front(read, sample, hashes),
                b.Heading("The chain"),
                b.Text(walked),
                b.Bullets(HOW_TO_CHECK),
                *(block for each in read for block in each.blocks),
            ),
            record=record_text(work, session, "evidence pack", told),
            footer="Evidence of inspections. Not a release document; other inspections and work may be open.",
        )


def _read(work: Workplace, session: Session, name: str) -> _Read:
    judgement = judge(work, session, name)
    positions = _positions(session, judgement)
    model = record_model(work, session, name, judgement)
    pictures, lost = _photographs(work, session, name)
    rested = [r for r in judgement.inquiry.facts if r.position in set(positions)]
    blocks: tuple[b.Block, ...] = (
        b.RecordBlock(replace(model, pictures=pictures)),
        *(
            ()
            if not lost
            else (b.Text(f"Named in the record and not in the archive of this book: {', '.join(lost)}."),)
        ),
        *tables.certificates(rested),
        b.Text(f"Entries that this record rests on, {len(positions)}: {ranges(positions)}.", small=True),
    )
    shas = dict.fromkeys(r.fact.sha256 for r in about(session, f.PhotoAttached, name))
    return _Read(name, model.word, blocks, positions, tuple(shas))


def _positions(session: Session, judgement: Judgement) -> tuple[int, ...]:
    """What its answers were read from, what was recorded about it, what was signed on it."""
    own = {recorded.position for recorded in session.facts(judgement.inspection)}
    return tuple(sorted(own | {position for answer in judgement.answers for position in answer.facts}))


def _in_groups(digest: str) -> str:
    """A whole hash in groups of eight, so that it breaks between lines and can be compared by eye."""
    return " ".join(digest[start : start + 8] for start in range(0, len(digest), 8))


def _photographs(work: Workplace, session: Session, name: str) -> tuple[tuple[PictureModel, ...], tuple[str, ...]]:
    pictures, lost = [], []
    for recorded in about(session, f.PhotoAttached, name):
        fact, archive = recorded.fact, work.photographs
        if fact.size is not None and archive is not None and archive.holds(fact.sha256):
            caption = ", ".join(
                filter(
                    None,
                    (
                        fact.indication or name,
                        local_text(fact.taken_at),
                        fact.light,
                        f"sha256 {_in_groups(fact.sha256)}",
                    ),
                )
            )
            pictures.append(PictureModel(annotated(work, session, fact.sha256, name, edge=THUMBNAIL), caption))
        else:
            lost.append(fact.sha256[:16])
    return tuple(pictures), tuple(lost)


def _front(read: Sequence[_Read], sample: Sample | None, hashes: dict[int, str]) -> Iterator[b.Block]:
    if sample is not None:
        yield b.Pairs(
            (
                Labelled("Drawn by (seed)", sample.seed),
                Labelled("Drawn from", f"{sample.population} {sample.choice.words}"),
                Labelled("Drawn", f"{len(sample.drawn)} records"),
                Labelled("Names drawn from", f"SHA-256 {sample.digest}"),
            )
        )
        yield b.Text(
            "Of the names drawn from, those come first whose SHA-256 over seed, colon, name is the smallest; anybody can "
            "draw them again.",
            small=True,
        )
    rows = tuple(
        (each.name, each.word, str(len(each.positions)), str(len(each.photographs)), _digest(each.positions, hashes))
        for each in read
    )
    columns = (
        ("Record", 0.12),
        ("Stands", 0.26),
        ("Entries", 0.09),
        ("Photographs", 0.13),
        ("SHA-256 over the hashes of its entries", 0.4),
    )
    yield SheetTable(f"{len(rows)} record{'' if len(rows) == 1 else 's'}", columns, rows)


def _digest(positions: Iterable[int], hashes: dict[int, str]) -> str:
    """One hash over the hashes of some entries, in hexadecimal, one a line."""
    return hashlib.sha256("\n".join(hashes[position] for position in positions).encode()).hexdigest()


def ranges(positions: Sequence[int]) -> str:
    """``1-4, 9, 12-13`` of sorted numbers."""
    said: list[str] = []
    start = 0
    for number in range(1, len(positions) + 1):
        if number == len(positions) or positions[number] != positions[number - 1] + 1:
            first, last = positions[start], positions[number - 1]
            said.append(str(first) if first == last else f"{first}-{last}")
            start = number
    return ", ".join(said)


def _sample_told(sample: Sample | None) -> dict[str, object] | None:
    if sample is None:
        return None
    return {
        "seed": sample.seed,
        "population": sample.population,
        "population_sha256": sample.digest,
        "from": sample.choice.words,
        "drawn": list(sample.drawn),
    }
