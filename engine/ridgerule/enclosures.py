"""Exact amounts, and enclosures of the amounts that no fraction can say.

An `Amount` is exact (an `int` or a `Fraction`) or a `Span`: a value known only to lie between
two exact bounds. Nothing here is a float, so the same input gives the same bounds on every
machine. The enclosure of one irrational number is at most 2**-DEPTH_BITS wide.

The series are in `series`, each with its greatest error.
"""

from __future__ import annotations

import re
from fractions import Fraction
from functools import lru_cache
from math import isqrt
from typing import TypeAlias

from msgspec import Struct

from ridgerule.series import arctangent_of_sixteenths, arctangent_series, pi, sine_cosine

DEPTH_BITS = 96
_WORKING_BITS = DEPTH_BITS + 32
_LONGEST_IDENTITY = 240
_MEMORY = 1 << 14

Exact: TypeAlias = int | Fraction


class Span(Struct, frozen=True):
    """A value between `low` and `high`, both included; None is a side without a bound.

    `identity` names the one number enclosed, so that it is known to equal itself.
    """

    low: Exact | None
    high: Exact | None
    identity: str | None = None


Amount: TypeAlias = int | Fraction | Span
UNBOUNDED = Span(None, None)


def exact(value: Exact) -> Exact:
    """Return `value` as an `int` where it is whole, else as the `Fraction` it is."""
    return value.numerator if value.denominator == 1 else value


def low(amount: Amount) -> Exact | None:
    """Return the least value `amount` can have, None where it has no lower bound."""
    return amount.low if isinstance(amount, Span) else amount


def high(amount: Amount) -> Exact | None:
    """Return the greatest value `amount` can have, None where it has no upper bound."""
    return amount.high if isinstance(amount, Span) else amount


def compare(a: Amount, b: Amount) -> int | None:
    """Return -1, 0 or 1 as `a` is less than, equal to or more than `b`; None where unknown.

    Spans that only touch are unknown too: their ends may or may not be the value.
    """
    if not isinstance(a, Span) and not isinstance(b, Span):
        return (a > b) - (a < b)
    if _identity(a) == _identity(b) is not None:
        return 0
    a_low, a_high, b_low, b_high = low(a), high(a), low(b), high(b)
    if a_high is not None and b_low is not None and a_high < b_low:
        return -1
    if a_low is not None and b_high is not None and a_low > b_high:
        return 1
    return None


# arithmetic


def negate(a: Amount) -> Amount:
    """Return -a."""
    if not isinstance(a, Span):
        return exact(-a)
    name = a.identity
    if name is not None:
        name = name[1:] if name.startswith("-") else f"-{name}"
    return Span(None if a.high is None else -a.high, None if a.low is None else -a.low, name)


def absolute(a: Amount) -> Amount:
    """Return the distance of `a` from zero."""
    if not isinstance(a, Span):
        return exact(-a if a < 0 else a)
    if a.low is not None and a.low >= 0:
        return a
    if a.high is not None and a.high <= 0:
        return negate(a)
    if a.low is None or a.high is None:
        return Span(0, None)
    return Span(0, max(Fraction(-a.low), Fraction(a.high)), _made("abs", a))


def add(a: Amount, b: Amount) -> Amount:
    """Return a + b."""
    if not isinstance(a, Span) and not isinstance(b, Span):
        return exact(a + b)
    if 0 in (a, b):
        return b if a == 0 else a
    a_low, a_high, b_low, b_high = low(a), high(a), low(b), high(b)
    return _span(
        None if a_low is None or b_low is None else a_low + b_low,
        None if a_high is None or b_high is None else a_high + b_high,
        _made("sum", a, b),
    )


def subtract(a: Amount, b: Amount) -> Amount:
    """Return a - b; exactly 0 where both are the same number."""
    return 0 if compare(a, b) == 0 else add(a, negate(b))


# A bound as (side, value): side -1 and 1 are without end, 0 is a number. They sort as they lie.
_Bound: TypeAlias = tuple[int, Exact]


def _bounds(a: Amount) -> tuple[_Bound, _Bound]:
    least, most = low(a), high(a)
    return (-1, 0) if least is None else (0, least), (1, 0) if most is None else (0, most)


def _bound_product(a: _Bound, b: _Bound) -> _Bound:
    if a[0] == b[0] == 0:
        return 0, a[1] * b[1]
    a_sign = a[0] or (a[1] > 0) - (a[1] < 0)
    b_sign = b[0] or (b[1] > 0) - (b[1] < 0)
    return a_sign * b_sign, 0


