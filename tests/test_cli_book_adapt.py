"""`ridgerule book adapt`: a local rulebook's starting file, which loads piece by piece."""

from __future__ import annotations

import datetime as dt
import json
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from ridgerule.audit.compile import plan_for
from ridgerule.cli import main
from ridgerule.cli.app import run
from ridgerule.cli.book_adapt import Asked, write_starter
from ridgerule.documents import read_document
from ridgerule.problems import InputRejected
from ridgerule.schemas import check
from ridgerule.shelf import Shelf
from ridgerule.shipped import shipped
from workshop import ASKED, amendment, problems, rule, rulebook

if TYPE_CHECKING:
    from ridgerule.audit.plan import Edition

TODAY = dt.date(2026, 11, 25)
SHIPPED = (
    "practice/hip-and-ridge@2026-11",
    "code/model-residential@2021",
    "code/model-residential@2024",
    "demo/tarnfell-slate@2026-01",
    "demo/tarn-county@2026-04",
)
SCHEMA = "rulebook.schema.json"


@pytest.fixture(autouse=True)
def _here(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Give every test an empty folder to stand in."""
    monkeypatch.chdir(tmp_path)


def _asked(*bases: str, **other: object) -> Asked:
    given = {
        "bases": bases,
        "folders": (),
        "authority": "Tarn County",
        "out": Path(),
        "id": "",
        "edition": "",
        "title": "",
        "overwrite": False,
        "today": TODAY,
    }
    return Asked(**(given | other))


def _write(*bases: str, **other: object) -> Path:
    """Return the file written, the only rulebook in this folder that is new."""
    before = set(Path().glob("*.yaml"))
    write_starter(_asked(*bases, **other))
    (file,) = set(Path().glob("*.yaml")) - before
    return file


def _load(file: Path) -> Edition:
    found = Shelf(folders=(file.parent,), files=(file,))
    return plan_for([(found.given[0].name, ASKED)], found).books[0].editions[0]


def _pieces(text: str) -> list[list[int]]:
    """Return the lines, from 0, of each piece that can be switched on; the key of one alone."""
    pieces: list[list[int]] = []
    before = -2
    for number, line in enumerate(text.splitlines()):
        if number and line.startswith("# "):
            if number != before + 1:
                pieces.append([])
            pieces[-1].append(number)
            before = number
    return pieces


def _switched(text: str, *pieces: list[int]) -> str:
    on = {number for piece in pieces for number in piece}
    lines = text.splitlines()
    return "\n".join(
        line.removeprefix("# ") if number in on else line for number, line in enumerate(lines)
    )


@pytest.mark.parametrize("base", SHIPPED)
def test_the_file_loads_as_it_is_and_changes_nothing(base: str) -> None:
    """As written it is a rulebook that asks just what its base asks."""
    edition = _load(_write(base))
    (under,) = (planned.editions[0] for planned in plan_for([(base, ASKED)], Shelf()).books)
    assert [c.identity for c in edition.checks] == [c.identity for c in under.checks]
    assert [c.limit for c in edition.checks] == [c.limit for c in under.checks]
    assert edition.book.changes == ()
    assert edition.book.name == "tarn-county@2026-11"


@pytest.mark.parametrize("base", SHIPPED)
def test_every_piece_can_be_switched_on_by_itself(base: str) -> None:
    """Each piece in turn loads, the amendments with the line over them; each rule has one."""
    file = _write(base)
    text = file.read_text("utf-8")
    pieces = _pieces(text)
    lines = text.splitlines()
    (key,) = (piece for piece in pieces if lines[piece[0]] == "# amendments:")
    under = {c.rule.id: c for c in plan_for([(base, ASKED)], Shelf()).books[0].editions[0].checks}
    amended = []
    for piece in pieces:
        is_stub = lines[piece[0]].startswith("#   - rule:")
        if piece == key:
            continue
        file.write_text(_switched(text, piece, *([key] if is_stub else [])), "utf-8")
        edition = _load(file)
        if is_stub:
            (change,) = edition.book.changes
            amended.append(change.rule)
            (now,) = (c for c in edition.checks if c.rule.id == change.rule)
            assert now.rule.fields["limit"].data == under[change.rule].rule.fields["limit"].data
            assert now.rule.text("title") == under[change.rule].rule.text("title")
    assert amended == list(under)
    assert len(pieces) - len(amended) == 6


def test_all_pieces_can_be_switched_on_together(tmp_path: Path) -> None:
    """With every mark away but of the rule that is both amended and withdrawn, it still loads."""
    file = _write(SHIPPED[0])
    text = file.read_text("utf-8")
    lines = text.splitlines()
    pieces = _pieces(text)
    withdrawn = next(p for p in pieces if lines[p[0]] == "# withdrawals:")
    name = lines[withdrawn[1]]
    kept = [p for p in pieces if p is withdrawn or lines[p[0]] != name]
    assert len(kept) == len(pieces) - 1
    file.write_text(_switched(text, *kept), "utf-8")
    edition = _load(file)
    assert len(edition.book.changes) == 34
    assert [each.rule for each in edition.book.changes if each.withdraws] == [name.split()[-1]]
    assert edition.book.rules[0].id == "deck-of-wood"
    assert edition.book.facts[0].full_name == "line.gutter_guard"
    assert edition.book.in_force.first == dt.date(2026, 11, 1)


def test_each_stub_is_told_with_what_holds_now() -> None:
    """Above each stub stand the rule's full id, title, limit in words, class and source."""
    text = _write("demo/tarnfell-slate").read_text("utf-8")
    told = " ".join(text.replace("##", "").split())
    assert (
        "practice/hip-and-ridge#membrane-width: The membrane strip is at least 9 in wide now: line "
        "membrane width must be at least 9 in class: major; source: common practice, no source; "
        "amended by demo/tarnfell-slate@2026-01"
    ) in told
    assert (
        "class: critical; source: invented: Tarnfell fitting guide (invented) 2026-01, 3, field"
        in told
    )
    assert "It may be made stricter, never looser." in told
    assert max(map(len, text.splitlines())) <= 100


def test_it_begins_with_the_schema_and_its_head() -> None:
    """The first line is for editors; id, title, edition, authority and bases follow."""
    file = _write("practice/hip-and-ridge", "code/model-residential@2021")
    text = file.read_text("utf-8")
    assert text.splitlines()[0] == "# yaml-language-server: $schema=./rulebook.schema.json"
    for line in (
        "rulebook: tarn-county",
        "title: Local rules of Tarn County",
        "edition: 2026-11",
        "authority: Tarn County",
        "  - practice/hip-and-ridge@2026-11",
        "  - code/model-residential@2021",
        "# in_force: {from: '2026-11-01'}",
        "# in_force_by: permit",
        "#   covering:",
        "#   building:",
    ):
        assert line in text.splitlines()
    assert (Path(SCHEMA)).read_bytes() == (shipped("schemas") / SCHEMA).read_bytes()
    assert check(read_document(text.encode(), name=str(file)), "rulebook") == ()


@pytest.mark.parametrize(
    ("edition", "day"),
    [
        ("2027", "2027-01-01"),
        ("2027-04", "2027-04-01"),
        ("2027-04-15", "2027-04-15"),
        ("2027-13", "2026-11-25"),
        ("R3", "2026-11-25"),
    ],
)
def test_an_edition_says_from_which_day(edition: str, day: str) -> None:
    """An edition that is a date begins with it; any other begins today."""
    text = _write(SHIPPED[0], edition=edition).read_text("utf-8")
    assert f"# in_force: {{from: '{day}'}}" in text


def test_a_file_says_the_id_and_edition_by_its_name(tmp_path: Path) -> None:
    """What is not asked for is read off the file's name; an id's last part names its file."""
    write_starter(_asked(SHIPPED[0], out=tmp_path / "lake@2027-02.yaml"))
    assert _load(tmp_path / "lake@2027-02.yaml").book.name == "lake@2027-02"
    write_starter(_asked(SHIPPED[0], out=tmp_path, id="county/lake", edition="3", title="Lake"))
    book = _load(tmp_path / "lake@3.yaml").book
    assert (book.name, book.title) == ("county/lake@3", "Lake")


def test_a_file_of_another_name_is_refused_with_the_right_one(tmp_path: Path) -> None:
    """A name that no rulebook would be found under is a problem; nothing is written."""
    for out, right in (
        ("lake.yaml", "lake@2026-11.yaml"),
        ("lake@1.yml", "lake@1.yml.yaml"),
        ("lake@1.json", "lake@1.json.yaml"),
        ("nofolder", "nofolder@2026-11.yaml"),
    ):
        told = problems(lambda out=out: write_starter(_asked(SHIPPED[0], out=tmp_path / out)))
        assert f"a file named `{right}`" in str(told[0])
    wanted = _asked(SHIPPED[0], out=tmp_path / "lake@1.yaml", id="x/tarn", edition="2")
    (told,) = problems(lambda: write_starter(wanted))
    assert told.expected == "a file named `tarn@2.yaml`, as its rulebook and edition are"
    assert list(tmp_path.iterdir()) == []


def test_nothing_is_written_over_unless_asked(tmp_path: Path) -> None:
    """A file that is there stays as it is; `--overwrite` replaces it."""
    file = _write(SHIPPED[0])
    file.write_text("mine", "utf-8")
    (told,) = problems(lambda: write_starter(_asked(SHIPPED[0])))
    assert (told.found, file.read_text("utf-8")) == ("one that is", "mine")
    assert told.advice.endswith("write over it with `--overwrite`")
    write_starter(_asked(SHIPPED[0], overwrite=True))
    assert _load(file).book.name == "tarn-county@2026-11"


def test_another_schema_beside_it_is_left_unless_asked(tmp_path: Path) -> None:
    """A different schema stays and is told of; the same one is not spoken of; none is written."""
    schema = tmp_path / SCHEMA
    schema.write_text("{}", "utf-8")
    said = write_starter(_asked(SHIPPED[0]))
    assert schema.read_text("utf-8") == "{}"
    assert f"{SCHEMA} is another one and was left as it is; `--overwrite` replaces it." in said
    said = write_starter(_asked(SHIPPED[0], overwrite=True))
    assert json.loads(schema.read_text("utf-8"))["title"] == "Rulebook"
    assert f"{SCHEMA} written too, for editors to complete it by." in said
    said = write_starter(_asked(SHIPPED[0], edition="2"))
    assert not any(SCHEMA in line for line in said)


def test_every_mistake_is_told_at_once(tmp_path: Path) -> None:
    """Bases, authority, edition and id are told together, and nothing is written."""
    asked = _asked("nothing", "code/model-residential", authority="", edition="a b")
    told = [str(problem) for problem in problems(lambda: write_starter(asked))]
    assert len(told) == 5
    assert told[0].startswith("--authority: expected words; found none")
    assert told[1].startswith("--edition: expected an edition such as `2026-04`; found `a b`")
    assert told[2].startswith("--id: expected an id of small letters")
    assert "expected a rulebook that can be found; found `nothing`" in told[3]
    assert "has 2 editions in sight" in told[4]
    assert list(tmp_path.iterdir()) == []


def test_it_can_not_be_its_own_base() -> None:
    """An id and edition that a base has are refused."""
    asked = _asked(SHIPPED[0], id="practice/hip-and-ridge", edition="2026-11")
    (told,) = problems(lambda: write_starter(asked))
    assert told.found == "`practice/hip-and-ridge@2026-11`, one of its bases"


def test_a_folder_that_is_not_there_is_told(tmp_path: Path) -> None:
    """Where the file can't be written, that is a problem and no schema is left behind."""
    asked = _asked(SHIPPED[0], out=tmp_path / "gone" / "lake@1.yaml")
    (told,) = problems(lambda: write_starter(asked))
    assert (told.found, list(tmp_path.iterdir())) == ("no such folder", [])


HOSTILE = "a: b # c \"q\" 'q' {x} [y] & * ! | > % @ `t` \\ é 😀 \u202e\nrules: []\n- x"


def test_hostile_words_can_not_break_out(tmp_path: Path) -> None:
    """Authority, title and all that a base says stay values and explanations."""
    wicked = f"T {HOSTILE}"
    base = json.loads(
        rulebook(
            rule("r", "line.word", {"equal_to": HOSTILE}, title=wicked),
            rule("s", "line.word", {"one_of": ["yes", "7:12", "007", "null", "~", "2026-01-01"]}),
            rule("t", "line.length", {"table": {"by": ["line.kind"], "rows": [
                {"for": ["hip"], "limit": {"at_least": "1 ft"}},
                {"for": [{"none_of": ["hip"]}], "limit": {"between": ["1 ft", "9 ft"]}},
            ]}}, may_be_loosened=False),
            name="base@1", facts={"line.word": {"dimension": "text", "measure": HOSTILE},
                                  "line.gutter_guard": {"dimension": "text", "measure": "m"}},
            scope={"place": {"one_of": [HOSTILE, "no"]}},
        )
    )  # fmt: skip
    base["title"] = wicked
    base["sources"]["us"]["note"] = HOSTILE
    base["rules"].append({**base["rules"][0], "id": "deck-of-wood"})
    (tmp_path / "base@1.json").write_text(json.dumps(base), "utf-8")
    file = _write("base@1", authority=f"A {HOSTILE}", title=wicked, id="x")
    text = file.read_text("utf-8")
    edition = _load(file)
    assert edition.book.rules == ()
    assert (edition.book.authority, edition.book.title) == (f"A {HOSTILE}", wicked)
    pieces, lines = _pieces(text), text.splitlines()
    (key,) = (piece for piece in pieces if lines[piece[0]] == "# amendments:")
    before = {c.rule.id: c.rule.fields["limit"].data for c in edition.checks}
    for piece in pieces:
        is_stub = lines[piece[0]].startswith("#   - rule:")
        if piece != key:
            file.write_text(_switched(text, piece, *([key] if is_stub else [])), "utf-8")
            now = {c.rule.id: c.rule.fields["limit"].data for c in _load(file).checks}
            assert now.items() <= before.items() or lines[piece[0]] == "# rules:"
    assert len([p for p in pieces if lines[p[0]].startswith("#   - rule:")]) == 4
    assert "#   line.gutter_guard_2:" in lines
    assert "#   - id: deck-of-wood-2" in lines
    assert "\u202e" not in text


def test_rules_of_two_bases_are_named_in_full_or_not_at_all(tmp_path: Path) -> None:
    """An id that two bases have is written as `rulebook#id`; a rule in two forms has no stub."""
    one = rulebook(rule("r", "plane.slope", {"at_least": "3:12"}),
                   rule("z", "plane.slope", {"at_most": "24:12"}), name="one@1")  # fmt: skip
    two = rulebook(rule("r", "line.length", {"at_least": "1 ft"}), name="two@1")
    child = rulebook(name="child@1", based_on=["one@1"],
                     amendments=[amendment("z", limit={"at_most": "20:12"})])  # fmt: skip
    for name, text in (("one", one), ("two", two), ("child", child)):
        (tmp_path / f"{name}@1.json").write_text(text, "utf-8")
    text = _write("one@1", "two@1", id="x").read_text("utf-8")
    assert re.findall(r"(?m)^#   - rule: (.*)$", text) == ["two#r", "one#r", "z", "two#r"]
    text = _write("one@1", "child@1", id="y").read_text("utf-8")
    assert re.findall(r"(?m)^#   - rule: (.*)$", text) == ["r", "r"]
    assert text.count("Two of the rulebooks have it in two forms: stand on one of them.") == 2


def test_a_base_that_lies_elsewhere_is_told(tmp_path: Path) -> None:
    """A base that the new file would not find by itself is spoken of."""
    (tmp_path / "there").mkdir()
    (tmp_path / "base@1.json").write_text(rulebook(name="base@1"), "utf-8")
    said = write_starter(_asked("base@1.json", out=tmp_path / "there"))
    (told,) = (line for line in said if "lies elsewhere" in line)
    assert told.startswith("base@1.json lies elsewhere: put it beside the new file")
    assert not any("elsewhere" in line for line in write_starter(_asked("base@1")))


def test_a_base_that_cannot_be_used_is_told(tmp_path: Path) -> None:
    """What is wrong in a base is told with its line."""
    text = rulebook(rule("r", "plane.slop", {"at_least": "3:12"}), name="base@1")
    (tmp_path / "base@1.json").write_text(text, "utf-8")
    with pytest.raises(InputRejected, match=r"did you mean `plane\.slope`"):
        write_starter(_asked("base@1.json"))


def test_the_command_says_what_it_wrote(
    capfd: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On the shell the file, the schema and the next step are named; a mistake ends with 2."""
    arguments = ["book", "adapt", "practice/hip-and-ridge", "--authority", "Lake Office"]
    assert run([*arguments, "--out", "."]) == 0
    month = dt.datetime.now().astimezone().strftime("%Y-%m")
    name = f"lake-office@{month}.yaml"
    file, schema, then = capfd.readouterr().out.splitlines()
    assert file.startswith(f"{name} written: 34 rules of practice/hip-and-ridge@2026-11 to change")
    assert schema == f"{SCHEMA} written too, for editors to complete it by."
    assert then == f"In plain words: ridgerule book show {name}"
    assert run(["book", "show", name]) == 0
    assert "0 of its own, 34 inherited" in capfd.readouterr().out
    monkeypatch.setattr(sys, "argv", ["ridgerule", *arguments, "--out", "."])
    with pytest.raises(SystemExit) as left:
        main()
    assert (left.value.code, capfd.readouterr().out) == (2, "")


def test_it_needs_an_authority_and_a_place(capfd: pytest.CaptureFixture[str]) -> None:
    """What has no default is asked for."""
    for arguments, lacking in (
        (("--out", "."), "--authority"),
        (("--authority", "x"), "--out"),
    ):
        assert run(["book", "adapt", "practice/hip-and-ridge", *arguments]) == 2
        assert lacking in capfd.readouterr().err
