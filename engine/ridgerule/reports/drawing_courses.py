"""The lines of a record that have coordinates, and what of a plane they enclose."""

from __future__ import annotations

from itertools import pairwise
from math import sqrt
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.facts import Element, LineKind
from ridgerule.reports.drawing_limits import middle
from ridgerule.reports.drawing_regions import distance
from ridgerule.reports.drawing_roof import dot, figure, length, spine
from ridgerule.units import NM_PER_INCH

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from ridgerule.record import Place, Record
    from ridgerule.reports.drawing_roof import Facing
    from ridgerule.reports.drawing_svg import Point

_LEAST_APART = 3 * NM_PER_INCH
_SHARE_APART = 0.01
"""Ends nearer than this, or than this share of the roof, are one corner measured twice."""


class Course(Struct, frozen=True):
    """A line with coordinates: its points in nanometres, the second axis to the north."""

    line: Place
    points: tuple[Point, ...]
    """From the end that stations count from."""

    @property
    def edges(self) -> tuple[tuple[Point, Point], ...]:
        """Its straight parts."""
        return tuple(pairwise(self.points))

    @property
    def run(self) -> float:
        """How long it is in plan."""
        return sum(length((b[0] - a[0], b[1] - a[1])) for a, b in self.edges)

    @property
    def span(self) -> Point:
        """From its first point to its last."""
        (x0, y0), (x1, y1) = self.points[0], self.points[-1]
        return x1 - x0, y1 - y0

    @property
    def middle(self) -> Point:
        """The point halfway between its ends."""
        return mean([self.points[0], self.points[-1]])


def courses_of(record: Record) -> tuple[Course, ...]:
    """Return the lines that have coordinates, in the record's order."""
    return tuple(
        Course(
            line, tuple((_plain(east.amount), _plain(north.amount)) for east, north in line.plan)
        )
        for line in record.places[Element.LINE]
        if line.plan
    )


def _plain(amount: object) -> float:
    return float(middle(amount) or 0)  # type: ignore[arg-type]


def apart(courses: Sequence[Course]) -> float:
    """Return how near two ends have to lie to be one corner."""
    points = [point for course in courses for point in course.points]
    wide = max(x for x, _ in points) - min(x for x, _ in points)
    high = max(y for _, y in points) - min(y for _, y in points)
    return max(_LEAST_APART, _SHARE_APART * max(wide, high))


def rise_of(
    line: Place, planes: Mapping[str, Facing], slopes: Mapping[str, float | None]
) -> float | None:
    """Return how steep a line is, rise over its own run; None where that is not recorded."""
    match line.kind:
        case LineKind.RIDGE | LineKind.EAVE:
            return 0.0
        case LineKind.RAKE if line.planes:
            return slopes.get(line.planes[0])
        case LineKind.HIP | LineKind.VALLEY if all(slopes.get(id_) for id_ in line.planes or ()):
            found = spine(line, dict(planes))
            return found.rise if found else None
        case _:
            return None


def slopes_of(record: Record) -> dict[str, float | None]:
    """Return the slope of each plane, rise over run."""
    return {plane.id: figure(plane, "slope") for plane in record.places[Element.PLANE]}


def reach(course: Course, rise: float | None) -> float | None:
    """Return how long a line is along itself: as recorded, else by its run and its rise."""
    recorded = figure(course.line, "length")
    if recorded or rise is None:
        return recorded
    return course.run * sqrt(1 + rise * rise)


def open_ends(edges: Sequence[tuple[Point, Point]], near: float) -> list[Point]:
    """Return the ends that touch no other edge: none where the edges enclose something."""
    return [
        end
        for i, edge in enumerate(edges)
        for end in edge
        if not any(distance(end, other) <= near for j, other in enumerate(edges) if j != i)
    ]


def closing(
    edges: Sequence[tuple[Point, Point]], ends: Sequence[Point], down: Point | None, least: float
) -> tuple[Point, Point] | None:
    """Return the eave that nobody recorded, None unless a plane's lines leave room for just that.

    It joins the two open ends, square to the direction that the plane falls in, and below its
    lines.
    """
    if down is None or len(ends) != 2 or len(edges) < 2:
        return None
    a, b = ends
    run = b[0] - a[0], b[1] - a[1]
    size = length(run)
    above = mean([point for edge in edges for point in edge])
    foot = mean(ends)
    if not size or abs(dot(run, down)) > least * size:
        return None
    return (a, b) if dot((foot[0] - above[0], foot[1] - above[1]), down) > 0 else None


def mean(points: Sequence[Point]) -> Point:
    """Return the middle of points."""
    return sum(x for x, _ in points) / len(points), sum(y for _, y in points) / len(points)


def beside(courses: Sequence[Course], plane: str) -> Iterator[Course]:
    """Yield the lines of a plane."""
    return (course for course in courses if plane in (course.line.planes or ()))
