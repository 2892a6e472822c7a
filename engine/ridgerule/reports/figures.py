"""Readings, limits and margins in words: never a bare signed number.

A margin says which side of the limit the reading lies on: `1/16 in short` below an `at least`,
`1/8 in over` above an `at most`, `1/8 in to spare` inside.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, assert_never

from ridgerule.audit.findings import Outcome
from ridgerule.audit.judge import Setting, judge, picked_row
from ridgerule.audit.limits import (
    AgreedBy,
    AllOf,
    AnyOf,
    AtLeast,
    AtMost,
    Between,
    EqualTo,
    Holds,
    NearestOf,
    NoneOf,
    Not,
    OneOf,
    Stated,
    Table,
)
from ridgerule.audit.subjects import Subject, subjects
from ridgerule.audit.words import in_units, limit_words
from ridgerule.enclosures import absolute, compare
from ridgerule.facts import FactRef, How, Plain
from ridgerule.quantities import Quantity, Units, units_of, write

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from ridgerule.audit.findings import Finding
    from ridgerule.audit.limits import Limit, Operand
    from ridgerule.audit.truth import Used
    from ridgerule.facts import Value
    from ridgerule.record import Place, Record

MOST_LISTED = 6
"""Readings told one by one before the rest become a count; data files have them all."""

SHORT, OVER, OUTSIDE, OFF = "{} short", "{} over", "outside by {}", "off by {}"
"""How a miss is said: below the limit, above it, out of a range, away from a figure."""

_DAYS = {SHORT: "{} early", OVER: "{} late"}
_TO_SPARE, _ON_IT, _EQUAL = "{} to spare", "on the limit", "equal"
_ON_IT_AND_FAILS = "on the limit, and must be past it"
_STRADDLES = "on the limit, as near as can be computed"


def reading_words(use: Used, units: Units | None) -> str:
    """Return a reading as its author wrote it, or in the units asked for."""
    return use.text if units is None else in_units(use.value, units)


def units_written(finding: Finding) -> Units:
    """Return the system the readings were written in, else the limit, else inches."""
    texts = [use.text for use in finding.measured if isinstance(use.value, Quantity)]
    if finding.check is not None:
        figures = operands(finding.check.limit)
        texts.extend(figure.text for figure in figures if isinstance(figure, Quantity))
    return next(filter(None, map(units_of, texts)), Units.INCH)


def value_words(finding: Finding, units: Units | None) -> str:
    """Return what many readings come to, or an empty string where they were judged as they are."""
    value = finding.value
    if value is None:
        return ""
    return write(value.amount, value.dimension, units=units or units_written(finding))


def measured_words(finding: Finding, units: Units | None) -> str:
    """Return the readings judged, each with its place where that is not the finding's own."""
    uses = finding.measured
    if len(uses) > MOST_LISTED:
        deciding = frozenset(finding.used)
        uses = tuple(sorted(uses, key=lambda use: use not in deciding))
    listed = ", ".join(
        f"{_lead(use.place, finding.place)}{reading_words(use, units)}"
        for use in uses[:MOST_LISTED]
    )
    if len(uses) > MOST_LISTED:
        listed = f"{listed} and {len(uses) - MOST_LISTED} more"
    hows = {use.how for use in uses}
    how = hows.pop() if len(hows) == 1 else None
    known = f"{how}" if how is not None and how not in (How.MEASURED, How.SEEN) else ""
    value = value_words(finding, units)
    if value:
        # A computed value is its own reading: it is not told twice.
        inside = "; ".join(filter(None, ("" if listed == value else listed, known)))
        return f"{value} ({inside})" if inside else value
    return f"{listed} ({known})" if listed and known else listed


def _lead(label: str, place: Place) -> str:
    """Return what sets a reading's place apart from the place judged, ready to stand before it."""
    if label == place.label:
        return ""
    side = f"{place.label}, side "
    if label.startswith(side):
        return f"{label.removeprefix(side)} "
    return f"{label.removeprefix(f'{place.label} ')}: "


def limit_here(finding: Finding, record: Record, units: Units | None) -> str:
    """Return the limit as it stood at the finding's place, as a phrase that follows "must be"."""
    if units is None or finding.check is None:
        return finding.limit
    if finding.limit == limit_words(finding.check.limit):
        return limit_words(finding.check.limit, units)
    setting = Setting(record, finding.place)
    limit = _in_force(setting, finding.check.limit)
    words = limit_words(limit, units)
    named = dict.fromkeys(part for part in operands(limit) if isinstance(part, FactRef))
    said = [
        f"{ref} is {reading_words(use, units)}"
        for ref in named
        for item in subjects(record, finding.place, ref).items
        for use in item.used
    ]
    return f"{words} ({'; '.join(said)})" if said else words


