"""Take-off of caps: whole caps by line and profile, and deliveries held against them."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridgerule.enclosures import Span, multiply, square_root
from ridgerule.quantities import Units
from ridgerule.trade.takeoff import (
    Allotment,
    Bundle,
    CapLine,
    bundles_needed,
    caps_of,
    held_against,
    takeoff,
)
from ridgerule.trade.working import written
from ridgerule.units import NM_PER_FOOT, NM_PER_INCH

# Invented lines: the figures below are computed from the formula, not published.
EXPOSURE = 7 * NM_PER_INCH


def _line(name, feet=18, profile="120 deg", **more):
    return CapLine(name=name, profile=profile, length=feet * NM_PER_FOOT, exposure=EXPOSURE, **more)


def test_caps_of_a_line() -> None:
    """Whole courses, then starts and mitres, then waste, up to a whole cap."""
    # Computed: 216 in / 7 in is 30.9, so 31; + 1 + 2 = 34; x 1.05 = 35.7, so 36.
    assert caps_of(_line("H1")).caps == 31
    assert caps_of(_line("H1", starts=1, mitres=2)).caps == 34
    assert caps_of(_line("H1", starts=1, mitres=2, waste=Fraction(1, 20))).caps == 36


def test_a_line_of_whole_courses_needs_no_cap_more() -> None:
    """21 in at 7 in is 3 caps exactly; a nanometre more is 4, and no length is none."""
    for length, caps in ((3 * EXPOSURE, 3), (3 * EXPOSURE + 1, 4), (0, 0)):
        line = CapLine(name="R", profile=0, length=length, exposure=EXPOSURE)
        assert caps_of(line).caps == caps


def test_a_length_by_a_root_counts_whole() -> None:
    """A hip whose length is irrational still has one whole count of caps."""
    # Computed: 10 ft x sqrt 2 is 169.7 in, / 7 in is 24.2.
    hip = multiply(10 * NM_PER_FOOT, square_root(2))
    assert caps_of(CapLine(name="H", profile=0, length=hip, exposure=EXPOSURE)).caps == 25


def test_a_length_between_two_counts_gives_both() -> None:
    """A length known only between two values needs a span of caps."""
    length = Span(20 * EXPOSURE, 20 * EXPOSURE + 5)
    line = CapLine(name="H", profile=0, length=length, exposure=EXPOSURE, starts=1)
    assert caps_of(line).caps == Span(21, 22)


@given(
    length=st.integers(0, 10**11),
    exposure=st.integers(10**6, 10**9),
    waste=st.fractions(0, 1, max_denominator=100),
)
def test_caps_are_enough_and_no_more(length, exposure, waste) -> None:
    """The courses cover the line and one fewer would not; waste rounds up by less than one."""
    courses = caps_of(CapLine(name="L", profile=0, length=length, exposure=exposure)).caps
    assert courses * exposure >= length
    assert courses == 0 or (courses - 1) * exposure < length
    line = CapLine(name="L", profile=0, length=length, exposure=exposure, waste=waste)
    assert 0 <= caps_of(line).caps - courses * (1 + waste) < 1


def test_profiles_add_up_from_their_lines() -> None:
    """Totals by profile keep the order lines were given in, and name their lines."""
    found = takeoff([_line("H1"), _line("R1", 10, "150 deg"), _line("H2", 12)])
    # Computed: 31, ceil(120 / 7) = 18, ceil(144 / 7) = 21.
    totals = [(p.profile, p.caps, [c.line.name for c in p.lines]) for p in found.profiles]
    assert totals == [("120 deg", 52, ["H1", "H2"]), ("150 deg", 18, ["R1"])]
    assert [c.caps for c in found.lines] == [31, 18, 21]
    assert found.steps[-2].formula == "H1 + H2"
    assert takeoff([]).profiles == ()


def test_working_of_a_line_prints() -> None:
    """Each number of the working is there, with what made it."""
    lines = [written(s, units=Units.INCH) for s in caps_of(_line("H1", starts=2)).steps]
    assert lines[0] == "H1, length: 18 ft"
    assert lines[2] == "H1, courses: length / exposure, up to a whole cap = 31"
    assert lines[3] == "H1, pieces: courses + 2 for starts + 0 for mitres = 33"
    assert lines[-1] == "H1, caps: pieces x (1 + waste), up to a whole cap = 33"


def _held():
    needed = takeoff([_line("H1"), _line("R1", 10, "150 deg"), _line("H2", 12)])
    return held_against(
        needed,
        [
            Bundle("b1", "120 deg", 40),
            Bundle("b2", "150 deg", 20),
            Bundle("b3", "90 deg", 15),
            Bundle("b4", "120 deg", 10),
        ],
    )


def test_delivery_is_short_over_or_wrong() -> None:
    """A delivery says what is short, what is over and what no line takes."""
    # Computed: 52 needed of 120 deg, 50 came; 18 of 150 deg, 20 came; none of 90 deg, 15 came.
    found = _held()
    assert [(s.profile, s.short) for s in found.short] == [("120 deg", 2)]
    assert [(s.profile, s.surplus) for s in found.surplus] == [("150 deg", 2)]
    assert [(s.profile, s.delivered) for s in found.wrong] == [("90 deg", 15)]
    assert [s.is_enough for s in found.supplies] == [False, True, True]
    assert found.unsure == ()


def test_every_bundle_belongs_somewhere() -> None:
    """Bundles go to lines of their profile in order; what no line needs goes to none."""
    assert _held().allotments == (
        Allotment("b1", "H1", 31),
        Allotment("b1", "H2", 9),
        Allotment("b2", "R1", 18),
        Allotment("b2", None, 2),
        Allotment("b3", None, 15),
        Allotment("b4", "H2", 10),
    )


def test_nothing_delivered_is_all_short() -> None:
    """With no bundle every profile is short of its whole need."""
    found = held_against(takeoff([_line("H1")]), [])
    assert [(s.profile, s.short, s.delivered) for s in found.short] == [("120 deg", 31, 0)]
    assert found.allotments == ()


def test_a_need_between_two_counts_is_unsure() -> None:
    """Where the need may be 20 or 21 and 20 came, it can't be told whether they are enough."""
    line = CapLine(
        name="H", profile=120, length=Span(20 * EXPOSURE, 20 * EXPOSURE + 5), exposure=EXPOSURE
    )
    needed = takeoff([line])
    for came, answer in ((19, False), (20, None), (21, True)):
        found = held_against(needed, [Bundle("b", 120, came)])
        assert found.supplies[0].is_enough is answer
        assert bool(found.unsure) is (answer is None)
    # Its greatest need is laid out.
    assert held_against(needed, [Bundle("b", 120, 25)]).allotments == (
        Allotment("b", "H", 21),
        Allotment("b", None, 4),
    )


