"""The best order of a few jobs for one worker: who can go to lunch, and what must be started by when.

Every order of the jobs is searched, depth first; a beginning is given up only
when it is already worse in late jobs or minutes late than a complete order
found before (both can only grow), so the result is exact.  Waiting on purpose
is contained: each job starts as early as its place in the order allows, and an
order that puts a later release first *is* the wait.  Scheduling with releases
and due dates on one machine; the criteria are this project's own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import lcm

from ndi.domain.errors import InputError
from ndi.domain.quantity import shown

MOST_JOBS = 8  # 8! = 40 320 orders


@dataclass(frozen=True)
class Job:
    """One step to do: not before ``release``, finished by ``deadline``, taking ``work``; minutes from now."""

    name: str
    release: Fraction
    deadline: Fraction
    work: Fraction


@dataclass(frozen=True)
class Planned:
    """A job with its place in time; ``latest_start`` is the last minute at which it could still end on time."""

    name: str
    start: Fraction
    end: Fraction
    latest_start: Fraction


@dataclass(frozen=True)
class Plan:
    """The best order; ``late`` as (name, minutes late) in that order; ``wait`` minutes without work before the end."""

    order: list[Planned]
    late: list[tuple[str, Fraction]]
    wait: Fraction


_Whole = tuple[int, int, int]  # release, deadline, work in a common fraction of a minute


def _best_sequence(jobs: Sequence[_Whole]) -> tuple[int, ...]:
    """Positions of the jobs in the best order; ties go to the order met first, and orders are met by position."""
    best_score: tuple[int, int, int, int] | None = None
    best: tuple[int, ...] = ()

    def extend(done: tuple[int, ...], end: int, late: int, minutes_late: int, sum_of_ends: int) -> None:
        nonlocal best_score, best
        if best_score is not None and (late, minutes_late) > best_score[:2]:
            return
        if len(done) == len(jobs):
            score = (late, minutes_late, end, sum_of_ends)
            if best_score is None or score < best_score:
                best_score, best = score, done
            return
        for index, (release, deadline, work) in enumerate(jobs):
            if index not in done:
                ends = max(end, release) + work
                over = max(0, ends - deadline)
                extend((*done, index), ends, late + (over > 0), minutes_late + over, sum_of_ends + ends)

    extend((), 0, 0, 0, 0)
    return best


def best_order(jobs: Sequence[Job]) -> Plan:
    """The best order of up to 8 jobs for one worker who is free from minute 0.

    Best means, in this order: fewest late jobs, least minutes late in all,
    earliest last end, least sum of ends, lowest positions in ``jobs``.
    InputError for more jobs, a name used twice, or work that is not above 0.
    """
    if len(jobs) > MOST_JOBS:
        raise InputError(f"{len(jobs)} jobs: at most {MOST_JOBS} can be ordered; leave out those that start last")
    for job in jobs:
        if job.work <= 0:
            raise InputError(f"job {job.name}: work of {shown(job.work)} min; it must be above 0")
    if len({job.name for job in jobs}) < len(jobs):
        raise InputError("two jobs have one name; give each its own")
    times = [(job.release, job.deadline, job.work) for job in jobs]
    scale = lcm(*(time.denominator for triple in times for time in triple))
    sequence = _best_sequence([(int(r * scale), int(d * scale), int(w * scale)) for r, d, w in times])
    order: list[Planned] = []
    late: list[tuple[str, Fraction]] = []
    end = Fraction(0)
    for job in (jobs[index] for index in sequence):
        start = max(end, job.release)
        end = start + job.work
        order.append(Planned(job.name, start, end, job.deadline - job.work))
        if end > job.deadline:
            late.append((job.name, end - job.deadline))
    return Plan(order, late, end - sum((job.work for job in jobs), Fraction(0)))
