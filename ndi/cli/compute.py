"""``ndi compute NAME``: one JSON object in, one out, for each formula of ``ndi.calc``.

``run`` gives exit code, standard output and standard error: 0 with a result, 1
with a refusal (a well-put question that has no lawful answer), 2 with a message
that names the key.  Formulas live in ``ndi.calc``, reading JSON in
``compute_input``; here are the keys, the words and an example of each computation.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TextIO

from ndi.calc import coil, conversion, dwell, grouping, look_ahead, magnetizing_current, published, serial_guard
from ndi.cli.compute_input import BadInput, Inputs, read, written
from ndi.domain.errors import InputError
from ndi.domain.quantity import shown

Result = dict[str, object]


@dataclass(frozen=True)
class Outcome:
    """A result with the formula it came from, in words, and the formula's source."""

    formula: str
    source: str
    result: Result


class Refusal(Exception):
    """The question is well put but has no lawful answer."""

    def __init__(self, rule: str, found: str, limit: str, ways_out: Sequence[str]) -> None:
        super().__init__(f"{rule}: found {found}, limit {limit}")
        self.as_json = {"rule": rule, "found": found, "limit": limit, "ways_out": list(ways_out)}


@dataclass(frozen=True)
class Computation:
    """Keys, what is done with them, and an example that runs."""

    needed: tuple[str, ...]
    optional: tuple[str, ...]
    compute: Callable[[Inputs], Outcome]
    example: str
    asks: str


_AMPS = ("amps_per_in_min", "amps_per_in_max")


def _amps_per_in(inputs: Inputs) -> tuple[Fraction, Fraction, str]:
    """Least and greatest amps per inch, and where they came from."""
    given = [key for key in _AMPS if inputs.has(key)]
    if not given:
        low, high = published.AMPS_PER_IN_MIN, published.AMPS_PER_IN_MAX
        return low.value, high.value, f"published default: {low.source}"
    if len(given) == 1:
        missing = next(key for key in _AMPS if key not in given)
        raise BadInput(missing, f"this key is missing; give it together with {given[0]}, or leave out both")
    least, most = (inputs.number(key, above=0) for key in _AMPS)
    if least > most:
        raise BadInput(_AMPS[0], f"{shown(least)} is above amps_per_in_max {shown(most)}; swap or correct them")
    return least, most, "amps per inch as given"


def _head_shot(inputs: Inputs) -> Outcome:
    low, high, whence = _amps_per_in(inputs)
    window = magnetizing_current.head_shot(inputs.number("diameter_in", above=0), low, high)
    return Outcome(
        f"I = k D: amps are the part's diameter times {shown(low)} to {shown(high)} A/in, peak",
        f"ASTM E1444 type practice for direct contact; {whence}",
        {"amps_min": window.amps_min, "amps_max": window.amps_max},
    )


def _offset_bar(inputs: Inputs) -> Outcome:
    low, high, whence = _amps_per_in(inputs)
    bar, wall, bore = (inputs.number(key, above=0) for key in ("bar_diameter_in", "wall_in", "bore_in"))
    found = magnetizing_current.offset_bar(bar, wall, bore, amps_per_in_min=low, amps_per_in_max=high)
    return Outcome(
        f"I = k (d + 2 t), k from {shown(low)} to {shown(high)} A/in, peak; each placement of the bar magnetises an arc "
        "of 4 d, overlapped by 10 %: placements = circumference / (0.9 x 4 d), rounded up, at least 1; "
        "once along the bore, once along the outside, which asks for more",
        f"ASTM E1444 type practice for an offset conductor; {whence}",
        {
            "effective_diameter_in": found.effective_diameter,
            "amps_min": found.current.amps_min,
            "amps_max": found.current.amps_max,
            "rotations": found.rotations,
            "rotations_outside": found.rotations_outside,
        },
    )


_COIL_FORMULA = {
    "low": {
        "side": "45000 / (L/D), part against the winding, low fill",
        "centred": "43000 R / (6 L/D - 5), part centred, R half the coil diameter, low fill",
    },
    "high": dict.fromkeys(coil.POSITIONS, "35000 / (L/D + 2), high fill"),
    "intermediate": {
        "side": "high (10 - r)/8 + low (r - 2)/8, high = 35000 / (L/D + 2), low = 45000 / (L/D) (part against the winding)",
        "centred": "high (10 - r)/8 + low (r - 2)/8, high = 35000 / (L/D + 2), low = 43000 R / (6 L/D - 5) (part centred)",
    },
}


