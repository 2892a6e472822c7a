"""`ridgerule book facts`: what a record can hold and what is computed from it."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from ridgerule.audit.engine_facts import engine_vocabulary
from ridgerule.cli import main
from ridgerule.cli.app import run
from ridgerule.facts import Element
from ridgerule.record_schema import record_schema
from ridgerule.vocabulary import VOCABULARY
from workshop import rule, rulebook

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    Shell = Callable[..., tuple[int, str]]

COMPUTED = [fact for fact in engine_vocabulary().facts if fact.derivation is not None]
BOOK = "test-house@1.json"


@pytest.fixture(autouse=True)
def _plain(monkeypatch: pytest.MonkeyPatch) -> None:
    """Give every test a screen of 80 columns that asks for no plainness of its own."""
    monkeypatch.setenv("COLUMNS", "80")
    for name in ("NO_COLOR", "FORCE_COLOR", "TERM"):
        monkeypatch.delenv(name, raising=False)


@pytest.fixture
def shell(capfd: pytest.CaptureFixture[str]) -> Shell:
    """Return a function that runs `book facts`: its status and standard output."""

    def listed(*arguments: str) -> tuple[int, str]:
        status = run(["book", "facts", *arguments])
        return status, capfd.readouterr().out

    return listed


@pytest.fixture
def house(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return the working directory, with a rulebook that has facts of its own in it."""
    facts = {
        "station.lining": {
            "dimension": "length",
            "measure": "edge to edge of the lining",
            "ask": "How wide is the lining?",
            "tool": "tape",
            "least": "1 in",
            "greatest": "24 in",
            "on": "line",
        }
    }
    derive = {
        "station.lining_half": {
            "dimension": "length",
            "measure": "half the lining",
            "product": ["station.lining", "1:2"],
        },
        "line.lining_named": {
            "dimension": "length",
            "measure": "greatest of the line",
            "formula": "the greatest lining along the line",
            "source": "firm policy 7 (invented)",
            "sum": ["greatest station.lining"],
        },
    }
    text = rulebook(
        rule("r", "station.lining", {"at_least": "9 in"}),
        name="test-house@1",
        facts=facts,
        derive=derive,
    )
    (tmp_path / BOOK).write_text(text, "utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def _blocks(text: str) -> dict[str, str]:
    """Return what is listed under each fact's name, on one line."""
    parts = re.split(r"\n\n(?=[a-z]+\.[a-z_0-9]+  )", text)[1:]
    return {part.split()[0]: " ".join(part.split("\n\n")[0].split()) for part in parts}


def test_every_fact_is_listed_under_its_element(shell: Shell) -> None:
    """The list holds the engine's facts, each once, the recorded of an element first."""
    status, out = shell()
    assert status == 0
    facts = engine_vocabulary().facts
    assert sorted(_blocks(out)) == sorted(fact.full_name for fact in facts)
    headings = re.findall(r"(?m)^([A-Z]+): (\d+) recorded, (\d+) computed$", out)
    assert headings == [
        (
            element.upper(),
            str(sum(f.element is element and f.derivation is None for f in facts)),
            str(sum(f.element is element and f.derivation is not None for f in facts)),
        )
        for element in Element
    ]
    assert len(COMPUTED) >= 15


def test_a_recorded_fact_says_how_it_is_read(shell: Shell) -> None:
    """Dimension, sides, measuring definition, question, instrument and range are said."""
    _, out = shell("--element", "station")
    gap = VOCABULARY.by_name["station.gap"]
    told = f"{gap.measure} ask {gap.ask} with {gap.tool} range 0 in to "
    assert _blocks(out)["station.gap"].startswith(f"station.gap length, on a line measured {told}")
    assert "each side by itself" in _blocks(out)["station.fastener_to_edge"]
    assert all(name.startswith("station.") for name in _blocks(out))


def test_a_fact_outside_its_elements_section_says_its_key(shell: Shell) -> None:
    """A date is told with the section of the record it stands in."""
    _, out = shell("--element", "roof")
    sections = {fact.full_name: fact for fact in VOCABULARY.facts if fact.section}
    assert sections
    for name, fact in sections.items():
        assert f"written as {fact.section}.{fact.key}" in _blocks(out)[name]
    assert "one of composite slate, natural slate" in _blocks(out)["roof.covering"]


def test_a_computed_fact_says_what_it_is_computed_from_and_how(shell: Shell) -> None:
    """Inputs, the formula in words and its source stand under every computed fact."""
    _, out = shell()
    for fact in COMPUTED:
        block = _blocks(out)[fact.full_name]
        assert block.startswith(f"{fact.full_name} {fact.dimension}, computed"), block
        assert f"from {', '.join(fact.inputs)} formula {fact.formula}" in block
        assert "range" not in block.split(" formula ")[0].split()
        assert not fact.source or block.endswith(f"source {fact.source}")
    assert sum(bool(fact.source) for fact in COMPUTED) >= len(COMPUTED) - 1


@pytest.mark.parametrize("width", [80, 120])
def test_the_list_fits_the_screen(width: int, shell: Shell, monkeypatch) -> None:
    """No line is wider than the screen, none ends in spaces, and none has a terminal's codes."""
    monkeypatch.setenv("COLUMNS", str(width))
    _, out = shell()
    lines = out.splitlines()
    assert max(map(len, lines)) <= width
    assert max(map(len, lines)) > width - 5
    assert all(line == line.rstrip() for line in lines)
    assert "\x1b" not in out
    assert "\n\n\n" not in out


def test_the_list_of_a_pipe_has_no_colour_and_only_what_it_can_show(house: Path) -> None:
    """Into a pipe goes plain text, in ASCII where the locale has no more."""
    command = (sys.executable, "-c", "from ridgerule.cli import main; main()", "book", "facts")
    environment = {"PYTHONIOENCODING": "ascii", "COLUMNS": "80", "PATH": ""}
    done = subprocess.run(command, capture_output=True, check=False, cwd=house, env=environment)
    assert (done.returncode, done.stderr) == (0, b"")
    assert done.stdout.isascii()
    assert b"\x1b" not in done.stdout


def test_facts_of_a_rulebook_are_listed_with_its_name(house: Path, shell: Shell) -> None:
    """A rulebook's own facts and computed ones stand beside the engine's, with their origin."""
    status, out = shell("--against", BOOK)
    blocks = _blocks(out)
    assert status == 0
    assert blocks["station.lining"] == (
        "station.lining length, on a line measured edge to edge of the lining ask How wide is the "
        "lining? with tape range 1 in to 24 in declared by test-house@1"
    )
    assert blocks["station.lining_half"] == (
        "station.lining_half length, computed, on a line is half the lining from station.lining "
        "formula product of station.lining, 1:2 source arithmetic declared by test-house@1"
    )
    assert blocks["line.lining_named"] == (
        "line.lining_named length, computed is greatest of the line from station.lining formula "
        "the greatest lining along the line source firm policy 7 (invented) declared by "
        "test-house@1"
    )
    assert "declared by" not in blocks["station.gap"]


def test_a_rulebook_in_a_folder_is_found_by_its_id(house: Path, shell: Shell) -> None:
    """An id is looked for in the working directory and in folders named, as an audit does."""
    for arguments in (("test-house@1",), ("test-house", "--rulebooks", str(house))):
        status, out = shell("--against", *arguments, "--element", "station")
        assert status == 0
        assert "station.lining_half" in _blocks(out)


def test_data_holds_the_same_facts(house: Path, shell: Shell) -> None:
    """JSON has each fact whole, with the rulebooks that were asked for."""
    _, out = shell("--against", BOOK, "--format", "json")
    data = json.loads(out)
    assert (data["vocabulary"], data["rulebooks"]) == (1, ["test-house@1"])
    facts = {fact["name"]: fact for fact in data["facts"]}
    assert len(facts) == len(data["facts"]) == len(engine_vocabulary().facts) + 3
    assert facts["station.lining_half"] == {
        "name": "station.lining_half",
        "element": "station",
        "dimension": "length",
        "computed": True,
        "origin": "test-house@1",
        "measure": "half the lining",
        "per_side": False,
        "stations_on": "line",
        "inputs": ["station.lining"],
        "formula": "product of station.lining, 1:2",
        "source": "arithmetic",
    }
    assert facts["station.lining"]["recorded_as"] == "lines.*.stations.*.lining"
    assert facts["plane.slope"]["recorded_as"] == "planes.*.slope"
    assert facts["roof.covering"]["recorded_as"] == "roof.covering"
    _, only_walls = shell("--element", "wall", "--format", "json")
    assert {fact["element"] for fact in json.loads(only_walls)["facts"]} == {"wall"}


def test_the_schema_offers_what_can_be_recorded_and_nothing_computed(
    house: Path, shell: Shell
) -> None:
    """The engine's schema is the shipped one; a rulebook adds its facts, never computed ones."""
    _, plain = shell("--schema")
    assert json.loads(plain) == record_schema(VOCABULARY)
    status, out = shell("--against", BOOK, "--schema")
    assert status == 0
    schema = json.loads(out)
    before = record_schema(VOCABULARY)["$defs"]["station"]["properties"]
    station = schema["$defs"]["station"]["properties"]
    assert station.keys() - before.keys() == {"lining"}
    assert station["lining"]["title"] == "How wide is the lining?"
    assert "lining_named" not in schema["$defs"]["line"]["properties"]
    assert "included_angle" not in schema["$defs"]["line"]["properties"]


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("--schema", "--element", "line"), "a schema is of the whole record"),
        (("--element", "chimney"), "'chimney' is not one of"),
        (("--format", "csv"), "'csv' is not one of"),
    ],
)
def test_bad_usage_is_told(arguments, told: str, capfd: pytest.CaptureFixture[str]) -> None:
    """What can't be asked for together, or at all, ends with status 2 and says why."""
    assert run(["book", "facts", *arguments]) == 2
    said = capfd.readouterr()
    assert said.out == ""
    assert told in " ".join(said.err.split())


def test_a_rulebook_that_cannot_be_used_is_a_problem(
    house: Path, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every problem of it goes to standard error with its place; nothing is listed."""
    file = house / BOOK
    file.write_text(file.read_text("utf-8").replace('"1:2"', '"soon"'), "utf-8")
    for name, told in ((BOOK, "found `soon`"), ("tset-house", "expected a rulebook that can be")):
        monkeypatch.setattr(sys, "argv", ["ridgerule", "book", "facts", "--against", name])
        with pytest.raises(SystemExit) as left:
            main()
        said = capfd.readouterr()
        assert (left.value.code, said.out) == (2, "")
        assert told in said.err


def test_help_names_every_option(capfd: pytest.CaptureFixture[str]) -> None:
    """The help of `book` and of `book facts` is told with status 0 and names what there is."""
    assert run(["book", "--help"]) == 0
    assert "facts" in capfd.readouterr().out
    assert run(["book", "facts", "--help"]) == 0
    said = capfd.readouterr().out
    assert {"--against", "--rulebooks", "--element", "--schema", "--format"} <= set(said.split())
    assert run(["--help"]) == 0
    assert "book" in capfd.readouterr().out.split()
