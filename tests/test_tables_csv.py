"""CSV files: any separator and line end that spreadsheets write, and what is refused."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ridgerule.formulas import guarded, is_taken_for_formula, unguarded
from ridgerule.problems import InputRejected, Location, column_letters
from ridgerule.tables import grids
from ridgerule.tables.csv_grids import read_csv
from ridgerule.tables.listed_text import joined, joined_points, split, split_points
from workshop import problems


def cells(raw: bytes | str) -> list[tuple[int, list[str]]]:
    """Return the rows of a CSV file by their numbers, with the texts of their cells."""
    encoded = raw.encode() if isinstance(raw, str) else raw
    found = read_csv(encoded, name="t.csv")
    return [(row.number, [c.text for _, c in sorted(row.cells.items())]) for row in found.rows]


def told(raw: bytes | str) -> list[str]:
    """Return what is told of a CSV file that is refused."""
    encoded = raw.encode() if isinstance(raw, str) else raw
    return [str(problem) for problem in problems(lambda: read_csv(encoded, name="t.csv"))]


ROWS = [
    (1, ["line", "position", "gap"]),
    (2, ["H1", "2 ft", '3 1/16"']),
    (4, ["H2", "a, b; c", "½"]),
]
PLAIN = 'line,position,gap\nH1,2 ft,3 1/16"\n\nH2,"a, b; c",½\n'


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_every_way_a_spreadsheet_writes_one_reads_the_same(
    separator: str, ends: str, mark: str
) -> None:
    """Commas, semicolons or tabs; any line end; with a byte-order mark or without."""
    text = PLAIN.replace("a, b; c", "@").replace(",", separator).replace("@", "a, b; c")
    assert cells(mark + text.replace("\n", ends)) == ROWS


def test_a_line_that_names_the_separator_counts_as_a_row() -> None:
    """`sep=;` before the header says what parts the cells; rows keep their numbers."""
    assert cells("sep=;\nline;gap\nH1;3 in\n") == [(2, ["line", "gap"]), (3, ["H1", "3 in"])]
    assert told("sep=|\nline|gap\n") == [
        (
            "t.csv row 1, column A: expected cells parted by commas, semicolons or tabs; found "
            "`sep=|`; save it with one of those"
        )
    ]


def test_separators_inside_quotes_part_nothing() -> None:
    """The header's separators alone are counted, and none inside double quotes."""
    assert cells('"a;b;c",d\n1,2\n') == [(1, ["a;b;c", "d"]), (2, ["1", "2"])]


def test_a_cell_of_several_lines_is_one_row() -> None:
    """Rows are numbered as a spreadsheet shows them, though a cell may hold line ends."""
    assert cells('a,b\n"x\ny",1\nz,2\n')[2] == (3, ["z", "2"])


def test_other_encodings_are_told_with_what_to_do() -> None:
    """Windows-1252 and UTF-16 are told as such, and how to save the file instead."""
    assert told("line,gap\nH1,3½ in\n".encode("cp1252")) == [
        (
            "t.csv:2:5: expected UTF-8 text; found byte 0xBD, which is `½` in Windows-1252; a "
            'spreadsheet saved it in an older encoding: save it again as "CSV UTF-8"'
        )
    ]
    assert told(b"a\x81") == [
        (
            "t.csv:1:2: expected UTF-8 text; found byte 0x81; a spreadsheet saved it in an older "
            'encoding: save it again as "CSV UTF-8"'
        )
    ]
    assert told("a,b".encode("utf-16")) == [
        't.csv: expected UTF-8 text; found UTF-16 text; save it again as "CSV UTF-8"'
    ]
    assert "found a workbook or a ZIP file" in told(b"PK\x03\x04")[0]


def test_control_characters_are_told_with_their_cells() -> None:
    """A character that nobody sees is told, cell by cell, all of them."""
    assert told("a,b\nx\x07,1\n2,\x1b[31m\n") == [
        (
            "t.csv row 2, column A: expected text without control characters; found the control "
            "character U+0007; take it out"
        ),
        (
            "t.csv row 3, column B: expected text without control characters; found the control "
            "character U+001B; take it out"
        ),
    ]


def test_a_quote_left_open_is_told_with_its_row() -> None:
    """A row that can't be taken apart is told; nothing after it is guessed."""
    (problem,) = told('a,b\n1,2\n"3,4\n5,6\n')
    assert problem.startswith("t.csv row 3: expected cells, in double quotes or without")
    (problem,) = told('a,b\n"1"x,2\n')
    assert "t.csv row 2: " in problem


