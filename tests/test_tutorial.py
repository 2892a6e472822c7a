"""The tutorial is done as it is written, from an empty folder: each file, edit and command."""

from __future__ import annotations

import re
import shlex
from pathlib import Path
from typing import NamedTuple

import pytest

from ridgerule.audit.findings import Outcome
from ridgerule.cli.app import run
from ridgerule.cli.inputs import Asked, Auditor
from ridgerule.shipped import shipped
from test_worked_examples import is_shown

PAGE = shipped("rulebooks") / "README.md"


class Command(NamedTuple):
    """A command, the status it is said to end with, and what it is shown to print."""

    words: list[str]
    status: int
    shown: list[str]


class Written(NamedTuple):
    """A new file and what is in it."""

    file: str
    text: str


class Changed(NamedTuple):
    """Lines of a file, found once, and what stands in their place afterwards."""

    file: str
    found: str
    instead: str


class Copied(NamedTuple):
    """A file, and the name of its copy."""

    file: str
    copy: str


Step = Command | Written | Changed | Copied

COPY = re.compile(r"^Copy `([^`]+)` to a new file, `([^`]+)`\.$")
WRITE = re.compile(r"^Write a new file, `([^`]+)`:$")
FIND = re.compile(r"^In `([^`]+)` find:$")
INSTEAD = "Write in its place:"
SILENT = "It prints nothing."
FENCE = "```"


class _Reading:
    """The page, read line by line; whatever is fenced has to be said what it is for."""

    def __init__(self, page: str) -> None:
        self.lines = page.splitlines()
        self.at = 0
        self.steps: list[Step] = []

    def block(self, language: str) -> str:
        """Return the text of the fenced block that begins after empty lines."""
        while not self.lines[self.at]:
            self.at += 1
        assert self.lines[self.at] == f"{FENCE}{language}", f"line {self.at + 1}"
        end = self.lines.index(FENCE, self.at + 1)
        text = "".join(f"{line}\n" for line in self.lines[self.at + 1 : end])
        self.at = end + 1
        return text

    def command(self) -> Command:
        """Return a command with what it prints; its lines are joined as shells join them.

        Where the page says that it prints nothing, it shows nothing.
        """
        typed = self.block("sh")
        said = re.search(r"  # ends with status ([1-4])$", typed, re.MULTILINE)
        words = shlex.split(typed.replace(said[0] if said else "", "").replace("\\\n", ""))
        is_silent = self.lines[self.at + 1].startswith(SILENT)
        shown = [] if is_silent else self.block("text").splitlines()
        return Command(words, int(said[1]) if said else 0, shown)

    def changed(self, file: str) -> Changed:
        """Return a change: what to find, then what to write instead."""
        found = self.block("yaml")
        while not self.lines[self.at]:
            self.at += 1
        assert self.lines[self.at] == INSTEAD, f"line {self.at + 1}"
        self.at += 1
        return Changed(file, found, self.block("yaml"))

    def step(self, line: str) -> Step | None:
        """Return the step that a line of the page begins, if it begins one."""
        if line == f"{FENCE}sh":
            self.at -= 1
            return self.command()
        if said := COPY.match(line):
            return Copied(*said.groups())
        if said := WRITE.match(line):
            return Written(said[1], self.block("yaml"))
        if said := FIND.match(line):
            return self.changed(said[1])
        assert not line.startswith(FENCE), f"line {self.at}: nothing says what this is for"
        return None

    def read(self) -> list[Step]:
        """Return every step of the page, in its order."""
        while self.at < len(self.lines):
            self.at += 1
            if step := self.step(self.lines[self.at - 1]):
                self.steps.append(step)
        return self.steps


def _steps() -> list[Step]:
    return _Reading(PAGE.read_text(encoding="utf-8")).read()


def _edit(step: Written | Changed | Copied) -> None:
    """Do to the file what the page says, and nothing else."""
    file = Path(step.file)
    match step:
        case Written(_, text):
            assert not file.exists()
            file.write_text(text, encoding="utf-8")
        case Changed(_, found, instead):
            before = file.read_text(encoding="utf-8")
            assert before.count(f"\n{found}") == 1, f"{file}: find once\n{found}"
            file.write_text(before.replace(f"\n{found}", f"\n{instead}"), encoding="utf-8")
        case Copied(_, copy):
            assert not Path(copy).exists()
            Path(copy).write_text(file.read_text(encoding="utf-8"), encoding="utf-8")


