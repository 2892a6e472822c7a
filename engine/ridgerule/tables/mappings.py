"""A mapping file: what the columns of somebody's own table mean.

```yaml
header: 3                # the row that names the columns; else the first that is not blank
rows: stations           # what one row is: readings, stations, lines, planes, joints …
columns:
  "Hip/ridge": line
  "Gap (in)": {fact: station.gap, unit: in}
  "Method": {fact: station.gap, part: how}
  "Initials": ignore
words:
  unknown: ["?", n/a]    # what stands for yes, no, unknown and can't reach
```
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.plain_data import items_in, mapping_in, words_in
from ridgerule.problems import InputRejected, Location, Problem, shown, suggestion
from ridgerule.tables.keys import PLACE_SECTIONS, Part

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from ridgerule.documents import Data, Document, Path

READINGS = "readings"
STATIONS = "stations"
ROW_KINDS = (READINGS, STATIONS, *PLACE_SECTIONS)
"""What one row of a table can be."""
IGNORE = "ignore"
MEANT = ("yes", "no", "unknown", "can't reach")
"""What words of one's own can stand for."""

_KEYS = ("header", "rows", "columns", "words")
_COLUMN_KEYS = ("fact", "column", "unit", "side", "part")


class Meaning(Struct, frozen=True):
    """What a mapping says of one column."""

    name: str
    """A fact, or a column by the name that our own tables give it."""
    where: Location
    unit: str = ""
    side: str = ""
    part: str = ""


class Mapped(Struct, frozen=True):
    """What a mapping file says."""

    columns: Mapping[str, Meaning] = MappingProxyType({})
    """By the columns' titles, in one spelling."""
    titles: Mapping[str, tuple[str, Location]] = MappingProxyType({})
    """The same titles as they were written, and where."""
    words: Mapping[str, str] = MappingProxyType({})
    """By words in lower case, what they stand for."""
    rows: str = ""
    header: int = 0


NOTHING_MAPPED = Mapped()


def one_spelling(title: str) -> str:
    """Return a column's title without regard to capitals, underscores and breaks in it."""
    return " ".join(title.casefold().replace("_", " ").split())


def read_mapping(document: Document) -> Mapped:
    """Return what a mapping file says; raises `InputRejected` with all that is wrong with it."""
    reader = _Reader(document)
    mapped = reader.mapped()
    if reader.problems:
        raise InputRejected(reader.problems)
    return mapped


class _Reader:
    """Reads one mapping; keeps the problems it meets so that all are told at once."""

    def __init__(self, document: Document) -> None:
        self._document = document
        self.problems: list[Problem] = []

    def mapped(self) -> Mapped:
        data = self._document.data
        if not isinstance(data, dict):
            self._tell(
                (), "a mapping file with `columns:`", "none", "see `ridgerule import --help`"
            )
            return NOTHING_MAPPED
        self._refuse_others(data, _KEYS, ())
        columns = mapping_in(data.get("columns"))
        if data.get("columns") is not None and not isinstance(data["columns"], dict):
            self._tell(("columns",), "what each column means, by its title", "something else", "")
        titles: dict[str, tuple[str, Location]] = {}
        meanings: dict[str, Meaning] = {}
        for title, raw in columns.items():
            meaning = self._meaning(raw, ("columns", title))
            if meaning is not None:
                meanings[one_spelling(title)] = meaning
                where = self._document.key_location(("columns", title))
                titles[one_spelling(title)] = (title, where)
        return Mapped(
            columns=MappingProxyType(meanings),
            titles=MappingProxyType(titles),
            words=MappingProxyType(dict(self._words(data.get("words")))),
            rows=self._rows(data.get("rows")),
            header=self._header(data.get("header")),
        )

    def _meaning(self, raw: Data, path: Path) -> Meaning | None:
        where = self._document.location(path)
        if isinstance(raw, str) and raw:
            return Meaning(raw, where)
        if not isinstance(raw, dict):
            told = "a fact such as `station.gap`, a column such as `position`, or `ignore`"
            self._tell(path, told, "something else", "write `{fact: station.gap, unit: in}`")
            return None
        self._refuse_others(raw, _COLUMN_KEYS, path)
        names = [words_in(raw[key]) for key in ("fact", "column") if key in raw]
        part = words_in(raw.get("part"))
        if len(names) != 1 or not names[0]:
            self._tell(path, "`fact:` or `column:`", "both" if len(names) > 1 else "neither", "")
            return None
        if part and part not in frozenset(Part):
            listed = ", ".join(f"`{each}`" for each in Part)
            advice = suggestion(part, Part)
            self._tell((*path, "part"), f"one of {listed}", f"`{shown(part)}`", advice)
        unit, side = words_in(raw.get("unit")), words_in(raw.get("side"))
        return Meaning(names[0], where, unit, side, part)

    def _words(self, data: Data) -> Iterable[tuple[str, str]]:
        words = mapping_in(data)
        self._refuse_others(words, MEANT, ("words",))
        for meant in MEANT:
            raw = words.get(meant)
            for word in items_in(raw) if isinstance(raw, list) else [raw]:
                if text := words_in(word):
                    yield " ".join(text.casefold().split()), meant

    def _rows(self, data: Data) -> str:
        rows = words_in(data)
        if data is not None and rows not in ROW_KINDS:
            listed = ", ".join(f"`{kind}`" for kind in ROW_KINDS)
            found = f"`{shown(data)}`"
            self._tell(("rows",), f"one of {listed}", found, suggestion(rows, ROW_KINDS))
        return rows

    def _header(self, data: Data) -> int:
        if data is None:
            return 0
        if not isinstance(data, int) or isinstance(data, bool) or data < 1:
            self._tell(("header",), "the number of a row, from 1", f"`{shown(data)}`", "")
            return 0
        return data

    def _refuse_others(self, data: Mapping[str, Data], known: tuple[str, ...], path: Path) -> None:
        for key in data:
            if key not in known:
                listed = ", ".join(f"`{each}`" for each in known)
                where = self._document.key_location((*path, key))
                advice = suggestion(key, known)
                problem = Problem(where, f"one of {listed}", f"`{shown(key)}`", advice)
                self.problems.append(problem)

    def _tell(self, path: Path, expected: str, found: str, advice: str) -> None:
        where = self._document.location(path)
        self.problems.append(Problem(where, expected, found, advice))


def unused_titles(
    mapped: Mapped, used: Iterable[str], titles: Iterable[str]
) -> tuple[Problem, ...]:
    """Return the titles of a mapping that no table has; `used` are those that one has."""
    known = frozenset(used)
    there = tuple(titles)
    return tuple(
        Problem(
            where,
            "a column of the tables",
            f"`{shown(title)}`",
            suggestion(title, there) or "take it out, or write it as the table does",
        )
        for spelling, (title, where) in mapped.titles.items()
        if spelling not in known
    )
