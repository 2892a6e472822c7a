"""`ridgerule book check`: what it tells of rulebooks, where, in which form, with which status."""

from __future__ import annotations

import datetime as dt
import json
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ridgerule.cli import main
from ridgerule.cli.app import run
from ridgerule.cli.book_check import as_text, check_files
from ridgerule.proof.lint_cases import asked_by
from ridgerule.proof.lint_conflicts import conflict
from ridgerule.proof.lint_remarks import Level
from ridgerule.reports.page import Page
from ridgerule.shipped import shipped
from workshop import EVERYTHING, amendment, audit, outcomes, plan, rule, rulebook

if TYPE_CHECKING:
    from collections.abc import Callable

    Shell = Callable[..., tuple[int, str]]

TODAY = dt.date(2026, 12, 1)
OF = "line.membrane_width"
CASES = [
    {"given": {"line.kind": "hip", OF: "8 in"}, "expect": "pass"},
    {"given": {"line.kind": "hip", OF: "7 in"}, "expect": "fail"},
]
CASES_AT_9 = [
    {"given": {"line.kind": "hip", OF: "9 in"}, "expect": "pass"},
    {"given": {"line.kind": "hip", OF: "8 in"}, "expect": "fail"},
]
HIP = {"line.kind": "hip"}
STRIP = rule("strip", OF, {"at_least": "8 in"}, when=HIP, cases=CASES)
BASE = rulebook(STRIP, name="t/base@1")
NO_COLOUR = "\x1b"


