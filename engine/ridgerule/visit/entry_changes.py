"""From answers to changes of the record's file: the bare value where it is enough."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridgerule.facts import Element, How
from ridgerule.plain_data import items_in, words_in
from ridgerule.record import unknown_reason
from ridgerule.visit.entry_doubts import refused_note
from ridgerule.visit.entry_steps import answer_path, data_at
from ridgerule.visit.record_writing import Change
from ridgerule.visit.stops import station_words

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from ridgerule.plain_data import Data, Path
    from ridgerule.record import Place
    from ridgerule.visit.entry_replies import KnownBy
    from ridgerule.visit.entry_steps import Step
    from ridgerule.visit.planning import VisitPlan

_SHORT_NAMES = ("plane", "line")
"""Keys that hold one name and no list."""


def value_changes(
    visit: VisitPlan, step: Step, answers: Mapping[str, str], *, tool: str = "", odd: bool = False
) -> tuple[Change, ...]:
    """Return the changes that write values down, by side; `odd` ones can only be kept in a note."""
    return (*_stations(visit, step), *_values(visit, step, answers, tool, odd=odd))


def _values(
    visit: VisitPlan, step: Step, answers: Mapping[str, str], tool: str, *, odd: bool
) -> Iterator[Change]:
    fact, data = step.question.fact, visit.record.document.data
    for side, value in answers.items():
        path = answer_path(step, side)
        told: dict[str, Data] = {"value": _plain(value)}
        if fact is not None and odd:
            told = {"value": "unknown", "note": refused_note(value, fact)}
        elif fact is not None and tool not in ("", fact.tool) and not unknown_reason(value):
            told |= {"how": fact.short_form.value, "with": tool}
        yield from _told(path, told, data)


def _plain(value: str) -> Data:
    """Return a value as the file's reader gives it back: a whole number as one."""
    is_number = value.isascii() and value.isdecimal() and len(value) < 16
    return int(value) if is_number and str(int(value)) == value else value


def _told(path: Path, told: Mapping[str, Data], data: Data) -> Iterator[Change]:
    """Yield the changes that write a reading down beside whatever else is said of it."""
    existing = data_at(data, path)
    if isinstance(existing, dict):
        for key, value in told.items():
            yield Change((*path, key), value)
    else:
        yield Change(path, dict(told) if len(told) > 1 else told["value"])


def how_changes(
    visit: VisitPlan, step: Step, sides: Sequence[str], known: KnownBy
) -> tuple[Change, ...]:
    """Return the changes that write down how answers are known."""
    told: dict[str, Data] = {"how": known.how.value}
    if known.by:
        told["by"] = known.by
    return tuple(_beside(visit, step, sides, told))


def photo_changes(
    visit: VisitPlan, step: Step, sides: Sequence[str], name: str
) -> tuple[Change, ...]:
    """Return the changes that write down a photo of answers."""
    data = visit.record.document.data
    found: list[Change] = []
    for side in sides:
        path = answer_path(step, side)
        photos = with_one_more(data_at(data, (*path, "photo")), name)
        found += _beside(visit, step, (side,), {"photo": photos})
    return tuple(found)


def _beside(
    visit: VisitPlan, step: Step, sides: Sequence[str], told: Mapping[str, Data]
) -> Iterator[Change]:
    """Yield changes that add to readings, a bare value becoming one of several keys."""
    fact, data = step.question.fact, visit.record.document.data
    for side in sides:
        path = answer_path(step, side)
        value = data_at(data, path)
        if isinstance(value, dict):
            yield from (Change((*path, key), item) for key, item in told.items())
        else:
            how = fact.short_form.value if fact else How.SEEN.value
            yield Change(path, {"value": value, "how": how, **told})


def with_one_more(photos: Data, name: str) -> Data:
    """Return what stands under `photo:` with one more."""
    if photos is None or photos == "":
        return name
    listed = items_in(photos) if isinstance(photos, list) else [photos]
    return photos if name in listed else [*listed, name]


def names_changes(visit: VisitPlan, step: Step, names: Sequence[str]) -> tuple[Change, ...]:
    """Return the changes that write down which planes or lines a place touches."""
    key = step.question.key
    one = key in _SHORT_NAMES
    value: Data = names[0] if one else [*names]
    return (*_stations(visit, step), Change(step.question.path, value))


def note_changes(visit: VisitPlan, step: Step, words: str) -> tuple[Change, ...]:
    """Return the changes that add a note to the place."""
    path = (*step.holder, "note")
    before = words_in(data_at(visit.record.document.data, path))
    return (*_stations(visit, step), Change(path, f"{before}; {words}" if before else words))


def place_photo_changes(visit: VisitPlan, step: Step, name: str) -> tuple[Change, ...]:
    """Return the changes that add a photo to the place."""
    path = (*step.holder, "photo")
    photos = with_one_more(data_at(visit.record.document.data, path), name)
    return (*_stations(visit, step), Change(path, photos))


def _stations(visit: VisitPlan, step: Step) -> Iterator[Change]:
    """Yield what puts the planned stations of a line or plane into the file, all of them at once.

    Later plans then find them where this one put them.
    """
    if step.station is None:
        return
    host, data = step.stop.place, visit.record.document.data
    there = len(items_in(data_at(data, (*host.path, "stations"))))
    if int(step.place.path[-1]) < there:
        return
    planned = host.stations[there:]
    end = visit.ends.get(host.path, "")
    if end and host.element is Element.LINE:
        yield Change((*host.path, "from"), end)
    if not there:
        yield Change((*host.path, "stations"), [_station(station) for station in planned])
        return
    for i, station in enumerate(planned, start=there):
        yield Change((*host.path, "stations", i), _station(station))


def _station(station: Place) -> Data:
    told: dict[str, Data] = {}
    if at := station_words(station):
        told["at"] = at
    if station.only is not None:
        told["only"] = [*sorted(station.only)]
    return told
