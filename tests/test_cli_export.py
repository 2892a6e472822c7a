"""`ridgerule export` as it is typed: tables for a spreadsheet, from which the record comes back."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from openpyxl import load_workbook

from ridgerule.cli.app import run
from ridgerule.documents import load_document
from ridgerule.problems import InputRejected
from test_tables_round_trip import told

FIXTURES = Path(__file__).parents[1] / "fixtures"
DEMO = FIXTURES / "demo" / "harrow-lane.yaml"


def test_a_record_is_one_long_table(capsys: pytest.CaptureFixture[str]) -> None:
    """One reading a row, with how it is known and its photo; nothing a spreadsheet would run."""
    assert run(["export", str(DEMO)]) == 0
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert [*rows[0]] == [
        "section", "place", "station", "position", "side", "fact",
        "value", "how", "with", "by", "when", "repeats", "photo", "note",
    ]  # fmt: skip
    gap = next(
        row for row in rows if (row["place"], row["position"], row["fact"]) == ("H1", "9 ft", "gap")
    )
    assert {key: text for key, text in gap.items() if text} == {
        "section": "lines", "place": "H1", "station": "3", "position": "9 ft", "fact": "gap",
        "value": "2 9/16 in", "how": "cap lifted", "with": "tape", "photo": "photos/h1-9ft.jpg",
    }  # fmt: skip
    sides = {
        r["side"]: r["value"]
        for r in rows
        if (r["place"], r["position"], r["fact"]) == ("R1", "2 ft", "setback")
    }
    assert sides == {"S": "2 1/4 in", "N": "2 5/16 in"}
    coldest = next(row for row in rows if row["fact"] == "coldest_surface")
    assert coldest["value"] == "'-15 degF"


@pytest.mark.parametrize("ending", ["csv", "xlsx"])
def test_out_and_back_again_is_the_same_record(ending: str, tmp_path: Path) -> None:
    """The output's ending says the form; what is imported of it is the record it is of."""
    tables, back = tmp_path / f"roof.{ending}", tmp_path / "back.yaml"
    assert run(["export", str(DEMO), "--output", str(tables)]) == 0
    assert run(["import", str(tables), "--output", str(back)]) == 0
    assert told(load_document(back).data) == told(load_document(DEMO).data)
    again = tmp_path / "again"
    assert run(["export", str(back), "--format", ending, "--output", str(again)]) == 0
    if ending == "xlsx":
        names = [
            f"{book.sheetnames}"
            for book in map(load_workbook, (tables, again.rename(tmp_path / "a.xlsx")))
        ]
        assert names[0] == names[1]
    else:
        assert sorted(again.read_text("utf-8").splitlines()) == sorted(
            tables.read_text("utf-8").splitlines()
        )


def test_the_same_record_gives_the_same_bytes(tmp_path: Path) -> None:
    """Two exports of one record are one and the same file, in either form."""
    for ending in ("csv", "xlsx"):
        one, other = (tmp_path / f"{name}.{ending}" for name in ("one", "other"))
        assert run(["export", str(DEMO), "--output", str(one)]) == 0
        assert run(["export", str(DEMO), "--output", str(other)]) == 0
        assert one.read_bytes() == other.read_bytes()


def test_a_record_is_never_written_over_by_its_own_tables(tmp_path: Path) -> None:
    """A record named as the output too is kept."""
    roof = tmp_path / "roof.yaml"
    roof.write_bytes(DEMO.read_bytes())
    with pytest.raises(InputRejected, match="expected a place of the tables' own"):
        run(["export", str(roof), "--output", str(roof)])
    assert roof.read_bytes() == DEMO.read_bytes()


def test_a_record_that_can_not_be_read_is_told_and_not_exported(tmp_path: Path) -> None:
    """What would be lost on the way is told with its line first, and no table is written."""
    roof = tmp_path / "roof.yaml"
    roof.write_text("record: 1\nroof: {id: T-1}\nlines: {H1: {kind: hipp}}\n", encoding="utf-8")
    with pytest.raises(InputRejected, match="did you mean `hip`"):
        run(["export", str(roof), "--output", str(tmp_path / "t.csv")])
    assert not (tmp_path / "t.csv").exists()


def test_help_says_how_it_goes_back(capsys: pytest.CaptureFixture[str]) -> None:
    """The help names both forms and the command that reads them."""
    assert run(["export", "--help"]) == 0
    shows = capsys.readouterr().out
    for said in ("--format", "csv", "xlsx", "ridgerule import", "apostrophe"):
        assert said in " ".join(shows.split())
