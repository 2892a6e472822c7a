"""A re-inspection as data: JSON (`schemas/reinspection.schema.json`), a table, JUnit XML."""

from __future__ import annotations

import csv
import xml.etree.ElementTree as ET
from io import StringIO
from typing import TYPE_CHECKING

from msgspec.structs import asdict

from ridgerule.audit.findings import Outcome
from ridgerule.reports.csv_report import NOTE, cell
from ridgerule.reports.json_report import written
from ridgerule.reports.junit_report import element, properties, xml_text
from ridgerule.reports.reinspection_sheet import (
    edition_words,
    now_words,
    place_words,
    then_words,
    verdict_words,
)
from ridgerule.reports.visible import visible

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from ridgerule.reports.reinspection_view import ChangeView, ReadingChange, ReinspectionView
    from ridgerule.reports.view import FindingView, Reading, View

FORM = 1
"""The version of the form."""
COLUMNS = (
    "roof",
    "number",
    "change",
    "open",
    "class",
    "place then",
    "place now",
    "rule",
    "title",
    "outcome then",
    "outcome now",
    "reading then",
    "reading now",
    "difference",
    "limit then",
    "limit now",
    "margin then",
    "margin now",
    "rule changed",
    "note",
    "what to do",
    "source",
    "done",
)
NO_BOOK = "no rulebook's own"
"""The suite of findings that count in no rulebook: limits that can't be met together."""

_Data = dict[str, object]


def reinspection_json(view: ReinspectionView) -> str:
    """Return a re-inspection as JSON, ending with a line end."""
    roof = view.second.roof
    return written(
        {
            "reinspection": FORM,
            "tool": {"name": "ridgerule", "version": view.second.version},
            "roof": asdict(roof),
            "outcome": view.outcome.value,
            "verdict": verdict_words(view),
            "failing": view.failing,
            "open": view.open,
            "within": {"text": view.within, "exact": dict(view.within_exact)},
            "visits": {"first": _visit(view.first), "second": _visit(view.second)},
            "rulebooks_changed": view.rulebooks_differ,
            "rulebooks": [
                {
                    "id": pair.id,
                    "first": pair.then or None,
                    "second": pair.now or None,
                    "same_file": pair.same_file,
                }
                for pair in view.books
            ],
            "counts": {turn.value: count for turn, count in view.counts.items()},
            "changes": [_change(change) for change in view.changes],
            "warnings": list(view.warnings),
            "notes": list(view.notes),
            "disclaimer": view.disclaimer,
            "cautions": list(view.cautions),
        }
    )


def _visit(visit: View) -> _Data:
    return {
        "inspection": dict(visit.inspection),
        "record": {"file": visit.file, "file_digest": visit.digest},
        "outcome": visit.outcome.value,
        "counts": {outcome.value: visit.counts[outcome] for outcome in Outcome},
        "rulebooks": [
            {"id": book.id, "edition": book.edition, "file_digest": book.digest, "note": book.note}
            for book in visit.books
        ],
        "by_rulebook": [
            {"rulebook": book.book, "outcome": book.outcome.value, "note": book.note}
            for book in visit.by_book
        ],
    }


def _change(change: ChangeView) -> _Data:
    found = change.finding
    return {
        "number": change.number,
        "change": change.turn.value,
        "failing": change.is_failing,
        "open": change.is_open,
        "rule": found.rule,
        "rule_changed": change.rule_differs,
        "title": found.title,
        "class": found.severity.value if found.severity else None,
        "element": found.element,
        "first": _finding(change.then) if change.then else None,
        "second": _finding(change.now) if change.now else None,
        "instead": _finding(change.instead) if change.instead else None,
        "readings": [_reading_change(reading) for reading in change.readings],
        "difference": change.change,
        "reason": change.reason,
        "what_to_do": change.what_to_do,
        "why": found.why,
        "remedy": found.remedy,
        "source": asdict(found.source) if found.source else None,
        "amended_by": [by.text for by in found.amended_by],
        "rulebooks": list(found.books),
    }


def _finding(found: FindingView) -> _Data:
    margin = found.margin
    return {
        "place": found.place,
        "path": found.path,
        "outcome": found.outcome.value,
        "measured": [_reading(reading) for reading in found.readings],
        "value": found.value or None,
        "limit": found.limit,
        "margin": {"text": margin.text, "exact": dict(margin.exact)} if margin else None,
        "reason": found.reason or found.remark,
    }


def _reading(reading: Reading) -> _Data:
    return {
        "place": reading.place,
        "fact": reading.fact,
        "text": reading.text,
        "how": reading.how,
        "line": reading.line,
        "exact": dict(reading.exact) if reading.exact else None,
    }


def _reading_change(reading: ReadingChange) -> _Data:
    return {
        "fact": reading.fact,
        "place_first": reading.place_then or None,
        "first": reading.then or None,
        "place_second": reading.place_now or None,
        "second": reading.now or None,
        "difference": reading.text,
        "exact": dict(reading.exact) if reading.exact else None,
    }


def reinspection_csv(view: ReinspectionView) -> str:
    """Return one row a change, then what the table is."""
    out = StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for row in _rows(view):
        writer.writerow([cell(row.get(column, "")) for column in COLUMNS])
    return out.getvalue()


def _rows(view: ReinspectionView) -> Iterator[dict[str, str]]:
    for change in view.changes:
        yield _row(change, view)
    for said in (verdict_words(view), *_told(view), view.disclaimer, *view.cautions):
        yield {"change": NOTE, "title": said}


