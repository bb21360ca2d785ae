"""Broken files: (name, base file, text to replace, text to put, line relative marker, key, fragment of the problem).

``find`` must stand in the base file; the expected line is where ``at`` stands after the change.
"""

from __future__ import annotations

from typing import NamedTuple


class Broken(NamedTuple):
    name: str
    base: str  # file below the folder of the demonstration procedures
    find: str
    put: str
    at: str | None  # a text that stands on the expected line of the changed file, None: no line
    key: str | None
    fragment: str


MT = "MT-P-01/rev-F.toml"
PT = "PT-P-01/rev-D.toml"
CRANK = "techniques/MT-T-6001.toml"
ROD = "techniques/MT-T-6010.toml"
PISTON = "techniques/PT-T-6130.toml"
BARREL = "techniques/MT-T-6120.toml"
ROD_PART = "parts/T6-10101.toml"
CRANK_PART = "parts/T6-10010.toml"
HOUSING = "parts/T6-11010.toml"
ROCKER = "parts/T6-10301.toml"

UV_MIN = 'uv_min = { value = "1000", unit = "uW/cm2", paragraph = "4.1", source = "US T.O. 33B-1-1" }'
L03 = 'L03 = { severity = "B", paragraph = "4.2", may_deviate = ["L3"] }'
G12 = 'G12 = { severity = "B", paragraph = "1.5" }'


def _uv(put: str) -> str:
    return UV_MIN.replace('value = "1000", unit = "uW/cm2"', put)


