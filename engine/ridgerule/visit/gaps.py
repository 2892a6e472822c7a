"""What an outline leaves out of itself: which planes and lines a place touches, what it lists."""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.completeness import complete_key
from ridgerule.audit.places import unlisted
from ridgerule.facts import Element, Host, LineKind
from ridgerule.record import STRUCTURE

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from ridgerule.documents import Path
    from ridgerule.record import Place, Record

COMPLETE: Path = ("complete",)
_PLANE_KEYS, _LINE_KEYS = ("between", "planes", "plane"), ("lines", "line")
_ONE_SIDED = (LineKind.EAVE, LineKind.RAKE)


class Gap(Struct, frozen=True):
    """A key that the record should have and that is no fact: `between`, `complete: {hips}`."""

    path: Path
    """Of the place, or of the section `complete`."""
    key: str


def gaps(record: Record, place: Place, element: Element, host: Host = Host.EITHER) -> Iterator[Gap]:
    """Yield what keeps a place from seeing all places of an element, but stations yet to come."""
    if element in (place.element, Element.ROOF):
        return
    if place.element is Element.ROOF:
        yield from _unlisted(record, _kinds(element, host))
    elif element is Element.PLANE:
        yield from _planes(record, place)
    elif element is Element.LINE and place.element is not Element.PLANE:
        if place.lines is None:
            yield Gap(place.path, _key(place, _LINE_KEYS))
    elif element is not Element.STATION:
        yield from _touching(record, place, element)


def unlisted_kinds(record: Record, kinds: Iterable[Element | LineKind]) -> Iterator[Gap]:
    """Yield the kinds of place of which the record does not say whether it lists them all."""
    return _unlisted(record, kinds)


def _unlisted(record: Record, kinds: Iterable[Element | LineKind]) -> Iterator[Gap]:
    yield from (Gap(COMPLETE, complete_key(kind)) for kind in kinds if unlisted(record, kind))


def _kinds(element: Element, host: Host) -> tuple[Element | LineKind, ...]:
    """Return the kinds of place that hold, or are, those of an element."""
    if element is Element.LINE:
        return tuple(LineKind)
    if element is not Element.STATION:
        return (element,)
    lines = tuple(LineKind) if host is not Host.PLANE else ()
    return (*lines, Element.PLANE) if host is not Host.LINE else lines


def _planes(record: Record, place: Place) -> Iterator[Gap]:
    if place.element is Element.JOINT:
        if place.lines is None:
            yield Gap(place.path, "lines")
        for id_ in place.lines or ():
            yield from _planes(record, record.by_id[Element.LINE, id_])
        return
    holder = _holder(record, place)
    two_sided = holder.element is Element.LINE and holder.kind not in _ONE_SIDED
    if holder.planes is None or (two_sided and len(holder.planes) < 2):
        yield Gap(holder.path, _key(holder, _PLANE_KEYS))


def _holder(record: Record, place: Place) -> Place:
    """Return the line that a station lies on, or the place itself."""
    if place.element is Element.STATION and place.host is Element.LINE and place.lines:
        return record.by_id[Element.LINE, place.lines[0]]
    return place


def _touching(record: Record, place: Place, element: Element) -> Iterator[Gap]:
    yield from _unlisted(record, _kinds(element, Host.EITHER))
    for other in record.places[element]:
        if place.element is Element.PLANE:
            yield from _planes(record, other)
        elif other.lines is None:
            yield Gap(other.path, _key(other, _LINE_KEYS))


def _key(place: Place, keys: tuple[str, ...]) -> str:
    return next(key for key in keys if key in STRUCTURE[place.element])
