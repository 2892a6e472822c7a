"""Whether a roof is what a rule is written for, asked once for all rules of one scope."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridgerule.audit.judge import Setting, holds
from ridgerule.audit.truth import Judgement

if TYPE_CHECKING:
    from ridgerule.audit.plan import Check
    from ridgerule.record import Record


class Scopes:
    """Answers scopes for one record; remembers them, since many rules share one."""

    def __init__(self, record: Record) -> None:
        self.record = record
        self._setting = Setting(record, record.roof)
        # By identity: the compiler gives rules of one scope the same node, which lives in the plan.
        self._known: dict[int, Judgement] = {}

    def of(self, check: Check) -> Judgement:
        """Return whether the roof is in the check's scope."""
        if check.scope is None:
            return Judgement(truth=True)
        key = id(check.scope)
        if key not in self._known:
            self._known[key] = holds(self._setting, check.scope)
        return self._known[key]
