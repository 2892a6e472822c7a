"""Where the ends of hips, ridges and valleys meet, found from what planes they lie between.

Three planes with a line between each two meet in one point. A line ends there at the end from
which the third plane cuts it off: where that plane falls under it, or rises over it where the
planes meet in a valley.
"""

from __future__ import annotations

from collections import Counter
from itertools import combinations
from typing import TYPE_CHECKING

from ridgerule.facts import LineKind
from ridgerule.reports.drawing_roof import dot

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from ridgerule.reports.drawing_roof import Facing, Spine

End = tuple[str, int]
"""One end of a line: 1 is the upper one. Ends that nobody recorded have names of their own."""

_TOP = 0.3
"""A line is a plane's top or bottom if it leaves the plane within 17 deg of straight up or down."""


class NotLaidOut(Exception):  # noqa: N818 - caught by the layout alone, which then draws a ring
    """What is recorded does not make one plan."""


class Meetings:
    """Ends of lines, some of them known to be the same point."""

    def __init__(self, planes: Mapping[str, Facing], spines: Sequence[Spine]) -> None:
        """Join the ends that meet; raise `NotLaidOut` where they can't be told."""
        self.planes = planes
        self.spines = {spine.id: spine for spine in spines}
        self.of_plane: dict[str, list[Spine]] = {id_: [] for id_ in planes}
        for spine in spines:
            for plane in spine.planes:
                self.of_plane[plane].append(spine)
        self._same: dict[End, End] = {}
        self._join_corners()
        self._join_tops()

    def point(self, end: End) -> End:
        """Return the end that stands for all those in the same point."""
        while end in self._same:
            end = self._same[end]
        return end

    def join(self, one: End, other: End) -> bool:
        """Make two ends one point; tell whether they were not before."""
        a, b = self.point(one), self.point(other)
        if a != b:
            self._same[max(a, b)] = min(a, b)
        return a != b

    def side(self, spine: Spine, plane: str) -> str:
        """Return where a line bounds a plane: `left`, `right`, `top` or `bottom`."""
        facing, out = self.planes[plane], spine.out_of(plane)
        across = dot(out, facing.right)
        if abs(across) < _TOP:
            return "bottom" if dot(out, facing.down) > 0 else "top"
        return "right" if across > 0 else "left"

    def beside(self, plane: str, side: str) -> list[Spine]:
        """Return the lines that bound a plane on one side."""
        return [spine for spine in self.of_plane[plane] if self.side(spine, plane) == side]

    def is_loose(self, end: End, plane: str) -> bool:
        """Tell whether no other line of the plane ends where this one does."""
        ends = Counter(
            self.point((spine.id, which)) for spine in self.of_plane[plane] for which in (0, 1)
        )
        return ends[self.point(end)] == 1

    def notches(self, plane: str) -> list[tuple[Spine, Spine]]:
        """Return the pairs of valleys that cut another roof into the plane's eave.

        The first of a pair bounds the eave's left part, the second its right part.
        """
        return [
            (right, left)
            for right in self.beside(plane, "right")
            for left in self.beside(plane, "left")
            if right.kind is left.kind is LineKind.VALLEY
            and self.point((right.id, 1)) == self.point((left.id, 1))
        ]

    def outer(self, plane: str, side: str) -> Spine | None:
        """Return the line that bounds the plane's eave at its left or right end."""
        cut = {spine.id for pair in self.notches(plane) for spine in pair}
        found = [
            spine
            for spine in self.beside(plane, side)
            if spine.id not in cut and self.is_loose((spine.id, 0), plane)
        ]
        if len(found) > 1:
            raise NotLaidOut
        return found[0] if found else None

    def open_top(self, plane: str, side: str) -> End | None:
        """Return the upper end on one side of the plane that nothing meets yet."""
        found = [
            (spine.id, 1)
            for spine in self.beside(plane, side)
            if self.is_loose((spine.id, 1), plane)
        ]
        if len(found) > 1:
            raise NotLaidOut
        return found[0] if found else None

    def top(self, plane: str) -> Spine | None:
        """Return the line along the plane's top."""
        found = self.beside(plane, "top")
        if len(found) > 1 or self.beside(plane, "bottom"):
            raise NotLaidOut
        return found[0] if found else None

    def top_end(self, top: Spine, plane: str, side: str) -> End:
        """Return the end of a plane's top line on one side."""
        is_right = dot(top.way, self.planes[plane].right) > 0
        return top.id, int(is_right == (side == "right"))

    def _join_corners(self) -> None:
        """Join the ends of lines where three planes meet."""
        between: dict[frozenset[str], list[Spine]] = {}
        for spine in self.spines.values():
            between.setdefault(frozenset(spine.planes), []).append(spine)
        single = {pair: found[0] for pair, found in between.items() if len(found) == 1}
        for corner in _corners(single):
            lines = [single[frozenset(pair)] for pair in combinations(corner, 2)]
            ends = [self._end(line, corner, lines) for line in lines]
            for end in ends[1:]:
                self.join(ends[0], end)

    def _end(self, spine: Spine, corner: tuple[str, ...], lines: Sequence[Spine]) -> End:
        """Return the end of a line at which the third plane of a corner cuts it off."""
        third = next(self.planes[plane] for plane in corner if plane not in spine.planes)
        gains = -third.slope * dot(third.down, spine.way) - spine.rise
        valleys = sum(line.kind is LineKind.VALLEY for line in lines if line is not spine)
        is_valley = spine.kind is LineKind.VALLEY
        rises_over = valleys == 2 if is_valley else valleys > 0
        return spine.id, int((gains > 0) == rises_over)

    def _join_tops(self) -> None:
        """Join what closes the planes at their tops, until nothing more can be."""
        joined = True
        while joined:
            joined = False
            for plane in self.planes:
                joined |= self._join_top(plane)

    def _join_top(self, plane: str) -> bool:
        """Join the sides of a plane to its top, or to each other; tell whether any were joined."""
        top = self.top(plane)
        left, right = self.open_top(plane, "left"), self.open_top(plane, "right")
        if top is None:
            return left is not None and right is not None and self.join(left, right)
        joined = False
        for side, end in (("left", left), ("right", right)):
            corner = self.top_end(top, plane, side)
            if end is not None:
                if not self.is_loose(corner, plane):
                    raise NotLaidOut
                joined |= self.join(corner, end)
        return joined


def _corners(single: Mapping[frozenset[str], Spine]) -> Iterator[tuple[str, str, str]]:
    """Yield each three planes that have a line between every two."""
    neighbours: dict[str, list[str]] = {}
    for spine in single.values():
        a, b = spine.planes
        neighbours.setdefault(a, []).append(b)
        neighbours.setdefault(b, []).append(a)
    order = {plane: i for i, plane in enumerate(neighbours)}
    for a, beside in neighbours.items():
        for b, c in combinations(sorted(beside, key=order.__getitem__), 2):
            if order[a] < order[b] and frozenset((b, c)) in single:
                yield a, b, c
