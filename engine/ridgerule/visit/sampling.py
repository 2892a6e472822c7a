"""How many stations show a share without fault with a stated confidence, kind by kind.

Each line has its part of the stations by its length, rounded up: a sample drawn so shows at least
as much as one drawn over all lines together, since the chance that every line's part misses what
is wrong is greatest where all lines are equally wrong (the logarithm is concave).
"""

from __future__ import annotations

from fractions import Fraction
from math import ceil
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.enclosures import low
from ridgerule.facts import Element, LineKind
from ridgerule.quantities import Dimension, Quantity, Units, write
from ridgerule.trade.draws import drawn
from ridgerule.trade.sampling import sample_size

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from ridgerule.documents import Path
    from ridgerule.enclosures import Exact
    from ridgerule.record import Place

MOST_PIECES = 1_000
"""More stations or pieces than this are asked of nobody."""
_MOST_IN_A_LOT = 100_000
"""Of a greater lot as many are looked at as of one without end, which shows no less."""


class Certainty(Struct, frozen=True):
    """How sure a sample without a fault is to make, of which share."""

    confidence: Exact
    share: Exact

    @property
    def pieces(self) -> int:
        """How many pieces show it, of however many there are (success run).

        ValueError unless both are between 0 and 1.
        """
        return sample_size(self.confidence, reliability=self.share).pieces

    @property
    def words(self) -> str:
        """Return what a sample without a fault shows, after "it is"."""
        sure, part = (
            write(amount, Dimension.SHARE, units=Units.INCH)
            for amount in (self.confidence, self.share)
        )
        return f"{sure} sure that at least {part}"


class Sample(Struct, frozen=True):
    """The stations of one kind of line, or of the planes, and what they would show."""

    kind: Element | LineKind
    counts: Mapping[Path, int]
    """How many on each line or plane."""
    statement: str


def samples(hosts: Iterable[Place], certainty: Certainty, *, seed: str) -> tuple[Sample, ...]:
    """Return how many stations each line and plane needs for the certainty asked for."""
    groups: dict[Element | LineKind, list[Place]] = {}
    for host in hosts:
        groups.setdefault(host.kind or host.element, []).append(host)
    return tuple(_sample(kind, group, certainty, seed) for kind, group in groups.items())


def _sample(
    kind: Element | LineKind, hosts: Sequence[Place], certainty: Certainty, seed: str
) -> Sample:
    pieces = certainty.pieces
    name = "area" if kind is Element.PLANE else "length"
    sizes = [_size(host, name) for host in hosts]
    known = [size for size in sizes if size]
    weights = known if len(known) == len(sizes) else [Fraction(1)] * len(sizes)
    whole = sum(weights, Fraction(0))
    counts = {
        host.path: ceil(pieces * weight / whole)
        for host, weight in zip(hosts, weights, strict=True)
    }
    statement = _statement(kind, len(hosts), sum(counts.values()), certainty)
    if len(known) < len(sizes) and len(sizes) > 1:
        statement += f"; each {kind} counts alike, since not every {name} is recorded"
    return Sample(kind, counts, statement if seed else f"{statement}; {_NOT_DRAWN}")


_NOT_DRAWN = (
    "that holds for stations drawn at random, and these are spread evenly: name a seed to draw them"
)


def _statement(kind: str, hosts: int, stations: int, certainty: Certainty) -> str:
    noun = f"{hosts} {kind}s" if hosts > 1 else f"1 {kind}"
    whole = f"the {kind}s" if hosts > 1 else f"the {kind}"
    return (
        f"{stations} stations on {noun}: if all are right, it is {certainty.words} of {whole} is "
        f"right (success run, {certainty.pieces} needed)"
    )


def _size(host: Place, name: str) -> Fraction | None:
    readings = host.readings.get(name, ())
    value = readings[0].value if readings else None
    least = low(value.amount) if isinstance(value, Quantity) else None
    return Fraction(least) if least else None


class Pieces(Struct, frozen=True):
    """How many pieces of a lot to look at, and which, where they are drawn."""

    count: int
    lot: int
    numbers: tuple[int, ...]
    statement: str


def pieces_of(lot: int, certainty: Certainty, *, seed: str) -> Pieces:
    """Return how many pieces of a lot show the certainty asked for (hypergeometric)."""
    sized = lot if lot <= _MOST_IN_A_LOT else None
    count = sample_size(certainty.confidence, reliability=certainty.share, lot=sized).pieces
    count = min(count, lot)
    numbers = drawn(count, of=lot, seed=seed) if seed else ()
    statement = (
        f"{count} pieces of {lot} without a fault: {certainty.words} of them are right "
        f"({'hypergeometric' if sized else 'success run'})"
    )
    return Pieces(count, lot, numbers, statement)
