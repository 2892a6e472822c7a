"""`ridgerule import` as it is typed: what it shows, and that it writes all or nothing."""

from __future__ import annotations

import csv
import io
import json
import random
from pathlib import Path

import pytest
from openpyxl import Workbook

from ridgerule.cli.app import run
from ridgerule.cli.inputs import Asked, Auditor
from ridgerule.problems import InputRejected, Problem
from ridgerule.tables import table_files
from ridgerule.tables.table_files import A_TABLE

FIXTURES = Path(__file__).parents[1] / "fixtures"
DEMO = FIXTURES / "demo" / "harrow-lane.yaml"
SURVEY = "line;position (ft);gap (in);gap how\nH1;4;3 1/16;cap lifted\nH2;3;3 1/8;\n"


@pytest.fixture
def roof(tmp_path: Path) -> Path:
    """Return a copy of the demo's record."""
    path = tmp_path / "roof.yaml"
    path.write_bytes(DEMO.read_bytes())
    return path


def table(folder: Path, text: str, name: str = "survey.csv") -> str:
    """Return the path of a table written there."""
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return str(path)


def told(arguments: list[str]) -> list[str]:
    """Return what is told of files that can't be used."""
    with pytest.raises(InputRejected) as caught:
        run(arguments)
    return [str(problem) for problem in caught.value.problems]


