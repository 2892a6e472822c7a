"""`ridgerule book differences`: what is printed, where it goes, what can't be used, the status."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from ridgerule.cli import main
from ridgerule.cli.app import run
from workshop import all_listed, rule, rulebook

if TYPE_CHECKING:
    from collections.abc import Callable

    Shell = Callable[..., tuple[int, str, str]]

FIXTURES = Path(__file__).parent.parent / "fixtures"
CODE = ("code/model-residential@2021", "code/model-residential@2024")
GAP = rule("gap", "station.gap", {"at_least": "3 in"}, when={"line.kind": "hip"})
WIDER = {**GAP, "limit": {"at_least": "4 in"}}


@pytest.fixture
def shell(
    capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> Shell:
    """Return a function that runs the command in an empty folder: status, output, problems."""
    monkeypatch.setenv("COLUMNS", "80")
    for name in ("NO_COLOR", "FORCE_COLOR", "TERM"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.chdir(tmp_path)

    def told(*arguments: str) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["ridgerule", "book", "differences", *arguments])
        with pytest.raises(SystemExit) as left:
            main()
        said = capfd.readouterr()
        return int(left.value.code or 0), said.out, said.err

    return told


def write(path: str, text: str) -> str:
    """Write a file in the working folder, folders and all; return its path."""
    file = Path(path)
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(text, encoding="utf-8")
    return path


def books() -> tuple[str, str]:
    """Write an old and a new rulebook of the same name and edition; return their files."""
    return (
        write("old/house.json", rulebook(GAP, name="test/house@1")),
        write("new/house.json", rulebook(WIDER, name="test/house@1")),
    )


def roof(id_: str = "T-1", **more: object) -> str:
    """Return the text of a record with one hip, whose gap is 3 in at one of its stations."""
    stations = [{"at": "2 ft", "gap": "3 in"}, {"at": "9 ft", "gap": "4 in"}]
    hip = {"kind": "hip", "between": ["S", "E"], "stations": stations}
    planes = {"S": {"faces": "180 deg"}, "E": {"faces": "90 deg"}}
    whole = {"record": 1, "roof": {"id": id_}, "planes": planes, "lines": {"H1": hip}}
    return json.dumps({**whole, "complete": all_listed(), **more}, indent=1)


def test_text_markdown_and_json_say_the_same(shell: Shell) -> None:
    """Every format ends with status 0, however much differs, and names what changed."""
    status, text, problems = shell(*CODE)
    assert (status, problems) == (0, "")
    assert text.startswith("What changed: code/model-residential, edition 2021 → 2024\n")
    status, markdown, _ = shell(*CODE, "--format", "markdown")
    assert status == 0
    assert markdown.startswith("# What changed: code/model-residential, edition 2021 → 2024\n")
    status, data, _ = shell(*CODE, "--format", "json")
    assert status == 0
    told = json.loads(data)
    assert told["differences"] == 1
    assert told["records"] is None
    assert told["counts"]["looser"] == 2
    for form in (text, markdown):
        assert "ice-barrier-up: At 8:12 and over" in form
        assert "those and D8257" in form
    assert [each["rule"] or each["was_rule"] for each in told["rules"] if each["strictness"] ==
            "looser"] == [
        "code/model-residential#ice-barrier-up",
        "code/model-residential#underlayment-standard",
    ]  # fmt: skip


def test_the_page_fits_the_terminal_and_has_no_colour_of_its_own(
    shell: Shell, monkeypatch: pytest.MonkeyPatch
) -> None:
    """At 80 and 120 columns every line fits, and away from a terminal nothing is coloured."""
    for width in (80, 120):
        monkeypatch.setenv("COLUMNS", str(width))
        _, out, _ = shell(*CODE, "--records", str(FIXTURES / "demo"))
        assert max(map(len, out.splitlines())) <= width
        assert "\x1b" not in out
    monkeypatch.setenv("NO_COLOR", "1")
    assert shell(*CODE, "--records", str(FIXTURES / "demo"))[1] == out


def test_output_goes_to_a_file(shell: Shell) -> None:
    """With `--output` the file holds the whole of it and standard output nothing."""
    status, out, _ = shell(*CODE, "--format", "json", "--output", "d.json")
    assert (status, out) == (0, "")
    assert json.loads(Path("d.json").read_text("utf-8"))["differences"] == 1
    status, out, problems = shell(*CODE, "--output", "no/such/d.txt")
    assert (status, out) == (2, "")
    assert "found no such folder" in problems


def test_two_files_may_be_the_same_edition(shell: Shell) -> None:
    """A working copy is compared with the file it came from, though both are of one edition."""
    old, new = books()
    status, out, _ = shell(old, new)
    assert status == 0
    assert out.startswith("What changed: test/house@1 → test/house@1\n")
    assert f"file     {old}" in out
    assert f"file     {new}" in out
    assert "must be  at least 3 in → at least 4 in" in out
    assert "stricter           1 rule changed" in out


def test_a_rulebook_against_itself(shell: Shell) -> None:
    """Where nothing changed the page says so, and the status is 0."""
    status, out, _ = shell("practice/hip-and-ridge", "practice/hip-and-ridge")
    assert status == 0
    assert "Nothing changed." in out
    assert "looser             none" in out


def test_what_is_wrong_with_both_is_told_at_once(shell: Shell) -> None:
    """A rulebook that can't be found, and one with two editions, are told with their places."""
    status, out, problems = shell("code/model-residential", "code/model-residental@2024")
    assert (status, out) == (2, "")
    assert problems == (
        "NEW: expected a rulebook that can be found; found `code/model-residental@2024`; "
        "did you mean `code/model-residential@2024`?\n"
        "OLD: expected one edition; found `code/model-residential`, which has 2 editions in "
        "sight; name `code/model-residential@2021` or `code/model-residential@2024`\n"
    )
    broken = write("bad.json", rulebook({**GAP, "limit": {"at_least": "3 deg"}}, name="b@1"))
    status, out, problems = shell(broken, "gone.yaml")
    assert (status, out) == (2, "")
    assert "bad.json:" in problems
    assert "gone.yaml: expected a file that can be read" in problems


