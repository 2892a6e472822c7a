"""`ridgerule reinspect`: exit status, what is refused, and the same changes in every format."""

from __future__ import annotations

import csv
import html
import io
import json
import re
import shutil
import sys
import xml.etree.ElementTree as ET
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from ridgerule.audit.findings import Outcome
from ridgerule.cli import main
from ridgerule.documents import read_document
from ridgerule.quantities import Dimension, Quantity, Units
from ridgerule.reports.cautions import CAUTIONS, DISCLAIMER
from ridgerule.reports.page import Page
from ridgerule.reports.reinspection_data import (
    COLUMNS,
    reinspection_csv,
    reinspection_json,
    reinspection_junit,
)
from ridgerule.reports.reinspection_sheet import reinspection_sheet, verdict_words
from ridgerule.reports.reinspection_view import ReinspectionView, Section, reinspection_view
from ridgerule.reports.sheet_html import as_html
from ridgerule.reports.sheet_markdown import as_markdown
from ridgerule.reports.sheet_text import as_text
from ridgerule.reports.view import Settings
from ridgerule.review.reinspection import reinspect
from ridgerule.review.reinspection_changes import Turn
from ridgerule.schemas import problems_of
from ridgerule.shipped import shipped
from ridgerule.units import NM_PER_INCH
from workshop import all_listed, audit, plan, rule, rulebook

if TYPE_CHECKING:
    from collections.abc import Callable

FOLDER = Path(__file__).parent.parent / "fixtures" / "second-visit"
FORMATS = ("text", "markdown", "html", "json", "csv", "junit")
BOTH = ["reinspect", "first.yaml", "second.yaml"]
SIX_INCHES = Quantity(Dimension.LENGTH, 6 * NM_PER_INCH, "6 in")
VERDICT = "Fail: 4 failures and 9 open points; 1 put right since the first visit."


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return the working directory: the fixture's two records with their rulebooks."""
    for file in FOLDER.iterdir():
        shutil.copy(file, tmp_path / file.name)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "100")
    for name in ("NO_COLOR", "FORCE_COLOR"):
        monkeypatch.delenv(name, raising=False)
    return tmp_path


def run(arguments: list[str]) -> int:
    """Return the status that the command of these arguments leaves with."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(sys, "argv", ["ridgerule", *arguments])
        with pytest.raises(SystemExit) as left:
            main()
    assert isinstance(left.value.code, int)
    return left.value.code


def printed(capfd: pytest.CaptureFixture[str], *arguments: str, status: int = 1) -> str:
    """Return what the command prints, which ends with a status and tells of no problem."""
    assert run([*BOTH, *arguments]) == status
    said = capfd.readouterr()
    assert not said.err
    return said.out


def words(text: str) -> str:
    """Return text with its lines joined, however they were broken."""
    return " ".join(text.split())


def change_file(name: str, old: str, new: str) -> None:
    """Replace words of a file in the working directory that are there."""
    text = Path(name).read_text("utf-8")
    assert old in text
    Path(name).write_text(text.replace(old, new), "utf-8")


ONE_HIP = """\
record: 1
roof: {id: CR-02, covering: composite slate}
inspection: {date: DAY}
complete: {planes: all, hips: all, ridges: none, valleys: none, eaves: none, rakes: none,
  joints: none, openings: none}
planes:
  S: {faces: 180 deg, stations: [{at: course 5, exposure: 8 in}]}
  E: {faces: 90 deg, stations: [{at: course 9, exposure: 8 in}]}
lines:
  H1:
    kind: hip
    between: [S, E]
    from: eave
    membrane: {value: yes, how: cap lifted}
    membrane_width: {value: 9 in, how: cap lifted}
    stations: [{at: 2 ft, gap: GAP}, {at: 9 ft, gap: 3 1/8 in}]
