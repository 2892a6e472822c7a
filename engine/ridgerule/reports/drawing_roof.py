"""What of a record a roof plan can be laid out from: which way planes fall, where lines run.

Directions are unit vectors in plan, east and north; lengths are level, in nanometres. Sines and
cosines come from exact enclosures, everything after them is plain arithmetic and square roots, so
a plan is the same on every machine.
"""

from __future__ import annotations

from fractions import Fraction
from math import sqrt
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.enclosures import cosine, sine
from ridgerule.facts import Element, LineKind
from ridgerule.quantities import Quantity
from ridgerule.reports.drawing_limits import middle

if TYPE_CHECKING:
    from ridgerule.record import Place, Record
    from ridgerule.reports.drawing_svg import Point

_USUAL_SLOPE = 0.6
"""Stands in for slopes where none is recorded; the plan is not to scale."""
_PARALLEL = 1e-6

SPINES = (LineKind.HIP, LineKind.RIDGE, LineKind.VALLEY)
"""The kinds of line that two planes meet in."""


class Facing(Struct, frozen=True):
    """A plane whose direction is recorded."""

    id: str
    down: Point
    """The direction it falls in."""
    slope: float

    @property
    def right(self) -> Point:
        """The direction of its eave, from left to right for one who sees it from above, eave down.

        The rest of the plane then lies above the eave.
        """
        return -self.down[1], self.down[0]


class Spine(Struct, frozen=True):
    """A hip, ridge or valley between two planes whose directions are recorded."""

    id: str
    kind: LineKind
    planes: tuple[str, str]
    way: Point
    """Its direction uphill; of a level one, either."""
    rise: float
    """How steep it is, rise over its own run."""
    run: float | None
    """How long it is in plan."""
    away: Point
    """Square to it in plan, out of the first plane and into the second."""

    def out_of(self, plane: str) -> Point:
        """Return the direction out of one of its planes, square to it."""
        return self.away if plane == self.planes[0] else (-self.away[0], -self.away[1])


def figure(place: Place, fact: str) -> float | None:
    """Return a reading of a place as a plain number in base units; None where it has none."""
    readings = place.readings.get(fact, ())
    value = readings[0].value if readings else None
    amount = middle(value.amount) if isinstance(value, Quantity) else None
    return None if amount is None else float(amount)


def direction(degrees: Fraction) -> Point:
    """Return the unit vector of a compass direction."""
    east, north = middle(sine(degrees)), middle(cosine(degrees))
    return float(east or 0), float(north or 0)


def facings(record: Record) -> dict[str, Facing]:
    """Return the planes whose direction is recorded, by their ids.

    A plane without a slope gets the mean of the others': its lines then bear about right.
    """
    slopes = {plane.id: figure(plane, "slope") for plane in record.places[Element.PLANE]}
    known = [slope for slope in slopes.values() if slope]
    usual = sum(known) / len(known) if known else _USUAL_SLOPE
    found = {}
    for plane in record.places[Element.PLANE]:
        readings = plane.readings.get("faces", ())
        value = readings[0].value if readings else None
        degrees = middle(value.amount) if isinstance(value, Quantity) else None
        if degrees is not None:
            down = direction(Fraction(degrees))
            found[plane.id] = Facing(plane.id, down, slopes[plane.id] or usual)
    return found


def spine(line: Place, planes: dict[str, Facing]) -> Spine | None:
    """Return a line between two planes laid out; None where that takes more than is recorded."""
    kind, beside = line.kind, line.planes or ()
    if (
        kind is None
        or kind not in SPINES
        or len(beside) != 2
        or any(id_ not in planes for id_ in beside)
    ):
        return None
    a, b = (planes[id_] for id_ in beside)
    fall = (
        b.slope * b.down[0] - a.slope * a.down[0],
        b.slope * b.down[1] - a.slope * a.down[1],
    )
    size = length(fall)
    if size < _PARALLEL:
        return None  # two planes that fall alike meet in no line
    sign = -1 if kind is LineKind.VALLEY else 1
    away = sign * fall[0] / size, sign * fall[1] / size
    way = -away[1], away[0]
    rise = -a.slope * dot(a.down, way)
    if rise < 0 or (rise == 0 and way < (0, 0)):
        way, rise = (-way[0], -way[1]), -rise
    along = figure(line, "length")
    run = along / sqrt(1 + rise * rise) if along else None
    return Spine(line.id, kind, (a.id, b.id), way, rise, run, away)


def dot(a: Point, b: Point) -> float:
    """Return the length of one vector along another of length 1."""
    return a[0] * b[0] + a[1] * b[1]


def length(a: Point) -> float:
    """Return how long a vector is."""
    return sqrt(a[0] * a[0] + a[1] * a[1])
