"""Angles between roof planes, and the slope, direction and length of what runs between them.

A plane is its slope (rise over level run, a ratio) and the compass direction it faces, in
degrees clockwise from north. With east, north and up as axes, a plane of slope s facing f has
the upward normal N = (s sin f, s cos f, 1), and everything here is ordinary solid geometry of
two such normals (direction cosines; the framing-square tables of trade handbooks are its
values for a square corner):

- the angle between the normals has the cosine
  (sA sB cos d + 1) / sqrt((1 + sA^2)(1 + sB^2)), where d is the plan angle between the
  directions faced; inside the roof a hip or ridge measures 180 deg less that angle, a valley
  180 deg and that angle;
- the line between the planes runs along NA x NB, and in plan it leaves the eaves at angles fA
  and fB that make up the corner, with sA sin fA = sB sin fB = the slope of the line.

Slopes are kept squared until the last step, since the squares stay rational where the slopes
of a hip do not: so a square hip at 12:12 is exactly 120 deg, and one at 6:12 exactly 1.5 times
its common run.
"""

from __future__ import annotations

from fractions import Fraction

from msgspec import Struct

from ridgerule.enclosures import (
    Amount,
    absolute,
    add,
    arctangent,
    high,
    low,
    multiply,
    square_root,
    subtract,
)
from ridgerule.trade.certainty import is_at_most, not_negative, positive
from ridgerule.trade.meeting import Meeting, squared
from ridgerule.trade.working import Step, given
from ridgerule.units import Dimension

_LENGTH, _ANGLE, _SLOPE = Dimension.LENGTH, Dimension.ANGLE, Dimension.SLOPE
_STRAIGHT, _TURN = 180, 360


class Angle(Struct, frozen=True):
    """An angle between two planes, inside the roof and square to the line they meet in."""

    degrees: Amount
    steps: tuple[Step, ...]


class PlanAngles(Struct, frozen=True):
    """How far in plan a hip turns away from the eave of each of its planes."""

    from_eave_a: Amount
    from_eave_b: Amount
    steps: tuple[Step, ...]


class HipSlope(Struct, frozen=True):
    """How steep a hip is: rise over its own level run, and in degrees."""

    ratio: Amount
    degrees: Amount
    steps: tuple[Step, ...]


class Backing(Struct, frozen=True):
    """The bevel of a hip's top to each side, square to the hip; below 0 it falls inwards."""

    side_a: Amount
    side_b: Amount
    steps: tuple[Step, ...]


class Factor(Struct, frozen=True):
    """A length per length of common run, a plain number."""

    ratio: Amount
    steps: tuple[Step, ...]


class LineLength(Struct, frozen=True):
    """A rafter, hip or valley: its level run in plan, its rise and its length along the slope."""

    plan_run: Amount
    rise: Amount
    length: Amount
    steps: tuple[Step, ...]


# angles between planes


def angle_between(
    slope_a: Amount, faces_a: Amount, slope_b: Amount, faces_b: Amount, *, valley: bool = False
) -> Angle:
    """Return the angle between two planes, in degrees, from the directions they face.

    Up to 180 at a hip or ridge (180 is flat), from 180 up at a valley: the directions can't say
    which of them it is. Any number will do for a direction. ValueError where a slope is below 0.
    """
    turn = _plan_angle(faces_a, faces_b)
    before = (
        given("direction plane A faces", faces_a, _ANGLE),
        given("direction plane B faces", faces_b, _ANGLE),
        Step("plan angle", "between the directions they face", turn, _ANGLE),
    )
    return _angle(_met(slope_a, slope_b, subtract(180, turn)), before, valley=valley)


def angle_at_corner(slope_a: Amount, slope_b: Amount, *, corner: Amount) -> Angle:
    """Return the angle between two planes, in degrees, from the corner their eaves make in plan.

    `corner` is measured inside the building: 90 is square, 135 an octagon's, and above 180 it is
    an inside corner, whose planes meet in a valley. ValueError where a slope is below 0, or the
    corner is not certainly between 0 and 180 or between 180 and 360 deg.
    """
    valley = _is_inside_corner(corner)
    turn = subtract(corner, 180) if valley else subtract(180, corner)
    formula = "corner less 180 deg" if valley else "180 deg less corner"
    before = (
        given("corner", corner, _ANGLE),
        Step("plan angle", formula, turn, _ANGLE),
    )
    return _angle(_met(slope_a, slope_b, corner), before, valley=valley)


