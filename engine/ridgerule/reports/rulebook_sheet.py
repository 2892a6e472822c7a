"""The manual page of a rulebook: what it is, what it changes, and every rule in plain words."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, assert_never

from ridgerule.audit.coverages import Group, RuleCondition, StatedCondition, coverages_of
from ridgerule.facts import Element
from ridgerule.reports.rule_sheet import changed_fields, history_of
from ridgerule.reports.sheet import Heading, Items, Pairs, Sheet, Table, Words
from ridgerule.reports.sheet_words import (
    closing_blocks,
    conditions_phrase,
    fact_blocks,
    short_demand,
    sourced,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from ridgerule.adapt import Adapted
    from ridgerule.audit.coverages import Condition
    from ridgerule.audit.plan import Check, Edition, Plan
    from ridgerule.facts import Fact
    from ridgerule.reports.sheet import Block
    from ridgerule.rulebook import Rulebook

NOBODY = "none named"
"""Said of a rulebook that nobody stands behind."""


def rulebook_sheet(edition: Edition, plan: Plan) -> Sheet:
    """Return the manual page of an edition; the plan holds it and the rulebooks under it."""
    known = edition.vocabulary.by_name
    book = edition.book
    return Sheet(
        title=book.title,
        blocks=(
            *_opening(edition),
            *_amendments(edition, plan),
            *_withdrawals(edition.adapted),
            *_facts("Facts of its own", book.facts),
            *_facts("Facts it computes", [known[name] for name, _ in book.derive]),
            *_coverages(edition),
            *_rules(edition),
            *closing_blocks(),
        ),
    )


def in_force_phrase(book: Rulebook) -> str:
    """Return the days an edition is in force, and which date of a record says so."""
    if book.in_force_by is None:
        return "always"
    return f"{book.in_force}, by the {book.in_force_by} date"


def counted_rules(edition: Edition) -> tuple[int, int]:
    """Return how many rules an edition has of its own, and how many from rulebooks under it."""
    own = sum(check.rule.book == edition.book.name for check in edition.checks)
    return own, len(edition.checks) - own


def counted_changes(edition: Edition) -> tuple[int, int]:
    """Return how many rules an edition amends, and how many it withdraws."""
    changes = edition.book.changes
    withdrawals = sum(change.withdraws for change in changes)
    return len(changes) - withdrawals, withdrawals


def listing_sheet(editions: Sequence[Edition]) -> Sheet:
    """Return a list of editions, each told briefly."""
    opening = Words("A page of each: ridgerule book show RULEBOOK")
    listed = (block for edition in editions for block in _listed(edition))
    return Sheet(f"Rulebooks in sight: {len(editions)}", (opening, *listed))


def _listed(edition: Edition) -> Iterator[Block]:
    book = edition.book
    amended, withdrawn = counted_changes(edition)
    changes = (
        _counted(amended, "amendment"),
        _counted(withdrawn, "withdrawal"),
    )
    yield Heading(book.name, 3)
    yield Pairs(
        (
            ("title", book.title),
            ("authority", book.authority or NOBODY),
            ("in force", in_force_phrase(book)),
            ("based on", _bases(book)),
            ("rules", _rules_phrase(edition)),
            ("changes", ", ".join(filter(None, changes))),
            ("coverages", ", ".join(coverage.id for coverage in book.coverages)),
            ("file", book.document.name),
        )
    )


def _counted(count: int, noun: str) -> str:
    return f"{count} {noun}{'' if count == 1 else 's'}" if count else ""


def _bases(book: Rulebook) -> str:
    return ", ".join(reference for reference, _ in book.based_on)


def _rules_phrase(edition: Edition) -> str:
    own, inherited = counted_rules(edition)
    return f"{own} of its own" + (f", {inherited} inherited" if inherited else "")


def _opening(edition: Edition) -> Iterator[Block]:
    book = edition.book
    yield Pairs(
        (
            ("rulebook", book.id),
            ("edition", book.edition),
            ("authority", book.authority or NOBODY),
            ("in force", in_force_phrase(book)),
            ("based on", _bases(book)),
            ("rules", _rules_phrase(edition)),
            ("file", book.document.name),
            ("SHA-256", book.document.digest),
        )
    )
    if book.note:
        yield Words(book.note)
    yield Words(f"Each rule has a page of its own: ridgerule book show {book.name}#RULE")


def _amendments(edition: Edition, plan: Plan) -> Iterator[Block]:
    book = edition.book
    amended = [
        check
        for check in edition.checks
        if check.rule.changes and check.rule.changes[-1].book == book.name
    ]
    if amended:
        yield Heading("What it changes")
    for check in amended:
        before, after = history_of(check.rule, plan, book.name).stages[-2:]
        change = check.rule.changes[-1]
        yield Heading(check.rule.full_id, 3)
        yield Pairs(
            (
                *changed_fields(before, after),
                ("reason", change.reason),
                ("source", sourced(change.source)),
                ("permitted by", change.permitted_by),
            )
        )


def _withdrawals(adapted: Adapted) -> Iterator[Block]:
    gone = [rule for rule in adapted.withdrawn if rule.changes[-1].book == adapted.book.name]
    if gone:
        yield Heading("What it takes away")
    for rule in gone:
        change = rule.changes[-1]
        yield Heading(rule.full_id, 3)
        yield Pairs(
            (
                ("title", rule.text("title")),
                ("reason", change.reason),
                ("source", sourced(change.source)),
                ("permitted by", change.permitted_by),
            )
        )


def _facts(title: str, facts: tuple[Fact, ...] | list[Fact]) -> Iterator[Block]:
    if facts:
        yield Heading(title)
    for fact in facts:
        yield from fact_blocks(fact)


def _coverages(edition: Edition) -> Iterator[Block]:
    compiled, _ = coverages_of(edition)
    if compiled:
        yield Heading("Warranty coverages")
    for each in compiled:
        coverage = each.coverage
        yield Heading(coverage.title, 3)
        yield Pairs(
            (
                ("coverage", coverage.id),
                ("to show", coverage.evidence),
                ("allowed", _counted(coverage.isolated_allowed, "isolated fault")),
            )
        )
        any_will_do = each.conditions.any_will_do
        yield Words("Depends on any one of these:" if any_will_do else "Depends on all of these:")
        yield Items(tuple(map(_condition, each.conditions.parts)))


def _condition(condition: Condition) -> str:
    """Return one condition of a coverage: a rule with its title, a statement, or several joined."""
    match condition:
        case RuleCondition(check):
            return f"{check.rule.id}: {check.rule.text('title')}"
        case StatedCondition(title, where):
            return f"{title}: {conditions_phrase(where)}"
        case Group(parts, any_will_do):
            listed = "; ".join(map(_condition, parts))
            return f"{'any one' if any_will_do else 'all'} of ({listed})"
        case _:
            assert_never(condition)


def _rules(edition: Edition) -> Iterator[Block]:
    ids = Counter(check.rule.id for check in edition.checks)
    for element in Element:
        judged = [check for check in edition.checks if check.at is element]
        if not judged:
            continue
        yield Heading(f"Rules judged at {_places(element)}")
        own = edition.book.name
        books = dict.fromkeys((own, *(check.rule.book for check in judged)))
        for book in books:
            rows = [_row(check, ids, own) for check in judged if check.rule.book == book]
            if rows:
                caption = f"from {book}" if len(books) > 1 and book != own else ""
                caption = caption or ("its own" if len(books) > 1 else "")
                yield Table(("rule", "what it asks", "must be", "class"), tuple(rows), caption)


def _row(check: Check, ids: Counter[str], book: str) -> tuple[str, str, str, str]:
    rule = check.rule
    name = rule.id if ids[rule.id] == 1 else rule.full_id
    amended = " (amended)" if any(change.book == book for change in rule.changes) else ""
    return f"{name}{amended}", rule.text("title"), short_demand(check), rule.severity.value


def _places(element: Element) -> str:
    match element:
        case Element.ROOF:
            return "the roof"
        case Element.DELIVERY:
            return "deliveries"
        case _:
            return f"{element}s"
