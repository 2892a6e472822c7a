"""Room for words on a drawing: each is put where nothing else stands, the nearest such place."""

from __future__ import annotations

from math import sqrt
from typing import TYPE_CHECKING

from msgspec import Struct

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from ridgerule.reports.drawing_svg import Point

_HALF = sqrt(0.5)
_QUARTER = sqrt(2 + sqrt(2)) / 2, sqrt(2 - sqrt(2)) / 2
AROUND: tuple[Point, ...] = (
    (0, -1), (1, 0), (0, 1), (-1, 0),
    (_HALF, -_HALF), (_HALF, _HALF), (-_HALF, _HALF), (-_HALF, -_HALF),
    (_QUARTER[1], -_QUARTER[0]), (_QUARTER[0], -_QUARTER[1]),
    (_QUARTER[0], _QUARTER[1]), (_QUARTER[1], _QUARTER[0]),
    (-_QUARTER[1], _QUARTER[0]), (-_QUARTER[0], _QUARTER[1]),
    (-_QUARTER[0], -_QUARTER[1]), (-_QUARTER[1], -_QUARTER[0]),
)  # fmt: skip
"""Sixteen directions: above, right, below and left first, then those between them."""
_REACHES = (0, 4, 9, 15, 22, 30, 39, 49, 60, 72, 85, 100, 120, 145, 175, 210, 260, 320, 400)
_PAD = 1.5
_NEAR = 2.5
"""A line is so wide that a label this near lies over it."""
_CROSSING, _LED, _BEYOND = 75.0, 12.0, 90.0
"""What it costs a label to lie over a line, to be led to across one, or to leave the sheet."""
_LATER, _OTHER = 0.4, 2.0
"""What it costs to take a later direction, or to stand beside a later box."""


class Box(Struct, frozen=True):
    """A rectangle on a drawing, y downward."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def middle(self) -> Point:
        """The point in its middle."""
        return (self.left + self.right) / 2, (self.top + self.bottom) / 2

    def meets(self, other: Box, pad: float = _PAD) -> bool:
        """Tell whether it comes nearer to another than `pad`."""
        return (
            self.left - pad <= other.right
            and other.left <= self.right + pad
            and self.top - pad <= other.bottom
            and other.top <= self.bottom + pad
        )

    def holds(self, other: Box) -> bool:
        """Tell whether another lies inside it."""
        return (
            self.left <= other.left
            and other.right <= self.right
            and self.top <= other.top
            and other.bottom <= self.bottom
        )


def at_point(point: Point) -> Box:
    """Return a box without size."""
    return Box(*point, *point)


def box_about(x: float, y: float, width: float, height: float) -> Box:
    """Return a box around its middle."""
    return Box(x - width / 2, y - height / 2, x + width / 2, y + height / 2)


def enclosing(boxes: Iterable[Box], pad: float = 0) -> Box:
    """Return the least box that holds all of them, with room around."""
    known = list(boxes)
    return Box(
        min(box.left for box in known) - pad,
        min(box.top for box in known) - pad,
        max(box.right for box in known) + pad,
        max(box.bottom for box in known) + pad,
    )


class Board:
    """The sheet that labels are put on; remembers what stands on it."""

    def __init__(self, sheet: Box, lines: Sequence[tuple[Point, Point]] = ()) -> None:
        """Take the sheet's edges, and lines that labels had better not lie over."""
        self.sheet = sheet
        self.lines = list(lines)
        self._bounds = [(line, enclosing(map(at_point, line))) for line in self.lines]
        self.boxes: list[Box] = []

    def take(self, box: Box) -> Box:
        """Keep a place for what is drawn there anyway."""
        self.boxes.append(box)
        return box

    def is_free(self, box: Box) -> bool:
        """Tell whether nothing stands in a box."""
        return not any(box.meets(other) for other in self.boxes)

    def first_free(self, tried: Sequence[Box]) -> Box | None:
        """Return the first of several places that is free and on the sheet, and take it."""
        for box in tried:
            if self.sheet.holds(box) and self.is_free(box):
                return self.take(box)
        return None

    def beside(
        self, held: Sequence[Box], width: float, height: float, *,
        clear: float = 0, around: Sequence[Point] = AROUND,
    ) -> Box:  # fmt: skip
        """Return the best free place for a label beside one of several boxes, and take it.

        `clear` is how far it keeps off, `around` the directions tried; of boxes and directions
        the first is best. There is always room: labels leave the sheet before they overlap.
        """
        best: tuple[float, Box] | None = None
        for reach in _REACHES:
            if best is not None and best[0] <= reach:
                break
            for nth, box in enumerate(held):
                for order, way in enumerate(around):
                    cost = reach + order * _LATER + nth * _OTHER
                    tried = _beside(box, way, clear + reach, width, height)
                    if (best is None or cost < best[0]) and self.is_free(tried):
                        cost += self._cost(tried, box, best[0] - cost if best else None)
                        best = (cost, tried) if best is None or cost < best[0] else best
        if best is None:
            best = 0.0, self._under_all(held[0], width, height)
        return self.take(best[1])

    def _cost(self, box: Box, held: Box, most: float | None) -> float:
        """Return what it costs to lie over lines, to be led to across them, to leave the sheet.

        It is reckoned no further than `most`.
        """
        cost = 0.0 if self.sheet.holds(box) else _BEYOND
        near = Box(box.left - _NEAR, box.top - _NEAR, box.right + _NEAR, box.bottom + _NEAR)
        leader = nearest(held, box)
        around = enclosing([near, *map(at_point, leader)])
        for line, bounds in self._bounds:
            if most is not None and cost >= most:
                break
            if around.meets(bounds, 0):
                cost += _CROSSING if crosses(*line, near) else 0
                cost += _LED if cut(leader, line) else 0
        return cost

    def _under_all(self, held: Box, width: float, height: float) -> Box:
        lowest = max((box.bottom for box in self.boxes), default=held.bottom)
        return box_about(held.middle[0], lowest + _PAD * 2 + height / 2, width, height)


