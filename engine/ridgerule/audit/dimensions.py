"""What dimension the operations of `derive:` give: length by length is area, and so on."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from ridgerule.audit.subjects import reduced_fact
from ridgerule.facts import FactRef
from ridgerule.problems import with_article
from ridgerule.quantities import Dimension, Mistake, Quantity

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from ridgerule.audit.limits import Operand
    from ridgerule.facts import Plain

MULTIPLIED = frozenset({"product", "ratio", "share"})
"""The operations whose operands may be of several dimensions."""

_POWERS: Mapping[Dimension, tuple[int, int]] = MappingProxyType(
    {
        Dimension.LENGTH: (1, 0),
        Dimension.AREA: (2, 0),
        Dimension.NET_FREE_AREA_PER_LENGTH: (1, 0),
        Dimension.SLOPE: (0, 0),
        Dimension.COUNT: (0, 0),
        Dimension.SHARE: (0, 0),
        Dimension.TEMPERATURE_DIFFERENCE: (0, 1),
        Dimension.EXPANSION: (0, -1),
    }
)
"""Powers of length and of temperature difference; what is not here is only added to its like."""


def mismatched(way: str, operands: Sequence[Operand], result: Dimension) -> Mistake | None:
    """Return why operands of these dimensions can't give the result's, or None."""
    dimensions = [_dimension(operand) for operand in operands]
    if way in MULTIPLIED:
        powers = [_POWERS.get(d) if isinstance(d, Dimension) else None for d in dimensions]
        wanted = _POWERS.get(result)
        known = [power for power in powers if power is not None]
        if wanted is not None and len(known) == len(powers):
            sign = 1 if way == "product" else -1
            made = known[0]
            for power in known[1:]:
                made = (made[0] + sign * power[0], made[1] + sign * power[1])
            if made == wanted:
                return None
    else:
        due = due_dimension(way, result)
        if due is not None and all(dimension is due for dimension in dimensions):
            return None
    listed = ", ".join(str(dimension) for dimension in dimensions)
    advice = _NO_SUM if result is Dimension.TEMPERATURE and way not in MULTIPLIED else ""
    return Mistake(f"operands whose {way} is {with_article(result)}", listed, advice)


_NO_SUM = "temperatures have no sum, and their difference is a `temperature difference`"


def due_dimension(way: str, result: Dimension) -> Dimension | None:
    """Return the dimension of what is added, set apart or compared; None where there is none.

    Temperatures have no sum, and their difference is no temperature.
    """
    if way in ("difference", "apart") and result is Dimension.TEMPERATURE_DIFFERENCE:
        return Dimension.TEMPERATURE
    if way in ("sum", "difference", "apart") and result is Dimension.TEMPERATURE:
        return None
    return result


def _dimension(operand: Operand) -> Dimension | Plain | None:
    if isinstance(operand, FactRef):
        return reduced_fact(operand) or operand.fact.dimension
    return operand.dimension if isinstance(operand, Quantity) else None
