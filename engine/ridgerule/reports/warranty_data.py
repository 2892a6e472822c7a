"""A warranty review as data: JSON (`schemas/warranty.schema.json`), a table, JUnit XML."""

from __future__ import annotations

import csv
import xml.etree.ElementTree as ET
from io import StringIO
from typing import TYPE_CHECKING

from ridgerule.reports.csv_report import NOTE, cell
from ridgerule.reports.json_report import written
from ridgerule.reports.junit_report import element, properties, xml_text
from ridgerule.reports.warranty_view import told
from ridgerule.review.warranty import Status

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridgerule.reports.warranty_view import (
        ConditionView,
        CoverageView,
        DecidedBy,
        WarrantyView,
    )

FORM = 1
"""The version of the review's form."""
COLUMNS = (
    "roof",
    "coverage",
    "number",
    "status",
    "condition",
    "rule",
    "what decides it",
    "what would settle it",
    "source",
)

_Data = dict[str, object]


def warranty_json(views: Sequence[WarrantyView]) -> str:
    """Return one roof's review as it is, those of several as a list."""
    found = [_review(view) for view in views]
    return written(found[0] if len(found) == 1 else found)


def _review(view: WarrantyView) -> _Data:
    visit = view.visit
    roof = visit.roof
    return {
        "warranty": FORM,
        "tool": {"name": "ridgerule", "version": visit.version},
        "roof": {
            "id": roof.id,
            "name": roof.name,
            "place": roof.place,
            "covering": roof.covering,
        },
        "inspection": dict(visit.inspection),
        "record": {"file": visit.file, "file_digest": visit.digest},
        "rulebooks": [
            {"id": book.id, "edition": book.edition, "file_digest": book.digest}
            for book in view.books
        ],
        "coverages": [_coverage(coverage) for coverage in view.coverages],
        "disclaimer": view.disclaimer,
        "cautions": list(view.cautions),
    }


def _coverage(coverage: CoverageView) -> _Data:
    return {
        "coverage": coverage.id,
        "title": coverage.title,
        "rulebook": coverage.book,
        "authority": coverage.authority,
        "edition": coverage.edition_note,
        "evidence": coverage.evidence,
        "isolated_allowed": coverage.isolated_allowed,
        "any_will_do": coverage.any_will_do,
        "status": coverage.status.value,
        "counts": {status.value: coverage.counts[status] for status in Status},
        "summary": coverage.summary,
        "conditions": [_condition(condition) for condition in coverage.conditions],
    }


def _condition(condition: ConditionView) -> _Data:
    return {
        "number": condition.number,
        "title": condition.title,
        "kind": condition.kind,
        "rule": condition.rule,
        "status": condition.status.value,
        "decided_by": [_decided(finding) for finding in condition.decided_by],
        "isolated": [_decided(finding) for finding in condition.isolated],
        "to_settle": list(condition.to_settle),
        "source": condition.source,
        "parts": [_condition(part) for part in condition.parts],
    }


def _decided(finding: DecidedBy) -> _Data:
    return {
        "place": finding.place,
        "outcome": finding.outcome,
        "found": finding.found,
        "must_be": finding.limit,
    }


def warranty_csv(views: Sequence[WarrantyView]) -> str:
    """Return the conditions of several roofs under one header, then what the table is."""
    out = StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for view in views:
        for coverage in view.coverages:
            for condition in coverage.listed():
                writer.writerow(map(cell, _row(view, coverage, condition)))
    closing = dict.fromkeys(said for view in views for said in (view.disclaimer, *view.cautions))
    for said in closing:
        row = {"status": NOTE, "condition": said}
        writer.writerow([cell(row.get(column, "")) for column in COLUMNS])
    return out.getvalue()


def _row(view: WarrantyView, coverage: CoverageView, condition: ConditionView) -> tuple[str, ...]:
    return (
        view.visit.roof.id,
        f"{coverage.book}, {coverage.id}",
        condition.number,
        condition.status.value,
        condition.title,
        condition.rule,
        "; ".join(filter(None, (told(condition.isolated), told(condition.decided_by)))),
        "; ".join(condition.to_settle),
        condition.source,
    )


def warranty_junit(views: Sequence[WarrantyView]) -> str:
    """Return a suite a coverage, a test case a condition as it is listed; no time is in it."""
    root = ET.Element("testsuites", name="ridgerule warranty")
    for view in views:
        for coverage in view.coverages:
            root.append(_suite(view, coverage))
    for name in ("tests", "failures", "errors", "skipped"):
        root.set(name, str(sum(int(suite.get(name, "0")) for suite in root)))
    return xml_text(root)


def _suite(view: WarrantyView, coverage: CoverageView) -> ET.Element:
    counts = coverage.counts
    suite = element(
        None,
        "testsuite",
        name=f"{view.visit.roof.id}: {coverage.book}, {coverage.title}",
        tests=str(len(coverage.conditions)),
        failures=str(counts[Status.NOT_MET]),
        errors="0",
        skipped=str(counts[Status.NOT_EVIDENCED] + counts[Status.NOT_APPLICABLE]),
    )
    properties(
        suite,
        {
            "roof": view.visit.roof.id,
            "summary": coverage.summary,
            "record": view.visit.file,
            "record sha256": view.visit.digest,
            "disclaimer": view.disclaimer,
        },
    )
    for condition in coverage.conditions:
        _case(suite, coverage, condition)
    element(suite, "system-out").text = "\n".join((view.disclaimer, *view.cautions))
    return suite


def _case(suite: ET.Element, coverage: CoverageView, condition: ConditionView) -> None:
    name = f"{condition.number}. {condition.title}"
    case = element(suite, "testcase", classname=f"{coverage.book}.{coverage.id}", name=name)
    parts = [part for part in condition.listed() if part.decided_by]
    said = "; ".join(told(part.decided_by) for part in parts)
    match condition.status:
        case Status.NOT_MET:
            element(case, "failure", message=f"shown not met: {said}", type="condition")
        case Status.NOT_EVIDENCED:
            acts = "; ".join(act for part in condition.listed() for act in part.to_settle)
            element(case, "skipped", message=f"not evidenced: {acts or said}")
        case Status.NOT_APPLICABLE:
            element(case, "skipped", message=f"not applicable: {said}")
        case Status.MET:
            properties(case, {"met": said})
