"""Reads a rulebook's plain data into limits and conditions, every mistake told with its place.

One table, `LIMITS`, lists the words a limit can use. A new kind of limit is a node in
`limits.py`, a row here, a branch in `judge.py` and in `words.py`, and its place in the schema.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.limits import (
    AgreedBy,
    AllOf,
    AnyOf,
    AtLeast,
    AtMost,
    Between,
    EqualTo,
    Holds,
    Limit,
    NearestOf,
    NoneOf,
    Not,
    OneOf,
    Operand,
    Row,
    Stated,
    Table,
)
from ridgerule.audit.places import MANY, ONE
from ridgerule.audit.subjects import reduced_fact
from ridgerule.audit.tables import overlap
from ridgerule.enclosures import compare
from ridgerule.facts import (
    Element,
    Fact,
    FactRef,
    Host,
    Over,
    Plain,
    Value,
    Vocabulary,
    described,
    names_a_fact,
    read_value,
)
from ridgerule.problems import Problem, shown, suggestion, with_article
from ridgerule.quantities import Dimension, Mistake, Quantity, read

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from ridgerule.documents import Data
    from ridgerule.problems import Location
    from ridgerule.rulebook import Field


class Asked(Struct, frozen=True):
    """Where a rule is asked, and of what: the element, and the host of its stations."""

    element: Element
    host: Host = Host.EITHER


@dataclass
class Grammar:
    """Reads the fields of one rule; gathers problems and the facts that were named."""

    vocabulary: Vocabulary
    asked: Asked
    problems: list[Problem] = field(default_factory=list)

    def reference(self, text: str, where: Node) -> FactRef | None:
        """Return the fact that `text` names, if it can be asked at this rule's element."""
        found = self.vocabulary.find(text)
        if isinstance(found, Mistake):
            self.tell(where, found)
            return None
        if mistake := misplaced(found, self.asked):
            self.tell(where, mistake)
            return None
        return found

    def condition(self, node: Node) -> Limit | None:
        """Return the condition that a mapping of facts to limits states."""
        if not isinstance(node.data, dict) or not node.data:
            self.tell(node, Mistake("facts with what they must be", described(node.data), ""))
            return None
        parts = [self._condition_part(key, node.inside(key)) for key in node.data]
        return _joined(parts)

    def _condition_part(self, key: str, node: Node) -> Limit | None:
        match key:
            case "all_of" | "any_of":
                parts = [self.condition(item) for item in self.listed(node)]
                if any(part is None for part in parts):
                    return None
                kept = tuple(part for part in parts if part is not None)
                return AllOf(kept) if key == "all_of" else AnyOf(kept)
            case "not":
                inner = self.condition(node)
                return None if inner is None else Not(inner)
            case _:
                ref = self.reference(key, node.key())
                limit = None if ref is None else self.limit(ref, node)
                return Holds(ref, limit) if ref is not None and limit is not None else None

    def limit(self, ref: FactRef, node: Node) -> Limit | None:
        """Return the limit that `node` states for what `ref` gives."""
        if not isinstance(node.data, dict):
            return self._bare(ref, node)
        parts: list[Limit | None] = []
        for key in node.data:
            if key == "within":
                continue
            reader = LIMITS.get(key)
            if reader is None:
                advice = suggestion(key, LIMITS)
                words = ", ".join(f"`{word}`" for word in LIMITS)
                self.tell(node.inside(key).key(), Mistake(f"one of {words}", f"`{key}`", advice))
                parts.append(None)
            else:
                parts.append(reader(self, ref, node.inside(key), node))
        if "within" in node.data and not {"equal_to", "same_as"} & node.data.keys():
            told = Mistake("`equal_to` or `same_as` beside `within`", "neither", "")
            self.tell(node.inside("within").key(), told)
            return None
        return _joined(parts)

    def _bare(self, ref: FactRef, node: Node) -> Limit | None:
        if node.data in ("present", "absent"):
            if ref.fact.dimension is Plain.YES_NO:
                return Stated(node.data == "present")
            told = Mistake("a yes-or-no fact", f"`{ref.fact.full_name}`", "state its value instead")
            self.tell(node, told)
            return None
        operand = self.operand(ref, node)
        return None if operand is None else EqualTo(operand)

    def operand(self, ref: FactRef, node: Node) -> Operand | None:
        """Return the figure or the other fact that a value is held against."""
        if names_a_fact(node.data) and isinstance(node.data, str):
            other = self.reference(node.data, node)
            if other is not None and (mistake := _unlike(ref, other)):
                self.tell(node, mistake)
                return None
            return other
        return self.value(ref, node)

    def value(self, ref: FactRef, node: Node) -> Value | None:
        """Return the figure that `node` states, in the dimension of what `ref` gives."""
        if isinstance(node.data, (list, dict)) or node.data is None:
            told = f"a value for `{ref}`"
            self.tell(node, Mistake(told, described(node.data), ""))
            return None
        found = read_value(node.data, _given_by(ref))
        if isinstance(found, Mistake):
            self.tell(node, found)
            return None
        return found

    def ordered(self, ref: FactRef, node: Node) -> Operand | None:
        """Return an operand for a limit that orders values; words can't be ordered."""
        if reduced_fact(ref) is None and ref.fact.dimension is not Plain.DATE:
            told = f"a quantity or a date before `{node.steps[-1]}`"
            found = f"`{ref.fact.full_name}`, {with_article(_kind(ref))}"
            self.tell(node.key(), Mistake(told, found, "use `equal_to` or `one_of`"))
            return None
        return self.operand(ref, node)

    def tolerance(self, ref: FactRef, parent: Node) -> Quantity | None:
        """Return the `within` beside a limit, None where there is none or it can't be read."""
        if not isinstance(parent.data, dict) or "within" not in parent.data:
            return None
        node = parent.inside("within")
        dimension = reduced_fact(ref)
        if ref.fact.dimension is Plain.DATE:
            dimension = Dimension.DURATION
        if dimension is None:
            fact = f"`{ref.fact.full_name}`, {with_article(_kind(ref))}"
            told = Mistake("a quantity or a date beside `within`", fact, "take `within` out")
            self.tell(node.key(), told)
            return None
        if not isinstance(node.data, (str, int)):
            self.tell(node, Mistake("a tolerance on a quantity", described(node.data), ""))
            return None
        if dimension is Dimension.TEMPERATURE:
            dimension = Dimension.TEMPERATURE_DIFFERENCE
        found = read(node.data, dimension)
        if isinstance(found, Mistake):
            self.tell(node, found)
            return None
        if compare(found.amount, 0) == -1:
            told = Mistake("a tolerance of 0 or more", f"`{found.text}`", "leave the sign out")
            self.tell(node, told)
            return None
        return found

    def values(self, ref: FactRef, node: Node) -> tuple[Value, ...] | None:
        """Return the listed figures."""
        found = [self.value(ref, item) for item in self.listed(node)]
        kept = tuple(value for value in found if value is not None)
        return kept if kept and len(kept) == len(found) else None

    def listed(self, node: Node) -> list[Node]:
        """Return the items of a list; anything else is a problem and gives none."""
        if isinstance(node.data, list) and node.data:
            return [node.inside(i) for i in range(len(node.data))]
        self.tell(node, Mistake("a list with at least one item", described(node.data), ""))
        return []

    def tell(self, where: Node, mistake: Mistake) -> None:
        """Keep a mistake, with the place it stands at."""
        place = where.location()
        self.problems.append(Problem(place, mistake.expected, mistake.found, mistake.advice))


