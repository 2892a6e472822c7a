"""Sheets of fasteners in a deck and of an attic's ventilation."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ridgerule.cli.reckon_sheet import Answer, Sheet, sheet
from ridgerule.enclosures import add, compare, divide
from ridgerule.quantities import Units, write
from ridgerule.trade import fastening as fasteners
from ridgerule.trade import ventilation as vents
from ridgerule.trade.certainty import is_at_most
from ridgerule.trade.working import Step
from ridgerule.units import Dimension

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from ridgerule.cli.reckon_input import Typed
    from ridgerule.enclosures import Amount

_LENGTH, _AREA, _COUNT = Dimension.LENGTH, Dimension.AREA, Dimension.COUNT
_SHARE, _RATE = Dimension.SHARE, Dimension.NET_FREE_AREA_PER_LENGTH


# fastening


@dataclass(frozen=True, slots=True)
class DeckAsked:
    """A deck as it was typed: one thickness, or the least and the greatest it can have."""

    one: str | None
    least: str | None
    most: str | None


def fastening(  # noqa: PLR0913 - one argument a flag
    typed: Typed,
    decks: DeckAsked,
    *,
    length: str | None,
    passes: Sequence[str] | None,
    protrusion: str | None,
    least: str | None,
) -> Sheet:
    """Return how deep a fastener goes. InputRejected, or ValueError for what can't be."""
    deck = _deck(typed, decks)
    wanted = typed.maybe("--least", least, _LENGTH)
    if protrusion is not None:
        stack = {"--length": length, "--passes": passes}
        found = _protruding(typed, protrusion, deck, stack=stack)
        layers: list[tuple[str, Amount]] = []
        reckonings = ["penetration from protrusion"]
    else:
        found, layers = _driven(typed, length, passes, deck=deck)
        reckonings = ["penetration"]
    results: list[Step | Answer] = [Step("penetration", "", found.depth, _LENGTH)]
    if deck is not None:
        results.append(_through(found))
    steps = list(found.steps)
    if wanted is not None:
        results.append(_deep_enough(found, wanted))
        reckonings.append("through the deck or deep enough")
        if layers and deck is not None:
            needed = fasteners.required_length(layers, deck=deck, least=wanted)
            results.append(_needed(needed))
            steps += needed.steps[-3:]
    return sheet(
        typed,
        name="fastening",
        title="A fastener in the deck",
        results=results,
        steps=steps,
        reckonings=reckonings,
        table=_stack(layers, deck, typed.units),
        notes=() if deck is not None else ("Without the deck's thickness: no word on through.",),
    )


def _protruding(
    typed: Typed,
    protrusion: str,
    deck: Amount | None,
    *,
    stack: Mapping[str, str | Sequence[str] | None],
) -> fasteners.Penetration:
    """Return the penetration by what stands out; the flags of a `stack` have no place beside it."""
    beyond = typed.one("--protrusion", protrusion, _LENGTH)
    for flag, text in stack.items():
        if text:
            advice = f"leave `--protrusion` or `{flag}` out"
            typed.wrong(flag, "the stack or the protrusion", "both", advice)
    if deck is None:
        typed.wrong("--deck", "the deck's thickness", "nothing that can be used", "give `--deck`")
    typed.refuse()
    return fasteners.penetration_by_protrusion(beyond, deck=deck or 0)


def _driven(
    typed: Typed, length: str | None, passes: Sequence[str] | None, *, deck: Amount | None
) -> tuple[fasteners.Penetration, list[tuple[str, Amount]]]:
    fastener = typed.one("--length", length, _LENGTH)
    if not passes:
        advice = "give the thickness of each layer: cap, slate, membrane"
        typed.wrong("--passes", "what it passes above the deck", "nothing", advice)
    thick = typed.many("--passes", passes, _LENGTH)
    typed.refuse()
    layers = [(f"layer {n}", layer) for n, layer in enumerate(thick, 1)]
    under = fasteners.UNMEASURED_DECK if deck is None else deck
    return fasteners.penetration(fastener, layers, deck=under), layers


def _stack(
    layers: Sequence[tuple[str, Amount]], deck: Amount | None, units: Units
) -> list[tuple[str, ...]]:
    """Return the layers from the head down, and how far below it each of them ends."""
    rows: list[tuple[str, ...]] = [("from the head down", "thick", "ends at")]
    down: Amount = 0
    for name, thick in (*layers, *(() if deck is None else (("deck", deck),))):
        down = add(down, thick)
        rows.append((name, *(write(a, _LENGTH, units=units) for a in (thick, down))))
    return rows if layers else []


def _deck(typed: Typed, decks: DeckAsked) -> Amount | None:
    if decks.one is not None and (decks.least is not None or decks.most is not None):
        typed.wrong("--deck", "one thickness or an interval", "both", "leave one of them out")
    if (decks.least is None) is not (decks.most is None):
        flag = "--deck-from" if decks.least is None else "--deck-to"
        typed.wrong(flag, "both ends of the interval", "one", f"give `{flag}` as well")
    if decks.one is not None:
        return typed.maybe("--deck", decks.one, _LENGTH)
    return typed.interval(("--deck-from", "--deck-to"), (decks.least, decks.most), _LENGTH)


