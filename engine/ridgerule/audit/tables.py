"""Which rows of a table can be picked by the same values: overlaps are refused."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.limits import (
    AllOf,
    AtLeast,
    AtMost,
    Between,
    EqualTo,
    Limit,
    NoneOf,
    Not,
    OneOf,
    Row,
    Stated,
)
from ridgerule.enclosures import compare
from ridgerule.facts import FactRef, Value
from ridgerule.quantities import Quantity

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridgerule.audit.limits import Operand


class _End(Struct, frozen=True):
    """One end of a range; an open end leaves its own figure out."""

    figure: Quantity
    open: bool = False


_Range = tuple[_End | None, _End | None]


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


def _range(  # noqa: PLR0911 - one branch a kind of limit, a closed list
    limit: Limit,
) -> _Range | None:
    match limit:
        case AtLeast(operand):
            return _end(operand), None
        case AtMost(operand):
            return None, _end(operand)
        case Not(AtLeast(operand)):
            return None, _end(operand, is_open=True)
        case Not(AtMost(operand)):
            return _end(operand, is_open=True), None
        case Between(low, high):
            return _end(low), _end(high)
        case AllOf((first, second)):
            return _narrowed(_range(first), _range(second))
        case _:
            return None


def _narrowed(one: _Range | None, other: _Range | None) -> _Range | None:
    """Return the range of two limits that bound opposite ends, as `over 5:12` with `under` do."""
    if one is None or other is None:
        return None
    (low, high), (other_low, other_high) = one, other
    if (low and other_low) or (high and other_high):
        return None
    return low or other_low, high or other_high


def _end(operand: Operand, *, is_open: bool = False) -> _End | None:
    return _End(operand, is_open) if isinstance(operand, Quantity) else None


def _within(value: Value, limit: Limit) -> bool:
    if isinstance(limit, NoneOf):
        return not any(_same(value, other) for other in limit.values)
    bounds = _range(limit)
    if bounds is None or not isinstance(value, Quantity):
        return True
    point = (_End(value), _End(value))
    return _starts_before_end(point, bounds) and _starts_before_end(bounds, point)


def _starts_before_end(one: _Range, other: _Range) -> bool:
    start, end = one[0], other[1]
    if start is None or end is None:
        return True
    order = compare(start.figure.amount, end.figure.amount)
    return order != 1 if not (start.open or end.open) else order not in (0, 1)
