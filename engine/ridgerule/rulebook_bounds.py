"""How much one rulebook may hold: far more than anyone writes, and compiled in a second."""

from __future__ import annotations

from itertools import islice
from types import MappingProxyType
from typing import TYPE_CHECKING

from ridgerule.plain_data import items_in, mapping_in
from ridgerule.problems import Problem

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from ridgerule.documents import Data, Document, Path

MOST_RULES = 1_000
"""Rules of one rulebook, those of its bases counted once they are laid under it."""
MOST_ENTRIES: Mapping[str, int] = MappingProxyType(
    {
        "based_on": 50,
        "facts": 500,
        "derive": 500,
        "rules": MOST_RULES,
        "amendments": MOST_RULES,
        "withdrawals": MOST_RULES,
        "coverages": 100,
    }
)
"""Entries under one heading: far more than anyone writes or reads, and compiled in a second."""
MOST_ROWS = 1_000
"""Rows of one table: each is gone through at each place."""


def crowded(document: Document) -> Iterator[Problem]:
    """Yield the headings and tables that hold more than they may, each at the first too many."""
    for heading, most in MOST_ENTRIES.items():
        entries = mapping_in(document.data).get(heading)
        if not isinstance(entries, (list, dict)) or len(entries) <= most:
            continue
        step = next(islice(entries, most, None)) if isinstance(entries, dict) else most
        where = document.key_location((heading, step))
        told = f"at most {most:,} entries under `{heading}:`"
        advice = "make two rulebooks of it: a record can name both, or one be based on the other"
        yield Problem(where, told, f"{len(entries):,}", advice)
    for path, rows in _tables(document.data):
        if len(rows) > MOST_ROWS:
            where = document.location((*path, MOST_ROWS))
            advice = "make two rules of it, each with its part of the table under `when:`"
            yield Problem(where, f"at most {MOST_ROWS:,} rows in a table", f"{len(rows):,}", advice)


def _tables(data: Data, path: Path = ()) -> Iterator[tuple[Path, list[Data]]]:
    """Yield the rows of every table, and the way to them."""
    if isinstance(data, list):
        for i, item in enumerate(data):
            yield from _tables(item, (*path, i))
    for key, inner in mapping_in(data).items():
        if key == "table":
            yield (*path, key, "rows"), items_in(mapping_in(inner).get("rows"))
        yield from _tables(inner, (*path, key))
