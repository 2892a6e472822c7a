"""JSON Schema (2020-12) checks -> located problems in plain words.

Beside `pattern`, `type`, `anyOf` and the like, a schema of ours may say `expects`: what is asked
for in words ("a date such as 2026-03-02"). It is told instead of what the keyword itself says.
"""

from __future__ import annotations

import json
import re
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Literal, cast

from jsonschema import Draft202012Validator
from msgspec import Struct

from ridgerule.plain_data import MOST_PROBLEMS
from ridgerule.problems import Problem, shown, suggestion
from ridgerule.shipped import shipped

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from jsonschema.exceptions import ValidationError

    from ridgerule.documents import Data, Document, Path

MOST_NAMED = 8
"""Names listed in a message before the rest become "…"."""
LONGEST_SUGGESTED = 100
"""A key or word longer than this was meant for none that is known."""

_TYPES = {
    "array": "a list",
    "boolean": "yes or no (true or false)",
    "integer": "a whole number",
    "null": "nothing",
    "number": "a number",
    "object": "a mapping",
    "string": "text",
}


Kind = Literal["record", "rulebook", "report"]
_KINDS: tuple[Kind, ...] = ("record", "rulebook", "report")


def check(document: Document, schema: Kind) -> tuple[Problem, ...]:
    """Return what `document` does otherwise than the schema asks, in the order of its places.

    A file of another kind is told as that alone. Raises FileNotFoundError where the schema did
    not come with the installation.
    """
    if (other := _other_kind(document, schema)) is not None:
        expected = f"a {schema}: a mapping that starts with `{schema}:`"
        where = document.key_location((other,))
        return (Problem(where, expected, f"a {other}", _WHERE[other]),)
    return _problems(document, _validator(schema))


_WHERE: Mapping[Kind, str] = {
    "record": "a record is what `ridgerule audit` is given",
    "rulebook": "a rulebook goes after `--against`",
    "report": "a report is what comes out",
}


def is_kind(document: Document, schema: Kind) -> bool:
    """Tell whether a file is meant as a record, a rulebook or a report, rather than another."""
    return isinstance(document.data, dict) and _other_kind(document, schema) is None


def _other_kind(document: Document, schema: Kind) -> Kind | None:
    """Return what the first key says a file is, where that is not what the schema is for."""
    data = document.data
    if not isinstance(data, dict) or schema in data:
        return None
    return next((kind for kind in _KINDS if kind in data), None)


def problems_of(document: Document, schema_data: dict[str, Any]) -> tuple[Problem, ...]:
    """Return what `document` does otherwise than the schema given as data asks."""
    return _problems(document, Draft202012Validator(schema_data))


@lru_cache
def _validator(schema: str) -> Draft202012Validator:
    text = (shipped("schemas") / f"{schema}.schema.json").read_text("utf-8")
    return Draft202012Validator(json.loads(text))


class _Mistake(Struct, frozen=True):
    """An error of the library, with the parts of it that messages are made of."""

    keyword: str
    """The keyword of JSON Schema that is not met."""
    asked: Any
    """What the keyword asks for."""
    schema: Mapping[str, Any]
    """The part of the schema that the keyword stands in."""
    value: Any
    path: Path
    """From the root of the document to the value."""
    steps: Path
    """The end of `path` that leads from the value of `outer` to this one."""
    branch: str | int
    """Which of the alternatives of `outer` this was found in."""
    message: str
    context: tuple[ValidationError, ...]
    outer: _Mistake | None

    @classmethod
    def of(cls, error: ValidationError, outer: _Mistake | None = None) -> _Mistake:
        """Return the mistake that an error of the library tells of."""
        is_written = isinstance(error.schema, dict)  # `false` is a schema too
        return cls(
            keyword=str(error.validator) if is_written else "false",
            asked=error.validator_value,
            schema=cast("dict[str, Any]", error.schema) if is_written else {},
            value=error.instance,
            path=tuple(error.absolute_path),
            steps=tuple(error.relative_path),
            branch=error.relative_schema_path[0] if error.relative_schema_path else 0,
            message=error.message,
            context=tuple(error.context or ()),
            outer=outer,
        )

    @property
    def inside(self) -> Iterator[_Mistake]:
        """The mistakes in each of the alternatives, none of which took the value."""
        return (_Mistake.of(inner, self) for inner in self.context)


def _problems(document: Document, validator: Draft202012Validator) -> tuple[Problem, ...]:
    found: set[Problem] = set()
    for problem in _all_told(document, validator):
        found.add(problem)
        if len(found) == MOST_PROBLEMS:
            break  # as in reading: a file with more than these is not of the kind
    return tuple(sorted(found))


