"""A gap closes by what its own two slates grow from their fasteners, and by nothing else."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridgerule.enclosures import Span, high, low
from ridgerule.quantities import Dimension, Quantity, read
from ridgerule.trade.movement import gap_at, growth
from ridgerule.trade.working import written
from ridgerule.units import NM_PER_INCH, NM_PER_M, Units

if TYPE_CHECKING:
    from collections.abc import Callable

    from ridgerule.enclosures import Amount


def _read(text: str, dimension: Dimension) -> Amount:
    """Return a quantity as a record or a rulebook gives it."""
    quantity = read(text, dimension)
    assert isinstance(quantity, Quantity), text
    return quantity.amount


def _length(text: str) -> Amount:
    return _read(text, Dimension.LENGTH)


def _temperature(text: str) -> Amount:
    return _read(text, Dimension.TEMPERATURE)


def _expansion(text: str) -> Amount:
    return _read(text, Dimension.EXPANSION)


# Polypropylene, from the least handbook figure to the greatest (handbooks disagree).
PLASTIC = Span(_expansion("81 um/m/degC"), _expansion("121 um/m/degC"))

lengths = st.integers(0, 400).map(lambda n: n * NM_PER_INCH // 16)
temperatures = st.fractions(min_value=-60, max_value=120, max_denominator=18)
coefficients = st.integers(1, 200).map(lambda n: Fraction(n, 10**6))
expansions = coefficients | coefficients.map(lambda c: Span(c, 2 * c))


# published figures


def test_a_steel_bridge_grows_as_the_college_book_says() -> None:
    """OpenStax, College Physics, ex. 13.3: 1275 m of steel over 55 degC grow 0.84 m."""
    found = growth(1275 * NM_PER_M, expansion=_expansion("12 um/m/degC"), difference=55)
    assert found.length == Fraction(8415, 10000) * NM_PER_M
    assert round(Fraction(found.length, NM_PER_M), 2) == Fraction(84, 100)


def test_ten_feet_of_aluminium_grow_as_the_handbooks_say() -> None:
    """10 ft of aluminium over 100 degF grow 0.155 in (handbooks): 12.9 ppm/degF, with no 32."""
    difference = _read("100 degF", Dimension.TEMPERATURE_DIFFERENCE)
    assert difference == Fraction(1000, 18)
    for coefficient in ("12.9 ppm/degF", "23.22 um/m/degC"):
        found = growth(_length("10 ft"), expansion=_expansion(coefficient), difference=difference)
        assert round(Fraction(found.length, NM_PER_INCH), 3) == Fraction(155, 1000), coefficient


# the gap


def _gap(target: str, expansion: Amount = PLASTIC, gap: str = "3 in") -> Amount:
    return gap_at(
        _length(gap),
        edge_distances=[_length("4 in"), _length("6 in")],
        expansion=expansion,
        surface_temperature=_temperature("20 degC"),
        target_temperature=_temperature(target),
    ).gap


def test_both_sides_are_added_and_each_end_of_the_coefficient_is_kept() -> None:
    """10 in of plastic from 20 to 70 degC take 0.0405 to 0.0605 in (computed): least when hot."""
    assert _gap("70 degC") == Span(_length("2.9395 in"), _length("2.9595 in"))
    assert _gap("-30 degC") == Span(_length("3.0405 in"), _length("3.0605 in"))


def test_a_known_coefficient_gives_one_exact_gap() -> None:
    """With one coefficient, nothing is left open (computed: 10 in x 100e-6 x 50 = 0.05 in)."""
    assert _gap("70 degC", _expansion("100 um/m/degC")) == _length("2.95 in")
    assert _gap("158 degF", _expansion("100 um/m/degC")) == _length("2.95 in")


def test_a_gap_that_closes_comes_back_below_nothing() -> None:
    """Edges that would press on each other show as a gap below 0, never as 0."""
    assert high(_gap("120 degC", gap="1/32 in")) < 0


def test_a_gap_at_its_own_temperature_is_itself() -> None:
    """No change of temperature, no doubt from the coefficient."""
    assert _gap("68 degF") == _length("3 in")


def test_a_single_slate_beside_a_wall_moves_alone() -> None:
    """One side counts once (computed: 5 in x 100e-6 x 40 = 0.02 in)."""
    found = gap_at(
        _length("1/2 in"),
        edge_distances=[_length("5 in")],
        expansion=_expansion("100 um/m/degC"),
        surface_temperature=10,
        target_temperature=50,
    )
    assert found.growth == _length("0.02 in")
    assert found.gap == _length("0.48 in")


def test_the_run_of_a_roof_is_no_edge_distance() -> None:
    """Slates are nailed one by one: a third distance is refused, and so is none."""
    for distances in ([], [1, 1, 1], [1] * 40):
        with pytest.raises(ValueError, match="never the run of the roof"):
            gap_at(
                1,
                edge_distances=distances,
                expansion=PLASTIC,
                surface_temperature=20,
                target_temperature=70,
            )


# properties


@given(lengths, st.tuples(lengths, lengths), expansions, temperatures, temperatures)
def test_the_two_sides_are_one_to_the_gap(
    gap: int, sides: tuple[int, int], expansion: Amount, start: Fraction, end: Fraction
) -> None:
    """Swapping the sides, or giving them as one slate's, leaves the same gap."""
    gaps = [
        gap_at(
            gap,
            edge_distances=distances,
            expansion=expansion,
            surface_temperature=start,
            target_temperature=end,
        ).gap
        for distances in (sides, sides[::-1], [sum(sides)])
    ]
    assert gaps[0] == gaps[1] == gaps[2]


