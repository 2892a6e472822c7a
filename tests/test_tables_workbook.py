"""Workbooks: cells read as they show, formulas and bombs refused, the same bytes written twice."""

from __future__ import annotations

import datetime as dt
import importlib.util
from io import BytesIO
from typing import TYPE_CHECKING, Any
from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipFile

import pytest
from openpyxl import Workbook, load_workbook

from ridgerule.audit.engine_facts import engine_vocabulary
from ridgerule.documents import read_document
from ridgerule.problems import InputRejected
from ridgerule.tables import workbook_archives, workbook_grids
from ridgerule.tables.grids import MOST_COLUMNS, MOST_ROWS, MOST_SHEETS, Grid, Holds
from ridgerule.tables.importing import imported, written
from ridgerule.tables.place_tables import Heading, Table, tables_of
from ridgerule.tables.workbook_grids import number_text, read_workbook
from ridgerule.tables.workbook_writing import workbook_of
from workshop import problems

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

ENGINE = engine_vocabulary()
RECORD = read_document(
    b"record: 1\nroof: {id: T-1}\nplanes: {S: {slope: 7:12}, E: {slope: 9:12}}\n"
    b"lines: {H1: {kind: hip, between: [S, E]}}\n",
    name="roof.yaml",
)
HEADER = ("line", "position", "gap")


def workbook(*rows: Sequence[Any], title: str = "Sheet1", **formats: str) -> bytes:
    """Return a workbook with rows in its one sheet; `formats` are number formats by cell."""
    book = Workbook()
    sheet = book.active
    sheet.title = title
    for row in rows:
        sheet.append(row)
    for cell, number_format in formats.items():
        sheet[cell].number_format = number_format
    return saved(book)


def saved(book: Workbook) -> bytes:
    """Return the bytes of a workbook."""
    out = BytesIO()
    book.save(out)
    return out.getvalue()


def grid(raw: bytes) -> Grid:
    """Return the table in the one sheet of a workbook."""
    (found,) = read_workbook(raw, name="w.xlsx")
    return found


def texts(raw: bytes, row: int = 1) -> list[str]:
    """Return what the cells of a row of a workbook's one sheet show."""
    found = next(each for each in grid(raw).rows if each.number == row)
    return [cell.text for _, cell in sorted(found.cells.items())]


def told(raw: bytes) -> list[str]:
    """Return what is told of a workbook that is refused."""
    return [str(problem) for problem in problems(lambda: read_workbook(raw, name="w.xlsx"))]


def told_of_cells(raw: bytes) -> list[str]:
    """Return what is told of a workbook whose cells can't be put into a record."""
    grids = read_workbook(raw, name="w.xlsx")
    return [str(problem) for problem in problems(lambda: imported(grids, ENGINE, into=RECORD))]


NUMBERS = [
    (2.5, "General", "2.5"),
    (0.1 + 0.2, "General", "0.3"),
    (1.1, "0.0000", "1.1"),
    (3, "General", "3"),
    (1e-7, "General", "0.0000001"),
    (1e20, "0.00E+00", "100000000000000000000"),
    (3.0625, "# ?/16", "3.0625"),
    (0.4, "0%", "40 %"),
    (0.125, "0.0 %", "12.5 %"),
    (78.0, '0.0" mm"', "78 mm"),
    (3.0625, '# ?/16\\ "in"', "3.0625 in"),
    (-15.0, '0 "degF";[Red]-0 "degF"', "-15 degF"),
    (2.0, 'General" ft"', "2 ft"),
    (1200.5, '"about "#,##0.00', "1200.5"),
]


@pytest.mark.parametrize(("value", "number_format", "shows"), NUMBERS)
def test_a_number_is_the_decimal_that_was_typed(
    value: float, number_format: str, shows: str
) -> None:
    """Fifteen digits, as a spreadsheet keeps them, with the sign or unit that its format shows."""
    assert number_text(value, number_format) == shows
    assert texts(workbook((value,), A1=number_format)) == [shows]