bundles = st.lists(
    st.tuples(st.sampled_from("abcd"), st.sampled_from([90, 120]), st.integers(0, 60)).map(
        lambda parts: Bundle(*parts)
    )
)


@given(feet=st.lists(st.integers(0, 40), max_size=4), delivered=bundles)
def test_no_cap_is_lost(feet, delivered) -> None:
    """Every delivered cap is allotted once, no line gets more than it needs, sums agree."""
    needed = takeoff([_line(f"L{n}", f, 90 + 30 * (n % 2)) for n, f in enumerate(feet)])
    found = held_against(needed, delivered)
    assert sum(a.caps for a in found.allotments) == sum(b.caps for b in delivered)
    for item in needed.lines:
        laid = sum(a.caps for a in found.allotments if a.line == item.line.name)
        assert laid <= item.caps
    for supply in found.supplies:
        assert supply.delivered + supply.short == supply.needed + supply.surplus
        assert supply.short == 0 or supply.surplus == 0


def test_bundles_hold_whole_counts() -> None:
    """41 caps take three bundles of 20, 40 take two."""
    assert [bundles_needed(caps, per_bundle=20) for caps in (0, 40, 41)] == [0, 2, 3]
    assert bundles_needed(Span(40, 41), per_bundle=20) == Span(2, 3)


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: _line("H", -1), "length is 0 or more"),
        (lambda: CapLine(name="H", profile=1, length=1, exposure=0), "exposure is more than 0"),
        (
            lambda: CapLine(name="H", profile=1, length=1, exposure=Span(0, 1)),
            "exposure is more than 0",
        ),
        (
            lambda: CapLine(name="H", profile=1, length=Span(1, None), exposure=1),
            "need a greatest value",
        ),
        (lambda: _line("H", starts=-1), "count of starts is 0 or more"),
        (lambda: _line("H", mitres=-1), "count of mitres is 0 or more"),
        (lambda: _line("H", waste=-1), "waste share is 0 or more"),
        (lambda: takeoff([_line("H"), _line("H")]), "two lines are named H"),
        (lambda: Bundle("b", 1, -1), "count of caps is 0 or more"),
        (lambda: bundles_needed(-1, per_bundle=1), "count of caps is 0 or more"),
        (lambda: bundles_needed(1, per_bundle=0), "in a bundle is more than 0"),
    ],
)
def test_impossible_input_is_refused(make, message) -> None:
    """What can't be is refused with a message that names it."""
    with pytest.raises(ValueError, match=message):
        make()
