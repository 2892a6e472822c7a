"""How a reading near a limit is decided: by itself, or with its uncertainty counted.

Simple acceptance: a reading on the limit meets it. Guarded acceptance: what lies within its
expanded uncertainty of the limit is too close to call, on either side (ILAC-G8:09/2019, guard band
of U; JCGM 106:2012). Beside either stands the statement: pass, conditional pass, conditional fail
or fail.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.limits import AllOf, AnyOf, AtLeast, AtMost, Between, EqualTo, Not, Table
from ridgerule.audit.uncertainty import Sure, sureness, together
from ridgerule.enclosures import absolute, compare, multiply, subtract
from ridgerule.facts import FactRef
from ridgerule.quantities import Quantity, Units, units_of, write
from ridgerule.trade.conformance import Statement, conformance_probability, statement

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from ridgerule.audit.limits import Limit
    from ridgerule.audit.truth import Judgement, Used
    from ridgerule.enclosures import Amount
    from ridgerule.record import Record


class Decision(Struct, frozen=True):
    """What can be said of a judged reading with its uncertainty."""

    statement: Statement | None
    """None where no statement can be made; `lack` says why."""
    sure: Sure
    probability: Amount | None = None
    """The chance that what was measured lies within its limit (JCGM 106, 7)."""
    lack: str = ""

    @property
    def is_conditional(self) -> bool:
        """Whether the reading lies within its uncertainty of the limit, or that can't be told."""
        return self.statement not in (Statement.PASS, Statement.FAIL)


def decision(  # noqa: PLR0913 - what is judged, and by what
    record: Record,
    ref: FactRef,
    limit: Limit,
    judged: Judgement,
    *,
    measured: Sequence[Used],
    with_probability: bool = False,
) -> Decision | None:
    """Return what can be said of a judged value, None where it is no quantity on a scale.

    `limit` is the one that decided, with the margin to it in `judged`.
    """
    margin = judged.margin
    if margin is None or judged.truth is None:
        return None
    sure = together([sureness(record, ref, measured), *_of_operands(record, limit, judged)])
    if sure.lack:
        return Decision(None, sure, None, sure.lack)
    # A margin is what is left to the limit: as a reading against a least value of 0.
    most = _room(limit)
    said = statement(
        margin.amount, expanded=sure.expanded, least=0, most=most, dimension=margin.dimension
    ).statement
    chance = None
    if with_probability:
        chance = conformance_probability(
            margin.amount, standard=sure.standard, least=0, most=most
        ).probability
    return Decision(said, sure, chance)


def _room(limit: Limit) -> Amount | None:
    """Return how far apart the two ends of a limit lie, None for a limit with one end."""
    match limit:
        case Between(Quantity() as least, Quantity() as most):
            return subtract(most.amount, least.amount)
        case AllOf((AtLeast(Quantity() as least), AtMost(Quantity() as most))):
            return subtract(most.amount, least.amount)
        case AllOf((AtMost(Quantity() as most), AtLeast(Quantity() as least))):
            return subtract(most.amount, least.amount)
        case EqualTo(_, Quantity() as within):
            return multiply(within.amount, 2)
        case _:
            return None


def _of_operands(record: Record, limit: Limit, judged: Judgement) -> Iterator[Sure]:
    """Yield how sure the other facts are that a value is held against."""
    for ref in dict.fromkeys(_operands(limit)):
        uses = [use for use in judged.used if use.fact.full_name == ref.fact.full_name]
        if uses:
            yield sureness(record, ref, uses)


def _operands(limit: Limit) -> Iterator[FactRef]:
    """Yield the facts that a value is held against; those that only pick a row are none."""
    match limit:
        case AtLeast(FactRef() as ref) | AtMost(FactRef() as ref) | EqualTo(FactRef() as ref):
            yield ref
        case Between(least, most):
            yield from (end for end in (least, most) if isinstance(end, FactRef))
        case AllOf(parts) | AnyOf(parts):
            for part in parts:
                yield from _operands(part)
        case Not(part):
            yield from _operands(part)
        case Table(_, rows):
            for row in rows:
                yield from _operands(row.limit)
        case _:
            return


def too_close(found: Decision, judged: Judgement, measured: Sequence[Used]) -> str:
    """Return why a guarded decision is open, and what would settle it."""
    if found.statement is None:
        return f"too close to call without knowing how sure it is: {found.lack}"
    if found.statement is Statement.CANNOT_BE_VERIFIED:
        return (
            "the limits lie closer together than this instrument can tell "
            f"(±{_words(found.sure.expanded, _margin(judged), measured)}); use a finer one"
        )
    margin = _margin(judged)
    sure = _words(found.sure.expanded, margin, measured)
    if compare(margin.amount, 0) == 0:
        return (
            f"too close to call: on the limit, and the reading is sure to ±{sure}; no instrument "
            f"settles a reading on the limit itself"
        )
    off = _words(absolute(margin.amount), margin, measured)
    side = "inside" if judged.truth else "outside"
    return (
        f"too close to call: {off} {side} the limit, and the reading is sure to ±{sure}; measure "
        f"again with an instrument that is sure to less than ±{off}"
    )


def _margin(judged: Judgement) -> Quantity:
    if judged.margin is None:
        raise TypeError("a decision has a margin")
    return judged.margin


def _words(amount: Amount, margin: Quantity, measured: Sequence[Used]) -> str:
    """Return an amount in the units that the readings were written in."""
    texts = (use.text for use in measured if isinstance(use.value, Quantity))
    units = next(filter(None, map(units_of, texts)), Units.INCH)
    return write(amount, margin.dimension, units=units).removeprefix("≈ ")
