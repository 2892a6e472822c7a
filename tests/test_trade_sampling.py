"""Counted samples and draws: published tables come out, and a library agrees on random cases."""

from __future__ import annotations

import random
from fractions import Fraction
from hashlib import sha256
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from ridgerule.enclosures import Span, high, low
from ridgerule.trade import draws
from ridgerule.trade.draws import drawn, random_stations
from ridgerule.trade.sampling import (
    WIDTH_BITS,
    Sides,
    confidence_reached,
    faulty_in_lot,
    faulty_share,
    sample_size,
)
from ridgerule.units import NM_PER_FOOT, NM_PER_INCH

NINETY, NINETY_FIVE = Fraction(9, 10), Fraction(95, 100)
WIDEST = Fraction(1, 1 << WIDTH_BITS)

STATIONS = [16, 108, 165, 184, 211]
"""Whole inches drawn with the seed `HL-01 H1` on 18 ft, worked out apart from the engine."""

shares = st.fractions(Fraction(1, 100), Fraction(99, 100), max_denominator=100)


# how many to look at


@pytest.mark.parametrize(
    ("confidence", "reliability", "pieces"),
    [(NINETY_FIVE, NINETY_FIVE, 59), (NINETY_FIVE, NINETY, 29), (NINETY, NINETY, 22)],
)
def test_success_run(confidence, reliability, pieces) -> None:
    """95/95 takes 59 pieces, 95/90 takes 29, 90/90 takes 22."""
    # Zero-failure sampling, n = ln(1 - C) / ln(R), rounded up (values recomputed).
    found = sample_size(confidence, reliability=reliability)
    assert found.pieces == pieces
    assert found.steps[-1].amount == reliability**pieces


@given(confidence=shares, reliability=shares)
def test_success_run_is_the_least(confidence, reliability) -> None:
    """The pieces found reach the confidence, and one fewer does not."""
    pieces = sample_size(confidence, reliability=reliability).pieces
    assert confidence_reached(pieces, reliability=reliability).confidence >= confidence
    assert confidence_reached(pieces - 1, reliability=reliability).confidence < confidence


def test_success_run_exactly_on_the_confidence() -> None:
    """Half squared is a quarter exactly, so two pieces are enough: no float decides."""
    assert sample_size(Fraction(3, 4), reliability=Fraction(1, 2)).pieces == 2
    assert sample_size(1 - NINETY_FIVE**59, reliability=NINETY_FIVE).pieces == 59
    # Past where the powers are enclosed, a tie is still settled exactly.
    sure = 1 - Fraction(1, 2**40000)
    assert sample_size(sure, reliability=Fraction(1, 2)).pieces == 40000


def test_success_run_for_near_perfection() -> None:
    """One faulty in a million takes millions of pieces, and the enclosed power finds them."""
    # Computed: ln 0.05 / ln 0.999999 = 2,995,730.8.
    found = sample_size(NINETY_FIVE, reliability=1 - Fraction(1, 10**6))
    assert found.pieces == 2_995_731
    missed = found.steps[-1].amount
    assert isinstance(missed, Span)
    assert float(missed.high) == pytest.approx(0.05, rel=1e-6)


@pytest.mark.parametrize(("lot", "pieces"), [(50, 39), (100, 45), (200, 51)])
def test_lot_aware_zero_acceptance(lot, pieces) -> None:
    """Lots of 50, 100 and 200 take 39, 45 and 51 pieces at 95 % and 5 %."""
    # ISPM 31, 95 %, 5 % (recalled, recomputed; allowed faulty = floor of pN).
    assert sample_size(NINETY_FIVE, reliability=NINETY_FIVE, lot=lot).pieces == pieces


