"""`ridgerule book show`: manual pages of rulebooks and rules, made from their files."""

from __future__ import annotations

import re
import sys
from typing import TYPE_CHECKING

import pytest

from ridgerule.cli import main
from ridgerule.cli.app import run
from workshop import amendment, rule, rulebook

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    Shell = Callable[..., str]

COUNTY = "demo/tarn-county"
PRACTICE = "practice/hip-and-ridge"


@pytest.fixture(autouse=True)
def _plain(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Give every test a screen too wide for a cell to wrap, and an empty folder to stand in."""
    monkeypatch.setenv("COLUMNS", "400")
    for name in ("NO_COLOR", "FORCE_COLOR", "TERM"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def show(capfd: pytest.CaptureFixture[str]) -> Shell:
    """Return a function that runs `book show` and gives back what it printed."""

    def shown(*arguments: str) -> str:
        assert run(["book", "show", *arguments]) == 0
        return capfd.readouterr().out

    return shown


@pytest.fixture
def refused(
    capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> Callable[..., list[str]]:
    """Return a function that runs `book show` for its problems: status 2 and nothing else."""

    def told(*arguments: str) -> list[str]:
        monkeypatch.setattr(sys, "argv", ["ridgerule", "book", "show", *arguments])
        with pytest.raises(SystemExit) as left:
            main()
        said = capfd.readouterr()
        assert (left.value.code, said.out) == (2, "")
        return said.err.splitlines()

    return told


def _sections(text: str) -> dict[str, str]:
    """Return what stands under each heading in capitals, on one line; the opening under ""."""
    parts = re.split(r"(?m)^([A-Z][A-Z ,-]+)$", text)
    return dict(
        zip(["", *parts[1::2]], (" ".join(part.split()) for part in parts[::2]), strict=True)
    )


def test_a_rulebooks_page_says_what_it_is(show: Shell) -> None:
    """Title, authority, edition, days in force, bases, note, digest and counts come first."""
    opening = _sections(show(COUNTY))[""]
    for told in (
        "Tarn County amendments (invented)",
        "edition 2026-04",
        "authority Tarn County Building Office (invented)",
        "in force from 2026-04-01, by the permit date",
        "based on demo/tarnfell-slate@2026-01, code/model-residential@2021",
        "rules 3 of its own, 76 inherited",
        "Invented for the demonstration: there is no Tarn County.",
    ):
        assert told in opening
    assert re.search("SHA-256 [0-9a-f]{64}", opening)


def test_a_rulebooks_page_says_what_it_changes(show: Shell) -> None:
    """Each amendment is told as before and now, with reason and source; so are withdrawals."""
    sections = _sections(show(COUNTY))
    changes = sections["WHAT IT CHANGES"]
    assert "practice/hip-and-ridge#membrane-width title" in changes
    assert "must be at least 9 in → at least 12 in cases new ones reason Drifting snow" in changes
    assert "stations at least 3 on each line → at least 3 on each line, and one for each" in changes
    assert "shown by in any way → in any way, with a photo" in changes
    assert changes.count(" reason ") == 5
    gone = sections["WHAT IT TAKES AWAY"]
    assert gone.startswith("practice/hip-and-ridge#colour-matched title Flashing or sealant")
    assert gone.endswith("permitted by Tarnfell (invented), letter of 2026-02-10 to the county")


def test_a_rulebooks_page_lists_its_facts_coverages_and_rules(show: Shell) -> None:
    """Facts with their questions, coverages with their conditions, rules by element."""
    county = _sections(show(COUNTY))
    assert "line over walk written as line.over_walk is people walk" in county["FACTS OF ITS OWN"]
    assert "ask Do people walk or park below?" in county["FACTS OF ITS OWN"]
    lines = county["RULES JUDGED AT LINES"]
    assert lines.index("its own") < lines.index("from practice/hip-and-ridge@2026-11")
    assert "the line, within 1/4 in at most 1/4 in minor" in lines
    assert "(amended)" in lines
    maker = _sections(show("demo/tarnfell-slate"))
    assert "plane deck by mark written as plane.deck_by_mark" in maker["FACTS IT COMPUTES"]
    assert "at the most plane deck panel plane deck by mark" in maker["FACTS IT COMPUTES"]
    coverages = maker["WARRANTY COVERAGES"]
    assert "The roof stays watertight (invented) coverage workmanship-watertight" in coverages
    assert "allowed 1 isolated fault" in coverages
    assert "membrane-width: The membrane strip is at least 9 in wide" in coverages
    assert "any one of (tarnfell-cap-sealant: A bead of sealant" in coverages


def test_a_rules_page_says_what_it_asks_and_where(show: Shell) -> None:
    """Limit, aim, place, scope, class, evidence, stations, why, remedy and source in words."""
    sections = _sections(show(f"{PRACTICE}#field-gap"))
    opening = sections[""]
    for told in (
        "Field slates leave at least 3 1/16 in open across the centreline",
        "rule practice/hip-and-ridge#field-gap in practice/hip-and-ridge@2026-11",
        "demands station gap must be at least 3 1/16 in",
        "aims for 3 1/8 in; missing it is a remark, never a failure",
        "judged at each station on a hip or ridge",
        "written for roof covering is composite slate",
        "class major",
        "shown by measured, cap lifted or photo during work",
        "stations at least 3 on each line",
        "why Slates grow in heat",
        "remedy Lift the caps",
        "source common practice, no source; reading at least 3 stations a line is",
        "loosening only by a local rulebook that names who permits it",
    ):
        assert told in opening
    where = sections["WHERE IT APPLIES"]
    assert where.endswith("· either line kind is hip, or line kind is ridge and line vented is no")
    known = sections["WHAT HAS TO BE KNOWN"]
    assert "station gap written as station.gap measured" in known
    assert "line vented written as line.vented is" in known
    assert "HOW IT CAME TO BE" not in sections


def test_a_rules_cases_are_a_table(show: Shell) -> None:
    """Each case says what is given and must come out, with how it is known and its note."""
    cases = _sections(show(f"{PRACTICE}#field-gap"))["ITS CASES"]
    for told in (
        "given must come out note",
        "line kind: hip; station gap: 3 1/16 in ✓ pass on the limit",
        "? NOT VERIFIED the gap lies under the caps",
        "(how stated)",
        "\N{EN DASH} not applicable",
    ):
        assert told in cases
    assert cases.count("FAIL") == 2


def test_a_rule_that_may_never_be_loosened_says_so(show: Shell) -> None:
    """What no local rulebook may loosen is told."""
    opening = _sections(show("demo/tarnfell-slate#tarnfell-least-slope"))[""]
    assert "loosening never: no local rulebook may loosen it" in opening


def test_a_limit_by_a_table_is_printed_row_by_row(show: Shell) -> None:
    """The rows stand in a table of their own, their keys in words."""
    rows = _sections(show("code/model-residential@2021#least-slope"))["THE LIMIT, ROW BY ROW"]
    assert "roof covering must be" in rows
    assert "clay tile or concrete tile at least 2.5:12" in rows


def test_computed_facts_are_told_down_to_what_is_read(show: Shell) -> None:
    """A chart is printed row by row; what it is computed from follows, to the readings."""
    known = _sections(show(f"{PRACTICE}#cap-chart-and-angle"))["WHAT HAS TO BE KNOWN"]
    assert "line kind least plane slope line cap by chart" in known
    assert "hip 6:12 to 14:12 120 deg" in known
    assert "formula nearest to line.included_angle of 160 deg, 120 deg, 90 deg" in known
    assert "plane faces written as plane.faces measured compass direction" in known
    assert "with slope gauge" in known


def test_a_rules_page_tells_how_it_came_to_be(show: Shell) -> None:
    """From the base through every amendment: old and new limit, reason, source, file and line."""
    sections = _sections(show(f"{COUNTY}#membrane-width"))
    assert "amended by demo/tarnfell-slate@2026-01, then demo/tarn-county@2026-04" in sections[""]
    chain = sections["HOW IT CAME TO BE"]
    steps = (
        "practice/hip-and-ridge@2026-11 wrote it limit line membrane width must be at least 8 in",
        "demo/tarnfell-slate@2026-01 amended it",
        "must be at least 8 in → at least 9 in",
        "reason The caps are narrow, and their edges drain close to the open space.",
        "demo/tarn-county@2026-04 amended it",
        "must be at least 9 in → at least 12 in",
        "written at rulebooks/demo/tarn-county@2026-04.yaml:",
    )
    places = [chain.index(step) for step in steps]
    assert places == sorted(places)
    wrote = sections["WHO WROTE WHAT"]
    assert "must be demo/tarn-county@2026-04" in wrote
    assert "why practice/hip-and-ridge@2026-11" in wrote


def test_a_rule_seen_from_its_base_is_the_bases(show: Shell) -> None:
    """The same rule shown from the rulebook that wrote it has no changes."""
    opening = _sections(show(f"{PRACTICE}#membrane-width"))[""]
    assert "must be at least 8 in" in opening
    assert "amended by" not in opening


def test_a_withdrawn_rule_has_a_page_that_says_so(show: Shell) -> None:
    """It tells who took it away, why and who permitted that, and what it was."""
    sections = _sections(show(f"{COUNTY}#colour-matched"))
    opening = sections[""]
    assert "No longer in force: demo/tarn-county@2026-04 has taken this rule away." in opening
    assert "permitted by Tarnfell (invented), letter of 2026-02-10 to the county" in opening
    assert "demands line colour matched must be yes" in opening
    assert sections["HOW IT CAME TO BE"].count("withdrew it") == 1


def test_permission_and_every_changed_field_are_told(show: Shell, tmp_path: Path) -> None:
    """Each field an amendment can change is told before and after, permission with it."""
    base = rulebook(
        rule("r", "station.gap", {"at_least": "3 in"}, when={"line.kind": "hip"}),
        name="base@1",
    )
    changed = amendment(
        "r", title="New", limit={"at_least": "2 in"}, aim={"equal_to": "4 in"}, class_="minor",
        when={"line.kind": "ridge"}, scope={"covering": "composite slate"}, why="w", remedy="m",
        evidence={"photo": True}, stations={"at_least": 2, "one_per": "6 ft"},
        permitted_by="the state (invented)",
    )  # fmt: skip
    local = rulebook(name="local@1", based_on=["base@1"], amendments=[changed])
    (tmp_path / "base@1.json").write_text(base, "utf-8")
    (tmp_path / "local@1.json").write_text(local, "utf-8")
    told = _sections(show("local@1.json"))["WHAT IT CHANGES"]
    for words in (
        "title r holds → New",
        "must be at least 3 in → at least 2 in",
        "aims for none → 4 in",
        "class major → minor",
        "applies where line kind is hip → line kind is ridge",
        "written for none → roof covering is composite slate",
        "why a test → w",
        "remedy mend it → m",
        "shown by in any way → in any way, with a photo",
        "stations none → at least 2 on each line, and one for each 6 ft of it",
        "permitted by the state (invented)",
    ):
        assert words in told


def test_every_place_a_rule_can_be_judged_at_has_words(show: Shell, tmp_path: Path) -> None:
    """Roof, planes, lines of a kind, stations on lines or planes or either, and the rest."""
    rules = {
        "the roof": rule("a", "roof.warranty_registered", "present"),
        "each plane": rule("b", "plane.slope", {"at_least": "3:12"}),
        "each line": rule("c", "line.length", {"at_least": "1 ft"}),
        "each eave": rule("d", "line.length", {"at_least": "1 ft"}, when={"line.kind": "eave"}),
        "each station on a line": rule("e", "station.gap", {"at_least": "1 in"}),
        "each station on a plane": rule("f", "station.fasteners", "2", on="plane"),
        "each station on an eave": rule("g", "station.gap", {"at_least": "1 in"},
                                        when={"line.kind": "eave"}),
        "each station": rule("h", "station.fasteners", "2"),
        "each delivery": rule("i", "delivery.caps", {"at_least": 1}),
    }  # fmt: skip
    (tmp_path / "x@1.json").write_text(rulebook(*rules.values(), name="x@1"), "utf-8")
    for told, each in rules.items():
        opening = _sections(show(f"x#{each['id']}"))[""]
        assert f"judged at {told} written for any roof" in opening


def test_markdown_and_html_go_to_files(show: Shell, tmp_path: Path) -> None:
    """Each format is written whole to the file asked for, and nothing to the terminal."""
    for form, start in (
        ("markdown", "# The membrane"),
        ("html", "<!doctype html>"),
        ("text", "The"),
    ):
        file = tmp_path / f"page.{form}"
        assert show(f"{COUNTY}#membrane-width", "--format", form, "--output", str(file)) == ""
        assert file.read_text("utf-8").startswith(start)
    assert show(COUNTY, "--format", "markdown").startswith("# Tarn County amendments")
    assert "<h1" in show(COUNTY, "--format", "html")


def test_the_same_page_is_the_same_bytes(show: Shell) -> None:
    """Nothing in a page depends on when it was made."""
    for form in ("text", "markdown", "html"):
        assert show(COUNTY, "--format", form) == show(COUNTY, "--format", form)


def test_an_id_with_several_editions_asks_for_one(refused: Callable[..., list[str]]) -> None:
    """Two editions in sight are both named, and neither is chosen."""
    (told,) = refused("code/model-residential")
    assert told == (
        "RULEBOOK: expected one edition; found `code/model-residential`, which has 2 editions in "
        "sight; name `code/model-residential@2021` or `code/model-residential@2024`"
    )


def test_an_unknown_rule_or_rulebook_is_told_with_the_nearest(
    refused: Callable[..., list[str]],
) -> None:
    """A slip is answered with what may have been meant, or with where to look."""
    (slip,) = refused(f"{PRACTICE}#feild-gap")
    assert slip.endswith("a rule of this rulebook; found `feild-gap`; did you mean `field-gap`?")
    (nothing,) = refused(f"{PRACTICE}#zzz")
    assert nothing.endswith(f"`ridgerule book show {PRACTICE}@2026-11` lists its rules")
    (book,) = refused("practice/hip-and-rigde")
    assert "did you mean `practice/hip-and-ridge" in book


def test_a_rule_of_two_bases_has_to_be_named_in_full(
    refused: Callable[..., list[str]], show: Shell, tmp_path: Path
) -> None:
    """An id that two bases have is asked for as `rulebook#id`, which shows it."""
    for name in ("one@1", "two@1"):
        text = rulebook(rule("r", "plane.slope", {"at_least": "3:12"}), name=name)
        (tmp_path / f"{name}.json").write_text(text, "utf-8")
    (tmp_path / "both@1.json").write_text(
        rulebook(name="both@1", based_on=["one@1", "two@1"]), "utf-8"
    )
    (told,) = refused("both#r")
    assert told.endswith("found `r`, which is in two of its bases; name `one#r` or `two#r`")
    assert "rule two#r in both@1, based on two@1" in _sections(show("both#two#r"))[""]
    listed = _sections(show("both"))["RULES JUDGED AT PLANES"]
    assert "one#r r holds" in listed
    assert "two#r r holds" in listed


def test_a_broken_rulebook_is_told_with_its_problems(
    refused: Callable[..., list[str]], tmp_path: Path
) -> None:
    """All that is wrong in the file is told, each with its line; there is no page."""
    text = rulebook(
        rule("r", "station.gpa", {"at_least": "3 in"}),
        rule("s", "station.gap", {"at_least": "3 furlong"}),
        name="x@1",
    )
    (tmp_path / "x@1.json").write_text(text, "utf-8")
    assert len(refused("x@1.json")) == 2
    (missing,) = refused("nothing.yaml")
    assert "expected a file that can be read; found nothing at this path" in missing
