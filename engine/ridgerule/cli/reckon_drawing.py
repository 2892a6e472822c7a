"""Sections in plain characters, true to their angles on cells twice as high as they are wide."""

from __future__ import annotations

from fractions import Fraction
from math import floor
from typing import TYPE_CHECKING

from ridgerule.enclosures import high, low, tangent

if TYPE_CHECKING:
    from ridgerule.enclosures import Amount

_REACH = 16
_DEEPEST = 9
_MIRROR = str.maketrans("\\/", "/\\")


def section(side_a: Amount, side_b: Amount, *, valley: bool, label: str) -> tuple[str, ...]:
    """Return the section of two planes, the angle between them named below or above the line.

    Each side is how far it lies from level, in degrees: falling from a hip, rising from a valley.
    """
    a, b = (_falling(_middle(tangent(side))) for side in (side_a, side_b))
    depth = max(len(a), len(b))
    mirrored = [row[::-1].translate(_MIRROR) for row in (b if valley else a)]
    left, right = (a, mirrored) if valley else (mirrored, b)
    rows = [
        f"{one:>{_REACH}}{other}".rstrip()
        for one, other in zip(
            _filled(left, depth, valley=valley), _filled(right, depth, valley=valley), strict=True
        )
    ]
    name = f"{'':{max(_REACH - len(label) // 2, 0)}}{label}"
    return (*(row for row in rows if row), "", name)


def slope_section(slope: Amount, *, label: str) -> tuple[str, ...]:
    """Return one plane rising to the right, its slope named below."""
    rows = [row[::-1].translate(_MIRROR) for row in _falling(_middle(slope))]
    return (*(row.rstrip() for row in rows if row.strip()), "", label)


def _filled(rows: list[str], depth: int, *, valley: bool) -> list[str]:
    """Return rows filled up to `depth`, above where the sides meet at the bottom."""
    blank = [" " * len(rows[0])] * (depth - len(rows))
    return [*blank, *rows] if valley else [*rows, *blank]


def _falling(fall: Fraction) -> list[str]:
    """Return the rows of a line that falls to the right, so much for each length across."""
    reach = min(_REACH, max(floor(2 * _DEEPEST / fall), 1)) if fall > 0 else _REACH
    # From half a row up, so that the top of a hip is no wider than its other steps.
    depths = [floor((x * max(fall, Fraction(0)) + 1) / 2) for x in range(reach + 1)]
    grid = [[" "] * reach for _ in range(depths[-1] + 1)]
    for x in range(reach):
        above, below = depths[x], depths[x + 1]
        if above == below:
            grid[above][x] = "_"
        for row in range(above + 1, below + 1):
            grid[row][x] = "\\"
    return ["".join(row) for row in grid]


def _middle(amount: Amount) -> Fraction:
    least, most = low(amount), high(amount)
    if least is None or most is None:
        return Fraction(0)
    return Fraction(least + most) / 2
