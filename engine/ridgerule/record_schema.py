"""The JSON Schema of a record, made from a vocabulary so that editors complete every fact.

`schemas/record.schema.json` is this schema for the engine's own facts; a firm makes its own,
with the facts its rulebooks declare.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ridgerule.coordinates import MOST_POINTS
from ridgerule.facts import SECTIONS, Element, Fact, How, LineKind, Plain, Vocabulary
from ridgerule.quantities import Dimension
from ridgerule.record import COMPLETE_KEYS

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

Schema = dict[str, Any]

_EXAMPLES: Mapping[Dimension, str] = {
    Dimension.LENGTH: "3 1/16 in",
    Dimension.AREA: "120 ft2",
    Dimension.SLOPE: "7:12",
    Dimension.ANGLE: "120 deg",
    Dimension.TEMPERATURE: "68 degF",
    Dimension.COUNT: "2",
    Dimension.SHARE: "40 %",
}

_KIND_NOTES: Mapping[LineKind, str] = {
    LineKind.HIP: "two planes meet in an outside corner that slopes",
    LineKind.RIDGE: "two planes meet in a level top line",
    LineKind.VALLEY: "two planes meet in an inside corner",
    LineKind.EAVE: "lowest edge of one plane",
    LineKind.RAKE: "sloping edge of one plane, at a gable",
}

_PLANES = {"$ref": "#/$defs/names", "title": "Planes", "description": "Ids under `planes:`."}
_LINES = {"$ref": "#/$defs/names", "title": "Lines", "description": "Ids under `lines:`."}
_PLANE = {"$ref": "#/$defs/name", "title": "Plane", "description": "An id under `planes:`."}
_LINE = {"$ref": "#/$defs/name", "title": "Line", "description": "An id under `lines:`."}
_STATIONS = {
    "title": "Stations",
    "description": "The measured spots, each with its readings.",
    "type": ["array", "null"],
    "items": {"$ref": "#/$defs/station"},
}

_PLAN = {
    "title": "Points in plan, for the drawing",
    "description": "Each `[east, north]`, level, from one corner of the roof that all lines share; "
    "first the end that stations count from. They draw the roof to scale and change no verdict.",
    "type": ["array", "null"],
    "minItems": 2,
    "maxItems": MOST_POINTS,
    "expects": f"two points to {MOST_POINTS}, such as `[[0 ft, 0 ft], [18 ft 4 in, 12 ft]]`",
    "items": {
        "type": "array",
        "minItems": 2,
        "maxItems": 2,
        "items": {"type": ["string", "integer"], "expects": "a length such as `18 ft 4 in`"},
        "expects": "a point `[east, north]`, such as `[18 ft 4 in, 12 ft]`",
    },
    "examples": [[["0 ft", "0 ft"], ["18 ft 4 in", "12 ft"]]],
}

_STRUCTURE: Mapping[Element, Schema] = {
    Element.PLANE: {"stations": _STATIONS},
    Element.LINE: {
        "between": _PLANES
        | {"description": "The planes beside the line: two, or one at an eave or rake."},
        "from": {
            "$ref": "#/$defs/words",
            "title": "End that stations count from",
            "description": "For instance `eave`, or a plane or joint at that end.",
        },
        "plan": _PLAN,
        "stations": _STATIONS,
    },
    Element.STATION: {
        "at": {
            "$ref": "#/$defs/words",
            "title": "Where",
            "description": "On a line: distance from the named end, such as `2 ft`. On a plane: "
            "words, such as `third course, left`.",
        },
        "only": {
            "title": "Made for these facts alone",
            "description": "Names of station facts; without it every rule on stations asks here.",
            "type": ["array", "null"],
            "items": {"type": "string"},
        },
    },
    Element.JOINT: {"lines": _LINES},
    Element.OPENING: {"plane": _PLANE},
    Element.WALL: {"plane": _PLANE},
    Element.ATTIC: {"planes": _PLANES, "lines": _LINES},
    Element.DELIVERY: {"lines": _LINES},
    Element.SAMPLE: {"plane": _PLANE, "line": _LINE},
}


def record_schema(vocabulary: Vocabulary) -> Schema:
    """Return the schema (JSON Schema 2020-12) of a record read with `vocabulary`."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Record of a roof",
        "description": "What was seen and measured on one roof.",
        "type": "object",
        "expects": "a record: a mapping that starts with `record: 1`",
        "required": ["record", "roof"],
        "additionalProperties": False,
        "properties": {
            "record": {
                "const": 1,
                "expects": "`1`, the only form of a record there is",
                "title": "Version of the record's form",
                "description": "Always 1. A record of form 1 can be read for good.",
            },
            "roof": _roof(vocabulary),
            "dates": _roof_section("dates", "Days that count", vocabulary),
            "installation": _roof_section("installation", "Who laid the covering", vocabulary),
            "warranty": _roof_section("warranty", "State of the warranty", vocabulary),
            "inspection": _inspection(vocabulary),
            "complete": _complete(),
            "rulebooks": _rulebooks(),
            "instruments": _instruments(),
            **{section: _listed(element, section) for element, section in SECTIONS.items()},
        },
        "$defs": {
            **_definitions(),
            **{
                element.value: _element(element, vocabulary)
                for element in (*SECTIONS, Element.STATION)
            },
        },
    }


