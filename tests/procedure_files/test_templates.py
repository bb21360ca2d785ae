"""The files to begin from load, hold no limit, and offer every catalogued key."""

from __future__ import annotations

from typing import get_args

import pytest

from ndi.domain.errors import InputError
from ndi.domain.parameter_keys import KEYS
from ndi.domain.procedure import PartMaster, Procedure, Technique
from ndi.procedure_files import document_from_text, load_procedure, template


@pytest.mark.parametrize(("kind", "thing"), [("procedure", Procedure), ("technique", Technique), ("part", PartMaster)])
def test_template_loads(kind: str, thing: type) -> None:
    assert not get_args(thing)
    assert isinstance(document_from_text(kind, template(kind), "new.toml"), thing)


def test_template_of_procedure_offers_every_key_without_value() -> None:
    text = template()
    for key in KEYS:
        assert f'\n{key} = {{ value = ""' in text
    assert load_procedure(text, "new.toml").parameters == {}


def test_template_value_that_is_filled_in_counts() -> None:
    text = template().replace(
        'uv_min = { value = "", unit = "uW/cm2", paragraph = "", source = "" }',
        'uv_min = { value = "1000", unit = "uW/cm2", paragraph = "4.1", source = "from memory" }',
    )
    assert list(load_procedure(text, "new.toml").parameters) == ["uv_min"]


def test_template_of_unknown_kind_is_refused() -> None:
    with pytest.raises(InputError, match="use one of: procedure, technique, part"):
        template("form")
