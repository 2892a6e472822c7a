"""Where on a roof plan each finding belongs: a station, a line, a joint, a plane, or nowhere."""

from __future__ import annotations

import re
from collections import defaultdict
from fractions import Fraction
from itertools import pairwise
from math import sqrt
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.facts import Element, LineKind
from ridgerule.plain_data import mapping_in, words_in
from ridgerule.reports.drawing_findings import DRAWN
from ridgerule.reports.drawing_layout import Piece
from ridgerule.reports.drawing_limits import middle
from ridgerule.reports.drawing_roof import direction, dot, figure
from ridgerule.reports.drawing_svg import clipped

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from ridgerule.record import Place, Record
    from ridgerule.reports.drawing_findings import Numbered
    from ridgerule.reports.drawing_layout import Layout
    from ridgerule.reports.drawing_svg import Point
    from ridgerule.reports.view import FindingView

_LOWER = frozenset({"eave", "eaves", "lower", "low", "bottom", "foot"})
_UPPER = frozenset({"ridge", "top", "upper", "peak", "apex", "high", "head"})
_GABLE = frozenset({"gable", "rake", "verge"})
_COMPASS = {"north": 0, "east": 90, "south": 180, "west": 270}
_SAME_POINT, _SAME_CORNER = 1.0, 4.0
_MOST_LABEL = 18
_MOST = 12
"""So many findings of one place stand on the plan; it would be hidden under more."""


KINDS = ("station", "joint", "line", "plane", "on plane", "on line")
"""Where findings are drawn; what lies somewhere on a plane or line stands beside its name."""


class Spot(Struct, frozen=True):
    """A place on the plan, with the failed and open findings there."""

    kind: str
    """One of `KINDS`."""
    id: str
    """The plane or line it is drawn at; a joint's own id."""
    label: str
    """What has to be said beside its numbers; empty where the plan says it already."""
    point: Point | None
    """Where it lies, where that is known; else it is drawn at its plane or line."""
    findings: tuple[FindingView, ...]
    more: int = 0
    """How many findings of the place stand under the plan instead, for want of room."""


class Spots(Struct, frozen=True):
    """Every failed and open finding once: on the plan, or listed by place under it."""

    drawn: tuple[Spot, ...]
    more: tuple[tuple[str, tuple[FindingView, ...]], ...]
    """Those for which a place on the plan has no room."""
    elsewhere: tuple[tuple[str, tuple[FindingView, ...]], ...]
    """Those with no place on the plan."""


def spots_of(pairs: Iterable[Numbered], record: Record, layout: Layout) -> Spots:
    """Return where each failed or open finding is drawn, each once."""
    finder = _Finder(record, layout)
    drawn: dict[tuple[str, str, str, Point | None], list[FindingView]] = defaultdict(list)
    elsewhere: dict[str, list[FindingView]] = defaultdict(list)
    for pair in pairs:
        if pair.view.outcome in DRAWN:
            place = pair.finding.place
            key = finder.spot(place)
            if key is None:
                elsewhere[place.label].append(pair.view)
            else:
                drawn[key].append(pair.view)
    spots = (Spot(*key, tuple(found[:_MOST]), len(found[_MOST:])) for key, found in drawn.items())
    more: dict[str, list[FindingView]] = defaultdict(list)
    for finding in (one for found in drawn.values() for one in found[_MOST:]):
        more[finding.place].append(finding)
    return Spots(
        tuple(sorted(spots, key=lambda spot: KINDS.index(spot.kind))),
        *(
            tuple((label, tuple(found)) for label, found in listed.items())
            for listed in (more, elsewhere)
        ),
    )


def named_end(record: Record, layout: Layout, line: Place) -> Point | None:
    """Return the end of a drawn line that its `from:` names, None where it names neither."""
    finder = _Finder(record, layout)
    pieces = finder.pieces[line.id]
    return finder.start(line, Piece(line.id, line.kind, pieces[0].start, pieces[-1].end))


