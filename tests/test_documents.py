"""Reading texts: what the data comes to, where each part stands, and what is refused."""

from __future__ import annotations

import hashlib
import json
import pathlib
import time

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from ridgerule.documents import (
    MOST_BYTES,
    MOST_DEPTH,
    MOST_TEXT,
    Document,
    load_document,
    read_document,
)
from ridgerule.plain_data import ReadingStopped, Sheet
from ridgerule.problems import InputRejected, Location
from ridgerule.yaml_documents import read_yaml

QUOTE = "put quotes around the text"
LOST = f"which would be lost; {QUOTE}, or move the comment to a line of its own"
WRITTEN = "take it out; or, if it is text, put quotes around it"
COMMA = f"a comma ends a value inside {{…}}: {QUOTE} or use one line per key"
AGAIN = "expected each key once; found `a` again; it is already on line 1; keep one of the two"
CLOSE = "look for a bracket or comma left out; text with"
IN_LINE = "a key in line with those above"
GOES_ON = (
    "one that goes on with the text of the line above; "
    "check the indentation, and that the line above has its colon"
)
AFTER_QUOTE = "check the indentation; if it is text after a quote or bracket, quote the whole"

BROKEN_YAML = {
    "gap: 2 in\nat: 1 ft\ngap: 3 in\n": [f"3:1: {AGAIN.replace('`a`', '`gap`')}"],
    "1: x\n'1': y\n": [f"2:1: {AGAIN.replace('`a`', '`1`')}"],
    "a: &x 1\nb: *x\n": [
        f"1:4: expected every value written out; found the anchor `&x`; {WRITTEN}",
        (
            "2:4: expected every value written out; found the alias `*x`; "
            "copy the value to here; or, if it is text, put quotes around it"
        ),
    ],
    "S: {<<: {slope: 7:12}}\n": [
        (
            "1:5: expected every key written out; found the merge key `<<`; "
            "copy the keys it stands for to here"
        )
    ],
    "a: !x 1\nb: !!str 2\n": [
        f"1:4: expected a value without a tag; found the tag `!x`; {WRITTEN}",
        "2:4: expected a value without a tag; found the tag `!!str`; " + WRITTEN,
    ],
    "a: !e!x 1\n": [f"1:4: expected a value without a tag; found `!`; if it is text, {QUOTE}"],
    "a: 1\n---\na: 2\n": [
        (
            "2:1: expected one document in a file; found a second one; "
            "take out the `---` line, or make two files"
        )
    ],
    "%YAML 1.1\n---\na: 1\n": [
        (
            "1:1: expected a key or a list item; found `%YAML 1.1`; "
            "take the line out; or, if it is text, put quotes around it"
        )
    ],
    "true: 1\n~: 2\n?\n: 3\n[a]: 4\n? {b: 1}\n: 5\n": [
        "1:1: expected a key that is text; found `true`; put quotes around the key",
        "2:1: expected a key that is text; found `~`; put quotes around the key",
        (
            "3:2: expected a key that is text; found nothing before the colon; "
            "put quotes around the key"
        ),
        "5:1: expected a key that is text; found a list; put quotes around the key",
        "6:3: expected a key that is text; found a mapping; put quotes around the key",
    ],
    "planes:\n\tS: 1\n": [
        "2:1: expected spaces; found a tab; replace tabs with spaces, two a level"
    ],
    "a: \x00b\x1b\n": [
        (
            "1:4: expected text without control characters; "
            "found the control character U+0000; take it out"
        ),
        (
            "1:6: expected text without control characters; "
            "found the control character U+001B; take it out"
        ),
    ],
    'a: "x\\0"\n': [
        (
            "1:4: expected text without control characters; "
            "found the control character U+0000; take it out"
        )
    ],
    "- {at: 2 ft, note: cut edge wavers, see photo}\n": [
        (
            f"1:37: expected `key: value` between the commas of {{…}}; "
            f"found `see photo` without a value; {COMMA}"
        )
    ],
    "note: see photo #3\n": [f"1:17: expected nothing after an unquoted value; found `#3`, {LOST}"],
    "{at: 2 ft, note: see photo #3}\nb: 1\n": [
        f"1:28: expected nothing after an unquoted value; found `#3}}`, {LOST}"
    ],
    "note: #3 is cracked\n": [
        f"1:7: expected nothing after an unquoted value; found `#3 is cracked`, {LOST}"
    ],
    "note: gap: 2 in\n": [
        (
            "1:10: expected one `key: value` on a line; found a second `:`; "
            f"{QUOTE} that has `: ` in it"
        )
    ],
    "a: 1\n b: 2\n": [f"2:2: expected {IN_LINE}; found {GOES_ON}"],
    "roof\n  id: x\n": [f"2:3: expected {IN_LINE}; found {GOES_ON}"],
    "a: 1\nb:2\nc: 3\n": [
        (
            "2:1: expected `key: value` with a space after the colon; "
            "found a line without one; look for a colon left out on this line"
        )
    ],
    "a: @x\n": [f"1:4: expected a value; found `@`; {QUOTE}: none may begin with this"],
    "a: `x`\n": [f"1:4: expected a value; found a backtick; {QUOTE}: none may begin with this"],
    "a: *\n": [f"1:4: expected a value; found `*`; if it is text, {QUOTE}"],
    "a: > 3 in\n": [
        (
            f"1:4: expected a value; found `>`; if it is part of the value, {QUOTE}; "
            "a text on the lines below needs it alone"
        )
    ],
    "a: >3\nb: 1\n": [
        (
            "1:4: expected the lines of a text after `>`; found none; "
            f"if the `>` is part of the value, {QUOTE}"
        )
    ],
    "note: | #3\n  is cracked\n": [
        (
            "1:9: expected nothing after `|`; found `#3`, which would be lost; "
            f"if the `|` is part of the value, {QUOTE}, or move the comment to a line of its own"
        )
    ],
    "{gap:}\n": [
        (
            "1:5: expected a space after the colon; found `}`; "
            f"write `key: value`; or, if it is text, {QUOTE}"
        )
    ],
    "a: - 3\n": [
        (
            "1:4: expected a list item on a line of its own; found `-`; "
            f"put the `-` on the next line; or, if it is text, {QUOTE}"
        )
    ],
    "a: {b: 1\n": [
        (
            f"2:1: expected `,` or the closing `}}`; found the end of the file; "
            f"{CLOSE} `: ` or brackets needs quotes"
        )
    ],
    "a: [1, 2}\n": [
        f"1:9: expected `,` or the closing `]`; found `}}`; {CLOSE} brackets needs quotes"
    ],
    'é: "x" y\n': [f"1:8: expected {IN_LINE}; found `y`; {AFTER_QUOTE}"],
    "a:\n  - b\n c: 1\n": [f"3:2: expected {IN_LINE}; found `c`; {AFTER_QUOTE}"],
    "- a\nb: 1\n": [
        (
            "2:1: expected an item in line with those above; found `b`; "
            "begin it with `- `, and check the indentation"
        )
    ],
    'a: 1\nb: "x\n': [
        (
            "2:4: expected a closing quote; found none up to the end of the file; "
            "close the quote that opens here"
        )
    ],
    'a: "\\q"\n': [
        (
            "1:5: expected an escape YAML knows; found `\\`; "
            "use single quotes, or write a backslash as `\\\\`"
        )
    ],
    'a: "\\xZZ"\n': [
        (
            "1:5: expected an escape YAML knows; found `\\`; "
            "use single quotes, or write a backslash as `\\\\`"
        )
    ],
    "  a: 1\n b: 2\n": [
        (
            "2:2: expected keys in line with those above, and no `...` line; found `b`; "
            "check the indentation"
        )
    ],
    "a: ]\n": [f"1:4: expected a value; found `]`; if it is text, {QUOTE}"],
    f"a: {'x' * (MOST_TEXT + 1)}\n": [
        (
            "1:4: expected at most 65,536 characters in one text; found 65,537; "
            "keep long texts in a file of their own and name it here"
        )
    ],
}

