"""Uncertainty, conformance and statements: published examples come out, enclosures hold."""

from __future__ import annotations

import random
import statistics
from fractions import Fraction

import mpmath
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from ridgerule.enclosures import DEPTH_BITS, Span, compare, high, low, multiply
from ridgerule.quantities import Dimension, Units
from ridgerule.trade.conformance import (
    Statement,
    can_verify,
    conformance_probability,
    false_acceptance,
    greatest_probability,
    statement,
)
from ridgerule.trade.measurement import (
    TAPE_CLASSES,
    combined,
    expanded,
    of_expanded,
    of_graduation,
    of_half_width,
    of_repeats,
    of_tape,
    of_terms,
    of_terms_by_one_instrument,
)
from ridgerule.trade.normal import share_below
from ridgerule.trade.working import written
from ridgerule.units import NM_PER_INCH, NM_PER_M, NM_PER_MM

SIXTEENTH = NM_PER_INCH // 16
WIDEST = Fraction(1, 1 << DEPTH_BITS)
CASES = 600


def _squared(uncertainty):
    return multiply(uncertainty.standard, uncertainty.standard)


def _middle(amount):
    return float((low(amount) + high(amount)) / 2)


# uncertainty


def test_graduation_and_half_width() -> None:
    """A reading to graduation d has u = d / (2 sqrt 3), a half-width a has u = a / sqrt 3."""
    # GUM type B (JCGM 100); the squares, d^2 / 12 and a^2 / 3, are exact.
    assert _squared(of_graduation(SIXTEENTH)) == Fraction(SIXTEENTH**2, 12)
    assert _squared(of_half_width(SIXTEENTH)) == Fraction(SIXTEENTH**2, 3)
    assert _middle(of_graduation(NM_PER_MM).standard) == pytest.approx(288675.1346, abs=1e-4)
    assert of_graduation(0).standard == 0


def test_expanded_is_twice_the_standard() -> None:
    """U = 2u at about 95 %, and u is half of a stated U."""
    # GUM (JCGM 100): expanded U = 2u.
    stated = of_expanded(SIXTEENTH)
    assert stated.standard == Fraction(SIXTEENTH, 2)
    found = expanded(stated)
    assert (found.amount, found.factor) == (SIXTEENTH, 2)
    assert of_expanded(SIXTEENTH, factor=3).standard == Fraction(SIXTEENTH, 3)


def test_parts_combine_in_quadrature() -> None:
    """Independent parts add by their squares, exactly where the root is."""
    # Computed: 3, 4 and 12 give 13; d^2/12 + a^2/3 under one root.
    parts = [of_expanded(2 * u) for u in (3, 4, 12)]
    assert combined(parts).standard == 13
    mixed = combined([of_graduation(6), of_half_width(3)])
    assert _squared(mixed) == 3 + 3


def test_sum_and_difference_of_two_lengths() -> None:
    """Independent errors grow in sum and difference alike; a shared one cancels in a difference."""
    # JCGM 100, 5.1.2 and 5.2.2 note 1 (recalled).
    a, b = of_expanded(6, label="a"), of_expanded(8, label="b")
    assert of_terms([(1, a), (1, b)]).standard == of_terms([(1, a), (-1, b)]).standard == 5
    assert of_terms([(Fraction(1, 2), a), (0, b)]).standard == Fraction(3, 2)
    assert of_terms_by_one_instrument([(1, a), (1, b)]).standard == 7
    assert of_terms_by_one_instrument([(1, a), (-1, b)]).standard == 1
    assert of_terms_by_one_instrument([(1, a), (-1, a)]).standard == 0
    # A root takes itself away exactly too.
    root = of_graduation(5)
    assert of_terms_by_one_instrument([(1, root), (-1, root)]).standard == 0


@given(st.lists(st.integers(-(10**9), 10**9), min_size=2, max_size=8))
def test_repeats_agree_with_the_library(readings) -> None:
    """Mean, deviation and deviation of the mean are those of Python's own `statistics`."""
    found = of_repeats(readings)
    assert found.mean == statistics.mean(map(Fraction, readings))
    assert _middle(found.deviation) == pytest.approx(statistics.stdev(readings), rel=1e-9)
    squared = multiply(found.uncertainty.standard, found.uncertainty.standard)
    assert squared == statistics.variance(map(Fraction, readings)) / len(readings)