def _roof(vocabulary: Vocabulary) -> Schema:
    facts = [fact for fact in vocabulary.by_element[Element.ROOF].values() if not fact.section]
    return {
        "title": "The roof",
        "type": "object",
        "required": ["id"],
        "properties": {
            "id": {
                "type": ["string", "integer"],
                "title": "Id of the roof",
                "maxLength": 200,
                "minLength": 1,
                "expects": "an id for the roof",
            },
            "name": {"$ref": "#/$defs/words", "title": "Name of the building"},
            **_anywhere(),
            **_facts(facts),
        },
        "additionalProperties": {"$ref": "#/$defs/reading"},
    }


def _roof_section(section: str, title: str, vocabulary: Vocabulary) -> Schema:
    facts = vocabulary.by_element[Element.ROOF].values()
    return {
        "title": title,
        "type": ["object", "null"],
        "properties": {fact.key: _fact(fact) for fact in facts if fact.section == section},
        "additionalProperties": False,
    }


def _inspection(vocabulary: Vocabulary) -> Schema:
    schema = _roof_section("inspection", "The visit", vocabulary)
    words = {
        "inspector": "Who inspected and answers for it",
        "body": "Firm or office the inspector works for",
        "client": "Who asked for the inspection",
        "purpose": "What it is for",
        "method": "How it was done",
        "weather": "Weather during the visit",
        "access": "What could and could not be reached",
        "note": "Anything else",
    }
    for name, title in words.items():
        schema["properties"][name] = {"$ref": "#/$defs/words", "title": title}
    return schema


def _complete() -> Schema:
    said = {
        "enum": ["all", "none", "unknown", None],
        "description": "`all`: every one there is stands in this record. `none`: there is none.",
    }
    return {
        "title": "What the record lists in full",
        "description": "Without it a line nobody wrote down could hide, so the roof can't pass.",
        "type": ["object", "null"],
        "properties": {
            **{key: {**said, "title": f"Are all {key} listed?"} for key in COMPLETE_KEYS},
            "apart": {
                "title": "Planes that do not meet",
                "description": "Pairs of planes that face neighbouring ways and touch nowhere.",
                "type": ["array", "null"],
                "items": {
                    "type": "array",
                    "minItems": 2,
                    "maxItems": 2,
                    "items": {"type": ["string", "integer"]},
                    "expects": "a pair of planes, such as `[S, E]`",
                },
            },
        },
        "additionalProperties": False,
    }


def _rulebooks() -> Schema:
    return {
        "title": "Rulebooks to hold the roof against",
        "description": "Each `id` or `id@edition`; `--against` replaces the list.",
        "type": ["array", "null"],
        "items": {"type": "string", "minLength": 1, "maxLength": 200, "expects": "a rulebook's id"},
    }


def _instruments() -> Schema:
    figure = {"type": ["string", "integer", "null"], "expects": "a figure such as `1/16 in`"}
    return {
        "title": "What the readings were taken with",
        "type": ["object", "null"],
        "additionalProperties": {
            "type": ["object", "null"],
            "properties": {
                "graduation": {**figure, "title": "Smallest division"},
                "expanded_uncertainty": {
                    **figure,
                    "title": "Expanded uncertainty, about 95 %",
                    "description": "From its certificate or class (JCGM 100).",
                },
                "tape_class": {
                    "title": "Class printed on a tape",
                    "enum": ["I", "II", "III"],
                },
                "note": {"$ref": "#/$defs/words"},
            },
            "additionalProperties": False,
        },
    }


def _listed(element: Element, section: str) -> Schema:
    return {
        "title": section.capitalize(),
        "description": f"Each {element}, under an id of its own.",
        "type": ["object", "null"],
        "expects": f"each {element} under an id of its own",
        "propertyNames": {"$ref": "#/$defs/id"},
        "additionalProperties": {"$ref": f"#/$defs/{element}"},
    }


