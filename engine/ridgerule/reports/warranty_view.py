"""A warranty review in words: each coverage, its conditions, and what would settle them.

The words leave the decision to the warrantor.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, assert_never

from msgspec import Struct

from ridgerule.audit.asking import missing_words
from ridgerule.audit.findings import Outcome
from ridgerule.audit.words import condition_words
from ridgerule.facts import Element
from ridgerule.reports.cautions import CAUTIONS, DISCLAIMER
from ridgerule.reports.figures import limit_here, measured_words, reading_words
from ridgerule.reports.settling import needs
from ridgerule.reports.sourcing import books_behind, cited
from ridgerule.reports.visit import VisitView, visit_view
from ridgerule.review.warranty import GroupAnswer, RuleAnswer, StatedAnswer, Status

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from ridgerule.audit.findings import Audit, Finding
    from ridgerule.audit.truth import Used
    from ridgerule.record import Record
    from ridgerule.reports.sourcing import BookView
    from ridgerule.reports.view import Settings
    from ridgerule.review.warranty import Answer, CoverageReview

MOST_TOLD = 6
"""Findings told one by one at a condition before the rest become a count; data has them all."""


_THAT = "that "
_FEW = 4
"""So many places that found the same are counted and not listed."""


class DecidedBy(Struct, frozen=True):
    """One finding that a condition's status rests on."""

    place: str
    outcome: str
    found: str
    """What was found there, or why nothing was."""
    limit: str
    """What it must be; empty where nothing was judged."""


class ConditionView(Struct, frozen=True):
    """One condition, answered."""

    number: str
    """As listed: `3`, and `3.1` within a condition of several."""
    title: str
    kind: str
    """`rule`, `statement`, `all of` or `any of`."""
    rule: str
    status: Status
    decided_by: tuple[DecidedBy, ...]
    isolated: tuple[DecidedBy, ...]
    to_settle: tuple[str, ...]
    source: str
    parts: tuple[ConditionView, ...]

    def listed(self) -> Iterator[ConditionView]:
        """Yield the condition and those within it, as they are listed."""
        yield self
        for part in self.parts:
            yield from part.listed()


class CoverageView(Struct, frozen=True):
    """One coverage with its conditions, and what they come to."""

    id: str
    title: str
    book: str
    authority: str
    edition_note: str
    evidence: str
    isolated_allowed: int
    any_will_do: bool
    status: Status
    counts: Mapping[Status, int]
    conditions: tuple[ConditionView, ...]

    @property
    def summary(self) -> str:
        """How many conditions came to what; the decision stays with the warrantor."""
        told = [f"{status}: {count}" for status, count in self.counts.items() if count]
        one = " (any one of them will do)" if self.any_will_do else ""
        return f"conditions {', '.join(told)}{one}; the warrantor decides"

    def listed(self) -> Iterator[ConditionView]:
        """Yield every condition, those within others too, in order."""
        for condition in self.conditions:
            yield from condition.listed()


class WarrantyView(Struct, frozen=True):
    """Everything a warranty review says of one roof."""

    visit: VisitView
    coverages: tuple[CoverageView, ...]
    books: tuple[BookView, ...]
    cautions: tuple[str, ...] = CAUTIONS
    disclaimer: str = DISCLAIMER

    @property
    def statuses(self) -> frozenset[Status]:
        """What the conditions came to, of every coverage."""
        return frozenset(
            condition.status for coverage in self.coverages for condition in coverage.conditions
        )


def warranty_view(
    audit: Audit, reviews: Sequence[CoverageReview], *, settings: Settings
) -> WarrantyView:
    """Return a roof's coverages in words."""
    wording = _Wording(audit.record, settings)
    return WarrantyView(
        visit=visit_view(audit.record),
        coverages=tuple(_coverage(review, wording) for review in reviews),
        books=books_behind(audit),
    )


def _coverage(review: CoverageReview, wording: _Wording) -> CoverageView:
    coverage, book = review.coverage, review.book.edition.book
    return CoverageView(
        id=coverage.id,
        title=coverage.title,
        book=book.name,
        authority=book.authority,
        edition_note=review.book.note,
        evidence=coverage.evidence,
        isolated_allowed=coverage.isolated_allowed,
        any_will_do=review.any_will_do,
        status=review.status,
        counts=review.counts,
        conditions=tuple(
            wording.condition(answer, str(n)) for n, answer in enumerate(review.answers, start=1)
        ),
    )