def _beside(held: Box, way: Point, reach: float, width: float, height: float) -> Box:
    """Return a box of a size that lies off another in a direction, so far from its edge."""
    across = reach + (held.right - held.left + width) / 2
    down = reach + (held.bottom - held.top + height) / 2
    # From the other's middle, out to where the two boxes' edges are `reach` apart.
    share = min(across / abs(way[0]) if way[0] else down, down / abs(way[1]) if way[1] else across)
    x, y = held.middle
    return box_about(x + way[0] * share, y + way[1] * share, width, height)


def nearest(one: Box, other: Box) -> tuple[Point, Point]:
    """Return the points at which two boxes come nearest to each other."""
    across = _nearest(one.left, one.right, other.left, other.right)
    down = _nearest(one.top, one.bottom, other.top, other.bottom)
    return (across[0], down[0]), (across[1], down[1])


def _nearest(a: float, b: float, c: float, d: float) -> tuple[float, float]:
    """Return where two stretches of a line come nearest; the middle of what they share."""
    if b < c:
        return b, c
    if d < a:
        return a, d
    middle = (max(a, c) + min(b, d)) / 2
    return middle, middle


def cut(one: tuple[Point, Point], other: tuple[Point, Point]) -> bool:
    """Tell whether two lines cross, and do not only touch."""
    a, b = _turn(one, other[0]), _turn(one, other[1])
    c, d = _turn(other, one[0]), _turn(other, one[1])
    return a * b < 0 and c * d < 0


def _turn(line: tuple[Point, Point], point: Point) -> float:
    (x0, y0), (x1, y1) = line
    return (x1 - x0) * (point[1] - y0) - (y1 - y0) * (point[0] - x0)


def crosses(start: Point, end: Point, box: Box) -> bool:
    """Tell whether a line touches a box (Liang and Barsky's way of clipping)."""
    (x, y), (dx, dy) = start, (end[0] - start[0], end[1] - start[1])
    enters, leaves = 0.0, 1.0
    for step, room in (
        (-dx, x - box.left), (dx, box.right - x), (-dy, y - box.top), (dy, box.bottom - y),
    ):  # fmt: skip
        if step == 0:
            if room < 0:
                return False
        elif step < 0:
            enters = max(enters, room / step)
        else:
            leaves = min(leaves, room / step)
    return enters <= leaves
