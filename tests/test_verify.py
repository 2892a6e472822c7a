"""`ridgerule verify`: the same again, or what differs; every edit of a report is found out."""

from __future__ import annotations

import json
import os
import random
import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from ridgerule import __version__
from ridgerule.cli import main
from ridgerule.documents import load_document
from ridgerule.problems import InputRejected
from ridgerule.review.findings_digest import findings_digest
from ridgerule.review.report_documents import load_report, read_report
from ridgerule.review.report_schema import reports_in
from ridgerule.schemas import problems_of
from ridgerule.shipped import shipped
from test_reports import COUNTY, PRACTICE, ROOF

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

FIXTURES = Path(__file__).parents[1] / "fixtures"
RECORD = ROOF.replace("record: 1\n", "record: 1\nrulebooks: [practice@1, county]\n")
LATER = COUNTY.replace("edition: 2026-04", "edition: 2027-01").replace(
    "in_force: {from: 2026-04-01}", "in_force: {from: 2027-01-01}"
)
FIRST_GAP = "{at: 2 ft, gap: 3 1/16 in}"
GAP = "practice#gap"
HERE = "hip H1 at 2 ft"

Report = dict[str, Any]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return the working directory: a record, its two rulebooks and its report."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "100")
    (tmp_path / "practice@1.yaml").write_text(PRACTICE, "utf-8")
    (tmp_path / "county@2026-04.yaml").write_text(COUNTY, "utf-8")
    (tmp_path / "roof.yaml").write_text(RECORD, "utf-8")
    assert audited("roof.yaml") == 1
    return tmp_path


def run(arguments: list[str]) -> int:
    """Run the console script in this process; return its exit status."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sys, "argv", ["ridgerule", *arguments])
        with pytest.raises(SystemExit) as left:
            main()
    assert isinstance(left.value.code, int)
    return left.value.code


def audited(*arguments: str, to: str = "roof.json") -> int:
    """Write a report as JSON; return the status."""
    return run(["audit", *arguments, "--format", "json", "--output", to])


def verified(*arguments: str, report: str = "roof.json", record: str = "roof.yaml") -> int:
    """Verify a report with its answer in a file; return the status."""
    answer = ["--format", "json", "--output", "answer.json"]
    return run(["verify", report, "--record", record, *arguments, *answer])


def answer() -> Report:
    """Return the answer in the file."""
    found: Report = json.loads(Path("answer.json").read_text("utf-8"))
    return found


def edit(change: Callable[[Report], object], *, forge: bool = False) -> None:
    """Change the report on disk; forged, with a digest that fits the change."""
    path = Path("roof.json")
    report = json.loads(path.read_text("utf-8"))
    change(report)
    if forge:
        report["findings_digest"] = findings_digest(report)
    path.write_text(json.dumps(report), "utf-8")


def replace(file: str, old: str, new: str) -> None:
    """Change a file on disk in one place."""
    path = Path(file)
    text = path.read_text("utf-8")
    assert text.count(old) == 1
    path.write_text(text.replace(old, new), "utf-8")


def finding(report: Report, rule: str = GAP, place: str = HERE) -> Report:
    """Return the first finding of a rule at a place."""
    found: Report = next(f for f in report["findings"] if (f["rule"], f["place"]) == (rule, place))
    return found


def changes(told: Report, rule: str = GAP, place: str = HERE) -> list[dict[str, tuple[str, str]]]:
    """Return what differs of each finding of a rule at a place: field to then and now."""
    return [
        {change["field"]: (change["then"], change["now"]) for change in one["changes"]}
        for one in told["findings"]["changes"]
        if (one["rule"], one["place"]) == (rule, place)
    ]


# the same


@pytest.mark.usefixtures("folder")
def test_the_same_files_give_the_same_again(capfd: pytest.CaptureFixture[str]) -> None:
    """A report just made verifies, in so many words, and status 0 says so."""
    assert run(["verify", "roof.json", "--record", "roof.yaml"]) == 0
    told = capfd.readouterr()
    count = len(json.loads(Path("roof.json").read_text("utf-8"))["findings"])
    assert f"The same: record and rulebooks give the report's {count} findings again." in told.out
    assert not told.err
    assert "differs" not in told.out
    assert verified() == 0
    assert answer()["result"] == "same"


@pytest.mark.parametrize("name", ["demo", "clean", "metric", "four-slopes", "turret"])
def test_reports_on_fixture_roofs_keep_to_their_schema_and_verify(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Computed facts, photos, doubts and all: what a real report holds can be read back."""
    monkeypatch.chdir(tmp_path)
    (record,) = (FIXTURES / name).glob("*.yaml")
    assert audited(str(record)) in (0, 1, 4)
    assert len(reports_in(load_report(Path("roof.json")))) == 1
    assert verified(record=str(record)) == 0


