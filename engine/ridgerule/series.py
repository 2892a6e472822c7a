"""Pi, arctangent, sine and cosine in fixed point: whole numbers of units of 2**-bits.

Each docstring states the greatest error, counted in those units, so that an enclosure can be
drawn around what comes back. `bits` is 96 or more.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fractions import Fraction


def arctangent_series(top: int, bottom: int, bits: int) -> int:
    """Return arctan top/bottom, at most 1/5 either way, within `bits` units.

    Terms alternate and shrink at least 25-fold: under bits/4.6 of them, each within 3 units,
    and what is left out is less than the first term left out.
    """
    if top < 0:
        return -arctangent_series(-top, bottom, bits)
    power = total = (top << bits) // bottom
    square = power * power >> bits
    odd = 1
    while power:
        power = power * square >> bits
        odd += 2
        total += -(power // odd) if odd & 2 else power // odd
    return total


@lru_cache(64)
def pi(bits: int) -> int:
    """Return pi within 20 `bits` units, by Machin's formula."""
    return 16 * arctangent_series(1, 5, bits) - 4 * arctangent_series(1, 239, bits)


@lru_cache(None)
def arctangent_of_sixteenths(k: int, bits: int) -> int:
    """Return arctan k/16 within 16 `bits` units, as steps from one sixteenth to the next."""
    if k == 0:
        return 0
    step = arctangent_series(16, 256 + k * (k - 1), bits)
    return arctangent_of_sixteenths(k - 1, bits) + step


def sine_cosine(degrees: int | Fraction, bits: int) -> tuple[int, int, int]:
    """Return sine and cosine of 0 to 45 degrees, and the error of each: 10 `bits` units.

    The angle is within 5 bits + 1, and there are under `bits` terms, each within 3.
    """
    angle = degrees.numerator * pi(bits) // (180 * degrees.denominator)
    sums = [1 << bits, angle, 0, 0]
    term, k = angle, 1
    while term:
        k += 1
        term = (term * angle >> bits) // k
        sums[k & 3] += term
    return sums[1] - sums[3], sums[0] - sums[2], 10 * bits
