"""Photographs that leave the book: as DICONDE read by two readers, as JPEG and PNG with XMP; the pixels are those of the original.

Readers: pydicom, and the DICOM reader of imageio, which is a program of its own.
XMP packets are found by Pillow and read by an XML parser.  Tags of DICOM group
0014 and lengths of values: DICOM data dictionary (PS3.6) as pydicom has it.
"""

from __future__ import annotations

import io
import warnings
from dataclasses import replace
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import imageio.v2 as imageio
import numpy as np
import pydicom
import pytest
from PIL import Image, ImageOps
from pydicom.uid import VLPhotographicImageStorage

from ndi.domain.errors import InputError
from ndi.domain.image_facts import ImageFacts, ImageIndication
from ndi.photo.diconde import CREATOR, PRIVATE_GROUP, diconde
from ndi.photo.xmp import NAMESPACE, with_xmp
from tests import build as b
from tests.photo.picture_files import picture

FACTS = ImageFacts(
    "book-1", "S1", "entry 71 1f2e3d4c5b6a7980", 70, "ab" * 32, "DSC_0001.JPG", "MT-001", "W26-0148",
    "Tavelin 6H-515 serial 6H-1", "T6-10501", "CG-1", "camshaft gear", "tooth flanks: steel", "4340", "MT",
    "MT-P-01 rev F", "MT-T-6050 rev B", "L2-A", "MT level 2, valid to 2028-01-01", "L2-A", "MT booth",
    b.at("08:05:30"), "Maker Model 3", 3600, "UV",
    (ImageIndication("IND-01", "zone A, 2 in from end, linear, 0.31 x 0.02 in", "relevant, fatigue crack", "REJECT"),),
    ("L2-B",), ("IND-01: on the part 0.31 in, on photograph abababab 8.1 mm +/- 0.2 mm",), ('arrow "crack tip"',),
)  # fmt: skip

TYPES = {"JPEG": "image/jpeg", "PNG": "image/png", "TIFF": "image/tiff", "BMP": "image/bmp", "WEBP": "image/webp"}


def upright(content: bytes) -> Image.Image:
    return ImageOps.exif_transpose(Image.open(io.BytesIO(content)))


@pytest.mark.parametrize(
    ("form", "mode", "as_pixels"),
    [
        ("JPEG", "RGB", "RGB"),
        ("JPEG", "L", "L"),
        ("JPEG", "CMYK", "RGB"),
        ("PNG", "RGBA", "RGB"),
        ("PNG", "P", "RGB"),
        ("PNG", "1", "L"),
        ("PNG", "I;16", "I;16"),
        ("TIFF", "I;16", "I;16"),
        ("TIFF", "CMYK", "RGB"),
        ("BMP", "RGB", "RGB"),
        ("WEBP", "RGB", "RGB"),
    ],
)
@pytest.mark.parametrize("orientation", [None, 6])
def test_two_dicom_readers_find_the_pixels_of_the_original(
    form: str, mode: str, as_pixels: str, orientation: int | None, tmp_path: Path
) -> None:
    if orientation is not None and form == "BMP":
        return  # holds no Exif
    content = picture(form=form, mode=mode, size=(52, 34), orientation=orientation)
    path = tmp_path / "a.dcm"
    path.write_bytes(diconde(content, FACTS, TYPES[form]))
    expected = np.asarray(upright(content).convert(as_pixels))
    read = pydicom.dcmread(path)
    assert read.SOPClassUID == VLPhotographicImageStorage
    assert np.array_equal(read.pixel_array, expected)
    with warnings.catch_warnings():  # its reader will be taken away; what it reads is what counts here
        warnings.simplefilter("ignore", DeprecationWarning)
        other = np.asarray(imageio.imread(path, format="DICOM"))
    if expected.ndim == 2:
        assert np.array_equal(other, expected)
    else:  # of colours this reader knows planes only and shows the first third of the bytes
        assert np.array_equal(other.ravel(), expected.ravel()[: other.size])