@pytest.mark.usefixtures("folder")
def test_the_layout_of_the_json_does_not_matter() -> None:
    """Keys in another order, and all on one line, are the same report."""

    def turned(data: object) -> object:
        if isinstance(data, dict):
            return {key: turned(data[key]) for key in reversed(data)}
        return [turned(item) for item in data] if isinstance(data, list) else data

    report = json.loads(Path("roof.json").read_text("utf-8"))
    Path("roof.json").write_text(json.dumps(turned(report)), "utf-8")
    assert verified() == 0


@pytest.mark.usefixtures("folder")
def test_a_comment_changes_bytes_and_nothing_else() -> None:
    """Comments in the record and a rulebook move every line, and nothing that was found."""
    for name in ("roof.yaml", "practice@1.yaml"):
        text = Path(name).read_text("utf-8")
        Path(name).write_text(f"# seen\n\n# again\n{text}", "utf-8")
    assert verified() == 0
    told = answer()
    assert told["record"]["how"] == "the same content in other bytes"
    assert told["record"]["then"]["file_digest"] != told["record"]["now"]["file_digest"]
    assert told["record"]["then"]["canonical_digest"] == told["record"]["now"]["canonical_digest"]
    assert {book["name"]: book["how"] for book in told["rulebooks"]} == {
        "practice@1": "the same content in other bytes",
        "county@2026-04": "the same file",
    }
    assert told["findings"]["digest_then"] == told["findings"]["digest_now"]


@pytest.mark.usefixtures("folder")
def test_a_record_written_as_json_says_the_same() -> None:
    """The record's content counts, not the language it is written in."""
    data = load_document(Path("roof.yaml")).data
    Path("roof2.json").write_text(json.dumps(data), "utf-8")
    assert verified(record="roof2.json") == 0
    assert answer()["record"]["how"] == "the same content in other bytes"


@pytest.mark.parametrize("units", ["metric", "inch"])
@pytest.mark.usefixtures("folder")
def test_units_asked_for_are_asked_for_again(units: str) -> None:
    """A report in other units than the record's verifies, since it says which they are."""
    assert audited("roof.yaml", "--units", units) == 1
    assert verified() == 0


@pytest.mark.usefixtures("folder")
def test_other_rulebooks_than_the_records_are_asked_for_again() -> None:
    """A report made against other rulebooks verifies against those, not the record's own."""
    assert audited("roof.yaml", "--against", "county@2026-04") == 1
    assert verified() == 0
    assert [book["name"] for book in answer()["rulebooks"]] == ["county@2026-04", "practice@1"]


def test_a_rulebook_in_a_file_of_any_name_can_be_named(folder: Path) -> None:
    """A rulebook that was given as a file, under a name that says nothing, is given again."""
    (folder / "county@2026-04.yaml").rename(folder / "ours.yaml")
    assert audited("roof.yaml", "--against", "ours.yaml") == 1
    assert verified() == 2
    assert verified("--rulebooks", "ours.yaml") == 0


def test_rulebooks_are_found_in_a_named_folder(folder: Path) -> None:
    """`--rulebooks` names a folder too, and the record may lie elsewhere than it did."""
    (folder / "books").mkdir()
    (folder / "moved").mkdir()
    for name in ("practice@1.yaml", "county@2026-04.yaml"):
        (folder / name).rename(folder / "books" / name)
    (folder / "roof.yaml").rename(folder / "moved" / "seen.yaml")
    assert verified("--rulebooks", "books", record="moved/seen.yaml") == 0
    assert answer()["record"]["name"] == "moved/seen.yaml"


