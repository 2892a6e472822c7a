"""Roof angles agree with the handbooks, with vectors worked out elsewhere, and with themselves."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from ridgerule.enclosures import (
    UNBOUNDED,
    Span,
    add,
    arctangent,
    high,
    low,
    multiply,
    subtract,
    tangent,
)
from ridgerule.quantities import Dimension, Quantity, read, write
from ridgerule.trade import geometry, working
from ridgerule.trade.geometry import (
    angle_at_corner,
    angle_between,
    angles_agree,
    backing,
    hip_factor,
    hip_length,
    hip_length_from_plan,
    hip_plan_angles,
    hip_slope,
    rafter_length,
    ridge_angle,
    slope_factor,
)
from ridgerule.trade.working import Step, written
from ridgerule.units import NM_PER_FOOT, NM_PER_INCH, Units

if TYPE_CHECKING:
    from collections.abc import Callable

    from ridgerule.enclosures import Amount

SQUARE, OCTAGON = 90, 135
PLACES_2, PLACES_4 = Fraction(6, 1000), Fraction(15, 100_000)
CASES = 3000

slopes = st.fractions(min_value=Fraction(1, 48), max_value=4, max_denominator=48)
level_or_sloping = st.just(Fraction(0)) | slopes
directions = st.fractions(min_value=0, max_value=360, max_denominator=8)
corners = st.fractions(min_value=10, max_value=170, max_denominator=8)
small = st.fractions(min_value=Fraction(1, 10**9), max_value=Fraction(1, 100))


def _slope(text: str) -> Amount:
    """Return a slope as a record gives it."""
    quantity = read(text, Dimension.SLOPE)
    assert isinstance(quantity, Quantity), text
    return quantity.amount


def _is(amount: Amount, printed: str, tolerance: Fraction) -> bool:
    """Whether all of the amount lies within the tolerance of a printed figure."""
    value = Fraction(printed)
    return value - tolerance <= low(amount) and high(amount) <= value + tolerance


def _holds(amount: Amount, value: float, slack: float = 1e-9) -> bool:
    """Whether the amount holds what floating point found, and says it as narrowly."""
    least, most = float(low(amount)), float(high(amount))
    return most - least < slack and least - slack <= value <= most + slack


def _ends(amount: Amount) -> tuple[object, object]:
    return low(amount), high(amount)


# published figures

# Framing-square and roof-slope tables of trade handbooks; values that more than one table gives.
HANDBOOK = {
    "3:12": ("14.04", "12.37", "1.4361"),
    "4:12": ("18.43", "12.65", "1.4530"),
    "5:12": ("22.62", "13.00", "1.4743"),
    "6:12": ("26.57", "13.42", "1.5000"),
    "8:12": ("33.69", "14.42", "1.5635"),
    "10:12": ("39.81", "15.62", "1.6415"),
    "12:12": ("45.00", "16.97", "1.7321"),
}


@pytest.mark.parametrize("slope", HANDBOOK)
def test_rafters_and_square_hips_come_out_as_the_handbooks_print_them(slope: str) -> None:
    """Degrees, rafter length per foot of run and hip factor are those of the tables."""
    degrees, per_foot, factor = HANDBOOK[slope]
    s = _slope(slope)
    rafter = rafter_length(12, slope=s)
    assert _is(arctangent(s), degrees, PLACES_2)
    assert _is(rafter.length, per_foot, PLACES_2)
    assert _is(hip_factor(s, s, corner=SQUARE).ratio, factor, PLACES_4)


def test_a_navy_rafter_and_a_navy_hip_come_out_as_printed() -> None:
    """US Navy, NAVEDTRA 14044, fig. 2-17 (7:12, run 8 ft) and its hip (8:12, run 15 ft)."""
    rafter = rafter_length(8 * NM_PER_FOOT, slope=_slope("7:12"))
    printed = 9 * 12 + 3 + Fraction(1, 8)
    assert abs(Fraction(low(rafter.length)) / NM_PER_INCH - printed) < Fraction(1, 16)
    assert _is(multiply(12, slope_factor(_slope("7:12")).ratio), "13.89", PLACES_2)
    slope = _slope("8:12")
    hip = hip_length(15, slope_a=slope, slope_b=slope, corner=SQUARE)
    assert _is(hip.plan_run, "21.21", PLACES_2)
    assert hip.rise == 10
    assert _is(hip.length, "23.45", PLACES_2)


def test_griffith_lays_out_hips_with_17_and_13() -> None:
    """Griffith, Carpentry, s. 23 and 38: 16.97 in of hip run per foot, 12.99 on an octagon."""
    for corner, printed in ((SQUARE, "16.97"), (OCTAGON, "12.99")):
        hip = hip_length(12, slope_a=1, slope_b=1, corner=corner)
        assert _is(hip.plan_run, printed, PLACES_2)


def test_an_unequal_hip_comes_out_as_the_trade_has_it() -> None:
    """8:12 with 10:12 on square eaves, after a trade article; recomputed."""
    a, b = _slope("8:12"), _slope("10:12")
    plan, hip = hip_plan_angles(a, b, corner=SQUARE), hip_slope(a, b, corner=SQUARE)
    bevel = backing(a, b, corner=SQUARE)
    assert _is(plan.from_eave_a, "51.340", Fraction(1, 1000))
    assert _is(plan.from_eave_b, "38.660", Fraction(1, 1000))
    assert _is(hip.degrees, "27.50", PLACES_2)
    assert _is(bevel.side_a, "20.275", Fraction(1, 1000))
    assert _is(bevel.side_b, "29.993", Fraction(1, 1000))


def test_an_octagon_hip_comes_out_as_the_trade_has_it() -> None:
    """8:12 on an octagon makes a hip of 31.6297 deg (trade reference, recomputed)."""
    hip = hip_slope(_slope("8:12"), _slope("8:12"), corner=OCTAGON)
    assert _is(hip.degrees, "31.6297", PLACES_4)


# exact at the edges (all computed: cosines that Niven's theorem knows)

EXACT_ANGLES = [
    ("square hip, 12:12", lambda: angle_at_corner(1, 1, corner=90), 120),
    ("square hip by compass, 12:12", lambda: angle_between(1, 90, 1, 180), 120),
    ("square valley, 12:12", lambda: angle_at_corner(1, 1, corner=270), 240),
    ("square valley by compass, 12:12", lambda: angle_between(1, 350, 1, 80, valley=True), 240),
    ("ridge, 12:12", lambda: ridge_angle(1, 1), 90),
    ("ridge, 4:12 and 6:12", lambda: ridge_angle(Fraction(1, 3), Fraction(1, 2)), 135),
    ("ridge, 9:12 and 16:12", lambda: ridge_angle(Fraction(3, 4), Fraction(4, 3)), 90),
    ("ridge, 30 deg twice", lambda: ridge_angle(tangent(30), tangent(30)), 120),
    (
        "ridge by compass, 30 deg twice",
        lambda: angle_between(tangent(30), 10, tangent(30), 190),
        120,
    ),
    ("ridge, 20 and 37 deg", lambda: ridge_angle(tangent(20), tangent(37)), 123),
    (
        "ridge, 12:12 and 22.5 deg",
        lambda: ridge_angle(1, tangent(Fraction(45, 2))),
        Fraction(225, 2),
    ),
    (
        "break in a slope, 60 over 20 deg",
        lambda: angle_between(tangent(60), 5, tangent(20), 5),
        140,
    ),
    ("break in a slope, 1 and 1/2", lambda: angle_between(3, 77, Fraction(1, 2), 77), 135),
    ("square hip, 45 deg written so", lambda: angle_at_corner(tangent(45), 1, corner=90), 120),
    ("two level planes", lambda: angle_between(0, 10, 0, 97), 180),
    ("a level plane and 30 deg", lambda: angle_between(0, 10, tangent(30), 97), 150),
    (
        "one plane twice, 7:12",
        lambda: angle_between(Fraction(7, 12), 31, Fraction(7, 12), 391),
        180,
    ),
    ("one plane twice, 33 deg", lambda: angle_between(tangent(33), 31, tangent(33), 31), 180),
]


@pytest.mark.parametrize(
    ("figure", "degrees"),
    [case[1:] for case in EXACT_ANGLES],
    ids=[case[0] for case in EXACT_ANGLES],
)
def test_angles_that_are_exact_stay_exact(
    figure: Callable[[], geometry.Angle], degrees: Fraction
) -> None:
    """A rational angle comes back as the very number, so a limit on it is exactly met."""
    found = figure().degrees
    assert not isinstance(found, Span)
    assert found == degrees


def test_lengths_and_bevels_that_are_exact_stay_exact() -> None:
    """Identities of square hips and rafters (computed) come back as the very number."""
    half = Fraction(1, 2)
    assert backing(1, 1, corner=SQUARE).side_a == 30
    assert hip_factor(half, half, corner=SQUARE).ratio == Fraction(3, 2)
    assert slope_factor(Fraction(9, 12)).ratio == Fraction(5, 4)
    assert slope_factor(Fraction(5, 12)).ratio == Fraction(13, 12)
    assert slope_factor(tangent(60)).ratio == 2
    assert hip_plan_angles(half, half, corner=OCTAGON).from_eave_a == Fraction(135, 2)
    assert hip_slope(Fraction(3, 4), 1, corner=SQUARE).ratio == Fraction(3, 5)
    off = subtract(backing(half, half, corner=SQUARE).side_b, arctangent(Fraction(4, 12)))
    assert -Fraction(1, 2**90) < low(off) <= 0 <= high(off) < Fraction(1, 2**90)


# against vectors worked out in floating point, by another road


def _normals(
    slope_a: float, faces_a: float, slope_b: float, faces_b: float
) -> tuple[np.ndarray, np.ndarray]:
    """Return upward unit normals: the vertical, tipped to the north, turned to the compass."""
    tip = Rotation.from_euler("x", [[-math.atan(slope_a)], [-math.atan(slope_b)]])
    turn = Rotation.from_euler("z", [[-faces_a], [-faces_b]], degrees=True)
    a, b = (turn * tip).apply([0, 0, 1])
    return a, b


def _apart(a: np.ndarray, b: np.ndarray) -> float:
    """Return the angle between two vectors in degrees."""
    return math.degrees(math.atan2(float(np.linalg.norm(np.cross(a, b))), float(a @ b)))


def _random_case(chance: np.random.Generator) -> tuple[Fraction, Fraction]:
    a, b = (Fraction(int(n), 96) for n in chance.integers(4, 240, 2))
    return a, b


def test_angles_between_planes_agree_with_rotated_normals() -> None:
    """Some thousand random pairs of planes measure what rotated normals measure."""
    chance = np.random.default_rng(20)
    for _ in range(CASES):
        a, b = _random_case(chance)
        faces = [Fraction(int(n), 4) for n in chance.integers(0, 1440, 2)]
        apart = _apart(*_normals(float(a), float(faces[0]), float(b), float(faces[1])))
        case = (a, faces[0], b, faces[1])
        assert _holds(angle_between(*case).degrees, 180 - apart, 1e-6), case
        assert _holds(angle_between(*case, valley=True).degrees, 180 + apart, 1e-6), case


def test_slopes_in_degrees_and_fine_directions_agree_with_rotated_normals() -> None:
    """A thousand pairs by protractor and compass, directions beyond a whole turn included."""
    chance = np.random.default_rng(22)
    for _ in range(CASES // 3):
        tips = [Fraction(int(n), 10) for n in chance.integers(10, 880, 2)]
        faces = [Fraction(int(n), 100) for n in chance.integers(-36_000, 72_000, 2)]
        slopes = [math.tan(math.radians(tip)) for tip in tips]
        apart = _apart(*_normals(slopes[0], float(faces[0]), slopes[1], float(faces[1])))
        found = angle_between(tangent(tips[0]), faces[0], tangent(tips[1]), faces[1]).degrees
        assert _holds(found, 180 - apart, 1e-6), (tips, faces)


def test_ridges_and_rafters_agree_with_floating_point() -> None:
    """Some thousand random ridges and rafters, by numpy's arctangent and hypotenuse."""
    chance = np.random.default_rng(23)
    for _ in range(CASES):
        a, b = _random_case(chance)
        ridge = 180 - np.degrees(np.arctan(float(a)) + np.arctan(float(b)))
        assert _holds(ridge_angle(a, b).degrees, float(ridge)), (a, b)
        assert _holds(slope_factor(a).ratio, float(np.hypot(1, float(a)))), a
        rafter = rafter_length(7, slope=a)
        assert _holds(rafter.length, float(np.hypot(7, 7 * float(a)))), a


