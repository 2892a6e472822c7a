"""Points that fit directions and lengths as well as they can be fitted: least squares."""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.reports.drawing_roof import dot

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridgerule.reports.drawing_svg import Point

_SQUARE, _LOOSE_SQUARE = 6.0, 0.4
_LONG, _USUAL, _ANCHOR = 1.0, 0.05, 1e-4
"""What weighs how much: that a line bears as computed, that it is as long as read, that a line of
unknown length is about as long as others, that the whole stays where it is."""


class Span(Struct, frozen=True):
    """An edge between two points, with the direction it ought to have."""

    start: int
    end: int
    way: Point
    is_loose: bool = False
    """Nobody recorded it: its direction is only a guess."""


class Reach(Struct, frozen=True):
    """How long some edges are together, in plan; `run` is None where that is not recorded."""

    spans: tuple[int, ...]
    run: float | None
    usual: float = 1.0
    """How long such edges are beside others, where nothing says it."""


def fitted(count: int, spans: Sequence[Span], reaches: Sequence[Reach]) -> list[Point]:
    """Return so many points that fit best; lengths that are unknown become about as the others."""
    size = 2 * count
    matrix = [[0.0] * size for _ in range(size)]
    right = [0.0] * size
    known = sorted(reach.run / len(reach.spans) for reach in reaches if reach.run)
    middle = known[len(known) // 2] if known else 1.0
    for span in spans:
        weight = _LOOSE_SQUARE if span.is_loose else _SQUARE
        across = -span.way[1], span.way[0]
        _add(matrix, right, _row([(span, across)]), 0.0, weight)
    for reach in reaches:
        parts = [spans[i] for i in reach.spans]
        if reach.run is not None:
            _add(matrix, right, _row([(s, s.way) for s in parts]), reach.run, _LONG)
        share = middle * reach.usual if reach.run is None else reach.run / len(parts)
        if reach.run is None or len(parts) > 1:
            for span in parts:
                _add(matrix, right, _row([(span, span.way)]), share, _USUAL)
    for i in range(size):
        matrix[i][i] += _ANCHOR
    found = _solved(matrix, right)
    return [(found[2 * i], found[2 * i + 1]) for i in range(count)]


_Row = dict[int, float]


def _row(parts: Sequence[tuple[Span, Point]]) -> _Row:
    """Return the factors of the coordinates in the sum of edges, each along a direction."""
    row: _Row = {}
    for span, way in parts:
        for axis in (0, 1):
            for end, sign in ((span.end, 1), (span.start, -1)):
                at = 2 * end + axis
                row[at] = row.get(at, 0.0) + sign * way[axis]
    return row


def _add(
    matrix: list[list[float]], right: list[float], row: _Row, wanted: float, weight: float
) -> None:
    """Add one wish to the normal equations."""
    square = weight * weight
    for i, a in row.items():
        right[i] += square * a * wanted
        line = matrix[i]
        for j, b in row.items():
            line[j] += square * a * b


def _solved(matrix: list[list[float]], right: list[float]) -> list[float]:
    """Return the solution of equations that are symmetric and positive definite (Gauss's way)."""
    size = len(right)
    for k in range(size):
        row, pivot = matrix[k], matrix[k][k]
        filled = [j for j in range(k + 1, size) if row[j]]
        for i in filled:
            factor = row[i] / pivot
            line = matrix[i]
            for j in filled:
                line[j] -= factor * row[j]
            right[i] -= factor * right[k]
    found = [0.0] * size
    for k in range(size - 1, -1, -1):
        row = matrix[k]
        rest = sum(row[j] * found[j] for j in range(k + 1, size) if row[j])
        found[k] = (right[k] - rest) / row[k]
    return found


def misfit(points: Sequence[Point], span: Span) -> tuple[float, float]:
    """Return how long an edge came out along its direction, and how far it strays from it."""
    (x0, y0), (x1, y1) = points[span.start], points[span.end]
    run = x1 - x0, y1 - y0
    return dot(run, span.way), abs(dot(run, (-span.way[1], span.way[0])))
