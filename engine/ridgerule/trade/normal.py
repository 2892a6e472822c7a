"""The normal distribution, enclosed: the chance of a value below z, as two fractions.

The series is that of the integral of exp(-t^2 / 2) from 0 to z: terms z^(2k+1) / (2^k k! (2k+1))
that alternate in sign. It is summed in whole units of 2**-BITS, each number as a lower and an
upper bound, so that rounding can't put the true value outside.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache

from ridgerule.enclosures import (
    DEPTH_BITS,
    Amount,
    Exact,
    Span,
    add,
    divide,
    high,
    low,
    multiply,
    square_root,
    subtract,
)
from ridgerule.series import pi
from ridgerule.trade.arithmetic import whole_down, whole_up

# Up to FAR the greatest term is under e^72 < 2^104: this many bits leave 48 to spare.
_BITS = DEPTH_BITS + 104 + 48
_UNIT = 1 << _BITS
# Beyond it less than e^-72 / (12 sqrt(2 pi)) < 2^-108 is left.
_FAR = 12
_GRID = Fraction(1, 1 << DEPTH_BITS + 1)


def share_below(z: Amount) -> Amount:
    """Return the share of a standard normal distribution below `z`.

    Exact at 0; else a span, for an exact `z` at most 2**-DEPTH_BITS wide.
    """
    if not isinstance(z, Span):
        return _share_below(z)
    least = 0 if z.low is None else low(_share_below(z.low))
    most = 1 if z.high is None else high(_share_below(z.high))
    return Span(least, most)


@lru_cache(1 << 12)
def _share_below(z: Exact) -> Amount:
    if z < 0:
        return subtract(1, _share_below(-z))
    if z == 0:
        return Fraction(1, 2)
    if z >= _FAR:
        return Span(1 - Fraction(1, 1 << DEPTH_BITS), 1)
    least, most = _integral(z)
    area = Span(Fraction(least, _UNIT), Fraction(most, _UNIT))
    share = add(Fraction(1, 2), divide(area, _root_of_two_pi()))
    return Span(low(whole_down(share, to=_GRID)), high(whole_up(share, to=_GRID)))


@lru_cache(1)
def _root_of_two_pi() -> Amount:
    middle, error = pi(_BITS), 20 * _BITS
    half_turn = Span(Fraction(middle - error, _UNIT), Fraction(middle + error, _UNIT))
    return square_root(multiply(2, half_turn))


def _integral(z: Exact) -> tuple[int, int]:
    """Return bounds of the integral of exp(-t^2 / 2) from 0 to `z`, in units of 2**-_BITS."""
    least, most = int(z * _UNIT // 1), int(-(-z * _UNIT // 1))
    square_least, square_most = least * least >> _BITS, -(-most * most >> _BITS)
    sum_least, sum_most = least, most
    k, term_most = 0, most
    # A term is less than the one before it once 2k > z^2: what is left out is then less than
    # the last term summed, which is at most one unit.
    while term_most > 1 or 2 * k * _UNIT <= square_most:
        k += 1
        least = (least * square_least >> _BITS) // (2 * k)
        most = -((-most * square_most >> _BITS) // (2 * k))
        term_least, term_most = least // (2 * k + 1), -(-most // (2 * k + 1))
        if k & 1:
            sum_least, sum_most = sum_least - term_most, sum_most - term_least
        else:
            sum_least, sum_most = sum_least + term_least, sum_most + term_most
    return sum_least - 1, sum_most + 1