"""


# Exit status


@pytest.mark.usefixtures("folder")
def test_the_status_says_what_is_left(capfd: pytest.CaptureFixture[str]) -> None:
    """Failures end with 1, open points alone with 4, nothing of either with 0."""
    printed(capfd)
    for name, day, gap in (
        ("before.yaml", "2027-02-01", "3 in"),
        ("after.yaml", "2027-03-01", "3 1/8 in"),
        ("unread.yaml", "2027-03-01", "unknown"),
    ):
        Path(name).write_text(ONE_HIP.replace("DAY", day).replace("GAP", gap), "utf-8")
    against = ["--against", "copper-row@2027.yaml"]
    assert run(["reinspect", "before.yaml", "after.yaml", *against]) == 0
    assert "Pass: nothing fails and nothing is open; 1 put right" in capfd.readouterr().out
    assert run(["reinspect", "before.yaml", "unread.yaml", *against]) == 4
    assert "Not verified: 3 open points; nothing put right" in capfd.readouterr().out
    assert run(["reinspect", "after.yaml", "before.yaml", *against]) == 2


def test_what_cannot_be_compared_is_refused(
    folder: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    """Two roofs, one record twice and visits the wrong way round are told with their lines."""
    assert run(["reinspect", "second.yaml", "first.yaml"]) == 2
    assert run(["reinspect", "first.yaml", "first.yaml"]) == 2
    change_file("second.yaml", "id: CR-02", "id: CR-03")
    assert run(BOTH) == 2
    said = capfd.readouterr()
    assert not said.out
    assert said.err.splitlines() == [
        (
            "first.yaml:4:20: expected a day not before the first visit's, 2027-03-18 in "
            "second.yaml; found `2026-10-05`; give the earlier record first"
        ),
        (
            "first.yaml: expected the record of a second visit; found the same content as "
            "first.yaml; give the first visit's record first, then the second's"
        ),
        (
            "second.yaml:3:12: expected the roof `CR-02`, as in first.yaml; found `CR-03`; only "
            "two visits to one roof can be compared"
        ),
    ]


@pytest.mark.usefixtures("folder")
def test_all_that_is_wrong_is_told_at_once(capfd: pytest.CaptureFixture[str]) -> None:
    """The problems of both records and of the tolerance come together, and no report."""
    change_file("first.yaml", "id: CR-02", "idd: CR-02")
    change_file("second.yaml", "kind: hip", "kind: hipp")
    assert run([*BOTH, "--within", "6"]) == 2
    said = capfd.readouterr()
    assert not said.out
    told = [line.split(": expected")[0] for line in said.err.splitlines()]
    assert told[0] == "--within"
    assert any(place.startswith("first.yaml:") for place in told)
    assert any(place.startswith("second.yaml:") for place in told)


@pytest.mark.parametrize(
    ("within", "found"),
    [("six", "`six`"), ("-1 in", "`-1 in`"), ("6", "`6` without a unit"), ("3 deg", "`3 deg`")],
)
@pytest.mark.usefixtures("folder")
def test_a_tolerance_that_is_no_length_is_refused(
    within: str, found: str, capfd: pytest.CaptureFixture[str]
) -> None:
    """What is no length, or one below nothing, is told with the option it was given to."""
    assert run([*BOTH, f"--within={within}"]) == 2
    said = capfd.readouterr().err
    assert said.startswith("--within: expected a length")
    assert f"found {found}" in said


@pytest.mark.usefixtures("folder")
def test_the_tolerance_decides_which_stations_are_the_same(
    capfd: pytest.CaptureFixture[str],
) -> None:
    """Within 2 in the station that moved by 3 in is another one."""
    data = json.loads(printed(capfd, "--within", "2 in", "--format", "json"))
    places = [(c["change"], c["first"] and c["first"]["place"]) for c in data["changes"]]
    assert ("no longer recorded", "hip H2 at 3 ft") in places
    assert data["within"] == {"text": "2 in", "exact": {"exact": "127/2500", "unit": "m"}}


def test_nothing_is_written_where_the_records_are_refused(folder: Path) -> None:
    """A report that can't be made leaves the file that was there as it was."""
    (folder / "out.html").write_text("before", "utf-8")
    refused = ["reinspect", "second.yaml", "first.yaml", "--format", "html", "-o", "out.html"]
    assert run(refused) == 2
    assert (folder / "out.html").read_text("utf-8") == "before"
    assert run([*BOTH, "--format", "html", "--output", "out.html"]) == 1
    assert (folder / "out.html").read_text("utf-8").startswith("<!doctype html>")


# Every format


@pytest.mark.parametrize("form", FORMATS)
@pytest.mark.usefixtures("folder")
def test_every_format_says_what_matters(form: str, capfd: pytest.CaptureFixture[str]) -> None:
    """Verdict, editions, digests, cautions and the disclaimer are in every format."""
    said = html.unescape(printed(capfd, "--format", form)).replace("\\_", "_")
    said = words(re.sub(r"<[^>]+>", " ", said) if form == "html" else said)
    assert VERDICT in said
    assert DISCLAIMER in said
    assert all(caution in said for caution in CAUTIONS)
    assert "2026" in said
    assert "2027" in said
    for name in ("first", "second"):
        document = read_document(Path(f"{name}.yaml").read_bytes(), name=f"{name}.yaml")
        assert document.digest in said.replace(" ", "") or document.digest in said
    assert "turned round by its length, 18 ft" in said
    assert "inspector 4" in said
    assert "inspector 9" in said


@pytest.mark.parametrize("form", FORMATS)
@pytest.mark.usefixtures("folder")
def test_the_same_visits_give_the_same_bytes(form: str, capfd: pytest.CaptureFixture[str]) -> None:
    """No clock and no order of a set is in a report."""
    assert printed(capfd, "--format", form) == printed(capfd, "--format", form)


