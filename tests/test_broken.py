"""What an author is told of each mistake, in whole messages, through the path the commands take.

`fixtures/broken/` holds one file per mistake. `messages.txt` there gives, under each file's name,
every message it comes to, just as the command prints them. `checks/` holds rulebooks that can be
read and audited, and that `ridgerule book check` alone has something to say of;
`check-messages.txt` gives what it says of each.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

import pytest

from ridgerule.audit.findings import Outcome
from ridgerule.cli.book_check import check_files
from ridgerule.cli.inputs import Asked, Auditor
from ridgerule.problems import InputRejected
from ridgerule.proof.lint_remarks import Level

if TYPE_CHECKING:
    from collections.abc import Mapping

BROKEN = Path(__file__).parent.parent / "fixtures" / "broken"
GOOD_RECORD = Path("good-record.yaml")
STOOD_ON = frozenset(
    {
        "rulebooks/circle-back@1.yaml",
        "rulebooks/firm-base@1.yaml",
        "rulebooks/firm-child@1.yaml",
        "rulebooks/good-base@1.yaml",
        "checks/firm-narrow@1.yaml",
        "checks/firm@1.yaml",
        "checks/renewed@10.yaml",
        "checks/renewed@9.yaml",
        "checks/slates@1.yaml",
        "checks/tiles@1.yaml",
    }
)
"""Rulebooks that others there are based on; no mistake of their own is told of them."""
TODAY = dt.date(2026, 12, 1)
"""The day that rulebooks are checked on here."""


def _files(folder: str) -> list[str]:
    found = (file.relative_to(BROKEN).as_posix() for file in (BROKEN / folder).iterdir())
    return sorted(set(found) - STOOD_ON)


def _messages(name: str) -> Mapping[str, list[str]]:
    """Return the messages each file comes to, by its path from the folder."""
    messages: dict[str, list[str]] = {}
    for line in (BROKEN / name).read_text("utf-8").splitlines():
        if line.startswith("  "):
            messages[[*messages][-1]].append(line.removeprefix("  "))
        elif line:
            messages[line] = []
    return MappingProxyType(messages)


RECORDS, RULEBOOKS, MESSAGES = _files("records"), _files("rulebooks"), _messages("messages.txt")
CHECKS, CHECK_MESSAGES = _files("checks"), _messages("check-messages.txt")


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
        Asked(against=("rulebooks/firm-base@1.yaml",)),
        Asked(against=("rulebooks/firm-child@1.yaml",)),
    ],
    ids=str,
)
def test_the_files_without_a_mistake_are_audited(asked: Asked) -> None:
    """The record and the rulebooks that the broken files were made from are sound."""
    # Both gaps meet 2 1/2 in, but nothing in the record says that it lists every hip.
    assert Auditor(asked).audit(GOOD_RECORD).outcome is Outcome.NOT_VERIFIED


def test_every_broken_file_was_found_and_has_its_messages() -> None:
    """Each file has messages and each message a file, of which there are as many as we know."""
    assert (len(RECORDS), len(RULEBOOKS), len(CHECKS)) == (76, 103, 50)
    assert sorted(MESSAGES) == sorted([*RECORDS, *RULEBOOKS])
    assert sorted(CHECK_MESSAGES) == sorted(CHECKS)
    assert all(MESSAGES.values())
    assert all(CHECK_MESSAGES.values())


@pytest.mark.parametrize("file", RULEBOOKS)
def test_a_check_tells_what_keeps_a_rulebook_from_being_used(file: str) -> None:
    """What an audit refuses a rulebook for is what a check tells as errors, word for word."""
    told = check_files([Path(file)], (), TODAY).remarks
    assert {remark.level for remark in told} == {Level.ERROR}
    assert [str(remark.problem) for remark in told] == MESSAGES[file]


@pytest.mark.parametrize("file", CHECKS)
def test_a_check_tells_whole_messages(file: str) -> None:
    """A rulebook that can be used and has a mistake all the same is told just what is written."""
    told = check_files([Path(file)], (), TODAY).remarks
    assert [str(remark) for remark in told] == CHECK_MESSAGES[file]


@pytest.mark.parametrize("file", sorted(STOOD_ON - {"rulebooks/circle-back@1.yaml"}))
def test_a_rulebook_to_stand_on_has_no_error(file: str) -> None:
    """What the files with a mistake are based on gives them no mistake of its own."""
    told = check_files([Path(file)], (), TODAY).remarks
    assert [str(remark) for remark in told if remark.level is Level.ERROR] == []
    if file.startswith("checks/"):
        assert told == ()


@pytest.mark.parametrize("file", CHECKS)
def test_what_only_a_check_tells_keeps_nothing_from_being_audited(file: str) -> None:
    """A record is held against each of these rulebooks: none has a mistake that refuses it."""
    assert [
        book.edition.book.document.name
        for book in Auditor(Asked(against=(file,))).audit(GOOD_RECORD).books
    ] == [file]


KINDS = (
    # what a check expects, the kind of remark it is, in how many of the messages
    ("a rule that applies to some roof;", "error", 4),
    ("a limit that some reading can meet;", "error", 6),
    ("a limit that some reading can break;", "warning", 2),
    ("an aim that meets the limit", "warning", 1),
    ("a limit that some `", "error", 4),
    ("a base with rules for the roofs in", "warning", 1),
    ("as this case of `", "error", 4),
    ("facts that can be recorded", "error", 1),
    ("as the case at ", "error", 1),
    ("a case of its own", "warning", 1),
    ("facts that `", "warning", 1),
    ("a case that passes and one that fails", "warning", 2),
    ("passing and failing;", "warning", 2),
    ("`cases:` beside a changed `", "error", 1),
    ("`cases:` beside a changed `", "warning", 1),
    ("other than the one at", "warning", 1),
    ("a `published` source with its `section`", "warning", 2),
    ("no `document` beside `common practice`", "warning", 1),
    ("a source that a rule or a change names", "warning", 2),
    ("values confirmed against", "warning", 1),
    ("a fact that a rule or a computed fact", "warning", 1),
    ("a computed fact that a rule or another", "warning", 1),
    ("an edition in force today", "warning", 1),
    ("days on which no other edition", "error", 2),
    ("in force on every day between two", "warning", 2),
    ("one date that tells the editions", "error", 4),
    ("the newest edition in sight", "warning", 1),
    ("a file named `", "warning", 1),
    ("two conditions or more under `any_of`", "warning", 1),
    ("each rule once in a coverage", "warning", 1),
    ("words of your own", "warning", 1),
    ("that some roof can meet", "error", 3),
    ("a rule that applies to some roof in the scope", "warning", 1),
    ("a rule that some reading can meet", "warning", 1),
)


def test_every_kind_of_remark_is_shown() -> None:
    """Each kind of remark is told by as many messages as we know, and each message is of a kind."""
    told = [m.split(": ", 2)[1:] for lines in CHECK_MESSAGES.values() for m in lines]
    counts = [
        sum(level == said and phrase in words.split("; found ")[0] + ";" for level, words in told)
        for phrase, said, _ in KINDS
    ]
    assert counts == [count for *_, count in KINDS]
    assert sum(counts) == len(told)


@pytest.mark.parametrize("file", [*RECORDS, *RULEBOOKS, *CHECKS])
def test_every_message_says_what_was_expected_and_found(file: str) -> None:
    """A message gives file, line and column, what was expected and what was found, in a line."""
    for message in (MESSAGES if file in MESSAGES else CHECK_MESSAGES)[file]:
        name, line, column, told = message.split(":", 3)
        told = told.removeprefix(" error:").removeprefix(" warning:")
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
        ("rulebooks/many-mistakes-in-coverages.yaml", 3),
    ],
)
def test_many_mistakes_are_told_at_once(file: str, least: int) -> None:
    """A file with many mistakes is told all of them, in the order they stand in the file."""
    places = [tuple(map(int, message.split(":")[1:3])) for message in MESSAGES[file]]
    assert len(places) >= least
    assert places == sorted(places)
