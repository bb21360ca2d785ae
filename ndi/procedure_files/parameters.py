"""Parameters: of a procedure, or of a technique's windows.  The catalogue says key and unit, the file the value."""

from __future__ import annotations

import re
from collections.abc import Mapping

from ndi.domain.parameter_keys import KEYS
from ndi.domain.procedure import Parameter
from ndi.domain.quantity import Number, dimension
from ndi.procedure_files.tables import Table, bare_number, shown_type, unknown_word
from ndi.procedure_files.words import MAY_BE_ZERO, PARAMETER_LISTS, PARAMETER_TIMES, PARAMETER_WORDS

_FIELDS = ("value", "unit", "tolerance_percent", "paragraph", "source")
_CLOCK_TIME = re.compile(r"([01]\d|2[0-3]):[0-5]\d\Z", re.ASCII)


def read_parameters(table: Table | None) -> dict[str, Parameter]:
    """The parameters that have a value; an empty value (``""``) is no value."""
    if table is None:
        return {}
    table.only(KEYS, "parameter")
    read = ((key, _parameter(key, table.table(key))) for key in table.names())
    parameters = {key: parameter for key, parameter in read if parameter is not None}
    crossed = min_above_max(parameters)
    if crossed is not None:
        low, high = crossed
        raise table.refusal(low, f"{parameters[low].value} is above {high}, {parameters[high].value}")
    _check_shop_day(table, parameters)
    return parameters


def min_above_max(parameters: Mapping[str, Parameter]) -> tuple[str, str] | None:
    """The first pair ``stem_min``, ``stem_max`` whose lower end lies above the upper one."""
    for low, parameter in parameters.items():
        high = low.removesuffix("_min") + "_max"
        if not low.endswith("_min") or high not in parameters:
            continue
        smallest, largest = parameter.value, parameters[high].value
        if (
            isinstance(smallest, Number)
            and isinstance(largest, Number)
            and smallest.value > largest.in_unit(smallest.unit)
        ):
            return low, high
    return None


def _parameter(key: str, table: Table) -> Parameter | None:
    table.only(_FIELDS)
    if table.value("value") == "":
        return None
    value = _value(key, table)
    tolerance = None
    if table.optional_text("tolerance_percent") is not None:
        tolerance = table.number("tolerance_percent", table.text("tolerance_percent"), "%", "%")
        table.above_zero("tolerance_percent", tolerance)
    return Parameter(key, value, table.text("paragraph"), table.text("source"), tolerance)


def _value(key: str, table: Table) -> Number | bool | str | tuple[str, ...]:
    unit = KEYS[key].unit
    if unit in ("yes/no", "word"):
        if "unit" in table:
            raise table.refusal("unit", f"{key} is no number ({unit}); take the unit out")
        return table.yes_no("value") if unit == "yes/no" else _word(key, table)
    value = table.value("value")
    if not isinstance(value, str):
        raise table.refusal("value", bare_number(value, "0.165"))
    if table.optional_text("unit") is None:
        raise table.refusal("unit", f"is missing; {key} needs a unit of {dimension(unit)}, e.g. {unit}")
    table.number("unit", "0", table.text("unit"), unit)  # the unit alone first, so that it gets the blame
    number = table.number("value", value, table.text("unit"), unit)
    if dimension(unit) != "temperature":
        table.above_zero("value", number, zero=key in MAY_BE_ZERO)
    return number


def _word(key: str, table: Table) -> str | tuple[str, ...]:
    if key in PARAMETER_LISTS:
        return table.words("value", least=1)
    if not isinstance(table.value("value"), str):
        raise table.refusal("value", f"must be text in quotes, found {shown_type(table.value('value'))}")
    word = table.text("value")
    if key in PARAMETER_TIMES and not _CLOCK_TIME.match(word):
        raise table.refusal("value", f'{word!r} is no time of day; write hours and minutes, e.g. "06:00"')
    known = PARAMETER_WORDS.get(key)
    if known is not None and word not in known:
        raise table.refusal("value", unknown_word(word, known, key))
    return word


def _check_shop_day(table: Table, parameters: Mapping[str, Parameter]) -> None:
    start, end = (parameters.get(key) for key in PARAMETER_TIMES)
    if start and end and str(start.value) >= str(end.value):
        raise table.refusal("shop_day_end", f"{end.value} is not later than shop_day_start, {start.value}")
