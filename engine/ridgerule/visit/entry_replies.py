"""What somebody types at a question: an answer, or a word that asks for something else.

The short words can be typed with gloves on. Text between double quotes is always an answer.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, TypeAlias

from msgspec import Struct

from ridgerule.facts import Fact, How, Plain, read_value
from ridgerule.plain_data import CONTROLS, MOST_TEXT, character
from ridgerule.problems import shown, suggestion
from ridgerule.quantities import Dimension, Mistake, Quantity, read
from ridgerule.record import UNKNOWN_WORDS
from ridgerule.visit.wording import either

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Mapping, Sequence


class Answer(Struct, frozen=True):
    """What is written down: one value, or one for each of several sides."""

    values: tuple[str, ...]


class KnownBy(Struct, frozen=True):
    """How an answer is known, and who said so where it was stated."""

    how: How
    by: str = ""


class Listed(Struct, frozen=True):
    """Names of planes or lines."""

    names: tuple[str, ...]


class Keep(Struct, frozen=True):
    """Keep what the record says already."""


class Back(Struct, frozen=True):
    """Go back to the question before."""


class Skip(Struct, frozen=True):
    """Leave the question for now."""


class Note(Struct, frozen=True):
    """A note on the place."""

    words: str


class Photo(Struct, frozen=True):
    """A photo's name."""

    name: str


class Quit(Struct, frozen=True):
    """Leave the visit."""


class Help(Struct, frozen=True):
    """Show how it is measured and what can be typed."""


class Instrument(Struct, frozen=True):
    """Choose the instrument again."""


Reply: TypeAlias = (
    Answer
    | KnownBy
    | Listed
    | Keep
    | Back
    | Skip
    | Note
    | Photo
    | Quit
    | Help
    | Instrument
    | Mistake
)

_WORDS: Mapping[str, Reply] = {
    "<": Back(),
    "back": Back(),
    "?": Help(),
    "help": Help(),
    "q": Quit(),
    "quit": Quit(),
    "skip": Skip(),
    "=": Keep(),
    "w": Instrument(),
    "u": Answer(("unknown",)),
    "r": Answer(("can't reach",)),
}
_UNKNOWN = {**UNKNOWN_WORDS, "cant reach": "can't reach"}
_WITH_WORDS: Mapping[str, str] = {"n": "note", "p": "photo"}
_BARE = re.compile(r"[-\N{MINUS SIGN}]?[0-9.,/½¼¾⅛⅜⅝⅞ -]*[0-9½¼¾⅛⅜⅝⅞.]")
_PARTS = re.compile(r"\s*[;|]\s*|\s*,\s+")
_YES_NO: Mapping[str, str] = {"y": "yes", "yes": "yes", "n": "no", "no": "no"}
_ALL_NONE: Mapping[str, str] = {"a": "all", "all": "all", "none": "none", "no": "none", "0": "none"}


def command_in(text: str, *, own: Sequence[str] = ()) -> Reply | None:
    """Return what a word asks for that is no answer to one question; None where it is one.

    Words in `own` are answers here, whatever else they could mean.
    """
    typed = " ".join(text.split())
    if not typed:
        return Skip()
    if (mistake := _unwritable(typed)) is not None:
        return mistake
    if typed in own:
        return None
    word = typed.casefold().replace("\N{RIGHT SINGLE QUOTATION MARK}", "'")
    known = Answer((_UNKNOWN[word],)) if word in _UNKNOWN else _WORDS.get(word)
    return known if known is not None else _with_words(typed)


def _unwritable(typed: str) -> Mistake | None:
    """Return why a line can stand in no record, None where it can."""
    if len(typed) > MOST_TEXT:
        return Mistake("a line of text", "a much longer one", "type it again, shorter")
    control = CONTROLS.search(typed)
    if control is None:
        return None
    return Mistake("a line of text", f"{character(control.group())} in it", "type it again")


def _with_words(typed: str) -> Reply | None:
    """Return the note or photo that a line gives, None where it gives neither."""
    first, _, rest = typed.partition(" ")
    kind = _WITH_WORDS.get(first.casefold())
    if kind is None:
        return None
    if not rest:
        return Mistake(f"a {kind} after `{first}`", "nothing", f"as in `{first} …`")
    return Note(rest) if kind == "note" else Photo(rest)


