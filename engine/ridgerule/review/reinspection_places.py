"""Which place of a second visit's record is which of the first's; nothing is guessed.

Listed places match by element and id, stations in words by their words, stations on a line by
their distance from the same end. What can't be told stays unmatched, and is said.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right, insort
from itertools import chain
from types import MappingProxyType
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.enclosures import Span, exact
from ridgerule.facts import Element
from ridgerule.plain_data import mapping_in, words_in
from ridgerule.quantities import Quantity
from ridgerule.record import unknown_reason

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from ridgerule.documents import Data, Path
    from ridgerule.enclosures import Exact
    from ridgerule.record import Place, Record

_LOWER = frozenset({"eave", "bottom", "foot", "low", "lower"})
_UPPER = frozenset({"ridge", "top", "peak", "high", "upper"})
_DIRECTIONS = (
    ("north", "south"),
    ("east", "west"),
    ("north-east", "south-west"),
    ("north-west", "south-east"),
)
_OPPOSITE: Mapping[str, frozenset[str]] = MappingProxyType(
    dict.fromkeys(_LOWER, _UPPER)
    | dict.fromkeys(_UPPER, _LOWER)
    | {one: frozenset({other}) for pair in _DIRECTIONS for one, other in (pair, pair[::-1])}
)
"""Names of the two ends of a line that can't be one end; common words, no source."""
_ALIKE = (_LOWER, _UPPER)
_TELLING: Mapping[Element, str] = MappingProxyType(
    {
        Element.LINE: "kind",
        Element.JOINT: "kind",
        Element.OPENING: "kind",
        Element.WALL: "",
        Element.SAMPLE: "of",
    }
)
"""Elements whose places are told apart, whatever their ids, by what they touch and by a fact."""


class SamePlaces(Struct, frozen=True):
    """The places that are the same at both visits, and what could not be told."""

    pairs: tuple[tuple[Place, Place], ...]
    notes: tuple[str, ...]
    """What to know of how places were matched: ends turned round, ids used anew, spots unknown."""
    to_second: Mapping[Path, Place]
    """By the path of a place in the first record, the same place in the second."""
    to_first: Mapping[Path, Place]
    untold: frozenset[Path]
    """Lines of the first record whose stations can't be told from the second's."""


def same_places(first: Record, second: Record, within: Quantity) -> SamePlaces:
    """Return which places of two records are the same, stations no further apart than `within`."""
    matching = _Matching(first, second, within)
    pairs = [(first.roof, second.roof)]
    for one in chain.from_iterable(first.places.values()):
        other = second.by_id.get((one.element, one.id))
        if other is not None and matching.is_same(one, other):
            pairs.append((one, other))
            pairs.extend(matching.stations(one, other))
    return SamePlaces(
        pairs=tuple(pairs),
        notes=tuple(matching.notes()),
        to_second=MappingProxyType({one.path: other for one, other in pairs}),
        to_first=MappingProxyType({other.path: one for one, other in pairs}),
        untold=frozenset(matching.untold),
    )


class _Standing(Struct, frozen=True):
    """A station and where it lies, counted from the end that the first visit counts from."""

    place: Place
    at: Exact


class _Matching:
    """Matches the places of two records; keeps what has to be said of it."""

    def __init__(self, first: Record, second: Record, within: Quantity) -> None:
        self.first = first
        self.second = second
        amount = within.amount
        self.within: Exact = 0 if isinstance(amount, Span) else amount
        self.told: list[str] = []
        self.untold: set[Path] = set()
        self.endless: list[str] = []
        """Lines on which neither record says where its stations count from."""
        self.nowhere: list[str] = []
        """Stations whose place is not recorded."""

    def notes(self) -> Iterator[str]:
        yield from self.told
        if self.endless:
            yield (
                f"Neither record names the end that stations count from (`from:`) on "
                f"{', '.join(self.endless)}: it is taken for the same."
            )
        if self.nowhere:
            listed = ", ".join(self.nowhere)
            yield f"Stations held against no other, since no place is recorded for them: {listed}."

    def is_same(self, one: Place, other: Place) -> bool:
        """Tell whether two places of one id can be the same; a line's planes tell lines apart."""
        if one.element not in _TELLING:
            return True
        then, now = _telling(one), _telling(other)
        said = [(then, now)] if then and now and then != now else []
        for touched, touches in ((one.planes, other.planes), (one.lines, other.lines)):
            if touched and touches and not _one_holds_the_other(set(touched), set(touches)):
                said.append((f"at {', '.join(touched)}", f"at {', '.join(touches)}"))
        reasons = [f"{was} at the first visit, {now_is} at the second" for was, now_is in said]
        if reasons:
            self.told.append(
                f"{one.label} is not held against the {other.label} of the second visit: "
                f"{'; '.join(reasons)}."
            )
        return not reasons

    def stations(self, one: Place, other: Place) -> Iterator[tuple[Place, Place]]:
        """Yield the stations of a line or plane that are the same at both visits."""
        for place, visit in ((one, "first"), (other, "second")):
            unknown = (station.label for station in place.stations if not station.spot)
            self.nowhere.extend(f"{label} ({visit} visit)" for label in unknown)
        if one.element is Element.PLANE:
            yield from self._by_words(one.stations, other.stations)
        elif one.stations and other.stations:
            yield from self._by_distance(one, other)

    def _by_words(
        self, then: Sequence[Place], now: Sequence[Place]
    ) -> Iterator[tuple[Place, Place]]:
        for spot in dict.fromkeys(station.spot for station in then if station.spot):
            here = ([_Standing(s, 0) for s in seen if s.spot == spot] for seen in (then, now))
            yield from _nearest(*here, within=0)

    def _by_distance(self, one: Place, other: Place) -> Iterator[tuple[Place, Place]]:
        turned = self._turned(one, other)
        if turned is None:
            self.untold.add(one.path)
            return
        then = [_Standing(station, at) for station, at in _measured(one)]
        now = [
            _Standing(station, turned - at if turned else at) for station, at in _measured(other)
        ]
        yield from _nearest(then, now, within=self.within)

    def _turned(self, one: Place, other: Place) -> Exact | None:
        """Return 0 for stations counted from the same end, the length for those turned round.

        None where it can't be told which end they count from.
        """
        ends = _end(self.first, one), _end(self.second, other)
        then, now = map(_plain, ends)
        if not then and not now:
            self.endless.append(one.label)
            return 0
        if then == now or any(then in names and now in names for names in _ALIKE):
            return 0
        said = " and ".join(
            f"from {end} at the {visit} visit" if end else f"from an end the {visit} does not name"
            for end, visit in zip(ends, ("first", "second"), strict=True)
        )
        counted = f"Stations on {one.label} count {said}"
        if now not in _OPPOSITE.get(then, ()):
            self.told.append(
                f"{counted}: whether that is one end can't be told, so none of them is held "
                "against another. Name the same end (`from:`) in both records."
            )
            return None
        length = _length(other) or _length(one)
        if length is None or isinstance(length.amount, Span):
            self.told.append(
                f"{counted}, and the line's length is not recorded: none of them is held against "
                "another. Record its `length:`."
            )
            return None
        self.told.append(f"{counted}: the second's are turned round by its length, {length.text}.")
        return length.amount


