"""The middle of a plane on a drawing: where its name has most room."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridgerule.reports.drawing_roof import dot, length

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridgerule.reports.drawing_layout import Region
    from ridgerule.reports.drawing_svg import Point

_GRID = 16


def heart(region: Region) -> Point:
    """Return the point inside a plane that lies furthest from its edges, on a grid."""
    if region.at is not None:
        return region.at
    points = [point for edge in region.edges for point in edge]
    left, right = min(x for x, _ in points), max(x for x, _ in points)
    top, bottom = min(y for _, y in points), max(y for _, y in points)
    best: tuple[float, Point] = (-1.0, ((left + right) / 2, (top + bottom) / 2))
    if region.is_box:
        return best[1]
    for i in range(1, _GRID):
        for j in range(1, _GRID):
            point = left + (right - left) * i / _GRID, top + (bottom - top) * j / _GRID
            if _is_inside(point, region.edges):
                room = min(distance(point, edge) for edge in region.edges)
                if room > best[0] + 0.01:
                    best = room, point
    return best[1]


def _is_inside(point: Point, edges: Sequence[tuple[Point, Point]]) -> bool:
    """Tell whether edges, in whatever order, go round a point."""
    x, y = point
    crossed = 0
    for (x0, y0), (x1, y1) in edges:
        if (y0 > y) != (y1 > y) and x < x0 + (y - y0) * (x1 - x0) / (y1 - y0):
            crossed += 1
    return crossed % 2 == 1


def distance(point: Point, edge: tuple[Point, Point]) -> float:
    """Return how far a point is from an edge."""
    (x0, y0), (x1, y1) = edge
    run = x1 - x0, y1 - y0
    size = dot(run, run)
    along = 0.0 if not size else dot((point[0] - x0, point[1] - y0), run) / size
    share = min(max(along, 0.0), 1.0)
    return length((point[0] - x0 - run[0] * share, point[1] - y0 - run[1] * share))