PROCEDURES = [
    Broken("syntax", MT, 'title = "Magnetic', 'title = Magnetic', "title = Magnetic", None, "is not TOML here"),
    Broken("unclosed list", MT, '  "reject", "rework order"', '  "reject" "rework order"', '"reject" "rework', None, "is not TOML"),
    Broken("rule twice", MT, G12, G12 + "\n" + G12.replace("1.5", "1.50"), 'G12 = { severity = "B", paragraph = "1.50" }', None, "is not TOML"),
    Broken("missing key", MT, 'title = "Magnetic particle inspection of engine parts, wet fluorescent"\n', "", None, "title", "is missing"),
    Broken("missing parameters", MT, "[parameters]", "[windows]", "[windows]", "windows", "unknown key"),
    Broken("unknown key", MT, "effective_from =", "efective_from =", "efective_from", "efective_from", "did you mean effective_from?"),
    Broken("unknown parameter", MT, "uv_min =", "uv_mim =", "uv_mim", "parameters.uv_mim", "did you mean uv_min?"),
    Broken("unknown field", MT, UV_MIN, UV_MIN.replace("paragraph", "paragraf"), "paragraf", "parameters.uv_min.paragraf", "did you mean paragraph?"),
    Broken("wrong type text", MT, 'number = "MT-P-01"', "number = 1", "number = 1", "number", "must be text in quotes"),
    Broken("wrong type list", MT, 'second_person_for = [\n', 'second_person_for = [\n  5,\n', "second_person_for", "second_person_for", "must be a list of texts"),
    Broken("wrong type table", MT, G12, 'G12 = "B"', 'G12 = "B"', "rules.G12", "must be a table"),
    Broken("wrong type yes/no", MT, "value = false", 'value = "no"', "accept_needs_bracket", "parameters.accept_needs_bracket.value", "true or false without quotes"),
    Broken("date as text", MT, "effective_from = 2026-01-15", 'effective_from = "2026-01-15"', "effective_from", "effective_from", "must be a date without quotes"),
    Broken("date with time", MT, "effective_from = 2026-01-15", "effective_from = 2026-01-15T06:00:00Z", "effective_from", "effective_from", "must be a date"),
    Broken("no such date", MT, "effective_from = 2026-01-15", "effective_from = 2026-02-30", "effective_from", None, "is not TOML"),
    Broken("ends before it begins", "MT-P-01/rev-E.toml", "effective_to = 2026-01-14", "effective_to = 2025-01-31", "effective_to", "effective_to", "is before effective_from"),
    Broken("unknown method", MT, 'method = "MT"', 'method = "ET"', 'method = "ET"', "method", "'ET' is not a known method"),
    Broken("unit of wrong dimension", MT, UV_MIN, _uv('value = "1000", unit = "fc"'), "uv_min =", "parameters.uv_min.unit", "unit fc measures illuminance; irradiance is needed"),
    Broken("temperature difference", PT, 'value = "40", unit = "degF"', 'value = "40", unit = "ddegF"', "wetting_temperature_min", "parameters.wetting_temperature_min.unit", "temperature is needed here"),
    Broken("unknown unit", MT, UV_MIN, _uv('value = "1000", unit = "uW"'), "uv_min =", "parameters.uv_min.unit", "unit 'uW' is not known"),
    Broken("no unit", MT, UV_MIN, _uv('value = "1000"'), "uv_min =", "parameters.uv_min.unit", "needs a unit of irradiance"),
    Broken("unit on a word", MT, 'value = "longitudinal"', 'value = "longitudinal", unit = "pcs"', "last_direction", "parameters.last_direction.unit", "take the unit out"),
    Broken("bare whole number", MT, UV_MIN, _uv('value = 1000, unit = "uW/cm2"'), "uv_min =", "parameters.uv_min.value", "has no quotes: numbers are written in quotes"),
    Broken("bare decimal number", MT, 'value = "0.10"', "value = 0.10", "bath_hard_min", "parameters.bath_hard_min.value", "so that they stay as typed"),
    Broken("endless number", MT, UV_MIN, _uv('value = "' + "9" * 5000 + '", unit = "uW/cm2"'), "uv_min =", "parameters.uv_min.value", "limit"),
    Broken("blank at the end", MT, 'number = "MT-P-01"', 'number = "MT-P-01 "', "number =", "number", "begins or ends with a blank"),
    Broken("control character", MT, 'number = "MT-P-01"', 'number = "MT-P\\u0007-01"', "number =", "number", "holds a control character"),
    Broken("not NFC", MT, 'title = "Magnetic', 'title = "Piece\u0301s: magnetic', "title =", None, "not NFC"),
    Broken("not a number", MT, UV_MIN, _uv('value = "1e3", unit = "uW/cm2"'), "uv_min =", "parameters.uv_min.value", "'1e3' is not a number"),
    Broken("comma in number", MT, 'value = "0.10"', 'value = "0,10"', "bath_hard_min", "parameters.bath_hard_min.value", "'0,10' is not a number"),
    Broken("min above max", MT, 'value = "0.10"', 'value = "0.50"', "bath_hard_min", "parameters.bath_hard_min", "0.50 mL is above bath_hard_max, 0.40 mL"),
    Broken("min above max, other unit", MT, 'value = "0.5", unit = "s"', 'value = "0.1", unit = "min"', "pulse_min", "parameters.pulse_min", "0.1 min is above pulse_max, 1.5 s"),
    Broken("negative limit", MT, UV_MIN, _uv('value = "-1000", unit = "uW/cm2"'), "uv_min =", "parameters.uv_min.value", "is negative"),
    Broken("zero limit", MT, UV_MIN, _uv('value = "0", unit = "uW/cm2"'), "uv_min =", "parameters.uv_min.value", "is zero"),
    Broken("no paragraph", MT, ', paragraph = "4.1", source', ", source", "uv_min =", "parameters.uv_min.paragraph", "is missing"),
    Broken("empty paragraph", MT, 'paragraph = "4.1", source', 'paragraph = " ", source', "uv_min =", "parameters.uv_min.paragraph", "is empty"),
    Broken("no source", MT, ', paragraph = "4.1", source = "US T.O. 33B-1-1"', ', paragraph = "4.1"', "uv_min =", "parameters.uv_min.source", "is missing"),
    Broken("bad time of day", MT, 'value = "06:00"', 'value = "6:00"', "shop_day_start", "parameters.shop_day_start.value", "is no time of day"),
    Broken("day ends before it begins", MT, 'value = "21:00"', 'value = "05:00"', "shop_day_end", "parameters.shop_day_end", "is not later than shop_day_start"),
    Broken("bad word", MT, 'value = "longitudinal"', 'value = "longitudnal"', "last_direction", "parameters.last_direction.value", "did you mean longitudinal?"),
    Broken("unknown rule", MT, "G12 =", "G31 =", "G31", "rules.G31", "rule G31 is not known to this program"),
    Broken("unknown severity", MT, G12, G12.replace('"B"', '"X"'), "G12", "rules.G12.severity", "'X' is not a known severity"),
    Broken("rule without paragraph", MT, G12, 'G12 = { severity = "B" }', "G12", "rules.G12.paragraph", "is missing"),
    Broken("deviation where none exists", MT, G12, G12.replace(" }", ', may_deviate = ["L3"] }'), "G12", "rules.G12.may_deviate", "nobody may deviate from G12"),
    Broken("deviation from a warning", MT, 'L12 = { severity = "W", paragraph = "4.12" }', 'L12 = { severity = "W", paragraph = "4.12", may_deviate = ["L3"] }', "L12", "rules.L12.may_deviate", "severity B only"),
    Broken("unknown role", MT, L03, L03.replace('"L3"', '"boss"'), "L03", "rules.L03.may_deviate[1]", "'boss' is not a known role"),
    Broken("unknown second person word", MT, '"reject", "rework order"', '"rejects", "rework order"', '"rejects"', "second_person_for[4]", "did you mean reject?"),
    Broken("caution without text", MT, 'before = "head shot"\ntext', 'before = "head shot"\ntekst', "tekst", "cautions[1].tekst", "did you mean text?"),
]  # fmt: skip