BROKEN_JSON = {
    '{"a": 1, "a": 2}': [f"1:10: {AGAIN}"],
    '{"a": 1, "\\u0061": 2}': [f"1:10: {AGAIN}"],
    "[NaN,\n -Infinity]": [
        "1:2: expected a number; found `NaN`; write `null`",
        "2:2: expected a number; found `-Infinity`; write `null`",
    ],
    '{"a": 1,}': [
        (
            "1:8: expected no comma after the last value; found `,`; "
            "JSON has commas between values only: take this one out"
        )
    ],
    '["a",\n]': [
        (
            "1:5: expected no comma after the last value; found `,`; "
            "JSON has commas between values only: take this one out"
        )
    ],
    "{a: 1}": ['1:2: expected a key in double quotes; found `a`; write `"key": value`'],
    '{"a" 1}': ["1:6: expected `:` after the key; found `1`"],
    '{"a": 1 "b": 2}': [
        '1:9: expected `,` or the closing bracket; found `"`; look for a comma left out before'
    ],
    '{"a": x}': ["1:7: expected a value; found `x`; text needs double quotes in JSON"],
    "1 2": ["1:3: expected one value in the file; found `2`; take out what comes after it"],
    '["a': [
        (
            "1:2: expected a closing double quote; found none up to the end of the file; "
            "close the quote that opens here"
        )
    ],
    '["a\nb"]': [
        "1:4: expected text on one line; found the end of the line; write a line break as `\\n`"
    ],
    '["\\q"]': ["1:3: expected an escape JSON knows; found `\\`; write a backslash as `\\\\`"],
    '["\\ud800"]': [
        (
            "1:2: expected text without control characters; "
            "found the control character U+D800; take it out"
        )
    ],
}


