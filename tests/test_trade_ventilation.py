"""Net free ventilating area: published sums come out, and an unknown never lowers what is asked."""

from __future__ import annotations

from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridgerule.enclosures import Span, compare, divide
from ridgerule.quantities import Dimension, Quantity, Units, read
from ridgerule.trade.ventilation import (
    SQUARE_INCH,
    CountedVents,
    Needs,
    ScreenedOpenings,
    VentRun,
    balance,
    counts_as_high,
    free_area,
    is_share_between,
    length_to_cure,
    provided_area,
    required_area,
    rounded,
    ventilation_divisor,
)
from ridgerule.trade.working import written
from ridgerule.units import NM_PER_FOOT, NM_PER_INCH

USUAL, REDUCED = 150, 300  # IRC R806.2, given here as a rulebook would give them
SQUARE_FOOT = NM_PER_FOOT**2
PER_FOOT = Fraction(SQUARE_INCH, NM_PER_FOOT)


def _amount(text, dimension):
    found = read(text, dimension)
    assert isinstance(found, Quantity)
    return found.amount


def _area(text):
    return _amount(text, Dimension.AREA)


def _run(name, length, per_length, **more):
    return VentRun(
        name=name,
        length=_amount(length, Dimension.LENGTH),
        per_length=_amount(per_length, Dimension.NET_FREE_AREA_PER_LENGTH),
        **more,
    )


def _square_inches(area):
    return divide(area, SQUARE_INCH)


def _prior_lake():
    return provided_area(
        high_vents=[_run("ridge", "180 ft", "18 in2/ft")],
        low_vents=[_run("soffit", "428 ft", "7.4 in2/ft")],
    )


def test_prior_lake_permit_record() -> None:
    """The sums of the record come out: 5,088 needed, 3,240 and 3,167 provided, 6,407 in all."""
    # Prior Lake MN permit record, 2002, building 1 (10,600 ft2 at 1/300).
    needed = required_area(_area("10,600 ft2"), divisor=REDUCED)
    found = _prior_lake()
    assert _square_inches(needed.area) == 5088
    assert _square_inches(found.high) == 3240
    assert _square_inches(rounded(found.low)) == 3167
    assert _square_inches(rounded(found.total)) == 6407
    # Computed: the soffit's exact sum, which the record rounds.
    assert _square_inches(found.low) == Fraction(31672, 10)


def test_prior_lake_balance() -> None:
    """More is provided than required, and the shares say of which of the two."""
    found = balance(_prior_lake(), required=_area("5088 in2"))
    assert found.shortfall == 0
    assert found.high_of_required == Fraction(3240, 5088)
    assert found.high_of_provided == Fraction(32400, 64072)
    assert found.low_of_provided == 1 - Fraction(32400, 64072)


def test_zephyrhills_permit_plan() -> None:
    """2,377 ft2 needs 2,282 in2 at 1/150 and 1,141 at 1/300, and the upper half of that is 570."""
    # Zephyrhills FL permit plan B1.
    vented = _area("2,377 ft2")
    usual = required_area(vented, divisor=USUAL).area
    reduced = required_area(vented, divisor=REDUCED).area
    assert _square_inches(rounded(usual)) == 2282
    assert _square_inches(rounded(reduced)) == 1141
    assert _square_inches(rounded(divide(reduced, 2))) == 570


def test_zephyrhills_high_share_is_outside_a_literal_half() -> None:
    """591 in2 high is 51.8 % of the required area, which a cap of 50 % refuses unrounded."""
    # Zephyrhills FL permit plan B1; cap and floor as in IRC R806.2.
    reduced = required_area(_area("2,377 ft2"), divisor=REDUCED).area
    high = CountedVents(name="off-ridge vents", count=1, area=_area("591 in2"))
    share = balance(
        provided_area(high_vents=[high], low_vents=[]), required=reduced
    ).high_of_required
    assert not isinstance(share, Span)
    assert round(share * 1000) == 518
    least, half = Fraction(2, 5), Fraction(1, 2)
    assert is_share_between(share, least=least, most=half) is False
    assert is_share_between(share, least=least, most=Fraction(52, 100)) is True