@pytest.fixture(autouse=True)
def _plain(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Give every test a folder of its own, and a screen of 80 columns without any wishes."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    for name in ("NO_COLOR", "FORCE_COLOR", "TERM"):
        monkeypatch.delenv(name, raising=False)


@pytest.fixture
def shell(capfd: pytest.CaptureFixture[str]) -> Shell:
    """Return a function that runs `book check`: its status and standard output."""

    def checked(*arguments: str) -> tuple[int, str]:
        status = run(["book", "check", *arguments])
        said = capfd.readouterr()
        assert said.err == ""
        return status, said.out

    return checked


def write(name: str, text: str) -> str:
    """Write a rulebook into the working directory, in folders as its name says."""
    file = Path(name)
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(text, encoding="utf-8")
    return name


def told(*files: str, folders: tuple[Path, ...] = (), today: dt.date = TODAY) -> list[str]:
    """Return what a check tells of files, in its order."""
    return [str(remark) for remark in check_files([*map(Path, files)], folders, today).remarks]


def child(*changes: dict[str, Any], name: str = "t/child@1", **fields: Any) -> str:
    """Return a rulebook that stands on the base."""
    return rulebook(name=name, based_on=["t/base@1"], amendments=list(changes), **fields)


# the shipped rulebooks

SHIPPED = sorted(shipped("rulebooks").rglob("*.yaml"))
TRUE_OF_THE_SHIPPED = (
    # what a warning expects, and which rulebooks it is told of
    ("values confirmed against International Residential Code", {"model-residential"}),
    ("the newest edition in sight", {"tarn-county"}),
)


def test_shipped_rulebooks_have_no_error_and_only_true_warnings() -> None:
    """The code is recalled and says so, and the county stands on its older edition by intent."""
    assert len(SHIPPED) == 5
    remarks = check_files(SHIPPED, (), TODAY).remarks
    assert [str(remark) for remark in remarks if remark.level is Level.ERROR] == []
    for phrase, books in TRUE_OF_THE_SHIPPED:
        found = [r.problem.location.file for r in remarks if phrase in r.problem.expected]
        assert {Path(file).name.partition("@")[0] for file in found} == books
    assert all(
        any(phrase in remark.problem.expected for phrase, _ in TRUE_OF_THE_SHIPPED)
        for remark in remarks
    )


def test_each_shipped_rulebook_tells_what_it_changes() -> None:
    """The maker is stricter in four places, the county in five and looser in one, by permission."""
    found = {file.rulebook: file.changes for file in check_files(SHIPPED, (), TODAY).files}
    kinds = {
        book: [str(change.strictness) for change in changes] for book, changes in found.items()
    }
    assert kinds == {
        "code/model-residential@2021": [],
        "code/model-residential@2024": [],
        "demo/tarn-county@2026-04": ["looser", *["stricter"] * 5],
        "demo/tarnfell-slate@2026-01": ["stricter"] * 4,
        "practice/hip-and-ridge@2026-11": [],
    }
    (gone, *_), inside = found["demo/tarn-county@2026-04"], "ice-barrier-inside"
    assert (gone.rule, gone.withdraws) == ("practice/hip-and-ridge#colour-matched", True)
    assert gone.permitted_by.startswith("Tarnfell (invented)")
    (barrier,) = [c for c in found["demo/tarn-county@2026-04"] if c.rule.endswith(inside)]
    assert [(p.field, str(p.strictness), p.was, p.now) for p in barrier.parts][1:] == [
        ("limit", "wording only", "at least 24 in", "at least 36 in")
    ]


# status and forms


def test_a_rulebook_without_a_mistake_ends_with_0(shell: Shell) -> None:
    """Nothing to mend or to look at is said, and counted."""
    write("base@1.yaml", BASE)
    assert shell("base@1.yaml") == (
        0,
        f"""\
t/base@1, base@1.yaml
{"─" * 80}
nothing to mend or to look at

1 file: no errors, no warnings
""",
    )
    assert shell("base@1.yaml", "--strict")[0] == 0


def test_warnings_end_with_0_and_with_2_where_they_count(shell: Shell) -> None:
    """A warning leaves the status at 0, unless it is asked to count."""
    write("base@1.yaml", rulebook({**STRIP, "cases": CASES[:1]}, name="t/base@1"))
    status, out = shell("base@1.yaml")
    assert (status, out.splitlines()[-1]) == (0, "1 file: no errors, 1 warning")
    assert shell("base@1.yaml", "--strict") == (2, out)


def test_errors_end_with_2_and_are_told_on_standard_output(shell: Shell) -> None:
    """What is wrong is the report: line by line, at 80 columns, with the counts at the end."""
    write("base@1.json", rulebook({**STRIP, "limit": {"at_least": "9 in"}}, name="t/base@1"))
    assert shell("base@1.json") == (
        2,
        f"""\
t/base@1, base@1.json
{"─" * 80}
base@1.json:26:5: error: expected `pass`, as this case of `strip` says; found
    `fail`: 8 in against at least 9 in; mend the case, or the rule

1 file: 1 error, no warnings
""",
    )


def test_a_file_that_cannot_be_read_is_told_among_the_others(shell: Shell) -> None:
    """A file that is none, or no rulebook, stops no other from being checked."""
    write("base@1.yaml", BASE)
    write("other@1.yaml", "rulebook: [\n")
    status, out = shell("other@1.yaml", "gone.yaml", "base@1.yaml")
    assert status == 2
    headings = [line for line in out.splitlines() if line.endswith(".yaml")]
    assert headings == ["t/base@1, base@1.yaml", "gone.yaml", "other@1.yaml"]
    assert "gone.yaml: error: expected a file" in out
    assert out.endswith("3 files: 2 errors, no warnings\n")


def test_data_holds_every_remark_with_its_place(shell: Shell) -> None:
    """JSON has path, line, column, level and the three parts of each remark, and the changes."""
    write("base@1.json", BASE)
    change = amendment("strip", limit={"at_least": "9 in"}, title="Wider", cases=CASES_AT_9)
    write("child.json", child(change))
    status, out = shell("child.json", "--format", "json")
    data = json.loads(out)
    assert status == 0
    assert data["check"] == 1
    assert data["counts"] == {"errors": 0, "warnings": 1}
    assert data["remarks"] == [
        {
            "path": "child.json",
            "line": 2,
            "column": 14,
            "level": "warning",
            "expected": "a file named `child@1.json`",
            "found": "`child.json`",
            "advice": "rename it: records and rulebooks find it by its name alone",
        }
    ]
    (file,) = data["files"]
    assert (file["path"], file["rulebook"]) == ("child.json", "t/child@1")
    assert file["changes"] == [
        {
            "rule": "t/base#strip",
            "strictness": "stricter",
            "withdraws": False,
            "fields": ["limit", "title", "cases"],
            "parts": [
                {
                    "field": "limit",
                    "strictness": "stricter",
                    "was": "at least 8 in",
                    "now": "at least 9 in",
                }
            ],
            "reason": "a test",
            "permitted_by": "",
            "line": 10,
            "column": 12,
        }
    ]


def test_the_same_files_give_the_same_bytes(shell: Shell) -> None:
    """Order and repetition of the files asked for change nothing."""
    write("base@1.yaml", BASE)
    write("child@1.yaml", child(amendment("strip", limit={"at_least": "9 in"})))
    for form in ("text", "json"):
        one = shell("base@1.yaml", "child@1.yaml", "--format", form)
        assert shell("base@1.yaml", "child@1.yaml", "base@1.yaml", "--format", form) == one
    there, back = (shell(*files)[1] for files in (("base@1.yaml", "child@1.yaml"),
                                                  ("child@1.yaml", "base@1.yaml")))  # fmt: skip
    assert there == back


@pytest.mark.parametrize("width", [80, 120])
def test_the_report_fits_the_screen(
    width: int, shell: Shell, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No line is wider than the screen, none ends in spaces, and a pipe gets no codes."""
    monkeypatch.setenv("COLUMNS", str(width))
    _, out = shell(*map(str, SHIPPED))
    lines = out.splitlines()
    assert max(map(len, lines)) <= width
    assert max(map(len, lines)) > width - 8
    assert all(line == line.rstrip() for line in lines)
    assert NO_COLOUR not in out
    assert "\n\n\n" not in out


def test_colour_marks_the_level_and_nothing_a_file_says() -> None:
    """On a terminal with colours errors and warnings stand out; what files say is only text."""
    hostile = {**STRIP, "limit": {"at_least": "9 in"}, "title": "[bold red]x\x1b[31m"}
    write("base@1.json", rulebook(hostile, name="t/base@1"))
    found = check_files([Path("base@1.json")], (), TODAY)
    coloured = as_text(found, Page(width=80, colour=True, unicode=True))
    assert "\x1b[1;31merror:\x1b[0m" in coloured
    plain = as_text(found, Page(width=80, colour=False, unicode=False))
    assert plain.isascii()
    assert re.sub(r"\x1b\[[0-9;]*m", "", coloured).replace("─", "-") == plain


def test_help_names_every_option_and_the_status(capfd: pytest.CaptureFixture[str]) -> None:
    """The help says what there is, when it ends with 2, and what errors and warnings are."""
    assert run(["book", "check", "--help"]) == 0
    said = capfd.readouterr().out
    assert {"--rulebooks", "--on", "--strict", "--format"} <= set(said.split())
    words = " ".join(said.split())
    assert "Exit status: 0 no errors, 2 errors, or warnings with --strict" in words
    assert run(["book", "--help"]) == 0
    assert "check" in capfd.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("a.yaml", "--on", "yesterday"), "expected a date such as `2026-03-02`"),
        (("a.yaml", "--on", "2026-02-30"), "found `2026-02-30`"),
        (("a.yaml", "--format", "html"), "'html' is not one of"),
        ((), "Missing argument"),
    ],
)
def test_bad_usage_is_told(arguments: Any, said: str, capfd: pytest.CaptureFixture[str]) -> None:
    """What can't be asked for ends with status 2 on standard error, and says why."""
    assert run(["book", "check", *arguments]) == 2
    err = " ".join(capfd.readouterr().err.replace("│", " ").split())
    assert said in err


def test_the_console_script_checks(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    """The command runs from the shell's entry point, with the clock's own day."""
    write("base@1.yaml", BASE)
    monkeypatch.setattr("sys.argv", ["ridgerule", "book", "check", "base@1.yaml"])
    with pytest.raises(SystemExit) as left:
        main()
    assert left.value.code == 0
    assert "no errors, no warnings" in capfd.readouterr().out


# several files, and where others are found


def test_a_base_without_an_edition_in_its_name_is_found_among_the_files() -> None:
    """Files checked together stand on each other, even where no shelf would find them by name."""
    write("house.yaml", BASE)
    write("site.yaml", child(amendment("strip", limit={"at_least": "9 in"}, cases=CASES_AT_9)))
    assert all("a file named" in line for line in told("site.yaml", "house.yaml"))
    assert len(told("site.yaml", "house.yaml")) == 2
    (alone,) = [line for line in told("site.yaml") if "found `t/base@1`" in line]
    assert "error: expected a rulebook that can be found" in alone


def test_folders_are_looked_into_for_bases(shell: Shell) -> None:
    """A base lies beside the file, in the working directory or in a folder named."""
    write("firm/base@1.yaml", BASE)
    change = amendment("strip", limit={"at_least": "9 in"}, cases=CASES_AT_9)
    write("site/child@1.yaml", child(change))
    assert shell("site/child@1.yaml")[0] == 2
    assert shell("site/child@1.yaml", "--rulebooks", "firm")[0] == 0
    write("base@1.yaml", BASE)
    assert shell("site/child@1.yaml")[0] == 0


def test_a_mistake_of_a_base_is_told_once_in_its_own_file() -> None:
    """Two files on one base that can't be used are told its mistake once, where it stands."""
    write("base@1.yaml", rulebook({**STRIP, "of": "line.membrane_widht"}, name="t/base@1"))
    for name in ("one", "two"):
        write(f"{name}@1.yaml", rulebook(name=f"t/{name}@1", based_on=["t/base@1"]))
    (line,) = [line for line in told("one@1.yaml", "two@1.yaml") if "did you mean" in line]
    assert line.startswith("base@1.yaml:")


def test_one_rulebook_in_two_files_is_an_error() -> None:
    """Which of two files with one id and edition is meant nobody could tell."""
    write("a.yaml", BASE)
    write("b.yaml", BASE)
    (line,) = [line for line in told("a.yaml", "b.yaml") if "error" in line]
    assert line.startswith("b.yaml:2:14: error: expected a rulebook and edition of its own; found ")
    assert "`t/base@1`, which a.yaml is too" in line


def dated(edition: int, days: dict[str, str], by: str = "permit") -> str:
    """Write an edition with its days in force."""
    text = rulebook(STRIP, name=f"t/dated@{edition}", in_force=days, in_force_by=by)
    return write(f"dated@{edition}.yaml", text)


def test_what_is_wrong_between_two_editions_is_told_once() -> None:
    """Checked together, two editions that overlap are told at the newer, which names the other."""
    one, two = dated(9, {"from": "2025-01-01"}), dated(10, {"from": "2026-01-01"})
    (line,) = told(one, two)
    assert line.startswith("dated@10.yaml:")
    assert "(dated@9.yaml)" in line
    assert "end `t/dated@9` with `in_force: {to: 2025-12-31}`" in line
    assert len(told(one)) == len(told(two)) == 1


DAYS = [
    # days of two editions, and what is told of them together
    ({"from": "2025-01-01", "to": "2025-12-31"}, {"from": "2026-01-01"}, None),
    ({"to": "2025-12-31"}, {"from": "2026-01-01"}, None),
    ({"from": "2025-01-01", "to": "2026-01-01"}, {"from": "2026-01-01"}, "both from 2026-01-01 to"),
    ({"from": "2025-01-01"}, {"from": "2025-01-01"}, "give each edition days of its own"),
    ({"to": "2025-12-31"}, {"to": "2026-12-31"}, "both to 2025-12-31"),
    ({"from": "2025-01-01", "to": "2025-12-30"}, {"from": "2026-01-01"}, "none from 2025-12-31 to"),
]


@pytest.mark.parametrize(("first", "second", "phrase"), DAYS)
def test_days_of_editions_follow_one_another(
    first: dict[str, str], second: dict[str, str], phrase: str | None
) -> None:
    """Editions neither overlap nor leave days out; the day before the next is the right end."""
    lines = told(dated(1, first), dated(2, second))
    assert len(lines) == (0 if phrase is None else 1)
    assert phrase is None or phrase in lines[0]


def test_three_editions_leave_a_gap_only_where_none_of_them_is_in_force() -> None:
    """A gap is looked for after the last day of all that came before."""
    files = [
        dated(1, {"from": "2024-01-01", "to": "2025-12-31"}),
        dated(2, {"from": "2024-06-01", "to": "2024-12-31"}),
        dated(3, {"from": "2026-01-01"}),
    ]
    assert all("both from 2024-06-01 to 2024-12-31" in line for line in told(*files))
    assert len(told(*files)) == 1


def test_an_edition_that_another_follows_has_not_expired() -> None:
    """Older roofs are held against older editions, so only the last one's end is told."""
    one = dated(1, {"from": "2025-01-01", "to": "2025-12-31"})
    assert "expired on 2025-12-31" in told(one)[0]
    assert told(one, today=dt.date(2025, 12, 31)) == []
    dated(2, {"from": "2026-01-01"})
    assert told(one) == []


def test_editions_that_no_date_picks_are_left_alone() -> None:
    """Editions that are adopted by name, without any days, contradict nothing."""
    for edition in (1, 2):
        write(f"code@{edition}.yaml", rulebook(STRIP, name=f"t/code@{edition}"))
    assert told("code@1.yaml", "code@2.yaml") == []


def test_an_edition_in_sight_that_cannot_be_read_is_told() -> None:
    """Whoever asks for the rulebook by its id alone would be refused for the other edition."""
    write("base@1.yaml", BASE)
    write("base@2.yaml", BASE.replace('"edition": "1"', '"edition": "2"').replace("major", "majr"))
    (line,) = told("base@1.yaml")[:1]
    assert line.startswith("base@2.yaml:")
    assert "error" in line


# changes


def test_what_is_loosened_by_permission_is_told_first(shell: Shell) -> None:
    """A table says what each change does, the looser first, who permits it, and what it changed."""
    rules = (
        STRIP,
        rule("long", "line.length", {"at_least": "8 ft"}, class_="critical",
             cases=[{"given": {"line.length": "8 ft"}, "expect": "pass"},
                    {"given": {"line.length": "7 ft"}, "expect": "fail"}]),
    )  # fmt: skip
    write("base@1.yaml", rulebook(*rules, name="t/base@1"))
    changes = (
        amendment("strip", limit={"at_least": "9 in"}, cases=CASES_AT_9),
        amendment("long", title="Long enough", class_="major", permitted_by="County, letter 3"),
    )
    write("child@1.yaml", child(*changes))
    assert shell("child@1.yaml") == (
        0,
        f"""\
t/child@1, child@1.yaml
{"─" * 80}
nothing to mend or to look at

Changes to rules of its bases: 1 looser, 1 stricter
looser    t/base#long: class critical → major; permitted by County, letter 3
stricter  t/base#strip: limit at least 8 in → at least 9 in

1 file: no errors, no warnings
""",
    )


def test_a_change_of_words_alone_says_which(shell: Shell) -> None:
    """An amendment that decides nothing is told as wording only, with what it wrote anew."""
    write("base@1.yaml", BASE)
    write("child@1.yaml", child(amendment("strip", title="A wide strip", why="snow")))
    _, out = shell("child@1.yaml")
    assert "Changes to rules of its bases: 1 wording only\n" in out
    assert "wording only  t/base#strip: title, why\n" in out


def test_a_part_that_differs_from_the_whole_says_so(shell: Shell) -> None:
    """In a change that is different in kind each part says whether it is stricter or looser."""
    write("base@1.yaml", BASE)
    change = amendment("strip", limit={"at_least": "9 in"}, class_="minor", cases=CASES_AT_9,
                       permitted_by="letter 3")  # fmt: skip
    write("child@1.yaml", child(change))
    words = " ".join(shell("child@1.yaml")[1].split())
    assert (
        "different in kind t/base#strip: limit (stricter) at least 8 in → at least 9 in; "
        "class (looser) major → minor; permitted by letter 3"
    ) in words


def test_a_change_that_nobody_permits_is_an_error_here_as_well() -> None:
    """What keeps a rulebook from being used is told beside the rest, as an error."""
    write("base@1.yaml", BASE)
    write("child@1.yaml", child(amendment("strip", limit={"at_least": "7 in"})))
    (line,) = told("child@1.yaml")
    assert ": error: expected `permitted_by` beside a change that makes" in line


# cases


def test_cases_of_a_proved_rule_are_asked_what_they_rest_on() -> None:
    """A computed fact asks those it is computed from, down to what an inspector records."""
    text = rulebook(rule("r", "line.hip_factor", {"at_least": "100 %"}, when=HIP))
    edition = plan(text).books[0].editions[0]
    asked = asked_by(edition.checks[0], edition.vocabulary)
    assert {"line.hip_factor", "line.plan_corner", "plane.slope", "plane.faces"} <= asked
    assert "line.length" not in asked


def test_a_case_may_give_more_where_its_note_says_why() -> None:
    """A fact that a rule does not ask is told, unless the author says what it is there for."""
    more = {"given": {"line.kind": "hip", OF: "8 in", "line.length": "9 ft"}, "expect": "pass"}
    write("base@1.yaml", rulebook({**STRIP, "cases": [*CASES, more]}, name="t/base@1"))
    assert len(told("base@1.yaml")) == 1
    noted = [*CASES, {**more, "note": "however long the hip is"}]
    write("base@1.yaml", rulebook({**STRIP, "cases": noted}, name="t/base@1"))
    assert told("base@1.yaml") == []


def test_a_change_of_evidence_is_held_against_inherited_cases() -> None:
    """Cases that showed a word to be enough break where a photo is asked for."""
    word = {"given": {"line.kind": "hip", OF: {"value": "8 in", "how": "document"}},
            "expect": "pass"}  # fmt: skip
    write("base@1.yaml", rulebook({**STRIP, "cases": [*CASES, word]}, name="t/base@1"))
    write("child@1.yaml", child(amendment("strip", evidence={"how": ["cap lifted"]})))
    (line,) = told("child@1.yaml")
    assert "expected `cases:` beside a changed `evidence`; found 1 of the 3 inherited ones" in line
    assert "first at base@1.yaml:" in line


def test_other_changes_need_no_cases() -> None:
    """Stations, class and words are no part of cases, so that nobody asks for new ones."""
    rules = rule("gap", "station.gap", {"at_least": "3 in"}, when=HIP, cases=[
        {"given": {"line.kind": "hip", "station.gap": "3 in"}, "expect": "pass"},
        {"given": {"line.kind": "hip", "station.gap": "2 in"}, "expect": "fail"},
    ])  # fmt: skip
    write("base@1.yaml", rulebook(rules, name="t/base@1"))
    change = amendment("gap", stations={"at_least": 3}, class_="critical", why="snow")
    write("child@1.yaml", child(change))
    assert told("child@1.yaml") == []


# rules that can't be met together

FIGURES = st.integers(1, 8)
LIMITS = st.one_of(
    FIGURES.map(lambda n: {"at_least": f"{n} in"}),
    FIGURES.map(lambda n: {"at_most": f"{n} in"}),
    FIGURES.map(lambda n: {"equal_to": f"{n} in", "within": "1/2 in"}),
    FIGURES.map(lambda n: {"not": {"at_least": f"{n} in"}}),
    st.tuples(FIGURES, FIGURES).map(lambda ns: {"one_of": [f"{n} in" for n in ns]}),
    st.tuples(FIGURES, FIGURES).map(
        lambda ns: {"table": {"by": "line.kind", "rows": [
            {"for": "hip", "limit": {"at_least": f"{ns[0]} in"}},
            {"for": "ridge", "limit": {"at_most": f"{ns[1]} in"}},
        ]}}
    ),
)  # fmt: skip
WHENS = st.sampled_from([None, HIP, {"line.kind": "ridge"}, {"line.kind": {"none_of": ["hip"]}}])
WIDTHS = [f"{n / 4} in" for n in range(41)]
KINDS = ("hip", "ridge", "valley")
ROOF = {
    "complete": dict.fromkeys(EVERYTHING, "all"),
    "planes": {"S": {"faces": "180 deg"}, "E": {"faces": "90 deg"}},
    "lines": {
        f"{kind[0].upper()}{i}": {"kind": kind, "between": ["S", "E"], "membrane_width": width}
        for kind in KINDS
        for i, width in enumerate(WIDTHS)
    },
}


@settings(max_examples=80, deadline=None)
@given(LIMITS, LIMITS, WHENS, WHENS)
def test_rules_against_each_other_are_those_that_no_reading_meets_both_of(
    first: Any, second: Any, one: Any, other: Any
) -> None:
    """Two rules contradict each other just where some kind of line has no width for both."""
    whens = [{} if when is None else {"when": when} for when in (one, other)]
    text = rulebook(rule("one", OF, first, **whens[0]), rule("other", OF, second, **whens[1]))
    done = audit(ROOF, text)
    ours, theirs = outcomes(done, "one"), outcomes(done, "other")
    hopeless = []
    for kind in KINDS:
        pairs = [(ours[place], theirs[place]) for place in ours if place.startswith(kind)]
        if not any("not applicable" in both for both in pairs):
            hopeless.append(all("fail" in both for both in pairs))
    alone = [any("pass" in found for found in side.values()) for side in (ours, theirs)]
    expected = any(hopeless) and all(alone)
    checks = plan(text).books[0].editions[0].checks
    assert (conflict(*checks) is not None) == expected
    assert (conflict(*reversed(checks)) is not None) == expected


def test_a_limit_by_another_fact_is_against_nothing_that_some_roof_can_meet() -> None:
    """What a limit is held against varies from roof to roof, and most roofs can meet both."""
    rules = (
        rule("one", OF, {"at_most": "line.length"}),
        rule("other", OF, {"at_least": "8 in"}),
    )
    checks = plan(rulebook(*rules)).books[0].editions[0].checks
    assert conflict(*checks) is None
    never = rule("never", OF, {"not": {"at_most": "line.length"}})
    checks = plan(rulebook(rules[0], never)).books[0].editions[0].checks
    assert conflict(*checks) is not None


def test_two_inherited_rules_are_their_own_rulebooks_affair() -> None:
    """A rulebook that changes neither is told nothing of bases that contradict each other."""
    narrow = rule("narrow", OF, {"at_most": "7 in"}, when=HIP, cases=[
        {"given": {"line.kind": "hip", OF: "7 in"}, "expect": "pass"},
        {"given": {"line.kind": "hip", OF: "8 in"}, "expect": "fail"},
    ])  # fmt: skip
    write("base@1.yaml", BASE)
    write("other@1.yaml", rulebook(narrow, name="t/other@1"))
    write("both@1.yaml", rulebook(name="t/both@1", based_on=["t/base@1", "t/other@1"]))
    assert [line for line in told("both@1.yaml") if "error" in line] == []
    own = rulebook(narrow, name="t/own@1", based_on=["t/base@1"])
    write("own@1.yaml", own)
    assert "error: expected a limit that some `line.membrane_width`" in told("own@1.yaml")[0]


# sources and facts


def test_a_recalled_document_is_told_once_however_often_it_is_cited() -> None:
    """Sections of one document are one thing to confirm; two documents are two."""
    data = json.loads(rulebook(*(
        {**STRIP, "id": f"r{i}", "source": f"s{i}"} for i in range(4)
    ), name="t/base@1"))  # fmt: skip
    data["sources"] = {
        f"s{i}": {"basis": "published", "document": f"Sheet {i // 3}", "edition": "1",
                  "section": str(i), "recalled": True}
        for i in range(4)
    }  # fmt: skip
    write("base@1.yaml", json.dumps(data, indent=1))
    first, second = told("base@1.yaml")
    assert "values confirmed against Sheet 0, edition 1; found 3 rules from memory" in first
    assert "by `s0`, `s1`, `s2`" in first
    assert "values confirmed against Sheet 1, edition 1; found one rule from memory" in second


def test_facts_asked_by_any_part_of_a_file_are_not_idle() -> None:
    """A rule, a condition, a scope, a computed fact and a coverage each ask facts."""
    names = ("judged", "asked", "held", "summed", "covered")
    facts = {f"line.{name}": {"dimension": "length", "measure": "a test"} for name in names}
    facts |= {"roof.written": {"dimension": "yes or no", "measure": "a test"},
              "roof.stated": {"dimension": "yes or no", "measure": "a test"}}  # fmt: skip
    derive = {"line.sum": {"dimension": "length", "measure": "a test",
                           "sum": ["line.summed", "line.length"]}}  # fmt: skip
    given_facts = {"line.judged": "2 in", "line.asked": "2 in", "line.held": "1 in",
                   "line.summed": "1 ft", "line.length": "1 ft"}  # fmt: skip
    cases = [
        {"given": given_facts, "expect": "pass"},
        {"given": {**given_facts, "line.judged": "1/2 in"}, "expect": "fail"},
    ]
    when = {"line.asked": {"at_least": "1 in"}, "line.sum": {"at_least": "1 ft"}}
    own = rule("r", "line.judged", {"at_least": "line.held"}, when=when,
               scope={"written": "yes"}, cases=cases)  # fmt: skip
    coverage = {
        "id": "wind", "title": "Wind",
        "conditions": {"all_of": ["r", {"title": "Stated", "where": {"roof.stated": "present"}},
                                  {"title": "Covered",
                                   "where": {"any line.covered": {"at_least": "1 in"}}}]},
    }  # fmt: skip
    text = rulebook(own, name="t/base@1", facts=facts, derive=derive, coverages=[coverage])
    write("base@1.yaml", text)
    assert told("base@1.yaml") == []
