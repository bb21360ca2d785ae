"""The one list of what can be recorded.

Each class is a kind of entry: its name is the kind's name in the book, its
``VERSION`` the kind's version, its fields the body.  ``SUBJECTS`` names the
fields under which the fact is found again (a field may be a tuple of keys).
Fields that a person may not know are optional: an absent field is *not
recorded*, never a default.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from typing import ClassVar

from ndi.domain.moment import Moment
from ndi.domain.quantity import Number


class Fact:
    """Base of every kind of entry."""

    VERSION: ClassVar[int] = 1
    SUBJECTS: ClassVar[tuple[str, ...]] = ()

    def subjects(self) -> tuple[str, ...]:
        """The keys under which this fact is found, without repeats, in field order."""
        return self._subjects

    @cached_property
    def _subjects(self) -> tuple[str, ...]:
        keys: list[str] = []
        for name in self.SUBJECTS:
            value = getattr(self, name)
            for key in value if isinstance(value, tuple) else (value,):
                if key and key not in keys:
                    keys.append(key)
        return tuple(keys)


# --- the book itself ------------------------------------------------------------------------------


@dataclass(frozen=True)
class BookBegun(Fact):
    """First entry: the book's id, the shop's station code and the practice mark."""

    SUBJECTS = ("book",)
    book: str
    shop: str
    practice: bool


@dataclass(frozen=True)
class StationKeyEntered(Fact):
    """The public half of a station's signing key (hex); the private half stays outside the book."""

    SUBJECTS = ("station",)
    station: str
    public_key: str


@dataclass(frozen=True)
class DocumentAdopted(Fact):
    """A procedure, technique sheet or part master as a Level III adopted it: full text and hash."""

    SUBJECTS = ("document",)
    document: str  # "procedure", "technique" or "part"
    number: str
    revision: str
    method: str | None
    content: str
    sha256: str
    proof: str | None = None


@dataclass(frozen=True)
class ActionRefused(Fact):
    """Somebody asked for something and the rules said no; kept because a refusal is evidence too."""

    SUBJECTS = ("subject", "person")
    action: str
    person: str
    subject: str
    rules: tuple[str, ...]
    message: str


# --- people ---------------------------------------------------------------------------------------


@dataclass(frozen=True)
class PersonEntered(Fact):
    SUBJECTS = ("person",)
    person: str
    roles: tuple[str, ...]
    shift_start: str | None = None
    shift_end: str | None = None


@dataclass(frozen=True)
class CertificateEntered(Fact):
    SUBJECTS = ("person",)
    person: str
    method: str
    level: int
    issued: date
    expires: date
    entered_by: str | None = None
    confirmed_by: str | None = None
    exception: str | None = None  # why nobody else confirmed it


@dataclass(frozen=True)
class VisionExamEntered(Fact):
    SUBJECTS = ("person",)
    person: str
    examined: date
    expires: date  # counts as a valid day
    entered_by: str | None = None
    confirmed_by: str | None = None
    exception: str | None = None


@dataclass(frozen=True)
class AuthorisationEntered(Fact):
    SUBJECTS = ("person",)
    person: str
    technique: str
    valid_from: date
    valid_to: date | None = None
    entered_by: str | None = None
    confirmed_by: str | None = None
    exception: str | None = None


@dataclass(frozen=True)
class RevisionRead(Fact):
    """The person read and understood a procedure revision."""

    SUBJECTS = ("person",)
    person: str
    procedure: str
    revision: str


@dataclass(frozen=True)
class CheckedIn(Fact):
    SUBJECTS = ("person", "station")
    person: str
    station: str | None
    clear_glasses: bool | None  # declaration: no photochromic or tinted lenses
    tasks: tuple[str, ...] = ()


@dataclass(frozen=True)
class CheckedOut(Fact):
    SUBJECTS = ("person",)
    person: str


# --- secrets, codes, badges, and qualifications on their way into the book -----------------------------


@dataclass(frozen=True)
class SetUpSigned(Fact):
    """The two persons with whom a book begins; both typed their own secret.

    The one exception to the rule that a qualification is confirmed by somebody
    else than its holder: at set-up nobody else is there.
    """

    SUBJECTS = ("administrator", "level_three")
    administrator: str
    level_three: str
    exception: str


@dataclass(frozen=True)
class PersonRemoved(Fact):
    """From ``valid_from`` on (that day included) the person signs nothing; earlier signatures stand."""

    SUBJECTS = ("person",)
    person: str
    reason: str
    valid_from: date


@dataclass(frozen=True)
class BadgeAssigned(Fact):
    SUBJECTS = ("person", "badge")
    person: str
    badge: str


@dataclass(frozen=True)
class SecretSet(Fact):
    """A person chose a secret of their own; kept is only what a typed secret is compared with."""

    SUBJECTS = ("person",)
    person: str
    kind: str  # pin, password
    verifier: str = field(repr=False)  # never shown; leaves the book only in a copy of the whole of it
    how: str | None = None  # set-up, one-time code, own secret
    code: str | None = None  # the one-time code that was used up