def test_hips_agree_with_a_roof_built_of_points() -> None:
    """Some thousand random hips match the edge of two faces built and cut in floating point."""
    chance = np.random.default_rng(21)
    for _ in range(CASES // 2):
        a, b = _random_case(chance)
        corner = Fraction(int(chance.integers(80, 680)), 4)
        _check_hip(a, b, corner)


def _check_hip(a: Fraction, b: Fraction, corner: Fraction) -> None:
    # Eave A runs east from the corner, eave B turned from it by the corner; both roof inwards.
    turn = math.radians(corner)
    inward_a, inward_b = np.array([0.0, 1.0]), np.array([math.sin(turn), -math.cos(turn)])
    face_a = np.cross([1, 0, 0], [*inward_a, float(a)])
    face_b = np.cross([math.cos(turn), math.sin(turn), 0], [*inward_b, float(b)])
    face_a, face_b = (n * np.sign(n[2]) / np.linalg.norm(n) for n in (face_a, face_b))
    hip = np.cross(face_a, face_b)
    hip *= np.sign(hip[2]) / np.linalg.norm(hip)
    run = math.hypot(hip[0], hip[1])
    level = np.array([-hip[1], hip[0], 0]) / run
    top = np.cross(hip, level)
    case = (a, b, corner)

    plan = hip_plan_angles(a, b, corner=corner)
    assert _holds(plan.from_eave_a, math.degrees(math.atan2(hip[1], hip[0]))), case
    slope = hip_slope(a, b, corner=corner)
    assert _holds(slope.ratio, hip[2] / run), case
    assert _holds(slope.degrees, math.degrees(math.asin(hip[2]))), case
    bevel = backing(a, b, corner=corner)
    # Signed about the hip: how far each face is tipped to its own side of the level top.
    tips = [math.degrees(math.asin(float(np.cross(top, n) @ hip))) for n in (face_a, face_b)]
    assert _holds(bevel.side_a, tips[0]), case
    assert _holds(bevel.side_b, -tips[1]), case
    assert _holds(hip_factor(a, b, corner=corner).ratio, 1 / hip[1], 1e-7), case
    length = hip_length_from_plan(1, slope_a=a, slope_b=b, corner=corner).length
    assert _holds(length, 1 / run), case
    inside = angle_at_corner(a, b, corner=corner).degrees
    assert _holds(inside, 180 - _apart(face_a, face_b), 1e-7), case


# properties


@given(level_or_sloping, directions, level_or_sloping, directions)
def test_the_angle_is_the_same_from_either_side(
    a: Fraction, faces_a: Fraction, b: Fraction, faces_b: Fraction
) -> None:
    """Swapping the planes, or turning the whole roof, changes nothing."""
    one = angle_between(a, faces_a, b, faces_b).degrees
    assert _ends(angle_between(b, faces_b, a, faces_a).degrees) == _ends(one)
    turned = angle_between(a, faces_a + 1000, b, faces_b + 280).degrees
    assert _ends(turned) == _ends(one)
    assert low(one) >= 0
    assert high(one) <= 180


@given(slopes, slopes, corners)
def test_a_hip_seen_from_its_other_side_has_its_sides_swapped(
    a: Fraction, b: Fraction, corner: Fraction
) -> None:
    """Plan angles and backings swap with the planes; slope and angle stay."""
    assert _ends(hip_slope(a, b, corner=corner).ratio) == _ends(
        hip_slope(b, a, corner=corner).ratio
    )
    one, other = backing(a, b, corner=corner), backing(b, a, corner=corner)
    assert (_ends(one.side_a), _ends(one.side_b)) == (_ends(other.side_b), _ends(other.side_a))
    plan, seen = hip_plan_angles(a, b, corner=corner), hip_plan_angles(b, a, corner=corner)
    assert _ends(plan.from_eave_a) == _ends(seen.from_eave_b)


@given(level_or_sloping, level_or_sloping, directions)
def test_a_ridge_is_the_hip_whose_planes_face_opposite_ways(
    a: Fraction, b: Fraction, faces: Fraction
) -> None:
    """The ridge formula and the general one meet at 180 degrees, from both sides."""
    ridge = ridge_angle(a, b).degrees
    assert _ends(angle_between(a, faces, b, faces + 180).degrees) == _ends(ridge)
    nearly = Span(180 - Fraction(1, 2**80), 180 + Fraction(1, 2**80))
    general = angle_between(a, 0, b, nearly).degrees
    slack = Fraction(1, 2**32)
    assert low(general) - slack <= low(ridge) <= high(ridge) <= high(general) + slack
    assert high(general) - low(general) < slack


@given(slopes)
def test_equal_slopes_reduce_to_the_square_hip_of_the_handbooks(slope: Fraction) -> None:
    """A square hip has root 2 the run, the factor root(2 + s²), and the cosine -1/(1 + s²)."""
    square = slope * slope
    factor = hip_factor(slope, slope, corner=SQUARE).ratio
    assert low(factor) ** 2 <= 2 + square <= high(factor) ** 2
    inside = angle_at_corner(slope, slope, corner=SQUARE).degrees
    assert _holds(inside, math.degrees(math.acos(-1 / (1 + float(square)))), 1e-6)
    bevel = backing(slope, slope, corner=SQUARE)
    assert _ends(bevel.side_a) == _ends(bevel.side_b)
    hip = hip_slope(slope, slope, corner=SQUARE)
    assert _holds(bevel.side_a, math.degrees(math.atan(math.sin(math.atan(float(low(hip.ratio)))))))


@given(slopes, slopes, corners)
def test_the_backings_are_what_the_angle_lacks_to_180(
    a: Fraction, b: Fraction, corner: Fraction
) -> None:
    """Angle, backing, plan angle and length are worked out apart and fit together."""
    bevel, inside = backing(a, b, corner=corner), angle_at_corner(a, b, corner=corner)
    gap = subtract(add(inside.degrees, add(bevel.side_a, bevel.side_b)), 180)
    assert low(gap) <= 0 <= high(gap)
    plan = hip_plan_angles(a, b, corner=corner)
    gap = subtract(add(plan.from_eave_a, plan.from_eave_b), corner)
    assert low(gap) <= 0 <= high(gap)
    of_common = hip_length(NM_PER_FOOT, slope_a=a, slope_b=b, corner=corner)
    of_plan = hip_length_from_plan(of_common.plan_run, slope_a=a, slope_b=b, corner=corner)
    for one, other in ((of_common.length, of_plan.length), (of_common.rise, of_plan.rise)):
        gap = subtract(one, other)
        assert low(gap) <= 0 <= high(gap)
        assert high(gap) - low(gap) < 1


@given(slopes, slopes, corners)
def test_an_inside_corner_mirrors_the_outside_one(
    a: Fraction, b: Fraction, corner: Fraction
) -> None:
    """The valley of an inside corner is as far above 180 as the outside corner's hip is below."""
    hip = angle_at_corner(a, b, corner=corner).degrees
    valley = angle_at_corner(a, b, corner=360 - corner).degrees
    assert _ends(subtract(valley, 180)) == _ends(subtract(180, hip))


@given(level_or_sloping, directions, level_or_sloping, directions, small)
def test_a_small_change_of_slope_has_no_larger_effect(
    a: Fraction, faces_a: Fraction, b: Fraction, faces_b: Fraction, change: Fraction
) -> None:
    """The angle changes by no more than the plane was tipped: sides of a triangle on a sphere."""
    before, after = (angle_between(s, faces_a, b, faces_b).degrees for s in (a, a + change))
    moved = subtract(after, before)
    tipped = subtract(arctangent(a + change), arctangent(a))
    slack = Fraction(1, 2**40)
    assert -high(tipped) - slack <= low(moved)
    assert high(moved) <= high(tipped) + slack


@given(level_or_sloping, directions, level_or_sloping, directions, small)
def test_a_small_change_of_direction_has_no_larger_effect(
    a: Fraction, faces_a: Fraction, b: Fraction, faces_b: Fraction, change: Fraction
) -> None:
    """The angle changes by no more than the plane was turned, opposite directions included."""
    before, after = (angle_between(a, f, b, faces_b).degrees for f in (faces_a, faces_a + change))
    moved = subtract(after, before)
    slack = Fraction(1, 2**40)
    assert -change - slack <= low(moved)
    assert high(moved) <= change + slack


@given(slopes, slopes, st.integers(1, 400))
def test_units_never_matter(a: Fraction, b: Fraction, inches: int) -> None:
    """Inches or millimetres, ratio or per cent or degrees: the same roof has the same figures."""
    in_inches = read(f"{inches} in", Dimension.LENGTH)
    in_mm = read(f"{inches * 254 // 10}.{inches * 254 % 10} mm", Dimension.LENGTH)
    lengths = [
        hip_length(run.amount, slope_a=a, slope_b=b, corner=SQUARE).length
        for run in (in_inches, in_mm)
    ]
    assert lengths[0] == lengths[1]
    as_ratio = ridge_angle(_slope("9:12"), _slope(f"{a.numerator}:{a.denominator}")).degrees
    assert as_ratio == ridge_angle(_slope("75 %"), a).degrees
    assert ridge_angle(_slope("45 deg"), a).degrees == ridge_angle(_slope("12:12"), a).degrees


@given(slopes, slopes, small, corners)
def test_an_interval_of_slopes_holds_every_slope_in_it(
    a: Fraction, b: Fraction, half: Fraction, corner: Fraction
) -> None:
    """What a slope with an uncertainty comes to encloses what the slope itself comes to."""
    wide = Span(a - half, a + half)
    for figure in (
        lambda s: angle_at_corner(s, b, corner=corner).degrees,
        lambda s: hip_slope(s, b, corner=corner).ratio,
        lambda s: hip_plan_angles(s, b, corner=corner).from_eave_b,
        lambda s: backing(s, b, corner=corner).side_a,
        lambda s: hip_factor(s, b, corner=corner).ratio,
        lambda s: slope_factor(s).ratio,
    ):
        around, inside = figure(wide), figure(a)
        assert low(around) is None or low(around) <= low(inside)
        assert high(around) is None or high(inside) <= high(around)


def test_an_interval_may_reach_to_both_sides_of_a_square_turn() -> None:
    """A hip that may turn from its eave by less or more than 90 degrees is held by one interval."""
    least, most, b = Fraction(1, 2), Fraction(3, 4), Fraction(9, 10)
    around = hip_plan_angles(Span(least, most), b, corner=OCTAGON).from_eave_a
    inside = [hip_plan_angles(a, b, corner=OCTAGON).from_eave_a for a in (most, least)]
    assert 0 <= low(around) <= low(inside[0]) < 90 < high(inside[1]) <= high(around) <= 180
    assert high(backing(least, b, corner=OCTAGON).side_a) < 0


def test_an_unknown_direction_leaves_every_angle_the_slopes_can_make() -> None:
    """From one plane to a ridge: 12:12 twice makes 90 to 180 degrees."""
    angle = angle_between(1, UNBOUNDED, 1, 0).degrees
    assert low(angle) <= 90
    assert high(angle) == 180


def test_slopes_in_degrees_reach_as_far_as_ratios() -> None:
    """Irrational slopes give enclosures far narrower than any instrument can tell."""
    a, b = tangent(31), tangent(Fraction(83, 2))
    figures = [
        angle_at_corner(a, b, corner=OCTAGON).degrees,
        hip_plan_angles(a, b, corner=OCTAGON).from_eave_a,
        backing(a, b, corner=OCTAGON).side_b,
        hip_factor(a, b, corner=OCTAGON).ratio,
        angle_between(a, 0, b, Fraction(1, 10**6)).degrees,
    ]
    assert all(0 < high(f) - low(f) < Fraction(1, 2**60) for f in figures)


def test_planes_that_may_be_one_plane_keep_a_narrow_answer() -> None:
    """Where nothing tells two planes apart, the angle is flat to far less than an instrument."""
    for slope in (tangent(33), Fraction(7, 12)):
        flat = angle_between(slope, 10, slope, Span(10, 10 + Fraction(1, 2**120))).degrees
        assert 180 - Fraction(1, 2**32) < low(flat) <= high(flat) <= 180


def test_a_slope_without_an_upper_bound_still_has_an_answer() -> None:
    """`at least 6:12` gives the widest angle it can, and no error."""
    steep = Span(Fraction(1, 2), None)
    ridge = ridge_angle(steep, 1).degrees
    assert low(ridge) == 45
    assert _is(high(ridge), "108.43", PLACES_2)
    hip = angle_at_corner(UNBOUNDED, 1, corner=SQUARE).degrees
    assert 0 <= low(hip) <= 90
    assert 135 <= high(hip) <= 180
    assert low(slope_factor(Span(0, None)).ratio) == 1


# agreement with a measured angle


def test_a_measured_angle_agrees_up_to_its_tolerance_and_no_further() -> None:
    """On the tolerance agrees, past it does not, and an interval across it can't be told."""
    hip = angle_at_corner(1, 1, corner=SQUARE).degrees
    assert angles_agree(hip, 121, tolerance=1) is True
    assert angles_agree(hip, 119, tolerance=1) is True
    assert angles_agree(hip, Fraction(12101, 100), tolerance=1) is False
    assert angles_agree(hip, Span(120, 121), tolerance=1) is True
    assert angles_agree(hip, Span(120, 122), tolerance=1) is None
    assert angles_agree(hip, Span(122, 123), tolerance=1) is False


@given(slopes, slopes)
def test_a_computed_angle_always_agrees_with_itself(a: Fraction, b: Fraction) -> None:
    """An irrational angle is known to be itself, with no tolerance at all."""
    computed = angle_at_corner(a, b, corner=SQUARE).degrees
    assert angles_agree(computed, angle_at_corner(a, b, corner=SQUARE).degrees, tolerance=0) is True


# what can't be

IMPOSSIBLE = [
    (lambda: ridge_angle(-1, 1), "slope is 0 or more"),
    (lambda: angle_between(1, 0, Span(-2, -1), 90), "slope is 0 or more"),
    (lambda: slope_factor(Fraction(-1, 12)), "slope is 0 or more"),
    (lambda: rafter_length(-1, slope=1), "rafter's run is 0 or more"),
    (lambda: angle_at_corner(1, 1, corner=0), "corner in plan"),
    (lambda: angle_at_corner(1, 1, corner=180), "straight eave"),
    (lambda: angle_at_corner(1, 1, corner=360), "corner in plan"),
    (lambda: angle_at_corner(1, 1, corner=Span(179, 181)), "straight eave"),
    (lambda: angle_at_corner(1, 1, corner=UNBOUNDED), "corner in plan"),
    (lambda: hip_slope(0, 1, corner=90), "slope of a plane at a hip is more than 0"),
    (lambda: backing(1, 0, corner=90), "slope of a plane at a hip is more than 0"),
    (lambda: hip_plan_angles(1, 1, corner=270), "inside corner has a valley"),
    (lambda: hip_length(-1, slope_a=1, slope_b=1, corner=90), "common rafter's run"),
    (lambda: hip_length_from_plan(-1, slope_a=1, slope_b=1, corner=90), "hip's run"),
    (lambda: angles_agree(120, 120, tolerance=-1), "tolerance is 0 or more"),
]


@pytest.mark.parametrize(("figure", "message"), IMPOSSIBLE, ids=range(len(IMPOSSIBLE)))
def test_what_no_roof_can_be_is_refused(figure: Callable[[], object], message: str) -> None:
    """An impossible slope, corner, run or tolerance is named in a ValueError."""
    with pytest.raises(ValueError, match=message):
        figure()


# the working


def test_the_working_ends_in_the_result() -> None:
    """The last step of every working is the figure that comes back, its inputs stand above."""
    a, b = _slope("8:12"), _slope("10:12")
    angle = angle_at_corner(a, b, corner=SQUARE)
    hip = hip_length(NM_PER_FOOT, slope_a=a, slope_b=b, corner=SQUARE)
    assert angle.steps[-1].amount == angle.degrees
    assert hip.steps[-1].amount == hip.length
    assert [s.amount for s in angle.steps[:4]] == [a, b, SQUARE, 90]
    valley = angle_at_corner(a, b, corner=260)
    assert [s.amount for s in valley.steps[:4]] == [a, b, 260, 80]
    compass = angle_between(a, 350, b, 20)
    assert [s.amount for s in compass.steps[:5]] == [a, b, 350, 20, 30]
    labels = [step.label for step in hip.steps]
    assert len(set(labels)) == len(labels)
    for figure in (backing(a, b, corner=90), hip_slope(a, b, corner=90), ridge_angle(a, b)):
        assert [step for step in figure.steps if not step.label] == []
        assert {s.label for s in figure.steps} >= {"slope A", "slope B"}


def test_the_working_of_a_square_hip_reads_number_by_number() -> None:
    """Every line gives its number, with `≈` where the number had to be rounded."""
    steps = angle_at_corner(Fraction(7, 12), Fraction(7, 12), corner=SQUARE).steps
    assert [written(step, units=Units.INCH) for step in steps] == [
        "slope A: 7:12",
        "slope B: 7:12",
        "corner: 90 deg",
        "plan angle: 180 deg less corner = 90 deg",
        (
            "cosine of the angle between the normals: (slope A x slope B x cosine of plan angle "
            "+ 1) / square root of ((1 + slope A x slope A) x (1 + slope B x slope B)) ≈ 0.7461"
        ),
        "angle between the normals: arccosine of that ≈ 41.75 deg",
        "angle inside the roof: 180 deg less the angle between the normals ≈ 138.25 deg",
    ]


PLAIN = [
    (3, "3"),
    (Fraction(3, 2), "1.5"),
    (Fraction(1, 3), "≈ 0.3333"),
    (Span(Fraction(1, 3), Fraction(100001, 300000), "third"), "≈ 0.3333"),
    (Span(1, Fraction(3, 2)), "1 to 1.5"),
    (Span(1, None), "at least 1"),
    (Span(None, Fraction(1, 4)), "at most 0.25"),
    (UNBOUNDED, "not known"),
]


@pytest.mark.parametrize(("amount", "text"), PLAIN)
def test_a_plain_number_is_written_to_four_places(amount: Amount, text: str) -> None:
    """A number without a unit is written out where it is exact, else marked as rounded."""
    assert written(Step("factor", "", amount, None), units=Units.METRIC) == f"factor: {text}"


def test_a_step_with_a_unit_is_written_as_the_trade_writes_it() -> None:
    """A length in a working reads in the units asked for."""
    step = working.given("run", 8 * NM_PER_FOOT, Dimension.LENGTH)
    for units in Units:
        value = write(step.amount, Dimension.LENGTH, units=units)
        assert written(step, units=units) == f"run: {value}"


@given(slopes)
def test_planes_that_face_the_same_way_meet_in_a_break(slope: Fraction) -> None:
    """A break in a slope measures 180 less the difference of its two angles."""
    found = angle_between(slope, 12, 1, 12).degrees
    expected = 180 - abs(math.degrees(math.atan(float(slope))) - 45)
    assert _holds(found, expected)