def test_a_gap_typed_as_a_number_is_read_exactly() -> None:
    """3.0625 under a title with the unit in it is 3 1/16 in exactly, and so is the text of it."""
    header = ("line", "position [ft]", "gap [in]")
    raw = workbook(header, ("H1", 2, 3.0625), ("H1", 4, "3 1/16"), ("H1", 6, "78mm"))
    text = written(imported(read_workbook(raw, name="w.xlsx"), ENGINE, into=RECORD), _text())
    assert "{at: 2 ft, gap: 3.0625 in}" not in text
    for line in ("- at: 2 ft", "gap: 3.0625 in", "gap: 3 1/16 in", "gap: 78mm"):
        assert line in text


def _text() -> str:
    return (
        "record: 1\nroof: {id: T-1}\nplanes: {S: {slope: 7:12}, E: {slope: 9:12}}\nlines: {H1: "
        "{kind: hip, between: [S, E]}}\n"
    )


def test_dates_are_dates_only_where_a_date_is_asked_for() -> None:
    """A cell with a date says the day of a date's fact; anywhere else it was typed otherwise."""
    header = ("section", "fact", "value", "when")
    raw = workbook(header, ("dates", "permit", dt.date(2026, 3, 2), dt.date(2026, 3, 9)))
    done = imported(read_workbook(raw, name="w.xlsx"), ENGINE, into=RECORD)
    permit = {"value": "2026-03-02", "how": "document", "when": "2026-03-09"}
    assert done.data["dates"] == {"permit": permit}
    rows = [
        ("H1", "2 ft", dt.date(2016, 3, 1)),
        ("H1", dt.date(2016, 3, 4), "3 in"),
        ("H1", "3 ft", dt.time(7, 12)),
        (dt.date(2026, 1, 9), "4 ft", "3 in"),
    ]
    advice = "set the cell to text and type it again as it was read"
    typed = "the spreadsheet took what was typed for one"
    assert told_of_cells(workbook(HEADER, *rows)) == [
        (
            f"w.xlsx[Sheet1] row 2, column C: expected a length for `gap`; found the date "
            f"2016-03-01: {typed}; {advice}"
        ),
        (
            f"w.xlsx[Sheet1] row 3, column B: expected a distance; found the date 2016-03-04: "
            f"{typed}; {advice}"
        ),
        (
            f"w.xlsx[Sheet1] row 4, column C: expected a length for `gap`; found the time 07:12: "
            f"{typed}; {advice}"
        ),
        (
            f"w.xlsx[Sheet1] row 5, column A: expected words; found the date 2026-01-09: {typed}; "
            f"{advice}"
        ),
    ]


def test_a_number_is_no_date() -> None:
    """A day that was left as the number that a spreadsheet keeps for it is told, never guessed."""
    raw = workbook(("section", "fact", "value"), ("dates", "permit", 46083))
    (problem,) = told_of_cells(raw)
    assert problem == (
        "w.xlsx[Sheet1] row 2, column C: expected a date such as `2026-03-02`; found `46083`; "
        "write it as year-month-day, in digits"
    )


def test_a_slope_that_became_a_time_is_told() -> None:
    """7:12 typed into a cell that is no text becomes an hour; that is told, and what to do."""
    raw = workbook(("plane", "exposure", "slope"), ("S", "8 in", dt.timedelta(hours=7, minutes=12)))
    (problem,) = told_of_cells(raw)
    assert "expected a slope for `slope`; found the time 07:12" in problem.replace(
        " 7:12", " 07:12"
    )


def test_formulas_and_errors_are_refused() -> None:
    """A cell with a formula or an error is told; a text that looks like one is text."""
    rows = [("H1", "2 ft", "=1+2"), ("H1", "3 ft", "#N/A"), ("=A2", "4 ft", "3 in")]
    assert told_of_cells(workbook(HEADER, *rows)) == [
        (
            "w.xlsx[Sheet1] row 2, column C: expected a value; found a formula; paste its value in "
            "its place"
        ),
        (
            "w.xlsx[Sheet1] row 3, column C: expected a value; found the error `#N/A`; write what "
            "was read"
        ),
        (
            "w.xlsx[Sheet1] row 4, column A: expected a value; found a formula; paste its value in "
            "its place"
        ),
    ]


