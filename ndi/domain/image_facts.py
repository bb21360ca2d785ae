"""What goes along with a photograph that leaves the book: the part, its material, the procedure, the persons, the indications."""

from __future__ import annotations

from dataclasses import dataclass

from ndi.domain.moment import Moment


@dataclass(frozen=True)
class ImageIndication:
    """One indication that the photograph shows."""

    name: str
    description: str  # zone, place, form, size
    type: str  # what it was called
    disposition: str


@dataclass(frozen=True)
class ImageFacts:
    """The facts of one photograph on one record; an empty text is *not recorded*."""

    book: str
    shop: str
    head: str
    entry: int  # position of the attachment in the book
    sha256: str  # of the original file
    original_name: str
    inspection: str
    work_order: str
    engine: str
    part_no: str
    item: str  # serial number or lot
    description: str
    materials: str
    alloy: str
    method: str
    procedure: str  # number, revision and title
    technique: str
    inspector: str
    certificate: str
    attached_by: str
    station: str
    taken_at: Moment
    camera: str = ""
    camera_ahead_s: int | None = None
    light: str = ""
    indications: tuple[ImageIndication, ...] = ()
    second_looks: tuple[str, ...] = ()  # persons
    measured: tuple[str, ...] = ()
    drawn: tuple[str, ...] = ()

    @property
    def component(self) -> str:
        """The one name of the thing: part number and serial number or lot."""
        return f"{self.part_no} {self.item}".strip()