def test_small_lot_is_looked_through_for_one_piece() -> None:
    """Where the share is less than one piece, that one is looked for; a lot of one is all of it."""
    # Computed: of 10, one faulty is missed with chance 1 - n/10; 5 % takes all 10.
    assert sample_size(NINETY_FIVE, reliability=NINETY_FIVE, lot=10).pieces == 10
    assert sample_size(NINETY, reliability=NINETY_FIVE, lot=10).pieces == 9
    assert sample_size(NINETY_FIVE, reliability=NINETY_FIVE, lot=1).pieces == 1


def test_lot_sizes_agree_with_a_library() -> None:
    """On random lots the sample is the least whose hypergeometric chance is low enough."""
    draw = random.Random(31)
    for _ in range(60):
        lot = draw.randint(1, 400)
        confidence = Fraction(draw.randint(50, 99), 100)
        reliability = Fraction(draw.randint(50, 99), 100)
        faulty = max(1, int((1 - reliability) * lot))
        pieces = sample_size(confidence, reliability=reliability, lot=lot).pieces

        def missed(n, lot=lot, faulty=faulty):
            return stats.hypergeom.pmf(0, lot, faulty, n)

        risk = float(1 - confidence)
        assert missed(pieces) <= risk * (1 + 1e-9)
        assert missed(pieces - 1) >= risk * (1 - 1e-9)


def test_confidence_reached() -> None:
    """59 good pieces show 95 % reliability with a little over 95 %; a whole lot shows it surely."""
    # Computed from the formula of the success run and of the hypergeometric distribution.
    assert confidence_reached(59, reliability=NINETY_FIVE).confidence == 1 - NINETY_FIVE**59
    assert confidence_reached(0, reliability=NINETY_FIVE).confidence == 0
    assert confidence_reached(50, reliability=NINETY_FIVE, lot=50).confidence == 1
    # 2 faulty of 50: 39 looked at miss both with chance 11 x 10 / (50 x 49).
    found = confidence_reached(39, reliability=NINETY_FIVE, lot=50)
    assert found.confidence == 1 - Fraction(110, 2450)
    assert found.steps[1].amount == 2


# what was shown


def test_clopper_pearson_example() -> None:
    """4 of 20 at 90 % lie between 0.0713539 and 0.4010281."""
    # NIST/SEMATECH e-Handbook (recalled, recomputed), +-1e-5.
    found = faulty_share(4, inspected=20, confidence=NINETY)
    assert float(low(found.least)) == pytest.approx(0.0713539, abs=1e-5)
    assert float(high(found.greatest)) == pytest.approx(0.4010281, abs=1e-5)


def test_clopper_pearson_agrees_with_a_library() -> None:
    """On random samples both bounds are enclosed, as narrowly as stated."""
    draw = random.Random(4)
    for _ in range(60):
        inspected = draw.randint(1, 120)
        faulty = draw.randint(0, inspected)
        confidence = Fraction(draw.randint(50, 99), 100)
        found = faulty_share(faulty, inspected=inspected, confidence=confidence)
        reference = stats.binomtest(faulty, inspected).proportion_ci(
            confidence_level=float(confidence), method="exact"
        )
        for ours, theirs in ((found.least, reference.low), (found.greatest, reference.high)):
            assert high(ours) - low(ours) <= WIDEST
            assert float(low(ours)) == pytest.approx(theirs, abs=1e-9)


def test_upper_bound_alone_bears_the_whole_risk() -> None:
    """Of 59 good pieces at 95 % the upper bound is just under 5 %, as the success run has it."""
    # Computed: 1 - 0.05^(1/59).
    found = faulty_share(0, inspected=59, confidence=NINETY_FIVE, sides=Sides.UPPER)
    assert found.least == 0
    assert float(high(found.greatest)) == pytest.approx(1 - 0.05 ** (1 / 59), abs=1e-11)
    assert high(found.greatest) < Fraction(5, 100)
    fewer = faulty_share(0, inspected=58, confidence=NINETY_FIVE, sides=Sides.UPPER)
    assert low(fewer.greatest) > Fraction(5, 100)
    half = faulty_share(3, inspected=9, confidence=NINETY_FIVE, sides=Sides.UPPER)
    assert half.least == 0


