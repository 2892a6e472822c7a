"""A plan: rulebooks compiled once, ready to be held against any number of records."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.findings import Outcome
from ridgerule.audit.subjects import ANYTHING, Evidence
from ridgerule.rulebook import DecisionRule

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from ridgerule.adapt import Adapted
    from ridgerule.audit.limits import Limit
    from ridgerule.documents import Data
    from ridgerule.facts import Element, FactRef, Host, LineKind, Vocabulary
    from ridgerule.problems import Location
    from ridgerule.quantities import Quantity
    from ridgerule.rulebook import Field, Rule, Rulebook


class Stations(Struct, frozen=True):
    """How many stations a rule demands of a line or plane: at least n, and one per so much."""

    at_least: int = 1
    one_per: Quantity | None = None
    """A length of line or an area of plane."""


class Case(Struct, frozen=True):
    """What a rule's author says comes out where these facts are given."""

    given: Mapping[str, Data]
    expect: Outcome
    location: Location


class Check(Struct, frozen=True):
    """A rule compiled: every fact found, every quantity read, every dimension compared."""

    rule: Rule
    of: FactRef
    at: Element
    host: Host
    limit: Limit
    when: Limit | None = None
    host_when: Limit | None = None
    """The part of `when` that a station's line or plane decides by itself."""
    aim: Limit | None = None
    scope: Limit | None = None
    evidence: Evidence = ANYTHING
    stations: Stations | None = None
    decision: DecisionRule = DecisionRule.SIMPLE
    kinds: frozenset[LineKind] = frozenset()
    """The kinds of line its conditions leave room for, where it is asked of lines."""

    @property
    def cases(self) -> tuple[Case, ...]:
        """What its author says comes out where some facts are given."""
        field = self.rule.fields.get("cases")
        return tuple(_cases(field)) if field is not None else ()

    @property
    def identity(self) -> tuple[str, str, str, tuple[str, ...]]:
        """What makes it the same rule in two rulebooks: where from, how decided, what changed."""
        book, id_, changes = self.lineage
        return book, id_, self.decision, changes

    @property
    def lineage(self) -> tuple[str, str, tuple[str, ...]]:
        """Where the rule is from, and what was changed, by which rulebook."""
        rule = self.rule
        return rule.book, rule.id, tuple(change.book for change in rule.changes)


class Edition(Struct, frozen=True):
    """One edition of a rulebook, compiled."""

    adapted: Adapted
    checks: tuple[Check, ...]
    vocabulary: Vocabulary
    """The facts it is read with, its own computed ones among them."""

    @property
    def book(self) -> Rulebook:
        """The rulebook itself."""
        return self.adapted.book


class PlannedBook(Struct, frozen=True):
    """A rulebook as it was asked for, with the editions that a record's date may pick."""

    reference: str
    editions: tuple[Edition, ...]


class Plan(Struct, frozen=True):
    """Everything an audit holds a record against."""

    books: tuple[PlannedBook, ...]
    vocabulary: Vocabulary

    def rulebooks(self) -> Iterator[Rulebook]:
        """Yield every rulebook of the plan and those they stand on, each once."""
        seen: dict[str, Rulebook] = {}
        for planned in self.books:
            for edition in planned.editions:
                for book in edition.adapted.documents():
                    seen.setdefault(book.name, book)
        yield from seen.values()


def _cases(field: Field) -> Iterator[Case]:
    for i, raw in enumerate(field.data if isinstance(field.data, list) else ()):
        given = raw.get("given") if isinstance(raw, dict) else None
        if isinstance(raw, dict) and isinstance(given, dict):
            yield Case(MappingProxyType(given), Outcome(str(raw.get("expect"))), field.at(i))