@dataclass(frozen=True)
class SecretTried(Fact):
    """Somebody typed a secret.  ``waiting``: it was not looked at, the person had to wait.

    ``soon_after``: another person, whose secret was typed right on this station only seconds before.
    """

    SUBJECTS = ("person",)
    person: str
    station: str
    right: bool
    waiting: bool = False
    soon_after: str | None = None


@dataclass(frozen=True)
class OneTimeCodeIssued(Fact):
    SUBJECTS = ("code", "person")
    code: str  # its name, not what is typed
    person: str
    issued_by: str
    verifier: str = field(repr=False)
    expires: Moment


@dataclass(frozen=True)
class OneTimeCodeConfirmed(Fact):
    SUBJECTS = ("code", "person")
    code: str
    person: str
    confirmed_by: str
    proof: str | None = None


@dataclass(frozen=True)
class QualificationProposed(Fact):
    """A certificate, vision examination or authorisation as one person entered it; it counts once another confirmed it."""

    SUBJECTS = ("proposal", "person")
    proposal: str
    person: str
    kind: str  # certificate, vision, authorisation
    entered_by: str
    valid_from: date  # issued, examined, authorised from
    valid_to: date | None = None
    method: str | None = None
    level: int | None = None
    technique: str | None = None
    proof: str | None = None


@dataclass(frozen=True)
class QualificationConfirmed(Fact):
    SUBJECTS = ("proposal", "person")
    proposal: str
    person: str
    confirmed_by: str
    proof: str | None = None
    meaning: str | None = None
    covers: tuple[str, ...] | None = None


# --- equipment, readings, checks, materials -------------------------------------------------------


@dataclass(frozen=True)
class EquipmentEntered(Fact):
    SUBJECTS = ("equipment",)
    equipment: str
    kind: str  # lamp, bench, meter, bath, dryer, tank, panel, station ...
    place: str | None = None
    battery_powered: bool | None = None
    lamp_type: str | None = None  # mercury, LED, tube
    vehicle: str | None = None  # oil, water
    current_type: str | None = None
    max_amps: Number | None = None
    coil_turns: int | None = None
    coil_diameter: Number | None = None
    tank_bath: str | None = None  # the bath that a bench runs
    line: str | None = None  # the penetrant line that a panel proves
    wash_station: str | None = None  # of a penetrant line
    water: str | None = None  # supply whose temperature and pressure are read, of a penetrant line
    dryer: str | None = None  # of a penetrant line


@dataclass(frozen=True)
class CalibrationRecorded(Fact):
    """``as_found_error_percent`` is signed: +9 means that it read 9 % high.

    For a guard band, the uncertainty that the certificate allows its readings: in
    percent, in their own unit (of a temperature in ddegF or ddegC), or both together.
    """

    SUBJECTS = ("equipment",)
    equipment: str
    item: str
    done: date
    due: date
    result: str
    as_found_error_percent: Number | None = None
    uncertainty_percent: Number | None = None
    uncertainty: Number | None = None


@dataclass(frozen=True)
class EquipmentSwitched(Fact):
    SUBJECTS = ("equipment",)
    equipment: str
    state: str  # on, off


@dataclass(frozen=True)
class EquipmentStatusSet(Fact):
    SUBJECTS = ("equipment",)
    equipment: str
    state: str  # in service, withdrawn, repair
    reason: str


@dataclass(frozen=True)
class MeterSelected(Fact):
    SUBJECTS = ("meter",)
    meter: str
    station: str | None = None


@dataclass(frozen=True)
class ReadingRecorded(Fact):
    """Any number from a meter or an eye."""

    SUBJECTS = ("object", "meter")
    object: str
    quantity: str
    value: Number
    condition: str | None = None
    meter: str | None = None
    distance: Number | None = None
    screen_on: bool | None = None
    contamination: Number | None = None
    demagnetised: bool | None = None  # bath sample
    note: str | None = None
    zone: str | None = None  # of the part, where the meter lay on its surface


@dataclass(frozen=True)
class BathSampled(Fact):
    """A sample was drawn and set to settle."""

    SUBJECTS = ("bath",)
    bath: str
    demagnetised: bool | None


@dataclass(frozen=True)
class ProcessCheckRecorded(Fact):
    SUBJECTS = ("object", "line")
    check: str
    object: str
    passed: bool
    line: str | None = None
    batches: tuple[str, ...] = ()
    meter: str | None = None
    compared_with_reference: bool | None = None
    holes: int | None = None
    amps: Number | None = None
    detail: str | None = None
    dark_before: bool | None = None  # panel: nothing showed on it before the penetrant of today
    ahead: Number | None = None  # clock offsets: by how much the clock of a camera was ahead of the station's


