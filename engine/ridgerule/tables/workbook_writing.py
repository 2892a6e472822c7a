"""Tables -> a workbook (.xlsx), its cells text, with lists of words to choose from.

The same tables give the same bytes: what the library stamps with the hour is taken out again.
"""

from __future__ import annotations

import re
from io import BytesIO
from typing import TYPE_CHECKING, Any
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from ridgerule.facts import How, Plain
from ridgerule.formulas import guarded
from ridgerule.plain_data import whole_or_text
from ridgerule.quantities import Dimension
from ridgerule.tables.keys import NOT_SAID, Part
from ridgerule.tables.workbook_grids import need_openpyxl

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridgerule.tables.place_tables import Heading, Table

_TEXT = "@"
"""The format of text: what is typed stays as it is, `7:12` no time of day and `3/8` no date."""
_WIDEST, _NARROWEST = 48, 6
_LONGEST_LIST = 255
"""Characters of a list of words that a cell can offer."""
_FILL, _RULE = "F1EFEA", "B9B4A8"
_SPARE_ROWS = 500
"""Rows below the last that offer the same words, for what is added by hand."""
_UNKNOWN = ("unknown", "can't reach")
_EPOCH = (1980, 1, 1, 0, 0, 0)
_STAMP = "1980-01-01T00:00:00Z"
_STAMPED = re.compile(rb"(<dcterms:(created|modified)[^>]*>)[^<]*(</dcterms:)")
_ESCAPE = re.compile("_(?=x[0-9A-Fa-f]{4}_)")
"""An underscore that begins what a workbook reads as an escape (ECMA-376, ST_Xstring)."""


def workbook_of(tables: Sequence[Table]) -> bytes:
    """Return a workbook with a sheet for each table.

    Raises `InputRejected` where openpyxl is not installed.
    """
    need_openpyxl("--format xlsx")
    from openpyxl import Workbook  # type: ignore[import-untyped] # noqa: PLC0415 - an extra

    book = Workbook()
    book.remove(book.active)
    for table in tables:
        _fill(book.create_sheet(table.name), table)
    out = BytesIO()
    book.save(out)
    return _without_hour(out.getvalue())


def _fill(sheet: Any, table: Table) -> None:  # noqa: ANN401 - the library's own
    from openpyxl.styles import (  # type: ignore[import-untyped] # noqa: PLC0415 - an extra
        Alignment,
        Border,
        Font,
        PatternFill,
        Side,
    )

    is_many_lines = Alignment(vertical="top", wrap_text=True)
    for index, heading in enumerate(table.headings, start=1):
        cell = sheet.cell(1, index, heading.title)
        cell.font = Font(bold=True)
        cell.fill = PatternFill("solid", fgColor=_FILL)
        cell.border = Border(bottom=Side("thin", color=_RULE))
        cell.alignment = is_many_lines
    for number, row in enumerate(table.rows, start=2):
        for index, (text, heading) in enumerate(zip(row, table.headings, strict=True), start=1):
            if text:
                cell = sheet.cell(number, index)
                _set(cell, text, heading)
                cell.alignment = is_many_lines
    _lay_out(sheet, table)


def _set(cell: Any, text: str, heading: Heading) -> None:  # noqa: ANN401 - the library's own
    """Put a text into a cell as text, never as a formula; a count as the number it is."""
    is_count = heading.fact is not None and heading.fact.dimension is Dimension.COUNT
    number = whole_or_text(text) if is_count and heading.part is Part.VALUE else text
    if isinstance(number, int):
        cell.value = number
        return
    cell.value = _ESCAPE.sub("_x005F_", guarded(text))
    cell.data_type = "s"
    cell.number_format = _TEXT


def _lay_out(sheet: Any, table: Table) -> None:  # noqa: ANN401 - the library's own
    """Set widths, what stays in sight and on each printed page, and the words to choose from."""
    from openpyxl.utils import get_column_letter  # type: ignore[import-untyped] # noqa: PLC0415

    for index, heading in enumerate(table.headings, start=1):
        letter = get_column_letter(index)
        column = sheet.column_dimensions[letter]
        column.width = _width([heading.title, *(row[index - 1] for row in table.rows)])
        column.number_format = _TEXT
        if words := _words(heading):
            _offer(sheet, words, f"{letter}2:{letter}{len(table.rows) + 1 + _SPARE_ROWS}")
    sheet.freeze_panes = sheet.cell(2, table.keys + 1)
    sheet.auto_filter.ref = f"A1:{get_column_letter(len(table.headings))}{len(table.rows) + 1}"
    sheet.print_title_rows = "1:1"
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True


def _width(texts: Sequence[str]) -> float:
    longest = max(len(line) for text in texts for line in (text.splitlines() or [""]))
    return float(min(_WIDEST, max(_NARROWEST, longest)) + 3)


def _words(heading: Heading) -> tuple[str, ...]:
    """Return the words that a column can hold, where they are few."""
    if heading.part is Part.HOW:
        return (*How, NOT_SAID)
    if heading.fact is None or heading.part is not Part.VALUE:
        return ()
    if heading.fact.dimension is Plain.YES_NO:
        return ("yes", "no", *_UNKNOWN)
    return (*heading.fact.choices, *_UNKNOWN) if heading.fact.choices else ()


def _offer(sheet: Any, words: Sequence[str], cells: str) -> None:  # noqa: ANN401 - the library's
    """Offer words to choose from; other words may be typed all the same."""
    from openpyxl.worksheet.datavalidation import (  # type: ignore[import-untyped] # noqa: PLC0415
        DataValidation,
    )

    listed = ",".join(words)
    if len(listed) > _LONGEST_LIST or '"' in listed or any("," in word for word in words):
        return
    offer = DataValidation("list", formula1=f'"{listed}"', allow_blank=True)
    offer.showErrorMessage = False
    offer.add(cells)
    sheet.add_data_validation(offer)


def _without_hour(raw: bytes) -> bytes:
    """Return a workbook's bytes with one date for all: when it was made is not for it to say."""
    out = BytesIO()
    with ZipFile(BytesIO(raw)) as old, ZipFile(out, "w", ZIP_DEFLATED) as new:
        for part in old.infolist():
            data = old.read(part)
            if part.filename == "docProps/core.xml":
                data = _STAMPED.sub(rb"\g<1>" + _STAMP.encode() + rb"\g<3>", data)
            entry = ZipInfo(part.filename, _EPOCH)
            entry.compress_type = ZIP_DEFLATED
            entry.external_attr = 0o600 << 16
            new.writestr(entry, data)
    return out.getvalue()