def _printed(capfd: pytest.CaptureFixture[str], words: list[str]) -> tuple[int, list[str]]:
    """Return the status of a command and all the lines it put on the screen."""
    assert words[0] == "ridgerule"
    status = run(words[1:])
    out, err = capfd.readouterr()
    return status, (out + err).splitlines()


@pytest.fixture
def done(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> Path:
    """Do the whole tutorial in an empty folder, and return the folder."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setenv("NO_COLOR", "1")
    for step in _steps():
        if isinstance(step, Command):
            status, lines = _printed(capfd, step.words)
            assert is_shown(lines, step.shown), "\n".join([shlex.join(step.words), *lines])
            assert status == step.status, shlex.join(step.words)
        else:
            _edit(step)
    return tmp_path


def test_every_step_of_the_page_is_done_as_written(done: Path) -> None:
    """From an empty folder to two editions, a page and a record; nothing else is left behind."""
    assert sorted(file.name for file in done.iterdir()) == [
        "fen-county@2026-11.yaml",
        "fen-county@2027-03.yaml",
        "gutter-falls.html",
        "roof.yaml",
        "rulebook.schema.json",
    ]
    page = " ".join((done / "gutter-falls.html").read_text(encoding="utf-8").split())
    assert "A gutter falls at least 1/2 % towards its outlet" in page


def test_the_date_of_the_permit_picks_the_edition_as_the_page_says(done: Path) -> None:
    """E1 falls 0.625 %: it passes by the edition of its permit and fails by the next one."""
    record = done / "roof.yaml"
    for permit, limit, outcome in (
        ("2026-11-10", "at least 1/2 %", Outcome.PASS),
        ("2027-03-01", "at least 3/4 %", Outcome.FAIL),
    ):
        text = record.read_text(encoding="utf-8")
        dated = re.sub(r"permit: [0-9-]+", f"permit: {permit}", text)
        record.write_text(dated, encoding="utf-8")
        audit = Auditor(Asked()).audit(record)
        (found,) = (
            f for f in audit.findings
            if f.rule and f.rule.id == "gutter-falls" and f.place.label == "eave E1"
        )  # fmt: skip
        assert (found.limit, found.outcome) == (limit, outcome)


def test_the_new_edition_is_proved_too(done: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """What the page leaves to the reader comes out well: the second edition has its cases."""
    assert done.is_dir()
    status, lines = _printed(
        capfd, ["ridgerule", "book", "prove", "--thorough", "fen-county@2027-03.yaml"]
    )
    assert status == 0, lines
    assert lines[0].endswith(": proved")


def test_the_page_has_a_step_of_every_kind() -> None:
    """Each command of the page is counted, and each file written, changed or copied."""
    steps = _steps()
    commands = [step for step in steps if isinstance(step, Command)]
    assert {" ".join(step.words[1:3]) for step in commands} == {
        "audit roof.yaml",
        "book adapt",
        "book check",
        "book differences",
        "book list",
        "book prove",
        "book show",
    }
    assert [sum(isinstance(step, kind) for step in steps) for kind in
            (Command, Changed, Written, Copied)] == [15, 15, 1, 1]  # fmt: skip
    assert len(steps) == 32


def test_page_of_fences_that_nothing_explains_is_refused() -> None:
    """A block of YAML that no sentence gives a place to can't slip by unread."""
    with pytest.raises(AssertionError, match="nothing says"):
        _Reading("Some words.\n\n```yaml\na: b\n```\n").read()
    with pytest.raises(AssertionError):
        _Reading("In `a.yaml` find:\n\n```yaml\na: b\n```\n\nAnd so on.\n").read()


@pytest.mark.parametrize("found", ["a: b\n", "c: d\n"])
def test_edit_has_to_find_its_lines_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, found: str
) -> None:
    """Lines that are not there, or there twice, stop the test as they would stop a reader."""
    monkeypatch.chdir(tmp_path)
    Path("x.yaml").write_text("# x\na: b\n# y\na: b\n", encoding="utf-8")
    with pytest.raises(AssertionError, match="find once"):
        _edit(Changed("x.yaml", found, "e: f\n"))