def test_every_fact_is_in_its_attribute() -> None:
    read = pydicom.dcmread(io.BytesIO(diconde(picture(), FACTS, "image/jpeg")))
    found = {
        "PatientName": "camshaft gear", "PatientID": "T6-10501 CG-1", "AccessionNumber": "W26-0148",
        "ProtocolName": "MT-P-01 rev F", "PerformingPhysicianName": "L2-A", "OperatorsName": "L2-A",
        "InstitutionName": "S1", "StationName": "MT booth", "ManufacturerModelName": "Maker Model 3",
        "MaterialGrade": "4340", "MaterialPropertiesDescription": "tooth flanks: steel", "Modality": "XC",
        "ContentDate": "20260310", "ContentTime": "080530.000000", "TimezoneOffsetFromUTC": "-0500",
        "LossyImageCompression": "01", "BurnedInAnnotation": "NO",
    }  # fmt: skip
    assert {name: str(read[name].value) for name in found} == found
    first, second = read.EvaluatorSequence
    assert (str(first.EvaluatorName), str(second.EvaluatorName)) == ("L2-A", "L2-B")
    (indication,) = first.IndicationSequence
    assert (indication.IndicationLabel, indication.IndicationDisposition) == ("IND-01", "REJECT")
    assert indication.IndicationType == "RELEVANT"
    assert indication.IndicationDescription == f"{FACTS.indications[0].description}, {FACTS.indications[0].type}"
    block = read.private_block(PRIVATE_GROUP, CREATOR)
    assert block[0x05].value == FACTS.sha256 and block[0x0A].value == FACTS.measured[0]
    assert block[0x0D].value == "3600" and block[0x0B].value == FACTS.drawn[0]


def test_tags_of_the_nde_group_are_those_of_the_dictionary() -> None:
    """DICOM PS3.6: (0014,0042) Material Grade, (0014,2002) Evaluator Sequence, (0014,2012) Indication Sequence."""
    read = pydicom.dcmread(io.BytesIO(diconde(picture(), FACTS, "image/png")))
    assert read[0x0014, 0x0042].value == "4340"
    assert read[0x0014, 0x2002].value[0][0x0014, 0x2012].value[0][0x0014, 0x2016].value == "IND-01"
    assert read.LossyImageCompression == "00"


@pytest.mark.parametrize("text", ["", "x" * 500, "a\\b^c=d", "Ünï çödé 部品", "line\nline\ttab", "\x00\x1b[2J"])
def test_any_text_of_the_book_makes_a_file_that_is_read(text: str) -> None:
    """pydicom raises on values that the standard does not allow, when told to."""
    names = "shop original_name inspection work_order engine part_no item description materials alloy method procedure"
    texts: dict[str, Any] = dict.fromkeys(f"{names} technique inspector certificate camera".split(), text)
    facts = replace(FACTS, **texts, indications=(ImageIndication(text, text, text, text),), drawn=(text,))
    kept = pydicom.config.settings.reading_validation_mode
    pydicom.config.settings.reading_validation_mode = pydicom.config.RAISE
    try:
        read = pydicom.dcmread(io.BytesIO(diconde(picture(), facts, "image/jpeg")))
        for element in read.iterall():
            assert element.value is not None or element.is_empty
    finally:
        pydicom.config.settings.reading_validation_mode = kept
    ElementTree.fromstring(packet(with_xmp(picture(), facts, "image/jpeg", "JPEG")))


def test_same_photograph_gets_the_same_names_each_time() -> None:
    one, two = (pydicom.dcmread(io.BytesIO(diconde(picture(), FACTS, "image/jpeg"))) for _ in range(2))
    assert (one.SOPInstanceUID, one.StudyInstanceUID) == (two.SOPInstanceUID, two.StudyInstanceUID)
    other = pydicom.dcmread(io.BytesIO(diconde(picture(), replace(FACTS, entry=71), "image/jpeg")))
    assert other.SOPInstanceUID != one.SOPInstanceUID and other.SeriesInstanceUID == one.SeriesInstanceUID