def test_bounds_at_the_ends() -> None:
    """None faulty has 0 for its least, all faulty 1 for its greatest, nothing seen has both."""
    # Computed: (1 - p)^1 = 1/4 at p = 3/4, exactly on the bisection.
    assert faulty_share(0, inspected=1, confidence=Fraction(1, 2)).greatest == Fraction(3, 4)
    assert faulty_share(1, inspected=1, confidence=Fraction(1, 2)).least == Fraction(1, 4)
    assert faulty_share(5, inspected=5, confidence=NINETY).greatest == 1
    assert faulty_share(0, inspected=5, confidence=NINETY).least == 0
    nothing = faulty_share(0, inspected=0, confidence=NINETY)
    assert (nothing.least, nothing.greatest) == (0, 1)


def test_bounds_of_a_lot_agree_with_a_library() -> None:
    """On random lots each bound is the last count the hypergeometric chance leaves open."""
    draw = random.Random(50)
    for _ in range(60):
        lot = draw.randint(1, 150)
        inspected = draw.randint(0, lot)
        faulty = draw.randint(0, inspected)
        confidence = Fraction(draw.randint(50, 99), 100)
        found = faulty_in_lot(faulty, inspected=inspected, lot=lot, confidence=confidence)
        risk = float(1 - confidence) / 2
        counts = range(faulty, lot - (inspected - faulty) + 1)
        # scipy's survival function is P(X > x).
        above = [m for m in counts if stats.hypergeom.sf(faulty - 1, lot, m, inspected) > risk]
        below = [m for m in counts if stats.hypergeom.cdf(faulty, lot, m, inspected) > risk]
        assert (found.least, found.greatest) == (min(above), max(below))


def test_bounds_of_a_lot_are_narrower_than_of_a_process() -> None:
    """A lot wholly looked at has no doubt left; a part of it less than an endless one."""
    all_seen = faulty_in_lot(3, inspected=40, lot=40, confidence=NINETY_FIVE)
    assert (all_seen.least, all_seen.greatest) == (3, 3)
    part = faulty_in_lot(3, inspected=40, lot=80, confidence=NINETY_FIVE)
    endless = faulty_share(3, inspected=40, confidence=NINETY_FIVE)
    assert Fraction(part.greatest, 80) < low(endless.greatest)
    assert Fraction(part.least, 80) > high(endless.least)
    upper = faulty_in_lot(3, inspected=40, lot=80, confidence=NINETY_FIVE, sides=Sides.UPPER)
    assert upper.least == 0
    assert upper.greatest <= part.greatest


def test_lot_bound_agrees_with_the_lot_sample_size() -> None:
    """39 good of 50 leave fewer than 2 faulty open at 95 %, 38 leave 2."""
    # ISPM 31, 95 %, 5 % (recalled, recomputed): lot 50 takes 39.
    for inspected, greatest in ((39, 1), (38, 2)):
        found = faulty_in_lot(
            0, inspected=inspected, lot=50, confidence=NINETY_FIVE, sides=Sides.UPPER
        )
        assert found.greatest == greatest


def test_lot_bound_exactly_on_the_risk() -> None:
    """A count met with just the risk is ruled out, as the sample size for that lot has it."""
    # Computed: one of two is missed with chance 1/2 exactly.
    half = Fraction(1, 2)
    assert sample_size(half, reliability=half, lot=2).pieces == 1
    found = faulty_in_lot(0, inspected=1, lot=2, confidence=half, sides=Sides.UPPER)
    assert found.greatest == 0


# where to look


def test_uneven_rest_of_the_stream_is_refused() -> None:
    """2**256 is one more than a multiple of 3: its last number would favour one of three."""
    assert draws._below(3, iter([2**256 - 1, 5])) == 2
    assert draws._below(3, iter([2**256 - 2, 5])) == 2


