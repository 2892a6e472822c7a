"""Where to read: spots on a line that a tape can be set to, and spots on a plane in words.

Without a seed they are spread evenly and keep off the very ends. With one they are drawn, so that
nobody's eye chooses them; the stream of numbers is that of `trade.draws` for the seed followed by
a space and the record's path of the line or plane, such as `7 lines/H1`.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from math import ceil, floor, isqrt
from typing import TYPE_CHECKING

from ridgerule.enclosures import exact, low
from ridgerule.trade.draws import drawn
from ridgerule.units import NM_PER_INCH, NM_PER_MM, Units

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

    from ridgerule.enclosures import Amount, Exact

RESOLUTION = {Units.INCH: NM_PER_INCH, Units.METRIC: 10 * NM_PER_MM}
"""What a station's position is rounded to: a whole inch or a whole centimetre."""
_FINEST = 16
"""On a line too short for that, down to this part of it."""
_STEP = 5
"""On a plane, drawn spots are so many hundredths of its height and width apart."""


def spread_along(
    count: int, *, length: Amount, taken: Sequence[Exact] = (), units: Units
) -> tuple[Exact, ...]:
    """Return positions spread evenly along a line, in rising order, none at an end or taken.

    Beside those taken, they lie in the widest gaps. Fewer come back where the line has no room.
    """
    line = Fraction(low(length) or 0)
    grid = _grid(line, count + len(taken), units)
    if not taken:
        wished = [line * (2 * i + 1) / (2 * count) for i in range(count)]
    else:
        wished = _in_gaps(count, line, [Fraction(at) for at in taken])
    kept: set[Fraction] = {Fraction(at) for at in taken}
    found: list[Fraction] = []
    for at in wished:
        spot = _free(at, line, grid, kept)
        if spot is not None:
            kept.add(spot)
            found.append(spot)
    return tuple(exact(at) for at in sorted(found))


def drawn_along(
    count: int, *, length: Amount, taken: Collection[Exact] = (), units: Units, seed: str
) -> tuple[Exact, ...]:
    """Return positions drawn along a line, in rising order, none at an end or taken.

    Every set of so many is equally likely. Fewer come back where the line has no room.
    """
    line = Fraction(low(length) or 0)
    grid = _grid(line, count + len(taken), units)
    free = [at for i in range(1, ceil(line / grid)) if (at := exact(i * grid)) not in taken]
    numbers = drawn(min(count, len(free)), of=len(free), seed=seed)
    return tuple(free[number - 1] for number in numbers)


def _grid(line: Fraction, count: int, units: Units) -> Fraction:
    """Return how far apart positions may be set, so that so many fit between the ends."""
    grid = Fraction(RESOLUTION[units])
    for _ in range(_FINEST.bit_length() - 1):
        if ceil(line / grid) - 1 >= count:
            break
        grid /= 2
    return grid


def _in_gaps(count: int, line: Fraction, taken: list[Fraction]) -> list[Fraction]:
    """Return positions in the widest gaps between those taken, one after the other."""
    found: list[Fraction] = []
    for _ in range(count):
        marks = [Fraction(0), *sorted(at for at in (*taken, *found) if 0 < at < line), line]
        last = len(marks) - 2
        # Beside an end nothing is read on the other side of it: half a gap is wide enough there.
        widths = [
            (b - a) * (2 if i in (0, last) else 1) for i, (a, b) in enumerate(pairwise(marks))
        ]
        i = widths.index(max(widths))
        a, b = marks[i], marks[i + 1]
        if last == 0:
            share = Fraction(1, 2)
        else:
            share = Fraction(1, 3) if i == 0 else Fraction(2, 3) if i == last else Fraction(1, 2)
        found.append(a + (b - a) * share)
    return found


def _free(at: Fraction, line: Fraction, grid: Fraction, kept: set[Fraction]) -> Fraction | None:
    """Return the free position on the grid nearest to `at`, None where there is none."""
    most = ceil(line / grid) - 1
    nearest = min(max(round(at / grid), 1), max(most, 1))
    for off in range(most + 1):
        for i in (nearest - off, nearest + off):
            if 1 <= i <= most and i * grid not in kept:
                return i * grid
    return None


# planes


def spread_over(count: int, *, taken: Collection[str] = ()) -> tuple[str, ...]:
    """Return spots spread over a plane, from the eave up, in words, as seen from below it."""
    used = {_folded(spot) for spot in taken}
    spots = (spot for spot in _ladder(count + len(used)) if _folded(spot) not in used)
    return tuple(spot for spot, _ in zip(spots, range(count), strict=False))


def drawn_over(count: int, *, taken: Collection[str] = (), seed: str) -> tuple[str, ...]:
    """Return spots drawn on a plane, from the eave up, in words, as seen from below it."""
    used = {_folded(spot) for spot in taken}
    steps = range(_STEP, 100, _STEP)
    free = [s for up in steps for along in steps if _folded(s := _share(up, along)) not in used]
    numbers = drawn(min(count, len(free)), of=len(free), seed=seed)
    return tuple(free[number - 1] for number in numbers)


_FEW = (
    ("middle of the slope",),
    ("lower half, left", "upper half, right"),
    ("lower third, left", "middle third, middle", "upper third, right"),
)


def _ladder(count: int) -> Iterator[str]:
    """Yield at least `count` spots, spread evenly, from the eave up."""
    if count <= len(_FEW):
        yield from _FEW[count - 1] if count else ()
        return
    rows = isqrt(count - 1) + 1
    columns = ceil(count / rows)
    for row in range(rows):
        for column in range(columns):
            up, along = (
                floor(100 * (2 * i + 1) / (2 * n)) for i, n in ((row, rows), (column, columns))
            )
            yield _share(up, along)


def _share(up: int, along: int) -> str:
    return f"{up} % up, {along} % from the left"


def _folded(spot: str) -> str:
    return " ".join(spot.casefold().split())
