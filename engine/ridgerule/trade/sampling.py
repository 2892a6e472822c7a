"""Counted samples: how many to look at, and what was shown by those looked at.

Exact: binomial and hypergeometric chances are compared as whole numbers and fractions, never
through logarithms or floats. The draw of *where* to look is in `draws`.
"""

from __future__ import annotations

from enum import StrEnum
from fractions import Fraction
from math import comb, floor, perm
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.enclosures import Amount, Exact, Span, compare, exact, subtract
from ridgerule.trade.working import Step, given
from ridgerule.units import Dimension

if TYPE_CHECKING:
    from collections.abc import Callable

WIDTH_BITS = 40
"""A bound on a share is enclosed to 2**-WIDTH_BITS, about 1e-12."""
_POWER_BITS = 256
_LONGEST_POWER = 1 << 16

_COUNT, _SHARE = Dimension.COUNT, Dimension.SHARE


# how many to look at


class SampleSize(Struct, frozen=True):
    """How many pieces to look at; finding none faulty shows what was asked."""

    pieces: int
    steps: tuple[Step, ...]


def sample_size(confidence: Exact, *, reliability: Exact, lot: int | None = None) -> SampleSize:
    """Return the fewest pieces that, all good, show `reliability` with `confidence`.

    Without `lot`, the success run: least n with reliability^n <= 1 - confidence. With it, the
    least n that would miss floor((1 - reliability) x lot) faulty pieces, but at least one, with
    a chance of at most 1 - confidence (after ISPM 31). ValueError unless both shares are between
    0 and 1 and the lot is 1 or more.
    """
    _refuse_share("confidence", confidence)
    _refuse_share("reliability", reliability)
    if lot is not None:
        return _lot_sample_size(confidence, reliability, lot)
    risk = 1 - confidence
    pieces = _least(lambda n: _power_is_at_most(reliability, n, risk))
    steps = (
        *_asked(confidence, reliability),
        Step("pieces to look at", "least n with reliability^n <= 1 - confidence", pieces, _COUNT),
        Step(
            "chance of none faulty at that reliability",
            f"reliability^{pieces}",
            _power(reliability, pieces),
            _SHARE,
        ),
    )
    return SampleSize(pieces, steps)


def _lot_sample_size(confidence: Exact, reliability: Exact, lot: int) -> SampleSize:
    faulty = _faulty_looked_for(reliability, lot)
    risk = 1 - confidence
    pieces = _least(lambda n: _chance_of_none(lot, faulty, n) <= risk)
    steps = (
        *_asked(confidence, reliability),
        _faulty_step(faulty),
        Step(
            "pieces to look at",
            "least n that misses all of them with chance <= 1 - confidence",
            pieces,
            _COUNT,
        ),
        Step(
            "chance of missing all of them",
            f"ways to draw {pieces} of {lot - faulty} / ways to draw {pieces} of {lot}",
            exact(_chance_of_none(lot, faulty, pieces)),
            _SHARE,
        ),
    )
    return SampleSize(pieces, steps)


class Confidence(Struct, frozen=True):
    """The confidence that a sample without a faulty piece gives."""

    confidence: Amount
    steps: tuple[Step, ...]


def confidence_reached(inspected: int, *, reliability: Exact, lot: int | None = None) -> Confidence:
    """Return the confidence in `reliability` after `inspected` pieces, none of them faulty.

    Exact; only of very many pieces a narrow span. ValueError for a reliability not between 0 and
    1, a count below 0, or more inspected than the lot holds.
    """
    _refuse_share("reliability", reliability)
    _refuse_counts(0, inspected, lot)
    if lot is None:
        missed, formula = _power(reliability, inspected), f"reliability^{inspected}"
        found: tuple[Step, ...] = ()
    else:
        faulty = _faulty_looked_for(reliability, lot)
        missed = exact(_chance_of_none(lot, faulty, inspected))
        formula = f"ways to draw {inspected} of {lot - faulty} / ways to draw {inspected} of {lot}"
        found = (_faulty_step(faulty),)
    reached = subtract(1, missed)
    steps = (
        given("reliability", reliability, _SHARE),
        *found,
        Step("chance of none faulty", formula, missed, _SHARE),
        Step("confidence reached", "1 - that chance", reached, _SHARE),
    )
    return Confidence(reached, steps)