# --- XMP ------------------------------------------------------------------------------------------


def packet(content: bytes) -> bytes:
    with Image.open(io.BytesIO(content)) as image:
        found = image.info.get("xmp") or image.info.get("XML:com.adobe.xmp")
    text = found.decode() if isinstance(found, bytes) else str(found)
    return text.encode()


def facts_in(content: bytes) -> dict[str, list[str]]:
    ours = f"{{{NAMESPACE}}}"
    return {
        each.tag.removeprefix(ours): [text.strip() for text in each.itertext() if text.strip()]
        for each in ElementTree.fromstring(packet(content)).iter()
        if each.tag.startswith(ours)
    }


@pytest.mark.parametrize(
    ("form", "mode", "to"),
    [
        ("JPEG", "RGB", "JPEG"),
        ("JPEG", "CMYK", "JPEG"),
        ("JPEG", "RGB", "PNG"),
        ("PNG", "RGBA", "PNG"),
        ("PNG", "I;16", "PNG"),
        ("TIFF", "RGB", "PNG"),
        ("TIFF", "I;16", "PNG"),
        ("BMP", "RGB", "PNG"),
        ("WEBP", "RGB", "PNG"),
    ],
)
def test_copy_with_xmp_has_the_same_pixels_and_the_facts(form: str, mode: str, to: str) -> None:
    content = picture(form=form, mode=mode, taken="2026:03:10 08:05:30", orientation=6)
    copy = with_xmp(content, FACTS, TYPES[form], to)
    before, after = Image.open(io.BytesIO(content)), Image.open(io.BytesIO(copy))
    assert after.format == to
    assert np.array_equal(np.asarray(before), np.asarray(after))
    if form not in ("BMP", "TIFF"):  # Pillow turns a TIFF upright when it reads it, and forgets how it lay
        assert after.getexif().get(0x0112) == 6
    found = facts_in(copy)
    assert found["part_no"] == ["T6-10501"] and found["materials"] == ["tooth flanks: steel"]
    assert found["inspector"] == ["L2-A"] and found["procedure"] == ["MT-P-01 rev F"]
    assert found["drawn"] == ['arrow "crack tip"'] and found["camera_ahead_s"] == ["3600"]


def test_bytes_of_the_picture_itself_are_not_touched_and_an_older_packet_gives_way() -> None:
    content = picture(taken="2026:03:10 08:05:30", size=(200, 150))
    scan = content[content.rfind(b"\xff\xda") :]
    once = with_xmp(content, replace(FACTS, inspection="MT-000"), "image/jpeg", "JPEG")
    twice = with_xmp(once, FACTS, "image/jpeg", "JPEG")
    assert once.endswith(scan) and twice.endswith(scan)
    assert facts_in(twice)["inspection"] == ["MT-001"] and twice.count(b"xpacket begin") == 1
    png = picture(form="PNG")
    data = png[png.index(b"IDAT") : png.index(b"IEND")]
    copies = with_xmp(with_xmp(png, FACTS, "image/png", "PNG"), FACTS, "image/png", "PNG")
    assert data in copies and copies.count(b"xpacket begin") == 1


def test_what_a_form_cannot_hold_is_refused() -> None:
    with pytest.raises(InputError, match=r"write it as \.png"):
        with_xmp(picture(form="PNG"), FACTS, "image/png", "JPEG")
    with pytest.raises(InputError, match="CMYK"):
        with_xmp(picture(mode="CMYK"), FACTS, "image/jpeg", "PNG")
    with pytest.raises(InputError, match="too long for a JPEG"):
        with_xmp(picture(), replace(FACTS, drawn=tuple("x" * 110 for _ in range(700))), "image/jpeg", "JPEG")
