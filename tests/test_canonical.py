"""Canonical JSON: the RFC's own examples, one text for one value, and no floats."""

from __future__ import annotations

import hashlib
import json
import random
import subprocess
import sys
from enum import StrEnum
from fractions import Fraction
from pathlib import Path
from types import MappingProxyType

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridgerule.canonical import canonical_digest, canonical_json
from ridgerule.documents import load_document, read_document
from ridgerule.shipped import shipped

MOST = 2**53 - 1
SCALARS = (
    st.none() | st.booleans() | st.integers(min_value=-MOST, max_value=MOST)
    | st.text(st.characters(exclude_categories=["Cs"]))
)  # fmt: skip
KEYS = st.text(st.characters(exclude_categories=["Cs"]), max_size=4)
DATA = st.recursive(
    SCALARS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(KEYS, inner, max_size=5),
    max_leaves=20,
)

# RFC 8785, 3.2.2, its text and its literals; recalled. Its numbers are floats, which we refuse.
TEXT = (
    '{"string": "\\u20ac$\\u000F\\u000aA\'\\u0042\\u0022\\u005c\\\\\\"\\/", '
    '"literals": [null, true, false]}'
)
# RFC 8785, 3.2.4: the bytes of that text and of those literals; recalled.
TEXT_BYTES = bytes.fromhex(
    "7b 22 6c 69 74 65 72 61 6c 73 22 3a 5b 6e 75 6c 6c 2c 74 72 75 65 2c 66 61 6c 73 65 5d 2c"
    "22 73 74 72 69 6e 67 22 3a 22 e2 82 ac 24 5c 75 30 30 30 66 5c 6e 41 27 42 5c 22 5c 5c 5c"
    "5c 5c 22 2f 22 7d"
)
# RFC 8785, 3.2.3: keys, in an order of no meaning, and the order their values come out in;
# recalled. By code points the smiling face would come after the Hebrew letter.
UNSORTED = {
    "\u20ac": "Euro Sign",
    "\r": "Carriage Return",
    "\ufb33": "Hebrew Letter Dalet With Dagesh",
    "1": "One",
    "\U0001f600": "Emoji: Grinning Face",
    "\u0080": "Control",
    "\u00f6": "Latin Small Letter O With Diaeresis",
}
SORTED = [
    "Carriage Return", "One", "Control", "Latin Small Letter O With Diaeresis", "Euro Sign",
    "Emoji: Grinning Face", "Hebrew Letter Dalet With Dagesh",
]  # fmt: skip


def test_the_rfcs_text_comes_out_as_the_rfc_has_it() -> None:
    """Escapes that need not be are undone, the others are short or small, and keys are sorted."""
    assert canonical_json(json.loads(TEXT)) == TEXT_BYTES


def test_the_rfcs_keys_come_out_in_the_rfcs_order() -> None:
    """Keys are sorted by their UTF-16 units, not by code points."""
    out = json.loads(canonical_json(UNSORTED))
    assert [*out.values()] == SORTED
    assert [UNSORTED[key] for key in sorted(UNSORTED)] != SORTED


def test_digests_are_of_the_canonical_bytes() -> None:
    """The digest is the SHA-256 of the bytes, in small hexadecimal."""
    # The bytes are written out by hand, by RFC 8785, 3.2.
    expected = hashlib.sha256(b'{"a":[1,"x",null],"b":true}').hexdigest()
    assert canonical_digest({"b": True, "a": [1, "x", None]}) == expected


@pytest.mark.parametrize("value", [1.0, [0.5], {"a": {"b": float("nan")}}, float("inf")])
def test_floats_are_refused(value: object) -> None:
    """No float gets into a digest, whole or not, however deep it lies."""
    with pytest.raises(TypeError, match="float: write an exact value as text"):
        canonical_json(value)


@pytest.mark.parametrize("value", [Fraction(1, 3), {"a": {1}}, {1: "a"}, {None: "a"}, b"a"])
def test_what_our_data_never_holds_is_refused(value: object) -> None:
    """What JSON has no place for is a mistake of ours, told as one."""
    with pytest.raises(TypeError):
        canonical_json(value)


@pytest.mark.parametrize("value", [MOST + 1, -MOST - 1, 10**400])
def test_whole_numbers_that_readers_would_change_are_refused(value: int) -> None:
    """Beyond 2^53 - 1 a reader may give another number back (RFC 8785, 3.2.2.3; RFC 7493)."""
    with pytest.raises(ValueError, match="write text"):
        canonical_json([value])
    assert canonical_json([MOST, -MOST]) == b"[9007199254740991,-9007199254740991]"