def test_records_are_found_in_files_and_folders(shell: Shell) -> None:
    """A folder's records are found at any depth, each once; what is no record is passed over."""
    old, new = books()
    first = write("roofs/a.json", roof("A"))
    write("roofs/2026/deep/b.json", roof("B"))
    write("roofs/c.yaml", f"# the third, in one line\n{json.dumps(json.loads(roof('C')))}\n")
    write("roofs/report.json", json.dumps({"report": 1, "record": {"file": "a.json"}}))
    write("roofs/house@1.json", rulebook(GAP, name="house@1"))
    write("roofs/list.yaml", "things: [record, roof]\nnote: 'a: record: of b'\n")
    write("roofs/notes.txt", "record: 1\n")
    write("roofs/.old/d.json", roof("D"))
    status, out, problems = shell(
        old, new, "--records", first, "--records", "roofs", "--format", "json"
    )
    assert (status, problems) == (0, "")
    told = json.loads(out)["records"]
    assert [each["id"] for each in told["roofs"]] == ["A", "B", "C"]
    assert told["outcomes"] == [{"was": "pass", "now": "fail", "roofs": 3}]
    assert told["unused"] == []
    for each in told["roofs"]:
        assert [(f["place"], f["direction"]) for f in each["findings"]] == [
            ("hip H1 at 2 ft", "worse")
        ]


def test_a_bad_record_is_told_and_the_rest_is_done(shell: Shell) -> None:
    """Records that can't be used are told with their lines, and named on the page; status 2."""
    old, new = books()
    write("roofs/a.json", roof("A"))
    bad = write("roofs/b.yaml", "record: 1\nroof: {id: B}\nlines:\n  H1: {kind: hipp}\n")
    torn = write("roofs/c.yaml", "record: 1\nroof: {id: [C}\n")
    latin = Path("roofs/d.yaml")
    latin.write_bytes("record: 1\nroof: {id: D, name: Caf\xe9}\n".encode("latin-1"))
    status, out, problems = shell(old, new, "--records", "roofs", "--records", "none.yaml")
    assert status == 2
    told = problems.splitlines()
    assert any(each.startswith(f"{bad}:4:14: expected one of `hip`") for each in told)
    assert any(each.startswith(f"{torn}:2:") for each in told)
    assert any(each.startswith(f"{latin}:2:") and "UTF-8" in each for each in told)
    assert any(each.startswith("none.yaml: expected a file that can be read") for each in told)
    assert len(told) == len(set(told))
    flat = " ".join(out.split())
    assert "roofs 1 held against both; 4 could not be: 1 comes out otherwise" in flat
    assert f"· {bad}" in out
    assert "1 ✓ pass ✗ FAIL" in flat


