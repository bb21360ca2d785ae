"""Photographs at the desk: which there are, one of them large, what is marked on it, lengths, the layer beside it, proposals."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.errors import InputError, NotFound
from ndi.domain.quantity import PERCENT, Number, dimension
from ndi.gui.presenters.desk.acts import Act, Field, Form
from ndi.gui.presenters.desk.listing import Column, Labelled, Listing, Row
from ndi.gui.presenters.desk.photograph_intake import attach_form
from ndi.services import annotating, candidates, photographs
from ndi.services.assemble import inquiry_for
from ndi.services.lookup import about
from ndi.services.measuring import Marked, measure
from ndi.services.photo_lengths import outline_place, place_from_datum, read_attached, record_length
from ndi.services.photograph_words import measured_in_words, read_in_words
from ndi.services.picture_ports import PictureRead
from ndi.services.ports import DrawnShape, Session
from ndi.services.workplace import Workplace
from ndi.services.zone_photographs import zone_photographs

Place = tuple[float, float]  # shares of width and height from the upper left corner
LINE, WIDTH, AXIS, DATUM, OUTLINE = "line", "width", "axis", "datum", "outline"
MEASURES = (LINE, WIDTH, AXIS, DATUM)
TOOLS = (*MEASURES, OUTLINE, *(str(shape) for shape in annotating.Shape))
POINTS_OF = {
    WIDTH: 2,
    AXIS: 2,
    DATUM: 2,
    "arrow": 2,
    "circle": 2,
    "text": 1,
    "scale bar": 2,
}  # at most; a line has any number

COLUMNS = (
    Column("Taken", 16),
    Column("Record", 8),
    Column("Of", 12, stretch=True),
    Column("Scale", 8),
)


@dataclass(frozen=True)
class Drawn:
    """Something shown over the picture: closed or open, with its label."""

    points: tuple[Place, ...]
    label: str = ""
    closed: bool = False
    is_dim: bool = False


@dataclass(frozen=True)
class Opened:
    """One photograph as it is shown: its size upright, what is said of it, what lies over it."""

    key: str
    width: int
    height: int
    lines: tuple[Labelled, ...]
    shapes: tuple[DrawnShape, ...]
    measured: tuple[Drawn, ...]
    proposed: tuple[Drawn, ...]


@dataclass
class Marks:
    """What a person has marked so far, by tool."""

    points: dict[str, list[Place]] = field(default_factory=dict)

    def add(self, tool: str, place: Place) -> None:
        """One more point; a tool that has all its points begins anew."""
        held = self.points.setdefault(tool, [])
        if len(held) == POINTS_OF.get(tool, len(held) + 1):
            held.clear()
        held.append(place)

    def drop(self, tool: str) -> None:
        """Take the last point of a tool away."""
        if self.points.get(tool):
            self.points[tool].pop()

    def of(self, tool: str) -> tuple[Place, ...]:
        return tuple(self.points.get(tool, ()))


class Photographs:
    """``who`` says who stands at the desk.  What was read off a picture is kept for the one that is open."""

    def __init__(self, work: Workplace, who: Callable[[], str]) -> None:
        self._work, self._who = work, who
        self._read: tuple[str, PictureRead] | None = None

    # --- what there is ------------------------------------------------------------------------------

    def listing(self, text: str = "") -> Listing:
        """Every photograph of the book whose file was kept, newest first; ``text`` is looked for in its row."""
        with self._work.book.session(readonly=True) as session:
            found = sorted(photographs.archived(session), key=lambda r: (r.fact.taken_at.at, r.position), reverse=True)
            rows = [self._row(session, recorded) for recorded in found]
        wanted = text.casefold().split()
        kept = tuple(row for row in rows if all(word in " ".join(row.cells).casefold() for word in wanted))
        return Listing(
            COLUMNS, kept, "No photograph was put into the archive of this book." if not rows else "None fits."
        )

    def same_zone(self, key: str) -> Listing:
        """The last five of the same zone of the same part number, on other records."""
        with self._work.book.session(readonly=True) as session:
            photo = self._attached(session, key).fact
            if photo.indication is None:
                raise InputError("this photograph belongs to no indication, so to no zone")
            others = {each.sha256 for each in zone_photographs(self._work, session, photo.indication)}
            found = [r for r in photographs.archived(session) if r.fact.sha256 in others]
            found.sort(key=lambda r: (r.fact.taken_at.at, r.position), reverse=True)
            return Listing(
                COLUMNS, tuple(self._row(session, r) for r in found), "No other of this zone and part number."
            )

    def _row(self, session: Session, recorded: Recorded[f.PhotoAttached]) -> Row:
        photo = recorded.fact
        card = {None: "not looked", photographs.NO_CARD: "no card"}.get(photo.card, f"card {photo.card}")
        cells = (
            f"{photo.taken_at.local:%Y-%m-%d %H:%M}",
            photo.inspection,
            _about(session, photo),
            card,
        )
        return Row(cells, str(recorded.position))

    def attach_form(self, key: str = "") -> Form:
        """A picture file comes in; record and indication are those of the photograph that is open."""
        photo = None
        if key:
            with self._work.book.session(readonly=True) as session:
                photo = self._attached(session, key).fact
        return attach_form(
            self._work, self._who, photo.inspection if photo else "", (photo.indication or "") if photo else ""
        )

    # --- one of them --------------------------------------------------------------------------------

    def open(self, key: str) -> Opened:
        """A photograph with what the book says of it; NotFound, StoreError when its file is not what it was."""
        archive = photographs.archive_of(self._work)
        with self._work.book.session(readonly=True) as session:
            photo = self._attached(session, key).fact
            layer = annotating.layer_of(session, photo.sha256, photo.inspection)
            measured = [r.fact for r in about(session, f.PhotographMeasured, photo.sha256)]
            measured = [fact for fact in measured if fact.inspection == photo.inspection]
            lines = (
                Labelled("Photograph", f"{photo.original_name or 'without a name'}, {photo.sha256[:16]}"),
                Labelled("Taken", f"{photo.taken_at.local:%Y-%m-%d %H:%M:%S}{_camera(photo)}"),
                Labelled("Of", f"{photo.inspection} {_about(session, photo)}"),
                *(Labelled("Measured", f"{m.length_mm} +/- {m.uncertainty_mm}, {m.how}") for m in measured),
                *(Labelled("Drawn", annotating.in_words(r.fact)) for r in layer.drawn),
                *self._proposal_lines(session, photo),
            )
            proposed = self._proposed(session, photo)
        width, height = archive.upright_size(photo.sha256)
        lengths = tuple(Drawn(tuple(map(_place, m.marks)), str(m.length_mm)) for m in measured if len(m.marks) > 1)
        return Opened(key, width, height, lines, layer.shapes, lengths, proposed)

    def region(self, key: str, box: tuple[float, float, float, float], size: tuple[int, int]) -> bytes:
        """A part of the picture for the screen, as PPM."""
        with self._work.book.session(readonly=True) as session:
            sha256 = self._attached(session, key).fact.sha256
        return photographs.archive_of(self._work).region(sha256, box, size)

    def read(self, key: str) -> tuple[str, ...]:
        """What the program reads off the picture: cards, scale, codes."""
        return tuple(read_in_words(self._picture(key)))

    def _picture(self, key: str) -> PictureRead:
        if self._read is None or self._read[0] != key:
            with self._work.book.session(readonly=True) as session:
                sha256 = self._attached(session, key).fact.sha256
            self._read = key, read_attached(self._work, sha256)
        return self._read[1]

    def _attached(self, session: Session, key: str) -> Recorded[f.PhotoAttached]:
        found = [r for r in photographs.archived(session) if str(r.position) == key]
        if not found:
            raise NotFound("this photograph is not in the book any more: choose one from the list")
        return found[0]

    # --- lengths ------------------------------------------------------------------------------------

    def measure(self, key: str, marks: Marks) -> tuple[str, ...]:
        """Length and what else the marks give, with uncertainty and warnings; nothing is recorded."""
        read = self._picture(key)
        return tuple(measured_in_words(measure(read, _marked(marks, read))))

    def record_form(self, key: str, marks: Marks) -> Form:
        """Which indication it is, and what else is known; the act shows the length before it is recorded."""
        if len(marks.of(LINE)) < 2:
            raise InputError("mark the line from end to end first: choose 'line' and click along it")
        with self._work.book.session(readonly=True) as session:
            photo = self._attached(session, key).fact
            known = tuple(mark.id for mark in inquiry_for(self._work, session, photo.inspection).indications)
        fields = (
            Field("indication", "Indication", photo.indication or "", choices=known, free=False, needed=True),
            Field("radius", "Radius of the journal", hint="as 1.125 in; empty where it is flat"),
            Field("off", "Off the card's plane", hint="at most, as 2 mm; empty where it lies in it"),
            Field("camera", "From card to camera", hint="as 300 mm; empty where the camera wrote its lens"),
            Field("crack", "Crack is at most this wide", hint="as 0.1 mm; wider is bleed-out"),
            Field("place", "Place on the outline", hint="as 612 mm, 12 mm from the datum; empty if drawn"),
            Field("datum_at", "or the marked datum's", hint="with datum and axis marked: worked out from them"),
        )

        def act(values: Mapping[str, str]) -> Act:
            read = self._picture(key)
            marked = _marked(marks, read, values)
            said = tuple(measured_in_words(measure(read, marked)))
            indication = values["indication"].strip()
            if indication not in known:
                raise InputError(
                    f"{indication or 'nothing'} is no indication of {photo.inspection}: {', '.join(known)}"
                )
            person = self._who()
            place = outline_place(values["place"]) if values.get("place", "").strip() else None
            if place is None and values.get("datum_at", "").strip():
                place = place_from_datum(read, marked, outline_place(values["datum_at"]))

            def make(_proof: object) -> str:
                _, recorded = record_length(
                    self._work, photo.inspection, indication, photo.sha256, marked, person, place
                )
                return f"Recorded for {indication}, entry {recorded.position}; the larger of this and the length on the part counts."

            return Act(f"Length of {indication}", person, make, notes=said)

        return Form("Record this length", fields, act)

    # --- the layer ----------------------------------------------------------------------------------

    def draw_form(self, key: str, shape: str, marks: Marks) -> Form:
        """An arrow, a circle, a text or a scale bar beside the original."""
        if shape not in tuple(annotating.Shape):
            raise InputError(f"{shape} is measured with, not drawn: choose {', '.join(annotating.Shape)}")
        points = marks.of(shape)
        if len(points) < POINTS_OF[shape]:
            raise InputError(f"{shape}: click {POINTS_OF[shape]} point(s) on the picture first")
        is_bar = shape == annotating.Shape.SCALE_BAR
        fields = (
            (Field("length", "Stands for", hint="as 10 mm", needed=True),)
            if is_bar
            else (Field("text", "Text", needed=shape == annotating.Shape.TEXT),)
        )

        def act(values: Mapping[str, str]) -> Act:
            length = _length(values["length"], "Stands for") if is_bar else None
            text = (values.get("text") or "").strip() or None
            with self._work.book.session(readonly=True) as session:
                photo = self._attached(session, key).fact
            fact = f.PhotographAnnotated(
                photo.inspection, photo.sha256, "", shape, tuple(map(_in_book, points)), text, length
            )
            person = self._who()
            return Act(
                f"Draw {annotating.in_words(fact)}",
                person,
                lambda _proof: (
                    f"Drawn, entry {annotating.annotate(self._work, fact, person).position}; the original is as it was."
                ),
            )

        return Form(f"Draw: {shape}", fields, act)

    def erase_form(self, key: str) -> Form:
        """Take away something that was drawn; the entry that drew it stays."""
        with self._work.book.session(readonly=True) as session:
            photo = self._attached(session, key).fact
            drawn = {
                f"{r.fact.annotation}  {annotating.in_words(r.fact)}": r.fact.annotation
                for r in annotating.layer_of(session, photo.sha256, photo.inspection).drawn
            }
        if not drawn:
            raise InputError("nothing is drawn beside this photograph")

        def act(values: Mapping[str, str]) -> Act:
            name = drawn.get(values["what"])
            if name is None:
                raise InputError("choose what goes away from the list")
            person = self._who()
            return Act(
                f"Take away {values['what']}",
                person,
                lambda _proof: (
                    f"Taken away, entry {annotating.erase(self._work, photo.sha256, name, person).position}."
                ),
            )

        return Form("Take away", (Field("what", "Drawn", choices=tuple(drawn), free=False, needed=True),), act)

    # --- proposals ----------------------------------------------------------------------------------

    def propose_form(self, key: str) -> Form:
        """Have the program look for what may be an indication; never a finding."""
        with self._work.book.session(readonly=True) as session:
            photo = self._attached(session, key).fact
        looks = (Field("look", "Look", candidates.LOOKS[0], choices=candidates.LOOKS, free=False, needed=True),)

        def act(values: Mapping[str, str]) -> Act:
            person = self._who()

            def make(_proof: object) -> str:
                recorded = candidates.propose(self._work, photo.inspection, photo.sha256, values["look"], person)
                fact = recorded.fact
                assert isinstance(fact, f.CandidatesProposed)
                return (
                    f"{len(fact.candidates)} proposed, none of them a finding: look at each on the part and judge it."
                )

            return Act("Propose candidates", person, make)

        lines = ("fluorescent: yellow-green on dark; dark: dark or red on white",)
        return Form("Propose what may be an indication", looks, act, lines)

    def judge_form(self, key: str, marks: Marks) -> Form:
        """What became of one proposal: accepted, rejected, or redrawn with the outline that is marked."""
        with self._work.book.session(readonly=True) as session:
            photo = self._attached(session, key).fact
            left = candidates.standing(session, photo.inspection, photo.sha256).open
            known = tuple(mark.id for mark in inquiry_for(self._work, session, photo.inspection).indications)
        numbers = tuple(str(each.number) for each in left)
        if not numbers:
            raise InputError("every proposal was judged")
        fields = (
            Field("number", "Proposal", numbers[0], choices=numbers, free=False, needed=True),
            Field("outcome", "It is", choices=candidates.OUTCOMES, free=False, needed=True),
            Field("indication", "Indication", photo.indication or "", choices=known, hint="accepted or redrawn"),
            Field("reason", "What it is", hint="rejected: lint, scratch, drip ..., as seen on the part"),
        )

        def act(values: Mapping[str, str]) -> Act:
            person, outcome = self._who(), values["outcome"]
            if values["number"] not in numbers:
                raise InputError(f"proposal {values['number'] or '(none)'}: choose one of {', '.join(numbers)}")
            drawn = tuple(map(_in_book, marks.of(OUTLINE))) if outcome == candidates.REDRAWN else ()

            def make(_proof: object) -> str:
                candidates.judge_candidate(
                    self._work,
                    photo.inspection,
                    photo.sha256,
                    int(values["number"]),
                    outcome,
                    person,
                    indication=(values["indication"].strip() or None) if outcome != candidates.REJECTED else None,
                    reason=values["reason"],
                    outline=drawn,
                )
                return f"Proposal {values['number']} {outcome}."

            return Act(f"Proposal {values['number']}: {outcome}", person, make)

        return Form("What became of a proposal", fields, act)

    def _standing(self, session: Session, photo: f.PhotoAttached) -> candidates.Standing | None:
        try:
            return candidates.standing(session, photo.inspection, photo.sha256)
        except NotFound:
            return None

    def _proposed(self, session: Session, photo: f.PhotoAttached) -> tuple[Drawn, ...]:
        found = self._standing(session, photo)
        if found is None:
            return ()
        drawn = []
        for each in found.proposed.fact.candidates:
            judged = found.judged.get(each.number)
            outline = judged.fact.outline if judged is not None and judged.fact.outline else each.outline
            is_rejected = judged is not None and judged.fact.outcome == candidates.REJECTED
            word = f"{each.number}" if judged is None else f"{each.number} {judged.fact.outcome}"
            drawn.append(Drawn(tuple(map(_place, outline)), word, True, is_rejected))
        return tuple(drawn)

    def _proposal_lines(self, session: Session, photo: f.PhotoAttached) -> tuple[Labelled, ...]:
        found = self._standing(session, photo)
        if found is None:
            return ()
        every = found.proposed.fact.candidates
        return (
            Labelled("Proposals", f"{len(every)} by the program, {len(found.open)} not judged yet; none is a finding"),
        )


# --- small things -----------------------------------------------------------------------------------


def _about(session: Session, photo: f.PhotoAttached) -> str:
    if photo.indication is None:
        return "whole record"
    seen = about(session, f.IndicationSeen, photo.indication)
    zone = seen[-1].fact.zone if seen else None
    return f"{photo.indication.rpartition('/')[2]} {zone or ''}".strip()


def _camera(photo: f.PhotoAttached) -> str:
    return f", {photo.camera}" if photo.camera else ""


def _place(point: f.PicturePoint) -> Place:
    return float(point.x.in_unit("%") / PERCENT), float(point.y.in_unit("%") / PERCENT)


def _in_book(place: Place) -> f.PicturePoint:
    x, y = (Number(f"{min(max(share, 0.0), 1.0) * 100:.4f}", "%") for share in place)
    return f.PicturePoint(x, y)


def _marked(marks: Marks, read: PictureRead, values: Mapping[str, str] | None = None) -> Marked:
    """Shares of the picture as pixels of it."""

    def pixels(tool: str) -> tuple[Place, ...]:
        return tuple((x * read.width, y * read.height) for x, y in marks.of(tool))

    given = values or {}
    return Marked(
        (pixels(LINE),),
        pixels(WIDTH),
        pixels(AXIS),
        pixels(DATUM),
        radius_mm=_millimetres(given.get("radius", ""), "Radius"),
        off_plane_mm=_millimetres(given.get("off", ""), "Off the plane"),
        camera_mm=_millimetres(given.get("camera", ""), "From card to camera"),
        crack_mm=_millimetres(given.get("crack", ""), "Crack"),
    )


def _millimetres(text: str, label: str) -> float | None:
    return None if not text.strip() else float(_length(text, label).in_unit("mm"))


def _length(text: str, label: str) -> Number:
    """``1.125 in`` as a number with its unit; InputError without one."""
    figures, _, unit = text.strip().partition(" ")
    try:
        number = Number(figures, unit.strip())
        if dimension(number.unit) != "length":
            raise ValueError
    except ValueError:
        raise InputError(f"{label}: {text!r} is no length; type it with its unit, as 10 mm or 0.4 in") from None
    return number
