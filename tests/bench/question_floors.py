"""The bare SQL of each of the forty questions: what the rows of the answer need of the book, and no more.

Fields of a body are taken out by the database (``json_extract``); a body is
read whole where the answer shows it whole.  What no SQL can say (limits in
procedures, hashes of the chain, the lawful way to look again) is not in it.
"""

from __future__ import annotations

from collections.abc import Mapping

Statement = tuple[str, tuple[str, ...]]  # text and the names of its values

_IN_FORCE = (
    "FROM fact f JOIN entry e ON e.position = f.position WHERE f.kind = '{kind}' AND f.nth = 0 AND NOT f.superseded"
)
_PART = "LEFT JOIN part p ON p.part = i.part"


def _of(kind: str, *fields: str, within: str = "", columns: str = "e.position, e.event_time, e.by") -> Statement:
    """Entries of a kind with some fields of their bodies; ``within``: names of two values, first and last time."""
    shown = ", ".join([columns, *(f"json_extract(e.body, '$.{name}')" for name in fields)])
    times = " AND f.at >= ? AND f.at < ?" if within else ""
    return f"SELECT {shown} {_IN_FORCE.format(kind=kind)}{times} ORDER BY f.at", tuple(within.split())


def _uses(name: str, after: str, until: str, columns: str = "u.*, i.*, p.*, e.offset_min") -> Statement:
    """Uses of an object in an interval with their records and parts; found by their ends, as the program finds them."""
    one = "SELECT * FROM object_use WHERE object = ? AND started || '' <= ? AND ended "
    text = (
        f"SELECT {columns} FROM ({one} IS NULL UNION ALL {one} > ?) u "
        f"JOIN entry e ON e.position = u.source LEFT JOIN inspection i ON i.inspection = u.inspection {_PART} ORDER BY u.started"
    )
    return text, (name, until, name, until, after)


def _about(subject: str, kinds: str = "", columns: str = "e.*", most: str = "") -> Statement:
    """Entries about something, of some kinds."""
    wanted = f" AND f.kind IN ({kinds})" if kinds else ""
    text = f"SELECT {columns} FROM fact f JOIN entry e ON e.position = f.position WHERE f.subject = ?{wanted} AND NOT f.superseded"
    return f"{text} ORDER BY f.at DESC {most}", (subject,)


_RECORDS = f"SELECT i.inspection, i.part, p.part_no, p.serial, p.lot, i.work_order, i.technique, i.method, i.quantity, i.disposition, i.suspended, i.provisional FROM inspection i {_PART}"
_RELEVANT = (
    "WITH said AS (SELECT json_extract(e.body, '$.indication') name, max(f.at) at, json_extract(e.body, '$.type') type, "
    f"json_extract(e.body, '$.interpretation') word {_IN_FORCE.format(kind='IndicationInterpreted')} GROUP BY name) "
    "SELECT e.position, e.event_time, json_extract(e.body, '$.zone'), json_extract(e.body, '$.clock'), said.type, i.inspection, "
    "p.part_no, p.part, p.serial, p.lot, i.work_order "
    "FROM fact f JOIN entry e ON e.position = f.position JOIN said ON said.name = json_extract(e.body, '$.indication') "
    f"JOIN inspection i ON i.inspection = json_extract(e.body, '$.inspection') {_PART} "
    "WHERE f.kind = 'IndicationSeen' AND f.nth = 0 AND NOT f.superseded AND said.word = 'relevant'"
)
_DECIDED = "SELECT DISTINCT f.subject, i.part FROM fact f JOIN inspection i ON i.inspection = f.subject WHERE f.kind = 'DecisionSigned' AND f.nth = 0 AND NOT f.superseded AND f.at >= ? AND f.at < ?"
_LAST_OF = (
    "SELECT {key}, max(e.event_time), e.body FROM fact f JOIN entry e ON e.position = f.position "
    "WHERE f.kind = '{kind}' AND f.nth = 0 AND NOT f.superseded GROUP BY {key}"
)


def _latest(kind: str, *names: str) -> Statement:
    return _LAST_OF.format(kind=kind, key=", ".join(f"json_extract(e.body, '$.{name}')" for name in names)), ()


