"""How deep a fastener goes into the deck, and whether that is deep enough.

The model codes ask for "through the deck, or a least penetration" (IRC R905.2.5 for asphalt
shingles, FEMA P-499 sheet 7.3, UFGS 07310 for slate: there, whichever is less). The least
penetration, and what a panel mark says about actual thickness, are the rulebook's to give.

Lengths are in nanometres. A panel known by its mark alone is an interval, from the least to the
greatest thickness it can have: both ends are judged, and only if they disagree is the answer
None. The fastener is taken to be driven square to the deck, its head down on what it holds.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.enclosures import Amount, Span, add, high, low, subtract
from ridgerule.trade.arithmetic import excess, total
from ridgerule.trade.certainty import (
    is_at_most,
    is_more_than,
    lesser,
    not_negative,
    positive,
)
from ridgerule.trade.working import Step, given
from ridgerule.units import Dimension

if TYPE_CHECKING:
    from collections.abc import Sequence

_LENGTH = Dimension.LENGTH
_DECK, _LEAST = "a deck's thickness", "a least penetration"
UNMEASURED_DECK = Span(0, None)
"""A deck of any thickness: what an unmeasured one has to be taken for."""


class Penetration(Struct, frozen=True):
    """How far a fastener's point lies below the deck's two faces."""

    depth: Amount
    """Below the upper face; 0 where the fastener stops short of the deck."""
    beyond: Amount
    """Below the lower face; negative where the point stays inside the deck."""
    steps: tuple[Step, ...]


class RequiredLength(Struct, frozen=True):
    """The least length, under the head, of a fastener that goes deep enough."""

    length: Amount
    must_exceed: bool | None
    """Whether it has to be longer than that: to show under the deck, not to be level with it."""
    steps: tuple[Step, ...]


def penetration(
    length: Amount, passed: Sequence[tuple[str, Amount]], *, deck: Amount = UNMEASURED_DECK
) -> Penetration:
    """Return how deep a fastener goes: its length under the head, less all it passes first.

    `passed` names each layer above the deck and gives its thickness; a layer passed twice (two
    slates, two caps) is listed twice. ValueError where the length is not more than 0, a layer
    is thinner than 0, or the deck can't be thicker than 0.
    """
    fastener = positive(length, name="a fastener's length under its head")
    thickness = positive(deck, name=_DECK)
    layers = _layers(passed)
    above = layers[-1].amount
    depth = excess(fastener, over=above)
    beyond = subtract(subtract(fastener, above), thickness)
    steps = (
        given("fastener, under its head", fastener, _LENGTH),
        *layers,
        Step("depth", "fastener less layers in all, 0 if short of the deck", depth, _LENGTH),
        *_under(thickness, beyond),
    )
    return Penetration(depth, beyond, steps)


def penetration_by_protrusion(protrusion: Amount, *, deck: Amount) -> Penetration:
    """Return how deep a fastener goes whose point stands out of the deck's lower face.

    What stands out has gone through, however thick the deck is. ValueError where the protrusion
    is less than 0 (a point that can't be seen has no protrusion to measure) or the deck can't be
    thicker than 0.
    """
    beyond = not_negative(protrusion, name="what stands out of the deck")
    thickness = positive(deck, name=_DECK)
    depth = add(thickness, beyond)
    steps = (
        given("beyond the deck", beyond, _LENGTH),
        given("deck", thickness, _LENGTH),
        Step("depth", "deck + beyond the deck", depth, _LENGTH),
    )
    return Penetration(depth, beyond, steps)


def goes_through(penetration: Penetration) -> bool | None:
    """Return whether the point shows under the deck; level with its lower face it does not."""
    return is_more_than(penetration.beyond, 0)


def meets_through_or(penetration: Penetration, *, least: Amount) -> bool | None:
    """Return whether the fastener goes through the deck, or at least `least` into it.

    Each end of an interval is judged by both branches; None only if they disagree. ValueError
    where `least` is not more than 0.
    """
    deep_enough = is_at_most(positive(least, name=_LEAST), penetration.depth)
    through = goes_through(penetration)
    if deep_enough or through:
        return True
    return None if deep_enough is None or through is None else False


def required_length(
    passed: Sequence[tuple[str, Amount]], *, deck: Amount, least: Amount
) -> RequiredLength:
    """Return how long a fastener must be to go through the deck or `least` into it, the lesser.

    Where the deck is thinner than `least` the point must show below it, so a fastener has to be
    longer than what comes back; else that length will do. ValueError as for `penetration` and
    `meets_through_or`.
    """
    thickness, wanted = positive(deck, name=_DECK), positive(least, name=_LEAST)
    layers = _layers(passed)
    depth = lesser(thickness, wanted)
    length = add(layers[-1].amount, depth)
    steps = (
        *layers,
        given("deck", thickness, _LENGTH),
        given("least penetration", wanted, _LENGTH),
        Step("depth needed", "deck or least penetration, the lesser", depth, _LENGTH),
        Step("fastener, under its head", "layers in all + depth needed", length, _LENGTH),
    )
    return RequiredLength(length, is_more_than(wanted, thickness), steps)


def _layers(passed: Sequence[tuple[str, Amount]]) -> tuple[Step, ...]:
    """Return a step for each layer above the deck, and last the sum of them."""
    layers = [
        given(label, not_negative(thickness, name=f"the thickness of {label}"), _LENGTH)
        for label, thickness in passed
    ]
    above = total(layer.amount for layer in layers)
    return (*layers, Step("layers in all", "sum of the layers above the deck", above, _LENGTH))


def _under(deck: Amount, beyond: Amount) -> tuple[Step, ...]:
    """Return the steps from depth to what shows below; none where the deck is unmeasured."""
    if high(deck) is None and low(deck) == 0:
        return ()
    formula = "fastener less layers in all less deck, below 0 inside the deck"
    return given("deck", deck, _LENGTH), Step("beyond the deck", formula, beyond, _LENGTH)
