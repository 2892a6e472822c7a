"""A warranty coverage's conditions, compiled: rules of its own rulebook, and what it states itself.

A condition is a rule, a statement about the roof (`where:`, the words of a rule's `when`), or a
list of conditions of which all or any have to be met.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

from msgspec import Struct

from ridgerule.audit.grammar import Asked, Grammar, Node, node_of
from ridgerule.audit.words import condition_words
from ridgerule.facts import Element
from ridgerule.plain_data import MOST_PROBLEMS
from ridgerule.problems import Problem, suggestion

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ridgerule.audit.limits import Limit
    from ridgerule.audit.plan import Check, Edition
    from ridgerule.rulebook import Coverage


class RuleCondition(Struct, frozen=True):
    """A rule that has to be met wherever it applies."""

    check: Check


class StatedCondition(Struct, frozen=True):
    """Something that has to hold of the roof: a date, a registration, a transfer."""

    title: str
    where: Limit


class Group(Struct, frozen=True):
    """Conditions of which all, or any one, have to be met."""

    parts: tuple[Condition, ...]
    any_will_do: bool = False


Condition: TypeAlias = RuleCondition | StatedCondition | Group


class CompiledCoverage(Struct, frozen=True):
    """A coverage with its conditions compiled."""

    coverage: Coverage
    conditions: Group


def coverages_of(edition: Edition) -> tuple[tuple[CompiledCoverage, ...], tuple[Problem, ...]]:
    """Return a rulebook's own coverages, and all that is wrong with their conditions."""
    compiler = _Compiler(edition)
    found = tuple(
        CompiledCoverage(coverage, group)
        for coverage in edition.book.coverages
        if (group := compiler.group(node_of(coverage.conditions))) is not None
    )
    return found, tuple(compiler.problems)


class _Compiler:
    """Compiles the coverages of one rulebook; keeps every problem it meets."""

    def __init__(self, edition: Edition) -> None:
        self.checks: Mapping[str, Check] = {
            name: check for check in edition.checks for name in (check.rule.id, check.rule.full_id)
        }
        # What is wrong with a rule that can't be read is told of the rule.
        self.unread = {
            name
            for rule in edition.adapted.rules
            for name in (rule.id, rule.full_id)
            if name not in self.checks
        }
        self.grammar = Grammar(edition.vocabulary, Asked(Element.ROOF))

    @property
    def problems(self) -> list[Problem]:
        return self.grammar.problems

    def group(self, node: Node) -> Group | None:
        data = node.data if isinstance(node.data, dict) else {}
        key = next((key for key in ("all_of", "any_of") if key in data), None)
        if key is None:
            return None  # the schema has said so
        inner = node.inside(key)
        items = inner.data if isinstance(inner.data, list) else []
        parts = [self.condition(inner.inside(i)) for i in range(len(items))]
        kept = tuple(part for part in parts if part is not None)
        return Group(kept, any_will_do=key == "any_of") if len(kept) == len(parts) else None

    def condition(self, node: Node) -> Condition | None:
        if isinstance(node.data, str):
            return self.rule(node.data, node)
        if isinstance(node.data, dict) and "where" in node.data:
            return self.stated(node)
        return self.group(node)

    def rule(self, name: str, node: Node) -> RuleCondition | None:
        check = self.checks.get(name)
        if check is None and len(self.problems) >= MOST_PROBLEMS:
            return None  # more than enough is told
        if check is None:
            advice = suggestion(name, self.checks)
            advice = advice or "no rule of it or of its bases has this id"
            if name not in self.unread:
                told = Problem(node.location(), "a rule of this rulebook", f"`{name}`", advice)
                self.problems.append(told)
            return None
        return RuleCondition(check)

    def stated(self, node: Node) -> StatedCondition | None:
        where = self.grammar.condition(node.inside("where"))
        if where is None:
            return None
        title = node.data.get("title") if isinstance(node.data, dict) else None
        return StatedCondition(str(title) if title else condition_words(where), where)
