"""Which values a limit accepts at a place, as ranges that can be drawn."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.judge import Setting, holds, nearest_values, operand_subject, picked_row
from ridgerule.audit.limits import (
    AgreedBy,
    AllOf,
    AnyOf,
    AtLeast,
    AtMost,
    Between,
    EqualTo,
    Holds,
    Limit,
    NearestOf,
    NoneOf,
    Not,
    OneOf,
    Stated,
    Table,
)
from ridgerule.enclosures import Span, exact
from ridgerule.quantities import Quantity

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from ridgerule.audit.limits import Operand
    from ridgerule.enclosures import Amount, Exact


class Range(Struct, frozen=True):
    """The values from `low` to `high`, in base units; None is without end."""

    low: Exact | None = None
    high: Exact | None = None


Ranges = tuple[Range, ...]
"""Ranges apart from each other, from the lowest up; none accept nothing."""

EVERYTHING: Ranges = (Range(),)


def middle(amount: Amount) -> Exact | None:
    """Return the amount, or the middle of what encloses it; None where that has no end."""
    if not isinstance(amount, Span):
        return amount
    if amount.low is None or amount.high is None:
        return None
    return exact(Fraction(amount.low + amount.high) / 2)


def accepted(  # noqa: C901, PLR0911, PLR0912 - one branch a kind of limit, a closed list
    setting: Setting, limit: Limit
) -> Ranges | None:
    """Return the values that the limit accepts at the place; None where no range says it."""
    match limit:
        case AtLeast(operand):
            return _range(setting, operand, None)
        case AtMost(operand):
            return _range(setting, None, operand)
        case Between(low, high):
            return _range(setting, low, high)
        case EqualTo(operand, within):
            figure = _figure(setting, operand)
            reach = (middle(within.amount) if within else 0) or 0
            return None if figure is None else (Range(figure - reach, figure + reach),)
        case OneOf(values):
            return _points(values)
        case NearestOf(to, values):
            near = operand_subject(setting, to).value
            found = nearest_values(near, values) if isinstance(near, Quantity) else ()
            return _points(found) if len(found) == 1 else None
        case AgreedBy(facts):
            said = {_figure(setting, fact) for fact in facts}
            only = said.pop() if len(said) == 1 else None
            return None if only is None else (Range(only, only),)
        case Table():
            row, _ = picked_row(setting, limit)
            return None if row is None else accepted(setting, row.limit)
        case Holds():
            truth = holds(Setting(setting.record, setting.place), limit).truth
            return None if truth is None else EVERYTHING if truth else ()
        case Not(part):
            inside = accepted(setting, part)
            return None if inside is None else _outside(inside)
        case AllOf(parts):
            each = [accepted(setting, part) for part in parts]
            known = [ranges for ranges in each if ranges is not None]
            return common(known) if len(known) == len(each) else None
        case AnyOf(parts):
            some = [accepted(setting, part) for part in parts]
            ranges_ = tuple(one for ranges in some if ranges is not None for one in ranges)
            return _merged(ranges_) if any(ranges is not None for ranges in some) else None
        case NoneOf() | Stated():
            return None


def common(sets: Iterable[Ranges]) -> Ranges:
    """Return the values that lie in every one of the sets."""
    left = EVERYTHING
    for ranges in sets:
        met = [_met(one, other) for one in left for other in ranges]
        left = tuple(one for one in met if one is not None)
    return left


def _range(setting: Setting, low: Operand | None, high: Operand | None) -> Ranges | None:
    """Return what lies between two operands; None where one that is named is not known."""
    ends = [None if end is None else _figure(setting, end) for end in (low, high)]
    if (low is not None and ends[0] is None) or (high is not None and ends[1] is None):
        return None
    return (Range(ends[0], ends[1]),)


def _figure(setting: Setting, operand: Operand) -> Exact | None:
    value = operand_subject(setting, operand).value
    return middle(value.amount) if isinstance(value, Quantity) else None


def _points(values: Sequence[object]) -> Ranges | None:
    figures = [middle(value.amount) for value in values if isinstance(value, Quantity)]
    known = [figure for figure in figures if figure is not None]
    if not values or len(known) < len(values):
        return None
    return _merged(tuple(Range(figure, figure) for figure in known))


def _met(one: Range, other: Range) -> Range | None:
    lows = [end for end in (one.low, other.low) if end is not None]
    highs = [end for end in (one.high, other.high) if end is not None]
    low, high = max(lows, default=None), min(highs, default=None)
    return None if low is not None and high is not None and low > high else Range(low, high)


def _merged(ranges: Ranges) -> Ranges:
    """Return ranges in order, those that touch made one."""
    rising = sorted(ranges, key=lambda one: (one.low is not None, one.low or 0))
    merged: list[Range] = []
    for one in rising:
        last = merged[-1] if merged else None
        if last is None or (last.high is not None and one.low is not None and one.low > last.high):
            merged.append(one)
        elif last.high is not None:
            high = None if one.high is None else max(one.high, last.high)
            merged[-1] = Range(last.low, high)
    return tuple(merged)


def _outside(ranges: Ranges) -> Ranges:
    """Return what lies between and beyond ranges."""
    gaps: list[Range] = []
    low: Exact | None = None
    for one in ranges:
        if one.low is not None:
            gaps.append(Range(low, one.low))
        if one.high is None:
            return tuple(gaps)
        low = one.high
    return (*gaps, Range(low, None))