class Node(Struct, frozen=True):
    """A node of a rule's field: its data and where it stands."""

    field: Field
    data: Data
    steps: tuple[str | int, ...] = ()
    is_key: bool = False

    def inside(self, step: str | int) -> Node:
        """Return the node at a key or an index."""
        inner: Data = None
        if isinstance(self.data, dict) and isinstance(step, str):
            inner = self.data.get(step)
        elif isinstance(self.data, list) and isinstance(step, int):
            inner = self.data[step]
        return Node(self.field, inner, (*self.steps, step))

    def key(self) -> Node:
        """Return the same node, located at its key rather than its value."""
        return Node(self.field, self.data, self.steps, is_key=True)

    def location(self) -> Location:
        """Return the node's line and column."""
        if self.is_key:
            return self.field.document.key_location((*self.field.path, *self.steps))
        return self.field.at(*self.steps)


def node_of(field_: Field) -> Node:
    """Return the root node of a rule's field."""
    return Node(field_, field_.data)


def misplaced(ref: FactRef, asked: Asked) -> Mistake | None:
    """Return why a rule at this element can't ask `ref`, or None."""
    fact, element = ref.fact, ref.fact.element
    name = fact.full_name
    here = element is asked.element
    single = here or element is Element.ROOF or element in ONE.get(asked.element, frozenset())
    if asked.element is Element.STATION and element is Element.PLANE:
        single = asked.host is Host.PLANE
    if asked.element is Element.STATION and element is Element.LINE:
        single = asked.host is not Host.PLANE
    many = element in MANY.get(asked.element, frozenset()) or (here and fact.per_side)
    numeric = (Over.LEAST, Over.GREATEST, Over.MEAN, Over.SPREAD)
    is_quantity = isinstance(fact.dimension, Dimension)
    words = ", ".join(f"`{over}`" for over in Over if is_quantity or over not in numeric)
    if ref.over is None and fact.per_side:
        told = f"a word before `{name}`, which is per side"
        return Mistake(told, "none", f"write one of {words}")
    if ref.over is None and not single and many:
        why = f"{with_article(asked.element)} can have several {element}s"
        return Mistake(f"a word before `{name}`: {why}", "none", f"write one of {words}")
    if not single and not many:
        advice = "judge it `at:` another element"
        return Mistake(f"a fact that {with_article(asked.element)} sees", f"`{name}`", advice)
    if ref.over is not None and single and not many:
        return Mistake(f"`{name}` alone: there is just one here", f"`{ref}`", "take the word away")
    if ref.over in numeric and not is_quantity:
        return Mistake(f"a quantity after `{ref.over}`", f"`{name}`", "use `each` or `any`")
    return None


