"""A shop at 06:30 of the day with a past that each test writes."""

from __future__ import annotations

import pytest

from tests.services.conftest import morning, shop  # noqa: F401  fixtures
from tests.services.shop import Shop
from tests.trends.past import Past


@pytest.fixture
def past(shop: Shop) -> Past:  # noqa: F811
    return Past(shop)