def _through(found: fasteners.Penetration) -> Answer:
    is_so = fasteners.goes_through(found)
    told = {
        True: "the point shows under it",
        False: "the point stays inside it",
        None: "a thin panel lets it through, a thick one does not: measure the deck",
    }[is_so]
    return Answer("through the deck", is_so, told)


def _deep_enough(found: fasteners.Penetration, least: Amount) -> Answer:
    is_so = fasteners.meets_through_or(found, least=least)
    told = "the ends of the deck's interval disagree: measure the deck" if is_so is None else ""
    return Answer("through, or deep enough", is_so, told)


def _needed(needed: fasteners.RequiredLength) -> Step:
    word = "at least" if needed.must_exceed is False else "more than"
    return Step(f"length needed, {word}", "", needed.length, _LENGTH)


# ventilation


@dataclass(frozen=True, slots=True)
class VentsAsked:
    """Vents as they were typed."""

    high: Sequence[str] | None
    low: Sequence[str] | None
    ridge: Sequence[str] | None
    eaves: Sequence[str] | None


def ventilation(
    typed: Typed, asked: VentsAsked, *, area: str | None, divisor: str | None, cure: str | None
) -> Sheet:
    """Return the net free area needed and there. InputRejected, or ValueError."""
    vented, parts = typed.one("--area", area, _AREA), typed.divisor("--divisor", divisor)
    high = _vents(typed, "high vent", "--high", asked.high)
    high += _runs(typed, "ridge vent", "--ridge", asked.ridge)
    low = _vents(typed, "low vent", "--low", asked.low)
    low += _runs(typed, "eave vent", "--eaves", asked.eaves)
    rate = typed.maybe("--cure", cure, _RATE)
    typed.refuse()
    required = vents.required_area(vented, divisor=parts)
    provided = vents.provided_area(high_vents=high, low_vents=low)
    balance = vents.balance(provided, required=required.area)
    is_enough = is_at_most(required.area, provided.total)
    results: list[Step | Answer] = [
        Step("required", "", required.area, _AREA),
        Step("provided", "", provided.total, _AREA),
        Answer("enough in all", is_enough),
    ]
    steps = [*required.steps, *provided.steps, *balance.steps[4:]]
    if compare(balance.shortfall, 0) != 0:
        results.append(Step("shortfall", "", balance.shortfall, _AREA))
        if rate is not None:
            cured = vents.length_to_cure(balance.shortfall, per_length=rate)
            results.append(Step("vent that cures it", "", cured.to_cut, _LENGTH))
            steps += cured.steps[1:]
    return sheet(
        typed,
        name="ventilation",
        title="Net free area of an attic",
        results=results,
        steps=steps,
        reckonings=("required free area", "free area of a run"),
        table=_shares(balance, provided, typed),
        notes=(
            *_square_inches(required.area, provided, typed.units),
            "Whether the shares are in balance is for the code or the maker to say.",
        ),
    )


def _square_inches(required: Amount, provided: vents.ProvidedArea, units: Units) -> tuple[str, ...]:
    """Return the areas as permits print them, where inches are asked for."""
    if units is not Units.INCH:
        return ()
    areas = (
        ("required", required),
        ("high", provided.high),
        ("low", provided.low),
        ("in all", provided.total),
    )
    whole = {name: divide(vents.rounded(area), vents.SQUARE_INCH) for name, area in areas}
    told = ", ".join(f"{name} {write(area, _COUNT, units=units)}" for name, area in whole.items())
    return (f"In whole square inches, as permits print them: {told}.",)


def _vents(typed: Typed, name: str, flag: str, texts: Sequence[str] | None) -> list[vents.Vent]:
    areas = typed.many(flag, texts, _AREA)
    return [
        vents.CountedVents(name=f"{name} {n}", count=1, area=area)
        for n, area in enumerate(areas, 1)
    ]


def _runs(typed: Typed, name: str, flag: str, texts: Sequence[str] | None) -> list[vents.Vent]:
    """Return the runs of a flag that takes a length and a rate, once or several times."""
    if not texts:
        return []
    if len(texts) % 2:
        advice = f'such as `{flag} "30 ft" "18 in2/ft"`'
        typed.wrong(flag, "a length and an area per length", f"{len(texts)} values", advice)
        return []
    pairs = [
        (typed.one(flag, length, _LENGTH), typed.one(flag, rate, _RATE))
        for length, rate in zip(texts[::2], texts[1::2], strict=True)
    ]
    return [
        vents.VentRun(name=f"{name} {n}", length=length, per_length=rate)
        for n, (length, rate) in enumerate(pairs, 1)
    ]


def _shares(
    balance: vents.Balance, provided: vents.ProvidedArea, typed: Typed
) -> list[tuple[str, ...]]:
    def share(amount: Amount | None) -> str:
        return "-" if amount is None else write(amount, _SHARE, units=typed.units)

    return [
        ("where", "area", "of required", "of provided"),
        (
            "high",
            write(provided.high, _AREA, units=typed.units),
            share(balance.high_of_required),
            share(balance.high_of_provided),
        ),
        (
            "low",
            write(provided.low, _AREA, units=typed.units),
            share(balance.low_of_required),
            share(balance.low_of_provided),
        ),
    ]
