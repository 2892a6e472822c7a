"""What sheets say of rules and facts in plain words, one phrase or block a thing said."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridgerule.audit.expressions import Derivation, Interval, Looked
from ridgerule.audit.limits import AllOf, AnyOf, nodes
from ridgerule.audit.limits import Table as LimitTable
from ridgerule.audit.subjects import ANYTHING
from ridgerule.audit.words import condition_words, limit_words, plain_fact, plain_name
from ridgerule.facts import Element, FactRef, Host, How, LineKind, Plain
from ridgerule.quantities import Dimension
from ridgerule.reports.cautions import CAUTIONS, DISCLAIMER
from ridgerule.reports.sheet import Heading, Items, Pairs, Table, Words
from ridgerule.reports.sourcing import cited

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from ridgerule.audit.limits import Limit
    from ridgerule.audit.plan import Check
    from ridgerule.audit.subjects import Evidence
    from ridgerule.facts import Fact
    from ridgerule.reports.sheet import Block
    from ridgerule.rulebook import Source

ENGINE = "engine"
"""The origin of facts that no rulebook declares."""
_NO_SOURCE = "no source"
_NO_INSPECTION = (
    "Rules in words, made from the rulebook's file; no roof was judged. What every report says of "
    "itself goes for this page too:"
)


def limit_phrase(limit: Limit) -> str:
    """Return a limit as it follows "must be", its facts by plain names."""
    return limit_words(limit, name=plain_name)


def demand(check: Check) -> str:
    """Return what a rule demands as a sentence: `station gap must be at least 3 1/16 in`."""
    return f"{plain_name(check.of)} must be {limit_phrase(check.limit)}"


def short_demand(check: Check) -> str:
    """Return what a rule demands as briefly as a table shows it."""
    words = limit_phrase(check.limit)
    is_yes_no = check.of.fact.dimension is Plain.YES_NO
    return f"{check.of.fact.name.replace('_', ' ')}: {words}" if is_yes_no else words


def judged_at(check: Check) -> str:
    """Return where a rule is judged: `each station on a hip or ridge`."""
    kinds = [kind for kind in LineKind if kind in check.kinds]
    lines = _either(kinds) if len(kinds) < len(LineKind) else "line"
    match check.at:
        case Element.ROOF:
            return "the roof"
        case Element.STATION if check.host is Host.PLANE:
            return "each station on a plane"
        case Element.STATION if check.host is Host.LINE and kinds:
            article = "an" if lines[0] in "aeio" else "a"
            return f"each station on {article} {lines}"
        case Element.LINE if kinds:
            return f"each {lines}"
        case at:
            return f"each {at}"


def conditions(when: Limit | None) -> tuple[str, ...]:
    """Return what has to hold for a rule to apply, each part as a clause of its own."""
    if when is None:
        return ()
    if isinstance(when, AllOf):
        return tuple(clause for part in when.parts for clause in conditions(part))
    if isinstance(when, AnyOf) and len(when.parts) > 1:
        parts = (condition_words(part, name=plain_name) for part in when.parts)
        return (f"either {', or '.join(parts)}",)
    return (condition_words(when, name=plain_name),)


def conditions_phrase(when: Limit | None) -> str:
    """Return what has to hold for a rule to apply as one phrase."""
    return condition_words(when, name=plain_name) if when is not None else "everywhere"


def scope_phrase(check: Check) -> str:
    """Return what the rule and the rulebooks on its way here are written for."""
    return "; ".join(dict.fromkeys(conditions(check.scope))) or "any roof"


def own_scope_phrase(check: Check) -> str:
    """Return what the rule itself is written for, within the scopes of its rulebooks."""
    # The compiler joins the scopes of the rulebooks and then the rule's own.
    if "scope" not in check.rule.fields or not isinstance(check.scope, AllOf):
        return ""
    return "; ".join(conditions(check.scope.parts[-1]))


def evidence_phrase(evidence: Evidence) -> str:
    """Return how the fact judged has to be known."""
    if evidence == ANYTHING:
        return "in any way"
    listed = [how.value for how in How if evidence.how is None or how in evidence.how]
    ways = "in any way" if evidence.how is None else _either(listed)
    return f"{ways}, with a photo" if evidence.photo else ways


def stations_phrase(check: Check) -> str:
    """Return how many stations must be read; empty for a rule that says nothing of it."""
    if check.stations is None:
        return ""
    host = "line" if check.host is Host.LINE else "plane"
    words = f"at least {check.stations.at_least} on each {host}"
    per = check.stations.one_per
    return f"{words}, and one for each {per.text} of it" if per else words


def sourced(source: Source) -> str:
    """Return a source in words, with what its note adds."""
    words = cited(source)
    note = source.note
    if words.endswith(_NO_SOURCE):
        note = note.removeprefix(_NO_SOURCE).removeprefix("; ")
    return "; ".join(filter(None, (words, note)))


def tables_in(limit: Limit, title: str) -> Iterator[Table]:
    """Yield the tables that a limit is read from, row by row."""
    for node in nodes(limit):
        if isinstance(node, LimitTable):
            yield table_block(node, title)


def table_block(table: LimitTable, title: str, *, caption: str = "") -> Table:
    """Return a table of limits; `title` stands over its last column."""
    return Table(
        header=(*(plain_name(ref) for ref in table.by), title),
        rows=tuple(
            (*(limit_phrase(key) for key in row.keys), limit_phrase(row.limit))
            for row in table.rows
        ),
        caption=caption,
    )


def facts_behind(roots: Iterable[object]) -> tuple[Fact, ...]:
    """Return the facts that limits and conditions ask for, each before those behind it."""
    found: dict[str, Fact] = {}
    waiting = [node for root in roots if root is not None for node in nodes(root)]
    while waiting:
        node = waiting.pop(0)
        if isinstance(node, FactRef) and node.fact.full_name not in found:
            found[node.fact.full_name] = node.fact
            if isinstance(node.fact.derivation, Derivation):
                waiting = [*nodes(node.fact.derivation.expression), *waiting]
    return tuple(found.values())


def fact_blocks(fact: Fact) -> Iterator[Block]:
    """Yield what a fact is: how it is read and asked for, or what it is computed from."""
    computed = fact.derivation is not None
    is_read = isinstance(fact.dimension, Dimension) and not computed
    yield Heading(plain_fact(fact), 3)
    yield Pairs(
        (
            ("written as", fact.full_name),
            ("measured" if is_read else "is", fact.measure),
            ("ask", fact.ask),
            ("with", fact.tool),
            ("sides", "each side by itself" if fact.per_side else ""),
            ("one of", ", ".join(fact.choices)),
            (
                "computed from",
                ", ".join(name.replace(".", " ").replace("_", " ") for name in fact.inputs),
            ),
            ("formula", "" if _tables_of(fact) else fact.formula),
            ("source", fact.source),
            ("declared by", "" if fact.origin == ENGINE else fact.origin),
        )
    )
    yield from _tables_of(fact)


def _tables_of(fact: Fact) -> tuple[Table, ...]:
    """Return the tables that a computed fact is looked up in."""
    if not isinstance(fact.derivation, Derivation):
        return ()
    match fact.derivation.expression:
        case Looked(table):
            return (table_block(table, plain_fact(fact)),)
        case Interval(Looked(least), Looked(greatest)):
            return (
                table_block(least, plain_fact(fact), caption="at the least"),
                table_block(greatest, plain_fact(fact), caption="at the most"),
            )
        case _:
            return ()


def closing_blocks() -> tuple[Block, ...]:
    """Return what a page about rules ends with: what it is not, and cautions for who measures."""
    return (
        Heading("What this page is"),
        Words(f"{_NO_INSPECTION} {DISCLAIMER}"),
        Heading("Before anyone goes up to measure"),
        Items(CAUTIONS),
    )


def _either(phrases: Sequence[str]) -> str:
    if len(phrases) < 2:
        return "".join(phrases)
    return f"{', '.join(phrases[:-1])} or {phrases[-1]}"