def ridge_angle(slope_a: Amount, slope_b: Amount) -> Angle:
    """Return the angle at a ridge, in degrees: the hip whose planes face opposite ways.

    180 less the angle of each slope. ValueError where a slope is below 0.
    """
    meeting = _met(slope_a, slope_b, 0)
    inside = subtract(180, meeting.between_normals())
    steps = (
        *_slopes(meeting),
        Step("angle of slope A", "arctangent of slope A", arctangent(meeting.slope_a), _ANGLE),
        Step("angle of slope B", "arctangent of slope B", arctangent(meeting.slope_b), _ANGLE),
        Step("angle inside the roof", "180 deg less the angles of both slopes", inside, _ANGLE),
    )
    return Angle(inside, steps)


def angles_agree(computed: Amount, measured: Amount, *, tolerance: Amount) -> bool | None:
    """Return whether two angles differ by no more than `tolerance`; None where it can't be told.

    ValueError where the tolerance is below 0.
    """
    allowed = not_negative(tolerance, name="a tolerance")
    return is_at_most(absolute(subtract(computed, measured)), allowed)


# rafters and hips


def slope_factor(slope: Amount) -> Factor:
    """Return the length of a common rafter per length of its run: the root of 1 + slope squared.

    ValueError where the slope is below 0.
    """
    rise = not_negative(slope, name="a slope")
    factor = square_root(add(1, squared(rise)))
    step = Step("slope factor", "square root of (1 + slope x slope)", factor, None)
    return Factor(factor, (given("slope", rise, _SLOPE), step))


def rafter_length(run: Amount, *, slope: Amount) -> LineLength:
    """Return the line length of a common rafter with this level run.

    ValueError where the run or the slope is below 0.
    """
    level = not_negative(run, name="a rafter's run")
    factor = slope_factor(slope)
    rise = multiply(level, factor.steps[0].amount)
    length = multiply(level, factor.ratio)
    steps = (
        given("run", level, _LENGTH),
        *factor.steps,
        Step("rise", "run x slope", rise, _LENGTH),
        Step("length", "run x slope factor", length, _LENGTH),
    )
    return LineLength(level, rise, length, steps)


def hip_plan_angles(slope_a: Amount, slope_b: Amount, *, corner: Amount) -> PlanAngles:
    """Return the angles, in degrees, that a hip makes in plan with the eave of either plane.

    Together they are the corner; the steeper plane has the lesser. ValueError where a slope is
    not above 0, or the corner is not certainly between 0 and 180 deg. (A valley at an inside
    corner has the slope and length of a hip at 360 deg less that corner.)
    """
    hip = _hip(slope_a, slope_b, corner)
    from_a, from_b = hip.plan_angles()
    steps = (
        *_slopes(hip),
        given("corner", corner, _ANGLE),
        Step(
            "plan angle from eave A",
            "arctangent of (slope B x sine of corner / (slope A + slope B x cosine of corner))",
            from_a,
            _ANGLE,
        ),
        Step("plan angle from eave B", "corner less plan angle from eave A", from_b, _ANGLE),
    )
    return PlanAngles(from_a, from_b, steps)


def hip_slope(slope_a: Amount, slope_b: Amount, *, corner: Amount) -> HipSlope:
    """Return how steep a hip is, as rise over its own run and in degrees.

    ValueError as for `hip_plan_angles`.
    """
    hip = _hip(slope_a, slope_b, corner)
    ratio, degrees = hip.hip_slope(), hip.hip_degrees()
    steps = (
        *hip_plan_angles(slope_a, slope_b, corner=corner).steps,
        Step("hip slope", "slope A x sine of plan angle from eave A", ratio, _SLOPE),
        Step("hip angle", "arctangent of hip slope", degrees, _ANGLE),
    )
    return HipSlope(ratio, degrees, steps)


def backing(slope_a: Amount, slope_b: Amount, *, corner: Amount) -> Backing:
    """Return the backing of a hip to either side, in degrees, square to the hip.

    180 less both is the angle between the planes. A side whose hip turns away from its eave by
    more than 90 deg in plan has a backing below 0. ValueError as for `hip_plan_angles`.
    """
    hip = _hip(slope_a, slope_b, corner)
    side_a, side_b = hip.backings()
    formula = "arctangent of (sine of hip angle / tangent of plan angle from eave {})"
    steps = (
        *hip_slope(slope_a, slope_b, corner=corner).steps,
        Step("backing of side A", formula.format("A"), side_a, _ANGLE),
        Step("backing of side B", formula.format("B"), side_b, _ANGLE),
    )
    return Backing(side_a, side_b, steps)


