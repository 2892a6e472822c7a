"""The small functions that a written decision calls, each over readings as they stand in a line."""

from __future__ import annotations

import re
from operator import attrgetter
from typing import TYPE_CHECKING, Any, TypeVar

from msgspec import UNSET

from ridgerule.coordinates import read_points
from ridgerule.enclosures import Span, compare
from ridgerule.facts import Element, read_value
from ridgerule.quantities import Dimension, Mistake, Quantity, read
from ridgerule.record import COMPLETE_KEYS, unknown_reason
from ridgerule.record_reader import spot_of
from ridgerule.survey.light_record import is_readable
from ridgerule.survey.shapes import attribute

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from ridgerule.facts import Fact, Vocabulary
    from ridgerule.survey.shapes import Shapes


MOST_REMEMBERED = 200_000
"""Combinations of readings that one memo holds; then it begins anew, so that memory is bounded."""


class Unusual(Exception):  # noqa: N818 - says what happened; caught where a record is decided
    """A record has a form that is not decided by look-up."""


_RESOLUTIONS = (
    Dimension.LENGTH, Dimension.ANGLE, Dimension.SLOPE, Dimension.TEMPERATURE_DIFFERENCE,
)  # fmt: skip


def names_for(shapes: Shapes, vocabulary: Vocabulary) -> dict[str, Any]:
    """Return the names that every written function knows, with the memos that all share."""
    words, yes_no = shapes.long_forms
    normal = _normal(shapes.long_forms)
    return {
        "U": UNSET, "LW": words, "LY": yes_no, "Unusual": Unusual,
        "normal": normal, "sides": _sides(normal),
        "direction": _direction(vocabulary), "ring": ring, "any_of": any_of, "many": many,
        "complete": complete, "apart": apart, "points": points, "instruments": _instruments(),
        "spot": spot_of_words, "NOWHERE": frozenset({""}),
        "IDS": set(), "AT": {}, "ONLY_line": {}, "ONLY_plane": {}, "READ": {},
    }  # fmt: skip


def _normal(long_forms: tuple[type, ...]) -> Callable[[tuple[Any, ...]], tuple[Any, ...]]:
    forms: frozenset[Any] = frozenset(long_forms)

    def normal(parts: tuple[Any, ...]) -> tuple[Any, ...]:
        """Return readings with each long form as what of it counts."""
        return tuple(
            (p.value_, p.how_, p.photo_ is UNSET, p.by_ is UNSET, p.repeats_)
            if p.__class__ in forms
            else p
            for p in parts
        )

    return normal


def _sides(
    normal: Callable[[tuple[Any, ...]], tuple[Any, ...]],
) -> Callable[[dict[str, Any], tuple[str, ...]], tuple[Any, ...]]:
    def sides(given: dict[str, Any], planes: tuple[str, ...]) -> tuple[Any, ...]:
        """Return the reading on each plane's side, in the planes' order."""
        found = [given.get(plane, UNSET) for plane in planes]
        if len(given) != len(planes) - found.count(UNSET):
            raise Unusual  # it names a plane that does not lie there
        return normal(tuple(found))

    return sides


def _direction(vocabulary: Vocabulary) -> Callable[[Any], Any]:
    fact = vocabulary.by_name["plane.faces"]
    known: dict[Any, Any] = {}

    def direction(part: Any) -> Any:  # noqa: ANN401 - a part of a key
        """Return the direction that a plane faces in degrees, None where it is not known."""
        try:
            return known[part]
        except KeyError:
            raw = part[0] if isinstance(part, tuple) else part
            value = read_value(raw, fact)
            amount = value.amount if isinstance(value, Quantity) else None
            if isinstance(amount, Span):
                raise Unusual from None
            if amount is not None and compare(amount, 360) == 0:
                amount = 0
            known[part] = amount
            return amount

    return direction


def ring(facing: list[tuple[Any, str]]) -> tuple[Any, ...]:
    """Return the planes in the order they face, those that face one way in one text."""
    if any(amount is None for amount, _ in facing):
        return (None, len(facing))
    found: list[str] = []
    last = None
    for amount, id_ in sorted(facing):
        if amount == last:
            found[-1] = f"{found[-1]}\n{id_}"
        else:
            found.append(id_)
            last = amount
    return tuple(found)


def any_of(parts: list[Any]) -> tuple[Any, ...]:
    """Return which readings there are and how many, where their order says nothing."""
    return frozenset(parts), len(parts)


