"""What tables say, put into a record: what it has is kept, what is missing is added.

Nothing is changed unless that was asked for; another value for a reading that the record has is
told with its cell and with the line of the record.
"""

from __future__ import annotations

import copy
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.facts import read_value
from ridgerule.misreadings import Mistake
from ridgerule.plain_data import items_in, mapping_in
from ridgerule.problems import shown
from ridgerule.record import unknown_reason
from ridgerule.tables.drafts import Change, Did, Draft, label_at
from ridgerule.tables.keys import INSTRUMENTS, NOT_SAID, Form, Part, Spot, Told, asked_of
from ridgerule.tables.placing import Placing
from ridgerule.tables.reading_data import (
    Usual,
    as_long,
    data_from,
    is_same,
    lengthened,
    parts_of,
    photos_together,
    words_of,
)
from ridgerule.tables.reading_rows import RULEBOOKS
from ridgerule.units import OFFERED, Dimension

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from ridgerule.documents import Data, Document, Path
    from ridgerule.facts import Fact, Vocabulary
    from ridgerule.tables.reading_data import Parts


_NO_UNIT = " without a unit"


class _Saying(Struct):
    """All that the tables say of one key at one place."""

    path: Path
    spot: Spot
    key: str
    side: str
    parts: dict[Part, Told]

    @property
    def what(self) -> str:
        return f"{self.key} ({self.side})" if self.side else self.key

    @property
    def first(self) -> Told:
        return next(iter(self.parts.values()))


def merged(
    told: Sequence[Told], document: Document | None, vocabulary: Vocabulary, *, replace: bool
) -> Draft:
    """Return a record with what tables say put into it, and all that was done to it.

    `document` is the record it is put into, None for a new one. With `replace`, a table's reading
    takes the place of another one that the record has. What can't be put in is among the draft's
    problems; what can't be read is put in all the same, for the record's reader to tell of.
    """
    base: Data = {"record": 1} if document is None else document.data
    draft = Draft(document, copy.deepcopy(mapping_in(base)), {}, {}, [], [])
    merger = _Merger(draft, vocabulary, told, replace=replace)
    merger.put_in(told)
    return draft


def _first_unit(fact: Fact) -> str:
    """Return a unit that a fact's bare numbers may be meant in."""
    return OFFERED[fact.dimension][0].strip() if isinstance(fact.dimension, Dimension) else ""


