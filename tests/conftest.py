"""Settings for every test: time is measured by the benchmark, never by a test's deadline."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("ridgerule", deadline=None)
settings.load_profile("ridgerule")
