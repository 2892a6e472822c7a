"""The rules, facts and coverages that differ between two rulebooks, as blocks of a page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridgerule.audit.strictness import Strictness
from ridgerule.audit.words import plain_fact
from ridgerule.proof.differences_facts import Kind
from ridgerule.reports.differences_facts_words import condition_words, coverage_told, fact_told
from ridgerule.reports.differences_words import rule_told, short_names
from ridgerule.reports.sheet import Heading, Items, Pairs, Table, Words
from ridgerule.reports.sheet_words import (
    conditions_phrase,
    demand,
    evidence_phrase,
    judged_at,
    scope_phrase,
    sourced,
    stations_phrase,
    tables_in,
)
from ridgerule.reports.sourcing import amendments

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from ridgerule.proof.differences import Differences, RuleDifference
    from ridgerule.proof.differences_coverages import CoverageDifference
    from ridgerule.proof.differences_facts import FactDifference
    from ridgerule.reports.differences_words import Told
    from ridgerule.reports.sheet import Block
    from ridgerule.rulebook import Change

MEANINGS = {
    Strictness.STRICTER: "Worse for some roofs, and better for none.",
    Strictness.LOOSER: "Better for some roofs, and worse for none.",
    Strictness.DIFFERENT: "Better for some roofs and worse for others, or no one can tell.",
    Strictness.WORDING: "No roof comes out otherwise.",
}
"""What a change of each strictness does, in the order that a page tells them."""

_MOST_WHOLE = 5
"""Rules of one rulebook added or gone that are told whole; more are listed in a table."""


def rules_blocks(found: Differences) -> Iterator[Block]:
    """Yield every rule that differs: by strictness, those changed alike together."""
    names = short_names(found)
    for strict, meaning in MEANINGS.items():
        these = [each for each in found.told if each.strictness is strict]
        if these:
            yield Heading(strict.value.capitalize())
            yield Words(meaning)
        alone: dict[tuple[Kind, str], list[RuleDifference]] = {}
        alike: dict[tuple[object, ...], list[RuleDifference]] = {}
        for each in these:
            if each.kind in (Kind.ADDED, Kind.GONE):
                alone.setdefault((each.kind, each.check.rule.book), []).append(each)
            else:
                alike.setdefault((each.kind, *rule_told(each)), []).append(each)
        for changed in sorted(alike.values(), key=len):
            yield from _changed(changed, names)
        for (kind, book), group in alone.items():
            yield from _alone(kind, book, group, names)


def _changed(group: Sequence[RuleDifference], names: Mapping[str, str]) -> Iterator[Block]:
    """Yield what changed of one rule, or of several that changed alike."""
    first = group[0]
    fields = rule_told(first)
    pairs = tuple(_pair(each, first.strictness) for each in fields)
    if len(group) == 1:
        rule = first.check.rule
        fate = " (renamed)" if first.kind is Kind.RENAMED else ""
        yield Heading(f"{names[rule.full_id]}: {rule.text('title')}{fate}", 3)
        yield Pairs((("rule", rule.full_id), *pairs))
    else:
        listed = ", ".join(names[each.check.rule.full_id] for each in group)
        yield Heading(f"{len(group)} rules, changed alike", 3)
        yield Pairs((*pairs, ("rules", listed)))
    for each in fields:
        yield from told_rows(each)


def _pair(each: Told, strictness: Strictness) -> tuple[str, str]:
    """Return a field that differs; how strict it is where the rule as a whole is otherwise."""
    told_already = each.strictness in (strictness, Strictness.WORDING)
    return each.label, each.phrase if told_already else f"{each.phrase} ({each.strictness})"


def told_rows(each: Told) -> Iterator[Block]:
    """Yield the rows of a table that differ."""
    if each.rows:
        rows = tuple((row.where, row.was, row.brief) for row in each.rows)
        yield Table((each.by, "was", "is now"), rows)


def _alone(
    kind: Kind, book: str, group: Sequence[RuleDifference], names: Mapping[str, str]
) -> Iterator[Block]:
    """Yield rules of one rulebook that were added or are gone."""
    plain = [each for each in group if each.withdrawal is None]
    for each in group:
        if each.withdrawal is not None or len(plain) <= _MOST_WHOLE:
            rule = each.check.rule
            yield Heading(f"{names[rule.full_id]}: {rule.text('title')} ({_fate(each)})", 3)
            yield _whole(each)
            yield from tables_in(each.check.limit, "must be")
    if len(plain) > _MOST_WHOLE:
        rows = tuple(_row(each, names) for each in plain)
        verb = "added from" if kind is Kind.ADDED else "gone with"
        yield Heading(f"{len(plain)} rules {verb} {book}", 3)
        yield Words("`ridgerule book show` has a page on each of them.")
        yield Table(("rule", "what it asks", "class"), rows)


def _fate(found: RuleDifference) -> str:
    if found.withdrawal is None:
        return found.kind.value
    return "withdrawn" if found.kind is Kind.GONE else "back, withdrawn before"


def _row(found: RuleDifference, names: Mapping[str, str]) -> tuple[str, str, str]:
    rule = found.check.rule
    return names[rule.full_id], rule.text("title"), rule.severity.value


def _whole(found: RuleDifference) -> Pairs:
    check, rule = found.check, found.check.rule
    never = "no roof: what it is written for excludes where it applies"
    where = conditions_phrase(check.when) if check.when is not None else ""
    return Pairs(
        (
            ("rule", rule.full_id),
            ("demands", demand(check)),
            ("judged at", judged_at(check)),
            ("applies where", where),
            ("applies to", never if found.never_applies else ""),
            ("written for", scope_phrase(check)),
            ("class", rule.severity.value),
            ("shown by", evidence_phrase(check.evidence)),
            ("stations", stations_phrase(check)),
            ("why", rule.text("why")),
            ("source", sourced(rule.source)),
            ("amended by", "; ".join(each.text for each in amendments(rule))),
            *_withdrawal(found.withdrawal),
        )
    )


def _withdrawal(change: Change | None) -> tuple[tuple[str, str], ...]:
    if change is None:
        return ()
    return (
        ("withdrawn by", change.book),
        ("reason", change.reason),
        ("its source", sourced(change.source)),
        ("permitted by", change.permitted_by),
    )


def facts_blocks(found: Differences) -> Iterator[Block]:
    """Yield the facts that differ: changed ones first, then those added and gone."""
    facts, names = found.facts, short_names(found)
    if not facts:
        return
    yield Heading("Facts it declares and computes")
    changed = [each for each in facts if each.kind is Kind.CHANGED]
    for each in sorted(changed, key=lambda each: not each.may_decide):
        fields = fact_told(each)
        yield Heading(plain_fact(each.fact), 3)
        outcome = "" if each.may_decide else "no: only how it is worded changed"
        yield Pairs(
            (
                *((field.label, field.phrase) for field in fields),
                ("used by", ", ".join(names[rule] for rule in each.rules)),
                ("bears on outcomes", outcome),
            )
        )
        for field in fields:
            yield from told_rows(field)
    for kind in (Kind.ADDED, Kind.GONE):
        these = [each for each in facts if each.kind is kind]
        if these:
            yield Heading(f"{kind.value.capitalize()}, {len(these)} in all", 3)
            rows = tuple((plain_fact(e.fact), _is_computed(e), e.fact.measure) for e in these)
            yield Table(("fact", "comes from", "what it is"), rows)


def _is_computed(found: FactDifference) -> str:
    return "computed" if found.fact.derivation is not None else "the record"


def coverages_blocks(coverages: Sequence[CoverageDifference]) -> Iterator[Block]:
    """Yield the coverages that differ."""
    if coverages:
        yield Heading("Coverages")
    for found in coverages:
        compiled = found.coverage
        fate = "" if found.kind is Kind.CHANGED else f" ({found.kind})"
        yield Heading(f"{compiled.coverage.id}: {compiled.coverage.title}{fate}", 3)
        if found.kind is Kind.CHANGED:
            yield Pairs(tuple((each.label, each.phrase) for each in coverage_told(found)))
        else:
            depends = "It depended" if found.kind is Kind.GONE else "It depends"
            many = "any" if compiled.conditions.any_will_do else "all"
            yield Words(f"{depends} on {many} of:")
            yield Items(tuple(map(condition_words, compiled.conditions.parts)))