@dataclass(frozen=True)
class BatchEntered(Fact):
    SUBJECTS = ("batch",)
    batch: str
    material: str  # penetrant, remover, developer, bath
    expires: date
    system: str | None = None
    type: str | None = None
    method: str | None = None
    sensitivity: str | None = None
    form: str | None = None
    alloys: tuple[str, ...] = ()
    nominal_percent: Number | None = None


@dataclass(frozen=True)
class TankFilled(Fact):
    """From this time on the line (or bench) draws on this set of batches."""

    SUBJECTS = ("line",)
    line: str
    batches: tuple[str, ...]


@dataclass(frozen=True)
class HandoverAcknowledged(Fact):
    """Whoever takes over has read one line of what was still open; ``line`` as it was shown, ``about`` what it is about."""

    SUBJECTS = ("person", "about")
    person: str
    day: date
    about: str
    line: str


@dataclass(frozen=True)
class ShiftMarked(Fact):
    """Opening or closing entry of the shift of a line or booth."""

    SUBJECTS = ("station",)
    station: str
    mark: str  # opened, closed


# --- work orders and parts ------------------------------------------------------------------------


@dataclass(frozen=True)
class WorkOrderOpened(Fact):
    SUBJECTS = ("work_order",)
    work_order: str
    engine_model: str
    engine_serial: str
    reason: str
    limits_basis: str
    time_since_new: str | None = None
    time_since_overhaul: str | None = None


@dataclass(frozen=True)
class DirectivesConfirmed(Fact):
    """The list of directives and bulletins for this engine was drawn up (it may be empty)."""

    SUBJECTS = ("work_order",)
    work_order: str
    lines: tuple[str, ...]
    answered: tuple[str, ...] = ()


@dataclass(frozen=True)
class PartListed(Fact):
    """A line of the receiving list; ``reason_code`` says why a piece gets no inspection."""

    SUBJECTS = ("work_order", "part")
    part: str
    work_order: str
    part_no: str
    quantity: int
    serial: str | None = None
    lot: str | None = None
    description: str | None = None
    reason_code: str | None = None


@dataclass(frozen=True)
class PartReceived(Fact):
    """The piece (or lot) was identified on the floor and counted.

    ``told_apart``: the feature by which it was told from a look-alike of the same engine.
    """

    SUBJECTS = ("part", "work_order")
    part: str
    work_order: str
    quantity: int
    typed_twice: bool | None = None
    scanned: bool | None = None
    pre_clean_visual: bool | None = None
    told_apart: str | None = None


@dataclass(frozen=True)
class CoatingMeasured(Fact):
    """A plating or other coating as found on one zone of a piece (all zones where none is named)."""

    SUBJECTS = ("part",)
    part: str
    coating: str  # chrome, nickel, cadmium, paint, none ...
    thickness: Number | None
    zone: str | None = None
    meter: str | None = None


@dataclass(frozen=True)
class PartMoved(Fact):
    """A location scan; ``handling`` tells whether the part was touched or cleaned there."""

    SUBJECTS = ("part",)
    part: str
    place: str
    quantity: int | None = None
    piece: str | None = None  # of a lot
    reason: str | None = None  # why it leaves for assembly, stores or the owner while no acceptance stands


# --- inspections ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class InspectionOpened(Fact):
    """One method on one part or lot; pins the revisions in force at its first step."""

    SUBJECTS = ("inspection", "part")
    inspection: str
    part: str
    work_order: str
    quantity: int
    method: str
    technique: str
    technique_revision: str
    procedure: str
    procedure_revision: str
    inspector: str
    station: str | None = None
    reason: str = "first"  # first, rework
    previous: str | None = None


@dataclass(frozen=True)
class ConfirmationGiven(Fact):
    """A tick: somebody confirms something about an inspection, a basket step or a station."""

    SUBJECTS = ("about",)
    about: str
    item: str
    value: str = "yes"
    attempt: int | None = None


@dataclass(frozen=True)
class PlugsCounted(Fact):
    SUBJECTS = ("inspection",)
    inspection: str
    direction: str  # in, out
    count: int


@dataclass(frozen=True)
class BasketLoaded(Fact):
    """The inspections whose parts share this basket's time line, as attempt ``attempt`` of each.

    ``mixed_orders``: they are of more than one work order, and somebody said that this is meant.
    """

    SUBJECTS = ("basket", "inspections")
    basket: str
    method: str
    line: str
    inspections: tuple[str, ...]
    attempt: int
    mixed_orders: bool | None = None


@dataclass(frozen=True)
class StepStarted(Fact):
    """The first part entered the step."""

    SUBJECTS = ("on",)
    on: str  # basket or inspection
    step: str
    pieces: int | None = None


@dataclass(frozen=True)
class StepEnded(Fact):
    """The last part left the step."""

    SUBJECTS = ("on",)
    on: str
    step: str
    outcome: str | None = None


