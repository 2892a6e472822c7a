"""`ridgerule book prove`: what it prints, what it ends with, and the shipped rulebooks proved."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from ridgerule.cli import main
from ridgerule.cli.app import run
from ridgerule.cli.book_prove import proved
from ridgerule.proof import small_roofs
from ridgerule.proof.proving import Depth
from workshop import amendment, rule, rulebook

if TYPE_CHECKING:
    from collections.abc import Callable

    from ridgerule.proof.proving import BookProof

    Shell = Callable[..., tuple[int, str, str]]

SHIPPED = [
    "practice/hip-and-ridge@2026-11",
    "code/model-residential@2021",
    "code/model-residential@2024",
    "demo/tarnfell-slate@2026-01",
    "demo/tarn-county@2026-04",
]
PASS, FAIL, APART = "pass", "fail", "not applicable"


@pytest.fixture(autouse=True)
def _plain(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Give every test a screen of 80 columns and an empty folder to stand in."""
    monkeypatch.setenv("COLUMNS", "80")
    for name in ("NO_COLOR", "FORCE_COLOR", "TERM"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def shell(capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Shell:
    """Return a function that runs `book prove`: its status, and what it said on both ways out."""

    def typed(*arguments: str) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["ridgerule", "book", "prove", *arguments])
        with pytest.raises(SystemExit) as left:
            main()
        said = capfd.readouterr()
        assert isinstance(left.value.code, int)
        return int(left.value.code), said.out, said.err

    return typed


def case(expect: str, **given: object) -> dict[str, Any]:
    """Return a case; `__` stands for the dot of a fact's name."""
    return {"given": {k.replace("__", "."): v for k, v in given.items()}, "expect": expect}


EAVE = {"line__kind": "eave"}
LAP = [
    case(PASS, **EAVE, line__drip_edge_lap="2 in"),
    case(FAIL, **EAVE, line__drip_edge_lap="1 15/16 in"),
    case(APART, line__kind="hip", line__drip_edge_lap="1 in"),
    case("not verified", **EAVE, line__drip_edge_lap="unknown"),
]


def lap_rule(*cases: dict[str, Any]) -> dict[str, Any]:
    """Return a rule on the lap of a drip edge, with these cases."""
    limit = {"at_least": "2 in"}
    return rule("lap", "line.drip_edge_lap", limit, when={"line.kind": "eave"}, cases=list(cases))


def write(text: str, name: str = "house.json") -> str:
    """Write a rulebook to a file here; return the file's name."""
    Path(name).write_text(text, encoding="utf-8")
    return name


# the shipped rulebooks


@pytest.fixture(scope="module")
def shipped_proofs() -> dict[str, BookProof]:
    """Return the thorough proofs of the shipped rulebooks, made once."""
    proofs, problems = proved(SHIPPED, (), Depth(thorough=True))
    assert problems == []
    return {proof.edition.book.name: proof for proof in proofs}


@pytest.mark.parametrize("name", SHIPPED)
def test_every_shipped_rulebook_is_proved(shipped_proofs: dict[str, BookProof], name: str) -> None:
    """Every case comes out, no side is unproved, and no small change goes unnoticed."""
    proof = shipped_proofs[name]
    told = [(rule.check.rule.id, one.words) for rule in proof.rules for one in rule.open]
    assert told == []
    assert [rule.check.rule.id for rule in proof.rules if rule.surprises] == []
    assert [rule.check.rule.id for rule in proof.inherited if rule.surprises] == []
    assert proof.stale == ()
    assert proof.is_proved


def test_the_shipped_proofs_are_no_empty_ones(shipped_proofs: dict[str, BookProof]) -> None:
    """They are of so many rules, changes and readings: none has been left out unseen."""
    counts = {
        name: (len(proof.rules), len(proof.inherited), sum(rule.tried for rule in proof.rules))
        for name, proof in shipped_proofs.items()
    }
    assert counts == {
        SHIPPED[0]: (34, 0, 147),
        SHIPPED[1]: (27, 0, 129),
        SHIPPED[2]: (26, 0, 123),
        SHIPPED[3]: (20, 30, 73),
        SHIPPED[4]: (8, 71, 35),
    }
    rows = [r for proof in shipped_proofs.values() for rule in proof.rules for r in rule.rows]
    assert sum(len(row.edges) for row in rows) > 600
    assert sorted({row.notes for row in rows if not row.edges}) == [
        "computed: proved by its cases",
        "no case of the rule shows it at its edges: proved by its cases alone",
        "no edge of its own: in every roof tried, other parts decide before it",
    ]


def test_what_is_explained_is_the_redundant_line_alone(
    shipped_proofs: dict[str, BookProof],
) -> None:
    """The one part that no case can show stands in the codes' free-area rule, with its reason."""
    explained = {
        (name, rule.check.rule.id)
        for name, proof in shipped_proofs.items()
        for rule in proof.rules
        for one in rule.unproved
        if one.because
    }
    assert explained == {(SHIPPED[1], "free-area"), (SHIPPED[2], "free-area")}


def test_nothing_in_the_shipped_rulebooks_is_advised(
    shipped_proofs: dict[str, BookProof],
) -> None:
    """Every figure of ours has a case that fails within one step, and every rule an unknown."""
    advised = [
        (rule.check.rule.id, one.words)
        for proof in shipped_proofs.values()
        for rule in proof.rules
        for one in rule.unproved
        if not one.is_error
    ]
    assert advised == []


# status and words


def test_a_proved_rulebook_ends_with_0(shell: Shell) -> None:
    """The page says what was tried, and shows each figure at its edges as the trade says it."""
    file = write(rulebook(lap_rule(*LAP)))
    status, out, err = shell(file, "--thorough")
    assert (status, err) == (0, "")
    lines = out.splitlines()
    assert lines[0] == "Invented: proved"
    assert "cases          4, all as expected" in lines
    assert "edges          2 figures and lists, 5 readings" in lines
    assert "sides          all shown by cases" in lines
    assert "small changes  3 tried, all noticed" in lines
    assert "  where kind is eave              eave: fail; hip: not applicable" in lines
    assert "  drip edge lap is at least 2 in  1 15/16 in fail, 2 in and 2 1/16 in pass" in lines
    assert all(len(line) <= 80 for line in lines)


def test_a_case_that_comes_out_otherwise_ends_with_1(shell: Shell) -> None:
    """It is told with its line, what was expected, what came out, why and what was given."""
    wrong = [*LAP[:3], case(PASS, **EAVE, line__drip_edge_lap="1 in"), case(PASS, **EAVE)]
    text = rulebook(lap_rule(*wrong))
    status, out, _ = shell(write(text))
    assert status == 1
    told = " ".join(out.split())
    assert "Invented: not proved" in told
    assert "cases 5, 2 of them come out otherwise" in told
    lines = [i for i, line in enumerate(text.splitlines(), start=1) if '"given"' in line]
    assert (
        f"house.json:{lines[3] - 1}:5: lap expects pass and comes to fail; 1 in against at least "
        "2 in; given line.kind eave, line.drip_edge_lap 1 in"
    ) in told
    assert (
        f"house.json:{lines[4] - 1}:5: lap expects pass and comes to not verified; "
        "line.drip_edge_lap at eave A: not recorded; given line.kind eave"
    ) in told


def test_an_unproved_side_ends_with_1(shell: Shell) -> None:
    """It is named under its rule with its place, and a case that would prove it is offered."""
    status, out, _ = shell(write(rulebook(lap_rule(*LAP[:2]))))
    assert status == 1
    assert "sides          1 unproved" in out
    assert ("  · where line.kind is eave; no case shows that it does not apply otherwise\n") in out
    assert (
        "    - {given: {line.kind: hip, line.drip_edge_lap: 1 15/16 in}, expect: not applicable}\n"
    ) in out


def test_an_unnoticed_change_counts_where_it_is_tried(shell: Shell) -> None:
    """A failing case too far off is advice alone, and with --thorough an unnoticed change."""
    far = [LAP[0], case(FAIL, **EAVE, line__drip_edge_lap="1 in"), *LAP[2:]]
    file = write(rulebook(lap_rule(*far)))
    status, out, _ = shell(file)
    assert status == 0
    assert "WORTH A CASE MORE" in out
    assert "small changes  not tried; --thorough tries them" in out
    status, out, _ = shell(file, "--thorough")
    assert status == 1
    told = " ".join(out.split())
    assert "small changes 3 tried, 1 that no case notices" in told
    assert "at least 2 in; were it at least 1 15/16 in, no case would notice" in told


def test_what_is_explained_is_printed_with_its_reason(
    shell: Shell, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An explanation stands on the page; one that fits nothing is told with its place."""
    monkeypatch.setenv("COLUMNS", "200")
    far = [LAP[0], case(FAIL, **EAVE, line__drip_edge_lap="1 in"), *LAP[2:]]
    what = "line.drip_edge_lap is at least 2 in; were it at least 1 15/16 in"
    entry = {"rule": "lap", "what": what, "because": "nobody reads it closer"}
    status, out, _ = shell(write(rulebook(lap_rule(*far), unproved=[entry])), "--thorough")
    assert status == 0
    assert "UNPROVED, AND WHY THAT IS ALL RIGHT" in out
    assert f"lap   {what}, no case would notice  nobody reads it closer" in out
    text = rulebook(lap_rule(*LAP), unproved=[entry])
    status, out, _ = shell(write(text), "--thorough")
    assert status == 1
    line = next(i for i, each in enumerate(text.splitlines(), start=1) if '"what"' in each)
    assert f"house.json:{line}:12: test/house#lap; {what}" in " ".join(out.split())


def test_a_file_that_cant_be_used_ends_with_2(shell: Shell) -> None:
    """Every problem is told on the other way out; what can be proved is printed all the same."""
    good = write(rulebook(lap_rule(*LAP)))
    bad = write(
        rulebook(rule("r", "line.lenght", {"at_least": "1 in"}), name="test/bad@1"), "b.json"
    )
    status, out, err = shell(good, bad, "nowhere.yaml", "no/such")
    assert status == 2
    assert "Invented: proved" in out
    told = err.splitlines()
    assert len(told) == 3
    assert "did you mean `line.length`?" in err
    assert "nowhere.yaml: expected a file that can be read" in err
    assert "FILE: expected a rulebook that can be found; found `no/such`" in err


def test_a_case_that_no_record_can_hold_ends_with_2(shell: Shell) -> None:
    """A computed fact that is given is a problem of the file, with its line."""
    one = rule("r", "line.angle_difference", {"at_most": "2 deg"},
               cases=[case(PASS, line__angle_difference="1 deg")])  # fmt: skip
    status, out, err = shell(write(rulebook(one)))
    assert (status, out) == (2, "")
    assert err.startswith("house.json:")
    assert "which is computed" in err


def test_a_rulebook_given_twice_is_told(shell: Shell) -> None:
    """Two files of one rulebook and edition can't both be meant."""
    text = rulebook(lap_rule(*LAP))
    status, out, err = shell(write(text, "a.json"), write(text, "b.json"))
    assert status == 2
    assert out.count("Invented: proved") == 1
    assert "b.json:2:" in err
    assert "found `test/house@1`, which a.json is too" in err


def test_an_edge_that_differs_ends_with_3(shell: Shell, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the engine and the limits compared differ the fault is ours, and no page is made."""
    monkeypatch.setattr(small_roofs, "fact_meets", lambda *_: True)
    status, out, err = shell(write(rulebook(lap_rule(*LAP))))
    assert (status, out) == (3, "")
    assert "`fail` by the engine, `pass` by its limits" in err


# which rulebooks


def test_an_id_means_every_edition(shell: Shell) -> None:
    """An id without an edition proves all there are in sight, oldest first; each once."""
    status, out, _ = shell("code/model-residential", "code/model-residential@2024")
    assert status == 0
    names = [line.split()[1] for line in out.splitlines() if line.startswith("rulebook ")]
    assert names == ["code/model-residential@2021,", "code/model-residential@2024,"]


def test_rulebooks_are_found_in_folders(shell: Shell) -> None:
    """A base in a folder given with --rulebooks is found, and its rules' cases are run alone."""
    Path("bases").mkdir()
    write(rulebook(lap_rule(*LAP), name="base@1"), "bases/base@1.json")
    change = amendment("lap", limit={"at_least": "3 in"}, cases=[
        case(PASS, **EAVE, line__drip_edge_lap="3 in"),
        case(FAIL, **EAVE, line__drip_edge_lap="2 15/16 in"), *LAP[2:]])  # fmt: skip
    more = rule("own", "line.membrane", "present", cases=[
        case(PASS, line__membrane=True), case(FAIL, line__membrane=False),
        case("not verified", line__membrane="unknown")])  # fmt: skip
    local = {"name": "local@1", "based_on": ["base@1"]}
    changed = write(rulebook(more, **local, amendments=[change]), "local.json")
    status, out, _ = shell(changed, "--rulebooks", "bases")
    assert status == 0
    assert "rules          1 of its own, 1 changed\n" in out
    plain = write(rulebook(more, **local), "local.json")
    status, out, _ = shell(plain, "--rulebooks", "bases")
    assert status == 0
    assert "rules          1 of its own, of 1 inherited the cases alone\n" in out
    assert "lap:" not in out
    status, out, _ = shell(plain, "--rulebooks", "bases", "--inherited")
    assert status == 0
    assert "rules          1 of its own, 1 inherited\n" in out
    assert "lap: lap holds" in out


# forms


def test_json_carries_everything(shell: Shell) -> None:
    """Cases, edges with the whole small roof of each, and what is unproved with its cases."""
    file = write(rulebook(lap_rule(*LAP[:2])))
    status, out, _ = shell(file, "--format", "json", "--thorough")
    assert status == 1
    data = json.loads(out)
    assert (data["proof"], data["proved"]) == (1, False)
    (book,) = data["rulebooks"]
    assert (book["rulebook"], book["thorough"], book["path"]) == ("test/house@1", True, file)
    (found,) = book["rules"]
    assert (found["rule"], found["proved"], found["changes_tried"]) == ("test/house#lap", False, 3)
    assert [(each["expect"], each["outcome"], each["as_expected"]) for each in found["cases"]] == [
        ("pass", "pass", True), ("fail", "fail", True),
    ]  # fmt: skip
    lap = found["edges"][1]
    assert lap["bound"] == "line.drip_edge_lap is at least 2 in"
    assert [(r["reading"], r["side"], r["outcome"]) for r in lap["readings"]] == [
        ("1 15/16 in", -1, "fail"), ("2 in", 0, "pass"), ("2 1/16 in", 1, "pass"),
    ]  # fmt: skip
    assert lap["readings"][1]["given"] == {"line.kind": "eave", "line.drip_edge_lap": "2 in"}
    error = [one for one in found["unproved"] if one["level"] == "error"]
    assert [(one["kind"], one["because"]) for one in error] == [("side", "")]
    (offered,) = error[0]["cases"]
    assert offered["expect"] == "not applicable"
    assert offered["given"] == {"line.kind": "hip", "line.drip_edge_lap": "1 15/16 in"}


@pytest.mark.parametrize(
    ("form", "told"),
    [
        ("markdown", ["# Invented: not proved", "## At the edges",
                      "| where kind is eave | eave: fail; hip: not applicable |"]),
        ("html", ["<!doctype html>", "1 15/16 in fail, 2 in and 2 1/16 in pass"]),
    ],
)  # fmt: skip
def test_the_page_comes_in_other_forms(shell: Shell, form: str, told: list[str]) -> None:
    """Markdown and HTML say what the text says."""
    status, out, _ = shell(write(rulebook(lap_rule(*LAP[:2]))), "--format", form)
    assert status == 1
    shown = " ".join(out.lower().split())
    for words in told:
        assert words.lower() in shown


def test_a_proof_is_written_to_a_file(shell: Shell) -> None:
    """With --output nothing is printed, and the status is the same."""
    file = write(rulebook(lap_rule(*LAP)))
    _, printed, _ = shell(file, "--format", "markdown")
    status, out, err = shell(file, "--format", "markdown", "--output", "proof.md")
    assert (status, out, err) == (0, "", "")
    assert Path("proof.md").read_text(encoding="utf-8") == printed


def test_the_same_rulebook_proves_the_same(shell: Shell) -> None:
    """Two proofs of one rulebook are the same bytes."""
    first = shell("demo/tarn-county", "--format", "json")
    assert first[0] == 0
    assert shell("demo/tarn-county", "--format", "json") == first


def test_help_says_what_is_unproved_and_what_is_advice(
    capfd: pytest.CaptureFixture[str],
) -> None:
    """`--help` tells apart what ends with 1 and what is advice alone."""
    assert run(["book", "prove", "--help"]) == 0
    told = " ".join(capfd.readouterr().out.split())
    for words in ("A side is unproved", "Advice alone", "`unproved:`", "Exit status: 0 proved"):
        assert words in told
