"""What is certain of amounts that may be intervals: how they compare, and that they can be.

A comparison answers yes, no, or None where the amounts leave it open: both ends of an interval
are judged, and only where they disagree is the answer None.
"""

from __future__ import annotations

from ridgerule.enclosures import Amount, Span, compare, high, low


def is_at_most(a: Amount, b: Amount) -> bool | None:
    """Return whether a <= b; intervals that touch at their ends still answer yes."""
    if compare(a, b) == 0:
        return True
    a_low, a_high, b_low, b_high = low(a), high(a), low(b), high(b)
    if a_high is not None and b_low is not None and a_high <= b_low:
        return True
    if a_low is not None and b_high is not None and a_low > b_high:
        return False
    return None


def is_more_than(a: Amount, b: Amount) -> bool | None:
    """Return whether a > b."""
    answer = is_at_most(a, b)
    return None if answer is None else not answer


def lesser(a: Amount, b: Amount) -> Amount:
    """Return the lesser of the two, an interval around it where they can't be told apart."""
    if is_at_most(a, b):
        return a
    if is_at_most(b, a):
        return b
    lows = [end for end in (low(a), low(b)) if end is not None]
    highs = [end for end in (high(a), high(b)) if end is not None]
    return Span(min(lows) if len(lows) == 2 else None, min(highs, default=None))


def not_negative(amount: Amount, *, name: str) -> Amount:
    """Return the part of `amount` from 0 up; ValueError, by `name`, where nothing of it is left.

    An interval that reaches below 0 (a small reading, less its uncertainty) is cut off there.
    """
    least, most = low(amount), high(amount)
    if most is not None and most < 0:
        raise ValueError(f"{name} is 0 or more")
    if not isinstance(amount, Span) or (least is not None and least >= 0):
        return amount
    return 0 if most == 0 else Span(0, most, amount.identity)


def positive(amount: Amount, *, name: str) -> Amount:
    """Return `amount` cut off below 0; ValueError, by `name`, where it can't be more than 0."""
    most = high(amount)
    if most is not None and most <= 0:
        raise ValueError(f"{name} is more than 0")
    return not_negative(amount, name=name)
