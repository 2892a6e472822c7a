"""Strong Kleene logic: true, false and unknown (None), each knowing what it rests on."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, TypeVar

from msgspec import Struct

from ridgerule.enclosures import compare, negate

if TYPE_CHECKING:
    from collections.abc import Iterable

    from ridgerule.documents import Path
    from ridgerule.facts import Fact, How, Value
    from ridgerule.quantities import Quantity
    from ridgerule.trade.working import Step

Truth = bool | None

_Item = TypeVar("_Item")


class Missing(Struct, frozen=True):
    """Something that would have to be known: which fact, at which place, and why it is not."""

    place: str
    fact: Fact | None
    reason: str
    path: Path = ()
    side: str = ""
    computes: str = ""
    """The computed fact that it is needed for, where it is."""


class Used(Struct, frozen=True):
    """A reading that a judgement rests on, or a computed value with what it was made from."""

    place: str
    fact: Fact
    text: str
    how: How | None
    path: Path
    value: Value
    via: tuple[Used, ...] = ()
    """The readings that a computed value was made from."""
    steps: tuple[Step, ...] = ()
    """Its working, number by number."""


class Judgement(Struct, frozen=True):
    """A truth value with its margin, what it rests on and what it lacks."""

    truth: Truth
    margin: Quantity | None = None
    """How far inside the limit (negative: outside), in the value's own dimension."""
    missing: tuple[Missing, ...] = ()
    used: tuple[Used, ...] = ()
    note: str = ""
    """What decided, where that is not plain from the limit: a table's row, a tie."""


def invert(truth: Truth) -> Truth:
    """Return Kleene's not."""
    return None if truth is None else not truth


def every(parts: Iterable[Judgement]) -> Judgement:
    """Return Kleene's and: a definite false beats an unknown; of nothing it is true."""
    return _joined(tuple(parts), decisive=False)


def some(parts: Iterable[Judgement]) -> Judgement:
    """Return Kleene's or: a definite true beats an unknown; of nothing it is false."""
    return _joined(tuple(parts), decisive=True)


def negation(part: Judgement) -> Judgement:
    """Return Kleene's not, its margin turned round."""
    margin = part.margin and replace(part.margin, amount=negate(part.margin.amount))
    return Judgement(invert(part.truth), margin, part.missing, part.used, part.note)


def _joined(parts: tuple[Judgement, ...], *, decisive: bool) -> Judgement:
    if len(parts) == 1:
        return parts[0]
    deciding = [part for part in parts if part.truth is decisive]
    if deciding:
        margin = _outermost(deciding, least=not decisive)
        return Judgement(decisive, margin, (), _all_used(deciding), _first_note(deciding))
    used = _all_used(parts)
    unknown = [part for part in parts if part.truth is None]
    if unknown:
        missing = _unique(lack for part in unknown for lack in part.missing)
        return Judgement(None, None, missing, used, _first_note(unknown))
    return Judgement(not decisive, _outermost(parts, least=not decisive), (), used,
                     _first_note(parts))  # fmt: skip


def _outermost(parts: Iterable[Judgement], *, least: bool) -> Quantity | None:
    """Return the margin that governs, where every part has one and they can be ordered."""
    margins = [part.margin for part in parts if part.margin is not None]
    if not margins or any(m.dimension is not margins[0].dimension for m in margins):
        return None
    governing = margins[0]
    for margin in margins[1:]:
        order = compare(margin.amount, governing.amount)
        if order is None:
            return None
        if order == (-1 if least else 1):
            governing = margin
    return governing


def _all_used(parts: Iterable[Judgement]) -> tuple[Used, ...]:
    return _unique(reading for part in parts for reading in part.used)


def _first_note(parts: Iterable[Judgement]) -> str:
    return next((part.note for part in parts if part.note), "")


def _unique(items: Iterable[_Item]) -> tuple[_Item, ...]:
    return tuple(dict.fromkeys(items))
