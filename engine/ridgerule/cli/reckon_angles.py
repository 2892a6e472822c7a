"""Sheets of angles, hips and slopes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ridgerule.cli.reckon_drawing import section, slope_section
from ridgerule.cli.reckon_sheet import Answer, Sheet
from ridgerule.enclosures import absolute, arctangent, divide, subtract
from ridgerule.facts import LineKind
from ridgerule.problems import shown
from ridgerule.quantities import write
from ridgerule.trade import geometry
from ridgerule.trade.reckonings import RECKONINGS
from ridgerule.trade.working import Step, given
from ridgerule.units import Dimension

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridgerule.cli.reckon_input import Typed
    from ridgerule.enclosures import Amount

_ANGLE, _LENGTH, _SLOPE = Dimension.ANGLE, Dimension.LENGTH, Dimension.SLOPE


@dataclass(frozen=True, slots=True)
class AngleAsked:
    """Two planes as they were typed."""

    kind: LineKind
    slopes: list[str] | None
    corner: str | None
    faces: list[str] | None


def angle(typed: Typed, asked: AngleAsked, *, measured: str | None, within: str | None) -> Sheet:
    """Return the angle between two planes. InputRejected, or ValueError for what can't be."""
    slopes = typed.pair("--slopes", asked.slopes, _SLOPE)
    if not asked.slopes:
        typed.many("--slopes", (), _SLOPE, counts=(1, 2))
    found = between(typed, asked, slopes)
    results: list[Step | Answer] = [Step("angle inside the roof", "", found.degrees, _ANGLE)]
    steps = list(found.steps)
    if measured is not None:
        compared = _compared(typed, found.degrees, measured, within)
        results += compared[0]
        steps += compared[1]
    typed.refuse()
    is_valley = asked.kind is LineKind.VALLEY
    label = write(found.degrees, _ANGLE, units=typed.units)
    return Sheet(
        name="angle",
        title=f"Angle between two planes at a {asked.kind}",
        results=tuple(results),
        steps=tuple(steps),
        sources=(RECKONINGS["included angle"].source,),
        given=tuple(typed.given),
        units=typed.units,
        drawing=section(*sides(found, slopes, asked.kind), valley=is_valley, label=label),
        notes=("Measured inside the roof, square to the line; 180 deg is flat.",),
    )


def between(typed: Typed, asked: AngleAsked, slopes: list[Amount]) -> geometry.Angle:
    """Return the angle between two planes. InputRejected, or ValueError for what can't be."""
    faces = asked.faces and typed.many("--faces", asked.faces, _ANGLE, counts=(2,))
    corner = typed.maybe("--corner", asked.corner, _ANGLE)
    if asked.corner is not None and asked.faces:
        typed.wrong("--corner", "a corner or the directions faced", "both", "leave one out")
    if asked.kind is LineKind.RIDGE and asked.corner is not None:
        typed.wrong("--corner", "no corner at a ridge", f"`{shown(asked.corner)}`", "leave it out")
    if asked.kind is not LineKind.RIDGE and asked.corner is None and not asked.faces:
        advice = "give `--corner`, 90 where it is square, or `--faces`"
        typed.wrong("--corner", "the corner or the directions faced", "neither", advice)
    typed.refuse()
    valley = asked.kind is LineKind.VALLEY
    if faces:
        return geometry.angle_between(slopes[0], faces[0], slopes[1], faces[1], valley=valley)
    if corner is None:
        return geometry.ridge_angle(*slopes)
    found = geometry.angle_at_corner(*slopes, corner=corner)
    if found.steps[-1].formula.startswith("180 deg plus") is not valley:
        kind = "hip" if valley else "valley"
        advice = "an outside corner is under 180 deg, an inside one over it"
        typed.wrong("--corner", f"the corner of a {asked.kind}", f"that of a {kind}", advice)
        typed.refuse()
    return found


def _compared(
    typed: Typed, computed: Amount, measured: str, within: str | None
) -> tuple[list[Step | Answer], list[Step]]:
    read = typed.one("--measured", measured, _ANGLE)
    tolerance = typed.one("--within", within, _ANGLE)
    typed.refuse()
    apart = absolute(subtract(computed, read))
    is_so = geometry.angles_agree(computed, read, tolerance=tolerance)
    told = {
        True: "within the tolerance",
        False: "one of these readings is wrong: a slope, the corner or the angle",
        None: "too close to compute",
    }[is_so]
    steps = [
        given("angle measured", read, _ANGLE),
        given("tolerance", tolerance, _ANGLE),
        Step("difference", "the greater angle less the lesser", apart, _ANGLE),
    ]
    return [Step("difference", "", apart, _ANGLE), Answer("the two agree", is_so, told)], steps