def told(raw: bytes, name: str) -> list[str]:
    """Return the messages of the problems that reading `raw` comes to."""
    with pytest.raises(InputRejected) as caught:
        read_document(raw, name=name)
    return [str(problem) for problem in caught.value.problems]


def read(text: str, name: str = "roof.yaml") -> Document:
    """Return the document in `text`."""
    return read_document(text.encode(), name=name)


@pytest.mark.parametrize("text", BROKEN_YAML)
def test_broken_yaml_is_told_in_whole_messages(text):
    """Each mistake in YAML is told with its place, what was expected, found and to do."""
    assert told(text.encode(), "r.yaml") == [f"r.yaml:{m}" for m in BROKEN_YAML[text]]


@pytest.mark.parametrize("text", BROKEN_JSON)
def test_broken_json_is_told_in_whole_messages(text):
    """Each mistake in JSON is told with its place, what was expected, found and to do."""
    assert told(text.encode(), "r.json") == [f"r.json:{m}" for m in BROKEN_JSON[text]]


def test_the_tables_of_mistakes_are_whole():
    """No case of the two tables is lost, as one would be under a key written twice."""
    assert (len(BROKEN_YAML), len(BROKEN_JSON)) == (39, 14)


@pytest.mark.parametrize("text", BROKEN_YAML)
def test_both_parsers_refuse_alike(text):
    """The C parser and the Python one come to the same messages for the same mistake."""
    if "\x00" in text:
        pytest.skip("refused before either parser sees it")
    both = []
    for loader in (yaml.CSafeLoader, yaml.SafeLoader):
        sheet = Sheet("r", text)
        try:
            read_yaml(sheet, loader=loader)
        except ReadingStopped:
            assert sheet.problems
        both.append(sheet.problems)
    assert both[0] == both[1]


def test_other_encodings_are_told_by_byte_and_line():
    """Text that is not UTF-8 is refused with the byte and where it stands."""
    assert told("a: 1\r\nb: é\n".encode("latin-1"), "r.yaml") == [
        (
            "r.yaml:2:4: expected UTF-8 text; found byte 0xE9 (byte 10 of the file); "
            "save the file as UTF-8"
        )
    ]