def multiply(a: Amount, b: Amount) -> Amount:
    """Return a x b."""
    if not isinstance(a, Span) and not isinstance(b, Span):
        return exact(a * b)
    if 1 in (a, b):
        return b if a == 1 else a
    if _identity(a) == _identity(b) and (radicand := _argument(a, "sqrt")) is not None:
        return -radicand if radicand < 0 else radicand
    corners = [_bound_product(x, y) for x in _bounds(a) for y in _bounds(b)]
    least, most = min(corners), max(corners)
    return _span(
        None if least[0] else least[1], None if most[0] else most[1], _made("product", a, b)
    )


def divide(a: Amount, b: Amount) -> Amount:
    """Return a / b; unbounded where `b` may be zero. ZeroDivisionError where `b` is exactly 0."""
    if not isinstance(b, Span):
        if isinstance(a, Span):
            return multiply(a, exact(Fraction(1) / b))
        return exact(Fraction(a) / b)
    below = b.high is not None and b.high < 0
    above = b.low is not None and b.low > 0
    if not below and not above:
        return UNBOUNDED
    if compare(a, b) == 0:
        return 1
    least = Fraction(0) if b.high is None else 1 / Fraction(b.high)
    most = Fraction(0) if b.low is None else 1 / Fraction(b.low)
    return multiply(a, Span(least, most, _made("reciprocal", b)))


# functions


def square_root(a: Amount) -> Amount:
    """Return the root of `a`, exact for squares of fractions; ValueError where a < 0."""
    if not isinstance(a, Span):
        return _exact_root(a)
    if a.high is not None and a.high < 0:
        raise ValueError("no square root below 0")
    least = 0 if a.low is None else max(0, a.low)
    most = None if a.high is None else high(_exact_root(a.high))
    return _span(low(_exact_root(least)), most, _made("sqrt", a))


def tangent(degrees: Amount) -> Amount:
    """Return the tangent of an angle; ValueError unless it is between -90 and 90 degrees.

    A span that reaches past an end is unbounded on that side.
    """
    if not isinstance(degrees, Span):
        return _exact_tangent(degrees)
    if (ratio := _argument(degrees, "arctan")) is not None:
        return ratio
    start, end = degrees.low, degrees.high
    if (start is not None and start >= 90) or (end is not None and end <= -90):
        raise ValueError("a tangent is of an angle between -90 and 90 degrees")
    return _span(
        None if start is None or start <= -90 else low(_exact_tangent(start)),
        None if end is None or end >= 90 else high(_exact_tangent(end)),
        _made("tan", degrees),
    )


def arctangent(ratio: Amount) -> Amount:
    """Return the angle in degrees, -90 to 90, whose tangent is `ratio`."""
    if not isinstance(ratio, Span):
        return _exact_arctangent(ratio)
    if (angle := _argument(ratio, "tan")) is not None:
        return angle
    return _span(
        -90 if ratio.low is None else low(_exact_arctangent(ratio.low)),
        90 if ratio.high is None else high(_exact_arctangent(ratio.high)),
        _made("arctan", ratio),
    )


def arccosine(x: Amount) -> Amount:
    """Return the angle in degrees, 0 to 180, whose cosine is `x`.

    A span is cut off at -1 and 1; ValueError where nothing of it is left.
    """
    if not isinstance(x, Span):
        return _exact_arccosine(x)
    if (angle := _argument(x, "cos")) is not None:
        return angle if angle > 0 else exact(180 + angle)
    if (x.low is not None and x.low > 1) or (x.high is not None and x.high < -1):
        raise ValueError("a cosine is between -1 and 1")
    least = -1 if x.low is None else max(-1, x.low)
    most = 1 if x.high is None else min(1, x.high)
    return _span(low(_exact_arccosine(most)), high(_exact_arccosine(least)), _made("arccos", x))


def sine(degrees: Amount) -> Amount:
    """Return the sine of an angle in degrees: the cosine of what it lacks to 90."""
    return cosine(subtract(90, degrees))


def cosine(degrees: Amount) -> Amount:
    """Return the cosine of an angle in degrees."""
    if not isinstance(degrees, Span):
        return _exact_cosine(degrees % 360)
    start, end = degrees.low, degrees.high
    if start is None or end is None:
        return Span(-1, 1)
    ends = _exact_cosine(start % 360), _exact_cosine(end % 360)
    peak = end // 360 * 360 >= start
    trough = (end - 180) // 360 * 360 + 180 >= start
    least = -1 if trough else min(e for e in map(low, ends) if e is not None)
    most = 1 if peak else max(e for e in map(high, ends) if e is not None)
    return _span(least, most, _made("cos", degrees))


# exact arguments