def test_tape_of_class_two() -> None:
    """5 m gives 1.3 mm; a millimetre more is a sixth metre."""
    # UK SI 2016/1153 (from EU MI-008): +-(0.3 + 0.2 L) mm, L up to the next whole metre.
    for length, limits in (
        (5 * NM_PER_M, 13 * NM_PER_MM // 10),
        (5 * NM_PER_M + NM_PER_MM, 15 * NM_PER_MM // 10),
        (78 * NM_PER_MM, 5 * NM_PER_MM // 10),
        (0, 3 * NM_PER_MM // 10),
    ):
        found = of_tape(length)
        assert found.steps[2].amount == limits
        assert _squared(found) == Fraction(limits**2, 3)


def test_tape_class_is_an_argument() -> None:
    """Another class has other coefficients; those from memory say so."""
    # Classes I and III: recalled.
    limits = {name: of_tape(NM_PER_M, tape=tape).steps[2].amount for name, tape in _tapes()}
    assert limits == {
        "I": 2 * NM_PER_MM // 10,
        "II": 5 * NM_PER_MM // 10,
        "III": NM_PER_MM,
    }
    assert [name for name, tape in _tapes() if tape.is_recalled] == ["I", "III"]


def _tapes():
    return TAPE_CLASSES.items()


def test_working_of_a_combined_uncertainty() -> None:
    """Each part's working comes first, then what they make together."""
    tape, reading = of_tape(3 * NM_PER_M), of_graduation(NM_PER_MM)
    found = expanded(combined([tape, reading], label="gap"))
    lines = [written(step, units=Units.METRIC) for step in found.steps]
    assert lines[0] == "length: 3 m"
    assert lines[1] == "whole metres: length, up to the next whole metre = 3"
    assert lines[-2].startswith("gap: root of the sum of squares of tape class II, graduation ≈ ")
    assert lines[-1].startswith("gap, expanded uncertainty: 2 x standard uncertainty ≈ ")
    assert len({step.label for step in found.steps}) == len(found.steps)


# the normal distribution


def _decimal(end):
    return mpmath.mpf(Fraction(end).numerator) / Fraction(end).denominator


def test_normal_distribution_is_enclosed() -> None:
    """Against a library at 60 digits, every enclosure holds and is as narrow as it says."""
    draw = random.Random(20260914)
    tried = [Fraction(n, 4) for n in range(-56, 57)] + [
        Fraction(draw.randint(-13 * 10**6, 13 * 10**6), draw.choice((10**6, 1048583)))
        for _ in range(CASES)
    ]
    with mpmath.workdps(60):
        for z in tried:
            share = share_below(z)
            assert _decimal(low(share)) <= mpmath.ncdf(_decimal(z)) <= _decimal(high(share))
            assert high(share) - low(share) <= WIDEST
            assert 0 <= low(share) <= high(share) <= 1
    assert len(tried) == CASES + 113


def test_normal_distribution_of_a_span() -> None:
    """The middle is exactly one half; a span has the shares at its ends, 0 and 1 without any."""
    assert share_below(0) == Fraction(1, 2)
    assert share_below(Span(-1, 2)) == Span(low(share_below(-1)), high(share_below(2)))
    assert share_below(Span(None, None)) == Span(0, 1)


# conformance


def test_jcgm_106_examples() -> None:
    """The two worked examples come out to their two printed decimals."""
    # JCGM 106:2012 (recalled, recomputed): 0.92 and 0.66.
    upper = conformance_probability(
        Fraction(-547, 100), standard=Fraction(5, 100), most=Fraction(-540, 100)
    )
    assert round(_middle(upper.probability), 2) == 0.92
    both = conformance_probability(
        Fraction(136, 10),
        standard=Fraction(18, 10),
        least=Fraction(125, 10),
        most=Fraction(163, 10),
    )
    assert round(_middle(both.probability), 2) == 0.66


@pytest.mark.parametrize(
    ("guard_band", "chance", "within"),
    [
        # ILAC-G8:09/2019, guard band as a multiple of U (secondary source, recomputed).
        ("3", 1e-9, 5e-11),
        ("1.5", 0.00135, 5e-6),
        ("1", 0.02275, 5e-6),
        ("0.83", 0.04846, 5e-6),
        ("0", 0.5, 0),
    ],
)
def test_guard_bands_leave_their_false_acceptance(guard_band, chance, within) -> None:
    """Each guard band leaves the published chance of accepting something beyond the limit."""
    found = false_acceptance(Fraction(guard_band)).probability
    assert _middle(found) == pytest.approx(chance, abs=within)


def test_probability_agrees_with_a_library() -> None:
    """Random readings between random limits agree with the library's normal distribution."""
    draw = random.Random(7)
    for _ in range(100):
        value, u = draw.randint(-50, 50), draw.randint(1, 30)
        least = draw.randint(-60, 40)
        most = least + draw.randint(0, 60)
        found = conformance_probability(value, standard=u, least=least, most=most).probability
        reference = stats.norm.cdf((most - value) / u) - stats.norm.cdf((least - value) / u)
        assert _middle(found) == pytest.approx(reference, abs=1e-12)


def test_probability_without_uncertainty_is_sure() -> None:
    """With u = 0 a reading on either limit conforms, one beyond does not."""
    for value, sure in ((3, 1), (4, 1), (5, 1), (2, 0), (6, 0)):
        found = conformance_probability(value, standard=0, least=3, most=5)
        assert found.probability == sure
    assert conformance_probability(3, standard=0, least=3, most=3).probability == 1
    unsure = conformance_probability(Span(4, 6), standard=0, most=5).probability
    assert unsure == Span(0, 1)


def test_probability_holds_for_an_irrational_uncertainty() -> None:
    """With u = d / (2 sqrt 3) the enclosure holds the value computed at 60 digits."""
    u = of_graduation(SIXTEENTH).standard
    found = conformance_probability(0, standard=u, most=SIXTEENTH // 4).probability
    with mpmath.workdps(60):
        z = mpmath.mpf(SIXTEENTH // 4) * 2 * mpmath.sqrt(3) / SIXTEENTH
        assert _decimal(low(found)) <= mpmath.ncdf(z) <= _decimal(high(found))


# statements


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (7, Statement.PASS),
        (8, Statement.PASS),
        (9, Statement.CONDITIONAL_PASS),
        (10, Statement.CONDITIONAL_PASS),
        (11, Statement.CONDITIONAL_FAIL),
        (12, Statement.CONDITIONAL_FAIL),
        (13, Statement.FAIL),
    ],
)
def test_four_statements_and_their_edges(value, said) -> None:
    """At most 10, U = 2: a reading where two statements meet gets the better one."""
    # ILAC-G8:09/2019 terms; which of two closed intervals is the engine's choice.
    assert statement(value, expanded=2, most=10).statement is said
    assert statement(-value, expanded=2, least=-10).statement is said


def test_statement_without_uncertainty_is_pass_or_fail() -> None:
    """With U = 0 a reading on the limit passes and nothing is conditional."""
    said = [statement(v, expanded=0, most=10).statement for v in (9, 10, 11)]
    assert said == [Statement.PASS, Statement.PASS, Statement.FAIL]
    assert statement(3, expanded=0, least=3, most=3).statement is Statement.PASS


def test_the_worse_of_two_limits_counts() -> None:
    """Between 10 and 20 with U = 2, each side has its own bands."""
    said = [statement(v, expanded=2, least=10, most=20).statement for v in (15, 11, 19, 21, 7)]
    assert said == [
        Statement.PASS,
        Statement.CONDITIONAL_PASS,
        Statement.CONDITIONAL_PASS,
        Statement.CONDITIONAL_FAIL,
        Statement.FAIL,
    ]


def test_limits_too_narrow_for_the_instrument() -> None:
    """Limits less than 2U apart can't be verified, near them; far beyond them is a fail still."""
    narrow = {"expanded": 2, "least": 10, "most": 13}
    for value in (8, 10, 11, 13, 15):
        assert statement(value, **narrow).statement is Statement.CANNOT_BE_VERIFIED
    assert statement(30, **narrow).statement is Statement.FAIL
    assert statement(12, expanded=2, least=10, most=14).statement is Statement.PASS


def test_statement_too_close_to_compute() -> None:
    """A reading whose enclosure lies across a boundary is too close, never a pass."""
    assert statement(Span(9, 11), expanded=0, most=10).statement is Statement.TOO_CLOSE
    assert statement(Span(9, 10), expanded=0, most=10).statement is Statement.PASS
    said = statement(Span(9, 11), expanded=0, least=20, most=10**6).statement
    assert said is Statement.FAIL


@given(
    value=st.integers(-100, 100),
    limit=st.integers(-100, 100),
    u=st.integers(0, 40),
    more=st.integers(0, 40),
)
def test_more_uncertainty_never_turns_into_a_pass(value, limit, u, more) -> None:
    """A larger U makes no reading a pass, or a fail, that was none before."""
    before = statement(value, expanded=u, most=limit).statement
    after = statement(value, expanded=u + more, most=limit).statement
    for sure in (Statement.PASS, Statement.FAIL):
        assert after is not sure or before is sure
    meets = {Statement.PASS, Statement.CONDITIONAL_PASS}
    assert (before in meets) == (after in meets) == (value <= limit)


def test_what_an_instrument_can_reach() -> None:
    """No reading beats the middle; limits four u apart reach 95.4 %, not 99 %."""
    # Computed: the share of a normal distribution within 2 u is 0.9545.
    best = greatest_probability(least=-2, most=2, standard=1).probability
    assert _middle(best) == pytest.approx(0.9544997361, abs=1e-9)
    assert can_verify(least=-2, most=2, standard=1, probability=Fraction(95, 100)) is True
    assert can_verify(least=-2, most=2, standard=1, probability=Fraction(99, 100)) is False
    assert can_verify(least=-2, most=2, standard=Span(1, 2), probability=Fraction(9, 10)) is None
    for value in (-1, 1, 3):
        other = conformance_probability(value, standard=1, least=-2, most=2).probability
        assert compare(other, best) == -1


def test_working_of_a_statement() -> None:
    """The working gives the reading, U, the limit and the acceptance limit."""
    steps = statement(9, expanded=2, most=10).steps
    assert [(s.label, s.formula, s.amount) for s in steps] == [
        ("reading", "", 9),
        ("U", "", 2),
        ("limit, at most", "", 10),
        ("acceptance limit, at most", "limit, at most, less U", 8),
    ]


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: of_graduation(-1), "graduation is 0 or more"),
        (lambda: of_half_width(-1), "half-width is 0 or more"),
        (lambda: of_expanded(-1), "expanded uncertainty is 0 or more"),
        (lambda: of_expanded(1, factor=0), "coverage factor is more than 0"),
        (lambda: expanded(of_expanded(1), factor=0), "coverage factor is more than 0"),
        (lambda: of_repeats([1]), "two readings or more"),
        (lambda: of_tape(-1), "length is 0 or more"),
        (lambda: combined([]), "found: none"),
        (
            lambda: combined([of_expanded(1), of_expanded(1, dimension=Dimension.ANGLE)]),
            "found: angle, length",
        ),
        (lambda: statement(1, expanded=1), "at least one limit"),
        (lambda: statement(1, expanded=-1, most=1), "expanded uncertainty is 0 or more"),
        (lambda: statement(1, expanded=1, least=2, most=1), "least limit can't be more"),
        (lambda: conformance_probability(1, standard=1), "at least one limit"),
        (lambda: conformance_probability(1, standard=-1, most=1), "uncertainty is 0 or more"),
        (lambda: can_verify(least=0, most=1, standard=1, probability=1), "between 0 and 1"),
        (lambda: false_acceptance(-1), "guard band is 0 or more"),
        (lambda: false_acceptance(1, factor=0), "coverage factor is more than 0"),
    ],
)
def test_impossible_input_is_refused(make, message) -> None:
    """What can't be is refused with a message that names it."""
    with pytest.raises(ValueError, match=message):
        make()
