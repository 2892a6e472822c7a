"""What a survey says of one roof: a line of JSON, made of findings or of counts alone."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec
from msgspec import Struct

from ridgerule.audit.findings import CONFLICT, Outcome
from ridgerule.audit.subjects import value_text
from ridgerule.quantities import Quantity, exact_si

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from ridgerule.audit.findings import Audit, Finding
    from ridgerule.documents import Path
    from ridgerule.problems import Problem
    from ridgerule.survey.lanes import Lanes

_encode = msgspec.json.Encoder().encode
DECISIVE = (Outcome.FAIL, Outcome.NOT_VERIFIED)
"""The outcomes whose findings are kept, where not all are asked for."""

Counts = dict[Outcome, int]


class Result(Struct, frozen=True):
    """One record's line of the survey, and the outcome it tells; None for an unusable record."""

    line: bytes
    outcome: Outcome | None


def of_audit(audit: Audit, where: str, *, keep_all: bool) -> Result:
    """Return the result of a record that was audited in the ordinary way."""
    kept = [f for f in audit.findings if keep_all or f.outcome in DECISIVE]
    books = [(b.edition.book.name, b.outcome, dict(b.counts)) for b in audit.books]
    roof = audit.record.roof.id
    tail = _tail(audit.outcome, dict(audit.counts), books, kept)
    return Result(_head(where, roof) + tail, audit.outcome)


def of_counts(total: int, lanes: Lanes, kept: Sequence[Finding]) -> tuple[bytes, Outcome]:
    """Return all but the beginning of a result, from counts and the findings that are kept."""
    counts = _counts(lanes.counts(total), kept)
    books = []
    for i, name in enumerate(lanes.books):
        own = _counts(lanes.counts(total, i), [f for f in kept if name in f.books])
        is_apart = own[Outcome.NOT_APPLICABLE] and own[Outcome.NOT_APPLICABLE] == sum(own.values())
        books.append((name, Outcome.NOT_APPLICABLE if is_apart else _outcome(own), own))
    outcome = _outcome(counts)
    return _tail(outcome, counts, books, kept), outcome


def joined(where: str, roof: str, tail: bytes, outcome: Outcome) -> Result:
    """Return the result of a roof from its two parts."""
    return Result(_head(where, roof) + tail, outcome)


def of_problems(problems: Iterable[Problem], where: str) -> Result:
    """Return the result of a record that can't be used: what is wrong with it."""
    told = [
        {
            "line": p.location.line, "column": p.location.column, "expected": p.expected,
            "found": p.found, "advice": p.advice,
        }
        for p in problems
    ]  # fmt: skip
    return Result(_encode({"record": where, "problems": told}) + b"\n", None)


def _counts(plain: tuple[int, int], kept: Sequence[Finding]) -> Counts:
    failed = sum(f.outcome is Outcome.FAIL for f in kept)
    return {
        Outcome.FAIL: failed,
        Outcome.NOT_VERIFIED: len(kept) - failed,
        Outcome.PASS: plain[0],
        Outcome.NOT_APPLICABLE: plain[1],
    }


def _outcome(counts: Mapping[Outcome, int]) -> Outcome:
    if counts[Outcome.FAIL]:
        return Outcome.FAIL
    is_open = counts[Outcome.NOT_VERIFIED] or not counts[Outcome.PASS]
    return Outcome.NOT_VERIFIED if is_open else Outcome.PASS


def _head(where: str, roof: str) -> bytes:
    return b'{"record":%b,"roof":%b,' % (_encode(where), _encode(roof))


def _tail(
    outcome: Outcome,
    counts: Counts,
    books: Sequence[tuple[str, Outcome, Counts]],
    kept: Sequence[Finding],
) -> bytes:
    said = {
        "outcome": outcome,
        "counts": counts,
        "by_rulebook": [
            {"rulebook": name, "outcome": came, "counts": own} for name, came, own in books
        ],
        "findings": [finding_data(finding) for finding in kept],
    }
    return _encode(said)[1:] + b"\n"


def finding_data(finding: Finding) -> dict[str, object]:
    """Return a finding as plain data, by the names of the JSON report."""
    rule, margin = finding.rule, finding.margin
    return {
        "rule": rule.full_id if rule else _about(finding),
        "title": rule.text("title") if rule else finding.about,
        "outcome": finding.outcome,
        "class": rule.severity if rule else None,
        "place": finding.place.label,
        "element": finding.element,
        "path": pointer(finding.place.path),
        "measured": [
            {
                "place": use.place, "fact": use.fact.full_name, "text": use.text, "how": use.how,
                "exact": exact_si(use.value) if isinstance(use.value, Quantity) else None,
            }
            for use in finding.measured
        ],
        "value": value_text(finding.value) if finding.value else None,
        "limit": finding.limit,
        "margin": exact_si(margin) if margin else None,
        "reason": finding.reason or finding.remark,
        "rulebooks": list(finding.books),
    }  # fmt: skip


def pointer(path: Path) -> str:
    """Return a path as a JSON pointer (RFC 6901)."""
    return "".join(f"/{str(step).replace('~', '~0').replace('/', '~1')}" for step in path)


def _about(finding: Finding) -> str:
    """Return what names an open point that is no rule's."""
    whose = "rulebooks" if finding.about == CONFLICT else "record"
    return f"{whose}#{'-'.join(finding.about.split())}"
