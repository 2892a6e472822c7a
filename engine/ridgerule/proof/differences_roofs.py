"""What a change of rulebooks does to recorded roofs: which findings come out otherwise, and why."""

from __future__ import annotations

from enum import StrEnum
from types import MappingProxyType
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import replace

from ridgerule.audit.findings import CONFLICT, Outcome
from ridgerule.audit.plan import Edition, Plan, PlannedBook
from ridgerule.audit.together import Relation
from ridgerule.rulebook import InForce

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterator, Mapping

    from ridgerule.audit.findings import Audit, Finding
    from ridgerule.documents import Path
    from ridgerule.proof.differences import Differences, RuleDifference
    from ridgerule.record import Place


def pinned(edition: Edition, other: Edition) -> Plan:
    """Return a plan of one edition that is in force whatever a record's dates say.

    What a code would do before it is adopted can be asked only so: on the dates of the roofs at
    hand it is in force for none. A record may speak of the facts of the other edition too.
    """
    book = replace(edition.book, in_force=InForce(), in_force_by=None)
    always = Edition(replace(edition.adapted, book=book), edition.checks, edition.vocabulary)
    recorded = [fact for fact in other.vocabulary.facts if fact.derivation is None]
    vocabulary = edition.vocabulary.extended(recorded)
    return Plan((PlannedBook(book.name, (always,)),), vocabulary)


class Turn(StrEnum):
    """Which way an outcome changed."""

    WORSE = "worse"
    BETTER = "better"
    """From fail to anything else, or from not verified to pass, or to what does not apply."""
    NEITHER = "neither"
    """Between pass and what does not apply, or is not asked."""


_RANKS: Mapping[Outcome | None, int] = MappingProxyType(
    {
        Outcome.FAIL: 0,
        Outcome.NOT_VERIFIED: 1,
        Outcome.PASS: 2,
        Outcome.NOT_APPLICABLE: 2,
        None: 2,
    }
)
"""Of two outcomes, one of a lower rank is the worse."""


class FindingChange(Struct, frozen=True):
    """One rule at one place that comes out otherwise; None where it is not asked there."""

    before: Finding | None
    after: Finding | None
    difference: RuleDifference | None
    """What changed of the rule; None for an open point that is no rule's."""
    place: Place

    @property
    def was(self) -> Outcome | None:
        """What came out by the old rulebook; None where nothing was asked."""
        return self.before.outcome if self.before is not None else None

    @property
    def now(self) -> Outcome | None:
        """What comes out by the new one."""
        return self.after.outcome if self.after is not None else None

    @property
    def turn(self) -> Turn:
        """Which way it changed."""
        was, now = _RANKS[self.was], _RANKS[self.now]
        if was == now:
            return Turn.NEITHER
        return Turn.WORSE if now < was else Turn.BETTER


class RoofChange(Struct, frozen=True):
    """One record held against both rulebooks."""

    before: Audit
    after: Audit
    findings: tuple[FindingChange, ...]
    """Those that come out otherwise: worse first, then better, by rule and place."""

    @property
    def is_changed(self) -> bool:
        """Whether the roof as a whole comes out otherwise."""
        return self.before.outcome is not self.after.outcome


class Roofs(Struct, frozen=True):
    """The records that were asked for."""

    changes: tuple[RoofChange, ...]
    unused: tuple[str, ...] = ()
    """The files that could not be held against both rulebooks."""


def roof_change(found: Differences, before: Audit, after: Audit) -> RoofChange:
    """Return what comes out otherwise of one record.

    The audits are by `pinned` plans of the two editions that the differences are of.
    """
    rules = _Rules(found)
    ours, theirs = _Asked(before, rules), _Asked(after, rules)
    changes = []
    for key in dict.fromkeys((*ours.findings, *theirs.findings)):
        if ours.is_told_below(key, theirs) or theirs.is_told_below(key, ours):
            continue
        was, now = ours.at(key), theirs.at(key)
        here = ours.findings.get(key) or theirs.findings[key]
        change = FindingChange(was, now, rules.known.get(key[0]), here.place)
        if change.was is not change.now and not {change.was, change.now} <= _UNASKED:
            changes.append(change)
    return RoofChange(before, after, tuple(sorted(changes, key=_order)))


_UNASKED = frozenset({Outcome.NOT_APPLICABLE, None})
_TURNS = tuple(Turn)


def _order(change: FindingChange) -> tuple[int, bool, str]:
    rule = change.difference.check.rule.full_id if change.difference else ""
    return _TURNS.index(change.turn), not rule, rule


class _Rules:
    """Which rule of one edition is which of the other, by the findings that are made of them."""

    def __init__(self, found: Differences) -> None:
        self.known: dict[Hashable, RuleDifference] = {}
        self._keys: dict[int, Hashable] = {}
        alone: dict[tuple[bool, str], Hashable] = {}
        for number, difference in enumerate(found.rules):
            self.known[number] = difference
            for check in (difference.before, difference.after):
                # By identity: a rule that two bases changed is in an edition in two forms.
                self._keys[id(check)] = number
            if difference.withdrawal is not None:
                alone[difference.after is None, difference.check.rule.full_id] = number
        for is_new, edition in ((False, found.old), (True, found.new)):
            for rule in edition.adapted.withdrawn:
                name = rule.full_id
                self._keys[id(rule)] = alone.get((is_new, name), name)

    def key(self, finding: Finding) -> Hashable:
        """Return what a finding is of: the same for the same rule by either edition."""
        asked = finding.check or finding.rule
        return self._keys[id(asked)] if asked is not None else (finding.about, finding.reason)


def _findings(audit: Audit, rules: _Rules) -> Iterator[tuple[Hashable, Finding]]:
    """Yield the findings of an audit, each with what it is of."""
    # Limits that can't both be met are an open point for each fact, whatever the limits are.
    facts = [str(found.of) for found in audit.together if found.relation is Relation.CONFLICT]
    met = iter(facts)
    for finding in audit.findings:
        if finding.about == CONFLICT:
            yield (CONFLICT, next(met)), finding
        else:
            yield rules.key(finding), finding


_Key = tuple["Hashable", "Path"]


class _Asked:
    """What one audit found, by rule and place.

    "Not applicable" and what leaves all places open are said once, at the highest place that
    decides it; they go for every place under it.
    """

    def __init__(self, audit: Audit, rules: _Rules) -> None:
        self.findings: dict[_Key, Finding] = {}
        self._above: set[_Key] = set()
        self._roof = audit.record.roof.path
        for of, finding in _findings(audit, rules):
            key = (of, finding.place.path)
            self.findings.setdefault(key, finding)
            self._above.update((key[0], path) for path in self._higher(key[1]))

    def at(self, key: _Key) -> Finding | None:
        """Return the finding of a rule at a place, or what was said for it at a higher one."""
        if key in self.findings:
            return self.findings[key]
        for path in self._higher(key[1]):
            above = (key[0], path)
            if above in self.findings:
                return self.findings[above] if above not in self._above else None
        return None

    def is_told_below(self, key: _Key, other: _Asked) -> bool:
        """Tell whether a finding here goes for places that the other audit tells one by one."""
        here = key in self.findings and key not in self._above
        return here and key not in other.findings and key in other._above

    def _higher(self, path: Path) -> Iterator[Path]:
        """Yield the places that a place lies under, the nearest first."""
        if path == self._roof:
            return
        if len(path) > 2:
            yield path[:2]
        yield self._roof
