"""Rulebooks become a plan: facts found, quantities read, dimensions held together.

All that is wrong is told at once, each with its line; nothing half-compiled comes back.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import islice
from typing import TYPE_CHECKING

from ridgerule.adapt import Adapted, lay
from ridgerule.audit.derivations import Derive, with_derived
from ridgerule.audit.engine_facts import engine_vocabulary
from ridgerule.audit.plan import Edition, Plan, PlannedBook
from ridgerule.audit.rule_compiler import Shared, compiled
from ridgerule.plain_data import MOST_PROBLEMS
from ridgerule.problems import InputRejected, Location, Problem
from ridgerule.shipped import proved_digests

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from ridgerule.facts import Fact, Vocabulary
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


def facts_of(references: Iterable[tuple[str, Location]], shelf: Shelf) -> tuple[Fact, ...]:
    """Return the facts that rulebooks and those they stand on declare, so that they can be read.

    Raises `InputRejected` for a rulebook that can't be found or read.
    """
    facts: list[Fact] = []
    for reference, where in references:
        for book in shelf.editions(reference, asked_at=where):
            facts.extend(lay(book, shelf, []).facts)
    return tuple(facts)


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
            if len(problems) >= MOST_PROBLEMS:
                raise InputRejected(problems)  # no use in telling more
        else:
            checks.append(found)
    edition = Edition(adapted, tuple(checks), vocabulary)
    if adapted.is_whole:
        problems.extend(_mistaken_coverages(edition))
        problems.extend(_unpermitted(adapted, vocabulary))
    return edition


def _unpermitted(adapted: Adapted, vocabulary: Vocabulary) -> Iterator[Problem]:
    """Yield the loosenings that nobody permits, of the rulebook and of those it stands on.

    A proved rulebook has none: the tests have asked.
    """
    for layer in adapted.layers():
        if layer.book.document.digest not in proved_digests():
            from ridgerule.audit.permissions import (  # noqa: PLC0415 - proved ones need none of it
                permission_problems,
            )

            yield from islice(permission_problems(layer, vocabulary), MOST_PROBLEMS)


def _mistaken_coverages(edition: Edition) -> tuple[Problem, ...]:
    """Return all that is wrong with a rulebook's coverages; an audit asks none of them."""
    proved = edition.book.document.digest in proved_digests()
    if proved or not edition.book.coverages:
        return ()
    from ridgerule.audit.coverages import coverages_of  # noqa: PLC0415 - proved ones need it not

    return coverages_of(edition)[1]
