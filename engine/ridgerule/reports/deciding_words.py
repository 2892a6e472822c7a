"""How a finding was decided, in words: decision rule, statement, uncertainty, probability."""

from __future__ import annotations

from fractions import Fraction
from types import MappingProxyType
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.deciding import decision
from ridgerule.audit.findings import Outcome
from ridgerule.audit.truth import Judgement
from ridgerule.enclosures import compare
from ridgerule.quantities import Dimension, Quantity, Units, exact_si, write
from ridgerule.reports.figures import units_written
from ridgerule.trade.conformance import Statement

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ridgerule.audit.findings import Finding
    from ridgerule.enclosures import Amount
    from ridgerule.record import Record


_LEAST = Fraction(1, 1000)


class DecisionView(Struct, frozen=True):
    """What can be said of a judged reading with its uncertainty counted."""

    statement: str
    """`pass`, `conditional pass`, `conditional fail` or `fail`; empty where none can be made."""
    uncertainty: str
    """Expanded uncertainty in words, such as `1/16 in`; empty where it is not known."""
    exact: Mapping[str, str] | None
    """The expanded uncertainty in SI."""
    probability: str
    """Chance that what was measured is within its limit."""
    lack: str
    """Why the uncertainty is not known."""

    @property
    def is_conditional(self) -> bool:
        """Whether the reading lies within its uncertainty of the limit."""
        return self.statement in (Statement.CONDITIONAL_PASS, Statement.CONDITIONAL_FAIL)

    @property
    def text(self) -> str:
        """The statement as one phrase, where it is known how sure the reading is."""
        if not self.uncertainty:
            return ""
        chance = f"; {self.probability} likely within the limit" if self.probability else ""
        return f"{self.statement}: the reading is sure to ±{self.uncertainty} (95 %){chance}"


def decision_view(
    finding: Finding, record: Record, units: Units | None, *, with_probability: bool
) -> DecisionView | None:
    """Return what can be said of a finding's reading, None where it is not held on a scale."""
    check = finding.check
    if check is None or finding.margin is None or not finding.measured:
        return None
    met = compare(finding.margin.amount, 0)
    judged = Judgement(met is not None and met >= 0, finding.margin, (), finding.used)
    if finding.outcome is Outcome.FAIL:  # on a limit that has to be passed, it is not met
        judged = Judgement(truth=False, margin=finding.margin, missing=(), used=finding.used)
    found = decision(
        record, check.of, check.limit, judged,
        measured=finding.measured, with_probability=with_probability,
    )  # fmt: skip
    if found is None:
        return None
    if found.statement is None:
        return DecisionView("", "", None, "", found.lack)
    expanded = Quantity(finding.margin.dimension, found.sure.expanded, "")
    known = compare(expanded.amount, 0) != 0
    text = write(expanded.amount, expanded.dimension, units=units or units_written(finding))
    text = text.removeprefix("≈ ")  # an uncertainty is rounded as a matter of course
    chance = ""
    if found.probability is not None and known:
        chance = _chance(found.probability)
    said = MappingProxyType(exact_si(expanded)) if known else None
    return DecisionView(found.statement.value, text if known else "", said, chance, "")


def _chance(probability: Amount) -> str:
    """Return a chance in words, as finely as anyone can use it."""
    if compare(probability, _LEAST) == -1:
        return "under 0.1 %"
    if compare(probability, 1 - _LEAST) == 1:
        return "over 99.9 %"
    return write(probability, Dimension.SHARE, units=Units.INCH).removeprefix("≈ ")