@lru_cache(_MEMORY)
def _exact_root(a: Exact) -> Amount:
    if a < 0:
        raise ValueError("no square root below 0")
    top, bottom = isqrt(a.numerator), isqrt(a.denominator)
    if top * top == a.numerator and bottom * bottom == a.denominator:
        return exact(Fraction(top, bottom))
    root = isqrt((a.numerator << 2 * _WORKING_BITS) // a.denominator)
    return _enclosed(root, root + 1, f"sqrt {a}")


@lru_cache(_MEMORY)
def _exact_tangent(degrees: Exact) -> Amount:
    # Rational only at 0 and 45 degrees (Niven's theorem, for tangents).
    if not -90 < degrees < 90:
        raise ValueError("a tangent is of an angle between -90 and 90 degrees")
    if degrees < 0:
        return negate(_exact_tangent(-degrees))
    if degrees in {0, 45}:
        return 1 if degrees else 0
    nearer = min(degrees, 90 - degrees)
    # Close to 90 degrees the error grows with the square of the tangent: carry that many more.
    bits = _WORKING_BITS + 2 * int(58 / Fraction(90 - degrees)).bit_length()
    across, along, error = sine_cosine(nearer, bits)
    if degrees > 45:
        across, along = along, across
    least = ((across - error) << _WORKING_BITS) // (along + error)
    most = -((-(across + error) << _WORKING_BITS) // (along - error))
    return _enclosed(max(0, least), most, f"tan {degrees} deg")


@lru_cache(_MEMORY)
def _exact_arctangent(ratio: Exact) -> Amount:
    if ratio < 0:
        return negate(_exact_arctangent(-ratio))
    if ratio in {0, 1}:
        return 45 if ratio else 0
    bits = _WORKING_BITS
    top, bottom = sorted((ratio.numerator, ratio.denominator))
    # arctan t = arctan k/16 + arctan (t - k/16)/(1 + t k/16), the last at most 1/32.
    k = (32 * top + bottom) // (2 * bottom)
    angle = arctangent_of_sixteenths(k, bits)
    angle += arctangent_series(16 * top - k * bottom, 16 * bottom + k * top, bits)
    degrees = angle * (180 << bits) // pi(bits)
    # angle is off by at most 17 bits, pi by 20 bits: 57.3 x 17 + 45 x 20 / 3.14 < 1300.
    error = 1300 * bits
    if ratio > 1:
        degrees = (90 << bits) - degrees
    return _enclosed(max(0, degrees - error), min(90 << bits, degrees + error), f"arctan {ratio}")


@lru_cache(_MEMORY)
def _exact_arccosine(x: Exact) -> Amount:
    if not -1 <= x <= 1:
        raise ValueError("a cosine is between -1 and 1")
    if (2 * x).denominator == 1:
        return (180, 120, 90, 60, 0)[int(2 * x) + 2]
    half = arctangent(square_root(Fraction(1 - x) / (1 + x)))
    whole = multiply(2, half)
    return Span(low(whole), high(whole), f"arccos {x}")


@lru_cache(_MEMORY)
def _exact_cosine(degrees: Exact) -> Amount:
    # Rational at whole multiples of 60 and 90 degrees only (Niven's theorem).
    if degrees > 180:
        return _exact_cosine(360 - degrees)
    if degrees > 90:
        return negate(_exact_cosine(180 - degrees))
    if degrees in {0, 60, 90}:
        return exact(Fraction((2, 1, 0)[(0, 60, 90).index(int(degrees))], 2))
    across, along, error = sine_cosine(min(degrees, 90 - degrees), _WORKING_BITS)
    value = along if degrees <= 45 else across
    return _enclosed(
        max(0, value - error), min(1 << _WORKING_BITS, value + error), f"cos {degrees} deg"
    )


# spans


def _enclosed(least: int, most: int, identity: str) -> Span:
    unit = 1 << _WORKING_BITS
    return Span(Fraction(least, unit), Fraction(most, unit), identity)


def _span(least: Exact | None, most: Exact | None, identity: str | None) -> Amount:
    if least is not None and least == most:
        return exact(least)
    return Span(least, most, identity)


def _identity(a: Amount) -> str | None:
    return a.identity if isinstance(a, Span) else None


def _made(operation: str, *parts: Amount) -> str | None:
    """Return a name for what `operation` makes of `parts`, None unless each is one number."""
    names = []
    for part in parts:
        name = part.identity if isinstance(part, Span) else str(part)
        if name is None:
            return None
        names.append(name)
    name = f"{operation}({', '.join(names)})"
    return name if len(name) <= _LONGEST_IDENTITY else None


def _argument(a: Amount, function: str) -> Exact | None:
    """Return x where `a` is known to be `function` of x, -x where it is minus that, else None."""
    match = re.fullmatch(rf"(-?){function} ([0-9/]+)(?: deg)?", _identity(a) or "")
    return None if match is None else exact(Fraction(match[1] + match[2]))
