"""Rulebooks become a plan: facts found, quantities read, dimensions held together.

All that is wrong is told at once, each with its line; nothing half-compiled comes back.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from ridgerule.adapt import Adapted, lay
from ridgerule.audit.derivations import Derive, with_derived
from ridgerule.audit.engine_facts import engine_vocabulary
from ridgerule.audit.plan import Edition, Plan, PlannedBook
from ridgerule.audit.rule_compiler import Shared, compiled
from ridgerule.problems import InputRejected, Location, Problem, suggestion
from ridgerule.shipped import proved_digests

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from ridgerule.documents import Data
    from ridgerule.facts import Vocabulary
    from ridgerule.shelf import Shelf


def plan_for(references: Iterable[tuple[str, Location]], shelf: Shelf) -> Plan:
    """Return the plan of the rulebooks named, each `id` or `id@edition`, in that order.

    Raises `InputRejected` with every problem of every rulebook among them.
    """
    problems: list[Problem] = []
    adapted: list[tuple[str, tuple[Adapted, ...]]] = []
    for reference, where in dict(references).items():
        try:
            editions = shelf.editions(reference, asked_at=where)
            laid = tuple(lay(book, shelf, problems) for book in editions)
            # Asked for both as `id` and as `id@edition`, a rulebook is still one.
            if laid not in [books for _, books in adapted]:
                adapted.append((reference, laid))
        except InputRejected as rejected:
            problems.extend(rejected.problems)
    recorded, clashes = _vocabulary(book for _, books in adapted for book in books)
    problems.extend(clashes)
    planned = []
    known = recorded
    for reference, books in adapted:
        compiled_editions = []
        for book in books:
            # Two editions may compute one fact in two ways, so each has its own computed facts.
            entries = [Derive(name, field) for name, field in book.derive]
            vocabulary, mistaken = with_derived(recorded, entries)
            problems.extend(mistaken)
            compiled_editions.append(_edition(book, vocabulary, problems))
            known = known.extended(vocabulary.facts)
        planned.append(PlannedBook(reference, tuple(compiled_editions)))
    if problems:
        raise InputRejected(problems)
    return Plan(tuple(planned), known)


def _vocabulary(books: Iterable[Adapted]) -> tuple[Vocabulary, list[Problem]]:
    """Return the engine's facts and the rulebooks' own; two meanings of one name clash."""
    vocabulary, problems = engine_vocabulary(), []
    for adapted in books:
        for fact in adapted.facts:
            known = vocabulary.by_name.get(fact.full_name)
            if known is None:
                vocabulary = vocabulary.extended([fact])
            elif replace(known, origin="") != replace(fact, origin=""):
                document = next(b.document for b in adapted.documents() if b.name == fact.origin)
                where = document.key_location(("facts", fact.full_name))
                owner = "the engine" if known.origin == "engine" else f"`{known.origin}`"
                found = f"`{fact.full_name}`, which is a fact of {owner} with another meaning"
                problems.append(Problem(where, "a name that is free", found, "choose another name"))
    return vocabulary, problems


def _edition(adapted: Adapted, vocabulary: Vocabulary, problems: list[Problem]) -> Edition:
    checks = []
    shared = Shared.nothing()
    for rule in adapted.rules:
        found = compiled(rule, vocabulary, shared)
        if isinstance(found, tuple):
            problems.extend(found)
        else:
            checks.append(found)
    if adapted.is_whole:
        problems.extend(_unknown_conditions(adapted))
        problems.extend(_unpermitted(adapted, vocabulary))
    return Edition(adapted, tuple(checks), vocabulary)


def _unpermitted(adapted: Adapted, vocabulary: Vocabulary) -> Iterator[Problem]:
    """Yield the loosenings that nobody permits, of the rulebook and of those it stands on.

    A proved rulebook has none: the tests have asked.
    """
    if adapted.book.document.digest not in proved_digests():
        from ridgerule.audit.permissions import (  # noqa: PLC0415 - proved ones need none of it
            permission_problems,
        )

        yield from permission_problems(adapted, vocabulary)
    for base in adapted.bases:
        yield from _unpermitted(base, vocabulary)


def _unknown_conditions(adapted: Adapted) -> Iterator[Problem]:
    """Yield the conditions of coverages that name no rule of the rulebook."""
    known = {rule.id for rule in adapted.rules} | {rule.full_id for rule in adapted.rules}
    for coverage in adapted.book.coverages:
        for steps, name in _named_rules(coverage.conditions.data):
            if name not in known:
                where = coverage.conditions.at(*steps)
                advice = suggestion(name, known) or "no rule of it or of its bases has this id"
                yield Problem(where, "a rule of this rulebook", f"`{name}`", advice)


def _named_rules(
    data: Data, steps: tuple[str | int, ...] = ()
) -> Iterator[tuple[tuple[str | int, ...], str]]:
    if isinstance(data, str):
        yield steps, data
    elif isinstance(data, list):
        for i, item in enumerate(data):
            yield from _named_rules(item, (*steps, i))
    elif isinstance(data, dict):
        for key in ("all_of", "any_of"):
            if key in data:
                yield from _named_rules(data[key], (*steps, key))