def _all_told(document: Document, validator: Draft202012Validator) -> Iterator[Problem]:
    for error in validator.iter_errors(document.data):
        for mistake in _nearest(_Mistake.of(error)):
            yield from _told(document, mistake)


def _nearest(mistake: _Mistake) -> Iterator[_Mistake]:
    """Yield the mistakes behind an error: of alternatives, those of the one that comes nearest.

    Yields the error itself where the value is of a kind that no alternative takes.
    """
    branches: dict[str | int, list[_Mistake]] = {}
    for inner in mistake.inside:
        branches.setdefault(inner.branch, []).append(inner)
    near = [inners for inners in branches.values() if not any(map(_is_of_another_kind, inners))]
    if not near:
        yield mistake
        return
    for inner in min(near, key=_distance):
        yield from _nearest(inner)


def _is_of_another_kind(mistake: _Mistake) -> bool:
    """Whether the value is none of what this alternative is for (a list where it takes text)."""
    return mistake.keyword in ("type", "const", "enum") and not mistake.steps


def _distance(mistakes: list[_Mistake]) -> tuple[int, int]:
    """Return how far a value is from an alternative with these mistakes, in no unit.

    A mistake deeper inside says less against the alternative than one at its own level, save a
    key such as `kind` that is to be one word: it tells the alternatives apart.
    """
    at_level = sum(2 if m.keyword == "const" else not m.steps for m in mistakes)
    unlike = sum(not _has_near_key(m) for m in mistakes if m.keyword in _UNKNOWN_KEYS)
    return at_level + unlike, len(mistakes)


_UNKNOWN_KEYS = ("additionalProperties", "unevaluatedProperties")


def _told(document: Document, mistake: _Mistake) -> Iterator[Problem]:
    """Yield the problems one mistake comes to."""
    path: Path = mistake.path
    if mistake.keyword in _UNKNOWN_KEYS:
        yield from _told_unknown_keys(document, path, mistake)
    elif mistake.keyword == "required":
        for key in _absent(mistake.asked, mistake):
            found = f"{_holder(path)} without it"
            yield Problem(document.location(path), f"the key `{key}`", found)
    elif mistake.keyword == "dependentRequired":
        for key, needed in mistake.asked.items():
            for other in _absent(needed, mistake) if key in mistake.value else ():
                expected = f"the key `{other}` beside `{key}`"
                yield Problem(document.location(path), expected, f"{_holder(path)} without it")
    else:
        yield _told_value(document, path, mistake)


def _holder(path: Path) -> str:
    """Return in words what a key is missing from."""
    if not path:
        return "a file"
    return "an item" if isinstance(path[-1], int) else f"`{shown(path[-1])}`"


def _absent(needed: Iterable[str], mistake: _Mistake) -> Iterator[str]:
    return (key for key in needed if key not in mistake.value)


def _told_unknown_keys(document: Document, path: Path, mistake: _Mistake) -> Iterator[Problem]:
    known = [k for k in mistake.schema.get("properties", ()) if k not in mistake.value]
    expected = f"one of the keys {_listed(known)}" if known else "no other key here"
    for key in _unknown_keys(mistake):
        yield Problem(
            document.key_location((*path, key)),
            expected,
            f"the key `{shown(key)}`",
            _suggested(key, known),
        )


def _unknown_keys(mistake: _Mistake) -> list[str]:
    """Return the keys that the schema does not know, in the order they are written in."""
    if mistake.keyword == "unevaluatedProperties":
        # Which keys other parts of the schema have evaluated, only the library's message says.
        return [key for key in mistake.value if repr(key) in mistake.message]
    patterns = mistake.schema.get("patternProperties", ())
    known = mistake.schema.get("properties", ())
    return [
        key
        for key in mistake.value
        if key not in known and not any(re.search(p, key) for p in patterns)
    ]


def _has_near_key(mistake: _Mistake) -> bool:
    """Tell whether one of the unknown keys, of the first so many, looks like a known one."""
    known = mistake.schema.get("properties", ())
    return any(_suggested(key, known) for key in _unknown_keys(mistake)[:MOST_PROBLEMS])


def _suggested(word: str, known: Iterable[str]) -> str:
    return suggestion(word, known) if len(word) <= LONGEST_SUGGESTED else ""


