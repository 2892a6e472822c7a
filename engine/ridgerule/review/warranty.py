"""A warranty's coverages held against an audit: condition by condition, never a decision.

Which conditions a record shows as met, as not met, or does not show, is told; what follows from
that is the warrantor's to decide.
"""

from __future__ import annotations

from collections import Counter
from enum import StrEnum
from typing import TYPE_CHECKING, assert_never

from msgspec import Struct

from ridgerule.audit.completeness import concerns
from ridgerule.audit.coverages import Group, RuleCondition, StatedCondition, coverages_of
from ridgerule.audit.findings import Outcome
from ridgerule.audit.judge import Setting, holds
from ridgerule.facts import Element
from ridgerule.problems import InputRejected

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from ridgerule.audit.coverages import CompiledCoverage, Condition
    from ridgerule.audit.findings import Audit, BookAudit, Finding
    from ridgerule.audit.truth import Judgement
    from ridgerule.problems import Problem
    from ridgerule.rulebook import Coverage


class Status(StrEnum):
    """What a record shows of a condition, gravest first."""

    NOT_MET = "shown not met"
    NOT_EVIDENCED = "not evidenced"
    MET = "met"
    NOT_APPLICABLE = "not applicable"


class RuleAnswer(Struct, frozen=True):
    """What a record shows of a condition that is a rule."""

    condition: RuleCondition
    status: Status
    findings: tuple[Finding, ...]
    """Every finding of the rule, and the open points that leave its places in doubt."""
    deciding: tuple[Finding, ...]
    """Those that the status rests on."""
    isolated: tuple[Finding, ...] = ()
    """Faults that the coverage allows as isolated."""


class StatedAnswer(Struct, frozen=True):
    """What a record shows of a condition on the roof itself."""

    condition: StatedCondition
    status: Status
    judgement: Judgement


class GroupAnswer(Struct, frozen=True):
    """What a record shows of several conditions together."""

    condition: Group
    status: Status
    parts: tuple[Answer, ...]


Answer = RuleAnswer | StatedAnswer | GroupAnswer


class CoverageReview(Struct, frozen=True):
    """A coverage, its conditions answered one by one, and how many came to what."""

    coverage: Coverage
    book: BookAudit
    answers: tuple[Answer, ...]
    any_will_do: bool
    status: Status
    """Of the coverage's conditions together; with none that applies it is not evidenced."""

    @property
    def counts(self) -> dict[Status, int]:
        """How many of the conditions, as they are listed, came to each status."""
        counted = Counter(answer.status for answer in self.answers)
        return {status: counted[status] for status in Status}


def reviews_of(audit: Audit) -> tuple[CoverageReview, ...]:
    """Return the coverages of the rulebooks in use, each read by its own rulebook's rules alone.

    Raises `InputRejected` with all that is wrong with the coverages' conditions.
    """
    found: list[tuple[BookAudit, CompiledCoverage]] = []
    problems: list[Problem] = []
    for book in audit.books:
        coverages, mistaken = coverages_of(book.edition)
        problems.extend(mistaken)
        found.extend((book, coverage) for coverage in coverages)
    if problems:
        raise InputRejected(problems)
    return tuple(_review(audit, book, coverage) for book, coverage in found)


def _review(audit: Audit, book: BookAudit, compiled: CompiledCoverage) -> CoverageReview:
    name = book.edition.book.name
    answering = _Answering(audit, name)
    allowed = answering.isolated(compiled)
    answers = tuple(answering.answer(part, allowed) for part in compiled.conditions.parts)
    any_will_do = compiled.conditions.any_will_do
    status = _joined([answer.status for answer in answers], any_will_do=any_will_do)
    if status is Status.NOT_APPLICABLE:
        status = Status.NOT_EVIDENCED  # nothing that the coverage asks was shown
    return CoverageReview(compiled.coverage, book, answers, any_will_do, status)


