"""What each place sees of the rest of the roof: a station its line, a line its planes.

A set that the record does not say is whole stays *open*: something may be missing from it, so
nothing that speaks of all of it is ever certain.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, cast

from msgspec import Struct

from ridgerule.facts import SECTIONS, Element, Host, LineKind

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from ridgerule.record import Place, Record

ONE: Mapping[Element, frozenset[Element]] = MappingProxyType(
    {
        Element.STATION: frozenset({Element.LINE, Element.PLANE}),
        Element.OPENING: frozenset({Element.PLANE}),
        Element.WALL: frozenset({Element.PLANE}),
        Element.SAMPLE: frozenset({Element.PLANE, Element.LINE}),
    }
)
"""Where a fact of another element can be named bare, since there is just one; and the roof."""

MANY: Mapping[Element, frozenset[Element]] = MappingProxyType(
    {
        Element.ROOF: frozenset(Element) - {Element.ROOF},
        Element.PLANE: frozenset(
            {Element.LINE, Element.STATION, Element.OPENING, Element.WALL},
        ),
        Element.LINE: frozenset({Element.PLANE, Element.STATION, Element.JOINT}),
        Element.STATION: frozenset({Element.PLANE}),
        Element.JOINT: frozenset({Element.LINE, Element.PLANE}),
        Element.ATTIC: frozenset({Element.PLANE, Element.LINE}),
        Element.DELIVERY: frozenset({Element.LINE}),
    }
)
"""Where a fact of another element needs a word for one over many."""


class Seen(Struct, frozen=True):
    """The places of one element that a place sees, and why there may be more of them."""

    places: tuple[Place, ...]
    open: str = ""
    stated: bool = False
    """The record itself says that these are all, so that none means none."""


def seen(  # noqa: PLR0911 - a table in words
    record: Record, place: Place, element: Element, host: Host = Host.EITHER
) -> Seen:
    """Return the places of `element` that a rule asked at `place` can speak of.

    `host` says what stations lie on, where only those on one sort of host can have the fact.
    """
    if element is place.element:
        return Seen((place,))
    if element is Element.ROOF:
        return Seen((record.roof,))
    if place.element is Element.ROOF:
        return _all_stations(record, host) if element is Element.STATION else _all(record, element)
    if element is Element.STATION:
        return Seen(place.stations)
    if element is Element.PLANE:
        return _planes(record, place)
    if element is Element.LINE and place.element is not Element.PLANE:
        return _named(record, Element.LINE, place.lines, f"the lines of {place.label}")
    return _touching(record, place, element)


def unlisted(record: Record, kind: Element | LineKind) -> str:
    """Return why more places of a kind may exist than the record lists, or an empty string."""
    if kind in record.complete:
        return ""
    noun = f"{kind}s" if isinstance(kind, LineKind) else SECTIONS[kind]
    return f"the record doesn't say whether all {noun} are listed"


def _all(record: Record, element: Element) -> Seen:
    kinds: Iterable[Element | LineKind] = LineKind if element is Element.LINE else (element,)
    doubts = [doubt for doubt in (unlisted(record, kind) for kind in kinds) if doubt]
    return Seen(record.places[element], doubts[0] if doubts else "", stated=not doubts)


def _all_stations(record: Record, host: Host) -> Seen:
    """Return every station on hosts of one sort; open if a host has none or may be unlisted."""
    elements = [e for e in (Element.LINE, Element.PLANE) if host in (Host.EITHER, Host(e.value))]
    hosts = [_all(record, element) for element in elements]
    places = [place for found in hosts for place in found.places]
    bare = (f"no station is recorded on {place.label}" for place in places if not place.stations)
    doubt = next((found.open for found in hosts if found.open), "") or next(bare, "")
    return Seen(tuple(station for place in places for station in place.stations), doubt)


def _planes(record: Record, place: Place) -> Seen:
    if place.element is Element.JOINT:
        lines = seen(record, place, Element.LINE)
        each = [_planes(record, line) for line in lines.places]
        planes = {plane.id: plane for found in each for plane in found.places}
        doubt = lines.open or next((found.open for found in each if found.open), "")
        return Seen(tuple(planes.values()), doubt)
    line = _line_of(record, place)
    if line is None:
        return _named(record, Element.PLANE, place.planes, f"the planes of {place.label}")
    found = _named(record, Element.PLANE, line.planes, f"the planes beside {line.label}")
    one_sided = (LineKind.EAVE, LineKind.RAKE)
    if not found.open and len(found.places) < 2 and line.kind not in one_sided:
        return Seen(found.places, f"only one plane is recorded beside {line.label}")
    return found


def _line_of(record: Record, place: Place) -> Place | None:
    """Return the line that a place is or lies on, or None."""
    if place.element is Element.LINE:
        return place
    if place.element is Element.STATION and place.host is Element.LINE and place.lines:
        return record.by_id[Element.LINE, place.lines[0]]
    return None


def _named(record: Record, element: Element, ids: tuple[str, ...] | None, what: str) -> Seen:
    if ids is None:
        return Seen((), f"{what} are not recorded")
    return Seen(tuple(record.by_id[element, id_] for id_ in ids))


def _touching(record: Record, place: Place, element: Element) -> Seen:
    """Return the places that name `place` as the plane or line they touch."""
    key = ("touching", place.element, element)
    if key not in record.computed:
        record.computed[key] = _touchings(record, place.element, element)
    whole, doubts, touching = cast("_Touchings", record.computed[key])
    found = touching.get(place.id, ())
    # Of a place that touches it nothing is in doubt, whatever else that one may touch.
    sure = {other.id for other in found}
    doubt = whole or next((why for other, why in doubts if other.id not in sure), "")
    return Seen(found, doubt, stated=not doubt)


_Touchings = tuple[str, tuple[tuple["Place", str], ...], dict[str, tuple["Place", ...]]]
"""Why there may be more places; those whose touch is in doubt; and by id, who touches what."""


def _touchings(record: Record, touched: Element, element: Element) -> _Touchings:
    """Return which places of one element touch which planes or lines."""
    everything = _all(record, element)
    doubts: list[tuple[Place, str]] = []
    found: dict[str, list[Place]] = {}
    for other in everything.places:
        if touched is Element.PLANE:
            said = _planes(record, other)
        else:
            said = _named(record, Element.LINE, other.lines, f"the lines of {other.label}")
        if said.open:
            doubts.append((other, said.open))
        for id_ in dict.fromkeys(place.id for place in said.places):
            found.setdefault(id_, []).append(other)
    by_id = {id_: tuple(places) for id_, places in found.items()}
    return everything.open, tuple(doubts), by_id
