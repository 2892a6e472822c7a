"""What has to hold for a reading to be needed: conditions that the record leaves open so far."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.judge import Setting, holds
from ridgerule.audit.limits import (
    AllOf,
    AnyOf,
    EqualTo,
    Holds,
    Limit,
    Not,
    OneOf,
    Stated,
    Table,
    nodes,
)
from ridgerule.audit.places import seen
from ridgerule.audit.subjects import ANYTHING, Evidence
from ridgerule.facts import Element, FactRef

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from ridgerule.documents import Path
    from ridgerule.record import Place, Record


class Given(Struct, frozen=True):
    """A condition on facts of one place, and where it is asked."""

    path: Path
    condition: Limit


NO_MATTER_WHAT: frozenset[Given] = frozenset()
"""Nothing has to hold: the reading is needed anyway."""


def further(
    record: Record,
    place: Place,
    condition: Limit,
    given: frozenset[Given],
    *,
    evidence: Evidence = ANYTHING,
) -> frozenset[Given]:
    """Return what has to hold once a condition is asked as well; what is known is left out.

    So is what nobody can answer by itself: the result may hold more often, never less.
    """
    left = _left_open(Setting(record, place, evidence), condition)
    asked = None if isinstance(left, bool) else _answerable(left, place)
    for part in _parts(asked):
        given = _joined(given, Given(_path(record, place, part), part))
    return given


def is_easy(condition: Limit) -> bool:
    """Tell whether a condition asks recorded facts alone, each by itself."""
    if isinstance(condition, Holds):
        return _is_recorded(condition)
    inner = condition.parts if isinstance(condition, (AllOf, AnyOf)) else ()
    inner = (condition.part,) if isinstance(condition, Not) else inner
    return bool(inner) and all(map(is_easy, inner))


def alternatives(found: Iterable[frozenset[Given]]) -> tuple[frozenset[Given], ...]:
    """Return the least that has to hold for any of several needs; nothing where one is always."""
    ways = dict.fromkeys(found)
    while (either_way := _either_way(ways)) is not None:
        one, other, rest = either_way
        del ways[one], ways[other]
        ways[rest] = None
    return tuple(way for way in ways if not any(other < way for other in ways))


def _either_way(
    ways: Iterable[frozenset[Given]],
) -> tuple[frozenset[Given], frozenset[Given], frozenset[Given]] | None:
    """Return two ways that differ only in that one asks what the other denies, and the rest."""
    for one, other in combinations(ways, 2):
        (*own,), (*others,) = one - other, other - one
        is_one_each = len(own) == len(others) == 1 and own[0].path == others[0].path
        if is_one_each and _negated(own[0].condition) == others[0].condition:
            return one, other, one & other
    return None


def _left_open(setting: Setting, node: Limit) -> bool | Limit:
    """Return a condition without what the record settles, or its truth where that is all of it."""
    truth = holds(setting, node).truth
    if truth is not None:
        return truth
    match node:
        case AllOf(parts) | AnyOf(parts):
            found = (_left_open(setting, part) for part in parts)
            kept = tuple(part for part in found if not isinstance(part, bool))
            return kept[0] if len(kept) == 1 else type(node)(kept)
        case Not(part):
            inner = _left_open(setting, part)
            return (not inner) if isinstance(inner, bool) else _negated(inner)
        case _:
            return node


def _negated(node: Limit) -> Limit:
    """Return that a condition does not hold; of yes or no, that it is the other."""
    match node:
        case Not(part):
            return part
        case Holds(ref, Stated(present)):
            return Holds(ref, Stated(not present))
        case Holds(ref, EqualTo(bool() as said)):
            return Holds(ref, EqualTo(not said))
        case _:
            return Not(node)


def _answerable(node: Limit, place: Place) -> Limit | None:
    """Return what of a condition a person can answer: a weaker one, or None for nothing of it."""
    match node:
        case AllOf(parts):
            kept = tuple(k for k in (_answerable(part, place) for part in parts) if k is not None)
            return None if not kept else kept[0] if len(kept) == 1 else AllOf(kept)
        case AnyOf(parts):
            kept = tuple(k for k in (_answerable(part, place) for part in parts) if k is not None)
            return AnyOf(kept) if len(kept) == len(parts) else None
        case Not(part):
            # Less of it inside would be more of it outside.
            return node if is_easy(part) and _is_here(part, place) else None
        case Holds():
            return node if _is_recorded(node) and _is_here(node, place) else None
        case _:
            return None


def _is_recorded(node: Holds) -> bool:
    """Tell whether a condition rests on recorded facts, none of them one over many."""
    refs = [part for part in nodes(node) if isinstance(part, FactRef)]
    has_table = any(isinstance(part, Table) for part in nodes(node))
    alone = all(ref.over is None and ref.fact.derivation is None for ref in refs)
    return alone and not has_table


def _is_here(node: Limit, place: Place) -> bool:
    """Tell whether none of a condition's facts is one of stations that the place looks over."""
    refs = [part for part in nodes(node) if isinstance(part, FactRef)]
    return place.element is Element.STATION or not any(
        ref.fact.element is Element.STATION for ref in refs
    )


def _parts(node: Limit | None) -> Iterator[Limit]:
    if isinstance(node, AllOf):
        for part in node.parts:
            yield from _parts(part)
    elif node is not None:
        yield node


def _path(record: Record, place: Place, node: Limit) -> Path:
    """Return where a condition is asked: at the place that has its facts, if it is one."""
    refs = [part for part in nodes(node) if isinstance(part, FactRef)]
    paths = {
        found.path for ref in refs for found in seen(record, place, ref.fact.element).places[:1]
    }
    return paths.pop() if len(paths) == 1 else place.path


def _joined(given: frozenset[Given], new: Given) -> frozenset[Given]:
    """Return both, without what the new one says already: of one word, that it is no other."""
    if _names_one(new.condition):
        given = frozenset(old for old in given if not _denies(old, new))
    if any(_denies(new, old) for old in given if _names_one(old.condition)):
        return given
    return given | {new}


def _names_one(node: Limit) -> bool:
    return isinstance(node, Holds) and isinstance(node.limit, (EqualTo, OneOf))


def _denies(denial: Given, said: Given) -> bool:
    """Tell whether a condition only denies other words for the fact that `said` gives a word."""
    node, other = denial.condition, said.condition
    if not isinstance(node, Not) or not isinstance(node.part, Holds) or not _names_one(node.part):
        return False
    same_fact = isinstance(other, Holds) and node.part.fact == other.fact
    return denial.path == said.path and same_fact and node.part != other