def _coil(inputs: Inputs) -> Outcome:
    setup = coil.Setup(
        length=inputs.number("length_in", above=0),
        od=inputs.number("od_in", above=0),
        id=inputs.number("id_in", least=0),
        coil_diameter=inputs.number("coil_diameter_in", above=0),
        turns=inputs.whole("turns", least=1),
        position=inputs.word("position", coil.POSITIONS),
    )
    default = published.LENGTH_TO_DIAMETER_FLOOR
    floor = inputs.number("floor", above=0) if inputs.has("floor") else default.value
    whence = "as given" if inputs.has("floor") else f"published default: {default.source}"
    try:
        shot = coil.shot(setup, floor)
    except coil.NeedsExtensions as short:
        raise Refusal(
            f"coil shot: {short.why}",
            f"L/D {shown(short.found, digits=12)}",
            f"L/D {shown(short.limit)}",
            [
                f"add extensions of the part's own diameter, {shown(short.thousandths_missing)} in or more in all",
                "magnetise lengthwise in another way and prove it",
            ],
        ) from short
    return Outcome(
        f"ampere-turns = {_COIL_FORMULA[shot.fill][setup.position]}; r = (coil diameter / OD)^2, D = sqrt(OD^2 - ID^2), "
        f"L/D not below {shown(floor)} and counted as 15 at most; amps = ampere-turns / turns, peak; "
        "positions = 1 + (L - e)/(0.9 e), rounded up, e the coil diameter (18 in at high fill), 1 up to L = e",
        "US T.O. 33B-1-1 / TM 1-1500-335-23 table 3-3 (45000, D); ASTM E1444 type practice (other formulas, fill "
        f"classes, ceiling 15); effective length and overlap from memory; L/D floor {whence}",
        {
            "fill": shot.fill,
            "area_ratio": shot.area_ratio,
            "effective_diameter_in": shot.effective_diameter,
            "length_to_diameter": shot.length_to_diameter,
            "length_to_diameter_raw": shot.length_to_diameter_raw,
            "ampere_turns": shot.ampere_turns,
            "amps": shot.amps,
            "positions": shot.positions,
        },
    )


def _dwell(inputs: Inputs) -> Outcome:
    temperature = inputs.number("part_temperature_f")
    if temperature < dwell.ABSOLUTE_ZERO_F:
        raise BadInput("part_temperature_f", f"{shown(temperature)} F lies below absolute zero; read it again")
    base, service = inputs.number("base_min", above=0), inputs.flag("service_induced")
    edge = inputs.word("edge", dwell.EDGES) if inputs.has("edge") else published.DWELL_BAND_EDGE.value
    try:
        required = dwell.required_dwell(base, temperature, service, edge)
    except dwell.OutsideTable as outside:
        raise Refusal(
            "P06: no dwell for this part temperature",
            f"{shown(outside.temperature_f, digits=12)} F",
            f"{dwell.COLD_FROM} to {dwell.WARM_TO} F",
            [
                f"bring the part to {dwell.MIDDLE_FROM} to {dwell.MIDDLE_TO} F and wet it then",
                "ask the Level III for a qualified dwell at this temperature",
            ],
        ) from outside
    return Outcome(
        "base x 2 from 40 F, x 1 from 60 F, x 0.5 but at least 5 min from 100 to 120 F; at least 30 min for "
        f"service-induced flaws; exactly 60 or 100 F belongs to the {edge} "
        + ("band" if edge == "middle" else "dwell of the two bands"),
        "US T.O. 33B-1-1 / TM 1-1500-335-23, dwell table of the penetrant chapter; "
        + ("band edge as given" if inputs.has("edge") else f"band edge: {published.DWELL_BAND_EDGE.source}"),
        {"required_min": required},
    )


_MARK = ("x_in", "y_in", "length_in", "width_in")


def _mark(inputs: Inputs) -> grouping.Mark:
    inputs.only(_MARK)
    length, width = inputs.number("length_in", above=0), inputs.number("width_in", least=0)
    if width > length:
        raise BadInput(
            f"{inputs.at}width_in", f"{shown(width)} is above length_in {shown(length)}; swap or correct them"
        )
    return grouping.Mark(inputs.number("x_in"), inputs.number("y_in"), length, width)


