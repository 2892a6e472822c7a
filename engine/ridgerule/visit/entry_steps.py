"""The questions of a visit's plan one by one, each with where it stands in the walk."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

from msgspec import Struct

from ridgerule.facts import Element
from ridgerule.plain_data import items_in, mapping_in
from ridgerule.record import LEFT_BLANK, unknown_reason
from ridgerule.visit.gaps import COMPLETE
from ridgerule.visit.walking import Part, walk

if TYPE_CHECKING:
    from ridgerule.plain_data import Data, Path
    from ridgerule.record import Place
    from ridgerule.visit.planning import VisitPlan
    from ridgerule.visit.questions import Question
    from ridgerule.visit.stops import StationStop, Stop

Key: TypeAlias = "tuple[Path, str, str]"
"""What is asked: the record's path of the answer, the place in words, the side."""
Rank: TypeAlias = "tuple[int, int, int]"
"""How far along the walk: the part of the visit, the place, the station."""
START: Rank = (0, 0, -1)


class Step(Struct, frozen=True):
    """One question where it is asked."""

    question: Question
    part: Part
    stop: Stop
    station: StationStop | None
    rank: Rank

    @property
    def place(self) -> Place:
        """The place that it is asked at."""
        return self.station.place if self.station else self.stop.place

    @property
    def sides(self) -> tuple[str, ...]:
        """The sides that are read one by one; one without a name for what has no sides."""
        fact = self.question.fact
        if fact is None or not fact.per_side:
            return ("",)
        return self.question.sides or self.place.planes or ()

    def key(self, side: str = "") -> Key:
        """Return what is asked, of one side."""
        return self.question.path, self.place.label, side

    @property
    def holder(self) -> Path:
        """The path of what notes and photos are taken of."""
        return self.place.path


def steps_of(visit: VisitPlan) -> tuple[Step, ...]:
    """Return the questions of a plan in the order of the walk."""
    walked = {place.path: i for i, place in enumerate(walk(visit.record))}
    parts = [*Part]
    found: list[Step] = []
    for part in visit.parts:
        for stop in part.stops:
            place = walked[stop.place.path]
            at = parts.index(part.part)
            here = (at, place, -1)
            found += [Step(asked, part.part, stop, None, here) for asked in stop.questions]
            for i, station in enumerate(stop.stations):
                rank = (at, place, _order(station, i))
                found += [Step(q, part.part, stop, station, rank) for q in station.questions]
    return tuple(found)


def _order(station: StationStop, index: int) -> int:
    """Return how far along its line a station lies, the same whatever else is asked there."""
    at = station.place.at
    return int(at.amount) if at is not None and isinstance(at.amount, int) else index


def data_at(data: Data, path: Path) -> Data:
    """Return what stands at a path of plain data; nothing where there is nothing."""
    for step in path:
        if isinstance(step, int):
            items = items_in(data)
            data = items[step] if step < len(items) else None
        else:
            data = mapping_in(data).get(step)
    return data


def answer_path(step: Step, side: str) -> Path:
    """Return the record's path of an answer, of one side."""
    return (*step.question.path, side) if side else step.question.path


def said(visit: VisitPlan, step: Step, side: str) -> Data:
    """Return the bare value that the record's file has for an answer."""
    data = visit.record.document.data
    whole = data_at(data, step.question.path)
    found = data_at(data, answer_path(step, side)) if isinstance(whole, dict) or not side else whole
    return found.get("value") if isinstance(found, dict) else found


def is_unknown(visit: VisitPlan, step: Step, side: str) -> bool:
    """Tell whether the record says that an answer could not be had."""
    return unknown_reason(said(visit, step, side)) not in ("", LEFT_BLANK)


def known_names(visit: VisitPlan, question: Question) -> tuple[str, ...]:
    """Return the planes or lines that may answer a question of what a place touches."""
    key = question.key
    element = Element.PLANE if key in ("between", "planes", "plane") else Element.LINE
    return tuple(place.id for place in visit.record.places[element])


def asks_for_all(question: Question) -> bool:
    """Tell whether a question is whether all of a kind are listed."""
    return question.place == COMPLETE