def test_all_problems_of_a_text_are_told_at_once():
    """A mistake the reading can go on after does not hide the next one."""
    messages = told(b"a: &x 1\na: 2\nnote: see #3\n<<: 4\n", "r.yaml")
    places = [message.split(": ")[0] for message in messages]
    assert places == ["r.yaml:1:4", "r.yaml:2:1", "r.yaml:3:11", "r.yaml:4:1"]


SCALARS = {
    "905.10": "905.10",
    "0123": "0123",
    "12:30": "12:30",
    "7:12": "7:12",
    "on": "on",
    "yes": "yes",
    "no": "no",
    "True": "True",
    "NULL": "NULL",
    "1e400": "1e400",
    "2026-03-02": "2026-03-02",
    ".5": ".5",
    "-0": "-0",
    "+1": "+1",
    "1_000": "1_000",
    "0x10": "0x10",
    "٣": "٣",
    "1234567890123456": "1234567890123456",
    "123456789012345": 123456789012345,
    "-123456789012345": -123456789012345,
    "0": 0,
    "-7": -7,
    "true": True,
    "false": False,
    "null": None,
    "~": None,
    "": None,
    "'7'": "7",
    '"true"': "true",
    "''": "",
    "5' 3 1/4\"": "5' 3 1/4\"",
    "see photo#3": "see photo#3",
    '"see photo #3"': "see photo #3",
}


@pytest.mark.parametrize("written", SCALARS)
def test_scalars_are_what_their_author_wrote(written):
    """Only true, false, null and plain whole numbers are more than text, in both styles."""
    expected = SCALARS[written]
    for text in (f"a: {written}\n", f"{{a: {written} }}\n"):
        data = read(text).data
        assert data == {"a": expected}
        assert type(data["a"]) is type(expected)


def test_json_numbers_stay_as_written():
    """JSON numbers other than short whole ones stay text, exact to the last digit."""
    text = '[905.10, 1e400, -0, 7, 1234567890123456, true, null, "7"]'
    data = ["905.10", "1e400", "-0", 7, "1234567890123456", True, None, "7"]
    assert read(text, "r.json").data == data
    assert read(text, "r.yaml").data == data


@pytest.mark.parametrize("text", ["", "# only a comment\n", "\n\n", "---\n", "\ufeff"])
def test_an_empty_text_is_no_data(text):
    """An empty file is no mistake of its writing: the schema says what it should hold."""
    document = read(text)
    assert document.data is None
    assert document.location().line >= 1


@pytest.mark.parametrize("text", ["gap:\nat: 1\n", "gap:   # in inches\nat: 1\n", "{gap: , at: 1}"])
def test_a_blank_value_is_none(text):
    """A key whose value is left blank is there, with nothing known."""
    assert read(text).data == {"gap": None, "at": 1}


BLOCK = (
    "lines:\n  H1:\n    kind: hip\n    stations:\n      - at: 2 ft\n        gap: 3 in\n      - 7\n"
)
FLOW = "{lines: {H1: {kind: hip,\n  stations: [{at: 2 ft, gap: 3 in}, 7]}}}\n"
JSON = '{"lines": {"H1": {"kind": "hip",\n  "stations": [{"at": "2 ft", "gap": "3 in"}, 7]}}}\n'
GAP = ("lines", "H1", "stations", 0, "gap")


def test_nodes_have_their_place_in_every_style():
    """Block, flow and JSON give the same data and nodes, each placed where it is written."""
    block, flow, written = read(BLOCK), read(FLOW), read(JSON, "r.json")
    assert block.data == flow.data == written.data
    assert set(block.positions) == set(flow.positions) == set(written.positions)
    assert set(block.keys) == set(flow.keys) == set(written.keys)
    assert (block.positions[GAP], block.keys[GAP]) == ((6, 14), (6, 9))
    assert (flow.positions[GAP], flow.keys[GAP]) == ((2, 30), (2, 25))
    assert (written.positions[GAP], written.keys[GAP]) == ((2, 38), (2, 31))
    assert block.positions[(*GAP[:3], 1)] == (7, 9)
    assert (flow.positions[()], written.positions[()]) == ((1, 1), (1, 1))


