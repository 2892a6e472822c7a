"""Readings of two visits held against each other, and what shows that a failure was put right."""

from __future__ import annotations

import datetime as dt
from itertools import chain
from typing import TYPE_CHECKING, TypeAlias

from msgspec import Struct
from msgspec.structs import replace

from ridgerule.audit.asking import asking_of, at_place
from ridgerule.audit.findings import Outcome
from ridgerule.enclosures import subtract
from ridgerule.facts import SECTIONS, How, Over, read_date
from ridgerule.quantities import Dimension, Quantity

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from ridgerule.audit.findings import Finding
    from ridgerule.audit.truth import Used
    from ridgerule.documents import Path
    from ridgerule.facts import Fact
    from ridgerule.record import Place, Reading, Record
    from ridgerule.review.reinspection_places import SamePlaces

_TOLD = frozenset({How.DOCUMENT, How.STATED})
"""Ways of knowing that are somebody's word or paper: nobody looked at the roof again."""
_SECTIONS = frozenset(SECTIONS.values())

_ROOF: Path = ("roof",)

_Key: TypeAlias = tuple[str, object, tuple[str | int, ...]]
"""What makes two readings one: the fact, the place, the side."""


class Difference(Struct, frozen=True):
    """One reading that is not the same at both visits; None where a visit did not take it."""

    then: Used | None
    now: Used | None
    change: Quantity | None
    """The second less the first, in the fact's own dimension."""

    @property
    def fact(self) -> Fact:
        """The fact that was read."""
        use = self.now or self.then
        if use is None:
            raise TypeError("a difference is of at least one reading")
        return use.fact


class Doubt(Struct, frozen=True):
    """Why a failure that no longer fails is not put right, and whether that leaves it open."""

    reason: str
    is_open: bool


class Readings:
    """The readings of two visits, by what makes them the same reading."""

    def __init__(self, first: Record, second: Record, places: SamePlaces) -> None:
        self.first_day = inspection_day(first)
        self.second_day = inspection_day(second)
        self.second = replace(second, computed={})  # the first's rules are asked of it too
        self.places = places
        self.taken_then, self.taken_now = _by_path(first), _by_path(second)

    def differences(self, before: Finding, after: Finding) -> tuple[Difference, ...]:
        """Return the readings judged that are not the same at both visits."""
        then, now = self._by_key(before.measured, then=True), self._by_key(after.measured)
        found = (Difference(then.get(key), now.get(key), None) for key in {**then, **now})
        return tuple(
            replace(each, change=change_of(each.then, each.now))
            for each in found
            if each.then is None or each.now is None or each.then.value != each.now.value
        )

    def doubt(self, before: Finding, after: Finding, *, same_rule: bool) -> Doubt | None:
        """Return why a failure that passes now was not shown put right by the second visit."""
        if not same_rule and (reason := self._fails_by_the_first_rule(before, after)):
            return Doubt(reason, is_open=False)
        then = self._by_key(_leaves(before.measured), then=True)
        now = self._by_key(_leaves(after.measured))
        over = before.check.of.over if before.check else None
        lost = [use for key, use in then.items() if key not in now and not self._is_read(key)]
        if over is not None and lost:
            where = ", ".join(dict.fromkeys(f"{_words(use.fact)} at {use.place}" for use in lost))
            return Doubt(f"not read again: {where}", is_open=True)
        changed = [key for key in now if key in then and then[key].value != now[key].value]
        if over in (None, Over.COUNT):  # of several, one more reading changes none of the others
            changed += [key for key in now if key not in then]
        if not changed:
            return Doubt(self._what_else_changed(before, after), is_open=False)
        weak = (self._weakness(now[key], then.get(key)) for key in changed)
        reasons = tuple(dict.fromkeys(filter(None, weak)))
        return Doubt("; ".join(reasons), is_open=True) if reasons else None

    def _what_else_changed(self, before: Finding, after: Finding) -> str:
        """Return why a reading that is as it was does not fail any more."""
        then = self._by_key(_leaves(before.used), then=True)
        now = self._by_key(_leaves(after.used))
        changed = [
            f"{_words(use.fact)} was {then[key].text}, is {use.text}"
            for key, use in now.items()
            if key in then and then[key].value != use.value
        ]
        told = f": {', '.join(changed)}" if changed else ""
        return f"what was judged is as it was; what it is held against changed{told}"

    def _fails_by_the_first_rule(self, before: Finding, after: Finding) -> str:
        """Return how the first visit's rule comes out on the second's readings, if not as a pass.

        A pass under a rule that was changed meanwhile is no repair.
        """
        if before.check is None:
            return ""
        asked = at_place(asking_of(before.check, self.second), after.place)
        if asked.outcome is Outcome.PASS:
            return ""
        return f"the rule changed; as it stood at the first visit it would be {asked.outcome}"

    def _by_key(self, uses: Iterable[Used], *, then: bool = False) -> dict[_Key, Used]:
        return {self._key(use, then=then): use for use in uses}

    def _key(self, use: Used, *, then: bool) -> _Key:
        path, place = use.path, _place_of(use.path)
        rest = path if place == _ROOF else path[len(place) :]
        rest = rest[:-1] if rest[-1:] == ("value",) else rest
        if not then:
            return use.fact.full_name, place, rest
        same = self.places.to_second.get(place)
        where = same.path if same else ("only at the first visit", *place)
        return use.fact.full_name, where, rest

    def _is_read(self, key: _Key) -> bool:
        """Tell whether the second record has a value of a fact at a place, judged or not."""
        fact, where, rest = key
        name = fact.partition(".")[2]
        place = next((p for p in _all_places(self.second) if p.path == where), None)
        if place is None:
            return False
        return any(
            reading.value is not None and (not reading.side or reading.side in rest)
            for reading in place.readings.get(name, ())
        )

    def _weakness(self, use: Used, before: Used | None) -> str:
        """Return why a changed reading does not show what the second visit found on the roof."""
        what = f"{_words(use.fact)} at {use.place}"
        reading = self.taken_now.get(use.path)
        if use.how in _TOLD and use.how is not use.fact.short_form:
            return f"{what} is known only as {use.how}"
        if reading is None:
            return ""
        if use.how is None and not reading.tool:
            return f"how {what} is known is not stated"
        if use.how is How.PHOTO_DURING_WORK:
            earlier = self.taken_then.get(before.path) if before else None
            if why := _no_new_photo(reading.photos, earlier.photos if earlier else ()):
                return f"{what} {why}"
        day = read_date(reading.when) if reading.when else None
        if isinstance(day, dt.date) and self._is_before_the_second(day):
            return f"{what} was read on {day}, before the second visit"
        return ""

    def _is_before_the_second(self, day: dt.date) -> bool:
        """Tell whether a day is surely one of the first visit, or before it."""
        first, second = self.first_day, self.second_day
        if first is None:
            return False
        return day < first or (day == first and second is not None and second > first)


