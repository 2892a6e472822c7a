"""The stops of a visit: questions put together by the part of the visit and the place."""

from __future__ import annotations

from itertools import chain
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.limits import nodes
from ridgerule.enclosures import low
from ridgerule.facts import Element, FactRef, LineKind
from ridgerule.plain_data import items_in, mapping_in, words_in
from ridgerule.quantities import Quantity
from ridgerule.record import unknown_reason
from ridgerule.visit.walking import Part, part_of, walk

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from ridgerule.documents import Path
    from ridgerule.record import Place, Record
    from ridgerule.visit.questions import Question


class StationStop(Struct, frozen=True):
    """One spot on a line or plane, and what is asked there."""

    place: Place
    at: str
    """Where; empty where that is to be settled on the roof."""
    questions: tuple[Question, ...]
    is_new: bool = False
    """Whether the outline does not have it."""


class Stop(Struct, frozen=True):
    """A place that is come to in one part of the visit, and what is asked there."""

    place: Place
    label: str
    detail: str
    """What the outline says of it: its planes, its length, which end stations count from."""
    questions: tuple[Question, ...]
    stations: tuple[StationStop, ...] = ()
    why: tuple[str, ...] = ()
    """Why there are so many stations."""

    @property
    def everything(self) -> Iterator[Question]:
        """The stop's questions, those of its stations last."""
        yield from self.questions
        for station in self.stations:
            yield from station.questions


class VisitPart(Struct, frozen=True):
    """One part of the visit."""

    part: Part
    stops: tuple[Stop, ...]


def parts_of(
    record: Record,
    questions: Sequence[Question],
    *,
    why: Mapping[Path, tuple[str, ...]],
    ends: Mapping[Path, str],
) -> tuple[VisitPart, ...]:
    """Return the parts of a visit, each with its stops in the order of the walk.

    `why` says of a line or plane why it has so many stations, `ends` from where they count.
    """
    laid = _Laid(record, questions, why, ends)
    found = ((part, laid.stops(part)) for part in Part)
    return tuple(VisitPart(part, stops) for part, stops in found if stops)


class _Laid:
    """Questions laid out by part and place."""

    def __init__(
        self,
        record: Record,
        questions: Sequence[Question],
        why: Mapping[Path, tuple[str, ...]],
        ends: Mapping[Path, str],
    ) -> None:
        self.record = record
        self.why, self.ends = why, ends
        self.places = walk(record)
        self.stations = {s.path: s for place in self.places for s in place.stations}
        self.asked: dict[tuple[Part, Path], list[Question]] = {}
        deciding = _deciding(questions)
        for question in _eased(questions, deciding):
            self.asked.setdefault(
                (self._part(question, questions), self._path(question)), []
            ).append(question)

    def stops(self, part: Part) -> tuple[Stop, ...]:
        """Return the stops of a part, in the order of the walk."""
        found = (self._stop(part, place) for place in self.places)
        return tuple(stop for stop in found if stop is not None)

    def _path(self, question: Question) -> Path:
        """Return the place that a question is asked at: the roof, for sections of its own."""
        known = {place.path for place in self.places} | self.stations.keys()
        return question.place if question.place in known else self.record.roof.path

    def _part(self, question: Question, questions: Sequence[Question]) -> Part:
        station = self.stations.get(question.place)
        if station is not None and question.fact is None:
            # Where it is, is told where the first thing is read there.
            others = [q.fact for q in questions if q.place == question.place and q.fact]
            return min(
                (part_of(fact, Element.STATION) for fact in others),
                key=tuple(Part).index,
                default=Part.ROOF,
            )
        element = question.fact.element if question.fact else Element.ROOF
        place = next((p for p in self.places if p.path == question.place), None)
        return part_of(question.fact, place.element if place else element)

    def _stop(self, part: Part, place: Place) -> Stop | None:
        questions = tuple(self.asked.get((part, place.path), ()))
        stations = tuple(
            StationStop(station, station_words(station), tuple(asked), is_new=self._is_new(station))
            for station in sorted(place.stations, key=_along)
            if (asked := self.asked.get((part, station.path)))
        )
        if not questions and not stations:
            return None
        return Stop(
            place,
            label_of(self.record, place),
            detail_of(self.record, place, self.ends.get(place.path, "") if stations else ""),
            questions,
            stations,
            self.why.get(place.path, ()) if stations and part is Part.ROOF else (),
        )

    def _is_new(self, station: Place) -> bool:
        section, id_, _, index = station.path
        places = mapping_in(mapping_in(self.record.document.data).get(str(section)))
        return int(index) >= len(items_in(mapping_in(places.get(str(id_))).get("stations")))