def test_a_folder_without_records_is_a_mistake(shell: Shell) -> None:
    """A folder that holds no record is told, rather than taken for one where nothing changed."""
    old, new = books()
    Path("empty").mkdir()
    status, out, problems = shell(old, new, "--records", "empty")
    assert status == 2
    assert problems == (
        "empty: expected a record in this folder, in a file that ends in .yaml or .yml or .json; "
        "found none; check the folder\n"
    )
    assert "No record was held against both." in out


def test_a_record_that_one_rulebook_refuses_says_which(shell: Shell) -> None:
    """Where only one of the two reads a fact otherwise, the problem names that one."""
    choice = {"dimension": "choice", "measure": "its colour"}
    old = write("old.json", rulebook(GAP, name="test/house@1",
                facts={"line.tint": {**choice, "choices": ["red", "blue", "grey"]}}))  # fmt: skip
    new = write("new.json", rulebook(GAP, name="test/house@2",
                facts={"line.tint": {**choice, "choices": ["red", "blue"]}}))  # fmt: skip
    hip = {"kind": "hip", "between": ["S", "E"], "tint": "grey"}
    file = write("a.json", roof(lines={"H1": hip}))
    status, _, problems = shell(old, new, "--records", file)
    assert status == 2
    (problem,) = problems.splitlines()
    assert problem.startswith("a.json:")
    assert "expected one of `red`, `blue`; found `grey`" in problem
    assert problem.endswith("only NEW, test/house@2, reads it so")


def test_a_record_may_speak_of_the_facts_of_its_own_rulebooks(shell: Shell) -> None:
    """Facts of the rulebooks that a record names are read, though neither of the two has them."""
    old, new = books()
    fact = {"line.tint": {"dimension": "text", "measure": "its colour"}}
    write("roofs/own@1.json", rulebook(GAP, name="own@1", facts=fact))
    hip = {"kind": "hip", "between": ["S", "E"], "tint": "grey",
           "stations": [{"at": "2 ft", "gap": "3 in"}]}  # fmt: skip
    write("roofs/a.json", roof(lines={"H1": hip}, rulebooks=["own@1"]))
    status, out, problems = shell(old, new, "--records", "roofs", "--format", "json")
    assert (status, problems) == (0, "")
    assert len(json.loads(out)["records"]["roofs"]) == 1


def test_rulebooks_are_found_in_folders(shell: Shell) -> None:
    """Ids are looked for in the folders named, and bases with them."""
    write("books/base@1.json", rulebook(GAP, name="test/base@1"))
    on = {"name": "test/county@1", "based_on": ["test/base@1"]}
    write("books/county@1.json", rulebook(**on))
    status, out, problems = shell("test/base", "test/county", "--rulebooks", "books")
    assert (status, problems) == (0, "")
    assert "unchanged          1 rule" in out


def test_the_same_bytes_every_time(shell: Shell) -> None:
    """Two runs print the same, in every format."""
    for form in ("text", "markdown", "json"):
        arguments = ("demo/tarnfell-slate", "demo/tarn-county", "--records",
                     str(FIXTURES / "demo"), "--format", form)  # fmt: skip
        assert shell(*arguments) == shell(*arguments)


def test_help_names_every_option(capfd: pytest.CaptureFixture[str]) -> None:
    """The command's help names its options, and `book` lists the command."""
    assert run(["book", "differences", "--help"]) == 0
    said = capfd.readouterr().out.split()
    assert {"--records", "--rulebooks", "--format", "--output"} <= set(said)
    assert run(["book", "--help"]) == 0
    assert "differences" in capfd.readouterr().out.split()
