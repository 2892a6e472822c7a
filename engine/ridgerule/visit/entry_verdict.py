"""What rules say of one reading as soon as it is written: those that rest on it or lack it."""

from __future__ import annotations

from itertools import chain
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.findings import Finding, Outcome

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from ridgerule.audit.findings import Audit
    from ridgerule.audit.truth import Used
    from ridgerule.plain_data import Path
    from ridgerule.visit.entry_steps import Step

_ORDER = (Outcome.FAIL, Outcome.NOT_VERIFIED, Outcome.PASS)


class Verdict(Struct, frozen=True):
    """What comes of one reading."""

    findings: tuple[Finding, ...]
    """Failures first, each once a rule and place."""
    waiting: int
    """How many rules rest on it and wait for other readings."""


def verdict_on(audit: Audit, step: Step) -> Verdict:
    """Return what the rules say of the answer to a question, as the record stands now."""
    path = step.question.path
    found: list[Finding] = []
    waiting = 0
    for finding in audit.findings:
        if finding.check is None or finding.outcome is Outcome.NOT_APPLICABLE:
            continue
        rests = any(_is_in(use.path, path) for use in _all(finding))
        if finding.outcome is not Outcome.NOT_VERIFIED:
            if rests:
                found.append(finding)
        elif _lacks(finding, step):
            found.append(finding)
        elif rests:
            waiting += 1
    return Verdict(tuple(sorted(found, key=lambda one: _ORDER.index(one.outcome))), waiting)


def _all(finding: Finding) -> Iterator[Used]:
    """Yield the readings that a finding rests on, those behind computed values too."""
    yield from _behind(chain(finding.measured, finding.used))


def _behind(uses: Iterable[Used]) -> Iterator[Used]:
    for use in uses:
        yield use
        yield from _behind(use.via)


def _lacks(finding: Finding, step: Step) -> bool:
    """Tell whether the answer is there and is not enough for a rule."""
    path = step.question.path
    return any(lack.fact is not None and _is_in(lack.path, path) for lack in finding.missing)


def _is_in(path: Path, whole: Path) -> bool:
    return path[: len(whole)] == whole
