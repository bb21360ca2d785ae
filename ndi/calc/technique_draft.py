"""A magnetizing technique drafted from a part's dimensions: windows of current, shots, coverage, warnings.

Formulas are those of ``magnetizing_current`` and ``coil`` with their sources.  Smallest
current first where sections want different ones: from memory.  Coil currents hold
within 10 %: boiler code Article 7 and E1444 type practice.  A tube's bore sees no
field in a head shot: US T.O. 33B-1-1 p. 3-7.  Nothing here is proven on a part.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from ndi.calc import coil, magnetizing_current, published
from ndi.calc.bookkeeping import Shot, coverage, lacking
from ndi.calc.magnetizing_current import Window
from ndi.calc.stations import field_length, stations_needed
from ndi.domain.errors import InputError
from ndi.domain.quantity import shown

COIL_WITHIN = Fraction(1, 10)  # of the formula's current
WARN_RATIO = Fraction(3)  # L/D to which some manuals ask for extensions
SHEET_AMPS = (100, 6000)  # what a bench can be asked for at all: a technique file holds no other current
STEP_A = 10  # nominal currents are rounded to it where the window allows
CIRCULAR, LONGITUDINAL = "circular", "longitudinal"
HEAD, BAR, COIL = "head", "bar", "coil"
OUTSIDE, BORE = "outside", "bore"
OUTSIDE_WINDOW = "outside the window: choose and justify"


@dataclass(frozen=True)
class Section:
    """A stretch of the part between two places along it, inches; ``id`` is 0 for a solid one."""

    zone: str
    start: Fraction
    end: Fraction
    od: Fraction
    id: Fraction

    @property
    def outside(self) -> str:
        """The zone of its outer surface: a hollow section has two zones, because a head shot reaches one of them."""
        return f"{self.zone} {OUTSIDE}" if self.id else self.zone

    @property
    def surfaces(self) -> tuple[str, ...]:
        """Its zones: the outer surface, and the bore where there is one."""
        return (self.outside, f"{self.zone} {BORE}") if self.id else (self.outside,)


@dataclass(frozen=True)
class Coil:
    diameter: Fraction
    turns: int
    position: str


@dataclass(frozen=True)
class Bar:
    """A bar through the bore: ``centred``, or against it (``offset``)."""

    diameter: Fraction
    placed: str


@dataclass(frozen=True)
class Part:
    """Dimensions and what the bench has; ``maker`` holds the maker's amps by kind of shot."""

    length: Fraction
    sections: tuple[Section, ...]
    amps_per_in: tuple[Fraction, Fraction]
    is_head_shot_allowed: bool
    coil: Coil | None
    bars: tuple[Bar, ...]
    maker: Mapping[str, Fraction]
    floor: Fraction
    bench_amps_max: Fraction | None

    def __post_init__(self) -> None:
        if not self.sections:
            raise InputError("sections: give at least one section of the part")
        for index, section in enumerate(self.sections):
            if not 0 <= section.start < section.end <= self.length:
                raise InputError(
                    f"sections[{index}]: from_in and to_in must rise within 0 to length_in {shown(self.length)}"
                )
            if not 0 <= section.id < section.od:
                raise InputError(f"sections[{index}]: id_in must be at least 0 and below od_in")
            if section.zone in [earlier.zone for earlier in self.sections[:index]]:
                raise InputError(f"sections[{index}].zone: {section.zone!r} is taken; give each section its own name")


@dataclass(frozen=True)
class SectionWindow:
    """What one section asks of one kind of shot; ``counted`` is the diameter that counted."""

    kind: str
    zone: str
    counted: Fraction
    window: Window


@dataclass(frozen=True)
class DraftShot:
    """A shot of the draft; ``window`` is what all sections that it serves have in common."""

    number: int
    kind: str
    direction: str
    amps: int
    window: Window
    governed_by: str
    surfaces: tuple[str, ...]
    turns: int | None = None
    position: Fraction | None = None
    fill: str | None = None
    conductor: Fraction | None = None
    placements: int | None = None  # of an offset bar round the part


@dataclass(frozen=True)
class Draft:
    windows: tuple[SectionWindow, ...]
    shots: tuple[DraftShot, ...]
    matrix: Mapping[str, Mapping[str, Sequence[str]]]
    lacking: tuple[str, ...]
    maker: tuple[str, ...]
    warnings: tuple[str, ...]


def nominal(window: Window) -> int:
    """A whole current in the middle of a window, in steps of 10 A where one fits."""
    middle = (window.amps_min + window.amps_max) / 2
    for step in (STEP_A, 1):
        found = round(middle / step) * step
        if window.amps_min <= found <= window.amps_max:
            return found
    return ceil(window.amps_min)


def common(windows: Iterable[Window]) -> Window:
    """What several windows have in common; the least may lie above the greatest when they have nothing."""
    listed = list(windows)
    return Window(max(w.amps_min for w in listed), min(w.amps_max for w in listed))


