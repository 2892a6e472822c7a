"""A roof laid out from the coordinates of its lines: to scale, north up, nothing moved."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from msgspec.structs import replace

from ridgerule.facts import Element, LineKind
from ridgerule.reports.drawing_agreement import SINE, bearings, lengths, reaches
from ridgerule.reports.drawing_courses import (
    apart,
    beside,
    closing,
    courses_of,
    mean,
    open_ends,
    slopes_of,
)
from ridgerule.reports.drawing_labels import AROUND
from ridgerule.reports.drawing_layout import Layout, Piece, Region, fitting
from ridgerule.reports.drawing_regions import distance
from ridgerule.reports.drawing_roof import dot, facings, length, spine
from ridgerule.reports.drawing_scale import system
from ridgerule.reports.drawing_spots import named_end
from ridgerule.reports.drawing_svg import clipped
from ridgerule.units import NM_PER_FOOT

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from ridgerule.quantities import Units
    from ridgerule.record import Place, Record
    from ridgerule.reports.drawing_courses import Course
    from ridgerule.reports.drawing_roof import Facing
    from ridgerule.reports.drawing_svg import Point

_TO_SCALE = (
    "Drawn to scale from the coordinates in the record; sloping lines are longer than drawn."
)
_CLOSED = "Edges that are not recorded join the open ends of a plane's lines."
_NO_NORTH = "North is not marked, as stated directions and coordinates disagree:"
_MOST_NOTES, _MOST_NAMED, _MOST_NAME = 6, 12, 20
_OFF = 30.0
"""How far from its only line a plane's name stands."""
_ROOM, _ASIDE = 21.0, (12.0, 24.0, 36.0)
"""How far from every line it stands, and how far it is moved for that."""


def by_coordinates(record: Record, asked: Units | None = None) -> Layout | None:
    """Return the plan that the lines' coordinates make; None where no line has any."""
    courses = courses_of(record)
    if not courses:
        return None
    near = apart(courses)
    planes, slopes = facings(record), slopes_of(record)
    against = bearings(record, courses, planes, slopes, near)
    trusted = {id_: facing for id_, facing in planes.items() if id_ not in against.planes}
    units = system((point[0].text for c in courses for point in c.line.plan), asked)
    place = fitting([point for course in courses for point in course.points])
    drafting = _Drafting(record, courses, trusted, near, place)
    regions = tuple(drafting.regions())
    drawn = {course.line.id for course in courses}
    shown = {region.plane for region in regions}
    layout = Layout(
        pieces=tuple(piece for course in courses for piece in drafting.pieces(course)),
        unrecorded=tuple(drafting.closed),
        regions=regions,
        lone_lines=tuple(x.id for x in record.places[Element.LINE] if x.id not in drawn),
        lone_planes=tuple(x.id for x in record.places[Element.PLANE] if x.id not in shown),
        north=None if against.planes else (0.0, -1.0),
        notes=(),
        has_places=True,
        is_to_scale=True,
        per_foot=place.scale * NM_PER_FOOT,
        units=units,
        courses={c.line.id: tuple(map(place, c.points)) for c in courses},
        reaches=reaches(courses, planes, slopes),
    )
    notes = [_TO_SCALE, *[_CLOSED][: len(drafting.closed)], *drafting.unenclosed()]
    notes += [_NO_NORTH, *_some(against.notes)] if against.notes else []
    notes += _some([*lengths(courses, planes, slopes, units), *_from_elsewhere(record, layout)])
    return replace(layout, notes=tuple(notes))


