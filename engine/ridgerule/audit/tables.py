"""Which rows of a table can be picked by the same values: overlaps are refused."""

from __future__ import annotations

from bisect import bisect_right
from fractions import Fraction
from typing import TYPE_CHECKING, Any

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
from ridgerule.enclosures import Span, compare, high, low
from ridgerule.facts import FactRef
from ridgerule.quantities import Quantity

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from ridgerule.audit.limits import Operand
    from ridgerule.enclosures import Amount
    from ridgerule.facts import Value


class _End(Struct, frozen=True):
    """One end of a range; an open end leaves its own figure out."""

    figure: Amount
    open: bool = False


_Range = tuple[_End | None, _End | None]


class _Figures(Struct, frozen=True):
    """Values that a key lists, parted into those that can be looked up and those in between."""

    exact: frozenset[object]
    spans: tuple[Amount, ...]

    @classmethod
    def of(cls, values: tuple[Value, ...]) -> _Figures:
        """Return the figures of the values."""
        told = [value.amount if isinstance(value, Quantity) else value for value in values]
        exact = frozenset(figure for figure in told if not isinstance(figure, Span))
        return cls(exact, tuple(figure for figure in told if isinstance(figure, Span)))

    def may_hold(self, figure: object) -> bool:
        """Tell whether the figure is one of them, or may be."""
        if isinstance(figure, Span):
            amounts = (f for f in self.exact if isinstance(f, (int, Fraction)))
            return any(_may_be_one(figure, other) for other in (*self.spans, *amounts))
        if figure in self.exact:
            return True
        return isinstance(figure, (int, Fraction)) and any(
            _may_be_one(figure, span) for span in self.spans
        )

    def may_share(self, other: _Figures) -> bool:
        """Tell whether one of them is, or may be, one of the others."""
        if not self.exact.isdisjoint(other.exact):
            return True
        return any(map(other.may_hold, self.spans)) or any(map(self.may_hold, other.spans))


class _Key(Struct, frozen=True):
    """What a row asks of one fact, in the form in which rows are held against each other.

    A key of none of these forms could be met by anything.
    """

    listed: _Figures | None = None
    barred: _Figures | None = None
    range: _Range | None = None

    @classmethod
    def of(cls, limit: Limit) -> _Key:
        """Return the key that a limit is."""
        values = _values(limit)
        return cls(
            listed=None if values is None else _Figures.of(values),
            barred=_Figures.of(limit.values) if isinstance(limit, NoneOf) else None,
            range=_range(limit) if values is None else None,
        )

    def reaches(self) -> Iterator[_Reach]:
        """Yield from where to where the key reaches, piece by piece; None is without end."""
        if self.listed is not None:
            for figure in (*self.listed.exact, *self.listed.spans):
                yield (figure.low, figure.high) if isinstance(figure, Span) else (figure, figure)
        elif self.range is not None:
            first, last = self.range
            yield (
                None if first is None else low(first.figure),
                None if last is None else high(last.figure),
            )
        else:
            yield None, None


_Reach = tuple[Any, Any]
"""The least and the greatest of what a piece can be: figures, words or days of one fact."""


def overlap(rows: Sequence[Row]) -> tuple[Row, Row] | None:
    """Return two rows that some values would both pick, or None.

    Only rows that reach into each other in the fact that parts them best are held together, so
    that a chart of thousands of rows is told in less than a second.
    """
    if not rows:
        return None
    keys = [tuple(_Key.of(limit) for limit in row.keys) for row in rows]
    columns = [_Column.of([key[i] for key in keys]) for i in range(len(keys[0]))]
    best = min(columns, key=lambda column: column.meetings)
    for one, other in best.met():
        if one != other and all(map(_can_both_hold, keys[one], keys[other])):
            return rows[min(one, other)], rows[max(one, other)]
    return None


class _Column(Struct, frozen=True):
    """The pieces of all rows in one fact, in the order of where they begin."""

    rows: tuple[int, ...]
    """Which row each piece is of."""
    ends: tuple[int, ...]
    """Before which of them the pieces begin that reach into each."""

    @classmethod
    def of(cls, keys: Sequence[_Key]) -> _Column:
        """Return the column of the rows' keys in one fact."""
        pieces = [(reach, row) for row, key in enumerate(keys) for reach in key.reaches()]
        from_nowhere = [piece for piece in pieces if piece[0][0] is None]
        from_somewhere = sorted(
            (piece for piece in pieces if piece[0][0] is not None), key=lambda p: p[0][0]
        )
        starts = [reach[0] for reach, _ in from_somewhere]
        ordered = (*from_nowhere, *from_somewhere)
        ends = (
            len(ordered) if last is None else len(from_nowhere) + bisect_right(starts, last)
            for (_, last), _ in ordered
        )
        return cls(tuple(row for _, row in ordered), tuple(ends))

    @property
    def meetings(self) -> int:
        """How many pairs of pieces reach into each other."""
        return sum(end - i - 1 for i, end in enumerate(self.ends))

    def met(self) -> Iterator[tuple[int, int]]:
        """Yield the rows of each pair of pieces that reach into each other."""
        for i, end in enumerate(self.ends):
            for j in range(i + 1, end):
                yield self.rows[i], self.rows[j]


def _can_both_hold(ours: _Key, theirs: _Key) -> bool:
    """Tell whether one value could meet both; yes where it can't be told."""
    if ours.listed is not None and theirs.listed is not None:
        return ours.listed.may_share(theirs.listed)
    if ours.listed is not None:
        return _may_take(theirs, ours.listed)
    if theirs.listed is not None:
        return _may_take(ours, theirs.listed)
    if ours.range is None or theirs.range is None:
        return True
    return _starts_before_end(ours.range, theirs.range) and _starts_before_end(
        theirs.range, ours.range
    )


def _may_take(key: _Key, figures: _Figures) -> bool:
    """Tell whether a key that lists nothing could take one of the figures."""
    barred, bounds = key.barred, key.range
    if barred is not None:
        return not all(map(barred.may_hold, (*figures.exact, *figures.spans)))
    if bounds is None:
        return True
    return any(_lies_in(bounds, figure) for figure in (*figures.exact, *figures.spans))


def _lies_in(bounds: _Range, figure: object) -> bool:
    if not isinstance(figure, (int, Fraction, Span)):
        return True
    ends = (_End(figure), _End(figure))
    return _starts_before_end(ends, bounds) and _starts_before_end(bounds, ends)


def _may_be_one(a: Amount, b: Amount) -> bool:
    return compare(a, b) in (0, None)


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
    return _End(operand.amount, is_open) if isinstance(operand, Quantity) else None


def _starts_before_end(one: _Range, other: _Range) -> bool:
    start, end = one[0], other[1]
    if start is None or end is None:
        return True
    order = compare(start.figure, end.figure)
    return order != 1 if not (start.open or end.open) else order not in (0, 1)
