"""Enclosures hold the true value, are as narrow as they say, and are exact where they can be."""

from __future__ import annotations

import random
from fractions import Fraction
from typing import TYPE_CHECKING

import mpmath
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridgerule import enclosures
from ridgerule.enclosures import (
    DEPTH_BITS,
    UNBOUNDED,
    Span,
    absolute,
    add,
    arccosine,
    arctangent,
    compare,
    cosine,
    divide,
    multiply,
    negate,
    sine,
    square_root,
    subtract,
    tangent,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from ridgerule.enclosures import Amount

DIGITS = 60
CASES = 1500
WIDEST = Fraction(1, 2**DEPTH_BITS)

fractions = st.fractions(min_value=-50, max_value=50, max_denominator=64)


def _true(x: Fraction) -> mpmath.mpf:
    return mpmath.mpf(x.numerator) / x.denominator


def _degrees(x: mpmath.mpf) -> mpmath.mpf:
    return x * 180 / mpmath.pi


# Ours, the reference at 60 digits, and the least and greatest argument it is tried with.
FUNCTIONS = {
    "square_root": (square_root, mpmath.sqrt, 0, 10**9),
    "tangent": (tangent, lambda x: mpmath.tan(x * mpmath.pi / 180), -89, 89),
    "arctangent": (arctangent, lambda x: _degrees(mpmath.atan(x)), -40, 40),
    "arccosine": (arccosine, lambda x: _degrees(mpmath.acos(x)), -1, 1),
    "sine": (sine, lambda x: mpmath.sin(x * mpmath.pi / 180), -720, 720),
    "cosine": (cosine, lambda x: mpmath.cos(x * mpmath.pi / 180), -720, 720),
}


def _arguments(name: str, least: int, most: int, count: int = CASES) -> list[Fraction]:
    chance = random.Random(f"ridgerule {name}")
    made = []
    for _ in range(count):
        bottom = chance.choice((12, 64, 1000, 10**6, chance.randint(1, 10**12)))
        made.append(Fraction(chance.randint(least * bottom, most * bottom), bottom))
    return made


def _holds(amount: Amount, true: mpmath.mpf) -> bool:
    """Whether the amount holds `true`, itself good to about 60 digits."""
    slack = mpmath.mpf(10) ** -48 * (1 + abs(true))
    least, most = Fraction(enclosures.low(amount)), Fraction(enclosures.high(amount))
    return bool(_true(least) - slack <= true <= _true(most) + slack)


@pytest.mark.parametrize("name", FUNCTIONS)
def test_the_true_value_is_enclosed_as_narrowly_as_stated(name: str) -> None:
    """Every function encloses the 60-digit value, no wider than 2**-96, in random cases."""
    ours, reference, least, most = FUNCTIONS[name]
    spans = 0
    with mpmath.workdps(DIGITS):
        for x in _arguments(name, least, most):
            amount = ours(x)
            assert _holds(amount, reference(_true(x))), x
            if isinstance(amount, Span):
                spans += 1
                assert 0 < amount.high - amount.low <= WIDEST, x
    assert spans > CASES * 9 // 10


@pytest.mark.parametrize("power", [3, 6, 9, 12])
def test_a_tangent_close_to_90_degrees_keeps_its_depth(power: int) -> None:
    """The enclosure stays as narrow where the tangent itself grows without end."""
    x = 90 - Fraction(1, 10**power)
    with mpmath.workdps(DIGITS + 40):
        amount = tangent(x)
        assert _holds(amount, mpmath.tan(_true(x) * mpmath.pi / 180))
    assert amount.high - amount.low <= WIDEST


@pytest.mark.parametrize("name", ["square_root", "tangent", "arctangent", "arccosine", "cosine"])
def test_a_span_is_mapped_around_every_value_in_it(name: str) -> None:
    """What a function makes of a span encloses what it makes of points inside."""
    ours, reference, least, most = FUNCTIONS[name]
    points = _arguments(f"{name} spans", least, most, 200)
    with mpmath.workdps(DIGITS):
        for a, b in zip(points[::2], points[1::2], strict=True):
            mapped = ours(Span(min(a, b), max(a, b)))
            for part in (0, Fraction(1, 3), Fraction(1, 2), 1):
                assert _holds(mapped, reference(_true(a + (b - a) * part))), (a, b)


EXACT = [
    (square_root, Fraction(25, 144), Fraction(5, 12)),
    (square_root, 0, 0),
    (square_root, 49, 7),
    (tangent, 0, 0),
    (tangent, 45, 1),
    (tangent, -45, -1),
    (arctangent, 0, 0),
    (arctangent, 1, 45),
    (arctangent, -1, -45),
    (arctangent, UNBOUNDED, Span(-90, 90)),
    (arccosine, 1, 0),
    (arccosine, Fraction(1, 2), 60),
    (arccosine, 0, 90),
    (arccosine, Fraction(-1, 2), 120),
    (arccosine, -1, 180),
    (sine, 30, Fraction(1, 2)),
    (sine, 90, 1),
    (sine, 180, 0),
    (sine, -30, Fraction(-1, 2)),
    (sine, 270, -1),
    (cosine, 60, Fraction(1, 2)),
    (cosine, 120, Fraction(-1, 2)),
    (cosine, 300, Fraction(1, 2)),
    (cosine, 90, 0),
    (cosine, 180, -1),
    (cosine, 360, 1),
    (cosine, Span(None, 4), Span(-1, 1)),
    (square_root, Span(-4, 9), Span(0, 3, None)),
    (square_root, Span(4, None), Span(2, None)),
    (tangent, Span(45, 100), Span(1, None)),
    (tangent, Span(-100, 45), Span(None, 1)),
    (arccosine, Span(None, None), Span(0, 180)),
    (cosine, Span(0, 180), Span(-1, 1)),
    (cosine, Span(-60, 90), Span(0, 1)),
    (cosine, Span(90, 240), Span(-1, 0)),
]


@pytest.mark.parametrize(("function", "argument", "value"), EXACT)
def test_rational_values_are_exact(
    function: Callable[[Amount], Amount], argument: Amount, value: Amount
) -> None:
    """Values that are fractions (Niven's theorem) come back as such, whole ones as int."""
    found = function(argument)
    assert found == value
    assert type(found) is type(value)


@pytest.mark.parametrize(
    ("made", "number"),
    [
        (lambda: arctangent(tangent(30)), 30),
        (lambda: arctangent(tangent(Fraction(-45, 2))), Fraction(-45, 2)),
        (lambda: tangent(arctangent(Fraction(7, 12))), Fraction(7, 12)),
        (lambda: arccosine(cosine(20)), 20),
        (lambda: arccosine(cosine(160)), 160),
        (lambda: multiply(square_root(2), square_root(2)), 2),
        (lambda: subtract(square_root(2), square_root(2)), 0),
        (lambda: divide(tangent(30), tangent(30)), 1),
        (lambda: multiply(tangent(30), 0), 0),
    ],
)
def test_a_named_number_finds_its_way_back_exactly(
    made: Callable[[], Amount], number: Amount
) -> None:
    """The inverse of a function undoes it exactly, since the span knows which number it is."""
    assert made() == number


def test_the_same_number_compares_equal_however_it_was_reached() -> None:
    """One irrational number equals itself, and a bare span never equals anything."""
    assert compare(tangent(30), tangent(Fraction(60, 2))) == 0
    assert compare(sine(20), cosine(70)) == 0
    assert compare(negate(negate(square_root(2))), square_root(2)) == 0
    assert compare(add(square_root(2), 1), add(square_root(2), 1)) == 0
    assert compare(multiply(square_root(2), 1), add(square_root(2), 0)) == 0
    assert compare(Span(0, 1), Span(0, 1)) is None


def test_compare_says_when_it_can_not_tell() -> None:
    """Spans apart are ordered; spans that overlap, touch or have no end there are not."""
    assert compare(Span(0, 1), Span(2, 3)) == -1
    assert compare(Span(2, None), 1) == 1
    assert compare(1, Span(2, None)) == -1
    assert compare(Span(0, 1), 1) is None
    assert compare(Span(0, 2), Span(1, 3)) is None
    assert compare(Span(None, 2), 1) is None
    assert compare(Fraction(1, 3), Fraction(2, 6)) == 0
    assert compare(1, 2) == -1
    assert compare(square_root(2), Fraction(141421356237, 10**11)) == 1


DOMAIN = [
    (square_root, -1),
    (square_root, Span(None, Fraction(-1, 2))),
    (arccosine, Fraction(101, 100)),
    (arccosine, Span(2, 3)),
    (arccosine, Span(None, -2)),
    (tangent, 90),
    (tangent, -90),
    (tangent, Span(90, 100)),
    (tangent, Span(None, -90)),
]


@pytest.mark.parametrize(("function", "argument"), DOMAIN)
def test_what_has_no_value_is_refused(
    function: Callable[[Amount], Amount], argument: Amount
) -> None:
    """Arguments with no value at all raise ValueError."""
    with pytest.raises(ValueError, match=r"below 0|between -"):
        function(argument)


@st.composite
def spans(draw: st.DrawFn) -> tuple[Amount, Fraction]:
    """Draw an amount, open on a side at times, and a value in it."""
    value = draw(fractions)
    below, above = draw(fractions), draw(fractions)
    if draw(st.booleans()):
        return value, value
    least = None if draw(st.booleans()) else value - abs(below)
    most = None if draw(st.booleans()) else value + abs(above)
    return Span(least, most), value


def _within(amount: Amount, value: Fraction) -> bool:
    least, most = enclosures.low(amount), enclosures.high(amount)
    return (least is None or least <= value) and (most is None or value <= most)


@given(spans(), spans())
def test_arithmetic_encloses_what_it_is_done_to(
    one: tuple[Amount, Fraction], other: tuple[Amount, Fraction]
) -> None:
    """The result for two amounts holds the result for any value in each."""
    (a, x), (b, y) = one, other
    assert _within(add(a, b), x + y)
    assert _within(subtract(a, b), x - y)
    assert _within(multiply(a, b), x * y)
    assert _within(negate(a), -x)
    assert _within(absolute(a), abs(x))
    if y:
        assert _within(divide(a, b), x / y)
    if not isinstance(a, Span) and not isinstance(b, Span):
        assert add(a, b) == x + y
        assert multiply(a, b) == x * y


@pytest.mark.parametrize(
    ("found", "value"),
    [
        (multiply(Span(-2, 3), Span(-5, 4)), Span(-15, 12)),
        (multiply(Span(0, None), Span(2, 3)), Span(0, None)),
        (multiply(Span(None, -1), Span(2, None)), Span(None, -2)),
        (divide(1, Span(2, 4)), Span(Fraction(1, 4), Fraction(1, 2))),
        (divide(1, Span(2, None)), Span(0, Fraction(1, 2))),
        (divide(6, Span(None, -2)), Span(-3, 0)),
        (divide(1, Span(-1, 1)), UNBOUNDED),
        (divide(1, Span(0, 1)), UNBOUNDED),
        (absolute(Span(-3, 2)), Span(0, 3)),
        (absolute(Span(None, -2)), Span(2, None)),
        (add(Span(None, 1), 2), Span(None, 3)),
        (divide(1, 3), Fraction(1, 3)),
        (divide(6, 3), 2),
    ],
)
def test_arithmetic_is_no_wider_than_it_must_be(found: Amount, value: Amount) -> None:
    """Worked results, by hand: the bounds are the least and greatest values there are."""
    assert found == value


def test_exact_division_by_nothing_is_an_error_of_ours() -> None:
    """An exact zero divisor raises; its caller must have asked first."""
    with pytest.raises(ZeroDivisionError):
        divide(1, 0)


# Trade handbooks' framing-square and roof-slope tables, see also NAVEDTRA 14044; recomputed.
HANDBOOK_DEGREES = {
    3: "14.04", 4: "18.43", 5: "22.62", 6: "26.57", 8: "33.69", 10: "39.81", 12: "45.00",
}  # fmt: skip


@pytest.mark.parametrize(("rise", "degrees"), HANDBOOK_DEGREES.items())
def test_slope_angles_agree_with_the_handbooks(rise: int, degrees: str) -> None:
    """Angles of common slopes are within 0.006 degree of the printed ones."""
    away = absolute(subtract(arctangent(Fraction(rise, 12)), Fraction(degrees)))
    assert compare(away, Fraction(6, 1000)) == -1


def test_a_navy_rafter_comes_out_as_printed() -> None:
    """US Navy, NAVEDTRA 14044, fig. 2-17: 7:12 over 8 ft of run is 9 ft 3-1/8 in (13.89 a ft)."""
    per_foot = square_root(12**2 + 7**2)
    assert compare(absolute(subtract(per_foot, Fraction("13.89"))), Fraction(6, 1000)) == -1
    length = multiply(8, per_foot)
    assert compare(absolute(subtract(length, Fraction(889, 8))), Fraction(1, 32)) == -1
