"""The findings of an audit beside their numbers and words in the view, for drawings to point at."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.findings import Outcome

if TYPE_CHECKING:
    from collections.abc import Iterable

    from ridgerule.audit.findings import Audit, Finding
    from ridgerule.reports.view import FindingView, View
    from ridgerule.rulebook import Severity

DRAWN = (Outcome.FAIL, Outcome.NOT_VERIFIED)
"""The outcomes that are drawn one by one; passes are counted."""


class Numbered(Struct, frozen=True):
    """One finding as the audit has it and as the view says it."""

    finding: Finding
    view: FindingView


def numbered(audit: Audit, view: View) -> tuple[Numbered, ...]:
    """Return the audit's findings with what the view made of each, in the view's order.

    The view sorts by outcome and class, and keeps the audit's order among those alike.
    """
    waiting: dict[tuple[Outcome, Severity | None], list[Finding]] = defaultdict(list)
    for finding in audit.findings:
        severity = finding.rule.severity if finding.rule else None
        waiting[finding.outcome, severity if finding.outcome is Outcome.FAIL else None].append(
            finding
        )
    queues = {key: iter(found) for key, found in waiting.items()}
    return tuple(
        Numbered(next(queues[shown.outcome, _ranked(shown)]), shown) for shown in view.findings
    )


def _ranked(shown: FindingView) -> Severity | None:
    return shown.severity if shown.outcome is Outcome.FAIL else None


def gravest(outcomes: Iterable[Outcome]) -> Outcome:
    """Return the outcome that weighs most: fail, then not verified, pass, not applicable."""
    order = tuple(Outcome)
    return min(outcomes, key=order.index)
