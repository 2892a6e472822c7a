"""Reads `derive:` sections: computed facts, each an expression over facts that are known by then.

The engine's own computed facts are read the same way, from the table in `engine_facts.py`.
"""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.dimensions import MULTIPLIED, due_dimension, mismatched
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
from ridgerule.audit.limits import EqualTo, NearestOf, Table
from ridgerule.audit.subjects import reduced_fact
from ridgerule.facts import (
    Element,
    Fact,
    FactRef,
    Host,
    Over,
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

    def named(self, *, bare: bool = False) -> set[str]:
        """Return the facts that the entry names, however it asks them; or those asked bare."""
        said = _facts_named({k: v for k, v in self.data.items() if k not in _WORDS})
        return {text.split()[-1] for text in said if not bare or " " not in text}


_WORDS = frozenset({"measure", "ask", "formula", "source", "dimension", "choices"})


def with_derived(
    vocabulary: Vocabulary, entries: Iterable[Derive]
) -> tuple[Vocabulary, list[Problem]]:
    """Return the vocabulary with the computed facts, each after those it is computed from."""
    problems: list[Problem] = []
    waiting = {entry.name: entry for entry in _distinct(entries, vocabulary, problems)}
    named = {name: entry.named() for name, entry in waiting.items()}
    while waiting:
        ready = [entry for name, entry in waiting.items() if not named[name] & waiting.keys()]
        if not ready:
            problems.extend(_circle(list(waiting.values())))
            break
        facts = [_Reader(entry, vocabulary, problems).fact() for entry in ready]
        vocabulary = vocabulary.extended(fact for fact in facts if fact is not None)
        for entry in ready:
            del waiting[entry.name]
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
            if first.data == entry.data:
                continue  # two editions of a rulebook that compute it alike
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
            yield data
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
        if dimension is Plain.CHOICE and not data.get("choices"):
            told = Mistake("`choices:` beside `dimension: choice`", "none", "list what it may say")
            self.grammar.tell(self.root, told)
            return None
        plain = Fact(
            element=self.element,
            name=self.name,
            dimension=dimension,
            measure=str(data.get("measure", "")),
            choices=tuple(map(str, data.get("choices") or ())),  # type: ignore[arg-type] # a list
            host=self.host,
            origin=self.entry.field.book,
            inputs=tuple(sorted(self.entry.named())),
        )
        expression = self.expression(self.root, plain)
        if expression is None:
            return None
        formula = str(data.get("formula", "")) or formula_words(expression)
        source = str(data.get("source", "")) or source_words(expression)
        fact = replace(plain, formula=formula, source=source, reads=self._reads())
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
        # What a word makes one of many says nothing of what the station itself lies on.
        for name in self.entry.named(bare=True):
            known = self.vocabulary.by_name.get(name)
            if known and known.element in (Element.LINE, Element.PLANE):
                hosts.add(Host(known.element.value))
        for name in self.entry.named():
            known = self.vocabulary.by_name.get(name)
            if known and known.element is Element.STATION:
                hosts.add(known.host)
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
        found = LIMITS["nearest_of"](self.grammar, FactRef(fact), inner, node)
        return Nearest(found.to, found.values) if isinstance(found, NearestOf) else None

    def _interval(self, node: Node, fact: Fact) -> Expression | None:
        if not self._is_quantity(fact):
            return None
        ends = [self._part(node.inside(key), fact) for key in ("from", "to")]
        least, greatest = ends
        return Interval(least, greatest) if least is not None and greatest is not None else None

    def _part(self, node: Node, fact: Fact) -> Expression | None:
        """Return an expression inside another: a mapping, a fact or a figure."""
        if isinstance(node.data, dict):
            return self.expression(node, fact)
        operand = self.grammar.operand(FactRef(fact), node)
        return None if operand is None else Taken(operand)

    def _is_quantity(self, fact: Fact) -> bool:
        """Tell whether the fact is a quantity; what is none can't be reckoned with."""
        if not isinstance(fact.dimension, Dimension):
            told = Mistake("a quantity as its dimension", f"`{fact.dimension}`", "")
            self.grammar.tell(self.root.inside("dimension"), told)
        return isinstance(fact.dimension, Dimension)

    def _combined(self, way: str, node: Node, fact: Fact) -> Expression | None:
        if not self._is_quantity(fact) or not isinstance(fact.dimension, Dimension):
            return None
        items = self.grammar.listed(node)
        if way in _PAIRS and items and len(items) != 2:
            self.grammar.tell(node, Mistake("two facts or figures", f"{len(items)}", ""))
            return None
        operands = [self._term(way, item, fact, dimension=fact.dimension) for item in items]
        kept = tuple(operand for operand in operands if operand is not None)
        if not kept or len(kept) != len(items):
            return None
        if mistake := mismatched(way, kept, fact.dimension):
            self.grammar.tell(node, mistake)
            return None
        return Combined(way, kept, fact.dimension)

    def _term(self, way: str, node: Node, fact: Fact, *, dimension: Dimension) -> Operand | None:
        """Return an operand; in a product or a ratio a figure may be of any dimension."""
        if names_a_fact(node.data) and isinstance(node.data, str):
            return self._reference(node.data, node, many=way not in _PAIRS)
        if way not in MULTIPLIED:
            due = due_dimension(way, dimension) or dimension
            return self.grammar.value(FactRef(replace(fact, dimension=due)), node)
        if isinstance(node.data, (str, int)) and not isinstance(node.data, bool):
            for likely in _FIGURES:
                found = read(node.data, likely)
                if isinstance(found, Quantity):
                    return found
        self.grammar.tell(node, Mistake("a fact or a figure", described(node.data), ""))
        return None

    def _reference(self, text: str, node: Node, *, many: bool) -> FactRef | None:
        """Return a fact that stands for one value, or with `many` for each of several."""
        ref = self.grammar.reference(text, node)
        if ref is None or ref.over not in ((Over.ANY,) if many else (Over.ANY, Over.EACH)):
            return ref
        told = "one value: `least`, `greatest`, `mean` or `spread`"
        self.grammar.tell(node, Mistake(f"`each`, or {told}" if many else told, f"`{ref}`", ""))
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
                listed = suggestion(name, known) or f"it takes {', '.join(f'`{k}`' for k in known)}"
                told = Mistake(f"an input of `{reckoning.name}`", f"`{name}`", listed)
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
        counts = each.counts if each.many else (1,)
        spread = any(isinstance(item, FactRef) and item.over is Over.EACH for item in operands)
        if counts and not spread and len(operands) not in counts:
            wanted = " or ".join(map(str, counts))
            told = Mistake(f"{wanted} as `{each.name}`", f"{len(operands)}", each.words)
            self.grammar.tell(node, told)
            return None
        return tuple(operands)

    def _given(self, each: Input, node: Node) -> Operand | None:
        if names_a_fact(node.data) and isinstance(node.data, str):
            ref = self._reference(node.data, node, many=each.many)
            if ref is None:
                return None
            dimension = reduced_fact(ref) or ref.fact.dimension
            if dimension is not each.dimension:
                found = f"`{node.data}`, which gives {dimension}"
                self.grammar.tell(node, Mistake(f"{each.dimension} as `{each.name}`", found, ""))
                return None
            return ref
        stand_in = Fact(
            element=self.element,
            name=each.name,
            dimension=each.dimension,
            measure=each.words,
            choices=each.choices,
        )
        value = read_value(node.data, stand_in)
        if isinstance(value, Mistake):
            self.grammar.tell(node, value)
            return None
        return value


_WAYS: Mapping[str, None] = MappingProxyType(
    dict.fromkeys((*OPERATIONS, "table", "nearest_of", "interval", "reckon"))
)
_PAIRS = frozenset({"difference", "apart", "ratio", "share"})
_FIGURES = (
    Dimension.COUNT,
    Dimension.LENGTH,
    Dimension.AREA,
    Dimension.SHARE,
    Dimension.NET_FREE_AREA_PER_LENGTH,
    Dimension.TEMPERATURE_DIFFERENCE,
    Dimension.EXPANSION,
)


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


def source_words(expression: Expression) -> str:
    """Return where a formula is from, as far as the expression itself says."""
    match expression:
        case Reckon(reckoning):
            return reckoning.source
        case Combined():
            return "arithmetic"
        case _:
            return ""


def _operand_words(operand: Operand) -> str:
    if isinstance(operand, Quantity):
        return operand.text
    return str(operand)