def sides(found: geometry.Angle, slopes: list[Amount], kind: LineKind) -> tuple[Amount, Amount]:
    """Return how far each plane lies from level in the section square to the line."""
    if kind is LineKind.RIDGE:
        return arctangent(slopes[0]), arctangent(slopes[1])
    by_label = {step.label: step.amount for step in found.steps}
    turn = by_label["plan angle"]
    try:
        backing = geometry.backing(*slopes, corner=subtract(180, turn))
    except ValueError:
        # No hip runs between planes that face the same way or opposite ways: halve the angle.
        half = divide(by_label["angle between the normals"], 2)
        return half, half
    return backing.side_a, backing.side_b


def hip(
    typed: Typed,
    slopes: list[str] | None,
    corner: str | None,
    *,
    run: str | None,
    plan_run: str | None,
) -> Sheet:
    """Return a hip's slope, backing, factor and length. InputRejected or ValueError as `angle`."""
    sides = typed.pair("--slopes", slopes, _SLOPE)
    if not slopes:
        typed.many("--slopes", (), _SLOPE, counts=(1, 2))
    in_plan = typed.maybe("--corner", corner, _ANGLE)
    common = typed.maybe("--run", run, _LENGTH)
    own = typed.maybe("--plan-run", plan_run, _LENGTH)
    if run is not None and plan_run is not None:
        typed.wrong("--plan-run", "one of the two runs", "both", "leave `--run` or it out")
    typed.refuse()
    square: Amount = 90 if in_plan is None else in_plan
    backing = geometry.backing(*sides, corner=square)
    between = geometry.angle_at_corner(*sides, corner=square)
    results, steps = _hip_angles(sides, square)
    if (length := _hip_length(sides, square, common=common, own=own)) is not None:
        results.insert(0, Step("hip length", "", length.length, _LENGTH))
        steps += [length.steps[0], *length.steps[-3 if common is not None else -2 :]]
    label = write(between.degrees, _ANGLE, units=typed.units)
    return Sheet(
        name="hip",
        title="A hip",
        results=tuple(results),
        steps=tuple(steps),
        sources=(RECKONINGS["hip slope"].source, RECKONINGS["hip factor"].source),
        given=tuple(typed.given),
        units=typed.units,
        drawing=section(backing.side_a, backing.side_b, valley=False, label=label),
        notes=("No corner was given: a square one, 90 deg.",) if in_plan is None else (),
    )


def _hip_angles(sides: Sequence[Amount], corner: Amount) -> tuple[list[Step | Answer], list[Step]]:
    side_a, side_b = sides
    slope = geometry.hip_slope(side_a, side_b, corner=corner)
    backing = geometry.backing(side_a, side_b, corner=corner)
    factor = geometry.hip_factor(side_a, side_b, corner=corner)
    between = geometry.angle_at_corner(side_a, side_b, corner=corner)
    results: list[Step | Answer] = [
        Step("hip slope", "", slope.ratio, _SLOPE),
        Step("hip angle from level", "", slope.degrees, _ANGLE),
        Step("backing, first side", "", backing.side_a, _ANGLE),
        Step("backing, second side", "", backing.side_b, _ANGLE),
        Step("angle between the planes", "", between.degrees, _ANGLE),
        Step("hip factor, per common run", "", factor.ratio, None),
    ]
    return results, [*backing.steps, *factor.steps[-2:], *between.steps[-4:]]


def _hip_length(
    sides: Sequence[Amount], corner: Amount, *, common: Amount | None, own: Amount | None
) -> geometry.LineLength | None:
    slope_a, slope_b = sides
    if common is not None:
        return geometry.hip_length(common, slope_a=slope_a, slope_b=slope_b, corner=corner)
    if own is None:
        return None
    return geometry.hip_length_from_plan(own, slope_a=slope_a, slope_b=slope_b, corner=corner)


def slope(typed: Typed, pitch: str, *, run: str | None) -> Sheet:
    """Return one slope in every form, and a rafter's length. InputRejected or ValueError."""
    ratio = typed.one("SLOPE", pitch, _SLOPE)
    level = typed.maybe("--run", run, _LENGTH)
    typed.refuse()
    factor = geometry.slope_factor(ratio)
    degrees = Step("angle from level", "arctangent of slope", arctangent(ratio), _ANGLE)
    results: list[Step | Answer] = [
        Step("slope", "", ratio, _SLOPE),
        Step("angle from level", "", degrees.amount, _ANGLE),
        Step("as a share", "", ratio, Dimension.SHARE),
        Step("slope factor", "", factor.ratio, None),
    ]
    steps = [*factor.steps, degrees]
    if level is not None:
        rafter = geometry.rafter_length(level, slope=ratio)
        results.insert(0, Step("rafter length", "", rafter.length, _LENGTH))
        results.insert(1, Step("rise", "", rafter.rise, _LENGTH))
        steps += [rafter.steps[0], *rafter.steps[-2:]]
    return Sheet(
        name="slope",
        title="A slope",
        results=tuple(results),
        steps=tuple(steps),
        sources=(RECKONINGS["slope factor"].source,),
        given=tuple(typed.given),
        units=typed.units,
        drawing=slope_section(ratio, label=write(ratio, _SLOPE, units=typed.units)),
    )