def test_logical_values_are_yes_and_no() -> None:
    """TRUE and FALSE answer what asks for yes or no, and nothing else."""
    raw = workbook(("line", "vented", "flashed"), ("H1", True, False))
    done = imported(read_workbook(raw, name="w.xlsx"), ENGINE, into=RECORD)
    assert {"vented": "yes", "flashed": "no"}.items() <= done.data["lines"]["H1"].items()
    (problem,) = told_of_cells(workbook(HEADER, ("H1", "2 ft", True)))
    assert "expected a length for `gap`; found the logical value TRUE" in problem


def test_only_the_sheets_asked_for_are_read() -> None:
    """All sheets are read, or those named; a slip in a name is told with what there is."""
    book = Workbook()
    book.active.title = "Survey"
    book.active.append(HEADER)
    book.create_sheet("Notes").append(("anything",))
    raw = saved(book)
    assert [g.name for g in read_workbook(raw, name="w.xlsx")] == ["Survey", "Notes"]
    assert [g.name for g in read_workbook(raw, name="w.xlsx", sheets=["Notes"])] == ["Notes"]
    (problem,) = problems(lambda: read_workbook(raw, name="w.xlsx", sheets=["Survy"]))
    assert str(problem) == (
        "w.xlsx: expected a sheet of this workbook; found `Survy`; did you mean `Survey`?"
    )


def test_blank_rows_and_false_sizes_do_no_harm() -> None:
    """Rows keep the numbers that the spreadsheet shows, whatever size the file states."""
    raw = workbook(HEADER, (), (None, None), ("H1", "2 ft", "3 in"))
    lied = altered(raw, "xl/worksheets/sheet1.xml", {b'ref="A1:C4"': b'ref="A1:A1"'})
    assert [row.number for row in grid(lied).rows] == [1, 4]
    assert len(grid(lied).rows[1].cells) == 3


def altered(raw: bytes, name: str, changes: Mapping[bytes, bytes], *, more: int = 0) -> bytes:
    """Return a workbook with the text of one of its parts changed, and as many parts more."""
    out = BytesIO()
    with ZipFile(BytesIO(raw)) as old, ZipFile(out, "w", ZIP_DEFLATED) as new:
        for part in old.infolist():
            data = old.read(part)
            if part.filename == name:
                for before, after in changes.items():
                    assert before in data
                    data = data.replace(before, after)
            new.writestr(part.filename, data)
        for i in range(more):
            new.writestr(f"xl/media/{i}.png", b"")
    return out.getvalue()