@pytest.mark.usefixtures("folder")
def test_the_text_puts_the_verdict_first_and_what_is_open_before_what_is_not(
    capfd: pytest.CaptureFixture[str],
) -> None:
    """Sections come in the order that a reader needs them in."""
    said = printed(capfd)
    assert said.splitlines()[0] == "Re-inspection of Copper Row 2 (invented) (CR-02): fail"
    assert said.splitlines()[2] == VERDICT
    headings = [line for line in said.splitlines() if line.isupper()]
    sections = [f"{section.upper()} (" for section in Section]
    shown = [h.split("(")[0] + "(" for h in headings if any(h.startswith(s) for s in sections)]
    assert shown == [section for section in sections if section in shown]
    assert len(shown) == 11
    assert headings[0] == "THE RULEBOOKS CHANGED BETWEEN THE VISITS"


@pytest.mark.usefixtures("folder")
def test_the_text_shows_both_readings_and_both_places(capfd: pytest.CaptureFixture[str]) -> None:
    """A change tells where, what was read then and now, how far it moved and the margins."""
    said = words(printed(capfd))
    assert (
        "major: hip H1 at 16 ft: Slates leave at least 3 1/16 in open at a hip "
        "place hip H1 at 2 ft then, hip H1 at 16 ft now "
        "then fail: 2 7/8 in, 3/16 in short now pass: 3 1/8 in, 1/16 in to spare "
        "change 1/4 in more must be at least 3 1/16 in rule copper-row#gap"
    ) in said
    assert "at least 7 in now, at least 8 in then" in said
    assert "remedy lift the caps and trim the slates back" in said


