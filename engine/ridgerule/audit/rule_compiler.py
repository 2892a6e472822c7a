"""One rule becomes a check: facts found, quantities read, dimensions held together."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec
from msgspec import Struct

from ridgerule.audit.grammar import Asked, Grammar, Node, node_of
from ridgerule.audit.kinds import line_kinds
from ridgerule.audit.limits import AllOf, Holds, Limit, nodes
from ridgerule.audit.plan import Check, Stations
from ridgerule.audit.subjects import ANYTHING, Evidence
from ridgerule.facts import (
    Element,
    Fact,
    FactRef,
    Host,
    How,
    Vocabulary,
    names_a_fact,
    out_of_range,
    read_value,
)
from ridgerule.problems import Location, Problem, shown, suggestion, with_article
from ridgerule.quantities import Dimension, Mistake, read
from ridgerule.record import unknown_reason
from ridgerule.rulebook import DecisionRule
from ridgerule.shipped import proved_digests

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.documents import Data, Path
    from ridgerule.rulebook import Field, Rule


class Shared(Struct, frozen=True):
    """What rules of one edition have in common, compiled once so that an audit asks it once."""

    scopes: dict[tuple[tuple[str, Path], ...], Limit | None]
    """By the fields they stand in."""
    conditions: dict[tuple[bytes, Asked], Limit]
    """By what they say and where they are asked."""
    host_parts: dict[int, Limit | None]
    """By the condition they are a part of, which `conditions` keeps."""

    @classmethod
    def nothing(cls) -> Shared:
        """Return what rules share before the first of them is compiled."""
        return cls({}, {}, {})


def compiled(rule: Rule, vocabulary: Vocabulary, shared: Shared) -> Check | tuple[Problem, ...]:
    """Return a rule as a check, or all that is wrong with it."""
    compiler = _RuleCompiler(rule, vocabulary, shared)
    check = compiler.check()
    if check is None or compiler.problems:
        return tuple(compiler.problems)
    return check


class _RuleCompiler:
    """Compiles one rule; keeps every problem it meets."""

    def __init__(self, rule: Rule, vocabulary: Vocabulary, shared: Shared) -> None:
        self.rule = rule
        self.shared = shared
        self.vocabulary = vocabulary
        self.problems: list[Problem] = []

    def check(self) -> Check | None:
        of = self.of()
        if of is None:
            return None
        asked = self.asked(of)
        if asked is None:
            return None
        grammar = Grammar(self.vocabulary, asked)
        named = grammar.reference(str(of), node_of(self.rule.fields["of"]))
        limit = self.limit(grammar, of, "limit")
        when = self.condition(grammar)
        aim = self.limit(grammar, of, "aim")
        scope = self.scope()
        self.check_cases(grammar)
        self.problems.extend(grammar.problems)
        if named is None or limit is None:
            return None
        return Check(
            rule=self.rule,
            of=of,
            at=asked.element,
            host=asked.host,
            limit=limit,
            when=when,
            host_when=self.host_part(when) if asked.element is Element.STATION else None,
            aim=aim,
            scope=scope,
            evidence=self.evidence(),
            stations=self.stations(asked),
            decision=self.decision(),
            kinds=line_kinds(when, asked),
        )

    def of(self) -> FactRef | None:
        field = self.rule.fields.get("of")
        if field is None or not isinstance(field.data, str):
            return None
        found = self.vocabulary.find(field.data)
        if isinstance(found, Mistake):
            self.tell(field.location, found)
            return None
        return found

    def asked(self, of: FactRef) -> Asked | None:
        """Return the element the rule is asked at, and what its stations lie on."""
        field = self.rule.fields.get("at")
        if field is None:
            if of.over is None:
                element = of.fact.element
            else:
                where = self.rule.fields["of"].location
                told = Mistake(f"`at:` beside `{of}`", "none", "say which element it is judged at")
                self.tell(where, told)
                return None
        else:
            element = Element(str(field.data))
        return Asked(element, self.host(of)) if element is Element.STATION else Asked(element)

    def host(self, of: FactRef) -> Host:
        """Return what the rule's stations lie on: said by `on:`, or plain from its facts."""
        said = self.rule.fields.get("on")
        hosts = {Host(str(said.data))} if said else set()
        for name in self.names():
            fact = self.vocabulary.by_name.get(name)
            if fact is None:
                continue
            if fact.element in (Element.LINE, Element.PLANE):
                hosts.add(Host(fact.element.value))
            elif fact.element is Element.STATION:
                hosts.add(fact.host)
        hosts = (hosts | {of.fact.host}) - {Host.EITHER}
        if len(hosts) == 2:
            told = "facts of stations on lines, or of stations on planes"
            advice = "make two rules of it"
            self.tell(self.rule.location, Mistake(told, "both", advice))
        return hosts.pop() if len(hosts) == 1 else Host.EITHER

    def names(self) -> Iterator[str]:
        """Yield the facts that the rule names without a word for one over many."""
        for name in ("when", "limit", "aim"):
            field = self.rule.fields.get(name)
            if field is not None:
                yield from _fact_names(field.data)

    def limit(self, grammar: Grammar, of: FactRef, name: str) -> Limit | None:
        field = self.rule.fields.get(name)
        return None if field is None else grammar.limit(of, node_of(field))

    def condition(self, grammar: Grammar) -> Limit | None:
        """Return what the rule asks first; rules that ask the same share one node."""
        field = self.rule.fields.get("when")
        if field is None:
            return None
        key = (msgspec.json.encode(field.data), grammar.asked)
        if key in self.shared.conditions:
            return self.shared.conditions[key]
        found = grammar.condition(node_of(field))
        if found is not None:
            self.shared.conditions[key] = found
        return found

    def host_part(self, when: Limit | None) -> Limit | None:
        """Return what a station's line or plane decides of a condition, one node for one node."""
        if id(when) not in self.shared.host_parts:
            self.shared.host_parts[id(when)] = _host_part(when)
        return self.shared.host_parts[id(when)]

    def scope(self) -> Limit | None:
        """Return what the rule and every rulebook on its way here are written for.

        Rules of one scope share one node, so that an audit asks it once.
        """
        own = self.rule.fields.get("scope")
        fields = [field for field in (*self.rule.scopes, own) if field is not None]
        key = tuple((field.document.digest, field.path) for field in fields)
        if key not in self.shared.scopes:
            parts = [part for field in fields if (part := self.scope_of(field)) is not None]
            self.shared.scopes[key] = AllOf(tuple(parts)) if parts else None
        return self.shared.scopes[key]

    def scope_of(self, field: Field) -> Limit | None:
        if not isinstance(field.data, dict):
            return None
        grammar = Grammar(self.vocabulary, Asked(Element.ROOF))
        known = self.vocabulary.by_element[Element.ROOF]
        parts = []
        for key in field.data:
            node = Node(field, field.data[key], (key,))
            ref = None
            if key in known:
                ref = grammar.reference(f"{Element.ROOF}.{key}", node.key())
            else:
                told = "a fact of the roof by its short name"
                grammar.tell(node.key(), Mistake(told, f"`{shown(key)}`", suggestion(key, known)))
            limit = None if ref is None else grammar.limit(ref, node)
            if ref is not None and limit is not None:
                parts.append(Holds(ref, limit))
        self.problems.extend(grammar.problems)
        return AllOf(tuple(parts))

    def evidence(self) -> Evidence:
        field = self.rule.fields.get("evidence")
        data = field.data if field and isinstance(field.data, dict) else {}
        listed = data.get("how")
        how = frozenset(How(str(word)) for word in listed) if isinstance(listed, list) else None
        photo = data.get("photo") is True
        return Evidence(how, photo) if how or photo else ANYTHING

    def decision(self) -> DecisionRule:
        """Return how readings are decided: as the rule says, or a rulebook on its way here."""
        said = self.rule.text("decision_rule")
        if said:
            return DecisionRule(said)
        return DecisionRule.GUARDED if self.rule.guarded else DecisionRule.SIMPLE

    def stations(self, asked: Asked) -> Stations | None:
        field = self.rule.fields.get("stations")
        if field is None or not isinstance(field.data, dict):
            return None
        if asked.element is not Element.STATION or asked.host is Host.EITHER:
            told = "a rule on stations of lines or of planes beside `stations:`"
            judged = f"one at {with_article(asked.element)}"
            self.tell(field.location, Mistake(told, judged, "take `stations:` out"))
            return None
        at_least, per = field.data.get("at_least", 1), field.data.get("one_per")
        one_per = None
        if isinstance(per, (str, int)):
            by = Dimension.LENGTH if asked.host is Host.LINE else Dimension.AREA
            found = read(per, by)
            if isinstance(found, Mistake):
                self.tell(field.at("one_per"), found)
            else:
                one_per = found
        return Stations(at_least if isinstance(at_least, int) else 1, one_per)

    def check_cases(self, grammar: Grammar) -> None:
        """Read the facts and values that the cases give; a proved rulebook's are known."""
        field = self.rule.fields.get("cases")
        if field is None or field.document.digest in proved_digests():
            return
        for i, raw in enumerate(field.data if isinstance(field.data, list) else ()):
            given = raw.get("given") if isinstance(raw, dict) else None
            for name, value in given.items() if isinstance(given, dict) else ():
                path = (*field.path, i, "given", name)
                found = grammar.vocabulary.find(name)
                if isinstance(found, Mistake):
                    self.tell(field.document.key_location(path), found)
                    continue
                for steps, mistake in _mistaken_values(value, found.fact):
                    self.tell(field.document.location((*path, *steps)), mistake)

    def tell(self, where: Location, mistake: Mistake) -> None:
        self.problems.append(Problem(where, mistake.expected, mistake.found, mistake.advice))