class _Wording:
    """Words the conditions of one record."""

    def __init__(self, record: Record, settings: Settings) -> None:
        self.record = record
        self.units = settings.units

    def condition(self, answer: Answer, number: str) -> ConditionView:
        match answer:
            case RuleAnswer():
                return self.by_rule(answer, number)
            case StatedAnswer():
                return self.by_statement(answer, number)
            case GroupAnswer():
                return self.group(answer, number)
            case _:
                assert_never(answer)

    def by_rule(self, answer: RuleAnswer, number: str) -> ConditionView:
        rule = answer.condition.check.rule
        is_open = answer.status in (Status.NOT_EVIDENCED, Status.NOT_MET)
        unseen = [f for f in answer.findings if f.outcome is Outcome.NOT_VERIFIED]
        return ConditionView(
            number=number,
            title=rule.text("title"),
            kind="rule",
            rule=rule.full_id,
            status=answer.status,
            decided_by=self.decided(answer.deciding),
            isolated=self.decided(answer.isolated),
            to_settle=_to_settle(unseen, self.record) if is_open else (),
            source=cited(rule.source),
            parts=(),
        )

    def decided(self, findings: Iterable[Finding]) -> tuple[DecidedBy, ...]:
        return tuple(
            DecidedBy(finding.place.label, finding.outcome.value, *self.said(finding))
            for finding in findings
        )

    def said(self, finding: Finding) -> tuple[str, str]:
        """Return what was found and what it must be; why nothing was, and nothing."""
        if finding.outcome not in (Outcome.PASS, Outcome.FAIL):
            return finding.reason, ""
        found = measured_words(finding, self.units) or self.used(finding.used)
        return found, limit_here(finding, self.record, self.units)

    def used(self, uses: Iterable[Used]) -> str:
        """Return the facts that a judgement rests on, with their values."""
        return ", ".join(
            f"{use.fact.name.replace('_', ' ')} is {reading_words(use, self.units)}" for use in uses
        )

    def by_statement(self, answer: StatedAnswer, number: str) -> ConditionView:
        judged, where = answer.judgement, answer.condition.where
        lacks = tuple(dict.fromkeys(missing_words(lack) for lack in judged.missing))
        said = "; ".join(filter(None, (self.used(judged.used), *lacks)))
        asked = condition_words(where, self.units)
        outcome = {Status.MET: Outcome.PASS, Status.NOT_MET: Outcome.FAIL}
        shown = outcome.get(answer.status, Outcome.NOT_VERIFIED).value
        return ConditionView(
            number=number,
            title=answer.condition.title,
            kind="statement",
            rule="",
            status=answer.status,
            decided_by=(DecidedBy("roof", shown, said, _plain(asked)),),
            isolated=(),
            to_settle=tuple(f"Record it: {lack}" for lack in lacks),
            source="",
            parts=(),
        )

    def group(self, answer: GroupAnswer, number: str) -> ConditionView:
        any_will_do = answer.condition.any_will_do
        return ConditionView(
            number=number,
            title="Any one of these" if any_will_do else "All of these",
            kind="any of" if any_will_do else "all of",
            rule="",
            status=answer.status,
            decided_by=(),
            isolated=(),
            to_settle=(),
            source="",
            parts=tuple(
                self.condition(part, f"{number}.{n}") for n, part in enumerate(answer.parts, 1)
            ),
        )


def _plain(condition: str) -> str:
    """Return a condition on the roof as what follows "the condition is": `that the …`."""
    said = condition.replace(f"{Element.ROOF}.", "the ").replace("_", " ")
    return f"{_THAT}{said}"


def _to_settle(findings: Iterable[Finding], record: Record) -> tuple[str, ...]:
    """Return what would settle open findings, the same act at several places told once."""
    acts: dict[str, list[str]] = {}
    for finding in findings:
        for need in needs(finding, record):
            places = acts.setdefault(need.what, [])
            if need.place and need.place not in places:
                places.append(need.place)
    return tuple(_act(what, places) for what, places in acts.items())


def _act(what: str, places: Sequence[str]) -> str:
    if not places:
        return what
    more = f" and {len(places) - MOST_TOLD} more places" if len(places) > MOST_TOLD else ""
    return f"{what} — {', '.join(places[:MOST_TOLD])}{more}"


def told(findings: Sequence[DecidedBy]) -> str:
    """Return findings as one text: what must be once, many places as the first few and a count."""
    by_limit: dict[str, list[DecidedBy]] = {}
    for finding in findings:
        by_limit.setdefault(finding.limit, []).append(finding)
    return "; ".join(_told(limit, group) for limit, group in by_limit.items())


def _told(limit: str, findings: Sequence[DecidedBy]) -> str:
    """Return findings under one limit, those that found the same put together."""
    by_found: dict[str, list[str]] = {}
    for finding in findings:
        by_found.setdefault(finding.found, []).append(finding.place)
    lines = [_at(found, places) for found, places in by_found.items()]
    more = [f"{len(lines) - MOST_TOLD} other readings"] if len(lines) > MOST_TOLD else []
    said = "; ".join((*lines[:MOST_TOLD], *more))
    asked = f"the condition is {limit}" if limit.startswith(_THAT) else f"must be {limit}"
    return f"{said}; {asked}" if limit else said


def _at(found: str, places: Sequence[str]) -> str:
    """Return what was found at one place, or at several."""
    if all(place in found for place in places):
        return found
    if len(places) == 1:
        return f"{places[0]}: {found}"
    listed = ", ".join(places) if len(places) < _FEW else f"{len(places)} places"
    return f"{listed}: {found}"
