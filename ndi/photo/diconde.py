"""A photograph with its record facts as a DICOM file after the NDE practice DICONDE (ASTM E2339), written by pydicom.

The class is *VL Photographic Image* (DICOM PS3.3 A.32.4), pixels uncompressed
and upright.  What stands in which attribute:

Standard, of DICOM, read as the NDE practice reads it (component for patient):
    Patient's Name (0010,0010) - the component's description; Patient ID
    (0010,0020) - part number and serial number or lot; Patient Comments
    (0010,4000) - engine; Study ID (0020,0010), Accession Number (0008,0050)
    - work order; Study and Series Description - method, inspection; Protocol
    Name (0018,1030) - procedure; Performing Physician's Name (0008,1050) - the
    inspector; Operators' Name (0008,1070) - who attached the photograph;
    Institution Name (0008,0080) - the shop's code; Station Name (0008,1010);
    Manufacturer's Model Name (0008,1090) - camera; content, acquisition, study
    and series dates and times with Timezone Offset (0008,0201).
Standard, of the NDE practice (group 0014 of the DICOM dictionary):
    Material Grade (0014,0042) - alloy; Material Properties Description
    (0014,0044) - materials by zone; Evaluator Sequence (0014,2002) with number,
    name and attempt, in it Indication Sequence (0014,2012) with number, label,
    description, type, disposition.
Private, group 0019, creator ``NDI RECORD BOOK 1``:
    01 book, 02 inspection, 03 work order, 04 entry, 05 SHA-256 of the original
    file, 06 its name, 07 procedure, 08 technique, 09 certificate, 0A lengths
    measured, 0B what is drawn beside it, 0C head of the book, 0D seconds by
    which the camera's clock was ahead, 0E light, 0F second looks by.

Which DICOM attribute the practice re-reads for which NDE fact is from memory;
the tags of group 0014 are those of the DICOM data dictionary.
"""

from __future__ import annotations

import io
import uuid
from typing import Any

from ndi.domain.image_facts import ImageFacts
from ndi.photo.pictures import stored_upright

CREATOR = "NDI RECORD BOOK 1"
PRIVATE_GROUP = 0x0019
IMPLEMENTATION = "NDI_RECORD_BOOK"
EXTERNAL_CAMERA = "XC"
_UID_ROOT = "2.25."  # of UIDs made from UUIDs (ITU-T X.667)
_NAMES = uuid.UUID("5b0a3f0e-6f6f-4f57-9f26-0c4f9d8f3a11")
_SHORT, _LONG, _TEXT, _LONG_TEXT = 16, 64, 1024, 10_240  # characters of SH, LO, ST and LT (PS3.5, table 6.2-1)
_LOSSY = {"image/jpeg": "ISO_10918_1", "image/webp": "RFC_9649"}


def diconde(content: bytes, facts: ImageFacts, media_type: str) -> bytes:
    """The file; InputError when the picture cannot be decoded."""
    from pydicom.dataset import Dataset, FileDataset, FileMetaDataset
    from pydicom.uid import ExplicitVRLittleEndian, VLPhotographicImageStorage

    meta = FileMetaDataset()
    meta.MediaStorageSOPClassUID = VLPhotographicImageStorage
    meta.MediaStorageSOPInstanceUID = _uid("image", facts.book, facts.inspection, facts.sha256, str(facts.entry))
    meta.TransferSyntaxUID = ExplicitVRLittleEndian
    meta.ImplementationClassUID = _uid("implementation", CREATOR)
    meta.ImplementationVersionName = IMPLEMENTATION
    data = FileDataset("", {}, file_meta=meta, preamble=b"\0" * 128)
    data.SpecificCharacterSet = "ISO_IR 192"
    data.SOPClassUID, data.SOPInstanceUID = meta.MediaStorageSOPClassUID, meta.MediaStorageSOPInstanceUID
    _component(data, facts)
    _study(data, facts)
    _times(data, facts)
    _evaluation(data, facts, Dataset)
    _private(data, facts)
    _pixels(data, content, media_type)
    out = io.BytesIO()
    data.save_as(out, enforce_file_format=True)
    return out.getvalue()


def _component(data: Any, facts: ImageFacts) -> None:
    data.PatientName = _cut(facts.description or facts.part_no, _LONG)
    data.PatientID = _cut(facts.component, _LONG)
    data.PatientBirthDate = data.PatientSex = ""  # required, and nothing that the book knows
    data.PatientComments = _cut(facts.engine, _TEXT)
    if facts.alloy:
        data.MaterialGrade = _cut(facts.alloy, _TEXT)
    data.MaterialPropertiesDescription = _cut(facts.materials, _TEXT)


