"""Files made to exhaust the reader, or to be taken for what they are not, through the command.

Each runs in a process of its own, whose time and memory a small process between takes down. What
they came to, case by case: `python tests/test_hostile_yaml.py`.
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import tempfile
from contextlib import contextmanager
from itertools import combinations, islice
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ridgerule.adapt import adapt
from ridgerule.documents import MOST_BYTES, MOST_DEPTH, MOST_NODES, MOST_TEXT, read_document
from ridgerule.plain_data import MOST_PROBLEMS
from ridgerule.problems import InputRejected
from ridgerule.rulebook import read_rulebook
from ridgerule.rulebook_bounds import MOST_ENTRIES, MOST_ROWS, MOST_RULES
from ridgerule.schemas import check
from ridgerule.shelf import MOST_ADVISED, MOST_FOUND, Shelf
from workshop import amendment, plan, problems, rule, rulebook, shelf

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    Table = dict[str, tuple[str, Callable[[], bytes], str]]

resource = pytest.importorskip("resource", reason="memory is taken down where POSIX tells it")

ROOT = Path(__file__).parent.parent
DEMO = ROOT / "fixtures" / "demo" / "harrow-lane.yaml"

HANG = 20
"""Seconds after which a run counts as hanging. Measured here: below one second each."""
MOST_MEMORY = 200 * 2**20
"""Bytes that a run may hold at a time. Measured here: below 180 MiB each."""

TAKES_DOWN = """\
import json, resource, subprocess, sys, time
begun = time.perf_counter()
done = subprocess.run(sys.argv[2:], capture_output=True, stdin=subprocess.DEVNULL, cwd=sys.argv[1])
seconds = time.perf_counter() - begun
held = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
held *= 1 if sys.platform == "darwin" else 1024
print(json.dumps([done.returncode, done.stderr.decode(), len(done.stdout), seconds, held]))
"""


class Run(NamedTuple):
    """What one run of the command came to."""

    status: int
    told: str
    """Its standard error."""
    written: int
    """Bytes on its standard output."""
    seconds: float
    memory: int


def taken_down(*command: str, folder: Path) -> Run:
    """Return what a command comes to, with its time and memory."""
    between = [sys.executable, "-c", TAKES_DOWN, str(folder), *command]
    done = subprocess.run(between, capture_output=True, check=True, timeout=HANG)
    return Run(*json.loads(done.stdout))


def ridgerule(*arguments: str, folder: Path) -> Run:
    """Return what `ridgerule` comes to with these arguments, in a folder."""
    command = "from ridgerule.cli import main; main()"
    return taken_down(sys.executable, "-c", command, *arguments, folder=folder)


# what the files hold

HEAD = b"record: 1\nroof: {id: X, covering: composite slate}\n"
BOOK = b'rulebook: t/a\ntitle: Invented\nedition: "1"\nsources: {us: {basis: invented}}\n'
MIB = 2**20
LINE = b"line of a text\n"


def _many(row: bytes, count: int) -> bytes:
    """Return so many rows, each with its number."""
    return b"".join(row % i for i in range(count))


def _bomb(levels: int) -> bytes:
    """Return aliases of aliases, nine a level."""
    first = b"a0: &a0 [x, x, x]\n"
    rows = (
        b"a%d: &a%d [%s]\n" % (i, i, b",".join([b"*a%d" % (i - 1)] * 9)) for i in range(1, levels)
    )
    return first + b"".join(rows)


def _rules(count: int, limit: str = "1 ft") -> bytes:
    row = (
        "- {id: r%d, title: t, of: line.length, limit: %s, class: minor, why: w, remedy: m,"
        " source: us}\n"
    )
    return BOOK + b"rules:\n" + "".join(row % (i, limit) for i in range(count)).encode()


def _table(rows: int, *, overlapping: bool = False) -> bytes:
    """Return a rulebook of one rule, whose limit is a chart by the line's length."""
    last = rows - 1 if overlapping else rows
    keys = [*range(last), *([0] if overlapping else [])]
    entries = [{"for": f"{i} mm", "limit": {"at_least": "1 in"}} for i in keys]
    limit = {"table": {"by": "line.length", "rows": entries}}
    return rulebook(rule("chart", "line.membrane_width", limit), name="t/a@1").encode()


def _deep_rules(count: int, depth: int) -> bytes:
    limit: dict[str, Any] = {"at_least": "1 ft"}
    for _ in range(depth):
        limit = {"any_of": [limit]}
    return _rules(count, json.dumps(limit))


def _scope(words: int) -> bytes:
    """Return a rulebook written for any of so many places."""
    scope = {"place": {"one_of": [f"word {i}" for i in range(words)]}}
    return rulebook(rule("r", "line.length", "1 ft"), name="t/a@1", scope=scope).encode()


def _reading(text: bytes) -> bytes:
    """Return a record with a reading."""
    return HEAD + b"planes:\n  S: {slope: " + text + b", deck_thickness: " + text + b"}\n"


