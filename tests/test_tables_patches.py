"""Tables put into a record that is there: its text stays, what was missing comes back."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ridgerule.audit.engine_facts import engine_vocabulary
from ridgerule.documents import read_document
from ridgerule.tables.csv_grids import read_csv
from ridgerule.tables.importing import imported, written
from ridgerule.tables.long_table import csv_of
from ridgerule.tables.record_patches import patched
from ridgerule.tables.record_text import record_text
from roofs import changed, faulty_roof, sound_roof, value_paths, without
from table_records import records
from test_tables_round_trip import told

ENGINE = engine_vocabulary()
STYLES = {
    "block": record_text,
    "braces": lambda data: json.dumps(data, ensure_ascii=False),
    "lines of braces": lambda data: json.dumps(data, ensure_ascii=False, indent=2),
}

steady = settings(
    max_examples=50,
    deadline=None,
    database=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


def put_into(text: str, table: str, *, replace: bool = False, name: str = "roof.yaml") -> str:
    """Return the text of a record with a table put into it."""
    into = read_document(text.encode(), name=name)
    grid = read_csv(table.encode(), name="t.csv")
    return written(imported([grid], ENGINE, into=into, replace=replace), text)


def table_of(data: dict[str, Any]) -> str:
    """Return the long table of a record's data."""
    return csv_of(read_document(json.dumps(data).encode(), name="roof.json"), ENGINE)


@pytest.mark.parametrize("style", STYLES)
@steady
@given(seed=st.integers(0, 200), drawn=st.data())
def test_what_is_taken_out_of_a_record_comes_back(
    style: str, seed: int, drawn: st.DataObject
) -> None:
    """A record that has lost any of its values has them all again once its table is put in."""
    whole = faulty_roof(seed) if seed % 3 else sound_roof(seed)
    kept = ("record", "roof", "planes", "stations", "kind", "at", "between", "id", "lines")
    gone = [p for p in value_paths(whole) if isinstance(p[-1], str) and p[-1] not in kept]
    base = whole
    for path in drawn.draw(st.lists(st.sampled_from(gone), min_size=1, max_size=12, unique=True)):
        if path[-1] != "value" and _has(base, path):
            base = without(base, path)
    text = STYLES[style](base)
    new = read_document(put_into(text, table_of(whole)).encode(), name="roof.yaml")
    assert told(new.data) == told(whole)


def _has(data: Any, path: tuple[str | int, ...]) -> bool:
    for step in path:
        if isinstance(data, dict) and step not in data:
            return False
        data = data[step]
    return True


@pytest.mark.parametrize("style", STYLES)
@steady
@given(before=records(), after=records())
def test_any_record_can_be_made_another(style: str, before: Any, after: Any) -> None:
    """Whatever is put into a record's text, and however it is laid out, it reads as was meant."""
    together = _together(before, after)
    text = STYLES[style](before)
    base = read_document(text.encode(), name="roof.yaml").data
    new = patched(text, base, together)
    assert read_document(new.encode(), name="roof.yaml").data == together


def _together(before: Any, after: Any) -> Any:
    """Return data with other data put in: keys added, values changed, lists grown."""
    if isinstance(before, dict) and isinstance(after, dict):
        both = {key: _together(before[key], after[key]) for key in before if key in after}
        return {**before, **both, **{key: v for key, v in after.items() if key not in before}}
    if isinstance(before, list) and isinstance(after, list):
        return [*before, *(item for item in after[:1] if item not in before)]
    return after