TECHNIQUES = [
    Broken("shot number twice", CRANK, "shot = 2\n", "shot = 1\n", None, "shots[2].shot", "shot 1 stands here twice"),
    Broken("amps too low", CRANK, 'amps = "1500 A"', 'amps = "15 A"', 'amps = "15 A"', "shots[3].amps", "15 A is not within 100 to 6000 A"),
    Broken("amps too high", CRANK, 'amps = "1500 A"', 'amps = "15 kA"', 'amps = "15 kA"', "shots[3].amps", "15 kA is not within 100 to 6000 A"),
    Broken("amps without unit", CRANK, 'amps = "1500 A"', 'amps = "1500"', 'amps = "1500"', "shots[3].amps", "has no unit"),
    Broken("amps bare", CRANK, 'amps = "1500 A"', "amps = 1500", "amps = 1500", "shots[3].amps", "numbers are written in quotes"),
    Broken("amps in gauss", CRANK, 'amps = "1500 A"', 'amps = "1500 G"', 'amps = "1500 G"', "shots[3].amps", "current is needed here"),
    Broken("unknown shot kind", CRANK, 'kind = "bar"', 'kind = "yoke"', 'kind = "yoke"', "shots[3].kind", "'yoke' is not a known kind"),
    Broken("turns on a head shot", CRANK, 'shot = 1\n', 'shot = 1\nturns = 5\n', "turns = 5\nkind", "shots[1].turns", "only a coil shot has turns"),
    Broken("coil without turns", ROD, "turns = 5\n", "", None, "shots[3].turns", "is missing"),
    Broken("count in quotes", CRANK, "plugs = 9", 'plugs = "9"', "plugs =", "plugs", "must be a whole number without quotes"),
    Broken("endless count", CRANK, "plugs = 9", "plugs = 0x" + "f" * 5000, "plugs = 0x", "plugs", "is a very long number"),
    Broken("endless amps", CRANK, 'amps = "1500 A"', "amps = 0x" + "f" * 5000, "amps = 0x", "shots[3].amps", "a very long number has no quotes"),
    Broken("too many plugs", CRANK, "plugs = 9", "plugs = 99", "plugs = 99", "plugs", "is 99, it must be 0 to 40"),
    Broken("applies to nothing", ROD, 'applies_to = ["T6-10101"]', "applies_to = []", "applies_to", "applies_to", "needs at least 1"),
    Broken("no zones", ROD, 'zones = ["BOLT-SEATS", "BIG-END-BORE", "BEAM-FLANGE", "SMALL-END", "OIL-HOLE"]', "zones = []", "zones = []", "zones", "needs at least 1"),
    Broken("zone twice", ROD, '"BOLT-SEATS", "BIG', '"BIG-END-BORE", "BIG', "zones =", "zones[2]", "stands here twice"),
    Broken("no residual points", ROD, 'residual_points = ["big end", "beam", "small end"]', "residual_points = []", "residual_points", "residual_points", "needs at least 1"),
    Broken("view time bare", ROD, 'expected_view_min = "5.6"', "expected_view_min = 5.6", "expected_view_min", "expected_view_min", "numbers are written in quotes"),
    Broken("unknown post-process", ROD, '"preserve"', '"preserv"', "post_process", "post_process[4]", "did you mean preserve?"),
    Broken("fill on a bar shot", ROD, 'kind = "bar"\n', 'kind = "bar"\nfill = "low"\n', 'fill = "low"\ndirection', "shots[2].fill", "only a coil shot has fill, this is a bar shot"),
    Broken("unknown fill class", ROD, 'fill = "low"', 'fill = "lo"', 'fill = "lo"', "shots[3].fill", "did you mean low?"),
    Broken("bar diameter on a head shot", CRANK, 'shot = 1\n', 'shot = 1\nconductor = "1 in"\n', 'conductor = "1 in"\nkind', "shots[1].conductor", "only a bar shot has conductor"),
    Broken("bar diameter bare", CRANK, 'conductor = "1.25 in"', "conductor = 1.25", "conductor = 1.25", "shots[3].conductor", "numbers are written in quotes"),
    Broken("centred bar at several places", CRANK, 'conductor = "1.25 in"', 'conductor = "1.25 in"\nrotations = 5', "rotations = 5", "shots[3].rotations", "only an offset bar is put at several places"),
    Broken("no place of an offset bar", BARREL, "offset = true", "offset = true\nrotations = 0", "rotations = 0", "shots[1].rotations", "is 0, it must be 1 to 40"),
    Broken("field in a zone of no technique", ROD, '"BOLT-SEATS" = "90 deg"', '"BOLT-SEAT" = "90 deg"', '"BOLT-SEAT" =', "shots[1].fields.BOLT-SEAT", "did you mean BOLT-SEATS?"),
    Broken("field without unit", ROD, '"BOLT-SEATS" = "90 deg"', '"BOLT-SEATS" = "90"', '"BOLT-SEATS" = "90",', "shots[1].fields.BOLT-SEATS", "has no unit"),
    Broken("field in inches", ROD, '"BOLT-SEATS" = "90 deg"', '"BOLT-SEATS" = "90 in"', '"BOLT-SEATS" = "90 in"', "shots[1].fields.BOLT-SEATS", "angle is needed here"),
    Broken("UV-A read in a zone of no technique", ROD, "plugs = 0", 'plugs = 0\nuv_at_part = ["BIG-END"]', "uv_at_part", "uv_at_part[1]", "did you mean BIG-END-BORE?"),
    Broken("white light in quotes", ROD, "plugs = 0", 'plugs = 0\nwhite_light = "yes"', "white_light", "white_light", "true or false without quotes"),
    Broken("field points in PT", PISTON, "[windows]", 'field_points = ["pin 3"]\n[windows]', "field_points", "field_points", "does not belong to a technique of method PT"),
    Broken("penetrant key in MT", ROD, "plugs = 0", 'plugs = 0\nsensitivity = "2"', "sensitivity", "sensitivity", "does not belong to a technique of method MT"),
    Broken("shots in PT", PISTON, "[windows]", "[[shots]]\nshot = 1\n[windows]", "[[shots]]", "shots", "does not belong to a technique of method PT"),
    Broken("unknown penetrant method", PISTON, 'pt_method = "D"', 'pt_method = "E"', "pt_method", "pt_method", "'E' is not a known pt_method"),
    Broken("unknown window", PISTON, "remover_min =", "remover_mim =", "remover_mim", "windows.remover_mim", "did you mean remover_min?"),
]  # fmt: skip

