"""Order of work, completion, lamp life, and serials that may have been meant: what the desk asks."""

from __future__ import annotations

from datetime import date

from ndi.calc import look_ahead, published, serial_guard, shop_time
from ndi.calc.computations.inputs import BadInput, Inputs
from ndi.calc.computations.outcome import Computation, Outcome, Result

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


def _completion(inputs: Inputs) -> Outcome:
    work = inputs.numbers("work_min", above=0)
    if not work:
        raise BadInput("work_min", "no jobs; give at least one")
    people, minutes = inputs.whole("people", least=1), inputs.number("minutes_per_day", above=0)
    first = inputs.day("first_date")
    off: list[date] = []
    if inputs.has("days_off"):
        texts = inputs.texts("days_off")
        named = Inputs({f"days_off[{index}]": text for index, text in enumerate(texts)})
        off = [named.day(key) for key in named.values]
    found = shop_time.completion(work, people, minutes, first, off)
    return Outcome(
        "time = the larger of all work / people and the longest job; working days = time / minutes_per_day, rounded up; "
        "counted from first_date on, without Saturdays, Sundays and days_off",
        "own arithmetic; an expectation, compare yesterday's with what happened",
        {
            "total_min": found.total_min,
            "elapsed_min": found.elapsed_min,
            "working_days": found.working_days,
            "last_date": found.last_day.isoformat(),
        },
    )


def _lamp_hours(inputs: Inputs) -> Outcome:
    on_h, life = inputs.numbers("on_h", least=0), inputs.number("life_h", above=0)
    low, high = published.LAMP_HOURS_PER_START_MIN, published.LAMP_HOURS_PER_START_MAX
    per_start = [
        inputs.number(key, least=0) if inputs.has(key) else default.value
        for key, default in (("h_per_start_min", low), ("h_per_start_max", high))
    ]
    if per_start[0] > per_start[1]:
        raise BadInput("h_per_start_min", "it is above h_per_start_max; swap or correct them")
    used = shop_time.lamp_use(on_h, *per_start)
    result: Result = {
        "hours": used.hours,
        "starts": used.starts,
        "counted_min_h": used.counted_min,
        "counted_max_h": used.counted_max,
        "left_min_h": life - used.counted_max,
        "left_max_h": life - used.counted_min,
    }
    keys = ("last_date", "counted_h_per_day")
    given = [key for key in keys if inputs.has(key)]
    if len(given) == 1:
        missing = next(key for key in keys if key not in given)
        raise BadInput(missing, f"this key is missing; give it together with {given[0]}, or leave out both")
    if given:
        last, a_day = inputs.day("last_date"), inputs.number("counted_h_per_day", above=0)
        result["replace_from"] = shop_time.used_up_on(last, life - used.counted_max, a_day).isoformat()
        result["replace_by"] = shop_time.used_up_on(last, life - used.counted_min, a_day).isoformat()
    return Outcome(
        "counted hours = hours burnt + starts x hours for each start, at the least and at the most; replacement when the rest "
        "of life_h is gone at counted_h_per_day",
        low.source,
        result,
    )


COMPUTATIONS = {
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
    "completion": Computation(
        ("work_min", "people", "minutes_per_day", "first_date"),
        ("days_off",),
        _completion,
        '{"work_min": [40, 25, 90, 60], "people": 2, "minutes_per_day": 100, "first_date": "2026-03-13"}',
        "on which day open jobs will be done",
    ),
    "lamp-hours": Computation(
        ("on_h", "life_h"),
        ("h_per_start_min", "h_per_start_max", "last_date", "counted_h_per_day"),
        _lamp_hours,
        '{"on_h": [8, 7.5, 4], "life_h": 1000}',
        "hours and starts of a mercury lamp, and what is left of its life (on_h: hours after each start)",
    ),
}