def test_draw_is_the_same_everywhere() -> None:
    """A seed names its stations for good: these are the first ones ever drawn with it."""
    found = random_stations(5, length=18 * NM_PER_FOOT + NM_PER_INCH // 2, seed="HL-01 H1")
    assert [at // NM_PER_INCH for at in found.positions] == STATIONS
    assert found.positions == random_stations(5, length=18 * NM_PER_FOOT, seed="HL-01 H1").positions


def test_draw_can_be_done_by_hand() -> None:
    """A single piece is the first digest of the seed, as a number, modulo the count."""
    digest = int.from_bytes(sha256(b"HL-01 H1:0").digest(), "big")
    assert drawn(1, of=217, seed="HL-01 H1") == (digest % 217 + 1,)


@settings(max_examples=200)
@given(of=st.integers(0, 60), share=st.integers(0, 100), seed=st.text("ab é0:", max_size=8))
def test_draw_is_without_return(of, share, seed) -> None:
    """As many different numbers come as were asked for, all there, in rising order."""
    pieces = of * share // 100
    found = drawn(pieces, of=of, seed=seed)
    assert len(set(found)) == pieces
    assert list(found) == sorted(found)
    assert set(found) <= set(range(1, of + 1))
    assert drawn(of, of=of, seed=seed) == tuple(range(1, of + 1))


def test_draw_is_even() -> None:
    """Over many seeds each of the ten pairs of five is drawn about as often (chi-square)."""
    counts = dict.fromkeys(combinations(range(1, 6), 2), 0)
    for n in range(5000):
        counts[drawn(2, of=5, seed=f"evenness {n}")] += 1
    assert stats.chisquare(list(counts.values())).pvalue > 0.001


def test_stations_lie_on_the_line() -> None:
    """Every position is a whole multiple of the resolution on the line, both ends possible."""
    found = random_stations(4, length=3 * NM_PER_INCH, seed="short")
    assert found.positions == tuple(n * NM_PER_INCH for n in range(4))
    half = random_stations(
        3, length=Span(NM_PER_INCH, 2 * NM_PER_INCH), seed="s", resolution=NM_PER_INCH // 2
    )
    assert half.positions == (0, NM_PER_INCH // 2, NM_PER_INCH)
    assert [s.amount for s in found.steps[:3]] == [3 * NM_PER_INCH, NM_PER_INCH, 4]


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: sample_size(1, reliability=NINETY), "confidence must be between 0 and 1; found 1"),
        (lambda: sample_size(NINETY, reliability=0), "reliability must be between 0 and 1"),
        (lambda: sample_size(NINETY, reliability=NINETY, lot=0), "at least one piece"),
        (lambda: confidence_reached(-1, reliability=NINETY), "can't be"),
        (lambda: confidence_reached(6, reliability=NINETY, lot=5), "6 inspected of a lot of 5"),
        (lambda: confidence_reached(0, reliability=NINETY, lot=0), "at least one piece"),
        (lambda: faulty_share(3, inspected=2, confidence=NINETY), "3 faulty of 2 inspected"),
        (lambda: faulty_share(1, inspected=2, confidence=0), "confidence must be"),
        (lambda: faulty_in_lot(1, inspected=9, lot=8, confidence=NINETY), "9 inspected of a lot"),
        (lambda: drawn(3, of=2, seed=""), "3 different pieces can't be drawn of 2"),
        (lambda: drawn(-1, of=2, seed=""), "can't be drawn"),
        (lambda: random_stations(9, length=NM_PER_INCH, seed=""), "9 different pieces"),
        (lambda: random_stations(1, length=-1, seed=""), "length is 0 or more"),
        (lambda: random_stations(1, length=1, seed="", resolution=0), "resolution is more than 0"),
    ],
)
def test_impossible_input_is_refused(make, message) -> None:
    """What can't be is refused with a message that names it."""
    with pytest.raises(ValueError, match=message):
        make()