_READING = _about("lamp", "'ReadingRecorded'", most="LIMIT 1")
_LATE = (
    "SELECT e.position, e.by, e.event_time, e.offset_min FROM entry e JOIN fact f ON f.position = e.position AND f.nth = 0 AND NOT f.superseded "
    "WHERE e.how = 'typed-late' AND e.event_time >= ? AND e.event_time < ?"
)
_SHOTS = _of("ShotFired", "inspection", "shot", within="years now")
_ORDER_ROWS: Statement = (_RECORDS + " WHERE i.work_order = ? ORDER BY i.opened", ("work_order",))
_TAGS = "'TagPrinted', 'TagScannedBack', 'TagVoided'"

FLOORS: Mapping[str, tuple[Statement, ...]] = {
    "F1": (
        _READING,
        _uses("lamp", "recent", "now"),
        _of("AttemptVoided", "inspection", "attempt", within="recent now"),
    ),
    "F2": (
        _about("bench", "'ReadingRecorded', 'ProcessCheckRecorded'", most="LIMIT 1"),
        _uses("bench", "recent", "now"),
        _of("AttemptVoided", "inspection", "attempt", within="recent now"),
    ),
    "F3": (
        (
            _RELEVANT + " AND json_extract(e.body, '$.zone') = ? AND p.part_no = ? AND f.at >= ?",
            ("zone", "part_no", "years"),
        ),
        (
            "SELECT e.* FROM fact f JOIN entry e ON e.position = f.position WHERE f.subject = ? AND f.kind = 'PastInspection' "
            "AND json_extract(e.body, '$.zone') = ?",
            ("part_no", "zone"),
        ),
    ),
    "F4": (_of("BatchEntered", "batch", "expires"), _of("EquipmentStatusSet", "equipment", "state")),
    "F5": (
        (
            "SELECT p.part_no, i.work_order, sum(i.quantity) FROM (SELECT part, work_order, max(quantity) quantity FROM inspection GROUP BY part) i "
            f"{_PART} GROUP BY p.part_no, i.work_order",
            (),
        ),
        (_RELEVANT, ()),
        _of("WorkOrderOpened", "work_order", "time_since_overhaul"),
        _of("PastInspection", "part_no", "type", "serial"),
    ),
    "F6": (
        (
            f"SELECT i.*, p.*, e.offset_min FROM inspection i {_PART} JOIN entry e ON e.position = i.decision "
            "WHERE NOT i.verified ORDER BY i.decided_at",
            (),
        ),
    ),
    "F7": (
        _of("BasketLoaded", "basket", "inspections", "attempt", within="day now"),
        *(
            (
                "SELECT l.position, e.event_time, e.body FROM fact l JOIN fact b ON b.position = l.position "
                f"JOIN fact s ON s.subject = b.subject AND s.kind = '{kind}' AND s.at >= l.at "
                "JOIN entry e ON e.position = s.position "
                "WHERE l.kind = 'BasketLoaded' AND l.nth = 0 AND NOT l.superseded AND l.at >= ? AND l.at < ?",
                ("day", "now"),
            )
            for kind in ("StepStarted", "StepEnded", "ViewStarted", "ViewEnded", "InspectionOpened")
        ),
    ),
    "F8": tuple(
        statement
        for n in range(1, 6)
        for statement in (
            _uses(f"lamp_{n}", "month", "now", "u.inspection, u.started, u.ended"),
            (
                "SELECT e.body, e.event_time FROM fact f JOIN entry e ON e.position = f.position WHERE f.subject = ? AND "
                "f.kind = 'ReadingRecorded' AND f.at >= ? AND f.at < ? AND NOT f.superseded",
                (f"lamp_{n}", "month", "now"),
            ),
        )
    ),
    "F9": (
        (
            "SELECT e.* FROM part p JOIN fact f ON f.subject = p.part JOIN entry e ON e.position = f.position WHERE p.serial = ?",
            ("serial",),
        ),
        _about("serial"),
    ),
    "F10": (("SELECT * FROM part WHERE part = ?", ("part",)), _about("part", "'PartMoved'")),
    "F11": (
        ("SELECT * FROM part WHERE work_order = ? ORDER BY listed", ("work_order",)),
        _ORDER_ROWS,
        (
            "SELECT i.inspection, e.kind, e.body FROM inspection i JOIN fact f ON f.subject = i.inspection JOIN entry e ON e.position = f.position "
            f"WHERE i.work_order = ? AND f.kind IN ({_TAGS})",
            ("work_order",),
        ),
        _about("work_order", "'DirectivesConfirmed'"),
    ),
    "F12": (
        (
            "SELECT i.*, p.*, json_extract(e.body, '$.waits_for') "
            f"FROM inspection i {_PART} LEFT JOIN entry e ON e.position = i.decision WHERE i.provisional AND NOT i.suspended ORDER BY i.opened",
            (),
        ),
    ),
    "F13": (
        (
            "SELECT e.* FROM fact f JOIN entry e ON e.position = f.position WHERE f.subject = ? AND f.kind IN ('ReadingRecorded', 'ResidualRead') "
            "AND f.at >= ? AND f.at < ? AND NOT f.superseded",
            ("meter", "month", "now"),
        ),
    ),
    "F14": ((_LATE, ("month", "now")),),
    "F15": (_of("DeviationSigned", "inspection", "rule", "person", "role", "expires", "justification"),),
    "F16": (
        (
            "SELECT e.*, o.* FROM entry e JOIN entry o ON o.uid = e.supersedes WHERE e.supersedes IS NOT NULL AND EXISTS "
            "(SELECT 1 FROM fact d WHERE d.subject = json_extract(o.body, '$.inspection') AND d.kind = 'DecisionSigned' AND d.position < e.position)",
            (),
        ),
    ),
    "F17": (
        _latest("CertificateEntered", "person", "method", "level"),
        _latest("VisionExamEntered", "person"),
        _latest("AuthorisationEntered", "person", "technique"),
        _of("PersonRemoved", "person"),
    ),
    "F18": (
        _latest("CalibrationRecorded", "equipment", "item"),
        _latest("ProcessCheckRecorded", "object", "check"),
        *(_about(f"lamp_{n}", "'ReadingRecorded'", most="LIMIT 1") for n in range(1, 6)),
    ),
    "F19": (
        _of("ReworkOrdered", "inspection", "part", "zone", within="years now"),
        _of("ReworkDone", "inspection", "zone"),
        (_RECORDS + " WHERE i.previous IS NOT NULL", ()),
    ),
    "F20": (
        _of(
            "SecondLookSaved",
            "second_look",
            "inspection",
            "indication",
            "length",
            "interpretation",
            "form",
            within="years now",
        ),
        _of("IndicationSeen", "indication", "length", "form"),
        _of("IndicationInterpreted", "indication", "interpretation"),
    ),
    "F21": (
        (_DECIDED, ("years", "now")),
        _of("IndicationSeen", "inspection"),
        _of("SecondLookSaved", "inspection", "indication", "none_seen"),
        (_RECORDS, ()),
    ),
    "F22": (
        _of("ViewStarted", "view", "inspection", "kind", within="month now"),
        _of("ViewEnded", "view", within="month now"),
        (_RECORDS, ()),
    ),
    "F23": (
        _SHOTS,
        _of("IndicationSeen", "inspection", "indication", within="years now"),
        _of("IndicationInterpreted", "indication", "interpretation"),
        _of("BasketLoaded", "basket", "inspections", within="years now"),
        _of("StepEnded", "on", "step", within="years now"),
        ("SELECT inspection, method, technique FROM inspection", ()),
    ),
    "F24": (
        _of("IndicationInterpreted", "indication", "interpretation", "type", "basis", within="years now"),
        _of("IndicationSeen", "indication", "inspection"),
        _of("IndicationTested", "indication", "step", "outcome"),
        (
            f"SELECT i.inspection, p.* FROM fact f JOIN entry e ON e.position = f.position JOIN inspection i ON i.inspection = json_extract(e.body, '$.inspection') {_PART} "
            "WHERE f.kind = 'IndicationSeen' AND f.nth = 0",
            (),
        ),
    ),
    "F25": (
        _of("TagPrinted", "tag", "inspection", "part", "quantity", "disposition", "piece"),
        _of("TagVoided", "tag"),
        _of("TagScannedBack", "tag"),
        _of("PartScrapped", "part", "witness", "piece"),
    ),
    "F26": (
        (
            f"SELECT i.*, p.part_no, e.offset_min FROM inspection i {_PART} JOIN entry e ON e.position = i.opened "
            "WHERE i.procedure = ? AND i.procedure_revision = ? ORDER BY i.opened",
            ("procedure", "revision"),
        ),
    ),
    "F27": (
        (
            "SELECT e.position, e.kind, e.event_time, e.offset_min, e.how, e.recorded_time, f.subject FROM entry e "
            "JOIN fact f ON f.position = e.position AND f.nth = 0 AND NOT f.superseded "
            "WHERE e.by = ? AND e.event_time >= ? AND e.event_time < ? ORDER BY e.event_time",
            ("person", "month", "now"),
        ),
    ),
    "F28": (_of("PhotoAttached", "inspection", "indication", "taken_at", "sha256", "tag_in_frame", "camera_ahead_s"),),
    "F29": (
        _about("part"),
        (
            "SELECT e.* FROM inspection i JOIN fact f ON f.subject = i.inspection JOIN entry e ON e.position = f.position WHERE i.part = ?",
            ("part",),
        ),
    ),
    "F30": (
        ("SELECT inspection, decision FROM inspection WHERE decision IS NOT NULL", ()),
        (
            "SELECT i.*, p.*, e.body FROM (SELECT * FROM inspection WHERE decision IS NOT NULL LIMIT 10) i "
            f"{_PART} JOIN entry e ON e.position = i.decision",
            (),
        ),
        (
            "SELECT f.kind, f.subject FROM (SELECT * FROM inspection WHERE decision IS NOT NULL LIMIT 10) i JOIN fact f ON f.subject = i.inspection",
            (),
        ),
    ),
    "F31": (("SELECT * FROM entry ORDER BY position", ()),),
    "F32": (
        _of("WorkOrderOpened", "work_order", "engine_model", "engine_serial"),
        _of("ReleaseNoted", "work_order", "released", "keep_years"),
        ("SELECT work_order, count(*) FROM inspection GROUP BY work_order", ()),
    ),
    "F33": tuple(
        (
            "SELECT count(DISTINCT u.inspection), sum(i.quantity), sum(julianday(u.ended) - julianday(u.started)) FROM object_use u "
            "JOIN inspection i ON i.inspection = u.inspection WHERE u.object = ? AND u.started >= ? AND u.started < ?",
            (name, "month", "now"),
        )
        for name in (*(f"batch_{n}" for n in range(1, 5)), "bench", *(f"lamp_{n}" for n in range(1, 6)))
    ),
    "F34": (
        _of("AttemptVoided", within="month now"),
        _of("ActionRefused", within="month now"),
        (_LATE, ("month", "now")),
    ),
    "F35": (
        (
            "SELECT i.work_order, sum(i.quantity) FROM (SELECT part, work_order, max(quantity) quantity FROM inspection GROUP BY part) i GROUP BY i.work_order",
            (),
        ),
        (_RELEVANT, ()),
        _of("WorkOrderOpened", "work_order", "engine_model"),
    ),
    "F36": (
        _of("InspectionOpened", "inspection", "technique", "technique_revision"),
        _of("DocumentAdopted", "document", "number", "revision"),
        (_RECORDS, ()),
    ),
    "F37": (
        (_RECORDS + " WHERE i.disposition = 'NO DECISION' AND i.opened_at < ?", ("day",)),
        _of("ContainmentOpened", "containment", "inspections"),
        _latest("EquipmentStatusSet", "equipment"),
        _of("QualificationProposed", "proposal"),
    ),
    "F38": (
        _of("DirectivesConfirmed", "work_order", "lines", "answered"),
        _of("ConcessionGiven", columns="e.*"),
        _of("DeviationSigned", columns="e.*"),
    ),
    "F39": ((_RELEVANT + " AND p.lot IS NOT NULL", ()),),
    "F40": (
        (
            "SELECT json_extract(a.value, '$.rule') rule, count(*), sum(json_extract(a.value, '$.verdict') = 'NOT RECORDED'), "
            "group_concat(CASE WHEN json_extract(a.value, '$.verdict') = 'NOT RECORDED' THEN e.position END) "
            "FROM fact f JOIN entry e ON e.position = f.position, json_each(e.body, '$.answers') a "
            "WHERE f.kind = 'DecisionSigned' AND f.nth = 0 AND NOT f.superseded AND f.at >= ? GROUP BY rule",
            ("quarter",),
        ),
    ),
}