def _measured(line: Place) -> Iterator[tuple[Place, Exact]]:
    for station in line.stations:
        if station.at is not None and not isinstance(station.at.amount, Span):
            yield station, station.at.amount


def _one_holds_the_other(one: set[str], other: set[str]) -> bool:
    """Tell whether what one visit lists can be a part of what the other lists."""
    return one <= other or other <= one


def _telling(place: Place) -> str:
    """Return the word that tells a place from others of its element, empty where not known."""
    readings = place.readings.get(_TELLING[place.element], ())
    value = readings[0].value if readings else None
    return value if isinstance(value, str) else ""


def _end(record: Record, line: Place) -> str:
    """Return the end that a line's stations count from, empty where the record doesn't say."""
    data: Data = record.document.data
    for step in line.path:
        data = mapping_in(data).get(str(step))
    raw = mapping_in(data).get("from")
    return "" if unknown_reason(raw) else words_in(raw)


def _plain(end: str) -> str:
    """Return the name of an end without the words that say nothing: `the east end` is `east`."""
    words = [word for word in end.casefold().split() if word not in ("the", "end", "side")]
    plain = "-".join(words)
    return {"northeast": "north-east", "northwest": "north-west", "southeast": "south-east",
            "southwest": "south-west"}.get(plain, plain)  # fmt: skip


def _length(line: Place) -> Quantity | None:
    readings = line.readings.get("length", ())
    value = readings[0].value if readings else None
    return value if isinstance(value, Quantity) else None


def _nearest(
    then: Iterable[_Standing], now: Iterable[_Standing], *, within: Exact
) -> Iterator[tuple[Place, Place]]:
    """Yield stations no further apart than `within`: nearest first, each once, never crossing."""
    after = sorted(now, key=lambda standing: standing.at)
    positions = [standing.at for standing in after]
    candidates = [
        (*_farness(one, other), one, other)
        for one in then
        for other in after[
            bisect_left(positions, one.at - within) : bisect_right(positions, one.at + within)
        ]
        if _could_be_one(one.place, other.place)
    ]
    candidates.sort(key=lambda candidate: candidate[:-2])
    taken: set[Path] = set()
    kept: list[tuple[Exact, Exact]] = []
    for *_, one, other in candidates:
        ends = {("then", *one.place.path), ("now", *other.place.path)}
        if ends & taken or _crosses(kept, (one.at, other.at)):
            continue
        taken |= ends
        insort(kept, (one.at, other.at))
        yield one.place, other.place


def _farness(one: _Standing, other: _Standing) -> tuple[Exact, int, Exact, Exact, str, str]:
    """Return what makes a pair unlikely; what stands in a record first decides nothing."""
    shared = len(one.place.readings.keys() & other.place.readings.keys())
    apart = exact(one.at - other.at)
    return max(apart, -apart), -shared, one.at, other.at, _content(one.place), _content(other.place)


def _could_be_one(one: Place, other: Place) -> bool:
    """Tell whether stations were made for a fact in common."""
    return one.only is None or other.only is None or bool(one.only & other.only)


def _content(place: Place) -> str:
    """Return what is recorded at a station in one spelling, to order stations at one spot."""
    said = (
        f"{name}/{reading.side}={_spelt(reading.value) or reading.unknown}"
        for name, readings in place.readings.items()
        for reading in readings
    )
    return "; ".join(sorted((*said, *(place.only or ()))))


def _spelt(value: object) -> str:
    return str(value.amount) if isinstance(value, Quantity) else str(value or "")


def _crosses(kept: Sequence[tuple[Exact, Exact]], pair: tuple[Exact, Exact]) -> bool:
    """Tell whether a pair would cross one of those kept, which are sorted and cross nowhere."""
    below = bisect_left(kept, pair[0], key=lambda each: each[0])
    above = bisect_right(kept, pair[0], key=lambda each: each[0])
    if below > 0 and kept[below - 1][1] > pair[1]:
        return True
    return above < len(kept) and kept[above][1] < pair[1]