def by_current(windows: Sequence[SectionWindow]) -> list[list[SectionWindow]]:
    """The fewest groups that one current each can serve, smallest current first."""
    groups: list[list[SectionWindow]] = []
    for each in sorted(windows, key=lambda w: (w.window.amps_max, w.window.amps_min)):
        # the first of a group has the smallest upper end, and a current there serves whatever begins below it
        if groups and each.window.amps_min <= groups[-1][0].window.amps_max:
            groups[-1].append(each)
        else:
            groups.append([each])
    return groups


class _Drafting:
    """Collects shots, windows and warnings in order."""

    def __init__(self, part: Part) -> None:
        self.part = part
        self.windows: list[SectionWindow] = []
        self.shots: list[DraftShot] = []
        self.warnings: list[str] = []

    def add(
        self, kind: str, direction: str, window: Window, zone: str, surfaces: Sequence[str], **more: object
    ) -> None:
        number = len(self.shots) + 1
        # a coil's window lies round the formula's own current, which is its middle
        amps = round((window.amps_min + window.amps_max) / 2) if kind == COIL else nominal(window)
        self.shots.append(
            DraftShot(number, kind, direction, amps, window, zone, tuple(surfaces), **more)  # type: ignore[arg-type]
        )
        least, greatest = SHEET_AMPS
        if not least <= amps <= greatest:
            way = "take more turns" if kind == COIL else "magnetise another way"
            self.warnings.append(
                f"shot {number} asks for {amps} A, a technique file holds {least} to {greatest} A: {way} before adopting it"
            )
        most = self.part.bench_amps_max
        if most is not None and amps > most:
            self.warnings.append(f"shot {number} asks for {amps} A, the bench gives {shown(most)} A")

    def head(self) -> None:
        low, high = self.part.amps_per_in
        windows = [
            SectionWindow(HEAD, s.zone, s.od, magnetizing_current.head_shot(s.od, low, high))
            for s in self.part.sections
        ]
        self.windows += windows
        groups = by_current(windows)
        if len(groups) > 1:
            self.warnings.append(
                f"head shot: no one current serves all sections; {len(groups)} currents, smallest first, "
                "and each is viewed before the next"
            )
        for group in groups:
            window = common(w.window for w in group)
            governing = max(group, key=lambda w: w.window.amps_min)
            named = {s.zone: s.outside for s in self.part.sections}
            surfaces = [named[w.zone] for w in group]
            self.add(HEAD, CIRCULAR, window, governing.zone, surfaces)
        self.warnings.append("head shot: the contact faces are not inspected by it; view them in another direction")
        hollow = [s.zone for s in self.part.sections if s.id]
        if hollow:
            self.warnings.append(f"head shot: no field at the bore of {', '.join(hollow)}; use a bar through it")

    def bar(self, bar: Bar) -> None:
        low, high = self.part.amps_per_in
        entered = [s for s in self.part.sections if s.id >= bar.diameter]
        name = f"{bar.placed} bar of {shown(bar.diameter)} in"
        if not entered:
            self.warnings.append(f"{name}: goes into no bore of the part; left out")
            return
        windows, placements = [], 1
        for s in entered:
            if bar.placed == "offset":
                found = magnetizing_current.offset_bar(
                    bar.diameter, (s.od - s.id) / 2, s.id, amps_per_in_min=low, amps_per_in_max=high
                )
                windows.append(SectionWindow(BAR, s.zone, found.effective_diameter, found.current))
                placements = max(placements, found.rotations_outside)
            else:
                windows.append(SectionWindow(BAR, s.zone, s.od, magnetizing_current.head_shot(s.od, low, high)))
        self.windows += windows
        groups = by_current(windows)
        if len(groups) > 1:
            self.warnings.append(f"{name}: no one current serves all bores; {len(groups)} currents, smallest first")
        if placements > 1:
            self.warnings.append(
                f"{name}: {placements} placements round the part, {shown(Fraction(360, placements))} deg apart, "
                "by the outer circumference (the more cautious figure)"
            )
        blocked = [s.zone for s in self.part.sections if s.id and s.id < bar.diameter]
        if blocked:
            self.warnings.append(f"{name}: does not go into {', '.join(blocked)}")
        surfaces = {s.zone: s.surfaces for s in entered}
        for group in groups:
            governing = max(group, key=lambda w: w.window.amps_min)
            covered = [surface for w in group for surface in surfaces[w.zone]]
            self.add(
                BAR,
                CIRCULAR,
                common(w.window for w in group),
                governing.zone,
                covered,
                conductor=bar.diameter,
                placements=placements if bar.placed == "offset" else None,
            )

    def along(self, fitted: Coil) -> None:
        """The coil: every section by its own diameter over the whole length; the one that asks for most governs."""
        shots: dict[str, coil.CoilShot] = {}
        length = self._length_with_extensions(fitted)
        for s in self.part.sections:
            setup = coil.Setup(length, s.od, s.id, fitted.diameter, fitted.turns, fitted.position)
            found = shots[s.zone] = coil.shot(setup, self.part.floor)
            window = Window(found.amps * (1 - COIL_WITHIN), found.amps * (1 + COIL_WITHIN))
            self.windows.append(SectionWindow(COIL, s.zone, found.effective_diameter, window))
        zone = max(shots, key=lambda name: shots[name].amps)
        chosen = shots[zone]
        window = Window(chosen.amps * (1 - COIL_WITHIN), chosen.amps * (1 + COIL_WITHIN))
        self._warn_of_coil(shots, zone, window)
        reach = min(field_length(shot.fill, fitted.diameter) for shot in shots.values())
        for place in places(self.part.length, stations_needed(self.part.length, reach), reach):
            reached = [
                surface
                for s in self.part.sections
                if s.start < place + reach / 2 and place - reach / 2 < s.end
                for surface in s.surfaces
            ]
            self.add(COIL, LONGITUDINAL, window, zone, reached, turns=fitted.turns, position=place, fill=chosen.fill)

    def _length_with_extensions(self, fitted: Coil) -> Fraction:
        """The part's length, with extensions where a section is too short for its diameter."""
        length = self.part.length
        for s in self.part.sections:
            setup = coil.Setup(length, s.od, s.id, fitted.diameter, fitted.turns, fitted.position)
            try:
                coil.shot(setup, self.part.floor)
            except coil.NeedsExtensions as short:
                length += short.thousandths_missing
        if length > self.part.length:
            self.warnings.append(
                f"coil: too short for L/D {shown(self.part.floor)}; add extensions of the part's own diameter, "
                f"{shown(length - self.part.length)} in or more in all: the coil currents here count on them"
            )
        return length

    def _warn_of_coil(self, shots: Mapping[str, coil.CoilShot], zone: str, window: Window) -> None:
        chosen = shots[zone]
        if chosen.fill == "intermediate":
            self.warnings.append(f"coil: intermediate fill (area ratio {shown(chosen.area_ratio)}), blended formula")
        if chosen.length_to_diameter_raw > coil.CEILING:
            self.warnings.append(f"coil: L/D {shown(chosen.length_to_diameter_raw)} counted as {coil.CEILING}")
        if chosen.length_to_diameter_raw <= WARN_RATIO:
            self.warnings.append(
                f"coil: L/D {shown(chosen.length_to_diameter_raw)}; some manuals ask for extensions up to L/D {WARN_RATIO}"
            )
        other = [name for name, shot in shots.items() if not window.amps_min <= shot.amps <= window.amps_max]
        if other:
            told = ", ".join(f"{name} {shown(shots[name].amps, digits=0)} A" for name in other)
            self.warnings.append(f"coil: {zone} governs; by their own diameter other sections ask for less: {told}")
        self.warnings.append("coil: ends of the part show poorly; quick break helps there")

    def maker_lines(self) -> list[str]:
        """The maker's currents beside the formula's window."""
        lines = []
        for kind, amps in self.part.maker.items():
            mine = [shot for shot in self.shots if shot.kind == kind]
            if not mine:
                lines.append(f"{kind}: maker's table {shown(amps)} A, no such shot in this draft")
                continue
            for window, zone in dict.fromkeys((shot.window, shot.governed_by) for shot in mine):
                told = f"{shown(window.amps_min, digits=0)} to {shown(window.amps_max, digits=0)} A"
                inside = window.amps_min <= amps <= window.amps_max
                word = "inside" if inside else OUTSIDE_WINDOW
                lines.append(f"{kind}: maker's table {shown(amps)} A, formula {told} ({zone}): {word}")
        return lines