def _sound() -> bytes:
    return DEMO.read_bytes()


FULL = f"expected at most {MOST_NODES:,} values in a file; found more than that; split the file"
DEEP = f"expected lists and mappings at most {MOST_DEPTH} deep"
LONG = f"expected at most {MOST_TEXT:,} characters in one text"
LARGE = "expected a file of at most 16 MiB; found a larger one; split the file"
UTF8 = "expected UTF-8 text"
CONTROL = "expected text without control characters"
WRITTEN_OUT = "expected every value written out"
UNTAGGED = "expected a value without a tag"

SYNTAX: Table = {
    # what it holds: the file's name, its bytes, what is told of it
    "lists in lists": ("x.yaml", lambda: b"[" * 10_000 + b"]" * 10_000, DEEP),
    "mappings in mappings": ("x.yaml", lambda: b"{a: " * 10_000 + b"}" * 10_000, DEEP),
    "items in items": ("x.yaml", lambda: b"- " * 10_000 + b"a\n", DEEP),
    "keys under keys": ("x.yaml", lambda: b"".join(b" " * i + b"a:\n" for i in range(5_000)), DEEP),
    "lists in lists, JSON": ("x.json", lambda: b"[" * 10_000 + b"]" * 10_000, DEEP),
    "mappings in mappings, JSON": (
        "x.json",
        lambda: b'{"a":' * 10_000 + b"1" + b"}" * 10_000,
        DEEP,
    ),
    "a million keys": ("x.yaml", lambda: HEAD + _many(b"k%d: 1\n", 10**6), FULL),
    "a million keys on a line": (
        "x.yaml",
        lambda: b"{" + b", ".join(b"k%d: 1" % i for i in range(10**6)) + b"}",
        FULL,
    ),
    "a million keys, JSON": (
        "x.json",
        lambda: b"{" + b",".join(b'"k%d":1' % i for i in range(10**6)) + b"}",
        FULL,
    ),
    "a million items": ("x.yaml", lambda: HEAD + b"rulebooks:\n" + b"- a\n" * 10**6, FULL),
    "a million items on a line": ("x.yaml", lambda: b"[" + b"1, " * 10**6 + b"1]", FULL),
    "a million items, JSON": ("x.json", lambda: b"[" + b"1," * 10**6 + b"1]", FULL),
    "a million blanks": ("x.yaml", lambda: _many(b"k%d:\n", 10**6), FULL),
    "a million empty lists": ("x.json", lambda: b"[" + b"[]," * 10**6 + b"[]]", FULL),
    "the same key a million times": ("x.yaml", lambda: b"a: 1\n" * 10**6, "expected each key once"),
    "aliases of aliases": ("x.yaml", lambda: _bomb(12), WRITTEN_OUT),
    "an alias of itself": ("x.yaml", lambda: b"&a [*a]\n", WRITTEN_OUT),
    "a mapping with itself in it": ("x.yaml", lambda: b"a: &a\n  b: *a\n", WRITTEN_OUT),
    "merge keys": (
        "x.yaml",
        lambda: b"a: 1\n<<: {b: 2}\n",
        "expected every key written out; found the merge key",
    ),
    "a tag that runs a command": (
        "x.yaml",
        lambda: b"a: !!python/object/apply:os.system [touch taken]\n",
        UNTAGGED,
    ),
    "a tag of our own": ("x.yaml", lambda: b"!roof\na: 1\n", UNTAGGED),
    "17 MiB": ("x.yaml", lambda: b"a: " + b"x" * (17 * MIB), LARGE),
    "17 MiB, JSON": ("x.json", lambda: b'"' + b"x" * (17 * MIB) + b'"', LARGE),
    "a text of 64 KiB and one": ("x.yaml", lambda: b"a: " + b"x" * (MOST_TEXT + 1), LONG),
    "a text of 64 KiB and one, JSON": (
        "x.json",
        lambda: b'{"a": "' + b"x" * (MOST_TEXT + 1) + b'"}',
        LONG,
    ),
    "one text of 16 MiB": ("x.yaml", lambda: b"a: " + b"x" * (MOST_BYTES - 9), LONG),
    "one key of 16 MiB": ("x.yaml", lambda: b"? " + b"x" * (MOST_BYTES - 9) + b"\n: b", LONG),
    "one block of 16 MiB": (
        "x.yaml",
        lambda: b"a: |\n" + (b"  " + LINE) * (MOST_BYTES // 17 - 9),
        LONG,
    ),
    "escapes of 16 MiB": (
        "x.yaml",
        lambda: b'a: "' + b"\\x41" * (MOST_BYTES // 4 - 9) + b'"',
        LONG,
    ),
    "escapes of 16 MiB, JSON": (
        "x.json",
        lambda: b'["' + b"\\u0041" * (MOST_BYTES // 6 - 9) + b'"]',
        LONG,
    ),
    "digits of 16 MiB, JSON": ("x.json", lambda: b"1" * MOST_BYTES, LONG),
    "a quote left open for 16 MiB": (
        "x.yaml",
        lambda: b'"' + LINE * (MOST_BYTES // 15 - 9),
        "expected a closing quote",
    ),
    "a quote left open before escapes": (
        "x.json",
        lambda: b'"' + b'\\"' * (MOST_BYTES // 2 - 9),
        LONG,
    ),
    "quotes alone": ("x.json", lambda: b'"' * (MOST_BYTES - 9), FULL),
    "brackets alone": ("x.json", lambda: b"[]" * (MOST_BYTES // 2 - 9), FULL),
    "colons alone": ("x.json", lambda: b":" * (MOST_BYTES - 9), FULL),
    "commas alone": ("x.yaml", lambda: b"[" + b"," * (MOST_BYTES - 9) + b"]", "expected a value"),
    "an anchor of 16 MiB": (
        "x.yaml",
        lambda: b"a: &" + b"x" * (MOST_BYTES - 9) + b" b",
        WRITTEN_OUT,
    ),
    "a tag of 16 MiB": ("x.yaml", lambda: b"a: !" + b"x" * (MOST_BYTES - 9) + b" b", UNTAGGED),
    "an alias of 16 MiB": ("x.yaml", lambda: b"a: *" + b"x" * (MOST_BYTES - 9), WRITTEN_OUT),
    "a directive after 16 MiB": (
        "x.yaml",
        lambda: b"#\n" * (MOST_BYTES // 2 - 9) + b"%YAML 1.2\n",
        "expected a key or a list item; found `%YAML 1.2`",
    ),
    "tabs after 16 MiB": (
        "x.yaml",
        lambda: b"# x\n" * (MOST_BYTES // 4 - 999) + b"\tx\n" * 200,
        "expected spaces",
    ),
    "control characters after 16 MiB": (
        "x.yaml",
        lambda: b"# x\n" * (MOST_BYTES // 4 - 999) + b"\1x\n" * 200,
        CONTROL,
    ),
    "lost comments after 16 MiB": (
        "x.yaml",
        lambda: b"#\n" * (MOST_BYTES // 2 - 9999) + _many(b"k%d: 1 # x\n", 200),
        "expected nothing after an unquoted value",
    ),
    "a wide character in 16 MiB": (
        "x.yaml",
        lambda: "🏠: ".encode() + b"x" * (MOST_BYTES - 99),
        LONG,
    ),
    "a wide character in 16 MiB, JSON": (
        "x.json",
        lambda: '["🏠'.encode() + b"x" * (MOST_BYTES - 99) + b'"]',
        LONG,
    ),
    "documents without end": (
        "x.yaml",
        lambda: b"---\n" * (MOST_BYTES // 4 - 9),
        "expected one document in a file",
    ),
    "NUL": ("x.yaml", lambda: b"a: 1\0\n", CONTROL),
    "NUL alone": ("x.json", lambda: b"\0" * (MOST_BYTES - 9), CONTROL),
    "UTF-16": ("x.yaml", lambda: "a: 1\n".encode("utf-16"), UTF8),
    "UTF-16 without a mark": ("x.yaml", lambda: "a: 1\n".encode("utf-16-le"), CONTROL),
    "UTF-32": ("x.json", lambda: "[1]".encode("utf-32"), UTF8),
    "bytes that are no UTF-8": ("x.yaml", lambda: b"a: \xc3\x28\n", UTF8),
    "a surrogate in UTF-8": ("x.yaml", lambda: b"a: \xed\xa0\x80\n", UTF8),
    "no UTF-8 after 16 MiB": ("x.yaml", lambda: b"#\n" * (MOST_BYTES // 2 - 9) + b"\xff", UTF8),
    "a mark amid the text": ("x.yaml", lambda: b"a: 1\n\xef\xbb\xbfb: 2\n", CONTROL),
    "a line separator": ("x.yaml", lambda: b"a: 1\xe2\x80\xa8b: 2\n", CONTROL),
    "a next-line character": ("x.yaml", lambda: b"a: 1\xc2\x85b: 2\n", CONTROL),
    "an escape in a key": ("x.yaml", lambda: b"a\x1b[31m: 1\n", CONTROL),
    "an escape written out in a key": ("x.yaml", lambda: b'"a\\e[31m": 1\n', CONTROL),
    "an escape written out, JSON": ("x.json", lambda: b'{"a\\u001b[31m": 1}', CONTROL),
    "half a pair written out": ("x.json", lambda: b'{"a": "\\ud800"}', CONTROL),
}
"""Told the same whatever the file is meant as: neither record nor rulebook is read from it."""

OVERRIDE = "\u202egap"
NO_RECORD = "expected a record: a mapping that starts with `record: 1`; found"
TOO_LONG = "write at most 64 characters"

RECORDS: Table = {
    # what it holds: the file's name, its bytes, what is told of it; nothing where it is audited
    "an exponent": ("x.yaml", lambda: _reading(b"1e999999999"), "with an exponent"),
    "an exponent, JSON": (
        "x.json",
        lambda: b'{"record":1,"roof":{"id":"X"},"planes":{"S":{"slope":1e999999999}}}',
        "with an exponent",
    ),
    "a number of 60 KiB": ("x.yaml", lambda: _reading(b"1e" + b"9" * 60_000), TOO_LONG),
    "an integer of 50,000 digits": ("x.yaml", lambda: _reading(b"9" * 50_000), TOO_LONG),
    "an integer of 50,000 digits, JSON": (
        "x.json",
        lambda: b'{"record":1,"roof":{"id":"X"},"planes":{"S":{"slope":' + b"9" * 50_000 + b"}}}",
        TOO_LONG,
    ),
    "a fraction of 50,000 digits": (
        "x.yaml",
        lambda: _reading(b"1/" + b"7" * 50_000 + b" in"),
        TOO_LONG,
    ),
    "a denominator of 13 digits": ("x.yaml", lambda: _reading(b"1/1000000000001"), "12 digits"),
    "right to left in keys": (
        "x.yaml",
        lambda: HEAD + f"planes:\n  S: {{{OVERRIDE}: 3 in}}\n".encode(),
        r"`\u202egap`",
    ),
    "right to left in ids": (
        "x.yaml",
        lambda: HEAD + f"planes:\n  {OVERRIDE}: {{}}\n".encode(),
        r"`\u202egap`",
    ),
    "brackets that style a terminal": (
        "x.yaml",
        lambda: HEAD + b'planes:\n  S: {"[red]gap[/red]": 3 in}\n',
        "`[red]gap[/red]`",
    ),
    "unknown keys": ("x.yaml", lambda: HEAD + _many(b"key%d: 1\n", 20_000), "the key `key0`"),
    "keys of 64 KiB": (
        "x.yaml",
        lambda: HEAD + b"".join(b'"%d%s": 1\n' % (i, b"x" * 900) for i in range(9_000)),
        "expected one of the keys",
    ),
    "nothing but comments": ("x.yaml", lambda: b"# x\n" * (MOST_BYTES // 4 - 9), NO_RECORD),
    "nothing but line ends": ("x.yaml", lambda: b"\n" * (MOST_BYTES - 9), NO_RECORD),
    "nothing but line ends of two": (
        "x.json",
        lambda: b"[\r\n" + b"\r\n" * (7 * MIB) + b"]",
        NO_RECORD,
    ),
    "wide characters, line ends of two": (
        "x.yaml",
        lambda: "# 🏠\r\n".encode() + b"#\r\n" * (MOST_BYTES // 3 - 9),
        NO_RECORD,
    ),
    "nothing but spaces": ("x.yaml", lambda: b" " * (MOST_BYTES - 9), NO_RECORD),
    "an empty file": ("x.yaml", lambda: b"", NO_RECORD),
    "a byte-order mark": ("x.yaml", lambda: b"\xef\xbb\xbf" + _sound(), ""),
    "line ends of two": ("x.yaml", lambda: _sound().replace(b"\n", b"\r\n"), ""),
    "line ends of old": ("x.yaml", lambda: _sound().replace(b"\n", b"\r"), ""),
}

LISTS: Table = {
    "20,000 rulebooks that are not there": (
        "x.yaml",
        lambda: HEAD + b"rulebooks:\n" + _many(b"- a/b%d@1\n", 20_000),
        "after 99 others that can't",
    ),
}
"""Records whose own list of rulebooks is what they are about."""

BOOKS: Table = {
    # what it holds: the file's name, its bytes, what is told of it; nothing where it is used
    "100,000 rules": ("x.yaml", lambda: _rules(100_000), FULL),
    "1,001 rules": (
        "x.yaml",
        lambda: _rules(MOST_RULES + 1),
        "at most 1,000 entries under `rules:`",
    ),
    "5,000 rules of nested limits": ("x.yaml", lambda: _deep_rules(5_000, 25), FULL),
    "rules of limits nested too deep": ("x.yaml", lambda: _deep_rules(100, 40), DEEP),
    "rules of nested limits": ("x.yaml", lambda: _deep_rules(100, 25), ""),
    "a chart of 1,000 rows": ("x.json", lambda: _table(1_000), ""),
    "a chart of 1,000 rows, two of which overlap": (
        "x.json",
        lambda: _table(1_000, overlapping=True),
        "expected rows that don't overlap",
    ),
    "a chart of 5,000 rows": (
        "x.json",
        lambda: _table(5_000),
        "expected at most 1,000 rows in a table; found 5,000",
    ),
    "a chart of 20,000 rows": ("x.json", lambda: _table(20_000), FULL),
    "a scope of 20,000 places": ("x.json", lambda: _scope(20_000), ""),
    "a scope of 10,000 words": (
        "x.yaml",
        lambda: BOOK + b"scope: {place: " + b"word " * 10_000 + b"}\n",
        "",
    ),
    "8,000 facts": (
        "x.yaml",
        lambda: BOOK + b"facts:\n" + _many(b"  line.f%d: {dimension: length, measure: m}\n", 8_000),
        "at most 500 entries under `facts:`",
    ),
    "1,000 changes of nothing": (
        "x.json",
        lambda: rulebook(
            name="t/a@1", amendments=[amendment(f"no-{i}", title="x") for i in range(1_000)]
        ).encode(),
        "expected a rule of a base",
    ),
    "unknown keys": ("x.yaml", lambda: BOOK + _many(b"key%d: 1\n", 20_000), "the key `key0`"),
    "right to left in keys": (
        "x.yaml",
        lambda: BOOK + f"{OVERRIDE}: 1\n".encode(),
        r"found the key `\u202egap`",
    ),
}


def test_hostile_files_are_many() -> None:
    """The tables of hostile files have not shrunk."""
    assert [len(table) for table, _ in TABLES] == [62, 21, 1, 15]


# running them


@contextmanager
def laid_out(name: str, make: Callable[[], bytes]) -> Iterator[Path]:
    """Give a folder with the file in it, which is gone afterwards: some are large."""
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / name).write_bytes(make())
        yield Path(folder)


def judge(run: Run, expected: str, *, file: str = "", advised: bool = True) -> None:
    """Fail unless a run refused its file in plain words, or used it where nothing is expected.

    Structure that is not known is told with the keys that are, which is advice enough.
    """
    assert "Traceback" not in run.told
    assert "fault of its own" not in run.told
    assert run.memory < MOST_MEMORY
    if not expected:
        assert run.status in (0, 1, 4), run.told[:400]
        assert run.written
        return
    assert run.status == 2
    assert not run.written
    lines = run.told.splitlines()
    assert 0 < len(lines) <= MOST_PROBLEMS
    for line in lines:
        assert line.isprintable()
        assert len(line) < 2_000
        assert re.fullmatch(r".+: expected .+; found .+", line)
    first = next(line for line in lines if expected in line)
    place, _, said = first.partition(": expected ")
    if advised:
        assert said.count("; ") >= 2, "no advice"
    if file and LARGE not in first:
        assert re.fullmatch(rf"{re.escape(file)}:[1-9]\d*:[1-9]\d*", place)


WAYS: dict[str, tuple[str, ...]] = {
    # what a file is meant as: the command that reads it, named FILE
    "record": ("audit", "FILE"),
    "record, with a rulebook": ("audit", "FILE", "--against", "practice/hip-and-ridge"),
    "rulebook of an audit": ("audit", str(DEMO), "--against", "FILE"),
    "rulebook of a list": ("book", "facts", "--against", "FILE"),
}
TABLES = [
    (SYNTAX, ("record", "rulebook of a list")),
    (RECORDS, ("record, with a rulebook",)),
    (LISTS, ("record",)),
    (BOOKS, ("rulebook of an audit", "rulebook of a list")),
]
RUNS = [
    pytest.param(table, title, way, id=f"{title} - {way}")
    for table, meant in TABLES
    for title in table
    for way in meant
]


def run_as(way: str, name: str, folder: Path) -> Run:
    """Return what the command comes to that reads a file in one way."""
    return ridgerule(*(name if word == "FILE" else word for word in WAYS[way]), folder=folder)


@pytest.mark.parametrize(("table", "title", "way"), RUNS)
def test_hostile_file_is_refused_in_plain_words(table: Table, title: str, way: str) -> None:
    """Refused with its place and advice, or used; never a trace, a hang or too much memory."""
    name, make, expected = table[title]
    with laid_out(name, make) as folder:
        run = run_as(way, name, folder)
        judge(run, expected, file=name, advised=table is SYNTAX)
        assert not (folder / "taken").exists()


def test_bare_start_is_far_below_the_bounds() -> None:
    """What importing the command costs by itself leaves the bounds to the files."""
    bare = taken_down(sys.executable, "-c", "import ridgerule.cli.app", folder=ROOT)
    assert bare.status == 0
    assert bare.memory < MOST_MEMORY / 2
    assert bare.seconds < HANG / 4


# what stands at the path is no file to read

LACKING = "a file without it"
SPECIAL: dict[str, tuple[str, Callable[[Path], object], str]] = {
    # what it is: its name, how it is made, what was found
    "a link to itself": (
        "x.yaml",
        lambda path: path.symlink_to(path.name),
        "a link that leads back to itself",
    ),
    "a pipe": ("x.yaml", os.mkfifo, "a pipe"),
    "a folder": ("x.yaml", Path.mkdir, "a folder"),
    "a device without end": ("x.yaml", lambda path: path.symlink_to("/dev/zero"), "a device"),
    "a device without anything": ("x.yaml", lambda path: path.symlink_to("/dev/null"), "a device"),
    "nothing": ("x.yaml", lambda path: path, "nothing at this path"),
    "a link to nothing": (
        "x.yaml",
        lambda path: path.symlink_to("no.yaml"),
        "nothing at this path",
    ),
    "a name with an escape": (
        "\x1b[31mx\n.yaml",
        lambda path: path.write_text("a: 1\n"),
        LACKING,
    ),
    "a name that is no text": (
        os.fsdecode(b"\xff.yaml"),
        lambda path: path.write_text("a: 1\n"),
        LACKING,
    ),
    "a name too long": ("x" * 300 + ".yaml", lambda path: path, "file name too long"),
}


@pytest.mark.parametrize("title", SPECIAL)
@pytest.mark.parametrize("way", ["record", "rulebook of an audit", "rulebook of a list"])
def test_what_is_no_file_is_told_as_that(title: str, way: str, tmp_path: Path) -> None:
    """A pipe, a device, a folder or a link that leads nowhere is told at once, not waited for."""
    name, make, found = SPECIAL[title]
    make(tmp_path / name)
    judge(run_as(way, name, tmp_path), found, advised=found != LACKING)


def test_special_files_are_many() -> None:
    """The table of paths with no file to read has not shrunk."""
    assert len(SPECIAL) == 10


# many files


def test_a_chain_of_two_thousand_rulebooks_is_told_where_it_is_too_long(tmp_path: Path) -> None:
    """Rulebooks based on one another without end are followed so far and no further."""
    for i in range(2_000):
        text = rulebook(name=f"c{i}@1", based_on=[f"c{i + 1}@1"])
        (tmp_path / f"c{i}@1.json").write_text(text, encoding="utf-8")
    for named in ("c0@1", "c0@1.json"):
        run = ridgerule("book", "facts", "--against", named, folder=tmp_path)
        judge(run, f"expected at most {MOST_FOUND} rulebooks for one audit", file="c49@1.json")


def test_files_given_by_name_may_not_chain_without_end() -> None:
    """Of rulebooks that are all given, and so not looked up, a chain is bounded all the same."""
    count = MOST_FOUND + 9
    texts = [rulebook(name=f"c{i}@1", based_on=[f"c{i + 1}@1"]) for i in range(count)]
    found = shelf(*texts, rulebook(name=f"c{count}@1"))
    (told,) = problems(lambda: adapt(found.given[0], found))
    assert told.expected == f"at most {MOST_FOUND} rulebooks, each based on the next"
    assert told.location.file.endswith(f"book-{MOST_FOUND}.json")
    short = [*texts[9:], rulebook(name=f"c{count}@1")]
    found = shelf(*short)
    assert len([*adapt(found.given[0], found).documents()]) == MOST_FOUND + 1


@pytest.fixture(scope="module")
def crowded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with ten thousand editions of one rulebook."""
    folder = tmp_path_factory.mktemp("crowded")
    for i in range(10_000):
        text = f'{{"rulebook": "m", "title": "Invented", "edition": "{i}"}}'
        (folder / f"m@{i}.json").write_text(text, encoding="utf-8")
    return folder


CROWDS = {
    # what a record names: what is told; nothing where it is audited
    "[m@77]": "",
    "[m]": f"expected at most {MOST_FOUND} rulebooks for one audit",
    f"[{', '.join(f'm@{i}' for i in range(10_000))}]": f"expected at most {MOST_FOUND} rulebooks",
    "[mm@1]": "expected a rulebook that can be found; found `mm@1`",
    f"[{', '.join(f'mm@{i}' for i in range(10_000))}]": "after 99 others that can't",
}


@pytest.mark.parametrize("named", CROWDS, ids=lambda named: named[:9])
def test_a_folder_of_ten_thousand_rulebooks_is_no_trap(crowded: Path, named: str) -> None:
    """Among ten thousand files the one named is found, and naming them all is told once."""
    with laid_out("x.yaml", lambda: HEAD + f"rulebooks: {named}\n".encode()) as folder:
        run = ridgerule("audit", "x.yaml", "--rulebooks", str(crowded), folder=folder)
        judge(run, CROWDS[named], file="x.yaml")


# the bounds themselves


def _told(raw: bytes, name: str) -> list[str]:
    return [str(told) for told in problems(lambda: read_document(raw, name=name))]


@pytest.mark.parametrize(
    ("name", "first", "each", "last"),
    [
        ("x.yaml", b"- a\n", b"- a\n", b""),
        ("x.yaml", b"[a", b", a", b"]"),
        ("x.yaml", b"a: 1\n", b"k%d: 1\n", b""),
        ("x.json", b"[1", b",1", b"]"),
        ("x.json", b'{"a":1', b',"k%d":1', b"}"),
        ("x.json", b"[[]", b",[]", b"]"),
    ],
)
def test_the_last_value_that_fits_is_read(
    name: str, first: bytes, each: bytes, last: bytes
) -> None:
    """As many values as may be are read, and one more is told where it stands."""

    def text(values: int) -> bytes:
        rows = (each % i if b"%" in each else each for i in range(values - 2))
        return first + b"".join(rows) + last

    assert len(read_document(text(MOST_NODES), name=name).positions) == MOST_NODES
    (message,) = _told(text(MOST_NODES + 1), name)
    assert message.endswith(FULL)


HEADINGS = {
    "based_on": [f"t/b{i}@1" for i in range(2_000)],
    "facts": {f"line.f{i}": {"dimension": "length", "measure": "m"} for i in range(2_000)},
    "derive": {
        f"line.f{i}": {"dimension": "length", "measure": "m", "sum": ["line.length"]}
        for i in range(2_000)
    },
    "rules": [rule(f"r{i}", "line.length", "1 ft") for i in range(2_000)],
    "amendments": [amendment(f"r{i}", title="x") for i in range(2_000)],
    "withdrawals": [amendment(f"r{i}", permitted_by="x") for i in range(2_000)],
    "coverages": [
        {"id": f"c{i}", "title": "t", "conditions": {"all_of": ["r0"]}, "evidence": "e"}
        for i in range(2_000)
    ],
}


def test_every_heading_has_its_bound() -> None:
    """Each heading of a rulebook that holds entries without end has a bound."""
    assert HEADINGS.keys() == MOST_ENTRIES.keys()


@pytest.mark.parametrize("heading", HEADINGS)
def test_the_last_entry_that_fits_is_read(heading: str) -> None:
    """A heading takes as many entries as it may; the first too many is told in its place."""
    most = MOST_ENTRIES[heading]

    def read(count: int) -> object:
        entries: Any = HEADINGS[heading]
        held = (
            dict(islice(entries.items(), count)) if isinstance(entries, dict) else entries[:count]
        )
        data = json.loads(rulebook(name="t/a@1")) | {heading: held}
        raw = json.dumps(data, indent=1).encode()
        return read_rulebook(read_document(raw, name="x.json"))

    read(most)
    (told,) = problems(lambda: read(most + 1))
    assert told.expected == f"at most {most:,} entries under `{heading}:`"
    assert told.found == f"{most + 1:,}"
    assert told.advice
    assert told.location.line > most


@pytest.mark.parametrize("computed", [False, True], ids=["limit", "computed"])
def test_the_last_row_that_fits_is_read(*, computed: bool) -> None:
    """A table takes as many rows as it may, wherever it stands; one more is told in its place."""

    def read(count: int) -> object:
        value = "value" if computed else "limit"
        rows = [{"for": f"{i} mm", value: "1 in"} for i in range(count)]
        table = {"table": {"by": "line.length", "rows": rows}}
        made = {"line.made": {"dimension": "length", "measure": "m", **table}}
        asked = rule("r", "line.length", {"any_of": [table, {"at_least": "1 in"}]})
        text = rulebook(name="t/a@1", derive=made) if computed else rulebook(asked, name="t/a@1")
        return read_rulebook(read_document(text.encode(), name="x.json"))

    read(MOST_ROWS)
    (told,) = problems(lambda: read(MOST_ROWS + 1))
    assert (told.expected, told.found) == ("at most 1,000 rows in a table", "1,001")
    assert told.advice
    assert told.location.line > MOST_ROWS


SLOPES = st.integers(0, 12).map(lambda rise: f"{rise}:12") | st.integers(1, 44).map("{} deg".format)
SLOPE_KEYS = st.one_of(
    SLOPES,
    st.fixed_dictionaries({"one_of": st.lists(SLOPES, min_size=1, max_size=3)}),
    st.fixed_dictionaries({"none_of": st.lists(SLOPES, min_size=1, max_size=3)}),
    st.fixed_dictionaries({"at_least": SLOPES}),
    st.fixed_dictionaries({"at_most": SLOPES}),
    st.fixed_dictionaries({"not": st.fixed_dictionaries({"at_most": SLOPES})}),
    st.tuples(st.integers(0, 9), st.integers(0, 3)).map(
        lambda ends: {"between": [f"{ends[0]}:12", f"{sum(ends)}:12"]}
    ),
)
CHOICE_KEYS = st.sampled_from(
    ["plywood", {"one_of": ["boards", "planks"]}, {"none_of": ["plywood", "boards"]}]
)


def _overlaps(keys: list[list[Any]]) -> bool:
    """Tell whether a chart with a row for each pair of keys is refused for its overlaps."""
    rows = [{"for": key, "limit": {"at_least": "1 in"}} for key in keys]
    chart = {"table": {"by": ["plane.slope", "plane.deck"], "rows": rows}}
    told: set[str] = set()
    try:
        plan(rulebook(rule("r", "plane.deck_thickness", chart)))
    except InputRejected as rejected:
        told = {problem.expected for problem in rejected.problems}
    assert told in (set(), {"rows that don't overlap"})
    return bool(told)


@settings(max_examples=150, deadline=None, database=None, derandomize=True)
@given(keys=st.lists(st.tuples(SLOPE_KEYS, CHOICE_KEYS).map(list), min_size=2, max_size=4))
def test_a_chart_overlaps_where_two_of_its_rows_do(keys: list[list[Any]]) -> None:
    """Going through a chart in order of its values misses no pair of rows, and finds no other."""
    pairs = [_overlaps([one, other]) for one, other in combinations(keys, 2)]
    assert _overlaps(keys) is any(pairs)


@pytest.mark.parametrize(
    ("one", "other", "expected"),
    [
        ({"none_of": ["plywood", "boards"]}, {"one_of": ["boards", "planks"]}, True),
        ({"none_of": ["plywood", "boards"]}, {"one_of": ["boards", "plywood"]}, False),
        ({"none_of": ["plywood"]}, "plywood", False),
        ({"none_of": ["plywood"]}, "boards", True),
        ({"none_of": ["plywood"]}, {"none_of": ["boards"]}, True),
        ({"one_of": ["boards", "planks"]}, "planks", True),
        ({"one_of": ["boards", "planks"]}, "plywood", False),
    ],
)
def test_rows_of_words_overlap_where_a_word_is_in_both(
    one: object, other: object, *, expected: bool
) -> None:
    """Two rows of one chart overlap where one word is taken by both."""
    assert _overlaps([["5:12", one], ["5:12", other]]) is expected
    assert _overlaps([["5:12", other], ["5:12", one]]) is expected
    assert not _overlaps([["5:12", one], ["6:12", other]])


def test_rules_of_bases_count() -> None:
    """A rulebook and its bases may have so many rules together; of more, the one that adds them."""
    halves = [
        rulebook(
            *(rule(f"r{i}", "line.length", "1 ft") for i in range(MOST_RULES // 2 + extra)),
            name=f"t/{name}@1",
        )
        for name, extra in (("a", 0), ("b", 0), ("c", 1))
    ]

    def laid(*bases: str) -> object:
        middle = rulebook(name="t/mid@1", based_on=list(bases))
        found = shelf(rulebook(name="t/top@1", based_on=["t/mid@1"]), middle, *halves)
        return adapt(found.given[0], found)

    laid("t/a@1", "t/b@1")
    (told,) = problems(lambda: laid("t/a@1", "t/c@1"))
    assert (
        told.expected == f"at most {MOST_RULES:,} rules in a rulebook, those of its bases counted"
    )
    assert (told.found, told.location.file[-11:]) == ("1,001", "book-1.json")


def test_a_few_lost_rulebooks_are_advised_on_and_a_hundred_end_it(tmp_path: Path) -> None:
    """The first that can't be found are told with one like it; after a hundred none is sought."""
    (tmp_path / "near@1.json").write_text(rulebook(name="near@1"), encoding="utf-8")
    found = Shelf(folders=(tmp_path,))
    tolds = []
    for i in range(MOST_PROBLEMS + 9):
        where = read_document(b"a: 1\n", name="x.yaml").location()
        (told,) = problems(lambda i=i, where=where: found.editions(f"nea{i}@1", asked_at=where))
        tolds.append(told)
    advice = [told.advice for told in tolds]
    assert set(advice[:MOST_ADVISED]) == {"did you mean `near@1`?"}
    assert set(advice[MOST_ADVISED : MOST_PROBLEMS - 1]) == {"check its name"}
    (last,) = set(tolds[MOST_PROBLEMS - 1 :])
    assert last.found == "`nea99@1`, after 99 others that can't"


def test_a_hundred_mistakes_of_structure_are_told() -> None:
    """The schema's check tells so many mistakes and no more, in the order of their places."""
    raw = HEAD + b"".join(b"key%d: 1\n" % i for i in range(3 * MOST_PROBLEMS))
    told = check(read_document(raw, name="x.yaml"), "record")
    assert [problem.location.line for problem in told] == [*range(3, 3 + MOST_PROBLEMS)]


def test_readme_states_the_bounds() -> None:
    """README's sentence on bounds says the figures that hold."""
    text = " ".join((ROOT / "README.md").read_text(encoding="utf-8").split())
    (said,) = re.findall(r"Files are bounded: .*?\.", text)
    for bound in (
        f"{MOST_BYTES // MIB} MiB",
        f"{MOST_DEPTH} levels",
        f"{MOST_NODES:,} values",
        f"{MOST_TEXT // 1024} KiB",
        f"{MOST_RULES:,} rules",
        f"{MOST_ROWS:,} rows",
        f"{MOST_ENTRIES['facts']} facts",
        f"{MOST_ENTRIES['derive']} computed facts",
        f"{MOST_ENTRIES['coverages']} coverages",
        f"{MOST_FOUND} rulebooks",
    ):
        assert bound in said


def figures() -> None:
    """Print what each run takes, the slowest last."""
    rows = []
    for run in RUNS:
        table, title, way = run.values
        name, make, _ = table[title]
        with laid_out(name, make) as folder:
            came = run_as(way, name, folder)
        rows.append((came.seconds, came.memory // MIB, came.status, f"{title}, as {way}"))
    for seconds, memory, status, title in sorted(rows):
        sys.stdout.write(f"{seconds:5.2f} s  {memory:4} MiB  status {status}  {title}\n")


if __name__ == "__main__":
    figures()