def many(parts: list[Any]) -> tuple[Any, ...]:
    """Return readings in their order; of equal ones, which it is and how many."""
    different = frozenset(parts)
    return (different, len(parts)) if len(different) < 2 else tuple(parts)


_SAID = attrgetter(*(attribute(key) for key in COMPLETE_KEYS))
_UNSAID = (UNSET,) * len(COMPLETE_KEYS)


def complete(decoded: Any) -> Any:  # noqa: ANN401 - a decoded record
    """Return what the record says it lists in full."""
    return _UNSAID if decoded.complete_ is UNSET else _SAID(decoded.complete_)


def apart(decoded: Any) -> frozenset[Any]:  # noqa: ANN401 - a decoded record
    """Return the pairs of planes stated not to meet."""
    if decoded.complete_ is UNSET or decoded.complete_.apart_ is UNSET:
        return frozenset()
    planes = () if decoded.planes_ is UNSET else decoded.planes_
    for one, other in decoded.complete_.apart_:
        if one == other or one not in planes or other not in planes:
            raise Unusual
    return frozenset(decoded.complete_.apart_)


def points(plan: tuple[tuple[str, str], ...]) -> None:
    """Raise Unusual where the points of a line can't be read, or are too few."""
    found, wrong = read_points([list(point) for point in plan], ())
    if wrong or not found:
        raise Unusual


def _instruments() -> Callable[[dict[str, Any]], None]:
    known: set[Any] = set()

    def instruments(listed: dict[str, Any]) -> None:
        """Raise Unusual where an instrument's figures can't be read."""
        for each in listed.values():
            figures = (each.graduation_, each.expanded_uncertainty_)
            if figures not in known:
                if not all(map(_is_resolution, figures)):
                    raise Unusual
                known.add(figures)

    return instruments


def _is_resolution(raw: object) -> bool:
    if not isinstance(raw, str):
        return True
    return not all(isinstance(read(raw, dimension), Mistake) for dimension in _RESOLUTIONS)


def spot_of_words(at: Any) -> str:  # noqa: ANN401 - words, None or UNSET
    """Return where a station on a plane lies, in one spelling; empty where that is not known."""
    words = at if isinstance(at, str) else ""
    return "" if unknown_reason(words) else " ".join(words.casefold().split())


def readers_for(
    names: dict[str, Any], readable: tuple[tuple[Fact, ...], ...], shapes: Shapes, known: Vocabulary
) -> dict[str, Any]:
    """Return the functions that look at what a written function has not seen before.

    Each adds it to what has been seen, or raises `Unusual` where the ordinary reader has to tell
    what is wrong with it.
    """

    def look(number: int, key: tuple[Any, ...]) -> None:
        if not all(is_readable(f, part) for f, part in zip(readable[number], key, strict=True)):
            raise Unusual
        _bounded(names[f"V{number}"]).add(key)

    def known_ids(ids: dict[str, Any]) -> None:
        if not all(_ID.fullmatch(id_) for id_ in ids):
            raise Unusual
        _bounded(names["IDS"]).update(ids)

    def position(at: Any) -> None:  # noqa: ANN401 - words, None or UNSET
        seen = _bounded(names["AT"])
        if unknown_reason(None if at is UNSET else at):
            seen[at] = ""
            return
        found = read(at, Dimension.LENGTH)
        if not isinstance(found, Quantity):
            raise Unusual
        seen[at] = spot_of(found, found.text)

    def only(seen: dict[Any, Any], listed: tuple[str, ...], host: str) -> None:
        if any(name not in known.by_element[Element.STATION] for name in listed):
            raise Unusual
        facts = shapes.facts[Element.STATION, Element(host)]
        _bounded(seen)[listed] = _only_test(listed, [fact.name for fact in facts])

    return {"readable": look, "known_ids": known_ids, "position": position, "only": only}


_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9 _.-]{0,39}")
_Seen = TypeVar("_Seen", set[Any], dict[Any, Any])


def _bounded(seen: _Seen) -> _Seen:
    """Return what has been seen, emptied where it has grown too large."""
    if len(seen) >= MOST_REMEMBERED:
        seen.clear()
    return seen


def _only_test(names: tuple[str, ...], facts: Iterable[str]) -> Callable[[Any], bool]:
    """Return a test that a station made for some facts says nothing of the others."""
    others = [attribute(name) for name in facts if name not in names]
    if not others:
        return lambda _: True
    if len(others) == 1:
        getter = attrgetter(others[0])
        return lambda station: getter(station) is UNSET
    every = attrgetter(*others)
    blank = (UNSET,) * len(others)
    return lambda station: every(station) == blank