def test_one_text_read_as_json_and_as_yaml_has_the_same_places():
    """A text that is both JSON and YAML is placed alike by the two readers."""
    as_yaml, as_json = read(JSON), read(JSON, "r.json")
    assert dict(as_yaml.positions) == dict(as_json.positions)
    assert dict(as_yaml.keys) == dict(as_json.keys)
    assert len(as_json.positions) == 9


def test_line_ends_and_wide_characters_do_not_move_places():
    """Columns count characters, and any of the three line ends ends a line once."""
    for end in ("\n", "\r\n", "\r"):
        document = read(f"é𠀀: 1{end}b: [é, 𠀀, 2]{end}")
        assert document.positions[("b", 2)] == (2, 11)
        assert document.positions[("é𠀀",)] == (1, 5)


def test_a_place_falls_back_to_the_nearest_ancestor():
    """What is not in the file is placed at what should hold it."""
    document = read(BLOCK)
    assert document.location((*GAP, "value")) == Location("roof.yaml", 6, 14)
    assert document.location(("planes", "S")) == Location("roof.yaml", 1, 1)
    assert document.key_location(("lines", "H1")) == Location("roof.yaml", 2, 3)
    assert document.key_location(("lines", "H2")) == Location("roof.yaml", 2, 3)


def test_the_digest_is_of_the_raw_bytes():
    """The digest is that of the file as it lies on disk, line ends and all."""
    raw = b"\xef\xbb\xbfa: 1\r\n"
    assert read_document(raw, name="r.yaml").digest == hashlib.sha256(raw).hexdigest()


def test_positions_are_read_only():
    """A document can't be changed after it was read."""
    with pytest.raises(TypeError):
        read(BLOCK).positions[()] = (1, 1)


def test_tabs_are_fine_in_comments_and_in_json():
    """A tab is refused only where it could change what a YAML text says."""
    assert read("# a\tb\na: 1\n").data == {"a": 1}
    assert read('{\t"a": 1}', "r.JSON").data == {"a": 1}


TEXTS = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), max_size=12).filter(
    lambda t: not any(c in t for c in "\u2028\u2029\ufeff\ufffe\uffff")
)
DATA = st.recursive(
    st.none() | st.booleans() | st.integers(-(10**15) + 1, 10**15 - 1) | TEXTS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(TEXTS, inner, max_size=4),
    max_leaves=20,
)


@given(DATA, st.sampled_from([None, 2]), st.booleans())
def test_data_written_as_json_reads_back(data, indent, ascii_only):
    """Whatever JSON can hold reads back the same, as JSON and as YAML, at the same places."""
    # JSON writes characters beyond U+FFFF as two escapes, which is not YAML.
    text = json.dumps(data, indent=indent, ensure_ascii=ascii_only and "\\ud8" not in repr(data))
    as_json = read(text, "r.json")
    assert as_json.data == data
    assert json.dumps(as_json.data) == json.dumps(data)
    if "\\ud" in text:
        return
    as_yaml = read(text, "r.yaml")
    assert json.dumps(as_yaml.data) == json.dumps(data)
    assert dict(as_yaml.positions) == dict(as_json.positions)


@given(st.text("ab:,-#[]{}'\"\n ?|>&*!1", max_size=30))
def test_both_parsers_read_alike(text):
    """No text is read to one thing by the C parser and to another by the Python one."""
    both = []
    for loader in (yaml.CSafeLoader, yaml.SafeLoader):
        sheet = Sheet("r", text)
        try:
            data = read_yaml(sheet, loader=loader)
        except ReadingStopped:
            data = None
        both.append(None if sheet.problems else (data, sheet.positions, sheet.keys))
    # The Python parser refuses an unquoted `?` inside brackets; that is its only difference.
    if "?" not in text or None not in both:
        assert both[0] == both[1]