def _asked(confidence: Exact, reliability: Exact) -> tuple[Step, ...]:
    return (
        given("confidence", confidence, _SHARE),
        given("reliability", reliability, _SHARE),
    )


def _faulty_step(faulty: int) -> Step:
    formula = "(1 - reliability) x lot, down to a whole piece, at least 1"
    return Step("faulty pieces looked for", formula, faulty, _COUNT)


def _faulty_looked_for(reliability: Exact, lot: int) -> int:
    if lot < 1:
        raise ValueError("a lot holds at least one piece")
    # A lot of which the share is less than one piece is looked through for that one.
    return max(1, floor((1 - reliability) * lot))


def _chance_of_none(lot: int, faulty: int, inspected: int) -> Fraction:
    """Return C(lot - faulty, inspected) / C(lot, inspected), with `faulty` factors each."""
    if inspected > lot - faulty:
        return Fraction(0)
    return Fraction(perm(lot - inspected, faulty), perm(lot, faulty))


def _least(holds: Callable[[int], bool]) -> int:
    """Return the least whole number from 1 for which `holds` is true, as it is of all after it."""
    found = 1
    while not holds(found):
        found *= 2
    fails = found // 2
    while found - fails > 1:
        middle = (found + fails) // 2
        if holds(middle):
            found = middle
        else:
            fails = middle
    return found


def _power(share: Exact, n: int) -> Amount:
    """Return share^n: exact where it can be written out, else enclosed."""
    if n * Fraction(share).denominator.bit_length() <= _LONGEST_POWER:
        return exact(Fraction(share) ** n)
    scaled = Fraction(share) * (1 << _POWER_BITS)
    low, high = floor(scaled), -floor(-scaled)
    least = most = 1 << _POWER_BITS
    while n:
        if n & 1:
            least = least * low >> _POWER_BITS
            most = -(-most * high >> _POWER_BITS)
        low, high = low * low >> _POWER_BITS, -(-high * high >> _POWER_BITS)
        n >>= 1
    return Span(Fraction(least, 1 << _POWER_BITS), Fraction(most, 1 << _POWER_BITS))


def _power_is_at_most(share: Exact, n: int, limit: Exact) -> bool:
    order = compare(_power(share, n), limit)
    return Fraction(share) ** n <= limit if order is None else order <= 0


# what was shown


class Sides(StrEnum):
    """Whether the risk of error is split over both bounds or all on the upper one."""

    BOTH = "both"
    UPPER = "upper"


class Bounds(Struct, frozen=True):
    """The least and greatest faulty share (or count in a lot) that a sample leaves open."""

    least: Amount
    greatest: Amount
    steps: tuple[Step, ...]


def faulty_share(
    faulty: int, *, inspected: int, confidence: Exact, sides: Sides = Sides.BOTH
) -> Bounds:
    """Return the Clopper-Pearson bounds on the faulty share behind a sample.

    Each is exact or enclosed to 2**-WIDTH_BITS. ValueError for a confidence not between 0 and 1,
    or counts that can't be.
    """
    _refuse_share("confidence", confidence)
    _refuse_counts(faulty, inspected, None)
    risk = _risk(confidence, sides)
    least: Amount = 0
    if faulty and sides is Sides.BOTH:
        # P(X >= x at p) = P(good <= n - x at 1 - p), so one search serves both bounds.
        good = _share_where_tail_is(inspected - faulty, inspected, risk)
        least = subtract(1, good)
    greatest = 1 if faulty == inspected else _share_where_tail_is(faulty, inspected, risk)
    return Bounds(least, greatest, _bound_steps(confidence, risk, least, greatest, _SHARE))


