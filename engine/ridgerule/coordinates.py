"""Points of a line in plan, as an inspector writes them: `[[0 ft, 0 ft], [18 ft 4 in, 12 ft]]`.

They are for the drawing alone: no rule asks for them and no verdict depends on them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

from ridgerule.plain_data import items_in
from ridgerule.problems import shown
from ridgerule.quantities import Dimension, Mistake, Quantity, read

if TYPE_CHECKING:
    from ridgerule.plain_data import Data, Path

Coordinates: TypeAlias = tuple[Quantity, Quantity]
"""East and north of the corner that all points of a record are measured from."""

_EXPECTED = "a length with its unit, such as `18 ft 4 in` or `5.6 m`"
_UNITLESS = "without a unit"
MOST_POINTS = 100
"""Points of one line; one without a bend has two."""


def read_points(
    raw: Data, path: Path
) -> tuple[tuple[Coordinates, ...], list[tuple[Path, Mistake]]]:
    """Return the points under `plan:`, none where any can't be read, and what is wrong with them.

    What the schema tells of (no list, a point of three numbers) is not told again.
    """
    points: list[Coordinates] = []
    wrong: list[tuple[Path, Mistake]] = []
    listed = items_in(raw)
    for i, item in enumerate(listed):
        found = [(j, read_one) for j, one in enumerate(items_in(item)) for read_one in _read(one)]
        wrong += [((*path, i, j), one) for j, one in found if isinstance(one, Mistake)]
        known = [one for _, one in found if isinstance(one, Quantity)]
        if len(known) == 2:
            points.append((known[0], known[1]))
    if len(points) != len(listed) or len(points) < 2:
        return (), wrong
    if all(point == points[0] for point in points):
        told = f"the same point {'twice' if len(points) == 2 else f'{len(points)} times'}"
        advice = "write where the line starts and where it ends"
        return (), [(path, Mistake("points that lie apart", told, advice))]
    return tuple(points), wrong


def _read(raw: Data) -> list[Quantity | Mistake]:
    """Return one coordinate as it is read; nothing where the schema has refused it."""
    if not isinstance(raw, (str, int)) or isinstance(raw, bool):
        return []
    found = read(raw, Dimension.LENGTH)
    if isinstance(found, Quantity):
        return [found]
    advice = found.advice
    if found.found.endswith(_UNITLESS):
        advice = f"write `{shown(raw)} ft` or `{shown(raw)} m`"
    return [Mistake(_EXPECTED, found.found, advice)]