@dataclass(frozen=True)
class PieceTimed(Fact):
    """One part went through a step of its basket by itself, from ``began`` to the time of this entry."""

    SUBJECTS = ("on",)
    on: str  # basket
    step: str
    piece: str  # part key, or number of the piece in the basket
    began: Moment


@dataclass(frozen=True)
class StepObserved(Fact):
    SUBJECTS = ("on",)
    on: str
    step: str
    quantity: str
    value: Number


@dataclass(frozen=True)
class AttemptVoided(Fact):
    SUBJECTS = ("inspection", "basket")
    inspection: str
    basket: str
    attempt: int
    reason: str


@dataclass(frozen=True)
class BoothClosed(Fact):
    """Curtain closed, dark adaptation begins."""

    SUBJECTS = ("station", "person")
    station: str
    person: str


@dataclass(frozen=True)
class BreakMarked(Fact):
    """A person stops viewing for a rest, or comes back; views alone tell how long somebody has viewed."""

    SUBJECTS = ("person", "station")
    person: str
    mark: str  # began, ended
    station: str | None = None


@dataclass(frozen=True)
class ViewStarted(Fact):
    SUBJECTS = ("view", "inspection", "person", "station")
    view: str
    inspection: str
    person: str
    lamps: tuple[str, ...]
    kind: str
    station: str | None = None
    indication: str | None = None  # what a second look was asked to look at
    attempt: int = 1
    containment: str | None = None


@dataclass(frozen=True)
class ViewEnded(Fact):
    SUBJECTS = ("view", "inspection", "person", "station")
    view: str
    inspection: str
    zones: tuple[str, ...] = ()
    nothing_seen: bool | None = None
    background: str | None = None
    person: str | None = None
    station: str | None = None
    pieces: int | None = None  # taken in hand one by one and looked at


# --- magnetic particle ----------------------------------------------------------------------------


@dataclass(frozen=True)
class Pulse:
    amps: Number | None
    seconds: Number | None


@dataclass(frozen=True)
class ShotFired(Fact):
    """``shot`` is the number of the technique's shot that this one stands for.

    ``extension`` is the length added to the part in the coil, ``stacked`` the
    pieces put end to end, ``rotations`` the places round the bore at which a
    bar was put for this shot.
    """

    SUBJECTS = ("inspection", "bench")
    inspection: str
    bench: str
    shot: int
    pulses: tuple[Pulse, ...]
    current_type: str | None = None
    bath_mode: str | None = None
    coil_turns: int | None = None
    position: Number | None = None
    contact_zone: str | None = None
    extension: Number | None = None
    stacked: int | None = None
    rotations: int | None = None


@dataclass(frozen=True)
class ShotVoided(Fact):
    SUBJECTS = ("inspection",)
    inspection: str
    shot: int
    fired_at: Moment
    reason: str


@dataclass(frozen=True)
class FieldShown(Fact):
    """What a shim (QQI) or a Hall probe showed of the field at a point of the part while a shot was fired."""

    SUBJECTS = ("inspection", "meter")
    inspection: str
    point: str
    how: str  # QQI, Hall probe
    clear: bool | None = None  # QQI: its lines were all seen
    value: Number | None = None  # Hall probe: tangential field
    meter: str | None = None
    shot: int | None = None


@dataclass(frozen=True)
class Demagnetised(Fact):
    SUBJECTS = ("inspection",)
    inspection: str
    method: str


@dataclass(frozen=True)
class ResidualRead(Fact):
    SUBJECTS = ("inspection", "meter")
    inspection: str
    point: str
    value: Number
    meter: str | None = None
    away_from_bench: bool | None = None


# --- indications, second looks, rework ------------------------------------------------------------


@dataclass(frozen=True)
class Mark:
    """One mark of a group: centre and size on the part's surface."""

    name: str
    x: Number
    y: Number
    length: Number
    width: Number


@dataclass(frozen=True)
class Stroke:
    """A freehand line on the outline: points from the datum, y upwards."""

    points: tuple[tuple[Number, Number], ...]


@dataclass(frozen=True)
class IndicationSeen(Fact):
    SUBJECTS = ("indication", "inspection")
    indication: str
    inspection: str
    zone: str | None
    position: str | None
    form: str | None
    length: Number | None
    width: Number | None
    orientation: str | None = None
    clock: Number | None = None
    piece: str | None = None  # the piece of a lot that carries it
    seen_under: str | None = None
    marks: tuple[Mark, ...] = ()
    x_mm: Number | None = None
    y_mm: Number | None = None
    strokes: tuple[Stroke, ...] = ()


@dataclass(frozen=True)
class IndicationTested(Fact):
    """A step of evidence: wiped, demagnetised, re-shot, redeveloped, described; and what was seen."""

    SUBJECTS = ("indication",)
    indication: str
    step: str  # wiped, demagnetised, re-shot, redeveloped, described
    outcome: str | None = None  # returned, gone


