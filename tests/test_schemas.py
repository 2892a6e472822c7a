"""Schema checks: one placed problem in plain words for each mistake, none for a sound file."""

from __future__ import annotations

import json

import pytest

from ridgerule import schemas
from ridgerule.documents import read_document
from ridgerule.schemas import check, problems_of
from ridgerule.shipped import shipped

READING = {
    "anyOf": [
        {"const": "unknown"},
        {"type": "string", "maxLength": 9},
        {
            "type": "object",
            "properties": {"value": {"type": "string"}, "how": {"enum": ["measured", "seen"]}},
            "required": ["value"],
            "additionalProperties": False,
        },
    ]
}


def one_key(key: str, value: dict) -> dict:
    """Return the schema of a mapping with exactly one key."""
    return {
        "type": "object",
        "properties": {key: value},
        "required": [key],
        "additionalProperties": False,
    }


LIMIT = {
    "oneOf": [
        one_key("at_least", {"type": "string"}),
        one_key("at_most", {"type": "string"}),
        one_key("not", {"$ref": "#/$defs/limit"}),
    ]
}
PLACE = {
    "oneOf": [
        {"type": "object", "required": ["length"], "properties": {"kind": {"const": "hip"}}},
        {"type": "object", "required": ["slope"], "properties": {"kind": {"const": "plane"}}},
    ]
}
SCHEMA = {
    "type": "object",
    "additionalProperties": False,
    "patternProperties": {"^x_": {}},
    "properties": {
        "title": {"type": "string", "minLength": 1},
        "edition": {
            "type": "string",
            "pattern": r"^\d{4}-\d\d$",
            "expects": "an edition such as 2026-04",
        },
        "code": {"type": "string", "pattern": "^[a-z]+$"},
        "gap": {"$ref": "#/$defs/reading"},
        "photo": {
            "anyOf": [{"type": "string", "pattern": "[.]jpg$"}, {"type": "boolean"}],
            "expects": "a picture such as hip.jpg, or no",
        },
        "kind": {"enum": ["hip", "ridge", "valley"]},
        "record": {"const": 1},
        "vented": {"type": "boolean"},
        "count": {"anyOf": [{"type": "integer", "minimum": 1}, {"const": "none"}]},
        "between": {
            "type": "array",
            "items": {"type": "string"},
            "uniqueItems": True,
            "minItems": 2,
            "maxItems": 3,
        },
        "planes": {
            "type": "object",
            "minProperties": 1,
            "propertyNames": {"pattern": "^[A-Z]$", "expects": "a plane id: one capital"},
        },
        "limit": {"$ref": "#/$defs/limit"},
        "place": PLACE,
        "roof": {
            "type": "object",
            "if": {"required": ["hip"]},
            "then": {"required": ["ridge"]},
            "dependentRequired": {"lot": ["delivery"]},
        },
        "line": {
            "allOf": [{"properties": {"at": {"type": "string"}}}],
            "unevaluatedProperties": False,
        },
        "closed": False,
        "scope": {"type": "object", "not": {"required": ["all"]}},
    },
    "$defs": {"reading": READING, "limit": LIMIT},
}

ROOT_KEYS = "`edition`, `code`, `gap`, `photo`, `kind`, `record`, `vented`, `count`, …"
BROKEN = {
    "": ["1:1: expected a mapping; found nothing"],
    "- 1": ["1:1: expected a mapping; found a list of 1"],
    "title: x\nkindd: hip": [
        f"2:1: expected one of the keys {ROOT_KEYS}; found the key `kindd`; did you mean `kind`?"
    ],
    "title: ''": ["1:8: expected at least 1 character; found an empty text"],
    "title:": ["1:7: expected text; found nothing"],
    "title: 12": ["1:8: expected text; found the whole number `12`; put quotes around it"],
    "title: true": ["1:8: expected text; found `true`; put quotes around it"],
    "title: [a, b]": ["1:8: expected text; found a list of 2"],
    "title: {a: 1, b: 2}": ["1:8: expected text; found a mapping with the keys `a`, `b`"],
    "edition: 2026-4": ["1:10: expected an edition such as 2026-04; found `2026-4`"],
    "edition: 2026": [
        (
            "1:10: expected an edition such as 2026-04; found the whole number `2026`; "
            "put quotes around it"
        )
    ],
    "code: A1": ["1:7: expected text of the form `^[a-z]+$`; found `A1`"],
    "gap: {valu: 3 in, how: measurd}": [
        "1:6: expected the key `value`; found `gap` without it",
        "1:7: expected one of the keys `value`; found the key `valu`; did you mean `value`?",
        "1:24: expected one of `measured`, `seen`; found `measurd`; did you mean `measured`?",
    ],
    "gap: [1]": ["1:6: expected `unknown`, text or a mapping; found a list of 1"],
    "gap: 2 7/8 inches": ["1:6: expected at most 9 characters; found `2 7/8 inches`"],
    "photo: hip.png": ["1:8: expected a picture such as hip.jpg, or no; found `hip.png`"],
    "photo: []": ["1:8: expected a picture such as hip.jpg, or no; found an empty list"],
    "kind: hipp": [
        "1:7: expected one of `hip`, `ridge`, `valley`; found `hipp`; did you mean `hip`?"
    ],
    "record: 2": ["1:9: expected the whole number `1`; found the whole number `2`"],
    "vented: yes": ["1:9: expected yes or no (true or false); found `yes`"],
    "count: 0": ["1:8: expected at least 1; found the whole number `0`"],
    "count: non": ["1:8: expected a whole number or `none`; found `non`; did you mean `none`?"],
    "between: [S, E, S]": ["1:17: expected each item once; found `S` again"],
    "between: [S]": ["1:10: expected at least 2 items; found a list of 1"],
    "between: [S, E, N, W]": ["1:10: expected at most 3 items; found a list of 4"],
    "between: {}": ["1:10: expected a list; found an empty mapping"],
    "planes: {}": ["1:9: expected at least 1 key; found an empty mapping"],
    "planes: {S: 1, e: 2}": ["1:16: expected a plane id: one capital; found the key `e`"],
    "limit: {at_mots: 1 in}": [
        "1:8: expected the key `at_most`; found `limit` without it",
        "1:9: expected one of the keys `at_most`; found the key `at_mots`; did you mean `at_most`?",
    ],
    "limit: {not: {not: {at_most: 5}}}": [
        "1:30: expected text; found the whole number `5`; put quotes around it"
    ],
    "place: {kind: plane, length: 1 ft}": [
        "1:8: expected the key `slope`; found `place` without it"
    ],
    "roof: {hip: 1}": ["1:7: expected the key `ridge`; found `roof` without it"],
    "roof: {lot: 1}": ["1:7: expected the key `delivery` beside `lot`; found `roof` without it"],
    "line: {at: 2 ft, of: H1}": ["1:18: expected no other key here; found the key `of`"],
    # The library does not say which key a plain `false` refuses: told at the mapping.
    "closed: 1": ["1:1: expected nothing here; found the whole number `1`"],
    "scope: {all: 1}": [
        "1:8: expected a value that meets `not` of the schema; found a mapping with the keys `all`"
    ],
    "record: 2\nkind: 3\nvented: on": [
        "1:9: expected the whole number `1`; found the whole number `2`",
        "2:7: expected one of `hip`, `ridge`, `valley`; found the whole number `3`",
        "3:9: expected yes or no (true or false); found `on`",
    ],
}