def test_what_is_too_large_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Rows, columns, cells and the text of one cell have bounds."""
    assert "found 70,000" in told("a\n" + "x" * 70_000)[0]
    assert "row 1, column OK: expected at most 400 columns" in told("a," * 400 + "b")[0]
    monkeypatch.setattr(grids, "MOST_ROWS", 2)
    assert "t.csv row 5: expected at most 2 rows" in told("a\nb\n\n\nc\n")[0]
    monkeypatch.setattr(grids, "MOST_CELLS", 3)
    assert "t.csv row 2: expected at most 3 cells" in told("a,b\nc,d\n")[0]


def test_no_more_is_told_than_is_of_use() -> None:
    """A file with a hundred problems is not read to its end."""
    assert len(told("a\n" + "\x07\n" * 300)) == 100


@pytest.mark.parametrize(
    ("column", "letters"), [(1, "A"), (26, "Z"), (27, "AA"), (702, "ZZ"), (703, "AAA")]
)
def test_columns_are_named_as_a_spreadsheet_names_them(column: int, letters: str) -> None:
    """A to Z, then AA: whoever mends a cell finds it by the letters above it."""
    assert column_letters(column) == letters
    where = Location("t.xlsx[Sheet1]", 7, column, is_cell=True)
    assert str(where) == f"t.xlsx[Sheet1] row 7, column {letters}"


def test_places_in_tables_and_in_texts_are_told_apart() -> None:
    """A row alone has no column; a place in a text keeps its line and column."""
    assert str(Location("t.csv", 7, is_cell=True)) == "t.csv row 7"
    assert str(Location("t.csv", is_cell=True)) == "t.csv"
    assert str(Location("t.yaml", 7, 3)) == "t.yaml:7:3"


@settings(max_examples=400, deadline=None, derandomize=True)
@given(st.text(alphabet="=+-@\t\r\n 'ax\N{FULLWIDTH EQUALS SIGN}", max_size=8))
def test_the_guard_against_formulas_can_always_be_taken_off(text: str) -> None:
    """Whatever is written comes back, apostrophes of its own too, and is never a formula."""
    assert unguarded(guarded(text)) == text
    assert is_taken_for_formula(text) == guarded(text).startswith("'" + text)
    begins = guarded(text).lstrip(" \n")
    assert not begins.startswith(("=", "+", "-", "@", "\t", "\r"))


NAMES = [["S", "E"], ["S"], [], ["unknown"], ["a,b", "c"], "unknown"]
VALUES = [
    "a.jpg",
    ["a.jpg", "b.jpg"],
    ["a;b.jpg"],
    {"file": "a", "sha256": "0" * 64},
    [["a"], "b"],
    "[x",
]


@pytest.mark.parametrize("names", NAMES, ids=str)
def test_names_in_one_cell_come_back(names: object) -> None:
    """Ids are parted by commas; what that would tear apart is written as JSON."""
    assert split(joined(names, is_names=True), is_names=True) == names


@pytest.mark.parametrize("values", VALUES, ids=str)
def test_values_in_one_cell_come_back(values: object) -> None:
    """Photos and repeats are parted by semicolons; what that would tear apart is JSON."""
    assert split(joined(values)) == values


def test_lists_look_as_a_person_writes_them() -> None:
    """Where nothing stands against it a list is its values and what parts them."""
    assert joined(["S", "E"], is_names=True) == "S, E"
    assert joined(["7/8 in", "1 in"]) == "7/8 in; 1 in"
    assert split("S;E\nN", is_names=True) == ["S", "E", "N"]
    assert (
        joined_points([["0 ft", "0 ft"], ["18 ft 4 in", "12 ft"]])
        == "0 ft, 0 ft; 18 ft 4 in, 12 ft"
    )
    assert split_points("0 ft, 0 ft; 18 ft 4 in, 12 ft") == [
        ["0 ft", "0 ft"],
        ["18 ft 4 in", "12 ft"],
    ]
    assert split_points(joined_points([["1,200 mm", 0], [5, 6]])) == [["1,200 mm", 0], [5, 6]]


@pytest.mark.parametrize("text", ["[", '{"a"', '["\\u0007"]', "[" * 2000, '[[[[["a"]]]]]'])
def test_what_only_looks_like_json_is_told(text: str) -> None:
    """A cell that begins as JSON does and is none, or holds what no record may, is a mistake."""
    found = split(text)
    assert found.expected.startswith("JSON")
    assert "begin with another character" in found.advice


def test_an_empty_file_is_an_empty_table() -> None:
    """Nothing is wrong with a file in which nothing stands."""
    assert cells("") == []
    with pytest.raises(InputRejected):
        read_csv(b"\xff", name="t.csv")
