"""Rows of tables: what each says of a record, and every cell that can't be read, told exactly."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from ridgerule.audit.engine_facts import engine_vocabulary
from ridgerule.documents import read_document
from ridgerule.tables.csv_grids import read_csv
from ridgerule.tables.drafts import Did
from ridgerule.tables.importing import imported, rulebooks_in
from ridgerule.tables.mappings import NOTHING_MAPPED, Mapped, read_mapping
from workshop import problems

if TYPE_CHECKING:
    from ridgerule.documents import Document
    from ridgerule.tables.importing import Import

ENGINE = engine_vocabulary()
RECORD = read_document(
    b"""\
record: 1
roof: {id: T-1, covering: composite slate}
instruments: {tape: {graduation: 1/16 in}}
planes:
  S: {slope: 7:12}
  E: {slope: 9:12}
lines:
  H1:
    kind: hip
    between: [S, E]
    membrane: {value: yes, how: stated, by: foreman}
    length: unknown
    note: as built
    photo: a.jpg
    stations:
      - {at: 2 ft, gap: 3 in}
      - {at: 9 ft, gap: {value: unknown, note: ice}, only: [gap]}
      - {at: 12 ft, gap: 3 in}
      - {at: 12 ft, setback: {S: 2 in}}
""",
    name="roof.yaml",
)


def put_in(
    text: str,
    *,
    into: Document | None = RECORD,
    mapped: Mapped = NOTHING_MAPPED,
    replace: bool = False,
    name: str = "t.csv",
) -> Import:
    """Return what comes of a CSV text that is put into a record."""
    grid = read_csv(text.encode(), name=name)
    return imported([grid], ENGINE, into=into, mapped=mapped, replace=replace)


def told(text: str, **settings: object) -> list[str]:
    """Return what is told of a CSV text that can't be put into the record."""
    found = problems(lambda: put_in(text, **settings))
    return [str(problem).removeprefix("t.csv ") for problem in found]


def done(text: str, **settings: object) -> list[tuple[str, str, str, str]]:
    """Return what a CSV text does to the record: place, what was done, to what, what it is now."""
    came = put_in(text, **settings)
    return [(came.label(c), str(c.did), c.what, c.after) for c in came.changes]


def mapping(text: str) -> Mapped:
    """Return what a mapping file's text says."""
    return read_mapping(read_document(text.encode(), name="map.yaml"))