@given(lengths, lengths, coefficients, temperatures, temperatures)
def test_there_and_back_is_where_it_began(
    gap: int, side: int, expansion: Fraction, start: Fraction, end: Fraction
) -> None:
    """Warming and cooling by as much undo each other exactly."""
    there = gap_at(
        gap,
        edge_distances=[side, side],
        expansion=expansion,
        surface_temperature=start,
        target_temperature=end,
    )
    back = growth(2 * side, expansion=expansion, difference=start - end)
    assert there.gap - back.length == gap
    assert there.growth == -back.length


@given(lengths, lengths, expansions, temperatures, st.tuples(temperatures, temperatures))
def test_hotter_never_leaves_more(
    gap: int, side: int, expansion: Amount, start: Fraction, ends: tuple[Fraction, Fraction]
) -> None:
    """The least gap is at the hottest surface, at both ends of the coefficient's interval."""
    gaps = [
        gap_at(
            gap,
            edge_distances=[side],
            expansion=expansion,
            surface_temperature=start,
            target_temperature=end,
        ).gap
        for end in sorted(ends)
    ]
    assert low(gaps[1]) <= low(gaps[0])
    assert high(gaps[1]) <= high(gaps[0])


@given(lengths, coefficients, coefficients, temperatures, temperatures)
def test_an_interval_of_coefficients_holds_what_each_gives(
    side: int, least: Fraction, more: Fraction, start: Fraction, end: Fraction
) -> None:
    """The ends of the interval give the ends of the growth."""
    ends = [growth(side, expansion=e, difference=end - start) for e in (least, least + more)]
    both = growth(side, expansion=Span(least, least + more), difference=end - start)
    assert low(both.length) == min(e.length for e in ends)
    assert high(both.length) == max(e.length for e in ends)


@given(st.integers(-60, 120), st.integers(-60, 120), st.integers(1, 48))
def test_units_never_matter(start: int, end: int, inches: int) -> None:
    """Fahrenheit and inches give the gap that Celsius and millimetres give."""
    in_f = [f"{9 * t // 5 + 32}.{9 * t % 5 * 2} degF" for t in range(121)]
    hot, cold = abs(end), abs(start)
    metric = gap_at(
        _length("76.2 mm"),
        edge_distances=[_length(f"{inches * 254 // 10}.{inches * 254 % 10} mm")],
        expansion=_expansion("90 um/m/degC"),
        surface_temperature=_temperature(f"{cold} degC"),
        target_temperature=_temperature(f"{hot} degC"),
    )
    inch = gap_at(
        _length("3 in"),
        edge_distances=[_length(f"{inches} in")],
        expansion=_expansion("50 ppm/degF"),
        surface_temperature=_temperature(in_f[cold]),
        target_temperature=_temperature(in_f[hot]),
    )
    assert inch == metric


# the working, and what can't be


def test_the_working_reads_number_by_number() -> None:
    """Every line of the working gives its number, the sum of both sides among them."""
    found = gap_at(
        _length("3 in"),
        edge_distances=[_length("4 in"), _length("6 in")],
        expansion=_expansion("100 um/m/degC"),
        surface_temperature=20,
        target_temperature=70,
    )
    assert [written(step, units=Units.METRIC) for step in found.steps] == [
        "gap as measured: 76.2 mm",
        "surface temperature at that reading: 20 degC",
        "surface temperature asked for: 70 degC",
        "fastener to cut edge, side 1: 101.6 mm",
        "fastener to cut edge, side 2: 152.4 mm",
        "length that grows: sum of the sides = 254 mm",
        "expansion coefficient: 100 um/m/degC",
        "temperature difference: asked for less at that reading = 50 degC",
        ("growth: expansion coefficient x length that grows x temperature difference = 1.27 mm"),
        "gap left: gap as measured less growth = 74.93 mm",
    ]


def _moved(**changed: object) -> object:
    usual = {
        "gap": 1,
        "edge_distances": [1],
        "expansion": Fraction(1, 10**5),
        "surface_temperature": 20,
        "target_temperature": 70,
    }
    return gap_at(**(usual | changed))


IMPOSSIBLE = [
    (lambda: _moved(gap=-1), "measured gap is 0 or more"),
    (lambda: _moved(edge_distances=[1, -1]), "fastener to cut edge is 0 or more"),
    (lambda: _moved(expansion=Span(-2, -1)), "expansion coefficient is 0 or more"),
    (lambda: _moved(surface_temperature=-274), "below absolute zero"),
    (lambda: _moved(target_temperature=Span(-300, -274)), "below absolute zero"),
    (lambda: growth(-1, expansion=1, difference=1), "length that grows is 0 or more"),
]


@pytest.mark.parametrize(("figure", "message"), IMPOSSIBLE, ids=range(len(IMPOSSIBLE)))
def test_what_no_slate_can_be_is_refused(figure: Callable[[], object], message: str) -> None:
    """An impossible length, coefficient or temperature is named in a ValueError."""
    with pytest.raises(ValueError, match=message):
        figure()


def test_what_is_just_possible_is_not_refused() -> None:
    """Absolute zero, a closed gap and a coefficient of nothing are all figures."""
    assert _moved(surface_temperature=Fraction(-27315, 100)).gap < 1
    assert _moved(gap=0, expansion=0).gap == 0