@given(st.binary(max_size=60), st.sampled_from(["r.yaml", "r.json"]))
def test_any_bytes_are_read_or_refused(raw, name):
    """No bytes whatever come to anything but a document or placed problems."""
    try:
        document = read_document(raw, name=name)
    except InputRejected as rejected:
        places = [problem.location for problem in rejected.problems]
    else:
        places = [document.location()]
    assert places
    assert {place.file for place in places} == {name}


DEEP = f"expected lists and mappings at most {MOST_DEPTH} deep; found more than that"
HOSTILE = {
    "lists.yaml": (b"[" * 10_000, DEEP),
    "lists.json": (b"[" * 10_000, DEEP),
    "mappings.json": (b'{"a":' * 100_000, DEEP),
    "block.yaml": (b"\n".join(b" " * i + b"a:" for i in range(2_000)), DEEP),
    "items.yaml": (b"- " * 10_000, DEEP),
    "keys.yaml": (b"? " * 10_000, "expected a key that is text; found a mapping"),
    "bomb.yaml": (
        b"a: &a [x, x]\n" + b"".join(b"b%d: &b%d [*a, *a, *a]\n" % (i, i) for i in range(10_000)),
        "expected every value written out; found the anchor `&a`",
    ),
    "large.yaml": (
        b" " * (MOST_BYTES + 1),
        "expected a file of at most 16 MiB; found a larger one",
    ),
    "nul.json": (b"\0" * 1_000_000, "expected text without control characters"),
    "digits.json": (b"[" + b"9" * 1_000_000 + b"]", "expected at most 65,536 characters"),
    "text.yaml": (b'"' + b"x" * 4_000_000 + b'"', "expected at most 65,536 characters"),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_files_are_refused_at_once(name):
    """A file made to exhaust the reader is refused within a second or so, in plain words."""
    raw, expected = HOSTILE[name]
    started = time.process_time()
    messages = told(raw, name)
    # Measured below one second each; twice that, since a busy machine is no failure of ours.
    assert time.process_time() - started < 2
    assert expected in messages[0]
    assert len(messages) <= 100


def test_a_file_with_too_many_values_is_refused():
    """The bound on values holds; under a tracer this takes longer than the hostile files may."""
    (message,) = told(b"[" + b"1," * 25_001 + b"1]", "full.json")
    expected = "expected at most 25,000 values in a file; found more than that; split the file"
    assert message == f"full.json:1:50001: {expected}"


def test_the_deepest_allowed_is_read():
    """The bound on depth is the last depth that is read."""
    for name in ("r.yaml", "r.json"):
        deepest = "[" * MOST_DEPTH + "1" + "]" * MOST_DEPTH
        assert json.dumps(read(deepest, name).data) == deepest
        assert DEEP in told(f"[{deepest}]".encode(), name)[0]


def test_a_file_is_loaded_under_its_name(tmp_path):
    """A loaded file is called by the name it was asked for, else by its path."""
    path = tmp_path / "roof.yaml"
    path.write_text("a: 1\n", "utf-8")
    assert load_document(path).name == str(path)
    assert load_document(path, name="roof.yaml").data == {"a": 1}


def test_files_that_can_not_be_read_are_problems(tmp_path):
    """A missing file, a folder and a path that can't be one are told, not raised."""
    expected = {
        tmp_path / "none.yaml": "nothing at this path; check the spelling and the folder",
        tmp_path: "a folder; name a file inside it",
        pathlib.Path("a\0b"): "a path with a NUL character in it; check the path",
    }
    for path, found in expected.items():
        with pytest.raises(InputRejected) as caught:
            load_document(path, name="r.yaml")
        assert str(caught.value) == f"r.yaml: expected a file that can be read; found {found}"
