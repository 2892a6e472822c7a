"""The report as data, in the form that `schemas/report.schema.json` describes.

Keys stand in one order, exact values are text (`p/q` in SI), and what a terminal could act on is
written as an escape, so the text is the same everywhere and harmless to print.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from ridgerule.audit.findings import Outcome
from ridgerule.review.findings_digest import findings_digest

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from ridgerule.reports.deciding_words import DecisionView
    from ridgerule.reports.governing import TogetherView
    from ridgerule.reports.sampled import SampledView
    from ridgerule.reports.sourcing import AmendedBy, BookView, SourceView, Withdrawn
    from ridgerule.reports.view import BookOutcome, DoubtView, FindingView, Margin, Reading, View

FORM = 1
"""The version of the report's form."""

_Data = dict[str, object]


def json_report(view: View) -> str:
    """Return the report of one roof, ending with a line end."""
    return written(report_data(view))


def json_reports(views: Sequence[View]) -> str:
    """Return one roof's report as it is, those of several as a list."""
    if len(views) == 1:
        return json_report(views[0])
    return written([report_data(view) for view in views])


def written(data: object) -> str:
    """Return data as JSON that is harmless to print, ending with a line end."""
    text = json.dumps(data, indent=2, ensure_ascii=False)
    if not text.replace("\n", "").isprintable():
        text = "".join(c if c == "\n" or c.isprintable() else _escaped(c) for c in text)
    return f"{text}\n"


def _escaped(char: str) -> str:
    """Return a character as JSON escapes it; it can only stand inside a string."""
    return json.dumps(char)[1:-1] if ord(char) != 0x7F else "\\u007f"


def report_data(view: View) -> _Data:
    """Return the report of one roof as plain data."""
    roof = view.roof
    units = view.settings.units
    report: _Data = {
        "report": FORM,
        "tool": {"name": "ridgerule", "version": view.version},
        "roof": {
            "id": roof.id,
            "name": roof.name,
            "place": roof.place,
            "covering": roof.covering,
        },
        "inspection": dict(view.inspection),
        "asked": {
            "units": units.value if units else None,
            "rulebooks": [
                {"rulebook": asked.reference, "editions": list(asked.editions)}
                for asked in view.asked
            ],
        },
        "outcome": view.outcome.value,
        "counts": _counts(view.counts),
        "rulebooks": [_book(book) for book in view.books],
        "record": {
            "file": view.file,
            "file_digest": view.digest,
            "canonical_digest": view.canonical_digest,
        },
        "by_rulebook": [_book_outcome(book) for book in view.by_book],
        "findings": [_finding(finding) for finding in view.findings],
        "limits_together": [_together(together) for together in view.together],
        "doubts": [_doubt(doubt) for doubt in view.doubts],
        "sampled": [_sampled(sampled) for sampled in view.sampled],
        "disclaimer": view.disclaimer,
        "cautions": list(view.cautions),
    }
    return report | {"findings_digest": findings_digest(report)}


def _counts(counts: Mapping[Outcome, int]) -> _Data:
    return {outcome.value: counts[outcome] for outcome in Outcome}


def _book(book: BookView) -> _Data:
    return {
        "id": book.id,
        "edition": book.edition,
        "title": book.title,
        "authority": book.authority,
        "file": book.document.name,
        "file_digest": book.digest,
        "canonical_digest": book.canonical_digest,
        "based_on": list(book.based_on),
        "note": book.note,
        "withdrawn": [_withdrawn(rule) for rule in book.withdrawn],
    }


def _withdrawn(rule: Withdrawn) -> _Data:
    return {
        "rule": rule.rule,
        "reason": rule.reason,
        "source": _source(rule.source),
        "permitted_by": rule.permitted_by,
    }


def _book_outcome(book: BookOutcome) -> _Data:
    return {
        "rulebook": book.book,
        "outcome": book.outcome.value,
        "counts": _counts(book.counts),
        "note": book.note,
    }


def _finding(finding: FindingView) -> _Data:
    return {
        "number": finding.number,
        "rule": finding.rule,
        "title": finding.title,
        "outcome": finding.outcome.value,
        "class": finding.severity.value if finding.severity else None,
        "place": finding.place,
        "element": finding.element,
        "path": finding.path,
        "measured": [_measured(reading) for reading in finding.readings],
        "value": finding.value or None,
        "limit": finding.limit,
        "aim": finding.aim,
        "margin": _margin(finding.margin),
        "decision_rule": finding.decision_rule,
        "statement": finding.statement,
        "uncertainty": _uncertainty(finding.decision),
        "reason": finding.reason or finding.remark,
        "what_to_do": finding.what_to_do,
        "why": finding.why,
        "remedy": finding.remedy,
        "source": _source(finding.source) if finding.source else None,
        "amended_by": [_amended(change) for change in finding.amended_by],
        "rulebooks": list(finding.books),
        "trace": [_traced(reading) for reading in finding.trace],
        "provenance": [
            {"field": o.field, "rulebook": o.book, "line": o.line} for o in finding.origins
        ],
    }


def _doubt(doubt: DoubtView) -> _Data:
    return {
        "place": doubt.place,
        "fact": doubt.fact,
        "line": doubt.line,
        "said": doubt.said,
        "advice": doubt.advice,
    }


def _sampled(sampled: SampledView) -> _Data:
    return {
        "of": sampled.of,
        "rule": sampled.rule,
        "inspected": sampled.inspected,
        "faulty": sampled.faulty,
        "lot": sampled.lot,
        "statement": sampled.statement,
    }


def _together(together: TogetherView) -> _Data:
    return {
        "fact": together.fact,
        "relation": together.relation.value,
        "limits": [
            {"rule": limit.rule, "rulebook": limit.book, "limit": limit.limit}
            for limit in together.limits
        ],
        "places": [
            {"place": place, "findings": list(numbers)}
            for place, numbers in zip(together.places, together.numbers, strict=True)
        ],
    }


def _measured(reading: Reading) -> _Data:
    return {
        "place": reading.place,
        "fact": reading.fact,
        "text": reading.text,
        "how": reading.how,
        "exact": dict(reading.exact) if reading.exact else None,
    }


def _traced(reading: Reading) -> _Data:
    return {
        "place": reading.place,
        "fact": reading.fact,
        "text": reading.text,
        "how": reading.how,
        "line": reading.row,
    }


def _uncertainty(decision: DecisionView | None) -> _Data | None:
    if decision is None or not decision.uncertainty:
        return None
    return {
        "expanded": decision.uncertainty,
        "exact": dict(decision.exact or {}),
        "conformance_probability": decision.probability,
    }


def _margin(margin: Margin | None) -> _Data | None:
    return {"text": margin.text, "exact": dict(margin.exact)} if margin else None


def _source(source: SourceView) -> _Data:
    return {
        "basis": source.basis,
        "document": source.document,
        "edition": source.edition,
        "section": source.section,
        "recalled": source.recalled,
        "note": source.note,
        "text": source.text,
    }


def _amended(change: AmendedBy) -> _Data:
    return {
        "rulebook": change.book,
        "reason": change.reason,
        "source": _source(change.source),
        "permitted_by": change.permitted_by,
    }