def _group(inputs: Inputs) -> Outcome:
    inclusive = (
        inputs.flag("ratio_inclusive") if inputs.has("ratio_inclusive") else published.LINEAR_RATIO_INCLUSIVE.value
    )
    groups = grouping.group_marks(
        [_mark(item) for item in inputs.objects("marks")],
        inputs.number("gap_in", least=0),
        inputs.whole("count", least=2),
        inputs.number("straightness_in", least=0),
        published.LINEAR_RATIO.value,
        inclusive,
    )
    ratio = shown(published.LINEAR_RATIO.value)
    whence = "ratio as given" if inputs.has("ratio_inclusive") else f"ratio: {published.LINEAR_RATIO_INCLUSIVE.source}"
    return Outcome(
        f"linear if the length is {'at least' if inclusive else 'more than'} {ratio} x the width, and then alone; rounded "
        "marks are circles of their length; a row: centres within straightness_in of the line through two of them, each "
        "within gap_in of the next, edge to edge; the row with most marks first (ties: longer, then lowest index); linear "
        "from count marks on; length from outer edge to outer edge along the line",
        f"aligned rounded indications as in ASME Section VIII Div. 1 App. 6 and 8; meaning of row: own; {whence}",
        {
            "groups": [
                {"members": list(group.members), "form": group.form, "length_in": float(group.extent)}
                for group in groups
            ]
        },
    )


_JOB = ("name", "release_min", "deadline_min", "work_min")


def _job(inputs: Inputs) -> look_ahead.Job:
    inputs.only(_JOB)
    release, deadline = inputs.number("release_min"), inputs.number("deadline_min")
    return look_ahead.Job(inputs.text("name"), release, deadline, inputs.number("work_min", above=0))


def _look_ahead(inputs: Inputs) -> Outcome:
    jobs = [_job(item) for item in inputs.objects("jobs")]
    if len(jobs) > look_ahead.MOST_JOBS:
        raise BadInput("jobs", f"{len(jobs)} jobs; at most {look_ahead.MOST_JOBS} can be ordered")
    names = [job.name for job in jobs]
    for index, name in enumerate(names):
        if name in names[:index]:
            raise BadInput(f"jobs[{index}].name", f"this name is taken by jobs[{names.index(name)}]; give each its own")
    plan = look_ahead.best_order(jobs)
    return Outcome(
        "every order of the jobs, one worker from minute 0, each job as early as its release and its place allow; best: "
        "fewest late, least minutes late, earliest last end, least sum of ends, lowest input positions; "
        "latest start = deadline - work; waiting = last end - all work",
        "exhaustive search; order of the criteria: this project's own",
        {
            "order": [
                {"name": job.name, "start_min": job.start, "end_min": job.end, "latest_start_min": job.latest_start}
                for job in plan.order
            ],
            "late": [{"name": name, "by_min": by} for name, by in plan.late],
            "wait_min": plan.wait,
        },
    )


def _serial(inputs: Inputs) -> Outcome:
    matches = serial_guard.near(inputs.text("typed"), inputs.texts("known"))
    return Outcome(
        "least number of edits (insert, delete, replace, swap of two neighbours) that turn one text into the other, "
        "no part edited twice; at most 2 are listed, nearest first, then by text",
        "optimal string alignment distance (F. J. Damerau, 1964, restricted form)",
        {"matches": [{"serial": serial, "distance": distance} for serial, distance in matches]},
    )


def _convert(inputs: Inputs) -> Outcome:
    units = tuple(conversion.UNITS)
    value, source, target = inputs.number("value"), inputs.word("from", units), inputs.word("to", units)
    try:
        exact = conversion.convert(value, source, target)
    except InputError as error:
        mismatch = conversion.UNITS[source].dimension != conversion.UNITS[target].dimension
        raise BadInput("from, to" if mismatch else "value", str(error)) from error
    return Outcome(
        "exact factors of the definitions; G, mT, T and Oe count as a field in air, B = mu0 H, mu0 = 4 pi 1e-7",
        "inch 25.4 mm and pound 0.45359237 kg (1959), standard gravity 9.80665 m/s2 (CGPM 1901), footcandle one lumen "
        "per square foot, oersted 1000/(4 pi) A/m",
        {"value": float(exact), "exact": str(exact)},
    )


