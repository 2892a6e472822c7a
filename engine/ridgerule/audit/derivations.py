"""Reads `derive:` sections: computed facts, each an expression over facts that are known by then.

The engine's own computed facts are read the same way, from the table in `engine_facts.py`.
"""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.expressions import (
    OPERATIONS,
    Combined,
    Derivation,
    Expression,
    Interval,
    Looked,
    Nearest,
    Reckon,
    Taken,
)
from ridgerule.audit.grammar import LIMITS, Asked, Grammar, Node, node_of
from ridgerule.audit.limits import EqualTo, Table
from ridgerule.audit.subjects import reduced_fact
from ridgerule.facts import (
    Element,
    Fact,
    FactRef,
    Host,
    Plain,
    Vocabulary,
    described,
    names_a_fact,
    read_value,
)
from ridgerule.problems import Problem, suggestion
from ridgerule.quantities import Dimension, Mistake, Quantity, read
from ridgerule.trade.reckonings import RECKONINGS

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from ridgerule.audit.limits import Operand
    from ridgerule.documents import Data
    from ridgerule.rulebook import Field
    from ridgerule.trade.reckonings import Input, Reckoning


class Derive(Struct, frozen=True):
    """One entry of a `derive:` section, as its file has it."""

    name: str
    field: Field

    @property
    def data(self) -> Mapping[str, Data]:
        """The entry's keys."""
        return self.field.data if isinstance(self.field.data, dict) else {}

    def named(self) -> set[str]:
        """Return the facts that the entry names, however it asks them."""
        return set(_facts_named({k: v for k, v in self.data.items() if k not in _WORDS}))


_WORDS = frozenset({"measure", "ask", "formula", "source", "dimension", "choices"})


def with_derived(
    vocabulary: Vocabulary, entries: Iterable[Derive]
) -> tuple[Vocabulary, list[Problem]]:
    """Return the vocabulary with the computed facts, each after those it is computed from."""
    problems: list[Problem] = []
    waiting = _distinct(entries, vocabulary, problems)
    while waiting:
        names = {entry.name for entry in waiting}
        ready = [entry for entry in waiting if not entry.named() & names]
        if not ready:
            problems.extend(_circle(waiting))
            break
        for entry in ready:
            fact = _Reader(entry, vocabulary, problems).fact()
            if fact is not None:
                vocabulary = vocabulary.extended([fact])
        waiting = [entry for entry in waiting if entry not in ready]
    return vocabulary, problems


def _distinct(
    entries: Iterable[Derive], vocabulary: Vocabulary, problems: list[Problem]
) -> list[Derive]:
    """Return the entries, each once; a name that is taken is a problem."""
    kept: dict[str, Derive] = {}
    for entry in entries:
        first = kept.setdefault(entry.name, entry)
        place = (first.field.document.digest, first.field.path)
        known = vocabulary.by_name.get(entry.name)
        if place != (entry.field.document.digest, entry.field.path):
            owner = f"is computed at {first.field.location}"
        elif known is not None:
            owner = "is a fact already"
            kept.pop(entry.name, None)
        else:
            continue
        where = entry.field.document.key_location(entry.field.path)
        found = f"`{entry.name}`, which {owner}"
        problems.append(Problem(where, "a name that is free", found, "choose another name"))
    return list(kept.values())


def _circle(waiting: Sequence[Derive]) -> Iterator[Problem]:
    names = {entry.name for entry in waiting}
    for entry in waiting:
        where = entry.field.document.key_location(entry.field.path)
        on = ", ".join(f"`{name}`" for name in sorted(entry.named() & names))
        advice = "compute one of them from readings alone"
        yield Problem(
            where, "facts that lead to readings", f"a circle: it is computed from {on}", advice
        )


def _facts_named(data: Data) -> Iterator[str]:
    match data:
        case str() if names_a_fact(data):
            yield data.split()[-1]
        case list():
            for item in data:
                yield from _facts_named(item)
        case dict():
            for key, item in data.items():
                yield from _facts_named(key)
                yield from _facts_named(item)
        case _:
            return