NEW = ("hip H1 at 3 ft", "new station", "", "")
READ = {
    "one station a row": (
        "line,position,gap,note\nH1,3 ft,3 1/16 in,wavers\n",
        [
            NEW,
            ("hip H1 at 3 ft", "added", "gap", "3 1/16 in"),
            ("hip H1 at 3 ft", "added", "note", "wavers"),
        ],
    ),
    "units in titles": (
        "Line,Position (ft),Gap [in],Cap exposure (mm)\nH1,3,3 1/16,203\n",
        [
            ("hip H1 at 3 ft", "new station", "", ""),
            ("hip H1 at 3 ft", "added", "gap", "3 1/16 in"),
            ("hip H1 at 3 ft", "added", "cap_exposure", "203 mm"),
        ],
    ),
    "sides, each in a column": (
        "line,position,setback (S) [in],setback (E) [in],setback (E) how\nH1,3 ft,2,2 1/4,seen\n",
        [
            NEW,
            ("hip H1 at 3 ft", "added", "setback (S)", "2 in"),
            ("hip H1 at 3 ft", "added", "setback (E)", "2 1/4 in (seen)"),
        ],
    ),
    "one reading a row": (
        ("section,place,position,side,fact,value,unit,how\nlines,H1,3 ft,S,setback,2,in,\n"
        "lines,H1,,,vented,No,,\n,,,,roof.permit_date,2026-03-02,,\n"),
        [
            NEW,
            ("hip H1 at 3 ft", "added", "setback (S)", "2 in"),
            ("hip H1", "added", "vented", "no"),
            ("dates", "added", "permit", "2026-03-02"),
        ],
    ),
    "places as reports name them": (
        "place,position,gap\nhip H1,3 ft,3 in\nlines/H1,4 ft,3 in\nH1,24 in,3 in\n",
        [
            NEW,
            ("hip H1 at 4 ft", "new station", "", ""),
            ("hip H1 at 3 ft", "added", "gap", "3 in"),
            ("hip H1 at 4 ft", "added", "gap", "3 in"),
        ],
    ),
    "facts of the line beside a station's": (
        "line,line.vented,position,gap\nH1,no,3 ft,3 in\n",
        [NEW, ("hip H1", "added", "vented", "no"), ("hip H1 at 3 ft", "added", "gap", "3 in")],
    ),
    "a place of each kind": (
        "opening,plane,kind,width\nC1,S,Chimney,34 in\n",
        [
            ("opening C1", "new place", "", ""),
            ("opening C1", "added", "plane", "S"),
            ("opening C1", "added", "kind", "chimney"),
            ("opening C1", "added", "width", "34 in"),
        ],
    ),
    "a photo beside a value, known as usual": (
        "line,position,gap,gap photo\nH1,3 ft,3 in,b.jpg\n",
        [NEW, ("hip H1 at 3 ft", "added", "gap", "3 in (measured, with tape, photo b.jpg)")],
    ),
    "how it is known is left open": (
        "line,position,gap,gap how\nH1,3 ft,3 in,not said\n",
        [NEW, ("hip H1 at 3 ft", "added", "gap", "3 in")],
    ),
    "an open point answered, its note kept": (
        "line,position,gap\nH1,9 ft,3 in\n",
        [("hip H1 at 9 ft", "answered", "gap", "3 in (measured, with tape, note ice)")],
    ),
    "unknown beside unknown": ("line,position,gap\nH1,9 ft,unknown\n", []),
    "unknown, and now it is told why": (
        "line,length\nH1,can't reach\n",
        [("hip H1", "more said", "length", "can't reach")],
    ),
    "another photo of a place": (
        "line,photo\nH1,b.jpg\n",
        [("hip H1", "more said", "photo", "a.jpg; b.jpg")],
    ),
    "what the record has, in another unit": ("line,position,gap\nH1,609.6 mm,76.2 mm\n", []),
    "stations by number": (
        "line,station,gap photo\nH1,3,c.jpg\n",
        [("hip H1 at 12 ft", "more said", "gap", "3 in (measured, with tape, photo c.jpg)")],
    ),
    "another side": (
        "line,station,setback (E)\nH1,4,3 in\n",
        [("hip H1 at 12 ft", "added", "setback (E)", "3 in")],
    ),
    "rows left to be filled": ("line,position,gap\nH1,3 ft,3 in\nH1,5 ft,\n,,\n", [
        NEW, ("hip H1 at 3 ft", "added", "gap", "3 in"),
    ]),
    "a guarded cell": (
        "line,note,name\nH2,'=A1,'-2\n".replace("H2", "H1").replace(",note", ",from"),
        [("hip H1", "added", "from", "=A1"), ("hip H1", "added", "name", "-2")],
    ),
    "two planes that do not meet": (
        'section,fact,value\ncomplete,apart,"S, E"\ncomplete,hips,all\n',
        [("complete", "added", "apart", "S; E"), ("complete", "added", "hips", "all")],
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", READ)
def test_what_a_table_says_is_put_into_the_record(case: str) -> None:
    """Each way of writing a table down does to a record what it says, and nothing else."""
    text, expected = READ[case]
    assert done(text) == expected


MESSAGES = Path(__file__).parent / "table_messages.txt"
CASE = re.compile(r"^== (\w+): (.*)\n((?:.*\n)*?)--\n((?:.+\n)*)", re.MULTILINE)


def cases(kind: str) -> dict[str, tuple[str, list[str]]]:
    """Return the cases of a kind: their texts, and what is told of each."""
    found = CASE.findall(MESSAGES.read_text(encoding="utf-8"))
    return {name: (text, lines.splitlines()) for of, name, text, lines in found if of == kind}


TABLES, MEANINGS, MAPPINGS = cases("table"), cases("meaning"), cases("mapping")


def test_every_case_of_the_messages_is_read() -> None:
    """The file of messages holds as many cases as it has headings, none of them without one."""
    headings = MESSAGES.read_text(encoding="utf-8").count("\n== ")
    together = [*TABLES.values(), *MEANINGS.values(), *MAPPINGS.values()]
    assert len(together) == headings >= 50
    assert all(lines for _, lines in together)


@pytest.mark.parametrize("name", TABLES)
def test_every_cell_that_can_not_be_read_is_told(name: str) -> None:
    """Each slip is told with its cell, what was expected there, what was found, what to do."""
    text, expected = TABLES[name]
    assert told(text) == expected


def test_a_table_counts_only_where_that_is_asked_for() -> None:
    """With `replace` another reading takes the whole place of the record's; else nothing does."""
    text = "line,position,gap,gap photo\nH1,2 ft,4 in,c.jpg\n"
    assert done(text, replace=True) == [
        ("hip H1 at 2 ft", "changed", "gap", "4 in (measured, with tape, photo c.jpg)")
    ]
    lifted = put_in("line,membrane,membrane how\nH1,yes,cap lifted\n", replace=True)
    assert lifted.data["lines"]["H1"]["membrane"] == {"value": "yes", "how": "cap lifted"}
    (change,) = lifted.changes
    assert (change.did, change.before) == (Did.CHANGED, "yes (stated, by foreman)")
    assert RECORD.data["lines"]["H1"]["membrane"]["by"] == "foreman"
    assert done("line,station,setback\nH1,4,unknown\n", replace=True) == [
        ("hip H1 at 12 ft", "changed", "setback", "unknown")
    ]
    assert done("line,note,kind\nH1,moss,ridge\n", replace=True) == [
        ("ridge H1", "changed", "note", "moss"), ("ridge H1", "changed", "kind", "ridge"),
    ]  # fmt: skip


def test_two_cells_that_disagree_are_told_with_replace_too() -> None:
    """Which of two cells of the tables counts is not for us to say."""
    text = "line,position,gap\nH1,2 ft,4 in\nH1,2 ft,5 in\n"
    (problem,) = told(text, replace=True)
    assert problem.startswith("row 3, column C: expected one value for `gap` at hip H1 at 2 ft")


def test_tables_are_read_together() -> None:
    """A line that one table sets up has its stations in another, and a slip in its id is told."""
    lines = read_csv(b'line,kind,between\nR1,ridge,"S, E"\nR2,ridge,\n', name="lines.csv")
    stations = read_csv(b"line,position,gap\nR1,3 ft,3 in\n", name="stations.csv")
    came = imported([stations, lines], ENGINE, into=RECORD)
    assert came.data["lines"]["R1"] == {
        "kind": "ridge", "between": ["S", "E"], "stations": [{"at": "3 ft", "gap": "3 in"}],
    }  # fmt: skip
    slip = read_csv(b"line,position,gap\nR3,3 ft,3 in\n", name="stations.csv")
    (problem,) = problems(lambda: imported([slip, lines], ENGINE, into=RECORD))
    assert "found `R3`; mend the id, or add a row for it" in str(problem)


def test_a_new_record_needs_the_roofs_id_and_is_told_with_the_rest() -> None:
    """Tables make a record if one of them says the roof's id; other slips are told as well."""
    text = "section,place,fact,value\nroof,,id,R-9\nplanes,S,slope,7:12\n"
    came = put_in(text, into=None)
    assert came.data == {"record": 1, "roof": {"id": "R-9"}, "planes": {"S": {"slope": "7:12"}}}
    assert told(text.replace("R-9", "").replace("7:12", "7"), into=None) == [
        (
            "t.csv: expected the roof's id; found none in these tables; add a row with `roof` "
            "under `section`, `id` under `fact` and the id under `value`, or put the tables into a "
            "record with `--into`"
        ),
        (
            "row 3, column D: expected a slope of at least 0 and under 90 deg, such as `7:12` or "
            "`30 deg`; found `7` without a unit; write `7:12` or `7 deg`, or give the unit in a "
            "column `unit`"
        ),
    ]


def test_stations_alone_make_the_lines_they_lie_on() -> None:
    """Where no table lists the lines, those that stations name are taken at their word."""
    text = "line,position,gap\nH1,2 ft,3 in\nH2,3 ft,3 in\nH1,4 ft,3 in\n"
    roof = read_csv(b"section,fact,value\nroof,id,R-9\n", name="roof.csv")
    came = imported([read_csv(text.encode(), name="t.csv"), roof], ENGINE)
    assert {id_: len(line["stations"]) for id_, line in came.data["lines"].items()} == {
        "H1": 2, "H2": 1,
    }  # fmt: skip


def test_two_stations_of_which_nobody_says_where_they_are_two() -> None:
    """Rows whose position is not known are stations of their own; the same place twice is one."""
    rows = ("H1,unknown,3 in,", "H1,unknown,4 in,", "H1,5 ft,3 in,", "H1,60 in,,8 in")
    text = "\n".join(("line,position,gap,cap_exposure", *rows))
    stations = put_in(text).data["lines"]["H1"]["stations"][4:]
    assert stations == [
        {"at": "unknown", "gap": "3 in"},
        {"at": "unknown", "gap": "4 in"},
        {"at": "5 ft", "gap": "3 in", "cap_exposure": "8 in"},
    ]


def test_blank_tables_are_told() -> None:
    """A table in which nothing is said, or whose cells are all left to be filled, is told."""
    for text in ("", "\n\n", "line,position,gap\n", "line,position,gap\nH1,3 ft,\n"):
        assert told(text) == [
            (
                "t.csv: expected readings; found none in these tables; fill in values, or check "
                "`--sheet` and the header"
            )
        ]


def test_rulebooks_named_in_a_table_are_found_before_it_is_read() -> None:
    """The facts of a rulebook that a table names are those that it is read with."""
    text = "section,fact,value\nrulebooks,,demo/tarn-county@2026-04\nroof,made_up,yes\n"
    grid = read_csv(text.encode(), name="t.csv")
    ((name, where),) = rulebooks_in([grid], NOTHING_MAPPED, ENGINE)
    assert (name, str(where)) == ("demo/tarn-county@2026-04", "t.csv row 2, column C")
    broken = read_csv(b"a,b\n1,2\n", name="t.csv")
    assert rulebooks_in([broken], NOTHING_MAPPED, ENGINE) == ()


SURVEY = """\
Survey of the south side;;;;;;
;;;;;;
Hip/ridge;Pos. (ft);Gap (in);Method;Initials;S side;Temp
H1;3;3-1/16;cap lifted;ab;1 1/2;91
H1;?;78mm;;ab;;n/a
"""
MAPPING = """\
header: 3
rows: stations
columns:
  "hip/Ridge": line
  "Pos. (ft)": {column: position, unit: ft}
  "Gap (in)": {fact: station.gap, unit: in}
  "Method": {fact: station.gap, part: how}
  "S side": {fact: setback, side: S, unit: in}
  "Initials": ignore
  "Temp": {fact: station.surface_temperature, unit: degF}
words:
  unknown: ["?", N/A]
"""


def test_a_table_of_ones_own_is_read_by_its_mapping() -> None:
    """Titles, units, sides, parts and words of one's own are what the mapping file says."""
    assert done(SURVEY, mapped=mapping(MAPPING)) == [
        ("hip H1 at 3 ft", "new station", "", ""),
        ("hip H1 station 6", "new station", "", ""),
        ("hip H1 at 3 ft", "added", "gap", "3-1/16 in (cap lifted)"),
        ("hip H1 at 3 ft", "added", "setback (S)", "1 1/2 in"),
        ("hip H1 at 3 ft", "added", "surface_temperature", "91 degF"),
        ("hip H1 station 6", "added", "gap", "78mm"),
        ("hip H1 station 6", "added", "surface_temperature", "unknown"),
    ]


def test_words_for_yes_and_no_are_ones_own_too() -> None:
    """What stands for yes and no answers facts that ask for it, and no others."""
    words = mapping('words: {"yes": [Y, "1"], "no": N}\n')
    came = put_in("line,vented,flashed,from\nH1,y,N,Y\n", mapped=words)
    line = came.data["lines"]["H1"]
    assert (line["vented"], line["flashed"], line["from"]) == ("yes", "no", "Y")


@pytest.mark.parametrize("name", MEANINGS)
def test_slips_in_what_a_mapping_means_are_told_in_its_lines(name: str) -> None:
    """A mapping that names no fact, a wrong unit or no column of the tables is told in its file."""
    text, expected = MEANINGS[name]
    mapped = mapping(f"rows: stations\n{text}")
    found = problems(lambda: put_in("line,position,Gap\nH1,3 ft,3 in\n", mapped=mapped))
    assert [str(problem) for problem in found] == expected


@pytest.mark.parametrize("name", MAPPINGS)
def test_slips_in_a_mapping_file_are_told(name: str) -> None:
    """Each slip in a mapping file is told with its line and column."""
    text, expected = MAPPINGS[name]
    assert [str(problem) for problem in problems(lambda: mapping(text))] == expected
