"""The sums of the trade on exact amounts and spans: whole units, and what is left over.

A span comes back as the span of what its two ends come to, so nothing known is overstated.
"""

from __future__ import annotations

from fractions import Fraction
from math import ceil, floor
from typing import TYPE_CHECKING

from ridgerule.enclosures import Amount, Exact, Span, add, exact, high, low, negate, subtract
from ridgerule.trade.certainty import lesser

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable


def nearest(amount: Amount, *, to: Exact) -> Amount:
    """Return the nearest whole multiple of `to`; midway between two, the even one.

    The even one after NIST Handbook 44, s. 10.3. ValueError unless `to` is above 0.
    """
    return _each_end(amount, to, round)


def whole_up(amount: Amount, *, to: Exact = 1) -> Amount:
    """Return the next whole multiple of `to`, or `amount` where it is one already.

    ValueError unless `to` is above 0.
    """
    return _each_end(amount, to, ceil)


def whole_down(amount: Amount, *, to: Exact = 1) -> Amount:
    """Return the last whole multiple of `to` that is not above `amount`.

    ValueError unless `to` is above 0.
    """
    return _each_end(amount, to, floor)


def excess(amount: Amount, *, over: Amount) -> Amount:
    """Return what `amount` has above `over`, 0 where it has no more."""
    return negate(lesser(subtract(over, amount), 0))


def total(amounts: Iterable[Amount]) -> Amount:
    """Return the sum, 0 of none."""
    result: Amount = 0
    for amount in amounts:
        result = add(result, amount)
    return result


def _each_end(amount: Amount, to: Exact, whole: Callable[[Fraction], int]) -> Amount:
    if to <= 0:
        raise ValueError("the unit to round to is more than 0")
    least, most = low(amount), high(amount)
    least = None if least is None else exact(whole(Fraction(least) / to) * to)
    most = None if most is None else exact(whole(Fraction(most) / to) * to)
    return least if least is not None and least == most else Span(least, most)
