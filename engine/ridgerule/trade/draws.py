"""Where to look: random pieces and stations from a stated seed, for anyone to draw again.

Number i of the stream of a seed is the SHA-256 digest of the UTF-8 text `seed:i` as a big-endian
whole number, i from 0; so a draw is the same on every machine and version of Python.
"""

from __future__ import annotations

from fractions import Fraction
from hashlib import sha256
from itertools import count as counter
from math import floor
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.enclosures import Amount, Exact, exact, low
from ridgerule.trade.certainty import not_negative, positive
from ridgerule.trade.working import Step, given
from ridgerule.units import NM_PER_INCH, Dimension

if TYPE_CHECKING:
    from collections.abc import Iterator

_SPACE = 1 << 256


def drawn(pieces: int, *, of: int, seed: str) -> tuple[int, ...]:
    """Return the numbers, 1 to `of` in rising order, of `pieces` drawn without return.

    Every set of so many is equally likely (Floyd's algorithm). ValueError for a count below 0,
    or for more pieces than there are.
    """
    if not 0 <= pieces <= of:
        raise ValueError(f"{pieces} different pieces can't be drawn of {of}")
    stream = _stream(seed)
    chosen: set[int] = set()
    for last in range(of - pieces + 1, of + 1):
        number = 1 + _below(last, stream)
        chosen.add(last if number in chosen else number)
    return tuple(sorted(chosen))


class Stations(Struct, frozen=True):
    """Positions along a line in nm from its stated end, in rising order."""

    positions: tuple[Exact, ...]
    steps: tuple[Step, ...]


def random_stations(
    stations: int, *, length: Amount, seed: str, resolution: Exact = NM_PER_INCH
) -> Stations:
    """Return different random positions on a line, whole multiples of `resolution`, ends included.

    A length that is a span is taken at its least. ValueError for more stations than there are
    positions, a length below 0, or a resolution not above 0.
    """
    positive(resolution, name="a resolution")
    line = not_negative(length, name="a line's length")
    places = floor(Fraction(low(line) or 0) / resolution) + 1
    numbers = drawn(stations, of=places, seed=seed)
    positions = tuple(exact((number - 1) * resolution) for number in numbers)
    draw = f"drawn with seed {seed!r}, x resolution"
    steps = (
        given("line", line, Dimension.LENGTH),
        given("resolution", resolution, Dimension.LENGTH),
        Step(
            "positions",
            "line / resolution, down to a whole one, and the start",
            places,
            Dimension.COUNT,
        ),
        *(Step(f"station {n}", draw, at, Dimension.LENGTH) for n, at in enumerate(positions, 1)),
    )
    return Stations(positions, steps)


def _stream(seed: str) -> Iterator[int]:
    for i in counter():
        yield int.from_bytes(sha256(f"{seed}:{i}".encode()).digest(), "big")


def _below(limit: int, stream: Iterator[int]) -> int:
    """Return a number from 0 to `limit` - 1, each equally likely: the uneven rest is refused."""
    even = _SPACE - _SPACE % limit
    return next(number for number in stream if number < even) % limit
