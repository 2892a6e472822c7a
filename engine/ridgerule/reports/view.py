"""The view: an audit already in words, which every renderer prints and none computes.

Nothing here reads a file, a clock or a terminal; the same audit always gives the same view.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule import __version__
from ridgerule.audit.doubts import doubts
from ridgerule.audit.findings import CONFLICT, Outcome
from ridgerule.audit.words import limit_words
from ridgerule.canonical import canonical_digest
from ridgerule.quantities import Quantity, Units, exact_si
from ridgerule.reports.cautions import CAUTIONS, DISCLAIMER
from ridgerule.reports.deciding_words import DecisionView, decision_view
from ridgerule.reports.figures import (
    limit_here,
    margin_words,
    measured_words,
    reading_words,
    value_words,
)
from ridgerule.reports.governing import TogetherView, together_views
from ridgerule.reports.grouping import OpenGroup, open_groups
from ridgerule.reports.sampled import SampledView, sampled_views
from ridgerule.reports.settling import Need, needs
from ridgerule.reports.sourcing import (
    AmendedBy,
    AskedBook,
    BookView,
    FieldOrigin,
    SourceView,
    amendments,
    books_asked,
    books_behind,
    field_origins,
    source_view,
)
from ridgerule.reports.visit import RoofView, inspection_words, roof_view
from ridgerule.rulebook import DecisionRule, Rule, Severity
from ridgerule.trade.working import written

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from ridgerule.audit.findings import Audit, Finding
    from ridgerule.audit.truth import Used
    from ridgerule.documents import Document, Path
    from ridgerule.record import Record


class Settings(Struct, frozen=True):
    """How a view is to be worded and shown."""

    units: Units | None = None
    """The system to print quantities in; None prints them as they were written."""
    show_all: bool = False
    """Passes and what does not apply are listed one by one."""
    for_data: bool = True
    """Every finding carries exact values and its whole trace; a page for people needs them only
    where something failed or is open."""
    with_decisions: bool = False
    """Every reading has its uncertainty counted, not only those that failed; data always does."""

    @property
    def counts_samples(self) -> bool:
        """Whether is told what stations and counted samples show of all there are."""
        return self.for_data or self.with_decisions or self.show_all


class Reading(Struct, frozen=True):
    """A reading in words, with its exact value in SI where it is a quantity."""

    place: str
    fact: str
    text: str
    how: str
    line: str
    """Where it stands, as `file:line`."""
    exact: Mapping[str, str] | None
    row: int | None = None
    """The number of that line."""


class Margin(Struct, frozen=True):
    """How far inside or outside the limit."""

    text: str
    exact: Mapping[str, str]


class FindingView(Struct, frozen=True):
    """One finding, ready to print."""

    number: int
    rule: str
    title: str
    outcome: Outcome
    severity: Severity | None
    place: str
    element: str
    path: str
    readings: tuple[Reading, ...]
    measured: str
    """The readings judged and what they come to, as one phrase."""
    value: str
    limit: str
    aim: str
    remark: str
    margin: Margin | None
    reason: str
    what_to_do: str
    why: str
    remedy: str
    source: SourceView | None
    amended_by: tuple[AmendedBy, ...]
    books: tuple[str, ...]
    trace: tuple[Reading, ...]
    origins: tuple[FieldOrigin, ...]
    decision_rule: str = DecisionRule.SIMPLE.value
    decision: DecisionView | None = None

    @property
    def statement(self) -> str | None:
        """What its decision rule says of it: a statement with uncertainty counted, or plainly."""
        if self.decision is not None and self.decision.statement:
            return self.decision.statement
        decided = self.outcome in (Outcome.PASS, Outcome.FAIL)
        return self.outcome.value if decided else None


class BookOutcome(Struct, frozen=True):
    """How one rulebook came out."""

    book: str
    outcome: Outcome
    counts: Mapping[Outcome, int]
    note: str


class DoubtView(Struct, frozen=True):
    """A reading to look at again; it decides nothing."""

    place: str
    fact: str
    line: str
    """Where it stands, as `file:line`."""
    said: str
    advice: str


class View(Struct, frozen=True):
    """Everything a report says of one roof."""

    settings: Settings
    version: str
    roof: RoofView
    inspection: tuple[tuple[str, str], ...]
    """The visit in words, key by key; `date` and `inspector` always stand first."""
    document: Document
    """The record's file as it was read."""
    asked: tuple[AskedBook, ...]
    outcome: Outcome
    counts: Mapping[Outcome, int]
    by_book: tuple[BookOutcome, ...]
    books: tuple[BookView, ...]
    findings: tuple[FindingView, ...]
    open_groups: tuple[OpenGroup, ...]
    together: tuple[TogetherView, ...] = ()
    doubts: tuple[DoubtView, ...] = ()
    sampled: tuple[SampledView, ...] = ()
    cautions: tuple[str, ...] = CAUTIONS
    disclaimer: str = DISCLAIMER

    @property
    def file(self) -> str:
        """The record's file, as shown to the user."""
        return self.document.name

    @property
    def decision_rules(self) -> tuple[str, ...]:
        """The decision rules that findings were made by."""
        made = dict.fromkeys(f.decision_rule for f in self.findings if f.rule)
        return tuple(made) or (DecisionRule.SIMPLE.value,)

    @property
    def digest(self) -> str:
        """SHA-256 of the record's raw file."""
        return self.document.digest

    @property
    def canonical_digest(self) -> str:
        """SHA-256 of the record's data as canonical JSON."""
        return canonical_digest(self.document.data)

    def of(self, outcome: Outcome) -> tuple[FindingView, ...]:
        """Return the findings with this outcome, in their order."""
        return tuple(finding for finding in self.findings if finding.outcome is outcome)