def _element(element: Element, vocabulary: Vocabulary) -> Schema:
    named = {} if element is Element.STATION else {"name": {"$ref": "#/$defs/words"}}
    return {
        "title": element.value.capitalize(),
        "type": ["object", "null"],
        "properties": {
            **named,
            **_STRUCTURE[element],
            **_anywhere(),
            **_facts(vocabulary.by_element[element].values()),
        },
        "additionalProperties": {"$ref": "#/$defs/reading"},
    }


def _anywhere() -> Schema:
    return {
        "note": {"$ref": "#/$defs/words", "title": "Note"},
        "photo": {"$ref": "#/$defs/photo"},
    }


def _facts(facts: Iterable[Fact]) -> Schema:
    """Return the schemas of facts that can be recorded; a computed one never is."""
    return {fact.name: _fact(fact) for fact in facts if fact.derivation is None}


def _fact(fact: Fact) -> Schema:
    """Return a fact's schema: its definition for the editor; its value is read by its type."""
    schema: Schema = {
        "$ref": "#/$defs/sides" if fact.per_side else "#/$defs/reading",
        "title": fact.ask or fact.name,
        "description": f"{fact.measure[0].upper()}{fact.measure[1:]}.",
    }
    if fact.choices:
        schema["examples"] = list(fact.choices)
    elif isinstance(fact.dimension, Dimension) and fact.dimension in _EXAMPLES:
        schema["examples"] = [_EXAMPLES[fact.dimension]]
    elif fact.dimension is Plain.YES_NO:
        schema["examples"] = ["yes", "no", "unknown"]
    elif fact.dimension is Plain.DATE:
        schema["examples"] = ["2026-03-02"]
    return schema


_SCALAR = ["string", "integer", "boolean", "null"]
_SOME_WORDS = {"$ref": "#/$defs/words"}

_READING: Schema = {
    "description": "The value alone, or with how it is known.",
    "type": [*_SCALAR, "object"],
    "expects": "a value, or a mapping with `value:`",
    "properties": {
        "value": {"type": _SCALAR, "title": "Value, or unknown", "expects": "a value"},
        "how": {
            "enum": [*How, None],
            "title": "How it is known",
            "description": "A finished roof hides most of what matters.",
        },
        "with": {**_SOME_WORDS, "title": "Instrument, by its name under `instruments:`"},
        "when": {**_SOME_WORDS, "title": "When it was read, if not on the visit"},
        "by": {**_SOME_WORDS, "title": "Who read or stated it"},
        "repeats": {
            "title": "Repeat readings of the same spot",
            "type": ["array", "null"],
            "items": {"type": ["string", "integer"], "expects": "a reading"},
        },
        "photo": {"$ref": "#/$defs/photo"},
        "note": _SOME_WORDS,
    },
    "additionalProperties": False,
}

_PHOTO: Schema = {
    "title": "Photo",
    "description": "File name beside the record, or several, or one with its digest.",
    "type": ["string", "array", "object", "null"],
    "items": {"$ref": "#/$defs/photo"},
    "properties": {
        "file": {"type": "string", "minLength": 1},
        "sha256": {"type": "string", "pattern": "^[0-9a-f]{64}$"},
        "note": _SOME_WORDS,
    },
    "additionalProperties": False,
    "expects": "a photo's file name",
}


def _definitions() -> Schema:
    return {
        "id": {
            "pattern": "^[A-Za-z0-9][A-Za-z0-9 _.-]{0,39}$",
            "expects": "an id of 1 to 40 letters, digits, spaces, `.`, `_` or `-`",
        },
        "words": {"type": ["string", "integer", "null"], "maxLength": 20000, "expects": "text"},
        "name": {"type": ["string", "integer", "null"], "maxLength": 40, "expects": "an id"},
        "names": {
            "type": ["array", "string", "integer", "null"],
            "items": {"type": ["string", "integer"], "expects": "an id"},
            "expects": "a list of ids, such as `[S, E]`",
        },
        "photo": _PHOTO,
        "reading": _READING,
        "sides": {
            "description": "Each side by itself, by the id of its plane.",
            "type": ["object", "string", "null"],
            "expects": "each side by itself, such as `{S: 2 in, E: 2 1/4 in}`",
            "additionalProperties": {"$ref": "#/$defs/reading"},
        },
    }


if __name__ == "__main__":
    import json
    import sys

    from ridgerule.vocabulary import VOCABULARY

    sys.stdout.write(json.dumps(record_schema(VOCABULARY), indent=2, ensure_ascii=False) + "\n")
