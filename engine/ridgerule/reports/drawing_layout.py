"""Where the planes and lines of a roof lie on the sheet: as their geometry says, or in a ring.

A roof whose lines have coordinates is drawn from them (`drawing_coordinates`). One whose
directions, slopes and lengths make one plan is laid out by them. Any other is a ring of planes by
the direction they face, with its lines drawn between the planes that they join: it needs no fact
at all.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.facts import Element, LineKind
from ridgerule.reports.drawing_meetings import NotLaidOut
from ridgerule.reports.drawing_outline import components, outline
from ridgerule.reports.drawing_roof import SPINES, facings, spine
from ridgerule.units import Units

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from ridgerule.record import Place, Record
    from ridgerule.reports.drawing_outline import Outline
    from ridgerule.reports.drawing_roof import Facing, Spine
    from ridgerule.reports.drawing_svg import Point

SHEET = 480
"""How wide the sheet is."""
FIELD = 326
"""How wide and high the roof is drawn at the most; the rest is for words."""
HEAD = 62
_BETWEEN = 0.22
_BY_LENGTHS = "Laid out from what is recorded of directions, slopes and lengths; not to scale."
_WITHOUT_LENGTHS = (
    "Laid out from directions and slopes alone, as the lengths recorded do not fit each other; "
    "not to scale."
)


class Piece(Struct, frozen=True):
    """A line, or a part of one, on the sheet: y runs downward."""

    line: str
    kind: LineKind | None
    start: Point
    """The lower end, where one is lower."""
    end: Point


class Region(Struct, frozen=True):
    """A plane on the sheet: what encloses it, or the box that stands for it."""

    plane: str
    edges: tuple[tuple[Point, Point], ...]
    down: Point | None
    """The direction it falls in; None where that is not known."""
    is_box: bool = False
    at: Point | None = None
    """Where its name stands, where its edges do not enclose it."""


class Layout(Struct, frozen=True):
    """A roof on the sheet."""

    pieces: tuple[Piece, ...]
    unrecorded: tuple[tuple[Point, Point], ...]
    """Edges that a plane must have and that no line of the record stands for."""
    regions: tuple[Region, ...]
    lone_lines: tuple[str, ...]
    """Lines of the record that could be drawn nowhere."""
    lone_planes: tuple[str, ...]
    north: Point | None
    notes: tuple[str, ...]
    has_places: bool
    """A place along a line can be shown on it."""
    is_to_scale: bool = False
    per_foot: float = 0.0
    """How long a foot is on a sheet to scale."""
    units: Units = Units.INCH
    """What the lengths it is drawn from are written in."""
    courses: Mapping[str, tuple[Point, ...]] = {}
    """The points of each line drawn from coordinates, from the end that stations count from."""
    reaches: Mapping[str, float] = {}
    """How long each of them is along itself, in nanometres, where that is known."""


def laid_out(record: Record) -> Layout | None:
    """Return the plan that directions, slopes and lengths make; None where they make none.

    Where the lengths alone stand in the way, it is laid out without them and says so.
    """
    planes = facings(record)
    lines = record.places[Element.LINE]
    found = {line.id: spine(line, planes) for line in lines}
    spines = [one for one in found.values() if one is not None]
    if not spines or any(_is_unmet(line, found) for line in lines):
        return None
    for by_lengths in (True, False):
        try:
            parts = _parts(record, planes, spines, by_lengths=by_lengths)
        except NotLaidOut:
            continue
        return _placed(record, planes, parts, by_lengths=by_lengths)
    return None


def _parts(
    record: Record, planes: Mapping[str, Facing], spines: Sequence[Spine], *, by_lengths: bool
) -> list[Outline]:
    """Return the planes that hang together, group by group, each laid out by itself."""
    ends = (LineKind.EAVE, LineKind.RAKE)
    edges = [line for line in record.places[Element.LINE] if line.kind in ends and line.planes]
    parts = []
    for group in components(planes, spines):
        facing = {id_: planes[id_] for id_ in group}
        own = [one for one in spines if one.planes[0] in facing]
        beside = [edge for edge in edges if edge.planes and edge.planes[0] in facing]
        if own or beside:
            parts.append(outline(facing, own, beside, by_lengths=by_lengths))
    return parts


def _is_unmet(line: Place, found: Mapping[str, Spine | None]) -> bool:
    """Tell whether a line lies between planes and can't be laid out with them."""
    is_spine = line.kind in SPINES or line.kind is None
    return is_spine and bool(line.planes) and found[line.id] is None