@dataclass(frozen=True)
class IndicationInterpreted(Fact):
    SUBJECTS = ("indication",)
    indication: str
    interpretation: str
    basis: str
    type: str | None = None


@dataclass(frozen=True)
class IndicationEvaluated(Fact):
    SUBJECTS = ("indication",)
    indication: str
    evaluation: str  # within limit, over limit, no limit in data, not applicable
    limit: str | None = None


@dataclass(frozen=True)
class PhotoAttached(Fact):
    SUBJECTS = ("inspection", "indication", "sha256")
    inspection: str
    sha256: str
    taken_at: Moment
    indication: str | None = None
    scale_in_frame: bool | None = None
    tag_in_frame: str | None = None
    light: str | None = None
    reuse_reason: str | None = None
    # what the file itself says; ``size`` is there when its bytes were put into the archive, and only then
    size: int | None = None  # bytes
    media_type: str | None = None
    original_name: str | None = None
    camera: str | None = None
    camera_time: Moment | None = None  # as the camera wrote it, not corrected
    camera_ahead_s: int | None = None  # how far the camera's clock was ahead; ``taken_at`` is corrected by it
    width: int | None = None  # pixels as stored
    height: int | None = None
    # what was read off the picture; None where nobody looked
    codes_read: tuple[str, ...] | None = None  # the shop's codes in the frame
    card: str | None = None  # the size of the scale card in the frame; "none"
    perceptual_hash: str | None = None
    alike: tuple[str, ...] | None = None  # hashes of photographs on other records that look like this one saved anew


@dataclass(frozen=True)
class PicturePoint:
    """A place in a picture shown upright: share of its width from the left edge, of its height from the upper edge."""

    x: Number
    y: Number


@dataclass(frozen=True)
class PhotographMeasured(Fact):
    """A length taken from a photograph, beside the one measured on the part; the larger counts."""

    SUBJECTS = ("inspection", "indication", "sha256")
    inspection: str
    indication: str
    sha256: str
    length_mm: Number
    uncertainty_mm: Number  # half the width of the interval that holds the true length in 95 of 100 cases
    how: str  # what gave the scale: e.g. "card in the plane of the indication", "two points a known distance apart"
    marks: tuple[PicturePoint, ...] = ()  # the line that was measured, from end to end
    width_mm: Number | None = None
    # where it lies on the outline of the part, from its datum, where the photograph shows that
    x_mm: Number | None = None
    y_mm: Number | None = None
    angle: Number | None = None  # of its line against the part's axis
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class Candidate:
    """One thing that the program proposed in a photograph, by its number in the proposal; never a finding."""

    number: int
    form: str  # linear (longer than three times its width), rounded
    outline: tuple[PicturePoint, ...]
    line: tuple[PicturePoint, ...]  # its middle line
    strength: Number  # how far it stands out, in percent of the darkest to the brightest level
    length_mm: Number | None = None  # where a scale card lies in the frame
    width_mm: Number | None = None


@dataclass(frozen=True)
class CandidatesProposed(Fact):
    """What the program proposed in a photograph to be looked at on the part; says nothing of the part."""

    SUBJECTS = ("inspection", "sha256")
    inspection: str
    sha256: str
    look: str  # fluorescent, dark
    candidates: tuple[Candidate, ...]
    program: str  # its version: another one may propose otherwise


@dataclass(frozen=True)
class CandidateJudged(Fact):
    """What became of one proposal: the inspector looked at the part and accepted, rejected or redrew it."""

    SUBJECTS = ("inspection", "sha256", "indication")
    inspection: str
    sha256: str
    proposal: int  # position of the CandidatesProposed
    number: int
    outcome: str  # accepted, rejected, redrawn
    indication: str | None = None  # accepted and redrawn: the indication as the inspector recorded it
    reason: str | None = None  # rejected: what it is
    outline: tuple[PicturePoint, ...] = ()  # redrawn


@dataclass(frozen=True)
class PhotographAnnotated(Fact):
    """One thing drawn beside a photograph, never into it; ``erased`` takes away what was drawn under the same name."""

    SUBJECTS = ("inspection", "sha256")
    inspection: str
    sha256: str
    annotation: str  # its name: the first characters of the photograph's hash, and a number
    shape: str  # arrow, circle, text, scale bar
    points: tuple[PicturePoint, ...] = ()  # arrow: tail, head; circle: centre, rim; text: its place; bar: both ends
    text: str | None = None
    length: Number | None = None  # what a scale bar stands for
    erased: bool | None = None


@dataclass(frozen=True)
class SecondLookSaved(Fact):
    """The second person's own result, saved before the first was revealed."""

    SUBJECTS = ("second_look", "inspection", "indication", "person")
    second_look: str
    inspection: str
    person: str
    indication: str | None = None
    interpretation: str | None = None
    form: str | None = None
    length: Number | None = None
    none_seen: bool | None = None
    blind: bool = True
    proof: str | None = None


