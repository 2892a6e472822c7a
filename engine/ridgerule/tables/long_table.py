"""A record as one long table, one reading a row: what a CSV file holds of it."""

from __future__ import annotations

import csv
from io import StringIO
from typing import TYPE_CHECKING

from ridgerule.formulas import guarded
from ridgerule.tables.entries import Entry, entries, position_text
from ridgerule.tables.keys import Part

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from ridgerule.documents import Document
    from ridgerule.facts import Vocabulary

COLUMNS = ("section", "place", "station", "position", "side", "fact", *Part)


def csv_of(document: Document, vocabulary: Vocabulary) -> str:
    """Return all that a record says as CSV, in which a spreadsheet finds no formula."""
    out = StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for entry in entries(document, vocabulary):
        row = row_of(entry)
        writer.writerow([guarded(row.get(column, "")) for column in COLUMNS])
    return out.getvalue()


def row_of(entry: Entry) -> Mapping[str, str]:
    """Return what an entry says, by the column that says it."""
    station = entry.spot.station
    number = str(station.number) if station is not None else ""
    return {
        "section": entry.spot.section,
        "place": entry.spot.place,
        "station": number,
        "position": position_text(station) if station is not None else "",
        "side": entry.side,
        "fact": entry.key,
        **{str(part): text for part, text in entry.texts.items()},
    }


def used(rows: Iterable[Mapping[str, str]], *, always: Iterable[str] = ()) -> tuple[str, ...]:
    """Return the columns that any of the rows fills, and those that are always there."""
    filled = {column for row in rows for column, text in row.items() if text}
    return tuple(column for column in COLUMNS if column in filled or column in frozenset(always))
