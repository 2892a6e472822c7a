"""Which rows of a table can be picked by the same values: overlaps are refused."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

from ridgerule.audit.limits import AtLeast, AtMost, Between, EqualTo, Limit, OneOf, Row, Stated
from ridgerule.enclosures import compare
from ridgerule.facts import FactRef, Value
from ridgerule.quantities import Quantity

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridgerule.audit.limits import Operand

_Range = tuple[Quantity | None, Quantity | None]


def overlap(rows: Sequence[Row]) -> tuple[Row, Row] | None:
    """Return two rows that some values would both pick, or None."""
    for first, second in combinations(rows, 2):
        keys = zip(first.keys, second.keys, strict=True)
        if all(_can_both_hold(a, b) for a, b in keys):
            return first, second
    return None


def _can_both_hold(a: Limit, b: Limit) -> bool:
    """Tell whether one value could meet both; yes where it can't be told."""
    ours, theirs = _values(a), _values(b)
    if ours is not None and theirs is not None:
        return any(_same(one, other) for one in ours for other in theirs)
    if ours is not None:
        return any(_within(value, b) for value in ours)
    if theirs is not None:
        return any(_within(value, a) for value in theirs)
    first, second = _range(a), _range(b)
    if first is None or second is None:
        return True
    return _starts_before_end(first, second) and _starts_before_end(second, first)


def _values(limit: Limit) -> tuple[Value, ...] | None:
    match limit:
        case EqualTo(operand, None) if not isinstance(operand, FactRef):
            return (operand,)
        case OneOf(values):
            return values
        case Stated(present):
            return (present,)
        case _:
            return None


def _same(a: Value, b: Value) -> bool:
    if isinstance(a, Quantity) and isinstance(b, Quantity):
        return compare(a.amount, b.amount) in (0, None)
    return a == b


def _range(limit: Limit) -> _Range | None:
    match limit:
        case AtLeast(operand):
            return _figure(operand), None
        case AtMost(operand):
            return None, _figure(operand)
        case Between(low, high):
            return _figure(low), _figure(high)
        case _:
            return None


def _figure(operand: Operand) -> Quantity | None:
    return operand if isinstance(operand, Quantity) else None


def _within(value: Value, limit: Limit) -> bool:
    bounds = _range(limit)
    if bounds is None or not isinstance(value, Quantity):
        return True
    return _starts_before_end((value, value), bounds) and _starts_before_end(bounds, (value, value))


def _starts_before_end(one: _Range, other: _Range) -> bool:
    start, end = one[0], other[1]
    return start is None or end is None or compare(start.amount, end.amount) != 1