@pytest.mark.usefixtures("folder")
def test_a_record_may_speak_of_its_own_rulebooks_facts() -> None:
    """Held against another rulebook, a record with a fact of its own rulebook's verifies too."""
    fact = """\
facts:
  line.lining:
    dimension: length
    measure: across the line, edge to edge
    ask: How wide is the lining?
"""
    replace("county@2026-04.yaml", "amendments:\n", f"{fact}amendments:\n")
    replace("roof.yaml", "    vented: no\n", "    vented: no\n    lining: 3 in\n")
    assert audited("roof.yaml", "--against", "practice@1") == 1
    assert verified() == 0


# editions


def test_an_edition_that_came_since_changes_nothing(folder: Path) -> None:
    """The editions are those the report names, however many more lie in the folder now."""
    (folder / "county@2027-01.yaml").write_text(LATER, "utf-8")
    assert verified() == 0
    # The same record audited now would say so: the editions have to be told apart.
    assert audited("roof.yaml", to="now.json") == 1
    asked = json.loads((folder / "now.json").read_text("utf-8"))["asked"]["rulebooks"]
    assert asked[1] == {
        "rulebook": "county",
        "editions": ["county@2026-04", "county@2027-01"],
    }


def test_an_edition_in_doubt_is_in_doubt_again(folder: Path) -> None:
    """Without a date to pick an edition, the report is not verified, and verifies as that."""
    (folder / "county@2027-01.yaml").write_text(LATER, "utf-8")
    replace("roof.yaml", "dates: {permit: 2026-05-02}\n", "")
    assert audited("roof.yaml") in (1, 4)
    report = (folder / "roof.json").read_text("utf-8")
    assert "which edition of county is in force is not known" in report
    assert verified() == 0


def test_an_edition_that_was_not_in_use_need_not_be_there(folder: Path) -> None:
    """An edition at hand that no date picked may be gone; that it is, is told."""
    (folder / "county@2027-01.yaml").write_text(LATER, "utf-8")
    assert audited("roof.yaml") == 1
    (folder / "county@2027-01.yaml").unlink()
    assert verified() == 0
    assert answer()["left_out"] == ["county@2027-01"]


