"""The order of a visit: papers, from the ground, from below the deck, on the roof, afterwards.

On the roof one plane follows its neighbour over the line between them, so that nobody walks any
of it twice: a plane's edges from the eave up, the plane, what stands in it, then the lines that
lead on, each with the joints at its ends. Where a fact is seen from is common practice, no source.
"""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

from ridgerule.facts import Element, Fact, How, LineKind

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from ridgerule.record import Place, Record


class Part(StrEnum):
    """A part of the visit, in the order they come in."""

    PAPERS = "On paper, before the visit"
    GROUND = "From the ground"
    BELOW = "From below the deck"
    ROOF = "On the roof"
    AFTER = "Deliveries and counted samples"


_FROM_THE_GROUND = frozenset(
    {
        "roof.air_temperature",
        "plane.faces",
        "line.kind",
        "line.corner",
        "line.vented",
        "joint.kind",
        "opening.kind",
        "wall.kind",
    }
)
"""What can be told before a ladder is set; line colours and gaps look different from close by."""
_FROM_BELOW = frozenset(
    {
        "plane.deck",
        "plane.deck_panel",
        "plane.deck_thickness",
        "station.through_deck",
        "station.protrusion",
    }
)
"""What no one sees from above."""
_AFTER = frozenset({Element.DELIVERY, Element.SAMPLE})
_EDGES = (LineKind.EAVE, LineKind.RAKE)
_ONWARD = (LineKind.HIP, LineKind.RIDGE, LineKind.VALLEY, None, *_EDGES)
"""Which line is taken first where several lead on."""


def part_of(fact: Fact | None, element: Element) -> Part:
    """Return the part of the visit in which a fact is best learnt; None is what is no fact."""
    if element in _AFTER:
        return Part.AFTER
    if fact is None or fact.full_name in _FROM_THE_GROUND:
        return Part.GROUND
    if element is Element.ROOF or fact.short_form in (How.DOCUMENT, How.STATED):
        return Part.PAPERS
    if element is Element.ATTIC or fact.full_name in _FROM_BELOW:
        return Part.BELOW
    return Part.ROOF


def walk(record: Record) -> tuple[Place, ...]:
    """Return every place but the stations, in the order that somebody comes to it."""
    walker = _Walker(record)
    for plane in record.places[Element.PLANE]:
        walker.plane(plane)
    for element in (Element.LINE, Element.OPENING, Element.WALL, Element.JOINT):
        for place in record.places[element]:
            walker.take(place)
    ends = (Element.ATTIC, Element.DELIVERY, Element.SAMPLE)
    rest = tuple(place for element in ends for place in record.places[element])
    return (record.roof, *walker.taken.values(), *rest)


class _Walker:
    """Goes from plane to plane; remembers where it has been."""

    def __init__(self, record: Record) -> None:
        self.record = record
        self.taken: dict[tuple[Element, str], Place] = {}

    def has(self, place: Place) -> bool:
        return (place.element, place.id) in self.taken

    def take(self, place: Place) -> None:
        """Come to a place, unless somebody was there; a line with the joints at its ends."""
        if self.has(place):
            return
        joints = self._joints(place) if place.element is Element.LINE else ()
        first = [joint for joint in joints if len(joint.lines or ()) == 1]
        for joint in first:
            self.taken[joint.element, joint.id] = joint
        self.taken[place.element, place.id] = place
        for joint in joints:
            if all((Element.LINE, id_) in self.taken for id_ in joint.lines or ()):
                self.taken.setdefault((joint.element, joint.id), joint)

    def plane(self, start: Place) -> None:
        """Come to a plane and to all that can be reached from it over lines."""
        waiting = [start]
        while waiting:
            plane = waiting[-1]
            if not self.has(plane):
                self._on(plane)
            onward = next(self._onward(plane), None)
            if onward is None:
                waiting.pop()
                continue
            self.take(onward)
            beyond = [
                other
                for id_ in onward.planes or ()
                if not self.has(other := self.record.by_id[Element.PLANE, id_])
            ]
            waiting.extend(beyond[:1])

    def _on(self, plane: Place) -> None:
        """Take a plane's edges, then the plane itself, then what stands in it."""
        for line in self._lines(plane):
            if line.kind in _EDGES:
                self.take(line)
        self.take(plane)
        for element in (Element.OPENING, Element.WALL):
            for place in self.record.places[element]:
                if plane.id in (place.planes or ()):
                    self.take(place)

    def _onward(self, plane: Place) -> Iterator[Place]:
        lines = sorted(self._lines(plane), key=lambda line: _ONWARD.index(line.kind))
        return (line for line in lines if not self.has(line))

    def _lines(self, plane: Place) -> Sequence[Place]:
        lines = self.record.places[Element.LINE]
        return [line for line in lines if plane.id in (line.planes or ())]

    def _joints(self, line: Place) -> Sequence[Place]:
        joints = self.record.places[Element.JOINT]
        return [joint for joint in joints if line.id in (joint.lines or ()) and not self.has(joint)]
