"""What changed of the facts that two rulebooks declare and compute."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.expressions import Derivation
from ridgerule.proof.differences_forms import facts_behind, form

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterator, Mapping

    from ridgerule.audit.plan import Edition
    from ridgerule.facts import Fact


class Kind(StrEnum):
    """What became of a rule, a fact or a coverage."""

    ADDED = "added"
    GONE = "gone"
    RENAMED = "renamed"
    CHANGED = "changed"
    SAME = "the same"


DECIDING = ("dimension", "choices", "least", "greatest", "per_side", "host", "expression")
"""What of a fact can bear on outcomes; `expression` is how it is computed."""
WORDING = ("measure", "ask", "tool", "formula", "source")


class FactDifference(Struct, frozen=True):
    """A fact as the old rulebook has it and as the new one does; None where one has it not."""

    before: Fact | None
    after: Fact | None
    fields: tuple[str, ...] = ()
    """What differs, of `DECIDING` and `WORDING`; of a fact that both have."""
    rules: tuple[str, ...] = ()
    """The rules of either that rest on it, by full id."""

    @property
    def fact(self) -> Fact:
        """The fact as it is now, or was when it was last there."""
        fact = self.after or self.before
        if fact is None:
            raise TypeError("a difference of no fact")
        return fact

    @property
    def kind(self) -> Kind:
        """What became of the fact."""
        if self.before is None:
            return Kind.ADDED
        return Kind.GONE if self.after is None else Kind.CHANGED

    @property
    def may_decide(self) -> bool:
        """Whether rules that rest on it may come out otherwise, though they be the same."""
        return any(field in DECIDING for field in self.fields)


def fact_differences(old: Edition, new: Edition) -> tuple[FactDifference, ...]:
    """Return what changed of the facts that two editions and their bases declare or compute."""
    resting = _resting(old, new)
    found = []
    for name in sorted({*_own(old), *_own(new)}):
        before, after = (edition.vocabulary.by_name.get(name) for edition in (old, new))
        fields = tuple(_fields(before, after)) if before and after else ()
        if before is None or after is None or fields:
            rules = tuple(sorted(resting.get(name, ())))
            found.append(FactDifference(before, after, fields, rules))
    return tuple(found)


def _own(edition: Edition) -> Iterator[str]:
    yield from (fact.full_name for fact in edition.adapted.facts)
    yield from (name for name, _ in edition.adapted.derive)


def _resting(*editions: Edition) -> Mapping[str, set[str]]:
    """Return the rules that rest on each fact, by its name."""
    found: dict[str, set[str]] = {}
    for edition in editions:
        for check in edition.checks:
            for name in facts_behind(check):
                found.setdefault(name, set()).add(check.rule.full_id)
    return found


def _fields(before: Fact, after: Fact) -> Iterator[str]:
    was, now = _said(before), _said(after)
    otherwise = [name for name in was if was[name] != now[name]]
    for name in otherwise:
        # A formula in words follows from how it is computed, which is told then.
        if name != "formula" or "expression" not in otherwise:
            yield name


def _said(fact: Fact) -> dict[str, Hashable]:
    """Return what a fact says, by field."""
    derivation = fact.derivation
    expression = derivation.expression if isinstance(derivation, Derivation) else None
    said: dict[str, Hashable] = {
        "dimension": fact.dimension,
        "choices": frozenset(fact.choices),
        "least": form(fact.least),
        "greatest": form(fact.greatest),
        "per_side": fact.per_side,
        "host": fact.host,
        "expression": form(expression),
    }
    return said | {name: getattr(fact, name) for name in WORDING}
