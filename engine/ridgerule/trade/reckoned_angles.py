"""Reckonings of angles: between planes, in plan, and of what runs between planes."""

from __future__ import annotations

from fractions import Fraction

from ridgerule.enclosures import Amount, absolute, add, high, low, subtract
from ridgerule.facts import LineKind, Plain
from ridgerule.trade import geometry
from ridgerule.trade.reckoning import Found, Given, Input, reckoning
from ridgerule.trade.working import Step, given
from ridgerule.units import Dimension

_ANGLE, _SLOPE = Dimension.ANGLE, Dimension.SLOPE
_PLANES = "solid geometry of two planes, by direction cosines"
_SQUARE = "framing-square tables of trade handbooks; solid geometry of two planes"

SLOPES = Input("slopes", _SLOPE, "the slopes of the two planes", many=True, counts=(2,))
FACES = Input(
    "faces",
    _ANGLE,
    "the compass directions the two planes face, in the order of their slopes",
    many=True,
    counts=(2,),
)
CORNER = Input("corner", _ANGLE, "the corner of the two eaves in plan, inside the building")
KIND = Input(
    "kind",
    Plain.CHOICE,
    "hip, ridge or valley: directions alone can't tell a valley from a hip",
    choices=tuple(LineKind),
)


def plan_corner(faces_a: Amount, faces_b: Amount, *, valley: bool) -> Found:
    """Return the corner in plan, in degrees, and its working.

    180 less the plan angle between the directions faced: 90 at a square hip; at a valley 180
    and that angle, 270 at a square one. Planes facing opposite ways have parallel eaves: the
    corner is then 0, a ridge.
    """
    turn = _turn(faces_a, faces_b)
    corner = add(180, turn) if valley else subtract(180, turn)
    formula = f"180 deg {'plus' if valley else 'less'} plan angle"
    steps = (
        given("direction plane A faces", faces_a, _ANGLE),
        given("direction plane B faces", faces_b, _ANGLE),
        Step("plan angle", "between the directions they face", turn, _ANGLE),
        Step("corner", formula, corner, _ANGLE),
    )
    return corner, steps


def _turn(faces_a: Amount, faces_b: Amount) -> Amount:
    """Return the angle between two directions, 0 to 180 where it is exact."""
    turn = subtract(faces_a, faces_b)
    least, most = low(turn), high(turn)
    if least is None or most is None:
        return turn
    whole_turns = round(Fraction(least + most) / 720)
    return absolute(subtract(turn, 360 * whole_turns))


def _is_valley(given: Given) -> bool:
    (kind,) = given.words("kind")
    if kind in {LineKind.EAVE, LineKind.RAKE}:
        raise ValueError(f"an {kind} has no second plane" if kind == "eave" else _RAKE)
    return kind == LineKind.VALLEY


_RAKE = "a rake has no second plane"


def _included(given: Given) -> Found:
    (slope_a, slope_b), (faces_a, faces_b) = given.amounts("slopes"), given.amounts("faces")
    valley = _is_valley(given)
    found = geometry.angle_between(slope_a, faces_a, slope_b, faces_b, valley=valley)
    return found.degrees, found.steps


def _at_corner(given: Given) -> Found:
    found = geometry.angle_at_corner(*given.amounts("slopes"), corner=given.amount("corner"))
    return found.degrees, found.steps


def _plan_corner(given: Given) -> Found:
    return plan_corner(*given.amounts("faces"), valley=_is_valley(given))


def _ridge(given: Given) -> Found:
    found = geometry.ridge_angle(*given.amounts("slopes"))
    return found.degrees, found.steps


def _hip_slope(given: Given) -> Found:
    found = geometry.hip_slope(*given.amounts("slopes"), corner=given.amount("corner"))
    return found.ratio, found.steps[:-1]


def _hip_degrees(given: Given) -> Found:
    found = geometry.hip_slope(*given.amounts("slopes"), corner=given.amount("corner"))
    return found.degrees, found.steps


def _from_eave(given: Given) -> Found:
    found = geometry.hip_plan_angles(*given.amounts("slopes"), corner=given.amount("corner"))
    return found.from_eave_a, found.steps[:-1]