def test_another_edition_is_not_taken_instead(
    folder: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    """Where the edition in use is gone, another is no substitute; the report's line is told."""
    (folder / "county@2026-04.yaml").unlink()
    (folder / "county@2027-01.yaml").write_text(LATER, "utf-8")
    assert verified() == 2
    lines = (folder / "roof.json").read_text("utf-8").splitlines()
    at = next(i for i, text in enumerate(lines, 1) if text.strip() == '"county@2026-04"')
    assert capfd.readouterr().err == (
        f"roof.json:{at}:11: expected an edition that can be found; found `county@2026-04`; "
        "there is `county@2027-01`\n"
    )
    assert not (folder / "answer.json").exists()


def test_a_missing_rulebook_is_told_of(folder: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """A rulebook that is nowhere to be found is a problem, told where the report names it."""
    (folder / "practice@1.yaml").unlink()
    assert verified() == 2
    (told,) = capfd.readouterr().err.splitlines()
    assert told.startswith("roof.json:25:11: expected a rulebook that can be found; found `pract")


# what differs


@pytest.mark.usefixtures("folder")
def test_a_changed_reading_is_told_then_and_now(capfd: pytest.CaptureFixture[str]) -> None:
    """Another reading is another record, and its finding tells outcome, reading and margin."""
    replace("roof.yaml", FIRST_GAP, "{at: 2 ft, gap: 2 in}")
    assert verified() == 1
    told = answer()
    assert told["record"]["how"] == "other content"
    assert told["as_made"] is True
    of_practice, of_county = changes(told)
    assert of_practice["outcome"] == ("pass", "fail")
    assert of_practice["margin"] == ("on the limit", "1 1/16 in short")
    assert of_practice["measured"] == (
        "station.gap on hip H1 at 2 ft: 3 1/16 in (measured)",
        "station.gap on hip H1 at 2 ft: 2 in (measured)",
    )
    assert "outcome" not in of_county  # it failed the county's limit before
    assert {"field": "counts, fail", "then": "5", "now": "6"} in told["parts"]
    assert run(["verify", "roof.json", "--record", "roof.yaml"]) == 1
    out = capfd.readouterr().out
    assert "Not the same: the record has other content; findings differ (3 changed, of" in out
    assert f"{GAP} on {HERE}: changed" in out


@pytest.mark.usefixtures("folder")
def test_places_that_came_and_went_are_told() -> None:
    """A station that is no longer recorded is missing now, a new one is added."""
    replace("roof.yaml", FIRST_GAP, "{at: 3 ft, gap: 3 1/16 in}")
    assert verified() == 1
    kinds = {
        (one["place"], one["kind"], one["changes"][0]["then"], one["changes"][0]["now"])
        for one in answer()["findings"]["changes"]
        if one["rule"] == GAP and one["kind"] != "changed"
    }
    assert kinds == {
        (HERE, "missing now", "pass", "nothing"),
        (HERE, "missing now", "fail", "nothing"),
        ("hip H1 at 3 ft", "added now", "nothing", "pass"),
        ("hip H1 at 3 ft", "added now", "nothing", "fail"),
    }


@pytest.mark.usefixtures("folder")
def test_a_changed_limit_is_told_then_and_now() -> None:
    """A rulebook of the same name that says otherwise is told, and so is each limit that moved."""
    replace("practice@1.yaml", "limit: {at_least: 3 1/16 in}", "limit: {at_least: 3 3/16 in}")
    assert verified() == 1
    told = answer()
    assert {book["name"]: book["same"] for book in told["rulebooks"]} == {
        "practice@1": False,
        "county@2026-04": True,
    }
    assert told["record"]["how"] == "the same file"
    (of_practice,) = changes(told)
    assert of_practice["outcome"] == ("pass", "fail")
    assert of_practice["limit"] == ("at least 3 1/16 in", "at least 3 3/16 in")


@pytest.mark.usefixtures("folder")
def test_a_rulebook_that_says_otherwise_differs_even_where_no_finding_does() -> None:
    """Other content of a rulebook is no sameness, though the outcomes are as they were."""
    case = "cases: [{given: {line.kind: hip}, expect: not applicable}]\n"
    last = f"remedy: fit one\n    source: habit\n    {case}"
    replace("practice@1.yaml", last, last.replace("kind: hip", "kind: rake"))
    assert verified() == 1
    told = answer()
    assert told["findings"]["same"] is True
    assert told["summary"] == "Not the same: rulebook practice@1 differs."


@pytest.mark.usefixtures("folder")
def test_a_rulebook_that_stands_on_another_now_is_told() -> None:
    """A base that is no longer in use is told as that, with the digests it had."""
    replace("county@2026-04.yaml", "based_on: [practice@1]", "based_on: [practice@2]")
    text = PRACTICE.replace("edition: 1", "edition: 2")
    Path("practice@2.yaml").write_text(text, "utf-8")
    audited("roof.yaml", "--against", "county@2026-04")
    replace("county@2026-04.yaml", "based_on: [practice@2]", "based_on: [practice@1]")
    assert verified() == 1
    told = {book["name"]: (book["how"], book["now"]) for book in answer()["rulebooks"]}
    assert told["practice@2"] == (
        "no longer in use",
        {"file_digest": None, "canonical_digest": None},
    )
    assert told["practice@1"][0] == "not in use then"


def test_a_photo_that_is_gone_is_told(folder: Path, tmp_path: Path) -> None:
    """A finding that rested on a photo is not verified once the photo is not beside the record."""
    shutil.copytree(FIXTURES / "demo", tmp_path / "demo")
    record = "demo/harrow-lane.yaml"
    assert audited(record, to="demo.json") == 1
    assert verified(report="demo.json", record=record) == 0
    shutil.rmtree(tmp_path / "demo" / "photos")
    assert verified(report="demo.json", record=record) == 1
    told = answer()
    assert told["record"]["how"] == "the same file"
    moved = [one["changes"][0] for one in told["findings"]["changes"]]
    assert moved
    assert all(change["now"] == "not verified" for change in moved if change["field"] == "outcome")


# reports that were changed after they were made


@pytest.mark.usefixtures("folder")
def test_an_outcome_edited_in_the_report_is_found_out(capfd: pytest.CaptureFixture[str]) -> None:
    """A fail turned into a pass no longer fits the report's digest, and is not found again."""
    edit(
        lambda report: finding(report, "practice#setback", "ridge R1 at 2 ft").update(
            outcome="pass"
        )
    )
    assert verified() == 1
    told = answer()
    assert told["as_made"] is False
    assert told["findings"]["digest_stated"] != told["findings"]["digest_then"]
    assert {book["same"] for book in told["rulebooks"]} | {told["record"]["same"]} == {True}
    # It counts in the county's rulebook as well, and was asked once for both.
    assert changes(told, "practice#setback", "ridge R1 at 2 ft") == [{"outcome": ("pass", "fail")}]
    assert run(["verify", "roof.json", "--record", "roof.yaml"]) == 1
    assert "Not the same: the report was changed after it was made;" in capfd.readouterr().out


@pytest.mark.usefixtures("folder")
def test_a_forged_digest_does_not_help() -> None:
    """With a digest that fits the edit the report looks whole, and is still not found again."""
    edit(lambda report: finding(report).update(limit="at least 3 in"), forge=True)
    assert verified() == 1
    told = answer()
    assert told["as_made"] is True
    assert {"limit": ("at least 3 in", "at least 3 1/4 in")} in changes(told)


EDITS: dict[str, Callable[[Report], object]] = {
    "roof name": lambda r: r["roof"].update(name="Harrow Lane Hall"),
    "inspector": lambda r: r["inspection"].update(inspector="inspector 8"),
    "outcome": lambda r: r.update(outcome="pass"),
    "counts": lambda r: r["counts"].update(fail=0),
    "rulebook's outcome": lambda r: r["by_rulebook"][0].update(outcome="pass"),
    "rulebook's title": lambda r: r["rulebooks"][0].update(title="Another"),
    "rulebook told twice": lambda r: r["rulebooks"].append(r["rulebooks"][0]),
    "rulebooks turned": lambda r: r["rulebooks"].reverse(),
    "record's content": lambda r: r["record"].update(canonical_digest="0" * 64),
    "record's bytes and content": lambda r: r["record"].update(
        file_digest="1" * 64, canonical_digest="0" * 64
    ),
    "rulebook's content": lambda r: r["rulebooks"][1].update(canonical_digest="0" * 64),
    "findings turned": lambda r: r["findings"].reverse(),
    "number": lambda r: r["findings"][3].update(number=99),
    "finding left out": lambda r: r["findings"].pop(0),
    "finding told twice": lambda r: r["findings"].append(r["findings"][0]),
    "class": lambda r: r["findings"][0].update({"class": "minor"}),
    "exact value": lambda r: finding(r)["measured"][0]["exact"].update(exact="1/2"),
    "line": lambda r: finding(r)["trace"][0].update(line=1),
    "rule's line": lambda r: finding(r)["provenance"][0].update(line=1),
    "path": lambda r: finding(r).update(path="/lines/H1/stations/1"),
    "source": lambda r: finding(r)["source"].update(recalled=True),
    "limits together": lambda r: r["limits_together"][0].update(relation="side by side"),
    "disclaimer": lambda r: r.update(disclaimer="A certificate."),
    "cautions": lambda r: r["cautions"].pop(),
}


@pytest.mark.parametrize("forge", [False, True], ids=["plain", "forged"])
@pytest.mark.parametrize("name", EDITS)
@pytest.mark.usefixtures("folder")
def test_every_part_of_a_report_that_is_edited_is_found_out(name: str, *, forge: bool) -> None:
    """Whatever the report says is held against what it would say, a forged digest or not."""
    edit(EDITS[name], forge=forge)
    assert verified() == 1
    told = answer()
    assert told["result"] == "different"
    assert told["as_made"] or not forge
    assert told["summary"].startswith("Not the same: ")
    schema = json.loads((shipped("schemas") / "verification.schema.json").read_text("utf-8"))
    assert problems_of(load_report(Path("answer.json")), schema) == ()


def values_in(data: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Yield the path of every scalar."""
    items = data.items() if isinstance(data, dict) else enumerate(data)
    for key, item in items:
        if isinstance(item, (dict, list)):
            yield from values_in(item, (*path, key))
        else:
            yield (*path, key)


FREE = ("file", "asked", "tool")
"""Keys under which a value may be another without the findings being others."""
OTHERS = (None, True, 7, "7", "pass", "at least 3 in", "0" * 64)


def test_no_value_of_a_report_can_be_changed_unseen(folder: Path) -> None:
    """Two hundred values, drawn from all of them, are each replaced: every time it is told."""
    text = (folder / "roof.json").read_text("utf-8")
    report = json.loads(text)
    paths = [path for path in values_in(report) if not set(path) & set(FREE)]
    assert len(paths) > 1500
    draw = random.Random(8785)
    statuses = []
    for path in draw.sample(paths, 200):
        edited = json.loads(text)
        inside = edited
        for step in path[:-1]:
            inside = inside[step]
        inside[path[-1]] = draw.choice([o for o in OTHERS if o != inside[path[-1]]])
        (folder / "roof.json").write_text(json.dumps(edited), "utf-8")
        statuses.append((verified(), path))
    assert {status for status, _ in statuses} == {1, 2}
    assert [path for status, path in statuses if status == 0] == []


@pytest.mark.usefixtures("folder")
def test_another_version_of_ridgerule_is_told_and_decides_nothing(
    capfd: pytest.CaptureFixture[str],
) -> None:
    """The version that made the report is said; alone, or with its own cautions, it is the same."""
    edit(lambda report: report["tool"].update(version="0.0.7"))
    edit(lambda report: report["cautions"].pop())
    assert run(["verify", "roof.json", "--record", "roof.yaml"]) == 0
    out = capfd.readouterr().out
    assert f"0.0.7 then, {__version__} now: wordings can differ by that alone" in " ".join(
        out.split()
    )


# reports on several roofs


@pytest.fixture
def several(folder: Path) -> Path:
    """Return the folder with a report on two roofs."""
    text = RECORD.replace("id: HL-01", "id: HL-02").replace("gap: 3 1/16 in", "gap: 2 in")
    (folder / "other.yaml").write_text(text, "utf-8")
    assert audited("roof.yaml", "other.yaml", to="roofs.json") == 1
    return folder


@pytest.mark.usefixtures("several")
def test_of_several_reports_it_is_the_one_on_the_records_roof() -> None:
    """A list of reports verifies roof by roof, each by its own record."""
    for record, roof in (("roof.yaml", "HL-01"), ("other.yaml", "HL-02")):
        assert verified(report="roofs.json", record=record) == 0
        assert answer()["roof"]["id"] == roof


def test_of_two_reports_on_one_roof_it_is_the_one_on_the_file(several: Path) -> None:
    """Two records of one roof have a report each, told apart by the file's digest."""
    text = RECORD.replace("gap: 3 1/16 in", "gap: 2 in")
    (several / "again.yaml").write_text(text, "utf-8")
    assert audited("roof.yaml", "again.yaml", to="roofs.json") == 1
    for record in ("roof.yaml", "again.yaml"):
        assert verified(report="roofs.json", record=record) == 0


@pytest.mark.usefixtures("several")
def test_the_record_of_another_roof_is_refused(capfd: pytest.CaptureFixture[str]) -> None:
    """A record of a roof that the report is not on is the wrong record, told at its roof's id."""
    assert verified(record="other.yaml") == 2
    assert capfd.readouterr().err == (
        "other.yaml:3:12: expected the roof that roof.json is a report on, `HL-01`; "
        "found `HL-02`; name the record of that roof\n"
    )
    replace("other.yaml", "id: HL-02", "id: HL-03")
    assert verified(report="roofs.json", record="other.yaml") == 2
    assert "a report on, `HL-01` or `HL-02`; found `HL-03`" in capfd.readouterr().err


# files that are no reports

DEEP = b"[" * 100_000
BROKEN: dict[str, tuple[bytes, str]] = {
    "nothing": (b"", "1:1: expected JSON; found the end of the file (expecting value)"),
    "no JSON": (b'{"report": 1,}', "1:14: expected JSON; found"),
    "cut off": (b'{"report": 1', "1:13: expected JSON; found the end of the file"),
    "a string left open": (b'{"report": "', "1:12: expected JSON; found"),
    "no UTF-8": (b'{"report":\n "\xff"}', "2:3: expected UTF-8 text; found byte 0xFF"),
    "too deep": (DEEP, "1:65: expected lists and mappings at most 64 deep; found more"),
    "too deep in part": (
        b'{"report": 1, "roof": ' + b'{"a":' * 70,
        "1:338: expected lists and mappings at most 64 deep",
    ),
    "too many": (b"[" + b"1," * 1_000_001 + b"1]", ": expected at most 1,000,000 values"),
    "a key twice": (
        b'{"report": 1,\n "roof": {"id": "A", "id": "B"}}',
        "2:22: expected each key once; found `id` again",
    ),
    "not a number": (b'{"report": NaN}', "1:12: expected a whole number of at most 15 digits"),
    "a fraction": (b'{"report": 1.0}', "1:12: expected a whole number of at most 15 digits"),
    "a long number": (b'{"report": 1234567890123456}', "1:12: expected a whole number"),
    "half a character": (b'{"report": 1, "a": ["\\ud800"]}', "1:21: expected whole characters"),
    "half a key": (b'{"report": 1, "\\udfff": 1}', "1:15: expected whole characters"),
    "a number": (b"3", "1:1: expected a report: a mapping that starts with `report: 1`"),
    "an empty list": (b"[]", "1:1: expected a report: a mapping that starts with"),
    "a list of others": (b"[1, 2]", "1:2: expected a mapping; found the whole number `1`"),
    "a record": (b'{"record": 1}', "1:2: expected a report: a mapping that starts with `report:`"),
    "something else": (b'{"warranty": 1}', "1:1: expected a report: a mapping that starts with"),
    "another form": (b'{"report": 2}', "1:12: expected the whole number `1`"),
}  # fmt: skip


@pytest.mark.parametrize("name", BROKEN)
def test_what_is_no_report_is_told_with_its_place(
    folder: Path, capfd: pytest.CaptureFixture[str], name: str
) -> None:
    """A file that is no report ends with status 2 and says what is wrong with it, and where."""
    raw, told = BROKEN[name]
    (folder / "bad.json").write_bytes(raw)
    assert verified(report="bad.json") == 2
    err = capfd.readouterr().err
    assert any(line.startswith(f"bad.json:{told}".replace("::", ":")) for line in err.splitlines())
    assert "fault of its own" not in err
    assert not (folder / "answer.json").exists()


WRONG: dict[str, tuple[Callable[[Report], object], str]] = {
    "outcome": (lambda r: finding(r).update(outcome="fine"), "expected one of `fail`, `not ver"),
    "finding": (lambda r: r["findings"].__setitem__(2, []), "expected a mapping; found an empty"),
    "digest": (lambda r: r["record"].update(file_digest="x"), "expected a SHA-256 digest: 64 ch"),
    "path outside": (
        lambda r: r["asked"]["rulebooks"][0].update(editions=["../../etc/passwd@1"]),
        "expected a rulebook with its edition, such as `county/tarn@2026-04`; found `../../etc",
    ),
    "no rulebook": (lambda r: r["asked"].update(rulebooks=[]), "expected at least 1 item; found"),
    "units": (lambda r: r["asked"].update(units="cubits"), "expected one of `inch`, `metric`"),
    "key": (lambda r: r.update(certified=True), "found the key `certified`"),
    "no key": (lambda r: r.pop("cautions"), "expected the key `cautions`; found"),
}


@pytest.mark.parametrize("name", WRONG)
@pytest.mark.usefixtures("folder")
def test_a_report_of_another_form_is_told_with_its_place(
    capfd: pytest.CaptureFixture[str], name: str
) -> None:
    """Whatever is otherwise than the schema asks is told where it stands, and nothing is done."""
    change, told = WRONG[name]
    edit(change)
    assert verified() == 2
    (line,) = capfd.readouterr().err.splitlines()
    assert line.startswith("roof.json:1:")
    assert told in line


@pytest.mark.usefixtures("folder")
def test_all_problems_are_told_at_once(capfd: pytest.CaptureFixture[str]) -> None:
    """What is wrong with the report and with the record is told together."""
    edit(lambda report: report.pop("cautions"))
    replace("roof.yaml", "record: 1", "record: 2")
    assert verified() == 2
    files = [line.split(":")[0] for line in capfd.readouterr().err.splitlines()]
    assert files == ["roof.json", "roof.yaml"]


def test_what_can_not_be_read_is_told(folder: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """A report that is not there, or is a folder or a pipe, is told of at once."""
    (folder / "kept").mkdir()
    found = {"gone.json": "nothing at this path", "kept": "a folder"}
    if hasattr(os, "mkfifo"):
        os.mkfifo(folder / "pipe")
        found["pipe"] = "a pipe"
    for name, words in found.items():
        assert verified(report=name) == 2
        assert f"{name}: expected a file that can be read; found {words}" in capfd.readouterr().err


def test_a_large_file_of_nonsense_is_left_early(folder: Path) -> None:
    """Of a report with a hundred thousand bad findings, the first hundred are told."""
    report = json.loads((folder / "roof.json").read_text("utf-8"))
    report["findings"] = [1] * 100_000
    document = read_report(json.dumps(report).encode(), name="r.json")
    with pytest.raises(InputRejected) as rejected:
        reports_in(document)
    assert len(rejected.value.problems) == 100


def test_places_are_those_that_the_careful_reader_finds(folder: Path) -> None:
    """Lines and columns looked up late are those that reading with places gives at once."""
    text = (folder / "roof.json").read_text("utf-8")
    report = json.loads(text)
    report["findings"] = report["findings"][:20]
    for layout in (json.dumps(report), json.dumps(report, indent=3), json.dumps([[], {}, report])):
        (folder / "small.json").write_text(f"\n {layout}\n", "utf-8")
        careful, late = (read(folder / "small.json") for read in (load_document, load_report))
        assert late.data == careful.data
        assert late.digest == careful.digest
        assert dict(late.positions) == dict(careful.positions)
        assert dict(late.keys) == dict(careful.keys)
        assert len(late.keys) == len(careful.keys) > 1000


# the page


@pytest.mark.parametrize("columns", [40, 80, 120])
@pytest.mark.usefixtures("folder")
def test_the_page_fits_and_shows_what_is_hostile(
    columns: int, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Lines fit the terminal, and what a report holds is shown, never obeyed."""
    monkeypatch.setenv("COLUMNS", str(columns))
    edit(lambda report: finding(report).update(limit="[red]\x1b[31m\u202eat least 9 in"))
    assert run(["verify", "roof.json", "--record", "roof.yaml"]) == 1
    out = capfd.readouterr().out
    assert max(map(len, out.splitlines())) <= max(columns, 79)
    assert "\x1b" not in out
    assert "\u202e" not in out
    assert r"[red]\x1b[31m\u202eat" in out


@pytest.mark.usefixtures("folder")
def test_the_answer_keeps_to_its_schema_and_is_the_same_each_time() -> None:
    """The answer as data holds its schema, and two runs give the same bytes."""
    replace("roof.yaml", FIRST_GAP, "{at: 2 ft, gap: 2 in}")
    assert verified() == 1
    first = Path("answer.json").read_bytes()
    assert verified() == 1
    assert Path("answer.json").read_bytes() == first
    schema = json.loads((shipped("schemas") / "verification.schema.json").read_text("utf-8"))
    assert problems_of(load_report(Path("answer.json")), schema) == ()


@pytest.mark.parametrize(
    "arguments",
    [[], ["roof.json"], ["roof.json", "--record", "roof.yaml", "--public-key", "k.pem"]],
    ids=["nothing", "no record", "a key alone"],
)
@pytest.mark.usefixtures("folder")
def test_bad_usage_is_status_2(arguments: list[str], capfd: pytest.CaptureFixture[str]) -> None:
    """What lacks a report or a record, or gives a key for no signature, is bad usage."""
    assert run(["verify", *arguments]) == 2
    assert "Usage: ridgerule verify" in capfd.readouterr().err