def _told_value(document: Document, path: Path, mistake: _Mistake) -> Problem:
    expected = _expects(mistake) or _expected(mistake)
    found, advice = _found(mistake.value), ""
    location = document.location(path)
    if isinstance(mistake.value, str):
        if _is_mapping_at(document.data, path):
            # The schema speaks of a key's own name.
            location = document.key_location((*path, mistake.value))
            found = f"the key {found}"
        advice = _suggested(mistake.value, _words(mistake))
    elif mistake.keyword == "uniqueItems":
        again = _first_repeated(mistake.value)
        location = document.location((*path, again))
        found = f"{_found(mistake.value[again])} again"
    elif _takes_text(mistake) and isinstance(mistake.value, int):
        advice = "put quotes around it"
    return Problem(location, expected, found, advice)


def _expects(mistake: _Mistake) -> str:
    """Return what the schema says in words is expected, in the failing part or around it."""
    part: _Mistake | None = mistake
    while part is not None:
        if "expects" in part.schema:
            return str(part.schema["expects"])
        # The words around it speak of the same value only as long as the path has not moved.
        part = None if part.steps else part.outer
    return ""


def _expected(mistake: _Mistake) -> str:
    """Return in words what a keyword of JSON Schema asks for."""
    asked = mistake.asked
    told = f"a value that meets `{mistake.keyword}` of the schema"
    match mistake.keyword:
        case "type":
            told = _one_of([_TYPES[k] for k in ([asked] if isinstance(asked, str) else asked)])
        case "const":
            told = _found(asked)
        case "enum":
            # That it may be left blank is no help to someone who wrote something.
            words = [word for word in asked if word is not None] or asked
            told = f"one of {_listed(words)}" if len(words) > 1 else _found(words[0])
        case "anyOf" | "oneOf" if mistake.context:
            kinds = [_expects(m) or _expected(m) for m in mistake.inside if _is_of_another_kind(m)]
            told = _one_of(list(dict.fromkeys(kinds)))
        case "oneOf":
            told = "only one of the forms that may stand here"
        case "pattern":
            told = f"text of the form `{asked}`"
        case "uniqueItems":
            told = "each item once"
        case "false":
            told = "nothing here"
        case keyword if keyword in _BOUNDS:
            bound, one, more = _BOUNDS[keyword]
            told = f"{bound} {asked} {one if asked == 1 else more}".rstrip()
    return told


_BOUNDS = {
    "minLength": ("at least", "character", "characters"),
    "maxLength": ("at most", "character", "characters"),
    "minItems": ("at least", "item", "items"),
    "maxItems": ("at most", "item", "items"),
    "minProperties": ("at least", "key", "keys"),
    "maxProperties": ("at most", "key", "keys"),
    "minimum": ("at least", "", ""),
    "maximum": ("at most", "", ""),
    "exclusiveMinimum": ("more than", "", ""),
    "exclusiveMaximum": ("less than", "", ""),
}


def _found(value: Data) -> str:
    """Return in words what was found."""
    match value:
        case None:
            return "nothing"
        case bool():
            return "`true`" if value else "`false`"
        case int():
            return f"the whole number `{value}`"
        case str():
            return f"`{shown(value)}`" if value else "an empty text"
        case list():
            return f"a list of {len(value)}" if value else "an empty list"
        case _:
            return f"a mapping with the keys {_listed(value)}" if value else "an empty mapping"


def _words(mistake: _Mistake) -> list[str]:
    """Return the words the failing part of the schema would have taken."""
    if mistake.keyword == "enum":
        return [word for word in mistake.asked if isinstance(word, str)]
    if mistake.keyword == "const":
        return [mistake.asked] if isinstance(mistake.asked, str) else []
    return [word for inner in mistake.inside for word in _words(inner)]


def _takes_text(mistake: _Mistake) -> bool:
    if mistake.keyword == "type":
        return "string" in mistake.asked
    return any(map(_takes_text, mistake.inside))


def _is_mapping_at(data: Data, path: Path) -> bool:
    inside: Any = data
    for step in path:
        inside = inside[step]
    return isinstance(inside, dict)


def _first_repeated(items: list[Data]) -> int:
    """Return the index of the first item that stands in the list before."""
    return next(i for i, item in enumerate(items) if item in items[:i])


def _listed(words: Iterable[object]) -> str:
    """Return words as a message lists them, cut when there are many."""
    names = [f"`{_plain(word)}`" for word in words]
    return ", ".join(names if len(names) <= MOST_NAMED else [*names[:MOST_NAMED], "…"])


def _plain(word: object) -> str:
    return shown(word if isinstance(word, str) else json.dumps(word))


def _one_of(phrases: list[str]) -> str:
    """Return phrases joined as a sentence joins alternatives."""
    *first, last = phrases
    return f"{', '.join(first)} or {last}" if first else last
