"""What changed of the coverages that two rulebooks hold out, and of what they depend on."""

from __future__ import annotations

from typing import TYPE_CHECKING, assert_never

from msgspec import Struct

from ridgerule.audit.coverages import Group, RuleCondition, StatedCondition, coverages_of
from ridgerule.proof.differences_facts import Kind
from ridgerule.proof.differences_forms import form

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterator

    from ridgerule.audit.coverages import CompiledCoverage, Condition
    from ridgerule.audit.plan import Edition


class CoverageDifference(Struct, frozen=True):
    """A coverage as the old rulebook has it and as the new one does; None where one has it not."""

    before: CompiledCoverage | None
    after: CompiledCoverage | None
    fields: tuple[str, ...] = ()
    """What differs of `title`, `evidence`, `isolated_allowed` and `conditions`."""
    gone: tuple[Condition, ...] = ()
    """Conditions that it no longer depends on."""
    added: tuple[Condition, ...] = ()

    @property
    def coverage(self) -> CompiledCoverage:
        """The coverage as it is now, or was when it was last there."""
        coverage = self.after or self.before
        if coverage is None:
            raise TypeError("a difference of no coverage")
        return coverage

    @property
    def kind(self) -> Kind:
        """What became of the coverage."""
        if self.before is None:
            return Kind.ADDED
        return Kind.GONE if self.after is None else Kind.CHANGED


def coverage_differences(old: Edition, new: Edition) -> tuple[CoverageDifference, ...]:
    """Return what changed of the coverages of two editions, by id."""
    before, after = (
        {compiled.coverage.id: compiled for compiled in coverages_of(edition)[0]}
        for edition in (old, new)
    )
    found = []
    for id_ in sorted(before.keys() | after.keys()):
        if id_ not in before or id_ not in after:
            found.append(CoverageDifference(before.get(id_), after.get(id_)))
        elif (changed := _changed(before[id_], after[id_])).fields:
            found.append(changed)
    return tuple(found)


def _changed(before: CompiledCoverage, after: CompiledCoverage) -> CoverageDifference:
    names = ("title", "evidence", "isolated_allowed")
    was, now = before.coverage, after.coverage
    fields = [name for name in names if getattr(was, name) != getattr(now, name)]
    ours, theirs = dict(_parts(before.conditions)), dict(_parts(after.conditions))
    if before.conditions.any_will_do is not after.conditions.any_will_do:
        ours, theirs = {True: before.conditions}, {False: after.conditions}
    if ours.keys() != theirs.keys():
        fields.append("conditions")
    return CoverageDifference(
        before=before,
        after=after,
        fields=tuple(fields),
        gone=tuple(part for said, part in ours.items() if said not in theirs),
        added=tuple(part for said, part in theirs.items() if said not in ours),
    )


def _parts(group: Group) -> Iterator[tuple[Hashable, Condition]]:
    yield from ((_said(part), part) for part in group.parts)


def _said(condition: Condition) -> Hashable:
    """Return what a condition says, whichever file and order it stands in."""
    match condition:
        case RuleCondition(check):
            return "rule", check.rule.full_id
        case StatedCondition(title, where):
            return "stated", title, form(where)
        case Group(parts, any_will_do):
            return "any" if any_will_do else "all", frozenset(map(_said, parts))
        case _:
            assert_never(condition)