def test_rounding_midway_takes_the_even_one() -> None:
    """Midway between two whole square inches, the even one; a span rounds at both ends."""
    # NIST HB 44, s. 10.3.
    half = SQUARE_INCH // 2
    assert [rounded(n * SQUARE_INCH + half) // SQUARE_INCH for n in (4, 5, 6)] == [4, 6, 6]
    assert rounded(half + 1) == SQUARE_INCH
    assert rounded(Span(half - 1, half + 1)) == Span(0, SQUARE_INCH)
    assert rounded(Span(half + 1, half + 2)) == SQUARE_INCH
    assert rounded(7, to=Fraction(1, 2)) == 7


@pytest.mark.parametrize(
    ("needs", "truths", "holds"),
    [
        (Needs.ALL, (True, True), True),
        (Needs.ALL, (True, None), None),
        (Needs.ALL, (False, None), False),
        (Needs.ANY, (True, None), True),
        (Needs.ANY, (False, None), None),
        (Needs.ANY, (False, False), False),
    ],
)
def test_divisor_follows_three_valued_logic(needs, truths, holds) -> None:
    """A definite answer beats an unknown; an unknown leaves both divisors open."""
    # IRC R806.2: the 2012 edition reads "one or more", later editions both (recalled).
    conditions = dict(zip(("retarder", "balance"), truths, strict=True))
    found = ventilation_divisor(conditions, usual=USUAL, with_conditions=REDUCED, needs=needs)
    assert found.conditions_hold is holds
    assert found.amount == {True: REDUCED, False: USUAL, None: Span(USUAL, REDUCED)}[holds]


def test_divisor_names_what_decided() -> None:
    """The working names the condition that is missing, not those that hold."""
    found = ventilation_divisor(
        {"retarder": None, "balance": True}, usual=USUAL, with_conditions=REDUCED, needs=Needs.ALL
    )
    assert found.steps[0].formula == "all of its conditions needed; not known: retarder"


def test_unknown_condition_never_lowers_what_is_required() -> None:
    """What is judged with an unknown condition is judged alike however it turns out."""
    vented = _area("2,377 ft2")
    for needs, other in product(Needs, (True, False, None)):
        areas = {
            truth: required_area(
                vented,
                divisor=ventilation_divisor(
                    {"retarder": truth, "balance": other},
                    usual=USUAL,
                    with_conditions=REDUCED,
                    needs=needs,
                ).amount,
            ).area
            for truth in (True, False, None)
        }
        for provided in range(1000, 2500, 50):
            order = compare(provided * SQUARE_INCH, areas[None])
            if order is not None:
                for truth in (True, False):
                    assert compare(provided * SQUARE_INCH, areas[truth]) == order


def test_counted_and_screened_vents() -> None:
    """Vents count by piece; a screened opening by the share its screen leaves free."""
    # Computed: 6 x 50 in2; 2 gables of 300 in2 gross at 40 % free.
    counted = CountedVents(name="roof vents", count=6, area=_area("50 in2"))
    screened = ScreenedOpenings(
        name="gables", gross=_area("300 in2"), free_share=Fraction(2, 5), count=2
    )
    assert free_area(counted).area == 300 * SQUARE_INCH
    assert free_area(screened).area == 240 * SQUARE_INCH
    found = provided_area(high_vents=[counted], low_vents=[], elsewhere=[screened])
    assert (found.high, found.low, found.elsewhere) == (300 * SQUARE_INCH, 0, 240 * SQUARE_INCH)
    assert found.total == 540 * SQUARE_INCH


def test_closed_pieces_of_a_slot_give_no_air() -> None:
    """A ridge slot counts for the length that is open, not for the length of the vent on it."""
    # Computed: (40 - 6 - 2) ft x 18 in2/ft.
    closed = (6 * NM_PER_FOOT, 2 * NM_PER_FOOT)
    found = free_area(_run("ridge", "40 ft", "18 in2/ft", closed=closed))
    assert found.area == 576 * SQUARE_INCH
    all_closed = free_area(_run("ridge", "40 ft", "18 in2/ft", closed=(40 * NM_PER_FOOT,)))
    assert all_closed.area == 0


def test_narrow_slot_throttles_its_vent() -> None:
    """No more air passes than the slot lets through: 1 in of slot is 12 in2 a foot at most."""
    # Computed: a slot as wide as w opens w per length; common practice, no source.
    narrow = free_area(_run("ridge", "10 ft", "18 in2/ft", slot=NM_PER_INCH))
    wide = free_area(_run("ridge", "10 ft", "18 in2/ft", slot=2 * NM_PER_INCH))
    assert narrow.area == 120 * SQUARE_INCH
    assert wide.area == 180 * SQUARE_INCH


def test_nothing_provided_has_no_share_of_it() -> None:
    """Without any vent the whole requirement is lacking, and shares of nothing are None."""
    found = balance(provided_area(high_vents=[], low_vents=[]), required=_area("100 in2"))
    assert found.shortfall == 100 * SQUARE_INCH
    assert found.high_of_required == found.low_of_required == 0
    assert found.high_of_provided is None
    assert found.low_of_provided is None


def test_share_of_provided_stays_a_share() -> None:
    """An area known between two values has a share between 0 and 1 of the whole."""
    vent = CountedVents(name="hood", count=1, area=Span(10, 1000))
    found = balance(provided_area(high_vents=[vent], low_vents=[]), required=500)
    assert isinstance(found.high_of_provided, Span)
    assert (found.high_of_provided.low, found.high_of_provided.high) == (Fraction(1, 100), 1)
    assert found.shortfall == Span(0, 490)


def test_length_that_cures_a_shortfall() -> None:
    """The length is exact; what to cut is the next whole inch."""
    # Computed: 100 in2 at 18 in2/ft is 66 2/3 in.
    found = length_to_cure(100 * SQUARE_INCH, per_length=18 * PER_FOOT)
    assert found.length == Fraction(200, 3) * NM_PER_INCH
    assert found.to_cut == 67 * NM_PER_INCH
    assert length_to_cure(0, per_length=PER_FOOT).to_cut == 0


@given(
    vented=st.integers(1, 20000),
    ridge=st.integers(0, 300),
    rate=st.fractions(1, 30, max_denominator=16),
)
def test_cure_makes_good_what_is_lacking(vented, ridge, rate) -> None:
    """With the length that cures it added, the shortfall is exactly 0, and not with less."""
    required = required_area(vented * SQUARE_FOOT, divisor=USUAL).area
    run = VentRun(name="ridge", length=ridge * NM_PER_FOOT, per_length=rate * PER_FOOT)
    before = provided_area(high_vents=[run], low_vents=[])
    lacking = balance(before, required=required).shortfall
    cure = length_to_cure(lacking, per_length=rate * PER_FOOT)
    assert compare(cure.to_cut, cure.length) in {0, 1}

    def lacking_with(length):
        more = VentRun(name="more", length=length, per_length=rate * PER_FOOT)
        after = provided_area(high_vents=[run, more], low_vents=[])
        return balance(after, required=required).shortfall

    assert lacking_with(cure.length) == 0
    if lacking:
        assert compare(lacking_with(cure.length * Fraction(99, 100)), 0) == 1


def test_high_vents_lie_near_the_ridge() -> None:
    """A vent exactly at the distance is high; one that may lie on either side is not known."""
    # IRC R806.2: no more than 3 ft below the ridge.
    three = 3 * NM_PER_FOOT
    assert counts_as_high(three, at_most=three) is True
    assert counts_as_high(three + 1, at_most=three) is False
    assert counts_as_high(Span(three - 1, three + 1), at_most=three) is None


def test_share_on_either_end_is_within() -> None:
    """A share range is closed; a span across an end is not known, one outside is not within."""
    least, most = Fraction(2, 5), Fraction(1, 2)
    for share, answer in (
        (least, True),
        (most, True),
        (Fraction(39, 100), False),
        (Span(Fraction(39, 100), Fraction(41, 100)), None),
        (Span(least, most), True),
    ):
        assert is_share_between(share, least=least, most=most) is answer


def test_working_reads_to_the_result() -> None:
    """The working ends in the result and prints in the trade's units."""
    found = required_area(_area("10,600 ft2"), divisor=REDUCED)
    lines = [written(step, units=Units.INCH) for step in found.steps]
    assert lines[0] == "vented area: 10600 ft²"
    assert lines[-1].startswith("required net free area: vented area / divisor")
    assert found.steps[-1].amount == found.area
    labels = [step.label for step in _prior_lake().steps]
    assert labels[-1] == "provided in all"
    assert "ridge, length open" in labels


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: required_area(0, divisor=150), "vented area is more than 0"),
        (lambda: required_area(1, divisor=0), "divisor is more than 0"),
        (lambda: CountedVents(name="v", count=-1, area=1), "count of vents is 0 or more"),
        (lambda: CountedVents(name="v", count=1, area=-1), "area is 0 or more"),
        (lambda: VentRun(name="v", length=-1, per_length=1), "length is 0 or more"),
        (lambda: VentRun(name="v", length=1, per_length=-1), "per length is 0 or more"),
        (lambda: VentRun(name="v", length=1, per_length=1, closed=(2,)), "more of a run is closed"),
        (lambda: VentRun(name="v", length=1, per_length=1, closed=(-2,)), "piece's length is 0"),
        (lambda: VentRun(name="v", length=1, per_length=1, slot=-1), "width is 0 or more"),
        (lambda: ScreenedOpenings(name="v", gross=1, free_share=2), "no more of an opening"),
        (lambda: ScreenedOpenings(name="v", gross=-1, free_share=1), "gross area is 0 or more"),
        (lambda: ScreenedOpenings(name="v", gross=1, free_share=-1), "free share is 0 or more"),
        (lambda: ScreenedOpenings(name="v", gross=1, free_share=1, count=-1), "count of openings"),
        (lambda: length_to_cure(-1, per_length=1), "shortfall is 0 or more"),
        (lambda: length_to_cure(1, per_length=0), "area per length is more than 0"),
        (lambda: length_to_cure(1, per_length=1, whole=0), "unit to round to is more than 0"),
        (lambda: is_share_between(0, least=1, most=0), "least share"),
        (
            lambda: balance(provided_area(high_vents=[], low_vents=[]), required=0),
            "required area is more than 0",
        ),
        (
            lambda: ventilation_divisor({}, usual=1, with_conditions=2, needs=Needs.ALL),
            "at least one condition",
        ),
        (
            lambda: ventilation_divisor({"a": True}, usual=2, with_conditions=1, needs=Needs.ALL),
            "usual divisor",
        ),
    ],
)
def test_impossible_input_is_refused(make, message) -> None:
    """What can't be is refused with a message that names it."""
    with pytest.raises(ValueError, match=message):
        make()
