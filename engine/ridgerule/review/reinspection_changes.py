"""What can become of a finding between two visits."""

from __future__ import annotations

from enum import StrEnum
from types import MappingProxyType
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.findings import Outcome

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ridgerule.audit.findings import Finding
    from ridgerule.quantities import Quantity
    from ridgerule.review.reinspection_readings import Difference


class Turn(StrEnum):
    """What one rule at one place turned into between the first visit and the second."""

    STILL_FAILING = "still failing"
    NEW_FAILURE = "new failure"
    NOT_MEASURED_AGAIN = "failed before, not measured again"
    NOT_SHOWN = "passes, not shown put right"
    STILL_OPEN = "still open"
    NEWLY_OPEN = "newly open"
    NO_LONGER_MEASURED = "no longer measured"
    NO_LONGER_RECORDED = "no longer recorded"
    NO_LONGER_ASKED = "no longer asked"
    PUT_RIGHT = "put right"
    SETTLED = "settled"
    OTHERWISE = "passes by another limit"
    NO_LONGER_APPLIES = "no longer applies"
    APPLIES_NOW = "applies now"
    NEW_PASS = "new, and passes"  # noqa: S105 - a turn
    NEW_NOT_APPLICABLE = "new, and does not apply"
    CHANGED_READING = "reading changed, same outcome"
    UNCHANGED = "unchanged"


class Change(Struct, frozen=True):
    """One finding of the first visit, one of the second, or the two that answer each other."""

    turn: Turn
    before: Finding | None
    after: Finding | None
    is_open: bool
    """Does it keep the roof from being in order, as far as the second visit shows."""
    instead: Finding | None = None
    """Where a visit has no finding of its own there: the one that speaks for it, at the line or
    the roof that it lies on, or at one of the places within it."""
    reason: str = ""
    """What decided, where the findings themselves don't say it."""
    rule_differs: bool = False
    """Does the rule ask otherwise at the second visit than at the first."""
    differences: tuple[Difference, ...] = ()
    value_change: Quantity | None = None
    """Where many readings come to one value: the second's less the first's."""

    @property
    def is_failing(self) -> bool:
        """Does it fail at the second visit."""
        return self.after is not None and self.after.outcome is Outcome.FAIL

    @property
    def finding(self) -> Finding:
        """The second visit's finding, or the first's where that is all there is."""
        found = self.after or self.before
        if found is None:
            raise TypeError("a change is of at least one finding")
        return found


MET: Mapping[tuple[Outcome, Outcome], Turn] = MappingProxyType(
    {
        (Outcome.FAIL, Outcome.FAIL): Turn.STILL_FAILING,
        (Outcome.FAIL, Outcome.NOT_VERIFIED): Turn.NOT_MEASURED_AGAIN,
        (Outcome.FAIL, Outcome.PASS): Turn.PUT_RIGHT,
        (Outcome.FAIL, Outcome.NOT_APPLICABLE): Turn.NO_LONGER_APPLIES,
        (Outcome.NOT_VERIFIED, Outcome.FAIL): Turn.NEW_FAILURE,
        (Outcome.NOT_VERIFIED, Outcome.NOT_VERIFIED): Turn.STILL_OPEN,
        (Outcome.NOT_VERIFIED, Outcome.PASS): Turn.SETTLED,
        (Outcome.NOT_VERIFIED, Outcome.NOT_APPLICABLE): Turn.NO_LONGER_APPLIES,
        (Outcome.PASS, Outcome.FAIL): Turn.NEW_FAILURE,
        (Outcome.PASS, Outcome.NOT_VERIFIED): Turn.NO_LONGER_MEASURED,
        (Outcome.PASS, Outcome.PASS): Turn.UNCHANGED,
        (Outcome.PASS, Outcome.NOT_APPLICABLE): Turn.NO_LONGER_APPLIES,
        (Outcome.NOT_APPLICABLE, Outcome.FAIL): Turn.NEW_FAILURE,
        (Outcome.NOT_APPLICABLE, Outcome.NOT_VERIFIED): Turn.NEWLY_OPEN,
        (Outcome.NOT_APPLICABLE, Outcome.PASS): Turn.APPLIES_NOW,
        (Outcome.NOT_APPLICABLE, Outcome.NOT_APPLICABLE): Turn.UNCHANGED,
    }
)
"""What becomes of an outcome then and one now at the same place, before readings are looked at."""

NEW: Mapping[Outcome, Turn] = MappingProxyType(
    {
        Outcome.FAIL: Turn.NEW_FAILURE,
        Outcome.NOT_VERIFIED: Turn.NEWLY_OPEN,
        Outcome.PASS: Turn.NEW_PASS,
        Outcome.NOT_APPLICABLE: Turn.NEW_NOT_APPLICABLE,
    }
)
"""What a finding of the second visit is that answers none of the first's."""

UNSHOWN = (Outcome.FAIL, Outcome.NOT_VERIFIED)
"""Outcomes of the first visit that stay open until the second shows otherwise."""
