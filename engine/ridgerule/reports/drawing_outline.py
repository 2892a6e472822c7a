"""A roof's plan laid out from directions, slopes and lengths: every edge between two points.

Eaves and rakes join what the planes' other lines leave open; an edge that no line of the record
stands for is kept apart, so that nobody takes it for recorded.
"""

from __future__ import annotations

from math import sqrt
from types import MappingProxyType
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import replace

from ridgerule.facts import LineKind
from ridgerule.reports.drawing_fit import Reach, Span, fitted, misfit
from ridgerule.reports.drawing_labels import cut
from ridgerule.reports.drawing_meetings import Meetings, NotLaidOut
from ridgerule.reports.drawing_roof import Facing, figure

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from ridgerule.record import Place
    from ridgerule.reports.drawing_meetings import End
    from ridgerule.reports.drawing_roof import Spine
    from ridgerule.reports.drawing_svg import Point

_MOST_POINTS = 150
_LEAST_LENGTH, _LEAST_APART = 0.12, 0.02
_MOST_ASTRAY = 0.22
"""An edge may bear so much off its direction, in its own length, before the plan is given up."""
_MOST_STRETCHED = 1.7
_USUAL: Mapping[LineKind | None, float] = MappingProxyType(
    {
        LineKind.HIP: 1.0,
        LineKind.RIDGE: 0.8,
        LineKind.VALLEY: 0.5,
        LineKind.EAVE: 1.0,
        LineKind.RAKE: 0.6,
        None: 0.8,
    }
)
"""How long lines are beside each other where no length is recorded; any roof would do."""


class Edge(Struct, frozen=True):
    """One edge of a plane: a line of the record, a part of one, or an edge nobody recorded."""

    line: str
    """Empty for an edge that no line stands for."""
    planes: tuple[str, ...]
    start: Point
    end: Point


class Outline(Struct, frozen=True):
    """Planes that hang together, laid out; north is up the second axis."""

    planes: tuple[str, ...]
    edges: tuple[Edge, ...]
    sides_unsure: bool
    """Rakes whose gable is not recorded stand in the record's order."""


class _Wanted(Struct, frozen=True):
    """An edge before its points are known."""

    line: str
    kind: LineKind | None
    planes: tuple[str, ...]
    start: End
    end: End
    way: Point
    run: float | None
    whole: str = ""
    """Edges of one name share a run between them."""


def outline(
    planes: Mapping[str, Facing],
    spines: Sequence[Spine],
    edges: Sequence[Place],
    *,
    by_lengths: bool = True,
) -> Outline:
    """Return planes that hang together laid out with their eaves and rakes.

    Raises `NotLaidOut` where directions and slopes, and lengths where they are to count, do not
    make one plan.
    """
    drafting = _Drafting(planes, spines, edges)
    wanted = drafting.wanted()
    if not by_lengths:
        wanted = [replace(edge, run=None) for edge in wanted]
    points = sorted({end for edge in wanted for end in (edge.start, edge.end)})
    if not wanted or len(points) > _MOST_POINTS:
        raise NotLaidOut
    at = {point: i for i, point in enumerate(points)}
    spans = [Span(at[e.start], at[e.end], e.way, is_loose=not e.line) for e in wanted]
    places = fitted(len(points), spans, _reaches(wanted))
    _refuse_misfits(places, wanted, spans)
    laid = tuple(
        Edge(edge.line, edge.planes, places[span.start], places[span.end])
        for edge, span in zip(wanted, spans, strict=True)
    )
    _refuse_crossings(laid)
    return Outline(tuple(planes), laid, drafting.sides_unsure)


def _reaches(wanted: Sequence[_Wanted]) -> list[Reach]:
    shared: dict[str, list[int]] = {}
    for i, edge in enumerate(wanted):
        shared.setdefault(edge.whole or f"{i}", []).append(i)
    firsts = ((group, wanted[group[0]]) for group in shared.values())
    return [Reach(tuple(group), edge.run, _USUAL[edge.kind]) for group, edge in firsts]


def _refuse_misfits(
    places: Sequence[Point], wanted: Sequence[_Wanted], spans: Sequence[Span]
) -> None:
    """Give up where an edge came out askew, far too long or short, or the wrong way round."""
    runs = [misfit(places, span) for span in spans]
    usual = sum(run for run, _ in runs) / len(runs)
    for edge, (run, astray) in zip(wanted, runs, strict=True):
        if edge.line and (run < _LEAST_LENGTH * usual or astray > _MOST_ASTRAY * run):
            raise NotLaidOut
        if edge.run and not edge.whole:
            stretched = run / edge.run
            if not 1 / _MOST_STRETCHED < stretched < _MOST_STRETCHED:
                raise NotLaidOut


def _refuse_crossings(edges: Sequence[Edge]) -> None:
    for i, one in enumerate(edges):
        for other in edges[:i]:
            if cut((one.start, one.end), (other.start, other.end)):
                raise NotLaidOut