class _Drafting:
    """Draws lines and planes at their coordinates."""

    def __init__(
        self, record: Record, courses: Sequence[Course], planes: Mapping[str, Facing],
        near: float, place: fitting,
    ) -> None:  # fmt: skip
        self.record = record
        self.courses = courses
        self.planes = planes
        """Those whose stated direction the coordinates agree with."""
        self.near = near
        self.place = place
        self.edges = [(place(a), place(b)) for course in courses for a, b in course.edges]
        self.closed: list[tuple[Point, Point]] = []
        self.open: list[str] = []

    def pieces(self, course: Course) -> Iterator[Piece]:
        """Yield the straight parts of a line, each from its lower end to its upper, if sloping."""
        points = [self.place(point) for point in course.points]
        if self.runs_down(course):
            points.reverse()
        for start, end in pairwise(points):
            yield Piece(course.line.id, course.line.kind, start, end)

    def runs_down(self, course: Course) -> bool:
        """Tell whether a line's first point is known to be its upper one."""
        line = course.line
        up = None
        if line.kind is LineKind.RAKE and line.planes and line.planes[0] in self.planes:
            down = self.planes[line.planes[0]].down
            up = -down[0], -down[1]
        elif line.kind in (LineKind.HIP, LineKind.VALLEY):
            found = spine(line, dict(self.planes))
            up = found.way if found else None
        return up is not None and dot(course.span, up) < 0

    def regions(self) -> Iterator[Region]:
        """Yield each plane that a drawn line ends: what its lines enclose, or where they are."""
        for plane in self.record.places[Element.PLANE]:
            own = list(beside(self.courses, plane.id))
            edges = [edge for course in own for edge in course.edges]
            if not edges:
                continue
            facing = self.planes.get(plane.id)
            down = (facing.down[0], -facing.down[1]) if facing else None
            ends = open_ends(edges, self.near)
            eave = closing(edges, ends, facing.down if facing else None, SINE)
            if eave and not self.has_eave(plane.id):
                self.closed.append((self.place(eave[0]), self.place(eave[1])))
                edges.append(eave)
                ends = []
            at = None
            if ends or len(edges) < 3:
                self.open.append(plane.id)
                at = self.name_at(plane, own, down)
            sides = tuple((self.place(a), self.place(b)) for a, b in edges)
            yield Region(plane.id, sides, down, at=at)

    def has_eave(self, plane: str) -> bool:
        """Tell whether the record has an eave of a plane, drawn or not."""
        lines = self.record.places[Element.LINE]
        return any(x.kind is LineKind.EAVE and plane in (x.planes or ()) for x in lines)

    def name_at(self, plane: Place, own: Sequence[Course], down: Point | None) -> Point:
        """Return the middle of a plane's lines; of a single one, a point to the plane's side."""
        at = self.place(mean([course.middle for course in own]))
        return self.clear_of_lines(at if len(own) > 1 else self.aside(at, own[0], plane, down))

    def aside(self, at: Point, course: Course, plane: Place, down: Point | None) -> Point:
        """Return a point beside a line, on a plane's side of it."""
        size = length(course.span) or 1.0
        square = course.span[1] / size, course.span[0] / size
        is_second = (course.line.planes or ()).index(plane.id) % 2 == 1
        side = dot(square, down) if down else -1 if is_second else 1
        if course.line.kind is LineKind.EAVE and down:
            side = -side
        off = _OFF if side >= 0 else -_OFF
        return at[0] + square[0] * off, at[1] + square[1] * off

    def clear_of_lines(self, at: Point) -> Point:
        """Return the nearest point where a name lies over no line; the point itself if none is."""
        near = (at, *((at[0] + x * off, at[1] + y * off) for off in _ASIDE for x, y in AROUND))
        free = (one for one in near if all(distance(one, edge) >= _ROOM for edge in self.edges))
        return next(free, at)

    def unenclosed(self) -> Iterator[str]:
        """Yield that planes' names do not stand for their middles, where that is so."""
        if self.open:
            names = ", ".join(clipped(id_, _MOST_NAME) for id_ in self.open[:_MOST_NAMED])
            more = f" and {len(self.open) - _MOST_NAMED} more" * (len(self.open) > _MOST_NAMED)
            noun = "planes" if len(self.open) > 1 else "plane"
            them = "them: their names stand" if len(self.open) > 1 else "it: its name stands"
            yield f"The lines drawn of {noun} {names}{more} do not enclose {them} beside the lines."


def _from_elsewhere(record: Record, layout: Layout) -> Iterator[str]:
    """Yield each line whose `from:` names the end that its coordinates do not start at."""
    for line in record.places[Element.LINE]:
        course = layout.courses.get(line.id, ())
        named = named_end(record, layout, line) if course else None
        if named is not None and _is_nearer(named, course[-1], course[0]):
            kind = str(line.kind or "line").capitalize()
            yield (
                f"{kind} {clipped(line.id, _MOST_NAME)}: `from` names one end and the coordinates "
                "start at the other; stations are counted from where the coordinates start."
            )


def _is_nearer(point: Point, one: Point, other: Point) -> bool:
    return length((point[0] - one[0], point[1] - one[1])) < length(
        (point[0] - other[0], point[1] - other[1])
    )


def _some(notes: Sequence[str]) -> list[str]:
    """Return notes, so many at the most, and how many there are besides."""
    if len(notes) <= _MOST_NOTES:
        return list(notes)
    return [*notes[:_MOST_NOTES], f"And {len(notes) - _MOST_NOTES} more of this kind."]