def _backing_a(given: Given) -> Found:
    found = geometry.backing(*given.amounts("slopes"), corner=given.amount("corner"))
    return found.side_a, found.steps[:-1]


def _backing_b(given: Given) -> Found:
    found = geometry.backing(*given.amounts("slopes"), corner=given.amount("corner"))
    return found.side_b, (*found.steps[:-2], found.steps[-1])


def _difference(found: Given) -> Found:
    first, second = found.amount("first"), found.amount("second")
    apart = absolute(subtract(first, second))
    steps = (
        given("first angle", first, _ANGLE),
        given("second angle", second, _ANGLE),
        Step("difference", "the greater less the lesser", apart, _ANGLE),
    )
    return apart, steps


def _agree(found: Given) -> Found:
    first, second = found.amount("first"), found.amount("second")
    tolerance = found.amount("tolerance")
    answer = geometry.angles_agree(first, second, tolerance=tolerance)
    _, steps = _difference(found)
    return answer, (*steps, given("tolerance", tolerance, _ANGLE))


_FIRST = Input("first", _ANGLE, "one angle, such as the one computed")
_SECOND = Input("second", _ANGLE, "the other, such as the one an angle finder read")

ANGLES = (
    reckoning(
        "included angle",
        inputs=(SLOPES, FACES, KIND),
        dimension=_ANGLE,
        formula="180 deg less the angle between the planes' normals, at a valley plus that angle",
        source=_PLANES,
        work=_included,
    ),
    reckoning(
        "included angle at a corner",
        inputs=(SLOPES, CORNER),
        dimension=_ANGLE,
        formula="as the included angle, the plan angle being 180 deg less the corner; over 180 "
        "deg the corner is an inside one, with a valley",
        source=_PLANES,
        work=_at_corner,
    ),
    reckoning(
        "plan corner",
        inputs=(FACES, KIND),
        dimension=_ANGLE,
        formula="180 deg less the angle between the directions faced, at a valley plus that "
        "angle; 0 deg at a ridge, whose eaves are parallel",
        source="plane geometry",
        work=_plan_corner,
    ),
    reckoning(
        "ridge angle",
        inputs=(SLOPES,),
        dimension=_ANGLE,
        formula="180 deg less the angles of both slopes, the planes facing opposite ways",
        source=_PLANES,
        work=_ridge,
    ),
    reckoning(
        "hip slope",
        inputs=(SLOPES, CORNER),
        dimension=_SLOPE,
        formula="slope of the first plane x sine of the plan angle from its eave to the hip",
        source=_SQUARE,
        work=_hip_slope,
    ),
    reckoning(
        "hip angle from level",
        inputs=(SLOPES, CORNER),
        dimension=_ANGLE,
        formula="arctangent of the hip slope",
        source=_SQUARE,
        work=_hip_degrees,
    ),
    reckoning(
        "plan angle from the first eave",
        inputs=(SLOPES, CORNER),
        dimension=_ANGLE,
        formula="arctangent of (second slope x sine of corner / (first slope + second slope x "
        "cosine of corner))",
        source=_SQUARE,
        work=_from_eave,
    ),
    reckoning(
        "backing of the first side",
        inputs=(SLOPES, CORNER),
        dimension=_ANGLE,
        formula="arctangent of (sine of the hip's angle from level / tangent of the plan angle "
        "from the first eave)",
        source=_SQUARE,
        work=_backing_a,
    ),
    reckoning(
        "backing of the second side",
        inputs=(SLOPES, CORNER),
        dimension=_ANGLE,
        formula="arctangent of (sine of the hip's angle from level / tangent of the plan angle "
        "from the second eave)",
        source=_SQUARE,
        work=_backing_b,
    ),
    reckoning(
        "difference of two angles",
        inputs=(_FIRST, _SECOND),
        dimension=_ANGLE,
        formula="the greater less the lesser",
        source="arithmetic",
        work=_difference,
    ),
    reckoning(
        "angles agree",
        inputs=(_FIRST, _SECOND, Input("tolerance", _ANGLE, "how far apart they may be")),
        dimension=Plain.YES_NO,
        formula="whether their difference is at most the tolerance",
        source="arithmetic",
        work=_agree,
    ),
)