class _Drafting:
    """Finds the edges of every plane."""

    def __init__(
        self, planes: Mapping[str, Facing], spines: Sequence[Spine], edges: Sequence[Place]
    ) -> None:
        self.planes = planes
        self.meet = Meetings(planes, spines)
        self.edges = edges
        self.sides_unsure = False

    def wanted(self) -> list[_Wanted]:
        """Return every edge with the points between which it lies."""
        found = [
            _Wanted(one.id, one.kind, one.planes, *self.ends(one), one.way, one.run)
            for one in self.meet.spines.values()
        ]
        for facing in self.planes.values():
            found.extend(self.closing(facing))
        return found

    def ends(self, one: Spine) -> tuple[End, End]:
        """Return the points in which a line between planes ends."""
        return self.meet.point((one.id, 0)), self.meet.point((one.id, 1))

    def recorded(self, plane: Facing, kind: LineKind) -> list[Place]:
        """Return the eaves or rakes of a plane."""
        return [e for e in self.edges if e.kind is kind and e.planes == (plane.id,)]

    def closing(self, plane: Facing) -> Iterator[_Wanted]:
        """Yield the eave, the rakes and whatever else closes a plane."""
        meet, id_ = self.meet, plane.id
        spines = meet.of_plane[id_]
        ends = [(spine.id, which) for spine in spines for which in (0, 1)]
        if spines and not any(meet.is_loose(end, id_) for end in ends):
            return  # closed all round by lines between planes
        sides = {side: meet.outer(id_, side) for side in ("left", "right")}
        tops = self.tops(plane)
        open_sides = [side for side, spine in sides.items() if spine is None]
        rakes = dict(zip(open_sides, self.rakes(plane, open_sides), strict=True))
        lows = {
            side: meet.point((spine.id, 0)) if spine else (f"{id_} {side} foot", 0)
            for side, spine in sides.items()
        }
        highs = self.highs(plane, tops, rakes)
        up = -plane.down[0], -plane.down[1]
        for side in open_sides:
            rake = rakes[side]
            run = figure(rake, "length") if rake else None
            level = run / sqrt(1 + plane.slope * plane.slope) if run else None
            line = rake.id if rake else ""
            kind = LineKind.RAKE if rake else None
            yield _Wanted(line, kind, (id_,), lows[side], highs[side], up, level)
        if highs["left"] != highs["right"] and meet.top(id_) is None:
            yield _Wanted("", None, (id_,), highs["left"], highs["right"], plane.right, None)
        yield from self.eaves(plane, lows)

    def tops(self, plane: Facing) -> dict[str, End | None]:
        """Return the upper corner of a plane on each side, None where no line leads to it."""
        meet, id_ = self.meet, plane.id
        top = meet.top(id_)
        if top is not None:
            return {side: meet.point(meet.top_end(top, id_, side)) for side in ("left", "right")}
        found: dict[str, End | None] = {}
        for side in ("left", "right"):
            spine = meet.outer(id_, side)
            open_end = meet.open_top(id_, side)
            end = open_end or ((spine.id, 1) if spine else None)
            found[side] = meet.point(end) if end else None
        return found

    def highs(
        self, plane: Facing, tops: Mapping[str, End | None], rakes: Mapping[str, Place | None]
    ) -> dict[str, End]:
        """Return the upper corner of a plane on each side, new ones where none is known."""
        found: dict[str, End] = {}
        for side, other in (("left", "right"), ("right", "left")):
            known = tops[side]
            if known is None and rakes.get(side) is None:
                known = tops[other]  # a triangle, as far as anyone recorded it
            found[side] = known or (f"{plane.id} {side} head", 1)
        return found

    def rakes(self, plane: Facing, sides: Sequence[str]) -> list[Place | None]:
        """Return the rake on each open side of a plane, None where there is none."""
        found: list[Place | None] = [*self.recorded(plane, LineKind.RAKE)]
        self.sides_unsure |= bool(found) and len(sides) > 1
        return [*found, *[None] * len(sides)][: len(sides)]

    def eaves(self, plane: Facing, lows: Mapping[str, End]) -> Iterator[_Wanted]:
        """Yield the parts of a plane's eave, from left to right past what cuts into it."""
        feet = [lows["left"]]
        for right, left in self.meet.notches(plane.id):
            feet += [self.meet.point((right.id, 0)), self.meet.point((left.id, 0))]
        feet.append(lows["right"])
        parts = [*zip(feet[::2], feet[1::2], strict=True)]
        recorded = self.recorded(plane, LineKind.EAVE)
        for i, (start, end) in enumerate(parts):
            eave = recorded[i] if len(recorded) == len(parts) else next(iter(recorded), None)
            run = figure(eave, "length") if eave else None
            line = eave.id if eave else ""
            yield _Wanted(
                line, LineKind.EAVE, (plane.id,), start, end, plane.right, run, whole=line
            )


def components(planes: Mapping[str, Facing], spines: Sequence[Spine]) -> list[list[str]]:
    """Return the planes that lines between planes hold together, group by group."""
    group = {plane: {plane} for plane in planes}
    for spine in spines:
        one, other = (group[plane] for plane in spine.planes)
        if one is not other:
            one |= other
            for plane in other:
                group[plane] = one
    order = list(planes)
    seen: dict[int, list[str]] = {}
    for plane in order:
        seen.setdefault(id(group[plane]), []).append(plane)
    return list(seen.values())