class _Merger:
    def __init__(
        self, draft: Draft, vocabulary: Vocabulary, told: Iterable[Told], *, replace: bool
    ) -> None:
        self._draft = draft
        self._vocabulary = vocabulary
        self._replace = replace
        self._placing = Placing(draft, told)
        named = (each.spot.place for each in told if each.spot.section == INSTRUMENTS)
        self._instruments = {*mapping_in(draft.data.get(INSTRUMENTS)), *named}

    def put_in(self, told: Iterable[Told]) -> None:
        for saying in self._sayings(told):
            asked = asked_of(self._vocabulary, saying.spot, saying.key)
            if asked.fact is not None:
                self._put_reading(saying, asked.fact)
            elif saying.key:
                self._put_plain(saying, asked.form)

    def _sayings(self, told: Iterable[Told]) -> list[_Saying]:
        """Return what is said, put together by what it is said of; twice the same is once."""
        found: dict[tuple[object, ...], _Saying] = {}
        for each in told:
            path = self._placing.path_of(each)
            if path is None:
                continue
            if each.spot.section == RULEBOOKS:
                self._put_item(path, each)
                continue
            if (each.spot.section, each.key) == ("complete", "apart"):
                self._put_item((*path, each.key), each)
                continue
            key = (path, each.key, each.side)
            saying = found.setdefault(key, _Saying(path, each.spot, each.key, each.side, {}))
            first = saying.parts.setdefault(each.part, each)
            fact = asked_of(self._vocabulary, each.spot, each.key).fact
            if first is not each and not is_same(each.part, first.data, each.data, fact):
                self._tell_twice(saying, first, each)
        return [*found.values()]

    def _tell_twice(self, saying: _Saying, first: Told, second: Told) -> None:
        part = "" if second.part is Part.VALUE else f" {second.part}"
        told = f"one{part or ' value'} for `{saying.what}` at {self._label(saying)}"
        one, other = words_of(first.data), words_of(second.data)
        found = f"`{shown(other)}`, and `{shown(one)}` in {first.where}"
        advice = "mend one of them; repeats of a reading go into a column `repeats`"
        self._draft.tell(second.where, told, found, advice)

    def _put_item(self, path: Path, told: Told) -> None:
        """Put an item into a list of the record, unless it is in it."""
        listed = items_in(self._draft.node(path))
        if not any(is_same(Part.NOTE, item, told.data, None) for item in listed):
            self._draft.mapping(path[:-1])[str(path[-1])] = [*listed, told.data]
            self._draft.origins[(*path, len(listed))] = told.where
            what = "apart" if len(path) > 1 else ""
            change = Change(Did.ADDED, path[:1], what, "", words_of(told.data), told.where)
            self._draft.changes.append(change)

    def _put_plain(self, saying: _Saying, form: Form) -> None:
        """Put in what is no reading: a name, the planes beside a line, a note, photos."""
        path, told = (*saying.path, saying.key), saying.first
        before = self._draft.node(path)
        is_blank = before is None or before == "" or (before == [] and saying.key != "only")
        if is_blank or (
            unknown_reason(before) and not is_same(Part.VALUE, before, told.data, None)
        ):
            self._put(Did.ADDED if is_blank else Did.ANSWERED, saying, path, told.data, before)
        elif form is Form.PHOTO:
            together = photos_together(before, told.data)
            if together != before:
                self._put(Did.MORE_SAID, saying, path, together, before)
        elif not is_same(Part.REPEATS, before, told.data, None):
            self._put_instead(saying, path, told, before)

    def _put_reading(self, saying: _Saying, fact: Fact) -> None:
        if (mistake := self._mistaken(saying, fact)) is not None:
            where = saying.parts[Part.VALUE].where
            self._draft.tell(where, mistake.expected, mistake.found, mistake.advice)
            if self._draft.node((*saying.path, saying.key)) is not None:
                return
        usual = Usual.of(fact, self._instruments)
        new = self._new(saying)
        path: Path = (*saying.path, saying.key)
        if saying.side:
            path = (*path, saying.side)
            whole = self._draft.node(path[:-1])
            if whole is not None and not isinstance(whole, dict):
                self._draft.mapping(path[:-2])[str(path[-2])] = {}  # unknown on every side so far
        before = self._draft.node(path)
        old = parts_of(before)
        if isinstance(before, dict) and before and fact.per_side and not saying.side:
            self._put_instead(saying, path, saying.first, before, data_from(new, usual))
        elif not old:
            self._put(Did.ADDED, saying, path, data_from(new, usual), None)
        elif self._is_other_value(new, old, fact):
            self._put_other_value(saying, path, data_from(new, usual), before)
        else:
            self._put_more(saying, path, fact, usual)

    @staticmethod
    def _mistaken(saying: _Saying, fact: Fact) -> Mistake | None:
        """Return why a table's value can't be read, said as whoever made the table can mend it."""
        told = saying.parts.get(Part.VALUE)
        if told is None or unknown_reason(told.data):
            return None
        if fact.per_side and not saying.side:
            advice = f"title columns `{fact.name} (S)`, or say it in a column `side`"
            expected = f"the side that `{fact.name}` is of"
            return Mistake(expected, f"`{shown(words_of(told.data))}` for both", advice)
        found = read_value(told.data, fact)
        if isinstance(found, Mistake) and found.found.endswith(_NO_UNIT):
            column = f"in the column's title, as in `{saying.what} [{_first_unit(fact)}]`"
            if told.cells.key is not None:
                column = "in a column `unit`"
            advice = f"{found.advice}, or give the unit {column}"
            return Mistake(found.expected, found.found, advice)
        return found if isinstance(found, Mistake) else None

    @staticmethod
    def _is_other_value(new: Parts, old: Parts, fact: Fact) -> bool:
        if Part.VALUE not in new:
            return False
        value = old.get(Part.VALUE)
        if (
            value is not None
            and unknown_reason(value)
            and unknown_reason(new[Part.VALUE]) == "unknown"
        ):
            return False  # as little known as before, and the record may say why
        return value is None or not is_same(Part.VALUE, value, new[Part.VALUE], fact)

    def _put_other_value(self, saying: _Saying, path: Path, data: Data, before: Data) -> None:
        """Put a reading in the place of another one.

        How that was known, and its photo, are not the new one's; an open point's note stays.
        """
        old = parts_of(before)
        value = old.get(Part.VALUE)
        if value is None or unknown_reason(value):
            if Part.NOTE in old and Part.NOTE not in parts_of(data):
                data = as_long({**self._long(saying, data), Part.NOTE: old[Part.NOTE]})
            is_answer = not unknown_reason(saying.parts[Part.VALUE].data)
            self._put(Did.ANSWERED if is_answer else Did.MORE_SAID, saying, path, data, before)
        else:
            self._put_instead(saying, path, saying.parts[Part.VALUE], before, data)

    def _long(self, saying: _Saying, data: Data) -> Parts:
        fact = asked_of(self._vocabulary, saying.spot, saying.key).fact
        if isinstance(data, dict) or fact is None:
            return parts_of(data)
        return lengthened(parts_of(data), Usual.of(fact, self._instruments))

    def _put_more(self, saying: _Saying, path: Path, fact: Fact, usual: Usual) -> None:
        """Put what more a table says of a reading beside what the record has of it."""
        before = self._draft.node(path)
        old = parts_of(before)
        found = dict(old) if isinstance(before, dict) else lengthened(old, usual)
        is_more = False
        for part, told in saying.parts.items():
            if part is Part.VALUE or told.data == NOT_SAID:
                continue
            if part is Part.PHOTO and part in old:
                found[part] = photos_together(old[part], told.data)
                is_more = is_more or found[part] != old[part]
            elif part in old and not is_same(part, old[part], told.data, fact):
                self._put_other_part(saying, told, path, data_from(self._new(saying), usual))
                return
            elif part not in old:
                found[part], is_more = told.data, True
        if is_more:
            self._put(Did.MORE_SAID, saying, path, as_long(found), before)

    def _put_other_part(self, saying: _Saying, told: Told, path: Path, data: Data) -> None:
        """Put a reading of the same value, known otherwise, in the place of another one.

        The other's `by` or photo would be said of the new one if they were kept.
        """
        before = self._draft.node(path)
        if self._replace:
            self._put(Did.CHANGED, saying, path, data, before)
        else:
            self._tell_other(saying, told, (*path, told.part), parts_of(before)[told.part])

    @staticmethod
    def _new(saying: _Saying) -> Parts:
        return {part: told.data for part, told in saying.parts.items()}

    def _put_instead(
        self, saying: _Saying, path: Path, told: Told, before: Data, data: Data = None
    ) -> None:
        """Put a value in the place of another one, if that was asked for; else tell of it."""
        if self._replace:
            self._put(Did.CHANGED, saying, path, told.data if data is None else data, before)
        else:
            self._tell_other(saying, told, path, before)

    def _tell_other(self, saying: _Saying, told: Told, path: Path, before: Data) -> None:
        part = f" the `{told.part}` of" if told.part is not Part.VALUE else ""
        said = self._draft.recorded_at(path)
        self._draft.tell(
            told.where,
            f"`{shown(words_of(before))}` for{part} `{saying.what}` at {self._label(saying)}, "
            f"as {said} says",
            f"`{shown(words_of(told.data))}`",
            "mend the cell, or let the tables count with `--replace`",
        )

    def _put(self, did: Did, saying: _Saying, path: Path, data: Data, before: Data) -> None:
        first = saying.first
        self._draft.put(path, data, first.where, first.cells.key)
        for part, told in saying.parts.items():
            self._draft.origins[(*path, str(part))] = told.where
        was = "" if before is None else words_of(before)
        change = Change(did, saying.path, saying.what, was, words_of(data), first.where)
        self._draft.changes.append(change)

    def _label(self, saying: _Saying) -> str:
        return label_at(self._draft.data, saying.path)
