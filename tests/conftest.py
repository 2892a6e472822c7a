"""Settings for every test: time is measured by the benchmark, never by a test's deadline."""

from __future__ import annotations

import os

from hypothesis import settings

settings.register_profile("ridgerule", deadline=None)
settings.register_profile("few", deadline=None, max_examples=15)
"""For a suite that is run again to count lines, or from the wheel: the same tests, fewer draws."""
settings.load_profile("few" if os.environ.get("RIDGERULE_EXAMPLES") == "few" else "ridgerule")
