"""Small roofs laid out for one rule, each once, and judged by other forms of the rule as well."""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import replace

from ridgerule.audit.cases import judged, laid_out
from ridgerule.problems import InputRejected
from ridgerule.proof.small_roofs import EngineDiffers, case_of, differing, expected, seen_by

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from ridgerule.audit.findings import Finding, Outcome
    from ridgerule.audit.plan import Case, Check
    from ridgerule.audit.regions import Situation
    from ridgerule.documents import Data
    from ridgerule.problems import Problem
    from ridgerule.proof.small_roofs import SmallRoofs
    from ridgerule.record import Place, Record


class Laid(Struct, frozen=True):
    """A case laid out, and what came of it."""

    case: Case
    record: Record
    place: Place
    finding: Finding
    here: Situation
    """What the record tells the rule there, as far as it is known."""

    @property
    def outcome(self) -> Outcome:
        """What came out."""
        return self.finding.outcome


class Bench:
    """Holds a rule's own cases and others, laid out; `problems` are those that can't be."""

    def __init__(self, roofs: SmallRoofs) -> None:
        """Lay out the rule's own cases.

        Raises `EngineDiffers` where the engine says otherwise than the limits compared.
        """
        self.roofs = roofs
        self.problems: list[Problem] = []
        self._known: dict[str, Laid | None] = {}
        self._rules: list[Check] = []
        own = []
        for case in roofs.check.cases:
            try:
                own.append(self._lay(case))
            except InputRejected as rejected:
                self.problems += rejected.problems
        self.own = tuple(own)

    def laid(self, given: Mapping[str, Data], expect: Outcome) -> Laid | None:
        """Return other facts laid out as a case; None where no roof can have them."""
        key = repr(sorted(given.items()))
        if key not in self._known:
            try:
                self._known[key] = self._lay(case_of(given, expect, self.roofs.check))
            except InputRejected:
                self._known[key] = None
        return self._known[key]

    def outcome(self, laid: Laid, rule: Check) -> Outcome:
        """Return what another form of the rule makes of a case."""
        # A record remembers a condition by its identity, so none of them may be given away.
        self._rules.append(rule)
        return judged(rule, laid.case, laid.record, laid.place).finding.outcome

    def lean(self, laid: Laid, rule: Check, *, keep: Collection[str] = ()) -> Case:
        """Return a case without the facts that it comes out alike without, by both rules."""
        came = laid.outcome, self.outcome(laid, rule)
        for name in [name for name in laid.case.given if name not in keep]:
            given = {key: data for key, data in laid.case.given.items() if key != name}
            less = self.laid(given, laid.outcome) if given else None
            if less is not None and (less.outcome, self.outcome(less, rule)) == came:
                laid = less
        return replace(laid.case, expect=laid.outcome)

    def _lay(self, case: Case) -> Laid:
        check = self.roofs.check
        record, place = laid_out(check, case, self.roofs.vocabulary)
        finding = judged(check, case, record, place).finding
        here = seen_by(check, self.roofs.refs, record, place)
        due = expected(check, here)
        if due is not None and due is not finding.outcome:
            raise EngineDiffers(differing(check, case, finding.outcome, due))
        return Laid(case, record, place, finding, here)