def _given_by(ref: FactRef) -> Fact:
    dimension = reduced_fact(ref)
    return replace(ref.fact, dimension=dimension) if dimension else ref.fact


def _kind(ref: FactRef) -> Dimension | Plain:
    return reduced_fact(ref) or ref.fact.dimension


def _unlike(ref: FactRef, other: FactRef) -> Mistake | None:
    ours, theirs = _kind(ref), _kind(other)
    if other.over in (Over.EACH, Over.ANY):
        told = "one value: `least`, `greatest`, `mean` or `spread`"
        return Mistake(told, f"`{other}`", "a value is held against one other")
    if ours is not theirs:
        told = f"a fact that is {with_article(ours)}, as `{ref}` is"
        return Mistake(told, f"`{other}`, {with_article(theirs)}", "")
    return None


def _joined(parts: list[Limit | None]) -> Limit | None:
    kept = tuple(part for part in parts if part is not None)
    if len(kept) != len(parts) or not kept:
        return None
    return kept[0] if len(kept) == 1 else AllOf(kept)


def _at_least(grammar: Grammar, ref: FactRef, node: Node, _: Node) -> Limit | None:
    operand = grammar.ordered(ref, node)
    return None if operand is None else AtLeast(operand)


def _at_most(grammar: Grammar, ref: FactRef, node: Node, _: Node) -> Limit | None:
    operand = grammar.ordered(ref, node)
    return None if operand is None else AtMost(operand)


def _between(grammar: Grammar, ref: FactRef, node: Node, _: Node) -> Limit | None:
    if not isinstance(node.data, list) or len(node.data) != 2:
        grammar.tell(node, Mistake("two values, the lower first", described(node.data), ""))
        return None
    low, high = (grammar.ordered(ref, node.inside(i)) for i in (0, 1))
    if low is None or high is None:
        return None
    if _is_below(high, low):
        written = [shown(node.inside(i).data) for i in (0, 1)]
        found = f"`{written[0]}` before `{written[1]}`"
        grammar.tell(node, Mistake("the lower value first", found, "swap them"))
        return None
    return Between(low, high)


def _is_below(value: Operand, other: Operand) -> bool:
    """Tell whether a figure is certainly below another; facts can't be told here."""
    if isinstance(value, Quantity) and isinstance(other, Quantity):
        return compare(value.amount, other.amount) == -1
    return isinstance(value, dt.date) and isinstance(other, dt.date) and value < other


def _equal_to(grammar: Grammar, ref: FactRef, node: Node, parent: Node) -> Limit | None:
    operand = grammar.operand(ref, node)
    return None if operand is None else EqualTo(operand, grammar.tolerance(ref, parent))


def _same_as(grammar: Grammar, ref: FactRef, node: Node, parent: Node) -> Limit | None:
    if not names_a_fact(node.data):
        told = Mistake("another fact", described(node.data), "use `equal_to` for a value")
        grammar.tell(node, told)
        return None
    return _equal_to(grammar, ref, node, parent)


def _one_of(grammar: Grammar, ref: FactRef, node: Node, _: Node) -> Limit | None:
    values = grammar.values(ref, node)
    return None if values is None else OneOf(values)


def _none_of(grammar: Grammar, ref: FactRef, node: Node, _: Node) -> Limit | None:
    values = grammar.values(ref, node)
    return None if values is None else NoneOf(values)


