"""Invented models to print: a tag and a record of the demo shop's kind."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from io import BytesIO
from typing import Any

from ndi.services.report_models import (
    AnswerLine,
    IndicationModel,
    Labelled,
    PictureModel,
    ReadingRow,
    ReasonLine,
    RecordModel,
    SecondLookRow,
    ShotRow,
    SignatureLine,
    StepRow,
    TagModel,
    ViewRow,
    ZoneModel,
)

CREATED = datetime(2026, 3, 10, 21, 36, 12, tzinfo=UTC)

_TAG = TagModel(
    book_id="7Q2M4K9XWD",
    tag_no=5512,
    copy=1,
    practice=False,
    disposition="ACCEPT",
    tag_word="ACCEPT",
    waits_for=None,
    part_no="T6-11020",
    description="Crankcase half, left",
    serial="CCL-3391",
    lot=None,
    piece=None,
    quantity=1,
    work_order="W26-0148",
    engine="Tavelin 6H-515 serial 6H-20417",
    limits_basis="overhaul limits",
    procedure="PT-P-01 Rev D",
    technique="PT-T-6101 Rev 2",
    inspection="PT-001",
    person="L2-B",
    certificate="PT level 2",
    decided_at="2026-03-10 09:27 -05:00",
    conditions=None,
    exceptions=(),
    record_hash="3f9a07c1" * 8,
    head="1243:0a1b2c3d4e5f6a7b",
)

PROVISIONAL: dict[str, Any] = {
    "tag_word": "ACCEPT - PROVISIONAL",
    "waits_for": "closing UV-A reading of lamp LP-5 at 15 in, booth PT",
    "exceptions": ("L11 NOT YET: closing reading of lamp LP-5",),
}

# every disposition that has a tag, and the shapes that strain the layout
TAGS: dict[str, dict[str, Any]] = {
    "accept": {},
    "provisional": PROVISIONAL,
    "rework": {
        "disposition": "REWORK",
        "tag_word": "REWORK",
        "conditions": "BEAM-FLANGE: blend forging lap, depth not over 0.010 in, then inspect again",
    },
    "reject": {"disposition": "REJECT", "tag_word": "REJECT"},
    "hold": {"disposition": "HOLD-ENG", "tag_word": "HOLD ENGINEERING"},
    "unserviceable": {"disposition": "RETURN UNSERVICEABLE", "tag_word": "UNSERVICEABLE"},
    "suspended": {
        "disposition": "SUSPENDED",
        "tag_word": "SUSPENDED",
        "conditions": "lamp LP-3 read 880 µW/cm² at 12:35, limit 1000 µW/cm²",
    },
    "copy": {"copy": 12},
    "lot": {"serial": None, "lot": "LOT-148-RKR", "quantity": 11, "description": "Rocker arms"},
    "piece": {"serial": None, "lot": "LOT-148-RKR", "piece": "RA-07", "procedure_hash": "9c41" * 16},
    "practice": {"practice": True},
    "practice reject": {"practice": True, "disposition": "REJECT", "tag_word": "REJECT"},
    "accents": {"description": "Bielle forgée, traitée à 180 °C ± 5 °C, émaillée µ²", "person": "É-Ł-Ż-ß"},
    "long": {
        **PROVISIONAL,
        "part_no": "T6-10301-0123456789-ABCDEFGHIJ",
        "serial": "WWWW-MMMM-0123456789-ABCDEFGHI",
        "lot": "LOT-148-RKR-0123456789-ABCDEFG",
        "piece": "RA-07",
        "quantity": 12345,
        "description": "Rocker arm, intake and exhaust, forged, with its bronze bush",
        "engine": "Tavelin 6H-515 serial 6H-20417, TSN 3804 h, TSO 1912 h, overhaul, right hand rotation",
        "limits_basis": "overhaul limits, manual chapter 72-00 revision 14 of 2025-11-30",
        "conditions": "Concession ENG-2026-031 rev B: linear indication of 0.06 in at MAIN3-THROUGH-BOLT-BOSS is "
        "left as it is; inspect again at 500 h; do not weld; do not machine the boss face.",
        "exceptions": (
            "L11 NOT YET: closing reading of lamp LP-5",
            "D05 under concession ENG-2026-031 rev B",
            "L03 deviation signed by NL3-E until 2026-03-31: ambient 2.1 fc, limit 2.0 fc",
        ),
        "copy": 104,
        "tag_no": 1234567,
        "book_id": "7Q2M4K9XWD7Q2M4K",
    },
}


def tag(**changes: Any) -> TagModel:
    """The plain acceptance, changed."""
    return replace(_TAG, **changes)


def photograph(width: int = 640, height: int = 420) -> bytes:
    """A PNG that looks like nothing else: a grey ramp."""
    from PIL import Image

    image = Image.linear_gradient("L").resize((width, height))
    file = BytesIO()
    image.save(file, format="PNG")
    return file.getvalue()


_CRANK = (
    (0.0, 60.0), (60.0, 60.0), (60.0, 0.0), (110.0, 0.0), (110.0, 70.0), (330.0, 70.0), (330.0, 10.0), (380.0, 10.0),
    (380.0, 70.0), (640.0, 70.0), (640.0, 0.0), (700.0, 0.0), (700.0, 80.0), (1016.0, 80.0), (1016.0, 130.0),
    (700.0, 130.0), (700.0, 210.0), (640.0, 210.0), (640.0, 140.0), (380.0, 140.0), (380.0, 200.0), (330.0, 200.0),
    (330.0, 140.0), (110.0, 140.0), (110.0, 210.0), (60.0, 210.0), (60.0, 150.0), (0.0, 150.0),
)  # fmt: skip


def _box(code: str, left: float, bottom: float, right: float, top: float) -> ZoneModel:
    return ZoneModel(code, ((left, bottom), (right, bottom), (right, top), (left, top)))


_ZONES = (
    _box("FLANGE", 0, 60, 60, 150),
    _box("CHEEK-1", 60, 0, 110, 210),
    _box("MAIN2-JOURNAL", 110, 70, 330, 140),
    _box("PIN4-REAR-FILLET", 330, 10, 380, 200),
    _box("MAIN3-JOURNAL", 380, 70, 640, 140),
    _box("CHEEK-5", 640, 0, 700, 210),
    _box("GEAR-SEAT", 700, 80, 1016, 130),
)

_QUESTIONS = (
    ("G02", "S", "Is the serial of the part exactly a serial of the work order?", "CCL-3391", "one of 123 serials"),
    ("G12", "B", "Did the inspector hold a certificate of level 2 or above at the decision?", "L2-A: MT level 2", "≥ 2"),
    ("G22", "W", "Is no viewing stretch longer than allowed without a break?", "2 h 20 min", "≤ 120 min"),
    ("L01", "S", "Has each lamp of the view an as-found reading this shift before the view?", "LP-1 06:40", "1 reading"),
    ("L02", "B", "Is the UV-A irradiance at 15 in at least the minimum?", "1720 µW/cm² at 15 in ± 0.5 in", "≥ 1000 µW/cm²"),
    ("L11", "B", "Is every view bracketed by a later reading of each lamp that meets the limit?", "none after 08:46", "1 reading"),
    ("M09", "B", "Did the tool-steel ring show the holes at the current of the table?", "6 holes at 2500 A", "≥ 5 holes"),
    ("M16", "B", "Is the residual field at every point of the technique at or under the maximum?", "2.1 G at flange rim", "≤ 3 G"),
    ("P06", "B", "Was the dwell at least the minimum for the part's temperature?", "", "procedure gives no dwell for MT"),
    ("D05", "B", "Is every relevant indication within the limit of its zone?", "0.31 in linear", "none allowed"),
)  # fmt: skip
_VERDICTS = ("PASS", "PASS", "FAIL", "PASS", "PASS", "NOT YET", "PASS", "NOT RECORDED", "NOT APPLICABLE", "FAIL")


def answers(count: int) -> tuple[AnswerLine, ...]:
    """Answers in the order of the rule list, as many as asked for."""
    lines = []
    for number in range(count):
        rule, severity, text, found, limit = _QUESTIONS[number % len(_QUESTIONS)]
        verdict = _VERDICTS[number % len(_VERDICTS)] if number < 10 else "PASS"
        name = rule if number < 10 else f"{rule[0]}{number:02d}"
        person = "L2-A" if severity == "W" and verdict != "PASS" else None
        lines.append(AnswerLine(name, verdict, severity, text, found, limit, "MT-P-01 Rev F 5.3.2", person))
    return tuple(lines)


_RECORD = RecordModel(
    record_no="MT-001",
    book_id="7Q2M4K9XWD",
    practice=False,
    part_no="T6-10010",
    item="serial 6H-C-3391",
    work_order="W26-0148",
    word="REJECT",
    suspended=False,
    provisional=False,
    standing=(),
    identity=(
        Labelled("Part number", "T6-10010"),
        Labelled("Serial", "6H-C-3391"),
        Labelled("Description", "Crankshaft, six throws, nitrided"),
        Labelled("Quantity", "1"),
        Labelled("Class", "1"),
        Labelled("Work order", "W26-0148"),
        Labelled("Engine", "Tavelin 6H-515 serial 6H-20417, TSO 1912 h, TSN 3804 h"),
        Labelled("Reason for work", "overhaul"),
        Labelled("Limits basis", "overhaul limits"),
        Labelled("Method", "MT, wet fluorescent, continuous"),
        Labelled("Inspector", "L2-A, MT level 2"),
        Labelled("Station", "MT booth"),
    ),
    revisions=(
        Labelled("Procedure", "MT-P-01 Rev F"),
        Labelled("Technique sheet", "MT-T-6001 Rev 2"),
        Labelled("Part master", "T6-10010 Rev 3"),
        Labelled("Document hash", "9c41d2aa01b7e6f3"),
    ),
    attempts=("Attempt 1: 2026-03-10 07:50 to 08:46, first inspection, closed with the decision below.",),
    rules_asked="10 of MT-P-01 Rev F",
    record_hash="3f9a07c1" * 8,
    head="1243:0a1b2c3d4e5f6a7b",
    steps=(
        StepRow("1", "MT-001", "preclean", "07:20:00", "07:44:10", "24 min 10 s / 24 min 10 s", "CLN-J", "dry"),
        StepRow("1", "MT-001", "postclean", "08:50:00", "09:05:00", "15 min / 15 min 59 s", "CLN-J"),
    ),
    shots=(
        ShotRow("1", "head shot, circular", "MT-01", "2480 A FWDC", "2500 A ± 10 %", "2 of 0.8 s, 0.9 s", "07:52:10", "L2-A"),
        ShotRow("2", "coil shot, longitudinal", "MT-01", "1010 A, 5 turns", "1000 A ± 10 %", "2 of 0.9 s", "08:20:41", "L2-A"),
    ),
    views=(
        ViewRow("V-1", "first", "1", "L2-A", "LP-1, LP-2", "07:53:00", "08:19:30", "FLANGE, CHEEK-1, MAIN2-JOURNAL", "indications; background light"),
        ViewRow("V-2", "first", "1", "L2-A", "LP-1, LP-2", "08:21:10", "08:46:00", "PIN4-REAR-FILLET, MAIN3-JOURNAL, CHEEK-5, GEAR-SEAT", "indications"),
    ),
    readings=(
        ReadingRow("06:40", "LP-1", "UV-A at 15 in", "1720 µW/cm²", "as-found", "RM-1", "L1-D"),
        ReadingRow("06:45", "MT booth", "ambient visible", "0.9 fc", "screen on", "RM-1", "L1-D"),
        ReadingRow("07:38", "MTB-26-07", "bath concentration", "0.20 mL", "contamination 0.01 mL off", "", "L2-A"),
        ReadingRow("08:49", "flange rim", "residual field", "2.1 G", "", "GM-1", "L2-A"),
    ),
    second_looks=(
        SecondLookRow("SC-01", "MT-001-1", "L2-C", "MT level 2", "yes", "relevant, linear, 0.30 in", "agrees, |d| 0.01 in of 0.062 in"),
    ),
    indications=(
        IndicationModel("MT-001-1", "PIN4-REAR-FILLET", "clock 165°, in the rear fillet", "linear, circumferential", "0.31 in x 0.01 in",
                        "relevant: fatigue crack", "returned after wipe; demagnetised and shot again, still there",
                        "over limit", "none allowed, LS-10010 rev 3", "REJECT", x_mm=355.0, y_mm=120.0, length_mm=24.0, angle_deg=80.0),
        IndicationModel("MT-001-2", "CHEEK-5", "8 mm from the edge", "rounded", "0.02 in", "nonrelevant", "nick from handling, seen in white light",
                        "not applicable", "", x_mm=668.0, y_mm=180.0, length_mm=0.5),
        IndicationModel("MT-001-3", "GEAR-SEAT", "", "diffuse", "", "false", "wiped, did not return", "not applicable", ""),
    ),
    outline=_CRANK,
    zones=_ZONES,
    answers=answers(10),
    reasons=(ReasonLine("G22", "Crankshaft needed the long view; ten minutes' rest taken at 10:10.", "L2-A"),),
    signatures=(
        SignatureLine("2026-03-10 08:47 -05:00", "L2-A", "MT level 2", "performed", "REJECT, 10 answers, snapshot 3f9a07c13f9a07c1"),
        SignatureLine("2026-03-10 11:20 -05:00", "L2-C", "MT level 2", "second look", "MT-001-1, own figures saved first"),
        SignatureLine("2026-03-10 17:05 -05:00", "SUP-F", "MT level 2", "verified", "record as at entry 1243"),
    ),
    pictures=(PictureModel(photograph(), "PIN4-REAR-FILLET under UV-A, 2026-03-10 08:31, scale in frame, sha256 77aa01c2"),),
)  # fmt: skip


def record(**changes: Any) -> RecordModel:
    """The rejected crankshaft, changed."""
    return replace(_RECORD, **changes)