@dataclass(frozen=True)
class DisagreementResolved(Fact):
    SUBJECTS = ("indication", "inspection")
    inspection: str
    indication: str | None
    person: str
    decision: str
    proof: str | None = None


@dataclass(frozen=True)
class ReworkOrdered(Fact):
    SUBJECTS = ("inspection", "part")
    inspection: str
    part: str
    indication: str
    zone: str
    operation: str
    ordered_by: str
    proof: str | None = None


@dataclass(frozen=True)
class Dimension:
    name: str
    value: Number
    new_limit: Number | None = None
    service_limit: Number | None = None


@dataclass(frozen=True)
class ReworkStarted(Fact):
    SUBJECTS = ("inspection", "part")
    inspection: str
    part: str
    person: str


@dataclass(frozen=True)
class ReworkDone(Fact):
    SUBJECTS = ("inspection", "part")
    inspection: str
    part: str
    person: str
    zone: str
    depth: Number | None
    dimensions: tuple[Dimension, ...] = ()


@dataclass(frozen=True)
class EntryWithdrawn(Fact):
    """Undo: the entry at ``position`` was a mistake and is taken away at once; it is superseded by this one."""

    SUBJECTS = ("about",)
    kind: str
    position: int
    about: tuple[str, ...]


# --- decisions ------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Child:
    """A share of a lot with its own disposition; a single piece is named."""

    disposition: str
    quantity: int
    piece: str | None = None


@dataclass(frozen=True)
class KeptAnswer:
    """One line of a snapshot; texts are rendered again from the facts."""

    rule: str
    version: int
    verdict: str
    severity: str
    found: str
    limit: str
    facts: tuple[int, ...]


@dataclass(frozen=True)
class Reason:
    """Why a warning was accepted, by whom."""

    rule: str
    text: str
    person: str


@dataclass(frozen=True)
class DecisionSigned(Fact):
    """A disposition signed on a frozen snapshot of answers."""

    SUBJECTS = ("inspection", "part", "person")
    inspection: str
    part: str
    person: str
    certificate: str | None
    disposition: str
    children: tuple[Child, ...]
    provisional: bool
    answers: tuple[KeptAnswer, ...]
    reasons: tuple[Reason, ...]
    snapshot: str  # sha256 over the answers
    waits_for: str | None = None
    concession: str | None = None
    proof: str | None = None  # how the signer proved to be that person, and at which entry
    meaning: str | None = None  # performed, second look, verified, approved
    covers: tuple[str, ...] | None = None  # what the signer was shown


@dataclass(frozen=True)
class SecondSignature(Fact):
    """A second qualified person approves a disposition before it is signed (law 9)."""

    SUBJECTS = ("inspection", "person")
    inspection: str
    person: str
    disposition: str
    certificate: str
    proof: str | None = None
    meaning: str | None = None
    covers: tuple[str, ...] | None = None


@dataclass(frozen=True)
class DeviationSigned(Fact):
    SUBJECTS = ("inspection",)
    inspection: str
    rule: str
    person: str
    role: str
    justification: str
    expires: date
    proof: str | None = None


@dataclass(frozen=True)
class ConcessionGiven(Fact):
    """Engineering allows what the data in hand do not; reference, revision and conditions are printed."""

    SUBJECTS = ("inspection", "person")
    inspection: str
    reference: str
    revision: str
    conditions: str
    person: str
    proof: str | None = None


@dataclass(frozen=True)
class ReasonGiven(Fact):
    """A reason for a warning, before the decision."""

    SUBJECTS = ("inspection", "person")
    inspection: str
    rule: str
    text: str
    person: str


@dataclass(frozen=True)
class AcceptanceSuspended(Fact):
    SUBJECTS = ("inspection", "part")
    inspection: str
    part: str
    rules: tuple[str, ...]
    cause: int  # position of the fact that did it
    claim_only: bool = False  # REJECT / HOLD-ENG stand; only "no other indications" is suspended


@dataclass(frozen=True)
class AcceptanceRestored(Fact):
    """The facts that suspended it no longer hold and the old signature stands again."""

    SUBJECTS = ("inspection", "part")
    inspection: str
    part: str
    cause: int


@dataclass(frozen=True)
class ProvisionalCleared(Fact):
    """L11 went from NOT YET to PASS: the acceptance waits for nothing any more."""

    SUBJECTS = ("inspection", "part")
    inspection: str
    part: str
    cause: int


@dataclass(frozen=True)
class DecisionUndone(Fact):
    """A fact of the inspection was corrected after signature: ACCEPT to NO DECISION, tag void."""

    SUBJECTS = ("inspection", "part")
    inspection: str
    part: str
    cause: int


@dataclass(frozen=True)
class PartScrapped(Fact):
    """A piece was made unusable before a witness: the scrap register, found by part number for good."""

    SUBJECTS = ("part", "part_no", "person", "witness")
    part: str
    part_no: str
    serial: str | None
    person: str
    witness: str | None = None
    defaced: bool | None = None  # number struck out and piece cut or crushed
    photo: str | None = None  # SHA-256 of the photograph that shows it
    how: str | None = None
    piece: str | None = None  # of a lot
    proof: str | None = None
    meaning: str | None = None
    covers: tuple[str, ...] | None = None


