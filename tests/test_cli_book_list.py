"""`ridgerule book list`: every rulebook in sight, those that can't be used told apart."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from ridgerule.cli.app import run
from workshop import amendment, rule, rulebook

if TYPE_CHECKING:
    from pathlib import Path

SHIPPED = [
    "code/model-residential@2021",
    "code/model-residential@2024",
    "demo/tarn-county@2026-04",
    "demo/tarnfell-slate@2026-01",
    "practice/hip-and-ridge@2026-11",
]


@pytest.fixture(autouse=True)
def _plain(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Give every test a screen of 80 columns and an empty folder to stand in."""
    monkeypatch.setenv("COLUMNS", "80")
    for name in ("NO_COLOR", "FORCE_COLOR", "TERM"):
        monkeypatch.delenv(name, raising=False)
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")


def _listed(
    capfd: pytest.CaptureFixture[str], *arguments: str, status: int = 0
) -> tuple[list, str]:
    """Return the rulebooks listed as data, and what was said on standard error."""
    assert run(["book", "list", "--format", "json", *arguments]) == status
    said = capfd.readouterr()
    data = json.loads(said.out)
    assert (data["list"], data["tool"]["name"]) == (1, "ridgerule")
    return data["rulebooks"], said.err


def _names(books: list[dict[str, str]]) -> list[str]:
    return [f"{book['rulebook']}@{book['edition']}" for book in books]


def test_shipped_rulebooks_are_listed(capfd: pytest.CaptureFixture[str]) -> None:
    """Each is told with title, authority, days in force, bases, rules, changes and coverages."""
    assert run(["book", "list"]) == 0
    out = capfd.readouterr().out
    lines = out.splitlines()
    assert lines[0] == "Rulebooks in sight: 5"
    assert [line for line in lines if "@" in line and not line.startswith(" ")] == SHIPPED
    told = " ".join(out.split())
    for words in (
        "title Tarn County amendments (invented) authority Tarn County Building Office (invented)",
        "in force from 2026-04-01, by the permit date based on demo/tarnfell-slate@2026-01, code/",
        "rules 3 of its own, 76 inherited changes 5 amendments, 1 withdrawal",
        "coverages material, workmanship-watertight, wind",
    ):
        assert words in told
    assert max(map(len, lines)) <= 80


def test_data_holds_the_same(capfd: pytest.CaptureFixture[str]) -> None:
    """JSON has every rulebook with figures as figures, and its digest."""
    books, err = _listed(capfd)
    assert (_names(books), err) == (SHIPPED, "")
    county = books[2]
    assert county["rules"] == {"own": 3, "inherited": 76}
    assert county["in_force"] == {"from": "2026-04-01", "to": None, "by": "permit"}
    assert (county["amendments"], county["withdrawals"]) == (5, 1)
    assert county["based_on"] == ["demo/tarnfell-slate@2026-01", "code/model-residential@2021"]
    assert [each["id"] for each in books[3]["coverages"]] == [
        "material",
        "workmanship-watertight",
        "wind",
    ]
    assert all(len(book["sha256"]) == 64 for book in books)


def test_rulebooks_here_and_in_folders_are_listed(
    capfd: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """The working directory, a folder in it and a folder named are looked into."""
    (tmp_path / "here" / "firm").mkdir()
    (tmp_path / "there").mkdir()
    base = rulebook(rule("r", "plane.slope", {"at_least": "3:12"}), name="base@1")
    local = rulebook(
        name="firm/local@2",
        based_on=["base@1"],
        amendments=[amendment("r", limit={"at_least": "4:12"})],
        in_force={"to": "2027-01-01"},
        in_force_by="installation",
    )
    (tmp_path / "here" / "base@1.json").write_text(base, "utf-8")
    (tmp_path / "here" / "firm" / "local@2.json").write_text(local, "utf-8")
    (tmp_path / "there" / "other@1.json").write_text(rulebook(name="other@1"), "utf-8")
    books, _ = _listed(capfd, "--rulebooks", str(tmp_path / "there"))
    assert _names(books) == sorted([*SHIPPED, "base@1", "firm/local@2", "other@1"])
    found = next(book for book in books if book["rulebook"] == "firm/local")
    assert (found["amendments"], found["file"]) == (1, "firm/local@2.json")
    assert found["in_force"]["to"] == "2027-01-01"


def test_the_nearest_of_two_files_with_one_rulebook_counts(
    capfd: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """A folder named comes before this one, and this one before those shipped."""
    (tmp_path / "there").mkdir()
    for folder in ("here", "there"):
        text = rulebook(name="code/model-residential@2024").replace("Invented", folder)
        (tmp_path / folder / "model-residential@2024.json").write_text(text, "utf-8")
    for arguments, title in (((), "here"), (("--rulebooks", "../there"), "there")):
        books, _ = _listed(capfd, *arguments)
        assert _names(books) == SHIPPED
        assert books[1]["title"] == title


def test_files_that_cannot_be_used_are_told_after_the_others(
    capfd: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """Status 2, every problem of every file on standard error, the others listed all the same."""
    here = tmp_path / "here"
    (here / "broken@1.yaml").write_text("rulebook: broken\nedition: 1\n", "utf-8")
    (here / "misnamed@1.json").write_text(rulebook(name="other@1"), "utf-8")
    (here / "based@1.json").write_text(rulebook(name="based@1", based_on=["gone@1"]), "utf-8")
    (here / "good@1.json").write_text(rulebook(name="good@1"), "utf-8")
    (here / "notes@home.txt").write_text("no rulebook, and not named like one", "utf-8")
    books, err = _listed(capfd, status=2)
    assert _names(books) == sorted([*SHIPPED, "good@1"])
    told = err.splitlines()
    assert [line.split(":")[0] for line in told] == [
        "based@1.json",
        "broken@1.yaml",
        "misnamed@1.json",
    ]
    assert "`title`" in told[1]
