"""What changed between two rulebooks as a page: counted, then rule by rule, then roof by roof."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from ridgerule.proof.differences_facts import Kind
from ridgerule.proof.differences_forms import book_scope
from ridgerule.reports.cautions import CAUTIONS, DISCLAIMER
from ridgerule.reports.differences_roofs_sheet import roofs_blocks
from ridgerule.reports.differences_rules_sheet import (
    MEANINGS,
    coverages_blocks,
    facts_blocks,
    rules_blocks,
)
from ridgerule.reports.differences_words import told
from ridgerule.reports.rulebook_sheet import in_force_phrase
from ridgerule.reports.sheet import Heading, Items, Pairs, Sheet, Words
from ridgerule.reports.sheet_words import conditions_phrase

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.audit.plan import Edition
    from ridgerule.proof.differences import Differences
    from ridgerule.proof.differences_roofs import Roofs
    from ridgerule.reports.differences_words import Told
    from ridgerule.reports.sheet import Block
    from ridgerule.rulebook import Rulebook

KNOWN = (
    "Stricter and looser are told of roofs where every fact that the rules ask for is known. Where "
    "one is not, a stricter rule can leave open what was settled, and settle what was open."
)
"""What strictness leaves out."""


def differences_sheet(found: Differences, roofs: Roofs | None = None) -> Sheet:
    """Return the page of what changed; with the roofs of records, where there are any to tell."""
    return Sheet(
        title=_title(found),
        blocks=(
            *_opening(found, roofs),
            *_book(found),
            *rules_blocks(found),
            *facts_blocks(found),
            *coverages_blocks(found.coverages),
            *(roofs_blocks(found, roofs) if roofs is not None else ()),
            *_closing(roofs),
        ),
    )


def _title(found: Differences) -> str:
    old, new = found.old.book, found.new.book
    if old.id == new.id and old.edition != new.edition:
        return f"What changed: {old.id}, edition {old.edition} → {new.edition}"
    return f"What changed: {old.name} → {new.name}"


def _opening(found: Differences, roofs: Roofs | None) -> Iterator[Block]:
    yield Pairs(
        tuple(
            pair
            for label, book in (("old", found.old.book), ("new", found.new.book))
            for pair in (
                (label, f"{book.name}: {book.title}"),
                ("file", book.document.name),
                ("SHA-256", book.document.digest),
            )
        )
    )
    yield Heading("In short")
    if found.is_empty:
        yield Words("Nothing changed.")
    yield Pairs((*_counted(found), *_roof_counts(roofs)))
    yield Words(KNOWN)


def _counted(found: Differences) -> tuple[tuple[str, str], ...]:
    """Return how many rules are stricter, looser … and how many of them were added or are gone."""
    rows = []
    for strict in MEANINGS:
        kinds = Counter(each.kind for each in found.told if each.strictness is strict)
        parts = [f"{kinds[kind]} {kind}" for kind in Kind if kinds[kind]]
        rows.append((strict.value, _rules_counted(kinds.total(), parts)))
    same = len(found.rules) - len(found.told)
    cases = sum(each.has_other_cases for each in found.rules)
    return (
        *rows,
        ("unchanged", _rules_counted(same, [])),
        ("other cases", f"{_rules_counted(cases, [])}; cases are not told here" if cases else ""),
    )


def _rules_counted(count: int, parts: list[str]) -> str:
    if not count:
        return "none"
    rules = _several(count, "rule")
    if len(parts) == 1:
        return f"{rules} {parts[0].partition(' ')[2]}"
    return f"{rules}: {', '.join(parts)}" if parts else rules


def _several(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def _roof_counts(roofs: Roofs | None) -> Iterator[tuple[str, str]]:
    if roofs is not None:
        held = roofs.changes
        changed = sum(roof.is_changed for roof in held)
        inside = sum(bool(roof.findings) for roof in held) - changed
        otherwise = f"{changed or 'none'} {'comes' if changed < 2 else 'come'} out otherwise"
        more = f"{inside or 'none'} more in single findings alone"
        unused = f"; {len(roofs.unused)} could not be" if roofs.unused else ""
        yield "roofs", f"{len(held)} held against both{unused}: {otherwise}, {more}"


def _book(found: Differences) -> Iterator[Block]:
    fields = book_told(found)
    if fields:
        yield Heading("The rulebook itself")
        yield Pairs(
            tuple(
                (each.label, each.phrase) if each.field != "note" else ("note, now", each.now)
                for each in fields
            )
        )


def book_told(found: Differences) -> tuple[Told, ...]:
    """Return what differs of the rulebooks themselves."""
    return tuple(
        told(name, label, _book_words(found.old, name), _book_words(found.new, name))
        for name, label in _BOOK_LABELS.items()
        if name in found.book and not (name == "in_force_by" and "in_force" in found.book)
    )


_BOOK_LABELS = {
    "title": "title",
    "authority": "authority",
    "in_force": "in force",
    "in_force_by": "in force",
    "based_on": "based on",
    "scope": "written for",
    "note": "note",
}
"""The fields of a rulebook as a page names them; the days in force are told with their date."""


def _book_words(edition: Edition, name: str) -> str:
    book = edition.book
    match name:
        case "in_force" | "in_force_by":
            return in_force_phrase(book)
        case "based_on":
            return _bases(book)
        case "scope":
            scope = book_scope(edition)
            return conditions_phrase(scope) if scope is not None else "any roof"
        case _:
            return str(getattr(book, name)) or "none"


def _bases(book: Rulebook) -> str:
    return ", ".join(sorted(reference for reference, _ in book.based_on)) or "none"


def _closing(roofs: Roofs | None) -> Iterator[Block]:
    yield Heading("What this page is")
    yield Words(f"{_COMPARED} {DISCLAIMER}")
    if roofs:
        yield Heading("Before anyone goes up to measure")
        yield Items(CAUTIONS)


_COMPARED = (
    "Two rulebooks held against each other, in words made from their files. Which of them is in "
    "force for a roof is not asked here. What every report says of itself goes for this page too:"
)