def places(length: Fraction, positions: int, reach: Fraction) -> list[Fraction]:
    """Places of the coil's centre along a part, evenly from half a field after its begin to half a field before its end."""
    if positions == 1:
        return [length / 2]
    step = (length - reach) / (positions - 1)
    return [reach / 2 + step * i for i in range(positions)]


def draft(part: Part) -> Draft:
    """The draft: circular shots first, smallest current first, the coil last (a longitudinal field is read on a meter)."""
    work = _Drafting(part)
    if part.is_head_shot_allowed:
        work.head()
    for bar in part.bars:
        work.bar(bar)
    if part.coil is not None:
        work.along(part.coil)
    if not work.shots:
        raise InputError("no shot can be drafted: allow a head shot, or give a coil or a bar that goes into a bore")
    surfaces = [surface for section in part.sections for surface in section.surfaces]
    shots = [Shot(str(shot.number), shot.direction, shot.surfaces) for shot in work.shots]
    matrix = coverage(surfaces, shots)
    missing = tuple(lacking(matrix, published.DIRECTIONS.value))
    if missing:
        work.warnings.append(f"fewer than {published.DIRECTIONS.value} directions: {', '.join(missing)}")
    maker = tuple(work.maker_lines())
    work.warnings += [line for line in maker if line.endswith(OUTSIDE_WINDOW)]
    return Draft(tuple(work.windows), tuple(work.shots), matrix, missing, maker, tuple(work.warnings))
