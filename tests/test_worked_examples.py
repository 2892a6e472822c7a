"""The worked examples print what their page shows, command by command."""

from __future__ import annotations

import re
import shlex
from pathlib import Path
from typing import NamedTuple

import pytest

from ridgerule.cli import reckon
from ridgerule.cli.app import run
from ridgerule.shipped import shipped

ROOT = Path(__file__).parent.parent
PAGE = shipped("rulebooks") / "RECKONING.md"
LEFT_OUT = "…"
"""A line of the page that stands for one line or more."""


class Example(NamedTuple):
    """A command, the status it is said to end with, and what it is shown to print."""

    words: list[str]
    status: int
    shown: list[str]


def _examples() -> list[Example]:
    page = PAGE.read_text(encoding="utf-8")
    blocks = re.findall(r"^```sh\n(.*?)^```\n\n```text\n(.*?)^```$", page, re.DOTALL | re.MULTILINE)
    # Every block belongs to a pair, so that none can go unread.
    assert len(re.findall("^```", page, re.MULTILINE)) == 4 * len(blocks)
    found = []
    for command, shown in blocks:
        said = re.search(r"  # ends with status ([1-4])$", command, re.MULTILINE)
        words = shlex.split(
            command.replace("\\\n", ""), comments=True
        )  # a line joined, as shells do
        found.append(Example(words, int(said[1]) if said else 0, shown.splitlines()))
    return found


EXAMPLES = _examples()


def is_shown(printed: list[str], shown: list[str]) -> bool:
    """Whether the lines printed are those shown, `…` standing for one line or more."""
    line = {LEFT_OUT: "(?:.*\n)+?"}
    pattern = "".join(line.get(text, f"{re.escape(text)}\n") for text in shown)
    return re.fullmatch(pattern, "".join(f"{text}\n" for text in printed)) is not None


def test_every_computation_has_an_example() -> None:
    """Seventeen of them: each command of `reckon` at least once, and the audit of a roof."""
    assert len(EXAMPLES) == 17
    assert {words[0] for words, _, _ in EXAMPLES} == {"ridgerule"}
    commands = {
        command.callback.__name__
        for command in reckon.app.registered_commands
        if command.callback is not None
    }
    assert {words[2] for words, _, _ in EXAMPLES if words[1] == "reckon"} == commands
    assert sum(words[1] == "audit" for words, _, _ in EXAMPLES) == 1


@pytest.mark.parametrize(
    "example", EXAMPLES, ids=[f"{n} {' '.join(e.words[1:3])}" for n, e in enumerate(EXAMPLES, 1)]
)
def test_the_page_shows_what_is_printed(
    example: Example, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Run from the repository's root on a screen of 80 columns: the same lines and status."""
    monkeypatch.chdir(ROOT)
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setenv("NO_COLOR", "1")
    status = run(example.words[1:])
    out, err = capfd.readouterr()
    assert err == ""
    assert is_shown(out.splitlines(), example.shown), out
    assert status == example.status


@pytest.mark.parametrize(
    ("shown", "is_so"),
    [
        (["a", "b", "c"], True),
        (["a", LEFT_OUT], True),
        ([LEFT_OUT, "b", LEFT_OUT], True),
        ([LEFT_OUT, "c"], True),
        (["a", "c"], False),
        (["a", "b"], False),
        (["a", LEFT_OUT, "b", "c"], False),
        (["a", "b", "c", LEFT_OUT], False),
        (["A", LEFT_OUT], False),
    ],
)
def test_lines_left_out_stand_for_lines_that_are_there(shown: list[str], *, is_so: bool) -> None:
    """A mark covers whole lines, at least one, and nothing else may differ."""
    assert is_shown(["a", "b", "c"], shown) is is_so


def test_no_rulebook_is_looked_for_in_the_page() -> None:
    """The page lies among the rulebooks; only files named `id@edition` are taken for one."""
    assert PAGE.is_file()
    assert "@" not in PAGE.name
    assert PAGE not in set(shipped("rulebooks").rglob("*@*"))
