"""A cell -> what a record would hold: a value as it is written there, words, a list."""

from __future__ import annotations

from functools import partial
from types import MappingProxyType
from typing import TYPE_CHECKING

from ridgerule.facts import Fact, How, Plain
from ridgerule.formulas import unguarded
from ridgerule.plain_data import whole_or_text
from ridgerule.problems import shown, with_article
from ridgerule.quantities import Dimension, Mistake, read
from ridgerule.record import unknown_reason
from ridgerule.tables.grids import Cell, Holds
from ridgerule.tables.keys import NOT_SAID, Asked, Form
from ridgerule.tables.listed_text import split, split_points

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from ridgerule.documents import Data

NO_WORDS: Mapping[str, str] = MappingProxyType({})

_TYPED_AS_TEXT = "set the cell to text and type it again as it was read"


def data_of(cell: Cell, asked: Asked, words: Mapping[str, str] = NO_WORDS) -> Data | Mistake:
    """Return what a cell says, as a record would hold it, or what is wrong with it.

    `words` are those that stand for yes, no, unknown or can't reach, in lower case. Whether the
    record can hold it, the record's own reader says.
    """
    mistake = _mistaken(cell, asked)
    if mistake is not None:
        return mistake
    text = unguarded(cell.text)
    reader = _READERS.get(asked.form)
    if reader is not None:
        return reader(text)
    if asked.form is Form.POSITION:
        return _with_unit(text.strip(), Dimension.LENGTH, asked.unit)
    return (_repeats if asked.form is Form.REPEATS else _value)(text, asked, words)


def _mistaken(cell: Cell, asked: Asked) -> Mistake | None:
    """Return what is wrong with a cell that holds more or less than text."""
    is_value = asked.fact is not None and asked.form in (Form.FACT, Form.REPEATS)
    dimension = asked.fact.dimension if asked.fact is not None and is_value else None
    found, advice = "", _TYPED_AS_TEXT
    match cell.holds:
        case Holds.FORMULA:
            return Mistake("a value", "a formula", "paste its value in its place")
        case Holds.ERROR:
            return Mistake("a value", f"the error `{shown(cell.text)}`", "write what was read")
        case Holds.DATE if asked.form is not Form.DAY and dimension is not Plain.DATE:
            found = f"the date {cell.text}: the spreadsheet took what was typed for one"
        case Holds.TIME if asked.form is not Form.DAY:
            found = f"the time {cell.text}: the spreadsheet took what was typed for one"
        case Holds.YES_NO if dimension is not Plain.YES_NO:
            found = f"the logical value {'TRUE' if cell.text == 'yes' else 'FALSE'}"
        case _:
            pass  # text and numbers are what they show
    return Mistake(_expected(asked), found, advice) if found else None


def _expected(asked: Asked) -> str:
    if asked.fact is None or asked.form not in (Form.FACT, Form.REPEATS):
        return "a distance" if asked.form is Form.POSITION else str(asked.form)
    dimension = asked.fact.dimension
    kind = "one of its words" if dimension is Plain.CHOICE else with_article(str(dimension))
    if dimension in (Plain.YES_NO, Plain.TEXT):
        kind = "text" if dimension is Plain.TEXT else "`yes` or `no`"
    return f"{kind} for `{asked.fact.name}`"


def _value(text: str, asked: Asked, words: Mapping[str, str]) -> Data:
    """Return a value of a fact as it is written, with its column's unit where it has none."""
    fact = asked.fact
    if fact is None or fact.dimension is Plain.TEXT:
        return whole_or_text(text)
    text = text.strip()
    meant = words.get(" ".join(text.casefold().split()), "")
    if meant and (fact.dimension is Plain.YES_NO or unknown_reason(meant)):
        return meant
    if isinstance(fact.dimension, Dimension) and not unknown_reason(text):
        return _with_unit(text, fact.dimension, asked.unit)
    if fact.dimension is Plain.YES_NO:
        return _YES_NO.get(text.lower(), text)
    return whole_or_text(_choice(text, fact)) if fact.dimension is Plain.CHOICE else text


_YES_NO = {"yes": "yes", "true": "yes", "no": "no", "false": "no"}


def _choice(text: str, fact: Fact) -> str:
    """Return the choice that is written with other capitals, else the text itself."""
    if text in fact.choices:
        return text
    meant = [choice for choice in fact.choices if choice.casefold() == text.casefold()]
    return meant[0] if len(meant) == 1 else text


def _with_unit(text: str, dimension: Dimension, unit: str) -> Data:
    """Return a quantity as it is written; a bare number with the unit of its column."""
    if unit and isinstance(read(text, dimension), Mistake):
        ended = f"{text}{'' if unit.startswith(':') else ' '}{unit}"
        if not isinstance(read(ended, dimension), Mistake):
            return ended
    return whole_or_text(text)


def _how(text: str) -> Data:
    word = " ".join(text.casefold().split())
    return word if word in frozenset(How) or word == NOT_SAID else text.strip()


def _repeats(text: str, asked: Asked, words: Mapping[str, str]) -> Data | Mistake:
    found = split(text)
    if isinstance(found, Mistake):
        return found
    items = found if isinstance(found, list) else [found]
    return [_value(str(i), asked, words) if isinstance(i, (str, int)) else i for i in items]


def _pair(text: str) -> Data | Mistake:
    found = split(text, is_names=True)
    if isinstance(found, list) and len(found) == 2:
        return found
    return Mistake("a pair of planes, such as `S, E`", f"`{shown(text)}`", "name two planes")


_READERS: Mapping[Form, Callable[[str], Data | Mistake]] = MappingProxyType(
    {
        Form.WORDS: whole_or_text,
        Form.DAY: whole_or_text,
        Form.NAMES: partial(split, is_names=True),
        Form.PAIR: _pair,
        Form.PHOTO: split,
        Form.POINTS: split_points,
        Form.HOW: _how,
    }
)
"""How what is no value of a fact is read."""