def change_of(then: Used | None, now: Used | None) -> Quantity | None:
    """Return the second reading less the first, None where one is no quantity or not there."""
    if then is None or now is None:
        return None
    return quantity_change(then.value, now.value)


def quantity_change(then: object, now: object) -> Quantity | None:
    """Return a quantity less another; of temperatures that is a difference of them."""
    if not isinstance(then, Quantity) or not isinstance(now, Quantity):
        return None
    if then.dimension is not now.dimension:
        return None
    dimension = now.dimension
    if dimension is Dimension.TEMPERATURE:
        dimension = Dimension.TEMPERATURE_DIFFERENCE
    return Quantity(dimension, subtract(now.amount, then.amount), "")


def inspection_day(record: Record) -> dt.date | None:
    """Return the day of the visit, None where the record doesn't say."""
    readings = record.roof.readings.get("inspection_date", ())
    value = readings[0].value if readings else None
    return value if isinstance(value, dt.date) else None


def _leaves(uses: Iterable[Used]) -> Iterator[Used]:
    """Yield the recorded readings that values were made from in the end."""
    for use in uses:
        if use.via:
            yield from _leaves(use.via)
        else:
            yield use


def _place_of(path: Path) -> Path:
    """Return the path of the place that a reading stands at."""
    if not path or path[0] not in _SECTIONS:
        return _ROOF
    return path[:4] if len(path) > 3 and path[2] == "stations" else path[:2]


def _all_places(record: Record) -> Iterator[Place]:
    yield record.roof
    for place in chain.from_iterable(record.places.values()):
        yield place
        yield from place.stations


def _by_path(record: Record) -> dict[Path, Reading]:
    return {
        reading.path: reading
        for place in _all_places(record)
        for reading in chain.from_iterable(place.readings.values())
    }


def _no_new_photo(now: tuple[str, ...], then: tuple[str, ...]) -> str:
    """Return why photos show nothing done since the first visit, empty where one of them does."""
    if not now:
        return "is known by a photo that is not named"
    if set(now) <= set(then):
        return f"is shown by the first visit's own photo, {', '.join(now)}"
    return ""


def _words(fact: Fact) -> str:
    return fact.name.replace("_", " ")
