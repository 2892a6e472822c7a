"""JUnit XML, for build servers: a suite a rulebook, a test case a finding.

A finding that is not verified, like one that does not apply, is a skipped case; its message and
its properties say which.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from typing import TYPE_CHECKING

from ridgerule.audit.findings import Outcome
from ridgerule.reports.cautions import CAUTIONS, DISCLAIMER
from ridgerule.reports.visible import visible

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridgerule.reports.view import BookOutcome, FindingView, View


def junit_report(view: View) -> str:
    """Return the report of one roof."""
    return junit_reports((view,))


def junit_reports(views: Sequence[View]) -> str:
    """Return the reports of several roofs under one root; no time is in them."""
    root = ET.Element("testsuites", name="ridgerule")
    for view in views:
        for book in view.by_book:
            root.append(_suite(view, book, name_the_roof=len(views) > 1))
    for name in ("tests", "failures", "errors", "skipped"):
        root.set(name, str(sum(int(suite.get(name, "0")) for suite in root)))
    return xml_text(root)


def xml_text(root: ET.Element) -> str:
    """Return a tree of elements as an XML document, indented."""
    ET.indent(root)
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{ET.tostring(root, encoding="unicode")}\n'


def _suite(view: View, book: BookOutcome, *, name_the_roof: bool) -> ET.Element:
    cases = [finding for finding in view.findings if book.book in finding.books]
    outcomes = [finding.outcome for finding in cases]
    skipped = outcomes.count(Outcome.NOT_VERIFIED) + outcomes.count(Outcome.NOT_APPLICABLE)
    name = f"{view.roof.id}: {book.book}" if name_the_roof else book.book
    suite = element(
        None,
        "testsuite",
        name=name,
        tests=str(len(cases)),
        failures=str(outcomes.count(Outcome.FAIL)),
        errors="0",
        skipped=str(skipped),
    )
    properties(suite, _suite_properties(view, book))
    for finding in cases:
        _case(suite, finding)
    element(suite, "system-out").text = "\n".join((DISCLAIMER, *CAUTIONS))
    return suite


def _suite_properties(view: View, book: BookOutcome) -> dict[str, str]:
    return {
        "roof": view.roof.id,
        "roof outcome": view.outcome.value,
        "outcome": book.outcome.value,
        **{f"count of {outcome.value}": str(book.counts[outcome]) for outcome in Outcome},
        "edition": book.note,
        "record": view.file,
        "record sha256": view.digest,
        "disclaimer": DISCLAIMER,
    }


def _case(suite: ET.Element, finding: FindingView) -> None:
    name = f"{finding.place}: {finding.title}"
    case = element(suite, "testcase", classname=finding.rule, name=name)
    severity = finding.severity.value if finding.severity else ""
    properties(case, {"outcome": finding.outcome.value, "class": severity})
    match finding.outcome:
        case Outcome.FAIL:
            failure = element(case, "failure", message=_message(finding), type=severity)
            failure.text = _body(finding)
        case Outcome.NOT_VERIFIED:
            element(case, "skipped", message=f"not verified: {finding.what_to_do}")
        case Outcome.NOT_APPLICABLE:
            element(case, "skipped", message=f"not applicable: {finding.reason}")
        case Outcome.PASS:
            element(case, "system-out").text = visible(_message(finding))


def _message(finding: FindingView) -> str:
    margin = f": {finding.margin.text}" if finding.margin else ""
    return f"{finding.measured}; must be {finding.limit}{margin}"


def _body(finding: FindingView) -> str:
    rows = (
        ("note", finding.reason),
        ("why", finding.why),
        ("remedy", finding.remedy),
        ("source", finding.source.text if finding.source else ""),
        *(("amended by", change.text) for change in finding.amended_by),
    )
    return "\n".join(f"{label}: {visible(words)}" for label, words in rows if words)


def properties(parent: ET.Element, values: dict[str, str]) -> None:
    """Add the values that say something, each by its name."""
    listed = element(parent, "properties")
    for name, value in values.items():
        if value:
            element(listed, "property", name=name, value=value)


def element(parent: ET.Element | None, tag: str, **attributes: str) -> ET.Element:
    """Return a new element, its attributes free of what XML can't hold."""
    shown = {name: visible(value) for name, value in attributes.items()}
    return ET.Element(tag, shown) if parent is None else ET.SubElement(parent, tag, shown)
