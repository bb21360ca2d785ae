"""A picture file chosen at the desk: shown before it is attached, refused with the reason, nothing lost by it."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotFound, NotPermitted
from ndi.gui.presenters.desk.acts import Act
from ndi.gui.presenters.desk.photograph_intake import attach_form
from tests.photo.picture_files import picture
from tests.services.conftest import morning, shop
from tests.services.shop import Shop
from tests.services.test_photographs import seen_at, viewed

__all__ = ["morning", "shop", "viewed"]


def filled(shop: Shop, path: Path | str, **changed: str) -> Act:
    form = attach_form(shop.work, lambda: "L2-A", "MT-001", "IND-01")
    values = {field.name: field.value for field in form.fields}
    return form.act({**values, "file": str(path), "scale": "yes", "tag": "read", "light": "UV", **changed})


def carried_out(act: Act) -> str:
    return str(act.make(None))


@pytest.fixture
def path(viewed: Shop, tmp_path: Path) -> Path:
    made = tmp_path / "DSC 0001.JPG"
    made.write_bytes(picture(size=(640, 480), taken=seen_at(viewed), camera=("Maker", "M3")))
    return made


@pytest.mark.parametrize("typed", ["{}", "'{}'", '"{}"', " {} ", "file://{}"])
def test_file_is_shown_and_then_attached(viewed: Shop, path: Path, typed: str) -> None:
    act = filled(viewed, typed.format(path))
    said = " ".join(act.notes)
    assert "image/jpeg, 640 x 480 pixels" in said and "by Maker M3, its clock was never compared" in said
    assert viewed.facts(f.PhotoAttached) == []  # nothing is done before it is shown
    assert carried_out(act).startswith("DSC 0001.JPG attached to IND-01, entry ")
    (fact,) = [recorded.fact for recorded in viewed.facts(f.PhotoAttached)]
    assert (fact.scale_in_frame, fact.tag_in_frame, fact.light, fact.indication) == (True, "read", "UV", "IND-01")
    assert path.exists()


@pytest.mark.parametrize(
    ("name", "changed", "error"),
    [
        ("", {}, InputError),
        ("/nowhere/a.jpg", {}, InputError),
        (None, {"record": "MT-999"}, NotFound),
    ],
)
def test_what_cannot_be_attached_is_said_at_once(
    viewed: Shop, path: Path, name: str | None, changed: dict[str, Any], error: type
) -> None:
    with pytest.raises(error):
        filled(viewed, path if name is None else name, **changed)


def test_file_that_is_no_picture_and_one_of_another_time_are_refused(viewed: Shop, tmp_path: Path) -> None:
    bad = tmp_path / "notes.jpg"
    bad.write_text("no picture")
    with pytest.raises(InputError, match="no picture that can be read"):
        filled(viewed, bad)
    old = tmp_path / "old.jpg"
    earlier = viewed.work.now().local - timedelta(days=1)
    old.write_bytes(picture(taken=f"{earlier:%Y:%m:%d %H:%M:%S}"))
    with pytest.raises(NotPermitted, match="not during the inspection"):
        carried_out(filled(viewed, old))
    assert viewed.facts(f.PhotoAttached) == []