def _study(data: Any, facts: ImageFacts) -> None:
    data.StudyInstanceUID = _uid("study", facts.book, facts.work_order, facts.component)
    data.SeriesInstanceUID = _uid("series", facts.book, facts.inspection)
    data.StudyID = data.AccessionNumber = _cut(facts.work_order, _SHORT)
    data.StudyDescription = _cut(f"{facts.method} of {facts.component}, work order {facts.work_order}", _LONG)
    data.SeriesDescription = _cut(f"{facts.inspection}, {facts.method}", _LONG)
    data.ReferringPhysicianName = ""  # required, may be empty
    data.PerformingPhysicianName = _cut(facts.inspector, _LONG)
    data.OperatorsName = _cut(facts.attached_by, _LONG)
    data.InstitutionName = _cut(facts.shop, _LONG)
    data.StationName = _cut(facts.station, _SHORT)
    data.ProtocolName = _cut(facts.procedure, _LONG)
    data.Modality, data.SeriesNumber, data.InstanceNumber = EXTERNAL_CAMERA, 1, facts.entry
    data.Manufacturer, data.ManufacturerModelName = "", _cut(facts.camera, _LONG)
    data.ImageComments = _cut("; ".join(facts.drawn), _TEXT)


def _times(data: Any, facts: ImageFacts) -> None:
    local = facts.taken_at.local
    day, time = f"{local:%Y%m%d}", f"{local:%H%M%S.%f}"
    data.StudyDate = data.SeriesDate = data.ContentDate = data.AcquisitionDate = day
    data.StudyTime = data.SeriesTime = data.ContentTime = data.AcquisitionTime = time
    hours, minutes = divmod(abs(facts.taken_at.offset_min), 60)
    data.TimezoneOffsetFromUTC = f"{'-' if facts.taken_at.offset_min < 0 else '+'}{hours:02d}{minutes:02d}"


def _evaluation(data: Any, facts: ImageFacts, dataset: type[Any]) -> None:
    evaluators = []
    for attempt, person in enumerate((facts.inspector, *facts.second_looks), 1):
        item = dataset()
        item.EvaluatorNumber, item.EvaluatorName, item.EvaluationAttempt = attempt, _cut(person, _LONG), attempt
        evaluators.append(item)
    found = []
    for number, indication in enumerate(facts.indications, 1):
        item = dataset()
        item.IndicationNumber, item.IndicationLabel = number, _cut(indication.name, _SHORT)
        item.IndicationDescription = _cut(", ".join(filter(None, (indication.description, indication.type))), _TEXT)
        item.IndicationType = _code(indication.type.partition(",")[0])  # the whole stands in the description
        item.IndicationDisposition = _code(indication.disposition)
        found.append(item)
    if found:
        evaluators[0].IndicationSequence = found
    data.EvaluatorSequence = evaluators


def _private(data: Any, facts: ImageFacts) -> None:
    block = data.private_block(PRIVATE_GROUP, CREATOR, create=True)
    ahead = "" if facts.camera_ahead_s is None else str(facts.camera_ahead_s)
    texts = {
        0x01: facts.book,
        0x02: facts.inspection,
        0x03: facts.work_order,
        0x04: str(facts.entry),
        0x05: facts.sha256,
        0x06: facts.original_name,
        0x07: facts.procedure,
        0x08: facts.technique,
        0x09: facts.certificate,
        0x0A: "\n".join(facts.measured),
        0x0B: "\n".join(facts.drawn),
        0x0C: facts.head,
        0x0D: ahead,
        0x0E: facts.light,
        0x0F: "\n".join(facts.second_looks),
    }
    for element, text in texts.items():
        if text:
            # LT, which also readers know that skip what they need not: longer kinds of text came later
            kept = "".join(c for c in text if c.isprintable() or c == "\n")
            block.add_new(element, "LT", kept[:_LONG_TEXT])


def _pixels(data: Any, content: bytes, media_type: str) -> None:
    image = stored_upright(content)
    is_grey = image.mode in ("L", "I;16")
    data.Rows, data.Columns = image.height, image.width
    data.SamplesPerPixel = 1 if is_grey else 3
    data.PhotometricInterpretation = "MONOCHROME2" if is_grey else "RGB"
    if not is_grey:
        data.PlanarConfiguration = 0
    bits = 16 if image.mode == "I;16" else 8
    data.BitsAllocated = data.BitsStored = bits
    data.HighBit, data.PixelRepresentation = bits - 1, 0
    data.ImageType = ["ORIGINAL", "PRIMARY"]
    data.BurnedInAnnotation = "NO"
    data.LossyImageCompression = "01" if media_type in _LOSSY else "00"
    if media_type in _LOSSY:
        data.LossyImageCompressionMethod = _LOSSY[media_type]
    data.AcquisitionContextSequence = []
    raw = image.tobytes()
    data.add_new("PixelData", "OW" if bits == 16 else "OB", raw + b"\0" * (len(raw) % 2))


def _uid(*names: str) -> Any:
    """The same for the same thing, each time it is written."""
    from pydicom.uid import UID

    return UID(f"{_UID_ROOT}{uuid.uuid5(_NAMES, '/'.join(names)).int}")


def _cut(text: str, most: int) -> str:
    """As many characters as the attribute holds, without the sign that separates values; the whole stands in the private ones."""
    plain = "".join(c if c.isprintable() and c not in "^=" else " " for c in text.replace("\\", "/"))
    return " ".join(plain.split())[:most].strip()


def _code(text: str) -> str:
    """A code string: capitals, digits, blank and underscore, 16 at most (PS3.5, table 6.2-1)."""
    kept = "".join(c if c.isascii() and (c.isalnum() or c in " _") else "_" for c in text.upper())
    return kept[:_SHORT].strip()