PARTS = [
    Broken("polygon of two corners", ROD_PART, '["0", "-42"], ["24", "-42"], ["24", "42"], ["0", "42"]', '["0", "-42"], ["24", "-42"]', 'polygon = [["0", "-42"], ["24", "-42"]]', "zones[1].polygon", "has 2 corners"),
    Broken("polygon without area", ROD_PART, '["0", "-42"], ["24", "-42"], ["24", "42"], ["0", "42"]', '["0", "0"], ["24", "0"], ["12", "0"]', 'polygon = [["0", "0"], ["24", "0"]', "zones[1].polygon", "encloses no area"),
    Broken("corner of bare numbers", ROD_PART, 'polygon = [["0", "-42"]', "polygon = [[0, -42]", "polygon = [[0", "zones[1].polygon[1]", "numbers are written in quotes"),
    Broken("corner of one number", ROD_PART, 'polygon = [["0", "-42"]', 'polygon = [["0"]', 'polygon = [["0"]', "zones[1].polygon[1]", "must be one place"),
    Broken("reading point of one number", ROD_PART, 'at = ["53", "42"]', 'at = ["53"]', 'name = "big end"', "reading_points[1].at", "must be one place"),
    Broken("reading point twice", ROD_PART, 'name = "beam"', 'name = "big end"', 'at = ["136"', "reading_points[2].name", "stands here twice"),
    Broken("class 4", ROD_PART, "item_class = 1", "item_class = 4", "item_class", "item_class", "is 4, it must be 1 to 3"),
    Broken("class 0", ROD_PART, "item_class = 1", "item_class = 0", "item_class", "item_class", "is 0, it must be 1 to 3"),
    Broken("level in quotes", ROD_PART, "item_class = 1", 'item_class = "1"', "item_class", "item_class", "without quotes"),
    Broken("negative zone limit", HOUSING, 'max_length = "0.06 in"', 'max_length = "-0.06 in"', "-0.06", "zones[3].limits[1].max_length", "is negative"),
    Broken("zero zone limit", HOUSING, 'max_length = "0.06 in"', 'max_length = "0 in"', '"0 in", ref', "zones[3].limits[1].max_length", "is zero"),
    Broken("zero blend depth", ROD_PART, 'blend_depth = "0.010 in"', 'blend_depth = "0 in"', "blend_depth", "zones[3].limits[1].blend_depth", "is zero"),
    Broken("limit without reference", HOUSING, 'max_length = "0.06 in", reference = "limits sheet LS-11010 rev 3"', 'max_length = "0.06 in"', '"0.06 in"', "zones[3].limits[1].reference", "is missing"),
    Broken("zone without limits line", HOUSING, 'limits = [{ form = "any", reference = "limits sheet LS-11010 rev 3" }]  # none allowed\n\n[[zones]]\ncode = "MOUNT-PAD-1"', '\n[[zones]]\ncode = "MOUNT-PAD-1"', None, "zones[1].limits", "is missing"),
    Broken("limit of unknown form", HOUSING, 'form = "rounded"', 'form = "round"', 'form = "round"', "zones[3].limits[1].form", "did you mean rounded?"),
    Broken("zone code twice", ROD_PART, 'code = "OIL-HOLE"', 'code = "SMALL-END"', None, "zones[5].code", "stands here twice"),
    Broken("required zone unknown", ROD_PART, '"SMALL-END", "OIL-HOLE"]', '"SMALL-END", "OIL-HOLES"]', "OIL-HOLES", "required[1].zones[5]", "did you mean OIL-HOLE?"),
    Broken("MT required on bronze", ROCKER, '"ARM-PUSH", "SOCKET-RADIUS"]', '"ARM-PUSH", "BUSH"]', '"ARM-PUSH", "BUSH"]', "required[1].zones", "zone BUSH is bronze: MT cannot be used there"),
    Broken("section without length", ROD_PART, 'code = "WHOLE", length = "9.6 in", ', 'code = "WHOLE", ', 'code = "WHOLE"', "sections[1].length", "is missing"),
    Broken("section of no width", ROD_PART, 'od = "1.10 in"', 'od = "0 in"', 'od = "0 in"', "sections[1].od", "is zero"),
    Broken("bore as wide as the part", ROD_PART, 'od = "1.10 in"', 'od = "1.10 in", id = "1.1 in"', 'id = "1.1 in"', "sections[1].id", "1.1 in is not below od, 1.10 in"),
    Broken("section twice", CRANK_PART, 'code = "MAINS"', 'code = "WHOLE"', 'code = "WHOLE", length = "40 in", od = "2.38 in"', "sections[2].code", "section WHOLE stands here twice"),
    Broken("unknown key of a section", ROD_PART, 'od = "1.10 in"', 'od = "1.10 in", wall = "0.2 in"', "wall", "sections[1].wall", "unknown key"),
    Broken("negative coating", ROD_PART, 'coating = "0 in"', 'coating = "-1 in"', "coating", "coating", "is negative"),
    Broken("no zones", "parts/T6-10305.toml", "[[zones]]", "[[zonen]]", "[[zonen]]", "zonen", "did you mean zones?"),
]  # fmt: skip
