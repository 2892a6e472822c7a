"""Out to a table and back again, nothing is lost: held on records drawn at random."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, given, settings

from ridgerule.audit.engine_facts import engine_vocabulary
from ridgerule.documents import load_document, read_document
from ridgerule.facts import SECTIONS
from ridgerule.plain_data import whole_or_text
from ridgerule.record import STRUCTURE
from ridgerule.record_reader import read_record
from ridgerule.tables.csv_grids import read_csv
from ridgerule.tables.importing import imported, written
from ridgerule.tables.keys import _STRUCTURE as FORMS
from ridgerule.tables.long_table import csv_of
from ridgerule.tables.place_tables import tables_of
from ridgerule.tables.workbook_grids import read_workbook
from ridgerule.tables.workbook_writing import workbook_of
from table_records import records, vocabulary_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridgerule.documents import Document
    from ridgerule.facts import Vocabulary
    from ridgerule.tables.grids import Grid

ROOT = Path(__file__).parents[1]
RECORDS = sorted(
    path
    for path in (ROOT / "fixtures").glob("*/*.yaml")
    if "\nrecord: 1" in f"\n{path.read_text('utf-8')}"
)
ENGINE = engine_vocabulary()
NAMES = ("between", "planes", "lines", "only", "repeats")

steady = settings(
    max_examples=60,
    deadline=None,
    database=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


def as_csv(document: Document, vocabulary: Vocabulary) -> Sequence[Grid]:
    """Return a record as it is read from the CSV file that it is written to."""
    return [read_csv(csv_of(document, vocabulary).encode(), name="roof.csv")]


def as_workbook(document: Document, vocabulary: Vocabulary) -> Sequence[Grid]:
    """Return a record as it is read from the workbook that it is written to."""
    return read_workbook(workbook_of(tables_of(document, vocabulary)), name="roof.xlsx")


FORMATS = {"csv": as_csv, "xlsx": as_workbook}


def said(data: Any, key: str = "") -> Any:
    """Return what data says: blanks left out, one spelling for `2` and `"2"`, for `yes` and `true`.

    A list of one says what that one does, except where a list of ids is asked for.
    """
    if isinstance(data, dict):
        kept = {
            k: said(v, "" if key == "complete" and k != "apart" else k) for k, v in data.items()
        }
        return {k: v for k, v in kept.items() if v not in (None, "", {})}
    if isinstance(data, list):
        items = [said(item) for item in data]
        if key in NAMES or key in ("stations", "plan", "apart", "rulebooks"):
            return items or (items if key == "only" else None)
        return said(items[0]) if len(items) == 1 else items or None
    if isinstance(data, bool):
        return "yes" if data else "no"
    text = "" if data is None or not str(data).strip() else whole_or_text(str(data))
    return [text] if key in NAMES and text != "" else text


def told(data: dict[str, Any]) -> dict[str, Any]:
    """Return what a record says, its places kept where nothing else is said of them."""
    found = said(data)
    for section in (*SECTIONS.values(), "instruments"):
        ids = data.get(section) or {}
        if ids:
            found[section] = {id_: (found.get(section) or {}).get(id_) or {} for id_ in ids}
            for id_, place in ids.items():
                listed = (place or {}).get("stations") or []
                if listed:
                    found[section][id_]["stations"] = [said(station) or {} for station in listed]
    return {key: value for key, value in found.items() if value}


def document_of(data: dict[str, Any]) -> Document:
    """Return a record as it is read from a JSON file."""
    return read_document(json.dumps(data).encode(), name="roof.json")


def record_data(document: Document, vocabulary: Vocabulary) -> tuple[object, ...]:
    """Return all that a record is read to be."""
    record = read_record(document, vocabulary)
    return (
        record.roof, record.places, record.complete, record.apart, record.rulebooks,
        record.instruments, record.inspection, record.name,
    )  # fmt: skip


@pytest.mark.parametrize("form", FORMATS)
@steady
@given(data=records())
def test_a_table_says_all_that_its_record_does(form: str, data: dict[str, Any]) -> None:
    """A record that is made of a record's tables is read to be the same, in every part."""
    document = document_of(data)
    read_record(document, ENGINE)
    grids = FORMATS[form](document, ENGINE)
    text = written(imported(grids, ENGINE))
    new = read_document(text.encode(), name="roof.yaml")
    assert told(new.data) == told(data)
    assert record_data(new, ENGINE) == record_data(document_of(told(data)), ENGINE)


@pytest.mark.parametrize("form", FORMATS)
@steady
@given(data=records())
def test_a_record_learns_nothing_from_its_own_tables(form: str, data: dict[str, Any]) -> None:
    """Put into the record they are of, tables change nothing in it and add nothing."""
    document = document_of(data)
    done = imported(FORMATS[form](document, ENGINE), ENGINE, into=document)
    assert done.changes == ()
    assert done.data == document.data


@pytest.mark.parametrize("form", FORMATS)
@pytest.mark.parametrize("path", RECORDS, ids=lambda path: path.stem)
def test_every_record_here_comes_back(form: str, path: Path) -> None:
    """The records of the fixtures come back from their tables, those of a firm's facts too."""
    document = load_document(path)
    vocabulary = vocabulary_of(document, path.parent)
    grids = FORMATS[form](document, vocabulary)
    new = read_document(written(imported(grids, vocabulary)).encode(), name="roof.yaml")
    assert told(new.data) == told(document.data)
    again = imported(grids, vocabulary, into=document)
    text = path.read_text(encoding="utf-8")
    assert again.changes == ()
    assert written(again, text) == text


def test_the_records_here_are_all_of_them() -> None:
    """The fixtures hold seven records at least, the demo's among them."""
    assert len(RECORDS) >= 7
    assert "harrow-lane" in [path.stem for path in RECORDS]


def test_every_key_of_a_record_has_a_form_in_tables() -> None:
    """A key that a record's structure gains has to be given a form in tables too."""
    keys = set().union(*STRUCTURE.values()) | {"note", "photo"}
    assert keys - {"stations"} == set(FORMS)
