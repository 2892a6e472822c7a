"""What an audit hands back: findings, and the outcome of a roof and of each rulebook."""

from __future__ import annotations

from collections import Counter
from enum import StrEnum
from typing import TYPE_CHECKING

from msgspec import Struct

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from ridgerule.audit.plan import Check, Edition, Plan
    from ridgerule.audit.together import Together
    from ridgerule.audit.truth import Missing, Used
    from ridgerule.facts import Element
    from ridgerule.quantities import Quantity
    from ridgerule.record import Place, Record
    from ridgerule.rulebook import Rule


class Outcome(StrEnum):
    """What one rule at one place, a rulebook or a roof comes to."""

    FAIL = "fail"
    NOT_VERIFIED = "not verified"
    PASS = "pass"  # noqa: S105 - an outcome
    NOT_APPLICABLE = "not applicable"


CONFLICT = "limits that can be met together"
"""What an open point of rulebooks is about that no value can meet together."""


class Finding(Struct, frozen=True):
    """One rule at one place."""

    check: Check | None
    """The rule as compiled; None for an open point of the record itself."""
    rule: Rule | None
    place: Place
    outcome: Outcome
    reason: str = ""
    """Why it is not verified or not applicable; what decided a failure, where not plain."""
    measured: tuple[Used, ...] = ()
    """The readings judged; `used` also holds those that conditions rest on."""
    value: Quantity | None = None
    """What the readings come to, where a word makes one of many."""
    limit: str = ""
    """The limit that applied here, where the rule's own words don't say: a table's row."""
    margin: Quantity | None = None
    missing: tuple[Missing, ...] = ()
    used: tuple[Used, ...] = ()
    remark: str = ""
    """Said beside a pass, never deciding: an aim that was missed."""
    books: tuple[str, ...] = ()
    """The rulebooks, as `id@edition`, that this finding counts in."""
    about: str = ""
    """What an open point of the record itself, or of its rulebooks, is about."""

    @property
    def element(self) -> Element:
        """The element it was judged at."""
        return self.place.element


class BookAudit(Struct, frozen=True):
    """How one rulebook came out: its outcome is never softened by another."""

    edition: Edition
    outcome: Outcome
    counts: Mapping[Outcome, int]
    note: str = ""
    """Which date picked the edition, or why none is sure."""


class Audit(Struct, frozen=True):
    """A record held against a plan."""

    plan: Plan
    record: Record
    findings: tuple[Finding, ...]
    outcome: Outcome
    counts: Mapping[Outcome, int]
    books: tuple[BookAudit, ...]
    together: tuple[Together, ...] = ()
    """Where several rulebooks limit one fact at one place."""


def outcome_of(findings: Iterable[Finding]) -> Outcome:
    """Return fail if any failed, not verified if any is open or none was made, else pass."""
    counts = count(findings)
    if counts[Outcome.FAIL]:
        return Outcome.FAIL
    if counts[Outcome.NOT_VERIFIED] or not counts[Outcome.PASS]:
        return Outcome.NOT_VERIFIED
    return Outcome.PASS


def count(findings: Iterable[Finding]) -> dict[Outcome, int]:
    """Return how many findings came to each outcome."""
    counted = Counter(finding.outcome for finding in findings)
    return {outcome: counted[outcome] for outcome in Outcome}