class _Reader:
    """Reads one entry; keeps the problems it meets."""

    def __init__(self, entry: Derive, vocabulary: Vocabulary, problems: list[Problem]) -> None:
        self.entry = entry
        self.root = node_of(entry.field)
        self.vocabulary = vocabulary
        element, _, self.name = entry.name.partition(".")
        self.element = Element(element)
        self.host = self._host()
        self.grammar = Grammar(vocabulary, Asked(self.element, self.host), problems)

    def fact(self) -> Fact | None:
        """Return the computed fact, or None where the entry can't be read."""
        data = self.entry.data
        said = str(data.get("dimension", ""))
        dimension = next((d for d in (*Dimension, *Plain) if d.value == said), None)
        if dimension is None:
            return None  # the schema has said so
        plain = Fact(
            element=self.element,
            name=self.name,
            dimension=dimension,
            measure=str(data.get("measure", "")),
            choices=tuple(map(str, data.get("choices") or ())),  # type: ignore[arg-type] # a list
            host=self.host,
            origin=self.entry.field.book,
            source=str(data.get("source", "")),
            inputs=tuple(sorted(self.entry.named())),
        )
        expression = self.expression(self.root, plain)
        if expression is None:
            return None
        formula = str(data.get("formula", "")) or formula_words(expression)
        fact = replace(plain, formula=formula, reads=self._reads())
        return replace(fact, derivation=Derivation(fact, expression))

    def expression(self, node: Node, fact: Fact) -> Expression | None:
        """Return the expression a mapping states, in the dimension of `fact`."""
        data = node.data if isinstance(node.data, dict) else {}
        ways = [key for key in data if key in _WAYS]
        if len(ways) != 1:
            told = f"one of {', '.join(f'`{way}`' for way in _WAYS)}"
            found = " and ".join(f"`{way}`" for way in ways) or "none of them"
            self.grammar.tell(node, Mistake(told, found, ""))
            return None
        way = ways[0]
        inner = node.inside(way)
        match way:
            case "table":
                return self._table(node, fact)
            case "nearest_of":
                return self._nearest(node, fact)
            case "interval":
                return self._interval(inner, fact)
            case "reckon":
                return self._reckon(node, fact)
            case _:
                return self._combined(way, inner, fact)

    def _host(self) -> Host:
        if self.element is not Element.STATION:
            return Host.EITHER
        hosts = set()
        for name in self.entry.named():
            known = self.vocabulary.by_name.get(name)
            if known and known.element is Element.STATION:
                hosts.add(known.host)
            elif known and known.element in (Element.LINE, Element.PLANE):
                hosts.add(Host(known.element.value))
        hosts -= {Host.EITHER}
        return hosts.pop() if len(hosts) == 1 else Host.EITHER

    def _reads(self) -> frozenset[str]:
        known = (self.vocabulary.by_name.get(name) for name in self.entry.named())
        own = [fact for fact in known if fact and fact.element is self.element]
        return frozenset(name for fact in own for name in fact.needs)

    def _table(self, node: Node, fact: Fact) -> Expression | None:
        found = LIMITS["table"](self.grammar, FactRef(fact), node.inside("table"), node)
        if not isinstance(found, Table):
            return None
        for row in found.rows:
            if not isinstance(row.limit, EqualTo) or row.limit.within is not None:
                told = Mistake("`value:` with a figure or a fact in each row", "a limit", "")
                self.grammar.tell(node.inside("table"), told)
                return None
        return Looked(found)

    def _nearest(self, node: Node, fact: Fact) -> Expression | None:
        inner = node.inside("nearest_of")
        to_node = inner.inside("to")
        to = self.grammar.operand(FactRef(fact), to_node)
        values = self.grammar.values(FactRef(fact), inner.inside("values"))
        if not isinstance(to, FactRef) or values is None:
            return None
        return Nearest(to, tuple(v for v in values if isinstance(v, Quantity)))

    def _interval(self, node: Node, fact: Fact) -> Expression | None:
        ends = [self._part(node.inside(key), fact) for key in ("from", "to")]
        least, greatest = ends
        return Interval(least, greatest) if least is not None and greatest is not None else None

    def _part(self, node: Node, fact: Fact) -> Expression | None:
        """Return an expression inside another: a mapping, a fact or a figure."""
        if isinstance(node.data, dict):
            return self.expression(node, fact)
        operand = self.grammar.operand(FactRef(fact), node)
        return None if operand is None else Taken(operand)

    def _combined(self, way: str, node: Node, fact: Fact) -> Expression | None:
        if not isinstance(fact.dimension, Dimension):
            told = Mistake("a quantity as its dimension", f"`{fact.dimension}`", "")
            self.grammar.tell(self.root.inside("dimension"), told)
            return None
        items = self.grammar.listed(node)
        pair = way in ("difference", "apart", "ratio", "share")
        if pair and items and len(items) != 2:
            self.grammar.tell(node, Mistake("two facts or figures", f"{len(items)}", ""))
            return None
        operands = [self._term(way, item, fact) for item in items]
        kept = tuple(operand for operand in operands if operand is not None)
        if not kept or len(kept) != len(items):
            return None
        if mistake := _mismatched(way, kept, fact.dimension):
            self.grammar.tell(node, mistake)
            return None
        return Combined(way, kept, fact.dimension)

    def _term(self, way: str, node: Node, fact: Fact) -> Operand | None:
        """Return an operand; in a product or a ratio a figure may be of any dimension."""
        if names_a_fact(node.data) and isinstance(node.data, str):
            return self.grammar.reference(node.data, node)
        if way not in ("product", "ratio", "share"):
            return self.grammar.value(FactRef(fact), node)
        if isinstance(node.data, (str, int)) and not isinstance(node.data, bool):
            for dimension in _FIGURES:
                found = read(node.data, dimension)
                if isinstance(found, Quantity):
                    return found
        self.grammar.tell(node, Mistake("a fact or a figure", described(node.data), ""))
        return None

    def _reckon(self, node: Node, fact: Fact) -> Expression | None:
        data = node.data if isinstance(node.data, dict) else {}
        name = str(data.get("reckon"))
        reckoning = RECKONINGS.get(name)
        if reckoning is None:
            advice = suggestion(name, RECKONINGS) or f"there are {', '.join(RECKONINGS)}"
            told = Mistake("one of the trade's computations", f"`{name}`", advice)
            self.grammar.tell(node.inside("reckon"), told)
            return None
        if reckoning.dimension is not fact.dimension:
            told = Mistake(f"`dimension: {reckoning.dimension}`", f"`{fact.dimension}`", "")
            self.grammar.tell(self.root.inside("dimension"), told)
            return None
        inputs = self._inputs(reckoning, node.inside("with"))
        return None if inputs is None else Reckon(reckoning, inputs)

    def _inputs(
        self, reckoning: Reckoning, node: Node
    ) -> tuple[tuple[str, tuple[Operand, ...]], ...] | None:
        given = node.data if isinstance(node.data, dict) else {}
        known = {each.name: each for each in reckoning.inputs}
        whole = True
        for name in given:
            if name not in known:
                told = Mistake("an input of it", f"`{name}`", suggestion(name, known))
                self.grammar.tell(node.inside(name).key(), told)
                whole = False
        found: list[tuple[str, tuple[Operand, ...]]] = []
        for each in reckoning.inputs:
            if each.name not in given:
                if not each.optional:
                    told = Mistake(f"`{each.name}:` {each.words}", "none", "")
                    self.grammar.tell(node, told)
                    whole = False
                continue
            operands = self._input(each, node.inside(each.name))
            whole = whole and operands is not None
            found.append((each.name, operands or ()))
        return tuple(found) if whole else None

    def _input(self, each: Input, node: Node) -> tuple[Operand, ...] | None:
        items = [node]
        if isinstance(node.data, list):
            items = self.grammar.listed(node)
        operands = []
        for item in items:
            operand = self._given(each, item)
            if operand is None:
                return None
            operands.append(operand)
        return tuple(operands)

    def _given(self, each: Input, node: Node) -> Operand | None:
        if names_a_fact(node.data) and isinstance(node.data, str):
            ref = self.grammar.reference(node.data, node)
            if ref is None:
                return None
            dimension = reduced_fact(ref) or ref.fact.dimension
            if dimension is not each.dimension:
                found = f"`{node.data}`, which gives {dimension}"
                self.grammar.tell(node, Mistake(f"{each.dimension} as `{each.name}`", found, ""))
                return None
            return ref
        stand_in = Fact(element=self.element, name=each.name, dimension=each.dimension, measure="")
        value = read_value(node.data, stand_in)
        if isinstance(value, Mistake):
            self.grammar.tell(node, value)
            return None
        return value