@dataclass(frozen=True)
class OwnerAnswered(Fact):
    """What the owner wants done with a rejected piece."""

    SUBJECTS = ("part",)
    part: str
    answer: str  # scrap, return
    reference: str  # letter or message
    piece: str | None = None  # of a lot


@dataclass(frozen=True)
class ReturnedUnserviceable(Fact):
    """A rejected piece that its owner wants back: marked, tag wired on."""

    SUBJECTS = ("part", "person")
    part: str
    person: str
    marked: bool | None = None
    piece: str | None = None
    proof: str | None = None
    meaning: str | None = None
    covers: tuple[str, ...] | None = None


@dataclass(frozen=True)
class RejectReopened(Fact):
    """A Level III and quality take a rejection back: mistaken identity or measurement, with evidence."""

    SUBJECTS = ("inspection", "part", "person", "second")
    inspection: str
    part: str
    person: str  # Level III
    second: str  # quality
    reason: str
    evidence: str
    proof: str | None = None
    second_proof: str | None = None
    meaning: str | None = None
    covers: tuple[str, ...] | None = None


# --- serious findings, release ----------------------------------------------------------------------


@dataclass(frozen=True)
class SeriousnessJudged(Fact):
    """Whether a finding (an indication, or a containment) is a serious one that is reported; with name and reason."""

    SUBJECTS = ("finding", "person")
    finding: str
    serious: bool
    person: str
    reason: str
    proof: str | None = None
    meaning: str | None = None
    covers: tuple[str, ...] | None = None
    registration: str | None = None  # of the aircraft, where it is known
    cause: str | None = None  # the apparent one


@dataclass(frozen=True)
class SeriousReportSent(Fact):
    """The report of a serious finding went out."""

    SUBJECTS = ("finding", "person")
    finding: str
    person: str
    reference: str
    sent_to: str


@dataclass(frozen=True)
class ReleaseNoted(Fact):
    """The engine was returned to service elsewhere: a fact from outside that starts the time for which records are kept."""

    SUBJECTS = ("work_order",)
    work_order: str
    released: date
    reference: str
    person: str  # who released it, as the release document says
    keep_years: int


# --- containment ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class ContainmentOpened(Fact):
    """The frozen recall set between the last good and the bad reading of one object."""

    SUBJECTS = ("containment", "object", "inspections")
    containment: str
    object: str
    quantity: str
    trigger: int  # position of the bad reading
    last_good: Moment | None
    first_bad: Moment
    inspections: tuple[str, ...]
    second_looks: tuple[str, ...]
    pieces: int


@dataclass(frozen=True)
class ContainmentAction:
    inspection: str
    action: str  # re-view, reprocess, retrieve
    because: str


@dataclass(frozen=True)
class ContainmentActionsProposed(Fact):
    SUBJECTS = ("containment",)
    containment: str
    actions: tuple[ContainmentAction, ...]


@dataclass(frozen=True)
class ContainmentActionAssigned(Fact):
    """Who does the action of one item, and by when; assigning anew supersedes nothing, the latest counts."""

    SUBJECTS = ("containment", "person")
    containment: str
    inspection: str
    action: str  # re-view, reprocess, retrieve, notify
    person: str
    due: date
    assigned_by: str


@dataclass(frozen=True)
class ContainmentActionDone(Fact):
    """An action that decides nothing by itself was done: brought back, or the owner told (with the letter)."""

    SUBJECTS = ("containment", "person")
    containment: str
    inspection: str
    action: str
    person: str
    reference: str


@dataclass(frozen=True)
class ContainmentClosed(Fact):
    """Two persons signed that every item is done; the recomputed set stands beside the frozen one."""

    SUBJECTS = ("containment", "person", "second")
    containment: str
    person: str  # Level III
    second: str  # quality
    added: tuple[str, ...] = ()  # records of the recomputed set that the frozen one does not hold
    gone: tuple[str, ...] = ()
    proof: str | None = None
    second_proof: str | None = None
    meaning: str | None = None
    covers: tuple[str, ...] | None = None


@dataclass(frozen=True)
class ContainmentItemDone(Fact):
    """Re-viewed or reprocessed under good conditions and decided anew."""

    SUBJECTS = ("containment", "inspection")
    containment: str
    inspection: str
    how: str


# --- tags, verification ---------------------------------------------------------------------------


@dataclass(frozen=True)
class TagPrinted(Fact):
    SUBJECTS = ("tag", "inspection", "part")
    tag: str
    inspection: str
    part: str
    disposition: str
    quantity: int
    lines: tuple[str, ...]
    check_code: str
    copy: int
    decision: int  # position of the decision that it shows
    practice: bool
    piece: str | None = None


