"""The one table of what a person records by name: kind, fact, use case, words and units; keys are read off the fact.

A new kind is one line here; how its values are typed follows in ``typed_facts``,
what happens when it is recorded in ``typed_recording``.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import MISSING, dataclass, field, fields, replace
from functools import cached_property
from typing import Any

from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotFound
from ndi.domain.moment import Moment
from ndi.domain.quantity import dimension
from ndi.domain.ticks import BACKGROUNDS, CO_SIGNED, TICKS
from ndi.domain.vocabulary import (
    BathMode,
    CheckKind,
    Condition,
    FieldProof,
    Form,
    Interpretation,
    Material,
    Observed,
    Quantity,
    Step,
    ViewKind,
)
from ndi.services import covers, exceptions, inspecting, receiving, recording
from ndi.services.annotating import Shape, annotate
from ndi.services.lookup import about
from ndi.services.measured_photographs import record_measured
from ndi.services.ports import Session
from ndi.services.proof import Meaning, Proof
from ndi.services.typed_facts import Key, keys_of
from ndi.services.workplace import Workplace

Values = dict[str, Any]
Signature = tuple[Meaning, covers.Covers]


@dataclass(frozen=True)
class Said:
    """A fact on its way to its use case, with what goes along."""

    fact: Any
    by: str
    when: Moment | None = None
    why: str | None = None
    proof: Proof | None = None
    sure: bool = False  # a number that looks like a wrong unit really is so

    @property
    def timed(self) -> dict[str, Any]:
        return {"when": self.when, "why": self.why}


@dataclass(frozen=True)
class Recordable:
    """One kind that is recorded by name.

    ``who``: keys that mean the person who records, when left out; ``fill``: keys
    that follow from the book, when left out; ``signs``: what is signed, if it is;
    ``timed``: whether it may be typed with the time at which it happened.
    """

    name: str
    fact: type[f.Fact]
    about: str
    example: str
    do: Callable[[Workplace, Said], object]
    words: Mapping[str, Sequence[str]] = field(default_factory=dict)
    measures: Mapping[str, str] = field(default_factory=dict)
    hidden: tuple[str, ...] = ()
    who: tuple[str, ...] = ()
    usual: Mapping[str, Any] = field(default_factory=dict)
    fill: Callable[[Session, Values], Values] | None = None
    signs: Callable[[Any], Signature | None] | None = None
    timed: bool = True

    @cached_property
    def keys(self) -> tuple[Key, ...]:
        """What is typed for it; what another key or the book tells needs not be typed."""
        told = {*self.who, *self.usual, *(_TOLD if self.fill else ())}
        return tuple(replace(key, needed=key.needed and key.name not in told) for key in self.all_keys)

    @cached_property
    def all_keys(self) -> tuple[Key, ...]:
        """The keys of the whole fact: what the book did not tell is missing."""
        hidden = {*_NEVER_TYPED, *self.hidden}
        return keys_of(self.fact, hidden=hidden, words=self.words, measures={**MEASURES, **self.measures})

    def told(self, key: Key) -> str:
        """What stands for a key that is left out, for a person."""
        if key.needed:
            return ""
        if key.name in self.who:
            return "the person if left out"
        if key.name in self.usual:
            return f"{self.usual[key.name]} if left out"
        if self.fill is not None and key.name in _TOLD:
            return "from the book if left out"
        default = next(each.default for each in fields(self.fact) if each.name == key.name)  # type: ignore[arg-type]
        return "if known" if default in (None, MISSING, ()) else f"{default} if left out"

    @property
    def is_signed(self) -> bool:
        """Whether every fact of this kind is signed; of ticks only a co-signature is."""
        return self.signs not in (None, _co_signature)

    @property
    def is_own(self) -> bool:
        """Whether nobody else enters it for the person whose it is."""
        return self.do not in (_plain, _outside)


_NEVER_TYPED = ("proof", "meaning", "covers", "entered_by", "confirmed_by", "exception")
_TOLD = ("part", "work_order", "inspection")  # by the record or the view that a fact is about

# the dimension that a number of this name has; a reading's follows from its quantity
MEASURES = {
    **dict.fromkeys(("amps", "max_amps"), "current"),
    **dict.fromkeys(("seconds", "ahead"), "time"),
    **dict.fromkeys(
        ("position", "length", "width", "x", "y", "x_mm", "y_mm", "depth", "thickness", "extension"), "length"
    ),
    **dict.fromkeys(("distance", "coil_diameter", "new_limit", "service_limit"), "length"),
    "clock": "angle",
    "contamination": "settled volume per 100 mL",
    **dict.fromkeys(("nominal_percent", "as_found_error_percent", "uncertainty_percent"), "share"),
}
_UNIT_OF: dict[str, str] = {
    Quantity.UV_A: "uW/cm2",
    Quantity.UV_A_AT_PART: "uW/cm2",
    Quantity.AMBIENT: "fc",
    Quantity.WHITE_LIGHT: "fc",
    Quantity.PARTICLE_VOLUME: "mL",
    Quantity.WATER_TEMPERATURE: "degF",
    Quantity.DRYER_TEMPERATURE: "degF",
    Quantity.WATER_PRESSURE: "psi",
    Quantity.REMOVER_CONCENTRATION: "%",
    Quantity.WATER_CONTENT: "%",
    Quantity.BRIGHTNESS: "%",
    Quantity.SPECKS: "pcs",
    Quantity.RING_HOLES: "holes",
    Quantity.VISCOSITY: "cSt",
    Observed.PART_TEMPERATURE: "degF",
    Observed.NOZZLE_DISTANCE: "in",
    Observed.AIR_PRESSURE: "psi",
}


def measure_of(quantity: str) -> str | None:
    """The dimension of a quantity that is read; None where nothing is said about it."""
    unit = _UNIT_OF.get(quantity)
    return dimension(unit) if unit else None


# --- what follows from the book ---------------------------------------------------------------------


def _of_inspection(session: Session, values: Values) -> Values:
    if "inspection" not in values:
        return {}
    row = session.inspection(values["inspection"])
    return {"part": row.part, "work_order": row.work_order}


def _of_part(session: Session, values: Values) -> Values:
    return {"work_order": session.part(values["part"]).work_order} if "part" in values else {}


def _listed(_session: Session, values: Values) -> Values:
    """The key of a part follows from its work order, part number and serial number or lot."""
    name = values.get("serial") or values.get("lot")
    if name is None:
        raise InputError("a part has a serial number or is a lot: type serial= or lot=")
    if "work_order" not in values or "part_no" not in values:
        return {}
    return {"part": receiving.part_key(values["work_order"], values["part_no"], name)}


def _of_view(session: Session, values: Values) -> Values:
    name = values.get("view") or values.get("second_look")
    if not name:
        return {}
    started = about(session, f.ViewStarted, name)
    if not started:
        raise NotFound(f"no view {name} was started")
    fact = started[-1].fact
    return {"inspection": fact.inspection, "indication": fact.indication}


# --- the use cases ----------------------------------------------------------------------------------


def _plain(work: Workplace, said: Said) -> object:
    return recording.record(work, [said.fact], said.by, proof=said.proof, **said.timed)


def _outside(work: Workplace, said: Said) -> object:
    return recording.record_outside_fact(work, said.fact, said.by, **said.timed)


def _reading(work: Workplace, said: Said) -> object:
    return recording.record_reading(work, said.fact, said.by, confirmed=said.sure, **said.timed)


def _check(work: Workplace, said: Said) -> object:
    return recording.record_check(work, said.fact, said.by, **said.timed)


def _meter(work: Workplace, said: Said) -> object:
    return recording.select_meter(work, said.fact.meter, said.by, said.fact.station)


def _check_in(work: Workplace, said: Said) -> object:
    fact: f.CheckedIn = said.fact
    recording.check_in(work, fact.person, station=fact.station, clear_glasses=fact.clear_glasses)
    return fact


def _received(work: Workplace, said: Said) -> object:
    fact: f.PartReceived = said.fact
    return receiving.receive(
        work,
        fact.part,
        said.by,
        quantity=fact.quantity,
        typed_twice=fact.typed_twice,
        scanned=fact.scanned,
        told_apart=fact.told_apart,
    )


def _view_start(work: Workplace, said: Said) -> object:
    fact: f.ViewStarted = said.fact
    return inspecting.start_view(
        work,
        fact.view,
        fact.inspection,
        fact.person,
        fact.lamps,
        kind=fact.kind,
        station=fact.station,
        indication=fact.indication,
        containment_name=fact.containment,
        **said.timed,
    )


def _view_end(work: Workplace, said: Said) -> object:
    fact: f.ViewEnded = said.fact
    return inspecting.end_view(
        work,
        fact.view,
        zones=fact.zones,
        nothing_seen=fact.nothing_seen,
        background=fact.background,
        pieces=fact.pieces,
        **said.timed,
    )


def _interpretation(work: Workplace, said: Said) -> object:
    return inspecting.interpret(work, said.fact, said.by)


def _measured(work: Workplace, said: Said) -> object:
    return record_measured(work, said.fact, said.by)


def _annotated(work: Workplace, said: Said) -> object:
    return annotate(work, said.fact, said.by)


def _second_look(work: Workplace, said: Said) -> object:
    return inspecting.save_second_look(work, said.fact, proof=said.proof)


def _disagreement(work: Workplace, said: Said) -> object:
    return inspecting.resolve_disagreement(work, said.fact, proof=said.proof)


def _rework_order(work: Workplace, said: Said) -> object:
    return inspecting.order_rework(work, said.fact, proof=said.proof)


def _rework_done(work: Workplace, said: Said) -> object:
    return inspecting.complete_rework(work, said.fact, **said.timed)


def _deviation(work: Workplace, said: Said) -> object:
    fact: f.DeviationSigned = said.fact
    return exceptions.sign_deviation(
        work,
        fact.inspection,
        fact.rule,
        fact.person,
        role=fact.role,
        justification=fact.justification,
        expires=fact.expires,
        proof=said.proof,
    )


def _concession(work: Workplace, said: Said) -> object:
    fact: f.ConcessionGiven = said.fact
    return exceptions.give_concession(
        work,
        fact.inspection,
        fact.person,
        reference=fact.reference,
        revision=fact.revision,
        conditions=fact.conditions,
        proof=said.proof,
    )


def _co_signature(fact: f.ConfirmationGiven) -> Signature | None:
    if fact.item != CO_SIGNED.item:
        return None
    return Meaning.APPROVED, covers.co_signature(fact.about, fact.value)


# --- the table --------------------------------------------------------------------------------------

_ON_OFF = {"state": ("on", "off")}
_STEP = {"step": tuple(Step)}


def _row(name: str, fact: type[f.Fact], about_: str, example: str, do: Any = _plain, **more: Any) -> Recordable:
    return Recordable(name, fact, about_, example, do, **more)


_ROWS = (
    # receiving
    _row("work-order", f.WorkOrderOpened, "an engine or component comes in", "work_order=W-0002 engine_model='Model 4' engine_serial=E-1002 reason=overhaul limits_basis='new limits'"),
    _row("directives", f.DirectivesConfirmed, "the list of directives and bulletins of an engine was drawn up (it may be empty)", "work_order=W-0001 lines='D-1+D-2' answered=D-1"),
    _row("part-listed", f.PartListed, "a line of a receiving list", "work_order=W-0001 part_no=P-100 quantity=1 serial=S-4799", fill=_listed),
    _row("received", f.PartReceived, "a piece or lot is on the floor, identified and counted (ndi receive asks the serial number too)", "part=W-0001/P-100/S-4711 quantity=1 typed_twice=yes", _received, hidden=("pre_clean_visual",), fill=_of_part, timed=False),
    _row("moved", f.PartMoved, "a piece or lot was scanned at a place", "part=W-0001/P-100/S-4711 place='MT booth'"),
    _row("coating", f.CoatingMeasured, "a coating as found on a zone", "part=W-0001/P-100/S-4711 coating=chrome thickness='0.002 in' zone=ALL"),
    _row("owner-answer", f.OwnerAnswered, "what the owner wants done with a rejected piece", "part=W-0001/P-100/S-4711 answer=scrap reference='letter 7'", words={"answer": ("scrap", "return")}),
    _row("past-rework", f.PastRework, "metal taken off on an earlier visit, from its papers (for the blend ledger)", "part_no=P-100 serial=S-4711 zone=ALL depth='0.003 in' done=2021-05-04 source='card 17'"),
    # ticks, history, plugs
    _row("confirm", f.ConfirmationGiven, "a tick about a part, inspection or basket: clean, visible dye history, worked since last etch ... (a co-signature asks for the secret)", "about=MT-001 item=clean value=yes", words={"item": tuple(TICKS)}, signs=_co_signature),
    _row("plugs", f.PlugsCounted, "plugs and masks counted in or out", "inspection=MT-001 direction=in count=4", words={"direction": ("in", "out")}),
    _row("reason", f.ReasonGiven, "why a warning is accepted", "inspection=MT-001 rule=L12 text='lens cleaned, read again'", who=("person",)),
    # people at work
    _row("check-in", f.CheckedIn, "a person's shift begins, with the declaration about glasses", "station='MT booth' clear_glasses=yes", _check_in, hidden=("tasks",), who=("person",), timed=False),
    _row("check-out", f.CheckedOut, "a person's shift ends", "person=L2-A", who=("person",)),
    _row("break", f.BreakMarked, "a rest from viewing begins or ends", "mark=began station='MT booth'", words={"mark": ("began", "ended")}, who=("person",)),
    _row("booth-closed", f.BoothClosed, "the curtain is closed, the eyes adapt", "station='MT booth'", who=("person",)),
    _row("shift", f.ShiftMarked, "the shift of a line or booth opens or closes", "station='MT booth' mark=opened", words={"mark": ("opened", "closed")}),
    _row("revision-read", f.RevisionRead, "a person read and understood a procedure revision", "procedure=MT-01 revision=A", _outside, who=("person",)),
    # equipment and materials
    _row("equipment", f.EquipmentEntered, "a lamp, bench, bath, line, meter, station ...", "equipment=UV-3 kind=lamp place='MT booth' battery_powered=no lamp_type=LED", _outside),
    _row("equipment-status", f.EquipmentStatusSet, "equipment is taken out of use or put back", "equipment=UV-3 state=repair reason='filter cracked'", _outside, words={"state": ("in service", "withdrawn", "repair")}),
    _row("switch", f.EquipmentSwitched, "pump, lamp, dryer or bench goes on or off", "equipment=UV-1 state=on", words=_ON_OFF),
    _row("calibration", f.CalibrationRecorded, "a calibration, with what it found (+9 % read 9 % high)", "equipment=RM-1 item='UV-A channel' done=2026-01-12 due=2027-01-12 result='within tolerance' as_found_error_percent='+2 %'", _outside),
    _row("meter", f.MeterSelected, "a meter is taken for the shift", "meter=RM-1 station='MT booth'", _meter, timed=False),
    _row("batch", f.BatchEntered, "a batch of penetrant, remover, developer or bath", "batch=MTB-2 material=bath expires=2027-12-31", _outside, words={"material": tuple(Material)}),
    _row("tank", f.TankFilled, "from now on a line or bench draws on this set of batches", "line=MT-1 batches=MTB-1+MTB-2"),
    _row("bath-sample", f.BathSampled, "a bath sample was drawn and set to settle", "bath=BATH-1 demagnetised=yes"),
    _row("reading", f.ReadingRecorded, "any number from a meter or an eye", "object=UV-1 quantity='UV-A at 15 in' value='1700 uW/cm2' condition=as-found meter=RM-1 distance='15 in'", _reading, words={"quantity": tuple(Quantity), "condition": tuple(Condition)}),
    _row("check", f.ProcessCheckRecorded, "a process check: panel, ring, tank look ...", "check='tool-steel ring' object=MT-1 passed=yes holes=6 amps='2500 A'", _check, words={"check": tuple(CheckKind)}),
    # magnetic particle
    _row("shot", f.ShotFired, "one shot with the current and time of each pulse", "inspection=MT-001 bench=MT-1 shot=1 pulses='900 A:0.7 s+900 A:0.7 s' current_type=FWDC bath_mode=continuous", words={"bath_mode": tuple(BathMode)}),
    _row("shot-void", f.ShotVoided, "a shot that does not count, by the time at which it was fired", "inspection=MT-001 shot=1 fired_at=07:31:30 reason='wrong current'"),
    _row("demagnetised", f.Demagnetised, "the part was demagnetised", "inspection=MT-001 method='reversing step-down'"),
    _row("residual", f.ResidualRead, "the residual field at one point", "inspection=MT-001 point=END-1 value='1 G' meter=GM-1 away_from_bench=yes", measures={"value": "flux density"}),
    _row("field-shown", f.FieldShown, "what a shim or a Hall probe showed of the field at a point", "inspection=MT-001 point='tooth rim' how='Hall probe' value='42 G' meter=GM-1 shot=1", words={"how": tuple(FieldProof)}, measures={"value": "flux density"}),
    # penetrant
    _row("basket", f.BasketLoaded, "the inspections whose parts share a basket's time line, as which attempt", "basket=B-1 method=A line='Method A line' inspections=PT-001+PT-002 attempt=1"),
    _row("step-start", f.StepStarted, "the first part enters a step; wet again is a re-wetting (seconds count: type HH:MM:SS)", "on=B-1 step=wet pieces=2", words=_STEP),
    _row("step-end", f.StepEnded, "the last part leaves a step", f"on=B-1 step=wash outcome='{BACKGROUNDS[0]}'", words=_STEP),
    _row("step-reading", f.StepObserved, "a number read at a step", "on=B-1 step=wet quantity='part temperature' value='72 degF'", words={**_STEP, "quantity": tuple(Observed)}),
    _row("piece-timed", f.PieceTimed, "one part of a basket went through a step by itself, from when it began until now", "on=B-1 step=wash piece=W-0001/P-100/S-4711 began=08:42:10", words=_STEP),
    _row("attempt-void", f.AttemptVoided, "an attempt is given up", "inspection=PT-001 basket=B-1 attempt=1 reason='138 min wet'"),
    # viewing and indications
    _row("view-start", f.ViewStarted, "a view, a re-view or a second look begins", "view=MT-001/view inspection=MT-001 lamps=UV-1 station='MT booth'", _view_start, words={"kind": tuple(ViewKind)}, hidden=("attempt",), who=("person",), usual={"kind": str(ViewKind.FIRST)}),
    _row("view-end", f.ViewEnded, "a view ends, with the zones covered and whether anything was seen", "view=MT-001/view zones=ALL nothing_seen=yes", _view_end, hidden=("person", "station"), fill=_of_view),
    _row("indication", f.IndicationSeen, "something is seen: where, how long and wide, which form", "indication=IND-01 inspection=MT-001 zone=ALL position='2 in from end' form=linear length='0.20 in' width='0.01 in'", words={"form": tuple(Form)}),
    _row("indication-test", f.IndicationTested, "a step of evidence, and what was seen then", "indication=IND-01 step=wiped outcome=returned", words={"step": ("wiped", "demagnetised", "re-shot", "redeveloped", "described"), "outcome": ("returned", "gone")}),
    _row("interpretation", f.IndicationInterpreted, "relevant, nonrelevant or false, on which basis", "indication=IND-01 interpretation=relevant basis='returned, sharp' type='grinding crack'", _interpretation, words={"interpretation": tuple(Interpretation)}, timed=False),
    _row("evaluation", f.IndicationEvaluated, "an indication against the limit of its zone", "indication=IND-01 evaluation='over limit' limit='none allowed'", words={"evaluation": ("within limit", "over limit", "no limit in data", "not applicable")}),
    _row("photo-measured", f.PhotographMeasured, "a length taken from an attached photograph, beside the one on the part; the larger counts", "inspection=MT-001 indication=IND-01 sha256=ab12 length_mm='5.3 mm' uncertainty_mm='0.1 mm' how='card in the plane' marks='41.2 %:50 %+63 %:52 %'", _measured, measures={"x": "share", "y": "share", "length_mm": "length", "uncertainty_mm": "length", "width_mm": "length", "angle": "angle"}, timed=False),
    _row("photo-annotation", f.PhotographAnnotated, "one thing drawn beside an attached photograph: arrow, circle, text, scale bar (ndi photo annotate names the photograph by the beginning of its hash)", "inspection=MT-001 sha256=ab12 shape=arrow points='30 %:30 %+41.2 %:50 %' text='crack tip'", _annotated, words={"shape": tuple(Shape)}, measures={"x": "share", "y": "share"}, hidden=("erased",), usual={"annotation": ""}, timed=False),
    _row("second-look", f.SecondLookSaved, "the second person's own result, before the first is shown", "second_look=SC-01 none_seen=yes", _second_look, words={"interpretation": tuple(Interpretation), "form": tuple(Form)}, hidden=("blind",), who=("person",), fill=_of_view, timed=False,
         signs=lambda fact: (Meaning.SECOND_LOOK, covers.second_look(fact))),
    _row("disagreement", f.DisagreementResolved, "a Level III decides between first and second look", "inspection=MT-001 indication=IND-01 decision='crack, 0.31 in'", _disagreement, who=("person",), timed=False,
         signs=lambda fact: (Meaning.APPROVED, covers.disagreement(fact))),
    # rework and exceptions
    _row("rework-order", f.ReworkOrdered, "a bounded operation on one indication", "inspection=MT-001 indication=IND-01 zone=ALL operation='blend to 0.010 in'", _rework_order, who=("ordered_by",), fill=_of_inspection, timed=False,
         signs=lambda fact: (Meaning.APPROVED, covers.rework(fact))),
    _row("rework-start", f.ReworkStarted, "the rework bench begins", "inspection=MT-001", who=("person",), fill=_of_inspection),
    _row("rework-done", f.ReworkDone, "depth taken off and what remains, beside the new-part and the service column", "inspection=MT-001 zone=ALL depth='0.004 in' dimensions='beam:0.544 in:0.540 in:0.530 in'", _rework_done, measures={"value": "length"}, who=("person",), fill=_of_inspection),
    _row("deviation", f.DeviationSigned, "one rule that blocks is set aside by the role that the procedure names", "inspection=MT-001 rule=L04 role=L3 justification='read beside the bore' expires=2027-01-31", _deviation, who=("person",), timed=False,
         signs=lambda fact: (Meaning.APPROVED, covers.deviation(fact.inspection, fact.rule, fact.justification))),
    _row("concession", f.ConcessionGiven, "engineering allows what the data do not", "inspection=MT-001 reference=ENG-0412 revision=1 conditions=none", _concession, who=("person",), timed=False,
         signs=lambda fact: (Meaning.APPROVED, covers.concession(fact.inspection, fact.reference, fact.revision, fact.conditions))),
)  # fmt: skip

RECORDABLE: dict[str, Recordable] = {row.name: row for row in _ROWS}
BY_FACT: dict[type[f.Fact], Recordable] = {row.fact: row for row in _ROWS}
assert len(RECORDABLE) == len(BY_FACT) == len(_ROWS), "each kind and each fact stands once"
