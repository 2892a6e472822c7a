"""Facts that a rulebook declares or computes and then never asks."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridgerule.audit.derivations import Derive
from ridgerule.facts import Element, names_a_fact
from ridgerule.plain_data import mapping_in
from ridgerule.proof.lint_remarks import warning

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.documents import Data
    from ridgerule.proof.lint_remarks import Remark
    from ridgerule.rulebook import Field, Rulebook

ASKING = ("of", "when", "limit", "aim")
"""The fields of a rule that ask facts by their full names; a case asks none."""


def fact_remarks(book: Rulebook) -> Iterator[Remark]:
    """Yield the facts of a rulebook's own that nothing in its file asks."""
    asked = _asked(book)
    for fact in book.facts:
        if fact.full_name not in asked:
            where = book.document.key_location(("facts", fact.full_name))
            found = f"`{fact.full_name}`, which an inspector would record for nothing"
            advice = "write the rule it is for, or take it out"
            told = "a fact that a rule or a computed fact of this file asks"
            yield warning(where, told, found, advice)
    for name, field in book.derive:
        if name not in asked:
            where = field.document.key_location(field.path)
            told = "a computed fact that a rule or another computed fact of this file asks"
            advice = "write the rule it is for, or take it out"
            yield warning(where, told, f"`{name}`", advice)


def _asked(book: Rulebook) -> set[str]:
    """Return the full names of the facts that the file's own rules and computations ask."""
    found: set[str] = set()
    written = [*(rule.fields for rule in book.rules), *(change.fields for change in book.changes)]
    for fields in written:
        found |= {name for key in ASKING for name in _named(fields.get(key))}
        found |= _scoped(fields.get("scope"))
    for coverage in book.coverages:
        found |= set(_named(coverage.conditions))
    found |= _scoped(book.scope)
    for name, field in book.derive:
        found |= Derive(name, field).named() - {name}
    return found


def _scoped(field: Field | None) -> set[str]:
    """Return the facts that a scope asks, which it names by their short names."""
    data = mapping_in(field.data) if field is not None else {}
    return {f"{Element.ROOF}.{name}" for name in data}


def _named(field: Field | None) -> Iterator[str]:
    return _names(field.data) if field is not None else iter(())


def _names(data: Data) -> Iterator[str]:
    match data:
        case str() if names_a_fact(data):
            yield data.split()[-1]
        case list():
            for item in data:
                yield from _names(item)
        case dict():
            for key, item in data.items():
                yield from _names(key)
                yield from _names(item)
        case _:
            return
