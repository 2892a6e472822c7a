"""A re-inspection in words: both visits, and every change in the section it is told in."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from enum import StrEnum
from types import MappingProxyType
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.findings import Outcome
from ridgerule.enclosures import absolute, compare
from ridgerule.quantities import exact_si, write
from ridgerule.reports.cautions import CAUTIONS, DISCLAIMER
from ridgerule.reports.figures import reading_words, units_written
from ridgerule.reports.settling import needs
from ridgerule.reports.view import view_of
from ridgerule.review.reinspection_changes import Turn
from ridgerule.rulebook import Severity

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from ridgerule.audit.findings import Audit, Finding
    from ridgerule.quantities import Quantity, Units
    from ridgerule.record import Record
    from ridgerule.reports.settling import Need
    from ridgerule.reports.view import FindingView, Settings, View
    from ridgerule.review.reinspection import Reinspection
    from ridgerule.review.reinspection_changes import Change
    from ridgerule.review.reinspection_readings import Difference
    from ridgerule.review.reinspection_rules import BookPair

MOST_CHANGES = 6
"""Readings that changed told one by one before the rest become a count; data has them all."""


class Section(StrEnum):
    """Where a change is told, in the order of the report; what is open comes first."""

    STILL_FAILING = "Still failing"
    NOT_SHOWN = "Failed before, not shown put right"
    STILL_OPEN = "Still not verified"
    NEW_FAILURE = "New failures"
    NEWLY_OPEN = "Newly not verified"
    PUT_RIGHT = "Put right"
    SETTLED = "Settled"
    NO_LONGER_MEASURED = "Passed before, no longer measured"
    OTHERWISE = "Passes by another limit, not put right"
    NO_LONGER_APPLIES = "No longer applies or asked"
    CHANGED_READING = "Passes as before, reading changed"
    NEW_PASS = "New, and passes"  # noqa: S105 - a heading
    UNCHANGED = "Unchanged"
    NO_QUESTION = "Does not apply"


class ReadingChange(Struct, frozen=True):
    """One reading that is not the same at both visits."""

    fact: str
    place_then: str
    then: str
    place_now: str
    now: str
    text: str
    """How far it changed, where it is a quantity or a date."""
    exact: Mapping[str, str] | None


class ChangeView(Struct, frozen=True):
    """One change, ready to print; either visit may have no finding of its own."""

    number: int
    section: Section
    turn: Turn
    is_failing: bool
    is_open: bool
    then: FindingView | None
    now: FindingView | None
    instead: FindingView | None
    """What speaks for a visit that has no finding of its own there."""
    unknown_then: str
    """Why it was not verified at the first visit."""
    unknown_now: str
    readings: tuple[ReadingChange, ...]
    change: str
    """How far the reading changed, as one phrase."""
    reason: str
    rule_differs: bool
    what_to_do: str
    """What would close it, the same at every place; empty where nothing is open."""

    @property
    def finding(self) -> FindingView:
        """The second visit's finding, or the first's where that is all there is."""
        found = self.now or self.then
        if found is None:
            raise TypeError("a change is of at least one finding")
        return found


class ReinspectionView(Struct, frozen=True):
    """Everything a re-inspection says of one roof."""

    first: View
    second: View
    outcome: Outcome
    within: str
    within_exact: Mapping[str, str]
    changes: tuple[ChangeView, ...]
    books: tuple[BookPair, ...]
    warnings: tuple[str, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...] = CAUTIONS
    disclaimer: str = DISCLAIMER

    def of(self, section: Section) -> tuple[ChangeView, ...]:
        """Return the changes told in a section, in their order."""
        return tuple(change for change in self.changes if change.section is section)

    @property
    def counts(self) -> Mapping[Turn, int]:
        """How often each turn was taken."""
        counted = Counter(change.turn for change in self.changes)
        return MappingProxyType({turn: counted[turn] for turn in Turn})

    @property
    def failing(self) -> int:
        """How many findings of the second visit are failures."""
        return sum(change.is_failing for change in self.changes)

    @property
    def open(self) -> int:
        """How many changes are open, failures of the second visit aside."""
        return sum(change.is_open for change in self.changes)

    @property
    def rulebooks_differ(self) -> bool:
        """Were the two visits held against different rules."""
        return any(pair.differs for pair in self.books)


def reinspection_view(found: Reinspection, *, settings: Settings) -> ReinspectionView:
    """Return a re-inspection in words, worst first."""
    first, second = (view_of(audit, settings=settings) for audit in (found.first, found.second))
    wording = _Wording(found, first, second, settings.units)
    ordered = sorted(found.changes, key=_rank)
    return ReinspectionView(
        first=first,
        second=second,
        outcome=found.outcome,
        within=found.within.text,
        within_exact=MappingProxyType(exact_si(found.within)),
        changes=tuple(wording.change(change, n) for n, change in enumerate(ordered, start=1)),
        books=found.books,
        warnings=found.warnings,
        notes=found.places.notes,
    )


_SECTIONS = tuple(Section)
_SEVERITIES = (*Severity, None)


def _rank(change: Change) -> tuple[int, int]:
    return _SECTIONS.index(section_of(change)), _SEVERITIES.index(_severity(change.finding))


def _severity(finding: Finding) -> Severity | None:
    return finding.rule.severity if finding.rule else None


def section_of(change: Change) -> Section:
    """Return where a change is told: what fails or is open never under what is in order."""
    before = change.before.outcome if change.before else None
    now = change.after.outcome if change.after else None
    if Outcome.NOT_APPLICABLE in (before, now) and {before, now} <= {None, Outcome.NOT_APPLICABLE}:
        return Section.NO_QUESTION
    if change.turn in (Turn.NO_LONGER_RECORDED, Turn.NO_LONGER_ASKED):
        return _GONE[before or Outcome.PASS]
    return _TOLD_IN[change.turn]


_GONE: Mapping[Outcome, Section] = MappingProxyType(
    {
        Outcome.FAIL: Section.NOT_SHOWN,
        Outcome.NOT_VERIFIED: Section.STILL_OPEN,
        Outcome.PASS: Section.NO_LONGER_MEASURED,
        Outcome.NOT_APPLICABLE: Section.NO_QUESTION,
    }
)
_TOLD_IN: Mapping[Turn, Section] = MappingProxyType(
    {
        Turn.STILL_FAILING: Section.STILL_FAILING,
        Turn.NEW_FAILURE: Section.NEW_FAILURE,
        Turn.NOT_MEASURED_AGAIN: Section.NOT_SHOWN,
        Turn.NOT_SHOWN: Section.NOT_SHOWN,
        Turn.STILL_OPEN: Section.STILL_OPEN,
        Turn.NEWLY_OPEN: Section.NEWLY_OPEN,
        Turn.NO_LONGER_MEASURED: Section.NO_LONGER_MEASURED,
        Turn.PUT_RIGHT: Section.PUT_RIGHT,
        Turn.SETTLED: Section.SETTLED,
        Turn.OTHERWISE: Section.OTHERWISE,
        Turn.NO_LONGER_APPLIES: Section.NO_LONGER_APPLIES,
        Turn.APPLIES_NOW: Section.NEW_PASS,
        Turn.NEW_PASS: Section.NEW_PASS,
        Turn.NEW_NOT_APPLICABLE: Section.NO_QUESTION,
        Turn.CHANGED_READING: Section.CHANGED_READING,
        Turn.UNCHANGED: Section.UNCHANGED,
    }
)

_ACTS: Mapping[Turn, str] = MappingProxyType(
    {
        Turn.NOT_SHOWN: "Read it again on the roof",
        Turn.NO_LONGER_RECORDED: "Read it again there, or record what became of the place",
        Turn.NO_LONGER_ASKED: "Hold both visits against the same rulebooks (`--against`)",
    }
)
"""What would close a change for which no reading is known to be missing."""


class _Wording:
    """Words the changes of one re-inspection."""

    def __init__(self, found: Reinspection, first: View, second: View, units: Units | None) -> None:
        self.first = found.first.record
        self.second = found.second.record
        self.units = units
        self.then = _by_finding(found.first, first)
        self.now = _by_finding(found.second, second)

    def change(self, change: Change, number: int) -> ChangeView:
        before, after, instead = change.before, change.after, change.instead
        speaks_now = after or (instead if id(instead) in self.now else None)
        speaks_then = before or (instead if id(instead) in self.then else None)
        readings = tuple(self._reading(each, change) for each in change.differences)
        return ChangeView(
            number=number,
            section=section_of(change),
            turn=change.turn,
            is_failing=change.is_failing,
            is_open=change.is_open,
            then=self.then[id(before)] if before else None,
            now=self.now[id(after)] if after else None,
            instead=self._view(instead) if instead else None,
            unknown_then=_unknown(speaks_then, self.first),
            unknown_now=_unknown(speaks_now, self.second),
            readings=readings,
            change=self._how_far(change, readings),
            reason=change.reason,
            rule_differs=change.rule_differs,
            what_to_do=self._what_to_do(change, speaks_now),
        )

    def _view(self, finding: Finding) -> FindingView:
        return self.now.get(id(finding)) or self.then[id(finding)]

    def _what_to_do(self, change: Change, speaks_now: Finding | None) -> str:
        if change.is_failing and change.after and change.after.rule:
            return change.after.rule.text("remedy")
        if not change.is_open:
            return ""
        if speaks_now is not None and speaks_now.outcome is Outcome.NOT_VERIFIED:
            return "; ".join(dict.fromkeys(need.what for need in needs(speaks_now, self.second)))
        return _ACTS.get(change.turn, "")

    def _reading(self, each: Difference, change: Change) -> ReadingChange:
        then, now, amount = each.then, each.now, each.change
        return ReadingChange(
            fact=each.fact.full_name,
            place_then=then.place if then else "",
            then=reading_words(then, self.units) if then else "",
            place_now=now.place if now else "",
            now=reading_words(now, self.units) if now else "",
            text=self._changed_by(each, change),
            exact=MappingProxyType(exact_si(amount)) if amount is not None else None,
        )

    def _changed_by(self, each: Difference, change: Change) -> str:
        if each.then is None or each.now is None:
            return "not read before" if each.then is None else "not read now"
        if each.change is not None:
            return self._more_or_less(each.change, change)
        then, now = each.then.value, each.now.value
        if isinstance(then, dt.date) and isinstance(now, dt.date):
            days = abs((now - then).days)
            return f"{days} {'day' if days == 1 else 'days'} {'later' if now > then else 'earlier'}"
        return ""

    def _more_or_less(self, amount: Quantity, change: Change) -> str:
        units = self.units or units_written(change.finding)
        size = write(absolute(amount.amount), amount.dimension, units=units)
        order = compare(amount.amount, 0)
        if not order:  # the same, or left open by what was not read
            return ""
        return f"{size} {'more' if order > 0 else 'less'}"

    def _how_far(self, change: Change, readings: tuple[ReadingChange, ...]) -> str:
        """Return how far what was judged changed, reading by reading where it is not one value."""
        if change.value_change is not None:
            return self._more_or_less(change.value_change, change)
        own = change.finding.place.label
        told = [
            f"{_lead(reading, own)}{reading.text}"
            for reading in readings
            if reading.text and (len(readings) > 1 or (reading.then and reading.now))
        ]
        more = [f"and {len(told) - MOST_CHANGES} more"] if len(told) > MOST_CHANGES else []
        return ", ".join((*told[:MOST_CHANGES], *more))


def _lead(reading: ReadingChange, own: str) -> str:
    """Return what sets a reading's place apart from the place judged, ready to stand before it."""
    label = reading.place_now or reading.place_then
    if label == own:
        return ""
    side = f"{own}, side "
    if label.startswith(side):
        return f"{label.removeprefix(side)} "
    return f"{label.removeprefix(f'{own} ')}: "


def _by_finding(audit: Audit, view: View) -> dict[int, FindingView]:
    """Return an audit's findings in words, by the finding's identity.

    A view puts findings of one outcome and class in no other order than the audit does.
    """
    waiting: dict[tuple[Outcome, Severity | None], list[FindingView]] = {}
    for shown in view.findings:
        waiting.setdefault((shown.outcome, shown.severity), []).append(shown)
    in_order: dict[tuple[Outcome, Severity | None], Iterator[FindingView]] = {
        key: iter(views) for key, views in waiting.items()
    }
    return {
        id(finding): next(in_order[finding.outcome, _severity(finding)])
        for finding in audit.findings
    }


def _unknown(finding: Finding | None, record: Record) -> str:
    """Return why a finding is not verified, without the place it is said of."""
    if finding is None or finding.outcome is not Outcome.NOT_VERIFIED:
        return ""
    return "; ".join(dict.fromkeys(map(_because, needs(finding, record))))


def _because(need: Need) -> str:
    return need.reason or f"{need.act[:1].lower()}{need.act[1:]}"