def test_what_would_unpack_to_far_more_is_refused_before_it_is(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A small file with a huge part in it is refused from its directory; nothing is unpacked."""
    out = BytesIO()
    with ZipFile(out, "w", ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", b" " * (8 << 20))
    monkeypatch.setattr(ZipFile, "read", lambda *_: pytest.fail("it was unpacked"))
    assert told(out.getvalue()) == [
        (
            "w.xlsx: expected a workbook (.xlsx); found `[Content_Types].xml` in it, which unpacks "
            "to over 100 times; save the readings by themselves in a new workbook"
        )
    ]
    monkeypatch.setattr(workbook_archives, "MOST_UNPACKED", 4 << 20)
    assert "unpacks to more than 4 MiB" in told(out.getvalue())[0]


def test_a_workbook_of_too_many_parts_or_sheets_is_refused() -> None:
    """Parts, sheets, rows and columns have bounds, each told with its figure."""
    assert (
        "found more than 1,000 parts in it" in told(altered(workbook(HEADER), "", {}, more=1000))[0]
    )
    book = Workbook()
    for _ in range(MOST_SHEETS):
        book.create_sheet()
    assert f"expected at most {MOST_SHEETS} sheets in a workbook; found 41" in told(saved(book))[0]
    wide = workbook(HEADER, ("x",) * (MOST_COLUMNS + 1))
    assert told(wide) == [
        (
            f"w.xlsx[Sheet1] row 2, column OK: expected at most {MOST_COLUMNS} columns; found more "
            f"than "
            "that; split the table"
        )
    ]


def test_a_sheet_of_too_many_rows_is_refused() -> None:
    """A table with more rows than a visit ever had is refused, blank ones not counted."""
    long = workbook(*((("x",) if i % 2 else (None,)) for i in range(2 * MOST_ROWS + 3)))
    assert told(long) == [
        (
            f"w.xlsx[Sheet1] row {2 * MOST_ROWS + 2}: expected at most {MOST_ROWS:,} rows in a "
            f"table; "
            "found more than that; split the table"
        )
    ]


DOCTYPE = b'<!DOCTYPE x [<!ENTITY a "3 in"><!ENTITY b "&a;&a;&a;&a;">]>'


@pytest.mark.parametrize("name", ["xl/workbook.xml", "xl/worksheets/sheet1.xml", "_rels/.rels"])
def test_entities_are_refused(name: str) -> None:
    """No part of a workbook may declare entities, which could be expanded without end."""
    start = b"<workbook" if "workbook.xml" in name else b"<worksheet"
    start = b"<Relationships" if "rels" in name else start
    raw = altered(workbook(HEADER), name, {start: DOCTYPE + start})
    assert told(raw) == [
        (
            f"w.xlsx: expected a workbook (.xlsx); found `{name}` in it, with a document type of "
            f"its "
            "own; save it again from the spreadsheet"
        )
    ]


def test_entities_in_another_encoding_are_refused_too() -> None:
    """A part that is no UTF-8 could hide what is looked for, and no spreadsheet writes one."""
    out = BytesIO()
    with ZipFile(out, "w", ZIP_STORED) as archive:
        archive.writestr(
            "[Content_Types].xml", f"<?xml version='1.0'?>{DOCTYPE.decode()}<a/>".encode("utf-16")
        )
    assert "which is no UTF-8" in told(out.getvalue())[0]


OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600
OTHER_FILES = [
    (OLE, "an older workbook or document (.xls); save it as .xlsx, or as CSV UTF-8"),
    (
        OLE + "EncryptedPackage".encode("utf-16-le"),
        "a workbook with a password; save it without one",
    ),
    (b"line,position\n", "a file that can't be unpacked (File is not a zip file); save it again"),
    (b"PK\x03\x04" + b"\0" * 50, "a file that can't be unpacked"),
    (b"", "a file that can't be unpacked"),
]


@pytest.mark.parametrize(("raw", "found"), OTHER_FILES)
def test_what_is_no_workbook_is_told_as_what_it_is(raw: bytes, found: str) -> None:
    """Older workbooks, locked ones and files of other kinds are told with what to do."""
    assert told(raw)[0].startswith(f"w.xlsx: expected a workbook (.xlsx); found {found}")


def test_zip_files_of_other_kinds_are_told() -> None:
    """A workbook of another kind, and a ZIP file of anything, are no workbooks of ours."""
    for name, found in (("mimetype", "another kind (.ods)"), ("a.txt", "a ZIP file of something")):
        out = BytesIO()
        with ZipFile(out, "w") as archive:
            archive.writestr(name, "x")
        assert found in told(out.getvalue())[0]


@pytest.mark.parametrize(
    "name", ["xl/workbook.xml", "[Content_Types].xml", "xl/worksheets/sheet1.xml"]
)
def test_a_broken_workbook_is_told_and_never_a_fault(name: str) -> None:
    """Whatever is cut out of a workbook's parts, it is told as a file that can't be read."""
    whole = workbook(HEADER, ("H1", "2 ft", 3), ("H1", "3 ft", dt.date(2026, 1, 1)))
    with ZipFile(BytesIO(whole)) as archive:
        text = archive.read(name)
    refused = 0
    for cut in range(0, len(text), max(1, len(text) // 40)):
        raw = altered(whole, name, {text: text[:cut]})
        try:
            read_workbook(raw, name="w.xlsx")
        except InputRejected as rejected:
            refused += "save it again" in str(rejected)
    assert refused > 30


def test_without_the_extra_it_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where openpyxl is not installed, the extra that brings it is named."""
    raw = workbook(HEADER)
    monkeypatch.setattr(importlib.util, "find_spec", lambda _: None)
    (problem,) = told(raw)
    assert "install it with `pip install 'ridgerule[tables]'`, or use CSV" in problem
    (problem,) = map(str, problems(lambda: workbook_of([])))
    assert problem.startswith("--format xlsx: expected the extra `tables`")


HOSTILE = (
    "=1+1",
    "+1",
    "-15 degF",
    "@x",
    "'=y",
    "_x000D_",
    "_x005F_",
    "a\nb",
    " lead",
    "\t=z",
    "x" * 300,
)


@pytest.mark.parametrize("text", HOSTILE)
def test_no_cell_that_is_written_is_a_formula(text: str) -> None:
    """Whatever a note says, its cell is text that no spreadsheet runs, and it comes back whole."""
    table = Table("notes", (Heading("line"), Heading("note")), (("H1", text),), 1)
    raw = workbook_of([table])
    cell = load_workbook(BytesIO(raw))["notes"]["B2"]
    assert cell.data_type == "s"
    assert cell.number_format == "@"
    assert not cell.value.lstrip(" ").startswith(("=", "+", "-", "@", "\t", "\r"))
    (back,) = read_workbook(raw, name="w.xlsx")
    done = imported([Grid("w.xlsx", "lines", back.rows)], ENGINE, into=RECORD)
    assert done.data["lines"]["H1"]["note"] == text


def test_the_same_record_gives_the_same_workbook(monkeypatch: pytest.MonkeyPatch) -> None:
    """No hour, no machine: the bytes of a workbook depend on the record alone."""
    tables = tables_of(RECORD, ENGINE)
    first = workbook_of(tables)
    monkeypatch.setattr("time.localtime", lambda *_: (2031, 5, 6, 7, 8, 9, 0, 0, 0))
    assert workbook_of(tables) == first
    assert b"2031" not in first
    with ZipFile(BytesIO(first)) as archive:
        assert {part.date_time[0] for part in archive.infolist()} == {1980}


def test_a_workbook_is_laid_out_to_be_worked_in() -> None:
    """A sheet a kind of place, the header in sight, words to choose from, counts as numbers."""
    document = read_document(
        b"record: 1\nroof: {id: T-1}\nplanes:\n  S:\n    fasteners_hidden: yes\n    stations:\n"
        b"      - {at: middle, fasteners: 2, exposure: {value: 8 in, how: seen}}\n",
        name="roof.yaml",
    )
    book = load_workbook(BytesIO(workbook_of(tables_of(document, ENGINE))))
    assert book.sheetnames == ["roof", "planes", "stations on planes"]
    sheet = book["stations on planes"]
    assert [cell.value for cell in sheet[1]] == [
        "plane", "station", "position", "exposure", "exposure how", "fasteners",
    ]  # fmt: skip
    assert sheet["F2"].value == 2
    assert sheet["D2"].value == "8 in"
    assert sheet.freeze_panes == "D2"
    offered = {
        str(v.sqref).split(":")[0]: v.formula1 for v in sheet.data_validations.dataValidation
    }
    assert offered["E2"].startswith('"measured,seen,cap lifted')
    (offer,) = book["planes"].data_validations.dataValidation
    assert offer.formula1 == '"yes,no,unknown,can\'t reach"'


def test_cells_are_held_as_what_they_are() -> None:
    """A grid tells text from numbers, dates and logical values."""
    row = grid(workbook(("a", 1, True, dt.date(2026, 1, 2), dt.time(7, 12)))).rows[0]
    assert [row.cells[i].holds for i in range(1, 6)] == [
        Holds.TEXT, Holds.NUMBER, Holds.YES_NO, Holds.DATE, Holds.TIME,
    ]  # fmt: skip
    assert workbook_grids.MOST_SHEETS == MOST_SHEETS
