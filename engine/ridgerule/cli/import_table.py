"""`ridgerule import`: readings from CSV files and workbooks, put into a record."""

from __future__ import annotations

import sys
from collections import Counter
from functools import partial
from hashlib import sha256
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeVar

import typer
from msgspec import Struct

from ridgerule.audit.engine_facts import engine_vocabulary
from ridgerule.cli.app import RulebookFolders
from ridgerule.cli.export_table import AgainstOption, named_in, vocabulary_for
from ridgerule.cli.inputs import Asked
from ridgerule.cli.options import SheetFormat, put_sheet
from ridgerule.cli.outputs import put
from ridgerule.documents import Document, load_document
from ridgerule.problems import InputRejected, Location, Problem, shown
from ridgerule.record_reader import read_record
from ridgerule.reports.sheet import Heading, Sheet, Table, Words
from ridgerule.schemas import check
from ridgerule.tables.drafts import Did
from ridgerule.tables.grids import Grid
from ridgerule.tables.importing import imported, rulebooks_in, written
from ridgerule.tables.mappings import NOTHING_MAPPED, Mapped, read_mapping
from ridgerule.tables.table_files import load_grids

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from ridgerule.reports.sheet import Block
    from ridgerule.tables.drafts import Change
    from ridgerule.tables.importing import Import

Tables = Annotated[
    list[Path], typer.Argument(metavar="TABLE...", help="CSV files and workbooks (.xlsx).")
]
IntoOption = Annotated[
    Path | None,
    typer.Option(
        "--into",
        metavar="RECORD",
        help="Record to put the readings into; else a new record is made of the tables.",
    ),
]
MappingOption = Annotated[
    Path | None,
    typer.Option(
        "--mapping",
        metavar="FILE",
        help='What the columns mean, in YAML: columns: {"Gap (in)": {fact: station.gap, unit: in}}',
    ),
]
SheetOption = Annotated[
    list[str] | None,
    typer.Option(
        "--sheet", metavar="NAME", help="Sheet of a workbook; all of them if not said. Repeat it."
    ),
]
ReplaceOption = Annotated[
    bool, typer.Option("--replace", help="Let the tables change readings that the record has.")
]
PreviewOption = Annotated[
    bool, typer.Option("--preview", help="Show what would be done, and write nothing.")
]
RecordOutputOption = Annotated[
    Path | None,
    typer.Option(
        "--output",
        "-o",
        metavar="PATH",
        help="Record to write; else that of `--into`, or the terminal for a new one.",
    ),
]

app = typer.Typer(add_completion=False)


@app.command(
    "import",
    help="Read readings from tables into a record.\n\n"
    "A row is a reading, a station, a line, a plane or another place: as `ridgerule export` and "
    "`ridgerule plan --format csv` write them, or as a mapping file says of a table of one's own. "
    "A record keeps all that it has, its comments too; readings are added, and changed only with "
    "`--replace`. Nothing is written unless every cell can be read.",
    epilog="Exit status: 0 written, or shown with `--preview`; 2 a file can't be used. Example: "
    "ridgerule import survey.xlsx --mapping columns.yaml --into roof.yaml --preview",
)
def import_(  # noqa: PLR0913 - one parameter an option
    tables: Tables,
    *,
    into: IntoOption = None,
    mapping: MappingOption = None,
    sheets: SheetOption = None,
    replace: ReplaceOption = False,
    preview: PreviewOption = False,
    against: AgainstOption = None,
    rulebooks: RulebookFolders = None,
    output: RecordOutputOption = None,
) -> None:
    """Read readings from tables into a record."""
    _refuse_output(output, into)
    files = _Files.read(tables, tuple(sheets or ()), mapping, into)
    told = rulebooks_in(files.grids, files.mapped, engine_vocabulary())
    named = (*(named_in(files.record) if files.record is not None else ()), *told)
    asked = Asked(tuple(against or ()), tuple(rulebooks or ()))
    vocabulary = vocabulary_for(asked, (into or tables[0]).parent, named)
    if files.record is not None:
        read_record(files.record, vocabulary)
    done = imported(
        files.grids, vocabulary, into=files.record, mapped=files.mapped, replace=replace
    )
    if preview:
        put_sheet(_preview(done, tables, into), SheetFormat.TEXT, None)
    else:
        _write(done, files.text, into, output)


class _Files(Struct, frozen=True):
    """The files of an import, as they were read."""

    grids: tuple[Grid, ...]
    mapped: Mapped
    record: Document | None
    text: str
    """The record's, with the line ends and the mark that it has."""

    @classmethod
    def read(
        cls,
        tables: Sequence[Path],
        sheets: tuple[str, ...],
        mapping: Path | None,
        into: Path | None,
    ) -> _Files:
        """Return what is in the files; raises `InputRejected` with the problems of them all."""
        problems: list[Problem] = []
        found = [_or_told(partial(load_grids, path, sheets=sheets), problems) for path in tables]
        mapped = NOTHING_MAPPED
        if mapping is not None:
            mapped = _or_told(lambda: read_mapping(load_document(mapping)), problems) or mapped
        record = None if into is None else _or_told(partial(_record, into), problems)
        if problems:
            raise InputRejected(problems)
        grids = tuple(chain.from_iterable(grids or () for grids in found))
        return cls(grids, mapped, *(record or (None, "")))