def _in_force(setting: Setting, limit: Limit) -> Limit:
    """Return the limit that a table's row sets at the place, or the table where none is sure."""
    if not isinstance(limit, Table):
        return limit
    row, _ = picked_row(setting, limit)
    return _in_force(setting, row.limit) if row else limit


def operands(  # noqa: C901 - one branch a kind of limit, a closed list
    limit: Limit,
) -> Iterator[Operand]:
    """Yield the figures and facts that a limit holds a value against."""
    match limit:
        case AtLeast(operand) | AtMost(operand) | EqualTo(operand):
            yield operand
        case Between(least, most):
            yield from (least, most)
        case OneOf(values) | NoneOf(values):
            yield from values
        case AgreedBy(facts):
            yield from facts
        case NearestOf(to, values):
            yield to
            yield from values
        case AllOf(parts) | AnyOf(parts):
            for part in parts:
                yield from operands(part)
        case Not(part) | Holds(_, part):
            yield from operands(part)
        case Table(_, rows):
            for row in rows:
                yield from operands(row.limit)
        case Stated():
            return
        case _:
            assert_never(limit)


def margin_words(finding: Finding, record: Record, units: Units | None) -> str:
    """Return how far inside or outside the limit a finding lies.

    Empty where the limit has no inside to speak of (a list of what it must not be) and where
    nothing was decided.
    """
    margin, check = finding.margin, finding.check
    decided = finding.outcome in (Outcome.PASS, Outcome.FAIL)
    if margin is None or check is None or not decided:
        return ""
    setting = Setting(record, finding.place)
    limit = _in_force(setting, check.limit)
    phrase = _phrase(setting, limit, finding)
    if "{}" not in phrase:
        return phrase
    if check.of.fact.dimension is Plain.DATE:
        phrase = _DAYS.get(phrase, phrase)
    size = write(absolute(margin.amount), margin.dimension, units=units or units_written(finding))
    return phrase.format(size)


def _phrase(setting: Setting, limit: Limit, finding: Finding) -> str:
    """Return the phrase a margin is put into; empty where the sign says nothing."""
    if finding.margin is None or isinstance(limit, NoneOf):
        return ""
    order = compare(finding.margin.amount, 0)
    failed = finding.outcome is Outcome.FAIL
    if order is None:
        return _STRADDLES
    if order == 0:
        if failed:
            return _ON_IT_AND_FAILS
        return _EQUAL if isinstance(limit, (OneOf, EqualTo)) and not _allows(limit) else _ON_IT
    return missed(setting, limit, _judged(finding)) if failed else _TO_SPARE


def _allows(limit: OneOf | EqualTo) -> bool:
    return isinstance(limit, EqualTo) and limit.within is not None


def _judged(finding: Finding) -> tuple[Value, ...]:
    if finding.value is not None:
        return (finding.value,)
    return tuple(use.value for use in finding.measured)


def missed(  # noqa: PLR0911 - one branch a kind of limit, a closed list
    setting: Setting, limit: Limit, values: tuple[Value, ...]
) -> str:
    """Return how a miss of the limit by one of these values is said: SHORT, OVER, OUTSIDE, OFF."""
    match limit:
        case AtLeast() | Not(AtMost()):
            return SHORT
        case AtMost() | Not(AtLeast()):
            return OVER
        case Between(least, most):
            return missed(setting, AllOf((AtLeast(least), AtMost(most))), values)
        case AllOf(parts):
            failing = [part for part in parts if _is_missed(setting, part, values)]
            return _same(missed(setting, part, values) for part in failing)
        case AnyOf(parts):
            measurable = [part for part in parts if _has_margin(setting, part, values)]
            return _same(missed(setting, part, values) for part in measurable)
        case EqualTo(_, None) | OneOf():
            return OFF
        case Table():
            row = _in_force(setting, limit)
            return OFF if isinstance(row, Table) else missed(setting, row, values)
        case _:
            return OUTSIDE


def _is_missed(setting: Setting, limit: Limit, values: Iterable[Value]) -> bool:
    return any(judge(setting, limit, Subject(value)).truth is False for value in values)


def _has_margin(setting: Setting, limit: Limit, values: Iterable[Value]) -> bool:
    return any(judge(setting, limit, Subject(value)).margin is not None for value in values)


def _same(phrases: Iterable[str]) -> str:
    """Return the one phrase that all are, else the one that takes no side."""
    said = set(phrases)
    return said.pop() if len(said) == 1 else OUTSIDE