COMPUTATIONS: dict[str, Computation] = {
    "head-shot": Computation(("diameter_in",), _AMPS, _head_shot, '{"diameter_in": 2.25}', "amps of a head shot"),
    "coil": Computation(
        ("length_in", "od_in", "id_in", "coil_diameter_in", "turns", "position"),
        ("floor",),
        _coil,
        '{"length_in": 40, "od_in": 4.5, "id_in": 0, "coil_diameter_in": 12, "turns": 5, "position": "side"}',
        "ampere-turns, amps and positions of a coil shot; position is side or centred",
    ),
    "offset-bar": Computation(
        ("bar_diameter_in", "wall_in", "bore_in"),
        _AMPS,
        _offset_bar,
        '{"bar_diameter_in": 0.75, "wall_in": 0.25, "bore_in": 1.5}',
        "amps and placements of a bar that lies against the bore",
    ),
    "dwell": Computation(
        ("base_min", "part_temperature_f", "service_induced"),
        ("edge",),
        _dwell,
        '{"base_min": 20, "part_temperature_f": 59.9, "service_induced": false}',
        "penetrant dwell for the part's temperature; edge is middle or longer",
    ),
    "group": Computation(
        ("marks", "gap_in", "count", "straightness_in"),
        ("ratio_inclusive",),
        _group,
        '{"marks": [{"x_in": 1, "y_in": 2, "length_in": 0.03, "width_in": 0.03}, '
        '{"x_in": 1.078, "y_in": 2.004, "length_in": 0.03, "width_in": 0.03}], '
        '"gap_in": 0.0625, "count": 4, "straightness_in": 0.010}',
        "rounded marks in line, read as one",
    ),
    "look-ahead": Computation(
        ("jobs",),
        (),
        _look_ahead,
        '{"jobs": [{"name": "X", "release_min": 0, "deadline_min": 40, "work_min": 15}, '
        '{"name": "Y", "release_min": 5, "deadline_min": 25, "work_min": 12}]}',
        "best order of up to 8 jobs, with the latest start of each",
    ),
    "serial": Computation(
        ("typed", "known"),
        (),
        _serial,
        '{"typed": "6H-20147", "known": ["6H-20417", "6H-30111"]}',
        "known serials that a typed one may have been meant for",
    ),
    "convert": Computation(
        ("value", "from", "to"),
        (),
        _convert,
        '{"value": 2, "from": "fc", "to": "lx"}',
        f"units: {', '.join(conversion.UNITS)}",
    ),
}


def run(name: str, text: str) -> tuple[int, str, str]:
    """Do computation ``name`` on the JSON ``text``: (exit code, standard output, standard error)."""
    if name not in COMPUTATIONS:
        return 2, "", f"ndi compute: {name!r} is not known; use one of {', '.join(COMPUTATIONS)}\n"
    computation = COMPUTATIONS[name]
    try:
        inputs = Inputs(read(text))
        inputs.only(computation.needed, computation.optional)
        try:
            outcome = computation.compute(inputs)
        except Refusal as refusal:
            return 1, written({"name": name, "inputs": inputs.values, "refusal": refusal.as_json}) + "\n", ""
        answer = {"formula": outcome.formula, "source": outcome.source, "result": outcome.result}
        return 0, written({"name": name, "inputs": inputs.values, **answer}) + "\n", ""
    except InputError as error:
        return 2, "", f"ndi compute {name}: {error}\n"
    except OverflowError:
        keys = ", ".join(inputs.values)
        return 2, "", f"ndi compute {name}: {keys}: the result is beyond the range of numbers; correct the inputs\n"


def listing() -> str:
    """Every computation with its keys and an example."""
    lines = []
    for name, computation in COMPUTATIONS.items():
        keys = [*computation.needed, *(f"[{key}]" for key in computation.optional)]
        lines += [
            f"{name}: {computation.asks}",
            f"  keys     {' '.join(keys)}",
            f"  example  {computation.example}",
            "",
        ]
    return "\n".join(lines)


def main(argv: Sequence[str], stdin: TextIO, stdout: TextIO, stderr: TextIO) -> int:
    """``ndi compute NAME`` or ``ndi compute --list``; returns the exit code."""
    if list(argv) == ["--list"]:
        stdout.write(listing())
        return 0
    if len(argv) != 1:
        stderr.write("ndi compute: give one name, or --list\n")
        return 2
    code, out, err = run(argv[0], stdin.read())
    stdout.write(out)
    stderr.write(err)
    return code