_Read = TypeVar("_Read")


def _or_told(reading: Callable[[], _Read], problems: list[Problem]) -> _Read | None:
    """Return what a reading gives; None where it is rejected, its problems added to the others."""
    try:
        return reading()
    except InputRejected as rejected:
        problems.extend(rejected.problems)
        return None


def _record(path: Path) -> tuple[Document, str]:
    """Return a record as it was read, and its text."""
    document = load_document(path)
    if problems := check(document, "record"):
        raise InputRejected(problems)
    raw = path.read_bytes()
    if sha256(raw).hexdigest() != document.digest:
        where, found = Location(document.name), "one that changed while it was read"
        raise InputRejected([Problem(where, "a record", found, "try again")])
    return document, raw.decode("utf-8")


def _refuse_output(output: Path | None, into: Path | None) -> None:
    """Refuse to write over a file that is not the record the readings are put into."""
    if output is None or not output.is_file():
        return
    if into is None or not into.exists() or not output.samefile(into):
        told = "a place where no file is yet"
        advice = "choose another place, or put the tables into that record with `--into`"
        where = Location("--output")
        raise InputRejected([Problem(where, told, f"`{_named(output)}`", advice)])


def _write(done: Import, text: str, into: Path | None, output: Path | None) -> None:
    """Write the record that came of it, and say on standard error what was done."""
    target = output or into
    if not done.changes and output is None and into is not None:
        print(f"{_named(into)}: stays as it is; it has all that the tables say", file=sys.stderr)
        return
    put(written(done, text), target)
    print(f"{_named(target) if target else 'new record'}: {_counts(done)}", file=sys.stderr)


_LONGEST_NAME = 4096


def _named(path: Path) -> str:
    """Return a path as it is shown: whole, with whatever a terminal would obey spelt out."""
    return shown(path, most=_LONGEST_NAME)


_COUNTED = {
    Did.CHANGED: ("reading changed", "readings changed"),
    Did.ANSWERED: ("open point answered", "open points answered"),
    Did.NEW_PLACE: ("new place", "new places"),
    Did.NEW_STATION: ("new station", "new stations"),
    Did.ADDED: ("reading added", "readings added"),
    Did.MORE_SAID: ("reading told more of", "readings told more of"),
}


def _counts(done: Import) -> str:
    counts = Counter(change.did for change in done.changes)
    said = [
        f"{counts[did]:,} {one if counts[did] == 1 else many}"
        for did, (one, many) in _COUNTED.items()
        if counts[did]
    ]
    return ", ".join(said) or "nothing that is not in it"


def _preview(done: Import, tables: Sequence[Path], into: Path | None) -> Sheet:
    """Return what an import would do as a page: what changes first, what is new after it."""
    names = ", ".join(shown(table.name) for table in tables)
    title = f"{names}: into {shown(into.name)}" if into is not None else f"{names}: a new record"
    blocks: list[Block] = [Words(f"{_counts(done)}. Nothing is written with `--preview`.")]
    blocks += _readings("Changed", done, Did.CHANGED)
    blocks += _readings("Open points answered", done, Did.ANSWERED)
    blocks += _places("New places", done, Did.NEW_PLACE)
    blocks += _places("New stations", done, Did.NEW_STATION)
    blocks += _readings("Added", done, Did.ADDED)
    blocks += _readings("More said of readings that stay", done, Did.MORE_SAID)
    return Sheet(title, tuple(blocks))


def _places(heading: str, done: Import, did: Did) -> Iterator[Block]:
    found = [change for change in done.changes if change.did is did]
    if found:
        yield Heading(f"{heading} ({len(found):,})")
        rows = [(done.label(change), _cell(change)) for change in found]
        yield Table(("place", "cell"), tuple(rows))


def _readings(heading: str, done: Import, did: Did) -> Iterator[Block]:
    found = [change for change in done.changes if change.did is did]
    if not found:
        return
    yield Heading(f"{heading} ({len(found):,})")
    has_before = any(change.before for change in found)
    header = ("place", "what", *(("was", "becomes") if has_before else ("value",)), "cell")
    yield Table(header, tuple(tuple(_row(done, change, has_before=has_before)) for change in found))


def _row(done: Import, change: Change, *, has_before: bool) -> Iterator[str]:
    yield done.label(change)
    yield change.what
    if has_before:
        yield change.before
    yield change.after
    yield _cell(change)


def _cell(change: Change) -> str:
    """Return the cell that says a change, without the folders its file lies in."""
    return str(change.where).rpartition("/")[2]
