"""From tables to a record: read, put together, checked as any record is, written as a text."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.documents import read_document
from ridgerule.misreadings import Mistake
from ridgerule.plain_data import MOST_PROBLEMS, mapping_in, words_in
from ridgerule.problems import InputRejected, Location, Problem
from ridgerule.record import unknown_reason
from ridgerule.record_reader import read_record
from ridgerule.tables.cell_values import data_of
from ridgerule.tables.columns import Role
from ridgerule.tables.drafts import Did, label_at
from ridgerule.tables.headers import layout_of, titles_in
from ridgerule.tables.keys import INSTRUMENTS, PLACE_SECTIONS, Asked, Form
from ridgerule.tables.located import located
from ridgerule.tables.mappings import NOTHING_MAPPED, READINGS, one_spelling, unused_titles
from ridgerule.tables.merging import merged
from ridgerule.tables.naming import Known
from ridgerule.tables.place_rows import PlaceRows
from ridgerule.tables.reading_rows import RULEBOOKS, ReadingRows
from ridgerule.tables.record_patches import patched
from ridgerule.tables.record_text import record_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from ridgerule.documents import Data, Document
    from ridgerule.facts import Vocabulary
    from ridgerule.tables.columns import Layout
    from ridgerule.tables.drafts import Change, Draft
    from ridgerule.tables.grids import Grid
    from ridgerule.tables.keys import Told
    from ridgerule.tables.mappings import Mapped


class Import(Struct, frozen=True):
    """What tables come to: a record, and what was done to it."""

    data: Mapping[str, Data]
    changes: tuple[Change, ...]
    document: Document | None
    """The record that they were put into; None for a new one."""

    def label(self, change: Change) -> str:
        """Return the place or station of a change as a report names it."""
        return label_at({**self.data}, change.path)


def rulebooks_in(
    grids: Iterable[Grid], mapped: Mapped, vocabulary: Vocabulary
) -> tuple[tuple[str, Location], ...]:
    """Return the rulebooks that tables of readings name, before their facts can be read.

    Each comes with its cell. Tables that can't be read say none; what is wrong with them is told
    when they are.
    """
    names: dict[str, Location] = {}
    for grid in grids:
        try:
            layout = layout_of(grid, mapped, vocabulary)
        except InputRejected:
            continue
        if layout is not None and layout.rows == READINGS:
            rows = ReadingRows(layout, Known({}, vocabulary), mapped.words)
            said = (each for each in rows.told() if each.spot.section == RULEBOOKS)
            names |= {words_in(each.data): each.where for each in said}
    return tuple(names.items())


def imported(
    grids: Sequence[Grid],
    vocabulary: Vocabulary,
    *,
    into: Document | None = None,
    mapped: Mapped = NOTHING_MAPPED,
    replace: bool = False,
) -> Import:
    """Return the record that tables come to, put into the record `into` if there is one.

    Raises `InputRejected` with every cell that can't be read or put in; nothing comes of tables
    with one.
    """
    told, problems = _told(grids, vocabulary, into, mapped)
    begins = grids[0].location() if grids else Location("TABLE")
    if not told and not problems:
        advice = "fill in values, or check `--sheet` and the header"
        raise InputRejected([Problem(begins, "readings", "none in these tables", advice)])
    draft = merged(told, into, vocabulary, replace=replace)
    _check(draft, vocabulary, begins, problems)
    return Import(_finished(draft, into), tuple(draft.changes), into)


def _check(
    draft: Draft, vocabulary: Vocabulary, begins: Location, problems: Sequence[Problem]
) -> None:
    """Return where a draft is a record; raises `InputRejected` with all that is wrong with it.

    `problems` are those of the cells that it was made of. Of one cell no more is told by whoever
    comes later.
    """
    roof = draft.mapping(("roof",))
    if not roof.get("id"):
        advice = (
            "add a row with `roof` under `section`, `id` under `fact` and the id under `value`, or "
            "put the tables into a record with `--into`"
        )
        draft.tell(begins, "the roof's id", "none in these tables", advice)
        roof["id"] = "none"  # so that what else is wrong is told as well
    found = [*problems]
    for later in (draft.problems, _problems_of(located(draft, begins), vocabulary)):
        told = {problem.location for problem in found}
        found += [problem for problem in later if problem.location not in told]
    if found:
        raise InputRejected(sorted(set(found))[:MOST_PROBLEMS])


def _problems_of(document: Document, vocabulary: Vocabulary) -> tuple[Problem, ...]:
    try:
        read_record(document, vocabulary)
    except InputRejected as rejected:
        return rejected.problems
    return ()


def written(done: Import, text: str = "") -> str:
    """Return the record as a text; `text` is that of the record that tables were put into.

    A record in JSON is written as JSON. Raises `RuntimeError` where what is written would not read
    back as the same record, which is a fault of ours.
    """
    name = "record.yaml" if done.document is None else done.document.name
    data = {**done.data}
    if done.document is None:
        new = record_text(data)
    elif name.lower().endswith(".json"):
        new = json.dumps(data, ensure_ascii=False, indent=2) + "\n"
    else:
        lines = text.removeprefix(_MARK).replace("\r\n", "\n").replace("\r", "\n")
        new = patched(lines, mapping_in(done.document.data), data)
        if "\r\n" in text:
            new = new.replace("\n", "\r\n")
        new = f"{_MARK}{new}" if text.startswith(_MARK) else new
    if read_document(new.encode(), name=name).data != data:
        raise RuntimeError("the record that was written does not read back as the same")
    return new


_MARK = "\ufeff"
"""A byte-order mark, which some editors put before a text."""


def _told(
    grids: Sequence[Grid], vocabulary: Vocabulary, into: Document | None, mapped: Mapped
) -> tuple[list[Told], list[Problem]]:
    """Return all that tables say, and what is wrong with their cells.

    Raises `InputRejected` where a header can't be read: of what is under it nothing can be said.
    """
    problems: list[Problem] = []
    layouts: list[Layout] = []
    for grid in grids:
        try:
            layout = layout_of(grid, mapped, vocabulary)
        except InputRejected as rejected:
            problems.extend(rejected.problems)
        else:
            layouts += [layout] if layout is not None else []
    titles = [title for grid in grids for title in titles_in(grid, mapped)]
    problems += unused_titles(mapped, map(one_spelling, titles), titles)
    has_headers = not problems
    known = _known(layouts, vocabulary, into)
    told: list[Told] = []
    for layout in layouts:
        kind = ReadingRows if layout.rows == READINGS else PlaceRows
        rows = kind(layout, known, mapped.words)
        told += rows.told()
        problems += [*_misnamed(layout), *rows.problems]
    if not has_headers:
        raise InputRejected(sorted(set(problems))[:MOST_PROBLEMS])
    return told, problems


_NAMING = (Role.SECTION, Role.PLACE, Role.STATION, Role.SIDE, Role.FACT, Role.UNIT)


def _misnamed(layout: Layout) -> Iterator[Problem]:
    """Yield the cells that name something and hold a formula, a date or the like."""
    for row in layout.grid.rows:
        for column in layout.of(*_NAMING) if row.number > layout.header else ():
            if column.index in row.cells:
                found = data_of(row.cells[column.index], Asked(Form.WORDS))
                if isinstance(found, Mistake):
                    where = layout.grid.location(row.number, column.index)
                    yield Problem(where, found.expected, found.found, found.advice)


def _known(layouts: Sequence[Layout], vocabulary: Vocabulary, into: Document | None) -> Known:
    """Return the places of a record, and those that tables name with their sections."""
    data = mapping_in(into.data) if into is not None else {}
    listed = [(s, id_) for s in PLACE_SECTIONS for id_ in mapping_in(data.get(s))]
    named: list[tuple[str, str]] = []
    for layout in layouts:
        places = [*_places_of(layout, Known({}, vocabulary))]
        (listed if layout.rows in PLACE_SECTIONS else named).extend(places)
    kinds = {
        id_: words_in(kind)
        for id_, line in mapping_in(data.get("lines")).items()
        if not unknown_reason(kind := mapping_in(line).get("kind"))
    }
    return Known(_by_id([*listed, *named]), vocabulary, _by_id(listed), kinds)


def _by_id(places: Iterable[tuple[str, str]]) -> Mapping[str, frozenset[str]]:
    """Return the sections of places by their ids."""
    found: dict[str, set[str]] = {}
    for section, id_ in places:
        found.setdefault(id_, set()).add(section)
    return {id_: frozenset(sections) for id_, sections in found.items()}


def _places_of(layout: Layout, known: Known) -> Iterator[tuple[str, str]]:
    """Yield the places that a table names with the sections they are in."""
    columns = layout.of(Role.PLACE)
    sections = layout.of(Role.SECTION)
    for row in layout.grid.rows:
        for column in columns if row.number > layout.header else ():
            said = known.section(row.text(sections[0].index)) if sections else column.section
            section = said if isinstance(said, str) and said else column.section
            if layout.rows in PLACE_SECTIONS:
                section = layout.rows
            if section in PLACE_SECTIONS and row.text(column.index):
                yield section, " ".join(row.text(column.index).split())


_FIRST = ("at", "kind", "of", "name", "plane", "planes", "between", "line", "from", "plan", "only")
_LAST = ("note", "photo", "stations")


def _finished(draft: Draft, into: Document | None) -> Mapping[str, Data]:
    """Return a record whose new places and stations are laid out as a person would write them."""
    data = draft.data
    new = {c.path for c in draft.changes if c.did in (Did.NEW_PLACE, Did.NEW_STATION)}
    for path in sorted(new, key=len):
        place = draft.mapping(path)
        ordered = {key: place[key] for key in sorted(place, key=_order)}
        place.clear()
        place.update(ordered)
    for section in (*PLACE_SECTIONS, INSTRUMENTS):
        before = mapping_in(mapping_in(into.data).get(section)) if into is not None else {}
        places = mapping_in(data.get(section))
        for id_, place_data in places.items():
            if place_data == {} and id_ not in before:
                places[id_] = None  # written as the id alone
    return data


def _order(key: str) -> int:
    if key in _FIRST:
        return _FIRST.index(key)
    return len(_FIRST) + (1 + _LAST.index(key) if key in _LAST else 0)