def _mistaken_values(
    data: Data, fact: Fact, steps: tuple[str | int, ...] = ()
) -> Iterator[tuple[tuple[str | int, ...], Mistake]]:
    """Yield what is wrong with the values a case gives for a fact, with the way to each."""
    if isinstance(data, list):
        for i, item in enumerate(data):
            yield from _mistaken_values(item, fact, (*steps, i))
    elif isinstance(data, dict):
        yield from _mistaken_values(data.get("value"), fact, (*steps, "value"))
    elif not unknown_reason(data):
        found = read_value(data, fact)
        mistake = found if isinstance(found, Mistake) else out_of_range(found, fact)
        if mistake is not None:
            yield steps, mistake


def _fact_names(data: Data) -> Iterator[str]:
    """Yield the facts named bare in a limit or a condition, keys and operands alike."""
    match data:
        case str() if names_a_fact(data) and " " not in data:
            yield data
        case list():
            for item in data:
                yield from _fact_names(item)
        case dict():
            for key, item in data.items():
                yield from _fact_names(key)
                yield from _fact_names(item)
        case _:
            return


def _host_part(when: Limit | None) -> Limit | None:
    """Return the parts of a condition, joined by and, that name no fact of a station."""
    parts = when.parts if isinstance(when, AllOf) else (when,) if when is not None else ()
    kept = tuple(part for part in parts if not _names_station(part))
    return AllOf(kept) if kept else None


def _names_station(node: Limit) -> bool:
    refs = (part for part in nodes(node) if isinstance(part, FactRef))
    return any(ref.fact.element is Element.STATION for ref in refs)
