"""How property tests run here: the same examples every time, no clock in the way."""

from __future__ import annotations

from hypothesis import HealthCheck, Phase, settings


def fixed(examples: int) -> settings:
    """Deterministic examples; fixtures of the session may be shared by them."""
    quiet = [HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.function_scoped_fixture]
    phases = (Phase.explicit, Phase.generate, Phase.shrink)
    return settings(
        max_examples=examples,
        derandomize=True,
        deadline=None,
        database=None,
        phases=phases,
        suppress_health_check=quiet,
    )