class _Answering:
    """Answers the conditions of one rulebook's coverages from an audit's findings."""

    def __init__(self, audit: Audit, book: str) -> None:
        self.audit = audit
        self.findings = [finding for finding in audit.findings if book in finding.books]

    def answer(self, condition: Condition, allowed: frozenset[int]) -> Answer:
        match condition:
            case RuleCondition():
                return self.by_rule(condition, allowed)
            case StatedCondition():
                return self.by_statement(condition)
            case Group(parts, any_will_do):
                answers = tuple(self.answer(part, allowed) for part in parts)
                statuses = [answer.status for answer in answers]
                return GroupAnswer(condition, _joined(statuses, any_will_do=any_will_do), answers)
            case _:
                assert_never(condition)

    def by_rule(self, condition: RuleCondition, allowed: frozenset[int]) -> RuleAnswer:
        found = self.of_rule(condition)
        isolated = tuple(finding for finding in found if id(finding) in allowed)
        failed = [f for f in found if f.outcome is Outcome.FAIL and id(f) not in allowed]
        unseen = [f for f in found if f.outcome is Outcome.NOT_VERIFIED]
        passed = [f for f in found if f.outcome is Outcome.PASS]
        if failed:
            return RuleAnswer(condition, Status.NOT_MET, found, tuple(failed), isolated)
        if unseen or not found:
            return RuleAnswer(condition, Status.NOT_EVIDENCED, found, tuple(unseen), isolated)
        if passed:
            return RuleAnswer(condition, Status.MET, found, tuple(passed), isolated)
        return RuleAnswer(condition, Status.NOT_APPLICABLE, found, found, isolated)

    def of_rule(self, condition: RuleCondition) -> tuple[Finding, ...]:
        """Return the findings of a rule; places that may be unlisted leave it open as well."""
        check = condition.check
        return tuple(
            finding
            for finding in self.findings
            if (finding.check is not None and finding.check.identity == check.identity)
            or (finding.check is None and concerns(finding, check))
        )

    def by_statement(self, condition: StatedCondition) -> StatedAnswer:
        record = self.audit.record
        judged = holds(Setting(record, record.roof), condition.where)
        status = {True: Status.MET, False: Status.NOT_MET, None: Status.NOT_EVIDENCED}
        return StatedAnswer(condition, status[judged.truth], judged)

    def isolated(self, compiled: CompiledCoverage) -> frozenset[int]:
        """Return the failures that a coverage allows as isolated, by identity; all or none.

        They are no more than it allows over all its conditions, each at a place of its own whose
        line or plane no other touches, and each of a rule that is met at another place.
        """
        most = compiled.coverage.isolated_allowed
        failed: list[Finding] = []
        for condition in _rules(compiled.conditions):
            found = self.of_rule(condition)
            outcomes = {finding.outcome for finding in found}
            faults = [finding for finding in found if finding.outcome is Outcome.FAIL]
            if faults and Outcome.PASS not in outcomes:
                return frozenset()
            failed.extend(faults)
        failed = [*{id(finding): finding for finding in failed}.values()]
        if not failed or len(failed) > most or _crowded(failed):
            return frozenset()
        return frozenset(map(id, failed))


def _crowded(findings: Sequence[Finding]) -> bool:
    """Tell whether two faults lie on one line or plane, or one is the whole roof's."""
    touched: Counter[tuple[Element, str]] = Counter()
    for finding in findings:
        touched.update(_hosts(finding))
    whole = any(finding.place.element is Element.ROOF for finding in findings)
    return whole or max(touched.values(), default=0) > 1


def _hosts(finding: Finding) -> Iterator[tuple[Element, str]]:
    place = finding.place
    if place.element in (Element.LINE, Element.PLANE):
        yield place.element, place.id
        return
    yield from ((Element.LINE, line) for line in place.lines or ())
    if not place.lines:
        yield from ((Element.PLANE, plane) for plane in place.planes or ())


def _rules(condition: Condition) -> Iterator[RuleCondition]:
    if isinstance(condition, RuleCondition):
        yield condition
    elif isinstance(condition, Group):
        for part in condition.parts:
            yield from _rules(part)


def _joined(statuses: Iterable[Status], *, any_will_do: bool) -> Status:
    """Return the status of several conditions; those that don't apply decide nothing."""
    found = {status for status in statuses if status is not Status.NOT_APPLICABLE}
    if not found:
        return Status.NOT_APPLICABLE
    order = [Status.NOT_MET, Status.NOT_EVIDENCED, Status.MET]
    if any_will_do:
        order = [Status.MET, Status.NOT_EVIDENCED, Status.NOT_MET]
    return next(status for status in order if status in found)
