"""Workbooks (.xlsx) -> grids, one a sheet, read with openpyxl, which comes with extra `tables`.

Cells are read as they are stored and as they show: a number as the decimal that was typed, with
the unit or the percent sign that its format shows after it. Formulas are left in, so that they can
be refused: a value that a spreadsheet computed when it last saved is nobody's reading.
"""

from __future__ import annotations

import datetime as dt
import importlib.util
import re
import warnings
import zlib
from decimal import Decimal
from io import BytesIO
from typing import TYPE_CHECKING, Any
from xml.etree.ElementTree import ParseError
from zipfile import BadZipFile

from ridgerule.problems import InputRejected, Location, Problem, shown, suggestion
from ridgerule.tables.grids import MOST_SHEETS, Cell, Grid, GridBuilder, Holds
from ridgerule.tables.workbook_archives import A_WORKBOOK, check_archive

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

_SIGNIFICANT = ".15g"
"""A spreadsheet keeps 15 digits of a number, and shows no more."""
_LAST_ROW = 1 << 20
"""No sheet has a row beyond."""

# All that the library has been seen to raise of a file that is no workbook, though it unpacks.
_NOT_A_WORKBOOK = (
    ArithmeticError, AssertionError, AttributeError, BadZipFile, EOFError, LookupError, OSError,
    ParseError, RuntimeError, TypeError, ValueError, zlib.error,
)  # fmt: skip


def need_openpyxl(asked: str) -> None:
    """Return where openpyxl is installed; raises `InputRejected`, located at `asked`, if not."""
    if importlib.util.find_spec("openpyxl") is None:
        told = "the extra `tables`, which reads and writes workbooks"
        advice = "install it with `pip install 'ridgerule[tables]'`, or use CSV"
        problem = Problem(Location(asked), told, "an installation without it", advice)
        raise InputRejected([problem])


def read_workbook(raw: bytes, *, name: str, sheets: Sequence[str] = ()) -> tuple[Grid, ...]:
    """Return the tables in the bytes of a workbook called `name`: of `sheets`, else of all.

    Raises `InputRejected` with every problem that could be told.
    """
    check_archive(raw, name=name)
    need_openpyxl(name)
    from openpyxl import load_workbook  # type: ignore[import-untyped] # noqa: PLC0415 - an extra

    problems: list[Problem] = []
    grids: list[Grid] = []
    try:
        # It warns of whatever it would not write back, which is none of ours.
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            book = load_workbook(BytesIO(raw), read_only=True, data_only=False, keep_links=False)
            for sheet in _chosen(book.worksheets, sheets, name):
                try:
                    grids.append(_grid(sheet, name))
                except InputRejected as rejected:
                    problems.extend(rejected.problems)
            book.close()
    except _NOT_A_WORKBOOK as error:
        found = f"a file that can't be read as one ({shown(error)})"
        advice = "save it again from the spreadsheet, or as CSV"
        problems = [Problem(Location(name), A_WORKBOOK, found, advice)]
    if problems:
        raise InputRejected(problems)
    return tuple(grids)


def _chosen(worksheets: Sequence[Any], names: Sequence[str], file: str) -> Iterable[Any]:
    """Return the sheets asked for, of these; all of them where none is."""
    if len(worksheets) > MOST_SHEETS:
        told = f"at most {MOST_SHEETS} sheets in a workbook"
        raise InputRejected([Problem(Location(file), told, f"{len(worksheets)}", "split it")])
    titles = {sheet.title: sheet for sheet in worksheets}
    problems = []
    for name in names:
        if name not in titles:
            listed = ", ".join(f"`{shown(title)}`" for title in titles)
            advice = suggestion(name, titles) or f"it has {listed}"
            found = f"`{shown(name)}`"
            problems.append(Problem(Location(file), "a sheet of this workbook", found, advice))
    if problems:
        raise InputRejected(problems)
    return [titles[name] for name in names] if names else worksheets


def _grid(sheet: Any, file: str) -> Grid:  # noqa: ANN401 - the library's own
    builder = GridBuilder(file, shown(sheet.title), is_sheet=True)
    sheet.reset_dimensions()  # what a file states of its size need not be so
    for number, row in enumerate(sheet.iter_rows(), start=1):
        if number > _LAST_ROW:
            builder.refuse(number, 0, "no row beyond the last", "one", "save the workbook again")
            break
        builder.take(number, _cells(row))
    return builder.grid()


def _cells(row: Sequence[Any]) -> Iterator[Cell]:
    for column, cell in enumerate(row, start=1):
        if cell.value is not None:
            yield _cell(cell, column)


def _cell(cell: Any, column: int) -> Cell:  # noqa: ANN401 - the library's own
    if cell.data_type == "f":
        return Cell(column, "=", Holds.FORMULA)
    if cell.data_type == "e":
        return Cell(column, str(cell.value), Holds.ERROR)
    text, holds = _shown(cell.value, cell.number_format)
    return Cell(column, text, holds)


def _shown(value: object, number_format: str) -> tuple[str, Holds]:
    """Return what a cell shows, and what it holds."""
    shows, holds = "", Holds.TIME
    match value:
        case bool():
            shows, holds = "yes" if value else "no", Holds.YES_NO
        case int() | float():
            shows, holds = number_text(value, number_format), Holds.NUMBER
        case dt.datetime() if value.time() != dt.time():
            shows = f"{value:%Y-%m-%d %H:%M}"
        case dt.date():
            shows, holds = f"{value:%Y-%m-%d}", Holds.DATE
        case dt.time():
            shows = f"{value:%H:%M}"
        case dt.timedelta():
            minutes = round(value.total_seconds() / 60)
            shows = f"{minutes // 60}:{minutes % 60:02}"
        case _:
            text = _ESCAPED_UNDERSCORE.sub("_", str(value))
            shows, holds = text.replace("\r\n", "\n").replace("\r", "\n"), Holds.TEXT
    return shows, holds


_ESCAPED_UNDERSCORE = re.compile("_x005[Ff]_")
"""How a workbook writes an underscore that would begin an escape (ECMA-376, ST_Xstring)."""

_PLACEHOLDER = re.compile(r"[0#?]|General", re.IGNORECASE)
_CONDITION = re.compile(r"\[[^\]]*\]")
_LITERAL = re.compile(r'"([^"]*)"|\\(.)|([%])')


def number_text(value: float, number_format: str = "General") -> str:
    """Return a number as the decimal that was typed, with what its format shows after it.

    A number kept as 2.5 is `2.5`, never its binary neighbour; 0.4 shown as a percentage `40 %`.
    """
    number = Decimal(value if isinstance(value, int) else format(value, _SIGNIFICANT))
    ending = _ending(number_format)
    if "%" in ending:
        number *= 100
        ending = "%"
    text = f"{number:f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return f"{text} {ending}" if ending else text


def _ending(number_format: str) -> str:
    """Return the words or sign that a number's format shows after its digits, such as `in`."""
    first = _CONDITION.sub("", _section(number_format))
    digits = [*_PLACEHOLDER.finditer(_LITERAL.sub(lambda m: "\0" * len(m.group()), first))]
    after = first[digits[-1].end() :] if digits else ""
    shows = "".join(m[1] or m[2] or m[3] or "" for m in _LITERAL.finditer(after))
    return " ".join(shows.split())


def _section(number_format: str) -> str:
    """Return the part of a format that is for numbers above zero, up to the first semicolon."""
    parts = _LITERAL.sub(lambda m: "\0" * len(m.group()), number_format)
    end = parts.find(";")
    return number_format if end < 0 else number_format[:end]
