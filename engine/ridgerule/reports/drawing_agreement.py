"""Where the coordinates of a record and what else it says of directions and lengths disagree.

Nothing is corrected: the drawing follows the coordinates, and says so beside them.
"""

from __future__ import annotations

from fractions import Fraction
from math import sqrt
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.words import in_units
from ridgerule.enclosures import arctangent
from ridgerule.facts import Element, LineKind
from ridgerule.quantities import Dimension, Units, write
from ridgerule.reports.drawing_courses import beside, mean, reach, rise_of
from ridgerule.reports.drawing_limits import middle
from ridgerule.reports.drawing_roof import direction, dot, figure, length, spine
from ridgerule.reports.drawing_svg import clipped
from ridgerule.units import NM_PER_INCH, NM_PER_MM

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from ridgerule.record import Record
    from ridgerule.reports.drawing_courses import Course
    from ridgerule.reports.drawing_roof import Facing
    from ridgerule.reports.drawing_svg import Point

ASTRAY = 10
"""Degrees that a direction may be off before it is told; common practice, no source."""
SINE, COSINE = direction(Fraction(ASTRAY))
_LENGTH_ASTRAY = 0.05
"""The share a length may be off before it is told; common practice, no source."""
_MOST_NAME = 20
_COARSE = {Units.INCH: NM_PER_INCH, Units.METRIC: 10 * NM_PER_MM}
"""What lengths that come of coordinates are rounded to."""


class Bearings(Struct, frozen=True):
    """What coordinates say against the stated directions."""

    planes: frozenset[str]
    """Planes that face another way by their coordinates, or whose hip or valley runs another."""
    notes: tuple[str, ...]


def bearings(
    record: Record, courses: Sequence[Course], planes: Mapping[str, Facing],
    slopes: Mapping[str, float | None], near: float,
) -> Bearings:  # fmt: skip
    """Return which stated directions the coordinates are at odds with."""
    told: dict[str, str] = {}
    for plane in record.places[Element.PLANE]:
        facing = planes.get(plane.id)
        found = facing and _faced(plane.id, courses, facing.down, near)
        if facing and found and dot(found, facing.down) < COSINE:
            said = in_units(plane.readings["faces"][0].value or "", None)
            told[plane.id] = (
                f"Plane {clipped(plane.id, _MOST_NAME)} is stated to face {said}, and its "
                f"coordinates have it face {_degrees(found)} deg."
            )
    notes = list(told.values())
    askew = set(told)
    for course in courses:
        ids = course.line.planes or ()
        sloping = course.line.kind in (LineKind.HIP, LineKind.VALLEY)
        if sloping and not askew & set(ids) and all(slopes.get(id_) for id_ in ids):
            note = _crossed(course, courses, planes, near)
            if note:
                notes.append(note)
                told |= dict.fromkeys(ids, note)
    return Bearings(frozenset(told), tuple(notes))


def _faced(plane: str, courses: Sequence[Course], stated: Point, near: float) -> Point | None:
    """Return the direction a plane faces by its longest eave, else ridge; None where it has none.

    That its other lines lie above its eave, or below its ridge, says which side is down. Where it
    has none, the side nearer to the direction stated is taken.
    """
    own = list(beside(courses, plane))
    for kind in (LineKind.EAVE, LineKind.RIDGE):
        level = [course for course in own if course.line.kind is kind and length(course.span)]
        if level:
            longest = max(level, key=lambda course: length(course.span))
            size = length(longest.span)
            square = -longest.span[1] / size, longest.span[0] / size
            inside = mean([point for course in own for point in course.points])
            off = inside[0] - longest.middle[0], inside[1] - longest.middle[1]
            side = dot(off, square) * (-1 if kind is LineKind.EAVE else 1)
            if abs(side) <= near:
                side = dot(stated, square)
            return square if side >= 0 else (-square[0], -square[1])
    return None


def _crossed(
    course: Course, courses: Sequence[Course], planes: Mapping[str, Facing], near: float
) -> str:
    """Return how a hip or valley runs otherwise than its planes' directions and slopes have it."""
    found = spine(course.line, dict(planes))
    size = length(course.span)
    if found is None or not size:
        return ""
    name = f"{str(course.line.kind).capitalize()} {clipped(course.line.id, _MOST_NAME)}"
    stated = " and ".join(clipped(id_, _MOST_NAME) for id_ in found.planes)
    if abs(dot(course.span, found.way)) < COSINE * size:
        return (
            f"{name} runs at {_axis(course.span)} deg by its coordinates, and at "
            f"{_axis(found.way)} deg by the directions and slopes stated of {stated}."
        )
    for plane in found.planes if found.kind is LineKind.HIP else ():
        others = [c for c in beside(courses, plane) if c is not course]
        points = [point for other in others for point in other.points]
        # A plane with a valley may reach round it, past the line of its hip.
        if points and all(other.line.kind is not LineKind.VALLEY for other in others):
            at = mean(points)
            off = at[0] - course.middle[0], at[1] - course.middle[1]
            if dot(off, found.out_of(plane)) > near:
                return (
                    f"{name} has plane {clipped(plane, _MOST_NAME)} on its other side by the "
                    f"coordinates than by the directions stated of {stated}."
                )
    return ""


def lengths(
    courses: Sequence[Course], planes: Mapping[str, Facing],
    slopes: Mapping[str, float | None], units: Units,
) -> Iterator[str]:  # fmt: skip
    """Yield each line whose recorded length and coordinates contradict each other."""
    for course in courses:
        recorded = figure(course.line, "length")
        if not recorded:
            continue
        rise = rise_of(course.line, planes, slopes)
        wanted = recorded / sqrt(1 + (rise or 0) ** 2)
        off = course.run - wanted
        if off > _LENGTH_ASTRAY * wanted or (rise is not None and -off > _LENGTH_ASTRAY * wanted):
            said = _written(recorded, units)
            if rise:
                said = f"{_written(wanted, units)} by its length of {said} and its slope"
            else:
                said = f"{said} by its recorded length"
            kind = str(course.line.kind or "line").capitalize()
            yield (
                f"{kind} {clipped(course.line.id, _MOST_NAME)} is {_written(course.run, units)} "
                f"long in plan by its coordinates, and {said}."
            )


def reaches(
    courses: Sequence[Course], planes: Mapping[str, Facing], slopes: Mapping[str, float | None]
) -> dict[str, float]:
    """Return how long each line is along itself, as stations count, where that is known."""
    found = {c.line.id: reach(c, rise_of(c.line, planes, slopes)) for c in courses}
    return {line: along for line, along in found.items() if along}


def _written(amount: float, units: Units) -> str:
    coarse = _COARSE[units]
    return write(round(amount / coarse) * coarse, Dimension.LENGTH, units=units)


def _degrees(way: Point) -> int:
    """Return a direction as a compass has it."""
    east, north = Fraction(way[0]), Fraction(way[1])
    if not north:
        return 90 if east > 0 else 270
    angle = middle(arctangent(east / north)) or 0
    return round(angle + (0 if north > 0 else 180)) % 360


def _axis(way: Point) -> int:
    return _degrees(way) % 180