def _nearest_of(grammar: Grammar, ref: FactRef, node: Node, _: Node) -> Limit | None:
    data = node.data if isinstance(node.data, dict) else {}
    to = data.get("to")
    if not isinstance(to, str) or data.keys() != {"to", "values"}:
        grammar.tell(node, Mistake("`to:` a fact and `values:` a list", described(node.data), ""))
        return None
    other = grammar.operand(ref, node.inside("to"))
    values = grammar.values(ref, node.inside("values"))
    if not isinstance(other, FactRef) or values is None:
        return None
    quantities = tuple(value for value in values if isinstance(value, Quantity))
    if len(quantities) != len(values):
        grammar.tell(node, Mistake("quantities", "words, of which none is nearest", ""))
        return None
    return NearestOf(other, quantities)


def _agreed_by(grammar: Grammar, ref: FactRef, node: Node, _: Node) -> Limit | None:
    items = grammar.listed(node)
    found = [grammar.operand(ref, item) for item in items]
    facts = tuple(item for item in found if isinstance(item, FactRef))
    if len(facts) < 2 or len(facts) != len(found):
        if None not in found:
            told = Mistake("two facts or more", described(node.data), "ways to know the value")
            grammar.tell(node, told)
        return None
    return AgreedBy(facts)


def _nested(grammar: Grammar, ref: FactRef, node: Node, _: Node) -> Limit | None:
    parts = tuple(grammar.limit(ref, item) for item in grammar.listed(node))
    kept = tuple(part for part in parts if part is not None)
    if not parts or len(kept) != len(parts):
        return None
    return AnyOf(kept) if node.steps[-1] == "any_of" else AllOf(kept)


def _not(grammar: Grammar, ref: FactRef, node: Node, _: Node) -> Limit | None:
    inner = grammar.limit(ref, node)
    return None if inner is None else Not(inner)


def _where(grammar: Grammar, ref: FactRef, node: Node, _: Node) -> Limit | None:
    del ref  # a condition names its own facts
    return grammar.condition(node)


def _table(grammar: Grammar, ref: FactRef, node: Node, _: Node) -> Limit | None:
    data = node.data if isinstance(node.data, dict) else {}
    by_node = node.inside("by")
    names = by_node.data if isinstance(by_node.data, list) else [by_node.data]
    by = [grammar.reference(name, by_node) for name in names if isinstance(name, str)]
    rows_data = data.get("rows")
    if not by or not isinstance(rows_data, list):
        grammar.tell(node, Mistake("`by:` facts and `rows:`", described(node.data), ""))
        return None
    if any(name is None for name in by):
        return None
    refs = tuple(name for name in by if name is not None)
    rows_node = node.inside("rows")
    rows = [_row(grammar, ref, refs, rows_node.inside(i)) for i in range(len(rows_data))]
    kept = tuple(row for row in rows if row is not None)
    if len(kept) != len(rows):
        return None
    if clash := overlap(kept):
        first, second = clash
        told = f"a row that overlaps the one at {first.location}"
        place = second.location
        advice = "end the one before the other begins: some values would pick both"
        grammar.problems.append(Problem(place, "rows that don't overlap", told, advice))
        return None
    return Table(refs, kept)


def _row(grammar: Grammar, ref: FactRef, by: tuple[FactRef, ...], node: Node) -> Row | None:
    data = node.data if isinstance(node.data, dict) else {}
    key_node = node.inside("for")
    count = len(key_node.data) if isinstance(key_node.data, list) else 1
    result = next((key for key in ("limit", "value") if key in data), None)
    if "for" not in data or result is None:
        grammar.tell(node, Mistake("`for:` and `limit:`", described(node.data), ""))
        return None
    if count != len(by):
        told = f"`for:` with {len(by)} {'entry' if len(by) == 1 else 'entries'}, one a fact of `by`"
        grammar.tell(key_node, Mistake(told, str(count), ""))
        return None
    many = isinstance(key_node.data, list)
    keys = [
        grammar.limit(fact, key_node.inside(i) if many else key_node) for i, fact in enumerate(by)
    ]
    limit = grammar.limit(ref, node.inside(result))
    kept = tuple(key for key in keys if key is not None)
    if limit is None or len(kept) != len(by):
        return None
    return Row(kept, limit, node.location())


LIMITS: Mapping[str, Callable[[Grammar, FactRef, Node, Node], Limit | None]] = MappingProxyType(
    {
        "at_least": _at_least,
        "at_most": _at_most,
        "between": _between,
        "equal_to": _equal_to,
        "one_of": _one_of,
        "none_of": _none_of,
        "same_as": _same_as,
        "nearest_of": _nearest_of,
        "agreed_by": _agreed_by,
        "table": _table,
        "where": _where,
        "all_of": _nested,
        "any_of": _nested,
        "not": _not,
    }
)