def view_of(audit: Audit, *, settings: Settings) -> View:
    """Return the audit in words: failures by class first, then what is open, then the rest."""
    record = audit.record
    ordered = sorted(audit.findings, key=_rank)
    lacking = [_lacking(finding, record) for finding in ordered]
    wording = _Wording(record, settings)
    numbers = {id(finding): number for number, finding in enumerate(ordered, start=1)}
    numbered = tuple(
        _finding_view(finding, number, needed, wording)
        for number, (finding, needed) in enumerate(zip(ordered, lacking, strict=True), start=1)
    )
    return View(
        settings=settings,
        version=__version__,
        roof=roof_view(record),
        inspection=inspection_words(record),
        document=record.document,
        asked=books_asked(audit),
        outcome=audit.outcome,
        counts=audit.counts,
        by_book=tuple(
            BookOutcome(book.edition.book.name, book.outcome, book.counts, book.note)
            for book in audit.books
        ),
        books=books_behind(audit),
        findings=numbered,
        open_groups=open_groups(zip(numbered, lacking, strict=True)),
        together=together_views(audit, numbers, settings.units),
        doubts=tuple(_doubts(audit)),
        sampled=sampled_views(audit) if settings.counts_samples else (),
    )


_OUTCOMES = tuple(Outcome)
_DECISIVE = (Outcome.FAIL, Outcome.NOT_VERIFIED)
_SEVERITIES = tuple(Severity)


def _doubts(audit: Audit) -> Iterator[DoubtView]:
    for doubt in doubts(audit.record, audit.plan.vocabulary):
        where = audit.record.location(doubt.path)
        line = f"{where.file}:{where.line}"
        yield DoubtView(doubt.place, doubt.fact, line, doubt.said, doubt.advice)


def _rank(finding: Finding) -> tuple[int, int]:
    """Return what findings are sorted by; those of one rank stay in the audit's order."""
    is_fail = finding.outcome is Outcome.FAIL and finding.rule is not None
    severity = _SEVERITIES.index(finding.rule.severity) if is_fail and finding.rule else 0
    return _OUTCOMES.index(finding.outcome), severity


def _lacking(finding: Finding, record: Record) -> tuple[Need, ...]:
    return needs(finding, record) if finding.outcome is Outcome.NOT_VERIFIED else ()


class _RuleWords(Struct, frozen=True):
    """What is said of a rule wherever it was asked; worded once, for all its findings."""

    full_id: str = ""
    title: str = ""
    severity: Severity | None = None
    why: str = ""
    remedy: str = ""
    source: SourceView | None = None
    amended_by: tuple[AmendedBy, ...] = ()
    origins: tuple[FieldOrigin, ...] = ()


_NO_RULE = _RuleWords()


def _rule_words(rule: Rule) -> _RuleWords:
    return _RuleWords(
        full_id=rule.full_id,
        title=rule.text("title"),
        severity=rule.severity,
        why=rule.text("why"),
        remedy=rule.text("remedy"),
        source=source_view(rule.source),
        amended_by=amendments(rule),
        origins=field_origins(rule),
    )


class _Wording:
    """What findings are worded with; remembers what it has worded."""

    def __init__(self, record: Record, settings: Settings) -> None:
        self.record = record
        self.units = settings.units
        self.for_data = settings.for_data
        self.with_decisions = settings.for_data or settings.with_decisions
        self._rules: dict[int, _RuleWords] = {}
        self._readings: dict[int, Reading] = {}

    def rule(self, rule: Rule | None) -> _RuleWords:
        """Return the words of a rule; rules live as long as the audit, so do their ids."""
        if rule is None:
            return _NO_RULE
        if id(rule) not in self._rules:
            self._rules[id(rule)] = _rule_words(rule)
        return self._rules[id(rule)]

    def decision(self, finding: Finding) -> DecisionView | None:
        """Return what can be said of a reading; of a pass only where that is asked for."""
        if not (self.with_decisions or finding.outcome is Outcome.FAIL):
            return None
        return decision_view(finding, self.record, self.units, with_probability=self.with_decisions)

    def readings(self, uses: Iterable[Used]) -> tuple[Reading, ...]:
        """Return readings with the lines they stand in."""
        return tuple(self._reading(use) for use in uses)

    def trace(self, uses: Iterable[Used]) -> tuple[Reading, ...]:
        """Return what a judgement rests on; before a computed value, what it was made from."""
        traced: dict[tuple[str, str, str], Reading] = {}
        for use in uses:
            steps = _steps(use, self.units)
            for reading in (*self.trace(use.via), *steps, self._reading(use)):
                traced.setdefault((reading.place, reading.fact, reading.text), reading)
        return tuple(traced.values())

    def _reading(self, use: Used) -> Reading:
        if id(use) not in self._readings:
            self._readings[id(use)] = _reading(use, self.record, self.units, exact=self.for_data)
        return self._readings[id(use)]