class _Finder:
    """Finds places of a record on a plan."""

    def __init__(self, record: Record, layout: Layout) -> None:
        self.record = record
        self.layout = layout
        self.pieces: dict[str, list[Piece]] = defaultdict(list)
        for piece in layout.pieces:
            self.pieces[piece.line].append(piece)
        self.planes = {region.plane for region in layout.regions}

    def spot(self, place: Place) -> tuple[str, str, str, Point | None] | None:
        """Return kind, id, label and point of a place; None where the plan has none for it."""
        match place.element:
            case Element.PLANE if place.id in self.planes:
                return "plane", place.id, "", None
            case Element.LINE if place.id in self.pieces:
                return "line", place.id, "", None
            case Element.STATION:
                return self.station(place)
            case Element.JOINT:
                return self.meeting(place)
            case Element.OPENING | Element.WALL | Element.SAMPLE:
                return self.upon(place)
            case _:
                return None

    def meeting(self, place: Place) -> tuple[str, str, str, Point | None] | None:
        """Return where a joint is; in a ring, where points mean nothing, the first of its lines."""
        label = clipped(place.id, _MOST_LABEL)
        point = self.joint(place)
        if point is None or self.layout.has_places:
            return None if point is None else ("joint", place.id, label, point)
        return "on line", next(id_ for id_ in place.lines or () if id_ in self.pieces), label, None

    def station(self, place: Place) -> tuple[str, str, str, Point | None] | None:
        host = str(place.path[1])
        if place.host is Element.PLANE:
            return ("plane", host, "", None) if host in self.planes else None
        if host not in self.pieces:
            return None
        point = self.along(self.record.by_id[Element.LINE, host], place)
        at = clipped(place.at.text, _MOST_LABEL) if place.at else ""
        return ("station", host, at, point) if point else ("line", host, "", None)

    def upon(self, place: Place) -> tuple[str, str, str, Point | None] | None:
        """Return the plane or line that an opening, a wall or a sample is on."""
        for line in place.lines or ():
            if line in self.pieces:
                return "line", line, "", None
        for plane in place.planes or ():
            if plane in self.planes:
                return "on plane", plane, clipped(place.label, _MOST_LABEL), None
        return None

    def along(self, line: Place, station: Place) -> Point | None:
        """Return where a station lies; None where its distance or the end it counts from isn't."""
        if line.id in self.layout.courses:
            return self.on_course(line.id, station)
        pieces, whole = self.pieces[line.id], figure(line, "length")
        if not self.layout.has_places or len(pieces) != 1 or not whole or station.at is None:
            return None
        at, start = middle(station.at.amount), self.start(line, pieces[0])
        if start is None or at is None:
            return None
        share = min(max(float(at) / whole, 0.0), 1.0)
        end = pieces[0].end if start == pieces[0].start else pieces[0].start
        return start[0] + (end[0] - start[0]) * share, start[1] + (end[1] - start[1]) * share

    def on_course(self, line: str, station: Place) -> Point | None:
        """Return where a station lies on a line drawn from coordinates, which start at its end."""
        whole, points = self.layout.reaches.get(line), self.layout.courses[line]
        at = middle(station.at.amount) if station.at else None
        if at is None or not whole:
            return None
        runs = [_length(a, b) for a, b in pairwise(points)]
        left = min(max(float(at) / whole, 0.0), 1.0) * sum(runs)
        for run, (a, b) in zip(runs, pairwise(points), strict=True):
            if run and left <= run:
                return a[0] + (b[0] - a[0]) * left / run, a[1] + (b[1] - a[1]) * left / run
            left -= run
        return points[-1]

    def start(self, line: Place, piece: Piece) -> Point | None:
        """Return the end that a line's stations count from, None where its name says neither."""
        listed = mapping_in(mapping_in(self.record.document.data).get("lines"))
        said = words_in(mapping_in(listed.get(line.id)).get("from"))
        ends = (piece.start, piece.end)
        if (Element.JOINT, said) in self.record.by_id:
            point = self.joint(self.record.by_id[Element.JOINT, said])
            return next((end for end in ends if point and _near(end, point)), None)
        if said in self.planes:
            touched = [end for end in ends if self.touches(said, end)]
            return touched[0] if len(touched) == 1 else None
        told = set(re.findall(r"[a-z]+", said.casefold()))
        is_sloping = piece.kind in (LineKind.HIP, LineKind.VALLEY, LineKind.RAKE)
        if is_sloping and told & (_LOWER | _UPPER):
            return ends[0] if told & _LOWER else ends[1]
        if told & _GABLE:
            gables = [end for end in ends if self.meets(end, LineKind.RAKE)]
            return gables[0] if len(gables) == 1 else None
        return self.compass(told, ends)

    def compass(self, told: set[str], ends: tuple[Point, Point]) -> Point | None:
        """Return the end that lies to the side a compass word names, None where none does."""
        if self.layout.north is None:
            return None
        north = self.layout.north
        east = -north[1], north[0]
        along = ends[1][0] - ends[0][0], ends[1][1] - ends[0][1]
        size = sqrt(dot(along, along)) or 1.0
        ways = [direction(Fraction(degrees)) for word, degrees in _COMPASS.items() if word in told]
        wanted = sum(e * dot(east, along) + n * dot(north, along) for e, n in ways) / size
        return None if abs(wanted) < 0.4 else ends[wanted > 0]

    def joint(self, place: Place) -> Point | None:
        """Return where lines meet: the point all of them share, or the free end of one."""
        ends = [
            {end for piece in self.pieces[line] for end in (piece.start, piece.end)}
            for line in place.lines or ()
            if line in self.pieces
        ]
        if not ends:
            return None
        if len(ends) > 1:
            shared = set.intersection(*ends) or _meeting(ends)
            return min(shared) if shared else _mean(self.heads(place.lines or ()))
        pieces = self.pieces[next(line for line in place.lines or () if line in self.pieces)]
        last = pieces[-1] if pieces[0].line in self.layout.courses else pieces[0]
        free = [end for end in (pieces[0].start, last.end) if not self.is_shared(end)]
        return free[0] if len(free) == 1 else pieces[0].start

    def touches(self, plane: str, point: Point) -> bool:
        """Tell whether a plane has a corner in a point."""
        edges = (r.edges for r in self.layout.regions if r.plane == plane)
        return any(point in edge for found in edges for edge in found)

    def heads(self, lines: Iterable[str]) -> list[Point]:
        return [self.pieces[line][0].end for line in lines if line in self.pieces]

    def is_shared(self, point: Point) -> bool:
        """Tell whether two or more hips, ridges and valleys end in a point."""
        spines = (LineKind.HIP, LineKind.RIDGE, LineKind.VALLEY)
        met = [p for p in self.layout.pieces if p.kind in spines and point in (p.start, p.end)]
        return len(met) > 1

    def meets(self, point: Point, kind: LineKind) -> bool:
        return any(p.kind is kind and point in (p.start, p.end) for p in self.layout.pieces)


def _near(a: Point, b: Point) -> bool:
    return abs(a[0] - b[0]) < _SAME_POINT and abs(a[1] - b[1]) < _SAME_POINT


def _meeting(ends: Sequence[set[Point]]) -> set[Point]:
    """Return the middle of the ends, one a line, that lie nearly in one point; none where none do.

    Coordinates of one corner, measured once a line, are seldom quite alike.
    """
    for first in sorted(ends[0]):
        near = [min(others, key=lambda other: _length(first, other)) for others in ends]
        if all(_length(first, other) < _SAME_CORNER for other in near):
            return {_mean(near)}
    return set()


def _length(a: Point, b: Point) -> float:
    return sqrt((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2)


def _mean(points: Sequence[Point]) -> Point:
    return sum(x for x, _ in points) / len(points), sum(y for _, y in points) / len(points)