def _told(view: ReinspectionView) -> Iterator[str]:
    """Yield what has to be known of the visits and of how they were held against each other."""
    for name, visit in (("first", view.first), ("second", view.second)):
        said = dict(visit.inspection)
        date, inspector = said["date"] or "date not recorded", said["inspector"] or "not recorded"
        record = f"record {visit.file}, SHA-256 {visit.digest}"
        yield f"{name} visit: {date}, inspector {inspector}; {record}"
    for pair in view.books:
        changed = "; the rulebook changed between the visits" if pair.differs else ""
        yield f"rulebook {edition_words(pair)}{changed}"
    yield from (*view.warnings, *view.notes)


def _row(change: ChangeView, view: ReinspectionView) -> dict[str, str]:
    found = change.finding
    return {
        "roof": view.second.roof.id,
        "number": str(change.number),
        "change": change.turn.value,
        "open": "failing" if change.is_failing else "open" if change.is_open else "",
        "class": found.severity.value if found.severity else "",
        "rule": found.rule,
        "title": found.title,
        **_half(change.then, "then", change.unknown_then),
        **_half(change.now, "now", change.unknown_now),
        "difference": change.change,
        "rule changed": "yes" if change.rule_differs else "",
        "note": change.reason or (_spoken(change.instead) if change.instead else ""),
        "what to do": change.what_to_do,
        "source": found.source.text if found.source else "",
    }


def _half(found: FindingView | None, when: str, unknown: str) -> dict[str, str]:
    """Return the cells of one visit."""
    if found is None:
        return {}
    return {
        f"place {when}": found.place,
        f"outcome {when}": found.outcome.value,
        f"reading {when}": found.measured or unknown or found.reason,
        f"limit {when}": found.limit,
        f"margin {when}": found.margin.text if found.margin else "",
    }


def _spoken(instead: FindingView) -> str:
    said = f": {instead.reason}" if instead.reason else ""
    return f"{instead.outcome} at {instead.place}{said}"


def reinspection_junit(view: ReinspectionView) -> str:
    """Return a suite a rulebook, a test case a change; no time is in it."""
    root = ET.Element("testsuites", name="ridgerule reinspect")
    for book in _books(view):
        mine = [change for change in view.changes if book in (change.finding.books or (NO_BOOK,))]
        root.append(_suite(view, book, mine))
    for name in ("tests", "failures", "errors", "skipped"):
        root.set(name, str(sum(int(suite.get(name, "0")) for suite in root)))
    return xml_text(root)


def _books(view: ReinspectionView) -> Iterable[str]:
    """Return every rulebook that changes count in, the second visit's first."""
    asked = (book.book for visit in (view.second, view.first) for book in visit.by_book)
    is_left = any(not change.finding.books for change in view.changes)
    return dict.fromkeys((*asked, *((NO_BOOK,) if is_left else ())))


def _suite(view: ReinspectionView, book: str, changes: list[ChangeView]) -> ET.Element:
    failing = sum(change.is_failing for change in changes)
    skipped = sum(_is_skipped(change) for change in changes)
    suite = element(
        None,
        "testsuite",
        name=f"{view.second.roof.id}: {book}",
        tests=str(len(changes)),
        failures=str(failing),
        errors="0",
        skipped=str(skipped),
    )
    said = {
        "roof": view.second.roof.id,
        "outcome of the re-inspection": view.outcome.value,
        "verdict": verdict_words(view),
        **{f"note {n}": told for n, told in enumerate(_told(view), start=1)},
        "disclaimer": view.disclaimer,
    }
    properties(suite, said)
    for change in changes:
        _case(suite, change)
    element(suite, "system-out").text = "\n".join((view.disclaimer, *view.cautions))
    return suite


def _is_skipped(change: ChangeView) -> bool:
    """Tell whether nothing decided is to be shown: what is open, and what does not apply."""
    decided = change.now is not None and change.now.outcome is Outcome.PASS
    return not change.is_failing and (change.is_open or not decided)


def _case(suite: ET.Element, change: ChangeView) -> None:
    found = change.finding
    name = f"{place_words(change)}: {found.title}"
    case = element(suite, "testcase", classname=found.rule, name=name)
    severity = found.severity.value if found.severity else ""
    said = {
        "change": change.turn.value,
        "open": "yes" if change.is_open else "",
        "class": severity,
        "rule changed": "yes" if change.rule_differs else "",
    }
    properties(case, said)
    message = f"{change.turn}; then {then_words(change)}; now {now_words(change)}"
    if change.is_failing:
        failure = element(case, "failure", message=message, type=severity)
        failure.text = _body(change)
    elif _is_skipped(change):
        to_do = f"; {change.what_to_do}" if change.what_to_do else ""
        why = f"; {change.reason}" if change.reason else ""
        element(case, "skipped", message=f"{message}{why}{to_do}")
    else:
        element(case, "system-out").text = visible(message)


def _body(change: ChangeView) -> str:
    found = change.finding
    rows = (
        ("difference", change.change),
        ("must be", found.limit),
        ("note", change.reason or found.reason),
        ("why", found.why),
        ("remedy", found.remedy),
        ("source", found.source.text if found.source else ""),
        *(("amended by", by.text) for by in found.amended_by),
    )
    return "\n".join(f"{label}: {visible(words)}" for label, words in rows if words)