_WAYS: Mapping[str, None] = MappingProxyType(
    dict.fromkeys((*OPERATIONS, "table", "nearest_of", "interval", "reckon"))
)
_FIGURES = (
    Dimension.COUNT,
    Dimension.LENGTH,
    Dimension.AREA,
    Dimension.SHARE,
    Dimension.NET_FREE_AREA_PER_LENGTH,
    Dimension.TEMPERATURE_DIFFERENCE,
    Dimension.EXPANSION,
)
_POWERS: Mapping[Dimension, tuple[int, int]] = MappingProxyType(
    {
        Dimension.LENGTH: (1, 0),
        Dimension.AREA: (2, 0),
        Dimension.NET_FREE_AREA_PER_LENGTH: (1, 0),
        Dimension.SLOPE: (0, 0),
        Dimension.COUNT: (0, 0),
        Dimension.SHARE: (0, 0),
        Dimension.TEMPERATURE_DIFFERENCE: (0, 1),
        Dimension.EXPANSION: (0, -1),
    }
)
"""Powers of length and of temperature difference; what is not here is only added to its like."""


def _mismatched(way: str, operands: Sequence[Operand], result: Dimension) -> Mistake | None:
    """Return why operands of these dimensions can't give the result's, or None."""
    dimensions = [_dimension(operand) for operand in operands]
    if way in ("product", "ratio", "share"):
        powers = [_POWERS.get(d) if isinstance(d, Dimension) else None for d in dimensions]
        wanted = _POWERS.get(result)
        known = [power for power in powers if power is not None]
        if wanted is not None and len(known) == len(powers):
            sign = 1 if way == "product" else -1
            made = known[0]
            for power in known[1:]:
                made = (made[0] + sign * power[0], made[1] + sign * power[1])
            if made == wanted:
                return None
    else:
        due: Dimension | Plain = result
        if way in ("difference", "apart") and result is Dimension.TEMPERATURE_DIFFERENCE:
            due = Dimension.TEMPERATURE
        if all(dimension is due for dimension in dimensions):
            return None
    listed = ", ".join(str(dimension) for dimension in dimensions)
    return Mistake(f"operands whose {way} is a {result}", listed, "")


def _dimension(operand: Operand) -> Dimension | Plain | None:
    if isinstance(operand, FactRef):
        return reduced_fact(operand) or operand.fact.dimension
    return operand.dimension if isinstance(operand, Quantity) else None


def formula_words(expression: Expression) -> str:
    """Return an expression in words."""
    match expression:
        case Combined(operation, operands):
            return f"{operation} of {', '.join(map(_operand_words, operands))}"
        case Looked(table):
            return f"by the table on {', '.join(map(str, table.by))}"
        case Nearest(to, values):
            return f"nearest to {to} of {', '.join(value.text for value in values)}"
        case Interval(least, greatest):
            return f"from {formula_words(least)} to {formula_words(greatest)}"
        case Taken(operand):
            return _operand_words(operand)
        case Reckon(reckoning):
            return reckoning.formula


def _operand_words(operand: Operand) -> str:
    if isinstance(operand, Quantity):
        return operand.text
    return str(operand)