def read_fact(
    text: str, fact: Fact, *, unit: str = "", sides: int = 1, today: dt.date | None = None
) -> Reply:
    """Return what was typed at a question for a fact.

    A bare number takes `unit`. With several sides, one reading or one for each may be typed.
    """
    word = " ".join(text.split())
    is_word = fact.dimension is Plain.YES_NO and word.casefold() in _YES_NO
    if not is_word and (command := command_in(text, own=fact.choices)) is not None:
        return command
    parts = [part for part in _PARTS.split(word) if part] if sides > 1 else [word]
    if len(parts) > sides:
        return Mistake(f"{sides} readings at the most", str(len(parts)), "one for each side")
    values = [_value(part, fact, unit, today) for part in parts]
    mistake = next((value for value in values if isinstance(value, Mistake)), None)
    return mistake or Answer(tuple(value for value in values if isinstance(value, str)))


def _value(text: str, fact: Fact, unit: str, today: dt.date | None) -> str | Mistake:
    match fact.dimension:
        case Dimension():
            return _quantity(text, fact.dimension, unit)
        case Plain.YES_NO:
            told = _YES_NO.get(text.casefold())
            return told or Mistake("yes or no", f"`{shown(text)}`", "type y or n, or u for unknown")
        case Plain.CHOICE:
            return choice_in(text, fact.choices)
        case Plain.DATE:
            text = today.isoformat() if today and text.casefold() == "today" else text
            found = read_value(text, fact)
            return found if isinstance(found, Mistake) else text
        case Plain.TEXT:
            is_quoted = len(text) > 2 and text[0] == text[-1] == '"'
            return text[1:-1] if is_quoted else text


def _quantity(text: str, dimension: Dimension, unit: str) -> str | Mistake:
    """Return a reading as it was typed, with its unit."""
    found = read(text, dimension)
    if isinstance(found, Quantity):
        return found.text
    if unit and _BARE.fullmatch(text):
        joined = f"{text}{unit}" if unit.startswith(":") else f"{text} {unit}"
        found = read(joined, dimension)
        if isinstance(found, Quantity):
            return found.text
    return found


def numbered(choices: Sequence[str]) -> bool:
    """Tell whether choices may be named by number: not where a number is one of them."""
    return not any(choice.isdecimal() for choice in choices)


def choice_in(text: str, choices: Sequence[str]) -> str | Mistake:
    """Return the choice that was typed: its name, its number, or how it alone begins."""
    word = text.casefold()
    exact = [choice for choice in choices if choice.casefold() == word]
    if exact:
        return text if text in choices else exact[0]
    is_number = text.isascii() and text.isdecimal() and len(text) < 4
    if is_number and numbered(choices) and 1 <= int(text) <= len(choices):
        return choices[int(text) - 1]
    begun = [choice for choice in choices if choice.casefold().startswith(word)]
    if len(begun) == 1:
        return begun[0]
    told = either(begun or choices)
    return Mistake(f"one of {told}", f"`{shown(text)}`", suggestion(word, choices))


def read_how(text: str, ways: Sequence[How]) -> Reply:
    """Return how an answer is known, as it was typed: a way's name or number, `stated by NAME`."""
    if (command := command_in(text)) is not None:
        return command
    typed = " ".join(text.split())
    for i, way in enumerate(ways, start=1):
        if way is not How.STATED:
            continue
        match = re.fullmatch(rf"(?:{i}|stated)(?: by)?(?: (.+))?", typed, re.IGNORECASE)
        if match:
            by = match[1] or ""
            told = Mistake("who stated it", "nobody", f"type `{i} NAME`, or `stated by NAME`")
            return KnownBy(How.STATED, by) if by else told
    found = choice_in(typed, [way.value for way in ways])
    return found if isinstance(found, Mistake) else KnownBy(How(found))


def read_all_or_none(text: str) -> Reply:
    """Return `all` or `none`, as it was typed."""
    told = _ALL_NONE.get(text.strip().casefold())
    if told is not None:
        return Answer((told,))
    command = command_in(text)
    return command or Mistake("all, or none", f"`{shown(text)}`", "type a for all, 0 for none")


def read_names(text: str, known: Sequence[str]) -> Reply:
    """Return ids of planes or lines, as they were typed: parted by commas or spaces."""
    typed = " ".join(text.split())
    if typed not in known and (command := command_in(text)) is not None:
        return command
    names = [typed] if typed in known else re.split(r"\s*[,;]\s*| and | ", typed.strip(" ,;"))
    wrong = next((name for name in names if name not in known), None)
    if wrong is None:
        return Listed(tuple(dict.fromkeys(names)))
    near = suggestion(wrong, known)
    return Mistake(f"one of {either(known)}", f"`{shown(wrong)}`", near)


def read_spot(text: str, *, unit: str, is_length: bool) -> Reply:
    """Return where a station is: a distance along its line, or words on a plane."""
    if (command := command_in(text)) is not None:
        return command
    typed = " ".join(text.split())
    found = _quantity(typed, Dimension.LENGTH, unit) if is_length else typed
    return found if isinstance(found, Mistake) else Answer((found,))
