"""Every computation of the trade that a rulebook or the shell can ask for, by name."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from ridgerule.trade.reckoned_angles import ANGLES
from ridgerule.trade.reckoned_counts import CAPS, MEASURING, SAMPLING
from ridgerule.trade.reckoned_fastening import FASTENING
from ridgerule.trade.reckoned_lengths import LENGTHS, MOVEMENT
from ridgerule.trade.reckoned_ventilation import VENTILATION
from ridgerule.trade.reckoning import Input, Reckoned, Reckoning

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["RECKONINGS", "Input", "Reckoned", "Reckoning"]

RECKONINGS: Mapping[str, Reckoning] = MappingProxyType(
    {
        reckoning.name: reckoning
        for subject in (
            ANGLES,
            LENGTHS,
            FASTENING,
            VENTILATION,
            MOVEMENT,
            CAPS,
            MEASURING,
            SAMPLING,
        )
        for reckoning in subject
    }
)
"""The reckonings, in the order of their subjects."""