def _finding_view(
    finding: Finding, number: int, needed: tuple[Need, ...], wording: _Wording
) -> FindingView:
    rule, check = finding.rule, finding.check
    record, units = wording.record, wording.units
    said = wording.rule(rule)
    if finding.outcome is Outcome.NOT_APPLICABLE and not wording.for_data:
        return _apart(finding, number, said)
    whole = wording.for_data or finding.outcome in _DECISIVE
    aim = limit_words(check.aim, units) if check and check.aim else ""
    return FindingView(
        number=number,
        rule=said.full_id or _open_point(finding),
        title=said.title if rule else _open_title(finding),
        outcome=finding.outcome,
        severity=said.severity,
        place=finding.place.label,
        element=finding.element.value,
        path=_pointer(finding.place.path),
        readings=wording.readings(finding.measured),
        measured=measured_words(finding, units) if finding.measured else "",
        value=value_words(finding, units) if finding.value else "",
        limit=limit_here(finding, record, units),
        aim=aim,
        remark=f"aim missed: {aim}" if finding.remark else "",
        margin=_margin(finding, record, units),
        reason=finding.reason,
        what_to_do="; ".join(need.sentence for need in needed),
        why=said.why,
        remedy=said.remedy,
        source=said.source,
        amended_by=said.amended_by,
        books=finding.books,
        trace=wording.trace(finding.used) if whole else (),
        origins=said.origins,
        decision_rule=(check.decision if check else DecisionRule.SIMPLE).value,
        decision=wording.decision(finding),
    )


def _open_point(finding: Finding) -> str:
    """Return what names an open point that is no rule's."""
    whose = "rulebooks" if finding.about == CONFLICT else "record"
    return f"{whose}#{'-'.join(finding.about.split())}"


def _open_title(finding: Finding) -> str:
    if finding.about == CONFLICT:
        return f"The rulebooks ask for {finding.about}"
    return f"The record is complete: {finding.about}"


def _apart(finding: Finding, number: int, said: _RuleWords) -> FindingView:
    """Return what a page for people says of a rule that does not apply: where, and why not."""
    return FindingView(
        number=number,
        rule=said.full_id,
        title=said.title,
        outcome=finding.outcome,
        severity=said.severity,
        place=finding.place.label,
        element=finding.element.value,
        path="",
        readings=(),
        measured="",
        value="",
        limit="",
        aim="",
        remark="",
        margin=None,
        reason=finding.reason,
        what_to_do="",
        why="",
        remedy="",
        source=said.source,
        amended_by=said.amended_by,
        books=finding.books,
        trace=(),
        origins=said.origins,
    )


COMPUTED = "computed"
"""How a value is known that was read nowhere."""


def _steps(use: Used, units: Units | None) -> Iterator[Reading]:
    """Yield the working of a computed value, number by number."""
    for step in use.steps:
        if step.formula:
            text = written(step, units=units or Units.INCH)
            yield Reading(use.place, use.fact.full_name, text, COMPUTED, "", None)


def _reading(use: Used, record: Record, units: Units | None, *, exact: bool) -> Reading:
    computed = bool(use.fact.formula)
    where = record.location(use.path)
    si = exact_si(use.value) if exact and isinstance(use.value, Quantity) else None
    return Reading(
        place=use.place,
        fact=use.fact.full_name,
        text=reading_words(use, units),
        how=COMPUTED if computed else use.how.value if use.how else "",
        line="" if computed else f"{where.file}:{where.line}",
        exact=MappingProxyType(si) if si is not None else None,
        row=None if computed else where.line,
    )


def _margin(finding: Finding, record: Record, units: Units | None) -> Margin | None:
    text = margin_words(finding, record, units)
    if not text or finding.margin is None:
        return None
    return Margin(text, MappingProxyType(exact_si(finding.margin)))


def _pointer(path: Path) -> str:
    """Return a path as a JSON pointer (RFC 6901)."""
    return "".join(f"/{str(step).replace('~', '~0').replace('/', '~1')}" for step in path)