@dataclass(frozen=True)
class TagScannedBack(Fact):
    SUBJECTS = ("tag", "inspection")
    tag: str
    inspection: str
    person: str


@dataclass(frozen=True)
class TagVoided(Fact):
    SUBJECTS = ("tag", "inspection", "part")
    tag: str
    inspection: str
    part: str
    reason: str


@dataclass(frozen=True)
class VerificationSigned(Fact):
    """A supervisor signed what is complete; ``left_out`` are the records that are not."""

    SUBJECTS = ("person", "inspections")
    person: str
    inspections: tuple[str, ...]
    left_out: tuple[str, ...]
    proof: str | None = None
    meaning: str | None = None
    covers: tuple[str, ...] | None = None


@dataclass(frozen=True)
class BackupMade(Fact):
    """A copy of the book was made elsewhere and read back; it ends with the entry ``position``."""

    SUBJECTS = ("place",)
    place: str
    position: int
    hash: str
    photographs: int = 0  # that lie beside the copy
    missing: tuple[str, ...] = ()  # photographs that the book names and that were not found


@dataclass(frozen=True)
class ExportMade(Fact):
    """The whole book, or what concerns one work order, was written out in the open format, up to the entry ``position``."""

    SUBJECTS = ("place", "work_order")
    place: str
    position: int
    hash: str
    manifest: str  # SHA-256 of its manifest, which names every file that went along
    entries: int
    work_order: str | None = None  # None: the whole book
    photographs: int = 0
    missing: tuple[str, ...] = ()


@dataclass(frozen=True)
class AnswerFrozen(Fact):
    """An answer to a question about the book, kept by its hash: ``head`` is the last entry that it saw."""

    SUBJECTS = ("question",)
    question: str
    parameters: tuple[str, ...]  # name=value, days as dates
    hash: str
    count: int
    head: int


@dataclass(frozen=True)
class PrintJob(Fact):
    """A paper was sent to a queue of the system; what the system answered."""

    SUBJECTS = ("queue", "sha256")
    queue: str
    file: str
    sha256: str
    state: str  # queued, refused, unknown
    job: str | None = None
    detail: str | None = None


# --- paper that stands in for this book while it cannot be reached ----------------------------------


@dataclass(frozen=True)
class BlankFormsPrinted(Fact):
    """Numbered blank forms of one kind, to be written on by hand in an outage."""

    SUBJECTS = ("forms",)
    kind: str
    forms: tuple[str, ...]


@dataclass(frozen=True)
class OutageDeclared(Fact):
    """From ``began`` to ``ended`` was written on paper; ``forms`` are the sheets that somebody wrote on."""

    SUBJECTS = ("outage", "forms", "person")
    outage: str
    began: Moment
    ended: Moment
    reason: str
    person: str
    forms: tuple[str, ...] = ()


@dataclass(frozen=True)
class FormTranscribed(Fact):
    """What stood on a sheet is in the book as ``entries``; the sheet itself lies at ``paper``, a picture of it in the archive."""

    SUBJECTS = ("form", "outage", "person", "sha256")
    form: str
    outage: str
    person: str  # who typed it in
    written_by: str
    entries: tuple[int, ...]
    paper: str
    sha256: str | None = None
    size: int | None = None  # bytes of the picture


@dataclass(frozen=True)
class FormCompared(Fact):
    """A second person read a sheet against its entries; without ``agrees`` it says what differs."""

    SUBJECTS = ("form", "person")
    form: str
    person: str
    agrees: bool
    differences: str | None = None
    proof: str | None = None
    meaning: str | None = None
    covers: tuple[str, ...] | None = None


# --- paper that was there before this book --------------------------------------------------------


@dataclass(frozen=True)
class PaperAcceptance(Fact):
    """An inspection accepted on paper before this book began: shown, never judged here."""

    SUBJECTS = ("inspection", "lamps", "person")
    inspection: str
    person: str
    method: str
    lamps: tuple[str, ...]
    part_no: str | None = None
    decision: str = "ACCEPT"


@dataclass(frozen=True)
class PastInspection(Fact):
    """One piece of an earlier visit, for the history of a location."""

    SUBJECTS = ("part_no",)
    part_no: str
    work_order: str
    serial: str
    zone: str | None = None
    type: str | None = None
    clock: Number | None = None


@dataclass(frozen=True)
class PastRework(Fact):
    """Metal taken off on an earlier visit, as its papers say: counted in the blend ledger of the serial number."""

    SUBJECTS = ("part_no", "serial")
    part_no: str
    serial: str
    zone: str
    depth: Number | None
    done: date
    work_order: str | None = None
    source: str | None = None  # the paper that says so


KINDS: dict[str, type[Fact]] = {
    cls.__name__: cls
    for cls in list(globals().values())
    if isinstance(cls, type) and issubclass(cls, Fact) and cls is not Fact
}