def faulty_in_lot(
    faulty: int, *, inspected: int, lot: int, confidence: Exact, sides: Sides = Sides.BOTH
) -> Bounds:
    """Return the least and greatest count of faulty pieces in a lot that a sample leaves open.

    Exact counts from the hypergeometric distribution, those found included. ValueError as
    `faulty_share`, and for more inspected than the lot holds.
    """
    _refuse_share("confidence", confidence)
    _refuse_counts(faulty, inspected, lot)
    risk = _risk(confidence, sides)
    least = 0
    if sides is Sides.BOTH:
        good = _most_with_tail_above(inspected - faulty, inspected, lot, risk)
        least = lot - good
    greatest = _most_with_tail_above(faulty, inspected, lot, risk)
    return Bounds(least, greatest, _bound_steps(confidence, risk, least, greatest, _COUNT))


def _risk(confidence: Exact, sides: Sides) -> Exact:
    return exact(Fraction(1 - confidence) / (2 if sides is Sides.BOTH else 1))


def _bound_steps(
    confidence: Exact, risk: Exact, least: Amount, greatest: Amount, dimension: Dimension
) -> tuple[Step, ...]:
    return (
        given("confidence", confidence, _SHARE),
        Step("risk at a bound", "(1 - confidence) / bounds that bear it", risk, _SHARE),
        Step("least faulty", "where as many or more are found at that risk", least, dimension),
        Step("most faulty", "where as few or fewer are found at that risk", greatest, dimension),
    )


def _share_where_tail_is(found: int, inspected: int, risk: Exact) -> Amount:
    """Return the share p at which P(at most `found` of `inspected`) is `risk`; found < inspected.

    The chance falls as p grows: bisection on p = m / 2**WIDTH_BITS, each compared exactly.
    """
    least, most = 0, 1 << WIDTH_BITS
    limit = Fraction(risk) * (1 << WIDTH_BITS * inspected)
    while most - least > 1:
        middle = (least + most) // 2
        tail = _binomial_tail(found, inspected, middle)
        if tail == limit:
            return exact(Fraction(middle, 1 << WIDTH_BITS))
        if tail > limit:
            least = middle
        else:
            most = middle
    return Span(Fraction(least, 1 << WIDTH_BITS), Fraction(most, 1 << WIDTH_BITS))


def _binomial_tail(found: int, inspected: int, m: int) -> int:
    """Return P(X <= found), X binomial at p = m / 2**WIDTH_BITS, times 2**(WIDTH_BITS n)."""
    rest = (1 << WIDTH_BITS) - m
    total, power = 0, 1
    for k in range(found + 1):
        total = total * rest + comb(inspected, k) * power
        power *= m
    return total * int(rest ** (inspected - found))


def _most_with_tail_above(found: int, inspected: int, lot: int, risk: Exact) -> int:
    """Return the most pieces M of a lot with P(at most `found` in the sample) above `risk`."""
    limit = risk * comb(lot, inspected)

    def is_too_many(more: int) -> bool:
        m = found + more
        if m > lot - (inspected - found):
            return True
        ways = (comb(m, k) * comb(lot - m, inspected - k) for k in range(found + 1))
        return sum(ways) <= limit

    return found + _least(is_too_many) - 1


# refusals


def _refuse_share(what: str, share: Exact) -> None:
    if not 0 < share < 1:
        raise ValueError(f"{what} must be between 0 and 1; found {share}")


def _refuse_counts(faulty: int, inspected: int, lot: int | None) -> None:
    if not 0 <= faulty <= inspected:
        raise ValueError(f"{faulty} faulty of {inspected} inspected can't be")
    if lot is not None and inspected > lot:
        raise ValueError(f"{inspected} inspected of a lot of {lot} can't be")
