"""What an author is told of each mistake, in whole messages, through the path the commands take.

`fixtures/broken/` holds one file per mistake. `messages.txt` there gives, under each file's name,
every message it comes to, just as the command prints them.
"""

from __future__ import annotations

from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

import pytest

from ridgerule.audit.findings import Outcome
from ridgerule.cli.inputs import Asked, Auditor
from ridgerule.problems import InputRejected

if TYPE_CHECKING:
    from collections.abc import Mapping

BROKEN = Path(__file__).parent.parent / "fixtures" / "broken"
GOOD_RECORD = Path("good-record.yaml")
STOOD_ON = frozenset({"rulebooks/good-base@1.yaml", "rulebooks/circle-back@1.yaml"})
"""Rulebooks that others there are based on; no mistake of their own is told of them."""


def _files(folder: str) -> list[str]:
    found = (file.relative_to(BROKEN).as_posix() for file in (BROKEN / folder).iterdir())
    return sorted(set(found) - STOOD_ON)


def _messages() -> Mapping[str, list[str]]:
    """Return the messages each file comes to, by its path from the folder."""
    messages: dict[str, list[str]] = {}
    for line in (BROKEN / "messages.txt").read_text("utf-8").splitlines():
        if line.startswith("  "):
            messages[[*messages][-1]].append(line.removeprefix("  "))
        elif line:
            messages[line] = []
    return MappingProxyType(messages)


RECORDS, RULEBOOKS, MESSAGES = _files("records"), _files("rulebooks"), _messages()


@pytest.fixture(autouse=True)
def _inside(monkeypatch: pytest.MonkeyPatch) -> None:
    """Stand in the folder, so that messages name files as an author would."""
    monkeypatch.chdir(BROKEN)


def _told(asked: Asked, record: Path) -> list[str]:
    with pytest.raises(InputRejected) as rejected:
        Auditor(asked).audit(record)
    return [str(problem) for problem in rejected.value.problems]


@pytest.mark.parametrize("file", RECORDS)
def test_a_broken_record_is_told_in_whole_messages(file: str) -> None:
    """A record with a mistake is refused with just the messages written down for it."""
    assert _told(Asked(folders=(Path(),)), Path(file)) == MESSAGES[file]


@pytest.mark.parametrize("file", RULEBOOKS)
def test_a_broken_rulebook_is_told_in_whole_messages(file: str) -> None:
    """A sound record held against a rulebook with a mistake is told of the rulebook's alone."""
    assert _told(Asked(against=(file,)), GOOD_RECORD) == MESSAGES[file]


@pytest.mark.parametrize(
    "asked",
    [
        Asked(folders=(Path(),)),
        Asked(against=("good-rulebook@1.yaml",)),
        Asked(against=("rulebooks/good-base@1.yaml",)),
    ],
    ids=str,
)
def test_the_files_without_a_mistake_are_audited(asked: Asked) -> None:
    """The record and the rulebooks that the broken files were made from are sound."""
    # Both gaps meet 2 1/2 in, but nothing in the record says that it lists every hip.
    assert Auditor(asked).audit(GOOD_RECORD).outcome is Outcome.NOT_VERIFIED


def test_every_broken_file_was_found_and_has_its_messages() -> None:
    """Each file has messages and each message a file, of which there are as many as we know."""
    assert (len(RECORDS), len(RULEBOOKS)) == (70, 72)
    assert sorted(MESSAGES) == sorted([*RECORDS, *RULEBOOKS])
    assert all(MESSAGES.values())


@pytest.mark.parametrize("file", [*RECORDS, *RULEBOOKS])
def test_every_message_says_what_was_expected_and_found(file: str) -> None:
    """A message gives file, line and column, what was expected and what was found, in a line."""
    for message in MESSAGES[file]:
        name, line, column, told = message.split(":", 3)
        assert (BROKEN / name).is_file()
        lines = (BROKEN / name).read_bytes().splitlines() or [b""]
        assert 1 <= int(line) <= len(lines)
        assert 1 <= int(column) <= len(lines[int(line) - 1]) + 1
        assert told.startswith(" expected ")
        assert "; found " in told


@pytest.mark.parametrize(
    ("file", "least"),
    [
        ("records/many-mistakes.yaml", 10),
        ("rulebooks/many-mistakes.yaml", 3),
        ("rulebooks/many-mistakes-inside-rules.yaml", 6),
    ],
)
def test_many_mistakes_are_told_at_once(file: str, least: int) -> None:
    """A file with many mistakes is told all of them, in the order they stand in the file."""
    places = [tuple(map(int, message.split(":")[1:3])) for message in MESSAGES[file]]
    assert len(places) >= least
    assert places == sorted(places)
