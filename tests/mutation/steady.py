"""Loaded into every test run over mutants: generated cases are the same each time, and no clock fails a test."""

from __future__ import annotations

from hypothesis import HealthCheck, Phase, settings

settings.register_profile(
    "mutation",
    derandomize=True,
    deadline=None,
    database=None,
    phases=(Phase.explicit, Phase.generate),
    suppress_health_check=list(HealthCheck),
)
settings.load_profile("mutation")
