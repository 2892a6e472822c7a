"""Reckonings of fasteners in a deck."""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec.structs import replace

from ridgerule.facts import Plain
from ridgerule.trade import fastening
from ridgerule.trade.reckoning import Found, Given, Input, reckoning
from ridgerule.units import Dimension

if TYPE_CHECKING:
    from ridgerule.enclosures import Amount

_LENGTH = Dimension.LENGTH
_STACK = "geometry of the stack, the fastener square to the deck and its head down"
_THROUGH_OR = (
    "form of IRC R905.2.5 (recalled), FEMA P-499 sheet 7.3 and UFGS 07310; the least penetration "
    "is the rulebook's"
)

FASTENER = Input("fastener length", _LENGTH, "from under the head to the point")
PASSED = Input(
    "passed",
    _LENGTH,
    "the thickness of each layer it passes above the deck, one passed twice given twice",
    many=True,
)
DECK = Input(
    "deck",
    _LENGTH,
    "the deck's thickness; for a panel known by its mark, from the least to the greatest it can be",
)
ANY_DECK = replace(DECK, optional=True)
LEAST = Input("least penetration", _LENGTH, "the depth that will do where it is not through")


def _layers(given: Given) -> list[tuple[str, Amount]]:
    return [(f"layer {n}", t) for n, t in enumerate(given.amounts("passed"), 1)]


def _stack(given: Given) -> fastening.Penetration:
    deck = given.amount("deck") if "deck" in given else fastening.UNMEASURED_DECK
    return fastening.penetration(given.amount("fastener length"), _layers(given), deck=deck)


def _penetration(given: Given) -> Found:
    found = _stack(given)
    return found.depth, found.steps


def _beyond(given: Given) -> Found:
    found = _stack(given)
    return found.beyond, found.steps


def _by_protrusion(given: Given) -> Found:
    protrusion, deck = given.amount("protrusion"), given.amount("deck")
    found = fastening.penetration_by_protrusion(protrusion, deck=deck)
    return found.depth, found.steps


def _through(given: Given) -> Found:
    found = _stack(given)
    return fastening.goes_through(found), found.steps


def _deep_enough(given: Given) -> Found:
    found = _stack(given)
    least = given.amount("least penetration")
    return fastening.meets_through_or(found, least=least), found.steps


def _required(given: Given) -> Found:
    deck, least = given.amount("deck"), given.amount("least penetration")
    found = fastening.required_length(_layers(given), deck=deck, least=least)
    return found.length, found.steps


FASTENING = (
    reckoning(
        "penetration",
        inputs=(FASTENER, PASSED, ANY_DECK),
        dimension=_LENGTH,
        formula="fastener length less all it passes; 0 where it stops short of the deck",
        source=_STACK,
        work=_penetration,
    ),
    reckoning(
        "length beyond the deck",
        inputs=(FASTENER, PASSED, DECK),
        dimension=_LENGTH,
        formula="fastener length less all it passes less deck; below 0 inside the deck",
        source=_STACK,
        work=_beyond,
    ),
    reckoning(
        "penetration from protrusion",
        inputs=(
            Input("protrusion", _LENGTH, "how far the point stands out under the deck"),
            DECK,
        ),
        dimension=_LENGTH,
        formula="deck + protrusion",
        source=_STACK,
        work=_by_protrusion,
    ),
    reckoning(
        "through the deck",
        inputs=(FASTENER, PASSED, DECK),
        dimension=Plain.YES_NO,
        formula="whether the length beyond the deck is more than 0; level with its lower face is "
        "not through",
        source=_STACK,
        work=_through,
    ),
    reckoning(
        "through the deck or deep enough",
        inputs=(FASTENER, PASSED, DECK, LEAST),
        dimension=Plain.YES_NO,
        formula="whether it is through the deck, or penetrates at least the least penetration; "
        "both ends of an interval are judged",
        source=_THROUGH_OR,
        work=_deep_enough,
    ),
    reckoning(
        "required fastener length",
        inputs=(PASSED, DECK, LEAST),
        dimension=_LENGTH,
        formula="all it passes + the lesser of deck and least penetration; in a deck thinner than "
        "that penetration it must be longer, so that the point shows",
        source=_THROUGH_OR,
        work=_required,
    ),
)
