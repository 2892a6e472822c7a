"""The formats that reports are handed on in, one module each.

`text` is called by itself, since it asks how wide and how colourful the page is.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from ridgerule.reports.csv_report import csv_reports
from ridgerule.reports.json_report import json_reports
from ridgerule.reports.junit_report import junit_reports

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from ridgerule.reports.view import View

FORMATS: Mapping[str, Callable[[Sequence[View]], str]] = MappingProxyType(
    {
        "json": json_reports,
        "csv": csv_reports,
        "junit": junit_reports,
    }
)
"""The formats that data is handed on in; each writer takes any number of roofs."""