def _placed(
    record: Record, planes: Mapping[str, Facing], parts: Sequence[Outline], *, by_lengths: bool
) -> Layout:
    """Return the parts side by side on the sheet, all in one scale."""
    moved = _side_by_side(parts)
    ends = [end for edge in moved for end in (edge[2], edge[3])]
    place = fitting(ends)
    kinds = {line.id: line.kind for line in record.places[Element.LINE]}
    drawn = [(line, ids, place(start), place(end)) for line, ids, start, end in moved]
    shown = {id_ for part in parts for id_ in part.planes}
    return Layout(
        pieces=tuple(Piece(line, kinds[line], s, e) for line, _, s, e in drawn if line),
        unrecorded=tuple((s, e) for line, _, s, e in drawn if not line),
        regions=tuple(
            Region(
                id_,
                tuple((s, e) for _, ids, s, e in drawn if id_ in ids),
                (facing.down[0], -facing.down[1]),
            )
            for id_, facing in planes.items()
            if id_ in shown
        ),
        lone_lines=_left(record, Element.LINE, (line for line, *_ in drawn)),
        lone_planes=_left(record, Element.PLANE, shown),
        north=(0.0, -1.0),
        notes=tuple(_notes(parts, by_lengths=by_lengths)),
        has_places=True,
    )


def _left(record: Record, element: Element, drawn: Iterable[str]) -> tuple[str, ...]:
    known = set(drawn)
    return tuple(place.id for place in record.places[element] if place.id not in known)


def _notes(parts: Sequence[Outline], *, by_lengths: bool) -> list[str]:
    notes = [_BY_LENGTHS]
    if not by_lengths:
        notes = [_WITHOUT_LENGTHS]
    if len(parts) > 1:
        notes.append("Parts that no recorded line joins stand side by side.")
    if any(part.sides_unsure for part in parts):
        notes.append("Which gable a rake is on is not recorded: they stand in the record's order.")
    return notes


def _side_by_side(
    parts: Sequence[Outline],
) -> list[tuple[str, tuple[str, ...], Point, Point]]:
    """Return all edges, each part moved to the right of the one before."""
    moved = []
    at = 0.0
    for part in parts:
        ends = [end for edge in part.edges for end in (edge.start, edge.end)]
        left, right = min(x for x, _ in ends), max(x for x, _ in ends)
        foot = min(y for _, y in ends)
        for edge in part.edges:
            start = edge.start[0] - left + at, edge.start[1] - foot
            end = edge.end[0] - left + at, edge.end[1] - foot
            moved.append((edge.line, edge.planes, start, end))
        at += (right - left) * (1 + _BETWEEN)
    return moved


class fitting:  # noqa: N801 - called like the function it makes
    """From points with y upward to points on the sheet, as large as there is room for."""

    def __init__(self, points: Sequence[Point]) -> None:
        """Take all points that have to fit on the sheet."""
        self._left = min(x for x, _ in points)
        self._top = max(y for _, y in points)
        wide = max(x for x, _ in points) - self._left or 1.0
        high = self._top - min(y for _, y in points) or 1.0
        self.scale = min(FIELD / wide, FIELD / high)
        self._margin = (SHEET - wide * self.scale) / 2

    def __call__(self, point: Point) -> Point:
        """Return where a point lies on the sheet."""
        x = self._margin + (point[0] - self._left) * self.scale
        return x, HEAD + (self._top - point[1]) * self.scale