def _along(station: Place) -> tuple[bool, object]:
    """Order stations on a line by where they are; those on a plane stay as they are."""
    at = low(station.at.amount) if station.at is not None else None
    return at is None, at if at is not None else 0


def _deciding(questions: Sequence[Question]) -> frozenset[tuple[Path, str]]:
    """Return the facts, each at its place, that others are only asked by."""
    return frozenset(
        (given.path, node.fact.name)
        for question in questions
        for given in chain.from_iterable(question.ways)
        for node in nodes(given.condition)
        if isinstance(node, FactRef)
    )


def _eased(questions: Sequence[Question], deciding: frozenset[tuple[Path, str]]) -> list[Question]:
    """Return questions with those first that decide about others, then tool by tool."""
    tools = [*dict.fromkeys(question.tool for question in questions)]
    tools.sort(key=bool)

    def order(question: Question) -> tuple[bool, bool, int]:
        name = question.fact.name if question.fact else ""
        decides = (question.place, name) in deciding
        return question.fact is not None, not decides, tools.index(question.tool)

    return sorted(questions, key=order)


def station_words(station: Place) -> str:
    """Return where a station is, as the record writes it; empty where it does not."""
    return station.at.text if station.at is not None else station.label.partition(" at ")[2]


def label_of(record: Record, place: Place) -> str:
    """Return a place with its own name, where it has one."""
    if place.element is Element.ROOF:
        return "the roof as a whole"
    section, id_ = place.path
    data = mapping_in(mapping_in(mapping_in(record.document.data).get(str(section))).get(str(id_)))
    name = words_in(data.get("name"))
    return f"{place.label}: {name}" if name else place.label


def detail_of(record: Record, place: Place, end: str) -> str:
    """Return what the outline says of a place: what it touches, how long it is."""
    told = [*_touched(place)]
    is_plane = place.element is Element.PLANE
    readings = place.readings.get("slope" if is_plane else "length", ())
    value = readings[0].value if readings else None
    if isinstance(value, Quantity):
        told.append(f"slope {value.text}" if is_plane else value.text)
    if place.element is Element.LINE and place.stations:
        end = end_named(record, place) or end
        told += [f"stations count from the {end.removeprefix('the ')}"] if end else []
    return ", ".join(told)


def _touched(place: Place) -> Iterator[str]:
    """Yield what a place touches, in words."""
    planes, lines = place.planes or (), place.lines or ()
    if place.element is Element.LINE and len(planes) == 2:
        yield f"between {planes[0]} and {planes[1]}"
    elif place.element in _PLANE_WORDS and planes:
        yield f"{_PLANE_WORDS[place.element]} {_listed(planes)}"
    if place.element in _LINE_WORDS and lines:
        yield f"{_LINE_WORDS[place.element]} {_listed(lines)}"


_PLANE_WORDS = {
    Element.LINE: "of plane",
    Element.OPENING: "in plane",
    Element.WALL: "at plane",
    Element.ATTIC: "under",
    Element.SAMPLE: "of plane",
}
_LINE_WORDS = {
    Element.JOINT: "of",
    Element.ATTIC: "vented at",
    Element.DELIVERY: "for",
    Element.SAMPLE: "of",
}


def end_named(record: Record, line: Place) -> str:
    """Return the end that a line's stations count from, where the outline names one."""
    lines = mapping_in(mapping_in(record.document.data).get("lines"))
    said = words_in(mapping_in(lines.get(line.id)).get("from"))
    return "" if unknown_reason(said) else said


def end_taken(line: Place) -> str:
    """Return the end that new stations count from where the outline names none."""
    if line.kind in (LineKind.HIP, LineKind.VALLEY, LineKind.RAKE):
        return "eave"
    planes = line.planes or ()
    return f"left end, seen from below plane {planes[0]}" if planes else "left end"


def _listed(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