def hip_factor(slope_a: Amount, slope_b: Amount, *, corner: Amount) -> Factor:
    """Return the length of a hip per length of the common run on side A.

    With unequal slopes the sides differ: swap them for side B. ValueError as for
    `hip_plan_angles`.
    """
    hip = _hip(slope_a, slope_b, corner)
    steps = (
        *hip_slope(slope_a, slope_b, corner=corner).steps,
        Step("hip run factor", "1 / sine of plan angle from eave A", hip.run_factor(), None),
        Step(
            "hip factor",
            "hip run factor x square root of (1 + hip slope x hip slope)",
            hip.length_factor(),
            None,
        ),
    )
    return Factor(hip.length_factor(), steps)


def hip_length(
    common_run: Amount, *, slope_a: Amount, slope_b: Amount, corner: Amount
) -> LineLength:
    """Return the run, rise and length of a hip from the run of the common rafters on side A.

    ValueError as for `hip_plan_angles`, and where the run is below 0.
    """
    level = not_negative(common_run, name="a common rafter's run")
    hip = _hip(slope_a, slope_b, corner)
    plan_run = multiply(level, hip.run_factor())
    rise = multiply(level, hip.slope_a)
    length = multiply(level, hip.length_factor())
    steps = (
        given("common run on side A", level, _LENGTH),
        *hip_factor(slope_a, slope_b, corner=corner).steps,
        Step("hip run", "common run on side A x hip run factor", plan_run, _LENGTH),
        Step("rise", "common run on side A x slope A", rise, _LENGTH),
        Step("hip length", "common run on side A x hip factor", length, _LENGTH),
    )
    return LineLength(plan_run, rise, length, steps)


def hip_length_from_plan(
    plan_run: Amount, *, slope_a: Amount, slope_b: Amount, corner: Amount
) -> LineLength:
    """Return the run, rise and length of a hip from its own level run, as a plan shows it.

    ValueError as for `hip_plan_angles`, and where the run is below 0.
    """
    level = not_negative(plan_run, name="a hip's run")
    hip = _hip(slope_a, slope_b, corner)
    rise = multiply(level, hip.hip_slope())
    length = multiply(level, hip.length_per_run())
    steps = (
        given("hip run", level, _LENGTH),
        *hip_slope(slope_a, slope_b, corner=corner).steps,
        Step("rise", "hip run x hip slope", rise, _LENGTH),
        Step(
            "hip length",
            "hip run x square root of (1 + hip slope x hip slope)",
            length,
            _LENGTH,
        ),
    )
    return LineLength(level, rise, length, steps)


def _met(slope_a: Amount, slope_b: Amount, corner: Amount) -> Meeting:
    a, b = (not_negative(slope, name="a slope") for slope in (slope_a, slope_b))
    return Meeting(a, b, corner)


def _hip(slope_a: Amount, slope_b: Amount, corner: Amount) -> Meeting:
    a, b = (positive(slope, name="the slope of a plane at a hip") for slope in (slope_a, slope_b))
    if _is_inside_corner(corner):
        raise ValueError("a hip's corner is between 0 and 180 deg: an inside corner has a valley")
    return Meeting(a, b, corner)


def _is_inside_corner(corner: Amount) -> bool:
    least, most = low(corner), high(corner)
    if least is not None and most is not None:
        if least > 0 and most < _STRAIGHT:
            return False
        if least > _STRAIGHT and most < _TURN:
            return True
    raise ValueError("a corner in plan is between 0 and 360 deg, and not 180, a straight eave")


def _plan_angle(faces_a: Amount, faces_b: Amount) -> Amount:
    """Return the angle between two directions, 0 to 180 where it is exact."""
    turn = subtract(faces_a, faces_b)
    least, most = low(turn), high(turn)
    if least is None or most is None:
        return turn
    whole_turns = round((least + most) / Fraction(2 * _TURN))
    return absolute(subtract(turn, whole_turns * _TURN))


def _slopes(meeting: Meeting) -> tuple[Step, Step]:
    return (
        given("slope A", meeting.slope_a, _SLOPE),
        given("slope B", meeting.slope_b, _SLOPE),
    )


def _angle(meeting: Meeting, before: tuple[Step, ...], *, valley: bool) -> Angle:
    between = meeting.between_normals()
    inside = add(180, between) if valley else subtract(180, between)
    steps = (
        *_slopes(meeting),
        *before,
        Step(
            "cosine of the angle between the normals",
            "(slope A x slope B x cosine of plan angle + 1) / square root of "
            "((1 + slope A x slope A) x (1 + slope B x slope B))",
            meeting.normals_cosine(),
            None,
        ),
        Step("angle between the normals", "arccosine of that", between, _ANGLE),
        Step(
            "angle inside the roof",
            f"180 deg {'plus' if valley else 'less'} the angle between the normals",
            inside,
            _ANGLE,
        ),
    )
    return Angle(inside, steps)
