"""`ridgerule plan` as it is typed: every form, what goes where, and what can't be planned."""

from __future__ import annotations

import csv
import io
import json
import os
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from outlines import data_of, outline_of
from ridgerule.cli.app import run
from ridgerule.documents import load_document, read_document
from ridgerule.quantities import Units
from ridgerule.reports.cautions import CAUTIONS, DISCLAIMER
from ridgerule.reports.page import Page
from ridgerule.reports.pdf import as_pdf
from ridgerule.reports.sheet_text import as_text
from ridgerule.reports.visit_plan_csv import COLUMNS, FILLED, visit_csv
from ridgerule.reports.visit_plan_form import visit_form
from ridgerule.reports.visit_plan_record import blank_record
from ridgerule.reports.visit_plan_sheet import visit_sheet
from ridgerule.visit.planning import VisitSettings, plan_visit
from test_audit_page import HOSTILE, Seen, held
from workshop import all_listed, plan, record, rule, rulebook

if TYPE_CHECKING:
    from ridgerule.visit.planning import VisitPlan

FIXTURES = Path(__file__).parents[1] / "fixtures"
DEMO = str(FIXTURES / "demo" / "harrow-lane.yaml")
CLEAN = str(FIXTURES / "clean" / "mill-bank.yaml")
FORMS = ("text", "html", "record", "csv")
COMMAND = (sys.executable, "-c", "from ridgerule.cli import main; main()", "plan")


@pytest.fixture
def outline(tmp_path: Path) -> Path:
    """Return the file of the demo's outline: planes, lines and joints, nothing measured."""
    data = data_of("demo/harrow-lane.yaml")
    found = outline_of(data) | {"rulebooks": data["rulebooks"]}
    del found["lines"]["H1"]["from"]
    file = tmp_path / "outline.json"
    file.write_text(json.dumps(found), encoding="utf-8")
    return file