RECORD = """\
# Taken on the day, by hand.
record: 1
roof: {id: T-1, covering: composite slate}   # as delivered

planes:
  S: {slope: 7:12, faces: 180 deg}
  # the east plane is the smaller one
  E:
    slope: 9:12
    note: |
      moss along the eave,
      two slates chipped

# Lines, from the south-east corner on.
lines:
  H1:
    kind: hip
    between: [S, E]
    membrane_width: {value: 9 in, how: photo during work}
    stations:
      - {at: 2 ft, gap: 3 in}   # beside the gutter
      - at: 9 ft
        gap: unknown
    # end of H1
  R1:
"""
TABLE = """\
section,place,station,position,side,fact,value,how,photo
roof,,,,,building,dwelling,,
dates,,,,,permit,2026-03-02,,
planes,S,,,,exposure,8 in,,
planes,E,,,,exposure,8 in,,
lines,H1,,,,length,18 ft,,
lines,H1,,,,membrane_width,9 in,,photos/m.jpg
lines,H1,,2 ft,,cap_exposure,8 in,seen,photos/cap.jpg
lines,H1,,9 ft,,gap,2 9/16 in,,
lines,H1,,12 ft,,gap,3 1/8 in,,
lines,R1,,,,kind,ridge,,
joints,J1,,,,kind,first cap,,
"""
EXPECTED = """\
# Taken on the day, by hand.
record: 1
roof: {id: T-1, covering: composite slate, building: dwelling}   # as delivered
dates:
  permit: 2026-03-02

planes:
  S: {slope: 7:12, faces: 180 deg, exposure: 8 in}
  # the east plane is the smaller one
  E:
    slope: 9:12
    note: |
      moss along the eave,
      two slates chipped
    exposure: 8 in

# Lines, from the south-east corner on.
lines:
  H1:
    kind: hip
    between: [S, E]
    membrane_width: {value: 9 in, how: photo during work, photo: photos/m.jpg}
    length: 18 ft
    stations:
      # beside the gutter
      - at: 2 ft
        gap: 3 in
        cap_exposure: {value: 8 in, how: seen, photo: photos/cap.jpg}
      - at: 9 ft
        gap: 2 9/16 in
      - at: 12 ft
        gap: 3 1/8 in
    # end of H1
  R1:
    kind: ridge

joints:
  J1:
    kind: first cap
"""


def test_a_record_stays_as_its_author_wrote_it() -> None:
    """Comments, blank lines, order and braces stay; what is added stands where one would look."""
    assert put_into(RECORD, TABLE) == EXPECTED


@pytest.mark.parametrize(("mark", "ends"), [("", "\r\n"), ("\ufeff", "\n"), ("\ufeff", "\r\n")])
def test_line_ends_and_the_mark_before_a_text_stay(mark: str, ends: str) -> None:
    """A record saved with a byte-order mark or with carriage returns keeps both."""
    text = mark + RECORD.replace("\n", ends)
    assert put_into(text, TABLE) == mark + EXPECTED.replace("\n", ends)


def test_a_record_without_a_last_line_end_can_be_added_to() -> None:
    """What comes last starts a line of its own where the file ends without one."""
    new = put_into("record: 1\nroof: {id: T-1}", TABLE.replace("lines,R1,,,,kind,ridge,,\n", ""))
    assert "roof: {id: T-1, building: dwelling}\ndates:\n" in new


def test_a_record_in_json_stays_json() -> None:
    """A record in JSON is written as JSON, with what it had and what was added."""
    text = json.dumps({"record": 1, "roof": {"id": "T-1"}})
    new = json.loads(put_into(text, TABLE.split("planes", maxsplit=1)[0], name="roof.json"))
    assert new["roof"] == {"id": "T-1", "building": "dwelling"}
    assert new["dates"] == {"permit": "2026-03-02"}


def test_comments_inside_a_changed_reading_stay() -> None:
    """A reading on several lines is changed line by line: a comment between them stays."""
    text = (
        "record: 1\nroof: {id: T-1}\nplanes:\n  S:\n    exposure:\n      value: 8 in\n"
        "      # by the old tape\n      how: stated\n      by: foreman\n    slope: 7:12\n"
    )
    table = "section,place,fact,value,how\nplanes,S,exposure,10 in,measured\n"
    assert put_into(text, table, replace=True) == (
        "record: 1\nroof: {id: T-1}\nplanes:\n  S:\n    exposure:\n      value: 10 in\n"
        "      # by the old tape\n      how: measured\n    slope: 7:12\n"
    )


def test_a_fixture_with_changes_keeps_every_other_line() -> None:
    """In the demo's record one reading changed is one line changed."""
    path = Path(__file__).parents[1] / "fixtures" / "metric" / "tern-quay.yaml"
    text = path.read_text(encoding="utf-8")
    table = "section,place,position,fact,value\nlines,H1,0.6 m,gap,80 mm\n"
    new = put_into(text, table, replace=True)
    different = [
        (old, now)
        for old, now in zip(text.splitlines(), new.splitlines(), strict=True)
        if old != now
    ]
    assert len(different) == 1
    assert different[0][1] == different[0][0].replace("77.7875 mm", "80 mm")


def test_changed_values_read_as_they_were_meant() -> None:
    """A value that is changed in a record of the tests' own is changed there and nowhere else."""
    base = sound_roof(1)
    wanted = changed(base, ("lines", "H1", "stations", 0, "gap"), "3 in")
    new = put_into(record_text(base), table_of(wanted), replace=True)
    assert told(read_document(new.encode(), name="r.yaml").data) == told(wanted)