@pytest.mark.parametrize("width", [80, 120])
@pytest.mark.usefixtures("folder")
def test_the_text_keeps_to_its_width(
    width: int, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """No line is wider than the page."""
    monkeypatch.setenv("COLUMNS", str(width))
    assert max(map(len, printed(capfd).splitlines())) <= width


@pytest.mark.usefixtures("folder")
def test_the_data_keeps_its_schema(capfd: pytest.CaptureFixture[str]) -> None:
    """The JSON report is as its schema says, every turn counted, every change in it."""
    said = printed(capfd, "--format", "json")
    schema = json.loads((shipped("schemas") / "reinspection.schema.json").read_text("utf-8"))
    document = read_document(said.encode(), name="report.json")
    assert problems_of(document, schema) == ()
    data = json.loads(said)
    counted = Counter(change["change"] for change in data["changes"])
    assert data["counts"] == {turn.value: counted[turn.value] for turn in Turn}
    assert set(schema["properties"]["counts"]["properties"]) == {turn.value for turn in Turn}
    assert schema["$defs"]["change_word"]["enum"] == [turn.value for turn in Turn]
    assert [change["number"] for change in data["changes"]] == list(range(1, 65))
    assert (data["failing"], data["open"], data["outcome"]) == (4, 9, "fail")
    assert data["rulebooks"] == [
        {"id": "copper-row", "first": "2026", "second": "2027", "same_file": False}
    ]


def test_the_schema_refuses_what_is_no_re_inspection() -> None:
    """A word that is no turn, a key too many and a key too few are all told."""
    schema = json.loads((shipped("schemas") / "reinspection.schema.json").read_text("utf-8"))
    data = json.loads(reinspection_json(hostile()))
    assert problems_of(read_document(json.dumps(data).encode(), name="r.json"), schema) == ()
    data["changes"][0]["change"] = "mended"
    del data["changes"][0]["open"]
    data["extra"] = 1
    told = problems_of(read_document(json.dumps(data).encode(), name="r.json"), schema)
    assert len(told) == 3


@pytest.mark.usefixtures("folder")
def test_the_table_has_a_row_for_each_change(capfd: pytest.CaptureFixture[str]) -> None:
    """The table has every change with both readings, and then what it is."""
    rows = list(csv.DictReader(io.StringIO(printed(capfd, "--format", "csv"))))
    assert tuple(rows[0]) == COLUMNS
    changes = [row for row in rows if row["change"] != "note"]
    assert len(changes) == 64
    assert Counter(row["open"] for row in changes) == {"failing": 4, "open": 9, "": 51}
    (mended,) = [row for row in changes if row["change"] == "put right"]
    assert mended["place then"] == "hip H1 at 2 ft"
    assert mended["place now"] == "hip H1 at 16 ft"
    assert (mended["reading then"], mended["reading now"]) == ("2 7/8 in", "3 1/8 in")
    assert (mended["margin then"], mended["margin now"]) == ("3/16 in short", "1/16 in to spare")
    assert mended["difference"] == "1/4 in more"


@pytest.mark.usefixtures("folder")
def test_build_servers_get_a_case_for_each_change(capfd: pytest.CaptureFixture[str]) -> None:
    """Failures fail, what is open is skipped and says so, each change once."""
    root = ET.fromstring(printed(capfd, "--format", "junit"))  # noqa: S314 - our own text
    assert (root.get("tests"), root.get("failures"), root.get("errors")) == ("64", "4", "0")
    cases = list(root.iter("testcase"))
    assert len(cases) == 64
    assert len(list(root.iter("failure"))) == 4
    assert len(list(root.iter("skipped"))) == int(root.get("skipped") or 0)
    is_open = [case for case in cases if case.find("properties/property[@name='open']") is not None]
    assert len(is_open) == 9
    assert all(case.find("skipped") is not None for case in is_open)


@pytest.mark.usefixtures("folder")
def test_units_are_those_asked_for(capfd: pytest.CaptureFixture[str]) -> None:
    """Readings, limits and differences come in the units asked for."""
    said = printed(capfd, "--units", "metric")
    assert "73.025 mm" in said
    assert "6.35 mm more" in said
    assert "1/4 in more" not in said


@pytest.mark.usefixtures("folder")
def test_without_colour_and_unicode_it_reads_the_same(
    capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """No escape code is printed where colour is not wanted."""
    monkeypatch.setenv("NO_COLOR", "1")
    assert "\x1b" not in printed(capfd)


# Text that would act

ACTS = "=1+1 <b>x</b> \u202e[31m | `y`"


def hostile() -> ReinspectionView:
    """Return a re-inspection whose every text tries to be more than text."""
    asks = rule("gap", "station.gap", {"at_least": "3 in"}, title=ACTS, why=ACTS, remedy=ACTS)
    against = plan(rulebook(asks))
    done = []
    for day, gap in (("2026-05-01", "2 in"), ("2026-06-01", "2 1/2 in")):
        data = {
            "roof": {"id": "=T-1", "name": ACTS},
            "inspection": {"date": day, "inspector": ACTS},
            "complete": all_listed(),
            "planes": {"S": {}},
            "lines": {"H1": {"kind": "hip", "between": ["S"], "from": ACTS, "stations": [
                {"at": "2 ft", "gap": {"value": gap, "note": ACTS}}]}},
        }  # fmt: skip
        done.append(audit(data, against))
    found = reinspect(*done, within=SIX_INCHES)
    return reinspection_view(found, settings=Settings(units=Units.INCH))


def test_no_text_acts_in_a_table() -> None:
    """No cell of the table begins as a formula does, and no sign turns the writing round."""
    said = reinspection_csv(hostile())
    cells = [cell for row in csv.reader(io.StringIO(said)) for cell in row]
    assert not [cell for cell in cells if cell.startswith(("=", "+", "-", "@"))]
    assert any(cell.startswith("'=1+1") for cell in cells)
    assert "\u202e" not in said


@pytest.mark.parametrize("writer", [reinspection_json, reinspection_junit, reinspection_csv])
def test_no_text_acts_in_data(writer: Callable[[ReinspectionView], str]) -> None:
    """What turns the writing round is spelt out, and markup stays text."""
    said = writer(hostile())
    assert "\u202e" not in said
    assert "202e" in said.lower()


def test_no_text_acts_on_a_page() -> None:
    """Nothing that anyone wrote is markup on a page, in Markdown or on a terminal."""
    sheet = reinspection_sheet(hostile())
    page = as_html(sheet)
    assert "<b>x</b>" not in page
    assert "&lt;b&gt;x&lt;/b&gt;" in page
    assert "<b>" not in as_markdown(sheet)
    text = as_text(sheet, Page(width=80, colour=False, unicode=False))
    assert text.isascii()
    for said in (page, as_markdown(sheet), text):
        assert "\u202e" not in said


def test_a_visit_that_judged_nothing_is_not_verified() -> None:
    """Where the second visit made no finding that passes, there is nothing to call in order."""
    asks = rule("gap", "station.gap", {"at_least": "3 in"}, when={"line.kind": "hip"})
    nothing = {"complete": {**all_listed(), "hips": "none"}}
    done = [
        audit({**nothing, "inspection": {"date": day}}, rulebook(asks))
        for day in ("2026-05-01", "2026-06-01")
    ]
    found = reinspect(*done, within=SIX_INCHES)
    view = reinspection_view(found, settings=Settings())
    assert (view.failing, view.open, view.outcome) == (0, 0, Outcome.NOT_VERIFIED)
    assert verdict_words(view) == "Not verified: the second visit judged nothing as a pass."


def test_the_help_says_what_the_statuses_mean(capfd: pytest.CaptureFixture[str]) -> None:
    """The command explains itself, its tolerance and its exit status."""
    assert run(["reinspect", "--help"]) == 0
    said = words(capfd.readouterr().out)
    assert "--within" in said
    assert "6 in" in said
    assert "1 something fails at the second visit" in said