def typed(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    """Return what a command prints that ends well and complains of nothing."""
    assert run(["plan", *arguments]) == 0
    out = capsys.readouterr()
    assert out.err == ""
    return out.out


# the forms


def test_the_list_has_cautions_first_then_the_walk(
    outline: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Cautions before all else, what to bring, the parts of the visit, definitions last."""
    monkeypatch.setenv("COLUMNS", "80")
    out = typed(capsys, str(outline))
    headings = [line for line in out.splitlines() if line[:1].isalpha() and line == line.upper()]
    assert headings == [
        "BEFORE ANYONE GOES UP", "THE VISIT", "WHAT TO BRING", "ON PAPER, BEFORE THE VISIT",
        "FROM THE GROUND", "FROM BELOW THE DECK", "ON THE ROOF", "DELIVERIES AND COUNTED SAMPLES",
        "HOW EACH IS MEASURED, AND WHO ASKS", "WHAT THIS PAGE IS",
    ]  # fmt: skip
    words = " ".join(out.split())
    for said in (*CAUTIONS, DISCLAIMER):
        assert said in words
    assert out.index(CAUTIONS[0][:40]) < out.index("a tape")
    assert max(map(len, out.splitlines())) <= 80
    assert "membrane width: How wide is the membrane? must be at least 12 in; tape" in words
    assert "Stations by practice/hip-and-ridge#field-gap: at least 3, one for each 6 ft." in words
    assert "practice/hip-and-ridge#membrane-width, as demo/tarn-county@2026-04 has it" in words


def test_each_form_comes_alike_each_time_and_in_a_file(
    outline: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The same outline gives the same bytes, on the terminal and in a file."""
    for form in FORMS:
        out = typed(capsys, str(outline), "--format", form)
        assert out == typed(capsys, str(outline), "--format", form)
        file = tmp_path / f"plan.{form}"
        assert typed(capsys, str(outline), "--format", form, "--output", str(file)) == ""
        if form != "text":  # which is laid out wider in a file
            assert file.read_text("utf-8") == out


def test_other_hash_seeds_give_the_same_bytes(outline: Path) -> None:
    """No order of a set shows in any form."""
    for form in FORMS:
        outs = {
            subprocess.run(
                [*COMMAND, str(outline), "--format", form],
                env={**os.environ, "PYTHONHASHSEED": seed, "TZ": zone, "COLUMNS": "100"},
                capture_output=True, check=True,
            ).stdout
            for seed, zone in (("0", "UTC"), ("7", "Asia/Tokyo"))
        }  # fmt: skip
        assert len(outs) == 1


def test_the_form_is_a_page_that_keeps_to_itself(
    outline: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nothing is run or fetched; every question stands in it, with boxes, blanks and cautions."""
    html = typed(capsys, str(outline), "--format", "html")
    seen = Seen(html)
    held(seen)
    text = seen.text.replace("\N{NO-BREAK SPACE}", " ")
    for said in (*CAUTIONS, DISCLAIMER):
        assert said in text
    for blank in ("date", "inspector", "weather, wind", "signature", "Notes, hip H1"):
        assert blank in text
    assert "things, some of them at 29 stations" in text
    assert text.index(CAUTIONS[0]) < text.index("Which thickness is stamped")
    assert text.count("How wide is the open space across the centreline?") == 6  # a grid a line
    assert html.count('class="none"') > 20  # cells of stations at which a fact is not asked
    assert 'content: "Harrow' in html  # at the foot of each page


def test_the_form_can_be_laid_out_on_paper(
    outline: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The same page goes through the page writer that makes PDFs."""
    html = typed(capsys, str(outline), "--format", "html")
    assert as_pdf(html).startswith(b"%PDF")


def test_the_table_has_a_row_for_each_answer(
    outline: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Section, place, spot, side and fact lead to the answer; what is to be filled is empty."""
    out = typed(capsys, str(outline), "--format", "csv")
    rows = [*csv.DictReader(io.StringIO(out))]
    assert tuple(rows[0]) == COLUMNS
    assert [row["question"] for row in rows[: len(CAUTIONS)]] == [*CAUTIONS]
    blank: Any = read_document(
        typed(capsys, str(outline), "--format", "record").encode(), name="b.yaml"
    ).data
    asked = [row for row in rows if row["fact"] and row["fact"] not in ("only", "from")]
    assert len(asked) > 300
    for row in asked:
        assert [row[column] for column in FILLED] == [""] * len(FILLED)
        here = blank[row["section"]]
        here = here[row["place"]] if row["place"] else here
        if row["position"]:
            (here,) = [
                s for s in here["stations"] if s["at"] == row["position"] and row["fact"] in s
            ]
        assert row["fact"] in here
        assert row["side"] in (here[row["fact"]] if row["side"] else {"": None})
    made_for = {
        (row["place"], row["position"]): row["value"] for row in rows if row["fact"] == "only"
    }
    assert made_for["H1", "2 ft 5 in"] == "gap"
    assert [row["value"] for row in rows if row["fact"] == "from" and row["place"] == "H1"] == [
        "eave"
    ]


def test_a_record_that_answers_everything_has_an_empty_plan(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """The clean roof leaves nothing to find out, and every form says so."""
    assert "Nothing is left to find out" in typed(capsys, CLEAN)
    assert "Nothing is left to find out" in Seen(typed(capsys, CLEAN, "--format", "html")).text
    rows = csv.DictReader(io.StringIO(typed(capsys, CLEAN, "--format", "csv")))
    assert [row["fact"] for row in rows if row["fact"]] == []


def test_the_plan_of_a_second_look_asks_what_is_open(capsys: pytest.CaptureFixture[str]) -> None:
    """Of the whole demo only what is still open is asked, with what the record says so far."""
    out = " ".join(typed(capsys, DEMO).split())
    assert "membrane: Is there a membrane strip under it? yes or no; must be yes" in out
    assert "so far: yes (stated); known only as stated" in out
    assert "cap profile:" not in out


# the blank record and its schema


def test_the_schema_lies_beside_the_blank_record(
    outline: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """With its own facts; asked for again it is the same one and nothing is said."""
    folder = tmp_path / "visit"
    folder.mkdir()
    file, beside = folder / "roof.yaml", folder / "record.schema.json"
    assert typed(capsys, str(outline), "--format", "record", "--output", str(file)) == ""
    schema = json.loads(beside.read_text("utf-8"))
    assert "over_walk" in schema["$defs"]["line"]["properties"]
    assert load_document(file).data is not None
    assert run(["audit", str(file)]) == 4
    capsys.readouterr()
    before = beside.read_bytes()
    assert typed(capsys, str(outline), "--format", "record", "--output", str(file)) == ""
    assert beside.read_bytes() == before


def test_another_schema_is_never_written_over(
    outline: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A different file of that name stays as it was, and that is said."""
    folder = tmp_path / "visit"
    folder.mkdir()
    beside = folder / "record.schema.json"
    beside.write_text("{}", encoding="utf-8")
    arguments = ["plan", str(outline), "--format", "record", "--output", str(folder / "roof.yaml")]
    assert run(arguments) == 0
    out = capsys.readouterr()
    assert beside.read_text("utf-8") == "{}"
    assert "is another schema and was left as it is" in out.err
    assert (folder / "roof.yaml").exists()


def test_other_forms_write_no_schema(outline: Path, tmp_path: Path) -> None:
    """Only a blank record brings its schema along."""
    folder = tmp_path / "visit"
    folder.mkdir()
    for form in ("text", "html", "csv"):
        assert run(["plan", str(outline), "--format", form, "-o", str(folder / form)]) == 0
    assert sorted(file.name for file in folder.iterdir()) == ["csv", "html", "text"]


# seeds and samples


def test_a_seed_draws_and_is_told(outline: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The list says with which seed stations were drawn; another seed draws others."""
    seven = typed(capsys, str(outline), "--seed", "7")
    assert "drawn with seed 7; the same seed draws the same ones" in " ".join(seven.split())
    assert seven == typed(capsys, str(outline), "--seed", "7")
    assert seven.replace("seed 7", "seed 8") != typed(capsys, str(outline), "--seed", "8")


def test_a_sample_says_what_it_shows(outline: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """90 % sure of 90 % takes 22 stations, parted over the hips by their lengths."""
    words = " ".join(
        typed(capsys, str(outline), "--confidence", "90%", "--share", "90 %", "--seed", "7").split()
    )
    told = "stations on 4 hips: if all are right, it is 90 % sure that at least 90 % of the hips"
    assert told in words
    assert "(success run, 22 needed)" in words


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["--confidence", "90%"], "--share: expected a share over 0 % and under 100 %"),
        (["--share", "90%"], "--confidence: expected a share over 0 % and under 100 %"),
        (["--confidence", "100%", "--share", "90%"], "--confidence: expected a share over 0 %"),
        (["--confidence", "90%", "--share", "0 %"], "--share: expected a share over 0 %"),
        (["--confidence", "nine", "--share", "90%"], "--confidence: expected a share over 0 %"),
        (["--confidence", "99.99%", "--share", "99.99%"], "sample of at most 1,000 pieces"),
        (["--seed", "1\u202e"], "--seed: expected a number or a word"),
        (["--seed", "x" * 101], "--seed: expected a number or a word"),
        (["--against", "no/such"], "no/such"),
    ],
)
def test_what_can_not_be_planned_is_told(
    outline: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], told: str
) -> None:
    """Each mistake with its flag, what was expected and what was found; nothing is printed."""
    assert run(["plan", str(outline), *arguments]) == 2
    out = capsys.readouterr()
    assert out.out == ""
    assert told in out.err


def test_all_mistakes_are_told_at_once(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A broken outline, a seed and a share that can't be used: three problems, no file."""
    broken = tmp_path / "broken.yaml"
    broken.write_text("record: 1\nroof: {id: X}\nlines: {H1: {kind: hips}}\n", encoding="utf-8")
    file = tmp_path / "plan.html"
    arguments = [
        "--against",
        "practice/hip-and-ridge",
        "--share",
        "2",
        "--seed",
        "\x07",
        "-o",
        str(file),
    ]
    assert run(["plan", str(broken), *arguments]) == 2
    err = capsys.readouterr().err
    assert "broken.yaml:3:" in err
    assert "did you mean `hip`?" in err
    assert err.count("expected") == 4  # the confidence that is missing beside the share as well
    assert not file.exists()


def test_a_blank_too_large_to_be_read_is_not_written(tmp_path: Path) -> None:
    """More values than a record may hold are told, with what to do, and nothing is written."""
    outline = tmp_path / "outline.json"
    turret = outline_of(data_of("turret/heron-turret.yaml"))
    outline.write_text(json.dumps(turret), encoding="utf-8")
    file = tmp_path / "blank.yaml"
    sample = ["--against", "demo/tarnfell-slate", "--confidence", "99.9%", "--share", "99.2%"]
    arguments = [str(outline), *sample, "--format", "record", "-o", str(file)]
    done = subprocess.run([*COMMAND, *arguments], capture_output=True, check=False)
    assert done.returncode == 2
    assert done.stderr.decode() == (
        "--format record: expected at most 25,000 values in a file; found more than that; plan for "
        "fewer stations, or a part of the roof\n"
    )
    assert not file.exists()


def test_units_are_the_readers(outline: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """In metric units limits and positions are metric."""
    words = " ".join(typed(capsys, str(outline), "--units", "metric").split())
    assert "must be at least 304.8 mm" in words
    assert "At 740 mm" in words or "740 mm" in words


# nobody's words become anything else


def hostile(text: str) -> VisitPlan:
    """Return a plan with a user's or a rulebook's words wherever they can stand."""
    facts = {
        "plane.width": {"dimension": "length", "measure": text, "ask": text, "tool": "tape"},
        "plane.look": {"dimension": "choice", "measure": text, "choices": [text, "plain"]},
    }
    book = rulebook(
        rule("w", "plane.width", {"at_least": "1 in"}, title=text, why=text),
        rule("l", "plane.look", {"equal_to": text}, when={"roof.place": {"equal_to": text}}),
        facts=facts, title=text, authority=text,
    )  # fmt: skip
    against = plan(book)
    data = {
        "roof": {"id": text[:30].strip() or "T", "name": text, "note": text},
        "planes": {"S": {"name": text, "note": text}},
        "complete": all_listed(),
    }
    return plan_visit(against, record(data, against), VisitSettings(seed="7", units=Units.METRIC))


SAFE = [text for text in HOSTILE if "\x1b" not in text and len(text) < 1000]
"""Those that a record and a rulebook may hold."""


@pytest.mark.parametrize("text", SAFE)
def test_hostile_text_is_text_in_every_form(text: str) -> None:
    """Tags, formulas, terminal codes and marks that turn writing round stay words."""
    found = hostile(text)
    page = visit_form(found)
    held(Seen(page))
    assert "<script" not in page.lower()
    for row in csv.reader(io.StringIO(visit_csv(found))):
        assert not [cell for cell in row if cell.startswith(("=", "+", "-", "@", "\t", "\r"))]
    listed = as_text(visit_sheet(found), Page(width=80, colour=False, unicode=True))
    assert "\x1b" not in listed
    assert "\u202e" not in listed + page
    data: Any = read_document(blank_record(found).encode(), name="blank.yaml").data
    assert data["roof"]["name"] == text
    assert {*data["planes"]["S"]} == {"name", "note", "width", "look"}


def test_a_name_can_not_end_the_style_that_it_is_in() -> None:
    """At the foot of a page the roof's name is a string of the style sheet, spelt safely."""
    page = visit_form(hostile('"} </style><script>alert(1)</script> \\'))
    start = page.index("@bottom-left { content:")
    foot = page[start : page.index("\n", start)]
    assert foot.count('"') == 2
    assert "<" not in foot
    assert foot.endswith("}")


# on the shell


def test_plain_output_has_no_colour_and_fits_narrow_and_wide(outline: Path) -> None:
    """With NO_COLOR nothing but words is printed, at 80 columns and at 120."""
    for columns in ("80", "120"):
        environment = {**os.environ, "COLUMNS": columns, "NO_COLOR": "1"}
        done = subprocess.run(
            [*COMMAND, str(outline)], env=environment, capture_output=True, check=True
        )
        out = done.stdout.decode()
        assert "\x1b" not in out
        assert max(map(len, out.splitlines())) <= int(columns)


def test_an_audit_loads_none_of_it() -> None:
    """The command and its rooms are loaded only where they are asked for."""
    code = (
        "import sys; from ridgerule.cli.app import run; "
        f"run(['audit', {CLEAN!r}]); "
        "print([m for m in sys.modules if m.startswith(('ridgerule.visit', 'ridgerule.cli.plan'))])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True)
    assert done.stdout.decode().splitlines()[-1] == "[]"
