"""The punch list as a table: failures and open points, one a row, with a cell to tick off."""

from __future__ import annotations

import csv
from io import StringIO
from typing import TYPE_CHECKING

from ridgerule.audit.findings import Outcome
from ridgerule.formulas import guarded, is_taken_for_formula
from ridgerule.reports.cautions import CAUTIONS, DISCLAIMER
from ridgerule.reports.visible import visible

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from ridgerule.reports.view import FindingView, View

COLUMNS = (
    "roof",
    "number",
    "outcome",
    "class",
    "place",
    "rule",
    "title",
    "measured",
    "limit",
    "margin",
    "what to do",
    "source",
    "done",
)

NOTE = "note"
"""What the closing rows have for an outcome: they say what the list is, not what to do."""


def csv_report(view: View) -> str:
    """Return the punch list of one roof."""
    return csv_reports((view,))


def csv_reports(views: Sequence[View]) -> str:
    """Return the punch list of several roofs under one header, then what the list is."""
    out = StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for row in _rows(views):
        writer.writerow([cell(row.get(column, "")) for column in COLUMNS])
    return out.getvalue()


def _rows(views: Iterable[View]) -> Iterator[dict[str, str]]:
    for view in views:
        for outcome in (Outcome.FAIL, Outcome.NOT_VERIFIED):
            for finding in view.of(outcome):
                yield _row(finding, view)
    for said in (DISCLAIMER, *CAUTIONS):
        yield {"outcome": NOTE, "title": said}


def _row(finding: FindingView, view: View) -> dict[str, str]:
    return {
        "roof": view.roof.id,
        "number": str(finding.number),
        "outcome": finding.outcome.value,
        "class": finding.severity.value if finding.severity else "",
        "place": finding.place,
        "rule": finding.rule,
        "title": finding.title,
        "measured": finding.measured,
        "limit": finding.limit,
        "margin": finding.margin.text if finding.margin else "",
        "what to do": finding.what_to_do or finding.remedy,
        "source": _source(finding),
    }


def _source(finding: FindingView) -> str:
    """Return the rule's source, and those of the changes its figures may come from."""
    root = [finding.source.text] if finding.source else []
    return "; ".join((*root, *(f"amended by {change.text}" for change in finding.amended_by)))


def cell(text: str) -> str:
    """Return text that no spreadsheet takes for a formula."""
    shown = visible(text).strip(" ")
    return f"'{shown}" if is_taken_for_formula(text) else guarded(shown)
