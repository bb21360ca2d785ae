"""Every report is a PDF/A-3 by its structure, read back with pikepdf (the qpdf library), which shares nothing with the writer.

What is checked is what ISO 19005-3 asks for as far as it can be seen in the
structure (clause numbers from memory): 6.1.2 version and header, 6.1.3 file
identifier and no encryption, 6.2.2 output intent, 6.2.4.3 device colours under
it, 6.2.8 images, 6.2.11 embedded fonts with a map to Unicode, 6.3 annotations,
6.4 no forms, 6.5 no actions of its own, 6.6.2 XMP that agrees with the file,
6.8 attached files.  No validator was at hand.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from io import BytesIO
from typing import Any

import pikepdf
import pytest
from pikepdf import Name

from ndi import bootstrap
from ndi.services import blank_forms
from ndi.services.due_calendar import calendar_sheet
from ndi.services.evidence_pack import evidence_pack
from ndi.services.handover_sheet import handover_sheet
from ndi.services.owner_report import owner_report
from ndi.services.recall_papers import recall_letters, recall_list
from ndi.services.record_report import record_model
from ndi.services.shift_report import shift_model
from ndi.services.verification_sheet import verification_sheet
from ndi.services.workplace import Workplace
from tests.printing import printing_models
from tests.services.conftest import morning, shop  # noqa: F401  fixtures
from tests.services.shop import Shop

DAY = date(2026, 3, 10)
XMP = "{http://ns.adobe.com/xap/1.0/}"
PDFAID = "{http://www.aiim.org/pdfa/ns/id/}"


def _record(work: Workplace) -> bytes:
    with work.book.session(readonly=True) as session:
        return bootstrap.record_pdf(record_model(work, session, "MT-001"), work)


MADE: dict[str, Callable[[Workplace], bytes]] = {
    "engine": lambda w: bootstrap.paper_pdf(owner_report(w, "W26-0148"), w),
    "evidence": lambda w: bootstrap.paper_pdf(evidence_pack(w, ["MT-001", "PT-003"], "x"), w),
    "handover": lambda w: bootstrap.paper_pdf(handover_sheet(w), w),
    "verification": lambda w: bootstrap.paper_pdf(verification_sheet(w, DAY), w),
    "recall": lambda w: bootstrap.paper_pdf(recall_list(w, "CT-01"), w),
    "letters": lambda w: bootstrap.paper_pdf(recall_letters(w, "CT-01"), w),
    "calendar": lambda w: bootstrap.paper_pdf(calendar_sheet(w), w),
    "record": _record,
    "shift": lambda w: bootstrap.shift_pdf(shift_model(w, DAY), w),
}


def faults(pdf: bytes) -> list[str]:
    """What is against the standard, as far as the structure shows it."""
    with pikepdf.open(BytesIO(pdf)) as file:
        return [
            *file.check_pdf_syntax(),
            *_of_file(pdf, file),
            *_of_metadata(file),
            *(said for each in file.objects for said in _of_object(each)),
        ]


def _of_file(pdf: bytes, file: pikepdf.Pdf) -> list[str]:
    found = []
    if not pdf.startswith(b"%PDF-1.7\n%") or min(pdf.split(b"\n")[1][1:5]) < 128:
        found.append("header")
    if "/ID" not in file.trailer or file.is_encrypted:
        found.append("identifier, encryption")
    intents = file.Root.get("/OutputIntents")
    if intents is None or intents[0].S != Name.GTS_PDFA1 or intents[0].DestOutputProfile.N != 3:
        found.append("output intent")
    if any(key in file.Root for key in ("/AcroForm", "/AA", "/OCProperties")):
        found.append("forms, actions or layers")
    attached = list(file.attachments)
    associated = file.Root.get("/AF", [])
    if len(attached) != 1 or len(associated) != 1:
        found.append("one attached file, associated with the document")
    for each in associated:
        if not all(key in each for key in ("/F", "/UF", "/Desc", "/AFRelationship")):
            found.append("description of the attached file")
        if "/Subtype" not in each.EF.F or "/ModDate" not in each.EF.F.Params:
            found.append("kind and date of the attached file")
    return found


def _of_metadata(file: pikepdf.Pdf) -> list[str]:
    found = []
    if file.Root.Metadata.get("/Filter") is not None:
        found.append("the XMP packet is compressed")
    with file.open_metadata(set_pikepdf_as_editor=False, update_docinfo=False) as xmp:
        if (xmp[f"{PDFAID}part"], xmp[f"{PDFAID}conformance"]) != ("3", "B"):
            found.append("pdfaid")
        if len({xmp[f"{XMP}{name}"] for name in ("CreateDate", "ModifyDate", "MetadataDate")}) != 1:
            found.append("dates of the XMP packet")
        if not xmp["dc:title"]:
            found.append("title")
    if "/Info" in file.trailer and set(file.docinfo) - {"/Title", "/CreationDate"}:
        found.append("file information that the XMP packet does not hold")
    return found


def _of_object(each: Any) -> list[str]:
    if not isinstance(each, (pikepdf.Dictionary, pikepdf.Stream)):
        return []
    found = []
    kind, subtype = each.get("/Type"), each.get("/Subtype")
    if kind == Name.Font:
        found += _of_font(each)
    if kind == Name.ExtGState and (each.get("/ca", 1) != 1 or each.get("/CA", 1) != 1 or "/TR" in each):
        found.append("transparency or transfer function")
    if subtype == Name.Image and (each.get("/Interpolate") or "/Alternates" in each or "/OPI" in each):
        found.append("image")
    if subtype == Name.Image and each.get("/ColorSpace") not in (Name.DeviceRGB, Name.DeviceGray):
        found.append(f"colour space of an image {each.get('/ColorSpace')}")
    if subtype in (Name.PS, Name.Movie, Name.Sound, Name.Screen, Name("/3D")) or kind == Name.Annot:
        found.append("what an archive does not hold")
    if any(key in each for key in ("/JS", "/JavaScript", "/Ref")) or "/LZWDecode" in str(each.get("/Filter", "")):
        found.append("script, reference or filter")
    return found


def _of_font(font: Any) -> list[str]:
    if font.Subtype == Name.Type0:
        child = font.DescendantFonts[0]
        whole = "/ToUnicode" in font and font.Encoding == Name("/Identity-H") and "/CIDToGIDMap" in child
        return [] if whole and "/FontFile2" in child.FontDescriptor else [f"font {font.BaseFont}"]
    return [] if font.Subtype == Name.CIDFontType2 else [f"font of kind {font.Subtype}"]


@pytest.mark.parametrize("name", MADE)
def test_report_is_an_archival_file_and_the_same_one_again(evening: Workplace, name: str) -> None:
    pdf = MADE[name](evening)
    assert faults(pdf) == []
    assert MADE[name](evening) == pdf


def test_blank_form_and_report_with_photographs_too(shop: Shop) -> None:  # noqa: F811
    form = blank_forms.blank_forms(shop.work, "mt", 1, "SUP-F")
    assert faults(bootstrap.paper_pdf(form, shop.work)) == []
    assert faults(bootstrap.record_pdf(printing_models.record(practice=True), shop.work)) == []


def _not_embedded(file: pikepdf.Pdf) -> None:
    for each in file.objects:
        if isinstance(each, pikepdf.Dictionary) and "/FontFile2" in each:
            del each["/FontFile2"]


def _transparent(file: pikepdf.Pdf) -> None:
    file.make_indirect(pikepdf.Dictionary(Type=Name.ExtGState, ca=0.5))


def _another_part(file: pikepdf.Pdf) -> None:
    packet = bytes(file.Root.Metadata.read_bytes()).replace(b"<pdfaid:part>3", b"<pdfaid:part>1")
    file.Root.Metadata = file.make_stream(packet, Type=Name.Metadata, Subtype=Name.XML)


def _no_intent(file: pikepdf.Pdf) -> None:
    del file.Root.OutputIntents


def _nothing_attached(file: pikepdf.Pdf) -> None:
    del file.Root.AF
    del file.attachments["record.json"]


BROKEN = {
    "font": _not_embedded,
    "pdfaid": _another_part,
    "output intent": _no_intent,
    "attached": _nothing_attached,
    "transparency": _transparent,
}


@pytest.mark.parametrize("said", BROKEN)
def test_the_check_finds_what_is_broken_on_purpose(said: str) -> None:
    """No part of the check is dead."""
    whole = bootstrap.record.record_pdf(printing_models.record(), created=printing_models.CREATED)
    with pikepdf.open(BytesIO(whole)) as file:
        BROKEN[said](file)
        if said == "transparency":  # kept only where something points at it
            file.pages[0].Resources.ExtGState = pikepdf.Dictionary(G=file.objects[-1])
        broken = BytesIO()
        file.save(broken, static_id=True)
    assert any(said in each for each in faults(broken.getvalue()))