@pytest.mark.parametrize("value", ["\ud800", ["a\udfff"], {"\ud83d": 1}])
def test_half_a_surrogate_pair_is_refused(value: object) -> None:
    """Half a character has no UTF-8, so it has no canonical JSON (RFC 8785, 3.2.2.2)."""
    with pytest.raises(ValueError):  # noqa: PT011 - the library's words
        canonical_json(value)


class Colour(StrEnum):
    """A word of a closed list."""

    RED = "red"


def test_words_of_closed_lists_tuples_and_read_only_mappings_are_data() -> None:
    """What our frozen values hold comes out as the plain data they stand for."""
    held = MappingProxyType({"a": (Colour.RED, True, 0)})
    assert canonical_json(held) == b'{"a":["red",true,0]}'


def shuffled(data: object, draw: random.Random) -> object:
    """Return the same data with the keys of every mapping in another order."""
    if isinstance(data, list):
        return [shuffled(item, draw) for item in data]
    if isinstance(data, dict):
        keys = [*data]
        draw.shuffle(keys)
        return {key: shuffled(data[key], draw) for key in keys}
    return data


@given(DATA, st.integers())
def test_the_order_of_keys_does_not_matter(data: object, seed: int) -> None:
    """However its keys are ordered, the same data gives the same bytes."""
    assert canonical_json(shuffled(data, random.Random(seed))) == canonical_json(data)


@given(DATA)
def test_what_comes_out_reads_back_and_stays(data: object) -> None:
    """Any reader of JSON gives the data back, and its canonical JSON is the same again."""
    out = canonical_json(data)
    read = json.loads(out)
    assert read == data
    assert canonical_json(read) == out


@given(st.dictionaries(KEYS, st.none(), max_size=12))
def test_keys_are_in_the_order_of_their_utf_16_units(data: dict[str, None]) -> None:
    """The order is that of 16-bit units read as numbers."""
    units = [
        [int.from_bytes(raw[i : i + 2], "big") for i in range(0, len(raw), 2)]
        for raw in (key.encode("utf-16-be") for key in json.loads(canonical_json(data)))
    ]
    assert units == sorted(units)


@given(DATA, DATA)
def test_other_data_gives_other_bytes(one: object, other: object) -> None:
    """Two values share their bytes only if they are one value, `true` and 1 kept apart."""
    assert (canonical_json(one) == canonical_json(other)) == (repr_of(one) == repr_of(other))


def repr_of(data: object) -> str:
    """Return data as text by the standard library, keys sorted: another writer than ours."""
    return json.dumps(data, sort_keys=True)


def test_yaml_json_and_comments_come_to_one_digest() -> None:
    """A record says the same as YAML, with comments, and as JSON with other keys first."""
    yaml = b"# seen from below\nroof: {id: HL-01}\nrecord: 1\nnote: 7:12\n"
    as_json = b'{"record": 1, "note": "7:12", "roof": {"id": "HL-01"}}'
    documents = [read_document(yaml, name="a.yaml"), read_document(as_json, name="a.json")]
    one, other = (canonical_digest(document.data) for document in documents)
    assert one == other
    assert documents[0].digest != documents[1].digest


def test_every_shipped_file_has_a_canonical_digest() -> None:
    """What ships holds nothing that canonical JSON refuses, and no two files say the same."""
    files = [
        file for folder in ("rulebooks", "demo") for file in sorted(shipped(folder).rglob("*.yaml"))
    ]
    digests = {canonical_digest(load_document(file).data) for file in files}
    assert len(digests) == len(files) > 4


ALONE = """
import sys
from ridgerule.cli.app import run
status = run(["audit", sys.argv[1], "--format", sys.argv[2]])
print(status, sorted({"rfc8785", "cryptography"} & set(sys.modules)), file=sys.stderr)
"""


@pytest.mark.parametrize(("form", "loaded"), [("text", []), ("csv", []), ("json", ["rfc8785"])])
def test_digests_are_loaded_only_where_they_are_told(form: str, loaded: list[str]) -> None:
    """The text report, whose start-up counts, pays for no canonical JSON and no signature."""
    demo = Path(shipped("demo")) / "harrow-lane.yaml"
    done = subprocess.run(
        [sys.executable, "-c", ALONE, str(demo), form], capture_output=True, check=True, timeout=60
    )
    assert done.stderr.decode().splitlines()[-1] == f"1 {loaded}"
