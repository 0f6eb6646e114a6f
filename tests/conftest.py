"""How the whole suite runs: hypothesis profiles, and one core for linear algebra."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

settings.register_profile("dev", max_examples=30, deadline=None)
settings.register_profile(
    "ci",
    max_examples=60,
    deadline=None,
    derandomize=True,
    print_blob=True,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.register_profile("nightly", max_examples=1000, deadline=None)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "dev"))