def test_readings_go_into_the_record(
    roof: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The record has the new readings, every other line of it stays, and a summary says so."""
    assert run(["import", table(tmp_path, SURVEY), "--into", str(roof)]) == 0
    captured = capsys.readouterr()
    assert captured.out == ""
    assert captured.err == f"{roof}: 1 new station, 1 reading added\n"
    before, after = (p.read_text(encoding="utf-8").splitlines() for p in (DEMO, roof))
    added = [line for line in after if line not in before]
    assert added == ["      - at: 4 ft", "        gap: {value: 3 1/16 in, how: cap lifted}"]
    assert [line for line in after if line not in added] == before
    assert Auditor(Asked()).audit(roof).record.name == "Harrow Lane House (invented)"


def test_what_the_record_has_already_changes_nothing(
    roof: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A table that was put in before is put in again without a line changed."""
    path = table(tmp_path, SURVEY)
    assert run(["import", path, "--into", str(roof)]) == 0
    once = roof.read_bytes()
    capsys.readouterr()
    assert run(["import", path, "--into", str(roof)]) == 0
    assert roof.read_bytes() == once
    assert capsys.readouterr().err == (f"{roof}: stays as it is; it has all that the tables say\n")


def test_a_preview_shows_all_and_writes_nothing(
    roof: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What would change comes first, with what stood there; the record stays as it is."""
    monkeypatch.setenv("COLUMNS", "100")
    text = SURVEY + "H1;2;4;\nH3;12;3 1/8;\n"
    arguments = ["import", table(tmp_path, text), "--into", str(roof), "--preview", "--replace"]
    assert run(arguments) == 0
    shows = " ".join(capsys.readouterr().out.split())
    for said in (
        (
            "1 reading changed, 1 open point answered, 1 new station, 1 reading added. Nothing is "
            "written with `--preview`."
        ),
        "CHANGED (1)",
        "hip H1 at 2 ft gap 3 1/8 in 4 in",
        "OPEN POINTS ANSWERED (1)",
        "hip H3 at 12 ft gap can't reach 3 1/8 in",
        "NEW STATIONS (1)",
        "hip H1 at 4 ft",
        "3 1/16 in (cap lifted)",
        "row 2, column",
    ):
        assert said in shows
    assert shows.index("CHANGED") < shows.index("NEW STATIONS") < shows.index("ADDED")
    assert roof.read_bytes() == DEMO.read_bytes()


@pytest.mark.parametrize("width", ["80", "120"])
def test_a_preview_fits_its_terminal(
    width: str, roof: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    """No line is wider than the terminal, and every reading is shown with its cell."""
    monkeypatch.setenv("COLUMNS", width)
    monkeypatch.chdir(tmp_path)
    table(tmp_path, SURVEY)
    assert run(["import", "survey.csv", "--into", roof.name, "--preview"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert max(map(len, lines)) <= int(width)
    assert any(line.startswith("hip H1 at 4 ft") for line in lines)


def test_nothing_is_written_where_any_cell_can_not_be_read(roof: Path, tmp_path: Path) -> None:
    """One slip in one of two tables, and the record stays as it is; all slips are told at once."""
    good = table(tmp_path, SURVEY)
    bad = table(tmp_path, "line,position,gap\nH1,5 ft,3 inn\nH9,5 ft,3 in\nH1,2 ft,4 in\n", "b.csv")
    broken = table(tmp_path, "line,position,gpa\nH1,5 ft,3 in\n", "c.csv")
    found = told(["import", good, bad, "--into", str(roof)])
    assert [line.split(": expected")[0] for line in found] == [
        f"{bad} row 2, column C", f"{bad} row 3, column A", f"{bad} row 4, column C",
    ]  # fmt: skip
    assert told(["import", broken, "--into", str(roof)])[0].startswith(f"{broken} row 1, column C")
    assert roof.read_bytes() == DEMO.read_bytes()
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "b.csv", "c.csv", "roof.yaml", "survey.csv",
    ]  # fmt: skip


def test_files_that_can_not_be_read_are_told_together(tmp_path: Path) -> None:
    """A table, a mapping and a record that are not there are told at once, and what to name."""
    xls = table(tmp_path, "", "old.xls")
    there = str(tmp_path / "nowhere")
    others = ["--into", f"{there}.yaml", "--mapping", f"{there}.map"]
    found = told(["import", xls, f"{there}.csv", *others])
    missing = "expected a file that can be read; found nothing at this path; check the spelling and"
    assert found == [
        *(f"{there}.{ending}: {missing} the folder" for ending in ("csv", "map", "yaml")),
        (
            f"{xls}: expected {A_TABLE}; found an older workbook (.xls); save it as .xlsx, or as "
            "CSV UTF-8"
        ),
    ]
    folder = told(["import", str(tmp_path), "--into", xls])
    assert "found a folder" in "".join(folder)


def test_a_new_record_goes_to_the_terminal_or_to_a_file_that_is_not_there(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without a record to put them into, tables make one; no file is written over."""
    path = table(tmp_path, "section,place,fact,value\nroof,,id,R-9\nplanes,S,slope,7:12\n")
    assert run(["import", path]) == 0
    made = "record: 1\nroof:\n  id: R-9\n\nplanes:\n  S:\n    slope: 7:12\n"
    captured = capsys.readouterr()
    assert captured.out == made
    assert captured.err == "new record: 1 new place, 2 readings added\n"
    new = tmp_path / "new.yaml"
    assert run(["import", path, "--output", str(new)]) == 0
    assert new.read_text(encoding="utf-8") == made
    new.write_text("kept", encoding="utf-8")
    assert told(["import", path, "--output", str(new)]) == [
        (
            f"--output: expected a place where no file is yet; found `{new}`; choose another "
            "place, or put the tables into that record with `--into`"
        )
    ]
    assert new.read_text(encoding="utf-8") == "kept"


def test_another_record_can_be_written_than_the_one_read(roof: Path, tmp_path: Path) -> None:
    """`--output` leaves the record given with `--into` as it is."""
    new = tmp_path / "second.yaml"
    path = table(tmp_path, SURVEY)
    assert run(["import", path, "--into", str(roof), "--output", str(new)]) == 0
    assert roof.read_bytes() == DEMO.read_bytes()
    assert "{value: 3 1/16 in, how: cap lifted}" in new.read_text(encoding="utf-8")


def test_a_workbook_is_read_by_a_mapping_and_one_of_its_sheets(
    roof: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Somebody's own workbook: the sheet asked for, by the mapping; cells told by sheet and row."""
    book = Workbook()
    book.active.title = "Cover"
    book.active.append(("anything at all",))
    sheet = book.create_sheet("Survey 1")
    for row in (("Hip", "Pos", "Gap"), ("H1", 4, 3.0625), ("H1", 5, "=A1")):
        sheet.append(row)
    book.save(tmp_path / "own.xlsx")
    mapping = tmp_path / "columns.yaml"
    mapping.write_text(
        "rows: stations\ncolumns:\n  Hip: line\n  Pos: {column: position, unit: ft}\n"
        "  Gap: {fact: station.gap, unit: in}\n",
        encoding="utf-8",
    )
    arguments = ["import", str(tmp_path / "own.xlsx"), "--into", str(roof)]
    arguments += ["--mapping", str(mapping), "--sheet", "Survey 1"]
    assert told(arguments) == [
        (
            f"{tmp_path / 'own.xlsx'}[Survey 1] row 3, column C: expected a value; found a "
            f"formula; "
            "paste its value in its place"
        )
    ]
    sheet["C3"] = "78 mm"
    book.save(tmp_path / "own.xlsx")
    assert run(arguments) == 0
    text = roof.read_text(encoding="utf-8")
    assert "      - at: 4 ft\n        gap: 3.0625 in\n" in text
    assert "      - at: 5 ft\n        gap: 78 mm\n" in text
    capsys.readouterr()


def test_facts_of_rulebooks_are_known(roof: Path, tmp_path: Path) -> None:
    """The facts of the record's rulebooks can be columns; without them they are not known."""
    path = table(tmp_path, "line,cap_sealant\nH3,yes\n")
    assert run(["import", path, "--into", str(roof)]) == 0
    assert "cap_sealant: yes" in roof.read_text(encoding="utf-8")
    bare = tmp_path / "bare.yaml"
    bare.write_text("record: 1\nroof: {id: T-1}\nlines: {H3: {kind: hip}}\n", encoding="utf-8")
    (problem,) = told(["import", path, "--into", str(bare)])
    assert "found `cap_sealant`" in problem
    against = ["--against", "demo/tarnfell-slate"]
    assert run(["import", path, "--into", str(bare), *against]) == 0
    missing = table(tmp_path, "section,fact,value\nroof,id,R-1\nrulebooks,,no/such@1\n", "m.csv")
    (problem,) = told(["import", missing])
    assert problem.startswith(f"{missing} row 3, column C: expected a rulebook")


def test_a_plan_that_was_filled_in_is_taken_back(
    roof: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The sheet that `ridgerule plan` writes says nothing until it is filled, then what was."""
    sheet = tmp_path / "plan.csv"
    assert run(["plan", str(roof), "--format", "csv", "--output", str(sheet)]) == 0
    assert "found none in these tables" in told(["import", str(sheet), "--into", str(roof)])[0]
    rows = list(csv.DictReader(io.StringIO(sheet.read_text(encoding="utf-8"))))
    new = next(row for row in rows if row["fact"] == "only")
    here = (new["place"], new["position"])
    for row in rows:
        if (row["place"], row["position"]) == here and row["fact"] == "through_deck":
            row |= {"value": "yes", "how": "seen", "note": "from the attic"}
        if (row["place"], row["fact"]) == ("N", "ice_barrier_inside"):
            row |= {"value": "38 in", "how": "document"}
    with sheet.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    assert run(["import", str(sheet), "--into", str(roof)]) == 0
    text = roof.read_text(encoding="utf-8")
    assert "ice_barrier_inside: {value: 38 in, how: document}" in text
    assert f"      - at: {here[1]}\n        only:\n" in text
    assert "through_deck: {value: yes, how: seen, note: from the attic}" in text
    planned = {(row["place"], row["position"]) for row in rows if row["fact"] == "only"}
    assert len(planned) > 1  # and none of the others has become a station
    assert text.count("- at: ") - DEMO.read_text(encoding="utf-8").count("- at: ") == 1
    assert "1 new station" in capsys.readouterr().err


def test_a_record_in_json_is_added_to(tmp_path: Path) -> None:
    """A record in JSON stays JSON."""
    roof = tmp_path / "roof.json"
    roof.write_text(json.dumps({"record": 1, "roof": {"id": "T-1"}}), encoding="utf-8")
    path = table(tmp_path, "section,fact,value\ndates,permit,2026-03-02\n")
    assert run(["import", path, "--into", str(roof)]) == 0
    assert json.loads(roof.read_text(encoding="utf-8"))["dates"] == {"permit": "2026-03-02"}


def test_help_says_what_a_mapping_is(capsys: pytest.CaptureFixture[str]) -> None:
    """The help names every option, and how a mapping is written."""
    assert run(["import", "--help"]) == 0
    shows = capsys.readouterr().out
    for option in ("--into", "--mapping", "--sheet", "--preview", "--replace", "--output"):
        assert option in shows
    assert "station.gap" in shows


WORDS = (
    "", " ", "H1", "S", "lines", "planes", "roof", "gap", "station.gap", "setback", "only",
    "between", "kind", "plan", "photo", "note", "2 ft", "3 in", "3", "-3 in", "7:12", "unknown",
    "can't reach", "yes", "hip", "S, E", "[", '["a"]', "{", "(none)", "'=x", "=1", "1e400", "٣ in",
    "🏠", "x" * 500, "2026-02-30", "rulebooks", "demo/tarn-county", "complete", "apart",
    "instruments", "stated", "not said",
)  # fmt: skip
HEADERS = (
    "section,place,station,position,side,fact,value,how,with,by,when,repeats,photo,note",
    "line,station,position,gap,gap how,setback (S),only,note,photo",
    "plane,position,fasteners,exposure repeats",
    "line,kind,between,from,plan,length,length photo",
    "opening,plane,kind",
    "attic,planes,lines,vented_area [ft2]",
    "",
    "a,b",
    "line,position,gap (in)",
)


@pytest.mark.parametrize("seed", range(150))
def test_whatever_stands_in_a_table_it_is_read_or_told(
    seed: int, roof: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Cells at random: a record that can be audited comes of them, or located problems do."""
    draw = random.Random(seed)
    header = draw.choice(HEADERS)
    out = io.StringIO()
    writer = csv.writer(out)
    for _ in range(draw.randint(1, 4)):
        writer.writerow([draw.choice(WORDS) for _ in range(header.count(",") + 1)])
    path = table(tmp_path, f"{header}\n{out.getvalue()}")
    arguments = ["import", path, "--into", str(roof), *(["--replace"] if seed % 2 else [])]
    found: tuple[Problem, ...] = ()
    try:
        run(arguments)
    except InputRejected as rejected:
        found = rejected.problems
    if roof.read_bytes() == DEMO.read_bytes():
        assert found or "stays as it is" in capsys.readouterr().err
    else:
        assert not found
        assert Auditor(Asked()).audit(roof).findings
    assert all(problem.location.file and problem.found for problem in found)


@pytest.mark.parametrize(
    ("name", "found"),
    [
        ("t.xlsm", "a workbook with macros (.xlsm)"),
        ("t.ods", "a workbook of another kind (.ods)"),
        ("t.yaml", "`.yaml`"),
        ("t", "a name without an ending"),
    ],
)
def test_files_that_are_no_tables_are_told(name: str, found: str, tmp_path: Path) -> None:
    """A table is told by its ending; others are told with how to save them instead."""
    path = table(tmp_path, "a,b\n", name)
    assert told(["import", path]) == [
        f"{path}: expected {A_TABLE}; found {found}; save it as .xlsx, or as CSV UTF-8"
    ]


def test_a_table_that_is_too_large_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file of more bytes than any table of readings has is not read."""
    monkeypatch.setattr(table_files, "MOST_BYTES", 1 << 20)
    path = table(tmp_path, "x" * (2 << 20))
    assert told(["import", path]) == [
        f"{path}: expected a file of at most 1 MiB; found a larger one; split the table"
    ]


def test_a_record_that_is_none_is_told_before_its_tables(tmp_path: Path) -> None:
    """What is wrong with the record itself is told with its own lines."""
    roof = tmp_path / "roof.yaml"
    roof.write_text("record: 1\nroof: {id: T-1, covering: slat}\n", encoding="utf-8")
    (problem,) = told(["import", table(tmp_path, SURVEY), "--into", str(roof)])
    assert problem.startswith(f"{roof}:2:27: expected one of `composite slate`")
    roof.write_text("rulebook: a/b\n", encoding="utf-8")
    (problem,) = told(["import", table(tmp_path, SURVEY), "--into", str(roof)])
    assert "expected a record" in problem