def told(text: str, schema: dict) -> list[str]:
    """Return the messages of what `text` does otherwise than `schema` asks."""
    document = read_document(text.encode(), name="r.yaml")
    return [str(problem) for problem in problems_of(document, schema)]


@pytest.mark.parametrize("text", BROKEN)
def test_mistakes_are_told_in_whole_messages(text):
    """Each mistake is told once, at its place, with what was expected, found and to do."""
    assert told(text, SCHEMA) == [f"r.yaml:{message}" for message in BROKEN[text]]


def test_the_table_of_mistakes_is_whole():
    """No case of the table is lost, as one would be under a key written twice."""
    assert len(BROKEN) == 37


SOUND = """\
title: Gap
edition: 2026-04
gap: {value: 2 7/8 in, how: seen}
photo: false
kind: hip
record: 1
vented: true
count: none
between: [S, E]
planes: {S: 1}
limit: {not: {at_most: 1 in}}
place: {kind: plane, slope: 7:12}
roof: {hip: 1, ridge: 2, lot: 3, delivery: 4}
line: {at: 2 ft}
x_own: [1]
"""


def test_a_sound_file_has_no_problems():
    """What the schema allows is told nothing about."""
    assert told(SOUND, SCHEMA) == []


def test_the_deepest_document_is_checked():
    """A document as deep as reading allows, against a schema that refers to itself, is checked."""
    schema = {"$ref": "#/$defs/limit", "$defs": {"limit": LIMIT}}
    text = "{not: " * 63 + "{at_mots: 1 in}" + "}" * 63
    (missing, unknown) = told(text, schema)
    assert missing.endswith("expected the key `at_most`; found `not` without it")
    assert unknown.endswith("found the key `at_mots`; did you mean `at_most`?")


def test_check_reads_the_schema_that_ships(tmp_path, monkeypatch):
    """The schema of that name is read from the shipped folder, and its mistakes are told."""
    (tmp_path / "record.schema.json").write_text(json.dumps(SCHEMA), "utf-8")
    monkeypatch.setattr(schemas, "shipped", {"schemas": tmp_path}.__getitem__)
    schemas._validator.cache_clear()
    try:
        document = read_document(b"kind: hipp", name="r.yaml")
        assert [p.found for p in check(document, "record")] == ["`hipp`"]
    finally:
        schemas._validator.cache_clear()


def test_shipped_folders_are_found():
    """The folders that ship are there, in a checkout as in an installation."""
    assert shipped("schemas").name == "schemas"
    assert shipped("rulebooks").is_dir()


def test_an_incomplete_installation_says_so(tmp_path, monkeypatch):
    """A folder that should have come with the engine and did not is told as that."""
    monkeypatch.setattr("ridgerule.shipped._PACKAGE", tmp_path)
    monkeypatch.setattr("ridgerule.shipped._CHECKOUT", tmp_path)
    with pytest.raises(FileNotFoundError, match="incomplete: its demo folder is missing"):
        shipped("demo")
    (tmp_path / "fixtures" / "demo").mkdir(parents=True)
    assert shipped("demo") == tmp_path / "fixtures" / "demo"
    (tmp_path / "shipped" / "demo").mkdir(parents=True)
    assert shipped("demo") == tmp_path / "shipped" / "demo"
